//! Counting in civil days.

use jiff::civil::Date;
use jiff::{SignedDuration, Span};

use crate::trouble::Trouble;

/// The date `days` later (earlier when negative); stays within the years 1 to 9999.
///
/// ```
/// use jiff::civil::date;
/// use outyard_base::days::{days_from, plus_days};
/// assert_eq!(plus_days(date(2026, 7, 3), 25), date(2026, 7, 28));
/// assert_eq!(days_from(date(2026, 7, 3), date(2026, 7, 28)), 25);
/// ```
pub fn plus_days(date: Date, days: i64) -> Date {
    date.saturating_add(SignedDuration::from_hours(days.clamp(-3_700_000, 3_700_000) * 24))
}

/// Days from one date to another; negative when `to` comes first.
pub fn days_from(from: Date, to: Date) -> i64 {
    to.duration_since(from).as_hours() / 24
}

/// All dates from `first` to `last`, both included; none when `last` comes first.
pub fn each_day(first: Date, last: Date) -> impl Iterator<Item = Date> {
    first.series(Span::new().days(1)).take_while(move |day| *day <= last)
}

/// Reads a date written as `2026-07-03` and nothing else; a date outside 1900 to 2199 is taken for a slip.
///
/// # Errors
/// `DAT-001` when it is no such date.
pub fn read_date(text: &str) -> Result<Date, Trouble> {
    let trimmed = text.trim();
    let digits = |range: core::ops::Range<usize>| {
        trimmed.as_bytes().get(range).is_some_and(|part| part.iter().all(u8::is_ascii_digit))
    };
    let shape = trimmed.len() == 10
        && digits(0..4)
        && digits(5..7)
        && digits(8..10)
        && trimmed.as_bytes()[4] == b'-'
        && trimmed.as_bytes()[7] == b'-';
    let date = if shape { trimmed.parse::<Date>().ok() } else { None };
    match date {
        Some(date) if (1900..=2199).contains(&date.year()) => Ok(date),
        _ => Err(Trouble::new(
            "DAT-001",
            format!("\"{}\" is no date", trimmed.chars().take(40).collect::<String>()),
            "write the date as year-month-day, such as 2026-07-03",
        )),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;

    #[test]
    fn days_cross_leap_february_and_year_ends() {
        assert_eq!(days_from(date(2024, 2, 28), date(2024, 3, 1)), 2);
        assert_eq!(days_from(date(2026, 1, 1), date(2025, 12, 31)), -1);
        assert_eq!(plus_days(date(2024, 2, 29), 365), date(2025, 2, 28));
        assert_eq!(each_day(date(2026, 6, 29), date(2026, 7, 2)).count(), 4);
        assert_eq!(each_day(date(2026, 7, 2), date(2026, 7, 1)).count(), 0);
    }

    #[test]
    fn only_plain_dates_are_read() {
        assert_eq!(read_date(" 2026-07-03 ").unwrap(), date(2026, 7, 3));
        for text in [
            "",
            "3.7.2026",
            "2026-02-30",
            "20260703",
            "2026-7-3",
            "1026-07-03",
            "2026-07-03T05:40",
            "2026_07_03",
            "２０２６-07-03",
        ] {
            assert_eq!(read_date(text).unwrap_err().code, "DAT-001", "{text}");
        }
    }
}
