use std::collections::BTreeSet;

use outyard_book::law::{What, stand};
use outyard_book::{Entry, EntryId, Fact, Tally, fold, wire};
use proptest::prelude::*;

use super::support::*;

fn note(text: &str) -> Fact {
    Fact::Note { yard: None, text: text.to_owned() }
}

fn correct(of: u32, instead: Option<Fact>) -> Fact {
    Fact::Correction { of: id(of), instead: instead.map(Box::new) }
}

/// What the notes of a book say, in order of time.
fn words(entries: &[Entry]) -> Vec<String> {
    fold(entries).notes.iter().map(|note| note.what.text.clone()).collect()
}

#[test]
fn a_correction_replaces_or_strikes_out_and_can_be_corrected_itself() {
    let told = entry(1, "a", day(3), 10, note("31"));
    let fixed = entry(2, "a", day(3), 20, correct(1, Some(note("32"))));
    let struck = entry(3, "a", day(3), 30, correct(1, None));
    let fixed_again = entry(4, "b", day(3), 40, correct(2, Some(note("33"))));
    let strike_of_strike = entry(5, "b", day(3), 50, correct(3, None));
    assert_eq!(words(std::slice::from_ref(&told)), ["31"]);
    assert_eq!(words(&[told.clone(), fixed.clone()]), ["32"]);
    assert!(words(&[told.clone(), struck.clone()]).is_empty());
    assert_eq!(words(&[told.clone(), fixed.clone(), fixed_again.clone()]), ["33"]);
    // The later strike-out counts until it is struck out itself; then the correction before it is back.
    let all = [told, fixed, struck, fixed_again, strike_of_strike];
    assert!(words(&all[..4]).is_empty());
    assert_eq!(words(&all), ["33"]);
}

#[test]
fn of_two_corrections_the_later_by_clock_then_device_then_name_counts_and_both_stay_visible() {
    let told = entry(1, "a", day(3), 10, note("31"));
    let early = entry(9, "z", day(3), 20, correct(1, Some(note("early"))));
    let late_a = entry(8, "a", day(3), 30, correct(1, Some(note("late, a"))));
    let late_b = entry(2, "b", day(3), 30, correct(1, Some(note("late, b"))));
    let late_b_again = entry(3, "b", day(3), 30, correct(1, Some(note("late, b again"))));
    for (entries, says) in [
        (vec![&told, &early], "early"),
        (vec![&told, &early, &late_a], "late, a"),
        (vec![&told, &early, &late_a, &late_b], "late, b"),
        (vec![&told, &early, &late_a, &late_b, &late_b_again], "late, b again"),
    ] {
        let outfit = fold(entries.iter().copied());
        assert_eq!(outfit.notes[0].what.text, says);
        let seen: BTreeSet<EntryId> = outfit
            .contested
            .iter()
            .flat_map(|contested| contested.overruled.iter().copied().chain([contested.stands]))
            .collect();
        assert_eq!(seen.len(), if entries.len() > 2 { entries.len() - 1 } else { 0 });
    }
}

#[test]
fn a_correction_of_an_entry_that_has_not_arrived_waits_for_it() {
    let told = entry(1, "a", day(3), 10, note("31"));
    let fixed = entry(2, "a", day(3), 20, correct(1, Some(note("32"))));
    let alone = fold([&fixed]);
    assert!(alone.notes.is_empty());
    assert_eq!(alone.awaiting, [id(2)]);
    assert_eq!(words(&[fixed, told]), ["32"]);
}

#[test]
fn corrections_in_a_circle_change_nothing_and_are_listed() {
    let told = entry(1, "a", day(3), 10, note("31"));
    let one = entry(2, "a", day(3), 20, correct(3, Some(note("x"))));
    let other = entry(3, "a", day(3), 30, correct(2, None));
    let itself = entry(4, "a", day(3), 30, correct(4, None));
    let hanging = entry(5, "a", day(3), 30, correct(2, None));
    let nested = entry(6, "a", day(3), 30, correct(1, Some(correct(1, None))));
    let outfit = fold(&[told, one, other, itself, hanging, nested]);
    assert_eq!(outfit.notes[0].what.text, "31");
    assert_eq!(outfit.idle, [id(2), id(3), id(4), id(5), id(6)]);
}

#[test]
fn a_chain_of_a_hundred_thousand_corrections_is_followed_to_its_end() {
    let link = |number: u32| entry(number, "a", day(3), 1, correct(number - 1, Some(note(&format!("link {number}")))));
    let mut chain = vec![entry(0, "a", day(3), 0, note("first"))];
    chain.extend((1..100_000).map(link));
    assert_eq!(words(&chain), ["link 99999"]);
    chain.push(entry(100_000, "a", day(3), 2, correct(99_999, None)));
    assert_eq!(words(&chain), ["link 99998"]);
}

