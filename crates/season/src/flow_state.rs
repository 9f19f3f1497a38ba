//! Has the flow begun, and is it over: the rule a producer keeps in his head, on net gains midnight to midnight.
//!
//! The flow begins on the first of `days_running` days in a row that reach the threshold, and is known on the evening
//! of the last of them. It ends on the first of as many days in a row below it. A night without a reading breaks a
//! row: nobody knows what it was.
//!
//! | symbol | name in code | meaning | unit | value | source |
//! |---|---|---|---|---|---|
//! | g* | `threshold` | net gain that counts as flow | kg/d | 1.0 | common practice, no source |
//! | n | `days_running` | days in a row that decide | d | 2 | common practice, no source |

use jiff::civil::Date;
use outyard_base::KilogramsPerDay;
use outyard_base::days::{days_from, plus_days};

/// The producer's own rule.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FlowRule {
    /// Net gain of a day that counts as flow.
    pub threshold: KilogramsPerDay,
    /// Days in a row that decide, at least 1.
    pub days_running: u32,
}

impl Default for FlowRule {
    /// Two days running of at least 1 kg. Common practice, no source.
    fn default() -> Self {
        Self { threshold: KilogramsPerDay::of(1.0), days_running: 2 }
    }
}

/// What the nights seen so far say.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum FlowState {
    /// The flow is on.
    On {
        /// First day of it.
        since: Date,
        /// Evening on which the rule was met.
        known_on: Date,
    },
    /// It has not begun this season.
    NotYet {
        /// Days in a row, up to the last night seen, that reached the threshold.
        days_met: u32,
        /// First evening on which the answer can change; `None` with no nights at all.
        look_again: Option<Date>,
    },
    /// It began and is over.
    Off {
        /// First day without flow.
        since: Date,
        /// Evening on which that was known.
        known_on: Date,
        /// First day of the flow that ended.
        began: Date,
        /// Days in a row, up to the last night seen, that reached the threshold again.
        days_met: u32,
        /// First evening on which the answer can change.
        look_again: Date,
    },
}

/// One spell of flow.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct FlowSpell {
    /// First day of flow.
    pub began: Date,
    /// First day without, once it is known.
    pub ended: Option<Date>,
}

/// Counts rows of days on either side of the threshold.
struct Walk {
    days_running: u32,
    on: Option<(Date, Date)>,
    off: Option<(Date, Date, Date)>,
    row: u32,
    last: Option<Date>,
}

impl Walk {
    fn new(days_running: u32) -> Self {
        Self { days_running: days_running.max(1), on: None, off: None, row: 0, last: None }
    }

    /// Takes one day; `meets` says whether it reached the threshold.
    fn take(&mut self, date: Date, meets: bool) {
        if self.last.is_some_and(|last| days_from(last, date) != 1) {
            self.row = 0;
        }
        self.last = Some(date);
        // While the flow is on, the row counts the days against it.
        let counts = meets != self.on.is_some();
        self.row = if counts { self.row + 1 } else { 0 };
        if self.row == self.days_running {
            let first = plus_days(date, 1 - i64::from(self.days_running));
            match self.on.take() {
                None => {
                    self.on = Some((first, date));
                    self.off = None;
                }
                Some((began, _)) => self.off = Some((first, date, began)),
            }
            self.row = 0;
        }
    }

    fn state(&self) -> FlowState {
        let look_again = self.last.map(|last| plus_days(last, i64::from(self.days_running - self.row)));
        match (self.on, self.off, look_again) {
            (Some((since, known_on)), _, _) => FlowState::On { since, known_on },
            (None, Some((since, known_on, began)), Some(look_again)) => {
                FlowState::Off { since, known_on, began, days_met: self.row, look_again }
            }
            _ => FlowState::NotYet { days_met: self.row, look_again },
        }
    }
}

/// Sorts nights by date; of two with the same date the later in the list is left out.
fn in_order(nights: &[(Date, KilogramsPerDay)]) -> Vec<(Date, KilogramsPerDay)> {
    let mut sorted = nights.to_vec();
    sorted.sort_by_key(|night| night.0);
    sorted.dedup_by_key(|night| night.0);
    sorted
}

