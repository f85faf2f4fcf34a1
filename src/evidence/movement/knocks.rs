//! A knock of the camera, or a slip of the carriage: told apart by what else is in the picture.

use super::events::{FEWEST, Jump, Jumps, Path, SIDES, STANDS_OUT, apart, jump, jumps};
use super::layers::{Layer, Still};

/// Frames on each side over which a knock of what stands still is averaged.
const KNOCK_SIDE: usize = 2;
/// Least jump of what stands still, px of the small picture.
const LEAST_KNOCK: f64 = 0.05;
/// Share of a layer's way that must lie along another's for it to show how far that jumped.
const ALONG: f64 = 0.9;
/// Square of the spreads by which one reading of a jump must fit better than the other, and to which it must
/// itself fit.
const BETTER: f64 = 25.0;
const FITS: f64 = 16.0;
/// Share of a jump that must go across the travel to show a knock: a carriage slips along its rail, and a
/// little aside may be the bump of it.
const ASIDE: f64 = 0.2;

/// Jumps of what stands still, px of the small picture. What shakes the camera shakes all that it sees: a
/// jump that one of the `layers` would show, and does not, is none.
pub(crate) fn knocks(still: &Still, layers: &[(Layer, Path)]) -> Jumps {
    let axis = |of: &dyn Fn(&(f64, f64)) -> f64| -> Vec<f64> { still.moved.iter().map(of).collect() };
    let (x, y) = (axis(&|m| m.0), axis(&|m| m.1));
    let side = KNOCK_SIDE;
    let (by_x, by_y) = (jumps(&x, 0.0, side, |_| true), jumps(&y, 0.0, side, |_| true));
    let finest = by_x.0.max(by_y.0).max(LEAST_KNOCK);
    let both = by_x.1.iter().zip(&by_y.1).map(|(a, b)| Jump { step: a.step, by: a.by.hypot(b.by) });
    let mut all = apart(both.collect(), finest, side);
    // What each steady layer, be it clouds, would show at least, px.
    let sharp = |(layer, _): &'_ (Layer, Path)| jumps(&layer.moved, 1.0, side, |_| true).0 * layer.speed();
    let witnesses: Vec<(&Layer, f64)> = match all.is_empty() {
        true => Vec::new(),
        false => layers.iter().filter(|l| l.1.steady).map(|l| (&l.0, sharp(l))).collect(),
    };
    // Only now: the foot of a jump that is none is none either.
    all.retain(|j| {
        let by = (jump(&x, 0.0, side, j.step), jump(&y, 0.0, side, j.step));
        !witnesses.iter().any(|(layer, finest)| denies(layer, *finest, j.step, by))
    });
    Jumps { all, finest }
}

/// True where a layer saw the step sharply enough to show half of that knock, and did not.
fn denies(layer: &Layer, finest_px: f64, step: usize, knock: (f64, f64)) -> bool {
    let along = (knock.0 * layer.pace.0 + knock.1 * layer.pace.1) / layer.speed();
    let shown = jump(&layer.moved, 1.0, KNOCK_SIDE, step) * layer.speed() * along.signum();
    shown < 0.5 * along.abs() && finest_px < 0.5 * along.abs()
}

/// What a jump of a layer was.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum JumpKind {
    /// The carriage's: what is farther away jumped by less, and what stands not at all.
    Slip,
    /// The camera's, by so many px of the small picture: all that it sees jumped alike, or the jump went
    /// across the travel as well.
    Knock(f64),
    /// Nothing else shows which.
    Either,
}

/// How far something is off its usual way at each step, px, and how sharply it shows a jump.
struct Witness {
    moved: Vec<f64>,
    /// Frames to a side of a jump and the spread of all jumps over so many, the sharpest first.
    spreads: Vec<(usize, f64)>,
    /// What it would jump by in a slip of one step, px.
    slip_px: f64,
}

impl Witness {
    fn new(moved: Vec<f64>, slip_px: f64) -> Self {
        let spread = |side: usize| {
            let (finest, all) = jumps(&moved, 0.0, side, |_| true);
            (all.len() >= FEWEST).then_some((side, (finest / STANDS_OUT).max(f64::MIN_POSITIVE)))
        };
        let mut spreads: Vec<(usize, f64)> = SIDES.into_iter().filter_map(spread).collect();
        spreads.sort_by(|a, b| a.1.total_cmp(&b.1));
        Self { moved, spreads, slip_px }
    }

    /// Its jump at that step and the spread of it, over as many frames as show it most sharply.
    fn at(&self, step: usize) -> Option<(f64, f64)> {
        let within = |side: usize| step + 1 >= side && step + side <= self.moved.len();
        let over = |(side, spread): &(usize, f64)| {
            let by = within(*side).then(|| jump(&self.moved, 0.0, *side, step))?;
            by.is_finite().then_some((by, *spread))
        };
        self.spreads.iter().find_map(over)
    }
}

/// What each of the jumps of `own` was, by how far the other layers, and what stands still, went with it.
pub(crate) fn kinds(
    own: &Layer,
    all: &[Jump],
    layers: &[(Layer, Path)],
    still: Option<&Still>,
) -> Vec<JumpKind> {
    if all.is_empty() {
        return Vec::new();
    }
    let way = (own.pace.0 / own.speed(), own.pace.1 / own.speed());
    let moving = layers.iter().filter(|l| l.1.steady && l.0.tiles != own.tiles).filter_map(|(layer, _)| {
        let along = (layer.pace.0 * way.0 + layer.pace.1 * way.1) / layer.speed();
        // What passes another way, as clouds do, shows too little of it.
        let px = (along.abs() > ALONG).then(|| layer.speed() * along.signum())?;
        Some(Witness::new(layer.moved.iter().map(|m| (m - 1.0) * px).collect(), px.max(0.0)))
    });
    let stands =
        still.map(|s| Witness::new(s.moved.iter().map(|m| m.0 * way.0 + m.1 * way.1).collect(), 0.0));
    let along: Vec<Witness> = moving.chain(stands).collect();
    let across = Witness::new(own.aside.clone(), 0.0);
    all.iter().map(|jump| kind(jump, own.speed(), &along, &across)).collect()
}

fn kind(jump: &Jump, speed: f64, along: &[Witness], across: &Witness) -> JumpKind {
    let knock = jump.by * speed;
    let aside = across
        .at(jump.step)
        .filter(|(by, spread)| by.abs() > ASIDE * knock.abs() && (by / spread).powi(2) > BETTER);
    if let Some((by, _)) = aside {
        return JumpKind::Knock(knock.hypot(by));
    }
    // Squares of how far each lies from where it would be, in its own spreads.
    let (mut of_slip, mut of_knock, mut fits) = (0.0_f64, 0.0_f64, 0.0_f64);
    for witness in along {
        let Some((by, spread)) = witness.at(jump.step) else { continue };
        // Clouds go on through a slip; what is farther away than the layer goes with its own share.
        let slip = jump.by * witness.slip_px;
        let off_slip = (slip.min(0.0) - by).max(by - slip.max(0.0)).max(0.0);
        of_slip += (off_slip / spread).powi(2);
        of_knock += ((by - knock) / spread).powi(2);
        fits += FITS;
    }
    if of_slip - of_knock > BETTER && of_knock <= fits {
        JumpKind::Knock(knock.abs())
    } else if of_knock - of_slip > BETTER && of_slip <= fits {
        JumpKind::Slip
    } else {
        JumpKind::Either
    }
}
