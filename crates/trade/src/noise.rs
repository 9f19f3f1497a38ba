//! Noise at the ear: how long a blower may run beside a hand, by the two limits in use.
//!
//! | symbol | name in code | meaning | unit | value | source |
//! |---|---|---|---|---|---|
//! | L | `level_dba` | level at the ear | dBA | blowers 89 to 106 | `[BlowerNoise]` |
//! | T | `allowed` | time allowed: 8 / 2^((L - Lc)/q) | h | Lc 85, q 3 (health) or Lc 90, q 5 (law, US) | `[NIOSH1998]`; `[OSHA1910.95]`, from memory |
//! | D | `dose_percent` | Σ time / allowed x 100 | % | | the same |

use outyard_base::Hours;

/// Which limit is asked for. The law of the place decides; the stricter one protects.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum NoiseLimit {
    /// 85 dBA for 8 h, half the time for every 3 dB more.
    Health,
    /// 90 dBA for 8 h, half the time for every 5 dB more.
    Legal,
}

impl NoiseLimit {
    const fn level_and_step(self) -> (f64, f64) {
        match self {
            Self::Health => (85.0, 3.0),
            Self::Legal => (90.0, 5.0),
        }
    }

    /// Hours a day allowed at one level.
    pub fn allowed(self, level_dba: f64) -> Hours {
        let (level, step) = self.level_and_step();
        Hours::of((8.0 / ((level_dba - level) / step).exp2()).min(Hours::MAX))
    }

    /// The day's dose in percent of what is allowed, from level and time of each spell.
    pub fn dose_percent(self, spells: &[(f64, Hours)]) -> f64 {
        spells.iter().map(|(level, time)| 100.0 * (*time / self.allowed(*level))).sum()
    }

    /// The steady level over 8 h that gives the same dose, in dBA, with the factors the two limits are published
    /// with: 10 and 16.61 times the decimal logarithm.
    pub fn eight_hour_level_dba(self, dose_percent: f64) -> f64 {
        let factor = match self {
            Self::Health => 10.0,
            Self::Legal => 16.61,
        };
        self.level_and_step().0 + factor * (dose_percent / 100.0).log10()
    }
}
