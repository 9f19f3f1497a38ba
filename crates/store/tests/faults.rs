//! Whatever happens to the devices, nothing told to be kept is lost and nothing is there twice.
//!
//! Three devices (two phones and the office, a file each, and a `PostgreSQL` server when one is installed) write, meet
//! and are hurt at random, by a seed: killed in mid-write, cut off from disk space, written by two programs at once,
//! torn at the end of the write-ahead log, truncated, on bad lines, with clocks days wrong, the server crashed in
//! mid-push. A few rounds run with the tests; for a night's worth:
//!
//! `OUTYARD_FAULT_ROUNDS=10000 OUTYARD_FAULT_SEED=1 cargo test --release -p outyard-store --test faults`
//!
//! Started with [`CHILD`] set, this program is a device that writes until it is stopped.

#![expect(clippy::unwrap_used, reason = "a helper of tests stops its test")]
#![expect(clippy::print_stdout, reason = "it counts what was done")]

#[path = "support/faults.rs"]
mod faults;
#[path = "support/server.rs"]
mod server;
mod support;

use std::collections::BTreeMap;
use std::fs::OpenOptions;
use std::io::{BufRead, BufReader, Write};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

use faults::{BadLine, writes};
use outyard_app::exchange::{BothMarks, exchange};
use outyard_app::ports::{Store, read_all};
use outyard_base::Chance;
use outyard_book::{Entry, EntryId, fold};
use outyard_store::{PostgresStore, SqliteStore};
use server::{HOW_TO_INSTALL, Server};
use support::Folder;

/// Holds what a device is to do: book, seed, number of the device.
const CHILD: &str = "OUTYARD_TEST_DEVICE";

/// Entries a child would write if nobody stopped it.
const BY_CHILD: usize = 12;

const DEVICES: usize = 3;

fn number(name: &str, otherwise: u64) -> u64 {
    std::env::var(name).ok().map_or(otherwise, |text| text.parse().unwrap())
}

fn main() {
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().unwrap();
    if let Ok(orders) = std::env::var(CHILD) {
        let orders: Vec<&str> = orders.split('\n').collect();
        return runtime.block_on(device(Path::new(orders[0]), orders[1].parse().unwrap(), orders[2].parse().unwrap()));
    }
    let (rounds, seed) = (number("OUTYARD_FAULT_ROUNDS", 50), number("OUTYARD_FAULT_SEED", 1));
    let server = Server::start("faults-server");
    if server.is_none() {
        println!("faults: the server's part is left out, no PostgreSQL is installed ({HOW_TO_INSTALL})");
    }
    runtime.block_on(World::new(seed, server).go(rounds));
}

fn by_child(seed: u64, device: usize) -> Vec<Entry> {
    writes(&mut Chance::new(seed, "a device"), device, &[], BY_CHILD)
}

/// Writes its entries one by one and says of each when it is kept; an error ends it.
async fn device(book: &Path, seed: u64, device: usize) {
    let Ok(mut store) = SqliteStore::open(book).await else { return };
    for entry in by_child(seed, device) {
        if store.append(std::slice::from_ref(&entry)).await.is_err() {
            return;
        }
        println!("kept");
        std::io::stdout().flush().unwrap();
    }
}

struct World {
    seed: u64,
    chance: Chance,
    folder: Folder,
    server: Option<Server>,
    /// How many books each device has begun: a damaged one is left, and a new one begun.
    books: [usize; DEVICES],
    marks: BTreeMap<(usize, usize), BothMarks>,
    /// All that may be there, by name.
    written: BTreeMap<EntryId, Entry>,
    /// What was told to be kept.
    told: Vec<EntryId>,
    /// What devices have heard of, to be corrected.
    heard: Vec<Entry>,
    done: BTreeMap<&'static str, u32>,
}

impl World {
    fn new(seed: u64, server: Option<Server>) -> Self {
        Self {
            seed,
            chance: Chance::new(seed, "faults"),
            folder: Folder::new("faults"),
            server,
            books: [0; DEVICES],
            marks: BTreeMap::new(),
            written: BTreeMap::new(),
            told: Vec::new(),
            heard: Vec::new(),
            done: BTreeMap::new(),
        }
    }

    async fn go(mut self, rounds: u64) {
        let began = Instant::now();
        for _ in 0..rounds {
            let device = self.chance.index(DEVICES);
            let what = match self.chance.index(20) {
                0..5 => self.killed(device),
                5..7 => self.disk_full(device),
                7..9 => self.two_programs(device),
                9..11 => self.torn_log(device).await,
                11 => self.truncated(device).await,
                12..15 => self.writes_and_clocks(device).await,
                15 if self.server.is_some() && self.chance.happens(0.3) => self.server_crashes(device).await,
                _ => self.bad_line(device).await,
            };
            *self.done.entry(what).or_default() += 1;
        }
        let (lost, doubled) = self.count().await;
        let kinds: Vec<String> = self.done.iter().map(|(what, times)| format!("{what} {times}")).collect();
        println!(
            "faults: seed {}, {rounds} rounds in {:.0} s ({}); {} entries told to be kept, {lost} lost, {doubled} doubled, \
             equal on {DEVICES} files{}",
            self.seed,
            began.elapsed().as_secs_f64(),
            kinds.join(", "),
            self.told.len(),
            if self.server.is_some() { " and the server" } else { "" }
        );
        assert_eq!((lost, doubled), (0, 0));
        assert!(self.told.len() as u64 >= rounds / 4, "too little was written to tell");
    }

