//! Bees in the house and in the field.
//!
//! House bees become foragers at the rate of Khoury, Myerscough & Barron 2011: quick when foragers are few, backwards
//! when they are too many; hunger hastens it (Khoury, Barron & Myerscough 2013). Foragers wear out by flying: their
//! daily death goes with the day's hours of flight, and equals the paper's m on a day of usual flight.
//!
//! | symbol | name in code | meaning | unit | value | source |
//! |---|---|---|---|---|---|
//! | α | `recruit_most` | quickest recruitment | 1/d | 0.25 | `[Khoury2011]`, from memory |
//! | σ | `inhibition` | pull of foragers back into the house | 1/d | 0.75 | `[Khoury2011]`, from memory |
//! | αmax | `hungry_recruit_more` | recruitment hunger adds | 1/d | 0.25 | `[Khoury2013]`, from memory |
//! | m | `forager_loss` | death of foragers on a day of usual flight | 1/d | 0.13 | `[VisscherDukas1997]`, from memory: 7 to 8 d |
//! | F₀ | `usual_flight_h` | usual flight of a summer day | h | 8 | common practice, no source: 7 to 9 h in August, 9 to 12 h in June |
//! | m₀ | `forager_loss_at_rest` | death of foragers kept in | 1/d | 0.02 | assumed |
//! | μ | `house_loss` | death of house bees | 1/d | 0.003 | assumed; 0 in the papers |
//! | - | `drone_loss` | death of drones: 21 to 32 d | 1/d | 0.04 | from memory |

use super::khoury::{hunger, recruitment};

/// Rates of the adults.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct AdultRules {
    /// Quickest recruitment, 1/d.
    pub recruit_most: f64,
    /// Pull of foragers back into the house, 1/d.
    pub inhibition: f64,
    /// Recruitment hunger adds, 1/d.
    pub hungry_recruit_more: f64,
    /// Stores at which a colony is half hungry, kg of sugar.
    pub half_food_kg: f64,
    /// Death of foragers on a day of usual flight, 1/d.
    pub forager_loss: f64,
    /// Usual flight of a summer day, h.
    pub usual_flight_h: f64,
    /// Death of foragers kept in, 1/d.
    pub forager_loss_at_rest: f64,
    /// Death of house bees, 1/d.
    pub house_loss: f64,
    /// Death of drones, 1/d.
    pub drone_loss: f64,
}

impl Default for AdultRules {
    fn default() -> Self {
        Self {
            recruit_most: 0.25,
            inhibition: 0.75,
            hungry_recruit_more: 0.25,
            half_food_kg: 0.5,
            forager_loss: 0.13,
            usual_flight_h: 8.0,
            forager_loss_at_rest: 0.02,
            house_loss: 0.003,
            drone_loss: 0.04,
        }
    }
}

/// What a day does to the adults.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct AdultDay {
    /// House bees that become foragers; negative when foragers go back.
    pub recruited: f64,
    /// House bees that die.
    pub house_dead: f64,
    /// Foragers that die.
    pub foragers_dead: f64,
    /// Drones that die.
    pub drones_dead: f64,
}

impl AdultRules {
    /// Death of foragers on a day with so many hours of flight, 1/d.
    pub fn loss_on(&self, flight_h: f64) -> f64 {
        let flown = flight_h / self.usual_flight_h;
        (self.forager_loss_at_rest + (self.forager_loss - self.forager_loss_at_rest) * flown).clamp(0.0, 0.9)
    }

    /// What a day does to the adults as they stood.
    pub fn day(&self, house: f64, foragers: f64, drones: f64, stores_sugar_kg: f64, forager_loss: f64) -> AdultDay {
        let most = self.recruit_most + self.hungry_recruit_more * hunger(stores_sugar_kg, self.half_food_kg);
        AdultDay {
            recruited: house * recruitment(most, self.inhibition, house, foragers),
            house_dead: house * self.house_loss,
            foragers_dead: foragers * forager_loss,
            drones_dead: drones * self.drone_loss,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    // Visscher & Dukas 1997, from memory: a forager lives 7 to 8 days as a forager.
    #[test]
    fn a_forager_lives_about_a_week_of_usual_flight() {
        let rules = AdultRules::default();
        let days = 1.0 / rules.loss_on(8.0);
        assert!((7.0..=8.0).contains(&days), "{days}");
        assert!(rules.loss_on(0.0) < rules.loss_on(4.0) && rules.loss_on(4.0) < rules.loss_on(12.0));
    }

    // Khoury 2011: recruitment turns round where F/N passes α/σ = 1/3.
    #[test]
    fn recruitment_turns_round_at_a_third() {
        let rules = AdultRules::default();
        let day = |foragers: f64| rules.day(100.0 - foragers, foragers, 0.0, 1e6, 0.0).recruited;
        assert!(day(30.0) > 0.0 && day(36.0) < 0.0);
        assert!(day(100.0 / 3.0).abs() < 1e-6);
    }
}
