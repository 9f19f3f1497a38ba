//! Mending a plan after a change: rain, a crew lost, a visit done or grown. Crews have been told, so a change has a price, and only
//! changes that the money justifies are made.

use outyard_base::Cents;

use crate::bill::cost;
use crate::draft::repaired;
use crate::plan::{Bill, Plan, Run};
use crate::problem::{RunProblem, Told};
use crate::search::{Effort, solve};

/// What it is worth not to change what was told.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct ChangeCost {
    /// Moving a visit to another day, or leaving it out.
    pub day: Cents,
    /// Sending another crew on the same day.
    pub crew: Cents,
}

/// A visit whose day or crew changed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Slide {
    /// The visit, by its number in the new problem.
    pub visit: usize,
    /// Day and crew before; `None` when it was left out.
    pub from: Option<(usize, usize)>,
    /// Day and crew now; `None` when it is left out.
    pub to: Option<(usize, usize)>,
    /// Whether it could not have stayed: what it stood on is gone. Otherwise the money justified it.
    pub forced: bool,
    /// Change in money lost by waiting or leaving out, for this visit alone.
    pub cost: Cents,
}

/// A mended plan.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Replanned {
    /// The new plan.
    pub plan: Plan,
    /// What changed, in order of the old day, then of the visit.
    pub slid: Vec<Slide>,
    /// Visits that stay on their day with their crew.
    pub stayed: Vec<usize>,
    /// Visits that were not in the old problem, and where they stand now.
    pub fresh: Vec<(usize, Option<(usize, usize)>)>,
    /// Change in money lost by waiting and leaving out, over the visits that were in the old problem.
    pub cost: Cents,
    /// The bill of the new plan, without any charge for changing what was told.
    pub bill: Bill,
}

/// Mends a plan. `same[visit]` is the new number of a visit of the old problem, `None` when it is done or gone. Days and crews keep
/// their numbers. What the visits of `new` say was told is replaced by what `old_plan` says.
///
/// # Panics
/// When `same` is shorter than the old problem's visits or names a visit the new one does not have.
#[expect(
    clippy::too_many_arguments,
    reason = "two problems, a plan and how they belong together, then the terms of every search"
)]
pub fn replan(
    old: &RunProblem,
    old_plan: &Plan,
    new: &RunProblem,
    same: &[Option<usize>],
    change: ChangeCost,
    effort: &Effort,
    seed: u64,
    stop: &dyn Fn() -> bool,
) -> Replanned {
    let visits = new.visit_count();
    let old_places = old_plan.assignments(old.visit_count());
    let mut before = vec![None; visits];
    let mut old_number = vec![None; visits];
    for (number, place) in old_places.iter().enumerate() {
        if let Some(now) = same[number] {
            before[now] = *place;
            old_number[now] = Some(number);
        }
    }
    let carried = Plan { runs: old_plan.runs.iter().map(|run| renumbered(run, same)).collect() }.tidied();
    let told = with_told(new, &before, change);
    let standing = repaired(&told, &carried);
    let could_stay = standing.plan.assignments(visits);
    let plan = solve(&told, effort, seed, Some(&standing.plan), stop);
    let after = plan.assignments(visits);
    let loss = |problem: &RunProblem, visit: usize, place: Option<(usize, usize)>| {
        let due = &problem.parts().visits[visit];
        place.map_or(due.skip, |(day, _)| due.waiting[day])
    };
    let mut result = Replanned {
        slid: Vec::new(),
        stayed: Vec::new(),
        fresh: Vec::new(),
        cost: Cents::ZERO,
        bill: cost(new, &plan).expect("a plan found can be timed"),
        plan,
    };
    result.bill.told = Cents::ZERO;
    for visit in 0..visits {
        let Some(number) = old_number[visit] else {
            result.fresh.push((visit, after[visit]));
            continue;
        };
        let cost = loss(new, visit, after[visit]) - loss(old, number, before[visit]);
        result.cost += cost;
        if before[visit] == after[visit] {
            result.stayed.push(visit);
        } else {
            let forced = before[visit].is_some() && could_stay[visit] != before[visit];
            result.slid.push(Slide { visit, from: before[visit], to: after[visit], forced, cost });
        }
    }
    result.slid.sort_by_key(|slide| (slide.from.unwrap_or((usize::MAX, 0)), slide.visit));
    result
}

fn renumbered(run: &Run, same: &[Option<usize>]) -> Run {
    Run { stops: run.stops.iter().filter_map(|&stop| same[stop]).collect(), ..run.clone() }
}

/// The new problem, with what was told taken from the old plan.
fn with_told(new: &RunProblem, before: &[Option<(usize, usize)>], change: ChangeCost) -> RunProblem {
    let mut parts = new.parts().clone();
    for (visit, place) in parts.visits.iter_mut().zip(before) {
        let there = place.filter(|(day, crew)| *day < parts.days.len() && *crew < parts.crews.len());
        visit.told = there.map(|(day, crew)| Told { day, crew, day_change: change.day, crew_change: change.crew });
    }
    RunProblem::new(parts).expect("only what was told has changed, and it names days and crews that are there")
}
