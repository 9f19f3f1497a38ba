//! Nectar in, honey out, and the cells both take.
//!
//! Nectar is hung in cells filled to a part, so a kilogram of honey to be takes more cells than ripe honey; each day a
//! part of it ripens and the rest of its water leaves the hive. Above the excluder it is stored first; a little goes to
//! the nest all the same, and all of it that finds no room above: that is how a nest is plugged. What finds no cell at
//! all is not brought in. Sugar and water are counted apart and both balance.
//!
//! | symbol | name in code | meaning | unit | value | source |
//! |---|---|---|---|---|---|
//! | 1 − W | `HONEY_SUGAR` | sugar of ripe honey | of 1 | 0.82 | trade moisture 18 % |
//! | h | `honey_per_cell_kg` | ripe honey of one worker cell: 29.5 kg in 70 160 cells of a deep | kg | 4.205e-4 | `outyard_trade::boxes` |
//! | k | `nectar_spread` | cells of unripe nectar over those of the honey it makes | - | 2 | common practice, no source: 2 to 3 times at the peak |
//! | r | `ripens_per_day` | part of the unripe nectar that ripens in a day | 1/d | 0.5 | assumed: about two days |
//! | n | `nest_first` | part of the day's nectar put in the nest while there is room above | of 1 | 0.05 | assumed |
//! | p | `plug_most` | part of the nest's free cells a day's nectar may take | of 1 | 0.95 | assumed |
//! | u | `carried_up_per_day` | part of the nest's honey above the bees' own arc carried up | 1/d | 0.05 | assumed |
//! | - | `arc_kg` | honey the bees keep round the brood | kg | 5 | common practice, no source |
//! | - | `most_nectar_kg_per_h` | most a forager brings in an hour of flight: 1.25 trips of 70 mg | kg/h | 8.75e-5 | most load 70 mg, about 10 trips a day of 8 h `[HoneyFlow]` |
//! | - | `drawn_per_bee_day` | cells drawn by a house bee in a flow | 1/d | 0.4 | assumed |

use outyard_trade::BoxDepth;
use outyard_trade::boxes::{FrameCount, USUAL_CELLS_PER_DM2};

/// Sugar of ripe honey, of 1.
pub const HONEY_SUGAR: f64 = 0.82;

/// Water that goes with a kilogram of sugar in ripe honey, kg.
pub const HONEY_WATER: f64 = (1.0 - HONEY_SUGAR) / HONEY_SUGAR;

/// Kilograms of nectar for a kilogram of honey: (1 − W)/s.
///
/// ```
/// use outyard_season::colony::stores::nectar_per_honey;
/// assert!((nectar_per_honey(0.40, 0.18) - 2.05).abs() < 1e-12);
/// ```
pub fn nectar_per_honey(nectar_sugar: f64, honey_water: f64) -> f64 {
    (1.0 - honey_water) / nectar_sugar
}

/// Worker cells of a box of drawn comb.
pub fn cells_of_box(depth: BoxDepth, frames: FrameCount) -> f64 {
    depth.facts().cells_per_frame(USUAL_CELLS_PER_DM2) * f64::from(frames.number())
}

/// How nectar is stored and ripened.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct StoreRules {
    /// Ripe honey of one cell, kg.
    pub honey_per_cell_kg: f64,
    /// Cells of unripe nectar over those of the honey it makes.
    pub nectar_spread: f64,
    /// Part of the unripe nectar that ripens in a day.
    pub ripens_per_day: f64,
    /// Part of the day's nectar put in the nest while there is room above.
    pub nest_first: f64,
    /// Part of the nest's free cells a day's nectar may take.
    pub plug_most: f64,
    /// Part of the nest's honey above the arc carried up in a day.
    pub carried_up_per_day: f64,
    /// Honey the bees keep round the brood, kg.
    pub arc_kg: f64,
    /// Most nectar a forager brings in an hour of flight, kg.
    pub most_nectar_kg_per_h: f64,
    /// Cells a house bee draws on foundation in a day of good flow.
    pub drawn_per_bee_day: f64,
}

