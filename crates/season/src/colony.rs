//! A colony, one day at a time: brood, bees, stores and room of one kind of colony in one member of the weather.
//!
//! Every day has two steps. [`Colony::rates`] works out from yesterday's state all that the day moves; [`Colony::advance`]
//! then moves it. No process sees what another did the same day, so their order does not matter, and every kilogram of
//! sugar and water and every bee that leaves one place arrives in another or is named as lost. The processes stand in
//! modules of their own, each with its table.
//!
//! The hive has two parts: the **nest**, which the queen can reach, and what stands **above** the excluder (or above the
//! bees' own border of honey): the upper brood box with its emerging brood, and the supers. Cells are the measure of
//! room for both brood and honey.
//!
//! Nectar is offered as what a colony of `reference_foragers` would bring; others bring their share of it. So a gain by
//! the bloom sum or off a scale moves every kind of colony.
//!
//! | symbol | name in code | meaning | unit | value | source |
//! |---|---|---|---|---|---|
//! | F* | `reference_foragers` | foragers of the colony gains are told of: 0.27 of 50 000 | bees | 13 500 | at rest with m = 0.13 `[Khoury2011]`; 50 000 common practice, no source |
//! | u | `reference_use_kg` | honey that colony uses itself in a day | kg | 0.35 | `food`: 50 000 adults and their brood |
//! | s | `nectar_sugar` | sugar of nectar | of 1 | 0.40 | middle of the range 0.35 to 0.45 in flows `[NectarSugar]` |
//! | p | `pollen_share` | nest cells with pollen | of 1 | 0.10 | assumed |

use jiff::civil::Date;
use outyard_trade::BoxDepth;
use outyard_trade::boxes::FrameCount;

pub mod adults;
pub mod brood;
pub mod crowding;
pub mod food;
pub mod khoury;
pub mod kinds;
pub mod laying;
pub mod stores;

use adults::{AdultDay, AdultRules};
use brood::{BroodDay, BroodRules, DroneBrood, WorkerBrood};
use crowding::{SwarmRules, swarm_season};
use food::FoodRules;
use khoury::hunger;
use laying::{DRONE_CELL, LayingRules, Queen, drone_season, laying_season};
use stores::{HONEY_SUGAR, StoreDay, StoreRules, Stores, cells_of_box};

/// Days from a prime swarm to the first eggs of the young queen: 8 to her emergence, 13 to her first egg.
pub const SWARM_TO_EGGS_DAYS: u32 = 21;

/// All figures of the model.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ColonyRules {
    /// Brood.
    pub brood: BroodRules,
    /// Adults.
    pub adults: AdultRules,
    /// Laying.
    pub laying: LayingRules,
    /// Food.
    pub food: FoodRules,
    /// Stores.
    pub stores: StoreRules,
    /// Crowding.
    pub swarm: SwarmRules,
    /// Foragers of the colony gains are told of.
    pub reference_foragers: f64,
    /// Honey that colony uses itself in a day, kg.
    pub reference_use_kg: f64,
    /// Nest cells with pollen, of 1.
    pub pollen_share: f64,
}

impl Default for ColonyRules {
    fn default() -> Self {
        Self {
            brood: BroodRules::default(),
            adults: AdultRules::default(),
            laying: LayingRules::default(),
            food: FoodRules::default(),
            stores: StoreRules::default(),
            swarm: SwarmRules::default(),
            reference_foragers: 13_500.0,
            reference_use_kg: 0.35,
            pollen_share: 0.10,
        }
    }
}

/// What a day offers a colony.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ForageDay {
    /// Honey to be that the reference colony would bring, kg.
    pub intake_kg: f64,
    /// Hours of full flight.
    pub flight_h: f64,
    /// Sugar of the nectar, of 1; above 0.
    pub nectar_sugar: f64,
    /// Part of her best the season lets a queen lay.
    pub laying_season: f64,
    /// How much of the swarming season it is.
    pub swarm_season: f64,
    /// True when drones are raised.
    pub drones: bool,
}

/// Sugar of nectar when nothing else is known.
pub const USUAL_NECTAR_SUGAR: f64 = 0.40;

