//! Money in whole cents of whatever currency the outfit keeps its books in.

use core::fmt;
use core::iter::Sum;
use core::ops::{Add, AddAssign, Mul, Neg, Sub, SubAssign};

/// Cents. Plans add and compare these, never fractions.
///
/// ```
/// use outyard_base::Cents;
/// assert_eq!(Cents(-1_234_567).to_string(), "-12,345.67");
/// assert_eq!(Cents(19_800).whole(), "198");
/// ```
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Cents(pub i64);

impl Cents {
    /// Nothing.
    pub const ZERO: Self = Self(0);

    /// The bare number of cents.
    pub const fn get(self) -> i64 {
        self.0
    }

    /// Rounds an amount in whole money units to the nearest cent.
    ///
    /// # Panics
    /// When the amount is not a number or past nine thousand billion: then the program itself is wrong.
    #[expect(clippy::cast_possible_truncation, reason = "bounded by the assertion above the cast")]
    pub fn round_of(amount: f64) -> Self {
        assert!(amount.is_finite() && amount.abs() < 9e12, "an amount of money must be a usable number");
        Self((amount * 100.0).round() as i64)
    }

    /// The amount in whole money units.
    #[expect(clippy::cast_precision_loss, reason = "amounts are far below 2^52 cents")]
    pub fn amount(self) -> f64 {
        self.0 as f64 / 100.0
    }

    /// Rounded to whole money units, with thousands apart, as a page shows it.
    pub fn whole(self) -> String {
        let rounded = (self.0.abs() + 50) / 100;
        let sign = if self.0 < 0 && rounded != 0 { "-" } else { "" };
        format!("{sign}{}", thousands(rounded.unsigned_abs()))
    }
}

/// Writes a whole number with a comma between thousands.
fn thousands(number: u64) -> String {
    let digits = number.to_string();
    let mut out = String::with_capacity(digits.len() + digits.len() / 3);
    for (index, digit) in digits.chars().enumerate() {
        if index > 0 && (digits.len() - index).is_multiple_of(3) {
            out.push(',');
        }
        out.push(digit);
    }
    out
}

impl fmt::Display for Cents {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let sign = if self.0 < 0 { "-" } else { "" };
        let all = self.0.unsigned_abs();
        f.pad(&format!("{sign}{}.{:02}", thousands(all / 100), all % 100))
    }
}

impl Add for Cents {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self(self.0 + other.0)
    }
}
impl AddAssign for Cents {
    fn add_assign(&mut self, other: Self) {
        self.0 += other.0;
    }
}
impl Sub for Cents {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        Self(self.0 - other.0)
    }
}
impl SubAssign for Cents {
    fn sub_assign(&mut self, other: Self) {
        self.0 -= other.0;
    }
}
impl Mul<i64> for Cents {
    type Output = Self;
    fn mul(self, factor: i64) -> Self {
        Self(self.0 * factor)
    }
}
impl Neg for Cents {
    type Output = Self;
    fn neg(self) -> Self {
        Self(-self.0)
    }
}
impl Sum for Cents {
    fn sum<I: Iterator<Item = Self>>(parts: I) -> Self {
        Self(parts.map(|part| part.0).sum())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn prints_thousands_apart_and_never_minus_nothing() {
        assert_eq!(Cents(100_000_000).to_string(), "1,000,000.00");
        assert_eq!(Cents(-5).to_string(), "-0.05");
        assert_eq!(Cents(-5).whole(), "0");
        assert_eq!(Cents::round_of(4340.0).whole(), "4,340");
        assert_eq!(Cents::round_of(0.005), Cents(1));
    }
}
