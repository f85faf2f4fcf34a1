//! The rows: one key each.

use super::super::forms;
use super::super::{
    CardPlan, Choice, DeliveryPlan, DocumentPlan, ExposurePlan, Part, Plan, Planned, RigPlan,
};
use super::{Form, Keyed, Kind, Place, PlanKey, Unit, WordPlace};

/// The place of a field in its table.
macro_rules! at {
    ($field:ident) => {
        Place { get: |table: &Self| &table.$field, get_mut: |table: &mut Self| &mut table.$field }
    };
}

/// The place of a field that is one of few words.
macro_rules! word {
    ($field:ident) => {
        Kind::Word(WordPlace {
            words: || words_of(|table: &Self| table.$field),
            get: |table: &Self| table.$field.map(Choice::written),
            set: |table: &mut Self, word| table.$field = Choice::of(word),
        })
    };
}

/// The words of the choice in a place.
fn words_of<S, T: Choice>(_: fn(&S) -> Option<T>) -> Vec<&'static str> {
    T::ALL.iter().map(|(word, _)| *word).collect()
}

const fn key<S>(name: &'static str, kind: Kind<S>) -> PlanKey<S> {
    PlanKey::new(name, kind)
}

const fn number<S>(
    name: &'static str,
    form: Form<f64>,
    unit: Unit,
    place: Place<S, Option<f64>>,
) -> PlanKey<S> {
    PlanKey::new(name, Kind::Number(form, unit, place))
}

const fn planned<S>(
    name: &'static str,
    form: Form<f64>,
    unit: Unit,
    place: Place<S, Option<Planned>>,
) -> PlanKey<S> {
    PlanKey::new(name, Kind::Planned(form, unit, place))
}

/// Above the first table.
impl Keyed for Plan {
    const SCHEMA: (&'static str, &'static str) = ("Plan", "The plan as asked. What was not said is null.");
    const KEYS: &'static [PlanKey<Self>] = &[
        key("name", Kind::Text(at!(name)))
            .flag("TEXT", "Title of the shoot")
            .json("name", "Title of the shoot."),
        number("interval", forms::interval, Unit::Seconds, at!(interval_s))
            .flag("TIME", "Interval between neighbouring frames: 12s, \"500 ms\", \"1 min 30 s\"")
            .json("interval_s", "Interval between neighbouring slots, s."),
        key("frames", Kind::Count(forms::count, at!(frames)))
            .flag("N", "Frames planned")
            .json("frames", "Frames planned."),
        number("run", forms::span, Unit::Seconds, at!(run_s))
            .flag("TIME", "Length of the run: \"2 h\"")
            .json("run_s", "Length of the run, s."),
        key("start", Kind::Moment(at!(start)))
            .flag("MOMENT", "When the first frame is due: 2026-05-09T04:10:00+02:00")
            .json("start", "When the first slot is due, with its offset from UTC where one was written."),
        key("counted_from", word!(counted_from))
            .flag("", "What the timer counts from: the shutter's opening or closing")
            .json("counted_from", "What the timer counts from")
            .comment("what the timer counts the interval from"),
        key("bracket", Kind::Few(forms::exposures, at!(bracket)))
            .flag("N", "Exposures in each slot")
            .json("bracket", "Exposures in each slot.")
            .comment("exposures in each slot"),
        key("first", Kind::Text(at!(first)))
            .flag("FILE", "File with which the run begins")
            .json("first", "File with which the run begins."),
        key("last", Kind::Text(at!(last)))
            .flag("FILE", "File with which the run ends")
            .json("last", "File with which the run ends."),
        key("active", Kind::Hours(at!(active)))
            .flag("HOURS", "Hours of the day in which frames are due: 07:00-19:00 (may be repeated)")
            .json("active", "Hours of the day in which frames are due.")
            .comment("each day starts a grid of its own"),
        key("light", word!(light)).flag("", "The light of the scene").json("light", ""),
        number("mains_hz", forms::frequency, Unit::Hertz, at!(mains_hz))
            .flag("HZ", "Mains frequency")
            .json("mains_hz", "Mains frequency, Hz."),
    ];
}

impl Keyed for ExposurePlan {
    const SCHEMA: (&'static str, &'static str) = ("Exposure", "The exposure as planned.");
    const KEYS: &'static [PlanKey<Self>] = &[
        key("mode", word!(mode)).flag("", "How the exposure is meant to behave").json("mode", "").in_part(),
        planned("shutter", forms::shutter, Unit::Shutter, at!(shutter_s))
            .flag("TIME", "Exposure time: 1/60, \"2 s\"; a ramp as 1/500..4s")
            .json("shutter_s", "Exposure time, s.")
            .in_part(),
        planned("aperture", forms::f_number, Unit::Plain, at!(aperture))
            .flag("F", "f-number: 8, f/5.6; a ramp as 8..2.8")
            .json("aperture", "f-number.")
            .in_part(),
        planned("iso", forms::iso, Unit::Plain, at!(iso))
            .flag("ISO", "Sensitivity: 200; a ramp as 100..1600")
            .json("iso", "ISO sensitivity.")
            .in_part(),
        number("max_step", forms::ev, Unit::Ev, at!(max_step_ev))
            .flag("EV", "Largest step between neighbouring frames, EV")
            .json("max_step_ev", "Largest step between neighbouring frames, EV.")
            .comment("EV between neighbouring frames")
            .in_part(),
        number("busy", forms::duration, Unit::Seconds, at!(busy_s))
            .flag("TIME", "From the shutter's close until the camera can fire again")
            .json("busy_s", "From the shutter's close until the camera can fire again, s.")
            .comment("after the shutter closes, until the camera can fire again"),
        key("dark_frame", Kind::YesNo(at!(dark_frame)))
            .flag("BOOL", "In-camera dark-frame subtraction")
            .json("dark_frame", "In-camera dark-frame subtraction."),
    ];
}

