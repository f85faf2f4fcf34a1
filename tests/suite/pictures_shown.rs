//! Cards of drawn pictures, through real JPEG files: blank ones, and what stands before the lens. What is on
//! each card is fixed before the audit sees it. The long round: `.ci/rounds shown`.

use crate::support::cases::{first_seed, rounds};
use crate::support::drawn::{Air, Place, SIZE, Shown, Thing, chance, daylight, shot};
use crate::support::series::Tick;
use image::{Rgb, RgbImage};
use lapseproof::audit::{Audit, Setting, carry_out};
use lapseproof::finding::{Answer, Finding, Severity};
use lapseproof::frames::Cell;
use lapseproof::plan::Planned;
use lapseproof::units::Micros;
use lapseproof::verdict::Call;
use std::sync::atomic::{AtomicUsize, Ordering};

const FRAMES: u64 = 36;

fn told<'a>(audit: &'a Audit, check: &str) -> &'a [Finding] {
    let judgement = audit.judgements.iter().find(|j| j.text.id == check).expect("a check");
    assert!(!matches!(judgement.answer, Answer::Broke(_)), "{:?}", judgement.answer);
    judgement.findings()
}

fn spans(audit: &Audit, check: &str) -> Vec<(usize, usize, Severity)> {
    let end = |at: Option<usize>| at.expect("a place");
    told(audit, check).iter().map(|f| (end(f.first), end(f.last), f.severity)).collect()
}

fn flat(code: u8) -> RgbImage {
    RgbImage::from_pixel(SIZE.0 as u32, SIZE.1 as u32, Rgb([code; 3]))
}

fn scene(place: &Place, k: usize) -> RgbImage {
    let air = Air::default();
    Shown { place, at: 0.0, air, before: None, passing: Vec::new(), seed: 1, shot: k as u64 }.draw()
}

#[test]
fn a_whole_card_of_black_or_white_at_a_daylight_exposure_is_a_hold() {
    for code in [0, 3, 255] {
        let audit = shot(&daylight(FRAMES), |_| flat(code));
        assert_eq!(spans(&audit, "blank-picture"), [(0, 35, Severity::Fault)], "{code}");
        assert_eq!(audit.verdict.call, Call::Hold);
        let usable = audit.verdict.usable.as_ref().map_or(0, |u| u.frames);
        assert!(usable <= 1, "{usable}");
    }
}

#[test]
fn a_whole_card_of_black_at_a_night_exposure_may_be_night() {
    let mut plan = daylight(FRAMES);
    plan.exposure.shutter_s = Some(Planned::Fixed(4.0));
    plan.exposure.aperture = Some(Planned::Fixed(2.8));
    let audit = shot(&plan, |_| flat(2));
    assert_eq!(spans(&audit, "blank-picture"), [(0, 35, Severity::Caution)]);
    assert_eq!(audit.verdict.call, Call::Look);
}

#[test]
fn black_frames_are_told_at_their_place() {
    let place = Place::new(4);
    for (frames, severity) in [
        (1..2, Severity::Fault),
        (20..21, Severity::Fault),
        (20..23, Severity::Fault),
        (34..36, Severity::Fault),
    ] {
        // One of 36 is 2.8 %.
        let audit = shot(&daylight(FRAMES), |k| if frames.contains(&k) { flat(1) } else { scene(&place, k) });
        assert_eq!(spans(&audit, "blank-picture"), [(frames.start, frames.end - 1, severity)]);
        assert!(told(&audit, "obstructed-view").is_empty(), "{:?}", told(&audit, "obstructed-view"));
    }
    let audit = shot(&daylight(60), |k| if k == 20 { flat(1) } else { scene(&place, k) });
    assert_eq!(spans(&audit, "blank-picture"), [(20, 20, Severity::Caution)]);
    assert_eq!(audit.verdict.call, Call::Look);
}

