//! A charge for gear taken out beyond the stock, instead of a wall: on the way to a better plan the search may borrow boxes, at a price
//! that rises until it gives them back (strategic oscillation, Glover 1989; the steering is that of Gendreau, Hertz & Laporte 1994).
//!
//! | symbol | name in code | meaning | unit | value | source |
//! |---|---|---|---|---|---|
//! | - | `OVERDRAWN_SHARE` | share of tries wanted beyond the stock at first; falls to 0 by the last try | - | 0.2 | assumed, tuned on the bench |
//! | - | `LEVEL_FIRST` | charge for a piece at first, as a share of what leaving out costs for a piece | - | 0.5 | assumed, tuned on the bench |
//! | - | `TRIES_BETWEEN` | tries between two changes of the charge | tries | 100 | assumed |
//! | - | `CHANGE` | factor by which the charge rises or falls | - | 1.1 | assumed |

use super::state::State;
use super::tables::Tables;

const OVERDRAWN_SHARE: f64 = 0.2;
const LEVEL_FIRST: f64 = 0.5;
/// Bounds of the level: below, the charge would mean nothing; above, it is a wall again. assumed
const LEVEL_RANGE: [f64; 2] = [0.02, 50.0];
/// Highest charge for a piece, in cents: sums stay far inside 64 bits. assumed
const CHARGE_MAX: i64 = 1_000_000_000;
const TRIES_BETWEEN: u32 = 100;
const CHANGE: f64 = 1.1;

pub(super) struct StockCharge {
    /// `[gear]`: mean cost of leaving a visit out for each piece it needs, in cents.
    worth: Vec<f64>,
    level: f64,
    tries: u32,
    overdrawn: u32,
}

impl StockCharge {
    pub(super) fn new(tables: &Tables<'_>) -> Self {
        let worth = (0..tables.parts.gear.len()).map(|gear| mean_worth(tables, gear)).collect();
        Self { worth, level: LEVEL_FIRST, tries: 0, overdrawn: 0 }
    }

    /// Tells the state what is charged now.
    #[expect(
        clippy::cast_possible_truncation,
        reason = "a charge in whole cents; huge ones stop at the largest number"
    )]
    pub(super) fn apply(&self, state: &mut State<'_, '_>) {
        let cents = |worth: &f64| ((worth * self.level) as i64).clamp(1, CHARGE_MAX);
        state.set_charge(self.worth.iter().map(cents).collect());
    }

    /// Counts a finished try and steers the charge; `gone` is the share of all tries that are over.
    pub(super) fn after_try(&mut self, state: &mut State<'_, '_>, gone: f64) {
        self.tries += 1;
        self.overdrawn += u32::from(state.overdrawn());
        if self.tries < TRIES_BETWEEN {
            return;
        }
        let share = f64::from(self.overdrawn) / f64::from(self.tries);
        let factor = if share > OVERDRAWN_SHARE * (1.0 - gone) { CHANGE } else { 1.0 / CHANGE };
        self.level = (self.level * factor).clamp(LEVEL_RANGE[0], LEVEL_RANGE[1]);
        (self.tries, self.overdrawn) = (0, 0);
        self.apply(state);
    }
}

#[expect(clippy::cast_precision_loss, reason = "a mean need not be exact")]
fn mean_worth(tables: &Tables<'_>, gear: usize) -> f64 {
    let (mut cost, mut pieces) = (0.0, 0.0);
    for (visit, due) in tables.parts.visits.iter().enumerate() {
        for &(_, count) in due.needs.iter().filter(|need| need.0 == gear && need.1 > 0) {
            cost += tables.out_cost[visit].max(0) as f64;
            pieces += count as f64;
        }
    }
    if pieces > 0.0 { (cost / pieces).max(1.0) } else { 1.0 }
}
