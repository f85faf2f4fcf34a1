//! Chance that can be repeated: SplitMix64 (Steele, Lea & Flood, "Fast splittable pseudorandom number
//! generators", OOPSLA 2014), written out here in ten lines because a library may change its streams between
//! versions, and then the same seed would no longer give the same sequence.

/// The golden-ratio increment of SplitMix64.
const GAMMA: u64 = 0x9E37_79B9_7F4A_7C15;

/// The output function of SplitMix64: a bijection that spreads every bit.
pub const fn mix(mut z: u64) -> u64 {
    z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
    z ^ (z >> 31)
}

/// A stream of numbers from a seed.
#[derive(Clone, Debug)]
pub struct Chance(u64);

impl Chance {
    /// The stream of that seed.
    pub const fn new(seed: u64) -> Self {
        Self(seed)
    }

    /// A stream of its own for each purpose, so that one fault more does not move another.
    pub const fn stream(seed: u64, purpose: u64) -> Self {
        Self(mix(seed ^ mix(purpose.wrapping_add(GAMMA))))
    }

    /// The next 64 bits.
    pub const fn bits(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(GAMMA);
        mix(self.0)
    }

    /// Uniform in [0, 1).
    pub const fn unit(&mut self) -> f64 {
        (self.bits() >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// Uniform in [low, high).
    pub const fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.unit()
    }

    /// Near normal, mean 0 and spread 1: the sum of twelve uniform numbers less six. It never passes ±6 and
    /// takes no logarithm, whose last bit differs between platforms.
    pub const fn gaussian(&mut self) -> f64 {
        let mut sum = -6.0;
        let mut i = 0;
        while i < 12 {
            sum += self.unit();
            i += 1;
        }
        sum
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// First outputs for seed 1234567: published with the reference implementation of SplitMix64 (from
    /// memory).
    #[test]
    fn reference_outputs() {
        let mut chance = Chance::new(1_234_567);
        let got: Vec<u64> = (0..3).map(|_| chance.bits()).collect();
        assert_eq!(got, [6_457_827_717_110_365_317, 3_203_168_211_198_807_973, 9_817_491_932_198_370_423]);
    }

    #[test]
    fn spreads_are_right() {
        let mut chance = Chance::stream(7, 1);
        let n = 20_000;
        let (mut sum, mut squares) = (0.0, 0.0);
        for _ in 0..n {
            let g = chance.gaussian();
            sum += g;
            squares += g * g;
        }
        let mean = sum / f64::from(n);
        assert!(mean.abs() < 0.03, "{mean}");
        assert!((squares / f64::from(n) - 1.0).abs() < 0.05);
        assert!((0..1000).all(|_| (0.0..1.0).contains(&chance.unit())));
    }

    #[test]
    fn streams_differ() {
        assert_ne!(Chance::stream(1, 1).bits(), Chance::stream(1, 2).bits());
        assert_ne!(Chance::stream(1, 1).bits(), Chance::stream(2, 1).bits());
    }
}
