use std::collections::BTreeSet;

use jiff::civil::Date;
use outyard_base::{TruckId, YardId};
use outyard_book::ledger::{Account, Stuck, Why};
use outyard_book::{Entry, Fact, GearCounts, GearPlace, Proposal, Tally, fold};
use proptest::prelude::*;

use super::support::*;

/// A day on which a truck leaves with thirds, crews tally what they put on, and some come home.
struct Trip {
    left_with: u32,
    /// Yard, and what each phone there tallied.
    tallied: Vec<(YardId, Vec<u32>)>,
    came_home: u32,
}

impl Trip {
    fn entries(&self, on: Date, vehicle: &TruckId) -> Vec<Entry> {
        let mut all = vec![entry(1, "office", on, 300, loaded(vehicle, thirds(self.left_with)))];
        for (at, tallies) in &self.tallied {
            for (phone, count) in tallies.iter().enumerate() {
                let number = u32::try_from(all.len()).unwrap() + 1;
                let tally = put_on(at, vehicle, thirds(*count));
                all.push(entry(number, &format!("phone-{phone}"), on, 600, Fact::VisitClosed(tally)));
            }
        }
        all.push(entry(900, "office", on, 1100, home(vehicle, thirds(self.came_home))));
        all
    }
}

/// The entry that accepts a proposal.
fn accept(number: u32, proposal: &Proposal) -> Entry {
    let Proposal::Settle { happened_on, fact, .. } = proposal else { panic!("nothing to accept in: {proposal}") };
    entry(number, "office", *happened_on, 1200, *fact.clone())
}

fn on_hives(entries: &[Entry], at: &YardId) -> i64 {
    fold(entries).ledger.at(&gear("third"), &GearPlace::OnHives(at.clone()))
}

/// Scene S19. The truck left with 101 thirds; at yard 7 crew A tallied 31 and crew B 30; 30 went on at yard 12, 34 at
/// yard 19; 5 came home: 101 - 5 - 30 - 34 = 32 must be at yard 7.
#[test]
fn two_phones_at_yard_7_are_flagged_not_added_and_32_is_proposed() {
    let trip = Trip {
        left_with: 101,
        tallied: vec![(yard(7), vec![31, 30]), (yard(12), vec![30]), (yard(19), vec![34])],
        came_home: 5,
    };
    let mut entries = trip.entries(day(3), &truck("flatbed"));
    let outfit = fold(&entries);
    assert_eq!(outfit.conflicts.len(), 1);
    assert_eq!(outfit.conflicts[0].tallies.len(), 2);
    assert_eq!(on_hives(&entries, &yard(7)), 0);
    assert_eq!((on_hives(&entries, &yard(12)), on_hives(&entries, &yard(19))), (30, 34));
    let balance = &outfit.ledger.gear[&gear("third")];
    let unplaced: Vec<_> = balance.unplaced.iter().filter(|one| one.why != Why::BelowNothing).collect();
    assert_eq!((unplaced.len(), unplaced[0].count), (1, 32));
    assert_eq!(
        unplaced[0].to_string(),
        "32 x third left with truck flatbed on 2026-07-03 and stand in no tally that counts"
    );
    let proposal = &outfit.ledger.doubts[0].proposal;
    assert_eq!(&unplaced[0].proposal, proposal);
    assert_eq!(proposal.to_string(), "32 x third must be at yard 7; told: 31 and 30");
    entries.push(accept(901, proposal));
    let outfit = fold(&entries);
    assert!(outfit.conflicts.is_empty());
    assert_eq!(on_hives(&entries, &yard(7)), 32);
    // What is left is the shed, from which more left than was ever counted into it.
    let left: Vec<_> = outfit.ledger.unplaced().map(|one| (&one.place, one.count, &one.why)).collect();
    assert_eq!(left, [(&GearPlace::Shed, -96, &Why::BelowNothing)]);
    // The nearer tally stands in all else: crew A's.
    assert_eq!(outfit.yards[&yard(7)].visits[0].tally.jobs[0].done.total(), 31);
}

