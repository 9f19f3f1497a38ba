//! Every plan found on hundreds of random problems is sound, and the checker's own bill is the planner's.

#![expect(clippy::unwrap_used, reason = "a test stops at the first surprise")]

mod random_problem;

use outyard_base::{Cents, Chance};
use outyard_runs::{
    Breach, Effort, Plan, RunProblem, Visit, bound, bound_by_best_runs, check_plan, cost, load, nearest_due_first,
    own_bill, schedule, solve,
};
use random_problem::{Spice, parts, problem};

const ALL: Spice = Spice { all_rules: true, visits_max: 14 };
const FEW: Spice = Spice { all_rules: false, visits_max: 14 };
const EFFORT: Effort = Effort { tries: 300 };

fn never() -> bool {
    false
}

fn total(problem: &RunProblem, plan: &Plan) -> Cents {
    cost(problem, plan).unwrap().total()
}

#[track_caller]
fn assert_sound(seed: u64, problem: &RunProblem, plan: &Plan) {
    assert_eq!(check_plan(problem, plan), [], "seed {seed}: {plan:?}");
    assert_eq!(own_bill(problem, plan), cost(problem, plan), "seed {seed}: {plan:?}");
}

#[test]
fn plans_and_rules_of_thumb_are_sound_and_billed_alike() {
    let mut stops = 0;
    for seed in 0..300 {
        for spice in [ALL, FEW] {
            let problem = problem(seed, spice);
            let thumb = nearest_due_first(&problem);
            assert_sound(seed, &problem, &thumb);
            let plan = solve(&problem, &EFFORT, seed, None, &never);
            assert_sound(seed, &problem, &plan);
            assert!(total(&problem, &plan) <= total(&problem, &thumb), "seed {seed}");
            stops += plan.runs.iter().map(|run| run.stops.len()).sum::<usize>();
        }
    }
    // Guards the generator: problems nobody can do anything in would test nothing.
    assert!(stops > 2000, "only {stops} stops were planned");
}

#[test]
fn no_plan_costs_less_than_the_bound() {
    for seed in 0..150 {
        for spice in [ALL, FEW] {
            let problem = problem(seed, spice);
            let plan = solve(&problem, &EFFORT, seed, None, &never);
            let floor = bound(&problem, 0, &never).value;
            assert!(floor <= total(&problem, &plan), "seed {seed}: floor {floor}");
            let proven = bound(&problem, 20_000, &never);
            assert!(proven.value <= total(&problem, &plan), "seed {seed}: {proven:?}");
            assert!(proven.value >= floor, "seed {seed}: {proven:?} below {floor}");
            if seed % 4 == 0 {
                let hunted = bound_by_best_runs(&problem, &never);
                assert!(hunted.value <= total(&problem, &plan), "seed {seed}: {hunted:?}");
                assert!(hunted.value >= floor, "seed {seed}: {hunted:?} below {floor}");
            }
        }
    }
}

#[test]
fn the_same_seed_gives_the_same_plan_and_a_warm_start_never_loses() {
    for seed in 0..60 {
        let problem = problem(seed, ALL);
        let plan = solve(&problem, &EFFORT, 7, None, &never);
        assert_eq!(plan, solve(&problem, &EFFORT, 7, None, &never));
        let warmed = solve(&problem, &EFFORT, 8, Some(&plan), &never);
        assert_sound(seed, &problem, &warmed);
        assert!(total(&problem, &warmed) <= total(&problem, &plan), "seed {seed}");
        // Stopped at once, the warm start comes back as it is.
        assert_eq!(solve(&problem, &EFFORT, 8, Some(&plan), &|| true), plan, "seed {seed}");
    }
}

/// Visits in another order, nothing else changed.
fn relabelled(problem: &RunProblem, order: &[usize]) -> RunProblem {
    let mut parts = problem.parts().clone();
    let mut new_number = vec![0; order.len()];
    for (new, &old) in order.iter().enumerate() {
        new_number[old] = new;
    }
    parts.visits = order.iter().map(|&old| parts.visits[old].clone()).collect::<Vec<Visit>>();
    for visit in &mut parts.visits {
        if let Some(tie) = &mut visit.follows {
            tie.visit = new_number[tie.visit];
        }
    }
    for pair in parts.together.iter_mut().chain(&mut parts.apart) {
        *pair = (new_number[pair.0], new_number[pair.1]);
    }
    RunProblem::new(parts).unwrap()
}

