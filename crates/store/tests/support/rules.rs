//! The rules every store obeys: one list, run on the store in memory, on `SQLite` and on `PostgreSQL`.

use outyard_app::opening::{MemoryShelf, NoShelf, PageRules, open_outfit};
use outyard_app::ports::{Appended, Cursor, Page, Store, StoreError, read_all};
use outyard_base::Chance;
use outyard_book::outfit::FoldRules;
use outyard_book::{Entry, Fact, GearCounts, GearPlace, SetSum, fold, wire};

#[path = "years.rs"]
mod years;

use crate::support::tallies;
use years::twenty_years;

/// How a test gets stores: each call opens the same book anew.
pub(crate) trait Opens {
    type Store: Store;
    fn new(name: &str) -> Self;
    async fn open(&mut self) -> Self::Store;
    /// Gives a store back: a book on disk forgets it, a book in memory must be kept by hand.
    fn done(&mut self, store: Self::Store);
}

pub(crate) async fn an_append_is_there_when_opened_again<O: Opens>() {
    let mut opens = O::new("again");
    let entries = tallies(1, 20);
    let mut store = opens.open().await;
    assert_eq!(store.append(&entries).await.unwrap(), Appended { new: 20, known: 0 });
    let hash = store.keep_file(b"raw").await.unwrap();
    opens.done(store);
    let mut store = opens.open().await;
    assert_eq!(read_all(&mut store).await.unwrap(), entries);
    assert_eq!(store.file(&hash).await.unwrap().as_deref(), Some(&b"raw"[..]));
}

pub(crate) async fn the_same_entry_again_is_harmless<O: Opens>() {
    let mut opens = O::new("same");
    let mut store = opens.open().await;
    let entries = tallies(2, 10);
    assert_eq!(store.append(&[]).await.unwrap(), Appended::default());
    assert_eq!(store.append(&entries[..6]).await.unwrap(), Appended { new: 6, known: 0 });
    assert_eq!(store.append(&entries[3..]).await.unwrap(), Appended { new: 4, known: 3 });
    assert_eq!(store.append(&entries).await.unwrap(), Appended { new: 0, known: 10 });
    let twice = [entries.clone(), entries.clone()].concat();
    assert_eq!(store.append(&twice).await.unwrap(), Appended { new: 0, known: 20 });
    assert_eq!(read_all(&mut store).await.unwrap(), entries);
    let more = tallies(3, 2);
    let doubled = [more[0].clone(), more[1].clone(), more[0].clone()];
    assert_eq!(store.append(&doubled).await.unwrap(), Appended { new: 2, known: 1 });
}

pub(crate) async fn other_content_under_a_taken_name_is_refused_and_nothing_of_the_call_kept<O: Opens>() {
    let mut opens = O::new("taken");
    let mut store = opens.open().await;
    let entries = tallies(4, 3);
    store.append(&entries[..1]).await.unwrap();
    let forged = Entry { author: "someone else".to_owned(), ..entries[0].clone() };
    let call = [entries[1].clone(), forged];
    assert_eq!(store.append(&call).await.unwrap_err(), StoreError::SameName(entries[0].id));
    assert_eq!(read_all(&mut store).await.unwrap(), entries[..1]);
    // Twice in one call, with two contents.
    let other = Entry { author: "someone else".to_owned(), ..entries[2].clone() };
    let call = [entries[1].clone(), entries[2].clone(), other];
    assert_eq!(store.append(&call).await.unwrap_err().code(), "STO-001");
    assert_eq!(read_all(&mut store).await.unwrap(), entries[..1]);
    assert_eq!(store.append(&entries).await.unwrap(), Appended { new: 2, known: 1 });
}

pub(crate) async fn an_entry_that_could_not_be_read_again_is_refused<O: Opens>() {
    let mut opens = O::new("unkeepable");
    let mut store = opens.open().await;
    let good = tallies(5, 1).remove(0);
    let counted = |count| GearCounts::one("third".parse().unwrap(), count);
    let too_many = Fact::GearCounted { place: GearPlace::Shed, gear: counted(u32::MAX) };
    let inside =
        Fact::Correction { of: good.id, instead: Some(Box::new(Fact::Correction { of: good.id, instead: None })) };
    for fact in [too_many, inside] {
        let bad = Entry { fact, ..tallies(6, 1).remove(0) };
        assert_eq!(store.append(&[good.clone(), bad]).await.unwrap_err().code(), "STO-011");
    }
    assert!(read_all(&mut store).await.unwrap().is_empty());
}

