//! The interval from frame to frame, with the plan's and the stated bounds.

use super::drawn::{Bins, HEIGHT, Line, Plot, Scale, band, level};
use crate::audit::Audit;
use crate::evidence::FrameView;
use crate::evidence::timing::JoinKind;
use crate::outputs::html::view::View;
use crate::outputs::report::asked::intervals_asked;
use crate::outputs::report::axis::Axis;
use crate::outputs::report::lines;
use crate::units::{counted, duration, plain};
use std::fmt::Write as _;

/// An interval this much longer than the usual one has lost a slot, or the timer stood.
const LONG: f64 = 1.5;

/// One interval, from the slot before: where, how long, and whether a hole or a join lies in it.
struct Step {
    at: usize,
    seconds: f64,
    broken: bool,
}

/// The intervals from slot to slot of the run, by the first exposure of each. A planned rest is none.
fn steps(audit: &Audit) -> impl Iterator<Item = Step> + '_ {
    let timing = &audit.evidence.timing;
    let mut holes = timing.holes.iter().map(|h| h.after).peekable();
    let mut joins = timing.joins.iter().peekable();
    let mut before: Option<(usize, f64, Option<i64>)> = None;
    let start = audit.evidence.run().find_map(FrameView::moment);
    audit.evidence.run().filter_map(move |frame| {
        let (at, slot) = (frame.at(), frame.slot());
        let again = before.is_some_and(|b| slot.is_some() && b.2 == slot);
        let now = frame.moment()?.seconds_since(start?);
        if again {
            return None;
        }
        let (mut broken, mut rested) = (false, false);
        while holes.next_if(|h| *h <= at).is_some() {
            broken = true;
        }
        while let Some(join) = joins.next_if(|j| j.after <= at) {
            broken = true;
            rested |= join.kind == JoinKind::Night;
        }
        let step = before.filter(|_| !rested);
        let step = step.map(|(_, then, _)| Step { at, seconds: now - then, broken });
        before = Some((at, now, slot));
        step
    })
}

/// What the intervals span.
struct Spread {
    /// The shortest and the longest.
    all: (f64, f64),
    /// Those between which nothing is missing and nothing stood; nine in ten of them where no grid tells.
    usual: (f64, f64),
}

impl Spread {
    fn of(audit: &Audit) -> Option<Self> {
        let mut all: Vec<f64> = steps(audit).map(|step| step.seconds).collect();
        all.sort_by(f64::total_cmp);
        let within = (*all.first()?, *all.last()?);
        let Some(cadence) = &audit.evidence.timing.cadence else {
            let tenth = all.len() / 20;
            return Some(Self { all: within, usual: (all[tenth], all[all.len() - 1 - tenth]) });
        };
        // Air enough for the windows of the stamps.
        let interval_s = cadence.interval_s;
        let around = cadence.resolution_s.max(0.02 * interval_s);
        let usual = steps(audit).filter(|step| !step.broken && step.seconds < LONG * interval_s);
        let usual = usual.filter(|step| step.seconds > interval_s / LONG).map(|step| step.seconds);
        let asked = audit.schedule.intervals_asked().map(|(_, asked)| asked);
        let stretches = audit.evidence.timing.stretches.iter().map(|stretch| stretch.interval_s);
        let (low, high) = usual
            .chain(asked)
            .chain(stretches)
            .fold((interval_s, interval_s), |(low, high), s| (low.min(s), high.max(s)));
        let (low, high) = (low.min(interval_s - around).max(0.0), high.max(interval_s + around));
        Some(Self { all: within, usual: (low, high) })
    }
}

