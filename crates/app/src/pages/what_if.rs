//! What-if beside the plan: rain, one hand more, more boxes, another method. Each is the whole morning worked out or mended
//! again, never a rule of thumb.

use jiff::civil::Date;
use outyard_base::{GearCode, JobCode, Trouble};
use outyard_runs::Effort;
use serde::Serialize;

use crate::replanning::{Change, mend};
use crate::situation::Situation;
use crate::views::BillView;
use crate::work_out::{WorkOrder, Worked, work_out};

/// One thing that could be otherwise.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Otherwise {
    /// Nobody goes out on these days.
    Rain(Vec<Date>),
    /// A crew has more hands.
    MoreHands {
        /// The crew.
        crew: String,
        /// How many more.
        hands: u32,
    },
    /// More boxes stand in the shed this morning.
    MoreBoxes {
        /// The gear.
        gear: GearCode,
        /// How many more.
        count: u32,
    },
    /// Doubles are put down by another job.
    Method(JobCode),
}

impl Otherwise {
    /// In words.
    pub fn said(&self) -> String {
        match self {
            Self::Rain(days) => {
                let days: Vec<String> = days.iter().map(|day| outyard_base::range::day_month(*day)).collect();
                format!("rain on {}", days.join(", "))
            }
            Self::MoreHands { crew, hands: 1 } => format!("one hand more with {crew}"),
            Self::MoreHands { crew, hands } => format!("{hands} hands more with {crew}"),
            Self::MoreBoxes { gear, count } => format!("{count} x {gear} more in the shed"),
            Self::Method(job) => format!("put down by {job}"),
        }
    }
}

/// One column of the comparison.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct WhatIfColumn {
    /// What is otherwise, in words; `as it stands` for the plan itself.
    pub said: String,
    /// Its bill.
    pub bill: BillView,
    /// The whole bill.
    pub total_cents: i64,
    /// The whole bill against the plan as it stands; below nought is cheaper.
    pub against_cents: i64,
    /// Visits planned.
    pub visits: usize,
    /// Visits due that are left out.
    pub left_out: usize,
    /// Runs driven.
    pub runs: usize,
    /// Last day of the plan with a run.
    pub last_run: Option<String>,
}

/// Costs side by side.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct WhatIfView {
    /// First the plan as it stands, then each change by itself.
    pub columns: Vec<WhatIfColumn>,
    /// What the comparison rests on.
    pub rests_on: Vec<String>,
}

fn column(situation: &Situation, worked: &Worked, said: String, against: i64) -> WhatIfColumn {
    let places = worked.planned.plan.assignments(worked.due.len());
    let visits = places.iter().flatten().count();
    let total = worked.bill.total().get();
    let last = worked.planned.plan.runs.iter().map(|run| run.day).max();
    WhatIfColumn {
        said,
        bill: BillView::of(&worked.bill),
        total_cents: total,
        against_cents: total - against,
        visits,
        left_out: worked.due.len() - visits,
        runs: worked.planned.plan.runs.len(),
        last_run: last.map(|day| crate::plan::day_of(situation.today, day).to_string()),
    }
}

/// Costs of each change by itself beside the plan as it stands.
///
/// # Errors
/// `PLN-002` for a crew nobody knows, `PLN-004` for gear the outfit never counted, `TRD-010` for a method that is no job,
/// and as [`work_out`].
pub fn what_if(
    situation: &Situation,
    worked: &Worked,
    days: usize,
    changes: &[Otherwise],
    effort: Effort,
    stop: &dyn Fn() -> bool,
) -> Result<WhatIfView, Vec<Trouble>> {
    let now = worked.bill.total().get();
    let mut columns = vec![column(situation, worked, "as it stands".to_owned(), now)];
    for change in changes {
        let other = other_morning(situation, worked, days, change, effort, stop)?;
        columns.push(column(situation, &other, change.said(), now));
    }
    Ok(WhatIfView {
        columns,
        rests_on: vec![
            "each column is planned by itself from the same yards, weather and clocks".to_owned(),
            "rain is a plan mended; the others are planned anew, so small differences are the planner's own".to_owned(),
        ],
    })
}

fn other_morning(
    situation: &Situation,
    worked: &Worked,
    days: usize,
    change: &Otherwise,
    effort: Effort,
    stop: &dyn Fn() -> bool,
) -> Result<Worked, Vec<Trouble>> {
    let order = WorkOrder { days, effort, shut: Vec::new(), crews_out: Vec::new() };
    match change {
        Otherwise::Rain(shut) => {
            let change = Change { shut: shut.clone(), ..Change::default() };
            Ok(mend(situation, worked, days, &change, &effort, stop)?.worked)
        }
        Otherwise::MoreHands { crew, hands } => {
            let at = crate::replanning::known_crew(situation, crew)?;
            let mut other = situation.clone();
            other.settings.crews[at].hands += hands;
            work_out(&other, &order, stop)
        }
        Otherwise::MoreBoxes { gear, count } => {
            let mut other = situation.clone();
            let Some(balance) = other.outfit.ledger.gear.get_mut(gear) else {
                return Err(vec![Trouble::new(
                    "PLN-004",
                    format!("the book never counted any {gear}, so the plan has plenty already"),
                    "count the shed once, then ask again",
                )]);
            };
            *balance.placed.entry(outyard_book::GearPlace::Shed).or_default() += i64::from(*count);
            work_out(&other, &order, stop)
        }
        Otherwise::Method(job) => {
            situation.jobs.job(job.as_str()).map_err(|trouble| vec![trouble])?;
            let mut other = situation.clone();
            other.settings.put_down_by = job.clone();
            work_out(&other, &order, stop)
        }
    }
}
