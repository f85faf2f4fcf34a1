//! Names that do not sort in the order of capture.

mod name_order;

use crate::checks::common::{PRACTICE, beside, count, opinion, over};
use crate::checks::{Case, Check, Need};
use crate::evidence::Sequence;
use crate::evidence::timing::OrderBasis;
use crate::finding::{Direction, Finding, Limit, LimitKey, Opinion, Severity, Text, Traits};
use crate::units::{Figure, FrameSpan, counted, duration, shown};
use name_order::{Run, SORTS, Sort, asked};

const TEXT: Text = Text {
    id: "file-order",
    finds: "names out of order",
    asks: "Do the names sort in the order of capture?",
    why: "An editing program that sorts by name plays the frames in that order. Where names and capture \
          differ it scrambles the clip, and nothing warns of it.",
    how: "The frames of the run are sorted by name, folder by folder and all in one row. That is done with \
          numbers read as numbers (IMG_2 before IMG_10) and letter by letter (IMG_10 before IMG_2). Each \
          next name that was shot earlier is one place. Where one of the two ways serves, it is named. \
          Capture order is that of a camera's file numbers, 9999 before 0001, or of the stamps. Frames with \
          one stamp are in order either way.",
    blind: "Frames without stamps, whose order only the names give. Names that repeat on two cards, which \
            clash in one folder. A clock that was set back in a run whose names are not a camera's: it looks \
            like names out of order.",
    remedy: "Rename copies of the frames in the order of capture before you import them, or sort by capture \
             time in the program. Keep the card as it is.",
    source: "Numbering 0001 to 9999: DCF (CIPA DC-009). That programs sort by name, in one of two ways: \
             common practice, no source.",
    traits: Traits::PLAIN,
};

const PLACES: LimitKey = LimitKey::new("places");

const LIMITS: &[Limit] = &[Limit {
    key: PLACES,
    unit: "places at which the next name was shot earlier",
    direction: Direction::AtLeast,
    caution: Some(1.0),
    fault: None,
    source: PRACTICE,
}];

/// The check.
pub const CHECK: Check = Check { text: &TEXT, limits: LIMITS, needs: &[Need::Stamps], judge };

/// Places that the sentence names.
const NAMED: usize = 3;
/// Pieces of the right order that the figures hold; all of them stand in [`right_order`].
const PIECES: usize = 24;

fn judge(case: &Case<'_>) -> Opinion {
    let evidence = case.evidence;
    if evidence.timing.basis == OrderBasis::Names {
        return Opinion::cannot("the order of capture is known by the names alone");
    }
    let run = Run::of(evidence);
    let by_stamp = evidence.timing.basis == OrderBasis::Stamps;
    let finding = worst_of(&run).map(|told| match told {
        Told::Places(sort, places) => {
            let words = "An editing program that sorts by name would scramble the clip; rename copies before \
                         you import them.";
            scrambled(case, &run, (sort, &places), ("The names do not sort in the order of capture", words))
        }
        Told::Serves { sort, places, words } => scrambled(case, &run, (sort, &places), words),
        Told::Needs(words) => Finding::new(TEXT.id, Severity::Note, words).count(run.len() as u64),
    });
    let asked = asked(evidence);
    opinion(finding.into_iter().collect(), evidence, |at| {
        let unstamped = || by_stamp && evidence.frame(at).stamp().is_none();
        asked(at).or_else(|| unstamped().then_some("no stamp"))
    })
}

/// What there is to tell.
enum Told {
    /// No way of sorting serves: the way with the fewest places, and these.
    Places(Sort, Vec<(usize, usize)>),
    /// One way of sorting serves, and the other one scrambles the frames in these places: what it does, and
    /// what to do, in words.
    Serves { sort: Sort, places: Vec<(usize, usize)>, words: (&'static str, &'static str) },
    /// The folders alone are at stake, in words.
    Needs(String),
}

/// Where numbers are read as numbers the order is right.
const NUMBERS_SERVE: (&str, &str) = (
    "The names do not sort in the order of capture where a program sorts letter by letter (10 before 2)",
    "One that reads numbers as numbers (2 before 10) keeps the order. For any other rename copies with \
     leading zeros before you import them.",
);
/// Where names are sorted letter by letter the order is right.
const LETTERS_SERVE: (&str, &str) = (
    "The names do not sort in the order of capture where a program reads numbers as numbers and makes no \
     difference of case",
    "One that sorts letter by letter, capitals first, keeps the order. For any other rename copies before \
     you import them.",
);

