//! The flow at a yard: what a strong colony could gain each day, member by member.
//!
//! gain = f · Σ w·s·B(t)·min(F/F*, cap) − c, summed over the plants of the yard. Bloom B comes from the heat of each
//! member, flight F from its weather; the factor f is learnt from scale colonies. Thresholds, strengths, factor and
//! upkeep are drawn anew for each member from their ranges, so that the ensemble holds what is not known of the plants
//! as well as of the weather. Draws are by plant, not by yard: all yards of one seed share them, as they share the year.
//!
//! | symbol | name in code | meaning | unit | value | source |
//! |---|---|---|---|---|---|
//! | w | `weight` | part of the forage in reach that is this plant | of 1 | input | the producer's own map |
//! | s | `strength` | gain on a perfect day of full bloom | kg/d | plant table | assumed there |
//! | B | `bloom_level` | level of bloom | of 1 | `plants` | - |
//! | F | `flight_hours` | hours of full flight | h | `hours` | - |
//! | F* | `PERFECT_FLIGHT_H` | flight of a perfect day | h | 12 | top of the practice range for June on the northern plains |
//! | cap | `MOST_FLIGHT` | most a longer day counts | - | 1.15 | assumed |
//! | c | `upkeep` | what the colony uses itself | kg/d | 0.05, 0.15, 0.3 | practice range of a day without flow |
//! | f | `scale_factor` | scale colonies against this sum | - | 1 until learnt | `learn_factor` |
//! | σf | `PRIOR_DEVIATION` | how far f may lie from 1 before a scale has spoken | - | 0.5 | assumed |
//! | k | `ROW_OF_DAYS` | days that count as one because weather comes in rows | d | 3 | assumed |

use jiff::civil::Date;
use outyard_base::days::{days_from, each_day, plus_days};
use outyard_base::{Chance, DateRange, KilogramsPerDay, Note, Place, Range, Share, Trouble};

use crate::degree_days::HeatRule;
use crate::flow_state::{FlowRule, FlowState, Running, flow_state};
use crate::hours::DayShape;
use crate::members::{MemberRules, Members, draw_members_by};
use crate::plants::timing::{HeatCurve, season_start};
use crate::plants::{
    Plant, PlantCode, PlantTable, Step, Trigger, USUAL_REST_DAYS, USUAL_RISE_DAYS, bloom_dates, bloom_level,
};
use crate::scale::Night;
use crate::weather::{DayWeather, Normals, WeatherSeries};

/// Flight of a perfect day: top of the practice range for June on the northern plains. Common practice, no source.
const PERFECT_FLIGHT_H: f64 = 12.0;

/// Most that a day with still more flight counts. Assumed.
const MOST_FLIGHT: f64 = 1.15;

/// Standard deviation of the scale factor before a scale has spoken. Assumed.
const PRIOR_DEVIATION: f64 = 0.5;

/// Days that count as one reading, because good and bad days come in rows. Assumed.
const ROW_OF_DAYS: f64 = 3.0;

/// Standard normal deviate below which 90 % lie.
const NINE_IN_TEN: f64 = 1.281_551_565_544_600_4;

/// A plant within reach of a yard.
#[derive(Clone, Debug, PartialEq)]
pub struct ForagePart {
    /// Which plant.
    pub plant: PlantCode,
    /// Part of a colony's full foraging that it can fill.
    pub weight: Share,
    /// Date of seeding, for crops that count from it.
    pub seeding: Option<Date>,
}

/// What stands within reach of a yard. Weights need not sum to 1.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct YardForage {
    /// The plants.
    pub plants: Vec<ForagePart>,
}

/// All an outlook is made from.
#[derive(Clone, Copy, Debug)]
pub struct OutlookInput<'a> {
    /// Weather of the yard, with past years.
    pub history: &'a WeatherSeries,
    /// Forecast for the yard, at most 16 days.
    pub forecast: &'a [DayWeather],
    /// First day of the outlook.
    pub today: Date,
    /// Days looked ahead.
    pub horizon_days: usize,
    /// Members drawn.
    pub member_count: usize,
    /// Seed of all draws.
    pub seed: u64,
    /// How members are drawn.
    pub rules: MemberRules,
    /// Where the yard is.
    pub place: Place,
    /// What stands within reach.
    pub forage: &'a YardForage,
    /// The plant table.
    pub plants: &'a PlantTable,
    /// Scale colonies against the modelled gain; exactly 1 when no scale has spoken is too sure, see [`no_scale_yet`].
    pub scale_factor: Range<f64>,
    /// What a colony uses itself.
    pub upkeep: Range<KilogramsPerDay>,
    /// When gain counts as flow.
    pub flow_rule: FlowRule,
    /// Net gains read this season, of the yard's own scale or its group's.
    pub nights: &'a [(Date, KilogramsPerDay)],
}

