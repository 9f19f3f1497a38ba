//! The scale reader on invented series: precision and recall of lasting changes, condition by condition.
//!
//! `cargo run --release -p outyard-season --example labelled -- 20`: series of each condition. With a second word, the name of
//! a condition, every miss of it is told.

#[path = "../tests/labelled/mod.rs"]
mod labelled;

use labelled::{CONDITIONS, Series, recall_at_most, score_condition};
use outyard_season::scale::score::{Errors, Miss};

#[expect(clippy::print_stdout, reason = "an example tells its figures")]
fn main() {
    let mut words = std::env::args().skip(1);
    let count: u64 = words.next().and_then(|word| word.parse().ok()).unwrap_or(20);
    let asked = words.next();
    if let Some(condition) = asked.and_then(|name| CONDITIONS.into_iter().find(|known| known.name == name)) {
        for seed in 0..count {
            let series = Series::new(condition, seed);
            let (score, reading, _) = series.score(seed);
            for miss in &score.misses {
                let (at, what) = match miss {
                    Miss::NotFound(label) => {
                        (label.at, format!("missed {:?} {:.1} kg", label.kind, label.kg.unwrap_or(f64::NAN)))
                    }
                    Miss::NotLabelled(change) => {
                        (change.at, format!("not labelled: {:?} {:.1} kg", change.kind, change.kg.get()))
                    }
                    Miss::AtInspection(label) => (label.at, "an inspection".to_owned()),
                };
                let near = reading.changes.iter().filter(|change| (change.at - at).as_hours().abs() <= 36);
                let near: Vec<String> =
                    near.map(|change| format!("{:?} {:.1} at {}", change.kind, change.kg.get(), change.at)).collect();
                println!(
                    "{seed}: {at} {what}; gains round it {:.1?}; told near: {}",
                    series.gains_round(at),
                    near.join(", ")
                );
            }
            for note in &reading.notes {
                println!("{seed}: {note}");
            }
        }
    }
    println!(
        "{count} series of each; precision, recall, recall at most by the sum of the day, named alike, inspections with a \
         change, mean error of kg"
    );
    for condition in CONDITIONS {
        let score = score_condition(condition, 0..count);
        println!(
            "{:28} {:.3} of {:4}  {:.3} of {:4}  {:>5}  {:4}  {:3} of {:4}  {:.2}",
            condition.name,
            score.precision(),
            score.told,
            score.recall(),
            score.labelled,
            if condition.step_min < 360 {
                "-".to_owned()
            } else {
                format!("{:.3}", recall_at_most(condition, 0..count))
            },
            score.named_alike,
            score.inspections_with_change,
            score.inspections,
            Errors::of(&score.kg_errors).map_or(f64::NAN, |errors| errors.mean_size),
        );
    }
}