impl Keyed for RigPlan {
    const SCHEMA: (&'static str, &'static str) = ("Rig", "The rig as planned.");
    const KEYS: &'static [PlanKey<Self>] = &[
        key("kind", word!(kind)).flag("", "How the carriage travels").json("kind", ""),
        key("direction", word!(direction))
            .flag("", "Which way the carriage travels, seen from behind the camera")
            .json("direction", "Which way the carriage travels, seen from behind the camera")
            .comment("seen from behind the camera; it is compared with the pictures"),
        number("travel", forms::length, Unit::Metres, at!(travel_m))
            .flag("LENGTH", "Whole travel of the carriage: \"900 mm\"")
            .json("travel_m", "Whole travel, m."),
        number("step", forms::length, Unit::Metres, at!(step_m))
            .flag("LENGTH", "One move of the carriage: \"1.5 mm\"")
            .json("step_m", "One move, m."),
        number("speed", forms::speed, Unit::Speed, at!(speed_m_s))
            .flag("SPEED", "Speed of the carriage: \"20 mm/s\"")
            .json("speed_m_s", "Carriage speed, m/s."),
        number("acceleration", forms::acceleration, Unit::Acceleration, at!(acceleration_m_s2))
            .flag("ACCELERATION", "Acceleration of the carriage: \"200 mm/s2\"")
            .json("acceleration_m_s2", "Carriage acceleration, m/s².")
            .comment("the move is a trapezoid"),
        number("settle", forms::duration, Unit::Seconds, at!(settle_s))
            .flag("TIME", "Wait after a move")
            .json("settle_s", "Wait after a move, s."),
        number("trigger_lag", forms::duration, Unit::Seconds, at!(trigger_lag_s))
            .flag("TIME", "From the shutter's close to the start of the move")
            .json("trigger_lag_s", "From the shutter's close to the start of the move, s."),
        key("waits", Kind::YesNo(at!(waits)))
            .flag("BOOL", "The carriage waits for the camera to finish writing")
            .json("waits", "True where the carriage waits for the camera to finish writing.")
            .comment("the carriage waits for the camera"),
        number("battery_hours", forms::hours, Unit::Hours, at!(battery_hours))
            .flag("HOURS", "How long the rig's battery lasts: 6, \"6 h\"")
            .json("battery_hours", "Hours that the battery lasts.")
            .comment("as rated, in the warm"),
        planned("hours_range", forms::hours, Unit::Hours, at!(hours_range))
            .flag("HOURS", "Shortest and longest hours on a set of cells: 4..10")
            .json("hours_range", "Shortest and longest hours on a set of cells.")
            .comment("on a set of cells, in the warm"),
        number("temperature", forms::temperature, Unit::Celsius, at!(temperature_c))
            .flag("DEGREES", "Temperature at which the rig works: \"-5 °C\"")
            .json("temperature_c", "Temperature at which the rig works, °C."),
        planned("interval_range", forms::interval, Unit::Seconds, at!(interval_range_s))
            .flag("TIME..TIME", "Shortest and longest interval of the timer: 1s..1h")
            .json("interval_range_s", "Shortest and longest interval of the timer, s.")
            .comment("what the timer has"),
        number("interval_step", forms::interval, Unit::Seconds, at!(interval_step_s))
            .flag("TIME", "Step of the timer's dial: 1s")
            .json("interval_step_s", "Step of the timer's dial, s.")
            .comment("the step of its dial"),
        planned("step_range", forms::length, Unit::Metres, at!(step_range_m))
            .flag("LENGTH..LENGTH", "Shortest and longest single move: 0.1mm..50mm")
            .json("step_range_m", "Shortest and longest single move, m."),
        planned("speed_range", forms::speed, Unit::Speed, at!(speed_range_m_s))
            .flag("SPEED..SPEED", "Slowest and fastest speed of the carriage: 1mm/s..40mm/s")
            .json("speed_range_m_s", "Slowest and fastest speed of the carriage, m/s."),
        number("distance", forms::length, Unit::Metres, at!(distance_m))
            .flag("LENGTH", "Distance to the subject")
            .late()
            .json("distance_m", "Distance to the subject, m."),
        number("focal_length", forms::length, Unit::Metres, at!(focal_length_m))
            .flag("LENGTH", "Focal length")
            .late()
            .json("focal_length_m", "Focal length, m."),
        number("pixel_pitch", forms::length, Unit::Metres, at!(pixel_pitch_m))
            .flag("LENGTH", "Pixel pitch of the sensor")
            .late()
            .json("pixel_pitch_m", "Pixel pitch, m."),
        number("wait", forms::interval, Unit::Seconds, at!(wait_s))
            .flag(
                "TIME",
                "Wait before each move, where the rig is set by it: the interval is wait + move + settle",
            )
            .json("wait_s", "Wait from the shutter's opening to the move, s, where the rig is set by it.")
            .comment("from the shutter's opening to the move"),
        number("wait_increment", forms::interval, Unit::Seconds, at!(wait_increment_s))
            .flag("TIME", "What the wait can be set to: multiples of 1s; plan then works the wait out")
            .json("wait_increment_s", "Step of the wait's dial, s.")
            .comment("the step of its dial"),
        number("step_increment", forms::length, Unit::Metres, at!(step_increment_m))
            .flag("LENGTH", "What the step can be set to: multiples of 0.1mm")
            .json("step_increment_m", "Step of the step's dial, m.")
            .comment("the step of its dial"),
        number("sensor_diagonal", forms::length, Unit::Metres, at!(sensor_diagonal_m))
            .flag("LENGTH", "Diagonal of the sensor, for the stars in the corners: \"43.3 mm\"")
            .late()
            .json("sensor_diagonal_m", "Diagonal of the sensor, m."),
        number("declination", forms::declination, Unit::Degrees, at!(declination_deg))
            .flag("DEGREES", "Declination at which the camera points, for the stars: 41, \"-16.7°\"")
            .late()
            .json("declination_deg", "Declination at which the camera points, degrees."),
        number("star_trail", forms::pixels, Unit::Pixels, at!(star_trail_px))
            .flag("PX", "Longest trail of a star that still counts as a point: 2")
            .late()
            .json("star_trail_px", "Longest trail of a star that still counts as a point, px."),
        number("pan", forms::turning, Unit::Turning, at!(pan_deg_s))
            .flag("RATE", "Rate of a pan while the shutter is open (kind = continuous): \"30 °/h\"")
            .late()
            .json("pan_deg_s", "Rate of a pan while the shutter is open, degrees a second."),
    ];
}

