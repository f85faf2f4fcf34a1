//! Phase correlation: the shift between two pictures as the peak of their cross-power spectrum's phase.
//!
//! Kuglin and Hines, Proc. IEEE Cybernetics and Society (1975) 163–165; the peak between pixels is looked for
//! with the matrix form of the Fourier sum of Guizar-Sicairos, Thurman and Fienup, Opt. Lett. 33 (2008) 156.

use std::f32::consts::TAU;
use std::sync::Arc;

use realfft::num_complex::Complex;
use realfft::{ComplexToReal, RealFftPlanner, RealToComplex};
use rustfft::{Fft, FftPlanner};

use super::grid::Grid;

/// Bins weaker than this share of the strongest hold rounding, not a picture.
const FAINT: f32 = 1e-9;
/// Share of each side over which the window rises from its edges.
const TAPER: f32 = 0.15;

/// How far the second picture's content lies from where it lies in the first, px: right and down are
/// positive.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Shift {
    /// Across, px.
    pub x: f32,
    /// Down, px.
    pub y: f32,
}

impl Shift {
    /// Its length, px.
    pub fn length(self) -> f32 {
        self.x.hypot(self.y)
    }
}

/// The spectrum of one picture: columns of the half plane, one after the other.
#[derive(Clone, Debug)]
pub struct Spectrum(Vec<Complex<f32>>);

/// Everything that pictures of one size share.
#[derive(Clone)]
pub struct Correlator {
    width: usize,
    height: usize,
    rows: Arc<dyn RealToComplex<f32>>,
    rows_back: Arc<dyn ComplexToReal<f32>>,
    columns: Arc<dyn Fft<f32>>,
    columns_back: Arc<dyn Fft<f32>>,
    /// Weight of each row and column of a picture: 1 inside, falling to the edges, so that these do not stand
    /// for a picture that never moves. Empty without a window.
    window: (Vec<f32>, Vec<f32>),
    /// Weight of each bin, down and across: high frequencies are noise first.
    weights: (Vec<f32>, Vec<f32>),
}

impl Correlator {
    /// For pictures of that many pixels each way, as they are: no window, every frequency alike.
    pub fn plain(width: usize, height: usize) -> Self {
        let mut planner = FftPlanner::new();
        let mut real = RealFftPlanner::new();
        Self {
            width,
            height,
            rows: real.plan_fft_forward(width),
            rows_back: real.plan_fft_inverse(width),
            columns: planner.plan_fft_forward(height),
            columns_back: planner.plan_fft_inverse(height),
            window: (Vec::new(), Vec::new()),
            weights: (vec![1.0; height], vec![1.0; width / 2 + 1]),
        }
    }

    /// For small pictures of a scene: edges faded out, high frequencies, where noise is, held down.
    pub fn faded(width: usize, height: usize) -> Self {
        let rise = |n: usize| {
            let edge = (n as f32 * TAPER).max(1.0);
            let one = |i: usize| {
                let inside = (i as f32 + 0.5).min(n as f32 - i as f32 - 0.5);
                let t = (inside / edge).min(1.0);
                0.5 - 0.5 * (TAU / 2.0 * t).cos()
            };
            (0..n).map(one).collect::<Vec<_>>()
        };
        let low = |n: usize, bins: usize| {
            let one = |k: usize| {
                let frequency = k.min(n - k) as f32 / n as f32;
                (-(frequency / 0.25).powi(2)).exp()
            };
            (0..bins).map(one).collect::<Vec<_>>()
        };
        Self {
            window: (rise(height), rise(width)),
            weights: (low(height, height), low(width, width / 2 + 1)),
            ..Self::plain(width, height)
        }
    }

    fn bins(&self) -> usize {
        self.width / 2 + 1
    }

    /// The spectrum of a picture of the right size; `None` where the size is another.
    pub fn spectrum(&self, picture: &Grid) -> Option<Spectrum> {
        if picture.size() != (self.width, self.height) {
            return None;
        }
        let (bins, height) = (self.bins(), self.height);
        let mean = picture.mean();
        let mut row = self.rows.make_input_vec();
        let mut out = self.rows.make_output_vec();
        let mut scratch = self.rows.make_scratch_vec();
        let mut all = vec![Complex::default(); bins * height];
        for y in 0..height {
            let down = self.window.0.get(y).copied().unwrap_or(1.0);
            for (x, (to, from)) in row.iter_mut().zip(picture.row(y)).enumerate() {
                *to = (from - mean) * down * self.window.1.get(x).copied().unwrap_or(1.0);
            }
            self.rows.process_with_scratch(&mut row, &mut out, &mut scratch).ok()?;
            for (k, value) in out.iter().enumerate() {
                all[k * height + y] = *value;
            }
        }
        self.columns.process(&mut all);
        Some(Spectrum(all))
    }

    /// The phase of the cross-power spectrum, weighted.
    fn phase(&self, first: &Spectrum, second: &Spectrum) -> Vec<Complex<f32>> {
        let mut cross: Vec<_> = first.0.iter().zip(&second.0).map(|(a, b)| a.conj() * b).collect();
        let strongest = cross.iter().map(|c| c.norm()).fold(0.0, f32::max);
        for (k, column) in cross.chunks_mut(self.height).enumerate() {
            for (value, down) in column.iter_mut().zip(&self.weights.0) {
                let strength = value.norm();
                let weight = down * self.weights.1[k];
                *value = if strength > strongest * FAINT {
                    *value * (weight / strength)
                } else {
                    Complex::default()
                };
            }
        }
        cross
    }

