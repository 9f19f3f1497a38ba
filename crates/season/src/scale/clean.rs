//! Puts readings in order and sets aside what cannot be a weight.

use jiff::Timestamp;
use jiff::tz::TimeZone;
use outyard_base::range::quantile;
use outyard_base::{Kilograms, Note, Share};

use super::{Change, ChangeKind};

/// Weights a hive on a scale can show, kg: below nought when full boxes were pulled after the scale was set to nought with the
/// hive on it, up to six full boxes of two hives. Assumed.
const PLAUSIBLE_KG: core::ops::RangeInclusive<f64> = -200.0..=400.0;

/// So long with the same reading to the last digit is a stuck cell, s, when that many readings say so. Assumed.
const STUCK_S: i64 = 6 * 3600;
const STUCK_READINGS: usize = 24;

/// A display so coarse that more than this share of its readings repeat the one before cannot show a stuck cell. Assumed.
const REPEATS_MOST: f64 = 0.25;

/// Readings closer together than this are joined, s.
const JOIN_S: i64 = 300;

/// Readings in order of time, at a step of five minutes or more.
pub(super) struct Series {
    /// Seconds since 1970.
    pub(super) at: Vec<i64>,
    /// Weight, kg.
    pub(super) kg: Vec<f64>,
    /// Seconds since 1970 of the yard's own clock.
    pub(super) local: Vec<i64>,
    /// Middle step between two readings, s.
    pub(super) step_s: i64,
}

impl Series {
    pub(super) fn len(&self) -> usize {
        self.at.len()
    }

    /// Time between reading `index - 1` and `index`, s.
    pub(super) fn span_s(&self, index: usize) -> i64 {
        self.at[index] - self.at[index - 1]
    }

    /// Longest time between two readings that is not a gap, s.
    pub(super) fn gap_s(&self) -> i64 {
        (self.step_s * 5 / 2).max(3600)
    }

    /// The step in hours.
    pub(super) fn step_h(&self) -> f64 {
        hours(self.step_s)
    }
}

#[expect(clippy::cast_precision_loss, reason = "seconds of a season")]
pub(super) fn hours(seconds: i64) -> f64 {
    seconds as f64 / 3600.0
}

pub(super) fn instant(seconds: i64) -> Timestamp {
    Timestamp::from_second(seconds).expect("it was made from a timestamp")
}

/// Sorts, joins, and drops readings that repeat or cannot be.
pub(super) fn clean(readings: &[(Timestamp, Kilograms)], tz: &TimeZone) -> (Series, Vec<Change>, Vec<Note>) {
    let mut notes = Vec::new();
    let late = readings.windows(2).filter(|pair| pair[1].0 < pair[0].0).count();
    if late > 0 {
        notes.push(Note::new("SCL-101", format!("{late} readings came out of order; they were put in order of time")));
    }
    let mut sorted: Vec<(i64, f64)> = readings.iter().map(|(at, mass)| (at.as_second(), mass.get())).collect();
    sorted.sort_by_key(|reading| reading.0);
    let before = sorted.len();
    sorted.dedup_by_key(|reading| reading.0);
    if sorted.len() < before {
        notes.push(Note::new(
            "SCL-102",
            format!("{} readings repeat a moment; the first is kept", before - sorted.len()),
        ));
    }
    let mut faults = faults(&sorted);
    if !faults.is_empty() {
        let count = sorted.iter().filter(|reading| !PLAUSIBLE_KG.contains(&reading.1)).count();
        notes.push(Note::new("SCL-103", format!("{count} readings cannot be the weight of a hive; they are left out")));
    }
    sorted.retain(|reading| PLAUSIBLE_KG.contains(&reading.1));
    let stuck = stuck(&sorted);
    if !stuck.is_empty() {
        notes.push(Note::new("SCL-105", format!("{} times the cell stuck for six hours or more", stuck.len())));
    }
    faults.extend(stuck);
    let joined = join(&sorted);
    let at: Vec<i64> = joined.iter().map(|reading| reading.0).collect();
    let local = at.iter().map(|seconds| seconds + i64::from(tz.to_offset(instant(*seconds)).seconds())).collect();
    let step_s = middle_step(&at);
    let series = Series { kg: joined.iter().map(|reading| reading.1).collect(), at, local, step_s };
    let gaps = (1..series.len()).filter(|index| series.span_s(*index) > series.gap_s()).count();
    if gaps > 0 {
        notes.push(Note::new("SCL-104", format!("{gaps} stretches without readings")));
    }
    (series, faults, notes)
}

/// One change for each run of readings that cannot be.
fn faults(sorted: &[(i64, f64)]) -> Vec<Change> {
    sorted
        .chunk_by(|left, right| PLAUSIBLE_KG.contains(&left.1) == PLAUSIBLE_KG.contains(&right.1))
        .filter(|run| !PLAUSIBLE_KG.contains(&run[0].1))
        .map(|run| fault(run[0].0, run[run.len() - 1].0, 0.95))
        .collect()
}

/// One change for each long run of the very same reading.
fn stuck(sorted: &[(i64, f64)]) -> Vec<Change> {
    let same = |left: &(i64, f64), right: &(i64, f64)| left.1.total_cmp(&right.1).is_eq();
    let repeats = sorted.windows(2).filter(|pair| same(&pair[0], &pair[1])).count();
    #[expect(clippy::cast_precision_loss, reason = "readings of a season")]
    let share = repeats as f64 / sorted.len().max(1) as f64;
    if share > REPEATS_MOST {
        return Vec::new();
    }
    sorted
        .chunk_by(same)
        .filter(|run| run.len() >= STUCK_READINGS && run[run.len() - 1].0 - run[0].0 >= STUCK_S)
        .map(|run| fault(run[0].0, run[run.len() - 1].0, 0.8))
        .collect()
}

fn fault(from: i64, to: i64, confidence: f64) -> Change {
    Change {
        at: instant(from),
        until: instant(to),
        kg: Kilograms::ZERO,
        kg_error: Kilograms::ZERO,
        kind: ChangeKind::Fault,
        confidence: Share::of(confidence),
    }
}

fn middle_step(at: &[i64]) -> i64 {
    let mut steps: Vec<i64> = at.windows(2).map(|pair| pair[1] - pair[0]).collect();
    steps.sort_unstable();
    steps.get(steps.len() / 2).copied().unwrap_or(JOIN_S).max(1)
}

/// Medians of five minutes when the readings are closer than that; a single wild reading then leaves no mark.
fn join(sorted: &[(i64, f64)]) -> Vec<(i64, f64)> {
    let at: Vec<i64> = sorted.iter().map(|reading| reading.0).collect();
    if middle_step(&at) >= JOIN_S {
        return sorted.to_vec();
    }
    sorted
        .chunk_by(|left, right| left.0.div_euclid(JOIN_S) == right.0.div_euclid(JOIN_S))
        .map(|run| {
            let mut weights: Vec<f64> = run.iter().map(|reading| reading.1).collect();
            weights.sort_by(f64::total_cmp);
            (run[run.len() / 2].0, quantile(&weights, 0.5))
        })
        .collect()
}
