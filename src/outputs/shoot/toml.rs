//! A shoot as a plan file, with a comment beside each value that tells how it was come by.

use super::care;
use super::dials::to_set;
use super::stars::stars;
use crate::outputs::cells::utc_offset;
use crate::outputs::findings_csv::fraction;
use crate::plan::schema::{Keyed, PlanKey, Said, Unit, exposure_of_part};
use crate::plan::shoot::{Key, Origin, Shoot, State, Subject};
use crate::plan::{
    CardPlan, DailyHours, DeliveryPlan, DocumentPlan, ExposurePlan, Moment, Part, PartStart, Plan, Planned,
    RigPlan,
};

use crate::outputs::text::wrapped;
use crate::units::{duration, plain, size_text};
use std::fmt::Write as _;

/// Column in which comments begin, where the value leaves room.
const COMMENT: usize = 34;

/// Columns of a comment on lines of its own.
const WIDTH: usize = 96;

/// The plan file, with a line end after its last line.
pub fn file(shoot: &Shoot) -> String {
    let mut out = File::default();
    out.remark(
        "Written by lapseproof plan. Every line can be changed; lapseproof plan FILE works it out again.",
    );
    if let Some(binding) = shoot.rulings.binding() {
        let state = match binding.state {
            State::Works => "",
            State::Tight => "Tight: ",
            State::Fails => "Does not work: ",
        };
        out.remark(&format!("What limits it: {state}{}", binding.words));
    }
    let night = stars(shoot).into_iter().map(|words| format!("Stars: {words}."));
    for words in to_set(shoot).into_iter().chain(night).chain(shoot.notes.iter().cloned()) {
        out.remark(&words);
    }
    out.blank();
    run(&mut out, shoot);
    exposure(&mut out, shoot);
    rig(&mut out, shoot);
    card(&mut out, shoot);
    delivery(&mut out, shoot);
    parts(&mut out, shoot);
    agreed(&mut out, shoot);
    out.blank();
    out.remark("Take care.");
    for words in care(shoot) {
        out.remark(&words);
    }
    out.0
}

/// The file as it grows.
#[derive(Default)]
struct File(String);

impl File {
    fn blank(&mut self) {
        self.0.push('\n');
    }

    fn remark(&mut self, words: &str) {
        for line in wrapped(words, WIDTH) {
            let _ = writeln!(self.0, "# {line}");
        }
    }

    fn table(&mut self, heading: &str) {
        let _ = writeln!(self.0, "\n{heading}");
    }

    fn line(&mut self, key: &str, value: &str, comment: &str) {
        let said = format!("{key} = {value}");
        let _ = match comment.is_empty() {
            true => writeln!(self.0, "{said}"),
            false => writeln!(self.0, "{said:<COMMENT$}# {comment}"),
        };
    }

    /// A line for each of these keys that `of` says, with what its row has to say of it.
    fn keys<S: Keyed>(&mut self, keys: impl IntoIterator<Item = &'static PlanKey<S>>, of: &S) {
        self.keys_with(keys, of, |_| None, |_| None);
    }

    /// The same, where the shoot has more to say: `beside` of a value in the place of its row, `behind` of it
    /// in a remark.
    fn keys_with<S: Keyed>(
        &mut self,
        keys: impl IntoIterator<Item = &'static PlanKey<S>>,
        of: &S,
        beside: impl Fn(&str) -> Option<String>,
        behind: impl Fn(&str) -> Option<String>,
    ) {
        for key in keys {
            if let Some(said) = key.said(of) {
                let comment = beside(key.name).unwrap_or_else(|| key.comment.to_owned());
                self.line(key.name, &written(said), &comment);
            }
            if let Some(words) = behind(key.name) {
                self.remark(&words);
            }
        }
    }
}

/// Text in quotes, by TOML's own rules.
fn text(words: &str) -> String {
    toml::Value::String(words.to_owned()).to_string()
}

fn seconds(s: f64) -> String {
    format!("\"{} s\"", plain(s, 9))
}

/// A length in mm, short ones in µm.
fn length(m: f64) -> String {
    if m < 0.000_1 {
        format!("\"{} µm\"", plain(m * 1e6, 6))
    } else {
        format!("\"{} mm\"", plain(m * 1e3, 9))
    }
}

fn speed(m_s: f64) -> String {
    format!("\"{} mm/s\"", plain(m_s * 1e3, 9))
}

/// An exposure as it is marked: `1/60` where it is one over a whole number.
fn shutter(s: f64) -> String {
    let under = (1.0 / s).round();
    if s < 0.3 && under >= 1.0 && 1.0 / under == s {
        format!("\"1/{under}\"")
    } else {
        format!("\"{} s\"", plain(s, 9))
    }
}