#[test]
fn two_yards_in_doubt_cannot_be_settled_and_either_count_would_do() {
    let trip = Trip {
        left_with: 101,
        tallied: vec![(yard(7), vec![31, 30]), (yard(12), vec![30, 29]), (yard(19), vec![34])],
        came_home: 5,
    };
    let mut entries = trip.entries(day(3), &truck(1));
    let outfit = fold(&entries);
    for doubt in &outfit.ledger.doubts {
        let Proposal::CountYards { yards, why } = &doubt.proposal else { panic!("{}", doubt.proposal) };
        assert_eq!(*yards, BTreeSet::from([yard(7), yard(12)]));
        assert_eq!(*why, Some(Stuck::InDoubtTogether { gear: gear("third"), together: 62 }));
    }
    assert_eq!(
        outfit.ledger.doubts[0].proposal.to_string(),
        "cannot be settled: together they hold 62 x third, and the load does not tell them apart; \
         a count at yard 7 or 12 would"
    );
    // Yard 12 is counted: 30. Then yard 7 follows.
    let twelve = outfit.conflicts.iter().find(|conflict| conflict.yard == yard(12)).unwrap();
    let agreed = vec![put_on(&yard(12), &truck(1), thirds(30))];
    entries.push(entry(901, "office", day(3), 1200, Fact::Settled { tallies: twelve.tallies.clone(), agreed }));
    entries.push(accept(902, &fold(&entries).ledger.doubts[0].proposal));
    assert_eq!((on_hives(&entries, &yard(7)), on_hives(&entries, &yard(12))), (32, 30));
}

#[test]
fn nothing_is_proposed_while_the_truck_is_out_or_its_load_unknown() {
    let trip = Trip { left_with: 70, tallied: vec![(yard(7), vec![31, 30])], came_home: 39 };
    let entries = trip.entries(day(3), &truck(1));
    let why = |entries: &[Entry]| match fold(entries).ledger.doubts[0].proposal.clone() {
        Proposal::CountYards { why, .. } => why,
        other => panic!("{other}"),
    };
    assert_eq!(why(&entries[..3]), Some(Stuck::TruckOut(truck(1))));
    assert_eq!(why(&entries[1..3]), Some(Stuck::NotLoaded(truck(1))));
    // While it is out, what no tally took off it is on the truck.
    assert_eq!(fold(&entries[..3]).ledger.at(&gear("third"), &GearPlace::Truck(truck(1))), 70);
    // More came home, and more stands at the other yards, than left.
    let trip = Trip { left_with: 70, tallied: vec![(yard(7), vec![31, 30]), (yard(12), vec![60])], came_home: 39 };
    let too_many = Stuck::MoreThanThereWas { gear: gear("third"), too_many: 29 };
    assert_eq!(why(&trip.entries(day(3), &truck(1))), Some(too_many));
    // A visit without a truck has no load to check against.
    let on_foot = |number, device| {
        let tally = Tally { truck: None, ..put_on(&yard(7), &truck(1), thirds(number)) };
        entry(number, device, day(3), 600, Fact::VisitClosed(tally))
    };
    assert_eq!(why(&[on_foot(1, "a"), on_foot(2, "b")]), Some(Stuck::NoTruck));
}

#[test]
fn only_the_open_figure_of_a_tally_is_changed_and_two_open_figures_are_not_guessed() {
    let tally = |on, left, off| Tally {
        boxes_left: thirds(left),
        boxes_off: thirds(off),
        ..put_on(&yard(7), &truck(1), thirds(on))
    };
    let day_of = |a: Tally, b: Tally, came_home| {
        vec![
            entry(1, "office", day(3), 300, loaded(&truck(1), thirds(50))),
            entry(2, "a", day(3), 600, Fact::VisitClosed(a)),
            entry(3, "b", day(3), 600, Fact::VisitClosed(b)),
            entry(4, "office", day(3), 900, home(&truck(1), thirds(came_home))),
        ]
    };
    // 50 left, 4 were left loose, 3 taken off, 17 came home: 32 went on.
    let mut entries = day_of(tally(31, 4, 3), tally(30, 4, 3), 17);
    entries.push(accept(5, &fold(&entries).ledger.doubts[0].proposal));
    let tally_now = fold(&entries).yards[&yard(7)].visits[0].tally.clone();
    assert_eq!(tally_now.boxes_on, thirds(32));
    assert_eq!((tally_now.boxes_left, tally_now.boxes_off), (thirds(4), thirds(3)));
    // They agree on what went on and differ on what was left loose: that figure is the open one.
    let mut entries = day_of(tally(31, 4, 3), tally(31, 6, 3), 17);
    entries.push(accept(5, &fold(&entries).ledger.doubts[0].proposal));
    assert_eq!(fold(&entries).yards[&yard(7)].visits[0].tally.boxes_left, thirds(5));
    // They differ on both: the load tells only the sum.
    let entries = day_of(tally(31, 4, 3), tally(30, 6, 3), 17);
    let Proposal::CountYards { why, .. } = &fold(&entries).ledger.doubts[0].proposal else { panic!("guessed") };
    assert_eq!(*why, Some(Stuck::OnlyTheBalance { gear: gear("third"), net: 33 }));
}

