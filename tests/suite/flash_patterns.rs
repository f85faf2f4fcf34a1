//! Flash counting against an open set of test patterns at 30 frames a second: TRACE RERC, J. B. Jordan, HCII
//! 2025, doi 10.1007/978-3-031-93848-1_7, repository jbjord/pse-test-media. Each scheme of the set and each
//! label is held, with the codes of those of its numbers that were looked at; what we count differently, and
//! why, is held too.

use lapseproof::evidence::picture::flash::{MOST_TRANSITIONS, general, most_in_a_second};
use lapseproof::evidence::picture::red::red;
use lapseproof::units::light::{decoded, luminance};

const FPS: f64 = 30.0;
const FRAMES: usize = 34;

fn light(code: u8) -> f64 {
    decoded(f64::from(code) / 255.0)
}

fn grey(codes: &[u8]) -> usize {
    let y: Vec<f64> = codes.iter().map(|c| luminance([light(*c); 3])).collect();
    most_in_a_second(&general(&y), FPS)
}

fn coloured(codes: &[[u8; 3]]) -> usize {
    let light: Vec<[f64; 3]> = codes.iter().map(|rgb| rgb.map(light)).collect();
    most_in_a_second(&red(&light), FPS)
}

/// Which state each frame is in: 0 the first, 1 the other, 2 a further one. What the list ends with lasts.
fn frames<T: Copy>(states: &[T], spans: &[(usize, usize)]) -> Vec<T> {
    let long = spans.iter().flat_map(|(state, n)| std::iter::repeat_n(states[*state], *n));
    let last = states[spans.last().expect("a span").0];
    long.chain(std::iter::repeat(last)).take(FRAMES).collect()
}

/// Eight frames to and fro, then still: seven transitions; six where the seventh frame lasts.
const QUICK: &[(usize, usize)] = &[(0, 1), (1, 1), (0, 1), (1, 1), (0, 1), (1, 1), (0, 1), (1, 1)];
const QUICK_SIX: &[(usize, usize)] = &[(0, 1), (1, 1), (0, 1), (1, 1), (0, 1), (1, 1), (0, 1)];
/// Four single frames; the last within a second of the first, or one frame later.
const SPREAD: &[(usize, usize)] = &[(0, 1), (1, 1), (0, 9), (1, 1), (0, 9), (1, 1), (0, 8), (1, 1), (0, 1)];
const SPREAD_SIX: &[(usize, usize)] =
    &[(0, 1), (1, 1), (0, 9), (1, 1), (0, 9), (1, 1), (0, 9), (1, 1), (0, 1)];
/// Nearly a square wave.
const SQUARE: &[(usize, usize)] = &[(0, 1), (1, 5), (0, 5), (1, 5), (0, 5), (1, 4), (0, 5), (1, 1)];
const SQUARE_SIX: &[(usize, usize)] = &[(0, 1), (1, 5), (0, 5), (1, 5), (0, 5), (1, 5), (0, 5), (1, 1)];
/// Flashes over several frames, the third of them `rest` frames before the last: seven transitions within a
/// second at 6, six at 7.
const fn steps(rest: usize) -> [(usize, usize); 14] {
    let (up, top, down) = ((1, 1), (2, 1), (1, 1));
    [(0, 1), up, top, (0, 8), top, down, (0, 8), up, top, down, (0, rest), up, top, (0, 1)]
}
const STEPS: &[(usize, usize)] = &steps(6);
const STEPS_SIX: &[(usize, usize)] = &steps(7);

/// Dark and bright codes of the numbers 1, 2, 3, 5 and 8, just over 0.1 of relative luminance apart.
const OVER: [(u8, u8); 5] = [(64, 109), (108, 138), (136, 159), (177, 195), (222, 235)];
/// The same just under it: numbers 1, 3 and 5.
const UNDER: [(u8, u8); 3] = [(64, 108), (136, 158), (177, 194)];

