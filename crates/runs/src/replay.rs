//! How a plan fares in weather that is not known yet: it is played through every member of an ensemble, as the crews would live it,
//! and judged by the money it comes to.
//!
//! A member is the same problem with other gates, shares of days or costs of waiting. The recourse is the simple one of a crew boss: what
//! cannot be done on its day is dropped from the run that morning and slipped into the first later run where it fits, else left out.
//! Nobody looks ahead: a day's weather decides nothing before that day. This is the expected result of a plan under recourse
//! (Birge & Louveaux 1997, chapter 4); the recourse is poorer than planning anew each morning, so the mean is on the dear side.
//!
//! | symbol | name in code | meaning | unit | value | source |
//! |---|---|---|---|---|---|
//! | - | `BAD_CASE` | share of members that cost no more than the bad case | % | 90 | assumed |

use outyard_base::Cents;

use crate::bill::cost;
use crate::draft::{Draft, repaired};
use crate::groups::groups;
use crate::plan::Plan;
use crate::problem::RunProblem;

/// Share of members that cost no more than the bad case, in percent. assumed
const BAD_CASE: usize = 90;

/// What a plan comes to over the members.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Replayed {
    /// The bill in every member, in their order.
    pub bills: Vec<Cents>,
    /// Their mean, rounded down.
    pub mean: Cents,
    /// Nine members in ten cost no more (nearest rank).
    pub bad_case: Cents,
    /// `[visit]`: in how many members it is left out.
    pub left_out: Vec<usize>,
}

/// The plan as it would be lived in one member.
pub fn lived(member: &RunProblem, plan: &Plan) -> Plan {
    let visits = member.visit_count();
    let groups = groups(member.parts());
    let mut draft = repaired(member, plan);
    let stops = plan.runs.iter().flat_map(|run| run.stops.iter().map(|&visit| (run.day, visit)));
    let mut dropped: Vec<(usize, usize)> =
        stops.filter(|&(_, visit)| visit < visits && draft.day_of[visit].is_none()).collect();
    dropped.sort_unstable();
    for (planned, visit) in dropped {
        let group: Vec<usize> = (0..visits).filter(|&other| groups[other] == groups[visit]).collect();
        if group.iter().all(|&other| draft.day_of[other].is_none()) {
            (planned + 1..member.day_count()).any(|day| slipped_in(&mut draft, &group, day));
        }
    }
    draft.plan.tidied()
}

/// Puts a group of visits on the first run of a day that takes it: one after the other where it lengthens the run least.
fn slipped_in(draft: &mut Draft<'_>, group: &[usize], day: usize) -> bool {
    let crews = draft.problem.parts().crews.len();
    (0..crews).any(|crew| {
        if !group.iter().all(|&visit| draft.problem.may_do(visit, crew, day)) {
            return false;
        }
        let now = draft.run_index(day, crew).map_or(&[][..], |run| &draft.plan.runs[run].stops);
        let mut trials = vec![now.to_vec()];
        for &visit in group {
            trials = trials
                .iter()
                .flat_map(|stops| {
                    (0..=stops.len()).map(|place| {
                        let mut longer = stops.clone();
                        longer.insert(place, visit);
                        longer
                    })
                })
                .collect();
        }
        trials.sort_by_key(|stops| road(draft.problem, crew, stops));
        trials.into_iter().any(|stops| draft.place(day, crew, group, stops))
    })
}

/// Minutes on the road of a run.
fn road(problem: &RunProblem, crew: usize, stops: &[usize]) -> i64 {
    let parts = problem.parts();
    let base = parts.crews[crew].base;
    let mut at = base;
    let mut minutes = 0;
    for node in stops.iter().map(|&stop| parts.visits[stop].node).chain([base]) {
        minutes += parts.roads.minutes[at * parts.roads.nodes + node];
        at = node;
    }
    minutes
}

/// Plays a plan through every member.
///
/// # Panics
/// When there is no member, or the members do not have the same visits.
pub fn replay(members: &[RunProblem], plan: &Plan) -> Replayed {
    let visits = members.first().expect("there is at least one member").visit_count();
    assert!(members.iter().all(|member| member.visit_count() == visits), "members have the same visits");
    let mut left_out = vec![0; visits];
    let bills: Vec<Cents> = members
        .iter()
        .map(|member| {
            let lived = lived(member, plan);
            for (count, place) in left_out.iter_mut().zip(lived.assignments(visits)) {
                *count += usize::from(place.is_none());
            }
            cost(member, &lived).expect("a repaired plan can be timed").total()
        })
        .collect();
    let sum: i128 = bills.iter().map(|bill| i128::from(bill.0)).sum();
    let count = i128::try_from(bills.len()).expect("a list fits");
    let mean = i64::try_from(sum.div_euclid(count)).expect("a mean lies between the bills");
    let mut sorted = bills.clone();
    sorted.sort_unstable();
    let rank = (sorted.len() * BAD_CASE).div_ceil(100).max(1);
    Replayed { mean: Cents(mean), bad_case: sorted[rank - 1], bills, left_out }
}

/// The plan with the least mean bill over the members (of equals the one with the better bad case, then the first), and how each fared;
/// `None` without plans.
///
/// # Panics
/// As [`replay`].
pub fn best_over(members: &[RunProblem], plans: &[Plan]) -> Option<(usize, Vec<Replayed>)> {
    let fared: Vec<Replayed> = plans.iter().map(|plan| replay(members, plan)).collect();
    let best = (0..fared.len()).min_by_key(|&plan| (fared[plan].mean, fared[plan].bad_case, plan))?;
    Some((best, fared))
}
