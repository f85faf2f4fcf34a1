//! What stands before the lens for a few frames.

use crate::checks::common::{
    PRACTICE, beside, clocks_of, drawn_together, named, not_of_the_run, number, opinion,
};
use crate::checks::{Case, Check, Need};
use crate::evidence::Sequence;
use crate::evidence::picture::{Obstruction, Watch};
use crate::finding::{
    About, CauseCode, Direction, Finding, Limit, LimitKey, Opinion, Quality, Severity, Text, Traits,
};
use crate::units::{Figure, FrameSpan, counted};

const TEXT: Text = Text {
    id: "obstructed-view",
    finds: "something before the lens",
    asks: "Did anything stand before the lens?",
    why: "A lorry, a hand or a sheet of paper that hides most of the picture for a few frames is a jolt in \
          the clip. Brightness and sharpness may hardly change with it.",
    how: "Each picture is kept as 16 by 12 cells of brightness. For spells of 1 to 12 frames, cells are \
          counted that differ from the frame before and the frame after, where those two are alike. A cell \
          is compared by how it differs from the cells around it, which light and exposure do not change. \
          Cells without such structure are compared by brightness and colour, against what the light did \
          elsewhere. Cells that change all the time, such as water, are left out. Where the camera travels, \
          the pictures are first laid over one another. The obstacle must come and go at once, and cover \
          more than the scene usually changes by. Longer spells are found by their edges, in a run that is \
          quiet there, where what was hidden shows its structure again. A spell at the start or end of the \
          run has one side alone.",
    blind: "Less than a fifth of the picture. An obstacle as flat, as bright and of the same colour as the \
            sky or the wall that it hides. What stands before the lens all the time. What hides all of the \
            picture to the end of the run and has structure of its own: it looks like a second scene, which \
            is no fault. Drops and dew, which blur what they cover (soft-frame sees some of that). Scenes in \
            which neighbouring pictures show different things, and what is lit in the dark.",
    remedy: "Look at the named frames. A few can be patched from their neighbours; else shoot again from \
             where nothing passes close by.",
    source: "Levels: common practice, no source. Ratios of neighbours that light leaves alone: the \
             reflectance model of Land & McCann, J. Opt. Soc. Am. 61 (1971).",
    traits: Traits { about: About::Light, patched: true, quality: Some(Quality::View), ..Traits::PLAIN },
};

const SHARE: LimitKey = LimitKey::new("share");

const BEFORE_THE_LENS: CauseCode = CauseCode::new("before-the-lens");
const ONE_SIDE: CauseCode = CauseCode::new("one-side");

const LIMITS: &[Limit] = &[Limit {
    key: SHARE,
    unit: "% of the picture unlike the frames on both sides",
    direction: Direction::AtLeast,
    caution: Some(50.0),
    fault: None,
    source: PRACTICE,
}];

/// Nobody sets a camera up, or takes it down, for more frames than these.
const SET_UP: usize = 12;

/// The check.
pub const CHECK: Check = Check { text: &TEXT, limits: LIMITS, needs: &[Need::Pictures], judge };

fn judge(case: &Case<'_>) -> Opinion {
    let evidence = case.evidence;
    let track = &evidence.pictures;
    match track.watch {
        Watch::TooFew => {
            return Opinion::cannot("fewer than four pictures of the run can be compared with each other");
        }
        Watch::Busy => {
            return Opinion::cannot(
                "neighbouring pictures show different things, as with a camera that flies or pans: nothing \
                 tells what stands before the lens",
            );
        }
        Watch::Kept => {}
    }
    let found = track.obstructions.iter().map(|spell| told(case, spell));
    let mut findings =
        drawn_together(found, |many| format!("Something stood before the lens in {many} places."));
    findings.sort_by_key(|f| f.first);
    opinion(findings, evidence, |at| {
        not_of_the_run(evidence, at).or_else(|| match evidence.frame(at).look() {
            None => Some("no picture could be looked at"),
            Some(_) if evidence.frame(at).is_blank() => Some("the picture shows nothing"),
            Some(_) => None,
        })
    })
}

