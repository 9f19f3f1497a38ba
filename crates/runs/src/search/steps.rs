//! Small steps between two tries: one visit changes its run, trades its place with another, or pushes one out.
//!
//! Runs hold few visits, so where many yards wait for few crews a plan is first of all a choice of who goes when, and that is settled by very
//! many cheap steps rather than by few great ones (annealing, Kirkpatrick et al. 1983). A step is judged on copies of the two runs it
//! changes and is only carried out when it is taken. Visits tied to others or bound to a run are left to the great tries.

use outyard_base::Chance;

use super::state::{SlotRun, State};
use super::tables::{FORBIDDEN, OUT};

/// How far down its list of neighbours a visit looks for a partner. assumed, tuned on the bench
const PARTNERS: usize = 80;
/// Share of steps that look anywhere instead. assumed, tuned on the bench
const ANYWHERE: f64 = 0.2;

/// A visit and where it goes.
#[derive(Clone, Copy)]
pub(super) struct Moved {
    pub(super) visit: u16,
    pub(super) from: u16,
    pub(super) to: u16,
}

/// A step that could be taken.
pub(super) struct Step {
    pub(super) moved: [Moved; 2],
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
    let kind = chance.below(16);
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
    let first = moved(visit, from, to);
    priced(state, [first, first], 1)
}

fn pushed_out(state: &State<'_, '_>, visit: usize, from: u16, partner: usize, to: u16) -> Option<Step> {
    if clash(state, from, to) {
        return None;
    }
    priced(state, [moved(visit, from, to), moved(partner, to, OUT)], 2)
}

fn traded(state: &State<'_, '_>, visit: usize, slot: u16, partner: usize, other: u16) -> Option<Step> {
    if clash(state, slot, other) {
        return None;
    }
    priced(state, [moved(visit, slot, other), moved(partner, other, slot)], 2)
}

/// Two runs of one day that draw on the same trucks are not changed in one step.
fn clash(state: &State<'_, '_>, one: u16, other: u16) -> bool {
    let tables = state.tables;
    one != OUT
        && other != OUT
        && !tables.own_trucks
        && tables.day_of(usize::from(one)) == tables.day_of(usize::from(other))
}

fn priced(state: &State<'_, '_>, moved: [Moved; 2], count: usize) -> Option<Step> {
    let tables = state.tables;
    let mut adds = 0;
    for step in &moved[..count] {
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
    let mut step = Step { moved, count, runs: [(OUT, SlotRun::EMPTY); 2], run_count: 0, adds, overdraws: false };
    for slot in [moved[0].from, moved[0].to] {
        if slot == OUT {
            continue;
        }
        let leaves = moved[..count].iter().find(|step| step.from == slot).map(|step| step.visit);
        let joins = moved[..count].iter().find(|step| step.to == slot).map(|step| step.visit);
        let run = state.changed(usize::from(slot), leaves, joins)?;
        step.adds += run.cost - state.runs[usize::from(slot)].cost;
        step.runs[step.run_count] = (slot, run);
        step.run_count += 1;
    }
    let charged = state.stock_change(&moved[..count]);
    step.adds += charged;
    step.overdraws = charged > 0;
    Some(step)
}