    fn book(&self, device: usize) -> PathBuf {
        self.folder.file(&format!("device-{device}-{}.sqlite", self.books[device]))
    }

    async fn open(&self, device: usize) -> SqliteStore {
        SqliteStore::open(&self.book(device)).await.unwrap()
    }

    fn send(&mut self, device: usize, limit_kib: Option<u64>) -> (Child, Vec<Entry>) {
        let seed = self.chance.below(u64::MAX);
        let program = std::env::current_exe().unwrap();
        let mut command = match limit_kib {
            None => Command::new(program),
            // No file may grow past the limit: what a full disk looks like to the program.
            Some(limit) => {
                let mut shell = Command::new("bash");
                shell.args(["-c", &format!("trap '' XFSZ; ulimit -f {limit}; exec \"$0\"")]).arg(program);
                shell
            }
        };
        let orders = format!("{}\n{seed}\n{device}", self.book(device).display());
        let child = command.env(CHILD, orders).stdout(Stdio::piped()).spawn().unwrap();
        let entries = by_child(seed, device);
        self.written.extend(entries.iter().map(|entry| (entry.id, entry.clone())));
        (child, entries)
    }

    /// Takes what a child said for told.
    fn hear(&mut self, child: &mut Child, entries: &[Entry]) {
        child.wait().unwrap();
        let said = BufReader::new(child.stdout.take().unwrap()).lines().map_while(Result::ok).count();
        self.told.extend(entries[..said].iter().map(|entry| entry.id));
        self.heard.extend_from_slice(&entries[..said]);
    }

