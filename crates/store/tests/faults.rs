//! Whatever happens to the devices, nothing told to be kept is lost and nothing is there twice.
//!
//! Three devices (two phones and the office, a file each, and a `PostgreSQL` server when one is installed) write, meet
//! and are hurt at random, by a seed:
//!
//! | fault | how it is brought about |
//! |---|---|
//! | killed | another process writes and is killed (`SIGKILL`) after a random time |
//! | disk full | another process writes on a small tmpfs until nothing more goes in; without leave to mount, under a limit to the size of files |
//! | read-only folder | another process tries on a folder mounted read-only; without leave to mount, this is left out and said |
//! | two programs | two processes write one file at once, one of them killed now and then |
//! | torn log | the end of the write-ahead log is missing or rubbish |
//! | torn page | a checkpoint was cut off: some pages of the file are new, some old, one half and half |
//! | damaged | the file loses its end, or a stretch of it is written over: it must show, or nothing may be missing |
//! | wrong clock | every device's clock is up to five days wrong |
//! | bad line | batches fail before or after they did their work, come twice, in part or in another order |
//! | server crashed | the server is stopped as by a power cut in mid-push, and started again |
//!
//! A few rounds run with the tests; for a night's worth:
//!
//! `OUTYARD_FAULT_ROUNDS=10000 OUTYARD_FAULT_SEED=1 cargo test --release -p outyard-store --test faults`
//!
//! Every 250 rounds a new outfit begins, by the next seed: books stay short, and the ends are looked at often.
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

/// Rounds of one outfit.
const ROUNDS_EACH: u64 = 250;

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
    let may_mount = may_mount();
    if !may_mount {
        println!("faults: no leave to mount: read-only folders are left out, a full disk is a limit to files");
    }
    let mut all = Sums::default();
    let (began, mut left, mut world, mut server) = (Instant::now(), rounds, seed, server);
    while left > 0 {
        let now = left.min(ROUNDS_EACH);
        server = runtime.block_on(World::new(world, server, may_mount).go(now, &mut all));
        left -= now;
        world += 1;
        if rounds > ROUNDS_EACH {
            println!("faults: {} of {rounds} rounds, {}", rounds - left, all.told());
            std::io::stdout().flush().unwrap();
        }
    }
    let kinds: Vec<String> = all.done.iter().map(|(what, times)| format!("{what} {times}")).collect();
    println!(
        "faults: seed {seed}, {rounds} rounds in {:.0} s ({}); {}; equal on {DEVICES} files{}",
        began.elapsed().as_secs_f64(),
        kinds.join(", "),
        all.told(),
        if server.is_some() { " and the server" } else { "" }
    );
    assert_eq!((all.lost, all.doubled), (0, 0));
    assert!(all.entries as u64 >= rounds / 4, "too little was written to tell");
}

/// What came of all rounds.
#[derive(Default)]
struct Sums {
    done: BTreeMap<&'static str, u32>,
    entries: usize,
    lost: usize,
    doubled: usize,
    unseen: usize,
}

impl Sums {
    fn told(&self) -> String {
        format!(
            "{} entries told to be kept, {} lost, {} doubled, {} times damage nobody saw",
            self.entries, self.lost, self.doubled, self.unseen
        )
    }
}

/// Whether this process may mount file systems of its own.
fn may_mount() -> bool {
    Command::new("unshare")
        .args(["-m", "sh", "-c", "mount -t tmpfs none /mnt"])
        .stderr(Stdio::null())
        .status()
        .is_ok_and(|status| status.success())
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
    may_mount: bool,
    /// Times a damaged book passed for whole and lacked something.
    unseen: usize,
}

impl World {
    fn new(seed: u64, server: Option<Server>, may_mount: bool) -> Self {
        Self {
            seed,
            chance: Chance::new(seed, "faults"),
            folder: Folder::new(&format!("faults-{seed}")),
            server,
            may_mount,
            unseen: 0,
            books: [0; DEVICES],
            marks: BTreeMap::new(),
            written: BTreeMap::new(),
            told: Vec::new(),
            heard: Vec::new(),
            done: BTreeMap::new(),
        }
    }

