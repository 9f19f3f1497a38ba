//! Home and the forty yards: where they stand, what grows there, who owns the land, how many colonies they hold.

use core::f64::consts::TAU;

use jiff::civil::{Date, date};
use outyard_base::{Chance, Metres, Place, Share, YardId, days::plus_days};

use super::{DOUBLES, DemoForage, DemoHome, DemoLandowner, DemoYard, SPLITS, YARDS, names};

/// Time zone of the invented valley.
pub(super) const TIME_ZONE: &str = "America/Chicago";
/// Kilometres in a degree of latitude, near enough for inventing places.
const KM_PER_DEGREE: f64 = 111.2;
/// Yards stand at least so far apart, km: common practice, no source.
const SPACING_KM: f64 = 3.0;
/// Nearest and farthest yard from home, km along the crow's line: assumed.
const REACH_KM: (f64, f64) = (10.0, 58.0);

/// What sets one yard group apart. Heights are above home, in metres; weights are parts of a good stand. All assumed.
struct Group {
    name: &'static str,
    height_m: (f64, f64),
    forage: &'static [(&'static str, f64)],
}

const GROUPS: [Group; 4] = [
    Group {
        name: "River",
        height_m: (-40.0, -10.0),
        forage: &[("dandelion", 0.7), ("white-clover", 0.3), ("basswood", 0.9), ("goldenrod", 0.4)],
    },
    Group {
        name: "Bench",
        height_m: (10.0, 50.0),
        forage: &[
            ("dandelion", 0.5),
            ("white-clover", 0.3),
            ("yellow-sweet-clover", 0.6),
            ("alfalfa", 0.7),
            ("goldenrod", 0.3),
        ],
    },
    Group {
        name: "Prairie",
        height_m: (0.0, 35.0),
        forage: &[("dandelion", 0.5), ("canola", 0.8), ("alfalfa", 0.3), ("white-clover", 0.1)],
    },
    Group {
        name: "Hills",
        height_m: (110.0, 180.0),
        forage: &[("dandelion", 0.6), ("white-clover", 0.4), ("basswood", 0.7), ("goldenrod", 0.6)],
    },
];

/// Invents the home base, near 45° N.
pub(super) fn home(seed: u64, valley: &str) -> DemoHome {
    let mut chance = Chance::new(seed, "demo home");
    DemoHome {
        name: format!("{} shed", valley.split(' ').next().unwrap_or(valley)),
        place: place(chance.between(44.9, 45.5), chance.between(-98.4, -96.6)),
        elevation: Metres::of(chance.between(390.0, 430.0).round()),
    }
}

/// A point rounded to about ten metres, as a phone would note it.
fn place(latitude: f64, longitude: f64) -> Place {
    let rounded = |degrees: f64| (degrees * 10_000.0).round() / 10_000.0;
    Place::new(rounded(latitude), rounded(longitude)).expect("invented places lie near 45 degrees north")
}

/// A point so far from another in a direction (0 east, a quarter turn north).
fn point_from(from: Place, direction: f64, km: f64) -> Place {
    let north = km * direction.sin() / KM_PER_DEGREE;
    let east = km * direction.cos() / (KM_PER_DEGREE * from.latitude().to_radians().cos());
    place(from.latitude() + north, from.longitude() + east)
}

/// Invents the yards: four groups of ten, each in its own quarter around home.
pub(super) fn yards(seed: u64, today: Date, home: &DemoHome) -> Vec<DemoYard> {
    let mut chance = Chance::new(seed, "demo yards");
    let turn = chance.between(0.0, TAU);
    let places = spread_out(&mut chance, home, turn);
    let doubles = portions(&mut chance, DOUBLES, 14, 30);
    let splits = portions(&mut chance, SPLITS, 0, 14);
    let mut yards: Vec<DemoYard> = Vec::with_capacity(YARDS);
    for number in 0..YARDS {
        let group = &GROUPS[group_of(number)];
        let (owner, family) = names::landowner(&mut chance);
        let name = unused_name(&mut chance, family, &yards);
        yards.push(DemoYard {
            id: YardId::new(&(number + 1).to_string()).expect("a number is a good name"),
            name,
            place: places[number],
            elevation: home.elevation + Metres::of(chance.between(group.height_m.0, group.height_m.1).round()),
            group: group.name.to_owned(),
            forage: forage(&mut chance, group, today),
            doubles: doubles[number],
            splits: splits[number],
            gate: names::gate(&mut chance),
            wet_road: chance.happens(0.3),
            landowner: DemoLandowner {
                name: owner,
                telephone: format!("555-01{:02}", chance.below(100)),
                rent: names::rent(&mut chance),
            },
        });
    }
    yards
}

/// Yard 1 to 10 belong to the first group, and so on.
fn group_of(number: usize) -> usize {
    number * GROUPS.len() / YARDS
}

/// Best of many tries, so that no two yards share their forage (Mitchell 1991, best candidate).
fn spread_out(chance: &mut Chance, home: &DemoHome, turn: f64) -> Vec<Place> {
    let quarter = TAU / 4.0;
    let mut places: Vec<Place> = Vec::with_capacity(YARDS);
    for number in 0..YARDS {
        let start = turn + quarter * [0.0, 1.0, 2.0, 3.0][group_of(number)];
        let nearest = |candidate: Place, places: &[Place]| {
            places.iter().map(|other| candidate.distance_to(*other).get()).fold(f64::INFINITY, f64::min)
        };
        let mut best: Option<(f64, Place)> = None;
        for _ in 0..12 {
            let candidate =
                point_from(home.place, start + chance.between(0.0, quarter), chance.between(REACH_KM.0, REACH_KM.1));
            let room = nearest(candidate, &places);
            if best.is_none_or(|(most, _)| room > most) {
                best = Some((room, candidate));
            }
            // Far enough already: taking the very best each time would lay the yards out like a grid.
            if room > SPACING_KM * 1500.0 {
                break;
            }
        }
        places.push(best.expect("twelve candidates were looked at").1);
    }
    places
}

/// Splits a total over the yards, each between `least` and `most`: even at first, then one colony moved at a time.
fn portions(chance: &mut Chance, total: u32, least: u32, most: u32) -> Vec<u32> {
    let yards = u32::try_from(YARDS).expect("forty");
    let mut portions: Vec<u32> = (0..yards).map(|yard| total / yards + u32::from(yard < total % yards)).collect();
    for _ in 0..800 {
        let from = chance.index(YARDS);
        let to = chance.index(YARDS);
        if from != to && portions[from] > least && portions[to] < most {
            portions[from] -= 1;
            portions[to] += 1;
        }
    }
    portions
}

fn unused_name(chance: &mut Chance, family: &str, yards: &[DemoYard]) -> String {
    loop {
        let name = names::yard(chance, family);
        if yards.iter().all(|yard| yard.name != name) {
            return name;
        }
    }
}

fn forage(chance: &mut Chance, group: &Group, today: Date) -> Vec<DemoForage> {
    group
        .forage
        .iter()
        .map(|&(plant, weight)| DemoForage {
            plant,
            weight: Share::of(((weight * chance.between(0.8, 1.1)).min(1.0) * 100.0).round() / 100.0),
            seeded: (plant == "canola").then(|| seeding(chance, today)),
        })
        .collect()
}

/// Canola is seeded from 5 to 15 May: assumed.
fn seeding(chance: &mut Chance, today: Date) -> Date {
    plus_days(date(today.year(), 5, 5), i64::try_from(chance.below(11)).expect("below eleven"))
}