#[test]
fn two_trucks_that_met_at_one_yard_keep_each_its_own_count() {
    let mut entries = vec![
        entry(1, "office", day(3), 300, loaded(&truck(1), thirds(40))),
        entry(2, "office", day(3), 300, loaded(&truck(2), thirds(40))),
        entry(3, "a", day(3), 600, Fact::VisitClosed(put_on(&yard(7), &truck(1), thirds(31)))),
        entry(4, "b", day(3), 600, Fact::VisitClosed(put_on(&yard(7), &truck(2), thirds(30)))),
        entry(5, "office", day(3), 900, home(&truck(1), thirds(9))),
    ];
    let mut both = entries.clone();
    both.push(entry(6, "office", day(3), 900, home(&truck(2), thirds(10))));
    both.push(accept(7, &fold(&both).ledger.doubts[0].proposal));
    assert_eq!(on_hives(&both, &yard(7)), 61);
    // The second truck brought all of its thirds home: its crew wrote down what the first crew did.
    entries.push(entry(6, "office", day(3), 900, home(&truck(2), thirds(40))));
    entries.push(accept(7, &fold(&entries).ledger.doubts[0].proposal));
    assert_eq!(on_hives(&entries, &yard(7)), 31);
    assert_eq!(fold(&entries).yards[&yard(7)].visits.len(), 1);
}

#[test]
fn loads_of_one_day_are_told_apart_by_run_and_an_evening_load_belongs_to_the_next_day() {
    let load = |number, on, minute, run: &str, count| {
        let fact = Fact::TruckLoaded {
            truck: truck(1),
            run: Some(run.to_owned()),
            from: GearPlace::Shed,
            gear: thirds(count),
        };
        entry(number, "office", day(on), minute, fact)
    };
    let back = |number, on, minute, run: &str, count| {
        let fact = Fact::TruckHome {
            truck: truck(1),
            run: Some(run.to_owned()),
            to_shed: thirds(count),
            to_hot_room: GearCounts::none(),
        };
        entry(number, "office", day(on), minute, fact)
    };
    let visit = |number, on, at: i32, run: Option<&str>, count| {
        let tally = Tally { run: run.map(str::to_owned), ..put_on(&yard(at), &truck(1), thirds(count)) };
        // Typed at night, after the truck was home and loaded again.
        entry(number, "a", day(on), 1300, Fact::VisitClosed(tally))
    };
    let wrong = |entries: &[Entry]| -> Vec<(i64, bool)> {
        let outfit = fold(entries);
        let of_trips = outfit.ledger.unplaced().filter(|one| matches!(one.why, Why::Trip { .. }));
        of_trips.map(|one| (one.count, matches!(&one.why, Why::Trip { loaded: true, .. }))).collect()
    };
    // Loaded on the evening of the 2nd, out on the 3rd, loaded again that evening, out on the 4th.
    let days = [
        load(1, 2, 1200, "r3", 40),
        visit(2, 3, 7, None, 31),
        back(3, 3, 1000, "r3", 9),
        load(4, 3, 1200, "r4", 40),
        visit(5, 4, 12, None, 30),
        back(6, 4, 1000, "r4", 8),
    ];
    assert_eq!(wrong(&days), [(2, true)]);
    // Two loads on one day: by run each comes out; without, they are reckoned together and still come out.
    let twice = |first: Option<&str>, second: Option<&str>| {
        [
            load(1, 3, 300, "morning", 40),
            visit(2, 3, 7, first, 31),
            back(3, 3, 700, "morning", 9),
            load(4, 3, 720, "noon", 40),
            visit(5, 3, 12, second, 30),
            back(6, 3, 1000, "noon", 10),
        ]
    };
    assert!(wrong(&twice(Some("morning"), Some("noon"))).is_empty());
    assert!(wrong(&twice(None, None)).is_empty());
    assert_eq!(wrong(&twice(Some("noon"), Some("morning"))).len(), 2);
}