fn size(bytes: f64) -> String {
    let said = size_text(bytes);
    // Where the two decimals of a spoken size would lose something, the bytes are written out.
    let (number, unit) = said.split_once(' ').unwrap_or((&said, "B"));
    let factor = match unit {
        "TB" => 1e12,
        "GB" => 1e9,
        "MB" => 1e6,
        _ => 1e3,
    };
    let same = number.parse::<f64>().is_ok_and(|n| (n * factor - bytes).abs() < 0.5);
    if same { format!("\"{said}\"") } else { format!("\"{} B\"", plain(bytes, 0)) }
}

/// A value as it is written.
fn written(said: Said<'_>) -> String {
    match said {
        Said::Text(words) => text(words),
        Said::Word(word) => text(word),
        Said::Lines(lines) => list(lines.iter().map(|line| text(line))),
        Said::Hours(all) => list(all.iter().map(|h| text(&hours(h)))),
        Said::Moment(at) => moment(at),
        Said::Number(value, unit) => quantity(value, unit),
        Said::Count(n) => n.to_string(),
        Said::Planned(Planned::Fixed(value), unit) => quantity(value, unit),
        Said::Planned(Planned::Between(from, to), unit) => {
            list([from, to].into_iter().map(|value| quantity(value, unit)))
        }
        Said::YesNo(yes) => yes.to_string(),
    }
}

fn list(items: impl Iterator<Item = String>) -> String {
    format!("[{}]", items.collect::<Vec<_>>().join(", "))
}

/// A quantity in the unit in which people say it.
fn quantity(value: f64, unit: Unit) -> String {
    match unit {
        Unit::Seconds => seconds(value),
        Unit::Shutter => shutter(value),
        Unit::Metres => length(value),
        Unit::Speed => speed(value),
        Unit::Acceleration => format!("\"{} mm/s2\"", plain(value * 1e3, 6)),
        Unit::Hours | Unit::Hertz | Unit::Plain => plain(value, 6),
        Unit::Celsius => plain(value, 3),
        Unit::Degrees => format!("\"{}°\"", plain(value, 6)),
        Unit::Turning => format!("\"{} °/h\"", plain(value * 3600.0, 6)),
        Unit::Pixels => format!("\"{} px\"", plain(value, 6)),
        Unit::Ev => plain(value, 9),
        Unit::Bytes => size(value),
        Unit::Rate => fps(value),
    }
}

fn moment(m: Moment) -> String {
    format!("{}{}", m.civil.iso(fraction(m.civil)), utc_offset(m.offset_min))
}

fn by(shoot: &Shoot, key: Key) -> &'static str {
    shoot.origin(key).map_or("", |o| o.word())
}

fn run(out: &mut File, shoot: &Shoot) {
    let beside = |key: &str| match key {
        "interval" => Some(by(shoot, Key::Interval).to_owned()),
        "frames" => {
            let lasts = duration(shoot.figures.run_s);
            Some(format!("{}; the run lasts {lasts}", by(shoot, Key::Frames)))
        }
        _ => None,
    };
    // The frames say the run, and the dials the interval: it stands where it was said.
    let by_dials = shoot.plan.rig.wait_s.is_some() && shoot.origin(Key::Interval) != Some(Origin::Given);
    let keys = Plan::KEYS.iter().filter(|key| key.name != "run" && !(by_dials && key.name == "interval"));
    out.keys_with(keys, &shoot.plan, beside, |_| None);
}

fn exposure(out: &mut File, shoot: &Shoot) {
    let e = &shoot.plan.exposure;
    let figures = &shoot.figures;
    if *e == ExposurePlan::default() {
        if let Some(mark) = figures.longest_mark_s {
            out.table("[exposure]");
            out.remark(&format!(
                "shutter = {}   the longest that leaves a tenth of the interval to spare; half the interval \
                 would be {}",
                shutter(mark),
                duration(figures.half_s)
            ));
        }
        return;
    }
    out.table("[exposure]");
    let open = figures.exposure_s.zip(figures.angle).map_or_else(String::new, |((mark, exact), angle)| {
        let lasts = if (exact / mark - 1.0).abs() > 0.01 {
            format!("{} in fact; ", duration(exact))
        } else {
            String::new()
        };
        format!("{lasts}open for {} % of the interval, {}°", plain(angle / 3.6, 1), plain(angle, 1))
    });
    out.keys_with(ExposurePlan::KEYS, e, |key| (key == "shutter").then(|| open.clone()), |_| None);
}

