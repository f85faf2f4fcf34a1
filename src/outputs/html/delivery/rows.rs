//! What the client reads, in plain words: the verdict, what was asked, and what was delivered.

use super::super::view::View;
use crate::audit::Audit;
use crate::finding::{Direction, Limit, Quality, Severity};
use crate::outputs::report::acceptance::{Met, Requirement};
use crate::outputs::report::patch::Place;
use crate::units::{counted, counted_as, duration, plain};
use crate::verdict::Call;

/// Places of the clip that are named one by one.
const PLACES: usize = 3;

/// The verdict in one sentence.
pub(crate) fn verdict(view: &View<'_>) -> String {
    let all = &view.report.requirements;
    if all.is_empty() {
        return view.words(&view.report.story.sentence);
    }
    let of = |pick: fn(&Met) -> bool| {
        let picked: Vec<&str> = all.iter().filter(|row| pick(&row.met)).map(|row| row.what).collect();
        (picked.len() as u64, listed(&picked))
    };
    let (not_met, what) = of(|met| *met == Met::No);
    let (blind, unjudged) = of(|met| matches!(met, Met::NotJudged(_)));
    let (remarks, remarked) = of(|met| *met == Met::Remarks);
    let (agreed, departed) = of(|met| *met == Met::Agreed);
    let met = all.len() as u64 - not_met - blind;
    let are = |n: u64| counted_as(n, "requirement is met", "requirements are met");
    let mut words = match (not_met, met == all.len() as u64) {
        (0, true) if met == 1 => "The requirement is met".to_owned(),
        (0, true) => format!("All {met} requirements are met"),
        (0, false) if met == 0 => return format!("None of the requirements could be judged: {unjudged}."),
        (0, false) => are(met),
        _ => format!("Not met: {what}; {}", are(met)),
    };
    for (n, told, how) in [(remarks, remarked, "with remarks on"), (agreed, departed, "as agreed for")] {
        if n > 0 {
            words.push_str(&format!(", {how} {told}"));
        }
    }
    if blind > 0 {
        words.push_str(&format!("; not judged: {unjudged}"));
    }
    match view.audit.verdict.incidents.first() {
        Some(worst) if not_met + remarks == 0 && view.audit.verdict.call != Call::Clear && blind == 0 => {
            format!("{words}, but: {}", view.words(&worst.sentence))
        }
        _ => words + ".",
    }
}

/// "frames", "frames and clip", "frames, run and clip".
fn listed(words: &[&str]) -> String {
    match words {
        [] => String::new(),
        [one] => (*one).to_owned(),
        [most @ .., last] => format!("{} and {last}", most.join(", ")),
    }
}

/// Qualities of the pictures that no check judged, in one sentence; `None` where all were.
pub(crate) fn unseen(view: &View<'_>) -> Option<String> {
    let has = |what: &str| view.report.requirements.iter().any(|row| row.what == what);
    let unseen: Vec<&str> = ["brightness", "view", "sharpness"].into_iter().filter(|w| !has(w)).collect();
    let because = view.report.limited_to.map(|words| format!(" ({words})")).unwrap_or_default();
    (!unseen.is_empty()).then(|| format!("Not judged: {}{because}.", listed(&unseen)))
}

/// What was asked, as people say it.
pub(crate) fn asked(audit: &Audit, row: &Requirement) -> String {
    let asked = &row.asked;
    match row.what {
        "interval" => format!("One frame every {asked}"),
        "frames" => match most_in_a_row(audit) {
            Some(0) => format!("{asked} frames, none missing"),
            Some(most) => format!("{asked} frames, at most {most} missing in a row"),
            None => format!("{asked} frames"),
        },
        "run" => format!("A run of {asked}"),
        "exposure" => format!("Exposure {asked}"),
        "clip" => format!("A clip of {asked}"),
        "brightness" => format!("Brightness {asked}"),
        "view" => "Every picture shows the scene".into(),
        "sharpness" => format!("Sharpness {asked}"),
        "movement" => format!("Movement {asked}"),
        what => format!("{what}: {asked}"),
    }
}

/// Frames that may be missing in a row, by the limit in force; `None` where no limit is about that.
fn most_in_a_row(audit: &Audit) -> Option<u64> {
    let frames = audit.judgements.iter().filter(|j| j.text.traits.quality == Some(Quality::Frames));
    let mut limits = frames.flat_map(|j| j.limits.all().map(|(limit, _)| *limit));
    let limit: Limit = limits.find(|limit| limit.unit == "missing slots in a row")?;
    let level = limit.fault.filter(|level| level.is_finite() && *level >= 0.0)?;
    let most = match limit.direction {
        Direction::AtLeast => level.ceil() - 1.0,
        _ => level.floor(),
    };
    Some(most.max(0.0) as u64)
}

/// What stands behind the answer; `None` where the answer says it all.
pub(crate) fn delivered(view: &View<'_>, row: &Requirement) -> Option<String> {
    if let Met::NotJudged(why) = &row.met {
        return Some(view.words(why));
    }
    let figures = match row.what {
        "frames" => return Some(frames(view)),
        // The bounds of a measurement are for who shot it.
        "interval" => row.shot.split(" (").next().unwrap_or_default().to_owned(),
        "run" | "exposure" | "clip" => row.shot.clone(),
        _ => String::new(),
    };
    let found = open_finding(view.audit, row).map(|words| view.words(words));
    match (figures.is_empty() || figures == "-", row.met == Met::No || row.met == Met::Remarks) {
        (true, true) => found,
        (true, false) => None,
        (false, true) if row.what != "clip" => Some(
            [view.words(&figures), found.unwrap_or_default()].join(". ").trim_end_matches(". ").to_owned(),
        ),
        (false, _) => Some(view.words(&figures)),
    }
}

