//! The strong floor by column generation: a linear program over the runs found so far sets prices, hunts at prices between these and the best so far find
//! runs that are cheaper still, and the floor is summed at the prices hunted at.
//!
//! Prices straight from the program swing; a mean of them and those of the best floor swings less (Wentges 1997).
//!
//! | symbol | name in code | meaning | unit | value | source |
//! |---|---|---|---|---|---|
//! | α | `hold` | share of the best prices in those hunted at | - | 0.7, less where nothing new is found | [Wentges1997]; the value is assumed |
//! | - | `PATHS_FIRST` | paths grown of one length at first | - | 200, four times as many where nothing new is found | assumed |
//! | - | `RUNS_PER_HUNT` | runs taken from one hunt | - | 20 | assumed |

use outyard_base::Cents;

use super::every_run::{Means, Prices};
use super::master::{Entries, Master};
use crate::plan::Plan;

const HOLD: f64 = 0.7;
const PATHS_FIRST: usize = 200;
const PATHS_LAST: usize = 50_000;
const RUNS_PER_HUNT: usize = 20;
const ROUNDS_MAX: usize = 400;
/// The program and the floor are as good as one within this share.
const NEAR_ENOUGH: f64 = 0.000_2;
/// Steps of the program between two rounds of hunts at most. assumed
const STEPS_MAX: usize = 3_000;

/// Where the rows of the program stand: visits, then crews by day, then stock, then ties.
struct Rows {
    visits: usize,
    days: usize,
    crews: usize,
    /// `[gear * days + day]`: row of a limit on the stock, if it may bind.
    stock: Vec<Option<usize>>,
    ties: usize,
    /// Pieces that count as one in a row of stock.
    yardstick: f64,
    all: Vec<(f64, f64)>,
}

impl Rows {
    #[expect(clippy::cast_precision_loss, reason = "prices may be any numbers")]
    fn new(prices: &Prices<'_>) -> Self {
        let parts = prices.problem.parts();
        let (visits, days) = (parts.visits.len(), parts.days.len());
        let mut all: Vec<(f64, f64)> = (0..visits).map(|visit| (1.0, prices.leave(visit) as f64 / 1000.0)).collect();
        let crews = all.len();
        for class in 0..prices.class_count() {
            all.extend((0..days).map(|day| (prices.crews_at_work(class, day) as f64, 0.0)));
        }
        let yardstick = 20.0;
        let mut stock = vec![None; parts.gear.len() * days];
        for (gear, kind) in parts.gear.iter().enumerate() {
            let wanted: i64 = parts
                .visits
                .iter()
                .flat_map(|visit| &visit.needs)
                .filter(|need| need.0 == gear)
                .map(|need| need.1)
                .sum();
            for day in 0..days {
                // A limit that a later day makes no looser says nothing more.
                let later = kind.stock[day + 1..].iter().min().is_some_and(|least| *least <= kind.stock[day]);
                if kind.stock[day] < wanted && !later {
                    stock[gear * days + day] = Some(all.len());
                    all.push((kind.stock[day] as f64 / yardstick, 0.0));
                }
            }
        }
        let ties = all.len();
        all.extend(prices.ties.price.iter().map(|_| (0.0, 0.0)));
        Self { visits, days, crews, stock, ties, yardstick, all }
    }

    /// What a run takes of every row.
    #[expect(clippy::cast_precision_loss, reason = "small counts")]
    fn entries(&self, prices: &Prices<'_>, class: usize, day: usize, stops: &[usize]) -> Entries {
        let parts = prices.problem.parts();
        let mut entries: Entries = Vec::with_capacity(3 * stops.len() + 1);
        let mut add = |row: usize, count: f64| match entries.iter_mut().find(|entry| entry.0 == row) {
            Some(entry) => entry.1 += count,
            None => entries.push((row, count)),
        };
        for &visit in stops {
            add(visit, 1.0);
            for &(gear, pieces) in &parts.visits[visit].needs {
                for later in day..self.days {
                    if let Some(row) = self.stock[gear * self.days + later] {
                        add(row, pieces as f64 / self.yardstick);
                    }
                }
            }
            prices.ties.rows_of(visit, day, &mut |row, count| add(self.ties + row, count as f64));
        }
        add(self.crews + class * self.days + day, 1.0);
        entries.retain(|entry| entry.1 != 0.0);
        entries
    }