/// The scale factor before any scale has spoken: 1, with the prior's range.
pub fn no_scale_yet() -> Range<f64> {
    let half = NINE_IN_TEN * PRIOR_DEVIATION;
    Range { low: 1.0 - half, likely: 1.0, high: 1.0 + half }
}

/// Upkeep of a colony on a day without flow: practice range. Common practice, no source.
pub fn usual_upkeep() -> Range<KilogramsPerDay> {
    Range { low: KilogramsPerDay::of(0.05), likely: KilogramsPerDay::of(0.15), high: KilogramsPerDay::of(0.3) }
}

/// Bloom of a plant as the ensemble sees it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PlantOutlook {
    /// Which plant.
    pub plant: PlantCode,
    /// First bloom.
    pub first: DateRange,
    /// End of bloom.
    pub end: DateRange,
}

/// What a strong colony of a yard may gain.
#[derive(Clone, Debug, PartialEq)]
pub struct YardOutlook {
    /// First day.
    pub first: Date,
    /// For each member the net gain of each day, kg/d.
    pub gain: Vec<Vec<f64>>,
    /// For each member the hours of full flight of each day; at most those that count.
    pub flight_h: Vec<Vec<f64>>,
    /// First day of flow by the flow rule; the day it began when it is on already.
    pub flow_begins: DateRange,
    /// First day after the last day of flow within the days looked at; open in members where it is still on.
    pub flow_ends: DateRange,
    /// Bloom of each plant.
    pub bloom: Vec<PlantOutlook>,
    /// What the outlook rests on, as sentences for the page.
    pub based_on: Vec<String>,
}

impl YardOutlook {
    /// Net gain of a day; `None` outside the days looked at.
    pub fn gain_range(&self, date: Date) -> Option<Range<KilogramsPerDay>> {
        let index = usize::try_from(days_from(self.first, date)).ok()?;
        let sample: Option<Vec<f64>> = self.gain.iter().map(|days| days.get(index).copied()).collect();
        Some(Range::of_sample(&sample?)?.map(KilogramsPerDay::of))
    }
}

/// Outlook of a yard: draws members, then [`outlook_with`].
///
/// # Errors
/// `WTH-121` without past years; `PLT-007` when the forage names a plant that is not in the table.
pub fn outlook(input: &OutlookInput<'_>) -> Result<(YardOutlook, Vec<Note>), Trouble> {
    let members = draw_members_by(
        &input.rules,
        input.history,
        input.today,
        input.forecast,
        input.horizon_days,
        input.member_count,
        input.seed,
    )?;
    outlook_with(input, &members)
}

/// Outlook of a yard with members already drawn, which yards near one station can share.
///
/// # Errors
/// `PLT-007` when the forage names a plant that is not in the table.
pub fn outlook_with(input: &OutlookInput<'_>, members: &Members) -> Result<(YardOutlook, Vec<Note>), Trouble> {
    let mut notes = Vec::new();
    let forage = forage_of(input, &mut notes)?;
    let draws = prior_draws(input, &forage, members.days.len());
    let mut outlook = outlook_by(input, members, &forage, &draws, |_, _, _| {});
    let factor = input.scale_factor;
    outlook.based_on.push(format!(
        "scale colonies against the bloom sum: {:.2} ({:.2} to {:.2})",
        factor.likely, factor.low, factor.high
    ));
    Ok((outlook, notes))
}

/// What is not known of one plant, in one member: standard normal deviates along its ranges.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct PlantDraw {
    /// How late: along the range of its threshold.
    pub timing: f64,
    /// How long: along the ranges of days between its steps.
    pub length: f64,
    /// How strong: along the range of its strength.
    pub strength: f64,
}

