//! Numbers fit for JSON.

/// A number fit for JSON: finite, and cut to nine decimals so that the noise of the arithmetic is not told.
pub(crate) fn number(value: f64) -> Option<f64> {
    let scaled = value * 1e9;
    if !value.is_finite() {
        None
    } else if scaled.abs() < 9e15 {
        // Adding nought turns a negative nought into a plain one.
        Some(scaled.round() / 1e9 + 0.0)
    } else {
        Some(value)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_no_number_is_none() {
        assert_eq!(number(f64::NAN), None);
        assert_eq!(number(f64::NEG_INFINITY), None);
        assert_eq!(number(0.1 + 0.2), Some(0.3));
        assert_eq!(number(1e300), Some(1e300));
    }
}
