//! What waiting costs: for each day of the plan the money lost by then, in each member and on the whole.
//!
//! Honey with no room, swarms, plugged nests, a queen above and late treatment come from the season's colony model
//! (`outyard_season::waiting`). What that model does not know has its rule here.
//!
//! | symbol | name in code | meaning | unit | value | source |
//! |---|---|---|---|---|---|
//! | c | `CELLS_SHARE` | colonies with unwanted cells above | of 1 | 0.10 | assumed |
//! | v | `VIRGIN_DAYS` | days over which virgins leave such cells | d | 7 | stage table: days 10 to 17 |
//! | w | `WINTER_POINTS_PER_DAY` | winter loss added by a day a wash for mites is late | of 1 | 0.2/30 | common practice, no source: 20 points in a month |
//! | s | `STARVE_SHARE_PER_DAY` | colonies lost by a day of late feed | of 1 | 0.05/30 | common practice, no source: 5 % in a month |

use outyard_base::{Cents, Range};
use outyard_season::waiting::{Cause, WaitingCosts};

/// Part of the colonies with unwanted cells above: assumed.
pub(super) const CELLS_SHARE: f64 = 0.10;
/// Days over which virgins leave unwanted cells.
pub(super) const VIRGIN_DAYS: f64 = 7.0;
/// Winter loss added by each day a wash for mites is late.
pub(super) const WINTER_POINTS_PER_DAY: f64 = 0.2 / 30.0;
/// Colonies lost by each day of late feed.
pub(super) const STARVE_SHARE_PER_DAY: f64 = 0.05 / 30.0;

/// Money lost by the start of each day of the plan, and by the day after it, member by member.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct WaitingCurve {
    /// `money[member][day]`, in whole money units; one day longer than the plan.
    money: Vec<Vec<f64>>,
}

impl WaitingCurve {
    /// A curve that is the same in every member.
    pub fn certain(members: usize, money: Vec<f64>) -> Self {
        Self { money: vec![money; members.max(1)] }
    }

    /// What the colony model says of some causes.
    pub fn of_model(costs: &WaitingCosts, causes: &[Cause]) -> Self {
        Self { money: (0..costs.members()).map(|member| costs.of_member(member, causes)).collect() }
    }

    /// True for the curve of nothing.
    pub fn is_empty(&self) -> bool {
        self.money.is_empty()
    }

    /// What is lost from a day of the plan on: what is lost before it is lost whoever comes when.
    #[must_use]
    pub fn counted_from(mut self, day: usize) -> Self {
        for member in self.money.iter_mut().filter(|_| day > 0) {
            let before = member.get(day).or(member.last()).copied().unwrap_or(0.0);
            for money in member {
                *money = (*money - before).max(0.0);
            }
        }
        self
    }

    /// Adds another curve of the same members and days.
    #[must_use]
    pub fn and(mut self, other: &Self) -> Self {
        if self.money.is_empty() {
            return other.clone();
        }
        for (mine, theirs) in self.money.iter_mut().zip(&other.money) {
            for (mine, theirs) in mine.iter_mut().zip(theirs) {
                *mine += theirs;
            }
        }
        self
    }

    /// Money lost by each day in one member; a curve with fewer members says the same in all that come after.
    pub fn in_member(&self, member: usize) -> Vec<Cents> {
        let at = member.min(self.money.len().saturating_sub(1));
        self.money.get(at).map_or_else(Vec::new, |money| money.iter().map(|money| Cents::round_of(*money)).collect())
    }

    /// Expected money lost by each day.
    pub fn expected(&self) -> Vec<Cents> {
        mean_curve(&self.money).into_iter().map(Cents::round_of).collect()
    }

    /// Expected money lost by one day; past the last day the last.
    pub fn expected_on(&self, day: usize) -> Cents {
        let curve = mean_curve(&self.money);
        curve.get(day).or(curve.last()).map_or(Cents::ZERO, |money| Cents::round_of(*money))
    }

    /// Range over the members of the money lost by one day.
    pub fn range_on(&self, day: usize) -> Range<Cents> {
        let sample: Vec<f64> = self.money.iter().filter_map(|member| member.get(day)).copied().collect();
        Range::of_sample(&sample).map_or(Range::exact(Cents::ZERO), |range| range.map(Cents::round_of))
    }

    /// Expected money lost by waiting from one day to another; past the last day, to the last.
    pub fn between(&self, from: usize, to: usize) -> Cents {
        self.expected_on(to) - self.expected_on(from)
    }

    /// Expected money lost by waiting from one day to the next.
    pub fn a_day_more(&self, day: usize) -> Cents {
        let curve = mean_curve(&self.money);
        match (curve.get(day), curve.get(day + 1)) {
            (Some(now), Some(next)) => Cents::round_of(next - now),
            _ => Cents::ZERO,
        }
    }
}

/// Mean over members of curves of one length.
#[expect(clippy::cast_precision_loss, reason = "a count of members")]
pub fn mean_curve(members: &[Vec<f64>]) -> Vec<f64> {
    let Some(first) = members.first() else { return Vec::new() };
    let mut sum = vec![0.0; first.len()];
    for member in members {
        for (sum, value) in sum.iter_mut().zip(member) {
            *sum += value;
        }
    }
    sum.iter().map(|value| value / members.len() as f64).collect()
}

/// A loss that grows evenly from one day of the plan on and, if `over_days` is given, stops growing after so many days.
#[expect(clippy::cast_precision_loss, reason = "days of one plan")]
pub(super) fn evenly_from(
    members: usize,
    first_day: i64,
    per_day: f64,
    over_days: Option<f64>,
    days: usize,
) -> WaitingCurve {
    let money = (0..=days)
        .map(|day| {
            let late = (day as f64 - first_day as f64).max(0.0);
            per_day * over_days.map_or(late, |most| late.min(most))
        })
        .collect();
    WaitingCurve::certain(members, money)
}