/// 20 frames of an orbiting camera, whose automatic exposure drifts by a tenth of a stop: a good run. It
/// writes no aperture.
#[test]
fn a_real_run_whose_exposure_drifts_slowly_hunts_not_and_needs_no_lamps() {
    let Some(table) = crate::support::real().map(|r| r.join("stamps/steady-6s.tsv")) else { return };
    let table = std::fs::read_to_string(table).expect("the table");
    let rows: Vec<Vec<&str>> = table.lines().skip(1).map(|l| l.split('\t').collect()).collect();
    let seconds = |stamp: &str| {
        let clock: Vec<i64> = stamp[11..].split(':').map(|p| p.parse().expect("a clock")).collect();
        clock[0] * 3600 + clock[1] * 60 + clock[2]
    };
    let start = seconds(rows[0][1]);
    let ticks: Vec<Tick> = rows
        .iter()
        .zip(1..)
        .map(|(row, number)| Tick {
            stamp: Some(Micros::from_seconds(seconds(row[1]) - start)),
            number,
            exposure_s: row[3].parse().expect("a time"),
            ..Tick::default()
        })
        .collect();
    let mut frames = crate::support::series::frames(&ticks, Micros::SECOND);
    for row in &mut frames.rows {
        (row.f_number, row.iso) = (Cell::Absent, Cell::Known(64));
    }
    let audit = carry_out(Setting { name: "run".into(), ..Setting::default() }, frames);
    assert_eq!(audit.evidence.in_run().count(), 20);
    for check in ["exposure-hunting", "mains-banding"] {
        let weighty: Vec<_> = told(&audit, check).iter().filter(|f| f.severity > Severity::Note).collect();
        assert!(weighty.is_empty(), "{check}: {weighty:?}");
    }
}

/// A card with something before the lens.
#[derive(Debug)]
struct Covered {
    seed: u64,
    thing: Thing,
    share: f32,
    side: u8,
    first: usize,
    last: usize,
    /// Pixels that the camera travels a frame.
    step: f32,
}

impl Covered {
    fn new(seed: u64) -> Self {
        let pick = |k: u64, n: usize| (chance(seed, 900, k) * n as f32) as usize;
        let long = [1, 3, 12][pick(0, 3)];
        let end = FRAMES as usize;
        let first = match pick(1, 6) {
            0 => 0,
            1 => 1,
            2 => end - 1 - long,
            3 => end - long,
            _ => 2 + pick(2, end - long - 4),
        };
        let step = if seed.is_multiple_of(2) { 0.0 } else { 0.4 + 1.8 * chance(seed, 900, 7) };
        Self {
            seed,
            thing: [Thing::Lorry, Thing::Hand, Thing::Paper, Thing::Cloth][pick(3, 4)],
            share: [0.3, 0.45, 0.6, 0.75, 0.9, 1.0][pick(4, 6)],
            side: pick(5, 4) as u8,
            first,
            last: first + long - 1,
            step,
        }
    }

    fn audit(&self) -> Audit {
        let place = Place::new(self.seed);
        let clouds = chance(self.seed, 900, 8) < 0.5;
        shot(&daylight(FRAMES), |k| {
            Shown {
                place: &place,
                at: self.step * k as f32,
                air: Air { clouds: clouds.then_some(0.6 * k as f32), ..Air::default() },
                before: (self.first..=self.last).contains(&k).then_some((self.thing, self.share, self.side)),
                passing: Vec::new(),
                seed: self.seed,
                shot: k as u64,
            }
            .draw()
        })
    }

    /// Half of the picture and more is a caution, less is a note at least; within a tenth of half, either.
    fn is_told(&self, audit: &Audit) -> bool {
        let weighty = self.share > 0.55;
        spans(audit, "obstructed-view")
            .iter()
            .any(|s| (s.0, s.1) == (self.first, self.last) && (!weighty || s.2 == Severity::Caution))
    }
}

/// What a good card shows.
const QUIET: [&str; 13] = [
    "still",
    "clouds",
    "sun-behind-cloud",
    "shadow",
    "sunset",
    "traffic",
    "slider",
    "pan",
    "two-scenes",
    "mist",
    "flicker",
    "night-traffic",
    "lightning",
];

