//! An outfit of many yards: seconds and how they grow with the yards.
//!
//! `cargo run --release -p outyard-season --example many_yards -- 45 450 2000`: 3 kinds, 500 members, 120 days and curves of
//! waiting of 21 days for each yard. Fails when 2,000 yards or more take longer than 45 s for each 2,000.

use std::process::ExitCode;
use std::time::Instant;

#[path = "../tests/outfit/mod.rs"]
mod outfit;

use outfit::{DAYS, KINDS, MEMBERS, WAITING_DAYS, colony, flows, input, worth};
use outyard_season::{ColonyRules, WaitingInput, colonies_ahead};

/// Yards worked out at once, so that memory does not grow with the outfit.
const AT_ONCE: usize = 45;

#[expect(clippy::print_stdout, clippy::cast_precision_loss, reason = "an example tells its figures")]
fn main() -> ExitCode {
    let mut counts: Vec<usize> = std::env::args().skip(1).filter_map(|word| word.parse().ok()).collect();
    if counts.is_empty() {
        counts = vec![45, 450, 2000];
    }
    let (rules, worth) = (ColonyRules::default(), worth());
    let colonies = KINDS.map(|kind| colony(kind, &rules));
    let flows: Vec<_> = (0..AT_ONCE as u64).map(flows).collect();
    println!("{} kinds, {MEMBERS} members, {DAYS} days, curves of {WAITING_DAYS} days", KINDS.len());
    let mut first: Option<f64> = None;
    let mut in_time = true;
    for yards in counts {
        let begun = Instant::now();
        let mut curves = 0;
        let mut left = yards;
        while left > 0 {
            let now = left.min(AT_ONCE);
            let inputs: Vec<WaitingInput<'_>> = flows[..now]
                .iter()
                .flat_map(|(gain, hours)| colonies.iter().map(|colony| input(colony, gain, hours, &worth, &rules)))
                .collect();
            curves += colonies_ahead(&inputs).len();
            left -= now;
        }
        let seconds = begun.elapsed().as_secs_f64();
        let a_yard = seconds / yards as f64;
        let ratio = a_yard / *first.get_or_insert(a_yard);
        println!("{yards} yards, {curves} curves: {seconds:.2} s, a yard {ratio:.2} times that of the first line");
        in_time &= yards < 2000 || a_yard * 2000.0 <= 45.0;
    }
    if in_time { ExitCode::SUCCESS } else { ExitCode::FAILURE }
}
