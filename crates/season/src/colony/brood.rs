//! Brood by the day: what was laid on each of the last 21 (24) days, and what comes of it.
//!
//! A ring holds one cohort for each day of age, so a day passes in constant time. Losses fall due where a stage ends: at
//! hatching, at capping and at emergence. Ages are those of the trade's stage table; day 0 is the laying day.
//!
//! | symbol | name in code | meaning | unit | value | source |
//! |---|---|---|---|---|---|
//! | T | `WORKER_DAYS`, `DRONE_DAYS` | egg to bee | d | 21, 24 | `outyard_trade::stages` |
//! | e | `HATCH_AGE` | egg to larva | d | 3 | `outyard_trade::stages` |
//! | c | `WORKER_CAPPED`, `DRONE_CAPPED` | egg to capped cell | d | 9, 10 | `outyard_trade::stages` |
//! | sₑ | `egg_survives` | eggs that hatch: (1 − 0.03)³ | of 1 | 0.913 | `[SchmicklCrailsheim2007]`, from memory |
//! | sₗ | `larva_survives` | larvae that are capped: (1 − 0.01)⁶ | of 1 | 0.941 | `[SchmicklCrailsheim2007]`, from memory |
//! | sₚ | `capped_survives` | capped cells a bee leaves: (1 − 0.001)¹² | of 1 | 0.988 | `[SchmicklCrailsheim2007]`, from memory |

use outyard_trade::stages::{DRONE, WORKER};

/// Days from egg to worker.
pub const WORKER_DAYS: usize = 21;
/// Days from egg to drone.
pub const DRONE_DAYS: usize = 24;
/// Age at which an egg hatches, worker and drone.
pub const HATCH_AGE: usize = 3;
/// Age at which a worker cell is capped.
pub const WORKER_CAPPED: usize = 9;
/// Age at which a drone cell is capped.
pub const DRONE_CAPPED: usize = 10;

const _: () = assert!(WORKER.emerges_age == 21 && DRONE.emerges_age == 24);
const _: () = assert!(WORKER.capped_age == 9 && DRONE.capped_age == 10);
const _: () = assert!(WORKER.egg_days == 3 && DRONE.egg_days == 3);

/// Worker brood.
pub type WorkerBrood = Cohorts<WORKER_DAYS, WORKER_CAPPED>;
/// Drone brood.
pub type DroneBrood = Cohorts<DRONE_DAYS, DRONE_CAPPED>;

/// What part of the brood lives through each stage.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BroodRules {
    /// Eggs that hatch.
    pub egg_survives: f64,
    /// Larvae that are capped.
    pub larva_survives: f64,
    /// Capped cells a bee leaves.
    pub capped_survives: f64,
}

impl Default for BroodRules {
    fn default() -> Self {
        Self { egg_survives: 0.97_f64.powi(3), larva_survives: 0.99_f64.powi(6), capped_survives: 0.999_f64.powi(12) }
    }
}

impl BroodRules {
    /// No brood is lost.
    pub const ALL_LIVE: Self = Self { egg_survives: 1.0, larva_survives: 1.0, capped_survives: 1.0 };

    /// Eggs that become bees.
    pub fn all_through(&self) -> f64 {
        self.egg_survives * self.larva_survives * self.capped_survives
    }
}

/// Brood cells by age in whole days.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Cohorts<const DAYS: usize, const CAPPED: usize> {
    by_slot: [f64; DAYS],
    newest: usize,
    cells: f64,
    larvae: f64,
}

/// What a day brings to the brood of one caste.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct BroodDay {
    /// Bees that emerge.
    pub emerging: f64,
    /// Cells they, and the dead among them, leave empty.
    pub opening: f64,
    /// Eggs that become larvae.
    pub hatching: f64,
    /// Eggs lost at hatching.
    pub eggs_lost: f64,
    /// Larvae that come to be capped, the lost ones counted.
    pub capping: f64,
    /// Larvae lost at capping.
    pub larvae_lost: f64,
}

impl BroodDay {
    /// Brood lost at all three ends.
    pub fn lost(&self) -> f64 {
        self.eggs_lost + self.larvae_lost + (self.opening - self.emerging)
    }