#[test]
fn a_truck_that_went_out_empty_brings_home_what_was_pulled() {
    let pull = |count| Tally { boxes_off: thirds(count), ..put_on(&yard(7), &truck(1), GearCounts::none()) };
    let back = Fact::TruckHome { truck: truck(1), run: None, to_shed: GearCounts::none(), to_hot_room: thirds(62) };
    let mut entries = vec![
        entry(1, "office", day(1), 0, Fact::GearCounted { place: GearPlace::OnHives(yard(7)), gear: thirds(80) }),
        entry(2, "a", day(3), 600, Fact::VisitClosed(pull(60))),
        entry(3, "b", day(3), 610, Fact::VisitClosed(pull(61))),
        entry(4, "office", day(3), 900, back),
    ];
    entries.push(accept(5, &fold(&entries).ledger.doubts[0].proposal));
    let ledger = fold(&entries).ledger;
    assert_eq!(ledger.at(&gear("third"), &GearPlace::HotRoom), 62);
    assert_eq!(ledger.at(&gear("third"), &GearPlace::OnHives(yard(7))), 18);
    assert_eq!(ledger.unplaced().count(), 0);
    assert_eq!(ledger.gear[&gear("third")].owned(), 80);
}

#[test]
fn a_first_count_opens_a_place_and_later_counts_show_what_is_missing_until_it_is_found() {
    let counted = |number, on, place: GearPlace, count| {
        entry(number, "a", day(on), 100, Fact::GearCounted { place, gear: thirds(count) })
    };
    let mut entries = vec![
        counted(1, 1, GearPlace::Shed, 540),
        entry(
            2,
            "a",
            day(2),
            0,
            Fact::GearMoved {
                from: GearPlace::Shed,
                to: GearPlace::LentOut("R. Example".to_owned()),
                gear: thirds(40),
            },
        ),
        counted(3, 3, GearPlace::Shed, 488),
    ];
    let ledger = fold(&entries).ledger;
    let missing: Vec<_> = ledger.unplaced().cloned().collect();
    assert_eq!((missing.len(), missing[0].count), (1, 12));
    assert_eq!(missing[0].why, Why::Counted { on: day(3), entry: id(3), book: 500, counted: 488 });
    assert_eq!(missing[0].to_string(), "488 x third counted at the shed on 2026-07-03 where the book says 500");
    assert_eq!(ledger.gear[&gear("third")].owned(), 540);
    assert_eq!(ledger.at(&gear("third"), &GearPlace::Shed), 488);
    // Yard 7 is counted for the first time: these stood there before the book began.
    entries.push(counted(4, 4, GearPlace::LooseInYard(yard(7)), 30));
    assert_eq!(fold(&entries).ledger.gear[&gear("third")].owned(), 570);
    // Counted again, the twelve are there.
    entries.push(counted(5, 5, GearPlace::LooseInYard(yard(7)), 42));
    assert_eq!(fold(&entries).ledger.unplaced().count(), 0);
    // A first count that finds less than the book knows is no opening.
    entries.push(counted(6, 6, GearPlace::LentOut("R. Example".to_owned()), 30));
    assert_eq!(fold(&entries).ledger.unplaced().map(|one| one.count).collect::<Vec<_>>(), [10]);
    // Bought and lost gear comes from and goes outside.
    let bought = Fact::GearBought { to: GearPlace::Shed, gear: thirds(300), cost: None, note: String::new() };
    let lost = Fact::GearLost { from: GearPlace::Shed, gear: thirds(3), note: "mice".to_owned() };
    entries.extend([entry(7, "a", day(7), 0, bought), entry(8, "a", day(7), 1, lost)]);
    assert_eq!(fold(&entries).ledger.gear[&gear("third")].owned(), 867);
}

