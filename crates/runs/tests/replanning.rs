//! Mending a plan after rain, a lost crew or a finished yard, and the reasons for where a visit stands.

#![expect(clippy::unwrap_used, reason = "a test stops at the first surprise")]

mod random_problem;

use outyard_base::{Cents, Minutes};
use outyard_runs::replan::ChangeCost;
use outyard_runs::{Day, Effort, Hindrance, Plan, RunProblem, check_plan, cost, reasons, replan, solve};
use random_problem::{Spice, problem};

const ALL: Spice = Spice { all_rules: true, visits_max: 12 };
const EFFORT: Effort = Effort { tries: 300 };

fn never() -> bool {
    false
}

/// Days of equal yards, one base, one crew: `per_day` fit in a day.
fn plain(days: usize, yards: usize, waiting_per_day: i64) -> RunProblem {
    let mut parts = random_problem::parts(1, Spice { all_rules: false, visits_max: 3 });
    let template = parts.visits[0].clone();
    parts.days = vec![Day::WHOLE; days];
    parts.gear.clear();
    parts.crews.truncate(1);
    parts.crews[0].shift_max = Minutes(600);
    parts.crews[0].shift = Minutes(600);
    parts.crews[0].days_off.clear();
    parts.max_stops = 3;
    parts.roads.nodes = yards + 1;
    parts.roads.minutes = vec![20; (yards + 1) * (yards + 1)];
    parts.roads.metres = vec![20_000; (yards + 1) * (yards + 1)];
    parts.visits = (0..yards)
        .map(|index| {
            let mut visit = template.clone();
            visit.node = index + 1;
            visit.pair_minutes = Minutes(170);
            visit.earliest_day = 0;
            visit.needs.clear();
            visit.waiting = (0..i64::try_from(days).unwrap()).map(|day| Cents(day * waiting_per_day)).collect();
            visit.skip = Cents(100_000_000);
            visit
        })
        .collect();
    RunProblem::new(parts).unwrap()
}

fn shut(problem: &RunProblem, days: &[usize]) -> RunProblem {
    let mut parts = problem.parts().clone();
    for &day in days {
        parts.days[day] = Day::SHUT;
    }
    RunProblem::new(parts).unwrap()
}

// The shape of scene S6: rain shuts days in the middle; what stood there slides to after the rain, what stood before stays.
#[test]
fn rain_moves_what_it_must_and_nothing_else() {
    let dry = plain(8, 12, 1_000);
    let plan = solve(&dry, &Effort { tries: 2_000 }, 1, None, &never);
    assert_eq!(plan.runs.iter().map(|run| run.day).collect::<Vec<_>>(), [0, 1, 2, 3]);
    let wet = shut(&dry, &[2, 3, 4]);
    let same: Vec<Option<usize>> = (0..12).map(Some).collect();
    let change = ChangeCost { day: Cents(500), crew: Cents(100) };
    let mended = replan(&dry, &plan, &wet, &same, change, &Effort { tries: 2_000 }, 1, &never);
    assert_eq!(check_plan(&wet, &mended.plan), []);
    assert_eq!(mended.stayed.len(), 6, "the two runs before the rain stay");
    assert_eq!(mended.slid.len(), 6);
    assert!(mended.slid.iter().all(|slide| slide.forced), "{:?}", mended.slid);
    assert!(mended.slid.iter().all(|slide| slide.from.unwrap().0 >= 2 && slide.to.unwrap().0 >= 5));
    // Six yards slide by three days each at 10.00 a day.
    assert_eq!(mended.cost, Cents(6 * 3 * 1_000));
    assert_eq!(mended.bill, cost(&wet, &mended.plan).unwrap());
}

#[test]
fn nothing_changed_means_nothing_slides_when_a_change_costs_more_than_it_saves() {
    for seed in 0..40 {
        let before = problem(seed, ALL);
        let plan = solve(&before, &EFFORT, seed, None, &never);
        let same: Vec<Option<usize>> = (0..before.visit_count()).map(Some).collect();
        let dear = ChangeCost { day: Cents(1_000_000_000), crew: Cents(1_000_000_000) };
        let mended = replan(&before, &plan, &before, &same, dear, &EFFORT, 9, &never);
        let moved: Vec<_> = mended.slid.iter().filter(|slide| slide.from.is_some()).collect();
        assert!(moved.is_empty(), "seed {seed}: {moved:?}");
        // Visits left out before may come in; that is no change to anybody.
        assert!(mended.slid.iter().all(|slide| slide.from.is_none()), "seed {seed}");
    }
}

