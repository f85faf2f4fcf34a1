//! What the pictures show.

pub mod flash_risk;
pub mod luminance_flicker;
pub mod mains_banding;
pub mod soft_frame;
