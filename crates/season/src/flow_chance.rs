//! Is the flow on: as a probability, beside the rule.
//!
//! A hidden Markov chain of two states. In a dearth a colony loses a little; in a flow it gains, or sits out a bad day. A
//! flow begins and ends with the same chance every day, so its length is geometric. The forward pass gives what could be
//! known that evening, one night at a time; the backward pass what is known now (Rabiner 1989). A night without a reading
//! lets the chain run on and says nothing.
//!
//! | symbol | name in code | meaning | unit | value | source |
//! |---|---|---|---|---|---|
//! | p₁ | `begins_per_day` | chance that a dearth ends | 1/d | 1/25 | assumed |
//! | p₀ | `ends_per_day` | chance that a flow ends | 1/d | 1/20 | bloom of 20 to 25 d `[CanolaWatch2011]` |
//! | μ₀, σ₀ | `dearth` | net gain in a dearth | kg/d | −0.15, 0.35 | practice range −0.05 to −0.3; scatter assumed |
//! | μ₁, σ₁ | `flow` | net gain in a flow, in thresholds of the rule | - | 2.0, 1.2 | practice range 1.5 to 3 kg/d; scatter assumed |
//! | b | `bad_days` | share of the days in a flow that are sat out | of 1 | 0.2 | assumed |
//! | μ₂, σ₂ | `bad` | net gain on such a day | kg/d | −0.3, 0.5 | assumed |
//! | π | `on_at_first` | chance that the flow is on before the first night | of 1 | 0.1 | assumed |

use jiff::civil::Date;
use outyard_base::days::days_from;
use outyard_base::{KilogramsPerDay, Share};

use crate::flow_state::FlowRule;

/// Mean and standard deviation of a day's net gain.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Gains {
    /// Mean, kg/d.
    pub mean_kg_per_day: f64,
    /// Standard deviation, kg/d; above 0.
    pub deviation_kg_per_day: f64,
}

impl Gains {
    /// Density of a normal at a gain.
    fn density(&self, gain: f64) -> f64 {
        let off = (gain - self.mean_kg_per_day) / self.deviation_kg_per_day;
        (-0.5 * off * off).exp() / self.deviation_kg_per_day
    }
}

/// The two states and how one follows the other.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FlowChain {
    /// Chance that a dearth ends, 1/d.
    pub begins_per_day: f64,
    /// Chance that a flow ends, 1/d.
    pub ends_per_day: f64,
    /// Gains in a dearth.
    pub dearth: Gains,
    /// Gains on a good day of a flow.
    pub flow: Gains,
    /// Share of the days in a flow that are sat out.
    pub bad_days: f64,
    /// Gains on a day sat out.
    pub bad: Gains,
    /// Chance that the flow is on before the first night.
    pub on_at_first: f64,
}

impl FlowChain {
    /// The usual chain for a producer whose flow begins at so much gain.
    pub fn of_rule(rule: FlowRule) -> Self {
        let threshold = rule.threshold.get().max(0.1);
        Self {
            begins_per_day: 1.0 / 25.0,
            ends_per_day: 1.0 / 20.0,
            dearth: Gains { mean_kg_per_day: -0.15, deviation_kg_per_day: 0.35 * threshold },
            flow: Gains { mean_kg_per_day: 2.0 * threshold, deviation_kg_per_day: 1.2 * threshold },
            bad_days: 0.2,
            bad: Gains { mean_kg_per_day: -0.3, deviation_kg_per_day: 0.5 },
            on_at_first: 0.1,
        }
    }

    /// Densities of a gain in a dearth and in a flow. Far beyond the gains of a flow it is a flow all the same, far below
    /// a dearth it says nothing.
    fn densities(&self, gain: f64) -> [f64; 2] {
        const LEAST: f64 = 1e-12;
        let low = self.dearth.mean_kg_per_day - 4.0 * self.dearth.deviation_kg_per_day;
        let high = self.flow.mean_kg_per_day + 2.0 * self.flow.deviation_kg_per_day;
        let gain = gain.clamp(low, high);
        let flow = (1.0 - self.bad_days) * self.flow.density(gain) + self.bad_days * self.bad.density(gain);
        [self.dearth.density(gain) + LEAST, flow + LEAST]
    }

    /// Chance that the flow is on so many days later.
    fn run_on(&self, on: f64, days: i64) -> f64 {
        (0..days.clamp(0, 400)).fold(on, |on, _| on * (1.0 - self.ends_per_day) + (1.0 - on) * self.begins_per_day)
    }
}