#[test]
fn relabelling_visits_changes_neither_bill_nor_best_plan() {
    for seed in 0..40 {
        let spice = Spice { all_rules: true, visits_max: 6 };
        let problem = problem(seed, spice);
        let mut order: Vec<usize> = (0..problem.visit_count()).collect();
        Chance::new(seed, "relabel").shuffle(&mut order);
        let other = relabelled(&problem, &order);
        // So few visits are planned to the end, whatever their numbers.
        let effort = Effort { tries: 4_000 };
        let plan = solve(&problem, &effort, 1, None, &never);
        let again = solve(&other, &effort, 1, None, &never);
        assert_eq!(total(&problem, &plan), total(&other, &again), "seed {seed}");
        let mut back = again;
        for stop in back.runs.iter_mut().flat_map(|run| &mut run.stops) {
            *stop = order[*stop];
        }
        assert_sound(seed, &problem, &back);
    }
}

#[test]
fn another_crew_never_worsens_plan_or_bound() {
    for seed in 0..60 {
        let problem = problem(seed, ALL);
        let plan = solve(&problem, &EFFORT, 3, None, &never);
        let mut richer = problem.parts().clone();
        let mut crew = richer.crews[0].clone();
        crew.trucks = vec![richer.trucks.len()];
        richer.trucks.push(richer.trucks[0].clone());
        richer.crews.push(crew);
        let richer = RunProblem::new(richer).unwrap();
        let better = solve(&richer, &EFFORT, 3, Some(&plan), &never);
        assert_sound(seed, &richer, &better);
        assert!(total(&richer, &better) <= total(&problem, &plan), "seed {seed}");
        // The simple floor allows for less than a cent of rounding for every possible run.
        let slack = i64::try_from(richer.day_count()).unwrap();
        assert!(bound(&richer, 0, &never).value.0 <= bound(&problem, 0, &never).value.0 + slack, "seed {seed}");
    }
}

#[test]
fn another_box_or_hour_never_worsens_plan_or_bound() {
    let mut cheaper = 0;
    for seed in 0..40 {
        let problem = problem(seed, ALL);
        let plan = solve(&problem, &EFFORT, 3, None, &never);
        let bill = total(&problem, &plan);
        for box_more in [true, false] {
            let mut parts = problem.parts().clone();
            if box_more {
                parts.gear.iter_mut().flat_map(|gear| &mut gear.stock).for_each(|stock| *stock += 40);
            } else {
                parts.crews.iter_mut().for_each(|crew| crew.shift_max.0 += 60);
            }
            let richer = RunProblem::new(parts).unwrap();
            let better = solve(&richer, &EFFORT, 3, Some(&plan), &never);
            assert_sound(seed, &richer, &better);
            assert!(total(&richer, &better) <= bill, "seed {seed}");
            cheaper += usize::from(total(&richer, &better) < bill);
            // Every plan of the poorer problem is one of the richer, so the richer floor lies under it too.
            assert!(bound(&richer, 20_000, &never).value <= bill, "seed {seed}");
            assert!(bound(&richer, 0, &never).value <= bound(&problem, 0, &never).value, "seed {seed}");
        }
    }
    assert!(cheaper > 15, "boxes and hours were worth nothing in all but {cheaper} cases");
}

