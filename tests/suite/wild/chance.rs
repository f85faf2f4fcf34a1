//! Chance for the wild cards: SplitMix64 (Steele, Lea and Flood 2014), so that a card is the same on every
//! machine.

/// A generator with 64 bits of state.
#[derive(Clone, Debug)]
pub struct Chance(u64);

impl Chance {
    /// The stream of one card: its family's name and its seed (FNV-1a over the name, constants from memory).
    pub fn of(family: &str, seed: u64) -> Self {
        let name = family
            .bytes()
            .fold(0xCBF2_9CE4_8422_2325_u64, |hash, b| (hash ^ u64::from(b)).wrapping_mul(0x100_0000_01B3));
        let mut chance = Self(name ^ seed.wrapping_mul(0xD129_0D3B_5D3F_4C67));
        chance.next();
        chance
    }

    /// The next 64 bits.
    pub fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let z = (self.0 ^ (self.0 >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        let z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }

    /// From 0 to below 1.
    pub fn unit(&mut self) -> f64 {
        (self.next() >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// From `low` to below `high`.
    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.unit()
    }

    /// From `low` to below `high`, each factor as likely as another.
    pub fn spread(&mut self, low: f64, high: f64) -> f64 {
        low * (high / low).powf(self.unit())
    }

    /// A whole number from `low` to `high`, both included.
    pub fn whole(&mut self, low: u64, high: u64) -> u64 {
        low + (self.unit() * (high - low + 1) as f64) as u64
    }

    /// True in so many of a hundred.
    pub fn percent(&mut self, of: f64) -> bool {
        self.unit() * 100.0 < of
    }

    /// One of the list.
    pub fn pick<T: Copy>(&mut self, list: &[T]) -> T {
        list[self.whole(0, list.len() as u64 - 1) as usize]
    }

    /// Standard normal (Box and Muller 1958).
    pub fn normal(&mut self) -> f64 {
        let radius = (-2.0 * (1.0 - self.unit()).ln()).sqrt();
        radius * (std::f64::consts::TAU * self.unit()).cos()
    }

    /// The list in any order.
    pub fn shuffle<T>(&mut self, list: &mut [T]) {
        for at in (1..list.len()).rev() {
            list.swap(at, self.whole(0, at as u64) as usize);
        }
    }
}

/// The published first values for the state 1234567 (test vector of the reference code, from memory).
#[test]
fn the_generator_is_splitmix64() {
    let mut chance = Chance(1_234_567);
    let first: Vec<u64> = (0..3).map(|_| chance.next()).collect();
    assert_eq!(first, [6_457_827_717_110_365_317, 3_203_168_211_198_807_973, 9_817_491_932_198_370_423]);
}
