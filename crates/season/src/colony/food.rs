//! What the colony eats, as sugar.
//!
//! Adults eat as resting bees do; the fuel of foragers is taken off what they bring before it is counted. Larvae are fed
//! evenly over their open days. Nothing is eaten that is not there.
//!
//! | symbol | name in code | meaning | unit | value | source |
//! |---|---|---|---|---|---|
//! | a | `adult_mg_per_day` | sugar of an adult | mg/d | 4 | `[Rortais2005]`, from memory: least of a resting bee |
//! | l | `worker_larva_mg` | sugar of a worker larva, in all | mg | 59.4 | `[Rortais2005]`, from memory |
//! | d | `drone_larva_mg` | sugar of a drone larva, in all | mg | 98.2 | `[Rortais2005]`, from memory |
//! | x | `wax_sugar_mg_per_cell` | sugar for the wax of one cell drawn on foundation | mg | 75 | assumed: 12 mg of wax at 6 to 7 times its weight |

use super::brood::{DRONE_CAPPED, HATCH_AGE, WORKER_CAPPED};

/// What bees and brood eat.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FoodRules {
    /// Sugar of an adult, mg/d.
    pub adult_mg_per_day: f64,
    /// Sugar of a worker larva in all, mg.
    pub worker_larva_mg: f64,
    /// Sugar of a drone larva in all, mg.
    pub drone_larva_mg: f64,
    /// Sugar for the wax of one cell, mg.
    pub wax_sugar_mg_per_cell: f64,
}

impl Default for FoodRules {
    fn default() -> Self {
        Self { adult_mg_per_day: 4.0, worker_larva_mg: 59.4, drone_larva_mg: 98.2, wax_sugar_mg_per_cell: 75.0 }
    }
}

impl FoodRules {
    /// Nothing is eaten.
    pub const NONE: Self =
        Self { adult_mg_per_day: 0.0, worker_larva_mg: 0.0, drone_larva_mg: 0.0, wax_sugar_mg_per_cell: 0.0 };

    /// Sugar wanted by a colony in a day, kg.
    pub fn wanted_kg(&self, adults: f64, worker_larvae: f64, drone_larvae: f64) -> f64 {
        #[expect(clippy::cast_precision_loss, reason = "a handful of days")]
        const WORKER_OPEN_D: f64 = (WORKER_CAPPED - HATCH_AGE) as f64;
        #[expect(clippy::cast_precision_loss, reason = "a handful of days")]
        const DRONE_OPEN_D: f64 = (DRONE_CAPPED - HATCH_AGE) as f64;
        let workers = worker_larvae * self.worker_larva_mg / WORKER_OPEN_D;
        let drones = drone_larvae * self.drone_larva_mg / DRONE_OPEN_D;
        (adults * self.adult_mg_per_day + workers + drones) * 1e-6
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    // Seeley 1985, 1995, from memory: a colony eats 60 to 80 kg of honey a year; 0.8 to 1.0 kg a week in winter. A
    // hundred and fifty days of full summer and the rest of winter cluster come near it.
    #[test]
    fn a_year_of_food_lies_near_the_published_one() {
        let rules = FoodRules::default();
        let summer_kg = rules.wanted_kg(50_000.0, 1500.0 * 6.0, 40.0 * 7.0) / 0.82;
        assert!((0.25..0.5).contains(&summer_kg), "{summer_kg}");
        let year_kg = 150.0 * summer_kg + 215.0 / 7.0 * 0.9;
        assert!((60.0..=85.0).contains(&year_kg), "{year_kg}");
    }

    // Rortais 2005: 59.4 mg in all.
    #[test]
    fn a_larva_eats_its_sum_over_its_open_days() {
        let each = FoodRules::default().wanted_kg(0.0, 1.0, 0.0) * 6.0 * 1e6;
        assert!((each - 59.4).abs() < 1e-9);
    }
}
