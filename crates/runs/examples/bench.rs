//! Plans the bench instances and prints cost, gap to the best known plan, and time.
//!
//! `OUTYARD_BENCH=folder cargo run --release -p outyard-runs --example bench -- [tries] [seeds] [name ...]`
//!
//! The folder holds the instances as plain `.json` (unpack the large one first).

use std::error::Error;
use std::path::Path;
use std::time::Instant;

use outyard_runs::{Effort, RunProblem, bound, check_plan, cost, nearest_due_first, solve};

#[path = "../tests/bench_reader/mod.rs"]
mod bench_reader;

/// Best plans known, in cents.
const BEST_KNOWN: [(&str, i64); 5] = [
    ("S0_tight", 1_754_335),
    ("S1_loose", 770_596),
    ("S2_tight", 1_498_586),
    ("S3_loose", 728_480),
    ("M0_tight", 14_525_837),
];

/// Most runs listed for the floor.
const RUNS_MAX: usize = 200_000;

fn main() -> Result<(), Box<dyn Error>> {
    let mut words = std::env::args().skip(1);
    let tries: u64 = words.next().map_or(Ok(Effort::GOOD.tries), |word| word.parse())?;
    let seeds: u64 = words.next().map_or(Ok(3), |word| word.parse())?;
    let names: Vec<String> = words.collect();
    let Some(folder) = std::env::var_os("OUTYARD_BENCH") else {
        return Err("set OUTYARD_BENCH to the folder of the bench instances".into());
    };
    for (name, best_known) in BEST_KNOWN {
        let path = Path::new(&folder).join(format!("{name}.json"));
        if !path.exists() || (!names.is_empty() && !names.iter().any(|wanted| wanted == name)) {
            continue;
        }
        let problem = bench_reader::read(&path)?;
        run(name, best_known, &problem, tries, seeds);
    }
    Ok(())
}

#[expect(clippy::print_stdout, clippy::cast_precision_loss, reason = "an example prints its figures for reading")]
fn run(name: &str, best_known: i64, problem: &RunProblem, tries: u64, seeds: u64) {
    let share = |total: i64| 100.0 * (total - best_known) as f64 / best_known as f64;
    let thumb = cost(problem, &nearest_due_first(problem)).expect("the rule of thumb is sound").total().0;
    println!("{name}: nearest due first {thumb} ({:+.2} %)", share(thumb));
    if std::env::var_os("NOFLOOR").is_none() {
    let begun = Instant::now();
    let floor = bound(problem, RUNS_MAX, &|| false);
    let seconds = begun.elapsed().as_secs_f64();
    println!("{name}: floor {} ({:+.3} %) by {:?} in {seconds:.2} s", floor.value.0, share(floor.value.0), floor.proof);
    }
    for seed in 0..seeds {
        let begun = Instant::now();
        let plan = solve(problem, &Effort { tries }, seed, None, &|| false);
        let seconds = begun.elapsed().as_secs_f64();
        assert_eq!(check_plan(problem, &plan), []);
        let bill = cost(problem, &plan).expect("a sound plan");
        println!("{bill:?} stops {:?}", (0..14).map(|d| plan.runs.iter().filter(|r| r.day==d).map(|r| r.stops.len()).sum::<usize>()).collect::<Vec<_>>());
        for gear in 0..2 { let mut used = 0; let s: Vec<i64> = (0..14).map(|d| { used += plan.runs.iter().filter(|r| r.day==d).flat_map(|r| &r.stops).map(|&v| problem.parts().visits[v].needs[gear].1).sum::<i64>(); problem.parts().gear[gear].stock[d]-used}).collect(); println!("left {s:?}"); }
        let total = bill.total().0;
        println!("{name}: seed {seed}, {tries} tries, {total} ({:+.3} %) in {seconds:.2} s", share(total));
    }
}
