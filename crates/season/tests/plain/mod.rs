//! The day step of a colony written a second time, as plainly as it can be: lists that grow and are cut, every sum made
//! anew. It is the measure of the room's own step, for its answer and for its speed. Put-down doubles, queens that lay
//! and drawn comb only.

use outyard_season::colony::brood::{BroodRules, DroneBrood, WorkerBrood};
use outyard_season::colony::{Colony, ColonyRules, ForageDay};

/// Brood of one caste, the youngest first.
pub(crate) struct PlainBrood {
    ages: Vec<f64>,
    capped_age: usize,
}

impl PlainBrood {
    fn cells(&self) -> f64 {
        self.ages.iter().sum()
    }

    fn larvae(&self) -> f64 {
        self.ages[3..self.capped_age].iter().sum()
    }

    /// Bees out, cells freed.
    fn day(&self, rules: &BroodRules) -> (f64, f64) {
        let oldest = self.ages[self.ages.len() - 1];
        let lost =
            self.ages[2] * (1.0 - rules.egg_survives) + self.ages[self.capped_age - 1] * (1.0 - rules.larva_survives);
        (oldest * rules.capped_survives, oldest + lost)
    }

    fn advance(&mut self, rules: &BroodRules, eggs: f64) {
        self.ages[2] *= rules.egg_survives;
        let capping = self.capped_age - 1;
        self.ages[capping] *= rules.larva_survives;
        self.ages.pop();
        self.ages.insert(0, eggs);
    }
}

/// Stores of one part: ripe sugar, unripe sugar, unripe water, kg.
#[derive(Clone, Copy)]
pub(crate) struct PlainStores {
    ripe: f64,
    unripe: f64,
    water: f64,
}

impl PlainStores {
    fn cells(&self, rules: &ColonyRules) -> f64 {
        (self.ripe + rules.stores.nectar_spread * self.unripe) / 0.82 / rules.stores.honey_per_cell_kg
    }
}

/// The colony.
pub(crate) struct PlainColony {
    workers: [PlainBrood; 2],
    drone_brood: [PlainBrood; 2],
    stores: [PlainStores; 2],
    nest_cells: f64,
    above_cells: f64,
    house: f64,
    foragers: f64,
    drones: f64,
    best_eggs: f64,
    /// Probability that it has not swarmed.
    pub(crate) unswarmed: f64,
}

fn plain_workers(brood: &WorkerBrood) -> PlainBrood {
    PlainBrood { ages: (0..21).map(|age| brood.of_age(age)).collect(), capped_age: 9 }
}

fn plain_drones(brood: &DroneBrood) -> PlainBrood {
    PlainBrood { ages: (0..24).map(|age| brood.of_age(age)).collect(), capped_age: 10 }
}

impl PlainColony {
    /// The same colony, plainly.
    pub(crate) fn of(colony: &Colony) -> Self {
        let parts = [&colony.nest, &colony.above];
        Self {
            workers: parts.map(|part| plain_workers(&part.workers)),
            drone_brood: parts.map(|part| plain_drones(&part.drones)),
            stores: parts.map(|part| PlainStores {
                ripe: part.stores.ripe_sugar_kg,
                unripe: part.stores.unripe_sugar_kg,
                water: part.stores.unripe_water_kg,
            }),
            nest_cells: colony.comb.nest,
            above_cells: colony.comb.above,
            house: colony.house,
            foragers: colony.foragers,
            drones: colony.drones,
            best_eggs: colony.queen.eggs_per_day,
            unswarmed: colony.unswarmed,
        }
    }

