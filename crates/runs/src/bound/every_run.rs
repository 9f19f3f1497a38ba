//! The strong floor: prices on visits and stock against every run that could be made (Lagrangian relaxation, Geoffrion 1974).
//!
//! Give each visit a price for being done once and each day's stock a price for each piece gone by that day. Then every slot (a crew
//! on a day) picks, for itself, the run cheapest after prices, each visit is left out when that is cheaper than its price, and the sum
//! is a floor under every plan, whatever the prices are. The floor needs all runs: they are listed once as a tree of visit sets, each
//! with a road no order can beat. Prices are improved by steps of Polyak 1969, and the floor is summed in whole thousandths of a cent,
//! so rounding cannot lift it.
//!
//! What the relaxation forgets, which can only lower the floor: opening hours of gates, the order of loads, which of several trucks a
//! crew takes, ties between first and second visits, and groups bound to one run. Roads are replaced by shortest ways over all points,
//! so that a larger set never takes less time than a smaller one and the listing may be cut where a set no longer fits.
//!
//! | symbol | name in code | meaning | unit | value | source |
//! |---|---|---|---|---|---|
//! | π | `visit_price` | price of a visit being done once | thousandth of a cent | found | [Geoffrion1974] |
//! | λ | `stock_price` | price of a piece of gear gone by a day | thousandth of a cent | found | [Geoffrion1974] |
//! | θ | `stride` | share of the Polyak step taken | - | 1, halved after 100 steps without gain | [Polyak1969]; the halving is assumed |
//! | - | `KEPT` | share of the last direction kept in the next | - | 0.9 | [CamFratMaf1975]; the value is assumed, tuned on the bench |

use std::rc::Rc;

use outyard_base::Cents;

use super::Proof;
use super::best_run::BestRun;
use super::best_set::BestSet;
use super::columns;
use super::survey::Survey;
use super::ties::Ties;
use super::whole_visits;
use crate::bill::{cost, dropped_cost, told_cost};
use crate::plan::Plan;
use crate::problem::{Gate, RunParts, RunProblem};
use crate::search::{Effort, solve};
use crate::shift::{longest_away, service_minutes};

/// How the price search goes.
struct Pace {
    steps: usize,
    /// Steps without gain after which the stride is halved.
    patience: usize,
    stride_first: f64,
    stride_least: f64,
    /// What the stride is multiplied by then.
    shorter: f64,
}

/// Where a step costs a pass over a list. assumed
const LISTED: Pace = Pace { steps: 4000, patience: 100, stride_first: 1.0, stride_least: 1e-5, shorter: 0.5 };
/// Where a step costs a hunt. assumed
const HUNTED: Pace = Pace { steps: 260, patience: 15, stride_first: 0.4, stride_least: 1e-2, shorter: 0.6 };
/// Most visits for which prices are set by a linear program. assumed
const PROGRAM_VISITS_MAX: usize = 300;
/// Sets looked at in one hunt at most. assumed
const SETS_MAX: u64 = 100_000;
/// The same for all hunts together, and at least for one. assumed
const SETS_IN_ALL: u64 = 180_000_000;
const SETS_LEAST: u64 = 2_000;
/// How far from the best a run may be to set the direction of a step, at full stride, in thousandths of its gain. assumed
const NEAR_PERMILLE: f64 = 100.0;
/// Tries for each visit that find the plan the steps aim at. assumed
const TRIES_PER_VISIT: u64 = 150;
/// Rates at which a minute of work is tried as scarce, in cents. assumed
const RATES: [i64; 8] = [10, 30, 80, 150, 250, 400, 700, 1200];
/// Share of the last direction kept in the next (Camerini, Fratta & Maffioli 1975). assumed
const KEPT: f64 = 0.9;
/// A step of a stock price, against that of a visit price for the same share of its pieces. assumed
const STOCK_PACE: f64 = 0.5;
/// Shut out of a sum of at most twelve such numbers, yet far from overflow.
pub(super) const NEVER: i64 = 100_000_000_000_000_000;

/// One way to extend a set of visits: the set of `parent` and one visit more.
struct Set {
    parent: u32,
    visit: u32,
    /// Least cost of the run in thousandths of a cent, without the days' costs.
    price: i64,
    /// Least time away.
    away: i64,
}

