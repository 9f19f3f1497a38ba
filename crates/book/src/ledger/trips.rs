//! Trips of trucks: from loading to coming home, with what their tallies leave unsaid.
//!
//! Loads and homecomings that name a run belong to that run. Without a name, what was loaded belongs to the truck's
//! next homecoming. A tally belongs to the run it names; without one, to the trip its day falls in. Where its day falls
//! in several, to the one home first; should several come home on that same day, nobody can tell their tallies apart
//! and they are reckoned as one trip.

use std::collections::{BTreeMap, BTreeSet};

use jiff::Timestamp;
use jiff::civil::Date;
use outyard_base::{GearCode, TruckId, YardId};

use crate::fact::{Fact, Tally};
use crate::gear::{GearCounts, GearPlace};
use crate::law::{Groups, Stands, What};

/// One trip, or several of one truck that cannot be told apart.
#[derive(Clone, Debug)]
pub(super) struct Trip {
    pub(super) truck: TruckId,
    /// First day anything of it happened.
    pub(super) from: Date,
    /// Day the truck came home, or the last day anything happened.
    pub(super) to: Date,
    /// True when a load is told of.
    pub(super) loaded: bool,
    /// True when nothing of it can still be on the truck: it is home, it was never loaded, or it was loaded again since.
    pub(super) over: bool,
    /// True when every leg of it is told to be home.
    pub(super) home: bool,
    /// Loaded, less put out, more taken on, less what came home: by kind of gear, from what counts.
    pub(super) remainder: BTreeMap<GearCode, i64>,
    /// Yards at which tallies that count handled each kind of gear.
    told: BTreeMap<GearCode, BTreeSet<YardId>>,
    /// Visits in doubt that handled each kind of gear: index of the conflict, and yard.
    doubtful: BTreeMap<GearCode, BTreeMap<usize, YardId>>,
}

impl Trip {
    fn new(truck: &TruckId, day: Date) -> Self {
        Self {
            truck: truck.clone(),
            from: day,
            to: day,
            loaded: false,
            over: true,
            home: true,
            remainder: BTreeMap::new(),
            told: BTreeMap::new(),
            doubtful: BTreeMap::new(),
        }
    }

    /// True when nothing that is told later of other days and runs can change it.
    pub(super) fn is_done(&self) -> bool {
        self.home || !self.loaded && self.over
    }

    fn tell(&mut self, gear: &GearCode, yard: &YardId) {
        let Some(yards) = self.told.get_mut(gear) else {
            self.told.insert(gear.clone(), BTreeSet::from([yard.clone()]));
            return;
        };
        if !yards.contains(yard) {
            yards.insert(yard.clone());
        }
    }

    pub(super) fn told(&self, gear: &GearCode) -> BTreeSet<YardId> {
        self.told.get(gear).cloned().unwrap_or_default()
    }

    pub(super) fn in_doubt(&self, gear: &GearCode) -> BTreeSet<YardId> {
        self.doubtful.get(gear).into_iter().flat_map(BTreeMap::values).cloned().collect()
    }

    pub(super) fn doubtful_conflicts(&self, gear: &GearCode) -> impl Iterator<Item = usize> {
        self.doubtful.get(gear).into_iter().flat_map(BTreeMap::keys).copied()
    }

    fn change(&mut self, gear: &GearCode, by: i64) {
        if let Some(now) = self.remainder.get_mut(gear) {
            *now += by;
        } else {
            self.remainder.insert(gear.clone(), by);
        }
    }

    fn change_all(&mut self, gear: &GearCounts, sign: i64) {
        gear.iter().for_each(|(gear, count)| self.change(gear, sign * i64::from(count)));
    }
}

/// A trip as loads and homecomings tell it.
#[derive(Clone, Debug)]
struct Leg<'a> {
    run: Option<&'a str>,
    from: (Date, Timestamp),
    home: Option<Date>,
    loaded: bool,
    /// Its loads and homecomings, by index of the happening.
    tellings: Vec<usize>,
}

/// The legs of one truck, while its loads and homecomings are gone through in order of time.
#[derive(Default)]
struct Legs<'a> {
    list: Vec<Leg<'a>>,
    by_run: BTreeMap<&'a str, usize>,
    /// The leg that names no run and is not home, or that came home last.
    nameless: Option<usize>,
    /// Legs that are not home.
    out: BTreeSet<usize>,
}

