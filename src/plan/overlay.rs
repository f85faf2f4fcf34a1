//! One plan laid over another: what the flags say wins, key by key.

use super::schema::lay;
use super::{ExposurePlan, Plan};

impl Plan {
    /// This plan with `flags` laid over it: each key that the flags say wins, the others stay. Lists
    /// (`active`, `[[part]]`, `[[accepted]]`) are replaced whole where the flags hold any; tolerances key by
    /// key.
    ///
    /// Frames and run say the same thing twice. Where the flags say one of them, the other is dropped from
    /// the plan below; where they change the interval only, a run written beside a number of frames is
    /// dropped: the frames stand. So is an interval below a wait that the flags say.
    #[must_use]
    pub fn overlaid(mut self, flags: Self) -> Self {
        let unnamed = std::mem::take(&mut self.unnamed).under(&flags);
        lay(&flags, &mut self);
        lay(&flags.exposure, &mut self.exposure);
        lay(&flags.rig, &mut self.rig);
        lay(&flags.card, &mut self.card);
        lay(&flags.delivery, &mut self.delivery);
        lay(&flags.document, &mut self.document);
        match (flags.frames, flags.run_s) {
            (Some(_), None) => self.run_s = None,
            (None, Some(_)) => self.frames = None,
            (None, None) if flags.interval_s.is_some() && self.frames.is_some() => self.run_s = None,
            _ => {}
        }
        if flags.rig.wait_s.is_some() && flags.interval_s.is_none() {
            self.interval_s = None;
        }
        for (check, keys) in flags.tolerances {
            self.tolerances.entry(check).or_default().extend(keys);
        }
        Self {
            parts: replaced(flags.parts, self.parts),
            file: flags.file.or(self.file),
            accepted: replaced(flags.accepted, self.accepted),
            unnamed,
            ..self
        }
    }
}

impl ExposurePlan {
    /// These settings with `over` laid over them, key by key. So a `[[part]]` reads over what stood before
    /// it.
    #[must_use]
    pub fn overlaid(mut self, over: &Self) -> Self {
        lay(over, &mut self);
        self
    }
}

/// The list of the flags where it holds anything.
fn replaced<T>(flags: Vec<T>, below: Vec<T>) -> Vec<T> {
    if flags.is_empty() { below } else { flags }
}

#[cfg(test)]
mod tests {
    use super::super::{Accepted, Moment, Part, PartStart};
    use super::*;
    use crate::units::{CivilTime, Micros};
    use std::collections::BTreeMap;

    /// A plan that says something of all that no row has, and of frames and run.
    fn full(n: u32) -> Plan {
        let moment = Moment { civil: CivilTime::from_micros(Micros::new(n.into())), offset_min: None };
        let v = f64::from(n);
        Plan {
            interval_s: Some(v),
            frames: Some(u64::from(n)),
            run_s: Some(v),
            file: Some(format!("plan-{n}.toml")),
            parts: vec![Part { interval_s: Some(v), ..Part::from(PartStart::Frame(n.into())) }],
            accepted: vec![Accepted {
                check: format!("c{n}"),
                at: Some(moment),
                file: None,
                count: Some(u64::from(n)),
                reason: "r".into(),
            }],
            tolerances: BTreeMap::from([(
                "missing-slot".to_owned(),
                BTreeMap::from([("caution".to_owned(), v)]),
            )]),
            ..Plan::default()
        }
    }

    #[test]
    fn every_flag_wins_and_silence_changes_nothing() {
        assert_eq!(full(1).overlaid(full(2)), full(2));
        assert_eq!(full(1).overlaid(Plan::default()), full(1));
        assert_eq!(Plan::default().overlaid(full(1)), full(1));
    }

    #[test]
    fn frames_and_run_push_each_other_out() {
        let flags = Plan { frames: Some(10), ..Plan::default() };
        let got = full(1).overlaid(flags);
        assert_eq!((got.frames, got.run_s), (Some(10), None));
        let flags = Plan { run_s: Some(60.0), ..Plan::default() };
        let got = full(1).overlaid(flags);
        assert_eq!((got.frames, got.run_s), (None, Some(60.0)));
        let flags = Plan { interval_s: Some(3.0), ..Plan::default() };
        let got = full(1).overlaid(flags.clone());
        assert_eq!((got.frames, got.run_s), (Some(1), None));
        let only_run = Plan { run_s: Some(60.0), ..Plan::default() };
        assert_eq!(only_run.overlaid(flags).run_s, Some(60.0));
    }

    #[test]
    fn tolerances_join_key_by_key() {
        let of = |key: &str, v: f64| {
            let keys = BTreeMap::from([(key.to_owned(), v)]);
            Plan { tolerances: BTreeMap::from([("missing-slot".to_owned(), keys)]), ..Plan::default() }
        };
        let got = of("caution", 1.0).overlaid(of("fault", 5.0)).overlaid(of("caution", 2.0));
        let keys = got.tolerances.get("missing-slot").expect("a table");
        assert_eq!(keys.get("caution"), Some(&2.0));
        assert_eq!(keys.get("fault"), Some(&5.0));
    }
}