impl Default for StoreRules {
    fn default() -> Self {
        let deep = BoxDepth::Deep.facts().full_honey.likely.get();
        Self {
            honey_per_cell_kg: deep / cells_of_box(BoxDepth::Deep, FrameCount::Ten),
            nectar_spread: 2.0,
            ripens_per_day: 0.5,
            nest_first: 0.05,
            plug_most: 0.95,
            carried_up_per_day: 0.05,
            arc_kg: 5.0,
            most_nectar_kg_per_h: 70e-6 * 1.25,
            drawn_per_bee_day: 0.4,
        }
    }
}

/// Stores of one part of the hive.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Stores {
    /// Sugar in ripe honey, kg; its water is [`HONEY_WATER`] times as much.
    pub ripe_sugar_kg: f64,
    /// Sugar in nectar that still dries, kg.
    pub unripe_sugar_kg: f64,
    /// Water in nectar that still dries, kg.
    pub unripe_water_kg: f64,
}

impl Stores {
    /// Ripe honey.
    pub fn of_honey(kg: f64) -> Self {
        Self { ripe_sugar_kg: kg * HONEY_SUGAR, ..Self::default() }
    }

    /// All sugar, kg.
    pub fn sugar_kg(&self) -> f64 {
        self.ripe_sugar_kg + self.unripe_sugar_kg
    }

    /// All water, kg.
    pub fn water_kg(&self) -> f64 {
        self.ripe_sugar_kg * HONEY_WATER + self.unripe_water_kg
    }

    /// What it weighs, kg.
    pub fn mass_kg(&self) -> f64 {
        self.sugar_kg() + self.water_kg()
    }

    /// Honey it is or will be, kg.
    pub fn as_honey_kg(&self) -> f64 {
        self.sugar_kg() / HONEY_SUGAR
    }

    /// Cells it takes.
    pub fn cells(&self, rules: &StoreRules) -> f64 {
        (self.ripe_sugar_kg + self.unripe_sugar_kg * rules.nectar_spread) / (HONEY_SUGAR * rules.honey_per_cell_kg)
    }

    /// What a day of ripening and eating does.
    pub fn due(&self, rules: &StoreRules, eaten_share: f64) -> StoreDay {
        let ripening = self.unripe_sugar_kg * rules.ripens_per_day;
        let drying = self.unripe_water_kg * rules.ripens_per_day;
        let left = 1.0 - rules.ripens_per_day;
        // Eating takes from what is ripe and what is not in their proportion; ripening first, eating after it.
        let eaten_unripe = self.unripe_sugar_kg * left * eaten_share;
        let eaten_unripe_water = self.unripe_water_kg * left * eaten_share;
        let eaten_ripe = (self.ripe_sugar_kg + ripening) * eaten_share;
        StoreDay {
            ripened_sugar_kg: ripening,
            left_water_kg: drying,
            dried_kg: drying - ripening * HONEY_WATER,
            eaten_ripe_kg: eaten_ripe,
            eaten_unripe_kg: eaten_unripe,
            eaten_unripe_water_kg: eaten_unripe_water,
            ..StoreDay::default()
        }
    }

    /// Lets the day pass.
    pub fn advance(&mut self, day: &StoreDay) {
        self.ripe_sugar_kg += day.ripened_sugar_kg - day.eaten_ripe_kg + day.carried_in_kg;
        self.unripe_sugar_kg += day.nectar_sugar_kg - day.ripened_sugar_kg - day.eaten_unripe_kg;
        self.unripe_water_kg += day.nectar_water_kg - day.left_water_kg - day.eaten_unripe_water_kg;
    }
}

