//! The kinds of colony as they stand on the eve of the main flow, and ways to make them.
//!
//! Numbers are those of a usual outfit; a count in the yard takes their place. A double is put down with
//! [`Colony::put_down`].
//!
//! | symbol | name in code | meaning | unit | value (double / single / split / weak / queenless) | source |
//! |---|---|---|---|---|---|
//! | N | `adults` | adult workers | bees | 50 000 / 36 000 / 22 000 / 9000 / 24 000 | common practice, no source: 20, 15, 9, 4, 10 frames |
//! | e | `eggs_per_day` | eggs of the last weeks | 1/d | 1500 / 1300 / 1000 / 450 / 0 | about H/(v + H) of her best `[Khoury2013]`; a weak queen assumed |
//! | - | `nest_boxes` | deeps the queen reaches | - | 2 / 1 / 1 / 1 / 1 | what the kinds mean |
//! | - | `honey_kg` | honey in the nest | kg | 10 / 6 / 5 / 4 / 6 | common practice, no source |
//! | - | `QUEENLESS_DAYS` | days since the last egg of a queenless colony | d | 7 | assumed |

use outyard_trade::boxes::FrameCount;
use outyard_trade::{BoxDepth, Kind};

use super::brood::{BroodRules, DroneBrood, WorkerBrood};
use super::laying::Queen;
use super::stores::{Stores, cells_of_box};
use super::{Colony, ColonyRules, Comb, Part};

/// Days since the last egg of a colony found queenless. Assumed.
const QUEENLESS_DAYS: usize = 7;

/// What makes a colony of a kind.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Standing {
    /// Adult workers.
    pub adults: f64,
    /// Eggs a day over the last weeks.
    pub eggs_per_day: f64,
    /// Days since the last egg; 0 while the queen lays.
    pub broodless_since_days: usize,
    /// Deeps the queen reaches.
    pub nest_boxes: f64,
    /// Honey in the nest, kg.
    pub honey_kg: f64,
    /// The queen.
    pub queen: Queen,
}

impl Standing {
    /// The usual standing of a kind on the eve of the main flow.
    pub fn usual(kind: Kind) -> Self {
        let good = |adults: f64, eggs_per_day: f64, nest_boxes: f64, honey_kg: f64| Self {
            adults,
            eggs_per_day,
            broodless_since_days: 0,
            nest_boxes,
            honey_kg,
            queen: Queen::GOOD,
        };
        match kind {
            Kind::Double => good(50_000.0, 1500.0, 2.0, 10.0),
            Kind::Single => good(36_000.0, 1300.0, 1.0, 6.0),
            Kind::Split => good(22_000.0, 1000.0, 1.0, 5.0),
            Kind::Weak => {
                Self { queen: Queen { eggs_per_day: 1200.0, lays_in_days: 0 }, ..good(9000.0, 450.0, 1.0, 4.0) }
            }
            Kind::Queenless => {
                Self { queen: Queen::NONE, broodless_since_days: QUEENLESS_DAYS, ..good(24_000.0, 1000.0, 1.0, 6.0) }
            }
        }
    }
}

impl Colony {
    /// A colony of a kind as it usually stands on the eve of the main flow.
    pub fn of_kind(kind: Kind, rules: &ColonyRules) -> Self {
        Self::standing(&Standing::usual(kind), rules)
    }

    /// A colony that stands so, with nothing above its nest.
    pub fn standing(standing: &Standing, rules: &ColonyRules) -> Self {
        let share =
            super::khoury::forager_share(rules.adults.recruit_most, rules.adults.inhibition, rules.adults.forager_loss);
        let survives = |age: usize, capped: usize, rules: &BroodRules| {
            let hatched = if age >= super::brood::HATCH_AGE { rules.egg_survives } else { 1.0 };
            if age >= capped { hatched * rules.larva_survives } else { hatched }
        };
        let since = standing.broodless_since_days;
        let workers = WorkerBrood::of_ages(|age| {
            if age < since {
                0.0
            } else {
                standing.eggs_per_day * survives(age, super::brood::WORKER_CAPPED, &rules.brood)
            }
        });
        let drones = DroneBrood::of_ages(|age| {
            let eggs = standing.eggs_per_day * rules.laying.drone_share;
            if age < since { 0.0 } else { eggs * survives(age, super::brood::DRONE_CAPPED, &rules.brood) }
        });
        Self {
            nest: Part { workers, drones, stores: Stores::of_honey(standing.honey_kg) },
            above: Part::default(),
            comb: Comb { nest: standing.nest_boxes * cells_of_box(BoxDepth::Deep, FrameCount::Ten), ..Comb::default() },
            house: standing.adults * (1.0 - share),
            foragers: standing.adults * share,
            drones: standing.eggs_per_day * rules.laying.drone_share / rules.adults.drone_loss,
            queen: standing.queen,
            unswarmed: 1.0,
        }
    }
}
