//! The floor against the true optimum of small problems with every rule, found by trying everything with the checker's own eyes.

#![expect(clippy::unwrap_used, reason = "a test stops at the first surprise")]

mod random_problem;

use outyard_base::Cents;
use outyard_runs::prices::with_extra;
use outyard_runs::{
    Breach, Effort, Extra, Plan, Proof, Run, RunProblem, bound, bound_by_best_runs, bound_under, check_plan, cost,
    own_bill, solve,
};
use random_problem::{Spice, parts, problem};

fn never() -> bool {
    false
}

/// At most four visits, three days and two crews with a truck each: every plan can be tried.
fn small(seed: u64) -> RunProblem {
    let mut parts = parts(seed, Spice { all_rules: true, visits_max: 4 });
    parts.days.truncate(3);
    let days = parts.days.len();
    parts.gear.iter_mut().for_each(|gear| gear.stock.truncate(days));
    // Short stock, so that it matters.
    parts.gear.iter_mut().flat_map(|gear| &mut gear.stock).for_each(|stock| *stock = *stock * 3 / 4);
    parts.crews.truncate(2);
    let crews = parts.crews.len();
    for (index, crew) in parts.crews.iter_mut().enumerate() {
        crew.days_off.retain(|day| *day < days);
        crew.trucks = vec![index];
    }
    for visit in &mut parts.visits {
        visit.waiting.truncate(days);
        visit.gates.truncate(days);
        visit.earliest_day = visit.earliest_day.min(days - 1);
        visit.told = visit.told.filter(|told| told.day < days && told.crew < crews);
        if let Some(list) = &mut visit.crews {
            list.retain(|crew| *crew < crews);
        }
    }
    RunProblem::new(parts).unwrap_or_else(|troubles| panic!("seed {seed}: {troubles:?}"))
}

/// Breaches a run can have by itself; the others concern several runs.
fn of_one_run(breach: &Breach) -> bool {
    let kind = format!("{breach:?}");
    !["FollowsBadly", "NotTogether", "StockShort"].iter().any(|other| kind.starts_with(other))
}

fn orders(stops: &[usize]) -> Vec<Vec<usize>> {
    if stops.is_empty() {
        return vec![Vec::new()];
    }
    let mut all = Vec::new();
    for (index, &first) in stops.iter().enumerate() {
        let mut rest = stops.to_vec();
        rest.remove(index);
        for mut order in orders(&rest) {
            order.insert(0, first);
            all.push(order);
        }
    }
    all
}

/// The cheapest order of every set of visits in every slot, by the checker alone.
fn best_orders(problem: &RunProblem) -> Vec<Vec<Option<Run>>> {
    let crews = problem.parts().crews.len();
    (0..problem.day_count() * crews)
        .map(|slot| {
            (0..1_usize << problem.visit_count())
                .map(|set| {
                    let stops: Vec<usize> = (0..problem.visit_count()).filter(|visit| set >> visit & 1 == 1).collect();
                    let run = |stops| Run { day: slot / crews, crew: slot % crews, truck: slot % crews, stops };
                    orders(&stops)
                        .into_iter()
                        .map(|order| Plan { runs: vec![run(order)] })
                        .filter(|plan| !check_plan(problem, plan).iter().any(of_one_run))
                        .min_by_key(|plan| own_bill(problem, plan).unwrap().total())
                        .map(|mut plan| plan.runs.remove(0))
                })
                .collect()
        })
        .collect()
}