fn quiet(family: &str, seed: u64) -> Audit {
    let (place, other) = (Place::new(seed), Place::new(seed + 77));
    let of = |k: u64| chance(seed, 700, k);
    let cut = 13 + (of(0) * 10.0) as usize;
    let from = 3 + (of(1) * 20.0) as usize;
    let long = 1 + (of(2) * 10.0) as usize;
    shot(&daylight(FRAMES), |k| {
        let t = k as f32;
        let mut air = Air { clouds: (of(3) < 0.5).then_some(t * 0.5), ..Air::default() };
        let mut at = 0.0;
        let mut passing = Vec::new();
        let mut now = &place;
        match family {
            "clouds" => air.clouds = Some(t * (0.5 + 5.0 * of(4))),
            "sun-behind-cloud" if (from..from + long).contains(&k) => air.ev = -0.4 - 1.2 * of(5),
            "shadow" => air.shadow = Some((-200.0 + t * (4.0 + 22.0 * of(6)), 60.0 + 120.0 * of(7))),
            "sunset" => (air.ev, air.warm_ev) = (-(0.02 + 0.1 * of(8)) * t, 0.012 * t),
            "traffic" => {
                for car in 0..(1 + (of(9) * 6.0) as u64) {
                    let c = |q: u64| chance(seed * 1000 + k as u64, 710 + car, q);
                    let size = 6.0 + 16.0 * chance(seed, 720 + car, 0);
                    passing.push((
                        c(0) * 170.0 - 10.0,
                        60.0 + 30.0 * c(1),
                        size * 1.6,
                        size,
                        0.02 + 0.6 * c(2),
                    ));
                }
            }
            "slider" => at = t * (0.3 + 4.0 * of(10)),
            "pan" => at = t * (0.1 + 2.5 * of(11)),
            "two-scenes" if k >= cut => now = &other,
            "mist" => air.mist = 0.85 * (1.0 - ((t - 18.0) / (6.0 + 10.0 * of(12))).abs()).max(0.0),
            // Headlamps in a dark street, and a flash of lightning.
            "night-traffic" => {
                air.ev = -5.0;
                for car in 0..3 {
                    let c = |q: u64| chance(seed * 1000 + k as u64, 740 + car, q);
                    passing.push((c(0) * 160.0, 60.0 + 30.0 * c(1), 5.0, 4.0, 20.0));
                    passing.push((c(0) * 160.0 - 14.0, 66.0 + 30.0 * c(1), 30.0, 8.0, 3.0));
                }
            }
            "lightning" => air.ev = if chance(seed, 750, k as u64) < 0.1 { -0.5 } else { -5.0 },
            "flicker" => air.ev = 0.3 * (chance(seed, 730, k as u64) - 0.5),
            _ => {}
        }
        Shown { place: now, at, air, before: None, passing, seed, shot: k as u64 }.draw()
    })
}

/// Works through `n` items on two threads.
fn each(n: usize, work: impl Fn(usize) + Sync) {
    let next = AtomicUsize::new(0);
    std::thread::scope(|scope| {
        for _ in 0..2 {
            scope.spawn(|| {
                loop {
                    let k = next.fetch_add(1, Ordering::Relaxed);
                    if k >= n {
                        break;
                    }
                    work(k);
                }
            });
        }
    });
}

/// Plays cards and prints what was missed and what was told without a cause; returns how many of either.
fn round(seeds: std::ops::Range<u64>, of_each: u64) -> (usize, usize) {
    let (missed, loud, noted) = (AtomicUsize::new(0), AtomicUsize::new(0), AtomicUsize::new(0));
    let cards = (seeds.end - seeds.start) as usize;
    each(cards, |k| {
        let card = Covered::new(seeds.start + k as u64);
        let audit = card.audit();
        if !card.is_told(&audit) {
            missed.fetch_add(1, Ordering::Relaxed);
            println!(
                "missed {card:?}: {:?} {:?}",
                spans(&audit, "obstructed-view"),
                audit.evidence.pictures.watch
            );
            for o in &audit.evidence.pictures.obstructions {
                println!("    {o:?}");
            }
        }
    });
    let good = QUIET.len() * of_each as usize;
    each(good, |k| {
        let family = QUIET[k % QUIET.len()];
        let seed = seeds.start + (k / QUIET.len()) as u64;
        let audit = quiet(family, seed);
        for check in ["obstructed-view", "blank-picture"] {
            let all = spans(&audit, check);
            if all.iter().any(|s| s.2 > Severity::Note) {
                loud.fetch_add(1, Ordering::Relaxed);
            } else if !all.is_empty() {
                noted.fetch_add(1, Ordering::Relaxed);
            }
            if !all.is_empty() {
                println!("told on a good card: {family} {seed}: {check} {:?}", told(&audit, check));
            }
        }
    });
    let (missed, loud) = (missed.into_inner(), loud.into_inner());
    println!(
        "{cards} cards with something before the lens: {missed} missed; {good} good ones: {loud} with a \
         caution, {} with a note",
        noted.into_inner()
    );
    (missed, loud)
}

#[test]
fn what_stands_before_the_lens_is_told_and_what_light_does_is_not() {
    assert_eq!(round(0..16, 1), (0, 0));
}

#[test]
#[ignore = "several minutes"]
fn the_long_round() {
    let (first, cards) = (first_seed(1000), rounds(120));
    let (missed, loud) = round(first..first + cards, 8);
    assert!(missed as u64 <= cards / 60 && loud == 0, "{missed} missed, {loud} loud");
}
