//! House bees and foragers after the papers, in continuous time: the limit the daily colony is held against.
//!
//! Khoury, Myerscough & Barron 2011: dH/dt = L·N/(w + N) − H·R, dF/dt = H·R − m·F, R = α − σ·F/N, N = H + F. No time
//! passes between egg and bee and house bees do not die. Khoury, Barron & Myerscough 2013 add brood and food:
//! dB/dt = L·S − φ·B, dH/dt = φ·B − R·H, dF/dt = R·H − m·F, df/dt = c·F − γA·(F + H) − γB·B with
//! S = f²/(b² + f²)·H/(H + v) and R = αmin + αmax·b²/(b² + f²) − σ·F/(F + H). Both are integrated by the classical
//! fourth-order Runge-Kutta rule with a fixed step. Their equations and values are given from memory; the check values
//! were worked out anew by two other solvers.
//!
//! | symbol | name in code | meaning | unit | value | source |
//! |---|---|---|---|---|---|
//! | L | `eggs_per_day` | eggs of the queen | 1/d | 2000 | `[Khoury2011]`, from memory |
//! | w | `half_care_bees` | adults that care for half of the eggs | bees | 27 000 | `[Khoury2011]`, from memory |
//! | α | `recruit_most` | quickest recruitment | 1/d | 0.25 | `[Khoury2011]`, from memory |
//! | σ | `inhibition` | pull of foragers back into the house | 1/d | 0.75 | `[Khoury2011]`, from memory |
//! | m | `loss` | death of foragers | 1/d | input | - |
//! | φ | `capped_out` | brood to bees | 1/d | 1/9 | `[Khoury2013]`, from memory |
//! | v | `half_care_house` | house bees that care for half of the eggs | bees | 5000 | `[Khoury2013]`, from memory |
//! | b | `half_food_g` | food at which laying halves | g | 500 | `[Khoury2013]`, from memory |
//! | αmax | `hungry_recruit_more` | recruitment a hungry colony adds | 1/d | 0.25 | `[Khoury2013]`, from memory |
//! | c | `brought_g` | food a forager brings | g/d | 0.1 | `[Khoury2013]`, from memory |
//! | γA, γB | `adult_eats_g`, `brood_eats_g` | food of an adult, of brood | g/d | 0.007, 0.018 | `[Khoury2013]`, from memory |

/// The colony of 2011.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Khoury2011 {
    /// Eggs of the queen, 1/d.
    pub eggs_per_day: f64,
    /// Adults that care for half of the eggs.
    pub half_care_bees: f64,
    /// Quickest recruitment, 1/d.
    pub recruit_most: f64,
    /// Pull of foragers back into the house, 1/d.
    pub inhibition: f64,
}

impl Default for Khoury2011 {
    fn default() -> Self {
        Self { eggs_per_day: 2000.0, half_care_bees: 27_000.0, recruit_most: 0.25, inhibition: 0.75 }
    }
}

/// Adults of a colony.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Adults {
    /// House bees.
    pub house: f64,
    /// Foragers.
    pub foragers: f64,
}

impl Adults {
    /// All adults.
    pub fn total(&self) -> f64 {
        self.house + self.foragers
    }
}

/// Recruitment of house bees a day, α − σ·F/N; below nought foragers go back to the house. Nought in an empty colony.
pub fn recruitment(recruit_most: f64, inhibition: f64, house: f64, foragers: f64) -> f64 {
    let all = house + foragers;
    if all > 0.0 { recruit_most - inhibition * foragers / all } else { 0.0 }
}

/// Share of foragers among the adults of a colony at rest: the smaller root of σr² − (α + σ + m)r + α = 0.
pub fn forager_share(recruit_most: f64, inhibition: f64, loss: f64) -> f64 {
    let half = f64::midpoint(recruit_most + inhibition, loss);
    // The form without cancellation; it holds for σ = 0 too.
    recruit_most / (half + (half * half - inhibition * recruit_most).sqrt())
}

impl Khoury2011 {
    /// The colony at rest for a forager loss; `None` when it dies out.
    ///
    /// ```
    /// use outyard_season::colony::khoury::Khoury2011;
    /// let rest = Khoury2011::default().at_rest(0.24).unwrap();
    /// assert!((rest.house - 6470.04).abs() < 0.01 && (rest.foragers - 1987.76).abs() < 0.01);
    /// ```
    pub fn at_rest(&self, loss: f64) -> Option<Adults> {
        let share = forager_share(self.recruit_most, self.inhibition, loss);
        let all = self.eggs_per_day / (loss * share) - self.half_care_bees;
        (all > 0.0).then_some(Adults { house: (1.0 - share) * all, foragers: share * all })
    }

