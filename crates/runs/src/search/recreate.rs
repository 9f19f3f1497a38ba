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
    /// Chance that a visit is left out for this try although it has a place.
    pub(super) pass_over: f64,
    /// Share of tries that go by regret.
    pub(super) regret: f64,
    /// Most visits, of those that were out before the try, that are tried in it.
    pub(super) old_out_max: usize,
}

/// Visits and marks reused from try to try.
#[derive(Default)]
pub(super) struct Scratch {
    /// First visits of units that are out, with a sorting key.
    out: Vec<(i64, u16)>,
    choices: Vec<Choice>,
    /// Tries left until the next blink.
    to_blink: u64,
}

/// Tries to put every visit back that is out. `fresh(visit)` says whether it was taken out in this try; `seed` is the
/// visit around which room was made.
pub(super) fn recreate(
    state: &mut State<'_, '_>,
    chance: &mut Chance,
    manner: Manner,
    scratch: &mut Scratch,
    fresh: &[bool],
    seed: usize,
) {
    let tables = state.tables;
    scratch.out.clear();
    for (visit, &fresh) in fresh.iter().enumerate() {
        if fresh && state.slot_of[visit] == OUT && !tables.units[visit].is_empty() {
            scratch.out.push((0, u16::try_from(visit).expect("visits fit")));
        }
    }
    // Of those that were out already, the ones nearest to where room was made.
    let mut left = manner.old_out_max;
    let seed_itself = u16::try_from(seed).expect("visits fit");
    for &visit in std::iter::once(&seed_itself).chain(&tables.near[seed]) {
        let out = state.slot_of[usize::from(visit)] == OUT && !tables.units[usize::from(visit)].is_empty();
        if out && !fresh[usize::from(visit)] && chance.happens(0.8) {
            scratch.out.push((0, visit));
            left -= 1;
            if left == 0 {
                break;
            }
        }
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
    state.adds(visit, slot)
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
        if !state.has_room(usize::from(unit), usize::from(slot)) {
            continue;
        }
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
            if state.insertion(visit, slot).adds < best.0 {
                let adds = state.adds(visit, slot);
                if adds < best.0 {
                    best = (adds, Some(slot));
                }
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

/// The best and second-best choice of a unit; leaving it out is a choice too.
#[derive(Clone, Copy)]
struct Choice {
    unit: u16,
    first: i64,
    first_slot: Option<usize>,
    second: i64,
    second_slot: Option<usize>,
}

fn choose(state: &mut State<'_, '_>, unit: u16) -> Choice {
    let leave = out_cost(state, unit);
    let mut choice = Choice { unit, first: leave, first_slot: None, second: i64::MAX, second_slot: None };
    for &slot in &state.tables.open_slots {
        if !state.has_room(usize::from(unit), usize::from(slot)) {
            continue;
        }
        consider(state, &mut choice, usize::from(slot));
    }
    choice
}

/// Fits a slot that is new to a choice into it. A twin slot on the day of the first choice is no second choice: it would hide the regret.
fn consider(state: &mut State<'_, '_>, choice: &mut Choice, slot: usize) {
    let tables = state.tables;
    let single = state.tables.units[usize::from(choice.unit)].len() == 1;
    if single && state.insertion(usize::from(choice.unit), slot).adds >= choice.second {
        return;
    }
    let adds = adds(state, choice.unit, slot);
    let twin = choice.first_slot.is_some_and(|first| tables.day_of(first) == tables.day_of(slot));
    if adds < choice.first {
        if !twin {
            (choice.second, choice.second_slot) = (choice.first, choice.first_slot);
        }
        (choice.first, choice.first_slot) = (adds, Some(slot));
    } else if adds < choice.second && !twin {
        (choice.second, choice.second_slot) = (adds, Some(slot));
    }
}

fn by_regret(state: &mut State<'_, '_>, chance: &mut Chance, manner: Manner, scratch: &mut Scratch) {
    scratch.choices.clear();
    for index in 0..scratch.out.len() {
        if !chance.happens(manner.pass_over) {
            let choice = choose(state, scratch.out[index].1);
            scratch.choices.push(choice);
        }
    }
    loop {
        let regret = |choice: &Choice| choice.second.saturating_sub(choice.first);
        let wanted = (0..scratch.choices.len())
            .filter(|&index| scratch.choices[index].first_slot.is_some())
            .max_by_key(|&index| (regret(&scratch.choices[index]), std::cmp::Reverse(scratch.choices[index].unit)));
        let Some(wanted) = wanted else { return };
        let placed = scratch.choices.swap_remove(wanted);
        let slot = placed.first_slot.expect("only units with a slot are wanted");
        put(state, placed.unit, slot);
        for index in 0..scratch.choices.len() {
            let mut choice = scratch.choices[index];
            let stale = |state: &mut State<'_, '_>, at: Option<usize>, known: i64| {
                at.is_some_and(|at| at == slot || adds(state, choice.unit, at) != known)
            };
            if stale(state, choice.first_slot, choice.first) || stale(state, choice.second_slot, choice.second) {
                choice = choose(state, choice.unit);
            } else {
                consider(state, &mut choice, slot);
            }
            scratch.choices[index] = choice;
        }
    }
}
