//! A plant's thresholds moved by what its keeper wrote down: first and full bloom, year by year, for one yard group.
//!
//! The table's range is what is known beforehand of the group's own threshold and of how its years scatter, together: a
//! part of its variance is the scatter of years. Every recorded year moves the threshold by the rule of normal means, and
//! the scatter by its own squares, weighed against so many years of the table's scatter. The range given back is that of
//! a year to come. **With no record the table's range stands untouched**; a few records already narrow it, and no number
//! of records makes it narrower than years scatter.
//!
//! | symbol | name in code | meaning | unit | value | source |
//! |---|---|---|---|---|---|
//! | μ₀, s₀ | `beforehand` | table: likely, and a deviate of its range | °C·d or d | plant table | named there |
//! | τ₀²/s₀² | `YEARS_SHARE` | part of the table's variance that is scatter of years | of 1 | 0.15 | assumed |
//! | ν₀ | `SCATTER_YEARS` | years of record the table's scatter counts for | - | 4 | assumed |
//! | θ | `middle` | the group's own threshold: weighed by precision | °C·d or d | - | Gelman et al. 2013, `[GelmanBda3]`, eq. 2.10 |

use jiff::civil::Date;
use outyard_base::days::days_from;
use outyard_base::{DegreeDays, Range};

use super::timing::{HeatCurve, start_of};
use super::{Plant, Step, Trigger, bloom_dates};
use crate::degree_days::HeatRule;
use crate::weather::WeatherSeries;

/// Standard normal deviate below which 90 % lie.
const NINE_IN_TEN: f64 = 1.281_551_565_544_600_4;

/// Part of the table's variance that is scatter of years. Assumed.
const YEARS_SHARE: f64 = 0.15;

/// Years of record the table's scatter counts for. Assumed.
const SCATTER_YEARS: f64 = 4.0;

/// What was written down of one plant in one year.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct BloomRecord {
    /// First bloom: one flower of twenty open.
    pub first: Date,
    /// Full bloom, when it was written down.
    pub full: Option<Date>,
    /// Date of seeding, for crops that count from it.
    pub seeded: Option<Date>,
}

/// Errors of a year left out, in days: mean of their sizes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LeftOut {
    /// Years tried.
    pub years: usize,
    /// With thresholds learnt from the other years.
    pub learnt_days: f64,
    /// With the table's likely threshold alone.
    pub table_days: f64,
    /// On the mean date of the other years.
    pub fixed_date_days: f64,
}

/// Moves a range by values seen; untouched when there are none.
fn moved(beforehand: Range<f64>, seen: &[f64]) -> Range<f64> {
    if seen.is_empty() {
        return beforehand;
    }
    let variance = ((beforehand.high - beforehand.low) / (2.0 * NINE_IN_TEN)).powi(2).max(1e-6);
    let of_years = YEARS_SHARE * variance;
    #[expect(clippy::cast_precision_loss, reason = "a count of years")]
    let count = seen.len() as f64;
    let mean = seen.iter().sum::<f64>() / count;
    let squares: f64 = seen.iter().map(|value| (value - mean).powi(2)).sum();
    let scatter = (SCATTER_YEARS * of_years + squares) / (SCATTER_YEARS + count - 1.0);
    let (known, told) = (1.0 / (variance - of_years), count / scatter);
    let middle = (known * beforehand.likely + told * mean) / (known + told);
    let half = NINE_IN_TEN * (scatter + 1.0 / (known + told)).sqrt();
    Range { low: (middle - half).max(0.0), likely: middle, high: middle + half }
}

/// Heat half way through a day, when every day from the start of the sum to it is held.
pub(super) fn heat_of_record(rule: &HeatRule, start: Date, series: &WeatherSeries, date: Date) -> Option<f64> {
    let index = usize::try_from(days_from(start, date)).ok()?;
    let curve = HeatCurve::until(rule, series, start, date);
    if curve.missing_days > 0 {
        return None;
    }
    let before = index.checked_sub(1).map_or(0.0, |day| curve.sums[day]);
    Some(f64::midpoint(before, curve.sums[index]))
}