/// Crews that differ in nothing the floor looks at.
struct Class {
    crews: Vec<usize>,
    sets: Vec<Set>,
    /// Finds the best run where they are not listed.
    hunter: Option<BestRun>,
    /// Finds the best set of visits where they are too many for that.
    set_hunter: Option<BestSet>,
    /// `[day * visits + visit]`: cost of the day and of changing what was told, thousandths of a cent; [`NEVER`] where it is not allowed.
    own: Vec<i64>,
    /// `[day]`: crews at work, and how long they may be away.
    working: Vec<(usize, i64)>,
}

/// What the floor is to be found with.
#[derive(Clone, Copy)]
pub(super) struct Means<'a> {
    /// Runs listed at most.
    pub(super) runs_max: usize,
    /// Work of all hunts together at most: legs and paths looked at.
    pub(super) work_max: u64,
    /// The best plan known; found in passing when not given.
    pub(super) plan: Option<&'a Plan>,
    pub(super) stop: &'a dyn Fn() -> bool,
}

/// A floor under the bill of every plan, and its proof; `None` when there is nothing to plan or no run may be listed.
pub(super) fn floor(problem: &RunProblem, means: Means<'_>) -> Option<(Cents, Proof)> {
    let mut classes = classes(problem)?;
    if means.runs_max == 0 {
        return None;
    }
    let hunted = || floor_by_best_runs(problem, means).map(|value| (value, Proof::BestRuns));
    let parts = problem.parts();
    // A list forgets open hours; a hunt does not.
    let hours = parts.visits.iter().flat_map(|visit| &visit.gates).any(|gate| matches!(gate, Gate::Open { .. }));
    if hours {
        return hunted();
    }
    let mut atlas = Atlas::default();
    let mut listed = 0;
    for class in &mut classes {
        match Listing::new(problem, &class.crews, &mut atlas).all(means.runs_max.saturating_sub(listed), means.stop) {
            Some(sets) => class.sets = sets,
            None if (means.stop)() => return None,
            None => return hunted(),
        }
        listed += class.sets.len() - 1;
    }
    let (_, target) = target(problem, 3_000, means)?;
    let mut prices = Prices::new(problem, classes);
    let by_pieces = prices.best_floor(target, &LISTED, means);
    let by_whole_visits = whole_visits::floor(&mut prices, target, means.stop);
    Some((cents(by_pieces.max(by_whole_visits.unwrap_or(by_pieces))), Proof::EveryRun { listed }))
}

/// The floor without a list: each step hunts for the cheapest run of every class on every day.
pub(super) fn floor_by_best_runs(problem: &RunProblem, means: Means<'_>) -> Option<Cents> {
    let mut classes = classes(problem)?;
    let few = problem.visit_count() <= PROGRAM_VISITS_MAX;
    if few {
        let mut survey = Survey::new(problem);
        for class in &mut classes {
            class.hunter = Some(survey.hunter(&class.crews));
        }
    } else {
        let mut atlas = Atlas::default();
        let hunts = u64::try_from(classes.len() * problem.day_count() * HUNTED.steps).expect("a small product");
        let sets_max = (SETS_IN_ALL / hunts).clamp(SETS_LEAST, SETS_MAX);
        for class in &mut classes {
            class.set_hunter = Some(Listing::new(problem, &class.crews, &mut atlas).set_hunter(problem, sets_max));
        }
    }
    let (plan, target) = target(problem, 60_000, means)?;
    let mut prices = Prices::new(problem, classes);
    prices.begin_with(&plan);
    let floor =
        if few { columns::floor(&mut prices, &plan, target, means) } else { prices.best_floor(target, &HUNTED, means) };
    Some(cents(floor))
}

/// The plan known or one found in passing, and what it costs: the steps aim at it.
fn target(problem: &RunProblem, tries_max: u64, means: Means<'_>) -> Option<(Plan, Cents)> {
    let plan = means.plan.cloned().unwrap_or_else(|| {
        let tries = tries_max.min(TRIES_PER_VISIT * problem.visit_count() as u64);
        solve(problem, &Effort { tries }, 0, None, means.stop)
    });
    let total = cost(problem, &plan)?.total();
    Some((plan, total))
}

