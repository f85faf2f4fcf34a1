//! The card's room against the frames.

use crate::checks::common::{PRACTICE, beside, count, known, not_above, not_of_the_run, number, opinion};
use crate::checks::whole::whole;
use crate::checks::{Case, Check, Need};
use crate::evidence::FrameView;
use crate::finding::{Direction, Finding, Limit, LimitKey, Opinion, Severity, Text, Traits};
use crate::plan::{FileSystem, levels};
use crate::units::{Figure, counted, shown, size_text};

const TEXT: Text = Text {
    id: "card-space",
    finds: "a card that is nearly full",
    asks: "Does the card hold the run?",
    why: "A full card stops the camera without a word, and the run with it.",
    how: "The bytes of the frames in this folder are added up. For slots that the plan wants and that are \
          not here, as many of their mean size are added. The sum is compared with the plan's card. If the \
          run is complete, this is only a note. The names in each folder are counted in directory entries \
          against the file system's limit: the plan's, else that of a card of its size (FAT16 up to 2 GB, \
          FAT32 up to 32 GB, exFAT above).",
    blind: "Other files on the card, and what was deleted from it. A folder that is a copy says nothing \
            about the card's own folders.",
    remedy: "Take the next size up, or a smaller frame (raw or JPEG alone). Once the frames are copied and \
             the copies verified, empty the card in the camera before a run. Keep fewer files in one folder.",
    source: "FAT32 and exFAT: Microsoft's specifications of both file systems (65,534 names of 8 + 3 letters \
             in a FAT folder, 256 MiB of entries in an exFAT one). Share of a card that can be filled, \
             levels: common practice, no source.",
    traits: Traits::PLAIN,
};

const USE: LimitKey = LimitKey::new("use");
const FOLDER: LimitKey = LimitKey::new("folder");

const LIMITS: &[Limit] = &[
    Limit {
        key: USE,
        unit: "% of the card's size",
        direction: Direction::Above,
        caution: Some(levels::CARD_TIGHT_PERCENT),
        fault: Some(levels::CARD_MOST_PERCENT),
        source: PRACTICE,
    },
    Limit {
        key: FOLDER,
        unit: "% of the entries that one folder holds",
        direction: Direction::Above,
        caution: Some(90.0),
        fault: Some(100.0),
        source: "Microsoft, FAT32 File System Specification and exFAT file system specification",
    },
];

/// The check.
pub const CHECK: Check =
    Check { text: &TEXT, limits: LIMITS, needs: &[Need::PlannedCard, Need::Answers], judge };

fn judge(case: &Case<'_>) -> Opinion {
    let (plan, evidence) = (case.plan, case.evidence);
    let Some(size) = plan.card.size_bytes else {
        return Opinion::cannot("the plan names no size of the card");
    };
    let mut findings: Vec<_> = filled(case, size).into_iter().collect();
    if let Some(system) = plan.card.formatted() {
        findings.extend(crowded(case, system));
    }
    opinion(findings, evidence, |at| not_of_the_run(evidence, at))
}

/// The bytes of a frame with its companions.
fn bytes(frame: FrameView<'_>) -> f64 {
    let shot = frame.shot();
    shot.companions.iter().chain([&shot.file]).map(|file| file.bytes as f64).sum()
}

fn filled(case: &Case<'_>, size: f64) -> Option<Finding> {
    let (plan, evidence) = (case.plan, case.evidence);
    let here: f64 = evidence.all().map(bytes).sum();
    let run: f64 = evidence.run().map(bytes).sum();
    let shot = evidence.in_run().count() as u64;
    let members = case.schedule.members() as u64;
    let asked = case.schedule.slots_asked().map_or(shot, |n| n.saturating_mul(members));
    let lacking = asked.saturating_sub(shot);
    let mean = if shot > 0 { Some(run / shot as f64) } else { plan.card.frame_bytes };
    let all = here + lacking as f64 * mean.unwrap_or(0.0);
    let percent = 100.0 * all / size;
    let (weight, level) = case.limits.weigh(USE, not_above(percent))?;
    // One frame short is as good as whole.
    let held = lacking <= 1;
    let severity = if held { Severity::Note } else { weight };
    let end = match held {
        true => "; they are all here".to_owned(),
        false => format!("; {} of them are here, in {}", counted(shot, "frame"), size_text(here)),
    };
    let message = format!(
        "{} at a mean of {} take {} of a card of {} ({percent:.0} %; {:.0} % of it can be filled){end}.",
        counted(asked, "frame"),
        size_text(mean.unwrap_or(0.0)),
        size_text(all),
        size_text(size),
        levels::CARD_MOST_PERCENT,
    );
    Some(
        Finding::new(TEXT.id, severity, message)
            .count(asked)
            .figure("use_percent", beside(percent, Some(level)))
            .figure("card_bytes", number(size))
            .figure("needed_bytes", number(all))
            .figure("bytes_here", number(here))
            .figure("mean_frame_bytes", known(mean))
            .figure("frames_here", count(shot))
            .figure("frames_asked", count(asked)),
    )
}