/// Where a plant's sum starts in the year of a record.
fn sum_of(plant: &Plant, record: &BloomRecord) -> Option<(HeatRule, Date)> {
    match &plant.trigger {
        Trigger::Heat { rule, start, .. } => Some((*rule, start_of(*start, record.first.year()))),
        Trigger::Seeding { heat: Some((rule, _)), .. } => Some((*rule, record.seeded?)),
        Trigger::Seeding { heat: None, .. } => None,
    }
}

#[expect(clippy::cast_precision_loss, reason = "days of a season")]
fn days_after(from: Date, to: Date) -> f64 {
    days_from(from, to) as f64
}

/// The plant with its thresholds moved by the records of one yard group. Records whose weather is not held in full, or
/// whose seeding is not known where it is needed, are passed over.
pub fn learn_plant(plant: &Plant, series: &WeatherSeries, records: &[BloomRecord]) -> Plant {
    let heats = |date: fn(&BloomRecord) -> Option<Date>| -> Vec<f64> {
        let heat = |record: &BloomRecord| {
            let (rule, start) = sum_of(plant, record)?;
            heat_of_record(&rule, start, series, date(record)?)
        };
        records.iter().filter_map(heat).collect()
    };
    let by_heat = |sum: Range<DegreeDays>, seen: &[f64]| {
        if seen.is_empty() { sum } else { moved(sum.map(DegreeDays::get), seen).map(DegreeDays::of) }
    };
    let firsts = heats(|record| Some(record.first));
    let mut learnt = plant.clone();
    match &mut learnt.trigger {
        Trigger::Heat { first, .. } => *first = by_heat(*first, &firsts),
        Trigger::Seeding { days, heat, .. } => {
            let seen: Vec<f64> =
                records.iter().filter_map(|record| Some(days_after(record.seeded?, record.first))).collect();
            *days = moved(*days, &seen);
            if let Some((_, first)) = heat {
                *first = by_heat(*first, &firsts);
            }
        }
    }
    // Steps nobody wrote down move with the ones before them, or a late plant would be over before it began.
    let shift = |from: Range<DegreeDays>, to: Range<DegreeDays>| to.likely.get() - from.likely.get();
    let along = |sum: Range<DegreeDays>, by: f64| sum.map(|sum| DegreeDays::of((sum.get() + by).max(0.0)));
    let mut moved_by = match (&plant.trigger, &learnt.trigger) {
        (Trigger::Heat { first: from, .. }, Trigger::Heat { first: to, .. }) => shift(*from, *to),
        (Trigger::Seeding { heat: Some((_, from)), .. }, Trigger::Seeding { heat: Some((_, to)), .. }) => {
            shift(*from, *to)
        }
        _ => 0.0,
    };
    learnt.full = match plant.full {
        Step::HeatSum(sum) => {
            let fulls = heats(|record| record.full);
            let to = if fulls.is_empty() { along(sum, moved_by) } else { by_heat(sum, &fulls) };
            moved_by = shift(sum, to);
            Step::HeatSum(to)
        }
        Step::DaysAfterFirst(days) => {
            let seen: Vec<f64> =
                records.iter().filter_map(|record| Some(days_after(record.first, record.full?))).collect();
            Step::DaysAfterFirst(moved(days, &seen))
        }
    };
    if let Step::HeatSum(sum) = plant.end {
        learnt.end = Step::HeatSum(along(sum, moved_by));
    }
    learnt
}

