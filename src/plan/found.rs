//! What a plan that nobody named lets pass: it lay with the frames, and may be of anybody.

use super::{Part, Plan, Unnamed, levels};
use std::collections::BTreeMap;

/// A kind of limit that a plan widens.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Widened {
    /// `[tolerance.CHECK]`.
    Tolerance,
    /// `max_step`, of the plan or of a part.
    MaxStep,
    /// `patch_up_to`.
    PatchUpTo,
}

impl Widened {
    /// Every kind.
    pub const ALL: [Self; 3] = [Self::Tolerance, Self::MaxStep, Self::PatchUpTo];
}

fn is_wide(max_step_ev: Option<f64>) -> bool {
    max_step_ev.is_some_and(|ev| ev > levels::STEP_EV)
}

impl Plan {
    /// This plan as one that nobody named: it lay with the frames, and may be of anybody.
    #[must_use]
    pub fn found(mut self) -> Self {
        let keys = |levels: &BTreeMap<String, f64>| levels.keys().cloned().collect();
        self.unnamed = Unnamed {
            tolerances: self.tolerances.iter().map(|(id, levels)| (id.clone(), keys(levels))).collect(),
            max_step: is_wide(self.exposure.max_step_ev),
            step_of_part: self.parts.iter().any(|part| is_wide(part.exposure.max_step_ev)),
            patch_up_to: self.delivery.patch_slots() > levels::PATCH_SLOTS,
            first: self.first.is_some(),
            last: self.last.is_some(),
        };
        self
    }

    /// This plan without the limits of those kinds that nobody named; `None` where it has none of them for
    /// that check.
    pub fn without(&self, kinds: &[Widened], check: &str) -> Option<Self> {
        let unnamed = &self.unnamed;
        let own = unnamed.tolerances.get(check).filter(|keys| !keys.is_empty());
        let tolerance = own.filter(|_| kinds.contains(&Widened::Tolerance));
        let step = kinds.contains(&Widened::MaxStep) && (unnamed.max_step || unnamed.step_of_part);
        let patch = kinds.contains(&Widened::PatchUpTo) && unnamed.patch_up_to;
        if tolerance.is_none() && !step && !patch {
            return None;
        }
        let mut plan = self.clone();
        if let (Some(found), Some(levels)) = (tolerance, plan.tolerances.get_mut(check)) {
            levels.retain(|key, _| !found.contains(key));
        }
        if step && unnamed.max_step {
            plan.exposure.max_step_ev = None;
        }
        if step && unnamed.step_of_part {
            let narrow = |part: &mut Part| {
                part.exposure.max_step_ev = part.exposure.max_step_ev.filter(|ev| !is_wide(Some(*ev)));
            };
            plan.parts.iter_mut().for_each(narrow);
        }
        if patch {
            plan.delivery.patch_up_to = None;
        }
        Some(plan)
    }
}

impl Unnamed {
    /// What stays nobody's word where `flags` are laid over the plan.
    #[must_use]
    pub(super) fn under(mut self, flags: &Plan) -> Self {
        for (check, keys) in &flags.tolerances {
            if let Some(found) = self.tolerances.get_mut(check) {
                found.retain(|key| !keys.contains_key(key));
            }
        }
        self.max_step &= flags.exposure.max_step_ev.is_none();
        self.step_of_part &= flags.parts.is_empty();
        self.patch_up_to &= flags.delivery.patch_up_to.is_none();
        self.first &= flags.first.is_none();
        self.last &= flags.last.is_none();
        self
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plan::{ExposurePlan, PartStart};

    fn tolerating(key: &str, level: f64) -> Plan {
        let keys = BTreeMap::from([(key.to_owned(), level)]);
        Plan { tolerances: BTreeMap::from([("missing-slot".to_owned(), keys)]), ..Plan::default() }
    }

    #[test]
    fn tolerances_of_a_found_plan_are_known_apart_until_a_flag_says_them() {
        let plan = tolerating("caution", 1.0).found().overlaid(tolerating("fault", 5.0));
        let named = plan.without(&Widened::ALL, "missing-slot").expect("one is of a found plan");
        assert_eq!(named.tolerances["missing-slot"], BTreeMap::from([("fault".to_owned(), 5.0)]));
        assert_eq!(plan.without(&Widened::ALL, "clock-step"), None);
        assert_eq!(plan.without(&[Widened::MaxStep], "missing-slot"), None);
        let over = plan.overlaid(tolerating("caution", 2.0));
        assert_eq!(over.without(&Widened::ALL, "missing-slot"), None);
    }

    /// A limit as it is where nothing is said, or a stricter one, lets nothing more pass.
    #[test]
    fn only_wider_limits_are_nobodys_word() {
        let step = |max_step_ev| ExposurePlan { max_step_ev, ..ExposurePlan::default() };
        let plan = |ev: f64| {
            let part = Part {
                from: PartStart::Frame(5),
                interval_s: None,
                exposure: step(Some(ev)),
                direction: None,
                note: None,
            };
            let mut plan = Plan { exposure: step(Some(ev)), parts: vec![part], ..Plan::default() };
            plan.delivery.patch_up_to = Some(if ev > 1.0 { 9 } else { 1 });
            plan
        };
        assert_eq!(plan(0.34).found().unnamed, Unnamed::default());
        let wide = plan(3.0).found();
        let strict = wide.without(&Widened::ALL, "exposure-jump").expect("all of it is wide");
        assert_eq!((strict.exposure.max_step_ev, strict.delivery.patch_up_to), (None, None));
        assert_eq!(strict.parts[0].exposure.max_step_ev, None);
        assert_eq!(plan(3.0).without(&Widened::ALL, "exposure-jump"), None, "it was named");
        let only = wide.without(&[Widened::PatchUpTo], "exposure-jump").expect("that alone");
        assert_eq!((only.exposure.max_step_ev, only.delivery.patch_up_to), (Some(3.0), None));
        assert_eq!(wide.overlaid(plan(3.0)).without(&Widened::ALL, "exposure-jump"), None, "flags");
    }
}