    /// Forager loss from which the colony dies out; `None` when it never does (α ≤ L/w).
    pub fn critical_loss(&self) -> Option<f64> {
        let (most, pull) = (self.recruit_most, self.inhibition);
        let growth = self.eggs_per_day / self.half_care_bees;
        (most > growth).then(|| {
            growth / 2.0 * (most + pull + ((most - pull).powi(2) + 4.0 * pull * growth).sqrt()) / (most - growth)
        })
    }

    /// The colony after so many days at a constant forager loss.
    pub fn after(&self, start: Adults, loss: f64, days: f64) -> Adults {
        let rates = |[house, foragers]: [f64; 2]| {
            let all = house + foragers;
            let emerging = self.eggs_per_day * all / (self.half_care_bees + all);
            let recruited = house * recruitment(self.recruit_most, self.inhibition, house, foragers);
            [emerging - recruited, recruited - loss * foragers]
        };
        let [house, foragers] = integrate([start.house, start.foragers], days, rates);
        Adults { house, foragers }
    }
}

/// The colony of 2013, with brood and food.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Khoury2013 {
    /// Eggs of the queen, 1/d.
    pub eggs_per_day: f64,
    /// Brood to bees, 1/d.
    pub capped_out: f64,
    /// House bees that care for half of the eggs.
    pub half_care_house: f64,
    /// Food at which laying halves, g.
    pub half_food_g: f64,
    /// Recruitment of a fed colony without foragers, 1/d.
    pub recruit_most: f64,
    /// What hunger adds to it, 1/d.
    pub hungry_recruit_more: f64,
    /// Pull of foragers back into the house, 1/d.
    pub inhibition: f64,
    /// Food a forager brings, g/d.
    pub brought_g: f64,
    /// Food of an adult, g/d.
    pub adult_eats_g: f64,
    /// Food of brood, g/d.
    pub brood_eats_g: f64,
}

impl Default for Khoury2013 {
    fn default() -> Self {
        Self {
            eggs_per_day: 2000.0,
            capped_out: 1.0 / 9.0,
            half_care_house: 5000.0,
            half_food_g: 500.0,
            recruit_most: 0.25,
            hungry_recruit_more: 0.25,
            inhibition: 0.75,
            brought_g: 0.1,
            adult_eats_g: 0.007,
            brood_eats_g: 0.018,
        }
    }
}

/// State of the colony of 2013.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FedColony {
    /// Uncapped brood.
    pub brood: f64,
    /// House bees.
    pub house: f64,
    /// Foragers.
    pub foragers: f64,
    /// Food, g.
    pub food_g: f64,
}

/// How hungry a colony is, 1 with no food and 0 with plenty: b²/(b² + f²). Nothing makes a colony hungry with b = 0.
pub fn hunger(food: f64, half_food: f64) -> f64 {
    if half_food <= 0.0 {
        return 0.0;
    }
    half_food * half_food / (half_food * half_food + food * food)
}

impl Khoury2013 {
    fn rates(&self, loss: f64, [brood, house, foragers, food]: [f64; 4]) -> [f64; 4] {
        let hunger = hunger(food, self.half_food_g);
        let raised = (1.0 - hunger) * house / (house + self.half_care_house);
        let most = self.recruit_most + self.hungry_recruit_more * hunger;
        let recruited = house * recruitment(most, self.inhibition, house, foragers);
        let emerging = self.capped_out * brood;
        [
            self.eggs_per_day * raised - emerging,
            emerging - recruited,
            recruited - loss * foragers,
            self.brought_g * foragers - self.adult_eats_g * (house + foragers) - self.brood_eats_g * brood,
        ]
    }

    /// Rates of change a day: brood, house bees, foragers, food.
    pub fn rates_of(&self, loss: f64, colony: FedColony) -> FedColony {
        let [brood, house, foragers, food_g] =
            self.rates(loss, [colony.brood, colony.house, colony.foragers, colony.food_g]);
        FedColony { brood, house, foragers, food_g }
    }

    /// The colony after so many days at a constant forager loss.
    pub fn after(&self, start: FedColony, loss: f64, days: f64) -> FedColony {
        let state = [start.brood, start.house, start.foragers, start.food_g];
        let [brood, house, foragers, food_g] = integrate(state, days, |state| self.rates(loss, state));
        FedColony { brood, house, foragers, food_g }
    }

    /// The colony at rest with all the food it wants; `food_g` is what its food then changes a day. `None` when it
    /// dies out.
    pub fn at_rest_with_plenty(&self, loss: f64) -> Option<FedColony> {
        let share = forager_share(self.recruit_most, self.inhibition, loss);
        let recruited = self.recruit_most - self.inhibition * share;
        let house = self.eggs_per_day / recruited - self.half_care_house;
        (house > 0.0).then(|| {
            let foragers = house * share / (1.0 - share);
            let brood = self.eggs_per_day * house / (house + self.half_care_house) / self.capped_out;
            let food_g = self.brought_g * foragers - self.adult_eats_g * (house + foragers) - self.brood_eats_g * brood;
            FedColony { brood, house, foragers, food_g }
        })
    }
}

