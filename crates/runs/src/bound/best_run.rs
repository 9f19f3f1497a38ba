//! The cheapest run of a crew on a day at given prices, where there are too many runs to list.
//!
//! Paths grow stop by stop from home, all of one length before the next (label setting, Feillet et al. 2004). A path is dropped when another that
//! ends at the same visit has gained no less in no more time, with no more on the truck and nothing more that it may not visit. A path remembers
//! of its visits only those near the one it stands at (ng-routes, Baldacci, Mingozzi & Roberti 2011): a far visit might be made twice, which can only
//! make the cheapest run cheaper.
//!
//! What a path may still gain is bounded by walks home that pay for each minute and never turn straight back (Christofides, Mingozzi & Toth 1981); one
//! that cannot beat the best run known is dropped as well. When the work allowed is used up, the best promise among the paths not yet grown stands in
//! for them: the answer is then below the cheapest run, never above it, so the floor stays a floor.
//!
//! Gates count by the earliest time at which a path can be done with a visit; the wait for a gate is not paid, which can only make a run cheaper.

use std::rc::Rc;

use super::every_run::NEVER;

/// Least ways between the points of the problem, by minutes and by price.
pub(super) struct Legs {
    /// Points: nodes of visits and bases, in order.
    pub(super) nodes: usize,
    pub(super) minutes: Rc<[i32]>,
    /// Thousandths of a cent at the crew's wage.
    pub(super) price: Rc<[i32]>,
    /// `[visit]`, then home: its point.
    pub(super) places: Vec<usize>,
}

/// Who is near whom: what a path at a visit remembers.
pub(super) struct Nearby {
    pub(super) visits: usize,
    /// `[at * visits + other]`: the bit of `other` in a memory at `at`, [`FORGOTTEN`] when it has none.
    pub(super) bit: Vec<u8>,
    /// `[at * NEAR + bit]`: the visit of a bit.
    pub(super) visit: Vec<u16>,
    /// `[visit]`: visits that must not share its run.
    pub(super) apart: Vec<Vec<usize>>,
}

/// Visits remembered at most.
pub(super) const NEAR: usize = 32;
pub(super) const FORGOTTEN: u8 = u8::MAX;

impl Nearby {
    /// The memory of a path that goes on from one visit to another; `None` when it remembers having been there.
    fn onward(&self, memory: u32, from: usize, to: usize) -> Option<u32> {
        let here = self.bit[from * self.visits + to];
        if here != FORGOTTEN && memory >> here & 1 == 1 {
            return None;
        }
        let mut kept = 0;
        let mut rest = memory;
        while rest != 0 {
            let bit = rest.trailing_zeros() as usize;
            rest &= rest - 1;
            let there = self.bit[to * self.visits + usize::from(self.visit[from * NEAR + bit])];
            if there != FORGOTTEN {
                kept |= 1 << there;
            }
        }
        Some(kept | self.fresh(to))
    }

    /// The memory of a path that begins at a visit: itself and those that must not share its run.
    fn fresh(&self, at: usize) -> u32 {
        let mut memory = 0;
        for &other in self.apart[at].iter().chain([&at]) {
            let bit = self.bit[at * self.visits + other];
            if bit != FORGOTTEN {
                memory |= 1 << bit;
            }
        }
        memory
    }
}

/// What stays the same from day to day for a class of crews.
pub(super) struct BestRun {
    pub(super) legs: Legs,
    pub(super) nearby: Rc<Nearby>,
    pub(super) service: Vec<i64>,
    pub(super) loads: Vec<[i64; 4]>,
    /// `[day * visits + visit]`: open from and to.
    pub(super) open: Rc<[(i64, i64)]>,
    pub(super) truck: (i64, i64),
    pub(super) leave: i64,
    pub(super) wage: i64,
    pub(super) extra: i64,
    pub(super) shift: i64,
    /// Length of lunch and the time by which it must begin.
    pub(super) lunch: Option<(i64, i64)>,
    pub(super) stops_max: usize,
    /// Paths grown for one answer at most.
    pub(super) paths_max: usize,
    /// Legs and paths looked at so far.
    pub(super) work: u64,
    /// `[day]`: good runs found last.
    pub(super) last: Vec<Vec<Vec<usize>>>,
    /// `[day]`: what a minute was worth last, in thousandths of a cent.
    pub(super) minute: Vec<i64>,
}