fn classes(problem: &RunProblem) -> Option<Vec<Class>> {
    let parts = problem.parts();
    if parts.crews.is_empty() || parts.visits.is_empty() {
        return None;
    }
    let mut classes: Vec<Class> = Vec::new();
    for crew in 0..parts.crews.len() {
        match classes.iter_mut().find(|class| alike(parts, class.crews[0], crew)) {
            Some(class) => class.crews.push(crew),
            None => classes.push(Class {
                crews: vec![crew],
                sets: Vec::new(),
                hunter: None,
                set_hunter: None,
                own: Vec::new(),
                working: Vec::new(),
            }),
        }
    }
    for class in &mut classes {
        for day in 0..parts.days.len() {
            let at_work = || class.crews.iter().copied().filter(|&crew| problem.crew_works(crew, day));
            class
                .working
                .push((at_work().count(), at_work().next().map_or(0, |crew| longest_away(parts, crew, day).0)));
            for (visit, due) in parts.visits.iter().enumerate() {
                let told = |crew: usize| problem.may_do(visit, crew, day).then(|| told_cost(due, day, crew).0);
                let told = at_work().filter_map(told).min();
                class.own.push(told.map_or(NEVER, |told| 1000 * (due.waiting[day].0 + told)));
            }
        }
    }
    Some(classes)
}

/// Whether two crews are the same in all the floor looks at, days off and told visits apart.
fn alike(parts: &RunParts, left: usize, right: usize) -> bool {
    let (one, two) = (&parts.crews[left], &parts.crews[right]);
    let lunch = |index: usize| parts.crews[index].lunch;
    let trucks = |index: usize| largest_truck(parts, index);
    one.base == two.base
        && one.pace_permille == two.pace_permille
        && one.hands == two.hands
        && one.earliest_leave == two.earliest_leave
        && one.shift == two.shift
        && one.shift_max == two.shift_max
        && one.wage_per_minute == two.wage_per_minute
        && one.overtime_extra_per_minute == two.overtime_extra_per_minute
        && lunch(left) == lunch(right)
        && trucks(left) == trucks(right)
        && parts
            .visits
            .iter()
            .all(|visit| visit.crews.as_ref().is_none_or(|list| list.contains(&left) == list.contains(&right)))
}

/// Largest room and largest payload among the trucks a crew may take (perhaps of two trucks).
pub(super) fn largest_truck(parts: &RunParts, crew: usize) -> (i64, i64) {
    let trucks = || parts.crews[crew].trucks.iter().map(|&truck| &parts.trucks[truck]);
    let none = -1;
    (
        trucks().map(|truck| truck.volume).max().unwrap_or(none),
        trucks().map(|truck| truck.payload.0).max().unwrap_or(none),
    )
}

/// Largest way told apart from longer ones: a longer way counted as this one only lowers the floor.
const WAY_MAX: i32 = i32::MAX / 2;

/// Least ways between all points, visits first and then the crews' bases, by a price of each road (Floyd 1962).
fn shortest_ways(parts: &RunParts, price: impl Fn(usize) -> i64) -> Rc<[i32]> {
    let mut nodes: Vec<usize> = parts.visits.iter().map(|visit| visit.node).collect();
    nodes.extend(parts.crews.iter().map(|crew| crew.base));
    nodes.sort_unstable();
    nodes.dedup();
    let count = nodes.len();
    let mut ways: Vec<i32> = (0..count * count)
        .map(|cell| price(nodes[cell / count] * parts.roads.nodes + nodes[cell % count]))
        .map(|way| i32::try_from(way).map_or(WAY_MAX, |way| way.min(WAY_MAX)))
        .collect();
    for over in 0..count {
        let onward = ways[over * count..(over + 1) * count].to_vec();
        for row in ways.chunks_mut(count) {
            let there = row[over];
            row.iter_mut().zip(&onward).for_each(|(way, on)| *way = (*way).min(there + on));
        }
    }
    ways.into()
}

/// Where the visits and the base of a crew stand among the nodes of [`shortest_ways`].
fn places(parts: &RunParts, base: usize) -> Vec<usize> {
    let mut nodes: Vec<usize> = parts.visits.iter().map(|visit| visit.node).collect();
    nodes.extend(parts.crews.iter().map(|crew| crew.base));
    nodes.sort_unstable();
    nodes.dedup();
    let place = |node: usize| nodes.binary_search(&node).expect("every node is listed");
    parts.visits.iter().map(|visit| place(visit.node)).chain([place(base)]).collect()
}

/// Ways already worked out, by the wage that prices the road; crews of one wage share them.
#[derive(Default)]
struct Atlas {
    time: Option<Rc<[i32]>>,
    roads: Vec<(i64, Rc<[i32]>)>,
}

impl Atlas {
    fn time(&mut self, parts: &RunParts) -> Rc<[i32]> {
        self.time.get_or_insert_with(|| shortest_ways(parts, |road| parts.roads.minutes[road])).clone()
    }