    async fn go(mut self, rounds: u64, all: &mut Sums) -> Option<Server> {
        for _ in 0..rounds {
            let device = self.chance.index(DEVICES);
            let what = match self.chance.index(24) {
                0..5 => self.killed(device),
                5..7 => self.disk_full(device).await,
                7..9 => self.two_programs(device),
                9..11 => self.torn_log(device).await,
                11..13 => self.torn_page(device).await,
                13..15 => self.damaged(device).await,
                15 | 16 if self.may_mount => self.read_only(device).await,
                17..20 => self.writes_and_clocks(device).await,
                20 if self.server.is_some() && self.chance.happens(0.4) => self.server_crashes(device).await,
                _ => self.bad_line(device).await,
            };
            *self.done.entry(what).or_default() += 1;
        }
        let (lost, doubled) = self.count().await;
        for (what, times) in &self.done {
            *all.done.entry(what).or_default() += times;
        }
        all.entries += self.told.len();
        all.lost += lost;
        all.doubled += doubled;
        all.unseen += self.unseen;
        assert_eq!((lost, doubled), (0, 0), "seed {}: lost, doubled", self.seed);
        assert_eq!(self.unseen, 0, "seed {}: a damaged book passed for whole", self.seed);
        self.server.take()
    }

    fn outfit(&self) -> String {
        format!("faults-{}", self.seed)
    }

    fn book(&self, device: usize) -> PathBuf {
        self.folder.file(&format!("device-{device}-{}.sqlite", self.books[device]))
    }

    /// Opens a device's book. It must be closed again: one that is only let go of is closed later, by a thread of its
    /// own, and takes the log's file away when the faults may have put another one in its place.
    async fn open(&self, device: usize) -> SqliteStore {
        SqliteStore::open(&self.book(device)).await.unwrap()
    }

    async fn read(&self, device: usize) -> Vec<Entry> {
        let mut store = self.open(device).await;
        let entries = read_all(&mut store).await.unwrap();
        store.close().await.unwrap();
        entries
    }

    fn send(&mut self, device: usize) -> (Child, Vec<Entry>) {
        self.send_by(device, Command::new(std::env::current_exe().unwrap()), &self.book(device))
    }

    /// Has a child write, started in some way of its own.
    fn send_by(&mut self, device: usize, mut command: Command, book: &Path) -> (Child, Vec<Entry>) {
        let seed = self.chance.below(u64::MAX);
        let orders = format!("{}\n{seed}\n{device}", book.display());
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
        let (mut child, entries) = self.send(device);
        std::thread::sleep(Duration::from_micros(2000 + self.chance.below(12_000)));
        child.kill().unwrap();
        self.hear(&mut child, &entries);
        "killed"
    }

