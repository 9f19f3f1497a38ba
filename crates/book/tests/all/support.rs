//! Short ways to write entries, and devices that act at random.

use jiff::civil::{Date, date};
use jiff::{SignedDuration, Timestamp};
use outyard_base::days::plus_days;
use outyard_base::{Cents, Chance, GearCode, Kilograms, Litres, Metres, Minutes, Place, Share, TruckId, YardId};
use outyard_book::fact::Where;
use outyard_book::{
    BoxesFrom, ContentHash, Drum, Entry, EntryId, Extraction, Fact, Forage, GearCounts, GearPlace, JobDone, MiteSample,
    OddCounts, Photo, PlanTold, QueensGiven, Sale, SeriesKept, SprayCall, StaysHome, Tally, ToldRun, Treatment,
    WantedVisit, YardKept, YardTerms,
};
use outyard_trade::{Kind, KindCounts};
use proptest::prelude::*;
use proptest::test_runner::RngSeed;

pub(crate) fn yard(name: impl ToString) -> YardId {
    name.to_string().parse().unwrap()
}

pub(crate) fn gear(name: &str) -> GearCode {
    name.parse().unwrap()
}

pub(crate) fn truck(name: impl ToString) -> TruckId {
    name.to_string().parse().unwrap()
}

pub(crate) fn thirds(count: u32) -> GearCounts {
    GearCounts::one(gear("third"), count)
}

pub(crate) fn day(of_july: i8) -> Date {
    date(2026, 7, of_july)
}

/// The `number`-th name of these tests.
pub(crate) fn id(number: u32) -> EntryId {
    let mut chance = [0; 10];
    chance[6..].copy_from_slice(&number.to_be_bytes());
    EntryId::new("2026-07-01T00:00:00Z".parse().unwrap(), chance)
}

/// An entry written on the day itself, `minute` minutes after midnight UTC.
pub(crate) fn entry(number: u32, device: &str, on: Date, minute: i64, fact: Fact) -> Entry {
    let midnight: Timestamp = format!("{on}T00:00:00Z").parse().unwrap();
    let at = midnight + SignedDuration::from_mins(minute);
    Entry::new(id(number), device.parse().unwrap(), device, on, at, fact)
}

pub(crate) fn loaded(vehicle: &TruckId, gear: GearCounts) -> Fact {
    Fact::TruckLoaded { truck: vehicle.clone(), run: None, from: GearPlace::Shed, gear }
}

pub(crate) fn home(vehicle: &TruckId, gear: GearCounts) -> Fact {
    Fact::TruckHome { truck: vehicle.clone(), run: None, to_shed: gear, to_hot_room: GearCounts::none() }
}

/// A put-down tally: so many boxes put on, off a truck.
pub(crate) fn put_on(at: &YardId, vehicle: &TruckId, boxes_on: GearCounts) -> Tally {
    let doubles = u32::try_from(boxes_on.total()).unwrap();
    Tally {
        jobs: vec![JobDone {
            job: "single-down-blow".parse().unwrap(),
            done: KindCounts::of(&[(Kind::Double, doubles)]),
            undone: KindCounts::NONE,
        }],
        boxes_on,
        truck: Some(vehicle.clone()),
        ..Tally::new(at.clone())
    }
}

