//! The strong floor, stronger where stock is short: gear goes out by whole visits, not by pieces.
//!
//! A price on each piece of stock lets a plan do half a visit with the last half of the boxes. So each limit on the stock gets a copy of its own of the
//! question "which visits have gone out by then?", answered in whole visits by a knapsack (Bellman 1957), and prices between
//! copy and runs instead of a price on pieces (Lagrangian decomposition, Guignard & Kim 1987). Started from the prices on
//! pieces it can only rise: at those prices the knapsack gives back at most what the stock was charged.
//!
//! | symbol | name in code | meaning | unit | value | source |
//! |---|---|---|---|---|---|
//! | σ | `price` | price of a visit having gone out by the day of a limit | thousandth of a cent | found | [GuignardKim1987] |
//! | - | `CELLS_MAX` | most cells of all knapsacks together | - | 4,000,000 | assumed |

use outyard_base::Cents;

use super::every_run::Prices;
use crate::problem::RunParts;

const CELLS_MAX: i64 = 4_000_000;
/// Steps of the price search. assumed
const STEPS: usize = 4000;
/// Steps without gain after which the stride is halved. assumed
const PATIENCE: usize = 60;
/// Share of the last direction kept in the next (Camerini, Fratta & Maffioli 1975). assumed
const KEPT: f64 = 0.8;
/// Largest price, far from overflow in any sum.
const PRICE_MAX: i64 = 100_000_000_000_000;

/// A limit on a kind of gear: so much may have gone out by the end of a day.
struct Limit {
    last_day: usize,
    /// Visits that need the gear, with how much, in units of their common divisor.
    items: Vec<(usize, usize)>,
    room: usize,
    /// `[item]`: price of the visit having gone out by then.
    price: Vec<i64>,
    /// `[item]`: how often it went out by then in the runs, less whether the knapsack took it.
    over: Vec<i64>,
}

/// The best floor found, in thousandths of a cent; `None` when there is no stock to be short of, or too much to look at piece by piece.
pub(super) fn floor(prices: &mut Prices<'_>, target: Cents, stop: &dyn Fn() -> bool) -> Option<i128> {
    let mut limits = limits(prices);
    let cells = |limit: &Limit| i64::try_from(limit.room * limit.items.len()).unwrap_or(i64::MAX);
    if limits.is_empty() || limits.iter().map(cells).fold(0, i64::saturating_add) > CELLS_MAX {
        return None;
    }
    Some(climb(prices, &mut limits, target, stop))
}

fn divisor(one: i64, other: i64) -> i64 {
    if other == 0 { one } else { divisor(other, one % other) }
}

/// The last day of each level of the stock, with prices carried over from those on pieces.
fn limits(prices: &Prices<'_>) -> Vec<Limit> {
    let parts: &RunParts = prices.problem.parts();
    let days = parts.days.len();
    let mut limits = Vec::new();
    for (gear, kind) in parts.gear.iter().enumerate() {
        let need = |visit: usize| -> i64 {
            parts.visits[visit].needs.iter().filter(|need| need.0 == gear).map(|need| need.1).sum()
        };
        let items: Vec<usize> = (0..parts.visits.len()).filter(|&visit| need(visit) > 0).collect();
        let unit = items.iter().fold(0, |unit, &visit| divisor(unit, need(visit))).max(1);
        let wanted: i64 = items.iter().map(|&visit| need(visit)).sum();
        // What is gone stays gone, so a day's room is the least stock from it on.
        let mut room = kind.stock.clone();
        for day in (0..days.saturating_sub(1)).rev() {
            room[day] = room[day].min(room[day + 1]);
        }
        let mut charge = 0;
        for day in 0..days {
            charge += prices.stock_price[gear * days + day];
            if (day + 1 < days && room[day + 1] == room[day]) || room[day] >= wanted {
                continue;
            }
            limits.push(Limit {
                last_day: day,
                items: items
                    .iter()
                    .map(|&visit| (visit, usize::try_from(need(visit) / unit).expect("needs are above 0")))
                    .collect(),
                room: usize::try_from(room[day] / unit).expect("stock is never below 0"),
                price: items.iter().map(|&visit| charge * need(visit)).collect(),
                over: vec![0; items.len()],
            });
            charge = 0;
        }
    }
    limits
}