/// What a day does to the stores of one part of the hive.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct StoreDay {
    /// Sugar brought in.
    pub nectar_sugar_kg: f64,
    /// Water brought in with it.
    pub nectar_water_kg: f64,
    /// Sugar that ripens.
    pub ripened_sugar_kg: f64,
    /// Water that leaves the unripe nectar, into honey or out of the hive.
    pub left_water_kg: f64,
    /// Of it, water that leaves the hive.
    pub dried_kg: f64,
    /// Ripe sugar eaten or made into wax.
    pub eaten_ripe_kg: f64,
    /// Unripe sugar eaten.
    pub eaten_unripe_kg: f64,
    /// Water eaten with unripe sugar.
    pub eaten_unripe_water_kg: f64,
    /// Ripe sugar carried in from the other part (negative: carried out).
    pub carried_in_kg: f64,
}

impl StoreDay {
    /// Sugar eaten, kg.
    pub fn eaten_sugar_kg(&self) -> f64 {
        self.eaten_ripe_kg + self.eaten_unripe_kg
    }

    /// Water eaten with it, kg.
    pub fn eaten_water_kg(&self) -> f64 {
        self.eaten_ripe_kg * HONEY_WATER + self.eaten_unripe_water_kg
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    // Trade facts 4: kilograms of nectar, and of water removed, for a kilogram of honey.
    #[test]
    fn nectar_for_honey_is_that_of_the_sugar_balance() {
        for (sugar, at_18, at_17) in [
            (0.20, 4.1000, 4.1500),
            (0.30, 2.7333, 2.7667),
            (0.40, 2.0500, 2.0750),
            (0.50, 1.6400, 1.6600),
            (0.60, 1.3667, 1.3833),
        ] {
            assert!((nectar_per_honey(sugar, 0.18) - at_18).abs() < 5e-5);
            assert!((nectar_per_honey(sugar, 0.17) - at_17).abs() < 5e-5);
        }
    }

    // Trade facts 4: 2.05 kg of 40 % nectar make 1 kg of honey and 1.05 kg of water.
    #[test]
    fn nectar_dries_to_honey_and_water() {
        let mut stores = Stores { ripe_sugar_kg: 0.0, unripe_sugar_kg: 0.82, unripe_water_kg: 1.23 };
        let rules = StoreRules::default();
        let fresh_cells = stores.cells(&rules);
        let mut dried = 0.0;
        for _ in 0..200 {
            let day = stores.due(&rules, 0.0);
            dried += day.dried_kg;
            stores.advance(&day);
        }
        assert!((stores.mass_kg() - 1.0).abs() < 1e-9);
        assert!((dried - 1.05).abs() < 1e-9);
        assert!((fresh_cells / stores.cells(&rules) - rules.nectar_spread).abs() < 1e-9);
    }

    // Trade facts 4, from practice: 3 kg a day of 40 % nectar need 7.6 L of comb cells a day when a third filled.
    #[test]
    fn the_room_of_fresh_nectar_is_near_the_volume_check() {
        let rules = StoreRules::default();
        let sugar = 3.0 * 0.40;
        let fresh = Stores { ripe_sugar_kg: 0.0, unripe_sugar_kg: sugar, unripe_water_kg: 3.0 - sugar };
        // A full cell of ripe honey is 1.42 kg/L.
        let litres = fresh.cells(&rules) * rules.honey_per_cell_kg / 1.42;
        // A cell a third filled with nectar of 1.18 kg/L: 7.6 L; the spread of 2 to 3 gives two thirds of it at least.
        assert!((2.0..7.7).contains(&litres), "{litres}");
    }

    // Trade facts 2.2 and 2.3: 6 970 to 7 040 cells a deep frame.
    #[test]
    fn a_deep_has_seventy_thousand_cells() {
        let cells = cells_of_box(BoxDepth::Deep, FrameCount::Ten);
        assert!((69_700.0..70_400.0).contains(&cells), "{cells}");
    }
}
