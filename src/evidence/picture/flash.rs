//! Flashes of a clip as it would play: the counting behind a screening for photosensitive viewers. A
//! screening is no certificate.
//!
//! Sources: WCAG 2.2, SC 2.3.1 and its definition of general and red flash thresholds (red after ISO
//! 9241-391); ITU-R BT.1702 and the Ofcom guidance note on flashing images, which agree with it at a white of
//! 200 cd/m².

use std::collections::VecDeque;

use super::red::{Transition, red};
use crate::frames::picture::{ACROSS, AREAS, DOWN, Look};
use crate::units::light::luminance;

/// Change of relative luminance that makes a transition.
pub const STEP: f64 = 0.1;
/// The darker state of a transition is below this relative luminance.
pub const DARKER: f64 = 0.8;
/// Three flashes within a second are six opposing transitions: more are over the limit.
pub const MOST_TRANSITIONS: usize = 6;
/// A third of the picture each way (341 × 256 of 1024 × 768 pixels, ten degrees of sight) holds so many areas
/// across and down.
const BLOCK: (usize, usize) = (ACROSS / 3, DOWN / 3);
/// Areas of such a block that flash together and are more than a quarter of it: 2 of 6.
const TOGETHER: u32 = 2;
/// What equal numbers may differ by.
const HAIR: f64 = 1e-9;

/// Which limit.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// Pairs of opposing changes of luminance.
    General,
    /// Pairs of opposing changes to and from saturated red.
    Red,
}

/// Opposing changes between adjacent peaks and valleys of relative luminance, each of at least [`STEP`] with
/// the darker state below [`DARKER`]. A change that takes several frames is one.
pub fn general(luminance: &[f64]) -> Vec<Transition> {
    let mut found: Vec<Transition> = Vec::new();
    let (mut low, mut high, mut extreme, mut up) = (0, 0, 0, None);
    let at = |i: usize| luminance.get(i).copied().unwrap_or_default();
    for k in 1..luminance.len() {
        let y = at(k);
        let rises = |from: usize| y - at(from) >= STEP - HAIR && at(from) < DARKER;
        let falls = |from: usize| at(from) - y >= STEP - HAIR && y < DARKER;
        match up {
            None => {
                if y > at(high) + HAIR {
                    high = k;
                }
                if y < at(low) - HAIR {
                    low = k;
                }
                if rises(low) {
                    found.push((low, k));
                    (up, extreme) = (Some(true), k);
                } else if falls(high) {
                    found.push((high, k));
                    (up, extreme) = (Some(false), k);
                }
            }
            Some(rising) => {
                let further = if rising { y > at(extreme) + HAIR } else { y < at(extreme) - HAIR };
                let turns = if rising { falls(extreme) } else { rises(extreme) };
                if further {
                    extreme = k;
                    if let Some(last) = found.last_mut() {
                        last.1 = k;
                    }
                } else if turns {
                    found.push((extreme, k));
                    (up, extreme) = (Some(!rising), k);
                }
            }
        }
    }
    found
}

/// The most transitions that end within one second: within `fps` frames, rounded.
pub fn most_in_a_second(transitions: &[Transition], fps: f64) -> usize {
    let mut most = 0;
    seconds(transitions, fps, |_, _, count| most = most.max(count));
    most
}

/// Calls with each second that ends at a transition: the first and last end in it, and their number.
fn seconds(transitions: &[Transition], fps: f64, mut call: impl FnMut(usize, usize, usize)) {
    let window = (fps.round() as usize).max(1);
    let mut open = VecDeque::new();
    for (_, end) in transitions {
        open.push_back(*end);
        while open.front().is_some_and(|first| end - first >= window) {
            open.pop_front();
        }
        if let Some(first) = open.front() {
            call(*first, *end, open.len());
        }
    }
}

/// Part of a clip that flashes more than three times within a second over more than a quarter of a third of
/// the picture each way.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Spell {
    /// Which limit.
    pub kind: Kind,
    /// Index of its first frame among those that were given.
    pub first: usize,
    /// Index of its last frame.
    pub last: usize,
    /// The most opposing transitions within a second in any one area.
    pub transitions: usize,
    /// The largest share of all areas that flash at once, 0 to 1.
    pub share: f64,
}

