//! `explain`: the checks, one of them, or a schema.

use super::exit::{Failure, Outcome, tell};
use crate::checks::CHECKS;
use crate::outputs::explain::{Explained, list, one};
use crate::outputs::{index, json, shoot};

#[derive(Debug, clap::Args)]
pub struct Arguments {
    /// Id of a check, such as missing-slot; without one, every check is listed
    id: Option<String>,
    /// Print the JSON Schema of audit.json, of a survey's index.json, or of plan --json
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
}

/// Runs the command.
pub fn run(arguments: &Arguments) -> Result<Outcome, Failure> {
    let checks: Vec<Explained> = CHECKS.iter().map(|c| (c.text, c.limits)).collect();
    let text = match (&arguments.id, arguments.schema) {
        (_, Some(Schema::Audit)) => json::schema(),
        (_, Some(Schema::Survey)) => index::schema(),
        (_, Some(Schema::Plan)) => shoot::json::schema(),
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
    let near = ids.iter().min_by_key(|known| distance(id, known));
    let meant = near
        .filter(|known| distance(id, known) <= 3)
        .map(|known| format!(" Did you mean {known}?"))
        .unwrap_or_default();
    let id = crate::units::shown(id);
    Failure::new(format!("no check is called `{id}`.{meant} lapseproof explain lists them all."))
}

/// Levenshtein distance in characters: the fewest letters to change, add or take away.
fn distance(a: &str, b: &str) -> usize {
    let b: Vec<char> = b.chars().collect();
    let mut row: Vec<usize> = (0..=b.len()).collect();
    for (i, x) in a.chars().take(100).enumerate() {
        let mut next = vec![i + 1];
        for (j, y) in b.iter().enumerate() {
            let change = row.get(j).copied().unwrap_or(0) + usize::from(x != *y);
            let add = next.get(j).copied().unwrap_or(0) + 1;
            let take = row.get(j + 1).copied().unwrap_or(0) + 1;
            next.push(change.min(add).min(take));
        }
        row = next;
    }
    row.last().copied().unwrap_or(0)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Distances worked out by hand.
    #[test]
    fn distances() {
        assert_eq!(distance("missing-slot", "missing-slot"), 0);
        assert_eq!(distance("mising-slot", "missing-slot"), 1);
        assert_eq!(distance("", "abc"), 3);
        assert_eq!(distance("kitten", "sitting"), 3);
    }
}