/// Every fact the book knows, each with all its fields filled.
pub(crate) fn every_fact() -> Vec<Fact> {
    let seven = yard(7);
    let full_tally = Tally {
        visit: Some("2026-07-03/north/1".to_owned()),
        run: Some("2026-07-03/north".to_owned()),
        yard: seven.clone(),
        jobs: vec![JobDone {
            job: "single-down-blow".parse().unwrap(),
            done: KindCounts::of(&[(Kind::Double, 26), (Kind::Split, 6)]),
            undone: KindCounts::of(&[(Kind::Weak, 1)]),
        }],
        odd: OddCounts { dead: 1, queenless: 2, swarmed: 3, weak: 4 },
        boxes_on: thirds(31),
        boxes_off: GearCounts::one(gear("deep"), 2),
        boxes_left: thirds(3),
        loose_used: thirds(1),
        gear_put: GearCounts::one(gear("excluder"), 32),
        gear_taken: GearCounts::one(gear("rim"), 2),
        fullness: Some(Share::of(0.25)),
        minutes: Some(Minutes(159)),
        hands: Some(2),
        signs: vec!["eggs-above".to_owned()],
        truck: Some(truck("flatbed")),
        note: "gate was open; \"wet\" \u{1f41d}\n".to_owned(),
    };
    vec![
        Fact::YardKept(YardKept {
            yard: seven.clone(),
            name: "Slough corner".to_owned(),
            place: Some(Place::new(51.25, -104.5).unwrap()),
            elevation: Some(Metres::of(577.5)),
            group: "North".to_owned(),
            gate: "key 4".to_owned(),
            wet_road: true,
            landowner: "J. Example; 5 kg a year".to_owned(),
            forage: vec![Forage { plant: "canola".to_owned(), weight: 1.5, seeded_on: Some(date(2026, 5, 15)) }],
        }),
        Fact::YardGivenUp { yard: seven.clone() },
        Fact::ColoniesCounted {
            yard: seven.clone(),
            counts: KindCounts::of(&[(Kind::Double, 26), (Kind::Queenless, 1)]),
        },
        Fact::BoxesCounted { yard: seven.clone(), boxes: thirds(0), fullness: Some(Share::of(1.0)) },
        Fact::VisitClosed(full_tally.clone()),
        Fact::GearCounted { place: GearPlace::LentOut("A: neighbour".to_owned()), gear: thirds(12) },
        Fact::GearMoved { from: GearPlace::Wet, to: GearPlace::LooseInYard(seven.clone()), gear: thirds(80) },
        Fact::GearBought {
            to: GearPlace::Shed,
            gear: thirds(300),
            cost: Some(Cents(1_350_000)),
            note: "new".to_owned(),
        },
        Fact::GearLost { from: GearPlace::OnHives(seven.clone()), gear: thirds(2), note: "bear".to_owned() },
        Fact::TruckLoaded {
            truck: truck("flatbed"),
            run: Some("2026-07-03/north".to_owned()),
            from: GearPlace::HotRoom,
            gear: thirds(101),
        },
        Fact::TruckHome {
            truck: truck("flatbed"),
            run: Some("2026-07-03/north".to_owned()),
            to_shed: thirds(5),
            to_hot_room: GearCounts::one(gear("deep"), 62),
        },
        Fact::BloomSeen { at: Where::Group("North".to_owned()), plant: "canola".to_owned(), stage: "first".to_owned() },
        Fact::FlowSeen { at: Where::Yard(seven.clone()), on: true, sign: "white wax".to_owned() },
        Fact::TreatmentIn(Treatment {
            yard: seven.clone(),
            product: "strips, white box".to_owned(),
            ingredient: "thymol".to_owned(),
            lot: "L-17".to_owned(),
            colonies: 32,
            dose: "as the label says".to_owned(),
            days_in_least: Some(42),
            days_in_most: Some(56),
            days_before_supers: Some(14),
            supers_on_allowed: true,
            label: "leave in 42 to 56 days".to_owned(),
        }),
        Fact::TreatmentOut { yard: seven.clone(), product: "strips, white box".to_owned(), colonies: Some(31) },
        Fact::MiteSample(MiteSample {
            yard: seven.clone(),
            colony: "third from gate".to_owned(),
            method: "wash".to_owned(),
            bees: 300,
            mites: 9,
            board_days: Some(3),
        }),
        Fact::Fed {
            yard: seven.clone(),
            colonies: 32,
            feed: "syrup".to_owned(),
            syrup: Some(Litres::of(288.0)),
            sugar: Some(Kilograms::of(1.25)),
        },
        Fact::SeriesKept(SeriesKept {
            source: "scale-north".to_owned(),
            what: "scale".to_owned(),
            place: Some(Place::new(51.25, -104.5).unwrap()),
            elevation: Some(Metres::of(577.5)),
            yard: Some(seven.clone()),
            columns: vec![("time".to_owned(), "stamp".to_owned()), ("kg".to_owned(), "weight".to_owned())],
            content: ContentHash::of(b"stamp,weight\n"),
            rows: 720,
            from: day(1),
            to: day(31),
        }),
        Fact::HoneyExtracted(Extraction {
            lot: "L29".to_owned(),
            boxes: vec![
                BoxesFrom { yard: yard(7), boxes: 34, pulled_on: Some(day(27)) },
                BoxesFrom { yard: yard(12), boxes: 28, pulled_on: None },
            ],
            honey: Some(Kilograms::of(1488.5)),
            moisture: Some(Share::of(0.172)),
            note: "first of the year".to_owned(),
        }),
        Fact::HoneyDrummed(Drum {
            drum: "412".to_owned(),
            from: vec![("L29".to_owned(), Kilograms::of(250.0)), ("L30".to_owned(), Kilograms::of(45.5))],
            moisture: Some(Share::of(0.174)),
            colour: "white".to_owned(),
            note: "topped up".to_owned(),
        }),
        Fact::HoneySold(Sale {
            drums: vec!["412".to_owned(), "413".to_owned()],
            to: "Example Packing".to_owned(),
            price: Some(Cents(295_000)),
            note: "on the scale ticket".to_owned(),
        }),
        Fact::SprayTold(SprayCall {
            yards: vec![yard(14), yard(22)],
            caller: "the neighbour east".to_owned(),
            substance: "lambda-cyhalothrin".to_owned(),
            field: "canola, quarter east of 14".to_owned(),
            begins: "20:00".to_owned(),
            note: "asked for after dark".to_owned(),
        }),
        Fact::PhotoKept(Photo {
            yard: Some(seven.clone()),
            content: ContentHash::of(b"picture"),
            caption: "the gate".to_owned(),
        }),
        Fact::YardTerms(YardTerms {
            yard: seven.clone(),
            terms: "5 kg a year at Christmas".to_owned(),
            neighbours: vec!["A. Example, white house".to_owned()],
            water: "slough, dry in August".to_owned(),
            fence: "two wires, solar".to_owned(),
        }),
        Fact::ColoniesMoved { from: seven.clone(), to: yard(30), counts: KindCounts::of(&[(Kind::Split, 6)]) },
        Fact::SplitsMade { from: yard(12), to: yard(30), splits: 6, queens: "mated, bought".to_owned() },
        Fact::ColoniesLost {
            yard: seven.clone(),
            counts: KindCounts::of(&[(Kind::Double, 2)]),
            cause: "bear".to_owned(),
        },
        Fact::QueensGiven(QueensGiven {
            yard: seven.clone(),
            colonies: 4,
            queens: "ripe cells".to_owned(),
            laying: Some(3),
        }),
        Fact::Correction { of: id(4), instead: Some(Box::new(Fact::VisitClosed(full_tally.clone()))) },
        Fact::Settled { tallies: vec![id(4), id(5)], agreed: vec![full_tally] },
        Fact::Note { yard: Some(seven), text: "spray next door".to_owned() },
        Fact::PlanTold(PlanTold {
            runs: vec![ToldRun {
                on: date(2026, 7, 3),
                crew: "A".parse().unwrap(),
                truck: truck("flatbed"),
                visits: vec!["7 single-down-blow 2026-07-03".to_owned(), "9 add-boxes 2026-07-03".to_owned()],
            }],
            nobody_out: vec![date(2026, 7, 4)],
            stays_home: vec![StaysHome { crew: "B".parse().unwrap(), on: date(2026, 7, 3) }],
            wanted: vec![WantedVisit {
                visit: "9 add-boxes 2026-07-03".to_owned(),
                on: date(2026, 7, 3),
                crew: Some("A".parse().unwrap()),
            }],
        }),
    ]
}