impl<'a> Legs<'a> {
    fn begin(&mut self, run: Option<&'a str>, from: (Date, Timestamp)) -> usize {
        let place = self.list.len();
        self.list.push(Leg { run, from, home: None, loaded: false, tellings: Vec::new() });
        self.out.insert(place);
        match run {
            Some(run) => drop(self.by_run.insert(run, place)),
            None => self.nameless = Some(place),
        }
        place
    }

    fn load(&mut self, index: usize, run: Option<&'a str>, from: (Date, Timestamp)) {
        let open = match run {
            Some(run) => self.by_run.get(run).copied(),
            None => self.nameless.filter(|&leg| self.list[leg].home.is_none()),
        };
        let place = open.unwrap_or_else(|| self.begin(run, from));
        let leg = &mut self.list[place];
        leg.loaded = true;
        leg.tellings.push(index);
    }

    /// A homecoming that names no known run ends the nameless leg that is out; failing that, it adds to the nameless
    /// leg that came home the same day, or ends the first named leg that is out, or stands alone.
    fn home(&mut self, index: usize, run: Option<&'a str>, at: (Date, Timestamp)) {
        let named = run.and_then(|run| self.by_run.get(run).copied());
        let nameless = self.nameless.filter(|&leg| self.list[leg].home.is_none_or(|home| home == at.0));
        let place = named.or(nameless).or_else(|| self.out.first().copied()).unwrap_or_else(|| self.begin(None, at));
        let leg = &mut self.list[place];
        leg.home = leg.home.max(Some(at.0));
        self.out.remove(&place);
        leg.tellings.push(index);
    }
}

fn legs<'a>(stands: &Stands<'a>) -> BTreeMap<&'a TruckId, Legs<'a>> {
    let mut all: BTreeMap<&TruckId, Legs<'_>> = BTreeMap::new();
    for (index, happening) in stands.happenings.iter().enumerate() {
        let at = (happening.on, happening.at);
        match happening.what {
            What::Fact(Fact::TruckLoaded { truck, run, .. }) => {
                all.entry(truck).or_default().load(index, run.as_deref(), at);
            }
            What::Fact(Fact::TruckHome { truck, run, .. }) => {
                all.entry(truck).or_default().home(index, run.as_deref(), at);
            }
            _ => {}
        }
    }
    all
}

/// Where to find the trips of one truck.
#[derive(Debug, Default)]
struct OfTruck {
    /// Trip by run.
    by_run: BTreeMap<String, usize>,
    /// Trip by day, for tallies that name no run.
    by_day: BTreeMap<Date, usize>,
}

/// All trips of all trucks.
#[derive(Debug, Default)]
pub(super) struct Trips {
    list: Vec<Trip>,
    of_truck: BTreeMap<TruckId, OfTruck>,
    /// Trip by load or homecoming, given as index of the happening.
    by_telling: BTreeMap<usize, usize>,
}

impl Trips {
    pub(super) fn all(&self) -> impl Iterator<Item = &Trip> {
        self.list.iter()
    }

    /// The trip a tally belongs to, if it names a truck.
    pub(super) fn of_tally(&self, day: Date, tally: &Tally) -> Option<usize> {
        let of_truck = self.of_truck.get(tally.truck.as_ref()?)?;
        let of_run = tally.run.as_deref().and_then(|run| of_truck.by_run.get(run));
        of_run.or_else(|| of_truck.by_day.get(&day)).copied()
    }

    /// The trip a day of a truck belongs to, for what names no run.
    pub(super) fn of_day(&self, truck: &TruckId, day: Date) -> Option<usize> {
        self.of_truck.get(truck)?.by_day.get(&day).copied()
    }

    pub(super) fn get(&self, trip: usize) -> &Trip {
        &self.list[trip]
    }

    pub(super) fn of(stands: &Stands<'_>) -> Self {
        let mut trips = Self::default();
        let all = legs(stands);
        let days = days_of_use(stands, &all);
        for (truck, legs) in &all {
            trips.take_in(truck, &legs.list, days.get(truck));
        }
        for (truck, days) in &days {
            for &day in days {
                trips.implied(truck, day);
            }
        }
        trips.reckon(stands);
        trips
    }

