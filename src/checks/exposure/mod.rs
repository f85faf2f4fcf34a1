//! Questions about the settings.

pub mod exposure_hunting;
pub mod exposure_jump;
pub mod off_plan_exposure;
pub mod settings_change;
