//! A picture as a JPEG file with its Exif block in front.

use super::RehearseError;
use image::RgbImage;
use image::codecs::jpeg::JpegEncoder;

/// Most bytes that an APP1 segment holds after its length field.
const MOST_SEGMENT: usize = 65_533;

/// A plain JPEG of a picture.
///
/// # Errors
/// Where the encoder refuses the picture's size.
pub fn encode(picture: &RgbImage, quality: u8) -> Result<Vec<u8>, RehearseError> {
    let mut out = Vec::new();
    JpegEncoder::new_with_quality(&mut out, quality)
        .encode_image(picture)
        .map_err(|e| RehearseError::Encode(format!("the picture could not be encoded: {e}")))?;
    Ok(out)
}

/// `jpeg` with `tiff` as its Exif segment, straight after the start marker; the encoder's JFIF segment goes,
/// as in a camera's file (common practice, no source).
///
/// # Errors
/// Where the block is too long for one segment, or `jpeg` does not begin as one.
pub fn with_exif(jpeg: &[u8], tiff: &[u8]) -> Result<Vec<u8>, RehearseError> {
    const ID: &[u8] = b"Exif\0\0";
    let refused = |what: &str| RehearseError::Encode(what.into());
    let rest = jpeg.strip_prefix(&[0xFF, 0xD8]).ok_or_else(|| refused("the picture is no JPEG"))?;
    let rest = match rest {
        [0xFF, 0xE0, high, low, ..] => {
            rest.get(2 + usize::from(u16::from_be_bytes([*high, *low]))..).unwrap_or_default()
        }
        _ => rest,
    };
    let length = ID.len() + tiff.len();
    if length > MOST_SEGMENT {
        return Err(refused("the Exif block is longer than a JPEG segment; choose a smaller thumbnail"));
    }
    let written = u16::try_from(length + 2).map_err(|_| refused("the Exif block is too long"))?;
    let mut out = Vec::with_capacity(jpeg.len() + length + 4);
    out.extend_from_slice(&[0xFF, 0xD8, 0xFF, 0xE1]);
    out.extend_from_slice(&written.to_be_bytes());
    out.extend_from_slice(ID);
    out.extend_from_slice(tiff);
    out.extend_from_slice(rest);
    Ok(out)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_block_too_long_is_refused() {
        let jpeg = encode(&RgbImage::new(16, 16), 80).expect("encoded");
        assert!(with_exif(&jpeg, &vec![0; 65_527]).is_ok());
        assert!(with_exif(&jpeg, &vec![0; 65_528]).is_err());
        assert!(with_exif(b"no picture", &[]).is_err());
    }

    #[test]
    fn the_picture_still_decodes() {
        let picture = RgbImage::from_fn(32, 32, |x, y| image::Rgb([x as u8 * 8, y as u8 * 8, 90]));
        let file = with_exif(&encode(&picture, 90).expect("encoded"), b"MM\0*").expect("joined");
        assert_eq!(file.get(..12), Some(&b"\xFF\xD8\xFF\xE1\x00\x0CExif\0\0"[..]));
        let back = image::load_from_memory(&file).expect("decoded").to_rgb8();
        assert_eq!(back.dimensions(), (32, 32));
    }
}