/// Says whether the flow is on, by the nights seen so far, in any order.
///
/// ```
/// use jiff::civil::date;
/// use outyard_base::KilogramsPerDay;
/// use outyard_season::{FlowRule, FlowState, flow_state};
/// let nights: Vec<_> = [0.2, 0.4, 1.1, 1.8, 2.4]
///     .into_iter()
///     .zip(1..)
///     .map(|(gain, day)| (date(2026, 7, day), KilogramsPerDay::of(gain)))
///     .collect();
/// let state = flow_state(&nights, FlowRule::default());
/// assert_eq!(state, FlowState::On { since: date(2026, 7, 3), known_on: date(2026, 7, 4) });
/// ```
pub fn flow_state(nights: &[(Date, KilogramsPerDay)], rule: FlowRule) -> FlowState {
    let mut walk = Walk::new(rule.days_running);
    for (date, gain) in in_order(nights) {
        walk.take(date, gain >= rule.threshold);
    }
    walk.state()
}

/// Every spell of flow in the nights seen, in order.
pub fn flow_spells(nights: &[(Date, KilogramsPerDay)], rule: FlowRule) -> Vec<FlowSpell> {
    let mut walk = Walk::new(rule.days_running);
    let mut spells: Vec<FlowSpell> = Vec::new();
    for (date, gain) in in_order(nights) {
        let was_on = walk.on.is_some();
        walk.take(date, gain >= rule.threshold);
        match (was_on, walk.on, walk.off) {
            (false, Some((began, _)), _) => spells.push(FlowSpell { began, ended: None }),
            (true, None, Some((ended, _, _))) => {
                spells.last_mut().expect("a spell began before it ended").ended = Some(ended);
            }
            _ => {}
        }
    }
    spells
}

/// Where the rule stands on the eve of an outlook.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Running {
    rule: FlowRule,
    on: bool,
    row: u32,
}

impl Running {
    /// The stand after the nights seen before `first`. A night missing just before it breaks the row, not the flow.
    pub(crate) fn after(nights: &[(Date, KilogramsPerDay)], rule: FlowRule, first: Date) -> Self {
        let mut walk = Walk::new(rule.days_running);
        for (date, gain) in in_order(nights) {
            walk.take(date, gain >= rule.threshold);
        }
        let unbroken = walk.last.is_some_and(|last| days_from(last, first) == 1);
        Self { rule, on: walk.on.is_some(), row: if unbroken { walk.row } else { 0 } }
    }

