//! Pictures that show nothing.

use crate::checks::common::{
    PRACTICE, beside, clocks_of, count, drawn_together, groups, named, not_above, not_of_the_run, opinion,
};
use crate::checks::daylight::by_day;
use crate::checks::{Case, Check, Need};
use crate::evidence::Sequence;
use crate::evidence::picture::{BlankKind, BlankSpell, Passage};
use crate::finding::{
    About, CauseCode, ClipEffect, Direction, Finding, Limit, LimitKey, Opinion, Quality, Severity, Text,
    Traits,
};
use crate::units::stops::time_text;
use crate::units::{FrameSpan, counted};

const TEXT: Text = Text {
    id: "blank-picture",
    finds: "black or white frames",
    asks: "Does every picture show something?",
    why: "A shutter that did not open, a lens cap or a failed flash leaves black frames. An aperture stuck \
          open leaves white ones. The files are whole and the numbering continues, so nothing else shows it.",
    how: "A picture is black where its mean is darker than code 8, the rest spreads by less than 4 codes, \
          and no part is lit. It is blown where 97 % of it is clipped. Beside pictures that show something, \
          an eighth of their light counts as black and 70 % clipped as blown. The exposure is then compared \
          with the light that it suits. At EV 10.5 (ISO 100) and above it suits daylight, and no daylight \
          leaves it black. At exposures for night, pictures that fade into black by a stop at most from one \
          to the next are taken for night. A whole card of black at such exposures may be night or a lens \
          cap.",
    blind: "Night from a lens cap, where the whole run is black at exposures for night. A picture that shows \
            something, and the wrong thing. What the thumbnails do not show.",
    remedy: "Look at the named frames at full size. Take off the cap, try the camera at the same settings, \
             and shoot again. Patch single frames from their neighbours.",
    source: "Exposure values: ISO 2720:1974 (EV = log2 of N² / t at ISO 100); light levels by EV: ANSI \
             PH2.7-1986 tables, the rule of sunny 16 (common practice). Levels: common practice, no source.",
    traits: Traits {
        about: About::Light,
        in_the_clip: ClipEffect::Spoils,
        patched: true,
        quality: Some(Quality::View),
        ..Traits::PLAIN
    },
};

const FRAMES: LimitKey = LimitKey::new("frames");
const ADJACENT: LimitKey = LimitKey::new("adjacent");
const SHARE: LimitKey = LimitKey::new("share");

const BLACK: CauseCode = CauseCode::new("black");
const NIGHT_OR_CAP: CauseCode = CauseCode::new("night-or-cap");
const LIGHT_LEFT: CauseCode = CauseCode::new("light-left");
const NIGHT: CauseCode = CauseCode::new("night");
const WHITE: CauseCode = CauseCode::new("white");

const LIMITS: &[Limit] = &[
    Limit {
        key: FRAMES,
        unit: "frames of the run that show nothing",
        direction: Direction::AtLeast,
        caution: Some(1.0),
        fault: None,
        source: PRACTICE,
    },
    Limit {
        key: ADJACENT,
        unit: "frames in a row that show nothing",
        direction: Direction::AtLeast,
        caution: None,
        fault: Some(3.0),
        source: PRACTICE,
    },
    Limit {
        key: SHARE,
        unit: "% of the run's frames that show nothing",
        direction: Direction::Above,
        caution: None,
        fault: Some(2.0),
        source: PRACTICE,
    },
];

/// The check.
pub const CHECK: Check = Check { text: &TEXT, limits: LIMITS, needs: &[Need::Pictures], judge };

/// What excuses a spell, as far as anything does.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Excuse {
    /// Nothing.
    None,
    /// The whole run is black at an exposure for night, or at one that is not known: a lens cap would look
    /// the same.
    PerhapsNight,
    /// It came step by step, and the exposure is not one for night: the light left the exposure, not the
    /// shutter.
    LeftBehind,
    /// It came step by step at exposures for night.
    Night,
}

