//! A round through all yards at an even pace, and what days of rain do to it.
//!
//! The brood clocks of the yards already done stand where they stood; the fill clock and the end of the round move.
//! This is the sum a producer does on the tailgate; the run planner does the same with real runs.

use std::collections::BTreeSet;

use jiff::civil::Date;
use outyard_base::days::{days_from, plus_days};
use outyard_base::{Kilograms, KilogramsPerDay, Trouble};
use outyard_season::fill::{FillState, QUEEN_CHECK_DAY, ReturnBy, Room, fill_day, held_after, return_by};
use outyard_trade::clocks::{ClockStart, DatedMark, dated_marks};

/// A round as planned, and the weather that comes across it.
#[derive(Clone, Debug, PartialEq)]
pub struct Round {
    /// Yards to do.
    pub yards: u32,
    /// Yards all crews together do in a working day.
    pub yards_per_day: u32,
    /// First working day.
    pub start: Date,
    /// Days on which no yard can be done.
    pub rain: BTreeSet<Date>,
    /// Gain of a colony on a good day.
    pub gain: KilogramsPerDay,
    /// Gain of a colony on a day of rain.
    pub gain_in_rain: KilogramsPerDay,
    /// Room above the excluder at the put-down.
    pub room: Room,
}

/// What becomes of a round.
#[derive(Clone, Debug, PartialEq)]
pub struct RoundOutcome {
    /// Yards done on each working day.
    pub days: Vec<(Date, u32)>,
    /// Day on which the last yard is done.
    pub finish: Date,
    /// Brood clocks of the yards done on the first day: they never move.
    pub clocks: Vec<DatedMark>,
    /// Honey above the excluder of those yards on the first dry morning after the rain, by days since the put-down.
    pub held: Option<(i64, Kilograms)>,
    /// Days after the put-down on which their boxes are full.
    pub full_after_days: Option<f64>,
    /// By when a crew must be back for room, and for the queen check.
    pub back: ReturnBy,
    /// Clear days between the end of the round and the first return for room.
    pub slack_days: Option<i64>,
}

/// A round with and without its rain.
#[derive(Clone, Debug, PartialEq)]
pub struct RainSum {
    /// As it was planned.
    pub dry: RoundOutcome,
    /// As it comes out.
    pub wet: RoundOutcome,
}

/// Longest round looked at, in days.
const DAYS_MAX: i64 = 400;

impl Round {
    /// Checks a round.
    ///
    /// # Errors
    /// `RND-001` no yards or no pace, `RND-002` rain without end.
    pub fn checked(self) -> Result<Self, Trouble> {
        if self.yards == 0 || self.yards_per_day == 0 {
            return Err(Trouble::new(
                "RND-001",
                format!("{} yards at {} a day make no round", self.yards, self.yards_per_day),
                "give at least one yard and one yard a day",
            ));
        }
        let days =
            i64::from(self.yards.div_ceil(self.yards_per_day)) + i64::try_from(self.rain.len()).unwrap_or(i64::MAX);
        if days > DAYS_MAX {
            return Err(Trouble::new(
                "RND-002",
                format!("the round would last {days} days"),
                format!("give a round of at most {DAYS_MAX} days"),
            ));
        }
        Ok(self)
    }

    /// Works out the round with and without its rain.
    pub fn sum(&self) -> RainSum {
        RainSum { dry: self.outcome(&BTreeSet::new()), wet: self.outcome(&self.rain) }
    }

