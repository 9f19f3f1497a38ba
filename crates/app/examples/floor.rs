//! Works out the morning of the invented outfit and prints how far the floor under its plan comes with more and more work.
//!
//! `cargo run --release -p outyard-app --example floor -- [seed] [days] [tries]`

use std::collections::BTreeMap;
use std::error::Error;

use jiff::civil::date;
use outyard_app::demo::invent;
use outyard_app::demo_book::write_down;
use outyard_app::intake::drives::Drives;
use outyard_app::settings::read_settings;
use outyard_app::situation::{Situation, SituationParts};
use outyard_app::work_out::{WorkOrder, work_out};
use outyard_book::ContentHash;
use outyard_runs::Effort;
use outyard_season::PlantTable;
use outyard_trade::jobbook::JobBook;

#[expect(clippy::print_stdout, clippy::cast_precision_loss, reason = "an example prints its figures for reading")]
fn main() -> Result<(), Box<dyn Error>> {
    let mut words = std::env::args().skip(1);
    let seed: u64 = words.next().map_or(Ok(7), |word| word.parse())?;
    let days: usize = words.next().map_or(Ok(7), |word| word.parse())?;
    let tries: u64 = words.next().map_or(Ok(10_000), |word| word.parse())?;
    let today = date(2026, 7, 3);
    let book = write_down(&invent(seed, today));
    let files: BTreeMap<ContentHash, String> =
        book.files.iter().map(|text| (ContentHash::of(text.as_bytes()), text.clone())).collect();
    let situation = Situation::new(SituationParts {
        settings: read_settings("outfit.toml", &book.settings).map_err(|troubles| format!("{troubles:?}"))?,
        jobs: JobBook::standard(),
        plants: PlantTable::built_in(),
        drives: Drives::default(),
        entries: book.entries,
        files,
        today,
    })
    .map_err(|troubles| format!("{troubles:?}"))?;
    let order = WorkOrder { days, effort: Effort { tries }, shut: Vec::new(), crews_out: Vec::new() };
    let worked = work_out(&situation, &order, &|| false).map_err(|troubles| format!("{troubles:?}"))?;
    let problem = &worked.planned.problem;
    let plan = worked.bill.total();
    println!("{} visits, plan {}", problem.visit_count(), plan.get());
    for work in [10_000_000, 30_000_000, 100_000_000, 300_000_000, 1_000_000_000] {
        let begun = std::time::Instant::now();
        let floor = outyard_runs::bound_under(problem, &worked.planned.plan, 100_000, work, &|| false);
        let below = 100.0 * (plan.get() - floor.value.get()) as f64 / plan.get() as f64;
        println!("work {work}: {} ({below:.2} % below) in {:.2} s", floor.value.get(), begun.elapsed().as_secs_f64());
    }
    Ok(())
}
