//! The sentences about a run that still goes on.

use crate::audit::Audit;
use crate::evidence::FrameState;
use crate::finding::Severity;
use crate::forecast::{Expected, Forecast, RunsOut, Stage, Supply};
use crate::units::stops::time_text;
use crate::units::{CivilTime, counted, duration, size_text};

/// Incidents that are told one by one.
const INCIDENTS: usize = 3;

/// One camera's run that still goes on.
#[derive(Clone, Copy, Debug)]
pub struct Underway<'a> {
    /// What its frames say so far, audited under the plan without its end.
    pub audit: &'a Audit,
    /// What is to come.
    pub forecast: &'a Forecast,
}

/// What is said of one run.
pub(super) struct Told {
    /// On course or not, and why.
    pub answer: String,
    /// What to do now; `None` where nothing is.
    pub to_do: Option<String>,
    /// Labels and what stands beside them.
    pub lines: Vec<(&'static str, String)>,
}

impl Told {
    pub(super) fn of(run: Underway<'_>) -> Self {
        Self { answer: answer(run), to_do: to_do(run), lines: lines(run) }
    }
}

/// A moment by its clock; with its day where that is not the present one.
fn when(forecast: &Forecast, at: CivilTime) -> String {
    let same = at.to_jiff().date() == forecast.now.to_jiff().date();
    if same { at.clock() } else { at.clock_and_day() }
}

/// "412 of 601 frames", or "412 frames" where nobody planned a number.
fn so_many(forecast: &Forecast) -> String {
    match forecast.asked {
        Some(asked) => format!("{} of {}", forecast.slots.min(asked), counted(asked, "frame")),
        None => counted(forecast.slots, "frame"),
    }
}

fn answer(run: Underway<'_>) -> String {
    let forecast = run.forecast;
    let many = so_many(forecast);
    match forecast.stage {
        Stage::Stopped(_) => {
            let since = forecast.ends.map_or_else(String::new, |(_, last)| when(forecast, last));
            return format!("STOPPED: no frame since {since}, after {many}.");
        }
        Stage::Whole if !forecast.spoilt() => {
            return format!("COMPLETE: {many}. Audit it for the call.");
        }
        Stage::Whole => return format!("COMPLETE, BUT NOT GOOD: {}", worst(run)),
        Stage::Running => {}
    }
    if let Some(shortage) = forecast.shortage() {
        return format!("OFF COURSE: {}", short_of(forecast, shortage));
    }
    if forecast.spoilt() {
        return format!("OFF COURSE: {}", worst(run));
    }
    match forecast.end {
        Some(end) => format!("ON COURSE: {many}. The run ends about {}.", when(forecast, end.at)),
        None => format!("ON COURSE: {many}. No plan says how long the run is to be."),
    }
}

/// The worst incident, where there is one.
fn worst(run: Underway<'_>) -> String {
    run.audit.verdict.incidents.first().map_or_else(|| clip_is_short(run), |i| i.sentence.clone())
}

fn clip_is_short(run: Underway<'_>) -> String {
    let clip = &run.forecast.clip;
    let best = counted(clip.best.unwrap_or(clip.longest), "frame");
    format!("The clip gets {best} at most of the {} ordered.", clip.ordered.unwrap_or(0))
}

fn short_of(forecast: &Forecast, shortage: &RunsOut) -> String {
    let (frame, at) = (shortage.slot, when(forecast, shortage.at));
    let lacking = forecast.asked.map_or(0, |asked| asked.saturating_sub(frame));
    let lacking = format!("{} before the end", counted(lacking, "frame"));
    match shortage.supply {
        Supply::Card => format!("CARD FULL at frame {frame}, {at}, {lacking}."),
        Supply::Battery => format!("BATTERY EMPTY about frame {frame}, {at}, {lacking}."),
        Supply::Interval | Supply::Ramp | Supply::Light => format!(
            "THE EXPOSURE OUTGROWS THE INTERVAL about frame {frame}, {at}: {} is the longest that fits.",
            time_text(shortage.amount)
        ),
    }
}

fn to_do(run: Underway<'_>) -> Option<String> {
    let forecast = run.forecast;
    if let Stage::Stopped(_) = forecast.stage {
        return Some(
            "look at the camera: battery, card, timer. A copy may only be old. Where the camera's clock \
             differs from this computer's, give its time with --now."
                .to_owned(),
        );
    }
    if let Some(shortage) = forecast.shortage() {
        let at = when(forecast, shortage.at);
        return Some(match shortage.supply {
            Supply::Card => {
                format!(
                    "make room before {at}: change the card right after a frame, and do not touch the head."
                )
            }
            Supply::Battery => {
                format!("feed the rig from outside, or change the battery right after a frame, before {at}.")
            }
            Supply::Interval | Supply::Ramp | Supply::Light => {
                format!("open the aperture, raise the sensitivity, or let the interval grow, before {at}.")
            }
        });
    }
    if !forecast.spoilt() {
        return None;
    }
    let clip = &forecast.clip;
    match (forecast.stage, clip.shoot_on) {
        (_, 0) => run.audit.verdict.incidents.first().map(|i| i.to_do.clone()),
        (_, more) => Some(format!(
            "shoot on: {} more than planned make the clip whole. Otherwise shoot it again.",
            counted(more, "frame")
        )),
    }
}

fn lines(run: Underway<'_>) -> Vec<(&'static str, String)> {
    let forecast = run.forecast;
    let mut lines = vec![("Run", course(run))];
    if let Some(end) = forecast.end {
        lines.push(("Ends", ends(forecast, end)));
    }
    lines.extend(forecast.supplies.iter().map(|spent| supply(forecast, spent)));
    lines.extend(clip(forecast).map(|words| ("Clip", words)));
    let labels = std::iter::once("So far").chain(std::iter::repeat(""));
    lines.extend(labels.zip(so_far(run)));
    lines
}

fn course(run: Underway<'_>) -> String {
    let (forecast, evidence) = (run.forecast, &run.audit.evidence);
    let mut words = so_many(forecast);
    if let Some((first, last)) = forecast.ends {
        let day = |at: CivilTime| at.to_jiff().date();
        let to = if day(first) == day(last) { last.clock() } else { when(forecast, last) };
        words.push_str(&format!(", {} to {to}", when(forecast, first)));
    }
    if let Some(told_s) = run.audit.schedule.told_s() {
        words.push_str(&format!(", one every {}", duration(told_s)));
    }
    match (forecast.stage, forecast.next) {
        (Stage::Running, Some(next)) => {
            words.push_str(&format!("; the next is due at {}", when(forecast, next)));
        }
        (Stage::Stopped(quiet_s), _) => {
            words.push_str(&format!("; nothing for {}", duration(quiet_s.round())));
        }
        _ => {}
    }
    let beside = evidence.count(FrameState::Outside);
    if beside > 0 {
        words.push_str(&format!("; {} on the card belong to none of it", counted(beside, "frame")));
    }
    words + "."
}

fn ends(forecast: &Forecast, end: Expected) -> String {
    let left_s = end.at.seconds_since(forecast.now);
    let at = when(forecast, end.at);
    if let Stage::Stopped(_) = forecast.stage {
        return format!("it was to end at {at}.");
    }
    let (earliest, latest) = (when(forecast, end.earliest), when(forecast, end.latest));
    let left = if left_s > 0.0 { format!("; {} to go", duration(left_s.round())) } else { String::new() };
    format!("{at}, between {earliest} and {latest}{left}.")
}

fn supply(forecast: &Forecast, spent: &RunsOut) -> (&'static str, String) {
    let (frame, at) = (spent.slot, when(forecast, spent.at));
    let left = forecast.asked.map(|asked| asked.saturating_sub(forecast.slots));
    let more = frame.saturating_sub(forecast.slots);
    match spent.supply {
        Supply::Card => {
            let wanted = left.map_or_else(String::new, |left| format!("; {left} are to come"));
            (
                "Card",
                format!("{} free: room for {}{wanted}.", size_text(spent.amount), counted(more, "frame")),
            )
        }
        Supply::Battery => {
            let hours = duration(spent.amount * 3600.0);
            ("Battery", format!("{hours} to count on, from the first frame to {at}."))
        }
        Supply::Interval => (
            "Exposure",
            format!(
                "grows to {}, the longest that fits, about frame {frame}, {at}.",
                time_text(spent.amount)
            ),
        ),
        Supply::Ramp => (
            "Exposure",
            format!(
                "comes to the end of its ramp, {}, about frame {frame}, {at}; pictures then darken.",
                time_text(spent.amount)
            ),
        ),
        Supply::Light => ("Light", format!("the pictures are dark about frame {frame}, {at}.")),
    }
}

fn clip(forecast: &Forecast) -> Option<String> {
    let clip = &forecast.clip;
    let ordered = clip.ordered?;
    let best = clip.best.map_or_else(String::new, |best| format!("; {best} at most in the end"));
    let plays = clip.longest_s.map_or_else(String::new, |s| format!(" ({})", duration(s)));
    Some(format!("{} in one piece so far{plays}, {ordered} ordered{best}.", counted(clip.longest, "frame")))
}

fn so_far(run: Underway<'_>) -> Vec<String> {
    let (forecast, incidents) = (run.forecast, &run.audit.verdict.incidents);
    if incidents.is_empty() {
        return vec!["nothing is wrong.".to_owned()];
    }
    let told = incidents.iter().take(INCIDENTS).map(|incident| {
        let harmless = incident.severity == Severity::Fault && forecast.clip.enough == Some(true);
        let comfort = if harmless { " The clip can still be had in one piece." } else { "" };
        format!("{}{comfort}", incident.sentence)
    });
    let mut words: Vec<String> = told.collect();
    if incidents.len() > INCIDENTS {
        words.push(format!("{}.", counted((incidents.len() - INCIDENTS) as u64, "more incident")));
    }
    words
}