/// The plot; `None` where fewer than two frames of the run have a stamp.
pub(crate) fn plot(view: &View<'_>) -> Option<Plot> {
    let audit = view.audit;
    let axis = &view.report.axis;
    let timing = &audit.evidence.timing;
    let cadence = timing.cadence.as_ref();
    let spread = Spread::of(audit)?;
    let (least, most) = spread.all;
    let scale = Scale::around(spread.usual.0, spread.usual.1).reaching(least, most);
    let (mut told, mut usual, mut long) = (Bins::new(axis), Bins::new(axis), Bins::new(axis));
    let mut longer = 0_u64;
    for step in steps(audit) {
        let column = axis.of(step.at);
        told.add(column, step.seconds);
        // Each has marks of its own: one from the shortest to the longest of a column would hide both.
        let far = step.seconds > scale.high;
        longer += u64::from(far);
        if far { long.add(column, step.seconds) } else { usual.add(column, step.seconds) }
    }
    let (beyond, below) = edge(audit, view, &scale);
    let unit_s = cadence.map_or(spread.usual.0, |c| c.interval_s);
    let multiples = scale.multiples(unit_s);
    let line = |(value, n): (f64, u64)| Line { value, label: plain(value, 1), aside: format!("{n} ×") };
    let lines = multiples.into_iter().map(line).collect();
    let mut plot = Plot {
        id: "interval",
        title: "Interval",
        unit: "seconds from frame to frame",
        scale,
        lines,
        own_lines: false,
        height: HEIGHT,
        layers: Vec::new(),
        key: Vec::new(),
        told: told.told(3, "s"),
        words: words(audit, least, most),
    };
    let folds: String = scale.folds().map(|s| level(&scale, 0, axis.columns() - 1, s)).collect();
    if !folds.is_empty() {
        plot.layers.push(("fold", folds));
        plot.words.push_str(" Beyond the dotted line the scale is closer.");
    }
    let mut windows = String::new();
    let mut bounds = String::new();
    for stretch in &timing.stretches {
        let (from, to) = (axis.covered(stretch.first).0, axis.covered(stretch.last).1);
        if let Some(c) = cadence {
            let (low, high) = (stretch.interval_s - c.resolution_s, stretch.interval_s + c.resolution_s);
            windows.push_str(&band(&scale, from, to, low, high));
        }
        bounds.push_str(&band(&scale, from, to, stretch.low_s, stretch.high_s));
    }
    if let Some(c) = cadence {
        plot.layers.push(("band windows", windows));
        plot.key.push(("band windows", format!("what stamps of {} allow", duration(c.resolution_s))));
        plot.layers.push(("bounds", bounds));
        let bounds =
            format!("measured {} s, {} to {}", plain(c.interval_s, 4), plain(c.low_s, 4), plain(c.high_s, 4));
        plot.key.push(("bounds", bounds));
    }
    if let Some(asked) = intervals_asked(audit) {
        plot.layers.push(("asked", levels_asked(audit, axis, &scale)));
        plot.key.push(("asked", format!("planned {asked}")));
    }
    plot.layers.push(("marks", usual.marks(&scale)));
    if longer > 0 {
        plot.layers.push(("marks long", long.marks(&scale)));
        plot.key.push(("marks long", format!("longer than usual: {}", counted(longer, "interval"))));
    }
    if below > 0 {
        plot.layers.push(("beyond", beyond));
        plot.key.push(("beyond", format!("beyond the scale: {}", counted(below, "interval"))));
    }
    Some(plot)
}

/// The intervals asked, each over the columns of the frames that it holds for.
fn levels_asked(audit: &Audit, axis: &Axis, scale: &Scale) -> String {
    let all: Vec<(usize, f64)> = audit.schedule.intervals_asked().collect();
    let begins = |at: usize| if at == 0 { 0 } else { axis.of(at) };
    let ends = all.iter().skip(1).map(|(at, _)| begins(*at).saturating_sub(1)).chain([axis.columns() - 1]);
    all.iter().zip(ends).map(|((at, asked), end)| level(scale, begins(*at), end, *asked)).collect()
}

/// Ticks at the lower edge for what no logarithm shows, stamps that stand still or run backwards; and how
/// many there are.
fn edge(audit: &Audit, view: &View<'_>, scale: &Scale) -> (String, u64) {
    let (mut d, mut below) = (String::new(), 0);
    let mut last = usize::MAX;
    for step in steps(audit).filter(|step| step.seconds < scale.bottom()) {
        below += 1;
        let column = view.report.axis.of(step.at);
        if last != column {
            let _ = write!(d, "M{column}.5 1000v-90");
        }
        last = column;
    }
    (d, below)
}

fn words(audit: &Audit, least: f64, most: f64) -> String {
    let timing = &audit.evidence.timing;
    let range = if plain(least, 3) == plain(most, 3) {
        format!("Every interval is {} s.", plain(least, 3))
    } else {
        format!("The shortest interval is {} s, the longest {} s.", plain(least, 3), plain(most, 3))
    };
    let law = match &timing.cadence {
        Some(c) => format!(
            " The timer kept {} s ({} to {} s, for a timing error of up to {}) over {}.",
            plain(c.interval_s, 4),
            plain(c.low_s, 4),
            plain(c.high_s, 4),
            duration(c.timing_error_s),
            counted(timing.stretches.len() as u64, "stretch"),
        ),
        None => " No grid holds most of the frames.".to_owned(),
    };
    let asked = intervals_asked(audit).map(|asked| format!(" Planned: {asked}.")).unwrap_or_default();
    range + &law + &asked
}

/// When the run began and ended, for the heading of the plots; empty without stamps.
pub(crate) fn when(audit: &Audit) -> String {
    let Some((first, last)) = audit.evidence.ends() else { return String::new() };
    let day = first.at.to_jiff().strftime("%-d %B %Y").to_string();
    let (from, to) = lines::from_to(first.at, last.at);
    if from.len() > 8 { format!("{from} to {to}") } else { format!("{day}, {from} to {to}") }
}