impl ForageDay {
    /// A day on which the reference colony's net gain is `gain_kg`, with so many hours of flight. `south` turns the
    /// bees' year round for yards south of the equator.
    pub fn of_gain(gain_kg: f64, flight_h: f64, date: Date, south: bool, rules: &ColonyRules) -> Self {
        let turned = if south { 182.5 } else { 0.0 };
        let day = (f64::from(date.day_of_year()) + turned - 1.0).rem_euclid(365.0) + 1.0;
        Self {
            intake_kg: (gain_kg + rules.reference_use_kg).max(0.0),
            flight_h,
            nectar_sugar: USUAL_NECTAR_SUGAR,
            laying_season: laying_season(day),
            swarm_season: swarm_season(day),
            drones: drone_season(day),
        }
    }
}

/// One part of the hive.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Part {
    /// Worker brood.
    pub workers: WorkerBrood,
    /// Drone brood.
    pub drones: DroneBrood,
    /// Stores.
    pub stores: Stores,
}

impl Part {
    /// Cells that brood takes, in worker cells.
    pub fn brood_cells(&self) -> f64 {
        self.workers.cells() + DRONE_CELL * self.drones.cells()
    }
}

/// Comb on the hive, in worker cells.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Comb {
    /// Drawn cells the queen can reach.
    pub nest: f64,
    /// Drawn cells above.
    pub above: f64,
    /// Cells above on foundation, not drawn yet.
    pub undrawn: f64,
}

/// A colony.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Colony {
    /// What the queen can reach.
    pub nest: Part,
    /// What stands above.
    pub above: Part,
    /// Comb.
    pub comb: Comb,
    /// House bees.
    pub house: f64,
    /// Foragers.
    pub foragers: f64,
    /// Drones.
    pub drones: f64,
    /// The queen.
    pub queen: Queen,
    /// Probability that it has not swarmed.
    pub unswarmed: f64,
}

/// All that one day moves.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Rates {
    /// Worker brood of the nest.
    pub nest_workers: BroodDay,
    /// Drone brood of the nest.
    pub nest_drones: BroodDay,
    /// Worker brood above.
    pub above_workers: BroodDay,
    /// Drone brood above.
    pub above_drones: BroodDay,
    /// Worker eggs laid.
    pub worker_eggs: f64,
    /// Drone eggs laid.
    pub drone_eggs: f64,
    /// Eggs not laid for want of free cells.
    pub eggs_short: f64,
    /// Adults.
    pub adults: AdultDay,
    /// Stores of the nest.
    pub nest_stores: StoreDay,
    /// Stores above.
    pub above_stores: StoreDay,
    /// Sugar made into wax; it is among what is eaten.
    pub wax_sugar_kg: f64,
    /// Cells drawn on foundation.
    pub drawn_cells: f64,
    /// Honey to be that the foragers could bring, kg.
    pub offered_kg: f64,
    /// Of it, what found no cell, kg.
    pub refused_kg: f64,
    /// Of it, what went to the nest because there was no room above, kg.
    pub plugged_kg: f64,
    /// Part of the day after which there was no more room above; `None` when room was left.
    pub full_after: Option<f64>,
    /// Adults against the bees that would just cover all combs.
    pub crowding: f64,
    /// Hazard of swarming.
    pub swarm_hazard: f64,
}

impl Rates {
    /// Workers that emerge.
    pub fn emerging(&self) -> f64 {
        self.nest_workers.emerging + self.above_workers.emerging
    }

    /// Sugar brought in, kg.
    pub fn sugar_in_kg(&self) -> f64 {
        self.nest_stores.nectar_sugar_kg + self.above_stores.nectar_sugar_kg
    }

    /// Water brought in, kg.
    pub fn water_in_kg(&self) -> f64 {
        self.nest_stores.nectar_water_kg + self.above_stores.nectar_water_kg
    }

    /// Sugar eaten or made into wax, kg.
    pub fn sugar_out_kg(&self) -> f64 {
        self.nest_stores.eaten_sugar_kg() + self.above_stores.eaten_sugar_kg()
    }

    /// Water eaten, kg.
    pub fn water_eaten_kg(&self) -> f64 {
        self.nest_stores.eaten_water_kg() + self.above_stores.eaten_water_kg()
    }

    /// Water dried out of the hive, kg.
    pub fn dried_kg(&self) -> f64 {
        self.nest_stores.dried_kg + self.above_stores.dried_kg
    }

    /// Change of the stores' weight, kg: what a scale would show, bees and brood left aside.
    pub fn net_gain_kg(&self) -> f64 {
        self.sugar_in_kg() + self.water_in_kg() - self.sugar_out_kg() - self.water_eaten_kg() - self.dried_kg()
    }
}

/// Where the day's nectar goes, in cells.
struct Placed {
    above: f64,
    nest: f64,
    plugged: f64,
    refused: f64,
    full_after: Option<f64>,
}

