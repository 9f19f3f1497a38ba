//! Which way of putting down costs least, all told.
//!
//! Cost per double = wages + failures + falling back + honey lost while the others wait. A double waits half the
//! time the whole round takes; the time of falling back is paid for but not added to the round, being small.
//!
//! | symbol | name in code | meaning | unit | source |
//! |---|---|---|---|---|
//! | m | `Job::pair_minutes` | work at a double | pair min | job book |
//! | f | `Job::fails` | queen missed or lost | of 1 | job book |
//! | h | `pair_hours` | the whole round: N·m/60 + other work | pair h | arithmetic |
//! | d | `days` | h / (pairs x hours a day) | d | arithmetic |
//! | w | `Worth::late_put_down_kg_per_day` | lost per double and day of waiting | kg/d | job book |

use outyard_base::{Cents, JobCode, Share};

use crate::jobbook::{Job, JobBook};
use crate::kinds::Kind;

/// Hands in a pair.
const PAIR: f64 = 2.0;

/// The round to be made.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PutDownRound {
    /// Doubles to put down.
    pub doubles: u32,
    /// Pair hours that come whatever the method: setup of every yard, brood lifts.
    pub other_pair_hours: f64,
    /// Pairs at work.
    pub pairs: u32,
    /// Hours a pair works in a day.
    pub hours_per_day: f64,
}

/// What a method costs.
#[derive(Clone, Debug, PartialEq)]
pub struct MethodCost {
    /// The job.
    pub job: JobCode,
    /// The whole round, in pair hours.
    pub pair_hours: f64,
    /// Working days it takes.
    pub days: f64,
    /// Wages per double.
    pub wages: Cents,
    /// Missed and lost queens per double.
    pub failures: Cents,
    /// Falling back on another method, per double.
    pub falling_back: Cents,
    /// Honey lost by waiting, per double.
    pub waiting: Cents,
}

impl MethodCost {
    /// All of it, per double.
    pub fn per_double(&self) -> Cents {
        self.wages + self.failures + self.falling_back + self.waiting
    }

    /// The share of failures at which this method would cost as much as another; `None` when even certain failure
    /// would not reach it, or when it costs more without any.
    pub fn fails_to_equal(&self, other: &Self, book: &JobBook) -> Option<Share> {
        let room = other.per_double() - (self.per_double() - self.failures);
        Share::new(room.amount() / book.worth.late_queen().amount()).ok()
    }
}

/// Works out what a job of putting doubles down costs over a round. `None` when the job is not for doubles.
///
/// # Panics
/// Without doubles, pairs or hours in the round.
pub fn method_cost(book: &JobBook, job: &Job, round: &PutDownRound) -> Option<MethodCost> {
    assert!(round.doubles > 0 && round.pairs > 0 && round.hours_per_day > 0.0, "a round has doubles, pairs and hours");
    let minutes = double_minutes(job)?;
    let pair_minute = PAIR * book.worth.wage_per_hour.amount() / 60.0;
    let pair_hours = f64::from(round.doubles) * minutes / 60.0 + round.other_pair_hours;
    let days = pair_hours / (f64::from(round.pairs) * round.hours_per_day);
    let fall_back = job.falls_back.as_ref().map_or(0.0, |fall_back| {
        let other = book.jobs.get(&fall_back.job).expect("looked up when the book was read");
        fall_back.share.get() * double_minutes(other).unwrap_or(0.0)
    });
    let lost_per_day = book.worth.late_put_down_kg_per_day * book.worth.honey_per_kg.amount();
    Some(MethodCost {
        job: job.code.clone(),
        pair_hours,
        days,
        wages: Cents::round_of(minutes * pair_minute),
        failures: Cents::round_of(job.fails.get() * book.worth.late_queen().amount()),
        falling_back: Cents::round_of(fall_back * pair_minute),
        waiting: Cents::round_of(days / 2.0 * lost_per_day),
    })
}

fn double_minutes(job: &Job) -> Option<f64> {
    job.kinds.contains(&Kind::Double).then(|| job.pair_minutes[&Kind::Double])
}

#[cfg(test)]
mod tests {
    use super::*;

    fn cost(code: &str, round: &PutDownRound) -> MethodCost {
        let book = JobBook::standard();
        method_cost(&book, book.job(code).unwrap(), round).unwrap()
    }

    const REFERENCE: PutDownRound =
        PutDownRound { doubles: 900, other_pair_hours: 40.0 + 300.0 * 5.0 / 60.0, pairs: 2, hours_per_day: 8.0 };

    // Scene S9, worked by hand there: 125 / 200 / 245 pair h, 7.8 / 12.5 / 15.3 d, 18.92 / 27.95 / 33.95 a double.
    #[test]
    fn the_reference_round_costs_what_the_hand_sum_says() {
        for (code, pair_hours, days, per_double) in [
            ("single-down-blow", 125.0, 7.8, 18.92),
            ("single-down-shake", 200.0, 12.5, 27.95),
            ("single-down-search", 245.0, 15.3, 33.95),
        ] {
            let cost = cost(code, &REFERENCE);
            assert!((cost.pair_hours - pair_hours).abs() < 1e-9, "{code}: {}", cost.pair_hours);
            assert!((cost.days - days).abs() < 0.05, "{code}: {}", cost.days);
            assert!((cost.per_double().amount() - per_double).abs() < 0.011, "{code}: {}", cost.per_double());
        }
    }

    // Scene S9: switch only if the own failure rate passes 13.0 %.
    #[test]
    fn blowing_stays_best_until_thirteen_in_a_hundred_fail() {
        let book = JobBook::standard();
        let (blow, shake) = (cost("single-down-blow", &REFERENCE), cost("single-down-shake", &REFERENCE));
        let share = blow.fails_to_equal(&shake, &book).unwrap().get();
        assert!((share - 0.130).abs() < 0.0005, "{share}");
    }

    #[test]
    fn a_job_that_is_not_for_doubles_has_no_cost_here() {
        let book = JobBook::standard();
        assert_eq!(method_cost(&book, book.job("brood-lift").unwrap(), &REFERENCE), None);
    }

    #[test]
    fn more_pairs_shorten_the_round_and_only_the_waiting() {
        let two = cost("single-down-blow", &REFERENCE);
        let three = cost("single-down-blow", &PutDownRound { pairs: 3, ..REFERENCE });
        assert!((three.days - 5.2).abs() < 0.05, "job facts 3.8: three pairs 5.2 days, found {}", three.days);
        assert_eq!((two.wages, two.failures), (three.wages, three.failures));
        assert!(three.waiting < two.waiting);
    }
}
