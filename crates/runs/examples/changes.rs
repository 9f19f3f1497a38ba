//! Changes a plan of 45 yards in many ways, mends it in a tenth of a second, and prints how much dearer the mended plan is than one made anew in a second.
//!
//! `OUTYARD_BENCH=folder cargo run --release -p outyard-runs --example changes -- [changes] [tries] [first seed] [name ...]`
//!
//! The kinds of change follow each other: a day of rain, a crew at home for a day, a truck three hours late, a tally that differs, a yard moved to
//! another place, a visit moved to another day by hand. Two sums are compared, each with its own plan made anew: *free*, where changing what was
//! told costs nothing, and *told*, where another day costs 20.00 and another crew 10.00 and both plans are judged with that.

use std::error::Error;
use std::path::Path;

use outyard_base::{Cents, Chance};
use outyard_runs::replan::ChangeCost;
use outyard_runs::{Day, Effort, Gate, Plan, RunParts, RunProblem, Told, check_plan, cost, replan, solve};

#[path = "../tests/bench_reader/mod.rs"]
mod bench_reader;
#[path = "../tests/processor_seconds/mod.rs"]
mod processor_seconds;

use processor_seconds::processor_seconds;

const NAMES: [&str; 4] = ["S0_tight", "S1_loose", "S2_tight", "S3_loose"];
/// Tries of a plan made anew.
const ANEW: Effort = Effort { tries: 90_000 };

fn main() -> Result<(), Box<dyn Error>> {
    let mut words = std::env::args().skip(1);
    let changes: u64 = words.next().map_or(Ok(36), |word| word.parse())?;
    let tries: u64 = words.next().map_or(Ok(8_000), |word| word.parse())?;
    let first: u64 = words.next().map_or(Ok(0), |word| word.parse())?;
    let names: Vec<String> = words.collect();
    let Some(folder) = std::env::var_os("OUTYARD_BENCH") else {
        return Err("set OUTYARD_BENCH to the folder of the bench instances".into());
    };
    for name in NAMES.iter().filter(|name| names.is_empty() || names.iter().any(|wanted| wanted == *name)) {
        let problem = bench_reader::read(&Path::new(&folder).join(format!("{name}.json")))?;
        all_changes(name, &problem, first..first + changes, tries)?;
    }
    Ok(())
}

#[expect(clippy::print_stdout, reason = "an example prints its figures for reading")]
fn all_changes(
    name: &str,
    problem: &RunProblem,
    seeds: std::ops::Range<u64>,
    tries: u64,
) -> Result<(), Box<dyn Error>> {
    let changes = seeds.end - seeds.start;
    let plan = solve(problem, &ANEW, 0, None, &|| false);
    let same: Vec<Option<usize>> = (0..problem.visit_count()).map(Some).collect();
    for (words, change) in [("free", Cents::ZERO), ("told", Cents(2_000))] {
        let price = ChangeCost { day: change, crew: Cents(change.0 / 2) };
        let (mut above, mut seconds) = (Vec::new(), Vec::new());
        for seed in seeds.clone() {
            let (changed, what) = changed(problem, &plan, seed)?;
            let begun = processor_seconds();
            let mended = replan(problem, &plan, &changed, &same, price, &Effort { tries }, seed, &|| false);
            seconds.push(processor_seconds() - begun);
            assert_eq!(check_plan(&changed, &mended.plan), []);
            let told = with_told(&changed, &plan, price)?;
            let anew = solve(&told, &ANEW, 100 + seed, None, &|| false);
            let total = |plan: &Plan| cost(&told, plan).ok_or("a sound plan").map(|bill| bill.total().0);
            let (mended, anew) = (total(&mended.plan)?, total(&anew)?);
            above.push((share(mended - anew, anew), what));
        }
        above.sort_by(|one, other| one.0.total_cmp(&other.0));
        seconds.sort_by(f64::total_cmp);
        let at = |share: usize| above[(above.len() - 1) * share / 100].0;
        println!(
            "{name}: {words}: {changes} changes, mended {:+.3} % against anew in the middle, {:+.3} % nine in ten, {:+.3} % at worst ({}); {:.3} s, {:.3} s at most",
            at(50),
            at(90),
            at(100),
            above[above.len() - 1].1,
            seconds[seconds.len() / 2],
            seconds[seconds.len() - 1]
        );
    }
    Ok(())
}

#[expect(clippy::cast_precision_loss, reason = "a share for show")]
fn share(more: i64, of: i64) -> f64 {
    100.0 * more as f64 / of as f64
}

fn whole(chance: &mut Chance, low: i64, high: i64) -> i64 {
    low + i64::try_from(chance.below(high.abs_diff(low) + 1)).expect("a small number")
}

/// The problem after a change, and the change in words.
fn changed(problem: &RunProblem, plan: &Plan, seed: u64) -> Result<(RunProblem, &'static str), Box<dyn Error>> {
    let mut chance = Chance::new(seed, "changes of a plan");
    let mut parts = problem.parts().clone();
    let run = &plan.runs[chance.index(plan.runs.len())];
    let visit = run.stops[chance.index(run.stops.len())];
    let built = |parts: RunParts| RunProblem::new(parts).map_err(|troubles| format!("{troubles:?}"));
    let what = match seed % 6 {
        0 => {
            parts.days[run.day] = Day::SHUT;
            "rain"
        }
        1 => {
            parts.crews[run.crew].days_off.push(run.day);
            "crew at home"
        }
        2 => {
            // The crew is off, and a twin that must be back three hours sooner goes out in its place.
            let mut late = parts.crews[run.crew].clone();
            late.shift_max.0 -= 180;
            late.shift.0 = late.shift.0.min(late.shift_max.0);
            late.days_off = (0..problem.day_count()).filter(|&day| day != run.day).collect();
            parts.crews.push(late);
            parts.crews[run.crew].days_off.push(run.day);
            "truck late"
        }
        3 => {
            let due = &mut parts.visits[visit];
            due.pair_minutes.0 = due.pair_minutes.0 * whole(&mut chance, 60, 160) / 100;
            let share = whole(&mut chance, 50, 170);
            due.needs.iter_mut().for_each(|need| need.1 = need.1 * share / 100);
            "tally differs"
        }
        4 => {
            // The yard now stands where another stands.
            parts.visits[visit].node = parts.visits[chance.index(problem.visit_count())].node;
            "yard moved"
        }
        _ => {
            let open: Vec<usize> = (parts.visits[visit].earliest_day..problem.day_count())
                .filter(|&day| day != run.day && problem.crew_works(0, day))
                .collect();
            if let Some(&day) = open.get(chance.index(open.len().max(1))) {
                parts.visits[visit].gates = (0..problem.day_count())
                    .map(|other| if other == day { Gate::AllDay } else { Gate::Shut })
                    .collect();
            }
            "visit moved by hand"
        }
    };
    Ok((built(parts)?, what))
}

fn with_told(problem: &RunProblem, plan: &Plan, price: ChangeCost) -> Result<RunProblem, Box<dyn Error>> {
    let mut parts = problem.parts().clone();
    for (visit, place) in parts.visits.iter_mut().zip(plan.assignments(problem.visit_count())) {
        visit.told = place.map(|(day, crew)| Told { day, crew, day_change: price.day, crew_change: price.crew });
    }
    RunProblem::new(parts).map_err(|troubles| format!("{troubles:?}").into())
}
