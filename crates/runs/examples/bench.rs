//! Plans the bench instances, and outfits drawn at random, and prints cost, gap to the best known plan, floor, and time.
//!
//! `OUTYARD_BENCH=folder cargo run --release -p outyard-runs --example bench -- [tries] [seeds] [name ...]`
//! `cargo run --release -p outyard-runs --example bench -- [tries] [seeds] large`
//!
//! The folder holds the instances as plain `.json` (unpack the large one first). `large` draws 2,000 yards, 40 crews and five home
//! bases by the rules of the bench. The word `nofloor` leaves the floor out.

use std::error::Error;
use std::path::Path;
use std::time::Instant;

use outyard_base::{Cents, Chance};
use outyard_runs::replan::ChangeCost;
use outyard_runs::{Day, Effort, RunProblem, bound, check_plan, cost, nearest_due_first, replan, solve};
use serde_json::{Value, json};

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
const RUNS_MAX: usize = 100_000;

fn main() -> Result<(), Box<dyn Error>> {
    let mut words = std::env::args().skip(1);
    let tries: u64 = words.next().map_or(Ok(Effort::GOOD.tries), |word| word.parse())?;
    let seeds: u64 = words.next().map_or(Ok(3), |word| word.parse())?;
    let mut names: Vec<String> = words.collect();
    let with_floor = !names.iter().any(|name| name == "nofloor");
    names.retain(|name| name != "nofloor");
    if names.iter().any(|name| name == "large") {
        let problem = large(7)?;
        return run("large", None, &problem, (tries, seeds), with_floor);
    }
    let Some(folder) = std::env::var_os("OUTYARD_BENCH") else {
        return Err("set OUTYARD_BENCH to the folder of the bench instances".into());
    };
    for (name, best_known) in BEST_KNOWN {
        let path = Path::new(&folder).join(format!("{name}.json"));
        if !path.exists() || (!names.is_empty() && !names.iter().any(|wanted| wanted == name)) {
            continue;
        }
        let problem = bench_reader::read(&path)?;
        run(name, Some(best_known), &problem, (tries, seeds), with_floor)?;
    }
    Ok(())
}

#[expect(clippy::print_stdout, clippy::cast_precision_loss, reason = "an example prints its figures for reading")]
fn run(
    name: &str,
    best_known: Option<i64>,
    problem: &RunProblem,
    (tries, seeds): (u64, u64),
    with_floor: bool,
) -> Result<(), Box<dyn Error>> {
    let thumb = cost(problem, &nearest_due_first(problem)).ok_or("the rule of thumb is sound")?.total().0;
    let yardstick = best_known.unwrap_or(thumb);
    let share = |total: i64| 100.0 * (total - yardstick) as f64 / yardstick as f64;
    println!("{name}: nearest due first {thumb} ({:+.2} %)", share(thumb));
    // Visits that can never be made cost the same under every plan.
    let parts = problem.parts();
    let never = |visit: &usize| {
        (0..problem.day_count()).all(|day| (0..parts.crews.len()).all(|crew| !problem.may_do(*visit, crew, day)))
    };
    let fixed: i64 = (0..problem.visit_count()).filter(never).map(|visit| parts.visits[visit].skip.0).sum();
    println!("{name}: {fixed} of every bill is for visits no plan can make");
    for seed in 0..seeds {
        let begun = Instant::now();
        let plan = solve(problem, &Effort { tries }, seed, None, &|| false);
        let seconds = begun.elapsed().as_secs_f64();
        assert_eq!(check_plan(problem, &plan), []);
        let total = cost(problem, &plan).ok_or("a sound plan")?.total().0;
        println!("{name}: seed {seed}, {tries} tries, {total} ({:+.3} %) in {seconds:.2} s", share(total));
    }
    if problem.visit_count() < 100 {
        after_rain(name, problem, tries)?;
    }
    if with_floor {
        let begun = Instant::now();
        let floor = bound(problem, RUNS_MAX, &|| false);
        let seconds = begun.elapsed().as_secs_f64();
        println!(
            "{name}: floor {} ({:+.3} %) by {:?} in {seconds:.2} s",
            floor.value.0,
            share(floor.value.0),
            floor.proof
        );
    }
    Ok(())
}

/// Tries of a new plan while somebody waits: about a tenth of a second for 45 yards.
const REPLAN_TRIES: u64 = 8_000;

