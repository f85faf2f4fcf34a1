//! Which plan an audit is compared with: the file named, the one found with the frames, or none; and flags
//! over it.

use super::exit::{Failure, note};
use super::plan_flags::PlanFlags;
use crate::card;
use crate::checks::CHECKS;
use crate::finding::InForce;
use crate::plan::{self, KnownCheck, Plan, Weight};
use crate::units::{refusal, shown, shown_path};
use std::path::{Path, PathBuf};

/// A plan and where it came from, in words that follow "601 frames;".
pub(crate) struct Source {
    pub plan: Plan,
    pub words: String,
}

/// The plan of an audit of `roots`.
///
/// # Errors
/// Where a plan file cannot be read or does not hold a plan, with every error of the file.
pub(crate) fn plan_for(
    named: Option<&Path>,
    roots: &[PathBuf],
    flags: &PlanFlags,
    quiet: bool,
) -> Result<Source, Failure> {
    let found = match named {
        Some(path) => Some(path.to_owned()),
        None => found_with(roots)?,
    };
    let (plan, mut words) = match &found {
        Some(path) => {
            let plan = if named.is_some() { read(path) } else { read_found(path) }?;
            // Only the file's own name: where it lies differs from machine to machine.
            let name = path.file_name().map(|n| shown(&n.to_string_lossy())).unwrap_or_default();
            let with = if named.is_some() { "" } else { ", found with the frames" };
            if named.is_none() && !quiet {
                note(&format!("The plan is {}.", shown_path(path)));
            }
            (plan, format!("compared with {name}{with}"))
        }
        None => (Plan::default(), "no plan, compared with its own interval".to_owned()),
    };
    let mut plan = plan;
    if flags.any() {
        words = match &found {
            Some(_) => format!("{words}, flags over it"),
            None => "compared with the plan in the flags".to_owned(),
        };
        plan = plan.overlaid(flags.plan());
    }
    Ok(Source { plan: sound(plan)?, words })
}

/// A plan that was read, with what follows from it; contradictions as in [`refuse_or_warn`].
pub(crate) fn sound(mut plan: Plan) -> Result<Plan, Failure> {
    refuse_or_warn(&plan)?;
    plan::derive(&mut plan);
    Ok(plan)
}

/// Contradictions that leave no meaning end the run; the others are told.
pub(crate) fn refuse_or_warn(plan: &Plan) -> Result<(), Failure> {
    let mut refused = Vec::new();
    for told in plan::contradictions(plan) {
        match told.weight {
            Weight::Refuse => refused.push(shown(&told.words)),
            Weight::Warn => note(&format!("warning: the plan: {}", shown(&told.words))),
        }
    }
    match refused.is_empty() {
        true => Ok(()),
        false => Err(Failure::new(format!("the plan contradicts itself.\n{}", refused.join("\n")))),
    }
}

/// Reads a plan file that somebody named, a link to one too.
pub(crate) fn read(path: &Path) -> Result<Plan, Failure> {
    read_from(path, true)
}

/// Reads a plan file that was found with the frames. A link is refused: an error in a plan shows the lines
/// that it is about, and whoever made the card would choose of which file.
pub(crate) fn read_found(path: &Path) -> Result<Plan, Failure> {
    read_from(path, false).map(Plan::found)
}

fn read_from(path: &Path, follow: bool) -> Result<Plan, Failure> {
    let origin = shown_path(path);
    let bytes = card::contents(path, plan::LARGEST as u64, follow).map_err(|e| {
        Failure::new(format!(
            "the plan {origin} cannot be read: {}. Name a plan file with --plan PLAN.toml",
            refusal(&e)
        ))
    })?;
    let text = String::from_utf8(bytes).map_err(|e| {
        let at = e.utf8_error().valid_up_to();
        Failure::new(format!("the plan {origin} is no UTF-8 text (from byte {at} on). Save it as UTF-8"))
    })?;
    let known: Vec<KnownCheck> =
        CHECKS.iter().map(|c| KnownCheck { id: c.text.id, keys: InForce::keys(c.limits) }).collect();
    let plan = plan::read(&text, &origin, &known)
        .map_err(|errors| Failure::new(format!("the plan {origin} has mistakes:\n{errors}")))?;
    let file = path.file_name().map(|name| shown(&name.to_string_lossy()));
    Ok(Plan { file, ..plan })
}

/// A file, or a link whatever it leads to: it is told when it is read.
fn is_there(path: &Path) -> bool {
    path.symlink_metadata().is_ok_and(|m| m.is_file() || m.is_symlink())
}

/// A `plan.toml` in one of the folders, or beside a folder that is called `frames`.
pub(crate) fn found_with(roots: &[PathBuf]) -> Result<Option<PathBuf>, Failure> {
    let mut found: Vec<PathBuf> = Vec::new();
    for root in roots.iter().filter(|r| r.is_dir()) {
        let real = root.canonicalize().ok();
        let named_frames = real.is_some_and(|r| r.file_name().is_some_and(|n| n == "frames"));
        let beside = named_frames.then(|| root.join("..").join("plan.toml"));
        let place = std::iter::once(root.join("plan.toml")).chain(beside).find(|p| is_there(p));
        if let Some(place) = place {
            let same = |p: &PathBuf| p.canonicalize().ok() == place.canonicalize().ok();
            if !found.iter().any(same) {
                found.push(place);
            }
        }
    }
    match found.as_slice() {
        [] => Ok(None),
        [one] => Ok(Some(one.clone())),
        [one, two, ..] => Err(Failure::new(format!(
            "two plans lie with the frames, {} and {}. Name the one that is meant with --plan",
            shown_path(one),
            shown_path(two)
        ))),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::fs;

    #[test]
    fn a_plan_is_found_in_the_folder_or_beside_its_frames() {
        let dir = tempfile::tempdir().unwrap();
        let shoot = dir.path().join("weir");
        fs::create_dir_all(shoot.join("frames")).unwrap();
        fs::create_dir_all(shoot.join("other")).unwrap();
        assert_eq!(found_with(std::slice::from_ref(&shoot)).unwrap(), None);
        fs::write(shoot.join("plan.toml"), "interval = 12").unwrap();
        assert_eq!(found_with(std::slice::from_ref(&shoot)).unwrap(), Some(shoot.join("plan.toml")));
        let beside = found_with(&[shoot.join("frames")]).unwrap().unwrap();
        assert_eq!(beside.canonicalize().unwrap(), shoot.join("plan.toml").canonicalize().unwrap());
        assert_eq!(found_with(&[shoot.join("other")]).unwrap(), None);
        assert!(
            found_with(&[shoot.clone(), shoot.join("frames")]).unwrap().is_some(),
            "one plan, seen twice"
        );
    }

    #[test]
    fn two_plans_are_not_chosen_between() {
        let dir = tempfile::tempdir().unwrap();
        for name in ["a", "b"] {
            fs::create_dir(dir.path().join(name)).unwrap();
            fs::write(dir.path().join(name).join("plan.toml"), "interval = 12").unwrap();
        }
        let told = found_with(&[dir.path().join("a"), dir.path().join("b")]).unwrap_err().to_string();
        assert!(told.contains("--plan"), "{told}");
    }
}