#[test]
fn with_no_cost_of_waiting_only_the_road_decides_who_goes_together() {
    // One day, everything must be done, all else equal: the bill is the shortest set of rounds, found here by trying all.
    for seed in 0..25 {
        let mut parts = parts(seed, Spice { all_rules: false, visits_max: 5 });
        parts.days.truncate(1);
        parts.days[0] = outyard_runs::Day::WHOLE;
        parts.gear.clear();
        parts.crews.truncate(1);
        parts.crews[0].shift_max = outyard_base::Minutes(2880);
        parts.crews[0].days_off.clear();
        parts.max_stops = 6;
        for visit in &mut parts.visits {
            visit.earliest_day = 0;
            visit.waiting = vec![Cents(0)];
            visit.skip = Cents(100_000_000);
            visit.needs.clear();
        }
        let problem = RunProblem::new(parts).unwrap();
        let plan = solve(&problem, &Effort { tries: 500 }, 1, None, &never);
        let mut best: Option<Cents> = None;
        let mut order: Vec<usize> = (0..problem.visit_count()).collect();
        each_order(&mut order, 0, &mut |order| {
            let run = outyard_runs::Run { day: 0, crew: 0, truck: 0, stops: order.to_vec() };
            let bill = cost(&problem, &Plan { runs: vec![run] }).unwrap().total();
            best = Some(best.map_or(bill, |best| best.min(bill)));
        });
        assert_eq!(Some(total(&problem, &plan)), best, "seed {seed}");
        assert_eq!(cost(&problem, &plan).unwrap().waiting, Cents(0));
    }
}

fn each_order(order: &mut Vec<usize>, fixed: usize, look: &mut dyn FnMut(&[usize])) {
    if fixed == order.len() {
        look(order);
        return;
    }
    for other in fixed..order.len() {
        order.swap(fixed, other);
        each_order(order, fixed + 1, look);
        order.swap(fixed, other);
    }
}

#[test]
fn the_checker_sees_every_kind_of_damage() {
    let mut seen = std::collections::BTreeSet::new();
    let kind = |breach: &Breach| format!("{breach:?}").split([' ', '{']).next().unwrap().to_owned();
    for seed in 0..200 {
        let problem = problem(seed, ALL);
        let plan = solve(&problem, &Effort { tries: 100 }, seed, None, &never);
        let mut chance = Chance::new(seed, "damage");
        if plan.runs.is_empty() {
            continue;
        }
        for _ in 0..12 {
            let mut hurt = plan.clone();
            let index = chance.index(hurt.runs.len());
            match chance.below(6) {
                0 => hurt.runs[index].day = chance.index(problem.day_count()),
                1 => hurt.runs[index].crew = chance.index(problem.parts().crews.len()),
                2 => hurt.runs[index].truck = chance.index(problem.parts().trucks.len()),
                3 => {
                    let visit = chance.index(problem.visit_count());
                    hurt.runs[index].stops.push(visit);
                }
                4 => {
                    hurt.runs[index].stops.pop();
                }
                _ => {
                    for visit in 0..problem.visit_count() {
                        hurt.runs[index].stops.push(visit);
                    }
                }
            }
            seen.extend(check_plan(&problem, &hurt).iter().map(kind));
        }
    }
    let all = [
        "NotThere",
        "CrewIsOff",
        "CrewTwice",
        "TruckTwice",
        "TruckNotAllowed",
        "TooManyStops",
        "DoneTwice",
        "TooEarly",
        "GateShut",
        "CrewNotAllowed",
        "CannotBeTimed",
        "TooLong",
        "NoRoom",
        "TooHeavy",
        "StockShort",
        "FollowsBadly",
        "NotApart",
        "NotTogether",
    ];
    let missed: Vec<&str> = all.into_iter().filter(|name| !seen.contains(*name)).collect();
    assert_eq!(missed, [""; 0], "damage of these kinds was never seen");
}

#[test]
fn times_and_loads_agree_with_the_run() {
    for seed in 0..100 {
        let problem = problem(seed, ALL);
        let plan = solve(&problem, &EFFORT, seed, None, &never);
        for run in &plan.runs {
            let times = schedule(&problem, run).unwrap();
            assert!(times.leave >= problem.parts().crews[run.crew].earliest_leave, "seed {seed}");
            assert!(times.to_spare.0 >= 0 && times.waited.0 >= 0, "seed {seed}: {times:?}");
            for pair in times.stops.windows(2) {
                assert!(pair[0].end <= pair[1].arrive && pair[1].arrive <= pair[1].start, "seed {seed}");
            }
            let load = load(&problem, run);
            let truck = &problem.parts().trucks[run.truck];
            assert!(load.volume_most <= truck.volume && load.grams_most <= truck.payload, "seed {seed}");
        }
    }
}

