//! Quantities as range-checked newtypes. Simulation counts in `f64` newtypes; plans count in whole minutes, grams
//! and cents, so equal plans compare equal on every machine.

use core::fmt;
use core::iter::Sum;
use core::ops::{Add, AddAssign, Div, Mul, Neg, Sub, SubAssign};

/// A number outside what its quantity can be.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
#[error("{value} {unit} is outside {min} to {max} {unit}")]
pub struct OutOfRange {
    /// The number that was offered.
    pub value: f64,
    /// Unit, as printed.
    pub unit: &'static str,
    /// Least value allowed.
    pub min: f64,
    /// Greatest value allowed.
    pub max: f64,
}

/// Declares `f64` quantities: name, unit as printed, inclusive range.
macro_rules! quantities {
    ($($(#[$doc:meta])* $name:ident, $unit:literal, $min:expr, $max:expr;)*) => {$(
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd)]
        pub struct $name(f64);

        impl $name {
            /// Unit as printed after a number.
            pub const UNIT: &'static str = $unit;
            /// Nothing of it.
            pub const ZERO: Self = Self(0.0);
            /// Least value that can be built.
            pub const MIN: f64 = $min;
            /// Greatest value that can be built.
            pub const MAX: f64 = $max;

            /// Checks a number that came from outside; NaN is refused too.
            ///
            /// # Errors
            /// [`OutOfRange`] with the limits.
            pub const fn new(value: f64) -> Result<Self, OutOfRange> {
                if value >= $min && value <= $max {
                    Ok(Self(value))
                } else {
                    Err(OutOfRange { value, unit: $unit, min: $min, max: $max })
                }
            }

            /// For numbers written in the code or worked out from checked ones.
            ///
            /// # Panics
            /// When the number is out of range: then the program itself is wrong.
            pub const fn of(value: f64) -> Self {
                match Self::new(value) {
                    Ok(quantity) => quantity,
                    Err(_) => panic!(concat!(stringify!($name), ": number out of range")),
                }
            }

            /// The bare number, in the unit of the type's name.
            pub const fn get(self) -> f64 {
                self.0
            }

            /// The lesser of two.
            #[must_use]
            pub const fn min(self, other: Self) -> Self {
                Self(self.0.min(other.0))
            }

            /// The greater of two.
            #[must_use]
            pub const fn max(self, other: Self) -> Self {
                Self(self.0.max(other.0))
            }
        }

        impl Add for $name {
            type Output = Self;
            fn add(self, other: Self) -> Self { Self(self.0 + other.0) }
        }
        impl AddAssign for $name {
            fn add_assign(&mut self, other: Self) { self.0 += other.0; }
        }
        impl Sub for $name {
            type Output = Self;
            fn sub(self, other: Self) -> Self { Self(self.0 - other.0) }
        }
        impl SubAssign for $name {
            fn sub_assign(&mut self, other: Self) { self.0 -= other.0; }
        }
        impl Mul<f64> for $name {
            type Output = Self;
            fn mul(self, factor: f64) -> Self { Self(self.0 * factor) }
        }
        impl Div<f64> for $name {
            type Output = Self;
            fn div(self, divisor: f64) -> Self { Self(self.0 / divisor) }
        }
        /// How many times one goes into the other.
        impl Div for $name {
            type Output = f64;
            fn div(self, other: Self) -> f64 { self.0 / other.0 }
        }
        impl Neg for $name {
            type Output = Self;
            fn neg(self) -> Self { Self(-self.0) }
        }
        impl Sum for $name {
            fn sum<I: Iterator<Item = Self>>(parts: I) -> Self { Self(parts.map(|part| part.0).sum()) }
        }
        /// Honours the formatter's precision: `{:.1}` prints one decimal and the unit.
        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                fmt::Display::fmt(&self.0, f)?;
                write!(f, " {}", $unit)
            }
        }
    )*};
}