    fn road(&mut self, parts: &RunParts, wage: i64) -> Rc<[i32]> {
        if let Some((_, ways)) = self.roads.iter().find(|known| known.0 == wage) {
            return ways.clone();
        }
        let ways = shortest_ways(parts, |road| {
            1000 * wage * parts.roads.minutes[road] + parts.cents_per_km.0 * parts.roads.metres[road]
        });
        self.roads.push((wage, ways.clone()));
        ways
    }
}

/// Shortest ways from home through every subset of the stops chosen so far (Held & Karp 1962), grown one stop at a time.
pub(super) struct Rounds {
    ways: Rc<[i32]>,
    /// `[point]`: its place in the ways; the last point is home.
    places: Vec<usize>,
    nodes: usize,
    /// `[subset * STOPS_MAX + last]`.
    least: Vec<i64>,
}

const WIDTH: usize = crate::problem::STOPS_MAX;

impl Rounds {
    fn new(ways: Rc<[i32]>, places: Vec<usize>, stops_max: usize) -> Self {
        Self { nodes: ways.len().isqrt(), ways, places, least: vec![NEVER; WIDTH << stops_max] }
    }

    pub(super) fn way(&self, from: usize, to: usize) -> i64 {
        i64::from(self.ways[self.places[from] * self.nodes + self.places[to]])
    }

    /// Takes the last of `stops` in; gives the shortest round through all of them.
    pub(super) fn grow(&mut self, stops: &[usize]) -> i64 {
        let newest = stops.len() - 1;
        let home = self.places.len() - 1;
        for rest in 0..1_usize << newest {
            let subset = rest | 1 << newest;
            for last in (0..stops.len()).filter(|last| subset >> last & 1 == 1) {
                let before = subset & !(1 << last);
                let least = if before == 0 {
                    self.way(home, stops[last])
                } else {
                    (0..stops.len())
                        .filter(|middle| before >> middle & 1 == 1)
                        .map(|middle| self.least[before * WIDTH + middle] + self.way(stops[middle], stops[last]))
                        .min()
                        .expect("the subset before is not empty")
                };
                self.least[subset * WIDTH + last] = least;
            }
        }
        let whole = (1 << stops.len()) - 1;
        (0..stops.len())
            .map(|last| self.least[whole * WIDTH + last] + self.way(stops[last], home))
            .min()
            .expect("there is a stop")
    }
}

/// Lists all visit sets a class of crews could do in one run.
struct Listing<'p> {
    parts: &'p RunParts,
    crew: usize,
    may: Vec<bool>,
    longest: i64,
    truck: (i64, i64),
    time: Rounds,
    road: Rounds,
    stops: Vec<usize>,
    sets: Vec<Set>,
}

impl<'p> Listing<'p> {
    fn new(problem: &'p RunProblem, crews: &[usize], atlas: &mut Atlas) -> Self {
        let parts = problem.parts();
        let crew = crews[0];
        let base = parts.crews[crew].base;
        let wage = parts.crews[crew].wage_per_minute.0;
        let days = 0..parts.days.len();
        let may = |visit: usize| crews.iter().any(|&crew| days.clone().any(|day| problem.may_do(visit, crew, day)));
        Self {
            parts,
            crew,
            may: (0..parts.visits.len()).map(may).collect(),
            longest: crews
                .iter()
                .flat_map(|&crew| days.clone().map(move |day| longest_away(parts, crew, day).0))
                .max()
                .unwrap_or(0),
            truck: largest_truck(parts, crew),
            time: Rounds::new(atlas.time(parts), places(parts, base), parts.max_stops),
            road: Rounds::new(atlas.road(parts, wage), places(parts, base), parts.max_stops),
            stops: Vec::new(),
            sets: vec![Set { parent: 0, visit: 0, price: 0, away: 0 }],
        }
    }

    fn set_hunter(self, problem: &RunProblem, sets_max: u64) -> BestSet {
        let parts = problem.parts();
        let crew = &parts.crews[self.crew];
        BestSet {
            service: parts.visits.iter().map(|due| service_minutes(crew, due).0).collect(),
            loads: (0..parts.visits.len()).map(|visit| self.with_load([0; 4], visit)).collect(),
            truck: self.truck,
            wage: crew.wage_per_minute.0,
            extra: crew.overtime_extra_per_minute.0,
            shift: crew.shift.0,
            lunch: crew.lunch.map(|rule| (rule.length.0, rule.begin_within.0)),
            stops_max: parts.max_stops,
            sets_max,
            near_permille: 50,
            last: vec![Vec::new(); parts.days.len()],
            time: self.time,
            road: self.road,
        }
    }

