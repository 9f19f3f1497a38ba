//! Gear by place, as a merchant keeps his books: what leaves one place arrives in another, so all places together
//! always come to nought. Where the facts do not, the difference stands in an account of its own until a count or a
//! settlement places it.
//!
//! | symbol | name in code | meaning | unit | value | source |
//! |---|---|---|---|---|---|
//! | L | loaded | pieces loaded for a trip | pieces | counted | `TruckLoaded` |
//! | H | home | pieces on the truck when it came home | pieces | counted | `TruckHome` |
//! | P, T | put, taken | pieces put out of, or taken onto, the truck at a visit | pieces | counted | tallies |
//! | R | `remainder` | L - sum P + sum T - H: what the tallies of a trip leave unsaid | pieces | arithmetic | double entry (Pacioli 1494) |
//!
//! A trip whose truck is home must have R = 0. If it has not, and one visit of it is in doubt, that visit's tally must
//! have been R: this is proposed, never done. With two visits in doubt R is only their sum, and a count is asked for.
//!
//! The first count of gear in a place may find more than the book knew: that is what stood there before the book was
//! begun. Every other difference between a count and the book is unplaced.

mod settle;
mod trips;

use core::fmt;
use std::collections::{BTreeMap, BTreeSet};

use jiff::civil::Date;
use outyard_base::{GearCode, TruckId, YardId};

use crate::entry::EntryId;
use crate::fact::{Fact, Tally};
use crate::gear::{GearCounts, GearPlace};
use crate::law::{Stands, What};

pub use settle::{Doubt, Proposal, Reading, Stuck};
use trips::Trips;

/// An account of the ledger.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Account {
    /// Gear in a place.
    At(GearPlace),
    /// Gear the book cannot place. Below nought when more is told of than there can be.
    Unplaced,
}

/// Gear that went from one account to another.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Movement {
    /// The entry that tells of it; `None` for what a trip leaves unsaid.
    pub entry: Option<EntryId>,
    /// The day.
    pub on: Date,
    /// Kind of gear.
    pub gear: GearCode,
    /// Account it left.
    pub from: Account,
    /// Account it reached.
    pub to: Account,
    /// Pieces.
    pub count: u64,
}

/// Why gear cannot be placed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Why {
    /// A truck is home, and its tallies do not come to what left.
    Trip {
        /// The truck.
        truck: TruckId,
        /// First day of the trip.
        from: Date,
        /// Day it came home.
        to: Date,
        /// True when the book knows of a load.
        loaded: bool,
        /// Yards of the trip where this gear was handled by tallies that count.
        told: BTreeSet<YardId>,
        /// Yards of the trip with several tallies of one visit.
        in_doubt: BTreeSet<YardId>,
    },
    /// A count found other than the book says.
    Counted {
        /// The day of the count.
        on: Date,
        /// The entry that counts.
        entry: EntryId,
        /// What the book said.
        book: i64,
        /// What was found.
        counted: u32,
    },
    /// More left a place than was ever told to be there.
    BelowNothing,
}

/// Gear that cannot be placed, and what would settle it.
#[derive(Clone, Debug, PartialEq)]
pub struct Unplaced {
    /// Kind of gear.
    pub gear: GearCode,
    /// Pieces missing (above nought) or too many (below nought). For [`Why::BelowNothing`], the balance of the place.
    pub count: i64,
    /// The place whose account does not come out.
    pub place: GearPlace,
    /// Why.
    pub why: Why,
    /// What would settle it.
    pub proposal: Proposal,
}

impl fmt::Display for Unplaced {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { gear, count, place, .. } = self;
        match &self.why {
            Why::Trip { truck, from, loaded: false, .. } => {
                write!(f, "{count} x {gear} on truck {truck} on {from}: the book knows of no load")
            }
            Why::Trip { truck, from, .. } if *count >= 0 => {
                write!(f, "{count} x {gear} left with truck {truck} on {from} and stand in no tally that counts")
            }
            Why::Trip { truck, from, .. } => {
                write!(f, "{} x {gear} more are told of than left with truck {truck} on {from}", -count)
            }
            Why::Counted { on, book, counted, .. } => {
                write!(f, "{counted} x {gear} counted at {place} on {on} where the book says {book}")
            }
            Why::BelowNothing => {
                write!(f, "{place}: {} x {gear} more went out than were ever told to be there", -count)
            }
        }
    }
}

/// Where one kind of gear is.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct GearBalance {
    /// Pieces by place, places at nought left out. [`GearPlace::Outside`] stands below nought by what the outfit owns.
    pub placed: BTreeMap<GearPlace, i64>,
    /// What cannot be placed.
    pub unplaced: Vec<Unplaced>,
}