impl Colony {
    /// Adult workers.
    pub fn adults(&self) -> f64 {
        self.house + self.foragers
    }

    /// Honey there is or will be, kg.
    pub fn honey_kg(&self) -> f64 {
        self.nest.stores.as_honey_kg() + self.above.stores.as_honey_kg()
    }

    /// Honey above, there or to be, kg.
    pub fn honey_above_kg(&self) -> f64 {
        self.above.stores.as_honey_kg()
    }

    /// Frames of bees: adults over what covers a deep frame.
    pub fn frames_of_bees(&self) -> f64 {
        self.adults() / 2430.0
    }

    /// All sugar, kg.
    pub fn sugar_kg(&self) -> f64 {
        self.nest.stores.sugar_kg() + self.above.stores.sugar_kg()
    }

    /// All water in the stores, kg.
    pub fn water_kg(&self) -> f64 {
        self.nest.stores.water_kg() + self.above.stores.water_kg()
    }

    /// Drawn cells above that neither brood nor stores take.
    pub fn free_above_cells(&self, rules: &ColonyRules) -> f64 {
        (self.comb.above - self.above.brood_cells() - self.above.stores.cells(&rules.stores)).max(0.0)
    }

    /// Nest cells that neither brood, pollen nor stores take.
    pub fn free_nest_cells(&self, rules: &ColonyRules) -> f64 {
        let open = self.comb.nest * (1.0 - rules.pollen_share);
        (open - self.nest.brood_cells() - self.nest.stores.cells(&rules.stores)).max(0.0)
    }

    /// All that a day moves, from the state as it stands.
    pub fn rates(&self, day: &ForageDay, rules: &ColonyRules) -> Rates {
        let [nest_workers, above_workers] = [&self.nest, &self.above].map(|part| part.workers.due(&rules.brood));
        let [nest_drones, above_drones] = [&self.nest, &self.above].map(|part| part.drones.due(&rules.brood));
        let stores_sugar = self.sugar_kg();
        let loss = rules.adults.loss_on(day.flight_h);
        let adults = rules.adults.day(self.house, self.foragers, self.drones, stores_sugar, loss);
        let hungry = hunger(stores_sugar, rules.adults.half_food_kg);

        // Nectar, and the cells it finds.
        let offered_kg = self.offered_kg(day, rules);
        let cells_per_kg = rules.stores.nectar_spread / rules.stores.honey_per_cell_kg;
        let free_nest = self.free_nest_cells(rules);
        let nest_opening = nest_workers.freed() + DRONE_CELL * nest_drones.freed();
        let free_above = self.free_above_cells(rules);
        let above_opening = above_workers.freed() + DRONE_CELL * above_drones.freed();
        let placed =
            place(&rules.stores, offered_kg * cells_per_kg, free_above, above_opening, free_nest + nest_opening);

        // Eggs, in the cells the nectar leaves.
        let wanted_eggs = rules.laying.wanted(self.queen, day.laying_season, self.house, self.adults(), hungry);
        let drone_share = if day.drones { rules.laying.drone_share } else { 0.0 };
        let cells_per_egg = 1.0 + (DRONE_CELL - 1.0) * drone_share;
        let eggs = wanted_eggs.min((free_nest + nest_opening - placed.nest).max(0.0) / cells_per_egg);

        // Food and wax.
        let larvae = self.nest.workers.larvae() + self.above.workers.larvae();
        let drone_larvae = self.nest.drones.larvae() + self.above.drones.larvae();
        let food_kg = rules.food.wanted_kg(self.adults() + self.drones, larvae, drone_larvae);
        let drawn_cells = self.drawn_cells(rules, offered_kg) * (1.0 - hungry);
        let wax_kg = drawn_cells * rules.food.wax_sugar_mg_per_cell * 1e-6;
        let wanted_kg = food_kg + wax_kg;
        let eaten_share =
            if stores_sugar > wanted_kg { wanted_kg / stores_sugar } else { f64::from(u8::from(stores_sugar > 0.0)) };
        let had_share = if wanted_kg > 0.0 { (eaten_share * stores_sugar / wanted_kg).min(1.0) } else { 1.0 };

        let mut nest_stores = self.nest.stores.due(&rules.stores, eaten_share);
        let mut above_stores = self.above.stores.due(&rules.stores, eaten_share);
        let water_per_sugar = (1.0 - day.nectar_sugar) / day.nectar_sugar;
        for (stores, cells) in [(&mut nest_stores, placed.nest), (&mut above_stores, placed.above)] {
            stores.nectar_sugar_kg = cells / cells_per_kg * HONEY_SUGAR;
            stores.nectar_water_kg = stores.nectar_sugar_kg * water_per_sugar;
        }
        let carried = self.carried_up_kg(rules, eaten_share, free_above + above_opening - placed.above);
        nest_stores.carried_in_kg = -carried;
        above_stores.carried_in_kg = carried;

        let comb = self.comb.nest + self.comb.above + self.comb.undrawn;
        let crowding = rules.swarm.crowding(self.adults(), comb);
        let free_nest_share = if self.comb.nest > 0.0 { free_nest / self.comb.nest } else { 1.0 };
        Rates {
            nest_workers,
            nest_drones,
            above_workers,
            above_drones,
            worker_eggs: eggs * (1.0 - drone_share),
            drone_eggs: eggs * drone_share,
            eggs_short: wanted_eggs - eggs,
            adults,
            nest_stores,
            above_stores,
            wax_sugar_kg: wax_kg * had_share,
            drawn_cells: drawn_cells * had_share,
            offered_kg,
            refused_kg: placed.refused / cells_per_kg,
            plugged_kg: placed.plugged / cells_per_kg,
            full_after: placed.full_after,
            crowding,
            swarm_hazard: rules.swarm.hazard(day.swarm_season, crowding, free_nest_share),
        }
    }