/// What is not known of a yard, in one member.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct MemberDraw {
    /// Scale colonies against the bloom sum.
    pub(crate) factor: f64,
    /// What a colony uses itself, kg/d.
    pub(crate) upkeep: f64,
    /// Plants in the order of the forage.
    pub(crate) plants: Vec<PlantDraw>,
}

/// Draws before any scale has spoken beyond the factor: a stream for each plant, so that yards share them.
pub(crate) fn prior_draws(input: &OutlookInput<'_>, forage: &[(&ForagePart, &Plant)], count: usize) -> Vec<MemberDraw> {
    let mut factor = Draws::new(input.seed, "scale factor");
    let mut upkeep = Draws::new(input.seed, "upkeep");
    let mut draws: Vec<MemberDraw> = (0..count)
        .map(|_| MemberDraw {
            factor: factor.draw(input.scale_factor),
            upkeep: upkeep.draw(input.upkeep.map(KilogramsPerDay::get)),
            plants: Vec::with_capacity(forage.len()),
        })
        .collect();
    for (_, plant) in forage {
        let mut timing = Chance::new(input.seed, &format!("bloom of {}", plant.code));
        let mut strength = Chance::new(input.seed, &format!("strength of {}", plant.code));
        for draw in &mut draws {
            let (at, length) = (timing.normal(), timing.normal());
            draw.plants.push(PlantDraw { timing: at, length, strength: strength.normal() });
        }
    }
    draws
}

/// The outlook with these draws; `change` may then change the net gains of each member, given its gain before upkeep.
pub(crate) fn outlook_by(
    input: &OutlookInput<'_>,
    members: &Members,
    forage: &[(&ForagePart, &Plant)],
    draws: &[MemberDraw],
    mut change: impl FnMut(usize, &[f64], &mut [f64]),
) -> YardOutlook {
    let days = members.days.first().map_or(0, Vec::len);
    let flight = flight_parts(input, members);
    let mut gross = vec![vec![0.0; days]; members.days.len()];
    let mut bloom = Vec::with_capacity(forage.len());
    for (order, (part, plant)) in forage.iter().enumerate() {
        let timing = Timing::new(input, part, plant, members.first);
        let mut firsts = Vec::with_capacity(members.days.len());
        let mut ends = Vec::with_capacity(members.days.len());
        for (member, days) in members.days.iter().enumerate() {
            let draw = &draws[member].plants[order];
            let spell = timing.spell(&timing.sums(days), draw);
            let date = |day: Option<f64>| day.map(|day| date_after(members.first, day));
            firsts.push(date(spell.first));
            ends.push(date(spell.end));
            let most = draws[member].factor * strength_of(plant, draw) * part.weight.get();
            spell.add_gain(most, &flight[member], &mut gross[member]);
        }
        bloom.push(PlantOutlook {
            plant: plant.code.clone(),
            first: DateRange::of_members(firsts),
            end: DateRange::of_members(ends),
        });
    }
    let gain: Vec<Vec<f64>> = gross
        .iter()
        .zip(draws)
        .enumerate()
        .map(|(member, (gross, draw))| {
            let mut gain: Vec<f64> = gross.iter().map(|gross| gross - draw.upkeep).collect();
            change(member, gross, &mut gain);
            gain
        })
        .collect();
    let flight_h =
        flight.into_iter().map(|days| days.into_iter().map(|part| part * PERFECT_FLIGHT_H).collect()).collect();
    let (flow_begins, flow_ends) = flow_dates(input, members.first, &gain);
    let based_on = based_on(input, members);
    YardOutlook { first: members.first, gain, flight_h, flow_begins, flow_ends, bloom, based_on }
}

/// Gain of a strong colony on a perfect day of a plant, kg/d, in one member.
pub(crate) fn strength_of(plant: &Plant, draw: &PlantDraw) -> f64 {
    at_deviate(plant.strength.map(KilogramsPerDay::get), draw.strength)
}

#[expect(clippy::cast_possible_truncation, reason = "days of a season")]
fn date_after(first: Date, day: f64) -> Date {
    plus_days(first, day.ceil() as i64)
}

/// Draws from ranges: a normal with one width below the likely value and one above, not below nought.
struct Draws(Chance);

impl Draws {
    fn new(seed: u64, name: &str) -> Self {
        Self(Chance::new(seed, name))
    }

    fn draw(&mut self, range: Range<f64>) -> f64 {
        at_deviate(range, self.0.normal())
    }
}

