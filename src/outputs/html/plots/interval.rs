//! The interval from frame to frame, with the plan's and the stated bounds.

use super::drawn::{Bins, Plot, Scale, band, level};
use crate::audit::Audit;
use crate::evidence::FrameView;
use crate::evidence::timing::Join;
use crate::outputs::html::view::View;
use crate::outputs::report::asked::intervals_asked;
use crate::outputs::report::axis::Axis;
use crate::outputs::report::lines;
use crate::units::{counted, duration, plain};
use std::fmt::Write as _;

/// One interval, from the slot before: where, how long, and whether a hole or a join lies in it.
struct Step {
    at: usize,
    seconds: f64,
    broken: bool,
}

/// The intervals from slot to slot of the run, by the first exposure of each.
fn steps(audit: &Audit) -> impl Iterator<Item = Step> + '_ {
    let timing = &audit.evidence.timing;
    let mut holes = timing.holes.iter().map(|h| h.after).peekable();
    let mut joins = timing.joins.iter().map(|j: &Join| j.after).peekable();
    let mut before: Option<(usize, f64, Option<i64>)> = None;
    let start = audit.evidence.run().find_map(FrameView::moment);
    audit.evidence.run().filter_map(move |frame| {
        let (at, slot) = (frame.at(), frame.slot());
        let again = before.is_some_and(|b| slot.is_some() && b.2 == slot);
        let now = frame.moment()?.seconds_since(start?);
        if again {
            return None;
        }
        let mut broken = false;
        while holes.next_if(|h| *h <= at).is_some() {
            broken = true;
        }
        while joins.next_if(|j| *j <= at).is_some() {
            broken = true;
        }
        let step = before.map(|(_, then, _)| Step { at, seconds: now - then, broken });
        before = Some((at, now, slot));
        step
    })
}

/// The plot; `None` where fewer than two frames of the run have a stamp.
pub fn plot(view: &View<'_>) -> Option<Plot> {
    let audit = view.audit;
    let axis = &view.report.axis;
    let timing = &audit.evidence.timing;
    let cadence = timing.cadence.as_ref();
    let mut bins = Bins::new(axis);
    let (mut low, mut high) = (f64::INFINITY, f64::NEG_INFINITY);
    let (mut least, mut most, mut count) = (f64::INFINITY, f64::NEG_INFINITY, 0_u64);
    for step in steps(audit) {
        bins.add(axis.of(step.at), step.seconds);
        (least, most, count) = (least.min(step.seconds), most.max(step.seconds), count + 1);
        if !step.broken {
            (low, high) = (low.min(step.seconds), high.max(step.seconds));
        }
    }
    if count == 0 {
        return None;
    }
    if low > high {
        (low, high) = (least, most);
    }
    if let Some(c) = cadence {
        // Air enough for the windows of the stamps; what lies far off is marked at the edge.
        let around = c.resolution_s.max(0.02 * c.interval_s);
        (low, high) = (low.min(c.interval_s - around), high.max(c.interval_s + around));
        (low, high) = (low.max(0.0).max(-2.0 * c.interval_s), high.min(3.0 * c.interval_s));
    }
    for (_, asked) in audit.schedule.intervals_asked() {
        (low, high) = (low.min(asked), high.max(asked));
    }
    let scale = Scale::around(low, high);
    let (beyond, above, below) = edges(audit, view, &scale);
    let mut plot = Plot {
        id: "interval",
        title: "Interval",
        unit: "seconds from frame to frame",
        scale,
        layers: Vec::new(),
        key: Vec::new(),
        told: bins.told(3, "s"),
        words: words(audit, least, most),
    };
    let mut windows = String::new();
    let mut bounds = String::new();
    for stretch in &timing.stretches {
        let (from, to) = (axis.of(stretch.first), axis.of(stretch.last));
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
            format!("cadence {} s, {} to {}", plain(c.interval_s, 4), plain(c.low_s, 4), plain(c.high_s, 4));
        plot.key.push(("bounds", bounds));
    }
    if let Some(asked) = intervals_asked(audit) {
        plot.layers.push(("asked", levels_asked(audit, axis, &scale)));
        plot.key.push(("asked", format!("asked {asked}")));
    }
    plot.layers.push(("marks", bins.marks(&scale)));
    if above + below > 0 {
        plot.layers.push(("beyond", beyond));
        plot.key.push(("beyond", format!("beyond the scale: {}", counted(above + below, "interval"))));
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

/// Ticks at the edges for values beyond the scale, and how many lie above and below.
fn edges(audit: &Audit, view: &View<'_>, scale: &Scale) -> (String, u64, u64) {
    let (mut d, mut above, mut below) = (String::new(), 0, 0);
    let mut last = (usize::MAX, 0);
    for step in steps(audit) {
        let edge = match step.seconds {
            s if s > scale.high => (0, 90),
            s if s < scale.low => (1000, -90),
            _ => continue,
        };
        if edge.1 > 0 {
            above += 1
        } else {
            below += 1
        }
        let column = view.report.axis.of(step.at);
        if last != (column, edge.1) {
            let _ = write!(d, "M{column}.5 {}v{}", edge.0, edge.1);
        }
        last = (column, edge.1);
    }
    (d, above, below)
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
    let asked = intervals_asked(audit).map(|asked| format!(" Asked: {asked}.")).unwrap_or_default();
    range + &law + &asked
}

/// When the run began and ended, for the heading of the plots; empty without stamps.
pub fn when(audit: &Audit) -> String {
    let Some((first, last)) = audit.evidence.ends() else { return String::new() };
    let day = first.at.to_jiff().strftime("%-d %B %Y").to_string();
    let (from, to) = lines::from_to(first.at, last.at);
    if from.len() > 8 { format!("{from} to {to}") } else { format!("{day}, {from} to {to}") }
}