#[test]
fn a_corrected_tally_keeps_its_place_before_a_later_count() {
    let tally = entry(1, "a", day(3), 600, Fact::VisitClosed(put_on(&yard(7), &truck(1), thirds(31))));
    let count = entry(2, "a", day(3), 900, Fact::BoxesCounted { yard: yard(7), boxes: thirds(32), fullness: None });
    let mut fixed =
        entry(3, "a", day(3), 0, correct(1, Some(Fact::VisitClosed(put_on(&yard(7), &truck(1), thirds(32))))));
    fixed.recorded_at = "2026-07-05T20:00:00Z".parse().unwrap();
    let outfit = fold(&[tally, count, fixed]);
    assert_eq!(outfit.yards[&yard(7)].on_hives[&gear("third")], 32);
}

fn tally_entry(number: u32, device: &str, tally: Tally) -> Entry {
    entry(number, device, day(3), i64::from(number), Fact::VisitClosed(tally))
}

#[test]
fn tallies_of_one_visit_are_told_apart_from_two_visits() {
    let base = || put_on(&yard(7), &truck(1), thirds(30));
    let keyed = |key: &str| Tally { visit: Some(key.to_owned()), ..base() };
    let other_job = || {
        let mut tally = base();
        tally.jobs[0].job = "pull".parse().unwrap();
        tally
    };
    let conflicts = |entries: &[Entry]| fold(entries).conflicts.len();
    // The same visit key, even from one device; the same yard, day and job from two devices.
    assert_eq!(conflicts(&[tally_entry(1, "a", keyed("v")), tally_entry(2, "a", keyed("v"))]), 1);
    assert_eq!(conflicts(&[tally_entry(1, "a", base()), tally_entry(2, "b", base())]), 1);
    assert_eq!(conflicts(&[tally_entry(1, "a", keyed("v")), tally_entry(2, "b", base())]), 1);
    let jobless = || Tally { jobs: Vec::new(), ..base() };
    assert_eq!(conflicts(&[tally_entry(1, "a", jobless()), tally_entry(2, "b", jobless())]), 1);
    // Not: another job, one device twice, two planned visits, another day.
    assert_eq!(conflicts(&[tally_entry(1, "a", base()), tally_entry(2, "b", other_job())]), 0);
    assert_eq!(conflicts(&[tally_entry(1, "a", base()), tally_entry(2, "a", base())]), 0);
    assert_eq!(conflicts(&[tally_entry(1, "a", keyed("v")), tally_entry(2, "b", keyed("w"))]), 0);
    let next_day = entry(2, "b", day(4), 5, Fact::VisitClosed(base()));
    assert_eq!(conflicts(&[tally_entry(1, "a", base()), next_day]), 0);
    // Three of one visit are one conflict.
    let three = [tally_entry(1, "a", base()), tally_entry(2, "b", base()), tally_entry(3, "c", base())];
    assert_eq!(fold(&three).conflicts[0].tallies, [id(1), id(2), id(3)]);
    // Struck out, a tally is no party to a conflict.
    let strike = entry(4, "b", day(3), 50, correct(2, None));
    assert_eq!(conflicts(&[tally_entry(1, "a", base()), tally_entry(2, "b", base()), strike]), 0);
}

#[test]
fn a_settlement_counts_once_a_later_one_overrules_it_and_a_latecomer_is_flagged() {
    let on = |count| put_on(&yard(7), &truck(1), thirds(count));
    let (a, b) = (tally_entry(1, "a", on(31)), tally_entry(2, "b", on(30)));
    let settled = |number, count| {
        entry(
            number,
            "office",
            day(3),
            i64::from(number),
            Fact::Settled { tallies: vec![id(1), id(2)], agreed: vec![on(count)] },
        )
    };
    let standing = |entries: &[Entry]| fold(entries).yards[&yard(7)].on_hives.get(&gear("third")).copied();
    assert_eq!(standing(&[a.clone(), b.clone(), settled(3, 32)]), Some(32));
    let twice = fold(&[a.clone(), b.clone(), settled(3, 32), settled(4, 31)]);
    assert_eq!(twice.yards[&yard(7)].on_hives[&gear("third")], 31);
    assert_eq!(twice.settlements[0].overruled, [id(3)]);
    let late = tally_entry(9, "c", on(33));
    let outfit = fold(&[a.clone(), b.clone(), settled(3, 32), late]);
    assert_eq!(outfit.yards[&yard(7)].on_hives[&gear("third")], 32);
    assert_eq!(outfit.conflicts[0].tallies, [id(9)]);
    assert_eq!(outfit.conflicts[0].settled_before, [id(3)]);
    // Settled as "none of it happened", and as "both did".
    let none = entry(5, "office", day(3), 5, Fact::Settled { tallies: vec![id(1), id(2)], agreed: vec![] });
    assert!(fold(&[a.clone(), b.clone(), none]).yards.is_empty());
    let both =
        entry(5, "office", day(3), 5, Fact::Settled { tallies: vec![id(1), id(2)], agreed: vec![on(31), on(30)] });
    assert_eq!(standing(&[a, b, both]), Some(61));
}