/// Folders that come near the file system's limit.
fn crowded(case: &Case<'_>, system: FileSystem) -> Vec<Finding> {
    let card = &case.evidence.frames.card;
    let mut entries = vec![(0_u64, 0_u64); card.folders.len()];
    for shot in &card.shots {
        for file in shot.companions.iter().chain([&shot.file]) {
            if let Some(folder) = entries.get_mut(file.folder as usize) {
                folder.0 += 1;
                folder.1 += system.entries_of(&file.name.to_string_lossy());
            }
        }
    }
    let most = system.folder_entries();
    let whole = whole(case);
    let told = entries.into_iter().zip(&card.folders).filter_map(|((files, taken), folder)| {
        let percent = 100.0 * taken as f64 / most as f64;
        let (weight, level) = case.limits.weigh(FOLDER, percent)?;
        // Nothing more comes into the folder of a run that is whole.
        let severity = if whole { Severity::Note } else { weight };
        let path = shown(&folder.path.display().to_string());
        let path = if path.is_empty() { "the folder".to_owned() } else { format!("the folder {path}") };
        let message = format!(
            "{} in {path} take {taken} of the {most} entries that a folder holds on {} ({percent:.0} %).",
            counted(files, "file"),
            system.word(),
        );
        Some(
            Finding::new(TEXT.id, severity, message)
                .count(files)
                .figure("folder_percent", beside(percent, Some(level)))
                .figure("entries", count(taken))
                .figure("file_system", Figure::Text(system.word().to_owned())),
        )
    });
    told.collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::checks::testing::{Sketch, cannot, every, found, severities};
    use crate::finding::Severity::{Caution, Fault, Note};
    use crate::plan::{CardPlan, Plan};

    /// A plan for that many frames of 9 MB (what a sketch's frames weigh) on a card of that size.
    fn plan(frames: u64, size: f64) -> Plan {
        let card = CardPlan { size_bytes: Some(size), ..CardPlan::default() };
        Plan { frames: Some(frames), card, ..every(10.0) }
    }

    /// 1000 frames of 9 MB are 9 GB: 90 % of 10 GB, 97 % of 9.278 GB. Of these, 100 are here.
    #[test]
    fn quiet_at_the_limit_and_told_above() {
        let evidence = Sketch::steady(100, 10.0).evidence();
        for (frames, size, severity) in [
            (1000, 20e9, vec![]),
            (1000, 10e9, vec![]),
            (1001, 10e9, vec![Caution]),
            (970, 9e9, vec![Caution]),
            (971, 9e9, vec![Fault]),
        ] {
            assert_eq!(severities(&CHECK, &plan(frames, size), &evidence), severity, "{frames} {size}");
        }
        let findings = found(&CHECK, &plan(1000, 9e9), &evidence);
        for words in [
            "1000 frames at a mean of 9 MB",
            "9 GB of a card of 9 GB",
            "100 frames of them are here, in 900 MB",
        ] {
            assert!(findings[0].message.contains(words), "{words}: {}", findings[0].message);
        }
    }

    #[test]
    fn a_run_that_is_all_here_is_a_note() {
        let evidence = Sketch::steady(100, 10.0).evidence();
        assert_eq!(severities(&CHECK, &plan(100, 0.9e9), &evidence), [Note]);
        let unsaid = Plan { frames: None, ..plan(1, 0.9e9) };
        assert_eq!(severities(&CHECK, &unsaid, &evidence), [Note]);
    }

    /// 65,534 names of 8 + 3 capitals fill a folder on FAT32 (published), half as many of longer names.
    #[test]
    fn a_folder_holds_so_many_entries() {
        let evidence = |n: usize, long: bool| {
            let mut evidence = Sketch::steady(n, 10.0).evidence();
            for (k, shot) in evidence.frames.card.shots.iter_mut().enumerate() {
                let name = if long { format!("frame-{k:05}") } else { format!("T{k:07}.JPG") };
                shot.file.name = std::ffi::OsString::from(name).into_boxed_os_str();
            }
            evidence
        };
        // More is to come.
        let fat = |n: u64| {
            let mut plan = plan(n + 10, 1e15);
            plan.card.file_system = Some(FileSystem::Fat32);
            plan
        };
        assert!(found(&CHECK, &fat(58_980), &evidence(58_980, false)).is_empty());
        assert_eq!(severities(&CHECK, &fat(58_981), &evidence(58_981, false)), [Caution]);
        assert_eq!(severities(&CHECK, &fat(65_534), &evidence(65_534, false)), [Caution]);
        assert_eq!(severities(&CHECK, &fat(65_535), &evidence(65_535, false)), [Fault]);
        assert_eq!(severities(&CHECK, &fat(32_768), &evidence(32_768, true)), [Fault]);
        assert_eq!(severities(&CHECK, &fat(32_767), &evidence(32_767, true)), [Caution]);
        let whole = Plan { frames: Some(58_981), ..fat(1) };
        assert_eq!(severities(&CHECK, &whole, &evidence(58_981, false)), [Note]);
    }

    #[test]
    fn cannot_judge_without_a_card() {
        let evidence = Sketch::steady(10, 10.0).evidence();
        assert!(cannot(&CHECK, &every(10.0), &evidence).contains("card"));
    }
}