#[test]
fn what_fails_is_counted_over_and_what_is_counted_less_is_not() {
    for (dark, bright) in OVER {
        let (up, down) = ([dark, bright], [bright, dark]);
        for spans in [QUICK, SPREAD, SQUARE] {
            assert_eq!(grey(&frames(&up, spans)), 7, "{dark} {bright} {spans:?}");
        }
        for spans in [QUICK, SPREAD] {
            assert_eq!(grey(&frames(&down, spans)), 7, "{bright} {dark} {spans:?}");
        }
        for spans in [QUICK_SIX, SPREAD_SIX, SQUARE_SIX] {
            assert_eq!(grey(&frames(&up, spans)), 6, "{dark} {bright} {spans:?}");
        }
        assert_eq!(grey(&frames(&down, SPREAD_SIX)), 6, "{bright} {dark}");
    }
    // Numbers 1, 5 and 7 of the flashes over several frames.
    for codes in [[64, 109, 139], [177, 195, 211], [209, 223, 236]] {
        assert_eq!(grey(&frames(&codes, STEPS)), 7, "{codes:?}");
        assert_eq!(grey(&frames(&codes, STEPS_SIX)), 6, "{codes:?}");
    }
}

#[test]
fn what_stays_under_a_tenth_is_no_flash() {
    for (dark, bright) in UNDER {
        for spans in [QUICK, SPREAD, SQUARE] {
            assert_eq!(grey(&frames(&[dark, bright], spans)), 0, "{dark} {bright} {spans:?}");
        }
    }
    for spans in [QUICK, SPREAD] {
        assert_eq!(grey(&frames(&[195, 179], spans)), 0);
    }
    // One flash under it leaves two transitions out.
    let one_under: [&[(usize, usize)]; 3] = [
        &[(0, 1), (1, 1), (0, 1), (1, 1), (0, 1), (2, 1), (0, 1), (1, 1)],
        &[(0, 1), (1, 1), (0, 9), (1, 1), (0, 9), (2, 1), (0, 8), (1, 1), (0, 1)],
        &[(0, 1), (1, 5), (0, 5), (2, 5), (0, 5), (1, 4), (0, 5), (1, 1)],
    ];
    for ((dark, bright), (_, under)) in [OVER[0], OVER[2], OVER[3]].into_iter().zip(UNDER) {
        for spans in one_under {
            assert_eq!(grey(&frames(&[dark, bright, under], spans)), 5, "{dark} {bright} {spans:?}");
        }
    }
}

/// 27 of the 198 luminance patterns are labelled otherwise, and all by rule: the nine `cr00n` hold seven
/// transitions, as `fr00n` does; the nine `l03n` and the nine `y03n` rise over two frames, under 0.1 in each
/// and over it in all. The labels count single steps, WCAG counts between adjacent peaks and valleys, which
/// is stricter: that is what is counted here.
#[test]
fn where_the_labels_and_the_count_differ() {
    for (dark, bright) in OVER {
        assert_eq!(grey(&frames(&[bright, dark], QUICK)), 7, "labelled six: {bright} {dark}");
    }
    for codes in [[64, 108, 136], [177, 194, 209]] {
        assert!(light(codes[1]) - light(codes[0]) < 0.1 && light(codes[2]) - light(codes[1]) < 0.1);
        assert_eq!(grey(&frames(&codes, STEPS)), 7, "{codes:?}");
    }
    for codes in [[64, 109, 139, 136, 108], [177, 195, 211, 209, 194]] {
        let mut spans = STEPS.to_vec();
        (spans[4], spans[5]) = ((3, 1), (4, 1));
        assert_eq!(grey(&frames(&codes, &spans)), 7, "{codes:?}");
    }
}