/// The value of a range at a standard normal deviate, not below nought.
pub(crate) fn at_deviate(range: Range<f64>, deviate: f64) -> f64 {
    let side = if deviate < 0.0 { range.likely - range.low } else { range.high - range.likely };
    (range.likely + side * deviate / NINE_IN_TEN).max(0.0)
}

pub(crate) fn forage_of<'a>(
    input: &OutlookInput<'a>,
    notes: &mut Vec<Note>,
) -> Result<Vec<(&'a ForagePart, &'a Plant)>, Trouble> {
    let mut forage = Vec::with_capacity(input.forage.plants.len());
    for part in &input.forage.plants {
        let plant = input.plants.get(&part.plant).ok_or_else(|| {
            Trouble::new(
                "PLT-007",
                format!("no plant \"{}\" in the plant table", part.plant),
                "use a code of the table, or add the plant to your own",
            )
        })?;
        if matches!(plant.trigger, Trigger::Seeding { .. }) && part.seeding.is_none() {
            notes.push(Note::new(
                "PLT-101",
                format!("{} counts from its seeding and no date is given; it is left out of the outlook", plant.name),
            ));
            continue;
        }
        forage.push((part, plant));
    }
    Ok(forage)
}

/// Flight of every member and day as a part of a perfect day. Missing wind and sun come from the normals.
fn flight_parts(input: &OutlookInput<'_>, members: &Members) -> Vec<Vec<f64>> {
    let days = members.days.first().map_or(0, Vec::len);
    let shapes: Vec<DayShape> = (0..days)
        .map(|day| DayShape::new(input.place, plus_days(members.first, i64::try_from(day).expect("a horizon of days"))))
        .collect();
    let lacks = |day: &DayWeather| day.rain.is_none() || day.wind.is_none() || day.sun.is_none();
    let mut normals: Option<Normals> = None;
    let mut part = |day: &DayWeather, shape: &DayShape| {
        if lacks(day) {
            let normals = normals.get_or_insert_with(|| Normals::of(input.history));
            flight_part(shape.flight_hours(&normals.fallback(day).0))
        } else {
            flight_part(shape.flight_hours(day))
        }
    };
    members.days.iter().map(|days| days.iter().zip(&shapes).map(|(day, shape)| part(day, shape)).collect()).collect()
}

pub(crate) fn flight_part(hours: f64) -> f64 {
    (hours / PERFECT_FLIGHT_H).min(MOST_FLIGHT)
}

/// First and end of a plant's bloom in one member, in days after the first day of the outlook.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Spell {
    first: Option<f64>,
    full: Option<f64>,
    end: Option<f64>,
}

impl Spell {
    #[expect(clippy::cast_precision_loss, reason = "a week or two")]
    /// First, then full and end counted from it; bloom that is not yet full or over within the days looked at rises
    /// as if it took its usual time.
    fn curve(&self) -> Option<(f64, f64, f64)> {
        let first = self.first?;
        let full = self.full.map_or(USUAL_RISE_DAYS as f64, |full| full - first).max(0.0);
        let end = self.end.map_or(full + USUAL_REST_DAYS as f64, |end| end - first).max(full);
        Some((first, full, end))
    }

    /// Adds what the bloom brings on each day, for so much at most.
    pub(crate) fn add_gain(&self, most: f64, flight: &[f64], gain: &mut [f64]) {
        let Some((first, full, end)) = self.curve() else { return };
        for (day, (gain, flight)) in gain.iter_mut().zip(flight).enumerate() {
            #[expect(clippy::cast_precision_loss, reason = "days of a horizon")]
            let since_first = day as f64 - first;
            *gain += most * bloom_level(since_first, full, end) * flight;
        }
    }
}

/// When a plant blooms at a yard, ready for the draws of each member.
pub(crate) struct Timing<'a> {
    plant: &'a Plant,
    by: TimedBy,
}

enum TimedBy {
    Heat { heat: HeatAhead, first: Range<f64> },
    Days { seeded: f64, days: Range<f64> },
    Nothing,
}

