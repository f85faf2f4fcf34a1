//! Text as a plan file.

use lapseproof::checks::CHECKS;
use lapseproof::finding::InForce;
use lapseproof::outputs::shoot::toml::file;
use lapseproof::plan::shoot::{Known, solve};
use lapseproof::plan::{KnownCheck, LARGEST, Plan, PlanErrors, Weight, contradictions, derive, read};

/// Reads `data` as a plan, asks of it what is asked before a frame is seen, and works it out as a shoot.
///
/// # Panics
/// Where a mistake has no place in the text, or a plan that was worked out does not read again.
pub fn look(data: &[u8]) {
    let Ok(text) = std::str::from_utf8(data) else { return };
    let mut plan = match as_plan(text) {
        Ok(plan) => plan,
        Err(errors) => return told(text, &errors),
    };
    assert!(plan.clone().overlaid(Plan::default()) == plan);
    if contradictions(&plan).iter().any(|c| c.weight == Weight::Refuse) {
        return;
    }
    derive(&mut plan);
    if let Ok(shoot) = solve(&Known { plan, ..Known::default() }) {
        let written = file(&shoot);
        if let Err(errors) = as_plan(&written) {
            panic!("{errors}\n{written}");
        }
    }
}

fn as_plan(text: &str) -> Result<Plan, PlanErrors> {
    let known: Vec<KnownCheck> =
        CHECKS.iter().map(|c| KnownCheck { id: c.text.id, keys: InForce::keys(c.limits) }).collect();
    read(text, "plan.toml", &known)
}

/// Every mistake has its place, and can be told.
fn told(text: &str, errors: &PlanErrors) {
    assert!(!errors.errors.is_empty(), "refused without a reason");
    for error in &errors.errors {
        assert!(error.line >= 1 && error.column >= 1);
        assert!(text.get(error.span.clone()).is_some() || text.len() > LARGEST, "{error:?}");
    }
    let _ = (errors.to_string(), errors.coloured());
}