    /// Cells empty at the end of the day that were not at its beginning.
    pub fn freed(&self) -> f64 {
        self.opening + self.eggs_lost + self.larvae_lost
    }
}

impl<const DAYS: usize, const CAPPED: usize> Default for Cohorts<DAYS, CAPPED> {
    fn default() -> Self {
        Self { by_slot: [0.0; DAYS], newest: 0, cells: 0.0, larvae: 0.0 }
    }
}

impl<const DAYS: usize, const CAPPED: usize> Cohorts<DAYS, CAPPED> {
    /// The same number of cells at every age.
    pub fn even(each_day: f64) -> Self {
        let mut brood = Self { by_slot: [each_day; DAYS], ..Self::default() };
        brood.sum_anew();
        brood
    }

    /// Brood of a queen who laid so many eggs a day for more than a generation.
    pub fn steady(eggs_per_day: f64, rules: &BroodRules) -> Self {
        Self::of_ages(|age| {
            let hatched = if age >= HATCH_AGE { rules.egg_survives } else { 1.0 };
            let capped = if age >= CAPPED { rules.larva_survives } else { 1.0 };
            eggs_per_day * hatched * capped
        })
    }

    /// Brood with so many cells at each age.
    pub fn of_ages(cells_at: impl Fn(usize) -> f64) -> Self {
        let mut brood = Self::default();
        for age in 0..DAYS {
            let slot = brood.slot(age);
            brood.by_slot[slot] = cells_at(age);
        }
        brood.sum_anew();
        brood
    }

    fn slot(&self, age: usize) -> usize {
        (self.newest + DAYS - age) % DAYS
    }

    fn sum_anew(&mut self) {
        self.cells = self.by_slot.iter().sum();
        self.larvae = (HATCH_AGE..CAPPED).map(|age| self.by_slot[self.slot(age)]).sum();
    }

    /// Cells of one age.
    pub fn of_age(&self, age: usize) -> f64 {
        if age < DAYS { self.by_slot[self.slot(age)] } else { 0.0 }
    }

    /// All brood cells.
    pub fn cells(&self) -> f64 {
        self.cells
    }

    /// Open cells with larvae.
    pub fn larvae(&self) -> f64 {
        self.larvae
    }

    /// Cells with eggs.
    pub fn eggs(&self) -> f64 {
        (0..HATCH_AGE).map(|age| self.of_age(age)).sum()
    }

    /// Capped cells.
    pub fn capped(&self) -> f64 {
        (CAPPED..DAYS).map(|age| self.of_age(age)).sum()
    }

    /// What the next day brings, from the brood as it stands.
    pub fn due(&self, rules: &BroodRules) -> BroodDay {
        let opening = self.by_slot[self.slot(DAYS - 1)];
        let hatching = self.by_slot[self.slot(HATCH_AGE - 1)];
        let capping = self.by_slot[self.slot(CAPPED - 1)];
        BroodDay {
            emerging: opening * rules.capped_survives,
            opening,
            hatching: hatching * rules.egg_survives,
            eggs_lost: hatching * (1.0 - rules.egg_survives),
            capping,
            larvae_lost: capping * (1.0 - rules.larva_survives),
        }
    }

    /// Lets the day pass and takes in the eggs laid on it.
    pub fn advance(&mut self, due: &BroodDay, eggs: f64) {
        let hatching = self.slot(HATCH_AGE - 1);
        let capping = self.slot(CAPPED - 1);
        self.by_slot[hatching] -= due.eggs_lost;
        self.by_slot[capping] -= due.larvae_lost;
        self.newest = (self.newest + 1) % DAYS;
        self.by_slot[self.newest] = eggs;
        if self.newest == 0 {
            // Once a round: the dust of running sums does not gather.
            self.sum_anew();
        } else {
            self.cells += eggs - due.freed();
            self.larvae += due.hatching - due.capping;
        }
    }

    /// Takes a share of every cohort out, as brood for another part of the hive.
    #[must_use]
    pub fn take(&mut self, share: f64) -> Self {
        let mut taken = *self;
        for (left, taken) in self.by_slot.iter_mut().zip(&mut taken.by_slot) {
            *taken = *left * share;
            *left -= *taken;
        }
        self.sum_anew();
        taken.sum_anew();
        taken
    }

