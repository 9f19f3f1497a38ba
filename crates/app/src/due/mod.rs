//! Due visits: what should be done in which yard, from when to when, and what waiting costs on each day.
//!
//! Two clocks make a job due. A **brood clock** was started by an earlier job and stands fixed; a **fill clock** is
//! worked out anew from the outlook every morning. A [`Chore`] is one job at one yard with its window and its cost of
//! waiting; chores of a yard whose windows meet become one [`DueVisit`]. What waiting costs comes from the season's
//! colony model, which follows each [`Stack`] of colonies; what that model does not know stands in `waiting` as a rule.

mod bundle;
mod chores;
mod stack;
#[cfg(test)]
mod tests;
mod waiting;

pub use bundle::{DueVisit, Follow, due_visits, follow_ups};
pub use chores::{Chore, ChoreInput, ClockSort, Window, chores};
pub use stack::{AboveOn, Followed, Stack, StackInput, StandsBy, colony_rules, follow, stacks};
pub use waiting::{WaitingCurve, mean_curve};

use std::collections::BTreeMap;

use jiff::civil::Date;
use outyard_base::{DateRange, GearCode, JobCode, Share, YardId};
use outyard_trade::KindCounts;

/// A round in which queens were put down in a yard.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PutDown {
    /// Day 0 of its brood clocks.
    pub day0: Date,
    /// Colonies put down or lifted, by the kind they were.
    pub colonies: KindCounts,
}

/// A job closed in a yard.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Done {
    /// When.
    pub on: Date,
    /// Which.
    pub job: JobCode,
    /// To how many colonies.
    pub colonies: KindCounts,
}

/// Honey boxes put on and taken off the hives of a yard on a day.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BoxesMoved {
    /// When.
    pub on: Date,
    /// Put on, in deeps.
    pub on_deeps: f64,
    /// Taken off, in deeps.
    pub off_deeps: f64,
}

impl BoxesMoved {
    /// Deeps more on the hives than before.
    pub fn net_deeps(&self) -> f64 {
        self.on_deeps - self.off_deeps
    }
}

/// How a yard stands this morning, as far as due visits go.
#[derive(Clone, Debug, PartialEq)]
pub struct YardToday {
    /// Its name.
    pub yard: YardId,
    /// Colonies by kind; a double that was put down is no longer one.
    pub standing: KindCounts,
    /// Put-downs of this season, the first one first.
    pub put_downs: Vec<PutDown>,
    /// Jobs closed this season, the first one first.
    pub done: Vec<Done>,
    /// Honey boxes on the hives by kind of box.
    pub boxes_on_hives: BTreeMap<GearCode, u32>,
    /// Honey boxes put on and taken off this season, the first move first.
    pub boxes_moved: Vec<BoxesMoved>,
    /// Last time the boxes were looked into, and how full they stood.
    pub fullness: Option<(Date, Share)>,
    /// Last time the colonies were counted.
    pub counted_on: Option<Date>,
}

/// The season of one yard as due visits need it: one row of gains for each member.
#[derive(Clone, Debug, PartialEq)]
pub struct YardSeason {
    /// Date of the first gain: today.
    pub first: Date,
    /// `gain[member][day]`: net gain of a strong colony, kg/d.
    pub gain: Vec<Vec<f64>>,
    /// `flight_h[member][day]`: hours of full flight; empty when not known.
    pub flight_h: Vec<Vec<f64>>,
    /// True south of the equator.
    pub south: bool,
    /// `seen[k]`: net gain of a strong colony `k + 1` days before `first`, kg/d, as far back as it is known.
    pub seen: Vec<f64>,
    /// When the flow begins.
    pub begins: DateRange,
    /// When it ends.
    pub ends: DateRange,
    /// Net gain of a day that counts as flow, kg/d.
    pub flow_threshold_kg_per_day: f64,
    /// What the outlook rests on.
    pub based_on: Vec<String>,
}

/// True when a job was closed in a yard on a day or later.
fn done_since(yard: &YardToday, job: &str, since: Date) -> bool {
    yard.done.iter().any(|done| done.job.as_str() == job && done.on >= since)
}

impl YardSeason {
    /// Gain of a strong colony on one of the days before `first`; nothing is known further back.
    pub fn seen_on(&self, date: Date) -> Option<f64> {
        let back = outyard_base::days::days_from(date, self.first);
        usize::try_from(back - 1).ok().and_then(|at| self.seen.get(at)).copied()
    }

    /// Mean over the members of the gain on a day of the outlook, kg/d.
    #[expect(clippy::cast_precision_loss, reason = "a count of members")]
    pub fn mean_gain(&self, day: usize) -> f64 {
        let all: f64 = self.gain.iter().filter_map(|member| member.get(day)).sum();
        all / self.gain.len().max(1) as f64
    }
}