/// A visit that would pay at the prices of the day.
#[derive(Clone, Copy)]
struct Item {
    visit: usize,
    place: usize,
    service: i64,
    /// Price less the cost of the day and the wage for the work.
    gain: i64,
    open: (i64, i64),
    load: [i64; 4],
}

/// A path from home to a visit.
#[derive(Clone, Copy)]
struct Path {
    /// Gains less roads.
    gain: i64,
    /// On the way and at work.
    minutes: i64,
    /// Earliest time at which the visit can be done with.
    ready: i64,
    load: [i64; 4],
    memory: u32,
    before: u32,
    at: u16,
    beaten: bool,
}

/// Most a minute is charged, in thousandths of a cent.
const MINUTE_MAX: i64 = 1_000_000_000;
/// Paths to the same visit a new one is held against at most. assumed
const COMPARED_MAX: usize = 60;
/// How far below the best run's gain others are still kept, in thousandths of it. assumed
const NEAR_PERMILLE: i64 = 700;
/// Good runs of a day looked at again in the next step. assumed
const KEPT_RUNS: usize = 24;
const NOWHERE: u32 = u32::MAX;
const NOBODY: u16 = u16::MAX;

/// The best walk home from a visit, and the best that takes another first step.
#[derive(Clone, Copy)]
struct Walk {
    best: i64,
    first: u16,
    other: i64,
}

impl Walk {
    fn offer(&mut self, value: i64, first: u16) {
        if value > self.best {
            self.other = self.best;
            self.best = value;
            self.first = first;
        } else if value > self.other {
            self.other = value;
        }
    }

    fn not_by(&self, first: usize) -> i64 {
        if usize::from(self.first) == first { self.other } else { self.best }
    }
}

struct Hunt<'a> {
    run: &'a BestRun,
    items: Vec<Item>,
    longest: i64,
    /// What a minute is charged in the walks.
    minute: i64,
    /// `[stops left][item]`: the best walks home.
    walks: Vec<Vec<Walk>>,
    /// Most a run can be worth for its length alone, minutes paid back: with lunch owed or not yet.
    by_length: [i64; 2],
    best: i64,
    /// Runs nearly as good as the best at the time, with their gains.
    good: Vec<(i64, u32)>,
    paths: Vec<Path>,
    work: u64,
}

impl BestRun {
    /// A value not above the cost of the cheapest run after prices (0 for no run), in thousandths of a cent; the best runs found stay in `last`.
    /// `values[visit]` is what a visit adds on this day after prices, [`NEVER`] when it is not allowed.
    pub(super) fn find(&mut self, day: usize, longest: i64, values: &[i64]) -> i64 {
        let items = self.items(day, longest, values);
        if items.is_empty() {
            self.last[day].clear();
            return 0;
        }
        let mut hunt = Hunt::new(self, items, longest);
        let mut good: Vec<(i64, Vec<usize>)> = Vec::new();
        for stops in self.last.iter().flatten() {
            if let Some(gain) = hunt.try_again(stops) {
                good.push((gain, stops.clone()));
            }
        }
        let minute = hunt.price_minutes(self.minute[day]);
        let given_up = hunt.grow();
        let best = hunt.best;
        let near = best - best * NEAR_PERMILLE / 1000;
        good.extend(hunt.good.iter().filter(|(gain, _)| *gain > near).map(|&(gain, path)| (gain, hunt.stops(path))));
        good.sort_by(|one, other| other.0.cmp(&one.0).then_with(|| one.1.cmp(&other.1)));
        good.dedup();
        let work = hunt.work;
        self.work += work;
        self.minute[day] = minute;
        self.last[day] = good.iter().take(KEPT_RUNS).map(|(_, stops)| stops.clone()).collect();
        // A run's road is rounded to the nearest cent: down by half a cent at most.
        -best.max(given_up) - 500
    }