#[test]
fn a_latecomer_to_a_settled_visit_is_weighed_with_what_was_settled() {
    let trip = Trip { left_with: 70, tallied: vec![(yard(7), vec![31, 30])], came_home: 38 };
    let mut entries = trip.entries(day(3), &truck(1));
    // Settled as 31 by word of mouth; then the third phone comes into signal.
    let settled = |number, agreed| {
        let fact =
            Fact::Settled { tallies: vec![id(2), id(3)], agreed: vec![put_on(&yard(7), &truck(1), thirds(agreed))] };
        entry(number, "office", day(3), 1150, fact)
    };
    entries.push(settled(910, 31));
    let tally = Fact::VisitClosed(put_on(&yard(7), &truck(1), thirds(33)));
    // Even when the latecomer was typed at the office that settled.
    entries.push(entry(911, "office", day(3), 700, tally));
    let outfit = fold(&entries);
    assert_eq!(on_hives(&entries, &yard(7)), 31);
    assert_eq!(outfit.conflicts[0].settled_before, [id(910)]);
    let proposal = &outfit.ledger.doubts[0].proposal;
    assert_eq!(proposal.to_string(), "32 x third must be at yard 7; told: 33 and 31");
    entries.push(accept(912, proposal));
    let outfit = fold(&entries);
    assert_eq!(on_hives(&entries, &yard(7)), 32);
    assert!(outfit.conflicts.is_empty());
    assert_eq!(outfit.settlements[0].tallies, [id(2), id(3), id(911)]);
    assert_eq!(outfit.settlements[0].overruled, [id(910)]);
}

#[test]
fn an_agreed_tally_takes_the_place_in_time_of_the_first_it_replaces() {
    let tally = |number, device, minute, count| {
        let fact = Fact::VisitClosed(put_on(&yard(7), &truck(1), thirds(count)));
        entry(number, device, day(3), minute, fact)
    };
    let counted = Fact::BoxesCounted { yard: yard(7), boxes: thirds(32), fullness: None };
    let agreed = vec![put_on(&yard(7), &truck(1), thirds(32))];
    let entries = [
        tally(1, "a", 600, 31),
        entry(2, "a", day(3), 700, counted),
        // Written off the paper at night, after the count.
        tally(3, "b", 1300, 30),
        entry(4, "office", day(3), 2000, Fact::Settled { tallies: vec![id(1), id(3)], agreed }),
    ];
    assert_eq!(on_hives(&entries, &yard(7)), 32);
}

#[test]
fn what_was_used_from_the_pile_in_the_yard_cannot_be_told_by_the_load() {
    let tally = |number, device, loose| {
        let tally = Tally { loose_used: thirds(loose), ..put_on(&yard(7), &truck(1), thirds(31)) };
        entry(number, device, day(3), 600, Fact::VisitClosed(tally))
    };
    let entries = [
        entry(1, "office", day(3), 300, loaded(&truck(1), thirds(40))),
        tally(2, "a", 1),
        tally(3, "b", 2),
        entry(4, "office", day(3), 900, home(&truck(1), thirds(9))),
    ];
    let Proposal::CountYards { why, .. } = &fold(&entries).ledger.doubts[0].proposal else { panic!("guessed") };
    assert_eq!(*why, Some(Stuck::OnlyTheBalance { gear: gear("third"), net: 31 }));
}

fn trip_differences(entries: &[Entry]) -> Vec<i64> {
    let outfit = fold(entries);
    outfit.ledger.unplaced().filter(|one| matches!(one.why, Why::Trip { .. })).map(|one| one.count).collect()
}

#[test]
fn a_homecoming_told_in_two_parts_and_gear_brought_on_the_way_belong_to_the_trip() {
    let part = |number, minute, fact| entry(number, "office", day(3), minute, fact);
    let full = Fact::TruckHome {
        truck: truck(1),
        run: None,
        to_shed: GearCounts::none(),
        to_hot_room: GearCounts::one(gear("deep"), 12),
    };
    let pulled = Tally { boxes_off: GearCounts::one(gear("deep"), 12), ..put_on(&yard(7), &truck(1), thirds(40)) };
    let brought = |from: GearPlace, to: GearPlace| Fact::GearMoved { from, to, gear: thirds(6) };
    let entries = [
        part(1, 300, loaded(&truck(1), thirds(40))),
        part(2, 500, brought(GearPlace::Shed, GearPlace::Truck(truck(1)))),
        part(3, 600, Fact::VisitClosed(pulled)),
        part(4, 900, home(&truck(1), thirds(6))),
        part(5, 901, full),
    ];
    assert!(trip_differences(&entries).is_empty());
    assert_eq!(fold(&entries).ledger.at(&gear("deep"), &GearPlace::HotRoom), 12);
    // Without the second part the deeps are missing; without the gear brought, six thirds too many are told of.
    assert_eq!(trip_differences(&entries[..4]), [12]);
    let without: Vec<Entry> = entries.iter().filter(|entry| entry.id != id(2)).cloned().collect();
    assert_eq!(trip_differences(&without), [-6]);
    let away = part(2, 500, brought(GearPlace::Truck(truck(1)), GearPlace::LentOut("R. Example".to_owned())));
    let lent: Vec<Entry> = without.iter().cloned().chain([away]).collect();
    assert_eq!(trip_differences(&lent), [-12]);
}