/// The least bill of all plans.
fn optimum(problem: &RunProblem) -> Cents {
    let slots = problem.day_count() * problem.parts().crews.len();
    let visits = problem.visit_count();
    let runs = best_orders(problem);
    let mut choice = vec![slots; visits];
    let mut best = own_bill(problem, &Plan::default()).unwrap().total();
    loop {
        let sets =
            (0..slots).map(|slot| (0..visits).filter(|&visit| choice[visit] == slot).map(|visit| 1 << visit).sum());
        let plan: Option<Vec<Run>> = sets
            .enumerate()
            .filter(|(_, set): &(usize, usize)| *set > 0)
            .map(|(slot, set)| runs[slot][set].clone())
            .collect();
        if let Some(runs) = plan {
            let plan = Plan { runs };
            if check_plan(problem, &plan).is_empty() {
                best = best.min(own_bill(problem, &plan).unwrap().total());
            }
        }
        // The next choice, as on an odometer; the slot after the last is being left out.
        let Some(turn) = choice.iter().position(|slot| *slot > 0) else { return best };
        choice[..turn].fill(slots);
        choice[turn] -= 1;
    }
}

#[test]
fn every_floor_lies_under_the_true_optimum_and_often_close() {
    let (mut close, mut seen, mut tied, mut gated) = (0, 0, 0, 0);
    for seed in 0..250 {
        let problem = small(seed);
        let best = optimum(&problem);
        let plan = solve(&problem, &Effort { tries: 300 }, 1, None, &never);
        let found = cost(&problem, &plan).unwrap().total();
        assert!(best <= found, "seed {seed}: a plan of {found} below the optimum {best}");
        let simple = bound(&problem, 0, &never);
        assert_eq!(simple.proof, Proof::VisitByVisit);
        let floors = [
            simple,
            bound(&problem, 20_000, &never),
            bound_by_best_runs(&problem, &never),
            bound_under(&problem, &plan, 20_000, 20_000, &never),
        ];
        for floor in floors {
            assert!(floor.value <= best, "seed {seed}: {floor:?} above the optimum {best}");
        }
        seen += 1;
        close += usize::from(floors[2].value.0 * 100 >= best.0 * 95);
        tied += usize::from(problem.parts().visits.iter().any(|visit| visit.follows.is_some()));
        gated += usize::from(problem.parts().visits.iter().any(|visit| !visit.gates.is_empty()));
    }
    assert!(tied > 40 && gated > 100, "{tied} with ties, {gated} with gates: too few to tell");
    assert!(close * 100 > seen * 60, "only {close} of {seen} floors are within 5 % of the optimum");
}

/// Prices are sought until the linear program and the floor are as good as one, not to the last cent.
#[test]
fn one_more_of_anything_never_lifts_the_floor() {
    let mut fell = 0;
    for seed in 0..60 {
        let problem = small(seed);
        let floor = bound_by_best_runs(&problem, &never).value;
        let day = problem.day_count() - 1;
        for extra in [
            Extra::CrewWithTruck { like: 0, day },
            Extra::Gear { gear: 0, day: 0, count: 30 },
            Extra::Time { crew: 0, day, minutes: outyard_base::Minutes(60) },
        ] {
            let richer = with_extra(&problem, extra).unwrap();
            let lower = bound_by_best_runs(&richer, &never).value;
            // A crew given an hour becomes two crews to the floor, each run of which may be rounded down by half a cent.
            let slack = floor.0.abs() / 500 + 20;
            assert!(lower.0 <= floor.0 + slack, "seed {seed}: {extra:?} lifts the floor from {floor} to {lower}");
            fell += usize::from(lower < floor);
        }
    }
    assert!(fell > 30, "one more lowered the floor in only {fell} cases");
}

#[test]
fn floors_of_problems_nobody_can_try_out_lie_under_what_is_found() {
    for seed in 1_000..1_100 {
        let problem = problem(seed, Spice { all_rules: true, visits_max: 24 });
        let plan = solve(&problem, &Effort { tries: 400 }, 1, None, &never);
        let found = cost(&problem, &plan).unwrap().total();
        let floor = bound_under(&problem, &plan, 20_000, 50_000_000, &never);
        assert!(floor.value <= found, "seed {seed}: {floor:?} above a plan of {found}");
        // The same work gives the same floor.
        assert_eq!(floor, bound_under(&problem, &plan, 20_000, 50_000_000, &never), "seed {seed}");
    }
}
