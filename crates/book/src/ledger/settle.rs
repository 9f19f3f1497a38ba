//! What would settle a visit with several tallies.

use core::fmt;
use std::collections::{BTreeMap, BTreeSet};

use jiff::civil::Date;
use outyard_base::{GearCode, TruckId, YardId};

use super::trips::{Trips, net_put};
use crate::entry::EntryId;
use crate::fact::{Fact, Tally};
use crate::gear::{GearCounts, GearPlace};
use crate::law::{Conflict, Stands, What};

/// A visit with several tallies, and what would settle it.
#[derive(Clone, Debug, PartialEq)]
pub struct Doubt {
    /// The conflict.
    pub conflict: Conflict,
    /// The settlement proposed, or what is missing for one.
    pub proposal: Proposal,
}

/// What one settled figure would be.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Reading {
    /// The yard.
    pub yard: YardId,
    /// Kind of gear.
    pub gear: GearCode,
    /// Net pieces off the truck into the yard; below nought when more was taken than put.
    pub count: i64,
    /// What each tally says, in order of the tallies' names.
    pub told: Vec<(EntryId, i64)>,
}

impl fmt::Display for Reading {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let told: Vec<String> = self.told.iter().map(|(_, count)| count.to_string()).collect();
        write!(f, "{} x {} must be at yard {}; told: {}", self.count, self.gear, self.yard, told.join(" and "))
    }
}

/// Why no settlement can be proposed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Stuck {
    /// No tally of the visit moved gear on a truck, so no load can tell which is right.
    NoTruck,
    /// The truck is still out.
    TruckOut(TruckId),
    /// The load of the truck is not in the book.
    NotLoaded(TruckId),
    /// More yards are in doubt on the same trip; together they must come to `together` pieces of `gear`.
    InDoubtTogether {
        /// Kind of gear.
        gear: GearCode,
        /// Pieces at all these yards together.
        together: i64,
    },
    /// The tallies differ in more than one place for this gear (put on, left loose, taken off): the load tells only
    /// their balance.
    OnlyTheBalance {
        /// Kind of gear.
        gear: GearCode,
        /// Net pieces off the truck.
        net: i64,
    },
    /// The rest of the trip already tells of more of this gear than there was.
    MoreThanThereWas {
        /// Kind of gear.
        gear: GearCode,
        /// Pieces too many.
        too_many: i64,
    },
}

/// What would settle a difference.
#[derive(Clone, Debug, PartialEq)]
pub enum Proposal {
    /// Write this one entry.
    Settle {
        /// The figures it settles on.
        readings: Vec<Reading>,
        /// The day of the visit: the entry's `happened_on`.
        happened_on: Date,
        /// The fact to write: a [`Fact::Settled`].
        fact: Box<Fact>,
    },
    /// It cannot be settled from the book; a count at one of these yards would, or would bring it nearer.
    CountYards {
        /// The yards, any of which would help. With all but one of them counted the last follows.
        yards: BTreeSet<YardId>,
        /// Why the book cannot tell.
        why: Option<Stuck>,
    },
    /// A count of these places would settle it.
    CountPlaces {
        /// The places.
        places: Vec<GearPlace>,
    },
}

impl Proposal {
    /// Asks for a count at yards, or of the truck when no yard is known.
    pub(super) fn count_yards(yards: &BTreeSet<YardId>, truck: &TruckId) -> Self {
        if yards.is_empty() {
            Self::CountPlaces { places: vec![GearPlace::Truck(truck.clone())] }
        } else {
            Self::CountYards { yards: yards.clone(), why: None }
        }
    }
}

fn list(yards: &BTreeSet<YardId>) -> String {
    let mut names: Vec<&str> = yards.iter().map(YardId::as_str).collect();
    names.sort_by(|left, right| outyard_base::ids::in_reading_order(left, right));
    names.join(" or ")
}

impl fmt::Display for Stuck {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NoTruck => f.write_str("no truck's load tells which tally is right"),
            Self::TruckOut(truck) => write!(f, "truck {truck} is not home yet"),
            Self::NotLoaded(truck) => write!(f, "the load of truck {truck} is not in the book"),
            Self::InDoubtTogether { gear, together } => {
                write!(f, "together they hold {together} x {gear}, and the load does not tell them apart")
            }
            Self::OnlyTheBalance { gear, net } => {
                write!(f, "{net} x {gear} net came off the truck, but the tallies differ in more than one place")
            }
            Self::MoreThanThereWas { gear, too_many } => {
                write!(f, "the other tallies tell of {too_many} x {gear} more than there was")
            }
        }
    }
}