    /// Honey to be that its foragers could bring, kg: their share of what is offered, at most what they can carry.
    fn offered_kg(&self, day: &ForageDay, rules: &ColonyRules) -> f64 {
        let share = day.intake_kg * self.foragers / rules.reference_foragers;
        let nectar_kg = self.foragers * rules.stores.most_nectar_kg_per_h * day.flight_h;
        share.min(nectar_kg * day.nectar_sugar / HONEY_SUGAR)
    }

    /// Cells drawn on foundation: bees draw comb while nectar comes.
    fn drawn_cells(&self, rules: &ColonyRules, offered_kg: f64) -> f64 {
        if self.comb.undrawn <= 0.0 {
            return 0.0;
        }
        (self.house * rules.stores.drawn_per_bee_day * offered_kg.min(1.0)).min(self.comb.undrawn)
    }

    /// Ripe sugar carried up out of the nest, kg.
    fn carried_up_kg(&self, rules: &ColonyRules, eaten_share: f64, free_cells: f64) -> f64 {
        let ripe_kg = self.nest.stores.ripe_sugar_kg * (1.0 - eaten_share);
        let surplus_kg = ripe_kg - rules.stores.arc_kg * HONEY_SUGAR;
        if surplus_kg <= 0.0 || free_cells <= 0.0 {
            return 0.0;
        }
        let room_kg = free_cells * rules.stores.honey_per_cell_kg * HONEY_SUGAR;
        (surplus_kg * rules.stores.carried_up_per_day).min(room_kg)
    }

    /// Moves what the day moves.
    pub fn advance(&mut self, rates: &Rates) {
        self.nest.workers.advance(&rates.nest_workers, rates.worker_eggs);
        self.nest.drones.advance(&rates.nest_drones, rates.drone_eggs);
        self.above.workers.advance(&rates.above_workers, 0.0);
        self.above.drones.advance(&rates.above_drones, 0.0);
        self.nest.stores.advance(&rates.nest_stores);
        self.above.stores.advance(&rates.above_stores);
        let adults = &rates.adults;
        self.house += rates.emerging() - adults.recruited - adults.house_dead;
        self.foragers += adults.recruited - adults.foragers_dead;
        self.drones += rates.nest_drones.emerging + rates.above_drones.emerging - adults.drones_dead;
        self.comb.undrawn -= rates.drawn_cells;
        self.comb.above += rates.drawn_cells;
        self.queen.lays_in_days = self.queen.lays_in_days.saturating_sub(1);
        self.unswarmed *= 1.0 - rates.swarm_hazard;
    }

    /// One day: the rates, then the move.
    pub fn step(&mut self, day: &ForageDay, rules: &ColonyRules) -> Rates {
        let rates = self.rates(day, rules);
        self.advance(&rates);
        rates
    }

