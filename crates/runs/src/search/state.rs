//! A plan as the search changes it: runs in fixed places, costs kept up to date, every change undone at will.

use super::steps::{Moved, Step};
use super::tables::{Bulk, FORBIDDEN, OUT, Tables, Window};
use crate::gate::Stretch;
use crate::problem::{DAYS_MAX, STOPS_MAX};
use crate::stock::StockRoom;

/// A run in a slot.
#[derive(Clone, Copy, Debug)]
pub(super) struct SlotRun {
    stops: [u16; STOPS_MAX],
    len: u8,
    /// Truck, meaningless while there are no stops.
    pub(super) truck: u8,
    /// Whether any stop has a gate on this day.
    gated: bool,
    /// Whether any stop brings something home.
    brings: bool,
    drive: i64,
    pub(super) metres: i64,
    service: i64,
    out: Bulk,
    most: Bulk,
    pub(super) away: i64,
    /// Wages, overtime and road.
    pub(super) cost: i64,
    /// Changes whenever anything an insertion depends on does; never used twice for different contents.
    pub(super) version: u32,
}

impl SlotRun {
    pub(super) const EMPTY: Self = Self {
        stops: [0; STOPS_MAX],
        len: 0,
        truck: 0,
        gated: false,
        brings: false,
        drive: 0,
        metres: 0,
        service: 0,
        out: Bulk { volume: 0, grams: 0 },
        most: Bulk { volume: 0, grams: 0 },
        away: 0,
        cost: 0,
        version: 0,
    };

    pub(super) fn stops(&self) -> &[u16] {
        &self.stops[..usize::from(self.len)]
    }

    fn insert(&mut self, place: usize, visit: u16) {
        let len = usize::from(self.len);
        self.stops.copy_within(place..len, place + 1);
        self.stops[place] = visit;
        self.len += 1;
    }

    fn remove(&mut self, visit: u16) {
        let len = usize::from(self.len);
        let place = self.stops().iter().position(|&stop| stop == visit).expect("the visit stands on this run");
        self.stops.copy_within(place + 1..len, place);
        self.len -= 1;
    }
}

/// The cheapest place for a visit on a run.
#[derive(Clone, Copy, Debug)]
pub(super) struct Insertion {
    /// Rise of the run's cost, with the cost of the day; [`FORBIDDEN`] when it cannot be done.
    pub(super) adds: i64,
    pub(super) place: u8,
}

const IMPOSSIBLE: Insertion = Insertion { adds: FORBIDDEN, place: 0 };

#[derive(Clone, Copy)]
struct Remembered {
    version: u32,
    insertion: Insertion,
}

/// What must be put back when a try is not accepted.
#[derive(Default)]
struct Undo {
    runs: Vec<(u16, SlotRun)>,
    slots: Vec<(u16, u16)>,
    stock: Option<StockRoom>,
    total: i64,
}

pub(super) struct State<'t, 'p> {
    pub(super) tables: &'t Tables<'p>,
    pub(super) runs: Vec<SlotRun>,
    /// `[visit]`: its slot, or [`OUT`].
    pub(super) slot_of: Vec<u16>,
    stock: StockRoom,
    /// `[gear]`: charge for each one taken out beyond the stock, in cents.
    charge: Vec<i64>,
    /// `[day * trucks + truck]`.
    truck_out: Vec<bool>,
    pub(super) total: i64,
    /// `[slot]`: minutes of work that still fit, at most; -1 when the run has all its stops.
    room: Vec<i64>,
    versions: u32,
    remembered: Vec<Remembered>,
    undo: Undo,
    /// `[slot]`: try in which its run was last saved for undoing.
    saved: Vec<u64>,
    round: u64,
}

