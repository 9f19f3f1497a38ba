//! Exchange between stores of every kind, over lines that fail: afterwards all hold the same, each entry once.

#![expect(clippy::unwrap_used, reason = "a helper of tests stops its test")]

#[path = "support/faults.rs"]
mod faults;
mod support;

use std::collections::BTreeSet;

use faults::{BadLine, writes};
use outyard_app::exchange::{BothMarks, Exchanged, HandedOn, exchange, files_of};
use outyard_app::ports::{Cursor, MemoryStore, Store, read_all};
use outyard_base::Chance;
use outyard_book::{Entry, EntryId, fold};
use outyard_store::SqliteStore;
use support::{Folder, tallies};

/// Entries in the order of their names, to compare what two stores hold.
fn by_name(mut entries: Vec<Entry>) -> Vec<Entry> {
    entries.sort_by_key(|entry| entry.id);
    entries
}

/// True when no name is there twice.
fn each_once(entries: &[Entry]) -> bool {
    let names: BTreeSet<EntryId> = entries.iter().map(|entry| entry.id).collect();
    names.len() == entries.len()
}

#[tokio::test]
async fn a_file_on_a_stick_carries_the_book_both_ways() {
    let folder = Folder::new("stick");
    let mut office = SqliteStore::open(&folder.file("office.sqlite")).await.unwrap();
    let mut stick = SqliteStore::open(&folder.file("stick.sqlite")).await.unwrap();
    let entries = tallies(1, 1200);
    office.append(&entries[..700]).await.unwrap();
    stick.append(&entries[600..]).await.unwrap();
    let raw = office.keep_file(b"raw").await.unwrap();
    let photo = stick.keep_file(b"photo").await.unwrap();
    let mut marks = BothMarks::default();
    let done = exchange(&mut office, &mut stick, &mut marks).await.unwrap();
    assert_eq!(done.sent, HandedOn { new: 600, known: 600, files: 1, ..HandedOn::default() });
    assert_eq!(done.fetched, HandedOn { new: 500, known: 700, files: 1, ..HandedOn::default() });
    for store in [&mut office, &mut stick] {
        assert!(by_name(read_all(store).await.unwrap()) == by_name(entries.clone()));
        assert!(store.file(&raw).await.unwrap().is_some() && store.file(&photo).await.unwrap().is_some());
    }
    // What came in is offered back once, in the same exchange; then nothing moves any more.
    assert_eq!(exchange(&mut office, &mut stick, &mut marks).await.unwrap(), Exchanged::default());
    // Only what is new goes out.
    office.append(&tallies(2, 3)).await.unwrap();
    let done = exchange(&mut office, &mut stick, &mut marks).await.unwrap();
    assert_eq!((done.sent.new, done.sent.known), (3, 0));
}

#[tokio::test]
async fn marks_of_another_book_are_not_believed() {
    let mut office = MemoryStore::new();
    office.append(&tallies(1, 40)).await.unwrap();
    office.keep_file(b"one").await.unwrap();
    let mut marks = BothMarks::default();
    exchange(&mut office, &mut MemoryStore::new(), &mut marks).await.unwrap();
    assert_eq!((marks.sent.entries, marks.fetched.entries), (Cursor(40), Cursor(40)));
    // The stick was lost and an empty one took its name: all goes out again, files too.
    let mut stick = MemoryStore::new();
    let done = exchange(&mut office, &mut stick, &mut marks).await.unwrap();
    assert_eq!((done.sent.new, done.sent.files), (40, 1));
    // Another one that is as long and has heard of the last entry elsewhere, and lacks the first.
    let mut stick = MemoryStore::new();
    stick.append(&tallies(2, 39)).await.unwrap();
    stick.append(&tallies(1, 40)[39..]).await.unwrap();
    let mut lacks = stick.clone();
    let done = exchange(&mut office, &mut stick, &mut marks).await.unwrap();
    assert_eq!((done.sent.new, done.fetched.new), (39, 39));
    // The stick's book was brought back from a copy of before.
    let done = exchange(&mut office, &mut lacks, &mut marks).await.unwrap();
    assert_eq!((done.sent.new, done.sent.files), (39, 1));
    // And one's own: it is shorter than its marks.
    let mut shorter = MemoryStore::new();
    shorter.append(&tallies(1, 40)[..20]).await.unwrap();
    assert_eq!(exchange(&mut shorter, &mut lacks, &mut marks).await.unwrap().fetched.new, 59);
}

