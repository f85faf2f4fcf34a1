//! `explain`: the checks, one of them, or a schema.

use super::exit::{Failure, Outcome, tell};
use crate::checks::CHECKS;
use crate::outputs::explain::{Explained, list, one};
use crate::outputs::{comparison, index, json, shoot};

#[derive(Debug, clap::Args)]
pub(crate) struct Arguments {
    /// Id of a check, such as missing-slot; without one, every check is listed
    id: Option<String>,
    /// Print the JSON Schema of audit.json, of a survey's index.json, of plan --json, or of compare --format
    /// json
    #[arg(
        long,
        conflicts_with = "id",
        value_enum,
        value_name = "OF",
        num_args = 0..=1,
        require_equals = true,
        default_missing_value = "audit"
    )]
    schema: Option<Schema>,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, clap::ValueEnum)]
enum Schema {
    /// audit.json
    Audit,
    /// index.json
    Survey,
    /// plan --json
    Plan,
    /// compare --format json
    Compare,
}

/// Runs the command.
pub(crate) fn run(arguments: &Arguments) -> Result<Outcome, Failure> {
    let checks: Vec<Explained> = CHECKS.iter().map(|c| (c.text, c.limits)).collect();
    let text = match (&arguments.id, arguments.schema) {
        (_, Some(Schema::Audit)) => json::schema(),
        (_, Some(Schema::Survey)) => index::schema(),
        (_, Some(Schema::Plan)) => shoot::json::schema(),
        (_, Some(Schema::Compare)) => comparison::schema(),
        (None, None) => list(&checks, true),
        (Some(id), None) => match checks.iter().find(|(text, _)| text.id == id.trim().to_ascii_lowercase()) {
            Some(check) => one(*check, true),
            None => return Err(unknown(id, &checks)),
        },
    };
    tell(&text)?;
    Ok(Outcome::Quiet)
}

fn unknown(id: &str, checks: &[Explained]) -> Failure {
    let ids: Vec<_> = checks.iter().map(|(text, _)| text.id).collect();
    // Nobody mistypes an id of so many letters.
    let word: String = id.chars().take(100).collect();
    let near = ids.iter().map(|known| (strsim::levenshtein(&word, known), known)).min_by_key(|near| near.0);
    let meant = near
        .filter(|(distance, _)| *distance <= 3)
        .map(|(_, known)| format!(" Did you mean {known}?"))
        .unwrap_or_default();
    let id = crate::units::shown(id);
    Failure::new(format!("no check is called `{id}`.{meant} lapseproof explain lists them all."))
}