impl<'t, 'p> State<'t, 'p> {
    /// Every visit left out.
    pub(super) fn new(tables: &'t Tables<'p>) -> Self {
        let mut runs = vec![SlotRun::EMPTY; tables.slots];
        let mut versions = 0;
        for run in &mut runs {
            versions += 1;
            run.version = versions;
        }
        let stock = StockRoom::full(tables.parts);
        Self {
            tables,
            runs,
            slot_of: vec![OUT; tables.visits],
            undo: Undo { stock: Some(stock.clone()), ..Undo::default() },
            stock,
            charge: vec![0; tables.parts.gear.len()],
            truck_out: vec![false; tables.days * tables.trucks.len()],
            total: tables.out_cost.iter().sum(),
            room: (0..tables.slots).map(|slot| tables.away_max[slot]).collect(),
            versions,
            remembered: vec![Remembered { version: 0, insertion: IMPOSSIBLE }; tables.visits * tables.slots],
            saved: vec![0; tables.slots],
            round: 0,
        }
    }

    /// Starts a try that can be undone.
    pub(super) fn begin(&mut self) {
        self.round += 1;
        self.undo.runs.clear();
        self.undo.slots.clear();
        self.undo.stock.as_mut().expect("set when built").clone_from(&self.stock);
        self.undo.total = self.total;
    }

    /// Puts everything back as it was when the try began.
    pub(super) fn undo(&mut self) {
        for index in 0..self.undo.runs.len() {
            let (slot, _) = self.undo.runs[index];
            self.mark_truck(usize::from(slot), false);
        }
        for index in 0..self.undo.runs.len() {
            let (slot, run) = self.undo.runs[index];
            self.runs[usize::from(slot)] = run;
            self.find_room(usize::from(slot));
            self.mark_truck(usize::from(slot), true);
        }
        for &(visit, slot) in self.undo.slots.iter().rev() {
            self.slot_of[usize::from(visit)] = slot;
        }
        self.stock.clone_from(self.undo.stock.as_ref().expect("set when built"));
        self.total = self.undo.total;
    }