    /// Sets the prices hunted at: between the best so far and those of the program.
    #[expect(clippy::cast_possible_truncation, clippy::cast_precision_loss, reason = "prices may be any whole numbers")]
    fn set(&self, prices: &mut Prices<'_>, best: &Kept, master: &Master, hold: f64) {
        let between = |old: i64, new: f64| (hold * old as f64 + (1.0 - hold) * 1000.0 * new).clamp(-1e14, 1e14) as i64;
        for visit in 0..self.visits {
            prices.visit_price[visit] = between(best.visits[visit], master.price[visit]);
        }
        for (cell, row) in self.stock.iter().enumerate() {
            let price = row.map_or(0.0, |row| -master.price[row] / self.yardstick);
            prices.stock_price[cell] = between(best.stock[cell], price).clamp(0, 1_000_000_000);
        }
        for cell in 0..prices.ties.price.len() {
            prices.ties.price[cell] =
                between(best.ties[cell], -master.price[self.ties + cell]).clamp(0, 1_000_000_000_000);
        }
    }
}

/// The prices of the best floor so far.
struct Kept {
    floor: i128,
    visits: Vec<i64>,
    stock: Vec<i64>,
    ties: Vec<i64>,
}

impl Kept {
    fn new(prices: &Prices<'_>, floor: i128) -> Self {
        Self {
            floor,
            visits: prices.visit_price.clone(),
            stock: prices.stock_price.clone(),
            ties: prices.ties.price.clone(),
        }
    }
}

/// The best floor found, in thousandths of a cent.
#[expect(clippy::cast_precision_loss, reason = "floors are compared by shares")]
pub(super) fn floor(prices: &mut Prices<'_>, plan: &Plan, target: Cents, means: Means<'_>) -> i128 {
    let rows = Rows::new(prices);
    let mut master = Master::new(&rows.all);
    for run in &plan.runs {
        let class = prices.class_of(run.crew);
        if let Some(cost) = prices.run_cost(class, run.day, &run.stops) {
            master.add(cost as f64 / 1000.0, rows.entries(prices, class, run.day, &run.stops));
        }
    }
    let mut paths = PATHS_FIRST;
    let mut hold = HOLD;
    prices.grow_paths(paths);
    let first = prices.floor();
    let mut best = Kept::new(prices, first);
    take_in(prices, &rows, &mut master);
    for _ in 0..ROUNDS_MAX {
        if (means.stop)() || prices.work() > means.work_max {
            break;
        }
        prices.more_work(master.solve(STEPS_MAX));
        let ceiling = master.value().min(target.0 as f64);
        if best.floor as f64 >= 1000.0 * ceiling * (1.0 - NEAR_ENOUGH) {
            break;
        }
        rows.set(prices, &best, &master, hold);
        let now = prices.floor();
        let better = now > best.floor;
        if better {
            best = Kept::new(prices, now);
        }
        let fresh = take_in(prices, &rows, &mut master);
        if fresh > 0 {
            continue;
        }
        if hold > 0.01 {
            hold = if hold > 0.2 { hold / 2.0 } else { 0.0 };
        } else if paths < PATHS_LAST && !better {
            paths *= 4;
            prices.grow_paths(paths);
        } else if !better {
            break;
        }
    }
    prices.visit_price.clone_from(&best.visits);
    prices.stock_price.clone_from(&best.stock);
    prices.ties.price.clone_from(&best.ties);
    best.floor
}

/// Takes the runs found by the last hunts into the program; how many of them it would use.
#[expect(clippy::cast_precision_loss, reason = "prices may be any numbers")]
fn take_in(prices: &mut Prices<'_>, rows: &Rows, master: &mut Master) -> usize {
    let mut fresh = 0;
    for class in 0..prices.class_count() {
        for day in 0..rows.days {
            for stops in prices.runs_found(class, day, RUNS_PER_HUNT) {
                let Some(cost) = prices.run_cost(class, day, &stops) else { continue };
                let entries = rows.entries(prices, class, day, &stops);
                let cost = cost as f64 / 1000.0;
                if master.reduced(cost, &entries) < -0.5 {
                    master.add(cost, entries);
                    fresh += 1;
                }
            }
        }
    }
    fresh
}