fn told(case: &Case<'_>, spell: &Obstruction) -> Finding {
    let evidence = case.evidence;
    let span = FrameSpan { first: spell.first, last: spell.last };
    let percent = 100.0 * f64::from(spell.share);
    let weighed = case.limits.weigh(SHARE, percent);
    let severity = weighed.map_or(Severity::Note, |w| w.0);
    let names = format!("{}{}", named(evidence, span), clocks_of(evidence, span));
    let (shows, are) = if spell.frames == 1 { ("shows", "is") } else { ("show", "are") };
    let sure_percent = 100.0 * f64::from(spell.share_sure);
    let covered = covered(sure_percent, percent);
    let most = at_most(evidence, spell);
    let (code, message) = match spell.both_sides {
        true => (
            BEFORE_THE_LENS,
            format!(
                "{names} {shows} something else over {covered} of the picture{most}; the frames before and \
                 after are alike. Something stood before the lens, or {} of another place.",
                if spell.frames == 1 { "the file is" } else { "the files are" }
            ),
        ),
        false => (
            ONE_SIDE,
            format!(
                "{names} {are} unlike the rest of the run over {covered} of the picture{most}: something \
                 stood before the lens, or the camera was {}. There is one side alone to tell by.",
                if spell.frames > SET_UP {
                    "turned to another scene"
                } else {
                    "still being set up or taken down"
                }
            ),
        ),
    };
    Finding::new(TEXT.id, severity, message)
        .count(spell.frames as u64)
        .on(span)
        .at(evidence.frame(spell.first).moment())
        .figure("share_percent", beside(percent, case.limits.get(SHARE).caution))
        .figure("share_sure_percent", number(sure_percent))
        .figure("frames", number(spell.frames as f64))
        .figure("most_at", Figure::Text(evidence.frame(spell.most_at).name()))
        .because(code, "something before the lens")
}

/// `50 %`; where a sheet cannot be told from a sky as bright behind it, `up to 70 % (40 % for sure)`.
fn covered(sure_percent: f64, percent: f64) -> String {
    let [sure, most] = [sure_percent, percent].map(|p| format!("{p:.0} %"));
    if sure == most { most } else { format!("up to {most} ({sure} for sure)") }
}