    fn all(mut self, runs_max: usize, stop: &dyn Fn() -> bool) -> Option<Vec<Set>> {
        self.extend(0, 0, [0; 4], (0, 0), runs_max, stop).then_some(self.sets)
    }

    /// Extends the set `parent` by every visit from `first` on; false when the list grows too long.
    fn extend(
        &mut self,
        parent: usize,
        first: usize,
        load: [i64; 4],
        (drive, service): (i64, i64),
        runs_max: usize,
        stop: &dyn Fn() -> bool,
    ) -> bool {
        if self.stops.len() >= self.parts.max_stops {
            return true;
        }
        for visit in first..self.parts.visits.len() {
            let apart = |pair: &&(usize, usize)| {
                (pair.0 == visit && self.stops.contains(&pair.1)) || (pair.1 == visit && self.stops.contains(&pair.0))
            };
            if !self.may[visit] || self.parts.apart.iter().any(|pair| apart(&pair)) {
                continue;
            }
            let load = self.with_load(load, visit);
            if load[0].max(load[1]) > self.truck.0 || load[2].max(load[3]) > self.truck.1 {
                continue;
            }
            let crew = &self.parts.crews[self.crew];
            let service = service + service_minutes(crew, &self.parts.visits[visit]).0;
            // No round is shorter than the one without this visit, nor than there and back.
            let home = self.time.places.len() - 1;
            let there_and_back = self.time.way(home, visit) + self.time.way(visit, home);
            if drive.max(there_and_back) + service > self.longest {
                continue;
            }
            self.stops.push(visit);
            let round = self.time.grow(&self.stops);
            let on_the_way = round + service;
            let eaten = crew.lunch.filter(|rule| on_the_way > rule.begin_within.0).map_or(0, |rule| rule.length.0);
            let away = on_the_way + eaten;
            let mut sound = true;
            if away <= self.longest {
                if self.sets.len() > runs_max || (self.sets.len().is_multiple_of(256) && stop()) {
                    sound = false;
                } else {
                    let road = self.road.grow(&self.stops);
                    let wage = crew.wage_per_minute.0;
                    let over = crew.overtime_extra_per_minute.0 * (away - crew.shift.0).max(0);
                    // A run's road is rounded to the nearest cent: down by half a cent at most.
                    let price = road + 1000 * (wage * (service + eaten) + over) - 500;
                    let index = self.sets.len();
                    let small = |number: usize| u32::try_from(number).expect("far fewer sets than that");
                    self.sets.push(Set { parent: small(parent), visit: small(visit), price, away });
                    sound = self.extend(index, visit + 1, load, (round, service), runs_max, stop);
                }
            }
            self.stops.pop();
            if !sound {
                return false;
            }
        }
        true
    }

    fn with_load(&self, load: [i64; 4], visit: usize) -> [i64; 4] {
        let more = load_of_visit(self.parts, visit);
        [load[0] + more[0], load[1] + more[1], load[2] + more[2], load[3] + more[3]]
    }
}

/// What a visit puts on the truck: room out and home, mass out and home.
pub(super) fn load_of_visit(parts: &RunParts, visit: usize) -> [i64; 4] {
    let due = &parts.visits[visit];
    let sum = |list: &[(usize, i64)], of: &dyn Fn(usize) -> i64| -> i64 {
        list.iter().map(|&(gear, count)| count * of(gear)).sum()
    };
    let gear = &parts.gear;
    [
        sum(&due.needs, &|kind| gear[kind].out_volume),
        sum(&due.brings, &|kind| gear[kind].home_volume),
        sum(&due.needs, &|kind| gear[kind].out_grams.0),
        sum(&due.brings, &|kind| gear[kind].home_grams.0),
    ]
}

/// The prices and what is needed to judge them.
pub(super) struct Prices<'p> {
    pub(super) problem: &'p RunProblem,
    classes: Vec<Class>,
    /// `[visit]`, thousandths of a cent.
    pub(super) visit_price: Vec<i64>,
    /// `[gear * days + day]`, thousandths of a cent, never below 0.
    pub(super) stock_price: Vec<i64>,
    sums: Vec<i64>,
    values: Vec<i64>,
    /// Slack of each visit: 1 less how often it was chosen or left out.
    pub(super) visit_slack: Vec<i64>,
    /// Pieces gone by each day less the stock.
    stock_over: Vec<i64>,
    /// What each visit is charged for its gear on the day looked at, thousandths of a cent.
    pub(super) charges: Vec<i64>,
    /// How often each visit was chosen on the day looked at last.
    pub(super) chosen: Vec<i64>,
    pub(super) ties: Ties,
    /// Work beside the hunts.
    other_work: u64,
}

