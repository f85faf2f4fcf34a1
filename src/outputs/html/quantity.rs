//! Names of figures as people read them: `gap_s` is a gap in seconds.

use crate::units::{Figure, plain, shown};

/// Endings that are units, and how they are written. Longer ones first.
const UNITS: [(&str, &str); 10] = [
    ("_m_s2", "m/s²"),
    ("_m_s", "m/s"),
    ("_percent", "%"),
    ("_hours", "h"),
    ("_ms", "ms"),
    ("_ev", "EV"),
    ("_hz", "Hz"),
    ("_px", "px"),
    ("_m", "m"),
    ("_s", "s"),
];

/// A key as words, and its unit; no unit where its ending is none.
pub(crate) fn label(key: &str) -> (String, &'static str) {
    let found = UNITS.iter().find_map(|(ending, unit)| Some((key.strip_suffix(ending)?, *unit)));
    let (name, unit) = found.filter(|(name, _)| !name.is_empty()).unwrap_or((key, ""));
    (name.replace('_', " "), unit)
}

fn with(value: String, unit: &str) -> String {
    if unit.is_empty() || value.is_empty() { value } else { format!("{value} {unit}") }
}

/// A figure with its unit; `None` where it is not known.
pub(crate) fn figure(figure: &Figure, unit: &str) -> Option<String> {
    let decimals = |v: f64| if v.abs() < 10.0 { 4 } else { 2 };
    let told = |v: f64| v.is_finite().then(|| with(plain(v, decimals(v)), unit));
    Some(match figure {
        Figure::Count(n) => with(n.to_string(), unit),
        Figure::Number(v) => told(*v)?,
        Figure::Limited(m) => match m.limit.and_then(told) {
            Some(limit) => format!("{} (limit {limit})", told(m.value)?),
            None => told(m.value)?,
        },
        Figure::Text(words) => shown(words),
        Figure::Flag(yes) => if *yes { "yes" } else { "no" }.to_owned(),
        Figure::Unknown => return None,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::Measured;

    #[test]
    fn endings_are_units() {
        assert_eq!(label("gap_s"), ("gap".into(), "s"));
        assert_eq!(label("missing_slots_of_run"), ("missing slots of run".into(), ""));
        assert_eq!(label("acceleration_m_s2"), ("acceleration".into(), "m/s²"));
        assert_eq!(label("share_percent"), ("share".into(), "%"));
        assert_eq!(label("_s"), (" s".into(), ""));
    }

    #[test]
    fn figures_carry_their_unit_and_limit() {
        let limited = Figure::Limited(Measured { value: 36.0, limit: Some(12.5) });
        assert_eq!(figure(&limited, "s").as_deref(), Some("36 s (limit 12.5 s)"));
        assert_eq!(figure(&Figure::Number(f64::NAN), "s"), None);
        assert_eq!(figure(&Figure::Unknown, ""), None);
        assert_eq!(figure(&Figure::Flag(false), ""), Some("no".into()));
    }
}
