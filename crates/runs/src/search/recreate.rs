//! Putting visits back: one after the other at their cheapest place, now and then looking away (Christiaens & Vanden Berghe 2020,
//! section 5.3), or the visit first that would lose most by not getting its best place (regret, Potvin & Rousseau 1993).

use outyard_base::Chance;

use super::state::State;
use super::tables::{FORBIDDEN, OUT};

/// How visits are put back.
#[derive(Clone, Copy, Debug)]
pub(super) struct Manner {
    /// Chance that a place is not looked at.
    pub(super) blink: f64,
    /// Chance that a visit is left out for this round although it has a place.
    pub(super) pass_over: f64,
    /// Share of rounds that go by regret.
    pub(super) regret: f64,
    /// Most visits, of those that were out before the round, that are tried in it.
    pub(super) old_out_max: usize,
}

/// Visits and marks reused from round to round.
#[derive(Default)]
pub(super) struct Scratch {
    /// First visits of units that are out, with a sorting key.
    out: Vec<(i64, u16)>,
    /// Rounds left until the next blink.
    to_blink: u64,
}

/// Tries to put every visit back that is out. `fresh(visit)` says whether it was taken out in this round.
pub(super) fn recreate(
    state: &mut State<'_, '_>,
    chance: &mut Chance,
    manner: Manner,
    scratch: &mut Scratch,
    fresh: &[bool],
) {
    let tables = state.tables;
    scratch.out.clear();
    let mut old = 0;
    for (visit, &fresh) in fresh.iter().enumerate() {
        if state.slot_of[visit] == OUT && !tables.units[visit].is_empty() {
            scratch.out.push((0, u16::try_from(visit).expect("visits fit")));
            old += usize::from(!fresh);
        }
    }
    if old > manner.old_out_max {
        // Too many to try all: each of the old ones gets its chance in some rounds.
        let share = f64::from(u32::try_from(manner.old_out_max).unwrap_or(u32::MAX))
            / f64::from(u32::try_from(old).unwrap_or(u32::MAX));
        scratch.out.retain(|&(_, visit)| fresh[usize::from(visit)] || chance.happens(share));
    }
    if chance.happens(manner.regret) && !tables.any_ties {
        by_regret(state, chance, manner, scratch);
        return;
    }
    sort(state, chance, scratch);
    let out = std::mem::take(&mut scratch.out);
    for &(_, unit) in &out {
        if chance.happens(manner.pass_over) {
            continue;
        }
        if let Some(slot) = cheapest_slot(state, chance, manner, scratch, unit) {
            put(state, unit, slot);
        }
    }
    scratch.out = out;
}

fn sort(state: &State<'_, '_>, chance: &mut Chance, scratch: &mut Scratch) {
    let tables = state.tables;
    let base = tables.base(0);
    let manner = chance.below(12);
    for (key, unit) in &mut scratch.out {
        let visit = usize::from(*unit);
        let ahead = match manner {
            // Dearest to leave out first.
            0..=2 => -tables.out_cost_with_followers[visit],
            // Dearest to leave out for its minutes, or for its gear, first.
            3..=4 => -tables.out_cost_with_followers[visit] / (tables.service(visit, 0) + 60),
            5 => -tables.out_cost_with_followers[visit] / (tables.out_bulk[visit].volume + 10),
            // Bulkiest first.
            6 => -tables.out_bulk[visit].volume,
            // Farthest first, nearest first.
            7 => -tables.minutes(base, visit),
            8 => tables.minutes(base, visit),
            _ => i64::try_from(chance.below(1 << 40)).expect("fits"),
        };
        *key = ahead;
    }
    scratch.out.sort_unstable();
    if tables.any_ties {
        // A second visit can only be placed once its first is.
        scratch.out.sort_by_key(|&(_, unit)| tables.depth[usize::from(unit)]);
    }
}

fn put(state: &mut State<'_, '_>, unit: u16, slot: usize) {
    let visit = usize::from(unit);
    if state.tables.units[visit].len() == 1 {
        let place = state.insertion(visit, slot).place;
        state.insert(visit, slot, place);
    } else {
        state.insert_unit(unit, slot);
    }
}

/// What a unit would add in a slot, or [`FORBIDDEN`].
fn adds(state: &mut State<'_, '_>, unit: u16, slot: usize) -> i64 {
    let visit = usize::from(unit);
    if state.tables.units[visit].len() > 1 {
        return state.unit_insertion(unit, slot).unwrap_or(FORBIDDEN);
    }
    let adds = state.insertion(visit, slot).adds;
    if adds != FORBIDDEN && state.allows(visit, slot) { adds } else { FORBIDDEN }
}

/// What leaving a unit out costs, with all that could follow it.
fn out_cost(state: &State<'_, '_>, unit: u16) -> i64 {
    let tables = state.tables;
    tables.units[usize::from(unit)].iter().map(|&member| tables.out_cost_with_followers[usize::from(member)]).sum()
}

#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a count of places")]
fn cheapest_slot(
    state: &mut State<'_, '_>,
    chance: &mut Chance,
    manner: Manner,
    scratch: &mut Scratch,
    unit: u16,
) -> Option<usize> {
    let tables = state.tables;
    let mut best = (out_cost(state, unit), None);
    for &slot in &tables.open_slots {
        if scratch.to_blink == 0 {
            // Places until the next blink: geometric, drawn once instead of a draw for every place.
            scratch.to_blink = 1 + (chance.uniform().max(1e-300).ln() / (1.0 - manner.blink).ln()) as u64;
        }
        scratch.to_blink -= 1;
        if scratch.to_blink == 0 {
            continue;
        }
        let slot = usize::from(slot);
        if tables.units[usize::from(unit)].len() == 1 {
            let visit = usize::from(unit);
            let adds = state.insertion(visit, slot).adds;
            if adds < best.0 && state.allows(visit, slot) {
                best = (adds, Some(slot));
            }
        } else {
            let adds = adds(state, unit, slot);
            if adds < best.0 {
                best = (adds, Some(slot));
            }
        }
    }
    best.1
}

fn by_regret(state: &mut State<'_, '_>, chance: &mut Chance, manner: Manner, scratch: &mut Scratch) {
    let tables = state.tables;
    scratch.out.retain(|_| !chance.happens(manner.pass_over));
    loop {
        let mut choice: Option<(i64, usize, usize)> = None;
        for index in 0..scratch.out.len() {
            let unit = scratch.out[index].1;
            let leave = out_cost(state, unit);
            let (mut first, mut second, mut at) = (leave, leave, None);
            for &slot in &tables.open_slots {
                let adds = adds(state, unit, usize::from(slot));
                if adds < first {
                    // Twins of one day would hide the regret: only another day counts as the second choice.
                    if at.is_none_or(|at| at / tables.crews != usize::from(slot) / tables.crews) {
                        second = first;
                    }
                    first = adds;
                    at = Some(usize::from(slot));
                } else if adds < second && at.is_some_and(|at| at / tables.crews != usize::from(slot) / tables.crews) {
                    second = adds;
                }
            }
            if let Some(slot) = at {
                let regret = second - first;
                if choice.is_none_or(|(best, ..)| regret > best) {
                    choice = Some((regret, index, slot));
                }
            }
        }
        let Some((_, index, slot)) = choice else { return };
        let (_, unit) = scratch.out.swap_remove(index);
        put(state, unit, slot);
    }
}