impl Excuse {
    fn of(evidence: &Sequence, spell: &BlankSpell) -> Self {
        // One frame exposed for daylight is enough: no night excuses it.
        let day = |at: &usize| by_day(evidence, *at);
        let known_night = spell.frames.iter().all(|at| day(at) == Some(false));
        let some_day = spell.frames.iter().any(|at| day(at) == Some(true));
        match (spell.kind, spell.passage) {
            (_, Passage::Abrupt) | (BlankKind::Blown, Passage::Unknown) => Self::None,
            (BlankKind::Black, Passage::Unknown) if some_day => Self::None,
            (BlankKind::Black, Passage::Unknown) => Self::PerhapsNight,
            (BlankKind::Black, Passage::Gradual) if known_night => Self::Night,
            (_, Passage::Gradual) => Self::LeftBehind,
        }
    }

    /// The most that a spell can weigh.
    const fn most(self) -> Severity {
        match self {
            Self::None => Severity::Fault,
            Self::PerhapsNight | Self::LeftBehind => Severity::Caution,
            Self::Night => Severity::Note,
        }
    }
}

fn judge(case: &Case<'_>) -> Opinion {
    let evidence = case.evidence;
    let seen = evidence.in_run().filter(|at| evidence.frame(*at).look().is_some()).count();
    let spells: Vec<(&BlankSpell, Excuse)> =
        evidence.pictures.blank.iter().map(|s| (s, Excuse::of(evidence, s))).collect();
    let weighing: usize = spells.iter().filter(|s| s.1 != Excuse::Night).map(|s| s.0.frames.len()).sum();
    let share = not_above(100.0 * weighing as f64 / seen.max(1) as f64);
    let findings = spells.iter().map(|(spell, excuse)| found(case, spell, *excuse, weighing, share));
    let mut findings = drawn_together(findings, |many| {
        format!(
            "{} show nothing, in {many} places: black, or blown out.",
            counted(weighing as u64, "picture")
        )
    });
    findings.sort_by_key(|f| f.first);
    opinion(findings, evidence, |at| {
        not_of_the_run(evidence, at)
            .or_else(|| evidence.frame(at).look().is_none().then_some("no picture could be looked at"))
    })
}

fn found(case: &Case<'_>, spell: &BlankSpell, excuse: Excuse, weighing: usize, share: f64) -> Finding {
    let evidence = case.evidence;
    let frames = spell.frames.len();
    let (first, last) =
        (spell.frames.first().copied().unwrap_or(0), spell.frames.last().copied().unwrap_or(0));
    let span = FrameSpan { first, last };
    let weights = [
        case.limits.weigh(FRAMES, weighing as f64),
        case.limits.weigh(ADJACENT, frames as f64),
        case.limits.weigh(SHARE, share),
    ];
    let severity = weights.iter().flatten().map(|w| w.0).max().unwrap_or(Severity::Note).min(excuse.most());
    let (is, code, why) = match spell.kind {
        BlankKind::Black => {
            ("black", BLACK, "a shutter that did not open, a lens cap, a flash that did not fire")
        }
        BlankKind::Blown => (
            "blown out to white",
            WHITE,
            "a shutter or an aperture that stuck open, or a light into the lens",
        ),
    };
    let shot = settings_of(evidence, first);
    let many = match frames {
        1 => format!("{}{} is {is}", named(evidence, span), clocks_of(evidence, span)),
        n => {
            format!("{n} pictures in a row are {is}, {}{}", named(evidence, span), clocks_of(evidence, span))
        }
    };
    let all = spell.passage == Passage::Unknown;
    let (code, message) = match excuse {
        Excuse::None if all => (code, format!("Every picture shows nothing: {many}{shot}. Likely {why}.")),
        Excuse::None => (code, format!("{many}{shot}, and the frames beside show something: {why}.")),
        Excuse::PerhapsNight => (
            NIGHT_OR_CAP,
            format!(
                "Every picture shows nothing: {many}{shot}. It may be a dark night, or a lens cap. How to \
                 check: open one frame at full size and lift its shadows; stars or lamps show the night."
            ),
        ),
        Excuse::LeftBehind => (
            LIGHT_LEFT,
            format!(
                "{many}{shot}; the pictures changed step by step until then: the light went, and the \
                 exposure did not follow."
            ),
        ),
        Excuse::Night => (
            NIGHT,
            format!(
                "{many}{shot}; they changed step by step at exposures for night, so they are taken for night."
            ),
        ),
    };
    let mut finding = Finding::new(TEXT.id, severity, message)
        .count(frames as u64)
        .on(span)
        .at(evidence.frame(first).moment())
        .figure("adjacent_frames", beside(frames as f64, case.limits.get(ADJACENT).fault))
        .figure("blank_frames_of_run", count(weighing as u64))
        .figure("blank_percent", beside(share, case.limits.get(SHARE).fault))
        .because(code, why);
    // The members of a bracket stand between those of the others.
    finding.marks = groups(spell.frames.iter().copied());
    finding
}