impl fmt::Display for Proposal {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Settle { readings, .. } => {
                let all: Vec<String> = readings.iter().map(Reading::to_string).collect();
                f.write_str(&all.join("; "))
            }
            Self::CountYards { yards, why: Some(why) } => {
                write!(f, "cannot be settled: {why}; a count at yard {} would", list(yards))
            }
            Self::CountYards { yards, why: None } => write!(f, "a count at yard {} would settle it", list(yards)),
            Self::CountPlaces { places } => {
                let all: Vec<String> = places.iter().map(GearPlace::to_string).collect();
                write!(f, "count: {}", all.join(", "))
            }
        }
    }
}

/// One tally that may be right.
#[derive(Clone, Copy)]
struct Candidate<'a> {
    entry: EntryId,
    on: Date,
    tally: &'a Tally,
    /// True for a tally agreed before: it counts now and would be replaced.
    counts: bool,
}

/// Works out a proposal for every conflict.
pub(super) fn doubts(stands: &Stands<'_>, trips: &Trips) -> Vec<Doubt> {
    stands
        .conflicts
        .iter()
        .enumerate()
        .map(|(index, conflict)| {
            let proposal = propose(index, conflict, stands, trips)
                .unwrap_or_else(|(yards, why)| Proposal::CountYards { yards, why: Some(why) });
            Doubt { conflict: conflict.clone(), proposal }
        })
        .collect()
}

type CannotSettle = (BTreeSet<YardId>, Stuck);

fn candidates<'a>(conflict: &Conflict, stands: &Stands<'a>) -> Vec<Candidate<'a>> {
    let unsettled = conflict.tallies.iter().filter_map(|id| {
        stands.doubtful.get(id).map(|&(on, tally)| Candidate { entry: *id, on, tally, counts: false })
    });
    let settled =
        stands.happenings.iter().filter(|_| !conflict.settled_before.is_empty()).filter_map(
            |happening| match happening.what {
                What::Tally(tally) if conflict.settled_before.contains(&happening.entry.id) => {
                    Some(Candidate { entry: happening.entry.id, on: happening.on, tally, counts: true })
                }
                _ => None,
            },
        );
    unsettled.chain(settled).collect()
}

fn propose(index: usize, conflict: &Conflict, stands: &Stands<'_>, trips: &Trips) -> Result<Proposal, CannotSettle> {
    let all = candidates(conflict, stands);
    let yards: BTreeSet<YardId> = all.iter().map(|one| one.tally.yard.clone()).collect();
    let alone = |why: Stuck| (yards.clone(), why);
    let mut by_trip: BTreeMap<usize, Vec<Candidate<'_>>> = BTreeMap::new();
    for &one in &all {
        match trips.of_tally(one.on, one.tally) {
            Some(trip) => by_trip.entry(trip).or_default().push(one),
            None if net_put(one.tally).values().any(|net| *net != 0) => return Err(alone(Stuck::NoTruck)),
            None => {}
        }
    }
    let mut readings = Vec::new();
    let mut agreed = Vec::new();
    let several = by_trip.len() > 1;
    for (&trip, of_trip) in &by_trip {
        let (tally, of_tally) = settle_trip(index, trip, of_trip, &yards, trips)?;
        // With two trucks at one yard, a truck that put nothing there has no tally to agree.
        if !several || of_tally.iter().any(|reading| reading.count != 0) {
            agreed.push(tally);
        }
        readings.extend(of_tally);
    }
    if readings.is_empty() {
        return Err(alone(Stuck::NoTruck));
    }
    let mut tallies: BTreeSet<EntryId> = conflict.tallies.iter().copied().collect();
    for settlement in stands.settlements.iter().filter(|one| conflict.settled_before.contains(&one.entry)) {
        tallies.extend(&settlement.tallies);
    }
    Ok(Proposal::Settle {
        readings,
        happened_on: conflict.on,
        fact: Box::new(Fact::Settled { tallies: tallies.into_iter().collect(), agreed }),
    })
}

