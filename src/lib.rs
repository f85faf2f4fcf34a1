//! lapseproof reads the stamps and exposures of a whole card of time-lapse frames, holds them against the
//! plan, and says what is missing, what wandered and what can be used.
//!
//! The rooms stand in the order of the flow: plan + folder → frames → evidence → schedule → judgements →
//! verdict → audit → outputs.

// What no user of the library reaches is `pub(crate)`. Linux with all features has most of what there is.
#![cfg_attr(all(target_os = "linux", feature = "rehearse", not(test)), warn(unreachable_pub))]

pub mod units;

pub mod stats;

pub mod plan;

pub mod card;

pub mod frames;

pub mod evidence;

pub mod schedule;

pub mod finding;

pub mod checks;

pub mod verdict;

pub mod audit;

pub mod survey;

pub mod forecast;

pub mod compare;

pub mod store;

pub mod outputs;

#[cfg(feature = "rehearse")]
pub mod rehearse;

pub mod cli;