#[test]
fn one_more_of_anything_never_costs_money() {
    use outyard_runs::prices::{Verdict, with_extra};
    use outyard_runs::{Extra, prices};
    let mut saving = 0;
    for seed in 0..40 {
        let problem = problem(seed, ALL);
        let plan = solve(&problem, &EFFORT, seed, None, &never);
        let day = problem.day_count().min(3) - 1;
        let extras = [
            Extra::Gear { gear: 0, day: 0, count: 40 },
            Extra::Crew { like: 0, day },
            Extra::CrewWithTruck { like: 0, day },
            Extra::Truck { like: 0 },
            Extra::Time { crew: 0, day, minutes: outyard_base::Minutes(120) },
        ];
        let all = prices(&problem, &plan, &extras, &EFFORT, &[1, 2, 3], &never).unwrap();
        for price in &all {
            assert!(price.worth.low >= Cents(0), "seed {seed}: {price:?}");
            assert!(price.before <= total(&problem, &plan), "seed {seed}: {price:?}");
            assert_eq!(price.verdict == Verdict::NotWorthIt, price.worth.high == Cents(0), "seed {seed}: {price:?}");
            saving += usize::from(price.verdict == Verdict::Saves);
            // The richer problem's floor must lie below what the price says the richer plan costs.
            let richer = with_extra(&problem, price.extra).unwrap();
            let floor = bound(&richer, 5_000, &never).value;
            assert!(floor <= price.before - price.worth.high, "seed {seed}: {price:?} against floor {floor}");
        }
    }
    assert!(saving > 10, "only {saving} extras saved money");
    let asked = with_extra(&problem(1, ALL), Extra::Truck { like: 99 });
    assert_eq!(asked.unwrap_err()[0].code, "RUN-010");
}

#[test]
fn every_flaw_is_refused_by_its_code() {
    use outyard_base::Minutes;
    use outyard_runs::{Follows, Gate, RunParts};
    type Spoil = fn(&mut RunParts);
    let flaws: [(&str, Spoil); 16] = [
        ("RUN-001", |parts| parts.days.clear()),
        ("RUN-002", |parts| parts.days[0].usable_permille = 1001),
        ("RUN-003", |parts| parts.roads.nodes += 1),
        ("RUN-004", |parts| parts.roads.minutes[1] = -1),
        ("RUN-005", |parts| parts.visits[0].waiting.truncate(1)),
        ("RUN-006", |parts| parts.trucks[0].volume = -1),
        ("RUN-007", |parts| parts.max_stops = 13),
        ("RUN-008", |parts| parts.crews[0].wage_per_minute = Cents(-1)),
        ("RUN-009", |parts| parts.crews = vec![parts.crews[0].clone(); 65]),
        ("RUN-010", |parts| parts.visits[0].node = 999),
        ("RUN-011", |parts| parts.crews[0].shift = Minutes(2000)),
        ("RUN-012", |parts| parts.crews[0].pace_permille = 0),
        ("RUN-013", |parts| parts.visits[0].pair_minutes = Minutes(-1)),
        ("RUN-014", |parts| parts.apart.push((0, 0))),
        ("RUN-015", |parts| {
            let gate = Gate::Open { from: outyard_base::ClockTime::at(9, 0), to: outyard_base::ClockTime::at(8, 0) };
            parts.visits[0].gates = vec![gate; parts.days.len()];
        }),
        ("RUN-016", |parts| {
            parts.visits[0].follows = Some(Follows { visit: 1, days_min: 0, days_max: 1 });
            parts.visits[1].follows = Some(Follows { visit: 0, days_min: 0, days_max: 1 });
        }),
    ];
    for (code, spoil) in flaws {
        let mut parts = parts(3, FEW);
        assert_eq!(RunProblem::new(parts.clone()).err(), None);
        spoil(&mut parts);
        let codes: Vec<&str> = RunProblem::new(parts).unwrap_err().iter().map(|trouble| trouble.code).collect();
        assert!(codes.contains(&code), "{code} is not among {codes:?}");
    }
}
