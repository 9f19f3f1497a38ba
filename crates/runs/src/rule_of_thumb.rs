//! The rule of thumb a crew boss goes by without a planner: each day, each crew drives to the nearest yard that is due and fits,
//! then to the nearest from there, until nothing more fits. A yard is due when leaving it to the next day would cost money;
//! when none is, the nearest that may be done at all is taken. [common practice, no source]

use crate::draft::Draft;
use crate::groups::groups;
use crate::plan::Plan;
use crate::problem::RunProblem;

/// Plans by the rule of thumb: nearest due yard first. Every plan it gives is sound.
pub fn nearest_due_first(problem: &RunProblem) -> Plan {
    let parts = problem.parts();
    let groups = groups(parts);
    let mut draft = Draft::new(problem);
    for day in 0..parts.days.len() {
        for crew in 0..parts.crews.len() {
            if problem.crew_works(crew, day) {
                fill_run(&mut draft, &groups, day, crew);
            }
        }
    }
    draft.plan.tidied()
}

fn fill_run(draft: &mut Draft<'_>, groups: &[usize], day: usize, crew: usize) {
    let parts = draft.problem.parts();
    let mut at = parts.crews[crew].base;
    let mut stops: Vec<usize> = Vec::new();
    loop {
        let mut open: Vec<(bool, i64, usize)> = (0..parts.visits.len())
            .filter(|&visit| draft.day_of[visit].is_none() && draft.problem.may_do(visit, crew, day))
            .map(|visit| {
                let due = &parts.visits[visit];
                let tomorrow = due.waiting.get(day + 1).copied().unwrap_or(due.skip);
                (tomorrow <= due.waiting[day], parts.roads.minutes[at * parts.roads.nodes + due.node], visit)
            })
            .collect();
        open.sort_unstable();
        let placed = open.iter().find_map(|&(_, _, visit)| {
            let mut group = vec![visit];
            group.extend((0..groups.len()).filter(|&other| other != visit && groups[other] == groups[visit]));
            let mut wanted = stops.clone();
            wanted.extend(&group);
            draft.place(day, crew, &group, wanted.clone()).then_some(wanted)
        });
        let Some(wanted) = placed else { return };
        at = parts.visits[*wanted.last().expect("the group just placed")].node;
        stops = wanted;
    }
}