#[test]
fn a_dear_change_slides_no_more_than_a_cheap_one_and_both_are_sound() {
    let (mut cheap_moves, mut dear_moves) = (0, 0);
    for seed in 0..60 {
        let before = problem(seed, ALL);
        let plan = solve(&before, &EFFORT, seed, None, &never);
        let after = shut(&before, &[0]);
        let gone = usize::try_from(seed).unwrap() % before.visit_count();
        // A visit others are tied to cannot be called done without them; it stays.
        let tied = before.parts().visits.iter().any(|visit| visit.follows.is_some())
            || !before.parts().together.is_empty()
            || !before.parts().apart.is_empty();
        let (after, same) = if tied { (after, None) } else { without(&after, gone) };
        let same = same.unwrap_or_else(|| (0..before.visit_count()).map(Some).collect());
        let moves = |change: i64| {
            let change = ChangeCost { day: Cents(change), crew: Cents(change) };
            let mended = replan(&before, &plan, &after, &same, change, &EFFORT, 5, &never);
            assert_eq!(check_plan(&after, &mended.plan), [], "seed {seed}");
            let listed = mended.slid.len() + mended.stayed.len() + mended.fresh.len();
            assert_eq!(listed, after.visit_count(), "seed {seed}: every visit is listed once");
            mended.slid.iter().filter(|slide| slide.from.is_some() && !slide.forced).count()
        };
        cheap_moves += moves(0);
        dear_moves += moves(10_000_000);
    }
    assert!(dear_moves < cheap_moves, "{dear_moves} against {cheap_moves}");
}

/// The problem without one visit, and the new numbers of the others.
fn without(problem: &RunProblem, gone: usize) -> (RunProblem, Option<Vec<Option<usize>>>) {
    let mut parts = problem.parts().clone();
    parts.visits.remove(gone);
    let number = |old: usize| (old != gone).then_some(if old > gone { old - 1 } else { old });
    (RunProblem::new(parts).unwrap(), Some((0..problem.visit_count()).map(number).collect()))
}

/// The plan with one visit moved as the reasons say must cost what they say.
#[test]
fn reasons_name_the_true_price_of_another_day() {
    let (mut told, mut told_of_crews) = (0, 0);
    for seed in 0..100 {
        let problem = problem(seed, ALL);
        let plan = solve(&problem, &EFFORT, seed, None, &never);
        let total = cost(&problem, &plan).unwrap().total();
        for visit in 0..problem.visit_count() {
            let why = reasons(&problem, &plan, visit);
            assert_eq!(why.stands, plan.assignments(problem.visit_count())[visit], "seed {seed}");
            // Bound visits move together, which the trial below does not.
            let bound = problem.parts().together.iter().any(|pair| pair.0 == visit || pair.1 == visit);
            for other in why.alternatives.iter().filter(|_| !bound) {
                if let Ok((crew, adds)) = other.outcome {
                    told += 1;
                    assert_eq!(
                        cheapest_move(&problem, &plan, visit, other.day, crew),
                        Some(total + adds),
                        "seed {seed}"
                    );
                }
            }
            for other in why.other_crews.iter().filter(|_| !bound) {
                let (day, own) = why.stands.unwrap();
                assert_ne!(other.crew, own, "seed {seed}");
                if let Ok(adds) = other.outcome {
                    told_of_crews += 1;
                    let moved = cheapest_move(&problem, &plan, visit, day, other.crew);
                    assert_eq!(moved, Some(total + adds), "seed {seed}");
                }
            }
            if why.stands.is_none() {
                assert!(why.other_crews.is_empty(), "seed {seed}");
                assert_eq!(why.leaving_out_adds, Cents(0), "seed {seed}");
            }
        }
    }
    assert!(told > 500, "only {told} other days were possible");
    assert!(told_of_crews > 100, "only {told_of_crews} other crews were possible");
}

/// Bill with a visit moved to a crew's run of another day, tried place by place; `None` when impossible.
fn cheapest_move(problem: &RunProblem, plan: &Plan, visit: usize, day: usize, crew: usize) -> Option<Cents> {
    let mut loose = plan.clone();
    for run in &mut loose.runs {
        run.stops.retain(|&stop| stop != visit);
    }
    let loose = loose.tidied();
    let own = loose.runs.iter().position(|run| run.day == day && run.crew == crew);
    let stops = own.map_or(0, |run| loose.runs[run].stops.len());
    let mut best: Option<Cents> = None;
    for place in 0..=stops {
        for &truck in &problem.parts().crews[crew].trucks {
            let mut tried = loose.clone();
            match own {
                Some(run) => {
                    tried.runs[run].stops.insert(place, visit);
                    tried.runs[run].truck = truck;
                }
                None => tried.runs.push(outyard_runs::Run { day, crew, truck, stops: vec![visit] }),
            }
            if check_plan(problem, &tried).is_empty() {
                let total = cost(problem, &tried).unwrap().total();
                best = Some(best.map_or(total, |best| best.min(total)));
            }
        }
    }
    best
}

#[test]
fn reasons_say_what_forbids_a_day() {
    let mut parts = plain(4, 6, 1_000).into_parts();
    parts.days[3] = Day::SHUT;
    parts.visits[5].earliest_day = 1;
    let problem = RunProblem::new(parts).unwrap();
    let plan = solve(&problem, &Effort { tries: 1_000 }, 1, None, &never);
    let why = reasons(&problem, &plan, 5);
    assert_eq!(why.stands.unwrap().0, 1);
    let outcome = |day: usize| why.alternatives.iter().find(|other| other.day == day).unwrap().outcome;
    assert_eq!(outcome(0), Err(Hindrance::TooEarly));
    assert_eq!(outcome(3), Err(Hindrance::DayShut));
    let (day, adds) = why.next_best().unwrap();
    // A day later costs 10.00 of waiting and a run of its own.
    assert_eq!(day, 2);
    assert!(adds > Cents(1_000), "{adds}");
}
