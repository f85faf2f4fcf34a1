//! How many cases a property is tried on, and which; how many rounds a test plays.

use proptest::test_runner::{Config, RngSeed};

/// So `few` cases, the same each time: a gate tells the same story of the same code. `PROPTEST_CASES` and
/// `PROPTEST_RNG_SEED` look further.
pub fn tried(few: u32) -> Config {
    let usual = Config { failure_persistence: None, ..Config::default() };
    let cases = if std::env::var_os("PROPTEST_CASES").is_some() { usual.cases } else { few };
    let rng_seed = match usual.rng_seed {
        RngSeed::Random => RngSeed::Fixed(20_260_509),
        seed @ RngSeed::Fixed(_) => seed,
    };
    Config { cases, rng_seed, ..usual }
}

/// How many rounds a test plays: so `few` in `cargo test`, and `LAPSEPROOF_ROUNDS` in the long ones of
/// `.ci/rounds`.
pub fn rounds(few: u64) -> u64 {
    number("LAPSEPROOF_ROUNDS", few)
}

/// The first seed of a long round: `LAPSEPROOF_FROM`, else `usual`.
pub fn first_seed(usual: u64) -> u64 {
    number("LAPSEPROOF_FROM", usual)
}

fn number(variable: &str, otherwise: u64) -> u64 {
    std::env::var(variable).ok().and_then(|n| n.parse().ok()).unwrap_or(otherwise)
}

/// Both ends of the 95 % confidence interval of a share (Wilson 1927).
pub fn wilson(hits: u64, of: u64) -> (f64, f64) {
    if of == 0 {
        return (0.0, 1.0);
    }
    let (n, p, z) = (of as f64, hits as f64 / of as f64, 1.96_f64);
    let centre = p + z * z / (2.0 * n);
    let spread = z * (p * (1.0 - p) / n + z * z / (4.0 * n * n)).sqrt();
    let whole = 1.0 + z * z / n;
    ((centre - spread) / whole, (centre + spread) / whole)
}
