//! The bench instances, read from the folder `OUTYARD_BENCH` names; without it one line says they were left out.

#![expect(clippy::print_stdout, reason = "a test left out says so")]

mod bench_reader;

use std::path::PathBuf;

use outyard_runs::{Effort, RunProblem, bound, bound_by_best_runs, check_plan, cost, nearest_due_first, solve};

fn instance(name: &str) -> Option<RunProblem> {
    let Some(folder) = std::env::var_os("OUTYARD_BENCH") else {
        println!("{name} was left out: OUTYARD_BENCH is not set");
        return None;
    };
    Some(bench_reader::read(&PathBuf::from(folder).join(format!("{name}.json"))).expect("a bench instance"))
}

/// Best known plan and exact value of the linear program of the set-partitioning master, from the bench's own notes, in cents;
/// largest gaps of plan and floor to the best known plan, and least margin over the rule of thumb, in percent.
#[track_caller]
fn check(name: &str, best_known: i64, linear_program: i64, floor_gap_max: f64, thumb_margin: f64) {
    let Some(problem) = instance(name) else { return };
    let plan = solve(&problem, &Effort { tries: 40_000 }, 1, None, &|| false);
    assert_eq!(check_plan(&problem, &plan), []);
    let total = cost(&problem, &plan).expect("a sound plan").total().0;
    let gap = 100.0 * to_f64(total - best_known) / to_f64(best_known);
    assert!(gap < 0.3, "{name}: {total} is {gap:.2} % above the best known");
    let thumb = cost(&problem, &nearest_due_first(&problem)).expect("sound").total().0;
    let better = 100.0 * to_f64(thumb - total) / to_f64(thumb);
    assert!(better > thumb_margin, "{name}: only {better:.1} % below the rule of thumb");
    let floor = bound(&problem, 100_000, &|| false).value.0;
    // Whole visits lift the floor above the linear program where stock is short; without that it comes close to it.
    assert!(to_f64(linear_program - floor) < 0.0005 * to_f64(linear_program), "{name}: floor {floor}");
    // The hunt for the cheapest runs meets the same linear program from below, less closely.
    let hunted = bound_by_best_runs(&problem, &|| false).value.0;
    assert!(hunted <= linear_program, "{name}: hunted {hunted}");
    assert!(to_f64(linear_program - hunted) < 0.02 * to_f64(linear_program), "{name}: hunted {hunted}");
    let floor_gap = 100.0 * to_f64(best_known - floor) / to_f64(best_known);
    assert!(
        (0.0..floor_gap_max).contains(&floor_gap),
        "{name}: floor {floor} is {floor_gap:.2} % below the best known"
    );
}

#[expect(clippy::cast_precision_loss, reason = "a share for show")]
fn to_f64(cents: i64) -> f64 {
    cents as f64
}

#[test]
fn tight_0() {
    check("S0_tight", 1_754_335, 1_668_788, 3.0, 20.0);
}

#[test]
fn loose_1() {
    check("S1_loose", 770_596, 767_511, 1.0, 8.0);
}

#[test]
fn tight_2() {
    check("S2_tight", 1_498_586, 1_431_609, 3.0, 25.0);
}

#[test]
fn loose_3() {
    check("S3_loose", 728_480, 728_242, 1.0, 12.0);
}