#[tokio::test]
async fn an_exchange_that_was_cut_off_goes_on_where_it_stopped() {
    let entries = tallies(4, 5000);
    let (mut here, mut there) = (MemoryStore::new(), MemoryStore::new());
    here.append(&entries).await.unwrap();
    let (mut marks, mut offered, mut cuts) = (BothMarks::default(), 0, 0);
    let mut chance = Chance::new(7, "cuts");
    loop {
        let before = marks.sent.entries;
        let mut line = BadLine { store: &mut there, chance: &mut chance, faults: 0.15 };
        match exchange(&mut here, &mut line, &mut marks).await {
            Ok(done) => {
                offered += done.sent.new + done.sent.known;
                break;
            }
            Err(_) => cuts += 1,
        }
        assert!(marks.sent.entries >= before, "it went back");
        offered += usize::try_from(marks.sent.entries.0 - before.0).unwrap();
    }
    assert!(cuts > 0 && read_all(&mut there).await.unwrap().len() == 5000);
    assert_eq!(offered, 5000, "nothing that was kept is offered again");
}

#[tokio::test]
async fn a_clash_of_names_keeps_no_other_entry_back() {
    let (mut here, mut there) = (MemoryStore::new(), MemoryStore::new());
    let entries = tallies(3, 30);
    let forged = Entry { author: "someone else".to_owned(), ..entries[11].clone() };
    there.append(std::slice::from_ref(&forged)).await.unwrap();
    here.append(&entries).await.unwrap();
    let done = exchange(&mut here, &mut there, &mut BothMarks::default()).await.unwrap();
    assert_eq!((done.sent.new, &done.sent.same_name[..]), (29, &[forged.id][..]));
    assert_eq!(done.fetched.same_name, [forged.id]);
    assert_eq!(read_all(&mut there).await.unwrap().len(), 30);
}

/// Devices with clocks that are wrong by days write tallies and corrections of corrections, and meet in random pairs
/// over lines that cut, repeat, reorder and shorten what they carry.
#[tokio::test]
async fn devices_on_bad_lines_come_to_the_same_book() {
    for seed in 0..40 {
        let folder = Folder::new(&format!("lines-{seed}"));
        let mut chance = Chance::new(seed, "bad lines");
        let mut phones = [MemoryStore::new(), MemoryStore::new(), MemoryStore::new()];
        let mut office = SqliteStore::open(&folder.file("book.sqlite")).await.unwrap();
        let mut marks: [BothMarks; 3] = std::array::from_fn(|_| BothMarks::default());
        let mut written = Vec::new();
        let mut files = BTreeSet::new();
        let mut meetings_cut = 0;
        for _ in 0..30 {
            let which = chance.index(3);
            let heard = read_all(&mut phones[which]).await.unwrap();
            let count = chance.index(6);
            let some = writes(&mut chance, which, &heard, count);
            phones[which].append(&some).await.unwrap();
            written.extend(some);
            if chance.happens(0.2) {
                files.insert(phones[which].keep_file(&chance.below(1 << 40).to_le_bytes()).await.unwrap());
            }
            // A phone meets the office, or another phone.
            let mut line_chance = Chance::new(chance.below(u64::MAX), "line");
            let met = if chance.happens(0.6) {
                let mut line = BadLine { store: &mut office, chance: &mut line_chance, faults: 0.3 };
                exchange(&mut phones[which], &mut line, &mut marks[which]).await
            } else {
                let mut from = phones[which].clone();
                let other = (which + 1) % 3;
                let mut line = BadLine { store: &mut phones[other], chance: &mut line_chance, faults: 0.3 };
                exchange(&mut from, &mut line, &mut BothMarks::default()).await
            };
            meetings_cut += u32::from(met.is_err());
        }
        assert!(meetings_cut > 0, "seed {seed}: no line failed");
        for _ in 0..2 {
            for (phone, marks) in phones.iter_mut().zip(&mut marks) {
                exchange(phone, &mut office, marks).await.unwrap();
            }
        }
        let kept = read_all(&mut office).await.unwrap();
        assert!(each_once(&kept), "seed {seed}: doubled");
        let (wanted, outfit) = (by_name(written), fold(&kept));
        assert!(by_name(kept) == wanted, "seed {seed}: lost");
        assert_eq!(files_of(&mut office).await.unwrap(), files);
        for phone in &mut phones {
            let kept = read_all(phone).await.unwrap();
            assert!(each_once(&kept) && fold(&kept) == outfit, "seed {seed}: another outfit");
            assert!(by_name(kept) == wanted, "seed {seed}: lost on a phone");
            assert_eq!(files_of(phone).await.unwrap(), files);
        }
    }
}
