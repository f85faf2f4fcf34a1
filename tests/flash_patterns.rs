//! Flash counting against an open set of test patterns at 30 frames a second: TRACE RERC, J. B. Jordan, HCII 2025, doi
//! 10.1007/978-3-031-93848-1_7, repository jbjord/pse-test-media. Each scheme of the set and each label is held, with the codes of
//! those of its numbers that were looked at; what we count differently, and why, is held too.

use lapseproof::evidence::picture::flash::{MOST_TRANSITIONS, general, most_in_a_second, red};
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
/// Flashes over several frames, the third of them `rest` frames before the last: seven transitions within a second at 6, six at 7.
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

/// 27 of the 198 luminance patterns are labelled otherwise, and all by rule: the nine `cr00n` hold seven transitions, as `fr00n`
/// does; the nine `l03n` and the nine `y03n` rise over two frames, under 0.1 in each and over it in all. The labels count single
/// steps, WCAG counts between adjacent peaks and valleys, which is stricter: that is what is counted here.
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

const RED: [u8; 3] = [101, 34, 34];
const TEAL: [u8; 3] = [9, 63, 63];
const MULTI: [[u8; 3]; 6] = [[109, 22, 48], [56, 50, 96], RED, TEAL, [115, 3, 57], [92, 13, 123]];

#[test]
fn red_patterns() {
    assert_eq!(coloured(&frames(&[RED, TEAL], QUICK)), 7);
    assert_eq!(coloured(&frames(&[RED, TEAL], QUICK_SIX)), 6);
    // 100, 34, 34 is no saturated red by a hair (0.797 of R / (R + G + B)); 25, 62, 62 lies less than 0.2 in u'v' from the red.
    assert_eq!(coloured(&frames(&[[100, 34, 34], TEAL], QUICK)), 0);
    assert_eq!(coloured(&frames(&[RED, [25, 62, 62]], QUICK)), 0);
    let quick: Vec<(usize, usize)> = [0, 1, 2, 3, 4, 5, 2, 3].map(|state| (state, 1)).to_vec();
    assert_eq!(coloured(&frames(&MULTI, &quick)), 7);
    let square = [(0, 1), (1, 5), (2, 5), (3, 5), (4, 5), (5, 4), (2, 5), (3, 1)];
    assert_eq!(coloured(&frames(&MULTI, &square)), 7);
    let mut six = square;
    six[5].1 = 5;
    assert_eq!(coloured(&frames(&MULTI, &six)), 6);
    // One change too small among them.
    let mut near = MULTI.to_vec();
    near.push([25, 62, 62]);
    let mut spans = quick;
    spans[3].0 = 6;
    assert!(coloured(&frames(&near, &spans)) <= MOST_TRANSITIONS);
}

/// The red set's spread and square schemes, `c011_simple`, `c021_simple` (labelled six) and `d011_simple` (labelled none: 25, 62, 62 is too
/// near), and their likes that last a frame less.
#[test]
fn red_patterns_of_the_spread_and_the_square_scheme() {
    for (spans, transitions) in [(SPREAD, 7), (SPREAD_SIX, 6), (SQUARE, 7), (SQUARE_SIX, 6)] {
        assert_eq!(coloured(&frames(&[RED, TEAL], spans)), transitions, "{spans:?}");
        assert_eq!(coloured(&frames(&[RED, [25, 62, 62]], spans)), 0, "{spans:?}");
    }
    for (spans, transitions) in [(SPREAD, 7), (SPREAD_SIX, 6)] {
        assert_eq!(coloured(&frames(&[TEAL, RED], spans)), transitions, "{spans:?}");
    }
}

/// Two of the 208 red patterns are labelled otherwise than they are counted: they hold seven transitions over 29 of 30 frames.
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