    /// What a run in this order costs on a day, thousandths of a cent, days' costs given by visit; `None` when it cannot be made.
    pub(super) fn cost(&self, day: usize, longest: i64, own: &[i64], stops: &[usize]) -> Option<i64> {
        if stops.iter().any(|&visit| own[visit] == NEVER) {
            return None;
        }
        let items = {
            let mut sorted = stops.to_vec();
            sorted.sort_unstable();
            sorted.dedup();
            sorted.into_iter().map(|visit| self.item(day, visit, own)).collect()
        };
        Hunt::new(self, items, longest).gain_of(stops).map(|gain| -gain)
    }

    fn item(&self, day: usize, visit: usize, values: &[i64]) -> Item {
        let service = self.service[visit];
        Item {
            visit,
            place: self.legs.places[visit],
            service,
            gain: -values[visit] - 1000 * self.wage * service,
            open: self.open[day * values.len() + visit],
            load: self.loads[visit],
        }
    }

    fn items(&self, day: usize, longest: i64, values: &[i64]) -> Vec<Item> {
        let (home, nodes) = (self.legs.places[values.len()], self.legs.nodes);
        let there_and_back = |place: usize| {
            i64::from(self.legs.minutes[home * nodes + place]) + i64::from(self.legs.minutes[place * nodes + home])
        };
        (0..values.len())
            .filter(|&visit| values[visit] < NEVER)
            .map(|visit| self.item(day, visit, values))
            .filter(|item| item.gain > 0 && there_and_back(item.place) + item.service <= longest)
            .collect()
    }
}

impl<'a> Hunt<'a> {
    fn new(run: &'a BestRun, items: Vec<Item>, longest: i64) -> Self {
        Self {
            run,
            items,
            longest,
            minute: 0,
            walks: Vec::new(),
            by_length: [0; 2],
            best: 0,
            good: Vec::new(),
            paths: Vec::new(),
            work: 0,
        }
    }

    fn home(&self) -> usize {
        self.run.legs.places[self.run.service.len()]
    }

    fn leg(&self, from: usize, to: usize) -> (i64, i64) {
        let cell = from * self.run.legs.nodes + to;
        (i64::from(self.run.legs.minutes[cell]), i64::from(self.run.legs.price[cell]))
    }

    fn eaten(&self, on_the_way: i64) -> i64 {
        self.run.lunch.filter(|lunch| on_the_way > lunch.1).map_or(0, |lunch| lunch.0)
    }

    /// What lunch and overtime cost, in thousandths of a cent, and the time away.
    fn paid_besides(&self, on_the_way: i64) -> (i64, i64) {
        let eaten = self.eaten(on_the_way);
        let away = on_the_way + eaten;
        (1000 * (self.run.wage * eaten + self.run.extra * (away - self.run.shift).max(0)), away)
    }

    /// Starts from good runs of the steps before: prices have hardly moved since.
    fn try_again(&mut self, stops: &[usize]) -> Option<i64> {
        let gain = self.gain_of(stops).filter(|gain| *gain > 0)?;
        self.best = self.best.max(gain);
        Some(gain)
    }

    /// What a run in this order gains; `None` when it cannot be made.
    fn gain_of(&self, stops: &[usize]) -> Option<i64> {
        let (mut gain, mut minutes, mut ready, mut at) = (0, 0, self.run.leave, self.home());
        let mut load = [0; 4];
        for &visit in stops {
            let item = self.items[self.items.binary_search_by_key(&visit, |item| item.visit).ok()?];
            let (road, price) = self.leg(at, item.place);
            gain += item.gain - price;
            minutes += road + item.service;
            ready = (ready + road).max(item.open.0) + item.service;
            load.iter_mut().zip(item.load).for_each(|(sum, more)| *sum += more);
            if ready > item.open.1 {
                return None;
            }
            at = item.place;
        }
        let (road, price) = self.leg(at, self.home());
        let (besides, away) = self.paid_besides(minutes + road);
        (away <= self.longest && !self.overloaded(load)).then_some(gain - price - besides)
    }

    fn overloaded(&self, load: [i64; 4]) -> bool {
        load[0].max(load[1]) > self.run.truck.0 || load[2].max(load[3]) > self.run.truck.1
    }

