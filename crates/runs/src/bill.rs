//! What a plan costs.

use outyard_base::Cents;

use crate::plan::{Bill, Plan};
use crate::problem::{RunProblem, Visit};
use crate::schedule::schedule;
use crate::shift::{road_cost, wages};

/// The bill of a plan; `None` when one of its runs cannot be timed (a gate or the lunch rule is missed).
///
/// # Panics
/// When the plan names a crew, day or visit the problem does not have.
pub fn cost(problem: &RunProblem, plan: &Plan) -> Option<Bill> {
    let parts = problem.parts();
    let mut bill = Bill::default();
    for run in plan.runs.iter().filter(|run| !run.stops.is_empty()) {
        let times = schedule(problem, run)?;
        let (wage, overtime) = wages(&parts.crews[run.crew], times.away());
        bill.wage += wage;
        bill.overtime += overtime;
        bill.road += road_cost(parts.cents_per_km, times.metres);
    }
    for (visit, place) in parts.visits.iter().zip(plan.assignments(parts.visits.len())) {
        if let Some((day, crew)) = place {
            bill.waiting += visit.waiting[day];
            bill.told += told_cost(visit, day, crew);
        } else {
            bill.skip += visit.skip;
            bill.told += dropped_cost(visit);
        }
    }
    Some(bill)
}

/// What it costs, beyond waiting, to do a visit on a day with a crew when something else was told.
pub(crate) fn told_cost(visit: &Visit, day: usize, crew: usize) -> Cents {
    match visit.told {
        Some(told) if told.day != day => told.day_change,
        Some(told) if told.crew != crew => told.crew_change,
        _ => Cents::ZERO,
    }
}

/// What it costs, beyond the loss itself, to leave out a visit that was told.
pub(crate) fn dropped_cost(visit: &Visit) -> Cents {
    visit.told.map_or(Cents::ZERO, |told| told.day_change)
}
