//! Small steps between two tries: one visit changes its run, trades its place with another, or pushes one out; two runs trade their
//! ends, or their days.
//!
//! Runs hold few visits, so where many yards wait for few crews a plan is first of all a choice of who goes when, and that is settled by very
//! many cheap steps rather than by few great ones (annealing, Kirkpatrick et al. 1983). A step is judged on copies of the two runs it
//! changes and is only carried out when it is taken. Visits tied to others or bound to a run are left to the great tries.

use outyard_base::Chance;

use super::state::{SlotRun, State};
use super::tables::{FORBIDDEN, OUT};
use crate::problem::STOPS_MAX;

/// How far down its list of neighbours a visit looks for a partner. assumed, tuned on the bench
const PARTNERS: usize = 80;
/// How many kinds of steps are drawn from; those from 16 on change two runs at once. assumed, tuned on the bench
const KINDS: u64 = 20;
/// Share of steps that look anywhere instead. assumed, tuned on the bench
const ANYWHERE: f64 = 0.2;

/// Most visits that change their run in one step.
const MOVED_MAX: usize = 2 * STOPS_MAX;

/// A visit and where it goes.
#[derive(Clone, Copy)]
pub(super) struct Moved {
    pub(super) visit: u16,
    pub(super) from: u16,
    pub(super) to: u16,
}

/// A step that could be taken.
pub(super) struct Step {
    pub(super) moved: [Moved; MOVED_MAX],
    pub(super) count: usize,
    pub(super) runs: [(u16, SlotRun); 2],
    pub(super) run_count: usize,
    pub(super) adds: i64,
    /// Whether it takes out more gear than there is, or still more.
    pub(super) overdraws: bool,
}

/// Draws a step and says what it would add to the bill; `None` when it cannot be done.
pub(super) fn draw(state: &State<'_, '_>, chance: &mut Chance) -> Option<Step> {
    let tables = state.tables;
    let visit = chance.index(tables.visits);
    let kind = chance.below(KINDS);
    let slot = state.slot_of[visit];
    if !tables.is_free(visit) {
        return None;
    }
    let near = &tables.near[visit];
    let partner = if near.is_empty() || kind == 0 || chance.happens(ANYWHERE) {
        chance.index(tables.visits)
    } else {
        usize::from(near[chance.index(near.len().min(PARTNERS))])
    };
    let other = state.slot_of[partner];
    let lone = |to: u16| relocated(state, visit, slot, to);
    match kind {
        16 if slot != OUT => {
            let any = tables.open_slots[chance.index(tables.open_slots.len())];
            days_traded(state, slot, any)
        }
        17..KINDS if slot != OUT && other != OUT && other != slot => ends_traded(state, chance, [visit, partner]),
        16..KINDS => None,
        // Into any slot at all, perhaps an empty one.
        0 => lone(tables.open_slots[chance.index(tables.open_slots.len())]),
        1..=4 if other != OUT => lone(other),
        1..=2 if slot != OUT => lone(OUT),
        _ if other == slot || !tables.is_free(partner) => None,
        // Takes the partner's place; the partner is left out.
        5..=6 if other != OUT && slot != OUT => pushed_out(state, visit, slot, partner, other),
        _ => traded(state, visit, slot, partner, other),
    }
}

fn moved(visit: usize, from: u16, to: u16) -> Moved {
    Moved { visit: u16::try_from(visit).expect("visits fit"), from, to }
}

fn relocated(state: &State<'_, '_>, visit: usize, from: u16, to: u16) -> Option<Step> {
    if from == to || clash(state, from, to) {
        return None;
    }
    priced(state, &[moved(visit, from, to)])
}

fn pushed_out(state: &State<'_, '_>, visit: usize, from: u16, partner: usize, to: u16) -> Option<Step> {
    if clash(state, from, to) {
        return None;
    }
    priced(state, &[moved(visit, from, to), moved(partner, to, OUT)])
}

fn traded(state: &State<'_, '_>, visit: usize, slot: u16, partner: usize, other: u16) -> Option<Step> {
    if clash(state, slot, other) {
        return None;
    }
    priced(state, &[moved(visit, slot, other), moved(partner, other, slot)])
}

/// Two runs of one day that draw on the same trucks are not changed in one step.
fn clash(state: &State<'_, '_>, one: u16, other: u16) -> bool {
    let tables = state.tables;
    one != OUT
        && other != OUT
        && !tables.own_trucks
        && tables.day_of(usize::from(one)) == tables.day_of(usize::from(other))
}