    /// Makes trips of a truck's legs, joining those that the days of use cannot tell apart.
    fn take_in(&mut self, truck: &TruckId, legs: &[Leg<'_>], days: Option<&BTreeSet<Date>>) {
        let (mut groups, chosen) = told_apart(legs, days);
        let mut found = OfTruck::default();
        let last_load = legs.iter().filter(|leg| leg.loaded).map(|leg| leg.from).max();
        let mut place: BTreeMap<usize, usize> = BTreeMap::new();
        for (index, leg) in legs.iter().enumerate() {
            let trip = *place.entry(groups.lead(index)).or_insert_with(|| {
                self.list.push(Trip::new(truck, leg.from.0));
                self.list.len() - 1
            });
            let overtaken = last_load.is_some_and(|last| last > leg.from);
            let now = &mut self.list[trip];
            now.from = now.from.min(leg.from.0);
            now.to = now.to.max(leg.home.unwrap_or(leg.from.0));
            now.loaded |= leg.loaded;
            now.over &= leg.home.is_some() || overtaken;
            now.home &= leg.home.is_some();
            if let Some(run) = leg.run {
                found.by_run.insert(run.to_owned(), trip);
            }
            self.by_telling.extend(leg.tellings.iter().map(|telling| (*telling, trip)));
        }
        for (day, leg) in chosen {
            let trip = place[&groups.lead(leg)];
            found.by_day.insert(day, trip);
        }
        self.of_truck.insert(truck.clone(), found);
    }

    /// A day on which a truck was used and nothing is told of its load.
    fn implied(&mut self, truck: &TruckId, day: Date) {
        let trips = &mut self.list;
        if !self.of_truck.contains_key(truck) {
            self.of_truck.insert(truck.clone(), OfTruck::default());
        }
        let of_truck = self.of_truck.get_mut(truck).expect("put in just above");
        of_truck.by_day.entry(day).or_insert_with(|| {
            trips.push(Trip { home: false, ..Trip::new(truck, day) });
            trips.len() - 1
        });
    }

    /// Adds up what counts and notes what is in doubt.
    fn reckon(&mut self, stands: &Stands<'_>) {
        for (index, happening) in stands.happenings.iter().enumerate() {
            let day = happening.on;
            match happening.what {
                What::Tally(tally) => {
                    if let Some(trip) = self.of_tally(day, tally) {
                        let trip = &mut self.list[trip];
                        for (gear, net) in net_of(tally) {
                            trip.change(gear, -net);
                            trip.tell(gear, &tally.yard);
                        }
                    }
                }
                What::Fact(Fact::TruckLoaded { gear, .. }) => {
                    self.list[self.by_telling[&index]].change_all(gear, 1);
                }
                What::Fact(Fact::TruckHome { to_shed, to_hot_room, .. }) => {
                    let trip = &mut self.list[self.by_telling[&index]];
                    trip.change_all(to_shed, -1);
                    trip.change_all(to_hot_room, -1);
                }
                // What a count finds on a truck is a matter of its trip, though it moves nothing.
                What::Fact(Fact::GearCounted { place: GearPlace::Truck(truck), gear }) => {
                    if let Some(trip) = self.of_day(truck, day) {
                        self.list[trip].change_all(gear, 0);
                    }
                }
                What::Fact(fact) => {
                    for (truck, gear, sign) in other_truck_moves(fact) {
                        if let Some(trip) = self.of_day(truck, day) {
                            self.list[trip].change_all(gear, sign);
                        }
                    }
                }
            }
        }
        for (index, conflict) in stands.conflicts.iter().enumerate() {
            for (day, tally) in conflict.tallies.iter().filter_map(|id| stands.doubtful.get(id)) {
                if let Some(trip) = self.of_tally(*day, tally) {
                    let trip = &mut self.list[trip];
                    for (gear, _) in net_put(tally) {
                        trip.remainder.entry(gear.clone()).or_default();
                        trip.doubtful.entry(gear).or_default().insert(index, tally.yard.clone());
                    }
                }
            }
        }
    }
}

/// Net pieces a tally takes off its truck, by each kind of gear it tells of; below nought when it loads more than it puts.
pub(super) fn net_put(tally: &Tally) -> BTreeMap<GearCode, i64> {
    net_of(tally).into_iter().map(|(gear, net)| (gear.clone(), net)).collect()
}

/// The same, each kind once, without a copy of its name: a tally tells of a handful.
fn net_of(tally: &Tally) -> Vec<(&GearCode, i64)> {
    let mut all: Vec<(&GearCode, i64)> = Vec::new();
    for (counts, sign) in [
        (&tally.boxes_on, 1),
        (&tally.boxes_left, 1),
        (&tally.gear_put, 1),
        (&tally.boxes_off, -1),
        (&tally.gear_taken, -1),
    ] {
        for (gear, count) in counts.iter() {
            let by = sign * i64::from(count);
            match all.iter_mut().find(|(known, _)| *known == gear) {
                Some((_, net)) => *net += by,
                None => all.push((gear, by)),
            }
        }
    }
    all
}

/// Joins the legs that the days of use cannot tell apart, and says for each day which leg it belongs to: of those under
/// way, the one home first. Goes through days and legs once, in order of time.
fn told_apart(legs: &[Leg<'_>], days: Option<&BTreeSet<Date>>) -> (Groups, Vec<(Date, usize)>) {
    let mut groups = Groups::new(legs.len());
    let mut chosen = Vec::new();
    let mut by_start: Vec<usize> = (0..legs.len()).collect();
    by_start.sort_by_key(|&leg| legs[leg].from.0);
    let mut to_come = by_start.into_iter().peekable();
    // Under way: those whose day of coming home is told, by that day; and those of which it is not.
    let mut homing: BTreeSet<(Date, usize)> = BTreeSet::new();
    let mut open: BTreeSet<usize> = BTreeSet::new();
    let mut joined_open = 0;
    for &day in days.into_iter().flatten() {
        while let Some(leg) = to_come.next_if(|&leg| legs[leg].from.0 <= day) {
            match legs[leg].home {
                Some(home) => drop(homing.insert((home, leg))),
                None => drop(open.insert(leg)),
            }
        }
        while homing.first().is_some_and(|(home, _)| *home < day) {
            homing.pop_first();
        }
        let first = if let Some(&(soonest, first)) = homing.first() {
            let together = homing.iter().take_while(|(home, _)| *home == soonest);
            together.for_each(|(_, leg)| groups.join(first, *leg));
            first
        } else if let Some(&first) = open.first() {
            if open.len() > joined_open {
                for leg in &open {
                    groups.join(first, *leg);
                }
                joined_open = open.len();
            }
            first
        } else {
            continue;
        };
        chosen.push((day, first));
    }
    (groups, chosen)
}

/// Gear put on a truck or taken off it by facts that are neither loads, homecomings nor tallies.
fn other_truck_moves(fact: &Fact) -> Vec<(&TruckId, &GearCounts, i64)> {
    let mut moves = Vec::new();
    let (from, to, gear) = match fact {
        Fact::GearMoved { from, to, gear } => (Some(from), Some(to), gear),
        Fact::GearBought { to, gear, .. } => (None, Some(to), gear),
        Fact::GearLost { from, gear, .. } => (Some(from), None, gear),
        _ => return moves,
    };
    if let Some(GearPlace::Truck(truck)) = from {
        moves.push((truck, gear, -1));
    }
    if let Some(GearPlace::Truck(truck)) = to {
        moves.push((truck, gear, 1));
    }
    moves
}

/// The days on which each truck was used by something that names none of its known runs, doubtful tallies included.
fn days_of_use(stands: &Stands<'_>, legs: &BTreeMap<&TruckId, Legs<'_>>) -> BTreeMap<TruckId, BTreeSet<Date>> {
    let mut days: BTreeMap<TruckId, BTreeSet<Date>> = BTreeMap::new();
    let mut used = |truck: &TruckId, day: Date| {
        if let Some(known) = days.get_mut(truck) {
            known.insert(day);
        } else {
            days.insert(truck.clone(), BTreeSet::from([day]));
        }
    };
    let of_tally = |day: Date, tally: &Tally, used: &mut dyn FnMut(&TruckId, Date)| {
        let Some(truck) = &tally.truck else { return };
        let known_run =
            tally.run.as_deref().is_some_and(|run| legs.get(truck).is_some_and(|legs| legs.by_run.contains_key(run)));
        if !known_run {
            used(truck, day);
        }
    };
    for happening in &stands.happenings {
        match happening.what {
            What::Tally(tally) => of_tally(happening.on, tally, &mut used),
            What::Fact(Fact::GearCounted { place: GearPlace::Truck(truck), .. }) => used(truck, happening.on),
            What::Fact(fact) => other_truck_moves(fact).iter().for_each(|(truck, ..)| used(truck, happening.on)),
        }
    }
    for (day, tally) in stands.doubtful.values() {
        of_tally(*day, tally, &mut used);
    }
    days
}