#[test]
fn two_contents_under_one_name_are_flagged_and_one_is_taken_alike_everywhere() {
    let one = entry(1, "a", day(3), 10, note("one"));
    let other = entry(1, "a", day(3), 10, note("other"));
    let (there, back) = (fold([&one, &other]), fold([&other, &one, &other]));
    assert_eq!(there, back);
    assert_eq!(there.same_name, [id(1)]);
    assert_eq!(there.notes.len(), 1);
}

proptest! {
    #![proptest_config(cases(600))]

    /// Devices act at random, with wrong clocks, corrections of corrections and stolen names; whatever way the entries
    /// take, the outfit and its ledger are the same, and so they are after a trip through the file format.
    #[test]
    fn the_outfit_depends_only_on_the_set_of_entries(acts in prop::collection::vec(act(), 0..64), seed in any::<u64>()) {
        let entries = entries_of(&acts);
        let here = fold(&entries);
        let there = fold(&by_detours(&entries, seed));
        prop_assert_eq!(&here.ledger, &there.ledger);
        prop_assert_eq!(&here, &there);
        // A correction inside a correction cannot be written to a file.
        let written: Vec<Entry> =
            entries.into_iter().filter(|entry| wire::read_line(wire::write_line(entry).as_bytes()).is_ok()).collect();
        let read = wire::read_lines("detour.jsonl", wire::write_lines(&written).as_bytes());
        prop_assert_eq!(fold(&read.unwrap()), fold(&written));
    }

    /// Three devices hand each other what the other lacks, a few entries at a time and in any order, until nobody lacks
    /// anything: all three then tell the same.
    #[test]
    fn devices_that_exchange_missing_entries_agree(acts in prop::collection::vec(act(), 1..48), seed in any::<u64>()) {
        let entries = entries_of(&acts);
        let mut chance = outyard_base::Chance::new(seed, "exchange");
        let mut held: [Vec<Entry>; 3] = Default::default();
        for entry in &entries {
            held[chance.index(3)].push(entry.clone());
        }
        while held.iter().any(|one| entries.iter().any(|entry| !one.contains(entry))) {
            let (from, to) = (chance.index(3), chance.index(3));
            let mut lacking: Vec<Entry> = held[from].iter().filter(|entry| !held[to].contains(entry)).cloned().collect();
            chance.shuffle(&mut lacking);
            lacking.truncate(1 + chance.index(5));
            held[to].extend(lacking);
        }
        let told: Vec<_> = held.iter().map(fold).collect();
        prop_assert_eq!(&told[0], &told[1]);
        prop_assert_eq!(&told[1], &told[2]);
        prop_assert_eq!(&told[0], &fold(&entries));
    }

    /// Of the tallies told, each is either counted, held back in exactly one conflict, replaced by a settlement, or
    /// corrected away: never counted twice, never lost.
    #[test]
    fn no_tally_is_counted_twice_or_lost(acts in prop::collection::vec(act(), 0..64)) {
        let entries = entries_of(&acts);
        let stands = stand(&entries);
        let mut counted = Vec::new();
        for happening in &stands.happenings {
            if let What::Tally(_) = happening.what {
                counted.push(happening.entry.id);
            }
        }
        let settlements: BTreeSet<EntryId> = stands.settlements.iter().map(|one| one.entry).collect();
        let own: Vec<EntryId> = counted.iter().filter(|id| !settlements.contains(id)).copied().collect();
        let in_conflict: Vec<EntryId> = stands.conflicts.iter().flat_map(|one| one.tallies.clone()).collect();
        let claimed: BTreeSet<EntryId> = stands.settlements.iter().flat_map(|one| one.tallies.clone()).collect();
        let unique: BTreeSet<EntryId> = own.iter().chain(&in_conflict).copied().collect();
        prop_assert_eq!(unique.len(), own.len() + in_conflict.len());
        prop_assert!(unique.is_disjoint(&claimed));
        let corrected: BTreeSet<EntryId> = entries
            .iter()
            .filter_map(|entry| match entry.fact { Fact::Correction { of, .. } => Some(of), _ => None })
            .collect();
        for entry in &entries {
            let clear = matches!(entry.fact, Fact::VisitClosed(_))
                && !corrected.contains(&entry.id)
                && !stands.same_name.contains(&entry.id);
            prop_assert!(!clear || unique.contains(&entry.id) || claimed.contains(&entry.id));
        }
    }
}
