//! The page: the plan first, then what binds, then the plans beside it, then what to take care of. Eighty
//! columns.

use super::care;
use super::dials::to_set;
use super::stars::stars;
use crate::outputs::text::{Page, Tone};
use crate::plan::RigKind;
use crate::plan::budget::Slot;
use crate::plan::shoot::{Key, Neighbour, Shoot, State};
use crate::units::stops::time_text;
use crate::units::{duration, length_text, plain, shown, size_text, speed_text};

/// Column from which values hang.
const AT: usize = 13;

/// Columns of the strip of a slot.
const STRIP: usize = 65;

/// The whole page, with a line end after its last line. Colours only where `colour` asks for them.
pub fn page(shoot: &Shoot, beside: &[Neighbour], colour: bool) -> String {
    let mut page = Page::new(colour);
    let (tone, words) = match shoot.state() {
        State::Works => (Tone::Good, "This works."),
        State::Tight => (Tone::Warn, "This works, with little to spare."),
        State::Fails => (Tone::Bad, "This does not work as it stands."),
    };
    page.line(tone, words);
    if let Some(name) = &shoot.plan.name {
        page.wrap(0, Tone::Plain, &shown(name));
    }
    if let Some(words) = to_set(shoot) {
        page.wrap(0, Tone::Plain, &words);
    }
    page.heading("The plan");
    for (label, value) in rows(shoot) {
        page.hang(2, (Tone::Plain, label), AT, &value);
    }
    slot(&mut page, shoot);
    binds(&mut page, shoot);
    page.heading("The nearest plans");
    for other in beside {
        page.hang(2, (Tone::Plain, other.side.word()), AT, &other.words);
    }
    if !shoot.notes.is_empty() {
        page.heading("Good to know");
        for note in &shoot.notes {
            page.hang(2, (Tone::Plain, "-"), 4, note);
        }
    }
    page.heading("Take care");
    for words in care(shoot) {
        page.hang(2, (Tone::Plain, "-"), 4, &words);
    }
    page.finish()
}

/// Each value of the plan with how it was come by.
fn rows(shoot: &Shoot) -> Vec<(&'static str, String)> {
    let (plan, figures) = (&shoot.plan, &shoot.figures);
    let by = |key: Key| shoot.origin(key).map_or_else(String::new, |o| format!(" ({})", o.word()));
    let mut all = Vec::new();
    let interval = duration(plan.interval_s.unwrap_or(0.0));
    all.push(("interval", format!("{interval}{}", by(Key::Interval))));
    if let Some(wait_s) = plan.rig.wait_s {
        let beside = "then the carriage moves and settles";
        all.push(("wait", format!("{}{}, {beside}", duration(wait_s), by(Key::Wait))));
    }
    let slots = match plan.bracket.filter(|b| *b > 1) {
        Some(members) => format!(" of {members} exposures each"),
        None => String::new(),
    };
    all.push(("frames", format!("{}{slots}{}", plan.frames.unwrap_or(0), by(Key::Frames))));
    let event = match shoot.event_s {
        Some(event_s) => format!(", for an event of {}", duration(event_s)),
        None => by(Key::Run),
    };
    all.push(("run", format!("{}{event}", duration(figures.run_s))));
    if !plan.active.is_empty() {
        let days = match (figures.run_s / 86_400.0).floor() + 1.0 {
            1.0 => "one day".to_owned(),
            days => format!("{days:.0} days"),
        };
        all.push(("hours", format!("frames are due in the plan's working hours alone, on {days}")));
    }
    if !plan.parts.is_empty() {
        let changes = match plan.parts.len() {
            1 => "one change".to_owned(),
            n => format!("{n} changes"),
        };
        all.push((
            "parts",
            format!("{changes} on the way; interval and exposure are those of the beginning"),
        ));
    }
    if let (Some(clip_s), Some(fps)) = (figures.clip_s, plan.delivery.fps) {
        let asked = plan.delivery.length_s.map_or_else(String::new, |s| format!("; {} ordered", duration(s)));
        all.push(("clip", format!("{} at {} fps{asked}", duration(clip_s), plain(fps, 3))));
    }
    all.push(("exposure", exposure(shoot)));
    all.push(("room", room(shoot)));
    all.extend(stars(shoot).into_iter().map(|words| ("stars", words)));
    all.extend(carriage(shoot));
    if let Some(px) = figures.shift_px {
        let smear = figures
            .smear_px
            .map_or_else(String::new, |px| format!(", smeared by {px:.1} px in the longest exposure"));
        let (far, lens) = (plan.rig.distance_m.unwrap_or(0.0), plan.rig.focal_length_m.unwrap_or(0.0));
        all.push((
            "picture",
            format!("moves by {px:.1} px a frame at {} with {}{smear}", length_text(far), length_text(lens)),
        ));
    }
    let run = duration(figures.run_s);
    let needs = duration(figures.needs_rated_h * 3600.0);
    all.push(match figures.hours {
        Some(h) => {
            ("battery", format!("{run} of the {} it can be counted on for", duration(h.counted_h() * 3600.0)))
        }
        None => ("battery", format!("not said; rated for {needs} or more it leaves a fifth to spare")),
    });
    if let Some(bytes) = figures.bytes {
        let of = plan.card.size_bytes.map_or_else(String::new, |size| format!(" of {}", size_text(size)));
        all.push(("card", format!("{}{of}", size_text(bytes))));
    }
    all
}

