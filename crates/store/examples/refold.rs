//! How fast a book becomes an outfit, and whether it grows with the number of entries only:
//! `cargo run --release -p outyard-store --example refold [ENTRIES]...`.
//!
//! For each number: a book of twenty years in one `SQLite` file; everything read and folded; the same as pages are turned
//! for the first time; opened from what was kept; opened again after a day's new entries; a late entry of the first year.

#![expect(clippy::print_stdout, reason = "it prints a table")]
#![expect(clippy::unwrap_used, reason = "a figure is had or the program stops")]
#![expect(clippy::cast_precision_loss, reason = "counts far below 2^52")]

#[path = "../tests/support/mod.rs"]
#[expect(dead_code, reason = "other tallies are not needed here")]
mod support;
#[path = "../tests/support/years.rs"]
mod years;

use std::time::Instant;

use jiff::SignedDuration;
use jiff::civil::Date;
use outyard_app::opening::{MemoryShelf, NoShelf, Opened, PageRules, Shelf, open_outfit};
use outyard_app::ports::Store;
use outyard_book::outfit::FoldRules;
use outyard_book::{Entry, Fact, wire};
use outyard_store::SqliteStore;
use support::Folder;
use years::twenty_years;

const MORNING: &str = "2046-12-31";

/// Seconds on the clock, and of the processor for this whole process.
struct Took(f64, f64);

fn processor_seconds() -> f64 {
    let stat = std::fs::read_to_string("/proc/self/stat").unwrap_or_default();
    let fields: Vec<&str> = stat.rsplit(')').next().unwrap_or("").split_whitespace().collect();
    let ticks = |at: usize| fields.get(at).and_then(|text| text.parse::<f64>().ok()).unwrap_or(0.0);
    // User and system time, in ticks of a hundredth of a second (Linux).
    (ticks(11) + ticks(12)) / 100.0
}

async fn open(store: &mut SqliteStore, shelf: &mut impl Shelf) -> (Opened, Took) {
    let (start, worked) = (Instant::now(), processor_seconds());
    let morning: Date = MORNING.parse().unwrap();
    let opened = open_outfit(store, shelf, &FoldRules::standard(), PageRules::default(), morning).await.unwrap();
    (opened, Took(start.elapsed().as_secs_f64(), processor_seconds() - worked))
}

#[tokio::main(flavor = "current_thread")]
async fn main() {
    let mut counts: Vec<u64> = std::env::args().skip(1).map(|count| count.parse().unwrap()).collect();
    if counts.is_empty() {
        counts = vec![500_000, 1_000_000, 2_000_000];
    }
    println!("seconds on the clock (of the processor)");
    println!(
        "  entries    bytes    keep all      refold all    refold, keep   open again  after a day   late entry   kept, names MB  read again"
    );
    for count in counts {
        let folder = Folder::new("refold");
        let mut store = SqliteStore::open(&folder.file("book.sqlite")).await.unwrap();
        let entries = twenty_years(1, count + 300);
        let (rest, new) = entries.split_at(usize::try_from(count).unwrap());
        let bytes = rest.iter().take(1000).map(|entry| wire::write_line(entry).len()).sum::<usize>() / 1000;
        let (start, worked) = (Instant::now(), processor_seconds());
        for some in rest.chunks(50_000) {
            store.append(some).await.unwrap();
        }
        let keep = Took(start.elapsed().as_secs_f64(), processor_seconds() - worked);
        let (whole, refold) = open(&mut store, &mut NoShelf).await;
        let mut shelf = MemoryShelf::default();
        let (first, turned) = open(&mut store, &mut shelf).await;
        let (again, quick) = open(&mut store, &mut shelf).await;
        assert!(!first.from_kept && again.from_kept);
        assert!(whole.outfit == first.outfit && whole.outfit == again.outfit);
        store.append(new).await.unwrap();
        let (day, later) = open(&mut store, &mut shelf).await;
        assert!(day.from_kept);
        assert!(day.outfit == open(&mut store, &mut NoShelf).await.0.outfit);
        let first_of_all = &entries[0];
        let late = Entry {
            id: outyard_book::EntryId::new(first_of_all.recorded_at + SignedDuration::from_secs(1), [9; 10]),
            fact: Fact::Correction { of: first_of_all.id, instead: None },
            ..first_of_all.clone()
        };
        store.append(&[late]).await.unwrap();
        let (struck, slow) = open(&mut store, &mut shelf).await;
        assert!(!struck.from_kept && struck.outfit.struck == [first_of_all.id]);
        let megabytes = |name: &str| shelf.0[name].len() as f64 / 1e6;
        let told = |took: &Took| format!("{:.2} ({:.2})", took.0, took.1);
        println!(
            "{count:>9} {bytes:>8} {:>13} {:>13} {:>13} {:>13} {:>12} {:>13} {:>8.1} {:>6.1} {:>9}",
            told(&keep),
            told(&refold),
            told(&turned),
            told(&quick),
            told(&later),
            told(&slow),
            megabytes("fold.kept"),
            megabytes("fold.names"),
            again.read,
        );
        store.close().await.unwrap();
    }
}
