//! One plan laid over another: what the flags say wins, key by key.

use super::{CardPlan, DeliveryPlan, DocumentPlan, ExposurePlan, Plan, RigPlan};

impl Plan {
    /// This plan with `flags` laid over it: each key that the flags say wins, the others stay. Lists
    /// (`active`, `[[part]]`, `[[accepted]]`) are replaced whole where the flags hold any; tolerances key by
    /// key.
    ///
    /// Frames and run say the same thing twice. Where the flags say one of them, the other is dropped from
    /// the plan below; where they change the interval only, a run written beside a number of frames is
    /// dropped: the frames stand.
    #[must_use]
    pub fn overlaid(self, flags: Self) -> Self {
        let (mut frames, mut run_s) = (flags.frames.or(self.frames), flags.run_s.or(self.run_s));
        match (flags.frames, flags.run_s) {
            (Some(_), None) => run_s = None,
            (None, Some(_)) => frames = None,
            (None, None) if flags.interval_s.is_some() && frames.is_some() => run_s = None,
            _ => {}
        }
        let mut tolerances = self.tolerances;
        let unnamed = self.unnamed.under(&flags);
        for (check, keys) in flags.tolerances {
            tolerances.entry(check).or_default().extend(keys);
        }
        Self {
            name: flags.name.or(self.name),
            interval_s: flags.interval_s.or(self.interval_s),
            frames,
            run_s,
            start: flags.start.or(self.start),
            counted_from: flags.counted_from.or(self.counted_from),
            bracket: flags.bracket.or(self.bracket),
            first: flags.first.or(self.first),
            last: flags.last.or(self.last),
            active: replaced(flags.active, self.active),
            light: flags.light.or(self.light),
            mains_hz: flags.mains_hz.or(self.mains_hz),
            exposure: self.exposure.overlaid(flags.exposure),
            rig: rig(self.rig, flags.rig),
            card: CardPlan {
                size_bytes: flags.card.size_bytes.or(self.card.size_bytes),
                frame_bytes: flags.card.frame_bytes.or(self.card.frame_bytes),
                file_system: flags.card.file_system.or(self.card.file_system),
            },
            delivery: DeliveryPlan {
                fps: flags.delivery.fps.or(self.delivery.fps),
                length_s: flags.delivery.length_s.or(self.delivery.length_s),
                patch_up_to: flags.delivery.patch_up_to.or(self.delivery.patch_up_to),
            },
            document: DocumentPlan {
                title: flags.document.title.or(self.document.title),
                scenario: flags.document.scenario.or(self.document.scenario),
                contact: replaced(flags.document.contact, self.document.contact),
            },
            parts: replaced(flags.parts, self.parts),
            file: flags.file.or(self.file),
            accepted: replaced(flags.accepted, self.accepted),
            tolerances,
            unnamed,
        }
    }
}

impl ExposurePlan {
    /// These settings with `over` laid over them, key by key. So a `[[part]]` reads over what stood before
    /// it.
    #[must_use]
    pub fn overlaid(self, over: Self) -> Self {
        Self {
            mode: over.mode.or(self.mode),
            shutter_s: over.shutter_s.or(self.shutter_s),
            aperture: over.aperture.or(self.aperture),
            iso: over.iso.or(self.iso),
            max_step_ev: over.max_step_ev.or(self.max_step_ev),
            busy_s: over.busy_s.or(self.busy_s),
            dark_frame: over.dark_frame.or(self.dark_frame),
        }
    }
}