/// Numbers 1 to 9 of the red set: a saturated red and what it changes with; a state too near to that red (the
/// `d` files); a red that is no saturated one by a hair (the `s` files).
const PAIRS: [[[u8; 3]; 4]; 9] = [
    [[101, 34, 34], [9, 63, 63], [25, 62, 62], [100, 34, 34]],
    [[109, 22, 48], [56, 50, 96], [61, 49, 94], [107, 22, 48]],
    [[115, 3, 57], [92, 13, 123], [94, 12, 119], [111, 3, 57]],
    [[173, 64, 64], [24, 112, 112], [49, 110, 110], [168, 63, 63]],
    [[186, 45, 87], [100, 91, 167], [108, 89, 163], [185, 45, 87]],
    [[197, 9, 102], [160, 30, 210], [163, 29, 204], [192, 9, 101]],
    [[205, 78, 78], [31, 134, 134], [60, 132, 132], [204, 78, 78]],
    [[220, 55, 104], [119, 109, 197], [129, 107, 193], [217, 55, 103]],
    [[233, 13, 122], [190, 37, 248], [193, 36, 241], [228, 13, 121]],
];

/// The 108 files of one pair of colours: `f`, `c`, `d` and `s`, quick, spread and square, each label borne
/// out.
#[test]
fn red_patterns_of_one_pair() {
    for [red, other, near, unsaturated] in PAIRS {
        for spans in [QUICK, SPREAD, SQUARE] {
            assert_eq!(coloured(&frames(&[red, other], spans)), 7, "{red:?} {spans:?}");
            assert_eq!(coloured(&frames(&[red, near], spans)), 0, "{near:?} {spans:?}");
            assert_eq!(coloured(&frames(&[unsaturated, other], spans)), 0, "{unsaturated:?} {spans:?}");
        }
        for spans in [QUICK_SIX, SPREAD_SIX, SQUARE_SIX] {
            assert_eq!(coloured(&frames(&[red, other], spans)), 6, "{red:?} {spans:?}");
        }
        for spans in [SPREAD, QUICK] {
            assert_eq!(coloured(&frames(&[other, red], spans)), 7, "{red:?} first after {other:?}");
        }
    }
}

/// Further pairs, of numbers 2 and 4 of the files of several colours.
const MORE: [[[u8; 3]; 2]; 6] = [
    [[139, 50, 50], [17, 89, 89]],
    [[149, 34, 68], [79, 72, 133]],
    [[158, 5, 81], [128, 22, 169]],
    [[196, 74, 74], [29, 127, 127]],
    [[210, 52, 99], [113, 104, 188]],
    [[222, 11, 116], [180, 35, 236]],
];

fn pair(n: usize) -> [[u8; 3]; 2] {
    [PAIRS[n - 1][0], PAIRS[n - 1][1]]
}

/// Four pairs after one another, red first: numbers 1 to 5 of the files of several colours.
fn several() -> [[[u8; 3]; 8]; 5] {
    [
        [pair(2), pair(1), pair(3), pair(1)],
        [MORE[0], MORE[1], MORE[2], MORE[2]],
        [pair(6), pair(4), pair(5), pair(4)],
        [MORE[3], MORE[3], MORE[4], MORE[5]],
        [pair(9), pair(7), pair(8), pair(9)],
    ]
    .map(|pairs| std::array::from_fn(|k| pairs[k / 2][k % 2]))
}

/// The same of the files whose letters end in `r`: what is no red comes first.
fn turned() -> [[[u8; 3]; 8]; 5] {
    [
        [pair(1), pair(3), pair(2), pair(2)],
        [MORE[1], MORE[0], MORE[2], MORE[0]],
        [pair(4), pair(6), pair(5), pair(6)],
        [MORE[5], MORE[4], MORE[3], MORE[3]],
        [pair(7), pair(9), pair(8), pair(7)],
    ]
    .map(|pairs| std::array::from_fn(|k| pairs[k / 2][1 - k % 2]))
}