    /// Puts the queen below an excluder: `share` of comb, brood and stores of the nest stays above it (one box of two:
    /// 0.5). Bees pass, the queen does not.
    pub fn put_down(&mut self, share: f64) {
        let share = share.clamp(0.0, 1.0);
        let cells = self.comb.nest * share;
        self.comb.nest -= cells;
        self.comb.above += cells;
        self.above.workers.join(&self.nest.workers.take(share));
        self.above.drones.join(&self.nest.drones.take(share));
        let part = |value: &mut f64| {
            let moved = *value * share;
            *value -= moved;
            moved
        };
        self.above.stores.ripe_sugar_kg += part(&mut self.nest.stores.ripe_sugar_kg);
        self.above.stores.unripe_sugar_kg += part(&mut self.nest.stores.unripe_sugar_kg);
        self.above.stores.unripe_water_kg += part(&mut self.nest.stores.unripe_water_kg);
    }

    /// Puts frames of brood above the excluder, `share` of the nest, with drawn combs out of the boxes that stand there
    /// in their place: the nest keeps its cells.
    pub fn lift_brood(&mut self, share: f64) {
        let nest = self.comb.nest;
        self.put_down(share);
        let back = (nest - self.comb.nest).min(self.comb.above);
        self.comb.nest += back;
        self.comb.above -= back;
    }

    /// What a look into the boxes says: `share` of the cells above that brood does not take hold ripe honey.
    pub fn seen_full(&mut self, share: f64, rules: &ColonyRules) {
        let cells = (self.comb.above - self.above.brood_cells()).max(0.0) * share.clamp(0.0, 1.0);
        self.above.stores = Stores::of_honey(cells * rules.stores.honey_per_cell_kg);
    }

    /// Share of the drawn cells above that stand full, those of brood left aside; 1 when there are none.
    pub fn share_full_above(&self, rules: &ColonyRules) -> f64 {
        let open = self.comb.above - self.above.brood_cells();
        if open > 0.0 { (self.above.stores.cells(&rules.stores) / open).clamp(0.0, 1.0) } else { 1.0 }
    }

    /// Takes boxes off: the fullest first, with the ripe honey in them; says how much that was, kg.
    pub fn take_boxes(&mut self, depth: BoxDepth, frames: FrameCount, boxes: f64, rules: &ColonyRules) -> f64 {
        let cells = (boxes * cells_of_box(depth, frames)).min(self.comb.above);
        let before = self.comb.above;
        let kg = self.pull(cells * rules.stores.honey_per_cell_kg, rules);
        self.comb.above = (before - cells).max(0.0);
        kg
    }

    /// Puts boxes above, drawn or with foundation.
    pub fn add_boxes(&mut self, depth: BoxDepth, frames: FrameCount, boxes: f64, drawn: bool) {
        let cells = boxes * cells_of_box(depth, frames);
        if drawn {
            self.comb.above += cells;
        } else {
            self.comb.undrawn += cells;
        }
    }

    /// Pulls ripe honey with the cells it stands in, up to so many kilograms; says how much was there.
    pub fn pull(&mut self, most_kg: f64, rules: &ColonyRules) -> f64 {
        let kg = most_kg.min(self.above.stores.ripe_sugar_kg / HONEY_SUGAR).max(0.0);
        self.above.stores.ripe_sugar_kg -= kg * HONEY_SUGAR;
        self.comb.above = (self.comb.above - kg / rules.stores.honey_per_cell_kg).max(0.0);
        kg
    }

    /// A prime swarm leaves with the old queen; says how many bees went. What they carry in their crops is left aside.
    pub fn swarm(&mut self, rules: &ColonyRules) -> f64 {
        let share = rules.swarm.swarm_bees_share;
        let gone = self.adults() * share;
        self.house *= 1.0 - share;
        self.foragers *= 1.0 - share;
        self.queen.lays_in_days = SWARM_TO_EGGS_DAYS;
        self.unswarmed = 0.0;
        gone
    }
}

/// Where so many cells of nectar go.
fn place(rules: &StoreRules, wanted: f64, free_above: f64, above_opening: f64, free_nest: f64) -> Placed {
    let nest_most = free_nest * rules.plug_most;
    let first = (wanted * rules.nest_first).min(nest_most);
    let wanted_above = wanted - first;
    let above = wanted_above.min(free_above + above_opening);
    // Cells open evenly over the day and nectar comes evenly too.
    let net = wanted_above - above_opening;
    let full_after = (wanted_above > 0.0 && net >= free_above && net > 0.0).then(|| free_above / net);
    let left = wanted_above - above;
    let plugged = left.min(nest_most - first);
    Placed { above, nest: first + plugged, plugged, refused: left - plugged, full_after }
}

#[cfg(test)]
mod tests;