fn rig(under: RigPlan, over: RigPlan) -> RigPlan {
    RigPlan {
        kind: over.kind.or(under.kind),
        direction: over.direction.or(under.direction),
        travel_m: over.travel_m.or(under.travel_m),
        step_m: over.step_m.or(under.step_m),
        speed_m_s: over.speed_m_s.or(under.speed_m_s),
        acceleration_m_s2: over.acceleration_m_s2.or(under.acceleration_m_s2),
        settle_s: over.settle_s.or(under.settle_s),
        trigger_lag_s: over.trigger_lag_s.or(under.trigger_lag_s),
        waits: over.waits.or(under.waits),
        battery_hours: over.battery_hours.or(under.battery_hours),
        hours_range: over.hours_range.or(under.hours_range),
        temperature_c: over.temperature_c.or(under.temperature_c),
        interval_range_s: over.interval_range_s.or(under.interval_range_s),
        interval_step_s: over.interval_step_s.or(under.interval_step_s),
        step_range_m: over.step_range_m.or(under.step_range_m),
        speed_range_m_s: over.speed_range_m_s.or(under.speed_range_m_s),
        distance_m: over.distance_m.or(under.distance_m),
        focal_length_m: over.focal_length_m.or(under.focal_length_m),
        pixel_pitch_m: over.pixel_pitch_m.or(under.pixel_pitch_m),
    }
}

/// The list of the flags where it holds anything.
fn replaced<T>(flags: Vec<T>, below: Vec<T>) -> Vec<T> {
    if flags.is_empty() { below } else { flags }
}

#[cfg(test)]
mod tests {
    use super::super::{
        Accepted, CountedFrom, DailyHours, ExposureMode, FileSystem, Light, Moment, Part, PartStart, Planned,
        RigKind, Unnamed, Way,
    };
    use super::*;
    use crate::units::CivilTime;
    use std::collections::BTreeMap;

    /// A plan in which every key is said, with values that depend on `n`.
    fn full(n: u32) -> Plan {
        let v = f64::from(n);
        let moment = Moment { civil: CivilTime::from_micros(i64::from(n)), offset_min: None };
        let exposure = ExposurePlan {
            mode: Some(if n == 1 { ExposureMode::Locked } else { ExposureMode::Ramped }),
            shutter_s: Some(Planned::Fixed(v)),
            aperture: Some(Planned::Fixed(v)),
            iso: Some(Planned::Fixed(v)),
            max_step_ev: Some(v),
            busy_s: Some(v),
            dark_frame: Some(n == 1),
        };
        Plan {
            name: Some(format!("plan {n}")),
            interval_s: Some(v),
            frames: Some(u64::from(n)),
            run_s: Some(v),
            start: Some(moment),
            counted_from: Some(if n == 1 { CountedFrom::Open } else { CountedFrom::Close }),
            bracket: Some(n),
            first: Some(format!("A{n}.JPG")),
            last: Some(format!("Z{n}.JPG")),
            file: Some(format!("plan-{n}.toml")),
            active: vec![DailyHours { from_s: n, to_s: 100 }],
            light: Some(if n == 1 { Light::Mains } else { Light::Daylight }),
            mains_hz: Some(v),
            exposure: exposure.clone(),
            rig: RigPlan {
                kind: Some(if n == 1 { RigKind::Stepped } else { RigKind::Continuous }),
                direction: Some(if n == 1 { Way::Left } else { Way::Right }),
                travel_m: Some(v),
                step_m: Some(v),
                speed_m_s: Some(v),
                acceleration_m_s2: Some(v),
                settle_s: Some(v),
                trigger_lag_s: Some(v),
                waits: Some(n == 1),
                battery_hours: Some(v),
                hours_range: Some(Planned::Fixed(v)),
                temperature_c: Some(v),
                interval_range_s: Some(Planned::Fixed(v)),
                interval_step_s: Some(v),
                step_range_m: Some(Planned::Fixed(v)),
                speed_range_m_s: Some(Planned::Fixed(v)),
                distance_m: Some(v),
                focal_length_m: Some(v),
                pixel_pitch_m: Some(v),
            },
            card: CardPlan {
                size_bytes: Some(v),
                frame_bytes: Some(v),
                file_system: Some(if n == 1 { FileSystem::Fat32 } else { FileSystem::Exfat }),
            },
            delivery: DeliveryPlan { fps: Some(v), length_s: Some(v), patch_up_to: Some(n.into()) },
            document: DocumentPlan {
                title: Some(format!("t{n}")),
                scenario: Some(format!("s{n}")),
                contact: vec![format!("l{n}")],
            },
            parts: vec![Part {
                from: PartStart::Frame(n.into()),
                interval_s: Some(v),
                exposure,
                direction: None,
                note: None,
            }],
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
            unnamed: Unnamed::default(),
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