    /// First day of the first flow and first day after the last one, counted from the first gain given (negative when
    /// the row began before it). The first is `None` when the flow was on already or never begins, the second when it
    /// never was on or still is on the last day.
    pub(crate) fn outer_spell(&self, gains_kg_per_day: impl Iterator<Item = f64>) -> (Option<i64>, Option<i64>) {
        let needed = self.rule.days_running.max(1);
        let (mut on, mut row) = (self.on, self.row);
        let (mut began, mut ended) = (None, None);
        for (gain, day) in gains_kg_per_day.zip(0_i64..) {
            row = if (gain >= self.rule.threshold.get()) == on { 0 } else { row + 1 };
            if row == needed {
                let first = day + 1 - i64::from(needed);
                if on {
                    ended = Some(first);
                } else {
                    began = began.or(Some(first));
                    ended = None;
                }
                on = !on;
                row = 0;
            }
        }
        (began, ended)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;

    fn nights(first: Date, gains: &[f64]) -> Vec<(Date, KilogramsPerDay)> {
        gains.iter().zip(0..).map(|(gain, day)| (plus_days(first, day), KilogramsPerDay::of(*gain))).collect()
    }

    // Scene S10.
    #[test]
    fn scene_10_has_it_started() {
        let north = nights(date(2026, 7, 1), &[0.2, 0.4, 1.1, 1.8, 2.4]);
        assert_eq!(
            flow_state(&north, FlowRule::default()),
            FlowState::On { since: date(2026, 7, 3), known_on: date(2026, 7, 4) }
        );
        let south = nights(date(2026, 7, 1), &[0.1, -0.2, 0.3, 0.9, 1.2]);
        assert_eq!(
            flow_state(&south, FlowRule::default()),
            FlowState::NotYet { days_met: 1, look_again: Some(date(2026, 7, 6)) }
        );
    }

    #[test]
    fn it_ends_on_the_first_of_two_days_below_and_may_come_again() {
        let rule = FlowRule::default();
        let first = date(2026, 7, 1);
        let gains = [1.5, 1.5, 0.2, 2.0, 0.3, -0.1, 0.0, 1.2, 1.3];
        assert_eq!(
            flow_state(&nights(first, &gains[..8]), rule),
            FlowState::Off {
                since: date(2026, 7, 5),
                known_on: date(2026, 7, 6),
                began: first,
                days_met: 1,
                look_again: date(2026, 7, 9)
            }
        );
        assert_eq!(
            flow_spells(&nights(first, &gains), rule),
            [
                FlowSpell { began: first, ended: Some(date(2026, 7, 5)) },
                FlowSpell { began: date(2026, 7, 8), ended: None }
            ]
        );
    }

    #[test]
    fn a_night_not_read_breaks_the_row() {
        let gap = [(date(2026, 7, 1), KilogramsPerDay::of(2.0)), (date(2026, 7, 3), KilogramsPerDay::of(2.0))];
        assert_eq!(
            flow_state(&gap, FlowRule::default()),
            FlowState::NotYet { days_met: 1, look_again: Some(date(2026, 7, 4)) }
        );
        assert_eq!(flow_state(&[], FlowRule::default()), FlowState::NotYet { days_met: 0, look_again: None });
    }

    #[test]
    fn exactly_the_threshold_counts() {
        let exact = nights(date(2026, 7, 1), &[1.0, 1.0]);
        assert!(matches!(flow_state(&exact, FlowRule::default()), FlowState::On { .. }));
    }

    proptest::proptest! {
        #[test]
        fn order_of_the_readings_does_not_matter_and_both_walks_agree(
            gains in proptest::collection::vec(-1.0_f64..3.0, 0..40),
            days_running in 1_u32..5,
        ) {
            let rule = FlowRule { threshold: KilogramsPerDay::of(1.0), days_running };
            let first = date(2026, 6, 1);
            let list = nights(first, &gains);
            let mut turned = list.clone();
            turned.reverse();
            proptest::prop_assert_eq!(flow_state(&list, rule), flow_state(&turned, rule));
            // Taken up in the middle of the nights, the walk ends at the same spells.
            let (seen, ahead) = gains.split_at(gains.len() / 2);
            let eve = nights(first, seen);
            let start = plus_days(first, i64::try_from(seen.len()).unwrap());
            let (began, ended) = Running::after(&eve, rule, start).outer_spell(ahead.iter().copied());
            let spells = flow_spells(&list, rule);
            let known = flow_spells(&eve, rule);
            let new = spells.get(known.len()).map(|spell| spell.began);
            proptest::prop_assert_eq!(began.map(|day| plus_days(start, day)), new);
            if let Some(ended) = ended {
                proptest::prop_assert_eq!(Some(plus_days(start, ended)), spells.last().unwrap().ended);
            }
        }

        #[test]
        fn a_flow_is_never_known_before_it_has_lasted(gains in proptest::collection::vec(-1.0_f64..3.0, 1..40)) {
            let list = nights(date(2026, 6, 1), &gains);
            if let FlowState::On { since, known_on } = flow_state(&list, FlowRule::default()) {
                proptest::prop_assert_eq!(days_from(since, known_on), 1);
                for (day, gain) in &list {
                    if *day == since || *day == known_on {
                        proptest::prop_assert!(gain.get() >= 1.0);
                    }
                }
            }
        }
    }
}