    fn killed(&mut self, device: usize) -> &'static str {
        let (mut child, entries) = self.send(device, None);
        std::thread::sleep(Duration::from_micros(2000 + self.chance.below(12_000)));
        child.kill().unwrap();
        self.hear(&mut child, &entries);
        "killed"
    }

    fn disk_full(&mut self, device: usize) -> &'static str {
        // A little more than the file has already, so that it ends in mid-write.
        let length = std::fs::metadata(self.book(device)).map_or(0, |file| file.len());
        let limit = length / 1024 + self.chance.below(48);
        let (mut child, entries) = self.send(device, Some(limit));
        self.hear(&mut child, &entries);
        "disk full"
    }

    fn two_programs(&mut self, device: usize) -> &'static str {
        let (mut one, of_one) = self.send(device, None);
        let (mut other, of_other) = self.send(device, None);
        if self.chance.happens(0.3) {
            std::thread::sleep(Duration::from_micros(self.chance.below(15_000)));
            one.kill().unwrap();
        }
        self.hear(&mut one, &of_one);
        self.hear(&mut other, &of_other);
        "two programs"
    }

    /// The device's book as it would be after a power cut in the midst of writing the log: its end is missing or holds
    /// rubbish. What had been handed on comes back from the others.
    async fn torn_log(&mut self, device: usize) -> &'static str {
        self.hand_on_all(device).await;
        let mut store = self.open(device).await;
        let heard = self.recent();
        let entries = writes(&mut self.chance, device, &heard, 6);
        for entry in &entries {
            store.append(std::slice::from_ref(entry)).await.unwrap();
        }
        // The files as they stand while the book is open.
        let (book, log) = (self.book(device), log_of(&self.book(device)));
        let torn = self.folder.file("torn.sqlite");
        for (from, to) in [(&book, &torn), (&log, &log_of(&torn))] {
            std::fs::copy(from, to).unwrap();
        }
        drop(store);
        self.remember(&entries);
        let length = std::fs::metadata(log_of(&torn)).unwrap().len();
        let mut bytes = OpenOptions::new().write(true).open(log_of(&torn)).unwrap();
        let at = self.chance.below(length + 1);
        if self.chance.happens(0.5) {
            bytes.set_len(at).unwrap();
        } else {
            use std::io::{Seek, SeekFrom};
            bytes.seek(SeekFrom::Start(at)).unwrap();
            bytes.write_all(&[0x5a; 700]).unwrap();
        }
        drop(bytes);
        let mut store = SqliteStore::open(&torn).await.unwrap();
        let left = read_all(&mut store).await.unwrap();
        let mut expected = read_all(&mut self.open(device).await).await.unwrap();
        expected.truncate(left.len());
        assert!(left == expected, "a torn log gave back something else than the beginning of what was written");
        // It goes on from there, and fetches what it lacks.
        let mut whole = self.open(device).await;
        exchange(&mut store, &mut whole, &mut BothMarks::default()).await.unwrap();
        assert_eq!(read_all(&mut store).await.unwrap().len(), read_all(&mut whole).await.unwrap().len());
        drop(store);
        for file in [torn.clone(), log_of(&torn), torn.with_extension("sqlite-shm")] {
            std::fs::remove_file(file).ok();
        }
        "torn log"
    }

    /// The file loses its end. It must be told as damaged, or hand out only what was written; a new book is begun and
    /// fetches all from the others.
    async fn truncated(&mut self, device: usize) -> &'static str {
        self.hand_on_all(device).await;
        self.open(device).await.close().await.unwrap();
        let book = self.book(device);
        let length = std::fs::metadata(&book).unwrap().len();
        OpenOptions::new().write(true).open(&book).unwrap().set_len(self.chance.below(length)).unwrap();
        if let Ok(mut store) = SqliteStore::open_existing(&book).await
            && let Ok(looked) = store.look_over().await
        {
            assert!(looked.entries.iter().all(|entry| self.written.get(&entry.id) == Some(entry)), "rubbish was read");
        }
        self.books[device] += 1;
        let other = (device + 1) % DEVICES;
        self.meet(device, other).await;
        "truncated"
    }

    async fn writes_and_clocks(&mut self, device: usize) -> &'static str {
        let heard = self.recent();
        let count = 1 + self.chance.index(6);
        let entries = writes(&mut self.chance, device, &heard, count);
        self.open(device).await.append(&entries).await.unwrap();
        self.remember(&entries);
        "wrong clock"
    }

    async fn bad_line(&mut self, device: usize) -> &'static str {
        let other = (device + 1 + self.chance.index(DEVICES - 1)) % DEVICES;
        let (mut here, mut there) = (self.open(device).await, self.open(other).await);
        let mut chance = Chance::new(self.chance.below(u64::MAX), "line");
        let mut line = BadLine { store: &mut there, chance: &mut chance, faults: 0.4 };
        let marks = self.marks.entry((device, other)).or_default();
        // It fails or not; what counts is what is there in the end.
        drop(exchange(&mut here, &mut line, marks).await);
        "bad line"
    }

    /// The server is stopped as by a power cut while a device pushes, and started again.
    async fn server_crashes(&mut self, device: usize) -> &'static str {
        let heard = self.recent();
        let entries = writes(&mut self.chance, device, &heard, 60);
        let mut here = self.open(device).await;
        here.append(&entries).await.unwrap();
        self.remember(&entries);
        let mut server = self.server.take().unwrap();
        let mut there = PostgresStore::open(&server.address("faults")).await.unwrap();
        let pause = Duration::from_micros(self.chance.below(30_000));
        let again = tokio::task::spawn_blocking(move || {
            std::thread::sleep(pause);
            server.crash();
            server.begin();
            server
        });
        exchange(&mut here, &mut there, self.marks.entry((device, DEVICES)).or_default()).await.unwrap();
        self.server = Some(again.await.unwrap());
        "server crashed"
    }

    fn recent(&self) -> Vec<Entry> {
        self.heard[self.heard.len().saturating_sub(200)..].to_vec()
    }

    fn remember(&mut self, entries: &[Entry]) {
        self.written.extend(entries.iter().map(|entry| (entry.id, entry.clone())));
        self.told.extend(entries.iter().map(|entry| entry.id));
        self.heard.extend_from_slice(entries);
    }

    async fn meet(&mut self, one: usize, other: usize) {
        let (mut here, mut there) = (self.open(one).await, self.open(other).await);
        exchange(&mut here, &mut there, self.marks.entry((one, other)).or_default()).await.unwrap();
    }

    async fn hand_on_all(&mut self, device: usize) {
        self.meet(device, (device + 1) % DEVICES).await;
    }

    /// All meet; then what is lost and what is doubled, over all that keep the book.
    async fn count(&mut self) -> (usize, usize) {
        let mut kept: Vec<Vec<Entry>> = Vec::new();
        for _ in 0..2 {
            for device in 0..DEVICES {
                self.meet(device, (device + 1) % DEVICES).await;
            }
        }
        if let Some(server) = &self.server {
            let mut there = PostgresStore::open(&server.address("faults")).await.unwrap();
            let mut here = self.open(0).await;
            exchange(&mut here, &mut there, &mut BothMarks::default()).await.unwrap();
            kept.push(read_all(&mut there).await.unwrap());
            for device in 1..DEVICES {
                self.meet(0, device).await;
            }
        }
        for device in 0..DEVICES {
            kept.push(read_all(&mut self.open(device).await).await.unwrap());
        }
        let outfit = fold(&kept[0]);
        let (mut lost, mut doubled) = (0, 0);
        for entries in &kept {
            let mut times: BTreeMap<EntryId, usize> = BTreeMap::new();
            for entry in entries {
                assert_eq!(self.written.get(&entry.id), Some(entry), "nobody wrote this");
                *times.entry(entry.id).or_default() += 1;
            }
            lost += self.told.iter().filter(|id| !times.contains_key(id)).count();
            doubled += times.values().filter(|times| **times > 1).count();
            assert_eq!(times.len(), kept[0].len(), "not all hold the same");
            assert!(fold(entries) == outfit, "another outfit");
        }
        (lost, doubled)
    }
}

fn log_of(book: &Path) -> PathBuf {
    book.with_extension("sqlite-wal")
}