/// What the interval leaves for an exposure.
fn room(shoot: &Shoot) -> String {
    let figures = &shoot.figures;
    let of = figures.budget.room_word();
    if figures.budget.from_close && shoot.plan.members() == 1 {
        return "any exposure: the interval begins when the shutter has closed".to_owned();
    }
    let most = figures.longest_mark_s.map_or_else(
        || format!("no exposure leaves a tenth of the {of} to spare"),
        |mark| format!("exposures up to {} leave a tenth of the {of} to spare", time_text(mark)),
    );
    let rig = &shoot.plan.rig;
    let unsaid = rig.step_m.is_some() && rig.speed_m_s.is_none() && rig.kind != Some(RigKind::Continuous);
    let most = if unsaid { format!("beside the move, {most}") } else { most };
    format!("{most}; 180°, the habit of the trade, would be {}", duration(figures.half_s))
}

fn exposure(shoot: &Shoot) -> String {
    let (plan, figures) = (&shoot.plan, &shoot.figures);
    let Some((mark, exact)) = figures.exposure_s else { return "not said".to_owned() };
    let from = plan.exposure.shutter_s.map_or(mark, |p| p.low());
    let ramp = if from < mark { format!("{} to ", time_text(from)) } else { String::new() };
    let lasts = if (exact / mark - 1.0).abs() > 0.01 {
        format!(" ({} in fact)", time_text(exact))
    } else {
        String::new()
    };
    let angle = figures.angle.map_or_else(String::new, |angle| {
        let (share, angle) = if angle < 3.6 {
            (plain(angle / 3.6, 3), plain(angle, 3))
        } else {
            (format!("{:.0}", angle / 3.6), format!("{angle:.0}"))
        };
        format!("; open for {share} % of the interval, {angle}°")
    });
    format!("{ramp}{}{lasts}{angle}", time_text(mark))
}

fn carriage(shoot: &Shoot) -> Vec<(&'static str, String)> {
    let (plan, figures) = (&shoot.plan, &shoot.figures);
    let rig = &plan.rig;
    let by = |key: Key| shoot.origin(key).map_or_else(String::new, |o| format!(" ({})", o.word()));
    let mut all = Vec::new();
    if let Some(travel_m) = rig.travel_m {
        let of = match shoot.rail_m.filter(|rail| rail - travel_m > 0.000_5) {
            Some(rail) => format!(" of {} of rail", length_text(rail)),
            None => String::new(),
        };
        let steps = rig.step_m.map_or_else(String::new, |step| {
            format!(
                " in {} moves of {}{}",
                plan.frames.unwrap_or(1).saturating_sub(1),
                length_text(step),
                by(Key::Step)
            )
        });
        all.push(("travel", format!("{}{of}{steps}", length_text(travel_m))));
    }
    if let Some(move_s) = figures.budget.move_s {
        let speed = rig.speed_m_s.map_or_else(String::new, |v| format!(" at {}", speed_text(v)));
        let settle = if figures.budget.settle_s > 0.0 {
            format!(", then {} to settle", duration(figures.budget.settle_s))
        } else {
            String::new()
        };
        all.push(("move", format!("{}{speed}{settle}", duration(move_s))));
    } else if let Some(v) = figures.slowest_m_s {
        all.push((
            "move",
            format!("no speed is said; {} or faster leaves a tenth of the interval to spare", speed_text(v)),
        ));
    } else if let Some(v) = rig.speed_m_s {
        all.push(("speed", format!("{}, all the time{}", speed_text(v), by(Key::Speed))));
    }
    all
}