/// The states of a scheme one after another instead of to and fro; the ninth, like the first in being red or
/// not, is the first again.
fn in_turn(spans: &[(usize, usize)]) -> Vec<(usize, usize)> {
    spans.iter().enumerate().map(|(k, (_, n))| (k % 8, *n)).collect()
}

/// The files of several colours whose every change counts: quick, spread and square, and their likes that
/// last a frame or a state less.
#[test]
fn red_patterns_of_several_colours() {
    for states in several().into_iter().chain(turned()) {
        for spans in [QUICK, SPREAD, SQUARE] {
            assert_eq!(coloured(&frames(&states, &in_turn(spans))), 7, "{states:?} {spans:?}");
        }
        for spans in [QUICK_SIX, SPREAD_SIX, SQUARE_SIX] {
            assert_eq!(coloured(&frames(&states, &in_turn(spans))), 6, "{states:?} {spans:?}");
        }
    }
}

/// One state among the eight and what stands there instead.
type Other = (usize, [u8; 3]);

/// `d00n`, `s00n` and their turned ones: one state too near, or one red not saturated, leaves at most six.
#[test]
fn red_patterns_with_one_state_that_is_none() {
    let near: [Other; 5] = [
        (3, [25, 62, 62]),
        (1, [38, 88, 88]),
        (7, [49, 110, 110]),
        (5, [122, 101, 184]),
        (5, [129, 107, 193]),
    ];
    let unsaturated: [Other; 5] =
        [(4, [111, 3, 57]), (0, [138, 50, 50]), (6, [168, 63, 63]), (4, [206, 52, 98]), (6, [228, 13, 121])];
    for others in [near, unsaturated] {
        for (states, (at, other)) in several().into_iter().zip(others) {
            let mut states = states;
            states[at] = other;
            for spans in [QUICK, SQUARE] {
                let most = coloured(&frames(&states, &in_turn(spans)));
                assert!(most <= MOST_TRANSITIONS, "{states:?} {spans:?}: {most}");
            }
        }
    }
    // `dr001_multi`, `sr001_multi`, and `s023_multi`, which has its square's third red unsaturated.
    for (at, other) in [(0, [25, 62, 62]), (1, [100, 34, 34])] {
        let mut states = turned()[0];
        states[at] = other;
        assert!(coloured(&frames(&states, &in_turn(QUICK))) <= MOST_TRANSITIONS, "{other:?}");
    }
    let mut states = several()[2];
    states[4] = [185, 45, 87];
    assert!(coloured(&frames(&states, &in_turn(SQUARE))) <= MOST_TRANSITIONS);
}

const RED: [u8; 3] = PAIRS[0][0];
const TEAL: [u8; 3] = PAIRS[0][1];

/// Two of the 208 red patterns are labelled otherwise than they are counted: they hold seven transitions over
/// 29 of 30 frames.
#[test]
fn red_patterns_whose_labels_and_count_differ() {
    let dr011_multi = [
        (TEAL, 1),
        (RED, 1),
        ([92, 13, 123], 9),
        ([115, 3, 57], 1),
        ([56, 50, 96], 9),
        ([109, 22, 48], 1),
        ([56, 50, 96], 8),
        ([109, 22, 48], 1),
        ([40, 58, 58], 3),
    ];
    let s013_multi = [
        ([192, 9, 101], 1),
        ([160, 30, 210], 1),
        ([173, 64, 64], 9),
        ([24, 112, 112], 1),
        ([186, 45, 87], 9),
        ([100, 91, 167], 1),
        ([173, 64, 64], 8),
        ([24, 112, 112], 1),
        ([197, 9, 102], 3),
    ];
    for spans in [&dr011_multi, &s013_multi] {
        let codes: Vec<[u8; 3]> = spans.iter().flat_map(|(rgb, n)| std::iter::repeat_n(*rgb, *n)).collect();
        assert_eq!(codes.len(), FRAMES);
        assert_eq!(coloured(&codes), 7, "{spans:?}");
    }
}
