//! The cheapest run of a crew on a day at given prices, found by branch and bound where there are too many runs to list.
//!
//! Sets of visits grow one visit at a time. What the visits that may still join could bring is at most what a knapsack of the time
//! left brings, filled with the best minutes first, parts of visits allowed (Dantzig 1957), with the road to them left out or
//! counted as half the nearest road in and out, whichever promises less. A branch that cannot beat the best run known is cut. When the
//! work allowed is used up, the best promise among the branches not yet looked into stands in for them: the answer is then
//! below the cheapest run, never above it, so the floor stays a floor.

use std::cmp::Ordering;

use super::every_run::{NEVER, Rounds};

/// A visit that would pay at the prices of the day.
struct Item {
    visit: usize,
    service: i64,
    /// Price less the cost of the day and the wage for the work.
    gain: i64,
    /// The same less half the nearest roads, and the work with half their minutes.
    gain_with_road: i64,
    minutes_with_road: i64,
    load: [i64; 4],
}

/// What stays the same from day to day for a class of crews.
pub(super) struct BestSet {
    pub(super) time: Rounds,
    pub(super) road: Rounds,
    pub(super) service: Vec<i64>,
    pub(super) loads: Vec<[i64; 4]>,
    pub(super) truck: (i64, i64),
    pub(super) wage: i64,
    pub(super) extra: i64,
    pub(super) shift: i64,
    /// Length of lunch and the time by which it must begin.
    pub(super) lunch: Option<(i64, i64)>,
    pub(super) stops_max: usize,
    /// How far below the best run's gain others still count as nearly as good, in thousandths of it.
    pub(super) near_permille: i64,
    /// Sets looked at for one answer at most.
    pub(super) sets_max: u64,
    /// `[day]`: the best run found last.
    pub(super) last: Vec<Vec<usize>>,
}

struct Hunt<'a> {
    run: &'a mut BestSet,
    items: Vec<Item>,
    /// `[item]`: most gain for a minute of work from this item on, in 1/1024.
    density: Vec<i64>,
    /// Gain of all items that take no time.
    free_gain: i64,
    longest: i64,
    /// Half the cheapest road out of and into home, and its minutes.
    home_road: i64,
    home_minutes: i64,
    best: i64,
    best_stops: Vec<usize>,
    /// Runs nearly as good as the best at the time, with their gains.
    good: Vec<(i64, Vec<usize>)>,
    /// The best promise among branches given up.
    given_up: i64,
    sets_left: u64,
}

/// A set of visits as far as it has grown.
#[derive(Clone, Copy, Default)]
struct Grown {
    gain: i64,
    gain_with_road: i64,
    minutes_with_road: i64,
    service: i64,
    load: [i64; 4],
    /// Shortest and cheapest round.
    drive: i64,
    road: i64,
}