quantities! {
    /// A mass. May be negative where it is a change (a scale's night loss).
    Kilograms, "kg", -1e9, 1e9;
    /// Net gain of a colony, or any other mass per day; negative in a dearth.
    KilogramsPerDay, "kg/d", -1e6, 1e6;
    /// An air temperature, or a difference of two.
    Celsius, "°C", -90.0, 70.0;
    /// Heat summed above a base temperature, in °C·d (never in Fahrenheit).
    DegreeDays, "°C·d", -1e5, 1e5;
    /// Rain.
    Millimetres, "mm", 0.0, 2000.0;
    /// A span of hours.
    Hours, "h", -1e6, 1e6;
    /// Wind or truck speed.
    KilometresPerHour, "km/h", 0.0, 500.0;
    /// Solar energy on a square metre in a day, MJ/m².
    Megajoules, "MJ/m²", 0.0, 60.0;
    /// A height or a short distance.
    Metres, "m", -500.0, 5e7;
    /// A road or straight-line distance.
    Kilometres, "km", 0.0, 5e4;
    /// A volume.
    Litres, "L", 0.0, 1e9;
    /// A part of a whole, 0 to 1.
    Share, "of 1", 0.0, 1.0;
}

/// Declares whole-number quantities for plans.
macro_rules! counts {
    ($($(#[$doc:meta])* $name:ident, $unit:literal;)*) => {$(
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub struct $name(pub i64);

        impl $name {
            /// Nothing of it.
            pub const ZERO: Self = Self(0);
            /// The bare number.
            pub const fn get(self) -> i64 { self.0 }
        }
        impl Add for $name {
            type Output = Self;
            fn add(self, other: Self) -> Self { Self(self.0 + other.0) }
        }
        impl AddAssign for $name {
            fn add_assign(&mut self, other: Self) { self.0 += other.0; }
        }
        impl Sub for $name {
            type Output = Self;
            fn sub(self, other: Self) -> Self { Self(self.0 - other.0) }
        }
        impl SubAssign for $name {
            fn sub_assign(&mut self, other: Self) { self.0 -= other.0; }
        }
        impl Mul<i64> for $name {
            type Output = Self;
            fn mul(self, factor: i64) -> Self { Self(self.0 * factor) }
        }
        impl Sum for $name {
            fn sum<I: Iterator<Item = Self>>(parts: I) -> Self { Self(parts.map(|part| part.0).sum()) }
        }
        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result { write!(f, "{} {}", self.0, $unit) }
        }
    )*};
}

counts! {
    /// Whole minutes of work or driving.
    Minutes, "min";
    /// Whole grams: loads on a truck.
    Grams, "g";
}

impl Minutes {
    /// Rounds a span of minutes up to whole ones, so that a plan never promises time that is not there.
    #[expect(clippy::cast_possible_truncation, reason = "bounded by the assertion above the cast")]
    pub fn ceil_of(minutes: f64) -> Self {
        assert!(minutes.is_finite() && minutes.abs() < 1e12, "a span of minutes must be a usable number");
        // A sum like 26 x 4.1 carries binary dust; without the allowance it would cost a whole minute.
        Self((minutes - 1e-9).ceil() as i64)
    }

    /// The span as hours.
    #[expect(clippy::cast_precision_loss, reason = "spans are far below 2^52 minutes")]
    pub fn hours(self) -> Hours {
        Hours(self.0 as f64 / 60.0)
    }

    /// Says the span as people do: `2 h 39`.
    ///
    /// ```
    /// use outyard_base::Minutes;
    /// assert_eq!(Minutes(159).spoken(), "2 h 39");
    /// assert_eq!(Minutes(45).spoken(), "45 min");
    /// ```
    pub fn spoken(self) -> String {
        let (sign, minutes) = if self.0 < 0 { ("-", -self.0) } else { ("", self.0) };
        if minutes < 60 {
            format!("{sign}{minutes} min")
        } else {
            format!("{sign}{} h {:02}", minutes / 60, minutes % 60)
        }
    }
}

impl Grams {
    /// Rounds a mass up to whole grams: a load is never understated.
    #[expect(clippy::cast_possible_truncation, reason = "Kilograms are bounded by 1e9")]
    pub fn ceil_of(mass: Kilograms) -> Self {
        Self((mass.get() * 1000.0 - 1e-6).ceil() as i64)
    }

