//! Plans played through weather that was not known when they were made.

#![expect(clippy::unwrap_used, reason = "a test stops at the first surprise")]

mod random_problem;

use outyard_base::{Cents, Chance};
use outyard_runs::replay::lived;
use outyard_runs::{Effort, Gate, Plan, Run, RunProblem, best_over, check_plan, cost, replay, solve};
use random_problem::{Spice, problem};

/// The same problem in other weather: some gates shut, some days lost.
fn members(problem: &RunProblem, seed: u64, count: usize) -> Vec<RunProblem> {
    let mut chance = Chance::new(seed, "members");
    (0..count)
        .map(|_| {
            let mut parts = problem.parts().clone();
            let days = parts.days.len();
            for visit in &mut parts.visits {
                let mut gates: Vec<Gate> = (0..days).map(|day| visit.gate(day)).collect();
                gates.iter_mut().filter(|_| chance.happens(0.2)).for_each(|gate| *gate = Gate::Shut);
                visit.gates = gates;
            }
            for day in &mut parts.days {
                if chance.happens(0.15) {
                    day.usable_permille = 0;
                }
            }
            RunProblem::new(parts).unwrap()
        })
        .collect()
}

#[test]
fn what_is_lived_is_sound_in_every_member_and_billed() {
    let (mut moved, mut lost) = (0, 0);
    for seed in 0..80 {
        let problem = problem(seed, Spice { all_rules: true, visits_max: 12 });
        let plan = solve(&problem, &Effort { tries: 300 }, seed, None, &|| false);
        assert_eq!(lived(&problem, &plan), plan, "seed {seed}: nothing changed, so nothing moves");
        let members = members(&problem, seed, 5);
        let fared = replay(&members, &plan);
        let before = plan.assignments(problem.visit_count());
        for (member, bill) in members.iter().zip(&fared.bills) {
            let lived = lived(member, &plan);
            assert_eq!(check_plan(member, &lived), [], "seed {seed}");
            assert_eq!(cost(member, &lived).unwrap().total(), *bill);
            for (was, is) in before.iter().zip(lived.assignments(problem.visit_count())) {
                match (was, is) {
                    (Some(was), Some(is)) => {
                        assert!(is.0 >= was.0, "seed {seed}: nobody goes earlier than planned");
                        moved += usize::from(is.0 > was.0);
                    }
                    (Some(_), None) => lost += 1,
                    (None, is) => assert_eq!(is, None, "seed {seed}: what was left out stays out"),
                }
            }
        }
        assert!(fared.bills.iter().min().unwrap() <= &fared.mean && &fared.mean <= fared.bills.iter().max().unwrap());
        let dearer = fared.bills.iter().filter(|bill| **bill > fared.bad_case).count();
        assert!(dearer * 10 <= fared.bills.len(), "seed {seed}: {fared:?}");
    }
    assert!(moved > 20 && lost > 20, "{moved} moved and {lost} lost: the weather did nothing");
}

/// One yard, one crew, two days; waiting to the second day costs 100.00, leaving out 1,000.00.
#[test]
fn the_plan_with_room_to_slide_wins_where_rain_is_likely() {
    let mut parts = random_problem::parts(3, Spice { all_rules: false, visits_max: 2 });
    parts.visits.truncate(1);
    parts.crews.truncate(1);
    parts.gear.clear();
    parts.max_stops = 2;
    parts.days = vec![outyard_runs::Day::WHOLE; 2];
    parts.crews[0].shift_max = outyard_base::Minutes(2880);
    let only = &mut parts.visits[0];
    (only.earliest_day, only.waiting, only.skip) = (0, vec![Cents(0), Cents(10_000)], Cents(100_000));
    only.needs.clear();
    let dry = RunProblem::new(parts.clone()).unwrap();
    parts.visits[0].gates = vec![Gate::Shut, Gate::AllDay];
    let wet_then_dry = RunProblem::new(parts.clone()).unwrap();
    parts.visits[0].gates = vec![Gate::AllDay, Gate::Shut];
    let dry_then_wet = RunProblem::new(parts).unwrap();
    let on = |day| Plan { runs: vec![Run { day, crew: 0, truck: 0, stops: vec![0] }] };
    let run = cost(&dry, &on(0)).unwrap().total();
    let members = [dry, wet_then_dry, dry_then_wet];
    let (best, fared) = best_over(&members, &[on(1), on(0)]).unwrap();
    // Going first may slide by a day; going last has no day left to slide to.
    assert_eq!(best, 1);
    assert_eq!(fared[1].bills, [run, run + Cents(10_000), run]);
    assert_eq!(fared[0].bills, [run + Cents(10_000), run + Cents(10_000), Cents(100_000)]);
    assert_eq!(fared[0].left_out, [1]);
    assert_eq!(fared[0].bad_case, Cents(100_000));
    assert_eq!(best_over(&members, &[]), None);
}