#[test]
fn a_truck_loaded_again_ends_the_trip_it_never_came_home_from() {
    let entries = [
        entry(1, "office", day(3), 300, loaded(&truck(1), thirds(40))),
        entry(2, "a", day(3), 600, Fact::VisitClosed(put_on(&yard(7), &truck(1), thirds(31)))),
        entry(3, "b", day(3), 600, Fact::VisitClosed(put_on(&yard(7), &truck(1), thirds(30)))),
    ];
    assert!(trip_differences(&entries).is_empty());
    let named = |number, on, run: &str| {
        let run = Some(run.to_owned());
        let fact = Fact::TruckLoaded { truck: truck(1), run, from: GearPlace::Shed, gear: thirds(40) };
        entry(number, "office", day(on), 300, fact)
    };
    let twice = [named(1, 3, "r3"), entries[1].clone(), named(4, 4, "r4")];
    assert_eq!(trip_differences(&twice), [9]);
    assert_eq!(fold(&twice).ledger.at(&gear("third"), &GearPlace::Truck(truck(1))), 40);
    // With its visit in doubt nothing can be proposed: what came home was never told.
    let doubtful = [named(1, 3, "r3"), entries[1].clone(), entries[2].clone(), named(4, 4, "r4")];
    let Proposal::CountYards { why, .. } = &fold(&doubtful).ledger.doubts[0].proposal else { panic!("guessed") };
    assert_eq!(*why, Some(Stuck::TruckOut(truck(1))));
}

#[test]
fn a_count_of_a_truck_is_taken_up_by_its_trip_when_it_comes_home() {
    let on_truck = Fact::GearCounted { place: GearPlace::Truck(truck(1)), gear: thirds(5) };
    let mut entries = vec![
        entry(1, "office", day(3), 300, loaded(&truck(1), thirds(101))),
        entry(2, "a", day(3), 600, Fact::VisitClosed(put_on(&yard(12), &truck(1), thirds(64)))),
        entry(3, "a", day(3), 800, on_truck),
    ];
    // Out: the count is believed, and what the book had more is listed.
    let outfit = fold(&entries);
    assert_eq!(outfit.ledger.at(&gear("third"), &GearPlace::Truck(truck(1))), 5);
    let listed: Vec<i64> =
        outfit.ledger.unplaced().filter(|one| one.why != Why::BelowNothing).map(|one| one.count).collect();
    assert_eq!(listed, [32]);
    // Home: the trip says it once, and the truck is empty.
    entries.push(entry(4, "office", day(3), 1100, home(&truck(1), thirds(5))));
    assert_eq!(trip_differences(&entries), [32]);
    let outfit = fold(&entries);
    assert_eq!(outfit.ledger.unplaced().filter(|one| one.why != Why::BelowNothing).count(), 1);
    assert_eq!(outfit.ledger.at(&gear("third"), &GearPlace::Truck(truck(1))), 0);
}

/// What one yard of a random trip truly got, and what its phones say.
fn visit_in_doubt() -> impl Strategy<Value = (u32, Vec<u32>)> {
    (0..60_u32, prop::collection::vec(0..60_u32, 2..4))
}