    /// The mass in kilograms.
    #[expect(clippy::cast_precision_loss, reason = "loads are far below 2^52 grams")]
    pub fn kilograms(self) -> Kilograms {
        Kilograms(self.0 as f64 / 1000.0)
    }
}

impl Kilograms {
    /// The same mass in pounds (1 lb = 0.453 592 37 kg, international pound of 1959).
    pub fn pounds(self) -> f64 {
        self.0 / 0.453_592_37
    }

    /// A mass given in pounds (1 lb = 0.453 592 37 kg).
    ///
    /// # Errors
    /// [`OutOfRange`] as [`Kilograms::new`].
    pub fn from_pounds(pounds: f64) -> Result<Self, OutOfRange> {
        Self::new(pounds * 0.453_592_37)
    }
}

impl Celsius {
    /// A temperature given in degrees Fahrenheit.
    ///
    /// # Errors
    /// [`OutOfRange`] as [`Celsius::new`].
    pub fn from_fahrenheit(fahrenheit: f64) -> Result<Self, OutOfRange> {
        Self::new((fahrenheit - 32.0) / 1.8)
    }
}

impl DegreeDays {
    /// A heat sum given in Fahrenheit degree days: 1.8 to one, with no offset of 32.
    ///
    /// ```
    /// use outyard_base::DegreeDays;
    /// assert!((DegreeDays::from_fahrenheit(180.0).unwrap().get() - 100.0).abs() < 1e-12);
    /// ```
    ///
    /// # Errors
    /// [`OutOfRange`] as [`DegreeDays::new`].
    pub fn from_fahrenheit(fahrenheit: f64) -> Result<Self, OutOfRange> {
        Self::new(fahrenheit / 1.8)
    }
}

impl KilogramsPerDay {
    /// Mass gained over a span of days.
    pub fn over(self, days: f64) -> Kilograms {
        Kilograms(self.0 * days)
    }
}

impl KilometresPerHour {
    /// Metres per second into km/h.
    ///
    /// # Errors
    /// [`OutOfRange`] as [`KilometresPerHour::new`].
    pub fn from_metres_per_second(speed: f64) -> Result<Self, OutOfRange> {
        Self::new(speed * 3.6)
    }
}

impl Metres {
    /// The same distance in kilometres.
    pub fn kilometres(self) -> Kilometres {
        Kilometres(self.0.max(0.0) / 1000.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_number_out_of_range_is_refused_with_its_limits() {
        let refused = Celsius::new(120.0).unwrap_err();
        assert_eq!(refused.to_string(), "120 °C is outside -90 to 70 °C");
        assert!(Kilograms::new(f64::NAN).is_err());
        assert!(Share::new(1.000_001).is_err());
        assert!(Share::new(1.0).is_ok());
    }

    // BIPM/NIST SP 811: 1 lb = 0.453 592 37 kg exactly; 0 °F = -17.7777… °C.
    #[test]
    fn conversions_match_the_published_factors() {
        assert!((Kilograms::from_pounds(60.0).unwrap().get() - 27.215_542_2).abs() < 1e-9);
        assert!((Kilograms::of(1.0).pounds() - 2.204_622_621_8).abs() < 1e-9);
        for (fahrenheit, celsius) in [(50.0, 10.0), (43.0, 6.111), (41.0, 5.0), (40.0, 4.444), (32.0, 0.0)] {
            assert!((Celsius::from_fahrenheit(fahrenheit).unwrap().get() - celsius).abs() < 5e-4);
        }
    }

    #[test]
    fn whole_minutes_never_understate_and_never_add_one_for_dust() {
        assert_eq!(Minutes::ceil_of(26.0 * 4.1), Minutes(107));
        assert_eq!(Minutes::ceil_of(0.1 + 0.2 - 0.3 + 5.0), Minutes(5));
        assert_eq!(Minutes::ceil_of(5.01), Minutes(6));
        assert_eq!(Grams::ceil_of(Kilograms::of(8.5)), Grams(8500));
    }

    #[test]
    fn printing_carries_the_unit_and_honours_precision() {
        assert_eq!(format!("{:.1}", KilogramsPerDay::of(2.34)), "2.3 kg/d");
        assert_eq!(Minutes(-95).spoken(), "-1 h 35");
    }
}