    /// The correlation at each whole shift, row by row; negative shifts lie at the far ends.
    fn surface(&self, phase: &[Complex<f32>]) -> Vec<f32> {
        let (bins, height) = (self.bins(), self.height);
        let mut columns = phase.to_vec();
        self.columns_back.process(&mut columns);
        let mut row = self.rows_back.make_input_vec();
        let mut scratch = self.rows_back.make_scratch_vec();
        let mut surface = vec![0.0; self.width * height];
        for (y, out) in surface.chunks_mut(self.width).enumerate() {
            for k in 0..bins {
                row[k] = columns[k * height + y];
            }
            // What is imaginary there is rounding.
            row[0].im = 0.0;
            if self.width.is_multiple_of(2) {
                row[bins - 1].im = 0.0;
            }
            if self.rows_back.process_with_scratch(&mut row, out, &mut scratch).is_err() {
                out.fill(0.0);
            }
        }
        surface
    }

    /// A place of the surface as a shift.
    fn signed(&self, at: usize) -> (i32, i32) {
        let (x, y) = (at % self.width, at / self.width);
        let wrap = |v: usize, n: usize| if v > n / 2 { v as i32 - n as i32 } else { v as i32 };
        (wrap(x, self.width), wrap(y, self.height))
    }

    /// The whole shifts that the pictures have most in common, best first, at most `most`: a scene with depth
    /// has several.
    pub fn candidates(&self, first: &Spectrum, second: &Spectrum, most: usize) -> Vec<(i32, i32)> {
        let surface = self.surface(&self.phase(first, second));
        let (w, h) = (self.width, self.height);
        let mut peaks: Vec<(f32, usize)> = Vec::with_capacity(most + 1);
        for (at, value) in surface.iter().enumerate() {
            let full = peaks.len() == most;
            if full && peaks.last().is_some_and(|p| *value <= p.0) {
                continue;
            }
            let (x, y) = (at % w, at / w);
            let highest = [(1, 0), (w - 1, 0), (0, 1), (0, h - 1)].iter().all(|(dx, dy)| {
                let near = (y + dy) % h * w + (x + dx) % w;
                surface[near] < *value || (surface[near] == *value && near >= at)
            });
            if highest && *value > 0.0 {
                let place = peaks.partition_point(|p| p.0 >= *value);
                peaks.insert(place, (*value, at));
                peaks.truncate(most);
            }
        }
        peaks.iter().map(|p| self.signed(p.1)).collect()
    }

    /// The shift of the whole picture, to a fraction of a pixel; `None` where the pictures have nothing in
    /// common (flat, or of another size).
    pub fn shift(&self, first: &Spectrum, second: &Spectrum) -> Option<Shift> {
        let phase = self.phase(first, second);
        let surface = self.surface(&phase);
        let best = surface.iter().enumerate().reduce(|a, b| if b.1 > a.1 { b } else { a })?;
        if *best.1 <= 0.0 {
            return None;
        }
        let (x, y) = self.signed(best.0);
        let mut at = (x as f32, y as f32);
        for step in [0.3, 0.06] {
            at = self.sharper(&phase, at, step)?;
        }
        Some(Shift { x: at.0, y: at.1 })
    }

    /// The highest place among five by five around `at`, `step` apart, and between them by a parabola.
    fn sharper(&self, phase: &[Complex<f32>], at: (f32, f32), step: f32) -> Option<(f32, f32)> {
        let places = |centre: f32| [-2.0, -1.0, 0.0, 1.0, 2.0_f32].map(|d| centre + d * step);
        let (xs, ys) = (places(at.0), places(at.1));
        let (bins, height) = (self.bins(), self.height);
        let mut values = [[0.0_f32; 5]; 5];
        let mut column = vec![Complex::default(); height];
        for (i, x) in xs.iter().enumerate() {
            column.fill(Complex::default());
            for k in 0..bins {
                let twice = k > 0 && (k < bins - 1 || !self.width.is_multiple_of(2));
                let turn = Complex::from_polar(
                    if twice { 2.0 } else { 1.0 },
                    TAU * k as f32 * x / self.width as f32,
                );
                for (sum, value) in column.iter_mut().zip(&phase[k * height..]) {
                    *sum += value * turn;
                }
            }
            for (j, y) in ys.iter().enumerate() {
                let one = |(k, value): (usize, &Complex<f32>)| {
                    let k = if k > height / 2 { k as f32 - height as f32 } else { k as f32 };
                    (value * Complex::from_polar(1.0, TAU * k * y / height as f32)).re
                };
                values[j][i] = column.iter().enumerate().map(one).sum();
            }
        }
        let cells = (0..25).map(|c| (c / 5, c % 5));
        let (j, i) = cells.reduce(|a, b| if values[b.0][b.1] > values[a.0][a.1] { b } else { a })?;
        let between = |before: f32, top: f32, after: f32| {
            let bend = before - 2.0 * top + after;
            if bend < 0.0 { (0.5 * (before - after) / bend).clamp(-0.5, 0.5) } else { 0.0 }
        };
        let inner = |c: usize| (1..4).contains(&c);
        let dx = if inner(i) { between(values[j][i - 1], values[j][i], values[j][i + 1]) } else { 0.0 };
        let dy = if inner(j) { between(values[j - 1][i], values[j][i], values[j + 1][i]) } else { 0.0 };
        Some((xs[i] + dx * step, ys[j] + dy * step))
    }
}

/// The shift between two pictures of one size by phase correlation, to a fraction of a pixel; `None` where
/// the sizes differ or the pictures have nothing in common.
pub fn register(first: &Grid, second: &Grid) -> Option<Shift> {
    let (w, h) = first.size();
    let correlator = Correlator::plain(w, h);
    correlator.shift(&correlator.spectrum(first)?, &correlator.spectrum(second)?)
}
