//! Learning from scales: what the colonies on scales really gained teaches the plants and the colonies of their group.
//!
//! What is not known is drawn as standard normal deviates: for each plant how late, how long and how strong; for the
//! group its factor and upkeep; for each yard how far its colonies stand from the group; and how far yards of the group
//! stand apart at all. The draws are moved from what is known beforehand to what the scales leave possible in steps
//! (tempered sequential Monte Carlo: Neal 2001; Del Moral, Doucet & Jasra 2006). Each step raises the weight of the
//! scales as far as leaves half of the draws effective (Kong, Liu & Wong 1994), resamples them systematically (Kitagawa
//! 1996) and moves them, by differential evolution (ter Braak 2006) or by renewing a part of the draw (Cotter, Roberts,
//! Stuart & White 2013), so that no draw stands many times over.
//!
//! **Yards without a scale learn from their group**: they share its plants, factor and upkeep, and draw their own place in
//! it. **Scales that disagree widen the answer**: how far yards stand apart is learnt too. A member carries the errors a
//! day makes against the model, in rows, or its days would be surer than days are.
//!
//! | symbol | name in code | meaning | unit | value | source |
//! |---|---|---|---|---|---|
//! | τ | `spread` | how far yards of a group stand apart, as a share | of 1 | 0.2 | assumed |
//! | - | `spread_widens` | one deviate of ln τ | - | 0.5 | assumed |
//! | a | `noise_kg` | error of a day without gain | kg/d | 0.25 | assumed |
//! | b | `noise_share` | error of a day as a share of its gain | of 1 | 0.3 | assumed |
//! | ρ | `noise_row` | how much of a day's error the next one has | of 1 | 0.5 | assumed |
//! | - | `keep_effective` | share of the draws that stay effective in one step | of 1 | 0.5 | `[DelMoral2006]`, from memory |
//! | γ | `REACH` | reach of a move, over √(2d) | - | 2.38 | `[TerBraak2006]`, from memory |

use jiff::civil::Date;
use outyard_base::days::{days_from, plus_days};
use outyard_base::{Chance, KilogramsPerDay, Note, Range, Trouble};

use crate::flow::{
    ForagePart, MemberDraw, OutlookInput, PlantDraw, Timing, YardOutlook, at_deviate, flight_part, forage_of,
    outlook_by, prior_draws, strength_of,
};
use crate::hours::DayShape;
use crate::members::Members;
use crate::plants::{Plant, PlantCode};
use crate::scale::Night;
use crate::weather::{DayWeather, Normals};

mod resample;
mod value;

pub use resample::{effective_size, shares, systematic};
pub use value::Unknown;

/// Standard normal deviate below which 90 % lie.
const NINE_IN_TEN: f64 = 1.281_551_565_544_600_4;

/// Reach of a move by differential evolution.
const REACH: f64 = 2.38;

/// Share of the moves that go along the difference of two other draws; the rest renew a part of the draw.
const ALONG_OTHERS: f64 = 0.5;

/// By how much a renewed part leaves where it was: 1 forgets it.
const RENEW_BY: [f64; 4] = [1.0, 0.5, 0.25, 0.1];

/// How many times the moves of a step are made once the scales are heard in full.
const LAST_MOVES: usize = 16;

/// Days past today by which seen weather goes on with normals, so that a bloom under way has its end.
const NORMAL_DAYS_AHEAD: i64 = 45;

/// A yard with a scale.
#[derive(Clone, Copy, Debug)]
pub struct ScaleYard<'a> {
    /// The yard, as for its outlook this morning.
    pub input: OutlookInput<'a>,
    /// What its scale showed.
    pub nights: &'a [Night],
}

/// How scales are listened to.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LearnRules {
    /// How far yards of a group stand apart, as a share.
    pub spread: f64,
    /// One deviate of the logarithm of that.
    pub spread_widens: f64,
    /// Error of a day without gain, kg/d.
    pub noise_kg: f64,
    /// Error of a day as a share of its gain.
    pub noise_share: f64,
    /// How much of a day's error the next one has.
    pub noise_row: f64,
    /// Share of the draws that stay effective in one step.
    pub keep_effective: f64,
    /// Moves of every draw in one step.
    pub moves: usize,
}

