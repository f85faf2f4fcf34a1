//! How a rehearsal is made, apart from the plan and the faults.

use super::RehearseError;
use crate::units::Micros;
use crate::units::shown;

/// How a rehearsal is made.
#[derive(Clone, Debug, PartialEq)]
pub struct Options {
    /// Where chance begins: the same seed gives the same sequence.
    pub seed: u64,
    /// Decimals of the second in the stamps, 0 to 3: whole seconds, tenths, hundredths, thousandths.
    pub stamp_digits: u8,
    /// Size of the pictures, pixels, 32 to 6000 each way.
    pub picture: (u32, u32),
    /// Size of the thumbnail in the Exif block, pixels, 16 to 160 each way; the picture is fitted in between
    /// black bars where the shapes differ.
    pub thumbnail: (u32, u32),
    /// JPEG quality of the pictures, 1 to 100.
    pub quality: u8,
    /// The four characters before the file number: A to Z, 0 to 9 or `_`.
    pub prefix: String,
    /// Number of the first file, 1 to 9999.
    pub first_number: u16,
    /// Draw the scene. Otherwise each picture is one flat grey of the right brightness: much quicker.
    pub draw: bool,
    /// Write the Exif block little-endian; big-endian otherwise.
    pub little_endian: bool,
    /// Write OffsetTimeOriginal where the plan's start has an offset from UTC.
    pub write_offset: bool,
    /// Frames to shoot where the plan says neither frames, run nor delivery.
    pub frames: u64,
}

impl Default for Options {
    fn default() -> Self {
        Self {
            seed: 1,
            stamp_digits: 0,
            picture: (300, 200),
            thumbnail: (160, 120),
            quality: 80,
            prefix: "TIDE".into(),
            first_number: 1,
            draw: true,
            little_endian: false,
            write_offset: true,
            frames: 240,
        }
    }
}

impl Options {
    /// Step between neighbouring stamps, s.
    pub fn resolution_s(&self) -> f64 {
        self.resolution().seconds()
    }

    /// Step between neighbouring stamps.
    pub(crate) fn resolution(&self) -> Micros {
        Micros::step_of(self.stamp_digits)
    }

    pub(crate) fn checked(&self) -> Result<(), RehearseError> {
        let wrong = |message: String| Err(RehearseError::Option(message));
        if self.stamp_digits > 3 {
            return wrong(format!("stamp digits: {} is out of range; write 0 to 3", self.stamp_digits));
        }
        let within =
            |size: (u32, u32), low, high| (low..=high).contains(&size.0) && (low..=high).contains(&size.1);
        let (w, h) = self.picture;
        if !within(self.picture, 32, 6000) {
            return wrong(format!("picture size: {w} × {h} is out of range; 32 to 6000 pixels each way"));
        }
        let (w, h) = self.thumbnail;
        if !within(self.thumbnail, 16, 160) {
            return wrong(format!("thumbnail size: {w} × {h} is out of range; 16 to 160 pixels each way"));
        }
        if !(1..=100).contains(&self.quality) {
            return wrong(format!("quality: {} is out of range; write 1 to 100", self.quality));
        }
        let plain = |c: u8| c.is_ascii_uppercase() || c.is_ascii_digit() || c == b'_';
        if self.prefix.len() != 4 || !self.prefix.bytes().all(plain) {
            let prefix = shown(&self.prefix);
            return wrong(format!(
                "name prefix: `{prefix}` is not four of A to Z, 0 to 9 and _; write TIDE, for one"
            ));
        }
        if !(1..=9999).contains(&self.first_number) {
            return wrong(format!("first number: {} is out of range; write 1 to 9999", self.first_number));
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn out_of_range_is_refused_with_the_range() {
        assert!(Options::default().checked().is_ok());
        for (options, words) in [
            (Options { stamp_digits: 4, ..Options::default() }, "0 to 3"),
            (Options { picture: (8, 8), ..Options::default() }, "32 to 6000"),
            (Options { thumbnail: (300, 16), ..Options::default() }, "16 to 160"),
            (Options { quality: 0, ..Options::default() }, "1 to 100"),
            (Options { prefix: "tide".into(), ..Options::default() }, "four of A to Z"),
            (Options { first_number: 0, ..Options::default() }, "1 to 9999"),
        ] {
            let message = options.checked().expect_err("refused").to_string();
            assert!(message.contains(words), "{message}");
        }
    }
}
