//! What stands above the excluder, and how fast it fills.
//!
//! | symbol | name in code | meaning | unit | value | source |
//! |---|---|---|---|---|---|
//! | k | `vigour` | gain of a kind of colony against a strong double | of 1 | 1.0 double and single, 0.6 split, 0.3 weak, 0.2 queenless | assumed |
//! | S | `Room::super_kg` | honey the supers hold | kg | 24 a deep | common practice, no source |
//! | U | `Room::upper_box_kg` | honey the upper brood box holds once hatched | kg | 24 for a double put down | common practice, no source |
//! | u | `LIFTED_FRAMES_SHARE` | part of a box two lifted frames are | of 1 | 0.2 | arithmetic: 2 of 10 frames |

use jiff::civil::Date;
use outyard_base::days::days_from;
use outyard_season::fill::{FillState, HATCH_DAYS, Room, fill_day};
use outyard_trade::{Kind, KindCounts};

use super::{YardSeason, YardToday};

/// Part of a box that two lifted frames are (2 of 10 frames).
const LIFTED_FRAMES_SHARE: f64 = 0.2;

/// Gain of a kind of colony against a strong double: assumed, until the outfit's own scales tell.
pub(super) fn vigour(kind: Kind) -> f64 {
    match kind {
        Kind::Double | Kind::Single => 1.0,
        Kind::Split => 0.6,
        Kind::Weak => 0.3,
        Kind::Queenless => 0.2,
    }
}

/// Colonies of one yard that fill alike.
#[derive(Clone, Debug, PartialEq)]
pub struct Stack {
    /// Kind they were at the put-down.
    pub kind: Kind,
    /// How many.
    pub colonies: u32,
    /// Day 0 of their brood clocks.
    pub day0: Date,
    /// Room above the excluder of one of them.
    pub room: Room,
    /// Where one of them stands this morning.
    pub now: FillState,
}

impl Stack {
    /// Days from this morning until the boxes are full in one member; `None` when not within its days.
    pub fn full_in(&self, gains_of_strong: &[f64]) -> Option<f64> {
        let gains: Vec<f64> = gains_of_strong.iter().map(|gain| gain * vigour(self.kind)).collect();
        fill_day(&self.room, self.now, &gains).map(|day| day - self.now.day)
    }

    /// Honey one colony can still take this morning, kg.
    pub fn free_kg(&self) -> f64 {
        (self.room.capacity_kg(self.now.day) - self.now.held_kg).max(0.0)
    }

    /// How full it stands this morning.
    pub fn share_full(&self) -> f64 {
        let room = self.room.capacity_kg(self.now.day);
        if room > 0.0 { (self.now.held_kg / room).clamp(0.0, 1.0) } else { 1.0 }
    }
}

/// The stacks of a yard: one for each kind in each put-down. Boxes counted on the hives are shared out evenly; where
/// none were counted, the one third of the put-down stands there.
pub fn stacks(yard: &YardToday, season: &YardSeason, today: Date, deep_honey_kg: f64, boxes_kg: f64) -> Vec<Stack> {
    let put_down: u32 = yard.put_downs.iter().map(|round| round.colonies.total()).sum();
    if put_down == 0 {
        return Vec::new();
    }
    let supers_kg = if boxes_kg > 0.0 { boxes_kg / f64::from(put_down) } else { deep_honey_kg };
    let mut all = Vec::new();
    for round in &yard.put_downs {
        for (kind, colonies) in round.colonies.iter() {
            let upper = if kind == Kind::Double { 1.0 } else { LIFTED_FRAMES_SHARE };
            let room = Room { super_kg: supers_kg, upper_box_kg: deep_honey_kg * upper, hatch_days: HATCH_DAYS };
            let now = standing(yard, season, round.day0, today, &room, vigour(kind));
            all.push(Stack { kind, colonies, day0: round.day0, room, now });
        }
    }
    all
}

/// What a colony holds this morning: from the last look into the boxes, or from the put-down, with the gains since.
fn standing(yard: &YardToday, season: &YardSeason, day0: Date, today: Date, room: &Room, vigour: f64) -> FillState {
    #[expect(clippy::cast_precision_loss, reason = "days of one season")]
    let day = days_from(day0, today).max(0) as f64;
    let (from, held) = match yard.fullness {
        Some((seen_on, share)) if seen_on > day0 && seen_on <= today => {
            #[expect(clippy::cast_precision_loss, reason = "days of one season")]
            let seen_day = days_from(day0, seen_on) as f64;
            (seen_on, share.get() * room.capacity_kg(seen_day))
        }
        _ => (day0, 0.0),
    };
    let since = days_from(from, today).max(0);
    let held = (0..since).fold(held, |held, ahead| {
        let gain = season.seen_on(outyard_base::days::plus_days(from, ahead)).unwrap_or(0.0);
        (held + gain * vigour).max(0.0)
    });
    FillState { day, held_kg: held.min(room.capacity_kg(day)) }
}

/// All colonies of the stacks.
pub(super) fn colonies_of(stacks: &[Stack]) -> KindCounts {
    stacks.iter().map(|stack| KindCounts::of(&[(stack.kind, stack.colonies)])).sum()
}