impl GearBalance {
    /// Pieces the outfit owns, by the book: all places but [`GearPlace::Outside`], and what is unplaced.
    pub fn owned(&self) -> i64 {
        -self.placed.get(&GearPlace::Outside).copied().unwrap_or(0)
    }
}

/// The gear ledger.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Ledger {
    /// Each movement that is listed, in order of time; what trips leave unsaid at the end.
    pub movements: Vec<Movement>,
    /// Where each kind of gear is.
    pub gear: BTreeMap<GearCode, GearBalance>,
    /// Visits with several tallies, each with what would settle it; in the order of [`Stands::conflicts`].
    pub doubts: Vec<Doubt>,
}

impl Ledger {
    /// Pieces of one kind of gear in one place.
    pub fn at(&self, gear: &GearCode, place: &GearPlace) -> i64 {
        self.gear.get(gear).and_then(|balance| balance.placed.get(place)).copied().unwrap_or(0)
    }

    /// Gear in one place, kinds at nought left out.
    pub fn in_place(&self, place: &GearPlace) -> BTreeMap<GearCode, i64> {
        self.gear
            .iter()
            .filter_map(|(gear, balance)| balance.placed.get(place).map(|count| (gear.clone(), *count)))
            .collect()
    }

    /// Everything that cannot be placed, by kind of gear.
    pub fn unplaced(&self) -> impl Iterator<Item = &Unplaced> {
        self.gear.values().flat_map(|balance| &balance.unplaced)
    }

    /// Draws up the ledger of what stands.
    pub fn of(stands: &Stands<'_>) -> Self {
        Self::carried_on(Carried::default(), stands, Date::MIN)
    }

    /// Draws up the ledger of what stands, upon what was carried over from before. Movements are listed from a day on.
    pub(crate) fn carried_on(before: Carried, stands: &Stands<'_>, listed_from: Date) -> Self {
        let trips = Trips::of(stands);
        let mut books = Books::begin(before, listed_from);
        for happening in &stands.happenings {
            books.told(happening.on, happening.entry.id, happening.what, &trips);
        }
        let doubts = settle::doubts(stands, &trips);
        books.end_of_carried();
        books.close_trips(&trips, &doubts);
        books.finish(doubts)
    }
}

/// The days over which each trip that is told of runs: no page may be turned within one. A trip that is not home runs on.
pub(crate) fn days_of_trips(stands: &Stands<'_>) -> Vec<(Date, Date)> {
    Trips::of(stands).all().map(|trip| (trip.from, if trip.is_done() { trip.to } else { Date::MAX })).collect()
}

/// What a ledger carries over a turned page: everything before is summed up in it.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct Carried {
    /// Balances by kind of gear and account.
    pub(crate) balances: BTreeMap<GearCode, BTreeMap<Account, i64>>,
    /// What was ever counted where.
    pub(crate) counted: BTreeSet<(GearPlace, GearCode)>,
    /// Differences found by counting and not made up for.
    pub(crate) differences: BTreeMap<GearCode, Vec<Unplaced>>,
    /// What trips left unsaid, by truck: taken off its balance when the ledger is closed.
    pub(crate) left: BTreeMap<(GearCode, TruckId), i64>,
    /// The same as differences, in order of the trips.
    pub(crate) of_trips: BTreeMap<GearCode, Vec<Unplaced>>,
}

impl Carried {
    /// Sums up what stands upon what was carried over before. Nothing of it may be in doubt or under way.
    pub(crate) fn sum_up(before: Self, stands: &Stands<'_>) -> Self {
        let trips = Trips::of(stands);
        let mut books = Books::begin(before, Date::MAX);
        for happening in &stands.happenings {
            books.told(happening.on, happening.entry.id, happening.what, &trips);
        }
        let mut carried = core::mem::take(&mut books.carried);
        carried.balances.clone_from(&books.balances);
        carried.counted.clone_from(&books.counted);
        carried.differences = core::mem::take(&mut books.differences);
        // With nothing but the trips in it, what they do shows by itself.
        books.balances.clear();
        books.close_trips(&trips, &[]);
        for (gear, accounts) in books.balances {
            for (account, change) in accounts {
                if let Account::At(GearPlace::Truck(truck)) = account {
                    *carried.left.entry((gear.clone(), truck)).or_default() -= change;
                }
            }
        }
        carried.left.retain(|_, count| *count != 0);
        for (gear, differences) in books.differences {
            carried.of_trips.entry(gear).or_default().extend(differences);
        }
        carried
    }
}

/// Where the gear of a visit comes from and goes back to.
fn carrier(tally: &Tally) -> GearPlace {
    tally.truck.clone().map_or(GearPlace::Shed, GearPlace::Truck)
}

