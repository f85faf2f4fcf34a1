//! What the pictures show.

pub mod blank_picture;
pub mod flash_risk;
pub mod luminance_flicker;
pub mod mains_banding;
pub mod obstructed_view;
pub mod soft_frame;