/// What the ways of sorting come to; `None` where names sort in the order of capture folder by folder, in
/// both ways.
fn worst_of(run: &Run<'_>) -> Option<Told> {
    let [path, path_letters, flat, flat_letters] = SORTS;
    let places = |sort: Sort| run.places(sort);
    let (by_path, by_path_letters) = (places(path), places(path_letters));
    let serves = |places: &Option<Vec<_>>| places.as_ref().is_some_and(Vec::is_empty);
    if serves(&by_path) && serves(&by_path_letters) {
        return None;
    }
    let (by_flat, by_flat_letters) = (places(flat), places(flat_letters));
    let natural = serves(&by_path) || serves(&by_flat);
    let letters = serves(&by_path_letters) || serves(&by_flat_letters);
    let sort = if serves(&by_path) || serves(&by_path_letters) {
        [path, path_letters]
    } else {
        [flat, flat_letters]
    };
    let (serving, folder_by_folder, in_one_row, words) = match (natural, letters) {
        (true, true) => {
            return Some(Told::Needs(
                "The frames lie in turn in several folders: put them into one folder before you import them. \
                 There the names sort in the order of capture."
                    .into(),
            ));
        }
        (true, false) => (sort[0], by_path_letters, by_flat_letters, NUMBERS_SERVE),
        (false, true) => (sort[1], by_path, by_flat, LETTERS_SERVE),
        (false, false) => {
            let all = SORTS.into_iter().zip([by_path, by_path_letters, by_flat, by_flat_letters]);
            // Of equals the first: folder by folder, numbers as numbers.
            return all
                .filter_map(|(sort, places)| Some((sort, places?)))
                .min_by_key(|(_, places)| places.len())
                .map(|(sort, places)| Told::Places(sort, places));
        }
    };
    let folder_by_folder = folder_by_folder.unwrap_or_default();
    let by_folders = [path, path_letters].contains(&serving);
    if by_folders && folder_by_folder.iter().all(|(a, b)| run.parted(*a, *b)) {
        return Some(Told::Needs(
            "The names sort in the order of capture within each folder, but not every program takes the \
             folders in that order (10 before 2, or capitals first). Import them one after another."
                .into(),
        ));
    }
    let fewest = in_one_row.into_iter().chain([folder_by_folder]).min_by_key(Vec::len)?;
    Some(Told::Serves { sort: serving, places: fewest, words })
}

/// The finding about `places`. The order of capture is told in pieces of `sort`; the words are what names do,
/// and what to do.
fn scrambled(
    case: &Case<'_>,
    run: &Run<'_>,
    (sort, places): (Sort, &[(usize, usize)]),
    (what, remedy): (&str, &str),
) -> Finding {
    let evidence = case.evidence;
    let n = places.len() as u64;
    let weighed = case.limits.weigh(PLACES, n as f64);
    let earlier = |&(a, b): &(usize, usize)| {
        let stamps = evidence.frame(a).stamp().zip(evidence.frame(b).stamp());
        let by = stamps.map(|(a, b)| a.at.seconds_since(b.at)).filter(|s| *s > 0.0);
        let by = by.map_or_else(String::new, |s| format!("{} ", duration(s)));
        format!(
            "{} comes after {} and was shot {by}earlier",
            evidence.frame(b).name(),
            evidence.frame(a).name()
        )
    };
    let named: Vec<String> = places.iter().take(NAMED).map(earlier).collect();
    let more = match places.len().saturating_sub(NAMED) {
        0 => String::new(),
        more => format!("; and {more} more"),
    };
    let pieces = run.pieces(sort);
    // A run of a camera's numbers has its own word for that: clock-step. Where one way of sorting serves, no
    // clock is in doubt.
    let clock = match (evidence.timing.basis, n) {
        (OrderBasis::Stamps, 1) if pieces.len() > 1 => {
            " Or the camera's clock was set back there: then the names are right."
        }
        _ => "",
    };
    let message = format!(
        "{what}, in {} among {}: {}{more}. {remedy}{clock}",
        counted(n, "place"),
        counted(run.len() as u64, "frame"),
        named.join("; "),
    );
    let mut order = pieces.iter().take(PIECES).cloned().collect::<Vec<_>>().join(", ");
    if pieces.len() > PIECES {
        order.push_str(&format!(", and {} pieces more", pieces.len() - PIECES));
    }
    let mut spans: Vec<FrameSpan> = places.iter().map(|(_, b)| FrameSpan::one(*b)).collect();
    spans.sort_unstable();
    let of = || places.iter().flat_map(|(a, b)| [*a, *b]);
    let (first, last) = (of().min().unwrap_or(0), of().max().unwrap_or(0));
    let severity = weighed.map_or(Severity::Note, |w| w.0);
    let level = weighed.map(|w| w.1);
    let mut finding = over(Finding::new(TEXT.id, severity, message), first, last)
        .count(n)
        .at(places.first().and_then(|(_, b)| evidence.frame(*b).moment()))
        .figure("places", beside(n as f64, level))
        .figure("pieces", count(pieces.len() as u64))
        .figure("order_of_capture", Figure::Text(shown(&order)));
    finding.marks = spans;
    finding
}

