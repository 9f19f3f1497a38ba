//! The best order of the stops of one run.
//!
//! Without gates and with nothing brought home only the road counts: Held & Karp 1962, exact for the road cost at the run's wage.
//! Otherwise a run of few stops is tried in all orders, cutting off every beginning whose road already costs as much as the best order
//! known; a longer one is mended by moving one stop or turning a stretch round (Or 1976, Croes 1958) until nothing helps. Longer runs
//! come up often and are taken apart again soon: a full listing of their orders took nine tenths of the time on plans
//! with gates.

use super::state::State;
use super::tables::Tables;
use crate::problem::STOPS_MAX;

/// Most stops of a bound run that is tried in all orders. assumed
const ALL_ORDERS_MAX: usize = 4;
/// Most passes of mending a longer one. assumed
const PASSES_MAX: usize = 4;

/// Puts the stops of a run in their best order.
pub(super) fn improve(state: &mut State<'_, '_>, slot: usize) {
    let len = state.runs[slot].stops().len();
    if len < 2 {
        return;
    }
    let mut stops = [0; STOPS_MAX];
    stops[..len].copy_from_slice(state.runs[slot].stops());
    if state.order_is_bound(slot) && len <= ALL_ORDERS_MAX {
        let mut tried = Trial { slot, best_road: i64::MAX, order: [0; STOPS_MAX], len: 0 };
        try_orders(state, &mut tried, &mut stops[..len].to_vec(), 0);
    } else if state.order_is_bound(slot) {
        mend(state, slot, len);
    } else if len > 3 || (len == 3 && asymmetric(state.tables, slot, &stops[..len])) {
        let order = shortest_round(state.tables, slot, &stops[..len]);
        state.reorder(slot, &order[..len]);
    } else if len == 3 {
        // On symmetric roads only the middle stop matters.
        for middle in [0, 2] {
            let mut order = stops;
            order.swap(middle, 1);
            state.reorder(slot, &order[..len]);
        }
    } else {
        stops.swap(0, 1);
        state.reorder(slot, &stops[..len]);
    }
}

fn asymmetric(tables: &Tables<'_>, slot: usize, stops: &[u16]) -> bool {
    let base = tables.base(tables.crew_of(slot));
    let points = || stops.iter().map(|&stop| usize::from(stop)).chain([base]);
    points().any(|from| points().any(|to| tables.road(from, to) != tables.road(to, from)))
}

/// Thousandths of a cent for driving from one point to another at the plain wage.
fn road_price(tables: &Tables<'_>, wage: i64, from: usize, to: usize) -> i64 {
    let [minutes, metres] = tables.road(from, to);
    1000 * wage * i64::from(minutes) + tables.cents_per_km * i64::from(metres)
}

fn shortest_round(tables: &Tables<'_>, slot: usize, stops: &[u16]) -> [u16; STOPS_MAX] {
    let crew = tables.crew_of(slot);
    let wage = tables.terms[crew].wage;
    let base = tables.base(crew);
    let len = stops.len();
    let price = |from: usize, to: usize| {
        let point = |index: usize| if index == len { base } else { usize::from(stops[index]) };
        road_price(tables, wage, point(from), point(to))
    };
    let sets = 1 << len;
    // least[set * len + last]: cheapest way from home through a set, ending at `last`; and the stop before it.
    let mut least = vec![(i64::MAX, 0_u8); sets * len];
    for stop in 0..len {
        least[(1 << stop) * len + stop].0 = price(len, stop);
    }
    for set in 1..sets {
        for last in (0..len).filter(|last| set >> last & 1 == 1) {
            let (so_far, _) = least[set * len + last];
            if so_far == i64::MAX {
                continue;
            }
            for next in (0..len).filter(|next| set >> next & 1 == 0) {
                let cell = &mut least[(set | 1 << next) * len + next];
                let longer = so_far + price(last, next);
                if longer < cell.0 {
                    *cell = (longer, u8::try_from(last).expect("few stops"));
                }
            }
        }
    }
    let mut set = sets - 1;
    let mut last =
        (0..len).min_by_key(|&last| least[set * len + last].0 + price(last, len)).expect("at least one stop");
    let mut order = [0; STOPS_MAX];
    for place in (0..len).rev() {
        order[place] = stops[last];
        let before = usize::from(least[set * len + last].1);
        set &= !(1 << last);
        last = before;
    }
    order
}

/// Moves single stops and turns stretches round as long as that makes the run cheaper.
fn mend(state: &mut State<'_, '_>, slot: usize, len: usize) {
    for _ in 0..PASSES_MAX {
        let mut better = false;
        for from in 0..len {
            for to in 0..len {
                if from != to {
                    better |= try_change(state, slot, len, |stops| {
                        if from < to { stops[from..=to].rotate_left(1) } else { stops[to..=from].rotate_right(1) }
                    });
                }
            }
        }
        for first in 0..len {
            for last in first + 2..len {
                better |= try_change(state, slot, len, |stops| stops[first..=last].reverse());
            }
        }
        if !better {
            return;
        }
    }
}

/// Tries one change of the order; keeps it when the run gets cheaper. Orders whose road alone costs as much are not timed.
fn try_change(state: &mut State<'_, '_>, slot: usize, len: usize, change: impl Fn(&mut [u16])) -> bool {
    let mut order = [0; STOPS_MAX];
    order[..len].copy_from_slice(state.runs[slot].stops());
    change(&mut order[..len]);
    let tables = state.tables;
    let crew = tables.crew_of(slot);
    let (wage, base) = (tables.terms[crew].wage, tables.base(crew));
    let mut road = 0;
    let mut from = base;
    for &stop in &order[..len] {
        road += road_price(tables, wage, from, usize::from(stop));
        from = usize::from(stop);
    }
    road += road_price(tables, wage, from, base);
    road < state.runs[slot].cost.saturating_mul(1000) && state.reorder(slot, &order[..len])
}

struct Trial {
    slot: usize,
    best_road: i64,
    order: [u16; STOPS_MAX],
    len: usize,
}

fn try_orders(state: &mut State<'_, '_>, trial: &mut Trial, left: &mut Vec<u16>, road: i64) {
    if road >= trial.best_road {
        return;
    }
    let tables = state.tables;
    let crew = tables.crew_of(trial.slot);
    let wage = tables.terms[crew].wage;
    let from = trial.len.checked_sub(1).map_or(tables.base(crew), |last| usize::from(trial.order[last]));
    if left.is_empty() {
        let order = trial.order;
        if state.reorder(trial.slot, &order[..trial.len]) {
            // No road as long as the whole cost can belong to a cheaper run.
            trial.best_road = state.runs[trial.slot].cost.saturating_mul(1000);
        }
        return;
    }
    for index in 0..left.len() {
        let stop = left.remove(index);
        trial.order[trial.len] = stop;
        trial.len += 1;
        try_orders(state, trial, left, road + road_price(tables, wage, from, usize::from(stop)));
        trial.len -= 1;
        left.insert(index, stop);
    }
}