    /// One day.
    pub(crate) fn step(&mut self, day: &ForageDay, rules: &ColonyRules) {
        let all = self.house + self.foragers;
        let sugar: f64 = self.stores.iter().map(|stores| stores.ripe + stores.unripe).sum();
        let half = rules.adults.half_food_kg;
        let hungry = half * half / (half * half + sugar * sugar);

        // Room.
        let brood = |part: usize| self.workers[part].cells() + 1.42 * self.drone_brood[part].cells();
        let days: Vec<[(f64, f64); 2]> = (0..2)
            .map(|part| [self.workers[part].day(&rules.brood), self.drone_brood[part].day(&rules.brood)])
            .collect();
        let opening = |part: usize| days[part][0].1 + 1.42 * days[part][1].1;
        let free_nest =
            (self.nest_cells * (1.0 - rules.pollen_share) - brood(0) - self.stores[0].cells(rules)).max(0.0);
        let free_above = (self.above_cells - brood(1) - self.stores[1].cells(rules)).max(0.0);

        // Nectar.
        let carried = self.foragers * rules.stores.most_nectar_kg_per_h * day.flight_h * day.nectar_sugar / 0.82;
        let offered = (day.intake_kg * self.foragers / rules.reference_foragers).min(carried);
        let cells = offered * rules.stores.nectar_spread / rules.stores.honey_per_cell_kg;
        let nest_most = rules.stores.plug_most * (free_nest + opening(0));
        let first = (rules.stores.nest_first * cells).min(nest_most);
        let above = (cells - first).min(free_above + opening(1));
        let nest = first + (cells - first - above).min(nest_most - first);
        let placed = [nest, above];

        // Eggs.
        let care = self.house / (rules.laying.half_care_house + self.house) * all / (rules.laying.half_care_bees + all);
        let wanted = self.best_eggs * day.laying_season * care * (1.0 - hungry);
        let drone_share = if day.drones { rules.laying.drone_share } else { 0.0 };
        let eggs = wanted.min((free_nest + opening(0) - nest).max(0.0) / (1.0 + 0.42 * drone_share));

        // Food.
        let larvae: f64 = self.workers.iter().map(PlainBrood::larvae).sum();
        let drone_larvae: f64 = self.drone_brood.iter().map(PlainBrood::larvae).sum();
        let food = 1e-6
            * ((all + self.drones) * rules.food.adult_mg_per_day
                + larvae * rules.food.worker_larva_mg / 6.0
                + drone_larvae * rules.food.drone_larva_mg / 7.0);
        let eaten = (food / sugar).min(1.0);

        // Carried up.
        let surplus = self.stores[0].ripe * (1.0 - eaten) - 0.82 * rules.stores.arc_kg;
        let room = (free_above + opening(1) - above).max(0.0) * rules.stores.honey_per_cell_kg * 0.82;
        let up = (surplus.max(0.0) * rules.stores.carried_up_per_day).min(room);

        // Bees.
        let recruit = rules.adults.recruit_most + rules.adults.hungry_recruit_more * hungry
            - rules.adults.inhibition * self.foragers / all;
        let flown = day.flight_h / rules.adults.usual_flight_h;
        let rest = rules.adults.forager_loss_at_rest;
        let loss = (rest + (rules.adults.forager_loss - rest) * flown).clamp(0.0, 0.9);
        let crowding = all / ((self.nest_cells + self.above_cells) * rules.swarm.bees_per_cell);
        let hazard = rules.swarm.hazard(day.swarm_season, crowding, free_nest / self.nest_cells);

        let recruited = self.house * recruit;
        let workers_out: f64 = days.iter().map(|day| day[0].0).sum();
        let drones_out: f64 = days.iter().map(|day| day[1].0).sum();
        self.house += workers_out - recruited - self.house * rules.adults.house_loss;
        self.foragers += recruited - self.foragers * loss;
        self.drones += drones_out - self.drones * rules.adults.drone_loss;
        for (part, cells) in placed.into_iter().enumerate() {
            let (workers, drones) =
                if part == 0 { (eggs * (1.0 - drone_share), eggs * drone_share) } else { (0.0, 0.0) };
            self.workers[part].advance(&rules.brood, workers);
            self.drone_brood[part].advance(&rules.brood, drones);
            let stores = &mut self.stores[part];
            let ripens = rules.stores.ripens_per_day;
            let brought = cells * rules.stores.honey_per_cell_kg / rules.stores.nectar_spread * 0.82;
            let carried = if part == 0 { -up } else { up };
            stores.ripe = (stores.ripe + ripens * stores.unripe) * (1.0 - eaten) + carried;
            stores.unripe = stores.unripe * (1.0 - ripens) * (1.0 - eaten) + brought;
            stores.water =
                stores.water * (1.0 - ripens) * (1.0 - eaten) + brought * (1.0 - day.nectar_sugar) / day.nectar_sugar;
        }
        self.unswarmed *= 1.0 - hazard;
    }

    /// House bees, foragers, drones, all brood cells, all sugar, all unripe water.
    pub(crate) fn figures(&self) -> [f64; 6] {
        let brood: f64 = self.workers.iter().chain(&self.drone_brood).map(PlainBrood::cells).sum();
        let sugar = self.stores.iter().map(|stores| stores.ripe + stores.unripe).sum();
        let water = self.stores.iter().map(|stores| stores.water).sum();
        [self.house, self.foragers, self.drones, brood, sugar, water]
    }
}
