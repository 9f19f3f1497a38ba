//! The scale reader on invented series: precision and recall of lasting changes, condition by condition.
//!
//! `cargo run --release -p outyard-season --example labelled -- 20`: series of each condition. With a second word, the name of
//! a condition, every miss of it is told.

#[path = "../tests/labelled/mod.rs"]
mod labelled;

use labelled::{CONDITIONS, Series, score_condition};
use outyard_season::scale::score::Errors;

#[expect(clippy::print_stdout, reason = "an example tells its figures")]
fn main() {
    let mut words = std::env::args().skip(1);
    let count: u64 = words.next().and_then(|word| word.parse().ok()).unwrap_or(20);
    let asked = words.next();
    if let Some(condition) = asked.and_then(|name| CONDITIONS.into_iter().find(|known| known.name == name)) {
        for seed in 0..count {
            let (score, reading, _) = Series::new(condition, seed).score(seed);
            for miss in &score.misses {
                println!("{seed}: {miss:?}");
            }
            for note in &reading.notes {
                println!("{seed}: {note}");
            }
        }
    }
    println!("{count} series of each; precision, recall, named alike, inspections with a change, mean error of kg");
    for condition in CONDITIONS {
        let score = score_condition(condition, 0..count);
        println!(
            "{:28} {:.3} of {:4}  {:.3} of {:4}  {:4}  {:3} of {:4}  {:.2}",
            condition.name,
            score.precision(),
            score.told,
            score.recall(),
            score.labelled,
            score.named_alike,
            score.inspections_with_change,
            score.inspections,
            Errors::of(&score.kg_errors).map_or(f64::NAN, |errors| errors.mean_size),
        );
    }
}