/// One act of a device that acts at random.
#[derive(Clone, Debug)]
pub(crate) struct Act {
    device: u8,
    yard: u8,
    day: i8,
    /// How wrong the device's clock is.
    clock_minutes: i64,
    what: u8,
    count: u32,
    other: u32,
    /// What a correction or a settlement names: earlier entries, later ones, itself, or none that exists.
    target: u32,
    /// True when it takes a name that is taken.
    same_name: bool,
}

pub(crate) fn act() -> impl Strategy<Value = Act> {
    (
        (0..4_u8, 0..4_u8, 0..6_i8, prop_oneof![3 => Just(0_i64), 1 => -3000..3000_i64]),
        (0..36_u8, 0..40_u32, 0..40_u32, 0..64_u32, prop::bool::weighted(0.02)),
    )
        .prop_map(|((device, yard, day, clock_minutes), (what, count, other, target, same_name))| Act {
            device,
            yard,
            day,
            clock_minutes,
            what,
            count,
            other,
            target,
            same_name,
        })
}

/// The entries that acts leave behind.
pub(crate) fn entries_of(acts: &[Act]) -> Vec<Entry> {
    acts.iter().enumerate().map(|(number, act)| entry_of(u32::try_from(number).unwrap(), act)).collect()
}

fn entry_of(number: u32, act: &Act) -> Entry {
    let on = plus_days(day(1), i64::from(act.day));
    let name = if act.same_name { act.target } else { number };
    let minute = act.clock_minutes + 60 + i64::from(number % 7) * 100;
    entry(name, &format!("phone-{}", act.device), on, minute, fact_of(act))
}

