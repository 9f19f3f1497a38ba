//! How crowded the colony is, and how likely it swarms because of it.
//!
//! Crowding sets adults against the bees that would just cover all combs on the hive. A nest with no free cell adds to
//! it. The hazard of a day is the product of season, crowding and nest; the colony followed is the one that has not
//! swarmed, and the probability that it has is carried along.
//!
//! | symbol | name in code | meaning | unit | value | source |
//! |---|---|---|---|---|---|
//! | b | `bees_per_cell` | adults on a cell of fully covered comb: 2430 a deep frame | bees | 0.3464 | `[BurgettBurikam1985]`, from memory |
//! | h | `most_per_day` | hazard of a crowded colony with a full nest in the height of the season | 1/d | 0.08 | assumed, so that a season comes to what the trade sees |
//! | - | `crowded_from`, `crowded_fully` | crowding at which the hazard begins, is full | of 1 | 0.5, 1.0 | assumed |
//! | - | `nest_weight` | part of the hazard that comes of a full nest | of 1 | 0.5 | assumed |
//! | - | `open_nest_share` | free share of the nest from which it adds nothing | of 1 | 0.3 | assumed |
//! | - | `swarm_season` | 1 from mid May to mid June, nought before May and after July | of 1 | ramp | common practice, no source |
//! | - | `swarm_bees_share` | part of the adults a prime swarm takes | of 1 | 0.6 | from memory: half to three quarters |

/// What makes a colony swarm.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SwarmRules {
    /// Adults on a cell of fully covered comb.
    pub bees_per_cell: f64,
    /// Greatest hazard, 1/d.
    pub most_per_day: f64,
    /// Crowding at which the hazard begins.
    pub crowded_from: f64,
    /// Crowding at which it is full.
    pub crowded_fully: f64,
    /// Part of the hazard that comes of a full nest.
    pub nest_weight: f64,
    /// Free share of the nest from which it adds nothing.
    pub open_nest_share: f64,
    /// Part of the adults a prime swarm takes.
    pub swarm_bees_share: f64,
}

impl Default for SwarmRules {
    fn default() -> Self {
        Self {
            bees_per_cell: 2430.0 / 7016.0,
            most_per_day: 0.08,
            crowded_from: 0.5,
            crowded_fully: 1.0,
            nest_weight: 0.5,
            open_nest_share: 0.3,
            swarm_bees_share: 0.6,
        }
    }
}

/// Swarming season north of the equator: begins on 1 May, full from 15 May to 15 June, over on 31 July.
pub fn swarm_season(day_of_year: f64) -> f64 {
    let rise = (day_of_year - 121.0) / 14.0;
    let fall = (212.0 - day_of_year) / 46.0;
    rise.min(fall).clamp(0.0, 1.0)
}

impl SwarmRules {
    /// Adults against the bees that would just cover the combs.
    pub fn crowding(&self, adults: f64, comb_cells: f64) -> f64 {
        if comb_cells > 0.0 { adults / (comb_cells * self.bees_per_cell) } else { 0.0 }
    }

    /// Hazard of a day, 1/d.
    pub fn hazard(&self, season: f64, crowding: f64, free_nest_share: f64) -> f64 {
        let crowded = ((crowding - self.crowded_from) / (self.crowded_fully - self.crowded_from)).clamp(0.0, 1.0);
        let full = (1.0 - free_nest_share / self.open_nest_share).clamp(0.0, 1.0);
        self.most_per_day * season * crowded * (1.0 - self.nest_weight + self.nest_weight * full)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    // Burgett & Burikam 1985, from memory: 2430 bees cover a deep frame.
    #[test]
    fn a_covered_box_is_crowded_to_one() {
        let rules = SwarmRules::default();
        assert!((rules.crowding(24_300.0, 70_160.0) - 1.0).abs() < 1e-3);
    }

    #[test]
    fn room_season_and_an_open_nest_each_take_the_hazard_away() {
        let rules = SwarmRules::default();
        let worst = rules.hazard(1.0, 1.2, 0.0);
        assert!((worst - rules.most_per_day).abs() < 1e-12);
        assert!(rules.hazard(1.0, 0.4, 0.0).abs() < 1e-12);
        assert!(rules.hazard(1.0, 1.2, 0.5) < worst);
        assert!(swarm_season(110.0).abs() < 1e-12 && swarm_season(220.0).abs() < 1e-12);
        assert!((swarm_season(150.0) - 1.0).abs() < 1e-12);
    }
}