impl BestSet {
    /// A value not above the cost of the cheapest run after prices (0 for no run), in thousandths of a cent, and a run for each crew:
    /// the best found and those nearly as good that share no visit with it or each other, then the best again. Steps towards many
    /// good runs at once lead further than towards one run many times; the floor itself takes the best alone. `values[visit]` is what a visit adds on this day after prices, [`NEVER`] when it is not allowed.
    pub(super) fn find(&mut self, day: usize, longest: i64, values: &[i64], crews: usize) -> (i64, Vec<Vec<usize>>) {
        let home = values.len();
        let mut items: Vec<Item> = (0..values.len())
            .filter(|&visit| values[visit] < NEVER)
            .map(|visit| {
                let service = self.service[visit];
                let gain = -values[visit] - 1000 * self.wage * service;
                Item { visit, service, gain, gain_with_road: gain, minutes_with_road: service, load: self.loads[visit] }
            })
            .filter(|item| {
                let round = self.time.way(home, item.visit) + self.time.way(item.visit, home);
                item.gain > 0 && round + item.service <= longest
            })
            .collect();
        let points: Vec<usize> = items.iter().map(|item| item.visit).chain([home]).collect();
        let nearest = |ways: &Rounds, at: usize| {
            let others = || points.iter().filter(|other| **other != at);
            let into = others().map(|&other| ways.way(other, at)).min().unwrap_or(0);
            let out = others().map(|&other| ways.way(at, other)).min().unwrap_or(0);
            i64::midpoint(into, out)
        };
        for item in &mut items {
            item.gain_with_road -= nearest(&self.road, item.visit);
            item.minutes_with_road += nearest(&self.time, item.visit);
        }
        let (home_road, home_minutes) = (nearest(&self.road, home), nearest(&self.time, home));
        items.sort_by(best_minutes_first);
        // Most gain for a minute of work from each item on, in 1/1024, rounded up.
        let mut density = vec![0; items.len() + 1];
        for (index, item) in items.iter().enumerate().rev() {
            density[index] = density[index + 1].max(ceil_part(item.gain, 1024, item.service.max(1)));
        }
        let warm = std::mem::take(&mut self.last[day]);
        let sets_left = self.sets_max;
        let mut hunt = Hunt {
            run: self,
            free_gain: items.iter().filter(|item| item.service == 0).map(|item| item.gain).sum(),
            items,
            density,
            longest,
            home_road,
            home_minutes,
            best: 0,
            best_stops: Vec::new(),
            good: Vec::new(),
            given_up: 0,
            sets_left,
        };
        hunt.try_again(&warm);
        hunt.grow(0, Grown::default(), &mut Vec::new());
        let (best, given_up) = (hunt.best, hunt.given_up);
        let runs = spread(hunt.good, hunt.best_stops, best - best * hunt.run.near_permille / 1000, crews);
        self.last[day] = runs.first().cloned().unwrap_or_default();
        // A run's road is rounded to the nearest cent: down by half a cent at most.
        (-best.max(given_up) - 500, runs)
    }
}