/// Screens pictures in the order in which they play. Where one could not be seen, the one before it stands.
pub fn screen(looks: &[Option<&Look>], fps: f64) -> Vec<Spell> {
    let mut spells = Vec::new();
    for kind in [Kind::General, Kind::Red] {
        let mut flashing = vec![0_u64; looks.len()];
        let mut counts = vec![0_u16; looks.len()];
        for area in 0..AREAS {
            let transitions = of_area(looks, area, kind);
            seconds(&transitions, fps, |first, last, count| {
                if count > MOST_TRANSITIONS {
                    for at in first..=last {
                        flashing[at] |= 1 << area;
                        counts[at] = counts[at].max(u16::try_from(count).unwrap_or(u16::MAX));
                    }
                }
            });
        }
        let mut open: Option<Spell> = None;
        for (at, mask) in flashing.iter().enumerate() {
            if !over(*mask) {
                spells.extend(open.take());
                continue;
            }
            let share = f64::from(mask.count_ones()) / AREAS as f64;
            let transitions = usize::from(counts[at]);
            let spell = open.get_or_insert(Spell { kind, first: at, last: at, transitions, share });
            spell.last = at;
            spell.transitions = spell.transitions.max(transitions);
            spell.share = spell.share.max(share);
        }
        spells.extend(open);
    }
    spells.sort_by_key(|s| (s.first, s.kind == Kind::Red));
    spells
}

fn of_area(looks: &[Option<&Look>], area: usize, kind: Kind) -> Vec<Transition> {
    let mut last = looks.iter().flatten().next().map_or([0.0; 3], |look| look.areas.light(area));
    let light = looks.iter().map(|look| {
        if let Some(look) = look {
            last = look.areas.light(area);
        }
        last.map(f64::from)
    });
    match kind {
        Kind::General => general(&light.map(luminance).collect::<Vec<_>>()),
        Kind::Red => red(&light.collect::<Vec<_>>()),
    }
}