/// Runge-Kutta of fourth order in steps of at most a hundredth of a day.
fn integrate<const N: usize>(start: [f64; N], days: f64, rates: impl Fn([f64; N]) -> [f64; N]) -> [f64; N] {
    const STEPS_A_DAY: f64 = 100.0;
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "days of some years")]
    let steps = (days.max(0.0) * STEPS_A_DAY).ceil() as u32;
    let step = if steps > 0 { days / f64::from(steps) } else { 0.0 };
    let plus = |state: &[f64; N], rate: &[f64; N], part: f64| core::array::from_fn(|i| state[i] + part * rate[i]);
    (0..steps).fold(start, |state, _| {
        let first = rates(state);
        let second = rates(plus(&state, &first, step / 2.0));
        let third = rates(plus(&state, &second, step / 2.0));
        let fourth = rates(plus(&state, &third, step));
        core::array::from_fn(|i| state[i] + step / 6.0 * (first[i] + 2.0 * second[i] + 2.0 * third[i] + fourth[i]))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn near(got: f64, wanted: f64, allowed: f64) {
        assert!((got - wanted).abs() <= allowed, "{got} is not {wanted}");
    }

    // Trade facts 3.1: every row of the table (closed form there = LSODA to 20 000 days).
    #[test]
    fn every_colony_at_rest_is_that_of_the_table() {
        for (loss, share, all, house, foragers, days) in [
            (0.050, 0.304_189, 104_497.37, 72_710.46, 31_786.91, 45.749),
            (0.100, 0.281_178, 44_129.32, 31_721.13, 12_408.19, 25.565),
            (0.120, 0.273_193, 34_007.04, 24_716.57, 9290.47, 22.170),
            (0.150, 0.262_242, 23_843.66, 17_590.86, 6252.80, 18.755),
            (0.200, 0.246_225, 13_613.25, 10_261.32, 3351.92, 15.307),
            (0.240, 0.235_021, 8457.81, 6470.04, 1987.76, 13.562),
            (0.250, 0.232_408, 7422.21, 5697.22, 1724.98, 13.211),
            (0.300, 0.220_309, 3260.48, 2542.17, 718.31, 11.797),
            (0.340, 0.211_636, 794.66, 626.48, 168.18, 10.956),
            (0.350, 0.209_589, 264.18, 208.81, 55.37, 10.775),
            (0.355, 0.208_583, 9.86, 7.80, 2.06, 10.688),
        ] {
            let model = Khoury2011::default();
            let rest = model.at_rest(loss).unwrap();
            near(forager_share(model.recruit_most, model.inhibition, loss), share, 6e-7);
            near(rest.total(), all, 0.006);
            near(rest.house, house, 0.006);
            near(rest.foragers, foragers, 0.006);
            let recruited = recruitment(model.recruit_most, model.inhibition, rest.house, rest.foragers);
            near(1.0 / recruited, days, 6e-4);
            near(recruited, loss * share / (1.0 - share), 1e-6);
            // It is at rest: a day later nothing has moved.
            let later = model.after(rest, loss, 1.0);
            near(later.house, rest.house, 1e-6);
            near(later.foragers, rest.foragers, 1e-6);
        }
        assert_eq!(Khoury2011::default().at_rest(0.400), None);
        near(forager_share(0.25, 0.75, 0.400), 0.2, 1e-12);
    }

    // Trade facts 3.1.
    #[test]
    fn the_critical_loss_is_the_published_one_for_every_queen() {
        near(Khoury2011::default().critical_loss().unwrap(), 0.355_196_688_6, 5e-11);
        for (eggs_per_day, critical) in
            [(1000.0, 0.13921), (1500.0, 0.23507), (2000.0, 0.35520), (2500.0, 0.50779), (3000.0, 0.70551)]
        {
            let model = Khoury2011 { eggs_per_day, ..Khoury2011::default() };
            let found = model.critical_loss().unwrap();
            near(found, critical, 6e-6);
            assert!(model.at_rest(found - 1e-6).is_some());
            assert_eq!(model.at_rest(found + 1e-6), None);
        }
        let boundless = Khoury2011 { eggs_per_day: 8000.0, ..Khoury2011::default() };
        assert_eq!(boundless.critical_loss(), None);
    }

    // Trade facts 3.1: trajectories from 16 000 and 8 000 (DOP853, rtol 1e-11).
    #[test]
    fn every_course_is_that_of_the_table() {
        let start = Adults { house: 16_000.0, foragers: 8000.0 };
        for (loss, rows) in [
            (
                0.24,
                [
                    (1.0, 16_598.09, 6600.81),
                    (5.0, 16_235.39, 5165.91),
                    (10.0, 15_070.03, 4735.63),
                    (20.0, 13_203.08, 4131.78),
                    (50.0, 10_010.50, 3108.29),
                    (100.0, 7911.19, 2441.74),
                    (200.0, 6773.84, 2083.19),
                ],
            ),
            (
                0.40,
                [
                    (1.0, 16_421.39, 5798.37),
                    (5.0, 14_612.51, 3854.80),
                    (10.0, 12_155.09, 3169.66),
                    (20.0, 8797.82, 2277.99),
                    (50.0, 4285.92, 1096.37),
                    (100.0, 1946.86, 494.09),
                    (200.0, 682.76, 172.43),
                ],
            ),
        ] {
            for (days, house, foragers) in rows {
                let later = Khoury2011::default().after(start, loss, days);
                near(later.house, house, 0.006);
                near(later.foragers, foragers, 0.006);
            }
        }
    }

    // Trade facts 3.2: food-rich limit.
    #[test]
    fn every_fed_colony_at_rest_is_that_of_the_table() {
        for (loss, recruited, brood, house, foragers, food_g) in [
            (0.10, 0.039_116, 16_239.8, 46_129.3, 18_044.2, 1062.89),
            (0.14, 0.050_675, 15_719.6, 34_467.1, 12_475.9, 636.03),
            (0.20, 0.065_331, 15_060.1, 25_613.2, 8366.7, 327.73),
            (0.25, 0.075_694, 14_593.8, 21_422.2, 6486.1, 190.57),
            (0.30, 0.084_768, 14_185.4, 18_593.8, 5253.9, 103.11),
            (0.35, 0.092_808, 13_823.6, 16_549.9, 4388.5, 43.45),
            (0.40, 0.100_000, 13_500.0, 15_000.0, 3750.0, 0.75),
            (0.45, 0.106_485, 13_208.2, 13_782.0, 3261.3, -30.92),
        ] {
            let rest = Khoury2013::default().at_rest_with_plenty(loss).unwrap();
            near(recruitment(0.25, 0.75, rest.house, rest.foragers), recruited, 6e-7);
            near(rest.brood, brood, 0.06);
            near(rest.house, house, 0.06);
            near(rest.foragers, foragers, 0.06);
            near(rest.food_g, food_g, 0.006);
        }
    }

    // Trade facts 3.2: stores grow below m = 0.4010319166 (brentq) and shrink above it.
    #[test]
    fn stores_stop_growing_at_the_published_loss() {
        let change = |loss: f64| Khoury2013::default().at_rest_with_plenty(loss).unwrap().food_g;
        let (mut low, mut high) = (0.2, 0.6);
        while high - low > 1e-13 {
            let middle = f64::midpoint(low, high);
            if change(middle) > 0.0 { low = middle } else { high = middle }
        }
        near(low, 0.401_031_916_6, 1e-10);
    }

    // Trade facts 3.2: stable states with little food.
    #[test]
    fn colonies_with_little_food_rest_where_the_table_says() {
        for (loss, brood, house, foragers, food_g) in
            [(0.42, 10_391.47, 9802.38, 2749.07, 1303.72), (0.45, 3715.84, 2634.51, 917.49, 610.12)]
        {
            let rest = FedColony { brood, house, foragers, food_g };
            let rates = Khoury2013::default().rates_of(loss, rest);
            for rate in [rates.brood, rates.house, rates.foragers, rates.food_g] {
                near(rate, 0.0, 0.02);
            }
        }
    }

    // Trade facts 3.2: courses from no brood and no food (LSODA, rtol 1e-10).
    #[test]
    fn every_fed_course_is_that_of_the_table() {
        let start = FedColony { brood: 0.0, house: 16_000.0, foragers: 8000.0, food_g: 0.0 };
        for (loss, days, brood, house, foragers, food_g) in [
            (0.20, 10.0, 8008.16, 12_890.24, 4359.97, 3637.57),
            (0.20, 60.0, 14_496.17, 22_524.83, 7311.08, 12_969.76),
            (0.20, 365.0, 15_059.60, 25_611.56, 8366.37, 111_106.17),
            (0.40, 60.0, 11_878.73, 12_098.65, 3219.86, 2002.63),
            (0.40, 365.0, 12_887.19, 13_891.21, 3573.29, 3091.46),
        ] {
            let later = Khoury2013::default().after(start, loss, days);
            near(later.brood, brood, 0.01);
            near(later.house, house, 0.01);
            near(later.foragers, foragers, 0.01);
            near(later.food_g, food_g, 0.02);
        }
    }
}
