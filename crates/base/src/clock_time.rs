//! A time of day on the yard's own clock, to the minute.

use core::fmt;
use core::ops::{Add, Sub};
use core::str::FromStr;

use crate::units::Minutes;

/// Minutes since local midnight. May run past 24:00 when a run comes home after midnight.
///
/// ```
/// use outyard_base::{ClockTime, Minutes};
/// let leave: ClockTime = "08:35".parse().unwrap();
/// assert_eq!((leave + Minutes(25)).to_string(), "09:00");
/// ```
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct ClockTime(Minutes);

/// A clock time that cannot be read.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("\"{0}\" is not a clock time; write it as 07:30")]
pub struct BadClockTime(pub String);

impl ClockTime {
    /// Midnight at the start of the day.
    pub const MIDNIGHT: Self = Self(Minutes(0));

    /// From hours and minutes; hours may pass 24.
    pub const fn at(hours: i64, minutes: i64) -> Self {
        Self(Minutes(hours * 60 + minutes))
    }

    /// Minutes since midnight.
    pub const fn minutes(self) -> Minutes {
        self.0
    }
}

impl Add<Minutes> for ClockTime {
    type Output = Self;
    fn add(self, span: Minutes) -> Self {
        Self(self.0 + span)
    }
}

impl Sub<Minutes> for ClockTime {
    type Output = Self;
    fn sub(self, span: Minutes) -> Self {
        Self(self.0 - span)
    }
}

impl Sub for ClockTime {
    type Output = Minutes;
    fn sub(self, other: Self) -> Minutes {
        self.0 - other.0
    }
}

impl fmt::Display for ClockTime {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:02}:{:02}", self.0.0.div_euclid(60), self.0.0.rem_euclid(60))
    }
}

impl FromStr for ClockTime {
    type Err = BadClockTime;
    fn from_str(text: &str) -> Result<Self, BadClockTime> {
        let bad = || BadClockTime(text.to_owned());
        let (hours, minutes) = text.trim().split_once(':').ok_or_else(bad)?;
        let digits = |part: &str| part.len() <= 2 && !part.is_empty() && part.bytes().all(|byte| byte.is_ascii_digit());
        if !digits(hours) || minutes.len() != 2 || !digits(minutes) {
            return Err(bad());
        }
        let hours: i64 = hours.parse().map_err(|_| bad())?;
        let minutes: i64 = minutes.parse().map_err(|_| bad())?;
        if hours > 24 || minutes > 59 || (hours == 24 && minutes > 0) {
            return Err(bad());
        }
        Ok(Self::at(hours, minutes))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn reads_what_it_prints_and_refuses_the_rest() {
        for text in ["00:00", "05:40", "18:40", "24:00"] {
            assert_eq!(text.parse::<ClockTime>().unwrap().to_string(), text);
        }
        for text in ["", "7", "7:5", "25:00", "12:60", "-1:00", "24:01", "+7:00", "07:3a"] {
            assert!(text.parse::<ClockTime>().is_err(), "{text} was accepted");
        }
    }
}
