//! Randomness with a name. Every process draws from its own stream, so a new draw in one place does not shift another.

use rand_chacha::ChaCha12Rng;
use rand_core::{Rng, SeedableRng};

/// One named stream of random numbers. The same seed and name give the same numbers on every machine.
///
/// ```
/// use outyard_base::Chance;
/// let mut weather = Chance::new(7, "weather members");
/// let mut swarms = Chance::new(7, "swarms");
/// assert_ne!(weather.uniform(), swarms.uniform());
/// assert_eq!(Chance::new(7, "swarms").uniform(), Chance::new(7, "swarms").uniform());
/// ```
#[derive(Clone, Debug)]
pub struct Chance(ChaCha12Rng);

impl Chance {
    /// Opens the stream `name` of `seed`.
    pub fn new(seed: u64, name: &str) -> Self {
        // FNV-1a (64 bit) of the name tells streams of one seed apart; ChaCha's own stream number keeps them from meeting.
        let hash = name
            .bytes()
            .fold(0xcbf2_9ce4_8422_2325_u64, |hash, byte| (hash ^ u64::from(byte)).wrapping_mul(0x0000_0100_0000_01b3));
        let mut rng = ChaCha12Rng::seed_from_u64(seed);
        rng.set_stream(hash);
        Self(rng)
    }

    /// A number from 0 to just below 1, with 53 random bits.
    #[expect(clippy::cast_precision_loss, reason = "53 bits fit exactly")]
    pub fn uniform(&mut self) -> f64 {
        (self.0.next_u64() >> 11) as f64 * (1.0 / 9_007_199_254_740_992.0)
    }

    /// A number from `low` to just below `high`.
    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.uniform()
    }

    /// A whole number from 0 to `count - 1`, each as likely (Lemire 2019, with rejection).
    ///
    /// # Panics
    /// When `count` is 0.
    #[expect(clippy::cast_possible_truncation, reason = "the low half of the product is wanted")]
    pub fn below(&mut self, count: u64) -> u64 {
        assert!(count > 0, "nothing to choose from");
        loop {
            let product = u128::from(self.0.next_u64()) * u128::from(count);
            if product as u64 >= count.wrapping_neg() % count {
                return (product >> 64) as u64;
            }
        }
    }

    /// An index into a list of `length` items.
    ///
    /// # Panics
    /// When `length` is 0.
    pub fn index(&mut self, length: usize) -> usize {
        usize::try_from(self.below(length as u64)).expect("less than a usize")
    }

    /// True with the given probability.
    pub fn happens(&mut self, probability: f64) -> bool {
        self.uniform() < probability
    }

    /// A standard normal deviate (Marsaglia & Bray 1964, polar method; the second of the pair is not kept).
    pub fn normal(&mut self) -> f64 {
        loop {
            let across = self.between(-1.0, 1.0);
            let up = self.between(-1.0, 1.0);
            let square = across * across + up * up;
            if square > 0.0 && square < 1.0 {
                return across * (-2.0 * square.ln() / square).sqrt();
            }
        }
    }

    /// Puts a list in random order (Fisher & Yates).
    pub fn shuffle<T>(&mut self, list: &mut [T]) {
        for last in (1..list.len()).rev() {
            let other = self.index(last + 1);
            list.swap(last, other);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn moments_are_those_of_the_named_distributions() {
        let mut chance = Chance::new(11, "moments");
        let count = 200_000;
        let (mut sum, mut square) = (0.0, 0.0);
        let mut flat = 0.0;
        let mut faces = [0_u32; 6];
        for _ in 0..count {
            let normal = chance.normal();
            sum += normal;
            square += normal * normal;
            flat += chance.uniform();
            faces[chance.index(6)] += 1;
        }
        let count = f64::from(count);
        // Five standard errors of the mean, the variance and a sixth.
        assert!((sum / count).abs() < 5.0 / count.sqrt());
        assert!((square / count - 1.0).abs() < 5.0 * (2.0 / count).sqrt());
        assert!((flat / count - 0.5).abs() < 5.0 * (1.0 / 12.0 / count).sqrt());
        for face in faces {
            assert!((f64::from(face) / count - 1.0 / 6.0).abs() < 5.0 * (5.0 / 36.0 / count).sqrt());
        }
    }
}
