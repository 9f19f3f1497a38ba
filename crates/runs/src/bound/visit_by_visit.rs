//! The simple floor: each visit at its own cheapest.
//!
//! Every road of a run leads to one node and from another, so the runs' roads cost at least the sum over their stops of half the
//! cheapest road in and half the cheapest road out. Service is paid at least at the plain wage. Stock, trucks, shifts and ties are
//! left out of account, which can only lower the floor. Each run's road cost is rounded to the cent, by less than one cent.

use outyard_base::Cents;

use crate::bill::{dropped_cost, told_cost};
use crate::problem::{RunParts, RunProblem};
use crate::shift::service_minutes;

/// A floor under the bill of every plan.
pub(crate) fn floor(problem: &RunProblem) -> Cents {
    let parts = problem.parts();
    let runs = i64::try_from(parts.days.len() * parts.crews.len()).expect("at most 28 days of 64 crews");
    Cents(each(problem).into_iter().sum::<i64>() - runs)
}

/// What each visit costs at least, in cents.
pub(crate) fn each(problem: &RunProblem) -> Vec<i64> {
    let parts = problem.parts();
    let mut nodes: Vec<usize> = parts.visits.iter().map(|visit| visit.node).collect();
    nodes.extend(parts.crews.iter().map(|crew| crew.base));
    (0..parts.visits.len()).map(|visit| cheapest(problem, visit, &nodes)).collect()
}

/// Half a road's cost, in cents rounded down, at a wage.
fn half_road(parts: &RunParts, wage: i64, from: usize, to: usize) -> i64 {
    let road = from * parts.roads.nodes + to;
    let thousandths = 1000 * wage * parts.roads.minutes[road] + parts.cents_per_km.0 * parts.roads.metres[road];
    thousandths / 2000
}

fn cheapest(problem: &RunProblem, visit: usize, nodes: &[usize]) -> i64 {
    let parts = problem.parts();
    let due = &parts.visits[visit];
    // A second visit at the same node makes the road there free, so one mention of the node itself is passed over.
    let others = nodes.iter().filter(|node| **node != due.node);
    let shared = nodes.iter().filter(|node| **node == due.node).count() > 1;
    let mut least = due.skip.0 + dropped_cost(due).0;
    for (index, crew) in parts.crews.iter().enumerate() {
        let wage = crew.wage_per_minute.0;
        let work = service_minutes(crew, due).0 * wage;
        let road = if shared {
            0
        } else {
            others.clone().map(|&node| half_road(parts, wage, node, due.node)).min().unwrap_or(0)
                + others.clone().map(|&node| half_road(parts, wage, due.node, node)).min().unwrap_or(0)
        };
        for day in 0..parts.days.len() {
            if problem.may_do(visit, index, day) {
                least = least.min(due.waiting[day].0 + told_cost(due, day, index).0 + work + road);
            }
        }
    }
    least
}