/// The order of capture, in pieces in which the names run on; empty where the names sort in it, or where it
/// is known by the names alone. For whoever renames the frames.
pub fn right_order(evidence: &Sequence) -> Vec<String> {
    if evidence.timing.basis == OrderBasis::Names {
        return Vec::new();
    }
    let run = Run::of(evidence);
    match worst_of(&run) {
        Some(Told::Places(sort, _)) => run.pieces(sort),
        _ => Vec::new(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::checks::testing::{Sketch, cannot, every, found, judged, severities, tolerating};
    use crate::evidence::{Cell, FrameState, Row};
    use crate::finding::Severity::{Caution, Note};
    use crate::plan::Plan;
    use crate::units::Micros;
    use std::ffi::OsString;

    /// Twelve frames 10 s apart, shot in the order of these names, ordered by stamp.
    fn named(names: &[&str]) -> Sequence {
        let mut sketch = Sketch::steady(names.len(), 10.0);
        sketch.basis = OrderBasis::Stamps;
        let mut evidence = sketch.evidence();
        rename(&mut evidence, names);
        evidence
    }

    fn rename(evidence: &mut Sequence, names: &[&str]) {
        for (shot, name) in evidence.frames.card.shots.iter_mut().zip(names) {
            shot.file.name = OsString::from(name).into_boxed_os_str();
            shot.number = None;
        }
    }

    /// A camera's run with these numbers in these folders, in the order of capture.
    fn numbered(numbers: &[(u32, u32)]) -> Sketch {
        let mut sketch = Sketch::steady(numbers.len(), 10.0);
        sketch.numbers = numbers.to_vec();
        sketch
    }

    #[test]
    fn stays_quiet_where_names_follow_capture() {
        let plan = every(10.0);
        assert!(found(&CHECK, &plan, &Sketch::steady(40, 10.0).evidence()).is_empty());
        assert!(found(&CHECK, &plan, &named(&["00.jpg", "01.jpg", "02.jpg"])).is_empty());
        // From folder to folder the numbers may begin anew.
        let folders = numbered(&[(9998, 0), (9999, 0), (1, 1), (2, 1)]);
        assert!(found(&CHECK, &plan, &folders.evidence()).is_empty());
    }

    #[test]
    fn names_out_of_order_are_told_with_their_places() {
        let evidence = named(&["00.jpg", "02.jpg", "01.jpg", "03.jpg", "05.jpg", "04.jpg"]);
        let findings = found(&CHECK, &every(10.0), &evidence);
        assert_eq!((findings.len(), findings[0].severity, findings[0].count), (1, Caution, 2));
        let said = &findings[0].message;
        assert!(said.contains("in 2 places among 6 frames"), "{said}");
        assert!(said.contains("02.jpg comes after 01.jpg and was shot 10 s earlier"), "{said}");
        assert!(!said.contains("clock"), "{said}");
        assert_eq!(findings[0].marks, [FrameSpan::one(1), FrameSpan::one(4)]);
        assert_eq!((findings[0].first, findings[0].last), (Some(1), Some(5)));
        assert_eq!(right_order(&evidence), ["00.jpg", "02.jpg", "01.jpg", "03.jpg", "05.jpg", "04.jpg"]);
        assert!(right_order(&Sketch::steady(9, 10.0).evidence()).is_empty());
        // One place may be a clock that was set back: both are told.
        let once = found(&CHECK, &every(10.0), &named(&["00.jpg", "03.jpg", "01.jpg", "02.jpg"]));
        assert!(once[0].message.contains("clock was set back"), "{}", once[0].message);
    }

    /// DCF (CIPA DC-009): 9999 is followed by 0001. In one folder the later frames then sort first.
    #[test]
    fn a_lap_of_numbers_within_one_folder_sorts_wrong() {
        let evidence = numbered(&[(9997, 0), (9998, 0), (9999, 0), (1, 0), (2, 0)]).evidence();
        let findings = found(&CHECK, &every(10.0), &evidence);
        assert_eq!((findings[0].severity, findings[0].count), (Caution, 1));
        let said = &findings[0].message;
        assert!(said.contains("TIDE9997.JPG comes after") && said.contains("TIDE0002.JPG"), "{said}");
        assert!(said.contains("rename copies before you import"), "{said}");
        let order = right_order(&evidence);
        assert_eq!(order.len(), 2, "{order:?}");
        assert!(order[0].contains("TIDE9997.JPG to ") && order[1].contains("TIDE0001.JPG to "), "{order:?}");
    }

    #[test]
    fn one_way_of_sorting_that_serves_is_said() {
        let evidence = named(&["IMG_1.jpg", "IMG_2.jpg", "IMG_10.jpg", "IMG_11.jpg"]);
        let findings = found(&CHECK, &every(10.0), &evidence);
        assert_eq!((findings.len(), findings[0].severity, findings[0].count), (1, Caution, 1));
        let said = &findings[0].message;
        assert!(said.contains("sorts letter by letter (10 before 2), in 1 place among 4 frames"), "{said}");
        assert!(said.contains("IMG_2.jpg comes after IMG_11.jpg"), "{said}");
        assert!(said.contains("reads numbers as numbers (2 before 10) keeps the order"), "{said}");
        assert!(!said.contains("clock"), "{said}");
        assert!(right_order(&evidence).is_empty());
        let findings = found(&CHECK, &every(10.0), &named(&["IMG_10.jpg", "img_2.jpg"]));
        assert_eq!(findings[0].severity, Caution);
        assert!(
            findings[0].message.contains("letter by letter, capitals first, keeps"),
            "{}",
            findings[0].message
        );
    }

    /// Names begin anew in each folder: a program that sorts letter by letter takes the tenth folder before
    /// the second.
    #[test]
    fn the_order_of_folders_alone_is_a_note() {
        let mut evidence = numbered(&[(1, 0), (2, 0), (1, 1), (2, 1)]).evidence();
        evidence.frames.card.folders[0].path = "day2".into();
        evidence.frames.card.folders[1].path = "day10".into();
        let findings = found(&CHECK, &every(10.0), &evidence);
        assert_eq!((findings.len(), findings[0].severity), (1, Note));
        assert!(findings[0].message.contains("within each folder"), "{}", findings[0].message);
    }

    #[test]
    fn folders_written_in_turn_serve_in_one_row() {
        let findings = found(&CHECK, &every(10.0), &numbered(&[(1, 0), (2, 1), (3, 0), (4, 1)]).evidence());
        assert_eq!((findings.len(), findings[0].severity), (1, Note));
        assert!(findings[0].message.contains("into one folder"), "{}", findings[0].message);
        // Where names repeat, one folder cannot hold them.
        let findings = found(&CHECK, &every(10.0), &numbered(&[(1, 0), (1, 1), (2, 0), (2, 1)]).evidence());
        assert_eq!((findings[0].severity, findings[0].count), (Caution, 1));
    }

    /// Two cards with the same names, the second one named first: they are imported as they were shot.
    #[test]
    fn names_that_repeat_on_two_cards_are_no_disorder() {
        let mut evidence = numbered(&[(1, 1), (2, 1), (1, 0), (2, 0)]).evidence();
        evidence.frames.card.roots = vec!["b".into(), "a".into()];
        evidence.frames.card.folders[1].root = 1;
        assert!(found(&CHECK, &every(10.0), &evidence).is_empty());
    }

    #[test]
    fn equal_stamps_and_frames_outside_are_no_disorder() {
        let mut evidence = named(&["b.jpg", "a.jpg", "c.jpg", "d.jpg"]);
        let first = evidence.frames.rows[0].stamp;
        evidence.frames.rows[1].stamp = first;
        assert!(found(&CHECK, &every(10.0), &evidence).is_empty());
        let mut evidence = named(&["z.jpg", "a.jpg", "b.jpg", "c.jpg"]);
        evidence.states_mut()[0] = FrameState::Outside;
        assert!(found(&CHECK, &every(10.0), &evidence).is_empty());
        assert_eq!(judged(&CHECK, &every(10.0), &evidence).looked_at, 3);
        // Where most lie outside, the run is only a part of what was shot.
        *evidence.states_mut() =
            vec![FrameState::Outside, FrameState::Outside, FrameState::Outside, FrameState::Frame];
        assert!(cannot(&CHECK, &every(10.0), &evidence).contains("one frame"));
        let mut evidence = named(&["z.jpg", "a.jpg", "b.jpg", "c.jpg", "d.jpg"]);
        evidence.states_mut()[..3].fill(FrameState::Outside);
        assert_eq!(severities(&CHECK, &every(10.0), &evidence), [Caution]);
    }

    /// After a clock that was set back by whole slots the frames that share its stretch pass for surplus.
    #[test]
    fn surplus_frames_are_asked_and_copies_are_not() {
        let mut evidence = named(&["1.jpg", "2.jpg", "4.jpg", "3.jpg", "5.jpg"]);
        evidence.states_mut()[3] = FrameState::Surplus;
        assert_eq!(severities(&CHECK, &every(10.0), &evidence), [Caution]);
        evidence.copies = vec![(3, 2)];
        assert!(found(&CHECK, &every(10.0), &evidence).is_empty());
    }

    /// A raw alone, a JPEG alone, a pair: what counts is the name of the shot.
    #[test]
    fn companions_change_nothing() {
        let evidence = named(&["TIDE0001.NEF", "TIDE0002.JPG", "TIDE0003.NEF", "TIDE0004.JPG"]);
        assert!(found(&CHECK, &every(10.0), &evidence).is_empty());
    }

    fn swap_stamps(rows: &mut [Row], a: usize, b: usize) {
        let (first, second) = (rows[a].stamp, rows[b].stamp);
        (rows[a].stamp, rows[b].stamp) = (second, first);
    }

    #[test]
    fn a_camera_s_name_on_the_wrong_file_is_told_and_a_clock_set_back_is_not() {
        let mut sketch = Sketch::steady(60, 10.0);
        swap_stamps(&mut sketch.rows, 30, 31);
        sketch.backwards = vec![(30, 31)];
        let findings = found(&CHECK, &every(10.0), &sketch.evidence());
        assert_eq!((findings[0].severity, findings[0].count), (Caution, 1));
        // Set back by less than the run before lasted, by more than it, and before the last frame alone.
        for (from, back_s) in [(30, 65.0), (30, 86_400.0), (59, 65.0), (30, 200.0)] {
            let mut sketch = Sketch::steady(60, 10.0);
            for row in &mut sketch.rows[from..] {
                if let Cell::Known(stamp) = &mut row.stamp {
                    stamp.at = stamp.at.plus(-Micros::truncated(back_s));
                }
            }
            sketch.backwards = vec![(from - 1, from)];
            let findings = found(&CHECK, &every(10.0), &sketch.evidence());
            assert!(findings.is_empty(), "{from}, {back_s}: {findings:?}");
        }
    }

    #[test]
    fn below_at_and_above_a_level() {
        let evidence = named(&["00.jpg", "02.jpg", "01.jpg", "03.jpg", "05.jpg", "04.jpg"]);
        for (level, severity) in [(1.0, Caution), (2.0, Caution), (3.0, Note)] {
            let plan = tolerating(every(10.0), TEXT.id, "caution", level);
            assert_eq!(severities(&CHECK, &plan, &evidence), [severity], "{level}");
        }
    }

    #[test]
    fn cannot_judge_where_names_alone_tell_the_order() {
        let mut sketch = Sketch::steady(9, 10.0);
        sketch.basis = OrderBasis::Names;
        assert!(cannot(&CHECK, &Plan::default(), &sketch.evidence()).contains("names alone"));
        let mut evidence = Sketch::steady(9, 10.0).evidence();
        for row in &mut evidence.frames.rows {
            row.stamp = Cell::Absent;
        }
        assert!(cannot(&CHECK, &Plan::default(), &evidence).contains("stamp"));
    }
}
