//! A picture as it comes out of a decoder.

/// A decoded picture: rows of red, green and blue codes, sRGB.
pub struct Rgb {
    /// Pixels in a row.
    pub width: usize,
    /// Rows.
    pub height: usize,
    /// `3 * width * height` codes.
    pub codes: Vec<u8>,
}