/// Shuts one open day after the other, mends the plan in few tries, and prints how much more it costs than planning anew.
#[expect(clippy::print_stdout, clippy::cast_precision_loss, reason = "an example prints its figures for reading")]
fn after_rain(name: &str, problem: &RunProblem, tries: u64) -> Result<(), Box<dyn Error>> {
    let plan = solve(problem, &Effort { tries }, 0, None, &|| false);
    let same: Vec<Option<usize>> = (0..problem.visit_count()).map(Some).collect();
    let free = ChangeCost { day: Cents::ZERO, crew: Cents::ZERO };
    let mut above: Vec<f64> = Vec::new();
    let mut slowest: f64 = 0.0;
    for day in (0..problem.day_count()).filter(|&day| problem.crew_works(0, day)) {
        let mut parts = problem.parts().clone();
        parts.days[day] = Day::SHUT;
        let wet = RunProblem::new(parts).map_err(|troubles| format!("{troubles:?}"))?;
        let begun = Instant::now();
        let mended = replan(problem, &plan, &wet, &same, free, &Effort { tries: REPLAN_TRIES }, 1, &|| false);
        slowest = slowest.max(begun.elapsed().as_secs_f64());
        assert_eq!(check_plan(&wet, &mended.plan), []);
        let anew = solve(&wet, &Effort { tries }, 1, None, &|| false);
        let anew = cost(&wet, &anew).ok_or("a sound plan")?.total().0;
        above.push(100.0 * (mended.bill.total().0 - anew) as f64 / anew as f64);
    }
    above.sort_by(f64::total_cmp);
    let (middle, worst) = (above[above.len() / 2], above[above.len() - 1]);
    println!("{name}: a day shut, mended: {middle:+.3} % above planning anew, {worst:+.3} % at worst, {slowest:.3} s");
    Ok(())
}

/// An outfit of 2,000 yards, 40 crews and five home bases, with the figures of the bench's own tight instances: work, gear, cost of
/// waiting and stock are drawn from ranges like theirs. All of it is invented.
fn large(seed: u64) -> Result<RunProblem, Box<dyn Error>> {
    let (yards, bases, crews_each, days) = (2000_usize, 5_usize, 8_usize, 14_usize);
    let mut chance = Chance::new(seed, "large outfit");
    let whole = |chance: &mut Chance, low: u64, high: u64| low + chance.below(high - low + 1);
    // Kilometres on a plane; the bases lie on a line, each with its yards around it.
    let base_at: Vec<(f64, f64)> = [-120.0, -60.0, 0.0, 60.0, 120.0].map(|across| (across, 0.0)).to_vec();
    let mut places = base_at.clone();
    let mut list: Vec<Value> = Vec::with_capacity(yards);
    let (mut supers_sum, mut excluders_sum) = (0, 0);
    for yard in 0..yards {
        let home = base_at[yard % bases];
        let (angle, away) = (chance.between(0.0, std::f64::consts::TAU), 45.0 * chance.uniform().sqrt());
        places.push((home.0 + away * angle.cos(), home.1 + away * angle.sin()));
        let earliest = if chance.happens(0.5) { 0 } else { whole(&mut chance, 1, 12) };
        let due = earliest + whole(&mut chance, 0, 8);
        let slope = whole(&mut chance, 2_000, 30_000);
        let late: Vec<u64> = (0..=14).map(|day: u64| day.saturating_sub(due) * slope).collect();
        let skip = late[14] + whole(&mut chance, 20_000, 200_000);
        let supers = if chance.happens(0.2) { 0 } else { whole(&mut chance, 8, 26) * 3 };
        let excluders = if chance.happens(0.6) { 0 } else { whole(&mut chance, 15, 40) };
        supers_sum += supers;
        excluders_sum += excluders;
        let service = 5 * whole(&mut chance, 12, 46);
        list.push(json!({"service": service, "earliest": earliest, "late": late, "skip": skip, "supers": supers, "excluders": excluders}));
    }
    let minutes = |from: (f64, f64), to: (f64, f64)| ((from.0 - to.0).hypot(from.1 - to.1) * 1.3).ceil();
    #[expect(clippy::cast_possible_truncation, reason = "minutes of a road")]
    let roads: Vec<Vec<i64>> =
        places.iter().map(|&from| places.iter().map(|&to| minutes(from, to) as i64).collect()).collect();
    let stock = |sum: u64| -> Vec<u64> { (0..14).map(|day: u64| sum * (30 + 12 * (day / 3)) / 100).collect() };
    let instance = json!({
        "K": bases * crews_each, "max_stops": 6, "shift": 540, "max_shift": 660, "truck_supers": 120, "wage_per_min": 80,
        "overtime_extra_per_min": 40, "cents_per_km": 100, "workable": [1, 1, 0, 1, 1, 0, 0, 1, 1, 1, 0, 1, 1, 0],
        "stock": {"supers": stock(supers_sum), "excluders": stock(excluders_sum)}, "tt": roads, "yards": list,
    });
    let mut parts = bench_reader::problem(&instance).ok_or("an instance by the rules")?.into_parts();
    for visit in &mut parts.visits {
        // The bases come first on the road table.
        visit.node += bases - 1;
    }
    for (index, crew) in parts.crews.iter_mut().enumerate() {
        crew.base = index / crews_each;
    }
    assert_eq!((parts.visits.len(), parts.days.len()), (yards, days));
    RunProblem::new(parts).map_err(|troubles| format!("{troubles:?}").into())
}
