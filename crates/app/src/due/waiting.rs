//! What waiting costs: for each day of the plan the money lost by then, in each member and on the whole.
//!
//! | symbol | name in code | meaning | unit | value | source |
//! |---|---|---|---|---|---|
//! | L | `lost_once_full` | part of the gain lost once boxes are full | of 1 | 0.6 | common practice, no source |
//! | l | `late_put_down_kg_per_day` | honey lost a day by a double not put down in the flow | kg/d | 0.6 | common practice, no source |
//! | c | `CELLS_SHARE` | colonies with unwanted cells above | of 1 | 0.10 | assumed |
//! | v | `VIRGIN_DAYS` | days over which virgins leave such cells | d | 7 | stage table: days 10 to 17 |
//! | f | `Job::fails` | colonies whose queen was missed at the put-down | of 1 | 0.04 | common practice, no source |
//! | q | `QUEEN_UP_DAYS` | days over which a queen above costs what a late queen does | d | 14 | assumed |
//! | w | `WINTER_POINTS_PER_DAY` | winter loss added by a day of late treatment | of 1 | 0.2/30 | common practice, no source: 20 points in a month |
//! | s | `STARVE_SHARE_PER_DAY` | colonies lost by a day of late feed | of 1 | 0.05/30 | common practice, no source: 5 % in a month |

use outyard_base::{Cents, Kilograms, Range};
use outyard_trade::jobbook::Worth;

use super::YardSeason;
use super::stack::{Stack, vigour};

/// Part of the colonies with unwanted cells above: assumed.
pub(super) const CELLS_SHARE: f64 = 0.10;
/// Days over which virgins leave unwanted cells.
pub(super) const VIRGIN_DAYS: f64 = 7.0;
/// Days over which a queen above costs what a late queen does: assumed.
pub(super) const QUEEN_UP_DAYS: f64 = 14.0;
/// Winter loss added by each day of late treatment.
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

/// Honey with no room: once a stack is full, a share of each day's gain is lost.
pub(super) fn no_room(season: &YardSeason, stack: &Stack, worth: &Worth, days: usize) -> WaitingCurve {
    let share = worth.lost_once_full.get();
    let money = season
        .gain
        .iter()
        .map(|gains| {
            let full_in = stack.full_in(gains).unwrap_or(f64::INFINITY);
            let mut lost_kg = 0.0;
            (0..=days)
                .map(|day| {
                    let so_far = price(worth, lost_kg * f64::from(stack.colonies));
                    #[expect(clippy::cast_precision_loss, reason = "days of one plan")]
                    let standing_full = (day as f64 + 1.0 - full_in).clamp(0.0, 1.0);
                    let gain = gains.get(day).copied().unwrap_or(0.0).max(0.0) * vigour(stack.kind);
                    lost_kg += gain * standing_full * share;
                    so_far
                })
                .collect()
        })
        .collect();
    WaitingCurve { money }
}

/// Colonies not put down while the flow runs.
pub(super) fn not_put_down(
    season: &YardSeason,
    colonies: u32,
    kg_per_day: f64,
    worth: &Worth,
    days: usize,
) -> WaitingCurve {
    let money = season
        .gain
        .iter()
        .map(|gains| {
            let mut lost_kg = 0.0;
            (0..=days)
                .map(|day| {
                    let so_far = price(worth, lost_kg * f64::from(colonies));
                    if gains.get(day).is_some_and(|gain| *gain >= season.flow_threshold_kg_per_day) {
                        lost_kg += kg_per_day;
                    }
                    so_far
                })
                .collect()
        })
        .collect();
    WaitingCurve { money }
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

fn price(worth: &Worth, honey_kg: f64) -> f64 {
    worth.of_honey(Kilograms::of(honey_kg)).amount()
}
