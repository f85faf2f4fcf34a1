//! What was meant: the model of a plan, the forms in which people write one, and the arithmetic of a shoot.
//!
//! README.md beside this file tells how it works.

mod near;

pub mod arithmetic;
mod asked;
pub mod budget;
pub mod check;
mod choices;
mod clip;
mod course;
pub mod dials;
pub mod forms;
mod found;
pub mod hours;
pub mod lamps;
pub mod levels;
mod model;
pub mod optics;
mod overlay;
pub mod power;
pub mod read;
pub mod schema;
pub mod shoot;
pub mod stars;
pub mod storage;

pub use asked::Asked;
pub use check::{Contradiction, Weight, contradictions, derive};
pub use choices::Choice;
pub use clip::ASSUMED_FPS;
pub use course::{frames_asked, frames_of_run, part_slots, run_of_frames_s, run_planned_s};
pub use found::Widened;
pub use model::{
    Accepted, CardPlan, CountedFrom, DailyHours, DeliveryPlan, DocumentPlan, ExposureMode, ExposurePlan,
    FileSystem, Light, Moment, Part, PartStart, Plan, Planned, RigKind, RigPlan, Unnamed, Way,
};
pub use read::{KnownCheck, LARGEST, PlanError, PlanErrors, read};