    /// Finds a charge for a minute with which the walks promise little, starting from one that served before; leaves its walks.
    fn price_minutes(&mut self, before: i64) -> i64 {
        let first = if before < 0 { (1000 * self.run.wage.max(1)).min(MINUTE_MAX) } else { before };
        let mut best = (self.walk(first), first);
        // The promise falls to its least and rises again: first long strides either way, then one short one.
        for (up, down) in [(8, 5), (9, 8)] {
            let mut gained = false;
            for (times, over) in [(up, down), (down, up)] {
                if gained {
                    break;
                }
                loop {
                    let minute = best.1 * times / over + i64::from(times > over) * 50;
                    if minute > MINUTE_MAX {
                        break;
                    }
                    let promise = self.walk(minute);
                    if promise >= best.0 {
                        break;
                    }
                    best = (promise, minute);
                    gained = true;
                }
            }
            if !gained && up == 9 {
                break;
            }
        }
        if self.minute != best.1 {
            self.walk(best.1);
        }
        best.1
    }

    /// Works out the walks home at a charge for a minute; gives what they promise for a whole run.
    fn walk(&mut self, minute: i64) -> i64 {
        self.minute = minute;
        self.by_length = self.worth_by_length();
        let home = self.home();
        let nodes = self.run.legs.nodes;
        let (mut into, mut out) = (vec![NEVER; self.items.len() + 1], vec![NEVER; self.items.len() + 1]);
        let ends = self.items.len();
        for (index, from) in self.items.iter().map(|item| item.place).chain([home]).enumerate() {
            let prices = &self.run.legs.price[from * nodes..(from + 1) * nodes];
            let roads = &self.run.legs.minutes[from * nodes..(from + 1) * nodes];
            for (other, to) in self.items.iter().map(|item| item.place).chain([home]).enumerate() {
                if other != index {
                    let road = i64::from(prices[to]) + minute * i64::from(roads[to]);
                    out[index] = out[index].min(road);
                    into[other] = into[other].min(road);
                }
            }
        }
        // What a visit brings at most with half of the nearest roads in and out, best first, added up: no visit counts twice here.
        let mut brings: Vec<i64> = (0..ends)
            .map(|index| {
                self.items[index].gain - minute * self.items[index].service - i64::midpoint(into[index], out[index])
            })
            .collect();
        brings.sort_unstable_by(|one, other| other.cmp(one));
        let mut most = vec![0];
        for left in 0..self.run.stops_max {
            most.push(most[left] + brings.get(left).copied().unwrap_or(0).max(0));
        }
        let last: Vec<Walk> = self
            .items
            .iter()
            .map(|item| {
                let (road, price) = self.leg(item.place, home);
                Walk { best: -price - minute * road, first: NOBODY, other: -price - minute * road }
            })
            .collect();
        let mut walks = vec![last];
        for left in 1..self.run.stops_max {
            let shorter = &walks[left - 1];
            let mut longer = Vec::with_capacity(self.items.len());
            for (index, from) in self.items.iter().enumerate() {
                let prices = &self.run.legs.price[from.place * nodes..(from.place + 1) * nodes];
                let roads = &self.run.legs.minutes[from.place * nodes..(from.place + 1) * nodes];
                // Going home at once may be had by any first step.
                let straight = walks[0][index].best;
                let mut walk = Walk { best: straight, first: NOBODY, other: straight };
                for (other, to) in self.items.iter().enumerate() {
                    if other == index {
                        continue;
                    }
                    let onward = shorter[other].not_by(index);
                    let road = i64::from(prices[to.place]) + minute * i64::from(roads[to.place]);
                    let value = to.gain - minute * to.service - road + onward;
                    if value > walk.other {
                        walk.offer(value, u16::try_from(other).expect("fewer visits than that"));
                    }
                }
                let most = most[left] - i64::midpoint(out[index], into[ends]) + 1;
                walk.best = walk.best.min(most);
                walk.other = walk.other.min(most);
                longer.push(walk);
            }
            walks.push(longer);
        }
        self.work += (self.items.len() * self.items.len() * self.run.stops_max) as u64;
        let longest = &walks[self.run.stops_max - 1];
        let whole = self.items.iter().zip(longest).map(|(item, walk)| {
            let (road, price) = self.leg(home, item.place);
            item.gain - minute * item.service - price - minute * road + walk.best
        });
        let most = most[self.run.stops_max] - i64::midpoint(out[ends], into[ends]) + 1;
        let promise = whole.max().unwrap_or(0).min(most) + self.by_length[0];
        self.walks = walks;
        promise
    }