/// The weightiest finding that speaks of the requirement and was not agreed to.
fn open_finding<'a>(audit: &'a Audit, row: &Requirement) -> Option<&'a str> {
    let all = audit.judgements.iter().flat_map(|j| j.findings());
    let own =
        all.filter(|f| row.by.contains(&f.check) && f.accepted.is_none() && f.severity > Severity::Note);
    own.rev().max_by_key(|f| f.severity).map(|f| gist(&f.message))
}

/// A finding up to its figures: what is wrong and where. A time of day has no blank behind its colons.
fn gist(message: &str) -> &str {
    let end = [": ", "; "].iter().filter_map(|sign| message.find(sign)).min();
    message[..end.unwrap_or(message.len())].trim_end_matches('.')
}

/// How many frames there are, and what is to be patched where in the clip.
fn frames(view: &View<'_>) -> String {
    let all: Vec<&Place> =
        view.report.patches.iter().filter(|p| matches!(p.kind, "missing" | "damaged")).collect();
    let mut parts = vec![counted(view.report.counts.frames, "frame")];
    parts.extend(all.iter().take(PLACES).map(|p| format!("{} {}{}", p.count, p.kind, at(view, p))));
    let clip = if all.first().is_some_and(|p| in_clip_s(view, p).is_some()) { " of the clip" } else { "" };
    let words = parts.join(", ") + clip;
    if all.len() <= PLACES {
        return words;
    }
    let rest: u64 = all.iter().skip(PLACES).map(|p| p.count).fold(0, u64::saturating_add);
    format!("{words}, and {rest} more in {}", counted((all.len() - PLACES) as u64, "place"))
}

/// Where a place is in the clip, else when it was due; empty where neither is known.
fn at(view: &View<'_>, place: &Place) -> String {
    match (in_clip_s(view, place), place.at) {
        (Some(clip_s), _) if clip_s >= 60.0 => format!(" at {}", duration(clip_s)),
        (Some(clip_s), _) => format!(" at {} s", plain(clip_s, 2)),
        (None, Some(moment)) => format!(" at {}", moment.clock()),
        (None, None) => String::new(),
    }
}

/// Seconds from the beginning of the clip, every slot of the run in it.
fn in_clip_s(view: &View<'_>, place: &Place) -> Option<f64> {
    let slot = place.slot.and_then(|slot| u64::try_from(slot).ok())?;
    Some(slot as f64 / view.audit.plan.delivery.pace()?)
}

#[cfg(test)]
mod tests {
    use super::super::super::gallery::NO_PICTURES;
    use super::super::super::view::Edition;
    use super::*;
    use crate::finding::Answer;
    use crate::outputs::report::Report;
    use crate::outputs::sample;

    fn told(audit: &Audit) -> (String, Vec<(String, String)>) {
        let report = Report::of(audit);
        let view = View::new(&report, &NO_PICTURES, Edition::Client);
        let line = |row: &Requirement| {
            let more = delivered(&view, row).map(|more| format!(": {more}")).unwrap_or_default();
            (asked(audit, row), format!("{}{more}", row.met.word()))
        };
        (verdict(&view), report.requirements.iter().map(line).collect())
    }

    #[test]
    fn each_requirement_is_a_line_of_plain_words() {
        let mut audit = sample::audit();
        audit.plan.delivery.fps = Some(25.0);
        let (_, rows) = told(&audit);
        let frames = rows.iter().find(|r| r.0.contains("7 frames")).expect("asked");
        assert_eq!(frames.0, "7 frames");
        assert_eq!(frames.1, "not met: 5 frames, 2 missing at 0.12 s, 1 damaged at 0.24 s of the clip");
    }

    #[test]
    fn the_verdict_says_what_is_met_and_what_is_not() {
        let mut audit = sample::audit();
        let (verdict, _) = told(&audit);
        assert!(verdict.starts_with("Not met: frames"), "{verdict}");
        audit.judgements[0].answer = Answer::CannotJudge("no stamps".into());
        let (verdict, rows) = told(&audit);
        assert_eq!(verdict, "None of the requirements could be judged: frames.");
        assert!(rows.iter().any(|row| row.1 == "not judged: no stamps"), "{rows:?}");
        // Nothing was asked: the story is what there is to say.
        audit.plan = crate::plan::Plan::default();
        assert_eq!(told(&audit).0, Report::of(&audit).story.sentence);
    }

    #[test]
    fn what_is_met_while_the_call_is_not_clear_says_why() {
        let mut audit = sample::audit();
        audit.judgements[0].answer = Answer::Clear;
        let (verdict, _) = told(&audit);
        assert!(verdict.contains(" met, but: 2 of 7 slots hold no frame."), "{verdict}");
        audit.verdict.call = Call::Clear;
        assert!(told(&audit).0.ends_with(" met."), "{}", told(&audit).0);
    }

    #[test]
    fn the_gist_of_a_finding_is_without_its_figures() {
        assert_eq!(
            gist("The exposure jumps at A.JPG (19:10:00): 1.00 EV more."),
            "The exposure jumps at A.JPG (19:10:00)"
        );
        assert_eq!(gist("2 slots in a row hold no frame."), "2 slots in a row hold no frame");
    }

    #[test]
    fn lists_are_read_aloud() {
        assert_eq!(listed(&["frames"]), "frames");
        assert_eq!(listed(&["frames", "run", "clip"]), "frames, run and clip");
    }
}