/// ` at 1/125 s, EV 13.0, an exposure for daylight`; empty where the settings do not tell.
fn settings_of(evidence: &Sequence, at: usize) -> String {
    let frame = evidence.frame(at);
    let Some((ev, exact_s)) = frame.ev100_shown().zip(frame.exposure_s()) else { return String::new() };
    let of = match by_day(evidence, at) {
        Some(true) => ", an exposure for daylight",
        _ => "",
    };
    format!(" at {} and EV {ev:.0}{of}", time_text(exact_s))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::checks::testing::{Sketch, cannot, every, found, severities, tolerating};
    use crate::evidence::picture::{Cells, Look};
    use crate::evidence::{Cell, Sequence};
    use crate::finding::Severity::{Caution, Fault, Note};

    fn black(look: &mut Look) {
        (look.mean, look.blocked, look.contrast, look.sharpness) = (0.000_4, 1.0, 1.0, f32::NAN);
        look.cells = Cells::pack(|_, _| 0.000_4);
    }

    fn blown(look: &mut Look) {
        (look.mean, look.clipped, look.contrast, look.sharpness) = (1.0, 1.0, 0.0, f32::NAN);
        look.cells = Cells::pack(|_, _| 1.0);
    }

    /// 200 frames; f/8 at 1/60 s and ISO 200 is EV 10.9.
    fn with(change: impl Fn(usize, &mut Look)) -> Sketch {
        let mut sketch = Sketch::steady(200, 10.0).shows(|_| 0.0);
        sketch.looks.iter_mut().flatten().enumerate().for_each(|(k, look)| change(k, look));
        sketch
    }

    /// 8 s at f/2.8 and ISO 800: EV -3.
    fn by_night(sketch: Sketch) -> Sequence {
        sketch
            .change(0..200, |row| {
                (row.exposure_s, row.f_number, row.iso) =
                    (Cell::Known(8.0), Cell::Known(2.8), Cell::Known(800));
            })
            .evidence()
    }

    fn codes(evidence: &Sequence) -> Vec<(Severity, &'static str, Option<usize>)> {
        let told = found(&CHECK, &every(10.0), evidence);
        told.iter().map(|f| (f.severity, f.cause.as_ref().map_or("", |c| c.code.name()), f.first)).collect()
    }

    #[test]
    fn stays_quiet_where_every_picture_shows_something() {
        assert!(found(&CHECK, &every(10.0), &with(|_, _| ()).evidence()).is_empty());
        assert!(found(&CHECK, &every(10.0), &by_night(with(|_, look| look.mean = 0.004))).is_empty());
    }

    /// The moon alone in a black sky: one cell of 192 holds it.
    #[test]
    fn a_moon_in_a_black_sky_is_something() {
        let moon = with(|_, look| {
            black(look);
            look.cells = Cells::pack(|x, y| if (x, y) == (8, 5) { 0.05 } else { 0.0 });
        });
        assert!(found(&CHECK, &every(10.0), &moon.evidence()).is_empty());
    }

    #[test]
    fn single_black_and_white_frames_are_cautions_at_their_place() {
        let dark = with(|k, look| {
            if k == 33 {
                black(look)
            }
        });
        assert_eq!(codes(&dark.evidence()), [(Caution, "black", Some(33))]);
        let white = with(|k, look| {
            if k == 34 {
                blown(look)
            }
        });
        assert_eq!(codes(&white.evidence()), [(Caution, "white", Some(34))]);
        // By night too: the frames beside show that the exposure was long enough.
        assert_eq!(
            codes(&by_night(with(|k, look| if k == 33 {
                black(look)
            }))),
            [(Caution, "black", Some(33))]
        );
        for edge in [0, 199] {
            let dark = with(|k, look| {
                if k == edge {
                    black(look)
                }
            });
            assert_eq!(codes(&dark.evidence()), [(Caution, "black", Some(edge))]);
        }
    }

    /// Two in a row are no fault, three are; 4 of 200 (2 %) are none, 5 are. Night excuses neither.
    #[test]
    fn a_fault_from_three_in_a_row_and_above_two_percent() {
        for (n, severity) in [(2, Caution), (3, Fault)] {
            let spell = |k: usize, look: &mut Look| {
                if (50..50 + n).contains(&k) {
                    black(look)
                }
            };
            assert_eq!(severities(&CHECK, &every(10.0), &with(spell).evidence()), [severity], "{n}");
            assert_eq!(severities(&CHECK, &every(10.0), &by_night(with(spell))), [severity], "{n}");
        }
        for (n, severity) in [(4, Caution), (5, Fault)] {
            let spread = with(|k, look| {
                if k % 20 == 10 && k / 20 < n {
                    black(look)
                }
            });
            assert_eq!(severities(&CHECK, &every(10.0), &spread.evidence()), vec![severity; n], "{n}");
        }
        let plan = tolerating(every(10.0), TEXT.id, "adjacent_fault", 4.0);
        let three = with(|k, look| {
            if (50..53).contains(&k) {
                black(look)
            }
        });
        assert_eq!(severities(&CHECK, &plan, &three.evidence()), [Caution]);
    }

    #[test]
    fn a_whole_black_card_is_a_fault_by_day_and_may_be_night_by_night() {
        assert_eq!(codes(&with(|_, look| black(look)).evidence()), [(Fault, "black", Some(0))]);
        assert_eq!(codes(&by_night(with(|_, look| black(look)))), [(Caution, "night-or-cap", Some(0))]);
        assert_eq!(codes(&by_night(with(|_, look| blown(look)))), [(Fault, "white", Some(0))]);
        let unknown = with(|_, look| black(look)).change(0..200, |row| row.exposure_s = Cell::Blank);
        assert_eq!(codes(&unknown.evidence()), [(Caution, "night-or-cap", Some(0))]);
    }

    /// EV 10.5 itself is not daylight, a hair more is: f/8 at 64 / 2^10.5 s and ISO 100.
    #[test]
    fn daylight_begins_above_its_level() {
        for (ev, severity) in [(10.45, Caution), (10.55, Fault)] {
            let dark = with(|_, look| black(look)).change(0..200, |row| {
                (row.exposure_s, row.iso) = (Cell::Known(64.0 / f64::exp2(ev)), Cell::Known(100));
            });
            assert_eq!(severities(&CHECK, &every(10.0), &dark.evidence()), [severity], "{ev}");
        }
    }

    /// 0.2 EV from frame to frame into the dark; black from frame 131 on.
    fn fading(k: usize, look: &mut Look) {
        look.mean = 0.18 * (-0.2 * k.saturating_sub(100) as f32).exp2();
        if look.mean < 0.002_4 {
            black(look);
            look.mean = (0.18 * (-0.2 * k.saturating_sub(100) as f32).exp2()).max(0.000_4);
        }
    }

    #[test]
    fn night_that_fell_step_by_step_is_a_note_and_a_cap_by_night_is_not() {
        let fell = by_night(with(fading));
        let told = codes(&fell);
        assert_eq!(told.iter().map(|t| (t.0, t.1)).collect::<Vec<_>>(), [(Note, "night")]);
        // The same at an exposure for daylight: the exposure did not follow.
        let locked = with(fading).evidence();
        assert_eq!(codes(&locked).iter().map(|t| (t.0, t.1)).collect::<Vec<_>>(), [(Caution, "light-left")]);
        let cap = by_night(with(|k, look| {
            if k >= 131 {
                black(look)
            }
        }));
        assert_eq!(codes(&cap), [(Fault, "black", Some(131))]);
    }

    #[test]
    fn cannot_judge_without_pictures() {
        assert!(cannot(&CHECK, &every(10.0), &Sketch::steady(9, 10.0).evidence()).contains("not read"));
    }
}