/// The ledger while it is drawn up.
#[derive(Default)]
struct Books {
    movements: Vec<Movement>,
    balances: BTreeMap<GearCode, BTreeMap<Account, i64>>,
    counted: BTreeSet<(GearPlace, GearCode)>,
    differences: BTreeMap<GearCode, Vec<Unplaced>>,
    /// Differences found by counting trucks, by trip.
    on_trucks: BTreeMap<usize, Vec<Unplaced>>,
    /// What earlier trips left unsaid.
    carried: Carried,
    /// Movements are listed from this day on.
    listed_from: Option<Date>,
}

impl Books {
    fn begin(before: Carried, listed_from: Date) -> Self {
        let Carried { balances, counted, differences, left, of_trips } = before;
        Self {
            balances,
            counted,
            differences,
            carried: Carried { left, of_trips, ..Carried::default() },
            listed_from: Some(listed_from),
            ..Self::default()
        }
    }

    /// Takes off the trucks what earlier trips left unsaid.
    fn end_of_carried(&mut self) {
        let Carried { left, of_trips, .. } = core::mem::take(&mut self.carried);
        for ((gear, truck), count) in left {
            let truck = Account::At(GearPlace::Truck(truck));
            self.transfer((None, Date::MIN), &gear, &truck, &Account::Unplaced, count);
        }
        for (gear, differences) in of_trips {
            self.differences.entry(gear).or_default().extend(differences);
        }
    }

    fn post(
        &mut self,
        (entry, on): (Option<EntryId>, Date),
        gear: &GearCode,
        from: &Account,
        to: &Account,
        count: u64,
    ) {
        if count == 0 || from == to {
            return;
        }
        if !self.balances.contains_key(gear) {
            self.balances.insert(gear.clone(), BTreeMap::new());
        }
        let accounts = self.balances.get_mut(gear).expect("put in just above");
        let change = i64::try_from(count).expect("sums of counts that each fit 32 bits");
        for (account, change) in [(from, -change), (to, change)] {
            match accounts.get_mut(account) {
                Some(balance) => *balance += change,
                None => drop(accounts.insert(account.clone(), change)),
            }
        }
        if self.listed_from.is_none_or(|from| on >= from) {
            self.movements.push(Movement { entry, on, gear: gear.clone(), from: from.clone(), to: to.clone(), count });
        }
    }

    /// Moves a count that may be below nought: then it goes the other way.
    fn transfer(&mut self, source: (Option<EntryId>, Date), gear: &GearCode, from: &Account, to: &Account, count: i64) {
        let size = count.unsigned_abs();
        if count < 0 { self.post(source, gear, to, from, size) } else { self.post(source, gear, from, to, size) }
    }

    fn balance(&self, gear: &GearCode, account: &Account) -> i64 {
        self.balances.get(gear).and_then(|accounts| accounts.get(account)).copied().unwrap_or(0)
    }

    fn moved(&mut self, source: (Option<EntryId>, Date), gear: &GearCounts, from: &GearPlace, to: &GearPlace) {
        if !gear.is_empty() {
            self.between(source, gear, &Account::At(from.clone()), &Account::At(to.clone()));
        }
    }

    fn between(&mut self, source: (Option<EntryId>, Date), gear: &GearCounts, from: &Account, to: &Account) {
        for (gear, count) in gear.iter() {
            self.post(source, gear, from, to, u64::from(count));
        }
    }

    fn told(&mut self, on: Date, entry: EntryId, what: What<'_>, trips: &Trips) {
        let source = (Some(entry), on);
        match what {
            What::Tally(tally) => self.tally(source, tally),
            What::Fact(Fact::GearMoved { from, to, gear }) => self.moved(source, gear, from, to),
            What::Fact(Fact::GearBought { to, gear, .. }) => self.moved(source, gear, &GearPlace::Outside, to),
            What::Fact(Fact::GearLost { from, gear, .. }) => self.moved(source, gear, from, &GearPlace::Outside),
            What::Fact(Fact::TruckLoaded { truck, from, gear, .. }) => {
                self.moved(source, gear, from, &GearPlace::Truck(truck.clone()));
            }
            What::Fact(Fact::TruckHome { truck, to_shed, to_hot_room, .. }) => {
                let truck = GearPlace::Truck(truck.clone());
                self.moved(source, to_shed, &truck, &GearPlace::Shed);
                self.moved(source, to_hot_room, &truck, &GearPlace::HotRoom);
            }
            What::Fact(Fact::GearCounted { place, gear }) => {
                let trip = if let GearPlace::Truck(truck) = place { trips.of_day(truck, on) } else { None };
                self.counted(on, entry, place, gear, trip);
            }
            What::Fact(Fact::BoxesCounted { yard, boxes, .. }) => {
                self.counted(on, entry, &GearPlace::OnHives(yard.clone()), boxes, None);
            }
            What::Fact(_) => {}
        }
    }

