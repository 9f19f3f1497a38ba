//! Two pairs, two trucks, and the gear of the reference outfit.
//!
//! Counts and rates are those of a reference outfit of 900 doubles and 300 splits (`common practice, no source`); the
//! user overwrites them with his own.

use outyard_base::{Cents, Chance, ClockTime, CrewId, GearCode, Kilograms, TruckId};

use super::{DemoCrew, DemoGear, DemoTruck, names};

/// Empty drawn deeps a 16-ft deck takes: common practice, no source.
const DECK_EMPTY_DEEPS: u32 = 120;
/// Payload of the same truck: common practice, no source.
const PAYLOAD: Kilograms = Kilograms::of(2300.0);

/// Gear owned, and how much of it stands on hives before the flow (900 doubles, 300 splits in one box). Codes are the
/// job book's where it has one. Brood boxes 2 x 900 + 300; 3,300 deeps for thirds
/// and supers; excluders with 5 % spare: common practice, no source.
const GEAR: [(&str, u32, u32); 7] = [
    ("brood-box", 2_160, 2_100),
    ("deep", 3_300, 0),
    ("excluder", 1_260, 0),
    ("lid", 1_240, 1_200),
    ("floor", 1_230, 1_200),
    ("rim", 6, 0),
    ("blower", 3, 0),
];

fn truck_id(text: &str) -> TruckId {
    TruckId::new(text).expect("a short word is a good name")
}

/// Two pairs and their trucks.
pub(super) fn crews(seed: u64) -> (Vec<DemoCrew>, Vec<DemoTruck>) {
    let people = names::people(&mut Chance::new(seed, "demo people"), 4);
    let crew = |id: &str, pair: &[String], truck: &str| DemoCrew {
        id: CrewId::new(id).expect("a letter is a good name"),
        people: pair.to_vec(),
        leaves: ClockTime::at(7, 0),
        home_by: ClockTime::at(19, 0),
        wage_per_hour: Cents(2_400),
        truck: truck_id(truck),
    };
    let truck = |id: &str, description: &str| DemoTruck {
        id: truck_id(id),
        description: description.to_owned(),
        deck_empty_deeps: DECK_EMPTY_DEEPS,
        payload: PAYLOAD,
        cost_per_km: Cents(100),
    };
    (
        vec![crew("A", &people[..2], "red"), crew("B", &people[2..], "white")],
        vec![truck("red", "16-ft flat deck, tail lift"), truck("white", "16-ft flat deck")],
    )
}

/// The gear book of the outfit.
pub(super) fn gear() -> Vec<DemoGear> {
    GEAR.iter()
        .map(|&(code, owned, on_hives)| DemoGear {
            gear: GearCode::new(code).expect("a short word is a good name"),
            owned,
            on_hives_in_spring: on_hives,
        })
        .collect()
}
