//! What a run takes along: the battery's hours, the card's room, the names that its folders hold.

use super::figures::Figures;
use super::ruling::{Ruling, State, Subject, stands};
use crate::plan::power::{COLDEST_C, Hours};
use crate::plan::storage::DCF_FRAMES;
use crate::plan::{Plan, levels};
use crate::units::{duration, size_text};

pub(super) fn battery(plan: &Plan, figures: &Figures) -> Option<Ruling> {
    let hours = figures.hours?;
    let counted_s = hours.counted_h() * 3600.0;
    let (run_s, load) = (figures.run_s, figures.run_s / counted_s);
    let mut state = stands(100.0 * load, levels::POWER_TIGHT_PERCENT, levels::POWER_MOST_PERCENT);
    if hours.most_h.is_some_and(|most| run_s <= most * 3600.0) {
        state = state.min(State::Tight);
    }
    let words = format!(
        "The battery can be counted on for {}{}; the run of {} takes {:.0} % of it{}.",
        duration(counted_s),
        of_hours(plan, &hours),
        duration(run_s),
        100.0 * load,
        if state > State::Works { needed(run_s, &hours) } else { String::new() },
    );
    Some(Ruling { subject: Subject::Battery, state, load, words })
}

/// The rated hours that leave a margin, rounded up to half an hour.
fn needed(run_s: f64, hours: &Hours) -> String {
    let rated_h = run_s / 3600.0 / hours.share / (levels::POWER_TIGHT_PERCENT / 100.0);
    let half_hours = (rated_h * 2.0 - 1e-6).ceil().max(1.0);
    let cold = if hours.share < 1.0 { " as rated in the warm" } else { "" };
    format!("; one of {}{cold} would do with a margin", duration(half_hours * 1800.0))
}

/// What the hours were reckoned from.
fn of_hours(plan: &Plan, hours: &Hours) -> String {
    let spoken = |h: f64| duration(h * 3600.0);
    match (plan.rig.temperature_c, hours.most_h) {
        (Some(c), _) if hours.share < 1.0 => {
            let floor = if c < COLDEST_C { ", or less" } else { "" };
            format!(
                " ({} in the warm, {:.0} % left at {c:.0} °C{floor})",
                spoken(hours.rated_h),
                100.0 * hours.share
            )
        }
        (_, Some(most)) => format!(" (a set of cells lasts {} to {})", spoken(hours.rated_h), spoken(most)),
        _ => String::new(),
    }
}

pub(super) fn card(plan: &Plan, figures: &Figures) -> Option<Ruling> {
    let (size, frame, bytes) = (plan.card.size_bytes?, plan.card.frame_bytes?, figures.bytes?);
    let share = bytes / size;
    let state = stands(100.0 * share, levels::CARD_TIGHT_PERCENT, levels::CARD_MOST_PERCENT);
    let words = format!(
        "The card of {} holds {} frames of {} ({:.0} % of it can be filled); the run takes {}, {:.0} % of \
         the card{}.",
        size_text(size),
        plan.card.frames_held()?,
        size_text(frame),
        levels::CARD_MOST_PERCENT,
        size_text(bytes),
        100.0 * share,
        if state > State::Works { larger(bytes) } else { String::new() },
    );
    Some(Ruling { subject: Subject::Card, state, load: share * 100.0 / levels::CARD_MOST_PERCENT, words })
}

/// The smallest card, as they are sold, that leaves a margin: 1, 2, 4, 8 GB and on by doubling (common
/// practice, no source).
fn larger(bytes: f64) -> String {
    let needs = bytes / (levels::CARD_TIGHT_PERCENT / 100.0);
    let sold = (needs / 1e9).max(1.0).log2().ceil().exp2() * 1e9;
    // From 1 TB on they are sold by the thousand, not by 1024.
    let sold = if sold >= 1024e9 { (needs / 1e12).max(1.0).log2().ceil().exp2() * 1e12 } else { sold };
    format!("; one of {} would do with a margin", size_text(sold))
}

pub(super) fn file_system(plan: &Plan) -> Option<Ruling> {
    let fails = |words| Some(Ruling { subject: Subject::FileSystem, state: State::Fails, load: 0.0, words });
    let frames = plan.frames?.saturating_mul(u64::from(plan.members()));
    if frames > DCF_FRAMES {
        return fails(format!(
            "{frames} frames are more than a card's folders can name: {DCF_FRAMES} by the rule of camera \
             file names (DCF)."
        ));
    }
    let (system, frame) = (plan.card.formatted()?, plan.card.frame_bytes?);
    let most = system.file_bytes().filter(|most| frame > *most)?;
    fails(format!(
        "A frame of {} is larger than a file can be on {} ({most:.0} bytes).",
        size_text(frame),
        system.word()
    ))
}
