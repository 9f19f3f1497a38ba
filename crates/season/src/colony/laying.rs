//! How many eggs the queen lays: what she can, what the season lets her, what the bees can care for, what cells she finds.
//!
//! eggs = min(L · season · H/(v + H) · N/(w + N) · (1 − hunger), free cells in reach). H/(v + H) is the care of the house
//! bees (Khoury, Barron & Myerscough 2013); N/(w + N), that of all adults (Khoury, Myerscough & Barron 2011), is left
//! out (w = 0) but for tests against that paper: it holds small colonies back more than the trade sees. The season is the curve of Schmickl & Crailsheim 2007. A cell counts as free when neither
//! brood nor pollen nor stores are in it and today's nectar does not take it. Drone eggs are a share of all.
//!
//! | symbol | name in code | meaning | unit | value | source |
//! |---|---|---|---|---|---|
//! | L | `Queen::eggs_per_day` | eggs of a good queen at her best | 1/d | 2000 | practice range 1500 to 3000; `[Khoury2011]`, from memory |
//! | v | `half_care_house` | house bees that care for half of the eggs | bees | 5000 | `[Khoury2013]`, from memory |
//! | w | `half_care_bees` | adults that care for half of the eggs | bees | 0; 27 000 in the paper | `[Khoury2011]`, from memory |
//! | - | `laying_season` | part of her best the season allows | of 1 | x1 385, x2 25, x3 36, x4 155, x5 30 | `[SchmicklCrailsheim2007]`, from memory |
//! | d | `drone_share` | drone eggs among all, in the rising season | of 1 | 0.03 | assumed |
//! | - | `DRONE_CELL` | room of a drone cell in worker cells: 400/282 | - | 1.42 | hexagon geometry, 6.4 mm against 5.37 mm |
//! | - | `DRONES_FROM`, `DRONES_TO` | days of the year with drone brood | d | 105, 212 | common practice, no source |

/// Room of a drone cell, in worker cells.
pub const DRONE_CELL: f64 = 1.42;

/// First day of the year with drone brood, mid April in the north. Common practice, no source.
const DRONES_FROM: f64 = 105.0;
/// Last day of the year with drone brood, end of July in the north. Common practice, no source.
const DRONES_TO: f64 = 212.0;

/// The queen of a colony.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Queen {
    /// Eggs she can lay a day at her best; 0 for a colony without a queen.
    pub eggs_per_day: f64,
    /// Days until she begins to lay; 0 when she does.
    pub lays_in_days: u32,
}

impl Queen {
    /// A good queen who lays.
    pub const GOOD: Self = Self { eggs_per_day: 2000.0, lays_in_days: 0 };
    /// No queen, and none to come.
    pub const NONE: Self = Self { eggs_per_day: 0.0, lays_in_days: 0 };
}

/// Limits of laying.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LayingRules {
    /// House bees that care for half of the eggs.
    pub half_care_house: f64,
    /// Adults that care for half of the eggs.
    pub half_care_bees: f64,
    /// Drone eggs among all in the rising season.
    pub drone_share: f64,
}

impl Default for LayingRules {
    fn default() -> Self {
        Self { half_care_house: 5000.0, half_care_bees: 0.0, drone_share: 0.03 }
    }
}

/// Part of a queen's best that a day of the year allows, north of the equator (day 1 is the first of January).
pub fn laying_season(day_of_year: f64) -> f64 {
    let rise = 1.0 - 1.0 / (1.0 + 385.0 * (-2.0 * day_of_year / 25.0).exp());
    let fall = 1.0 / (1.0 + 36.0 * (-2.0 * (day_of_year - 155.0) / 30.0).exp());
    1.0 - rise.max(fall)
}

/// True when drones are raised, north of the equator.
pub fn drone_season(day_of_year: f64) -> bool {
    (DRONES_FROM..=DRONES_TO).contains(&day_of_year)
}

impl LayingRules {
    /// Eggs the queen would lay with all the cells she could wish for.
    pub fn wanted(&self, queen: Queen, season: f64, house: f64, adults: f64, hunger: f64) -> f64 {
        if queen.lays_in_days > 0 || house <= 0.0 {
            return 0.0;
        }
        let care = house / (self.half_care_house + house) * adults / (self.half_care_bees + adults);
        queen.eggs_per_day * season * care * (1.0 - hunger)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    // Schmickl & Crailsheim 2007, from memory: least at midwinter, most about early June, falling through August.
    #[test]
    fn the_season_rises_to_june_and_falls_from_july() {
        let on = laying_season;
        assert!(on(1.0) < 0.01);
        assert!((0.4..0.6).contains(&on(75.0)), "{}", on(75.0));
        assert!(on(135.0) > 0.95, "{}", on(135.0));
        assert!((0.3..0.7).contains(&on(213.0)), "{}", on(213.0));
        assert!(on(260.0) < 0.1);
    }

    // Khoury 2013: v house bees care for half the eggs; Khoury 2011: w adults do.
    #[test]
    fn care_limits_a_small_colony() {
        let rules = LayingRules::default();
        let eggs = |rules: &LayingRules, house: f64| rules.wanted(Queen::GOOD, 1.0, house, house, 0.0);
        assert!((eggs(&rules, 5000.0) - 1000.0).abs() < 1e-9);
        assert!(eggs(&rules, 2000.0) < 600.0 && eggs(&rules, 40_000.0) > 1700.0);
        let of_2011 = LayingRules { half_care_house: 0.0, half_care_bees: 27_000.0, ..rules };
        assert!((eggs(&of_2011, 27_000.0) - 1000.0).abs() < 1e-9);
        assert!(rules.wanted(Queen { lays_in_days: 3, ..Queen::GOOD }, 1.0, 5000.0, 5000.0, 0.0).abs() < 1e-12);
    }
}