    fn outcome(&self, rain: &BTreeSet<Date>) -> RoundOutcome {
        let mut days = Vec::new();
        let mut left = self.yards;
        let mut day = self.start;
        while left > 0 {
            if !rain.contains(&day) {
                let done = left.min(self.yards_per_day);
                days.push((day, done));
                left -= done;
            }
            day = plus_days(day, 1);
        }
        let finish = days.last().map_or(self.start, |(date, _)| *date);
        let put_down = days.first().map_or(self.start, |(date, _)| *date);
        let gains: Vec<f64> = (0..DAYS_MAX)
            .map(|ahead| if rain.contains(&plus_days(put_down, ahead)) { self.gain_in_rain } else { self.gain }.get())
            .collect();
        let full_after_days = fill_day(&self.room, FillState::default(), &gains);
        let back = return_by(full_after_days, QUEEN_CHECK_DAY);
        let held = rain.last().and_then(|last| usize::try_from(days_from(put_down, *last) + 1).ok()).map(|until| {
            let until = until.min(gains.len());
            (i64::try_from(until).unwrap_or(i64::MAX), held_after(FillState::default(), &gains[..until]))
        });
        let slack_days = back.for_room.map(|day| days_from(finish, plus_days(put_down, day)) - 1);
        RoundOutcome {
            days,
            finish,
            clocks: dated_marks(ClockStart::ExcluderUnderBrood, put_down),
            held,
            full_after_days,
            back,
            slack_days,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;

    fn scene_6() -> Round {
        Round {
            yards: 40,
            yards_per_day: 6,
            start: date(2026, 7, 3),
            rain: (6..=8).map(|day| date(2026, 7, day)).collect(),
            gain: KilogramsPerDay::of(3.0),
            gain_in_rain: KilogramsPerDay::of(-0.5),
            room: Room::new(Kilograms::of(24.0), Kilograms::of(24.0)),
        }
    }

    // Scene S6.
    #[test]
    fn scene_6_three_days_of_rain() {
        let sum = scene_6().checked().unwrap().sum();
        assert_eq!(sum.dry.finish, date(2026, 7, 9));
        assert_eq!(sum.wet.days.iter().filter(|(day, _)| *day < date(2026, 7, 6)).map(|day| day.1).sum::<u32>(), 18);
        assert_eq!(sum.wet.days.last(), Some(&(date(2026, 7, 12), 4)));
        assert_eq!(sum.wet.finish, date(2026, 7, 12));
        assert_eq!(sum.wet.clocks, sum.dry.clocks);
        let (day, held) = sum.wet.held.unwrap();
        assert!(day == 6 && (held.get() - 7.5).abs() < 1e-9);
        assert!((sum.wet.full_after_days.unwrap() - 18.58).abs() < 0.01);
        assert_eq!(sum.dry.back.dates(date(2026, 7, 3)).0, Some(date(2026, 7, 15)));
        assert_eq!(sum.wet.back.dates(date(2026, 7, 3)).0, Some(date(2026, 7, 21)));
        assert_eq!((sum.dry.slack_days, sum.wet.slack_days), (Some(5), Some(8)));
    }

    proptest::proptest! {
        #[test]
        fn rain_never_moves_a_brood_clock_and_never_ends_a_round_sooner(
            yards in 1_u32..80, pace in 1_u32..12, rain in proptest::collection::btree_set(1_i64..30, 0..10),
        ) {
            let round = Round {
                yards,
                yards_per_day: pace,
                rain: rain.iter().map(|ahead| plus_days(date(2026, 7, 3), *ahead)).collect(),
                ..scene_6()
            };
            let sum = round.sum();
            proptest::prop_assert_eq!(&sum.wet.clocks, &sum.dry.clocks);
            proptest::prop_assert!(sum.wet.finish >= sum.dry.finish);
            proptest::prop_assert_eq!(sum.wet.days.iter().map(|day| day.1).sum::<u32>(), yards);
            proptest::prop_assert!(sum.wet.days.iter().all(|(day, _)| !round.rain.contains(day)));
        }
    }

    #[test]
    fn a_round_of_nothing_is_refused() {
        assert_eq!(Round { yards: 0, ..scene_6() }.checked().unwrap_err().code, "RND-001");
        assert_eq!(Round { yards_per_day: 0, ..scene_6() }.checked().unwrap_err().code, "RND-001");
        assert_eq!(Round { yards: 4000, ..scene_6() }.checked().unwrap_err().code, "RND-002");
    }
}