impl<'a> Timing<'a> {
    /// The timing of a plant counted from `from`, by the weather seen before that day.
    pub(crate) fn new(input: &OutlookInput<'_>, part: &ForagePart, plant: &'a Plant, from: Date) -> Self {
        let by = match (&plant.trigger, part.seeding) {
            (Trigger::Heat { rule, start, first }, _) => TimedBy::Heat {
                heat: HeatAhead::new(input, rule, season_start(*start, input.today), from),
                first: first.map(outyard_base::DegreeDays::get),
            },
            (Trigger::Seeding { heat: Some((rule, first)), by_heat: true, .. }, Some(seeding)) => TimedBy::Heat {
                heat: HeatAhead::new(input, rule, seeding, from),
                first: first.map(outyard_base::DegreeDays::get),
            },
            (Trigger::Seeding { days, .. }, Some(seeding)) => {
                #[expect(clippy::cast_precision_loss, reason = "days of a season")]
                let seeded = days_from(from, seeding) as f64;
                TimedBy::Days { seeded, days: *days }
            }
            (Trigger::Seeding { .. }, None) => TimedBy::Nothing,
        };
        Self { plant, by }
    }

    /// Heat up to and with each day; empty for a plant that does not go by heat.
    pub(crate) fn sums(&self, days: &[DayWeather]) -> Vec<f64> {
        match &self.by {
            TimedBy::Heat { heat, .. } => heat.sums(days),
            TimedBy::Days { .. } | TimedBy::Nothing => Vec::new(),
        }
    }

    /// The bloom in a member with that heat. One deviate moves all its heat sums: a late plant is late throughout.
    pub(crate) fn spell(&self, sums: &[f64], draw: &PlantDraw) -> Spell {
        let (first, heat) = match &self.by {
            TimedBy::Heat { heat, first } => (heat.reaches(sums, at_deviate(*first, draw.timing)), Some(heat)),
            TimedBy::Days { seeded, days } => (Some(seeded + at_deviate(*days, draw.timing)), None),
            TimedBy::Nothing => return Spell::default(),
        };
        let step = |step: Step| match (step, heat) {
            (Step::HeatSum(sum), Some(heat)) => {
                heat.reaches(sums, at_deviate(sum.map(outyard_base::DegreeDays::get), draw.timing))
            }
            (Step::HeatSum(_), None) => None,
            (Step::DaysAfterFirst(days), _) => first.map(|first| first + at_deviate(days, draw.length)),
        };
        Spell { first, full: step(self.plant.full), end: step(self.plant.end) }
    }
}

/// Heat gathered before the outlook, and how it goes on.
struct HeatAhead {
    rule: HeatRule,
    /// Sum day by day up to the day before the outlook.
    past: HeatCurve,
    /// First day of the sum, in days after the first of the outlook.
    start: i64,
}

impl HeatAhead {
    fn new(input: &OutlookInput<'_>, rule: &HeatRule, start: Date, first: Date) -> Self {
        let past = HeatCurve::until(rule, input.history, start, plus_days(first, -1));
        Self { rule: *rule, past, start: days_from(first, start) }
    }

    /// Sum up to and with each day of a member.
    fn sums(&self, days: &[DayWeather]) -> Vec<f64> {
        let mut sum = self.past.sums.last().copied().unwrap_or(0.0);
        let skip = usize::try_from(self.start).unwrap_or(0);
        let mut sums = Vec::with_capacity(days.len());
        for (index, day) in days.iter().enumerate() {
            if index >= skip {
                let next = days.get(index + 1).unwrap_or(day);
                sum += self.rule.day(day.low.get(), day.high.get(), next.low.get());
            }
            sums.push(sum);
        }
        sums
    }

    /// Day after the first of the outlook on which a sum is reached; negative when it was reached before.
    #[expect(clippy::cast_precision_loss, reason = "days of a season")]
    fn reaches(&self, ahead: &[f64], heat: f64) -> Option<f64> {
        let past = self.past.sums.partition_point(|sum| *sum < heat);
        if past < self.past.sums.len() {
            return Some(self.start as f64 + past as f64);
        }
        let index = ahead.partition_point(|sum| *sum < heat);
        (index < ahead.len()).then_some(index as f64)
    }
}

