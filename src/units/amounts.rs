//! Lengths, speeds and sizes as people say them.

use super::words::plain;

/// A length in metres: `5.97 µm`, `1.5 mm`, `900 mm`, `2.5 m`.
pub fn length_text(m: f64) -> String {
    match m.abs() {
        v if v < 0.000_05 => format!("{} µm", plain(m * 1e6, 2)),
        v if v < 0.1 => format!("{} mm", plain(m * 1e3, 3)),
        v if v < 2.0 => format!("{} mm", plain(m * 1e3, 1)),
        _ => format!("{} m", plain(m, 3)),
    }
}

/// A speed in metres a second: `20 mm/s`, `0.25 mm/s`, `0.072 mm/s`.
pub fn speed_text(m_s: f64) -> String {
    let digits = if m_s < 0.001 { 4 } else { 2 };
    format!("{} mm/s", plain(m_s * 1e3, digits))
}

/// A size in bytes, as cards are sold, in powers of a thousand: `25 MB`, `64 GB`.
pub fn size_text(bytes: f64) -> String {
    let (value, unit) = match bytes {
        b if b >= 1e12 => (b / 1e12, "TB"),
        b if b >= 1e9 => (b / 1e9, "GB"),
        b if b >= 1e6 => (b / 1e6, "MB"),
        b => (b / 1e3, "kB"),
    };
    format!("{} {unit}", plain(value, 2))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn amounts_read_as_spoken() {
        assert_eq!(length_text(5.97e-6), "5.97 µm");
        assert_eq!(length_text(0.0015), "1.5 mm");
        assert_eq!(length_text(0.9), "900 mm");
        assert_eq!(length_text(2.5), "2.5 m");
        assert_eq!(length_text(0.001_497), "1.497 mm");
        assert_eq!(speed_text(0.02), "20 mm/s");
        assert_eq!(speed_text(0.000_072), "0.072 mm/s");
        assert_eq!(size_text(64e9), "64 GB");
        assert_eq!(size_text(1.5e12), "1.5 TB");
        assert_eq!(size_text(25e6), "25 MB");
        assert_eq!(size_text(4096.0), "4.1 kB");
    }
}