/// One slot as a strip of two lines.
fn slot(page: &mut Page, shoot: &Shoot) {
    let (interval_s, slot) = (shoot.plan.interval_s.unwrap_or(0.0), &shoot.figures.slot);
    if slot.whole_s() <= 0.0 || interval_s <= 0.0 {
        return;
    }
    let all_s = interval_s.max(slot.whole_s());
    page.heading(&format!("One slot of {}", duration(interval_s)));
    let column = |s: f64| ((s / all_s * STRIP as f64).round() as usize).min(STRIP);
    // What takes time at all takes a column at least.
    let draw = |spans: &[(f64, f64, char)]| {
        let mut line = vec![' '; STRIP];
        for &(from, to, sign) in spans.iter().filter(|(from, to, _)| to > from) {
            let (a, b) = (column(from).min(STRIP - 1), column(to));
            line[a..b.max(a + 1)].fill(sign);
        }
        line.into_iter().collect::<String>().trim_end().to_owned()
    };
    let camera = draw(&[(0.0, slot.closed_s, '#'), (slot.closed_s, slot.camera_s, '=')]);
    page.line(Tone::Plain, format!("  {:<11}{camera}", "camera").trim_end());
    let mut key = vec!["# exposure", "= busy"];
    let Slot { sets_off_s, stopped_s, rig_s, .. } = *slot;
    if shoot.figures.budget.rig_s().is_some() {
        let rig = draw(&[(sets_off_s, stopped_s, '>'), (stopped_s, rig_s, '~')]);
        page.line(Tone::Plain, format!("  {:<11}{rig}", "rig").trim_end());
        key.extend(["> move", "~ settle"]);
    }
    let mut end = vec!['-'; STRIP];
    end[column(interval_s).saturating_sub(1)] = '|';
    page.line(Tone::Faint, &format!("  {:<11}{}", "", end.into_iter().collect::<String>()));
    let waits = shoot.figures.budget.wait_s;
    let (taken_s, room_s) = waits.map_or((slot.whole_s(), interval_s), |wait_s| (slot.camera_s, wait_s));
    let free_s = room_s - taken_s;
    let of = if waits.is_some() { " of the wait" } else { "" };
    let free = if free_s >= -1e-9 {
        format!("{}{of} free", duration(free_s.max(0.0)))
    } else {
        format!("{} over{}", duration(-free_s), of.replace(" of", ""))
    };
    page.wrap(AT, Tone::Plain, &format!("{}; {}, {free}", key.join(", "), duration(taken_s)));
}

fn binds(page: &mut Page, shoot: &Shoot) {
    page.heading("What limits it");
    let Some(binding) = shoot.rulings.binding() else {
        page.wrap(
            2,
            Tone::Plain,
            "Nothing that was said. Name exposure, rig, battery or card: they are compared with the plan.",
        );
        return;
    };
    let tone = |state| match state {
        State::Works => (Tone::Good, "works"),
        State::Tight => (Tone::Warn, "tight"),
        State::Fails => (Tone::Bad, "fails"),
    };
    page.hang(2, tone(binding.state), AT, &binding.words);
    for other in shoot.rulings.0.iter().filter(|r| *r != binding) {
        page.hang(2, tone(other.state), AT, &other.words);
    }
}
