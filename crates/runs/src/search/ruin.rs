//! Taking visits out of a plan: strings of neighbours (Christiaens & Vanden Berghe 2020, section 5.2), whole days, and visits that
//! want the same scarce gear.

use outyard_base::Chance;

use super::state::State;
use super::tables::OUT;

/// How much is taken out in a try.
#[derive(Clone, Copy, Debug)]
pub(super) struct Strength {
    /// Visits taken out on average by strings.
    pub(super) visits_mean: f64,
    /// Longest string.
    pub(super) string_max: f64,
}

/// Takes some visits out; gives the visit around which it did.
pub(super) fn ruin(state: &mut State<'_, '_>, chance: &mut Chance, strength: Strength) -> usize {
    match chance.below(13) {
        0..=5 => {
            let seed = chance.index(state.tables.visits);
            strings(state, chance, strength, seed)
        }
        6 => days(state, chance, strength),
        7..=8 => whole_runs(state, chance, strength),
        9 => scattered(state, chance, strength),
        _ => trade(state, chance, strength),
    }
}

/// How many of the nearest visits may have to give up gear. assumed
const RIVALS: usize = 60;

/// Whole runs that come near a seed, on any day: lets them be cut anew.
fn whole_runs(state: &mut State<'_, '_>, chance: &mut Chance, strength: Strength) -> usize {
    let tables = state.tables;
    let seed = chance.index(tables.visits);
    let mut left = strength.visits_mean * chance.between(0.5, 1.7);
    for &visit in &tables.near[seed] {
        let slot = state.slot_of[usize::from(visit)];
        if slot == OUT || chance.happens(0.3) {
            continue;
        }
        let run = state.runs[usize::from(slot)];
        for &stop in run.stops() {
            state.remove(usize::from(stop));
            left -= 1.0;
        }
        if left <= 0.0 {
            break;
        }
    }
    seed
}

/// A visit that is out wants in: makes room near it on the road, and in the stock of what it needs.
fn trade(state: &mut State<'_, '_>, chance: &mut Chance, strength: Strength) -> usize {
    let tables = state.tables;
    let seed = (0..8).map(|_| chance.index(tables.visits)).find(|&visit| state.slot_of[visit] == OUT);
    let Some(seed) = seed else {
        return scattered(state, chance, strength);
    };
    let needs = &tables.parts.visits[seed].needs;
    let mut left = chance.between(1.0, 5.0);
    for _ in 0..30 {
        if left < 1.0 {
            break;
        }
        let Some(&visit) = tables.near[seed].get(chance.index(tables.visits.min(RIVALS))) else { continue };
        let visit = usize::from(visit);
        let rival = |need: &(usize, i64)| need.1 > 0 && needs.iter().any(|own| own.0 == need.0 && own.1 > 0);
        if state.slot_of[visit] != OUT && tables.parts.visits[visit].needs.iter().any(rival) {
            state.remove(visit);
            left -= 1.0;
        }
    }
    let less = Strength { visits_mean: strength.visits_mean * 0.6, ..strength };
    strings(state, chance, less, seed)
}

#[expect(
    clippy::cast_precision_loss,
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "small counts to and from shares"
)]
fn strings(state: &mut State<'_, '_>, chance: &mut Chance, strength: Strength, seed: usize) -> usize {
    let tables = state.tables;
    let (mut placed, mut runs) = (0_u32, 0_u32);
    for &slot in &tables.open_slots {
        let len = state.runs[usize::from(slot)].stops().len();
        placed += len as u32;
        runs += u32::from(len > 0);
    }
    if runs == 0 {
        return seed;
    }
    // Equations 5 to 7 of the paper.
    let mean_len = f64::from(placed) / f64::from(runs);
    let string_max = strength.string_max.min(mean_len).max(1.0);
    let strings_max = 4.0 * strength.visits_mean / (1.0 + string_max) - 1.0;
    let strings = chance.between(1.0, strings_max.max(1.0) + 1.0) as usize;
    let mut ruined: Vec<u16> = Vec::with_capacity(strings);
    for &visit in std::iter::once(&(seed as u16)).chain(&tables.near[seed]) {
        let slot = state.slot_of[usize::from(visit)];
        if slot == OUT || ruined.contains(&slot) {
            continue;
        }
        let stops = state.runs[usize::from(slot)].stops();
        let longest = string_max.min(stops.len() as f64);
        let length = (chance.between(1.0, longest + 1.0) as usize).min(stops.len());
        let place = stops.iter().position(|&stop| stop == visit).expect("it stands on its run");
        // A string of that length around the visit, anywhere it fits.
        let first_min = (place + 1).saturating_sub(length);
        let first_max = place.min(stops.len() - length);
        let first = first_min + chance.index(first_max - first_min + 1);
        let mut string = [0; crate::problem::STOPS_MAX];
        string[..length].copy_from_slice(&stops[first..first + length]);
        for &stop in &string[..length] {
            state.remove(usize::from(stop));
        }
        ruined.push(slot);
        if ruined.len() == strings {
            break;
        }
    }
    seed
}

/// All runs of a few slots, near in time: lets visits trade days.
fn days(state: &mut State<'_, '_>, chance: &mut Chance, strength: Strength) -> usize {
    let tables = state.tables;
    if tables.open_slots.is_empty() {
        return 0;
    }
    let mut slots: Vec<(usize, u64, u16)> = Vec::with_capacity(tables.open_slots.len());
    let seed_day = tables.day_of(usize::from(tables.open_slots[chance.index(tables.open_slots.len())]));
    for &slot in &tables.open_slots {
        slots.push(((tables.day_of(usize::from(slot))).abs_diff(seed_day), chance.below(1 << 32), slot));
    }
    slots.sort_unstable();
    let mut left = strength.visits_mean * chance.between(0.5, 1.5);
    for (_, _, slot) in slots {
        let run = state.runs[usize::from(slot)];
        for &stop in run.stops() {
            state.remove(usize::from(stop));
            left -= 1.0;
        }
        if left <= 0.0 {
            break;
        }
    }
    chance.index(tables.visits)
}

/// Single visits anywhere, or those nearest a seed whatever run they stand on.
fn scattered(state: &mut State<'_, '_>, chance: &mut Chance, strength: Strength) -> usize {
    let tables = state.tables;
    let mut left = strength.visits_mean * chance.between(0.2, 1.2);
    let around = chance.happens(0.5);
    let seed = chance.index(tables.visits);
    for step in 0..tables.visits {
        if left <= 0.0 {
            break;
        }
        let visit = if around && step < tables.near[seed].len() {
            usize::from(tables.near[seed][step])
        } else {
            chance.index(tables.visits)
        };
        if state.slot_of[visit] != OUT {
            state.remove(visit);
            left -= 1.0;
        }
    }
    seed
}