impl<'p> Prices<'p> {
    fn new(problem: &'p RunProblem, classes: Vec<Class>) -> Self {
        let parts = problem.parts();
        let longest = classes.iter().map(|class| class.sets.len()).max().unwrap_or(0);
        Self {
            problem,
            visit_price: super::visit_by_visit::each(problem).into_iter().map(|cents| 1000 * cents).collect(),
            stock_price: vec![0; parts.gear.len() * parts.days.len()],
            sums: vec![0; longest],
            values: vec![0; parts.visits.len()],
            visit_slack: vec![0; parts.visits.len()],
            stock_over: vec![0; parts.gear.len() * parts.days.len()],
            charges: vec![0; parts.visits.len()],
            chosen: vec![0; parts.visits.len()],
            ties: Ties::new(parts),
            other_work: 0,
            classes,
        }
    }

    /// Begins with prices at which every run of a plan just pays: each visit at its own cost of the day and its share of the run, by work and half its
    /// roads. Visits the plan leaves out are priced at what that costs.
    fn begin_with(&mut self, plan: &Plan) {
        let parts = self.problem.parts();
        let own = self.visit_price.clone();
        for (price, due) in self.visit_price.iter_mut().zip(&parts.visits) {
            *price = 1000 * (due.skip.0 + dropped_cost(due).0);
        }
        for run in &plan.runs {
            let crew = &parts.crews[run.crew];
            let bill = cost(self.problem, &Plan { runs: vec![run.clone()] }).expect("a sound plan can be timed");
            let whole = 1000 * (bill.wage + bill.overtime + bill.road).0;
            let minutes = |from: usize, to: usize| parts.roads.minutes[from * parts.roads.nodes + to];
            let share = |place: usize| {
                let node = |stop: Option<&usize>| stop.map_or(crew.base, |&stop| parts.visits[stop].node);
                let here = parts.visits[run.stops[place]].node;
                let before = if place == 0 { crew.base } else { node(run.stops.get(place - 1)) };
                let roads = minutes(before, here) + minutes(here, node(run.stops.get(place + 1)));
                service_minutes(crew, &parts.visits[run.stops[place]]).0 + roads / 2
            };
            let sum: i64 = (0..run.stops.len()).map(share).sum::<i64>().max(1);
            for (place, &stop) in run.stops.iter().enumerate() {
                let due = &parts.visits[stop];
                let day = 1000 * (due.waiting[run.day].0 + told_cost(due, run.day, run.crew).0);
                self.visit_price[stop] = self.visit_price[stop].min(day + whole * share(place) / sum);
            }
        }
        // What walks alone promise tells good beginnings from bad ones.
        self.grow_paths(0);
        let mut best = (self.floor(), self.visit_price.clone());
        for rate in RATES {
            for ((price, own), due) in self.visit_price.iter_mut().zip(&own).zip(&parts.visits) {
                let leave = 1000 * (due.skip.0 + dropped_cost(due).0);
                *price = (own + 1000 * rate * (due.setup_minutes.0 + due.pair_minutes.0)).min(leave.max(*own));
            }
            let floor = self.floor();
            if floor > best.0 {
                best = (floor, self.visit_price.clone());
            }
        }
        self.visit_price = best.1;
    }

    pub(super) fn grow_paths(&mut self, paths_max: usize) {
        for hunter in self.classes.iter_mut().filter_map(|class| class.hunter.as_mut()) {
            hunter.paths_max = paths_max;
        }
    }

    /// Shorter steps look at runs nearer to the best alone.
    #[expect(clippy::cast_possible_truncation, reason = "a share in thousandths")]
    fn spread(&mut self, stride: f64) {
        for hunter in self.classes.iter_mut().filter_map(|class| class.set_hunter.as_mut()) {
            hunter.near_permille = (NEAR_PERMILLE * stride.min(1.0)) as i64;
        }
    }

    /// What leaving a visit out costs, thousandths of a cent.
    pub(super) fn leave(&self, visit: usize) -> i64 {
        let due = &self.problem.parts().visits[visit];
        1000 * (due.skip.0 + dropped_cost(due).0)
    }

    pub(super) fn class_count(&self) -> usize {
        self.classes.len()
    }

    pub(super) fn class_of(&self, crew: usize) -> usize {
        self.classes.iter().position(|class| class.crews.contains(&crew)).expect("every crew has a class")
    }

    pub(super) fn crews_at_work(&self, class: usize, day: usize) -> usize {
        self.classes[class].working[day].0
    }

