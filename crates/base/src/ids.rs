//! Names the outfit itself gives to its yards, crews, trucks, scales and gear, each its own type.

use core::fmt;
use core::str::FromStr;

/// A name that cannot be used.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("\"{text}\" cannot name a {what}: {why}")]
pub struct BadId {
    /// What was to be named.
    pub what: &'static str,
    /// The text offered, cut to 40 characters.
    pub text: String,
    /// Why it will not do.
    pub why: &'static str,
}

/// Longest name allowed, in characters: it must fit a column of a run sheet.
pub const LONGEST_NAME: usize = 32;

fn check(what: &'static str, text: &str) -> Result<String, BadId> {
    let trimmed = text.trim();
    let bad = |why| BadId { what, text: trimmed.chars().take(40).collect(), why };
    if trimmed.is_empty() {
        return Err(bad("it is empty"));
    }
    if trimmed.chars().count() > LONGEST_NAME {
        return Err(bad("it is longer than 32 characters"));
    }
    if trimmed.chars().any(char::is_control) {
        return Err(bad("it holds a control character"));
    }
    Ok(trimmed.to_owned())
}

/// Declares ids that are the user's own short names.
macro_rules! names {
    ($($(#[$doc:meta])* $name:ident, $what:literal;)*) => {$(
        $(#[$doc])*
        #[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub struct $name(String);

        impl $name {
            /// Checks and keeps a name, trimmed of outer blanks.
            ///
            /// # Errors
            /// [`BadId`] when empty, longer than [`LONGEST_NAME`] or with control characters.
            pub fn new(text: &str) -> Result<Self, BadId> {
                check($what, text).map(Self)
            }
            /// The name as the user wrote it.
            pub fn as_str(&self) -> &str {
                &self.0
            }
        }
        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.pad(&self.0)
            }
        }
        impl FromStr for $name {
            type Err = BadId;
            fn from_str(text: &str) -> Result<Self, BadId> {
                Self::new(text)
            }
        }
    )*};
}

names! {
    /// A yard, by the name the outfit uses on its gates and lists: `7`, `North 3`.
    YardId, "yard";
    /// A crew that goes out together.
    CrewId, "crew";
    /// A truck.
    TruckId, "truck";
    /// A hive scale.
    ScaleId, "scale";
    /// A weather station.
    StationId, "weather station";
    /// A phone or computer on which entries are written.
    DeviceId, "device";
    /// A kind of gear: `deep`, `excluder`.
    GearCode, "kind of gear";
    /// A job of the job book: `single-down-blow`.
    JobCode, "job";
}

/// Orders yard names as people do: `2` before `10`, `A2` before `A10`.
///
/// ```
/// use outyard_base::{YardId, ids::in_reading_order};
/// let mut yards: Vec<YardId> = ["10", "2", "A10", "A2"].iter().map(|name| name.parse().unwrap()).collect();
/// yards.sort_by(|left, right| in_reading_order(left.as_str(), right.as_str()));
/// assert_eq!(yards.iter().map(YardId::as_str).collect::<Vec<_>>(), ["2", "10", "A2", "A10"]);
/// ```
pub fn in_reading_order(left: &str, right: &str) -> core::cmp::Ordering {
    let mut left_rest = left;
    let mut right_rest = right;
    loop {
        let (left_part, left_next, left_number) = split_run(left_rest);
        let (right_part, right_next, right_number) = split_run(right_rest);
        if left_part.is_empty() || right_part.is_empty() {
            return left_rest.cmp(right_rest);
        }
        let order = if left_number && right_number {
            let left_digits = left_part.trim_start_matches('0');
            let right_digits = right_part.trim_start_matches('0');
            left_digits
                .len()
                .cmp(&right_digits.len())
                .then_with(|| left_digits.cmp(right_digits))
                .then_with(|| left_part.len().cmp(&right_part.len()))
        } else {
            left_part.cmp(right_part)
        };
        if order.is_ne() {
            return order;
        }
        left_rest = left_next;
        right_rest = right_next;
    }
}

fn split_run(text: &str) -> (&str, &str, bool) {
    let Some(first) = text.chars().next() else { return ("", "", false) };
    let number = first.is_ascii_digit();
    let end = text.find(|letter: char| letter.is_ascii_digit() != number).unwrap_or(text.len());
    (&text[..end], &text[end..], number)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_is_trimmed_checked_and_kept() {
        assert_eq!(YardId::new("  North 3 ").unwrap().as_str(), "North 3");
        assert_eq!(YardId::new("   ").unwrap_err().to_string(), "\"\" cannot name a yard: it is empty");
        assert!(YardId::new("a\u{7}b").is_err());
        assert!(YardId::new(&"y".repeat(33)).is_err());
        assert!(YardId::new(&"é".repeat(32)).is_ok());
    }
}