    /// Slots changed in this try.
    pub(super) fn touched(&self) -> impl Iterator<Item = u16> + '_ {
        self.undo.runs.iter().map(|(slot, _)| *slot)
    }

    fn mark_truck(&mut self, slot: usize, out: bool) {
        let run = &self.runs[slot];
        if run.len > 0 {
            self.truck_out[(self.tables.day_of(slot)) * self.tables.trucks.len() + usize::from(run.truck)] = out;
        }
    }

    fn find_room(&mut self, slot: usize) {
        let (tables, run) = (self.tables, &self.runs[slot]);
        self.room[slot] = if usize::from(run.len) >= tables.stops_max {
            -1
        } else if run.gated {
            // Work may fill the waits at its gates.
            tables.away_max[slot]
        } else {
            tables.away_max[slot] - run.away
        };
    }

    /// Whether a visit may fit a slot, at a glance: a stop more takes its work at least. Roads where a stop more is a short cut lose by this
    /// some places, never soundness.
    pub(super) fn has_room(&self, visit: usize, slot: usize) -> bool {
        self.tables.service_least[visit] <= self.room[slot]
    }

    fn save(&mut self, slot: usize) {
        if self.saved[slot] != self.round {
            self.saved[slot] = self.round;
            self.undo.runs.push((u16::try_from(slot).expect("slots fit"), self.runs[slot]));
        }
    }

    /// Puts a changed run in its slot.
    fn set(&mut self, slot: usize, run: SlotRun) {
        self.save(slot);
        let tables = self.tables;
        let before = self.runs[slot];
        let truck_changes = before.len == 0 || run.len == 0 || before.truck != run.truck;
        self.mark_truck(slot, false);
        self.total += run.cost - before.cost;
        self.runs[slot] = run;
        self.versions += 1;
        self.runs[slot].version = self.versions;
        self.find_room(slot);
        self.mark_truck(slot, true);
        if truck_changes && !tables.own_trucks {
            // What fits on another run of the day depends on which trucks are free.
            let first = tables.day_of(slot) * tables.crews;
            for other in (first..first + tables.crews).filter(|&other| other != slot) {
                self.save(other);
                self.versions += 1;
                self.runs[other].version = self.versions;
            }
        }
    }

    fn move_visit(&mut self, visit: usize, slot: u16) {
        let tables = self.tables;
        let before = self.slot_of[visit];
        self.undo.slots.push((u16::try_from(visit).expect("visits fit"), before));
        self.slot_of[visit] = slot;
        let needs = &tables.parts.visits[visit].needs;
        let cost = |slot: u16| {
            if slot == OUT { tables.out_cost[visit] } else { tables.place_cost(visit, usize::from(slot)) }
        };
        self.total += cost(slot) - cost(before);
        let charged = self.overdraft_cost();
        if before != OUT {
            self.stock.take(needs, tables.day_of(usize::from(before)), -1);
        }
        if slot != OUT {
            self.stock.take(needs, tables.day_of(usize::from(slot)), 1);
        }
        self.total += self.overdraft_cost() - charged;
    }

    /// Takes a visit off its run, and with it what is bound to it or cannot stand without it.
    pub(super) fn remove(&mut self, visit: usize) {
        let tables = self.tables;
        let slot = self.slot_of[visit];
        if slot == OUT {
            return;
        }
        let mut run = self.runs[usize::from(slot)];
        run.remove(u16::try_from(visit).expect("visits fit"));
        self.move_visit(visit, OUT);
        let stands = tables.time_run(usize::from(slot), &mut run)
            && self.truck_for(usize::from(slot), &run).map(|truck| run.truck = truck).is_some();
        if stands || run.len == 0 {
            self.set(usize::from(slot), run);
        } else {
            // Roads that break the triangle rule, or lunch: the rest cannot stand without this stop.
            for &stop in run.stops() {
                self.move_visit(usize::from(stop), OUT);
            }
            self.set(usize::from(slot), SlotRun::EMPTY);
            for &stop in run.stops() {
                self.remove_dependants(usize::from(stop));
            }
        }
        self.remove_dependants(visit);
    }

    fn remove_dependants(&mut self, visit: usize) {
        let tables = self.tables;
        for &follower in &tables.followers[visit] {
            self.remove(usize::from(follower));
        }
        for &bound in &tables.units[usize::from(tables.unit_of[visit])] {
            self.remove(usize::from(bound));
        }
    }

    /// What is charged now for gear taken out beyond the stock: the largest overdraft of each kind on any day.
    fn overdraft_cost(&self) -> i64 {
        self.charge.iter().enumerate().map(|(gear, charge)| charge * self.overdraft(gear)).sum()
    }

    fn overdraft(&self, gear: usize) -> i64 {
        (-self.stock.room(gear, 0)).max(0)
    }

    /// Changes the charge for gear taken out beyond the stock.
    pub(super) fn set_charge(&mut self, charge: Vec<i64>) {
        let charged = self.overdraft_cost();
        self.charge = charge;
        self.total += self.overdraft_cost() - charged;
    }

    /// What the stock adds to the cost of a visit on a day.
    fn stock_adds(&self, visit: usize, day: usize) -> i64 {
        let over = |gear: usize, count: i64| (count - self.stock.room(gear, day) - self.overdraft(gear)).max(0);
        let needs = self.tables.parts.visits[visit].needs.iter().filter(|need| need.1 > 0);
        needs.map(|&(gear, count)| self.charge[gear] * over(gear, count)).sum()
    }

    /// What a visit adds in a slot in all, or [`FORBIDDEN`].
    pub(super) fn adds(&mut self, visit: usize, slot: usize) -> i64 {
        let road = self.insertion(visit, slot).adds;
        let day = self.tables.day_of(slot);
        if road == FORBIDDEN || (self.tables.any_ties && !self.ties_allow(visit, day, OUT)) {
            return FORBIDDEN;
        }
        road + self.stock_adds(visit, day)
    }

    /// Whether more gear is taken out than there is.
    pub(super) fn overdrawn(&self) -> bool {
        (0..self.tables.parts.gear.len()).any(|gear| self.overdraft(gear) > 0)
    }

    /// `unit` stands for its visits being placed on the same day.
    fn ties_allow(&self, visit: usize, day: usize, unit: u16) -> bool {
        let tables = self.tables;
        let day_of = |other: usize| match self.slot_of[other] {
            _ if tables.unit_of[other] == unit => Some(day),
            OUT => None,
            slot => Some(tables.day_of(usize::from(slot))),
        };
        let spaced = |first: usize, second: usize, tie: crate::problem::Follows| {
            second >= first + tie.days_min as usize && second <= first + tie.days_max as usize
        };
        let own = tables.parts.visits[visit]
            .follows
            .is_none_or(|tie| day_of(tie.visit).is_some_and(|first| spaced(first, day, tie)));
        own && tables.followers[visit].iter().all(|&other| {
            let tie = tables.parts.visits[usize::from(other)].follows.expect("it follows this visit");
            day_of(usize::from(other)).is_none_or(|second| spaced(day, second, tie))
        })
    }

    /// The truck a run can go out on: its own if it still fits, else the first free one that does.
    fn truck_for(&self, slot: usize, run: &SlotRun) -> Option<u8> {
        let tables = self.tables;
        let fits = |truck: usize| {
            run.most.volume <= tables.trucks[truck].volume && run.most.grams <= tables.trucks[truck].grams
        };
        let own = self.runs[slot];
        if own.len > 0 && fits(usize::from(own.truck)) {
            return Some(own.truck);
        }
        let day = tables.day_of(slot) * tables.trucks.len();
        tables.parts.crews[tables.crew_of(slot)]
            .trucks
            .iter()
            .find(|&&truck| fits(truck) && !self.truck_out[day + truck])
            .map(|&truck| u8::try_from(truck).expect("checked: at most 64 trucks"))
    }

    /// The cheapest place for a visit in a slot, stock and ties left aside.
    pub(super) fn insertion(&mut self, visit: usize, slot: usize) -> Insertion {
        let cell = visit * self.tables.slots + slot;
        let version = self.runs[slot].version;
        let known = self.remembered[cell];
        if known.version == version {
            return known.insertion;
        }
        let insertion = self.find_insertion(visit, slot, &self.runs[slot]);
        self.remembered[cell] = Remembered { version, insertion };
        insertion
    }

    fn find_insertion(&self, visit: usize, slot: usize, run: &SlotRun) -> Insertion {
        let tables = self.tables;
        let day_cost = tables.place_cost(visit, slot);
        let len = usize::from(run.len);
        if day_cost == FORBIDDEN || len >= tables.stops_max {
            return IMPOSSIBLE;
        }
        if !tables.apart[visit].is_empty() && run.stops().iter().any(|stop| tables.apart[visit].contains(stop)) {
            return IMPOSSIBLE;
        }
        let crew = tables.crew_of(slot);
        let gated = run.gated || matches!(tables.window(visit, tables.day_of(slot)), Window::Open(..));
        let brings = run.brings || tables.home_bulk[visit] != Bulk::default();
        let mut best = IMPOSSIBLE;
        if gated || brings {
            let mut longer = *run;
            for place in 0..=len {
                longer.stops = run.stops;
                longer.len = run.len;
                longer.insert(place, u16::try_from(visit).expect("visits fit"));
                if tables.time_run(slot, &mut longer)
                    && longer.cost < best.adds
                    && self.truck_for(slot, &longer).is_some()
                {
                    best = Insertion { adds: longer.cost, place: u8::try_from(place).expect("few stops") };
                }
            }
        } else {
            let mut fuller = *run;
            let more = tables.out_bulk[visit];
            fuller.most = Bulk { volume: run.out.volume + more.volume, grams: run.out.grams + more.grams };
            if self.truck_for(slot, &fuller).is_none() {
                return IMPOSSIBLE;
            }
            let terms = &tables.terms[crew];
            let base = tables.base(crew);
            let on_site = run.service + tables.service(visit, crew);
            let away_max = tables.away_max[slot];
            let first_stop = run.stops().first().copied();
            let mut from = base;
            let mut best_price = i64::MAX;
            for place in 0..=len {
                let to = run.stops().get(place).map_or(base, |&stop| usize::from(stop));
                let (there, onward, direct) = (tables.road(from, visit), tables.road(visit, to), tables.road(from, to));
                // An empty run has no direct road to save.
                let direct = if len == 0 { [0, 0] } else { direct };
                let drive = run.drive + i64::from(there[0]) + i64::from(onward[0]) - i64::from(direct[0]);
                let metres = run.metres + i64::from(there[1]) + i64::from(onward[1]) - i64::from(direct[1]);
                from = to;
                let mut away = drive + on_site;
                if away > terms.lunch_within {
                    away += terms.lunch;
                    let first = if place == 0 { visit } else { usize::from(first_stop.expect("there is one")) };
                    if tables.minutes(base, first) > terms.lunch_within {
                        continue;
                    }
                }
                if away > away_max {
                    continue;
                }
                let price = tables.run_price(terms, away, metres);
                if price < best_price {
                    best_price = price;
                    best.place = u8::try_from(place).expect("few stops");
                }
            }
            if best_price < i64::MAX {
                best.adds = (best_price + 500) / 1000;
            }
        }
        if best.adds != FORBIDDEN {
            best.adds += day_cost - run.cost;
        }
        best
    }

    /// Puts a visit on a run at a place found by [`State::insertion`].
    pub(super) fn insert(&mut self, visit: usize, slot: usize, place: u8) {
        let mut run = self.runs[slot];
        run.insert(usize::from(place), u16::try_from(visit).expect("visits fit"));
        let stands = self.tables.time_run(slot, &mut run);
        debug_assert!(stands, "an insertion found possible can be timed");
        run.truck = self.truck_for(slot, &run).expect("an insertion found possible has a truck");
        self.set(slot, run);
        self.move_visit(visit, u16::try_from(slot).expect("slots fit"));
    }

    /// What a unit of several visits would add in a slot, placed one after the other; `None` when it cannot be done.
    pub(super) fn unit_insertion(&self, unit: u16, slot: usize) -> Option<i64> {
        self.unit_run(unit, slot).map(|(_, adds)| adds)
    }

    fn unit_run(&self, unit: u16, slot: usize) -> Option<(SlotRun, i64)> {
        let tables = self.tables;
        let day = tables.day_of(slot);
        let mut run = self.runs[slot];
        let mut adds = 0;
        let mut stock = self.stock.clone();
        for &member in &tables.units[usize::from(unit)] {
            let visit = usize::from(member);
            let needs = &tables.parts.visits[visit].needs;
            if !stock.covers(needs, day) || !self.ties_allow(visit, day, unit) {
                return None;
            }
            stock.take(needs, day, 1);
            let insertion = self.find_insertion(visit, slot, &run);
            if insertion.adds == FORBIDDEN {
                return None;
            }
            adds += insertion.adds;
            run.insert(usize::from(insertion.place), member);
            if !tables.time_run(slot, &mut run) {
                return None;
            }
            run.truck = self.truck_for(slot, &run)?;
        }
        Some((run, adds))
    }

    /// Puts a unit of several visits on a run, as [`State::unit_insertion`] found it.
    pub(super) fn insert_unit(&mut self, unit: u16, slot: usize) {
        let (run, _) = self.unit_run(unit, slot).expect("just found possible");
        self.set(slot, run);
        let tables = self.tables;
        for &member in &tables.units[usize::from(unit)] {
            self.move_visit(usize::from(member), u16::try_from(slot).expect("slots fit"));
        }
    }

    /// Gives a run another order of the same stops if that is sound and cheaper.
    pub(super) fn reorder(&mut self, slot: usize, order: &[u16]) -> bool {
        let mut run = self.runs[slot];
        run.stops[..order.len()].copy_from_slice(order);
        if self.tables.time_run(slot, &mut run)
            && run.cost < self.runs[slot].cost
            && let Some(truck) = self.truck_for(slot, &run)
        {
            run.truck = truck;
            self.set(slot, run);
            return true;
        }
        false
    }

    /// A run without one of its visits and with another at its cheapest place; `None` when it cannot be done.
    pub(super) fn changed(&self, slot: usize, leaves: Option<u16>, joins: Option<u16>) -> Option<SlotRun> {
        let tables = self.tables;
        let mut run = self.runs[slot];
        if let Some(visit) = leaves {
            run.remove(visit);
            if !tables.time_run(slot, &mut run) {
                return None;
            }
        }
        if let Some(visit) = joins {
            let insertion = self.find_insertion(usize::from(visit), slot, &run);
            if insertion.adds == FORBIDDEN {
                return None;
            }
            run.insert(usize::from(insertion.place), visit);
            if !tables.time_run(slot, &mut run) {
                return None;
            }
        }
        if run.len > 0 {
            run.truck = self.truck_for(slot, &run)?;
        }
        Some(run)
    }

    /// A slot's run with other stops, in that order; `None` when it cannot be done.
    pub(super) fn with_stops(&self, slot: usize, stops: &[u16]) -> Option<SlotRun> {
        let tables = self.tables;
        let apart = |stop: &u16| tables.apart[usize::from(*stop)].iter().any(|other| stops.contains(other));
        if stops.len() > tables.stops_max || stops.iter().any(apart) {
            return None;
        }
        let mut run = SlotRun::EMPTY;
        run.stops[..stops.len()].copy_from_slice(stops);
        run.len = u8::try_from(stops.len()).expect("few stops");
        if !tables.time_run(slot, &mut run) {
            return None;
        }
        if run.len > 0 {
            run.truck = self.truck_for(slot, &run)?;
        }
        Some(run)
    }

    /// What moving visits changes in the charge for gear taken out beyond the stock.
    pub(super) fn stock_change(&self, moved: &[Moved]) -> i64 {
        let tables = self.tables;
        let day = |slot: u16| if slot == OUT { tables.days } else { tables.day_of(usize::from(slot)) };
        if moved.iter().all(|step| day(step.from) == day(step.to)) {
            return 0;
        }
        let mut adds = 0;
        for (gear, charge) in self.charge.iter().enumerate() {
            let mut left = [0; DAYS_MAX];
            let left = &mut left[..tables.days];
            left.copy_from_slice(self.stock.left(gear));
            for step in moved {
                let count = tables.need(usize::from(step.visit), gear);
                left[day(step.from)..].iter_mut().for_each(|left| *left += count);
                left[day(step.to)..].iter_mut().for_each(|left| *left -= count);
            }
            let least = left.iter().copied().min().unwrap_or(0);
            adds += charge * ((-least).max(0) - self.overdraft(gear));
        }
        adds
    }

    /// Carries a step out for good.
    pub(super) fn take(&mut self, step: &Step) {
        for &(slot, run) in &step.runs[..step.run_count] {
            self.set(usize::from(slot), run);
        }
        for moved in &step.moved[..step.count] {
            self.move_visit(usize::from(moved.visit), moved.to);
        }
    }

    /// Whether the order of a run's stops matters for more than the road.
    pub(super) fn order_is_bound(&self, slot: usize) -> bool {
        self.runs[slot].gated || self.runs[slot].brings
    }

    /// Loads given stops into an empty slot; false, with nothing changed, when they cannot stand there.
    pub(super) fn load_run(&mut self, slot: usize, truck: usize, stops: &[u16]) -> bool {
        let mut run = SlotRun::EMPTY;
        run.stops[..stops.len()].copy_from_slice(stops);
        run.len = u8::try_from(stops.len()).expect("few stops");
        if !self.tables.time_run(slot, &mut run) {
            return false;
        }
        run.truck = u8::try_from(truck).expect("checked: at most 64 trucks");
        self.set(slot, run);
        for &stop in stops {
            self.move_visit(usize::from(stop), u16::try_from(slot).expect("slots fit"));
        }
        true
    }
}