/// Works out what one truck must have left at the visit: the nearest tally, with the figures the load demands.
fn settle_trip(
    index: usize,
    trip: usize,
    candidates: &[Candidate<'_>],
    yards: &BTreeSet<YardId>,
    trips: &Trips,
) -> Result<(Tally, Vec<Reading>), CannotSettle> {
    let trip = trips.get(trip);
    let mut wanted: BTreeMap<GearCode, i64> = BTreeMap::new();
    for gear in candidates.iter().flat_map(|one| net_put(one.tally).into_keys()) {
        let counted: i64 = candidates
            .iter()
            .filter(|one| one.counts)
            .map(|one| net_put(one.tally).get(&gear).copied().unwrap_or(0))
            .sum();
        let net = trip.remainder.get(&gear).copied().unwrap_or(0) + counted;
        let others = trip.doubtful_conflicts(&gear).filter(|other| *other != index).count();
        if others > 0 {
            return Err((trip.in_doubt(&gear), Stuck::InDoubtTogether { gear, together: net }));
        }
        wanted.insert(gear, net);
    }
    // A truck may go out empty to fetch, but what was put off it must have been loaded.
    let puts = candidates.iter().any(|one| net_put(one.tally).values().any(|net| *net > 0));
    if !trip.loaded && puts {
        return Err((yards.clone(), Stuck::NotLoaded(trip.truck.clone())));
    }
    if !wanted.is_empty() && !trip.home {
        return Err((yards.clone(), Stuck::TruckOut(trip.truck.clone())));
    }
    let distance = |one: &Candidate<'_>| {
        let told = net_put(one.tally);
        wanted.iter().map(|(gear, net)| told.get(gear).copied().unwrap_or(0).abs_diff(*net)).sum::<u64>()
    };
    let nearest = candidates
        .iter()
        .min_by_key(|one| (distance(one), one.entry))
        .expect("a trip is looked at because a tally names it");
    let mut tally = nearest.tally.clone();
    let mut readings = Vec::new();
    for (gear, &net) in &wanted {
        let stuck = |why| (yards.clone(), why);
        set_net(&mut tally, candidates, gear, net).map_err(stuck)?;
        readings.push(Reading {
            yard: tally.yard.clone(),
            gear: gear.clone(),
            count: net,
            told: candidates
                .iter()
                .map(|one| (one.entry, net_put(one.tally).get(gear).copied().unwrap_or(0)))
                .collect(),
        });
    }
    Ok((tally, readings))
}

/// A place in a tally where gear of a truck is told, with its sign: off the truck or onto it.
type Slot = (fn(&Tally) -> &GearCounts, fn(&mut Tally) -> &mut GearCounts, i64);

const SLOTS: [Slot; 5] = [
    (|tally| &tally.boxes_on, |tally| &mut tally.boxes_on, 1),
    (|tally| &tally.gear_put, |tally| &mut tally.gear_put, 1),
    (|tally| &tally.boxes_left, |tally| &mut tally.boxes_left, 1),
    (|tally| &tally.boxes_off, |tally| &mut tally.boxes_off, -1),
    (|tally| &tally.gear_taken, |tally| &mut tally.gear_taken, -1),
];

/// Changes the one figure of a tally that is open, so that its net comes to `net`.
fn set_net(tally: &mut Tally, candidates: &[Candidate<'_>], gear: &GearCode, net: i64) -> Result<(), Stuck> {
    let now = net_put(tally).get(gear).copied().unwrap_or(0);
    let loose_differs = candidates.iter().any(|one| one.tally.loose_used.of(gear) != tally.loose_used.of(gear));
    let mut open: Vec<&Slot> = SLOTS
        .iter()
        .filter(|(read, ..)| candidates.iter().any(|one| read(one.tally).of(gear) != read(tally).of(gear)))
        .collect();
    if open.is_empty() && now != net {
        open = SLOTS.iter().filter(|(read, ..)| read(tally).of(gear) > 0).collect();
    }
    match open.as_slice() {
        _ if loose_differs => Err(Stuck::OnlyTheBalance { gear: gear.clone(), net }),
        [] if now == net => Ok(()),
        [(read, write, sign)] => {
            let figure = i64::from(read(tally).of(gear)) + sign * (net - now);
            match u32::try_from(figure) {
                Ok(figure) => {
                    write(tally).set(gear.clone(), figure);
                    Ok(())
                }
                Err(_) => Err(Stuck::MoreThanThereWas { gear: gear.clone(), too_many: -figure }),
            }
        }
        _ => Err(Stuck::OnlyTheBalance { gear: gear.clone(), net }),
    }
}