impl Default for LearnRules {
    fn default() -> Self {
        Self {
            spread: 0.2,
            spread_widens: 0.5,
            noise_kg: 0.25,
            noise_share: 0.3,
            noise_row: 0.5,
            keep_effective: 0.5,
            moves: 6,
        }
    }
}

impl LearnRules {
    /// Error of a day, one standard deviation, kg/d.
    fn noise(&self, gross_kg: f64) -> f64 {
        self.noise_kg.hypot(self.noise_share * gross_kg)
    }
}

/// What the scales of a group have taught.
#[derive(Clone, Debug, PartialEq)]
pub struct Learnt {
    plants: Vec<PlantCode>,
    yards: usize,
    /// Deviates of each draw: factor, upkeep, spread, three for each plant, one for each yard with a scale.
    draws: Vec<Vec<f64>>,
    factor: Range<f64>,
    upkeep: Range<f64>,
    rules: LearnRules,
    seed: u64,
    /// Nights that were listened to.
    pub nights: usize,
    /// Draws made beforehand that the scales leave possible: near the count of draws when they told nothing.
    pub effective: f64,
    /// Steps from what was known beforehand to what is known now.
    pub steps: usize,
    /// Share of the moves that were taken.
    pub moved: f64,
}

/// Deviates before those of the plants: factor, upkeep, spread.
const GROUP: usize = 3;

/// One yard's past, ready to be held against draws.
struct SeenYard<'a> {
    plants: Vec<SeenPlant<'a>>,
    flight: Vec<f64>,
    /// Day counted from the first, net gain, error of the reading.
    nights: Vec<(usize, f64, f64)>,
}

struct SeenPlant<'a> {
    /// Place among the plants of the group.
    order: usize,
    weight: f64,
    plant: &'a Plant,
    timing: Timing<'a>,
    sums: Vec<f64>,
}

/// Learns from the scales of one yard group, from `since` (a day before the first bloom of the season) to the evening
/// before today. With no nights the draws are those known beforehand.
///
/// # Errors
/// `PLT-007` when a forage names a plant that is not in the table.
///
/// # Panics
/// When `count` is less than 4: moves need two other draws.
pub fn learn_group(
    yards: &[ScaleYard<'_>],
    since: Date,
    rules: &LearnRules,
    count: usize,
    seed: u64,
) -> Result<Learnt, Trouble> {
    assert!(count >= 4, "learning needs at least four draws");
    let mut plants: Vec<PlantCode> = Vec::new();
    let mut seen = Vec::with_capacity(yards.len());
    for yard in yards {
        let forage = forage_of(&yard.input, &mut Vec::new())?;
        for (_, plant) in &forage {
            if !plants.contains(&plant.code) {
                plants.push(plant.code.clone());
            }
        }
        seen.push(seen_yard(yard, &forage, &plants, since));
    }
    let factor = yards.first().map_or_else(crate::flow::no_scale_yet, |yard| yard.input.scale_factor);
    let upkeep =
        yards.first().map_or_else(crate::flow::usual_upkeep, |yard| yard.input.upkeep).map(KilogramsPerDay::get);
    let mut chance = Chance::new(seed, "learning from scales");
    let width = GROUP + 3 * plants.len() + yards.len();
    let draws = (0..count).map(|_| (0..width).map(|_| chance.normal()).collect()).collect();
    let nights = seen.iter().map(|yard| yard.nights.len()).sum();
    let mut learnt = Learnt {
        plants,
        yards: yards.len(),
        draws,
        factor,
        upkeep,
        rules: *rules,
        seed,
        nights,
        #[expect(clippy::cast_precision_loss, reason = "a count of draws")]
        effective: count as f64,
        steps: 0,
        moved: 1.0,
    };
    if nights > 0 {
        learnt.listen(&seen, &mut chance);
    }
    Ok(learnt)
}

/// Weather seen from `since` on, then normals.
fn days_seen(input: &OutlookInput<'_>, since: Date) -> Vec<DayWeather> {
    let normals = Normals::of(input.history);
    let mut days: Vec<DayWeather> = Vec::new();
    let last = plus_days(input.today, NORMAL_DAYS_AHEAD);
    for ahead in 0..=days_from(since, last).max(0) {
        let date = plus_days(since, ahead);
        let seen = input.history.on(date).filter(|_| date < input.today);
        let normal = || {
            let normal = normals.on(date);
            let (low, high) = (normal.low_c?, normal.high_c?);
            Some(DayWeather::seen(date, outyard_base::Celsius::of(low), outyard_base::Celsius::of(high)))
        };
        match seen.copied().or_else(normal) {
            Some(day) => days.push(normals.fallback(&day).0),
            None => break,
        }
    }
    days
}

fn seen_yard<'a>(
    yard: &ScaleYard<'a>,
    forage: &[(&'a ForagePart, &'a Plant)],
    plants: &[PlantCode],
    since: Date,
) -> SeenYard<'a> {
    let input = &yard.input;
    let days = days_seen(input, since);
    let mut flight: Vec<f64> =
        days.iter().map(|day| flight_part(DayShape::new(input.place, day.date).flight_hours(day))).collect();
    let plants = forage
        .iter()
        .map(|(part, plant)| {
            let timing = Timing::new(input, part, plant, since);
            let sums = timing.sums(&days);
            let order = plants.iter().position(|code| *code == plant.code).expect("it was put there just now");
            SeenPlant { order, weight: part.weight.get(), plant, timing, sums }
        })
        .collect();
    let mut nights: Vec<(usize, f64, f64)> = yard
        .nights
        .iter()
        .filter(|night| night.date >= since && night.date < input.today)
        .filter_map(|night| {
            let day = usize::try_from(days_from(since, night.date)).ok().filter(|day| *day < days.len())?;
            let error = (night.range.high.get() - night.range.low.get()) / (2.0 * NINE_IN_TEN);
            Some((day, night.net_gain.get(), error.max(0.0)))
        })
        .collect();
    nights.sort_by_key(|night| night.0);
    nights.dedup_by_key(|night| night.0);
    // Days after the last night are told of by nothing.
    flight.truncate(nights.last().map_or(0, |night| night.0 + 1));
    SeenYard { plants, flight, nights }
}