pub(crate) async fn pages_miss_nothing_and_repeat_nothing<O: Opens>() {
    let mut opens = O::new("pages");
    let mut store = opens.open().await;
    let empty = Page { entries: Vec::new(), next: Cursor::START, more: false };
    assert_eq!(store.read_since(Cursor::START, 10).await.unwrap(), empty);
    let entries = tallies(7, 700);
    store.append(&entries).await.unwrap();
    for limit in [1, 7, 699, 700, 701, usize::MAX] {
        let (mut after, mut read, mut pages) = (Cursor::START, Vec::new(), 0);
        loop {
            let page = store.read_since(after, limit).await.unwrap();
            assert!(page.entries.len() <= limit && page.next > after);
            read.extend(page.entries);
            after = page.next;
            pages += 1;
            if !page.more {
                break;
            }
        }
        assert_eq!((read.len(), pages), (700, 700_usize.div_ceil(limit)));
        assert!(read == entries, "in order of arrival");
        // What arrives later is read on from there, and only that.
        let at_end = store.read_since(after, limit).await.unwrap();
        assert_eq!(at_end, Page { entries: Vec::new(), next: after, more: false });
    }
    let end = store.read_since(Cursor::START, usize::MAX).await.unwrap().next;
    let later = tallies(8, 3);
    store.append(&later).await.unwrap();
    assert_eq!(store.read_since(end, 10).await.unwrap().entries, later);
    assert_eq!(store.read_since(Cursor(-5), 1).await.unwrap().entries, entries[..1]);
    assert!(store.read_since(Cursor(i64::MAX), 1).await.unwrap().entries.is_empty());
    let none = store.read_since(Cursor::START, 0).await.unwrap();
    assert!(none.entries.is_empty() && none.next == Cursor::START && none.more);
}

pub(crate) async fn what_a_newer_program_wrote_is_handed_on_as_it_came<O: Opens>() {
    let mut opens = O::new("newer");
    let mut store = opens.open().await;
    let line = r#"{"format":7,"id":"0197cc1e-6c00-7000-8000-000000000001","device":"tablet","author":"Ana","happened_on":"2026-07-03","recorded_at":"2026-07-03T17:00:00Z","fact":"drum-filled","with":{"lot":"L29","kg":295.5},"seal":[1,2]}"#;
    let entry = wire::read_line(line.as_bytes()).unwrap();
    store.append(std::slice::from_ref(&entry)).await.unwrap();
    let read = read_all(&mut store).await.unwrap();
    assert_eq!(read, [entry]);
    let (ours, theirs): (serde_json::Value, serde_json::Value) =
        (serde_json::from_str(&wire::write_line(&read[0])).unwrap(), serde_json::from_str(line).unwrap());
    assert_eq!(ours, theirs);
}

pub(crate) async fn a_kept_fold_and_what_is_new_give_the_outfit_of_all_entries<O: Opens>() {
    let mut opens = O::new("kept fold");
    let mut store = opens.open().await;
    let rules = FoldRules { listed_least: 60, ..FoldRules::standard() };
    let pages = PageRules { open_least: 150, turn_at: 300 };
    let all = twenty_years(5, 1200);
    let morning = "2047-01-01".parse().unwrap();
    let mut shelf = MemoryShelf::default();
    let mut from_kept = 0;
    for some in all.chunks(100) {
        store.append(some).await.unwrap();
        let opened = open_outfit(&mut store, &mut shelf, &rules, pages, morning).await.unwrap();
        let whole = open_outfit(&mut store, &mut NoShelf, &rules, pages, morning).await.unwrap();
        assert!(opened.outfit == whole.outfit && !whole.from_kept);
        from_kept += usize::from(opened.from_kept);
    }
    assert!(from_kept >= 8, "{from_kept} times from what was kept");
    // A late entry, or another book, or a byte changed: what is kept is let go and made again.
    let again = async |store: &mut O::Store, shelf: &mut MemoryShelf| {
        let opened = open_outfit(store, shelf, &rules, pages, morning).await.unwrap();
        let whole = open_outfit(store, &mut NoShelf, &rules, pages, morning).await.unwrap();
        assert!(opened.outfit == whole.outfit);
        opened.from_kept
    };
    let strike = Entry { fact: Fact::Correction { of: all[3].id, instead: None }, ..tallies(9, 1).remove(0) };
    store.append(&[strike]).await.unwrap();
    assert!(!again(&mut store, &mut shelf).await && again(&mut store, &mut shelf).await);
    for name in ["fold.kept", "fold.names"] {
        let mut spoilt = shelf.clone();
        let bytes = spoilt.0.get_mut(name).unwrap();
        let middle = bytes.len() / 2;
        bytes[middle] ^= 1;
        let note = Entry { happened_on: morning, ..tallies(if name == "fold.kept" { 11 } else { 12 }, 1).remove(0) };
        store.append(&[note]).await.unwrap();
        assert!(!again(&mut store, &mut spoilt).await, "{name}");
    }
    assert!(again(&mut store, &mut shelf).await, "what was not spoilt");
    let mut other = outyard_app::ports::MemoryStore::new();
    other.append(&all[..900]).await.unwrap();
    assert!(!open_outfit(&mut other, &mut shelf, &rules, pages, morning).await.unwrap().from_kept);
    // On an earlier morning what is kept for today is neither used nor taken away.
    let early = open_outfit(&mut store, &mut shelf, &rules, pages, "2030-01-01".parse().unwrap()).await.unwrap();
    assert!(!early.from_kept && early.outfit.entries < 400);
}