    /// What a run costs with its days' costs, thousandths of a cent; `None` when the crews cannot make it or nobody hunts.
    pub(super) fn run_cost(&self, class: usize, day: usize, stops: &[usize]) -> Option<i64> {
        let class = &self.classes[class];
        let visits = self.values.len();
        class.hunter.as_ref()?.cost(day, class.working[day].1, &class.own[day * visits..(day + 1) * visits], stops)
    }

    /// The best runs the last hunt of a class on a day has found.
    pub(super) fn runs_found(&self, class: usize, day: usize, most: usize) -> Vec<Vec<usize>> {
        let hunter = self.classes[class].hunter.as_ref();
        hunter.map_or_else(Vec::new, |hunter| hunter.last[day].iter().take(most).cloned().collect())
    }

    pub(super) fn more_work(&mut self, work: u64) {
        self.other_work += work;
    }

    /// Legs and paths looked at so far.
    pub(super) fn work(&self) -> u64 {
        self.other_work
            + self.classes.iter().filter_map(|class| class.hunter.as_ref()).map(|hunter| hunter.work).sum::<u64>()
    }

    /// The floor the prices give, in thousandths of a cent; leaves the slacks for the next step.
    pub(super) fn floor(&mut self) -> i128 {
        let parts = self.problem.parts();
        let days = parts.days.len();
        let mut floor = self.once_or_out();
        self.ties.over.fill(0);
        for gear in 0..parts.gear.len() {
            for day in 0..days {
                let cell = gear * days + day;
                floor -= i128::from(self.stock_price[cell]) * i128::from(parts.gear[gear].stock[day]);
                self.stock_over[cell] = -parts.gear[gear].stock[day];
            }
        }
        for day in 0..days {
            // A piece taken out on a day is gone on that day and all after it.
            let gone: Vec<i64> = (0..parts.gear.len())
                .map(|gear| self.stock_price[gear * days + day..(gear + 1) * days].iter().sum())
                .collect();
            for (charge, due) in self.charges.iter_mut().zip(&parts.visits) {
                *charge = due.needs.iter().map(|&(gear, count)| count * gone[gear]).sum();
            }
            self.ties.charge(day, &mut self.charges);
            floor += i128::from(self.runs_on(day));
            self.ties.note(day, &self.chosen);
            for (visit, due) in parts.visits.iter().enumerate() {
                for &(gear, pieces) in due.needs.iter().filter(|_| self.chosen[visit] > 0) {
                    for cell in gear * days + day..(gear + 1) * days {
                        self.stock_over[cell] += self.chosen[visit] * pieces;
                    }
                }
            }
        }
        floor
    }

    /// Each visit at its price or left out, whichever is cheaper; the slacks begin anew.
    pub(super) fn once_or_out(&mut self) -> i128 {
        let mut floor = 0_i128;
        for (visit, due) in self.problem.parts().visits.iter().enumerate() {
            let leave = 1000 * (due.skip.0 + dropped_cost(due).0);
            floor += i128::from(self.visit_price[visit].min(leave));
            self.visit_slack[visit] = i64::from(leave >= self.visit_price[visit]);
        }
        floor
    }

    /// The cheapest runs of all crews on a day, charges and prices counted in; leaves how often each visit was chosen.
    pub(super) fn runs_on(&mut self, day: usize) -> i64 {
        self.chosen.fill(0);
        let value = (0..self.classes.len()).map(|class| self.class_on_day(class, day)).sum();
        for (slack, chosen) in self.visit_slack.iter_mut().zip(&self.chosen) {
            *slack -= chosen;
        }
        value
    }

    fn class_on_day(&mut self, class: usize, day: usize) -> i64 {
        let visits = self.values.len();
        let (crews, longest) = self.classes[class].working[day];
        if crews == 0 {
            return 0;
        }
        let own = &self.classes[class].own[day * visits..(day + 1) * visits];
        for (visit, value) in self.values.iter_mut().enumerate() {
            *value =
                if own[visit] == NEVER { NEVER } else { own[visit] + self.charges[visit] - self.visit_price[visit] };
        }
        let count = i64::try_from(crews).expect("at most 64 crews");
        if let Some(hunter) = &mut self.classes[class].hunter {
            return count * hunter.find(day, longest, &self.values);
        }
        if let Some(hunter) = &mut self.classes[class].set_hunter {
            let (value, runs) = hunter.find(day, longest, &self.values, crews);
            for &visit in runs.iter().flatten() {
                self.chosen[visit] += 1;
            }
            return count * value;
        }
        let class = &self.classes[class];
        let mut best = (0, 0);
        self.sums[0] = 0;
        for (index, set) in class.sets.iter().enumerate().skip(1) {
            let sum = self.sums[set.parent as usize] + self.values[set.visit as usize];
            self.sums[index] = sum;
            let reduced = sum + set.price;
            if reduced < best.0 && set.away <= longest {
                best = (reduced, index);
            }
        }
        let mut at = best.1;
        while at != 0 {
            let set = &class.sets[at];
            self.chosen[set.visit as usize] += count;
            at = set.parent as usize;
        }
        count * best.0
    }

