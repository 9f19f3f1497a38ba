//! Every estimate has a range, every date an early, a likely and a late.

use core::fmt;

use jiff::civil::Date;

/// A low, a likely and a high value: the 10, 50 and 90 % points unless the maker says otherwise.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Range<T> {
    /// One in ten falls below.
    pub low: T,
    /// As many above as below.
    pub likely: T,
    /// One in ten falls above.
    pub high: T,
}

impl<T: PartialOrd + Copy> Range<T> {
    /// Puts three values in order; the middle one is the likely one.
    pub fn new(low: T, likely: T, high: T) -> Option<Self> {
        (low <= likely && likely <= high).then_some(Self { low, likely, high })
    }

    /// A value known outright.
    pub fn exact(value: T) -> Self {
        Self { low: value, likely: value, high: value }
    }

    /// Changes the unit or the meaning of all three; `change` must keep the order.
    pub fn map<U>(self, change: impl Fn(T) -> U) -> Range<U> {
        Range { low: change(self.low), likely: change(self.likely), high: change(self.high) }
    }
}

impl Range<f64> {
    /// The 10, 50 and 90 % points of a sample, by linear interpolation between order statistics
    /// (Hyndman & Fan 1996, type 7). `None` when the sample is empty or holds a NaN.
    pub fn of_sample(sample: &[f64]) -> Option<Self> {
        let mut sorted = sample.to_vec();
        if sorted.is_empty() || sorted.iter().any(|value| value.is_nan()) {
            return None;
        }
        sorted.sort_by(f64::total_cmp);
        Some(Self { low: quantile(&sorted, 0.1), likely: quantile(&sorted, 0.5), high: quantile(&sorted, 0.9) })
    }
}

/// The point below which a share of a sorted, non-empty sample falls (Hyndman & Fan 1996, type 7).
#[expect(
    clippy::cast_precision_loss,
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "an index into a sample that fits in memory"
)]
pub fn quantile(sorted: &[f64], share: f64) -> f64 {
    let position = share.clamp(0.0, 1.0) * (sorted.len() - 1) as f64;
    let below = position.floor() as usize;
    let above = position.ceil() as usize;
    let part = position - position.floor();
    // Two equal infinities would give NaN by subtraction.
    if below == above || sorted[below].total_cmp(&sorted[above]).is_eq() {
        return sorted[below];
    }
    sorted[below] + (sorted[above] - sorted[below]) * part
}

/// An early, a likely and a late date. `None` means: not within the days looked at.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub struct DateRange {
    /// One in ten comes before.
    pub early: Option<Date>,
    /// As often before as after.
    pub likely: Option<Date>,
    /// One in ten comes after.
    pub late: Option<Date>,
}

impl DateRange {
    /// A date known outright.
    pub fn exact(date: Date) -> Self {
        Self { early: Some(date), likely: Some(date), late: Some(date) }
    }

    /// From one date per member; a member in which it never happens counts as later than all dates.
    /// The points are order statistics: no date is made up between two members.
    #[expect(
        clippy::cast_precision_loss,
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "an index into a list of members"
    )]
    pub fn of_members(members: impl IntoIterator<Item = Option<Date>>) -> Self {
        let mut all: Vec<Option<Date>> = members.into_iter().collect();
        if all.is_empty() {
            return Self::default();
        }
        all.sort_by_key(|date| (date.is_none(), *date));
        let at = |share: f64| {
            let rank = (share * all.len() as f64).ceil().max(1.0) as usize - 1;
            all[rank.min(all.len() - 1)]
        };
        Self { early: at(0.1), likely: at(0.5), late: at(0.9) }
    }

    /// True when none of the three falls within the days looked at.
    pub fn is_never(&self) -> bool {
        self.early.is_none() && self.likely.is_none() && self.late.is_none()
    }
}

/// `3 Jul (1 Jul to 7 Jul)`, or words when it may not happen.
impl fmt::Display for DateRange {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match (self.early, self.likely, self.late) {
            (None, _, _) => f.write_str("not in sight"),
            (Some(early), None, _) => write!(f, "perhaps, not before {}", day_month(early)),
            (Some(early), Some(likely), Some(late)) if early == likely && likely == late => {
                f.write_str(&day_month(likely))
            }
            (Some(early), Some(likely), Some(late)) => {
                write!(f, "{} ({} to {})", day_month(likely), day_month(early), day_month(late))
            }
            (Some(early), Some(likely), None) => {
                write!(f, "{} ({} or much later)", day_month(likely), day_month(early))
            }
        }
    }
}

/// A date as a page shows it inside one season: `3 Jul`.
pub fn day_month(date: Date) -> String {
    const MONTHS: [&str; 12] = ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"];
    let month = usize::try_from(date.month() - 1).expect("a civil month is 1 to 12");
    format!("{} {}", date.day(), MONTHS[month])
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;

    // numpy 2.4 percentile([1,2,3,4,10], [10,50,90]) = 1.4, 3.0, 7.6 (method "linear", the default).
    #[test]
    fn sample_points_match_a_reference_library() {
        let range = Range::of_sample(&[10.0, 1.0, 4.0, 2.0, 3.0]).unwrap();
        assert!((range.low - 1.4).abs() < 1e-12);
        assert!((range.likely - 3.0).abs() < 1e-12);
        assert!((range.high - 7.6).abs() < 1e-12);
        assert!(Range::of_sample(&[]).is_none());
        assert!(Range::of_sample(&[1.0, f64::NAN]).is_none());
    }

    #[test]
    fn members_that_never_come_make_the_late_end_open() {
        let first = date(2026, 7, 1);
        let mut members: Vec<_> = (0..8).map(|n| Some(first.saturating_add(jiff::Span::new().days(n)))).collect();
        members.push(None);
        members.push(None);
        let range = DateRange::of_members(members);
        assert_eq!(range.early, Some(first));
        assert_eq!(range.likely, Some(date(2026, 7, 5)));
        assert_eq!(range.late, None);
        assert_eq!(range.to_string(), "5 Jul (1 Jul or much later)");
        assert!(DateRange::of_members(std::iter::empty()).is_never());
    }
}