/// Leaves each recorded year out in turn and foretells its first bloom from the others; years without weather up to the
/// record are passed over. `None` with fewer than three years that can be foretold.
pub fn leave_one_year_out(plant: &Plant, series: &WeatherSeries, records: &[BloomRecord]) -> Option<LeftOut> {
    const LEAST_YEARS: usize = 3;
    let foretold = |plant: &Plant, record: &BloomRecord| {
        let bloom = bloom_dates(plant, series, record.first.year(), record.seeded);
        Some(days_after(record.first, bloom.first.likely?).abs())
    };
    let by_heat = matches!(plant.trigger, Trigger::Heat { .. } | Trigger::Seeding { by_heat: true, .. });
    let usable = |record: &&BloomRecord| {
        !by_heat
            || sum_of(plant, record)
                .is_some_and(|(rule, start)| heat_of_record(&rule, start, series, record.first).is_some())
    };
    let records: Vec<BloomRecord> = records.iter().filter(usable).copied().collect();
    let (mut learnt_days, mut table_days, mut fixed_date_days, mut years) = (0.0, 0.0, 0.0, 0_u32);
    for (index, record) in records.iter().enumerate() {
        let others: Vec<BloomRecord> =
            records.iter().enumerate().filter(|(other, _)| *other != index).map(|(_, record)| *record).collect();
        if others.is_empty() {
            continue;
        }
        let learnt = learn_plant(plant, series, &others);
        let (Some(by_learnt), Some(by_table)) = (foretold(&learnt, record), foretold(plant, record)) else { continue };
        #[expect(clippy::cast_precision_loss, reason = "a count of years")]
        let mean = others.iter().map(|other| f64::from(other.first.day_of_year())).sum::<f64>() / others.len() as f64;
        learnt_days += by_learnt;
        table_days += by_table;
        fixed_date_days += (f64::from(record.first.day_of_year()) - mean.round()).abs();
        years += 1;
    }
    let count = f64::from(years);
    (years as usize >= LEAST_YEARS).then(|| LeftOut {
        years: years as usize,
        learnt_days: learnt_days / count,
        table_days: table_days / count,
        fixed_date_days: fixed_date_days / count,
    })
}