/// True where more than a quarter of some block flashes.
fn over(mask: u64) -> bool {
    if mask == 0 {
        return false;
    }
    (0..=DOWN - BLOCK.1).any(|top| {
        (0..=ACROSS - BLOCK.0).any(|left| {
            let row = ((1_u64 << BLOCK.0) - 1) << left;
            let block = (0..BLOCK.1).fold(0, |block, y| block | (row << ((top + y) * ACROSS)));
            (mask & block).count_ones() >= TOGETHER
        })
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::light::decoded;

    fn light(code: u8) -> f64 {
        decoded(f64::from(code) / 255.0)
    }

    fn ends(codes: &[u8]) -> usize {
        let y: Vec<f64> = codes.iter().map(|c| light(*c)).collect();
        most_in_a_second(&general(&y), 30.0)
    }

    /// `head`, then its last code up to 34 frames.
    fn padded(head: &[u8]) -> Vec<u8> {
        let last = *head.last().expect("a code");
        head.iter().copied().chain(std::iter::repeat(last)).take(34).collect()
    }

    /// Codes of an open set of test patterns at 30 frames a second (TRACE RERC, J. B. Jordan, HCII 2025, doi
    /// 10.1007/978-3-031-93848-1_7) and what WCAG says of them: more than six transitions within a second
    /// fail.
    #[test]
    fn open_patterns() {
        let alternating = |a: u8, b: u8| [a, b, a, b, a, b, a, b];
        assert_eq!(ends(&padded(&alternating(136, 159))), 7);
        assert_eq!(ends(&padded(&[136, 159, 136, 159, 136, 159, 136])), 6);
        assert_eq!(ends(&padded(&alternating(136, 158))), 0, "0.0953 of light is no transition");
        assert_eq!(ends(&padded(&[136, 159, 136, 159, 136, 158, 136, 159])), 5);
        let pulses = |dark: u8, bright: u8, at: &[usize]| -> Vec<u8> {
            (0..34).map(|k| if at.contains(&k) { bright } else { dark }).collect()
        };
        assert_eq!(ends(&pulses(222, 235, &[1, 11, 21, 30])), 7);
        let f037 = [
            209, 223, 236, 209, 209, 209, 209, 209, 209, 209, 209, 236, 223, 209, 209, 209, 209, 209, 209,
            209, 209, 223, 236, 223, 209, 209, 209, 209, 209, 209, 223, 236, 209, 209,
        ];
        assert_eq!(ends(&f037), 7);
        let mut c037 = f037;
        c037[30..].copy_from_slice(&[209, 223, 236, 209]);
        assert_eq!(ends(&c037), 6);
    }

    /// Where we stand against that set's labels, and why. `cr003` is labelled six transitions and holds
    /// seven. `l031` and `y031` rise over two frames, under 0.1 of light in each and over it in all: the
    /// label counts single steps, WCAG adjacent peaks and valleys, which is stricter and is what is counted
    /// here.
    #[test]
    fn disagreements_with_labels_are_kept() {
        let cr003 = [159, 136, 159, 136, 159, 136, 159, 136];
        assert_eq!(ends(&padded(&cr003)), 7);
        let l031 = [
            64, 108, 136, 64, 64, 64, 64, 64, 64, 64, 64, 136, 108, 64, 64, 64, 64, 64, 64, 64, 64, 108, 136,
            108, 64, 64, 64, 64, 64, 64, 108, 136, 64, 64,
        ];
        assert!(light(108) - light(64) < STEP && light(136) - light(108) < STEP);
        let y: Vec<f64> = l031.iter().map(|c| light(*c)).collect();
        let expected = [(0, 2), (2, 3), (3, 11), (11, 13), (13, 22), (22, 24), (24, 31), (31, 32)];
        let got: Vec<_> = general(&y).iter().map(|t| t.1).collect();
        assert_eq!(got, expected.map(|t| t.1));
        assert_eq!(ends(&l031), 7);
        let y031 = [
            64, 109, 139, 64, 64, 64, 64, 64, 64, 64, 64, 136, 108, 64, 64, 64, 64, 64, 64, 64, 64, 109, 139,
            109, 64, 64, 64, 64, 64, 64, 109, 139, 64, 64,
        ];
        assert_eq!(ends(&y031), 7);
    }

    /// Darker code, and the smallest code that makes a transition from it.
    #[test]
    fn smallest_steps_by_code() {
        for (dark, bright) in
            [(0, 90), (50, 102), (89, 124), (100, 132), (118, 145), (136, 159), (200, 215), (231, 244)]
        {
            let count = |b: u8| general(&[light(dark), light(b)]).len();
            assert_eq!((count(bright - 1), count(bright)), (0, 1), "{dark}");
        }
        assert!(general(&[light(232), light(255)]).is_empty(), "the darker state is not below 0.80");
    }

    /// One pulse in so many frames is over the limit up to 7 frames at 24, 8 at 25 and 9 at 30 frames a
    /// second.
    #[test]
    fn pulse_trains() {
        for (fps, longest) in [(24.0, 7), (25.0, 8), (30.0, 9)] {
            for (every, fails) in [(longest, true), (longest + 1, false)] {
                let y: Vec<f64> = (0..200).map(|k| if k % every == 0 { 0.6 } else { 0.2 }).collect();
                assert_eq!(most_in_a_second(&general(&y), fps) > MOST_TRANSITIONS, fails, "{fps} {every}");
            }
        }
        let alternating: Vec<f64> = (0..60).map(|k| if k % 2 == 0 { 0.18 } else { 0.36 }).collect();
        assert_eq!(most_in_a_second(&general(&alternating), 25.0), 25);
    }

    #[test]
    fn two_areas_of_a_block_are_over_a_quarter_of_it_and_one_is_not() {
        assert!(!over(0) && !over(1));
        assert!(over(0b11));
        assert!(over(1 | (1 << ACROSS)));
        assert!(!over(1 | (1 << 8)), "far apart");
        assert!(!over(1 | (1 << (4 * ACROSS))), "far apart");
        assert!(over(u64::MAX >> (64 - AREAS)));
    }
}
