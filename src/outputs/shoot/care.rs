//! The usual cautions, where the plan calls for them.

use crate::plan::shoot::Shoot;

/// A rig that stands for longer than this is left alone sooner or later, s (common practice, no source).
const ALONE_S: f64 = 1800.0;

/// Below this the cold is a matter of its own, °C.
const COLD_C: f64 = 5.0;

/// What to take care of, one sentence or two each. They are the usual cautions and no substitute for local
/// rules.
pub fn care(shoot: &Shoot) -> Vec<String> {
    let rig = &shoot.plan.rig;
    let moves = rig.step_m.is_some() || rig.travel_m.is_some() || rig.speed_m_s.is_some();
    let mut told = Vec::new();
    if shoot.figures.run_s > ALONE_S {
        told.push(
            "A rig left alone can fall, be struck or be taken. Secure it against wind and knocks. At \
             height, by roads, rails and water local rules come first. Rigging at height, traffic control \
             and mains wiring are work for people licensed for it."
                .to_owned(),
        );
    }
    if moves {
        told.push("Keep hands, straps and cables clear of a carriage that sets off by itself.".to_owned());
    }
    match rig.temperature_c {
        Some(c) if c < COLD_C => told.push(format!(
            "At {c:.0} °C batteries lose charge, and frost settles on lenses and rails. Keep spare \
             batteries on the body, and a warm place for whoever stays. Do not charge a battery that is \
             below freezing, and follow its maker."
        )),
        None if shoot.figures.hours.is_some() => told.push(
            "The battery's hours are used as given. Say the temperature where it is below 20 °C: the cold \
             shortens them."
                .to_owned(),
        ),
        _ => {}
    }
    told.push(
        "This is arithmetic on your figures. Try a few frames of it on the rig before it counts.".to_owned(),
    );
    told
}