    fn tally(&mut self, source: (Option<EntryId>, Date), tally: &Tally) {
        let carrier = Account::At(carrier(tally));
        let hives = Account::At(GearPlace::OnHives(tally.yard.clone()));
        let loose = Account::At(GearPlace::LooseInYard(tally.yard.clone()));
        self.between(source, &tally.boxes_off, &hives, &carrier);
        self.between(source, &tally.gear_taken, &hives, &carrier);
        self.between(source, &tally.boxes_on, &carrier, &hives);
        self.between(source, &tally.gear_put, &carrier, &hives);
        self.between(source, &tally.boxes_left, &carrier, &loose);
        self.between(source, &tally.loose_used, &loose, &hives);
    }

    /// Takes a count for what is there. A difference found on a truck is part of what its trip leaves unsaid.
    fn counted(&mut self, on: Date, entry: EntryId, place: &GearPlace, counts: &GearCounts, trip: Option<usize>) {
        let account = Account::At(place.clone());
        for (gear, counted) in counts.iter() {
            let book = self.balance(gear, &account);
            let first = self.counted.insert((place.clone(), gear.clone())) && trip.is_none();
            let missing = book - i64::from(counted);
            if first && missing < 0 {
                self.transfer((Some(entry), on), gear, &Account::At(GearPlace::Outside), &account, -missing);
                continue;
            }
            self.transfer((Some(entry), on), gear, &account, &Account::Unplaced, missing);
            let difference = Unplaced {
                gear: gear.clone(),
                count: missing,
                place: place.clone(),
                why: Why::Counted { on, entry, book, counted },
                proposal: Proposal::CountPlaces { places: vec![place.clone()] },
            };
            match trip {
                _ if missing == 0 => {}
                None => self.difference(difference),
                Some(trip) => self.on_trucks.entry(trip).or_default().push(difference),
            }
        }
    }

    /// Keeps a difference; when the differences of a kind of gear come to nought, the gear has been found again.
    fn difference(&mut self, unplaced: Unplaced) {
        let of_gear = self.differences.entry(unplaced.gear.clone()).or_default();
        of_gear.push(unplaced);
        if of_gear.iter().map(|one| one.count).sum::<i64>() == 0 {
            of_gear.clear();
        }
    }

    fn close_trips(&mut self, trips: &Trips, doubts: &[Doubt]) {
        let mut in_time: Vec<(usize, &trips::Trip)> = trips.all().enumerate().collect();
        in_time.sort_by_key(|(index, trip)| (trip.from, trip.truck.clone(), *index));
        for (index, trip) in in_time {
            let counted = self.on_trucks.remove(&index).unwrap_or_default();
            if !trip.over {
                for difference in counted {
                    self.difference(difference);
                }
                continue;
            }
            for (gear, &remainder) in &trip.remainder {
                let in_doubt = trip.in_doubt(gear);
                let moved: i64 = counted.iter().filter(|one| one.gear == *gear).map(|one| one.count).sum();
                let truck = Account::At(GearPlace::Truck(trip.truck.clone()));
                self.transfer((None, trip.to), gear, &truck, &Account::Unplaced, remainder - moved);
                if remainder == 0 && in_doubt.is_empty() {
                    continue;
                }
                let told: BTreeSet<YardId> = trip.told(gear);
                let proposal = trip.doubtful_conflicts(gear).next().map_or_else(
                    || Proposal::count_yards(&told, &trip.truck),
                    |conflict| doubts[conflict].proposal.clone(),
                );
                self.differences.entry(gear.clone()).or_default().push(Unplaced {
                    gear: gear.clone(),
                    count: remainder,
                    place: GearPlace::Truck(trip.truck.clone()),
                    why: Why::Trip {
                        truck: trip.truck.clone(),
                        from: trip.from,
                        to: trip.to,
                        loaded: trip.loaded,
                        told,
                        in_doubt,
                    },
                    proposal,
                });
            }
        }
    }

    fn finish(mut self, doubts: Vec<Doubt>) -> Ledger {
        let mut gear: BTreeMap<GearCode, GearBalance> = BTreeMap::new();
        for (code, accounts) in self.balances {
            let balance = gear.entry(code.clone()).or_default();
            for (account, count) in accounts {
                let Account::At(place) = account else { continue };
                if count < 0 && place != GearPlace::Outside {
                    balance.unplaced.push(Unplaced {
                        gear: code.clone(),
                        count,
                        place: place.clone(),
                        why: Why::BelowNothing,
                        proposal: Proposal::CountPlaces { places: vec![place.clone()] },
                    });
                }
                if count != 0 {
                    balance.placed.insert(place, count);
                }
            }
        }
        for (code, differences) in core::mem::take(&mut self.differences) {
            if !differences.is_empty() {
                gear.entry(code).or_default().unplaced.extend(differences);
            }
        }
        Ledger { movements: self.movements, gear, doubts }
    }
}
