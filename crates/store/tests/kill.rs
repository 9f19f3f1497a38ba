//! Crews close tallies while the program is killed at random moments (SIGKILL, as when the battery is pulled from under
//! it): no tally that was told to be kept is lost, and none is there twice.
//!
//! This test is a program of its own: started with [`CHILD`] set, it is the crew; otherwise it starts crews and kills
//! them. A killed program does not test whether the disk keeps what it said it kept; that rests on `synchronous = FULL`.

#![expect(clippy::unwrap_used, reason = "a helper of tests stops its test")]
#![expect(clippy::print_stdout, reason = "the crew tells what was kept")]

mod support;

use std::collections::BTreeMap;
use std::io::{BufRead, BufReader, Write};
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::sync::mpsc;
use std::time::Duration;

use outyard_app::ports::{Store, read_all};
use outyard_base::Chance;
use outyard_book::{Entry, EntryId};
use outyard_store::SqliteStore;
use support::{Folder, tallies};

/// Holds what a crew is to do: book, seed, first tally, one past the last.
const CHILD: &str = "OUTYARD_TEST_CREW";

const TALLIES: u64 = 200;

fn main() {
    if let Ok(orders) = std::env::var(CHILD) {
        let mut orders = orders.split('\n');
        let book = orders.next().unwrap();
        let mut number = || orders.next().unwrap().parse::<u64>().unwrap();
        return crew(Path::new(book), number(), number(), number());
    }
    for seed in 1..=3 {
        killed_at_random_moments(seed);
    }
    two_programs_at_once();
    println!("kill: all well");
}

fn run<T>(work: impl Future<Output = T>) -> T {
    tokio::runtime::Builder::new_current_thread().enable_all().build().unwrap().block_on(work)
}

/// Appends its tallies one by one and says of each when it is kept.
fn crew(book: &Path, seed: u64, first: u64, last: u64) {
    run(async {
        let mut store = SqliteStore::open(book).await.unwrap();
        for (place, entry) in (0..).zip(tallies(seed, last)).skip(usize::try_from(first).unwrap()) {
            let appended = store.append(std::slice::from_ref(&entry)).await.unwrap();
            println!("kept {place} {}", if appended.new == 1 { "new" } else { "known" });
            std::io::stdout().flush().unwrap();
        }
    });
}

fn send_out(book: &Path, seed: u64, first: u64, last: u64) -> Child {
    Command::new(std::env::current_exe().unwrap())
        .env(CHILD, format!("{}\n{seed}\n{first}\n{last}", book.display()))
        .stdout(Stdio::piped())
        .spawn()
        .unwrap()
}

/// Lines a crew says, on a thread of their own so that the killer need not wait for them.
fn listen(crew: &mut Child) -> mpsc::Receiver<String> {
    let (said, heard) = mpsc::channel();
    let lines = BufReader::new(crew.stdout.take().unwrap()).lines();
    std::thread::spawn(move || lines.map_while(Result::ok).try_for_each(|line| said.send(line)));
    heard
}

fn killed_at_random_moments(seed: u64) {
    let folder = Folder::new(&format!("kill-{seed}"));
    let book = folder.file("book.sqlite");
    let mut chance = Chance::new(seed, "when to kill");
    // The next tally to send: all before it were told to be kept.
    let (mut next, mut kills, mut known_already) = (0_u64, 0, 0);
    while next < TALLIES {
        let mut crew = send_out(&book, seed, next, TALLIES);
        let heard = listen(&mut crew);
        // Some die before they began, some after a few tallies, at any moment within one.
        let after_tallies = if chance.happens(0.15) { 0 } else { 1 + chance.below(3) };
        let mut told = 0;
        let mut hear = |line: &str| {
            let mut words = line.split(' ').skip(1);
            assert_eq!(words.next().unwrap().parse::<u64>().unwrap(), next, "told in order");
            known_already += u64::from(words.next() == Some("known"));
            next += 1;
        };
        while told < after_tallies {
            let Ok(line) = heard.recv() else { break };
            hear(&line);
            told += 1;
        }
        std::thread::sleep(Duration::from_micros(chance.below(2000)));
        kills += u64::from(crew.try_wait().unwrap().is_none());
        crew.kill().unwrap();
        crew.wait().unwrap();
        // What it managed to say before it died counts.
        for line in heard {
            hear(&line);
        }
    }
    let wanted = tallies(seed, TALLIES);
    let kept = run(async { read_all(&mut SqliteStore::open_existing(&book).await.unwrap()).await.unwrap() });
    let mut times: BTreeMap<EntryId, u32> = BTreeMap::new();
    for entry in &kept {
        *times.entry(entry.id).or_default() += 1;
    }
    assert!(times.values().all(|times| *times == 1), "a tally is there twice");
    assert!(kept == wanted, "{} tallies of {TALLIES} are there", kept.len());
    assert!(kills >= 10, "only {kills} kills");
    println!(
        "seed {seed}: {kills} kills; {TALLIES} tallies kept once each; {known_already} were kept, but not yet told so"
    );
}

/// Two programs write one book at the same time; both keep everything, and a third reads on without missing any.
fn two_programs_at_once() {
    let folder = Folder::new("two");
    let book = folder.file("book.sqlite");
    let mut crews: Vec<Child> = [11, 12].into_iter().map(|seed| send_out(&book, seed, 0, TALLIES)).collect();
    let said: Vec<mpsc::Receiver<String>> = crews.iter_mut().map(listen).collect();
    let mut read: Vec<Entry> = Vec::new();
    run(async {
        let mut store = SqliteStore::open(&book).await.unwrap();
        let mut after = outyard_app::ports::Cursor::START;
        while read.len() < 2 * usize::try_from(TALLIES).unwrap() {
            let working = crews.iter_mut().any(|crew| crew.try_wait().unwrap().is_none());
            let page = store.read_since(after, 50).await.unwrap();
            assert!(working || page.more || !page.entries.is_empty(), "a tally was missed: {} read", read.len());
            read.extend(page.entries);
            after = page.next;
        }
    });
    assert!(crews.iter_mut().all(|crew| crew.wait().unwrap().success()));
    assert!(said.iter().all(|said| said.iter().count() == usize::try_from(TALLIES).unwrap()));
    for seed in [11, 12] {
        let own: Vec<Entry> = tallies(seed, TALLIES);
        let mut in_order = read.iter().filter(|entry| own.contains(entry));
        assert!(own.iter().all(|entry| in_order.next() == Some(entry)), "in the order each was written");
    }
    println!("two programs at once: {TALLIES} tallies of each kept");
}
