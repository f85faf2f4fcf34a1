//! The levels at which a plan is tight and at which it does not work. Checks hold the frames against the same
//! numbers.
//!
//! All of them are common practice; none is published.

/// Share of the interval past which camera or rig are short of time, %.
pub const USE_TIGHT_PERCENT: f64 = 90.0;

/// Share of the interval that cannot be passed, %.
pub const USE_MOST_PERCENT: f64 = 100.0;

/// Slack between the rig's coming to rest and the next exposure under which it is tight, % of the interval.
pub const SLACK_TIGHT_PERCENT: f64 = 100.0 - USE_TIGHT_PERCENT;

/// Share of the battery's hours past which the margin is thin, %.
pub const POWER_TIGHT_PERCENT: f64 = 80.0;

/// Share of the battery's hours that cannot be passed, %.
pub const POWER_MOST_PERCENT: f64 = 100.0;

/// Share of the card's size past which it is nearly full, %.
pub const CARD_TIGHT_PERCENT: f64 = 90.0;

/// Share of the card's size that can be filled: the rest is the file system's own.
pub const CARD_MOST_PERCENT: f64 = 97.0;

/// Step between two frames that lamps on the mains can make, past which it shows, EV.
pub const MAINS_STEP_EV: f64 = 0.05;

/// Length to spare over the delivery's under which a clip has nothing to lose, % of the delivery's length.
pub const CLIP_SPARE_PERCENT: f64 = 10.0;

/// Largest step between neighbouring frames of a ramped or automatic run where the plan says nothing, EV: a
/// third of a stop and a hair.
pub const STEP_EV: f64 = 0.34;

/// Largest hole that is patched in post where the plan says nothing, slots.
pub const PATCH_SLOTS: u64 = 1;