/// The forward pass, one night at a time.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FlowWatch {
    chain: FlowChain,
    on: f64,
    last: Option<Date>,
}

impl FlowWatch {
    /// Before any night.
    pub fn new(chain: FlowChain) -> Self {
        Self { chain, on: chain.on_at_first, last: None }
    }

    /// Takes a night later than the last one and says how likely the flow is on. A night not later is passed over.
    pub fn take(&mut self, date: Date, gain: KilogramsPerDay) -> Share {
        let days = self.last.map_or(0, |last| days_from(last, date));
        if self.last.is_some() && days <= 0 {
            return self.chance();
        }
        let before = self.chain.run_on(self.on, days);
        let [dearth, flow] = self.chain.densities(gain.get());
        self.on = before * flow / (before * flow + (1.0 - before) * dearth);
        self.last = Some(date);
        self.chance()
    }

    /// How likely the flow is on by the last night taken.
    pub fn chance(&self) -> Share {
        Share::of(self.on.clamp(0.0, 1.0))
    }

    /// How likely it is on so many days after the last night.
    pub fn chance_ahead(&self, days: i64) -> Share {
        Share::of(self.chain.run_on(self.on, days).clamp(0.0, 1.0))
    }
}

/// How likely the flow was on, one night.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FlowChance {
    /// The night.
    pub date: Date,
    /// By the nights up to it.
    pub that_evening: Share,
    /// By all nights.
    pub in_hindsight: Share,
}