impl Keyed for CardPlan {
    const SCHEMA: (&'static str, &'static str) = ("Card", "The card as planned.");
    const KEYS: &'static [PlanKey<Self>] = &[
        number("size", forms::bytes, Unit::Bytes, at!(size_bytes))
            .flag_named(Some("card"), "SIZE", "Size of the card: \"64 GB\"")
            .json("size_bytes", "Its size, bytes."),
        number("frame_size", forms::bytes, Unit::Bytes, at!(frame_bytes))
            .flag("SIZE", "Size of one frame with all its files: \"25 MB\"")
            .json("frame_bytes", "Size of one frame with all its files, bytes."),
        key("file_system", word!(file_system)).flag("", "How the card is formatted").json("file_system", ""),
    ];
}

/// The clip.
impl Keyed for DeliveryPlan {
    const SCHEMA: (&'static str, &'static str) = ("Delivery", "The delivery as planned.");
    const KEYS: &'static [PlanKey<Self>] = &[
        number("fps", forms::fps, Unit::Rate, at!(fps))
            .flag("FPS", "Frames a second of the finished clip")
            .json("fps", "Frames a second of the clip."),
        number("length", forms::interval, Unit::Seconds, at!(length_s))
            .flag("TIME", "Length of the finished clip")
            .json("length_s", "Length of the clip, s."),
        key("patch_up_to", Kind::Count(forms::slots, at!(patch_up_to)))
            .flag("SLOTS", "Largest hole that is patched in post, slots: 0 for none, 1 where nothing is said")
            .json("patch_up_to", "Largest hole that is patched in post, slots.")
            .comment("slots of a hole that post can fill")
            .told_last(),
    ];
}

/// What the client's page says; in the same table as the clip.
impl Keyed for DocumentPlan {
    const SCHEMA: (&'static str, &'static str) = DeliveryPlan::SCHEMA;
    const KEYS: &'static [PlanKey<Self>] = &[
        key("title", Kind::Text(at!(title))).json("title", "Title of the client's page."),
        key("scenario", Kind::Text(at!(scenario))).json("scenario", "What was shot, and for what."),
        key("contact", Kind::Lines(at!(contact))).json("contact", "Whom to ask, line by line."),
    ];
}

/// What a part has of its own; its exposure has those rows of [`ExposurePlan`] that are `in_part`.
impl Keyed for Part {
    const SCHEMA: (&'static str, &'static str) = ("Part", "What changes on purpose.");
    const KEYS: &'static [PlanKey<Self>] = &[
        number("interval", forms::interval, Unit::Seconds, at!(interval_s))
            .json("interval_s", "The new interval."),
        key("direction", word!(direction)).json("direction", "The new way of the carriage"),
        key("note", Kind::Text(at!(note))).json("note", "What was changed, in the photographer's words."),
    ];
}
