//! How fast lines become an outfit, and whether it grows with their number only:
//! `cargo run --release -p outyard-store --example refold [ENTRIES]...`.

#![expect(clippy::print_stdout, reason = "it prints a table")]
#![expect(clippy::unwrap_used, reason = "a figure is had or the program stops")]
#![expect(clippy::cast_precision_loss, reason = "counts far below 2^52")]

#[path = "../tests/support/mod.rs"]
#[expect(dead_code, reason = "no folder is needed here")]
mod support;

use std::time::Instant;

use outyard_book::law::stand;
use outyard_book::{Entry, Ledger, fold, wire};
use support::tallies;

fn main() {
    let mut counts: Vec<u64> = std::env::args().skip(1).map(|count| count.parse().unwrap()).collect();
    if counts.is_empty() {
        counts = vec![25_000, 50_000, 100_000, 200_000];
    }
    println!("  entries   write us   read us  law us  ledger us  fold us   (us an entry, best of three)");
    for count in counts {
        let entries = tallies(1, count);
        let best = |work: &dyn Fn()| {
            let once = |_| {
                let start = Instant::now();
                work();
                start.elapsed().as_secs_f64()
            };
            1e6 * (0..3).map(once).fold(f64::INFINITY, f64::min) / count as f64
        };
        let write = best(&|| drop(wire::write_lines(&entries)));
        let lines = wire::write_lines(&entries);
        let read = best(&|| drop(wire::read_lines("lines", lines.as_bytes()).unwrap()));
        let again: Vec<Entry> = wire::read_lines("lines", lines.as_bytes()).unwrap();
        assert!(again == entries);
        let law = best(&|| drop(stand(&entries)));
        let stands = stand(&entries);
        let ledger = best(&|| drop(Ledger::of(&stands)));
        let whole = best(&|| drop(fold(&entries)));
        println!("{count:>9} {write:>10.2} {read:>9.2} {law:>7.2} {ledger:>10.2} {whole:>8.2}");
    }
}