fn plant_draw(draw: &[f64], order: usize) -> PlantDraw {
    let at = GROUP + 3 * order;
    PlantDraw { timing: draw[at], length: draw[at + 1], strength: draw[at + 2] }
}

impl Learnt {
    fn spread_of(&self, draw: &[f64]) -> f64 {
        self.rules.spread * (self.rules.spread_widens * draw[2]).exp()
    }

    fn upkeep_of(&self, draw: &[f64]) -> f64 {
        at_deviate(self.upkeep, draw[1])
    }

    /// Factor of a yard that stands so many deviates from its group.
    fn factor_of(&self, draw: &[f64], from_group: f64) -> f64 {
        at_deviate(self.factor, draw[0]) * (self.spread_of(draw) * from_group).exp()
    }

    /// How likely the scales are under one draw, as a logarithm.
    fn likelihood(&self, seen: &[SeenYard<'_>], draw: &[f64], gross: &mut Vec<f64>) -> f64 {
        let upkeep = self.upkeep_of(draw);
        let mut sum = 0.0;
        for (yard, seen) in seen.iter().enumerate() {
            gross.clear();
            gross.resize(seen.flight.len(), 0.0);
            let factor = self.factor_of(draw, draw[GROUP + 3 * self.plants.len() + yard]);
            for part in &seen.plants {
                let of_plant = plant_draw(draw, part.order);
                let most = factor * strength_of(part.plant, &of_plant) * part.weight;
                part.timing.spell(&part.sums, &of_plant).add_gain(most, &seen.flight, gross);
            }
            // Errors in rows: each night is told apart from what the night before left of its own.
            let mut last: Option<(usize, f64)> = None;
            for (day, gain, reading_error) in &seen.nights {
                let error = self.rules.noise(gross[*day]).hypot(*reading_error);
                let off = (gain - (gross[*day] - upkeep)) / error;
                let row = match last {
                    Some((before, off)) if before + 1 == *day => Some(off * self.rules.noise_row),
                    _ => None,
                };
                let variance = if row.is_some() { 1.0 - self.rules.noise_row.powi(2) } else { 1.0 };
                sum -= 0.5 * ((off - row.unwrap_or(0.0)).powi(2) / variance + variance.ln()) + error.ln();
                last = Some((*day, off));
            }
        }
        sum
    }

    /// Moves the draws to what the scales leave possible.
    fn listen(&mut self, seen: &[SeenYard<'_>], chance: &mut Chance) {
        let mut gross = Vec::new();
        let mut likely: Vec<f64> = self.draws.iter().map(|draw| self.likelihood(seen, draw, &mut gross)).collect();
        self.effective = effective_size(&shares(&likely, 1.0));
        let mut heard = 0.0;
        let (mut tried, mut taken) = (0_u32, 0_u32);
        while heard < 1.0 {
            let step = self.next_step(&likely, 1.0 - heard);
            heard = if step >= 1.0 - heard { 1.0 } else { heard + step };
            let kept = systematic(&shares(&likely, step), self.draws.len(), chance);
            self.draws = kept.iter().map(|index| self.draws[*index].clone()).collect();
            likely = kept.iter().map(|index| likely[*index]).collect();
            self.steps += 1;
            let last = heard >= 1.0;
            for _ in 0..self.rules.moves * if last { LAST_MOVES } else { 1 } {
                for (index, likely_here) in likely.iter_mut().enumerate() {
                    let along = chance.happens(ALONG_OTHERS);
                    let moved =
                        if along { self.move_of(index, chance) } else { self.renewed(&self.draws[index], chance) };
                    let of_moved = self.likelihood(seen, &moved, &mut gross);
                    // A renewed part already comes as often as it was likely beforehand.
                    let known = if along { beforehand(&moved) - beforehand(&self.draws[index]) } else { 0.0 };
                    let better = heard * (of_moved - *likely_here) + known;
                    tried += 1;
                    if chance.uniform().ln() < better {
                        taken += 1;
                        self.draws[index] = moved;
                        *likely_here = of_moved;
                    }
                }
            }
        }
        self.moved = f64::from(taken) / f64::from(tried.max(1));
    }

    /// The longest step that keeps enough draws effective.
    fn next_step(&self, likely: &[f64], left: f64) -> f64 {
        #[expect(clippy::cast_precision_loss, reason = "a count of draws")]
        let wanted = self.rules.keep_effective * likely.len() as f64;
        let enough = |step: f64| effective_size(&shares(likely, step)) >= wanted;
        if enough(left) {
            return left;
        }
        let (mut low, mut high) = (0.0, left);
        for _ in 0..40 {
            let middle = f64::midpoint(low, high);
            if enough(middle) { low = middle } else { high = middle }
        }
        // Draws that are all alike would give no step at all.
        low.max(1e-6)
    }

    /// A draw moved along the difference of two others.
    fn move_of(&self, index: usize, chance: &mut Chance) -> Vec<f64> {
        const JITTER: f64 = 0.02;
        const LEAP_ONE_IN: u64 = 10;
        let mut other = || loop {
            let other = chance.index(self.draws.len());
            if other != index {
                break other;
            }
        };
        let (one, two) = (other(), other());
        let here = &self.draws[index];
        #[expect(clippy::cast_precision_loss, reason = "a few dozen deviates")]
        let usual = REACH / (2.0 * here.len() as f64).sqrt();
        let reach = if chance.below(LEAP_ONE_IN) == 0 { 1.0 } else { usual * chance.between(0.3, 1.0) };
        (0..here.len())
            .map(|at| here[at] + reach * (self.draws[one][at] - self.draws[two][at]) + JITTER * chance.normal())
            .collect()
    }

    /// A draw with one part of it (the group, one plant or the yards) renewed towards what is known beforehand, wholly
    /// or by a step (Cotter, Roberts, Stuart & White 2013).
    fn renewed(&self, draw: &[f64], chance: &mut Chance) -> Vec<f64> {
        let mut moved = draw.to_vec();
        let part = chance.index(self.plants.len() + 2);
        let span = match part.checked_sub(2) {
            Some(order) => GROUP + 3 * order..GROUP + 3 * order + 3,
            None if part == 0 => 0..GROUP,
            None => GROUP + 3 * self.plants.len()..draw.len(),
        };
        let step = RENEW_BY[chance.index(RENEW_BY.len())];
        for deviate in &mut moved[span] {
            *deviate = (1.0 - step * step).sqrt() * *deviate + step * chance.normal();
        }
        moved
    }

    /// Draws.
    pub fn count(&self) -> usize {
        self.draws.len()
    }

    /// Scale colonies of the group against the bloom sum.
    pub fn factor(&self) -> Range<f64> {
        self.range(|draw| at_deviate(self.factor, draw[0]))
    }

    /// How far yards of the group stand apart, as a share: it grows when scales disagree.
    pub fn spread(&self) -> Range<f64> {
        self.range(|draw| self.spread_of(draw))
    }

    /// How late a plant is against the likely figure of its table, in deviates; `None` for a plant not in the group.
    pub fn lateness(&self, plant: &PlantCode) -> Option<Range<f64>> {
        let order = self.plants.iter().position(|known| known == plant)?;
        Some(self.range(|draw| plant_draw(draw, order).timing))
    }

    fn range(&self, value: impl Fn(&[f64]) -> f64) -> Range<f64> {
        let sample: Vec<f64> = self.draws.iter().map(|draw| value(draw)).collect();
        Range::of_sample(&sample).expect("there are draws, and none is without number")
    }
}

/// How likely a draw was beforehand, as a logarithm.
fn beforehand(draw: &[f64]) -> f64 {
    -0.5 * draw.iter().map(|deviate| deviate * deviate).sum::<f64>()
}

/// The outlook of a yard of the group with what its scales taught. `own` is the yard's place among the scale yards, if it
/// has a scale. Members take the draws in turn.
///
/// # Errors
/// `PLT-007` when the forage names a plant that is not in the table.
pub fn outlook_learnt(
    input: &OutlookInput<'_>,
    members: &Members,
    learnt: &Learnt,
    own: Option<usize>,
) -> Result<(YardOutlook, Vec<Note>), Trouble> {
    let mut notes = Vec::new();
    let forage = forage_of(input, &mut notes)?;
    let own = own.filter(|yard| *yard < learnt.yards);
    let mut draws = prior_draws(input, &forage, members.days.len());
    let place = own.map_or_else(
        || format!("{:.4} {:.4}", input.place.latitude(), input.place.longitude()),
        |yard| format!("scale {yard}"),
    );
    let mut from_group = Chance::new(learnt.seed, &format!("place in the group of {place}"));
    for (member, draw) in draws.iter_mut().enumerate() {
        let of_learnt = &learnt.draws[member % learnt.count()];
        let aside = from_group.normal();
        let aside = own.map_or(aside, |yard| of_learnt[GROUP + 3 * learnt.plants.len() + yard]);
        *draw = MemberDraw {
            factor: learnt.factor_of(of_learnt, aside),
            upkeep: learnt.upkeep_of(of_learnt),
            plants: forage
                .iter()
                .zip(&draw.plants)
                .map(|((_, plant), untaught)| {
                    let order = learnt.plants.iter().position(|known| *known == plant.code);
                    order.map_or(*untaught, |order| plant_draw(of_learnt, order))
                })
                .collect(),
        };
    }
    let rules = learnt.rules;
    let mut noise = Chance::new(learnt.seed, &format!("errors of the days at {place}"));
    let fresh = (1.0 - rules.noise_row.powi(2)).sqrt();
    let mut outlook = outlook_by(input, members, &forage, &draws, |_, gross, gain| {
        let mut off = noise.normal();
        for (gain, gross) in gain.iter_mut().zip(gross) {
            *gain += off * rules.noise(*gross);
            off = rules.noise_row * off + fresh * noise.normal();
        }
    });
    let (factor, spread) = (learnt.factor(), learnt.spread());
    outlook.based_on.push(format!(
        "the group's plants and colonies learnt from {} nights of its scales ({}): factor {:.2} ({:.2} to {:.2}), yards \
         {:.0} % apart; {:.0} of {} draws made beforehand were left possible",
        learnt.nights,
        learnt.yards,
        factor.likely,
        factor.low,
        factor.high,
        spread.likely * 100.0,
        learnt.effective,
        learnt.count()
    ));
    Ok((outlook, notes))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::flow::{YardForage, modelled_gain, no_scale_yet, usual_upkeep};
    use crate::flow_state::FlowRule;
    use crate::members::{MemberRules, draw_members};
    use crate::plants::PlantTable;
    use crate::weather::WeatherSeries;
    use jiff::civil::date;
    use outyard_base::days::each_day;
    use outyard_base::{Celsius, KilometresPerHour, Megajoules, Millimetres, Place, Share};

    const TODAY: Date = date(2026, 7, 22);
    const SINCE: Date = date(2026, 6, 1);

    fn history() -> WeatherSeries {
        let mut chance = Chance::new(5, "made-up weather");
        let mut departure = 0.0;
        let days = each_day(date(2012, 1, 1), plus_days(TODAY, -1))
            .map(|date| {
                departure = 0.75 * departure + 2.5 * chance.normal();
                let wave = -(core::f64::consts::TAU * (f64::from(date.day_of_year()) - 20.0) / 365.0).cos();
                let mean = 5.0 + 15.0 * wave + departure;
                DayWeather {
                    rain: Some(Millimetres::of(if chance.happens(0.25) { 8.0 * chance.uniform() } else { 0.0 })),
                    wind: Some(KilometresPerHour::of(6.0 + 12.0 * chance.uniform())),
                    sun: Some(Megajoules::of(13.0 + 10.0 * wave.max(-0.8))),
                    ..DayWeather::seen(date, Celsius::of(mean - 6.5), Celsius::of(mean + 6.5))
                }
            })
            .collect();
        WeatherSeries::new(days).0
    }

    struct Group {
        history: WeatherSeries,
        forage: YardForage,
        plants: PlantTable,
    }

    impl Group {
        fn new() -> Self {
            let canola = ForagePart {
                plant: "canola".parse().unwrap(),
                weight: Share::of(1.0),
                seeding: Some(date(2026, 5, 15)),
            };
            Self { history: history(), forage: YardForage { plants: vec![canola] }, plants: PlantTable::built_in() }
        }

        fn input(&self) -> OutlookInput<'_> {
            OutlookInput {
                history: &self.history,
                forecast: &[],
                today: TODAY,
                horizon_days: 30,
                member_count: 60,
                seed: 3,
                rules: MemberRules::default(),
                place: Place::new(50.0, -100.0).unwrap(),
                forage: &self.forage,
                plants: &self.plants,
                scale_factor: no_scale_yet(),
                upkeep: usual_upkeep(),
                flow_rule: FlowRule::default(),
                nights: &[],
            }
        }

        /// What a scale shows that gains so many times the likely bloom sum.
        fn nights(&self, factor: f64) -> Vec<Night> {
            modelled_gain(&self.input(), SINCE, plus_days(TODAY, -1))
                .unwrap()
                .into_iter()
                .map(|(date, gross)| {
                    let gain = KilogramsPerDay::of(factor * gross - 0.15);
                    Night { date, net_gain: gain, range: Range::exact(gain) }
                })
                .collect()
        }

        fn learn(&self, scales: &[Vec<Night>], count: usize) -> Learnt {
            let yards: Vec<ScaleYard<'_>> =
                scales.iter().map(|nights| ScaleYard { input: self.input(), nights }).collect();
            learn_group(&yards, SINCE, &LearnRules::default(), count, 9).unwrap()
        }

        /// Range of the honey of a week at a yard of the group without a scale.
        fn week(&self, learnt: &Learnt) -> Range<f64> {
            let members = draw_members(&self.history, TODAY, &[], 30, 60, 3).unwrap();
            let (outlook, _) = outlook_learnt(&self.input(), &members, learnt, None).unwrap();
            assert_eq!(outlook.gain.len(), 60);
            let weeks: Vec<f64> = outlook.gain.iter().map(|gain| gain[..7].iter().sum()).collect();
            Range::of_sample(&weeks).unwrap()
        }
    }

    #[test]
    fn no_nights_leave_what_was_known_beforehand() {
        let group = Group::new();
        let learnt = group.learn(&[Vec::new()], 400);
        assert_eq!((learnt.nights, learnt.steps), (0, 0));
        assert!((learnt.effective - 400.0).abs() < 1e-9);
        let factor = learnt.factor();
        assert!((factor.likely - 1.0).abs() < 0.1 && factor.high - factor.low > 1.0, "{factor:?}");
        let late = learnt.lateness(&"canola".parse().unwrap()).unwrap();
        assert!(late.likely.abs() < 0.15 && (late.high - late.low - 2.0 * NINE_IN_TEN).abs() < 0.4, "{late:?}");
        assert_eq!(learnt.lateness(&"basswood".parse().unwrap()), None);
    }

    #[test]
    fn a_yard_without_a_scale_learns_from_its_group() {
        let group = Group::new();
        let (poor, rich) = (group.nights(0.4), group.nights(1.4));
        let untaught = group.week(&group.learn(&[Vec::new()], 60));
        let poor = group.learn(&[poor.clone(), poor], 60);
        let rich = group.learn(&[rich.clone(), rich], 60);
        assert!(poor.effective < 30.0, "{}", poor.effective);
        assert!(poor.steps >= 2 && poor.moved > 0.02, "{} {}", poor.steps, poor.moved);
        let (poor, rich) = (group.week(&poor), group.week(&rich));
        assert!(poor.likely < 0.4 * rich.likely && poor.high < rich.likely, "{poor:?} {rich:?}");
        let usual = group.nights(0.9);
        let taught = group.week(&group.learn(&[usual.clone(), usual], 60));
        assert!(taught.high - taught.low < 0.8 * (untaught.high - untaught.low), "{taught:?} {untaught:?}");
    }

    #[test]
    fn scales_that_disagree_widen_the_answer() {
        let group = Group::new();
        let [low, middle, high] = [0.45, 0.9, 1.8].map(|factor| group.nights(factor));
        let agree = group.learn(&[middle.clone(), middle.clone(), middle], 100);
        let disagree = group.learn(&[low, group.nights(0.9), high], 100);
        assert!(disagree.spread().likely > 1.3 * agree.spread().likely, "{:?} {:?}", disagree.spread(), agree.spread());
        let width = |learnt: &Learnt| {
            let week = group.week(learnt);
            (week.high - week.low) / week.likely
        };
        assert!(width(&disagree) > 1.3 * width(&agree), "{} {}", width(&disagree), width(&agree));
    }

    #[test]
    fn before_the_bloom_its_date_narrows_the_begin_most_and_after_it_its_strength_the_honey() {
        let group = Group::new();
        let untaught = group.learn(&[Vec::new()], 200);
        let before = OutlookInput { today: date(2026, 6, 20), ..group.input() };
        let members = draw_members(&group.history, before.today, &[], 40, 200, 3).unwrap();
        let (outlook, _) = outlook_learnt(&before, &members, &untaught, None).unwrap();
        let sum = |from: usize, to: usize| -> Vec<f64> {
            outlook.gain.iter().map(|gain| gain[from..to].iter().sum()).collect()
        };
        // About the day the crop is seen to bloom everything hangs on when it does.
        let canola: PlantCode = "canola".parse().unwrap();
        let begin = untaught.narrows_most(&sum(13, 16));
        assert_eq!(begin[0].0, Unknown::Lateness(canola.clone()), "{begin:?}");
        assert!(begin[0].0.count_that_tells().contains("first blooms"));
        // In full bloom it hangs on how strong it is and how the colonies gain.
        let full = untaught.narrows_most(&sum(22, 30));
        assert!([Unknown::Strength(canola), Unknown::Factor].contains(&full[0].0), "{full:?}");
        assert!(full.windows(2).all(|pair| pair[0].1 >= pair[1].1));
    }

    #[test]
    fn the_same_seed_learns_the_same() {
        let group = Group::new();
        let nights = group.nights(0.8);
        assert_eq!(group.learn(std::slice::from_ref(&nights), 20), group.learn(&[nights], 20));
    }
}