fn rig(out: &mut File, shoot: &Shoot) {
    let mut rig = shoot.plan.rig.clone();
    if rig == RigPlan::default() {
        return;
    }
    let figures = &shoot.figures;
    out.table("[rig]");
    let of = match shoot.rail_m {
        // The rail itself: a file of the travel alone would read back as a shoot that fits.
        Some(rail) if shoot.rulings.fails(Subject::Rail) => {
            let need_m = rig.travel_m.replace(rail).unwrap_or(0.0);
            format!("the rail; the moves need {} mm", plain(need_m * 1e3, 1))
        }
        Some(rail) => format!("of {} mm of rail", plain(rail * 1e3, 1)),
        None => by(shoot, Key::Travel).to_owned(),
    };
    let beside = |key: &str| match key {
        "travel" => Some(of.clone()),
        "step" => {
            let moves = shoot.plan.frames.unwrap_or(1).saturating_sub(1);
            Some(format!("{}; {moves} moves", by(shoot, Key::Step)))
        }
        "wait" => {
            let interval = duration(shoot.plan.interval_s.unwrap_or(0.0));
            Some(format!("{}; {interval} from frame to frame", by(shoot, Key::Wait)))
        }
        "speed" => figures.budget.move_s.map(|s| format!("a move takes {}", duration(s))),
        "temperature" => figures.hours.map(|h| {
            format!("{:.0} % of the hours are left: {}", 100.0 * h.share, duration(h.counted_h() * 3600.0))
        }),
        "distance" => figures.shift_px.map(|px| format!("the picture moves by {px:.1} px a frame")),
        _ => None,
    };
    let behind = |key: &str| {
        let slowest = figures.slowest_m_s.filter(|_| key == "speed")?;
        Some(format!("speed = {}   or faster, to leave a tenth of the interval to spare", speed(slowest)))
    };
    out.keys_with(RigPlan::KEYS, &rig, beside, behind);
}

fn card(out: &mut File, shoot: &Shoot) {
    let card = &shoot.plan.card;
    if *card == CardPlan::default() {
        return;
    }
    out.table("[card]");
    let beside = |key: &str| match key {
        "size" => card.frames_held().map(|n| format!("{n} frames")),
        "frame_size" => shoot.figures.bytes.map(|b| format!("{} in all", size_text(b))),
        _ => None,
    };
    out.keys_with(CardPlan::KEYS, card, beside, |_| None);
}

fn delivery(out: &mut File, shoot: &Shoot) {
    let (delivery, page) = (&shoot.plan.delivery, &shoot.plan.document);
    if *delivery == DeliveryPlan::default() && *page == DocumentPlan::default() {
        return;
    }
    out.table("[delivery]");
    let makes = |key: &str| {
        let clip_s = shoot.figures.clip_s.filter(|_| key == "fps")?;
        Some(format!("all frames make {}", duration(clip_s)))
    };
    out.keys_with(DeliveryPlan::KEYS, delivery, makes, |_| None);
    out.keys(DocumentPlan::KEYS, page);
}

/// Hours of the day as they are written; the end of the day is 24:00.
fn hours(h: &DailyHours) -> String {
    let clock = |s: u32| {
        let (h, m, s) = (s / 3600, s / 60 % 60, s % 60);
        if s == 0 { format!("{h:02}:{m:02}") } else { format!("{h:02}:{m:02}:{s:02}") }
    };
    format!("{}-{}", clock(h.from_s), clock(h.to_s))
}

fn parts(out: &mut File, shoot: &Shoot) {
    for part in &shoot.plan.parts {
        out.table("[[part]]");
        let from = match &part.from {
            PartStart::Frame(frame) => frame.to_string(),
            PartStart::Moment(at) => moment(*at),
            PartStart::File(name) => text(name),
        };
        out.line("from", &from, "");
        let (interval, others) = Part::KEYS.split_at(1);
        out.keys(interval, part);
        out.keys(exposure_of_part(), &part.exposure);
        out.keys(others, part);
    }
}

/// Frames a second; the rates of 1000/1001 as the ratios that they are.
fn fps(fps: f64) -> String {
    let thousands = (fps * 1.001).round();
    if (thousands * 1000.0 / 1001.0 - fps).abs() < 1e-9 {
        format!("\"{}/1001\"", thousands * 1000.0)
    } else {
        plain(fps, 9)
    }
}

fn agreed(out: &mut File, shoot: &Shoot) {
    for accepted in &shoot.plan.accepted {
        out.table("[[accepted]]");
        out.line("check", &text(&accepted.check), "");
        let place = accepted.at.map(moment).map(|at| ("at", at));
        let file = accepted.file.as_deref().map(|file| ("file", text(file)));
        let count = accepted.count.map(|n| ("count", n.to_string()));
        for (key, value) in place.into_iter().chain(file).chain(count) {
            out.line(key, &value, "");
        }
        out.line("reason", &text(&accepted.reason), "");
    }
    for (check, keys) in &shoot.plan.tolerances {
        out.table(&format!("[tolerance.{check}]"));
        for (key, level) in keys {
            out.line(key, &plain(*level, 9), "");
        }
    }
}
