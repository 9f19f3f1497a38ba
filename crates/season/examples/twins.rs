//! Twin seasons in full: how often the 80 % ranges hold the truth, and how far the likely figures are from it.
//!
//! `cargo run --release -p outyard-season --example twins -- 200 200`: seasons, then draws and members of each. Fails when
//! one of the three shares lies outside 75 to 85 %.

use std::process::ExitCode;

#[path = "../tests/twin/mod.rs"]
mod twin;

#[expect(clippy::print_stdout, reason = "an example tells its figures")]
fn main() -> ExitCode {
    let mut words = std::env::args().skip(1).map(|word| word.parse::<usize>().unwrap_or(200));
    let (seasons, count) = (words.next().unwrap_or(200), words.next().unwrap_or(200));
    let twins: Vec<twin::Twin> = (0..seasons as u64).map(|seed| twin::twin(seed, count)).collect();
    println!("{seasons} seasons, {count} draws and members; two yards with scales, told of the third");
    let shares = [
        ("honey of three weeks", twin::share(&twins, |twin| twin.sum_covered)),
        ("day the boxes are full", twin::share(&twins, |twin| twin.full_covered)),
        ("begin of the flow", twin::share(&twins, |twin| twin.begin_covered)),
    ];
    for (name, share) in shares {
        println!("{name}: the 80 % range held the truth in {:.1} %", share * 100.0);
    }
    let errors = |name: &str, unit: &str, ours: f64, thumb: f64| {
        println!("{name}: middle error {ours:.2} {unit}, by rule of thumb {thumb:.2} {unit}");
    };
    errors(
        "honey of three weeks",
        "kg",
        twin::middle(&twins, |twin| Some(twin.sum_error_kg)),
        twin::middle(&twins, |twin| Some(twin.sum_error_by_thumb_kg)),
    );
    errors(
        "day the boxes are full",
        "d",
        twin::middle(&twins, |twin| Some(twin.full_error_days)),
        twin::middle(&twins, |twin| Some(twin.full_error_by_thumb_days)),
    );
    errors(
        "begin of the flow",
        "d",
        twin::middle(&twins, |twin| twin.begin_error_days),
        twin::middle(&twins, |twin| twin.begin_error_by_thumb_days),
    );
    println!("yards stand {:.0} % apart as learnt", twin::middle(&twins, |twin| Some(twin.spread)) * 100.0);
    let honest = shares.iter().all(|(_, share)| (0.75..=0.85).contains(share));
    if honest { ExitCode::SUCCESS } else { ExitCode::FAILURE }
}
