//! Questions about shutter, carriage and time; battery, card and clip.

pub mod card_space;
pub mod move_clash;
pub mod power_margin;
pub mod short_clip;
pub mod shutter_overrun;
pub mod stalled_move;
pub mod uneven_move;