/// Flow begin and end over the members.
fn flow_dates(input: &OutlookInput<'_>, first: Date, gain: &[Vec<f64>]) -> (DateRange, DateRange) {
    let seen: Vec<_> = input.nights.iter().copied().filter(|night| night.0 < first).collect();
    let running = Running::after(&seen, input.flow_rule, first);
    let known = match flow_state(&seen, input.flow_rule) {
        FlowState::On { since, .. } => Some(since),
        FlowState::NotYet { .. } | FlowState::Off { .. } => None,
    };
    let spells: Vec<(Option<i64>, Option<i64>)> =
        gain.iter().map(|days| running.outer_spell(days.iter().copied())).collect();
    let date = |day: Option<i64>| day.map(|day| plus_days(first, day));
    let begins = match known {
        Some(since) => DateRange::exact(since),
        None => DateRange::of_members(spells.iter().map(|spell| date(spell.0))),
    };
    (begins, DateRange::of_members(spells.iter().map(|spell| date(spell.1))))
}

fn based_on(input: &OutlookInput<'_>, members: &Members) -> Vec<String> {
    let mut lines = Vec::new();
    if let (Some(first), Some(last)) = (input.history.first(), input.history.last()) {
        lines.push(format!("weather seen from {first} to {last}"));
    }
    let ahead = input.forecast.iter().filter(|day| day.date >= members.first).count();
    lines.push(if ahead > 0 {
        format!("a forecast of {ahead} days, then {} draws from past years", members.days.len())
    } else {
        format!("no forecast: {} draws from past years", members.days.len())
    });
    match input.nights.iter().map(|night| night.0).max() {
        Some(last) => lines.push(format!("{} scale nights, the last of {last}", input.nights.len())),
        None => lines.push("no scale nights this season".to_owned()),
    }
    lines
}

/// What the likely bloom and the weather seen would have given a strong colony, before its upkeep, kg/d, for each day
/// from `from` to `to` that the history holds.
pub fn modelled_gain(input: &OutlookInput<'_>, from: Date, to: Date) -> Result<Vec<(Date, f64)>, Trouble> {
    let forage = forage_of(input, &mut Vec::new())?;
    let blooms: Vec<_> = forage
        .iter()
        .filter_map(|(part, plant)| {
            let curve = bloom_dates(plant, input.history, to.year(), part.seeding).likely_or_open()?;
            Some((curve, part.weight.get() * plant.strength.likely.get()))
        })
        .collect();
    let normals = Normals::of(input.history);
    Ok(each_day(from, to)
        .filter_map(|date| {
            let day = input.history.on(date)?;
            let (full, _) = normals.fallback(day);
            let flight = flight_part(DayShape::new(input.place, date).flight_hours(&full));
            let bloom: f64 = blooms.iter().map(|(curve, most)| curve.level(date) * most).sum();
            Some((date, bloom * flight))
        })
        .collect())
}

