//! Copies beside the card's own folders: the frames of the run are the originals.

use crate::support::series::{Tick, floored, frames};
use lapseproof::audit::{Audit, Setting, carry_out};
use lapseproof::frames::{Folder, Frames};
use lapseproof::units::Micros;
use lapseproof::verdict::Call;

const SECOND: Micros = Micros::SECOND;

/// 120 frames every 10 s, of which the last 12 lie in the camera's next folder, with copies of some of them
/// in the folders of another place, in the order in which a card is walked.
fn card(place: &str, copied: &[usize]) -> Audit {
    let folder = |path: String, number| Folder { root: 0, path: path.into(), number: Some(number) };
    let own = |k: usize| if k < 108 { 2 } else { 3 };
    let mut all: Vec<(u32, usize)> = copied.iter().map(|&k| (own(k) - 2, k)).collect();
    all.extend((0..120).map(|k| (own(k), k)));
    let tick = |&(_, k): &(u32, usize)| Tick {
        stamp: Some(floored(0.3 + 10.0 * k as f64, SECOND)),
        number: k as u32 + 101,
        ..Tick::default()
    };
    let ticks: Vec<Tick> = all.iter().map(tick).collect();
    let mut card: Frames = frames(&ticks, SECOND);
    card.card.folders = vec![
        folder(format!("{place}/DCIM/116FIELD"), 116),
        folder(format!("{place}/DCIM/117FIELD"), 117),
        folder("DCIM/116FIELD".into(), 116),
        folder("DCIM/117FIELD".into(), 117),
    ];
    for (at, (of, k)) in all.iter().enumerate() {
        card.card.shots[at].file.folder = *of;
        card.card.shots[at].file.bytes = 1_000_000 + *k as u64;
        card.rows[at].print = *k as u64 + 1;
    }
    carry_out(Setting::default(), card)
}

/// Some of them, or all of a small folder.
#[test]
fn a_partial_copy_stands_in_for_no_original() {
    let (few, last): (Vec<usize>, Vec<usize>) = (vec![23, 34, 94, 109], (108..120).collect());
    for place in ["BACKUP", "ZIP"] {
        for copied in [&few, &last] {
            let audit = card(place, copied);
            let evidence = &audit.evidence;
            let run: Vec<usize> = evidence.in_run().collect();
            assert_eq!(run.len(), 120);
            assert!(run.iter().all(|at| evidence.frame(*at).name().starts_with("DCIM/")), "{place}");
            assert_eq!(evidence.copies.len(), copied.len());
            assert!(evidence.copies.iter().all(|(copy, _)| evidence.frame(*copy).name().starts_with(place)));
            let told: Vec<&str> = audit.findings().into_iter().map(|f| f.check).collect();
            assert!(!told.contains(&"file-order"), "{place}: {told:?}");
            assert_eq!(audit.verdict.call, Call::Clear, "{place}: {:?}", audit.verdict.reasons);
        }
    }
}