impl Limit {
    /// The dearest choice of visits that the room allows; each chosen one lowers its `over`.
    fn knapsack(&mut self, best: &mut Vec<i64>, taken: &mut Vec<bool>) -> i64 {
        let width = self.room + 1;
        best.clear();
        best.resize(width, 0);
        taken.clear();
        taken.resize(width * self.items.len(), false);
        for (index, (&(_, size), &price)) in self.items.iter().zip(&self.price).enumerate() {
            if price <= 0 || size > self.room {
                continue;
            }
            let row = &mut taken[index * width..(index + 1) * width];
            for used in (size..width).rev() {
                let with = best[used - size] + price;
                if with > best[used] {
                    best[used] = with;
                    row[used] = true;
                }
            }
        }
        let mut used = self.room;
        for index in (0..self.items.len()).rev() {
            if taken[index * width + used] {
                self.over[index] -= 1;
                used -= self.items[index].1;
            }
        }
        best[self.room]
    }
}

struct Scratch {
    best: Vec<i64>,
    taken: Vec<bool>,
}

/// The floor at the prices as they stand; leaves the slacks for the next step.
fn floor_at(prices: &mut Prices<'_>, limits: &mut [Limit], scratch: &mut Scratch) -> i128 {
    let mut floor = prices.once_or_out();
    for limit in limits.iter_mut() {
        limit.over.fill(0);
        floor -= i128::from(limit.knapsack(&mut scratch.best, &mut scratch.taken));
    }
    for day in 0..prices.problem.day_count() {
        prices.charges.fill(0);
        for limit in limits.iter().filter(|limit| day <= limit.last_day) {
            for (&(visit, _), price) in limit.items.iter().zip(&limit.price) {
                prices.charges[visit] += price;
            }
        }
        prices.ties.charge(day, &mut prices.charges);
        floor += i128::from(prices.runs_on(day));
        for limit in limits.iter_mut().filter(|limit| day <= limit.last_day) {
            for (&(visit, _), over) in limit.items.iter().zip(&mut limit.over) {
                *over += prices.chosen[visit];
            }
        }
    }
    floor
}

/// Steps of Polyak 1969 towards `target`.
#[expect(clippy::cast_precision_loss, clippy::cast_possible_truncation, reason = "prices may be any whole numbers")]
fn climb(prices: &mut Prices<'_>, limits: &mut [Limit], target: Cents, stop: &dyn Fn() -> bool) -> i128 {
    let mut scratch = Scratch { best: Vec::new(), taken: Vec::new() };
    let mut now = floor_at(prices, limits, &mut scratch);
    let mut best = now;
    let all_prices = |prices: &Prices<'_>, limits: &[Limit]| -> Vec<i64> {
        prices.visit_price.iter().chain(limits.iter().flat_map(|limit| &limit.price)).copied().collect()
    };
    let set_prices = |prices: &mut Prices<'_>, limits: &mut [Limit], all: &[i64]| {
        let (visits, rest) = all.split_at(prices.visit_price.len());
        prices.visit_price.copy_from_slice(visits);
        limits.iter_mut().flat_map(|limit| &mut limit.price).zip(rest).for_each(|(price, kept)| *price = *kept);
    };
    let mut kept = all_prices(prices, limits);
    let mut way = vec![0.0; kept.len()];
    let (mut stride, mut since_gain) = (1.0, 0);
    for _ in 0..STEPS {
        if stop() || stride < 1e-4 {
            break;
        }
        let slacks = prices.visit_slack.iter().chain(limits.iter().flat_map(|limit| &limit.over));
        let mut square = 0.0;
        for (way, slack) in way.iter_mut().zip(slacks) {
            *way = *slack as f64 + KEPT * *way;
            square += *way * *way;
        }
        if square < 1e-9 {
            break;
        }
        let step = stride * ((i128::from(target.0) * 1000 - now) as f64).max(1000.0) / square;
        let mut all = all_prices(prices, limits);
        for (price, way) in all.iter_mut().zip(&way) {
            *price = (*price + (step * way) as i64).clamp(-PRICE_MAX, PRICE_MAX);
        }
        set_prices(prices, limits, &all);
        now = floor_at(prices, limits, &mut scratch);
        if now > best {
            best = now;
            kept = all;
            since_gain = 0;
        } else {
            since_gain += 1;
            if since_gain >= PATIENCE {
                since_gain = 0;
                stride *= 0.6;
                set_prices(prices, limits, &kept);
                way.fill(0.0);
                now = floor_at(prices, limits, &mut scratch);
            }
        }
    }
    best
}
