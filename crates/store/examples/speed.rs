//! How fast a book is kept and folded: `cargo run --release -p outyard-store --example speed`.
//!
//! Appends are set against plain inserts of the same lines into the same `SQLite`, synced alike, so that the ratio says
//! what checking, naming and refusing changes cost, whatever the disk.

#![expect(clippy::print_stdout, reason = "it prints a table")]
#![expect(clippy::unwrap_used, reason = "a figure is had or the program stops")]
#![expect(clippy::cast_precision_loss, reason = "counts far below 2^52")]

#[path = "../tests/support/mod.rs"]
mod support;

use std::time::Instant;

use outyard_app::ports::{Store, read_all};
use outyard_base::Chance;
use outyard_book::{Entry, fold, wire};
use outyard_store::SqliteStore;
use sqlx::sqlite::{SqliteConnectOptions, SqliteConnection, SqliteJournalMode, SqliteSynchronous};
use sqlx::{Connection, Executor};
use support::{Folder, tallies};

const ALONE: usize = 1000;
const TOGETHER: usize = 100_000;

#[tokio::main(flavor = "current_thread")]
async fn main() {
    let entries = tallies(1, TOGETHER as u64);
    let lines: Vec<String> = entries.iter().map(wire::write_line).collect();
    println!("{} bytes a line on average", lines.iter().map(String::len).sum::<usize>() / lines.len());
    let folder = Folder::new("speed");
    let mut store = SqliteStore::open(&folder.file("alone.sqlite")).await.unwrap();
    let mut plain = plain(&folder, "alone-plain.sqlite").await;
    // By turns, so that whatever else the machine does falls on both; of each the quickest tenth tells, as
    // a disk shared with others answers at random.
    let (mut ours, mut theirs) = (Vec::new(), Vec::new());
    for (entry, line) in entries[..ALONE].iter().zip(&lines) {
        let start = Instant::now();
        store.append(std::slice::from_ref(entry)).await.unwrap();
        ours.push(start.elapsed().as_secs_f64());
        let start = Instant::now();
        insert(&mut plain, entry, line).await;
        theirs.push(start.elapsed().as_secs_f64());
    }
    report("append, one tally a call", 1, undisturbed(ours), undisturbed(theirs));

    let mut store = SqliteStore::open(&folder.file("together.sqlite")).await.unwrap();
    let start = Instant::now();
    store.append(&entries).await.unwrap();
    let ours = start.elapsed().as_secs_f64();
    let mut plain = self::plain(&folder, "together-plain.sqlite").await;
    let start = Instant::now();
    plain.execute("BEGIN IMMEDIATE").await.unwrap();
    for (entry, line) in entries.iter().zip(&lines) {
        insert(&mut plain, entry, line).await;
    }
    plain.execute("COMMIT").await.unwrap();
    report("append, all in one call", TOGETHER, ours, start.elapsed().as_secs_f64());

    let start = Instant::now();
    store.append(&entries).await.unwrap();
    alone("append again, all known", TOGETHER, start.elapsed().as_secs_f64());
    let start = Instant::now();
    let read = read_all(&mut store).await.unwrap();
    alone("read all", TOGETHER, start.elapsed().as_secs_f64());
    let start = Instant::now();
    let outfit = fold(&read);
    alone("fold", TOGETHER, start.elapsed().as_secs_f64());
    let mut shuffled: Vec<Entry> = read;
    Chance::new(1, "shuffle").shuffle(&mut shuffled);
    let start = Instant::now();
    let again = fold(&shuffled);
    alone("fold, shuffled", TOGETHER, start.elapsed().as_secs_f64());
    assert!(outfit == again);
    println!(
        "{} visits, {} conflicts",
        outfit.yards.values().map(|yard| yard.visits.len()).sum::<usize>(),
        outfit.conflicts.len()
    );
}

fn undisturbed(mut times: Vec<f64>) -> f64 {
    times.sort_by(f64::total_cmp);
    times[times.len() / 10]
}

async fn plain(folder: &Folder, name: &str) -> SqliteConnection {
    let options = SqliteConnectOptions::new()
        .filename(folder.file(name))
        .create_if_missing(true)
        .journal_mode(SqliteJournalMode::Wal)
        .synchronous(SqliteSynchronous::Full);
    let mut plain = SqliteConnection::connect_with(&options).await.unwrap();
    plain.execute("CREATE TABLE entry (id BLOB NOT NULL UNIQUE, line TEXT NOT NULL)").await.unwrap();
    plain
}

async fn insert(plain: &mut SqliteConnection, entry: &Entry, line: &str) {
    sqlx::query("INSERT INTO entry (id, line) VALUES (?1, ?2)")
        .bind(entry.id.as_bytes().as_slice())
        .bind(line)
        .execute(plain)
        .await
        .unwrap();
}

fn report(what: &str, count: usize, ours: f64, plain: f64) {
    println!(
        "{what:<26} {:>9.1} us each, plain {:>8.1} us, ratio {:.2}",
        1e6 * ours / count as f64,
        1e6 * plain / count as f64,
        ours / plain
    );
}

fn alone(what: &str, count: usize, seconds: f64) {
    println!("{what:<26} {:>9.1} us each, {seconds:.2} s for {count}", 1e6 * seconds / count as f64);
}