pub(crate) async fn files_are_kept_by_content<O: Opens>() {
    let mut opens = O::new("files");
    let mut store = opens.open().await;
    let large: Vec<u8> = (0..3_000_000_u32).map(|at| (at % 251).to_le_bytes()[0]).collect();
    for bytes in [&b""[..], b"stamp,weight\n", &large] {
        let hash = store.keep_file(bytes).await.unwrap();
        assert_eq!(store.keep_file(bytes).await.unwrap(), hash);
        assert!(store.file(&hash).await.unwrap().unwrap() == bytes);
    }
    let absent = outyard_book::ContentHash::of(b"never kept");
    assert_eq!(store.file(&absent).await.unwrap(), None);
    // They are named in order of arrival, each once, and read on from anywhere.
    let wanted = [&b""[..], b"stamp,weight\n", &large].map(outyard_book::ContentHash::of);
    let all = store.files_since(Cursor::START, 9).await.unwrap();
    assert_eq!((&all.hashes[..], all.more), (&wanted[..], false));
    let first = store.files_since(Cursor::START, 2).await.unwrap();
    assert_eq!((&first.hashes[..], first.more), (&wanted[..2], true));
    let last = store.files_since(first.next, 2).await.unwrap();
    assert_eq!((&last.hashes[..], last.more, last.next), (&wanted[2..], false, all.next));
    let none = store.files_since(all.next, 2).await.unwrap();
    assert!(none.hashes.is_empty() && !none.more && none.next == all.next);
}

pub(crate) async fn a_book_knows_what_it_comes_to<O: Opens>() {
    let mut opens = O::new("sums");
    let mut store = opens.open().await;
    assert_eq!(store.head().await.unwrap(), (Cursor::START, SetSum::NONE));
    assert_eq!(store.sum_at(Cursor::START).await.unwrap(), Some(SetSum::NONE));
    let entries = tallies(8, 1500);
    let of = |entries: &[Entry]| {
        let lines: Vec<String> = entries.iter().map(wire::write_line).collect();
        SetSum::of(lines.iter().map(String::as_str))
    };
    let mut ends = Vec::new();
    // Some of each call are known: they are not counted again. A call of none is no call.
    for (from, to) in [(0, 1), (0, 5), (3, 7), (7, 7), (0, 7), (5, 1400), (1390, 1500)] {
        store.append(&entries[from..to]).await.unwrap();
        let (end, sum) = store.head().await.unwrap();
        assert_eq!(sum, of(&entries[..to]));
        ends.push((end, sum));
    }
    opens.done(store);
    let mut store = opens.open().await;
    for (end, sum) in &ends {
        assert_eq!(store.sum_at(*end).await.unwrap(), Some(*sum));
    }
    // Within an append nothing was reckoned.
    assert_eq!(store.sum_at(Cursor(ends[1].0.0 - 1)).await.unwrap(), None);
    assert_eq!(store.sum_at(Cursor(ends[6].0.0 + 1)).await.unwrap(), None);
    assert_eq!(store.entry(entries[1234].id).await.unwrap().as_ref(), Some(&entries[1234]));
    assert_eq!(store.entry(tallies(9, 1)[0].id).await.unwrap(), None);
}

/// Random appends of overlapping parts in random order, opened anew now and then, against a plain list.
pub(crate) async fn random_use_agrees_with_a_list<O: Opens>() {
    for seed in 0..6 {
        let mut chance = Chance::new(seed, "use of a store");
        let all = tallies(100 + seed, 120);
        let mut opens = O::new(&format!("random-{seed}"));
        let mut store = opens.open().await;
        let mut list: Vec<Entry> = Vec::new();
        for _ in 0..40 {
            let from = chance.index(all.len());
            let mut call = all[from..(from + 1 + chance.index(12)).min(all.len())].to_vec();
            chance.shuffle(&mut call);
            let new = call.iter().filter(|entry| !list.contains(entry)).count();
            assert_eq!(store.append(&call).await.unwrap(), Appended { new, known: call.len() - new });
            list.extend(call.into_iter().filter(|entry| !list.contains(entry)).collect::<Vec<_>>());
            if chance.happens(0.2) {
                opens.done(store);
                store = opens.open().await;
            }
        }
        let read = read_all(&mut store).await.unwrap();
        assert!(read == list);
        assert_eq!(fold(&read), fold(&list));
    }
}

/// Gives each rule's name to a macro.
macro_rules! each_rule {
    ($with:ident $($more:tt)*) => {
        $with! { $($more)*
            an_append_is_there_when_opened_again
            the_same_entry_again_is_harmless
            other_content_under_a_taken_name_is_refused_and_nothing_of_the_call_kept
            an_entry_that_could_not_be_read_again_is_refused
            pages_miss_nothing_and_repeat_nothing
            what_a_newer_program_wrote_is_handed_on_as_it_came
            files_are_kept_by_content
            a_book_knows_what_it_comes_to
            a_kept_fold_and_what_is_new_give_the_outfit_of_all_entries
            random_use_agrees_with_a_list
        }
    };
}
pub(crate) use each_rule;
