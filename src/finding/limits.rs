//! The limits of a check are data. Each has a caution and a fault level; a plan may override either by key.

use super::Severity;
use std::collections::BTreeMap;

/// The key of a limit. Each stands once, as a constant of its check: another one does not compile.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct LimitKey(&'static str);

impl LimitKey {
    /// A key by its name.
    pub const fn new(name: &'static str) -> Self {
        Self(name)
    }

    /// Its name in the plan.
    pub const fn name(self) -> &'static str {
        self.0
    }
}

/// Which side of the level is worth telling.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Direction {
    /// Exactly at the level counts ("any" is at least 1; "3 adjacent" is at least 3).
    AtLeast,
    /// Exactly at the level does not count yet ("over 2 %").
    Above,
    /// Exactly at the level does not count yet ("under 10 %").
    Below,
}

impl Direction {
    /// The word before a level: `from 3`, `over 2`, `under 10`.
    pub const fn word(self) -> &'static str {
        match self {
            Self::AtLeast => "from",
            Self::Above => "over",
            Self::Below => "under",
        }
    }
}

/// One limit of a check.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Limit {
    /// Its key in the plan's `[tolerance.CHECK]`: `KEY_caution` and `KEY_fault`; the first limit of a check
    /// also answers to plain `caution` and `fault`.
    pub key: LimitKey,
    /// The unit of its levels, in words.
    pub unit: &'static str,
    /// Which side is worth telling.
    pub direction: Direction,
    /// The level of a caution; `None` where it never is one.
    pub caution: Option<f64>,
    /// The level of a fault; `None` where it never is one.
    pub fault: Option<f64>,
    /// Where the number comes from.
    pub source: &'static str,
}

/// The limits of a check with the plan's overrides applied.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct InForce(Vec<(Limit, bool)>);

impl InForce {
    /// `limits` with what `[tolerance.CHECK]` says laid over them.
    pub fn new(limits: &[Limit], overrides: Option<&BTreeMap<String, f64>>) -> Self {
        let mut all: Vec<_> = limits.iter().map(|l| (*l, false)).collect();
        for (key, value) in overrides.into_iter().flatten() {
            for (at, (limit, changed)) in all.iter_mut().enumerate() {
                let plain = at == 0 && (key == "caution" || key == "fault");
                let Some(level) = key
                    .strip_prefix(limit.key.name())
                    .and_then(|k| k.strip_prefix('_'))
                    .or(plain.then_some(key))
                else {
                    continue;
                };
                match level {
                    "caution" => limit.caution = Some(*value),
                    "fault" => limit.fault = Some(*value),
                    _ => continue,
                }
                *changed = true;
            }
        }
        Self(all)
    }

    /// Every key that `[tolerance.CHECK]` may name for these limits.
    pub fn keys(limits: &[Limit]) -> Vec<String> {
        let mut keys = Vec::new();
        for (at, limit) in limits.iter().enumerate() {
            if at == 0 {
                keys.extend(["caution".into(), "fault".into()]);
            }
            keys.extend([format!("{}_caution", limit.key.name()), format!("{}_fault", limit.key.name())]);
        }
        keys
    }

    /// The limits, and whether the plan changed them.
    pub fn all(&self) -> impl Iterator<Item = (&Limit, bool)> {
        self.0.iter().map(|(l, changed)| (l, *changed))
    }

    /// The limit of that key. Naming a key that the check does not declare is a mistake in the check.
    ///
    /// # Panics
    /// Where the key is not declared; the check is then answered *broke*.
    pub fn get(&self, key: LimitKey) -> &Limit {
        match self.0.iter().find(|(l, _)| l.key == key) {
            Some((limit, _)) => limit,
            None => panic!("no limit named {} is declared", key.name()),
        }
    }

    /// How much `value` weighs against the limit of that key, with the level it crossed; `None` where it
    /// crosses none, or is not a number.
    pub fn weigh(&self, key: LimitKey, value: f64) -> Option<(Severity, f64)> {
        let limit = self.get(key);
        let crosses = |level: f64| match limit.direction {
            Direction::AtLeast => value >= level,
            Direction::Above => value > level,
            Direction::Below => value < level,
        };
        match (limit.fault, limit.caution) {
            (Some(level), _) if crosses(level) => Some((Severity::Fault, level)),
            (_, Some(level)) if crosses(level) => Some((Severity::Caution, level)),
            _ => None,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const SLOTS: LimitKey = LimitKey::new("slots");
    const SHARE: LimitKey = LimitKey::new("share");
    const LIMITS: [Limit; 2] = [
        Limit {
            key: SLOTS,
            unit: "missing slots",
            direction: Direction::AtLeast,
            caution: Some(1.0),
            fault: None,
            source: "test",
        },
        Limit {
            key: SHARE,
            unit: "% of slots",
            direction: Direction::Above,
            caution: None,
            fault: Some(2.0),
            source: "test",
        },
    ];

    #[test]
    fn at_below_and_above() {
        let limits = InForce::new(&LIMITS, None);
        assert_eq!(limits.weigh(SLOTS, 0.0), None);
        assert_eq!(limits.weigh(SLOTS, 1.0), Some((Severity::Caution, 1.0)));
        assert_eq!(limits.weigh(SHARE, 2.0), None);
        assert_eq!(limits.weigh(SHARE, 2.0001), Some((Severity::Fault, 2.0)));
        assert_eq!(limits.weigh(SHARE, f64::NAN), None);
    }

    #[test]
    fn a_plan_overrides_by_key_and_zero_is_a_value() {
        let over = BTreeMap::from([("fault".to_owned(), 0.0), ("share_fault".to_owned(), 5.0)]);
        let limits = InForce::new(&LIMITS, Some(&over));
        assert_eq!(limits.weigh(SLOTS, 0.0), Some((Severity::Fault, 0.0)));
        assert_eq!(limits.weigh(SHARE, 4.0), None);
        assert_eq!(limits.all().filter(|(_, changed)| *changed).count(), 2);
    }
}