/// Scale colonies against the modelled gain of the same days, as a factor drawn towards 1.
///
/// Least squares through nought of (net gain + upkeep) on the modelled gain gives the factor and its error; readings
/// in a row count as one for every `ROW_OF_DAYS`; a normal prior around 1 is then weighed in by precision. Few
/// nights, or nights without bloom, leave the factor near 1 and wide.
pub fn learn_factor(nights: &[Night], modelled: &[(Date, f64)], upkeep: KilogramsPerDay) -> Range<f64> {
    let pairs: Vec<(f64, f64)> = nights
        .iter()
        .filter_map(|night| {
            let index = modelled.binary_search_by_key(&night.date, |day| day.0).ok()?;
            Some((modelled[index].1, night.net_gain.get() + upkeep.get()))
        })
        .collect();
    let squares: f64 = pairs.iter().map(|(model, _)| model * model).sum();
    let prior = PRIOR_DEVIATION.powi(-2);
    let (mut precision, mut sum) = (prior, prior);
    if pairs.len() >= 3 && squares > 0.0 {
        let factor = pairs.iter().map(|(model, gain)| model * gain).sum::<f64>() / squares;
        #[expect(clippy::cast_precision_loss, reason = "nights of a season")]
        let freedom = (pairs.len() - 1) as f64;
        let left: f64 = pairs.iter().map(|(model, gain)| (gain - factor * model).powi(2)).sum();
        // A tenth of a kilogram a night is never known better than that.
        let variance = (left / freedom).max(0.01) * ROW_OF_DAYS / squares;
        precision += 1.0 / variance;
        sum += factor / variance;
    }
    let likely = (sum / precision).max(0.05);
    let half = NINE_IN_TEN / precision.sqrt();
    Range { low: (likely - half).max(0.02), likely, high: likely + half }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::weather::Origin;
    use jiff::civil::date;
    use outyard_base::{Celsius, KilometresPerHour, Megajoules, Millimetres};

    fn history(last: Date) -> WeatherSeries {
        let mut chance = Chance::new(5, "made-up weather");
        let mut departure = 0.0;
        let days = each_day(date(2008, 1, 1), last)
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

    fn part(code: &str, weight: f64, seeding: Option<Date>) -> ForagePart {
        ForagePart { plant: code.parse().unwrap(), weight: Share::of(weight), seeding }
    }

    fn canola() -> YardForage {
        YardForage { plants: vec![part("canola", 1.0, Some(date(2026, 5, 15)))] }
    }

    const TODAY: Date = date(2026, 6, 20);

    fn input<'a>(
        history: &'a WeatherSeries,
        forage: &'a YardForage,
        plants: &'a PlantTable,
        nights: &'a [(Date, KilogramsPerDay)],
    ) -> OutlookInput<'a> {
        OutlookInput {
            history,
            forecast: &[],
            today: TODAY,
            horizon_days: 60,
            member_count: 100,
            seed: 11,
            rules: MemberRules::default(),
            place: Place::new(50.0, -100.0).unwrap(),
            forage,
            plants,
            scale_factor: Range::exact(1.0),
            upkeep: usual_upkeep(),
            flow_rule: FlowRule::default(),
            nights,
        }
    }

    #[test]
    fn the_flow_follows_the_bloom_and_ends_with_it() {
        let (history, plants, forage) = (history(date(2026, 6, 19)), PlantTable::built_in(), canola());
        let (outlook, notes) = outlook(&input(&history, &forage, &plants, &[])).unwrap();
        assert!(notes.is_empty());
        let begins = outlook.flow_begins.likely.unwrap();
        assert!((date(2026, 7, 3)..=date(2026, 7, 12)).contains(&begins), "{begins}");
        let ends = outlook.flow_ends.likely.unwrap();
        assert!((date(2026, 7, 18)..=date(2026, 7, 30)).contains(&ends), "{ends}");
        let first = outlook.bloom[0].first;
        assert!((date(2026, 7, 2)..=date(2026, 7, 6)).contains(&first.likely.unwrap()), "{first}");
        assert!(first.early < first.likely && first.likely < first.late);
        let before = outlook.gain_range(TODAY).unwrap();
        assert!((before.likely.get() + 0.15).abs() < 0.05, "{before:?}");
        let peak = outlook.gain_range(date(2026, 7, 15)).unwrap();
        assert!(peak.likely.get() > 1.5 && peak.low < peak.likely && peak.likely < peak.high, "{peak:?}");
        assert_eq!(outlook.gain_range(date(2026, 6, 1)), None);
        assert_eq!(outlook.gain_range(date(2026, 12, 1)), None);
    }

    #[test]
    fn the_same_seed_gives_the_same_outlook_and_yards_share_their_draws() {
        let (history, plants, forage) = (history(date(2026, 6, 19)), PlantTable::built_in(), canola());
        let first = outlook(&input(&history, &forage, &plants, &[])).unwrap().0;
        assert_eq!(first, outlook(&input(&history, &forage, &plants, &[])).unwrap().0);
        let both = YardForage { plants: vec![part("basswood", 0.5, None), forage.plants[0].clone()] };
        let other = outlook(&input(&history, &both, &plants, &[])).unwrap().0;
        assert_eq!(first.bloom[0], other.bloom[1]);
    }

    #[test]
    fn twice_the_factor_gives_twice_the_gain_above_upkeep() {
        let (history, plants, forage) = (history(date(2026, 6, 19)), PlantTable::built_in(), canola());
        let mut once = input(&history, &forage, &plants, &[]);
        once.upkeep = Range::exact(KilogramsPerDay::ZERO);
        let mut twice = once;
        twice.scale_factor = Range::exact(2.0);
        let (once, twice) = (outlook(&once).unwrap().0, outlook(&twice).unwrap().0);
        for (once, twice) in once.gain.iter().flatten().zip(twice.gain.iter().flatten()) {
            assert!((2.0 * once - twice).abs() < 1e-9);
        }
    }

    #[test]
    fn a_flow_already_on_keeps_the_day_it_began() {
        let (history, plants, forage) = (history(date(2026, 7, 9)), PlantTable::built_in(), canola());
        let nights: Vec<_> = [0.3, 1.2, 1.9, 2.5, 2.0]
            .into_iter()
            .zip(5..)
            .map(|(gain, day)| (date(2026, 7, day), KilogramsPerDay::of(gain)))
            .collect();
        let mut on = input(&history, &forage, &plants, &nights);
        on.today = date(2026, 7, 10);
        let (outlook, _) = outlook(&on).unwrap();
        assert_eq!(outlook.flow_begins, DateRange::exact(date(2026, 7, 6)));
        assert!(outlook.flow_ends.likely.unwrap() > date(2026, 7, 15));
    }

    #[test]
    fn an_unknown_plant_is_refused_and_a_missing_seeding_noted() {
        let (history, plants) = (history(date(2026, 6, 19)), PlantTable::built_in());
        let unknown = YardForage { plants: vec![part("moon-flower", 1.0, None)] };
        assert_eq!(outlook(&input(&history, &unknown, &plants, &[])).unwrap_err().code, "PLT-007");
        let unseeded = YardForage { plants: vec![part("canola", 1.0, None)] };
        let (outlook, notes) = outlook(&input(&history, &unseeded, &plants, &[])).unwrap();
        assert_eq!(notes[0].code, "PLT-101");
        assert!(outlook.flow_begins.is_never());
    }

    #[test]
    fn a_bloom_that_is_past_gives_nothing_more() {
        let (history, plants) = (history(date(2026, 6, 19)), PlantTable::built_in());
        let forage = YardForage { plants: vec![part("silver-maple", 1.0, None)] };
        let (outlook, _) = outlook(&input(&history, &forage, &plants, &[])).unwrap();
        assert!(outlook.gain.iter().flatten().all(|gain| *gain <= 0.0));
        assert!(outlook.bloom[0].end.late.unwrap() < TODAY);
    }

    #[test]
    fn scales_move_the_factor_and_few_nights_move_it_little() {
        let modelled: Vec<(Date, f64)> = (1..=28).map(|day| (date(2026, 7, day), 2.0 + f64::from(day % 4))).collect();
        let nights = |count: usize, factor: f64| -> Vec<Night> {
            modelled
                .iter()
                .take(count)
                .enumerate()
                .map(|(index, (date, model))| {
                    let wobble = if index % 2 == 0 { 0.3 } else { -0.3 };
                    let gain = KilogramsPerDay::of(factor * model - 0.15 + wobble);
                    Night { date: *date, net_gain: gain, range: Range::exact(gain) }
                })
                .collect()
        };
        let upkeep = KilogramsPerDay::of(0.15);
        let many = learn_factor(&nights(28, 0.6), &modelled, upkeep);
        assert!((many.likely - 0.6).abs() < 0.05, "{many:?}");
        assert!(many.low < 0.6 && 0.6 < many.high && many.high - many.low < 0.25, "{many:?}");
        let few = learn_factor(&nights(2, 0.6), &modelled, upkeep);
        assert_eq!(few, no_scale_yet());
        let some = learn_factor(&nights(4, 0.6), &modelled, upkeep);
        assert!(some.high - some.low > many.high - many.low);
        // Nights before anything blooms say nothing.
        let bare: Vec<(Date, f64)> = modelled.iter().map(|(date, _)| (*date, 0.0)).collect();
        assert_eq!(learn_factor(&nights(28, 0.6), &bare, upkeep), no_scale_yet());
    }

    #[test]
    fn the_model_of_days_seen_is_that_of_the_outlook() {
        let (history, plants, forage) = (history(date(2026, 8, 10)), PlantTable::built_in(), canola());
        let mut seen = input(&history, &forage, &plants, &[]);
        seen.today = date(2026, 8, 11);
        let modelled = modelled_gain(&seen, date(2026, 6, 20), date(2026, 8, 10)).unwrap();
        assert_eq!(modelled.len(), 52);
        assert!(modelled[0].1.abs() < 1e-12);
        let peak = modelled.iter().find(|day| day.0 == date(2026, 7, 14)).unwrap().1;
        let day = history.on(date(2026, 7, 14)).unwrap();
        let flight = crate::flight_hours(day, seen.place).get();
        assert!((peak - 6.0 * (flight / 12.0).min(1.15)).abs() < 1e-9);
        assert_eq!(day.origin, Origin::Seen);
    }
}