    async fn disk_full(&mut self, device: usize) -> &'static str {
        self.open(device).await.close().await.unwrap();
        // A little more than the file has already, so that it ends in mid-write.
        let book = self.book(device);
        let length: u64 =
            [&book, &log_of(&book)].map(|file| std::fs::metadata(file).map_or(0, |file| file.len())).iter().sum();
        let room = length / 1024 + self.chance.below(48);
        let program = std::env::current_exe().unwrap();
        if !self.may_mount {
            let mut shell = Command::new("bash");
            shell.args(["-c", &format!("trap '' XFSZ; ulimit -f {room}; exec \"$0\"")]).arg(program);
            let (mut child, entries) = self.send_by(device, shell, &book);
            self.hear(&mut child, &entries);
            return "disk full";
        }
        // The book moves onto the small disk, is written there, and what stands there afterwards moves back. The log is
        // as large as what is written, and the shared index of it has 32 KiB.
        let disk = self.folder.file("small-disk");
        std::fs::create_dir_all(&disk).unwrap();
        let script = format!(
            "mount -t tmpfs -o size={}k none {disk} && for f in {book} {log}; do if [ -e $f ]; then mv $f {disk}/; fi; done; \
             \"$0\"; rm -f {disk}/*-shm; mv {disk}/* {back}/",
            room + 40,
            disk = disk.display(),
            book = book.display(),
            log = log_of(&book).display(),
            back = self.folder.file("").display(),
        );
        let mut shell = Command::new("unshare");
        shell.args(["-m", "sh", "-c", &script]).arg(program);
        let there = disk.join(book.file_name().unwrap());
        let (mut child, entries) = self.send_by(device, shell, &there);
        self.hear(&mut child, &entries);
        "disk full"
    }

    /// A folder in which nothing can be written: nothing is kept, nothing is told to be, and the book stays as it is.
    async fn read_only(&mut self, device: usize) -> &'static str {
        let book = self.book(device);
        self.open(device).await.close().await.unwrap();
        let before = std::fs::read(&book).ok();
        let folder = self.folder.file("");
        let script = format!(
            "mount --bind {folder} {folder} && mount -o remount,bind,ro {folder} && \"$0\"",
            folder = folder.display()
        );
        let mut shell = Command::new("unshare");
        shell.args(["-m", "sh", "-c", &script]).arg(std::env::current_exe().unwrap());
        let (mut child, entries) = self.send_by(device, shell, &book);
        let told = self.told.len();
        self.hear(&mut child, &entries);
        assert_eq!(self.told.len(), told, "something was told to be kept where nothing can be written");
        assert!(std::fs::read(&book).ok() == before, "a read-only book was changed");
        "read-only folder"
    }

    fn two_programs(&mut self, device: usize) -> &'static str {
        let (mut one, of_one) = self.send(device);
        let (mut other, of_other) = self.send(device);
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
        store.close().await.unwrap();
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
        let mut expected = self.read(device).await;
        expected.truncate(left.len());
        assert!(left == expected, "a torn log gave back something else than the beginning of what was written");
        // It goes on from there, and fetches what it lacks.
        let mut whole = self.open(device).await;
        exchange(&mut store, &mut whole, &mut BothMarks::default()).await.unwrap();
        assert_eq!(read_all(&mut store).await.unwrap().len(), read_all(&mut whole).await.unwrap().len());
        store.close().await.unwrap();
        whole.close().await.unwrap();
        for file in [torn.clone(), log_of(&torn), torn.with_extension("sqlite-shm")] {
            std::fs::remove_file(file).ok();
        }
        "torn log"
    }

    /// A power cut while the log is folded into the file: some pages are new, some old, one half and half. The log still
    /// has them all, so nothing may be missing.
    async fn torn_page(&mut self, device: usize) -> &'static str {
        const PAGE: usize = 4096;
        let mut store = self.open(device).await;
        let heard = self.recent();
        let entries = writes(&mut self.chance, device, &heard, 8);
        for entry in &entries {
            store.append(std::slice::from_ref(entry)).await.unwrap();
        }
        self.remember(&entries);
        let book = self.book(device);
        let (mut torn, log) = (std::fs::read(&book).unwrap(), std::fs::read(log_of(&book)).unwrap());
        let expected = read_all(&mut store).await.unwrap();
        store.close().await.unwrap();
        let folded = std::fs::read(&book).unwrap();
        let changed: Vec<usize> = (0..folded.len() / PAGE)
            .filter(|page| torn.get(page * PAGE..(page + 1) * PAGE) != Some(&folded[page * PAGE..(page + 1) * PAGE]))
            .collect();
        assert!(!changed.is_empty(), "the log was folded in before");
        let half = changed[self.chance.index(changed.len())];
        for page in changed {
            let upto = if page == half { page * PAGE + self.chance.index(PAGE) } else { (page + 1) * PAGE };
            if page == half || self.chance.happens(0.5) {
                torn.resize(torn.len().max(upto), 0);
                torn[page * PAGE..upto].copy_from_slice(&folded[page * PAGE..upto]);
            }
        }
        let copy = self.folder.file("torn.sqlite");
        std::fs::write(&copy, torn).unwrap();
        std::fs::write(log_of(&copy), log).unwrap();
        let mut store = SqliteStore::open(&copy).await.unwrap();
        assert!(read_all(&mut store).await.unwrap() == expected, "a torn page took something along");
        assert!(store.look_over().await.unwrap().is_whole());
        store.close().await.unwrap();
        std::fs::remove_file(&copy).unwrap();
        "torn page"
    }

    /// The file loses its end, or a stretch of it is written over. It must be told as damaged, or lack nothing; a new
    /// book is begun and fetches all from the others.
    async fn damaged(&mut self, device: usize) -> &'static str {
        self.hand_on_all(device).await;
        let mut store = self.open(device).await;
        let all = read_all(&mut store).await.unwrap();
        store.close().await.unwrap();
        let book = self.book(device);
        let mut bytes = std::fs::read(&book).unwrap();
        if self.chance.happens(0.5) {
            bytes.truncate(self.chance.index(bytes.len()));
        } else {
            // Half of the times in the last page.
            let first = if self.chance.happens(0.5) { bytes.len().saturating_sub(4096) } else { 0 };
            let at = first + self.chance.index(bytes.len() - first);
            let end = (at + 1 + self.chance.index(700)).min(bytes.len());
            bytes[at..end].fill(self.chance.below(256).to_le_bytes()[0]);
        }
        std::fs::write(&book, bytes).unwrap();
        if let Ok(mut store) = SqliteStore::open_existing(&book).await
            && let Ok(looked) = store.look_over().await
        {
            let known = |entry: &Entry| self.written.get(&entry.id) == Some(entry);
            if looked.is_whole() {
                self.unseen += usize::from(looked.entries != all);
            } else if looked.sums.is_empty() {
                // What is damaged is told by more than the sums: then each entry read is one that was written.
                assert!(looked.entries.iter().all(known), "rubbish was read");
            }
        }
        self.books[device] += 1;
        let other = (device + 1) % DEVICES;
        self.meet(device, other).await;
        "damaged"
    }

    async fn writes_and_clocks(&mut self, device: usize) -> &'static str {
        let heard = self.recent();
        let count = 1 + self.chance.index(6);
        let entries = writes(&mut self.chance, device, &heard, count);
        let mut store = self.open(device).await;
        store.append(&entries).await.unwrap();
        store.close().await.unwrap();
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
        here.close().await.unwrap();
        there.close().await.unwrap();
        "bad line"
    }

    /// The server is stopped as by a power cut while a device pushes, and started again.
    async fn server_crashes(&mut self, device: usize) -> &'static str {
        let heard = self.recent();
        let entries = writes(&mut self.chance, device, &heard, 60);
        let mut here = self.open(device).await;
        here.append(&entries).await.unwrap();
        self.remember(&entries);
        let address = self.server.as_ref().unwrap().address(&self.outfit());
        let mut server = self.server.take().unwrap();
        let mut there = PostgresStore::open(&address).await.unwrap();
        let pause = Duration::from_micros(self.chance.below(30_000));
        let again = tokio::task::spawn_blocking(move || {
            std::thread::sleep(pause);
            server.crash();
            server.begin();
            server
        });
        exchange(&mut here, &mut there, self.marks.entry((device, DEVICES)).or_default()).await.unwrap();
        here.close().await.unwrap();
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
        here.close().await.unwrap();
        there.close().await.unwrap();
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
            let mut there = PostgresStore::open(&server.address(&self.outfit())).await.unwrap();
            let mut here = self.open(0).await;
            exchange(&mut here, &mut there, &mut BothMarks::default()).await.unwrap();
            kept.push(read_all(&mut there).await.unwrap());
            here.close().await.unwrap();
            for device in 1..DEVICES {
                self.meet(0, device).await;
            }
        }
        for device in 0..DEVICES {
            kept.push(self.read(device).await);
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
