//! How much better any plan could possibly be.

mod best_run;
mod best_set;
mod columns;
mod every_run;
mod master;
mod survey;
mod ties;
mod visit_by_visit;
mod whole_visits;

use outyard_base::Cents;

use self::every_run::Means;
use crate::plan::Plan;
use crate::problem::RunProblem;

/// How a bound was proven.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Proof {
    /// Each visit at its own cheapest, with half of the cheapest roads to and from it.
    VisitByVisit,
    /// Prices on days, stock and visits against every run that could be made (Lagrangian bound).
    EveryRun {
        /// Runs listed.
        listed: usize,
    },
    /// The same where there are too many runs to list: the cheapest run is hunted for by branch and bound.
    BestRuns,
}

/// No plan costs less than `value`.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Bound {
    /// The proven floor under every plan's bill.
    pub value: Cents,
    /// How it was proven.
    pub proof: Proof,
}

/// How far a plan may be from the best there is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Gap {
    /// What the plan costs.
    pub plan: Cents,
    /// What every plan costs at least.
    pub floor: Cents,
}

impl Gap {
    /// Money the plan could save at most.
    pub fn money(self) -> Cents {
        self.plan - self.floor
    }

    /// The same as a share of the plan's cost; 0 when that is not above 0.
    #[expect(clippy::cast_precision_loss, reason = "a share for show")]
    pub fn share(self) -> f64 {
        if self.plan.0 > 0 { self.money().0 as f64 / self.plan.0 as f64 } else { 0.0 }
    }
}

/// A floor under the bill of every plan. Up to `runs_max` runs are listed for the strongest proof; where there are more, the cheapest
/// ones are hunted for. With 0, or when `stop` says true at once, the simple proof stands.
pub fn bound(problem: &RunProblem, runs_max: usize, stop: &dyn Fn() -> bool) -> Bound {
    strongest(problem, Means { runs_max, work_max: u64::MAX, plan: None, stop })
}

/// A floor under the bill of every plan, when a plan is known and the work is limited: so many legs and paths are looked at in the
/// hunts for the cheapest runs (some hundred million in a second of the processor), counted and not timed.
pub fn bound_under(
    problem: &RunProblem,
    plan: &Plan,
    runs_max: usize,
    work_max: u64,
    stop: &dyn Fn() -> bool,
) -> Bound {
    strongest(problem, Means { runs_max, work_max, plan: Some(plan), stop })
}

fn strongest(problem: &RunProblem, means: Means<'_>) -> Bound {
    let simple = Bound { value: visit_by_visit::floor(problem), proof: Proof::VisitByVisit };
    match every_run::floor(problem, means) {
        Some((value, proof)) if value > simple.value => Bound { value, proof },
        _ => simple,
    }
}

/// The floor proven by hunting for the cheapest runs even where they could be listed.
pub fn bound_by_best_runs(problem: &RunProblem, stop: &dyn Fn() -> bool) -> Bound {
    let simple = Bound { value: visit_by_visit::floor(problem), proof: Proof::VisitByVisit };
    let means = Means { runs_max: 1, work_max: u64::MAX, plan: None, stop };
    match every_run::floor_by_best_runs(problem, means) {
        Some(value) if value > simple.value => Bound { value, proof: Proof::BestRuns },
        _ => simple,
    }
}

/// The gap between a plan's cost and a bound.
pub fn gap(plan: Cents, bound: Bound) -> Gap {
    Gap { plan, floor: bound.value }
}
