//! Synthetic sequences with known faults: a plan is shot by a simulated timer, camera and carriage, with
//! faults put in on purpose, and what is wrong is written down beside the frames.
//!
//! plan + faults + seed → [`script()`] (every shot, no pictures, no disk) → [`rehearse`] (files and
//! `truth.json`). The same plan, faults, options and seed give the same bytes.

pub mod chance;
pub mod dials;
pub mod error;
pub mod exif;
pub mod faults;
pub mod jpeg;
pub mod light;
pub mod options;
pub mod placed;
pub mod scene;
pub mod script;
pub mod shot;
mod timeline;
pub mod truth;
pub mod write;

pub use error::RehearseError;
pub use faults::{FAULTS, Fault, FaultForm};
pub use options::Options;
pub use script::{Script, script};
pub use shot::{Role, Shot, State};
pub use truth::{Hole, Truth, TruthFault};
pub use write::{rehearse, write_until};