    /// Puts other brood with this, age by age.
    pub fn join(&mut self, other: &Self) {
        for age in 0..DAYS {
            let slot = self.slot(age);
            self.by_slot[slot] += other.of_age(age);
        }
        self.sum_anew();
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn day(brood: &mut WorkerBrood, eggs: f64, rules: &BroodRules) -> f64 {
        let due = brood.due(rules);
        brood.advance(&due, eggs);
        due.emerging
    }

    // Trade facts 1.1: worker hatches at age 3, is capped at 9 and emerges at 21; drone 3, 10, 24.
    #[test]
    fn an_egg_keeps_the_days_of_the_stage_table() {
        let rules = BroodRules::ALL_LIVE;
        let mut worker = WorkerBrood::default();
        assert!(day(&mut worker, 100.0, &rules).abs() < 1e-12);
        for age in 1..=20 {
            assert!(day(&mut worker, 0.0, &rules).abs() < 1e-12);
            let stage = [worker.eggs(), worker.larvae(), worker.capped()];
            let wanted = [age < 3, (3..9).contains(&age), age >= 9].map(|here| if here { 100.0 } else { 0.0 });
            assert!(stage.iter().zip(wanted).all(|(cells, wanted)| (cells - wanted).abs() < 1e-12), "age {age}");
        }
        assert!((day(&mut worker, 0.0, &rules) - 100.0).abs() < 1e-12);
        assert!(worker.cells().abs() < 1e-12);

        let mut drone = DroneBrood::default();
        let emerged: Vec<f64> = (0..25)
            .map(|day| {
                let due = drone.due(&rules);
                drone.advance(&due, if day == 0 { 7.0 } else { 0.0 });
                due.emerging
            })
            .collect();
        assert_eq!(emerged.iter().position(|bees| *bees > 0.0), Some(24));
    }

    // Trade facts 3.4: 21 times the eggs of a day; 1500 a day give 31 500 cells, 18 000 capped and 13 500 open.
    #[test]
    fn a_steady_queen_keeps_so_many_cells() {
        for (eggs, all, capped) in
            [(1000.0, 21_000.0, 12_000.0), (1500.0, 31_500.0, 18_000.0), (2000.0, 42_000.0, 24_000.0)]
        {
            let brood = WorkerBrood::steady(eggs, &BroodRules::ALL_LIVE);
            assert!((brood.cells() - all).abs() < 1e-9);
            assert!((brood.capped() - capped).abs() < 1e-9);
            assert!((brood.eggs() + brood.larvae() - (all - capped)).abs() < 1e-9);
        }
    }

    proptest::proptest! {
        #[test]
        fn cells_are_laid_leave_or_are_lost_and_nothing_else(
            eggs in proptest::collection::vec(0.0_f64..3000.0, 1..90),
            survives in (0.5_f64..1.0, 0.5_f64..1.0, 0.5_f64..1.0),
        ) {
            let rules =
                BroodRules { egg_survives: survives.0, larva_survives: survives.1, capped_survives: survives.2 };
            let mut brood = DroneBrood::default();
            let (mut laid, mut out) = (0.0, 0.0);
            for eggs in eggs {
                let due = brood.due(&rules);
                brood.advance(&due, eggs);
                laid += eggs;
                out += due.emerging + due.lost();
                proptest::prop_assert!((laid - out - brood.cells()).abs() <= 1e-9 * laid.max(1.0));
                let stages = brood.eggs() + brood.larvae() + brood.capped();
                proptest::prop_assert!((stages - brood.cells()).abs() <= 1e-9 * laid.max(1.0));
            }
        }

        #[test]
        fn brood_taken_and_joined_again_is_the_same(eggs in 1.0_f64..3000.0, share in 0.0_f64..1.0, days in 0_usize..30) {
            let rules = BroodRules::default();
            let mut brood = WorkerBrood::default();
            for _ in 0..days {
                day(&mut brood, eggs, &rules);
            }
            let whole = brood;
            let taken = brood.take(share);
            proptest::prop_assert!((taken.cells() + brood.cells() - whole.cells()).abs() < 1e-6);
            brood.join(&taken);
            for age in 0..WORKER_DAYS {
                proptest::prop_assert!((brood.of_age(age) - whole.of_age(age)).abs() < 1e-9);
            }
        }
    }
}