impl Tables<'_> {
    /// Works out everything about a run from its stops; false when it cannot be timed within the longest time away.
    fn time_run(&self, slot: usize, run: &mut SlotRun) -> bool {
        let (day, crew) = (self.day_of(slot), self.crew_of(slot));
        let terms = &self.terms[crew];
        let base = self.base(crew);
        (run.drive, run.metres, run.service) = (0, 0, 0);
        (run.gated, run.brings) = (false, false);
        run.out = Bulk::default();
        if run.len == 0 {
            *run = SlotRun::EMPTY;
            return true;
        }
        let mut from = base;
        let (stops, len) = (run.stops, usize::from(run.len));
        for &stop in &stops[..len] {
            let visit = usize::from(stop);
            let [minutes, metres] = self.road(from, visit);
            run.drive += i64::from(minutes);
            run.metres += i64::from(metres);
            run.service += self.service(visit, crew);
            run.gated |= matches!(self.window(visit, day), Window::Open(..));
            run.brings |= self.home_bulk[visit] != Bulk::default();
            run.out.volume += self.out_bulk[visit].volume;
            run.out.grams += self.out_bulk[visit].grams;
            from = visit;
        }
        let [minutes, metres] = self.road(from, base);
        run.drive += i64::from(minutes);
        run.metres += i64::from(metres);
        run.most = run.out;
        if run.brings {
            self.find_most(run);
        }
        let away = if run.gated {
            self.gated_span(crew, day, &stops[..len])
        } else {
            let plain = run.drive + run.service;
            if plain <= terms.lunch_within {
                Some(plain)
            } else {
                let reached = self.minutes(base, usize::from(stops[0])) <= terms.lunch_within;
                reached.then_some(plain + terms.lunch)
            }
        };
        let Some(away) = away else { return false };
        run.away = away;
        run.cost = self.run_cost(terms, away, run.metres);
        away <= self.away_max[slot]
    }

    fn find_most(&self, run: &mut SlotRun) {
        let mut now = run.out;
        for &stop in &run.stops[..usize::from(run.len)] {
            let (out, home) = (self.out_bulk[usize::from(stop)], self.home_bulk[usize::from(stop)]);
            now.volume += home.volume - out.volume;
            now.grams += home.grams - out.grams;
            run.most.volume = run.most.volume.max(now.volume);
            run.most.grams = run.most.grams.max(now.grams);
        }
    }

    /// Shortest time away with gates and lunch, as the schedule has it.
    fn gated_span(&self, crew: usize, day: usize, stops: &[u16]) -> Option<i64> {
        let terms = &self.terms[crew];
        let pieces = |index: usize| -> Option<Stretch> {
            let from = if index == 0 { self.base(crew) } else { usize::from(stops[index - 1]) };
            let Some(&stop) = stops.get(index) else {
                return Some(Stretch::any_time(self.minutes(from, self.base(crew))));
            };
            let visit = usize::from(stop);
            let work = self.service(visit, crew);
            let work = match self.window(visit, day) {
                Window::AllDay => Stretch::any_time(work),
                Window::Open(opens, closes) => Stretch::gated(work, opens, closes)?,
            };
            Stretch::any_time(self.minutes(from, visit)).then(work)
        };
        let plain =
            (0..=stops.len()).try_fold(Stretch::home(terms.leave), |so_far, index| so_far.then(pieces(index)?))?;
        if plain.span <= terms.lunch_within {
            return Some(plain.span);
        }
        let lunch = Stretch::any_time(terms.lunch);
        let mut best: Option<i64> = None;
        let mut keep = |span: i64| best = Some(best.map_or(span, |so_far| so_far.min(span)));
        // Lunch on reaching the first yard.
        let reach =
            Stretch::home(terms.leave).then(Stretch::any_time(self.minutes(self.base(crew), usize::from(stops[0]))))?;
        let first_work = self.service(usize::from(stops[0]), crew);
        if reach.span <= terms.lunch_within
            && reach.span + first_work > terms.lunch_within
            && let Some(rest) = self.work_at(usize::from(stops[0]), crew, day)
            && let Some(begun) = reach.then(lunch).and_then(|eaten| eaten.then(rest))
            && let Some(whole) = (1..=stops.len()).try_fold(begun, |so_far, index| so_far.then(pieces(index)?))
        {
            keep(whole.span);
        }
        let mut so_far = Stretch::home(terms.leave);
        for after in 0..stops.len() {
            so_far = so_far.then(pieces(after)?)?;
            if so_far.span > terms.lunch_within {
                break;
            }
            if let Some(eaten) = so_far.then(lunch)
                && let Some(whole) =
                    (after + 1..=stops.len()).try_fold(eaten, |so_far, index| so_far.then(pieces(index)?))
            {
                keep(whole.span);
            }
        }
        best
    }

    fn work_at(&self, visit: usize, crew: usize, day: usize) -> Option<Stretch> {
        let work = self.service(visit, crew);
        match self.window(visit, day) {
            Window::AllDay => Some(Stretch::any_time(work)),
            Window::Open(opens, closes) => Stretch::gated(work, opens, closes),
        }
    }
}