proptest! {
    #![proptest_config(cases(400))]

    /// S19 with any numbers: whatever the phones say, what is proposed is what truly went on, and it balances.
    #[test]
    fn the_proposal_always_balances(
        (truth, phones) in visit_in_doubt(),
        others in prop::collection::vec(0..60_u32, 0..5),
        came_home in 0..40_u32,
        place in 1..90_u32,
    ) {
        let mut tallied = vec![(yard(place), phones)];
        tallied.extend((0_u32..).zip(&others).map(|(at, count)| (yard(100 + at), vec![*count])));
        let left_with = truth + others.iter().sum::<u32>() + came_home;
        let mut entries = Trip { left_with, tallied, came_home }.entries(day(3), &truck(1));
        let stock = Fact::GearCounted { place: GearPlace::Shed, gear: thirds(1000) };
        entries.push(entry(950, "office", day(1), 0, stock));
        let before = fold(&entries);
        prop_assert_eq!(on_hives(&entries, &yard(place)), 0);
        entries.push(accept(960, &before.ledger.doubts[0].proposal));
        let after = fold(&entries);
        prop_assert_eq!(on_hives(&entries, &yard(place)), i64::from(truth));
        prop_assert_eq!(after.ledger.unplaced().count(), 0);
        prop_assert!(after.conflicts.is_empty());
        prop_assert_eq!(after.ledger.gear[&gear("third")].owned(), 1000);
    }

    /// With two yards in doubt nothing is proposed, both are named, and their sum is right.
    #[test]
    fn two_in_doubt_are_never_guessed(
        (truth, phones) in visit_in_doubt(),
        (other_truth, other_phones) in visit_in_doubt(),
        came_home in 0..40_u32,
    ) {
        let tallied = vec![(yard(7), phones), (yard(12), other_phones)];
        let entries = Trip { left_with: truth + other_truth + came_home, tallied, came_home }.entries(day(3), &truck(1));
        for doubt in fold(&entries).ledger.doubts {
            let Proposal::CountYards { yards, why } = doubt.proposal else { panic!("guessed") };
            prop_assert_eq!(yards, BTreeSet::from([yard(7), yard(12)]));
            let together = i64::from(truth + other_truth);
            prop_assert_eq!(why, Some(Stuck::InDoubtTogether { gear: gear("third"), together }));
        }
    }

    /// Whatever devices do, every account is the sum of its movements, all accounts come to nought, what is listed as
    /// unplaced is what stands in that account, and no tally in doubt moved anything.
    #[test]
    fn every_account_balances(acts in prop::collection::vec(act(), 0..64)) {
        let entries = entries_of(&acts);
        let outfit = fold(&entries);
        let doubtful: BTreeSet<_> = outfit.conflicts.iter().flat_map(|one| one.tallies.clone()).collect();
        for movement in &outfit.ledger.movements {
            prop_assert!(movement.entry.is_none_or(|entry| !doubtful.contains(&entry)));
        }
        for (code, balance) in &outfit.ledger.gear {
            let of_account = |account: &Account| -> i64 {
                outfit.ledger.movements.iter().filter(|movement| movement.gear == *code).map(|movement| {
                    let count = i64::try_from(movement.count).unwrap();
                    if movement.to == *account { count } else if movement.from == *account { -count } else { 0 }
                }).sum()
            };
            for (place, count) in &balance.placed {
                prop_assert_eq!(of_account(&Account::At(place.clone())), *count);
            }
            let listed: i64 =
                balance.unplaced.iter().filter(|one| one.why != Why::BelowNothing).map(|one| one.count).sum();
            prop_assert_eq!(of_account(&Account::Unplaced), listed);
            prop_assert_eq!(balance.placed.values().sum::<i64>() + listed, 0);
        }
    }

    /// Whatever devices do, accepting a proposal ends its conflict, and nothing of its gear stays unplaced on its trips.
    #[test]
    fn an_accepted_proposal_ends_its_conflict(acts in prop::collection::vec(act(), 0..64)) {
        let mut entries = entries_of(&acts);
        let before = fold(&entries);
        for doubt in &before.ledger.doubts {
            let Proposal::Settle { readings, .. } = &doubt.proposal else { continue };
            let mut acceptance = accept(5000, &doubt.proposal);
            acceptance.recorded_at = "2026-08-01T00:00:00Z".parse().unwrap();
            entries.push(acceptance);
            let after = fold(&entries);
            entries.pop();
            prop_assert!(after.conflicts.iter().all(|one| one.tallies.iter().all(|id| !doubt.conflict.tallies.contains(id))));
            for reading in readings {
                let still = |one: &&outyard_book::Unplaced| {
                    one.gear == reading.gear
                        && matches!(&one.why, Why::Trip { in_doubt, .. } if in_doubt.contains(&reading.yard))
                };
                prop_assert!(after.ledger.unplaced().filter(still).count() <= before.ledger.unplaced().filter(still).count());
            }
        }
    }
}