/// How likely the flow was on at each night, nights in any order; of two of one date the first counts.
pub fn flow_chances(nights: &[(Date, KilogramsPerDay)], chain: &FlowChain) -> Vec<FlowChance> {
    let mut sorted = nights.to_vec();
    sorted.sort_by_key(|night| night.0);
    sorted.dedup_by_key(|night| night.0);
    let mut watch = FlowWatch::new(*chain);
    let evenings: Vec<f64> = sorted.iter().map(|(date, gain)| watch.take(*date, *gain).get()).collect();
    // Backward: how likely all later nights are from a dearth and from a flow, up to a common factor.
    let mut later = [1.0, 1.0];
    let mut chances = Vec::with_capacity(sorted.len());
    for index in (0..sorted.len()).rev() {
        let on = evenings[index];
        let in_hindsight = on * later[1] / (on * later[1] + (1.0 - on) * later[0]);
        chances.push(FlowChance {
            date: sorted[index].0,
            that_evening: Share::of(on.clamp(0.0, 1.0)),
            in_hindsight: Share::of(in_hindsight.clamp(0.0, 1.0)),
        });
        if index > 0 {
            let [dearth, flow] = chain.densities(sorted[index].1.get());
            let days = days_from(sorted[index - 1].0, sorted[index].0);
            let seen = [dearth * later[0], flow * later[1]];
            later = [0.0, 1.0].map(|from| {
                let on = chain.run_on(from, days);
                on * seen[1] + (1.0 - on) * seen[0]
            });
            let sum = later[0] + later[1];
            later = later.map(|value| value / sum);
        }
    }
    chances.reverse();
    chances
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::flow_state::{FlowState, flow_spells, flow_state};
    use jiff::civil::date;
    use outyard_base::days::plus_days;

    fn nights(gains: &[f64]) -> Vec<(Date, KilogramsPerDay)> {
        (0..).zip(gains).map(|(day, gain)| (plus_days(date(2026, 6, 20), day), KilogramsPerDay::of(*gain))).collect()
    }

    /// Every course of states written out and weighed.
    fn by_hand(gains: &[f64], chain: &FlowChain, until: usize, asked: usize) -> f64 {
        let (mut on_sum, mut sum) = (0.0, 0.0);
        for course in 0..1_u32 << until {
            let state = |day: usize| usize::from(course >> day & 1 == 1);
            let mut weight = if state(0) == 1 { chain.on_at_first } else { 1.0 - chain.on_at_first };
            for (day, gain) in gains.iter().enumerate().take(until) {
                weight *= chain.densities(*gain)[state(day)];
                if day > 0 {
                    weight *= match (state(day - 1), state(day)) {
                        (0, 0) => 1.0 - chain.begins_per_day,
                        (0, _) => chain.begins_per_day,
                        (_, 0) => chain.ends_per_day,
                        _ => 1.0 - chain.ends_per_day,
                    };
                }
            }
            sum += weight;
            on_sum += if state(asked) == 1 { weight } else { 0.0 };
        }
        on_sum / sum
    }

    // Rabiner 1989: forward and backward give the sums over all courses.
    #[test]
    fn both_passes_equal_the_sum_over_all_courses() {
        let gains = [0.1, -0.3, 0.9, 0.4, 1.6, -0.2, 2.2, 0.3, -0.4, -0.1];
        let chain = FlowChain::of_rule(FlowRule::default());
        for (index, chance) in flow_chances(&nights(&gains), &chain).iter().enumerate() {
            assert!((chance.that_evening.get() - by_hand(&gains, &chain, index + 1, index)).abs() < 1e-12);
            assert!((chance.in_hindsight.get() - by_hand(&gains, &chain, gains.len(), index)).abs() < 1e-12);
        }
    }

    #[test]
    fn a_clear_season_is_told_as_the_rule_tells_it() {
        let mut gains = vec![-0.2, 0.0, 0.1, -0.1, 0.2];
        gains.extend([1.4, 2.2, 3.0, -0.4, 2.6, 1.9, 3.3, 2.0, 1.5, 2.4]);
        gains.extend([-0.1, 0.0, -0.3, -0.2, -0.1, 0.0]);
        let nights = nights(&gains);
        let chances = flow_chances(&nights, &FlowChain::of_rule(FlowRule::default()));
        let spell = flow_spells(&nights, FlowRule::default())[0];
        let on: Vec<Date> =
            chances.iter().filter(|night| night.in_hindsight.get() > 0.5).map(|night| night.date).collect();
        assert!(days_from(spell.began, on[0]).abs() <= 1);
        assert!(days_from(*on.last().unwrap(), spell.ended.unwrap()).abs() <= 2);
        // One rainy day does not end it, in hindsight.
        assert!(chances[8].in_hindsight.get() > 0.9 && chances[8].that_evening.get() > 0.3);
        assert!(matches!(flow_state(&nights, FlowRule::default()), FlowState::Off { .. }));
    }

    // Scene S10: north 0.2, 0.4, 1.1, 1.8, 2.4; south 0.1, -0.2, 0.3, 0.9, 1.2.
    #[test]
    fn scene_10_as_chances() {
        let chain = FlowChain::of_rule(FlowRule::default());
        let last = |gains: &[f64]| flow_chances(&nights(gains), &chain).last().unwrap().that_evening.get();
        let (north, south) = (last(&[0.2, 0.4, 1.1, 1.8, 2.4]), last(&[0.1, -0.2, 0.3, 0.9, 1.2]));
        assert!(north > 0.99, "{north}");
        assert!(south < north && south > 0.5, "{south}");
    }

    #[test]
    fn nights_not_read_let_the_chance_fade() {
        let chain = FlowChain::of_rule(FlowRule::default());
        let mut watch = FlowWatch::new(chain);
        for (date, gain) in nights(&[2.0, 2.5, 2.2]) {
            watch.take(date, gain);
        }
        let now = watch.chance().get();
        assert!(watch.chance_ahead(5).get() < now);
        let long_run = chain.begins_per_day / (chain.begins_per_day + chain.ends_per_day);
        assert!((watch.chance_ahead(300).get() - long_run).abs() < 1e-6);
    }

    proptest::proptest! {
        #[test]
        fn one_night_at_a_time_gives_what_all_at_once_gives(
            gains in proptest::collection::vec(-3.0_f64..12.0, 1..50),
            left_out in proptest::collection::vec(proptest::bool::weighted(0.2), 50),
        ) {
            let chain = FlowChain::of_rule(FlowRule::default());
            let all: Vec<_> =
                nights(&gains).into_iter().zip(left_out).filter(|(_, out)| !out).map(|(night, _)| night).collect();
            let mut turned = all.clone();
            turned.reverse();
            let whole = flow_chances(&turned, &chain);
            let mut watch = FlowWatch::new(chain);
            for ((date, gain), told) in all.iter().zip(&whole) {
                proptest::prop_assert_eq!(watch.take(*date, *gain), told.that_evening);
                proptest::prop_assert!((0.0..=1.0).contains(&told.in_hindsight.get()));
            }
            if let Some(last) = whole.last() {
                proptest::prop_assert!((last.that_evening.get() - last.in_hindsight.get()).abs() < 1e-12);
            }
        }
    }
}