    /// Most of minutes paid back less lunch and overtime over all lengths of a run, and over those with lunch.
    fn worth_by_length(&self) -> [i64; 2] {
        let worth = |on_the_way: i64, eaten: i64| {
            let over = (on_the_way + eaten - self.run.shift).max(0);
            self.minute * on_the_way - 1000 * (self.run.wage * eaten + self.run.extra * over)
        };
        let (length, within) = self.run.lunch.unwrap_or((0, NEVER / 1_000_000_000));
        let short = self.longest.min(within);
        let without = worth(short, 0).max(worth(self.run.shift.min(short), 0));
        let long = (self.longest - length).max(within);
        let with = worth(long, length)
            .max(worth((self.run.shift - length).clamp(within, long), length))
            .max(worth(within, length));
        if self.run.lunch.is_some() && self.longest - length > within {
            [without.max(with), with]
        } else {
            [without; 2]
        }
    }

    /// The most a path may come to in the end when it goes on to an item next.
    fn by_length(&self, minutes: i64) -> i64 {
        let owed = self.run.lunch.is_some_and(|lunch| minutes > lunch.1);
        self.by_length[usize::from(owed)]
    }

    /// Grows all paths; gives the best promise among those the work allowed did not reach.
    fn grow(&mut self) -> i64 {
        let stops_max = self.run.stops_max;
        let home = self.home();
        let count = self.items.len();
        let mut at_item: Vec<Vec<u32>> = vec![Vec::new(); count];
        let mut onward: Vec<(i64, u16)> = Vec::new();
        let mut from_here: Vec<Vec<u32>> = vec![Vec::new(); count];
        // First stops.
        let start = Path {
            gain: 0,
            minutes: 0,
            ready: self.run.leave,
            load: [0; 4],
            memory: 0,
            before: NOWHERE,
            at: NOBODY,
            beaten: false,
        };
        for index in 0..count {
            let promise = self.items[index].gain - self.minute * self.items[index].service
                + self.walks[stops_max - 1][index].best;
            let (road, price) = self.leg(home, self.items[index].place);
            if promise - price - self.minute * road + self.by_length[0] > self.best {
                self.go_on(&start, NOWHERE, home, index, &mut at_item);
            }
        }
        let mut begun = 0;
        let mut given_up = 0;
        for stops in 1..stops_max {
            let end = self.paths.len();
            let (kept, promised) = self.most_promising(begun, stops);
            given_up = given_up.max(promised);
            if kept.is_empty() {
                break;
            }
            from_here.iter_mut().for_each(Vec::clear);
            for number in kept {
                from_here[usize::from(self.paths[number as usize].at)].push(number);
            }
            for (at, from_here) in from_here.iter().enumerate() {
                if from_here.is_empty() {
                    continue;
                }
                let strongest = from_here
                    .iter()
                    .map(|&number| &self.paths[number as usize])
                    .map(|path| path.gain - self.minute * path.minutes + self.by_length(path.minutes))
                    .max()
                    .expect("there are paths here");
                onward.clear();
                let place = self.items[at].place;
                let walks = &self.walks[stops_max - stops - 1];
                for (index, to) in self.items.iter().enumerate() {
                    if index == at {
                        continue;
                    }
                    let (road, price) = self.leg(place, to.place);
                    let value = to.gain - price - self.minute * (to.service + road) + walks[index].not_by(at);
                    if strongest + value > self.best {
                        onward.push((value, u16::try_from(index).expect("fewer visits than that")));
                    }
                }
                onward.sort_unstable_by(|one, other| other.cmp(one));
                for &number in from_here {
                    let path = self.paths[number as usize];
                    let own = path.gain - self.minute * path.minutes + self.by_length(path.minutes);
                    for &(value, index) in &onward {
                        if own + value <= self.best {
                            break;
                        }
                        self.go_on(&path, number, place, usize::from(index), &mut at_item);
                    }
                }
            }
            begun = end;
        }
        given_up
    }

