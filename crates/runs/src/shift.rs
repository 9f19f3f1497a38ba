//! The shift: how long a crew may be away on a day, what its time costs, and how long it takes over a visit.

use outyard_base::{Cents, Minutes};

use crate::problem::{Crew, RunParts, Visit};

/// Longest time a crew may be away on a day, home to home; 0 when it does not work.
pub(crate) fn longest_away(parts: &RunParts, crew: usize, day: usize) -> Minutes {
    let who = &parts.crews[crew];
    if who.days_off.contains(&day) {
        return Minutes(0);
    }
    Minutes(who.shift_max.0 * i64::from(parts.days[day].usable_permille) / 1000)
}

/// How long a crew is at a visit: the setup whatever its hands, then the pair's work at its own pace, rounded up.
pub(crate) fn service_minutes(crew: &Crew, visit: &Visit) -> Minutes {
    let pace = i64::from(crew.pace_permille);
    Minutes(visit.setup_minutes.0 + (visit.pair_minutes.0 * 1000 + pace - 1) / pace)
}

/// Wages for a time away, and the extra paid for overtime.
pub(crate) fn wages(crew: &Crew, away: Minutes) -> (Cents, Cents) {
    let over = (away.0 - crew.shift.0).max(0);
    (Cents(crew.wage_per_minute.0 * away.0), Cents(crew.overtime_extra_per_minute.0 * over))
}

/// What a road of so many metres costs, rounded to the nearest cent.
pub(crate) fn road_cost(cents_per_km: Cents, metres: i64) -> Cents {
    Cents((metres * cents_per_km.0 + 500) / 1000)
}