impl Hunt<'_> {
    fn eaten(&self, on_the_way: i64) -> i64 {
        self.run.lunch.filter(|lunch| on_the_way > lunch.1).map_or(0, |lunch| lunch.0)
    }

    /// What lunch and overtime cost, in thousandths of a cent, and the time away.
    fn paid_besides(&self, grown: &Grown) -> (i64, i64) {
        let eaten = self.eaten(grown.drive + grown.service);
        let away = grown.drive + grown.service + eaten;
        (1000 * (self.run.wage * eaten + self.run.extra * (away - self.run.shift).max(0)), away)
    }

    /// Starts from the best run of the step before: prices have hardly moved since.
    fn try_again(&mut self, stops: &[usize]) {
        let mut grown = Grown::default();
        for (count, &visit) in stops.iter().enumerate() {
            let Some(item) = self.items.iter().find(|item| item.visit == visit) else { return };
            grown.gain += item.gain;
            grown.service += item.service;
            grown.drive = self.run.time.grow(&stops[..=count]);
            grown.road = self.run.road.grow(&stops[..=count]);
        }
        let (besides, away) = self.paid_besides(&grown);
        let gain = grown.gain - grown.road - besides;
        if away <= self.longest && gain > self.best {
            self.best = gain;
            self.best_stops = stops.to_vec();
        }
    }

    /// What a set could bring at most with items from `first` on, every road counted as the nearest.
    fn promise(&self, first: usize, grown: &Grown, besides: i64) -> i64 {
        let mut minutes = self.longest - self.home_minutes - grown.minutes_with_road;
        let mut gain = grown.gain_with_road - self.home_road - besides;
        for item in self.items[first..].iter().take_while(|item| item.gain_with_road > 0) {
            if item.minutes_with_road > minutes {
                return gain + ceil_part(item.gain_with_road, minutes.max(0), item.minutes_with_road);
            }
            gain += item.gain_with_road;
            minutes -= item.minutes_with_road;
        }
        gain
    }

    /// What items from `first` on could bring at most in so many minutes of work.
    fn by_work(&self, first: usize, minutes: i64) -> i64 {
        self.free_gain + (self.density[first] * minutes.max(0) + 1023) / 1024
    }

    fn grow(&mut self, first: usize, grown: Grown, stops: &mut Vec<usize>) {
        if stops.len() >= self.run.stops_max {
            return;
        }
        let (besides, away) = self.paid_besides(&grown);
        let by_work = grown.gain - grown.road - besides + self.by_work(first, self.longest - away);
        for index in first..self.items.len() {
            let item = &self.items[index];
            let promise = self.promise(index, &grown, besides).min(by_work);
            if promise <= self.best {
                // Every later item promises less still.
                return;
            }
            if self.sets_left == 0 {
                self.given_up = self.given_up.max(promise);
                return;
            }
            let mut load = grown.load;
            load.iter_mut().zip(item.load).for_each(|(sum, more)| *sum += more);
            let service = grown.service + item.service;
            if load[0].max(load[1]) > self.run.truck.0
                || load[2].max(load[3]) > self.run.truck.1
                || grown.drive + service > self.longest
            {
                continue;
            }
            let next = Grown {
                gain: grown.gain + item.gain,
                gain_with_road: grown.gain_with_road + item.gain_with_road,
                minutes_with_road: grown.minutes_with_road + item.minutes_with_road,
                service,
                load,
                ..grown
            };
            // The road with one more is no shorter than without it, nor than there and back by itself with the farthest.
            let still = self.longest - grown.drive - service;
            if next.gain - grown.road - besides + self.by_work(index + 1, still) <= self.best {
                continue;
            }
            self.sets_left -= 1;
            stops.push(item.visit);
            let drive = self.run.time.grow(stops);
            if drive + service + self.eaten(drive + service) <= self.longest {
                let next = Grown { drive, road: self.run.road.grow(stops), ..next };
                let gain = next.gain - next.road - self.paid_besides(&next).0;
                if gain > self.best {
                    self.best = gain;
                    self.best_stops.clone_from(stops);
                }
                if gain > self.best - self.best * self.run.near_permille / 1000 {
                    self.good.push((gain, stops.clone()));
                }
                self.grow(index + 1, next, stops);
            }
            stops.pop();
        }
    }
}

/// A run for each crew: good ones that share no visit, best first, filled up with the best.
fn spread(mut good: Vec<(i64, Vec<usize>)>, best_stops: Vec<usize>, least: i64, crews: usize) -> Vec<Vec<usize>> {
    if best_stops.is_empty() {
        return Vec::new();
    }
    good.retain(|(gain, _)| *gain > least);
    good.sort_by(|one, other| other.0.cmp(&one.0).then_with(|| one.1.cmp(&other.1)));
    let mut runs = vec![best_stops];
    for (_, stops) in good {
        if runs.len() < crews && !runs.iter().flatten().any(|visit| stops.contains(visit)) {
            runs.push(stops);
        }
    }
    while runs.len() < crews {
        runs.push(runs[0].clone());
    }
    runs
}

/// Items that take no time first, then by gain for a minute, those that bring nothing last.
fn best_minutes_first(one: &Item, other: &Item) -> Ordering {
    let rank = |item: &Item| match (item.gain_with_road > 0, item.minutes_with_road) {
        (true, 0) => 0,
        (true, _) => 1,
        (false, _) => 2,
    };
    rank(one).cmp(&rank(other)).then_with(|| {
        let (left, right) =
            (other.gain_with_road * one.minutes_with_road, one.gain_with_road * other.minutes_with_road);
        if rank(one) == 1 { left.cmp(&right) } else { one.visit.cmp(&other.visit) }
    })
}

/// The part of a gain for some of its minutes, rounded up.
fn ceil_part(gain: i64, part: i64, minutes: i64) -> i64 {
    (gain * part + minutes - 1) / minutes
}