    /// The paths from `begun` on that promise to beat the best run known, as many as the work allows, and the best promise among the rest.
    fn most_promising(&self, begun: usize, stops: usize) -> (Vec<u32>, i64) {
        let walks = &self.walks[self.run.stops_max - stops];
        let promise = |path: &Path| {
            let walk = walks[usize::from(path.at)].best;
            path.gain - self.minute * path.minutes + self.by_length(path.minutes) + walk
        };
        let mut kept: Vec<(i64, u32)> = self.paths[begun..]
            .iter()
            .zip(begun..)
            .filter(|(path, _)| !path.beaten)
            .map(|(path, number)| (promise(path), u32::try_from(number).expect("fewer paths than that")))
            .filter(|(promise, _)| *promise > self.best)
            .collect();
        if kept.len() <= self.run.paths_max {
            return (kept.into_iter().map(|(_, number)| number).collect(), 0);
        }
        kept.select_nth_unstable_by(self.run.paths_max, |one, other| other.cmp(one));
        let promised = kept[self.run.paths_max].0;
        kept.truncate(self.run.paths_max);
        (kept.into_iter().map(|(_, number)| number).collect(), promised)
    }

    /// Takes a path on to an item, if it may go there and nothing known is better.
    fn go_on(&mut self, path: &Path, number: u32, from: usize, index: usize, at_item: &mut [Vec<u32>]) {
        self.work += 1 + at_item[index].len() as u64;
        let item = self.items[index];
        let (road, price) = self.leg(from, item.place);
        let minutes = path.minutes + road + item.service;
        let (home_road, home_price) = self.leg(item.place, self.home());
        let on_the_way = minutes + home_road;
        if on_the_way + self.eaten(on_the_way) > self.longest {
            return;
        }
        let ready = (path.ready + road).max(item.open.0) + item.service;
        if ready > item.open.1 {
            return;
        }
        let mut load = path.load;
        load.iter_mut().zip(item.load).for_each(|(sum, more)| *sum += more);
        if self.overloaded(load) {
            return;
        }
        let memory = if path.at == NOBODY {
            self.run.nearby.fresh(item.visit)
        } else {
            match self.run.nearby.onward(path.memory, self.items[usize::from(path.at)].visit, item.visit) {
                Some(memory) => memory,
                None => return,
            }
        };
        let next = Path {
            gain: path.gain + item.gain - price,
            minutes,
            ready,
            load,
            memory,
            before: number,
            at: u16::try_from(index).expect("fewer visits than that"),
            beaten: false,
        };
        for &other in at_item[index].iter().take(COMPARED_MAX) {
            if self.paths[other as usize].beats(&next) {
                return;
            }
        }
        at_item[index].retain(|&other| {
            let other = &mut self.paths[other as usize];
            let lost = next.beats(other);
            other.beaten |= lost;
            !lost
        });
        let own = u32::try_from(self.paths.len()).expect("fewer paths than that");
        at_item[index].push(own);
        self.paths.push(next);
        let gain = next.gain - home_price - self.paid_besides(on_the_way).0;
        self.best = self.best.max(gain);
        if gain > 0 && gain >= self.best - self.best * NEAR_PERMILLE / 1000 {
            self.good.push((gain, own));
        }
    }

    /// The visits of a path, in order.
    fn stops(&self, path: u32) -> Vec<usize> {
        let mut stops = Vec::new();
        let mut at = path;
        while at != NOWHERE {
            let path = &self.paths[at as usize];
            stops.push(self.items[usize::from(path.at)].visit);
            at = path.before;
        }
        stops.reverse();
        stops
    }
}

impl Path {
    /// Whether whatever another path at the same visit can still do, this one can do for no less gain. Paths grow by length, so this one has no more
    /// stops when it was there first; one that came later with as many stops may beat it too.
    fn beats(&self, other: &Self) -> bool {
        self.gain >= other.gain
            && self.minutes <= other.minutes
            && self.ready <= other.ready
            && self.memory & !other.memory == 0
            && self.load.iter().zip(&other.load).all(|(own, load)| own <= load)
    }
}
