//! Ties between first and second visits in the floor: prices on days by which both must be done.
//!
//! With x(v, d) = 1 where visit v is done on day d, a second visit v that follows u by `min` to `max` days keeps on every day d
//!
//! - Σ(d' ≤ d) x(v, d') ≤ Σ(d' ≤ d - min) x(u, d'): who came second by then came first long enough before, and
//! - Σ(d' ≥ d) x(v, d') ≤ Σ(d' ≥ d - max) x(u, d'): who comes second from then on did not come first too long before.
//!
//! Every sound plan keeps them, so prices μ, ν ≥ 0 on them may be moved between the days of the two visits without lifting the floor above any plan.

use crate::problem::RunParts;

struct Tie {
    first: usize,
    second: usize,
    min: usize,
    max: usize,
}

pub(super) struct Ties {
    days: usize,
    list: Vec<Tie>,
    /// `[tie * 2 * days + day]` the prices μ, then the prices ν, thousandths of a cent, never below 0.
    pub(super) price: Vec<i64>,
    /// How far each is broken by the runs chosen.
    pub(super) over: Vec<i64>,
}

impl Ties {
    pub(super) fn new(parts: &RunParts) -> Self {
        let days = parts.days.len();
        let list: Vec<Tie> = parts
            .visits
            .iter()
            .enumerate()
            .filter_map(|(second, visit)| {
                visit.follows.map(|tie| Tie {
                    first: tie.visit,
                    second,
                    min: tie.days_min as usize,
                    max: tie.days_max as usize,
                })
            })
            .collect();
        let cells = list.len() * 2 * days;
        Self { days, list, price: vec![0; cells], over: vec![0; cells] }
    }

    /// The rules a visit done on a day counts in, and how.
    pub(super) fn rows_of(&self, visit: usize, day: usize, add: &mut dyn FnMut(usize, i64)) {
        for (number, tie) in self.list.iter().enumerate() {
            for limit in 0..self.days {
                let (second, first) = tie.counts(day, limit);
                let row = number * 2 * self.days + limit;
                if tie.second == visit {
                    add(row, second.0);
                    add(row + self.days, second.1);
                }
                if tie.first == visit {
                    add(row, -first.0);
                    add(row + self.days, -first.1);
                }
            }
        }
    }

    /// What the ties add to visits on a day.
    pub(super) fn charge(&self, day: usize, charges: &mut [i64]) {
        for (tie, price) in self.list.iter().zip(self.price.chunks(2 * self.days.max(1))) {
            let (by, from) = price.split_at(self.days);
            for limit in 0..self.days {
                let (second, first) = tie.counts(day, limit);
                charges[tie.second] += by[limit] * second.0 + from[limit] * second.1;
                charges[tie.first] -= by[limit] * first.0 + from[limit] * first.1;
            }
        }
    }

    /// Counts the visits chosen on a day.
    pub(super) fn note(&mut self, day: usize, chosen: &[i64]) {
        for (tie, over) in self.list.iter().zip(self.over.chunks_mut(2 * self.days.max(1))) {
            let (by, from) = over.split_at_mut(self.days);
            for limit in 0..by.len() {
                let (second, first) = tie.counts(day, limit);
                by[limit] += chosen[tie.second] * second.0 - chosen[tie.first] * first.0;
                from[limit] += chosen[tie.second] * second.1 - chosen[tie.first] * first.1;
            }
        }
    }
}

impl Tie {
    /// Whether second and first visit, done on `day`, count in the two rules of day `limit`: 1 or 0 each.
    fn counts(&self, day: usize, limit: usize) -> ((i64, i64), (i64, i64)) {
        (
            (i64::from(day <= limit), i64::from(day >= limit)),
            (i64::from(day + self.min <= limit), i64::from(day + self.max >= limit)),
        )
    }
}