/// `, most in TIDE0041.JPG`, where there are several.
fn at_most(evidence: &Sequence, spell: &Obstruction) -> String {
    if spell.frames < 2 {
        return String::new();
    }
    format!(" ({}, most in {})", counted(spell.frames as u64, "frame"), evidence.frame(spell.most_at).name())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::checks::testing::{Sketch, cannot, every, found, severities, tolerating};
    use crate::evidence::picture::{AREAS, Areas, Cells};
    use crate::finding::Severity::{Caution, Note};

    /// A scene of its own brightness in each cell, 0.02 to 0.5.
    fn scene(x: usize, y: usize) -> f32 {
        0.02 * (4.6 * (((x * 37 + y * 91) % 23) as f32 / 22.0)).exp2()
    }

    fn with(cells: impl Fn(usize, usize, usize) -> f32) -> Sequence {
        let mut sketch = Sketch::steady(80, 10.0).shows(|_| 0.0);
        for (k, look) in sketch.looks.iter_mut().flatten().enumerate() {
            look.cells = Cells::pack(|x, y| cells(k, x, y));
        }
        sketch.evidence()
    }

    /// Something flat and grey over the first `columns` of the picture.
    fn covered(frames: std::ops::Range<usize>, columns: usize) -> Sequence {
        with(|k, x, y| if frames.contains(&k) && x < columns { 0.1 } else { scene(x, y) })
    }

    fn spans(evidence: &Sequence) -> Vec<(Option<usize>, Option<usize>, Severity)> {
        found(&CHECK, &every(10.0), evidence).iter().map(|f| (f.first, f.last, f.severity)).collect()
    }

    #[test]
    fn stays_quiet_on_a_scene_and_on_what_light_does() {
        assert!(spans(&with(|_, x, y| scene(x, y))).is_empty());
        // Light that fails over the whole run, one stop of cloud over all of it, and the edge of a shadow
        // over half of it.
        assert!(spans(&with(|k, x, y| scene(x, y) * (-0.04 * k as f32).exp2())).is_empty());
        assert!(
            spans(&with(|k, x, y| scene(x, y) * if (40..45).contains(&k) { 0.5 } else { 1.0 })).is_empty()
        );
        let shadow = |k: usize, x: usize| if (40..46).contains(&k) && x < 2 * (k - 38) { 0.4 } else { 1.0 };
        assert!(spans(&with(|k, x, y| scene(x, y) * shadow(k, x))).is_empty());
    }

    #[test]
    fn what_covers_is_told_from_its_first_frame_to_its_last() {
        for frames in [1..2, 1..4, 30..31, 30..33, 30..42, 78..79, 67..79] {
            let told = spans(&covered(frames.clone(), 12));
            assert_eq!(told, [(Some(frames.start), Some(frames.end - 1), Caution)], "{frames:?}");
        }
    }

    /// Long spells, in the middle, near an end and at one; and the picture may move within.
    #[test]
    fn long_spells_are_told_from_their_first_frame_to_their_last() {
        for frames in [30..43, 20..60, 1..50, 30..79, 60..80, 0..39] {
            let told = spans(&covered(frames.clone(), 12));
            assert_eq!(told, [(Some(frames.start), Some(frames.end - 1), Caution)], "{frames:?}");
        }
        for frames in [30..43, 20..52, 1..25, 48..79, 60..80, 0..25] {
            let passes = with(|k, x, y| match frames.contains(&k) && x < 12 {
                true => 0.05 + 0.3 * ((x * 5 + y * 3 + k * 7) % 11) as f32 / 10.0,
                false => scene(x, y),
            });
            let told = spans(&passes);
            assert_eq!(told, [(Some(frames.start), Some(frames.end - 1), Caution)], "{frames:?} moves");
        }
    }

    /// The light goes by three stops in the course of a spell, and shadows wander over half of the scene.
    #[test]
    fn light_that_changes_behind_a_long_spell_hides_it_not() {
        let day = |k: usize, x: usize, y: usize| {
            let shade = if (x + k / 8).is_multiple_of(4) { 0.5 } else { 1.0 };
            scene(x, y) * (-0.05 * k as f32).exp2() * if y < 6 { shade } else { 1.0 }
        };
        assert!(spans(&with(day)).is_empty());
        let told = spans(&with(|k, x, y| if (20..55).contains(&k) && x < 13 { 0.1 } else { day(k, x, y) }));
        assert_eq!(told, [(Some(20), Some(54), Caution)]);
    }

    /// Water over the lower half, which is another in each picture.
    #[test]
    fn what_never_rests_tells_nothing_and_hides_nothing() {
        let wave = |k: usize, x: usize, y: usize| {
            let of = |n: u32| (n ^ (n >> 15)).wrapping_mul(0x2C1B_3C6D);
            of(of((x + 100 * y + 10_000 * k) as u32)) >> 24
        };
        let sea = |k: usize, x: usize, y: usize| match y < 6 {
            true => scene(x, y),
            false => 0.04 * (wave(k, x, y) as f32 / 80.0).exp2(),
        };
        assert!(spans(&with(sea)).is_empty());
        for frames in [30..32, 20..48, 70..80] {
            let told = spans(&with(|k, x, y| if frames.contains(&k) && x < 12 { 0.1 } else { sea(k, x, y) }));
            assert_eq!(told, [(Some(frames.start), Some(frames.end - 1), Caution)], "{frames:?}");
        }
    }

    /// A flat thing before a flat scene, as bright as that: its colour alone tells.
    #[test]
    fn colour_tells_where_there_is_no_structure() {
        let before = |red: f32, frames: std::ops::Range<usize>| {
            let mut sketch = Sketch::steady(80, 10.0).shows(|_| 0.0);
            for (k, look) in sketch.looks.iter_mut().flatten().enumerate() {
                look.cells = Cells::pack(|_, _| 0.2);
                let tint = if frames.contains(&k) { red } else { 0.2 };
                look.areas = Areas::pack(&[[tint, 0.2, 0.2]; AREAS]);
            }
            spans(&sketch.evidence())
        };
        // 0.5 EV of red is where it begins.
        assert!(before(0.2 * 0.48_f32.exp2(), 30..33).is_empty());
        assert_eq!(before(0.2 * 0.55_f32.exp2(), 30..33), [(Some(30), Some(32), Caution)]);
        assert_eq!(before(0.2 * 0.55_f32.exp2(), 30..60), [(Some(30), Some(59), Caution)]);
        // A light that turns warm all the time is none.
        let mut sketch = Sketch::steady(80, 10.0).shows(|_| 0.0);
        for (k, look) in sketch.looks.iter_mut().flatten().enumerate() {
            look.cells = Cells::pack(|_, _| 0.2);
            look.areas = Areas::pack(&[[0.1 * (0.02 * k as f32).exp2(), 0.2, 0.2]; AREAS]);
        }
        assert!(spans(&sketch.evidence()).is_empty());
    }

    /// 8 of 16 columns are half of the picture.
    #[test]
    fn half_of_the_picture_is_a_caution_and_less_is_a_note() {
        for (columns, severity) in
            [(4, vec![Note]), (7, vec![Note]), (8, vec![Caution]), (16, vec![Caution]), (2, vec![])]
        {
            assert_eq!(severities(&CHECK, &every(10.0), &covered(30..32, columns)), severity, "{columns}");
        }
        let plan = tolerating(every(10.0), TEXT.id, "share_caution", 20.0);
        assert_eq!(severities(&CHECK, &plan, &covered(30..32, 7)), [Caution]);
    }

    /// A sheet over 8 of 16 columns, before a scene of which the next 4 columns are a sky of the sheet's own
    /// brightness: nothing tells how far it reaches.
    #[test]
    fn a_sheet_before_a_sky_as_bright_is_told_with_how_far_it_may_reach() {
        let sky = |x: usize, y: usize| if (8..12).contains(&x) { 0.1 } else { scene(x, y) };
        let sheet = |frames: std::ops::Range<usize>| {
            with(move |k, x, y| if frames.contains(&k) && x < 8 { 0.1 } else { sky(x, y) })
        };
        for frames in [30..32, 78..80, 30..60] {
            let told = found(&CHECK, &every(10.0), &sheet(frames.clone()));
            let [finding] = told.as_slice() else { panic!("{frames:?}: {told:?}") };
            let figure = |key: &str| match finding.evidence.iter().find(|f| f.0 == key).map(|f| &f.1) {
                Some(Figure::Number(value)) => *value,
                Some(Figure::Limited(measured)) => measured.value,
                other => panic!("{key}: {other:?}"),
            };
            let (sure, most) = (figure("share_sure_percent"), figure("share_percent"));
            // Of 16 columns 8 are covered and 11 may be: the edge of the last one is seen.
            assert!((40.0..60.0).contains(&sure) && most - sure > 10.0, "{frames:?}: {sure} {most}");
            let words = format!("over up to {most:.0} % ({sure:.0} % for sure) of the picture");
            assert!(finding.message.contains(&words), "{}", finding.message);
        }
        // Where nothing is as bright as it, its edge is seen.
        let told = found(&CHECK, &every(10.0), &covered(30..32, 8));
        assert!(told[0].message.contains("over 50 % of the picture"), "{}", told[0].message);
    }

    #[test]
    fn at_the_ends_one_side_tells() {
        for frames in [0..1, 0..3, 77..80, 79..80] {
            let told = found(&CHECK, &every(10.0), &covered(frames.clone(), 12));
            assert_eq!(told.len(), 1, "{frames:?}: {told:?}");
            assert_eq!((told[0].first, told[0].last), (Some(frames.start), Some(frames.end - 1)));
            assert_eq!(told[0].cause.as_ref().map(|c| c.code.name()), Some("one-side"));
        }
    }

    /// What stands there may move, so that each of its frames is another picture.
    #[test]
    fn what_moves_at_the_ends_is_one_spell() {
        for frames in [0..5, 0..12, 75..80] {
            let passes = with(|k, x, y| match frames.contains(&k) {
                true => 0.05 + 0.3 * ((x * 5 + y * 3 + k * 7) % 11) as f32 / 10.0,
                false => scene(x, y),
            });
            assert_eq!(spans(&passes), [(Some(frames.start), Some(frames.end - 1), Caution)], "{frames:?}");
        }
    }

    #[test]
    fn a_cut_between_two_scenes_is_none() {
        let cut = with(|k, x, y| if k < 40 { scene(x, y) } else { scene(x + 5, y + 3) });
        assert!(spans(&cut).is_empty());
    }

    /// A camera that travels by a tenth of a cell a frame, with and without something before it.
    #[test]
    fn a_camera_that_travels_is_followed() {
        let along = |k: usize, x: usize, y: usize| {
            let at = x as f32 + 0.1 * k as f32;
            let (low, part) = (at.floor() as usize, at.fract());
            scene(low, y) * (1.0 - part) + scene(low + 1, y) * part
        };
        assert!(spans(&with(along)).is_empty());
        let lorry = with(|k, x, y| if (30..34).contains(&k) && x < 12 { 0.1 } else { along(k, x, y) });
        assert_eq!(spans(&lorry), [(Some(30), Some(33), Caution)]);
    }

    #[test]
    fn cannot_judge_without_pictures_with_few_and_in_flight() {
        assert!(cannot(&CHECK, &every(10.0), &Sketch::steady(9, 10.0).evidence()).contains("not read"));
        assert!(
            cannot(&CHECK, &every(10.0), &Sketch::steady(3, 10.0).shows(|_| 0.0).evidence())
                .contains("fewer than four")
        );
        let flight = with(|k, x, y| scene(x * (k % 7 + 1) + k * k, y + x * k));
        assert!(cannot(&CHECK, &every(10.0), &flight).contains("different things"));
    }
}