/// Whole runs trade their slots: another day, or another crew.
fn days_traded(state: &State<'_, '_>, one: u16, other: u16) -> Option<Step> {
    if one == other || clash(state, one, other) {
        return None;
    }
    let runs = [one, other].map(|slot| &state.runs[usize::from(slot)]);
    reformed(state, [one, other], [runs[1].stops(), runs[0].stops()])
}

/// Two runs are cut at a visit each and trade what comes from there on, or two short stretches from there on.
fn ends_traded(state: &State<'_, '_>, chance: &mut Chance, visits: [usize; 2]) -> Option<Step> {
    let slots = visits.map(|visit| state.slot_of[visit]);
    if clash(state, slots[0], slots[1]) {
        return None;
    }
    let stops = slots.map(|slot| state.runs[usize::from(slot)].stops());
    let cut = [0, 1].map(|side: usize| {
        let own = u16::try_from(visits[side]).expect("visits fit");
        stops[side].iter().position(|&stop| stop == own).expect("a visit stands on its run")
    });
    let whole_ends = chance.happens(0.5);
    let end = [0, 1].map(|side: usize| {
        let left = stops[side].len() - cut[side];
        if whole_ends { cut[side] + left } else { cut[side] + 1 + chance.index(left.min(3)) }
    });
    let mut lists = [[0; 2 * STOPS_MAX]; 2];
    let mut lens = [0; 2];
    for side in 0..2 {
        let other = 1 - side;
        for piece in [&stops[side][..cut[side]], &stops[other][cut[other]..end[other]], &stops[side][end[side]..]] {
            lists[side][lens[side]..lens[side] + piece.len()].copy_from_slice(piece);
            lens[side] += piece.len();
        }
        if lens[side] > state.tables.stops_max {
            return None;
        }
    }
    reformed(state, slots, [&lists[0][..lens[0]], &lists[1][..lens[1]]])
}

/// Two runs with other stops; what neither had before may not join.
fn reformed(state: &State<'_, '_>, slots: [u16; 2], stops: [&[u16]; 2]) -> Option<Step> {
    let tables = state.tables;
    let mut step = Step::empty();
    for (slot, stops) in slots.into_iter().zip(stops) {
        for &stop in stops {
            let visit = usize::from(stop);
            let from = state.slot_of[visit];
            if from == slot {
                continue;
            }
            let cost = tables.place_cost(visit, usize::from(slot));
            if cost == FORBIDDEN || !tables.is_free(visit) {
                return None;
            }
            step.adds += cost - tables.place_cost(visit, usize::from(from));
            step.moved[step.count] = Moved { visit: stop, from, to: slot };
            step.count += 1;
        }
        let run = state.with_stops(usize::from(slot), stops)?;
        step.adds += run.cost - state.runs[usize::from(slot)].cost;
        step.runs[step.run_count] = (slot, run);
        step.run_count += 1;
    }
    step.charge_stock(state);
    Some(step)
}

impl Step {
    fn empty() -> Self {
        let nobody = Moved { visit: 0, from: OUT, to: OUT };
        Self {
            moved: [nobody; MOVED_MAX],
            count: 0,
            runs: [(OUT, SlotRun::EMPTY); 2],
            run_count: 0,
            adds: 0,
            overdraws: false,
        }
    }

    fn charge_stock(&mut self, state: &State<'_, '_>) {
        let charged = state.stock_change(&self.moved[..self.count]);
        self.adds += charged;
        self.overdraws = charged > 0;
    }
}

fn priced(state: &State<'_, '_>, moved: &[Moved]) -> Option<Step> {
    let tables = state.tables;
    let mut adds = 0;
    for step in moved {
        let cost = |slot: u16| {
            let visit = usize::from(step.visit);
            if slot == OUT { tables.out_cost[visit] } else { tables.place_cost(visit, usize::from(slot)) }
        };
        let to = cost(step.to);
        if to == FORBIDDEN {
            return None;
        }
        adds += to - cost(step.from);
    }
    let mut step = Step::empty();
    step.adds = adds;
    step.moved[..moved.len()].copy_from_slice(moved);
    step.count = moved.len();
    for slot in [moved[0].from, moved[0].to] {
        if slot == OUT {
            continue;
        }
        let leaves = moved.iter().find(|step| step.from == slot).map(|step| step.visit);
        let joins = moved.iter().find(|step| step.to == slot).map(|step| step.visit);
        let run = state.changed(usize::from(slot), leaves, joins)?;
        step.adds += run.cost - state.runs[usize::from(slot)].cost;
        step.runs[step.run_count] = (slot, run);
        step.run_count += 1;
    }
    step.charge_stock(state);
    Some(step)
}
