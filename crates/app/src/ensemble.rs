//! The plan of a morning against weather that is not known yet: several plans are made, each is lived through the members of the
//! ensemble as a crew boss would, and the one with the least expected bill is chosen.
//!
//! | symbol | name in code | meaning | unit | value | source |
//! |---|---|---|---|---|---|
//! | - | `MEMBERS` | members a plan is lived through | members | 12 | assumed |
//! | - | `SURE_SHARE` | share of members with an open gate from which on a day counts as sure | - | 0.95 | assumed |
//! | - | `USABLE_LEAST` | least usable share of a day in the careful plan | - | 0.4 | assumed |

use outyard_base::Cents;
use outyard_runs::problem::Gate;
use outyard_runs::{Effort, Plan, Replayed, RunProblem, best_over, nearest_due_first, solve};

use crate::due::DueVisit;
use crate::plan::GateDay;
use crate::seasons::{Seasons, open_in_member};
use crate::situation::Situation;

/// Members a plan is lived through; a dozen keeps the morning short.
const MEMBERS: usize = 12;
const SURE_SHARE: f64 = 0.95;
const USABLE_LEAST: f64 = 0.4;

/// How the chosen plan fares in the weather that may come.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Ahead {
    /// Members it was lived through.
    pub members: usize,
    /// Plans that were compared.
    pub plans: usize,
    /// Its bill over the members: their mean, and the bad case (nine in ten cost no more).
    pub fared: Replayed,
    /// The same for the rule of thumb: nearest due first.
    pub rule_of_thumb: Replayed,
    /// What choosing by expected money saved against the plan that looked cheapest on paper.
    pub saved: Cents,
}

/// The problem as each of a dozen members would have it: gates and cost of waiting are the member's own.
///
/// # Panics
/// Never: only gates and whole sums of money change, and both were checked.
pub fn members_of(situation: &Situation, seasons: &Seasons, due: &[DueVisit], problem: &RunProblem) -> Vec<RunProblem> {
    let known = seasons.values().map(|ahead| ahead.members.days.len()).min().unwrap_or(0);
    let days = problem.day_count();
    (0..MEMBERS.min(known))
        .map(|number| {
            // Members spread over all that were drawn: the first ones alone may share a forecast.
            let member = number * known / MEMBERS.min(known);
            let mut parts = problem.parts().clone();
            for (visit, due) in parts.visits.iter_mut().zip(due) {
                visit.gates = (0..days).map(|day| gate_in(situation, seasons, due, member, day)).collect();
                let mut money = due.curve.in_member(member);
                if money.len() == days + 1 {
                    let after = money.pop().unwrap_or(Cents::ZERO);
                    visit.skip = visit.skip - due.after_plan + after;
                    visit.waiting = money;
                }
            }
            RunProblem::new(parts).expect("only gates and sums of money differ from a problem that was checked")
        })
        .collect()
}

/// Open where the gates of all jobs of the visit are open in that member.
fn gate_in(situation: &Situation, seasons: &Seasons, due: &DueVisit, member: usize, day: usize) -> Gate {
    let Some(ahead) = seasons.get(&due.yard) else { return Gate::Shut };
    let mut open: Option<(outyard_base::ClockTime, outyard_base::ClockTime)> = None;
    for job in due.chores.iter().filter_map(|chore| situation.jobs.jobs.get(&chore.job)) {
        let Some((from, to)) = open_in_member(situation, ahead, situation.jobs.gate_of(job), member, day) else {
            return Gate::Shut;
        };
        let (from, to) = open.map_or((from, to), |open| (open.0.max(from), open.1.min(to)));
        if from >= to {
            return Gate::Shut;
        }
        open = Some((from, to));
    }
    open.map_or(Gate::AllDay, |(from, to)| Gate::Open { from, to })
}

/// The problem with unsure days counted by the hours that can be expected of them: no run of such a day may be longer.
fn careful(problem: &RunProblem, gates: &[Vec<GateDay>]) -> Option<RunProblem> {
    let mut parts = problem.parts().clone();
    let mut unsure = false;
    for (day, rule) in parts.days.iter_mut().enumerate() {
        let shares: Vec<f64> = gates
            .iter()
            .map(|days| &days[day])
            .filter(|gate| gate.open.is_some())
            .map(|gate| gate.share_open)
            .collect();
        #[expect(clippy::cast_precision_loss, reason = "a count of visits")]
        let share = shares.iter().sum::<f64>() / shares.len().max(1) as f64;
        if !shares.is_empty() && share < SURE_SHARE {
            unsure = true;
            #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a share in thousandths")]
            let usable = (share.max(USABLE_LEAST) * 1000.0) as u32;
            rule.usable_permille = rule.usable_permille.min(usable);
        }
    }
    unsure.then(|| RunProblem::new(parts).ok()).flatten()
}

/// The plan with the least expected bill over the members, among the plan that is cheapest on paper, one of another seed, and a careful one that
/// gives unsure days less work; and how it fares. Without members the cheapest on paper stands.
pub fn choose(
    members: &[RunProblem],
    problem: &RunProblem,
    gates: &[Vec<GateDay>],
    effort: &Effort,
    seed: u64,
    stop: &dyn Fn() -> bool,
) -> (Plan, Option<Ahead>) {
    let on_paper = solve(problem, effort, seed, None, stop);
    if members.is_empty() || problem.visit_count() == 0 {
        return (on_paper, None);
    }
    let half = Effort { tries: effort.tries.div_ceil(2) };
    let mut plans = vec![on_paper, solve(problem, &half, seed.wrapping_add(1), None, stop)];
    // A day with fewer hours takes no plan the whole day would not: the careful plan is sound here too.
    plans.extend(careful(problem, gates).map(|careful| solve(&careful, &half, seed, None, stop)));
    fared(members, problem, plans)
}

/// How one plan fares, as [`choose`] tells of the one it takes.
pub fn fare(members: &[RunProblem], problem: &RunProblem, plan: Plan) -> (Plan, Option<Ahead>) {
    if members.is_empty() || problem.visit_count() == 0 {
        return (plan, None);
    }
    fared(members, problem, vec![plan])
}

fn fared(members: &[RunProblem], problem: &RunProblem, mut plans: Vec<Plan>) -> (Plan, Option<Ahead>) {
    let count = plans.len();
    let thumb = best_over(members, &[nearest_due_first(problem)]);
    let (best, mut fared) = best_over(members, &plans).expect("there are plans");
    let (_, mut thumb) = thumb.expect("there is the rule of thumb");
    let saved = fared[0].mean - fared[best].mean;
    let fared = fared.swap_remove(best);
    let ahead = Ahead { members: members.len(), plans: count, fared, rule_of_thumb: thumb.swap_remove(0), saved };
    (plans.swap_remove(best), Some(ahead))
}
