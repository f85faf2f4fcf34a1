//! A shoot worked out before it is shot: from what is known, the rest; what contradicts itself; what binds;
//! and the nearest plans that work.
//!
//! The relations: `clip · fps = frames`, `run = (frames − 1) · interval`, `travel = (frames − 1) · step`, and
//! the slot's budget (see [`budget`](super::budget)).

mod absurd;
mod attempt;
mod beside;
mod clash;
mod counts;
mod dial;
mod dialled;
mod figures;
mod model;
mod ruling;
mod rulings;
mod settle;
mod solve;
mod stores;

pub use beside::{Neighbour, Side, beside};
pub use figures::Figures;
pub use model::{Clash, Key, Known, Origin, Shoot, Unsolved};
pub use ruling::{Ruling, Rulings, State, Subject};
pub use solve::solve;