    /// The best floor found by steps towards `target`, in thousandths of a cent; the prices are left at it.
    #[expect(clippy::cast_precision_loss, clippy::cast_possible_truncation, reason = "prices may be any whole numbers")]
    fn best_floor(&mut self, target: Cents, pace: &Pace, means: Means<'_>) -> i128 {
        let parts = self.problem.parts();
        // Stock moves in tens of pieces where a visit moves by one; one yardstick for both keeps steps in proportion.
        let pieces: Vec<i64> =
            parts.visits.iter().flat_map(|visit| &visit.needs).map(|need| need.1).filter(|count| *count > 0).collect();
        let mean = pieces.iter().sum::<i64>() as f64 / (pieces.len() as f64).max(1.0);
        let yardstick = mean.max(1.0) / STOCK_PACE;
        let mut best = self.floor();
        let mut kept = (self.visit_price.clone(), self.stock_price.clone(), self.ties.price.clone());
        let (mut stride, mut since_gain) = (pace.stride_first, 0);
        let mut now = best;
        let mut visit_way = vec![0.0; self.visit_slack.len()];
        let mut stock_way = vec![0.0; self.stock_over.len()];
        let mut tie_way = vec![0.0; self.ties.over.len()];
        for _ in 0..pace.steps {
            if (means.stop)() || self.work() > means.work_max || stride < pace.stride_least {
                break;
            }
            for (way, slack) in visit_way.iter_mut().zip(&self.visit_slack) {
                *way = *slack as f64 + KEPT * *way;
            }
            for ((way, over), price) in stock_way.iter_mut().zip(&self.stock_over).zip(&self.stock_price) {
                let over = *over as f64 / yardstick;
                // At 0 a price cannot fall: that direction leads nowhere.
                *way = if *price == 0 && over + KEPT * *way < 0.0 { 0.0 } else { over + KEPT * *way };
            }
            for ((way, over), price) in tie_way.iter_mut().zip(&self.ties.over).zip(&self.ties.price) {
                let ahead = *over as f64 + KEPT * *way;
                *way = if *price == 0 && ahead < 0.0 { 0.0 } else { ahead };
            }
            let square: f64 = visit_way.iter().chain(&stock_way).chain(&tie_way).map(|way| way * way).sum();
            if square < 1e-9 {
                break;
            }
            let aim = (target.0 * 1000) as f64;
            let step = stride * (aim - now as f64).max(1000.0) / square;
            for (price, way) in self.visit_price.iter_mut().zip(&visit_way) {
                *price = (*price + (step * way) as i64).clamp(-NEVER / 1000, NEVER / 1000);
            }
            for (price, way) in self.stock_price.iter_mut().zip(&stock_way) {
                *price = (*price + (step * way / yardstick) as i64).clamp(0, NEVER / 100_000_000);
            }
            for (price, way) in self.ties.price.iter_mut().zip(&tie_way) {
                *price = (*price + (step * way) as i64).clamp(0, NEVER / 100_000_000);
            }
            now = self.floor();
            if now > best {
                best = now;
                kept = (self.visit_price.clone(), self.stock_price.clone(), self.ties.price.clone());
                since_gain = 0;
            } else {
                since_gain += 1;
                if since_gain >= pace.patience {
                    since_gain = 0;
                    stride *= pace.shorter;
                    self.spread(stride);
                    self.visit_price.clone_from(&kept.0);
                    self.stock_price.clone_from(&kept.1);
                    self.ties.price.clone_from(&kept.2);
                    tie_way.fill(0.0);
                    visit_way.fill(0.0);
                    stock_way.fill(0.0);
                    now = self.floor();
                }
            }
        }
        (self.visit_price, self.stock_price, self.ties.price) = kept;
        best
    }
}

/// Thousandths of a cent in whole cents, rounded down.
fn cents(thousandths: i128) -> Cents {
    Cents(i64::try_from(thousandths.div_euclid(1000)).unwrap_or(i64::MIN))
}