fn fact_of(act: &Act) -> Fact {
    let place = yard(act.yard);
    let vehicle = truck(act.device % 2);
    let run = (act.other.is_multiple_of(3)).then(|| format!("run-{}", act.other % 6));
    let tally = Tally {
        visit: (act.other.is_multiple_of(4)).then(|| format!("visit-{}", act.yard)),
        run: run.clone(),
        boxes_off: GearCounts::one(gear("deep"), act.other % 3),
        loose_used: thirds(act.other % 2),
        gear_put: GearCounts::one(gear("excluder"), act.count),
        fullness: Some(Share::of(f64::from(act.count) / 40.0)),
        odd: OddCounts { dead: act.other % 2, ..OddCounts::default() },
        truck: (!act.other.is_multiple_of(5)).then(|| vehicle.clone()),
        ..put_on(&place, &vehicle, thirds(act.count))
    };
    match act.what {
        0..=6 => Fact::VisitClosed(tally),
        7 | 8 => Fact::TruckLoaded { truck: vehicle, run, from: GearPlace::Shed, gear: thirds(act.count) },
        9 | 10 => Fact::TruckHome { truck: vehicle, run, to_shed: thirds(act.other), to_hot_room: GearCounts::none() },
        11..=14 => {
            let instead = match act.other % 6 {
                0 => None,
                1 => Some(Fact::Correction { of: id(act.target / 2), instead: None }),
                2 => Some(Fact::GearCounted { place: GearPlace::Shed, gear: thirds(act.count) }),
                3 => Some(Fact::Unknown { name: "tomorrow".to_owned(), raw: "{\"a\":1}".to_owned() }),
                _ => Some(Fact::VisitClosed(tally)),
            };
            Fact::Correction { of: id(act.target), instead: instead.map(Box::new) }
        }
        15 | 16 => {
            let agreed = if act.other.is_multiple_of(3) { vec![tally.clone(), tally] } else { vec![tally] };
            Fact::Settled { tallies: vec![id(act.target), id(act.other)], agreed }
        }
        17 => Fact::GearCounted { place: GearPlace::OnHives(place), gear: thirds(act.count) },
        18 => Fact::GearCounted { place: GearPlace::Truck(vehicle), gear: thirds(act.count) },
        19 => Fact::GearMoved { from: GearPlace::Shed, to: GearPlace::Truck(vehicle), gear: thirds(act.count) },
        20 => Fact::ColoniesCounted { yard: place, counts: KindCounts::of(&[(Kind::Double, act.count)]) },
        what => every_fact()[usize::from(what) % 31].clone(),
    }
}

/// The same entries in another order, some of them several times.
pub(crate) fn by_detours(entries: &[Entry], seed: u64) -> Vec<Entry> {
    let mut chance = Chance::new(seed, "detours");
    let mut all = entries.to_vec();
    for entry in entries {
        if chance.happens(0.3) {
            all.push(entry.clone());
        }
    }
    chance.shuffle(&mut all);
    all
}

/// Properties are looked at with the same cases on every machine.
pub(crate) fn cases(count: u32) -> ProptestConfig {
    ProptestConfig {
        cases: count,
        rng_seed: RngSeed::Fixed(20_260_703),
        failure_persistence: None,
        ..ProptestConfig::default()
    }
}