impl From<Date> for BloomRecord {
    /// A record of nothing but first bloom.
    fn from(first: Date) -> Self {
        Self { first, full: None, seeded: None }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plants::PlantTable;
    use crate::weather::DayWeather;
    use jiff::civil::date;
    use outyard_base::days::{each_day, plus_days};
    use outyard_base::{Celsius, Chance};

    fn springs() -> WeatherSeries {
        let mut chance = Chance::new(4, "made-up springs");
        let mut departure = 0.0;
        let days = each_day(date(2004, 1, 1), date(2025, 12, 31))
            .map(|date| {
                departure = 0.9 * departure + 1.6 * chance.normal();
                let wave = -(core::f64::consts::TAU * (f64::from(date.day_of_year()) - 20.0) / 365.25).cos();
                let mean = 5.0 + 15.0 * wave + departure;
                DayWeather::seen(date, Celsius::of(mean - 6.0), Celsius::of(mean + 6.0))
            })
            .collect();
        WeatherSeries::new(days).0
    }

    /// Dates of a plant whose true threshold is so many times the table's, scattered by a few days.
    fn records(plant: &Plant, series: &WeatherSeries, times: f64, scatter_days: f64) -> Vec<BloomRecord> {
        let mut truth = plant.clone();
        if let Trigger::Heat { first, .. } = &mut truth.trigger {
            *first = first.map(|sum| DegreeDays::of(sum.get() * times));
        }
        let mut chance = Chance::new(8, "scatter of records");
        (2005..=2024)
            .map(|year| {
                let first = bloom_dates(&truth, series, year, None).first.likely.unwrap();
                #[expect(clippy::cast_possible_truncation, reason = "a few days")]
                let off = (scatter_days * chance.normal()).round() as i64;
                BloomRecord::from(plus_days(first, off))
            })
            .collect()
    }

    fn first_sum(plant: &Plant) -> Range<f64> {
        match &plant.trigger {
            Trigger::Heat { first, .. } => first.map(DegreeDays::get),
            Trigger::Seeding { days, .. } => *days,
        }
    }

    #[test]
    fn without_records_the_table_stands() {
        let table = PlantTable::built_in();
        let series = springs();
        for plant in table.plants() {
            assert_eq!(learn_plant(plant, &series, &[]), *plant);
        }
    }

    #[test]
    fn records_move_the_threshold_and_narrow_its_range() {
        let table = PlantTable::built_in();
        let series = springs();
        let plant = table.get(&"basswood".parse().unwrap()).unwrap();
        let records = records(plant, &series, 1.15, 2.0);
        let at_table = first_sum(plant);
        let truth = at_table.likely * 1.15;
        let table_width = at_table.high - at_table.low;
        for (count, allowed) in [(2, 0.12), (6, 0.06), (20, 0.04)] {
            let sum = first_sum(&learn_plant(plant, &series, &records[..count]));
            assert!((sum.likely / truth - 1.0).abs() < allowed, "{count} years: {sum:?}, truly {truth}");
            let width = sum.high - sum.low;
            assert!(width < table_width, "{count} years: {sum:?}");
            assert!(sum.low < truth && truth < sum.high);
        }
    }

    // Gelman et al. 2013, eq. 2.10: precision-weighted mean; checked by hand for one value seen.
    #[test]
    fn one_value_moves_the_range_by_precision() {
        let beforehand = Range { low: 100.0 - NINE_IN_TEN * 10.0, likely: 100.0, high: 100.0 + NINE_IN_TEN * 10.0 };
        let range = moved(beforehand, &[120.0]);
        // Variance 100, of it 15 of years: 85 against 15 for the one value.
        let middle = (100.0 / 85.0 + 120.0 / 15.0) / (1.0 / 85.0 + 1.0 / 15.0);
        assert!((range.likely - middle).abs() < 1e-9);
        let half = NINE_IN_TEN * (15.0 + 1.0 / (1.0 / 85.0 + 1.0 / 15.0_f64)).sqrt();
        assert!((range.high - range.likely - half).abs() < 1e-9);
    }

    #[test]
    fn a_year_left_out_is_foretold_better_with_the_others() {
        let table = PlantTable::built_in();
        let series = springs();
        let plant = table.get(&"basswood".parse().unwrap()).unwrap();
        let records = records(plant, &series, 1.2, 1.5);
        let left_out = leave_one_year_out(plant, &series, &records).unwrap();
        assert_eq!(left_out.years, 20);
        assert!(left_out.learnt_days < 0.6 * left_out.table_days, "{left_out:?}");
        assert!(left_out.learnt_days < 0.7 * left_out.fixed_date_days, "{left_out:?}");
        assert_eq!(leave_one_year_out(plant, &series, &records[..2]), None);
    }

    #[test]
    fn a_crop_learns_its_days_from_seeding() {
        let table = PlantTable::built_in();
        let series = springs();
        let canola = table.get(&"canola".parse().unwrap()).unwrap();
        let records: Vec<BloomRecord> = (2015..2021)
            .map(|year| BloomRecord {
                first: plus_days(date(year, 5, 12), 46),
                full: Some(plus_days(date(year, 5, 12), 55)),
                seeded: Some(date(year, 5, 12)),
            })
            .collect();
        let learnt = learn_plant(canola, &series, &records);
        let (before, after) = (first_sum(canola), first_sum(&learnt));
        assert!((after.likely - 46.0).abs() < (before.likely - 46.0).abs() / 3.0, "{after:?}");
        assert!(after.high - after.low < before.high - before.low);
        // Without the date of seeding nothing can be learnt of it.
        let unseeded: Vec<BloomRecord> = records.iter().map(|record| BloomRecord::from(record.first)).collect();
        assert_eq!(learn_plant(canola, &series, &unseeded).trigger, canola.trigger);
    }
}
