//! How well rules would have foretold recorded first blooms: each year left out in turn and foretold from the others.
//!
//! All rules are tried on the same years: those whose weather is held from the first start offered to the recorded day.
//! What a rule learns, base and start of a heat sum included, it learns without the year it is asked for, so the errors are
//! those to expect of a year not yet seen.
//!
//! | symbol | name in code | meaning | unit | value | source |
//! |---|---|---|---|---|---|
//! | - | `PLAIN_BASES_C` | bases of the plain heat sums, simple average from 1 January | °C | 5, 10 | 41 and 50 °F, the bases in use `[OsuPhenology]` |
//! | - | `bases_offered` | bases a learnt heat sum chooses from, single sine | °C | -2 to 8 | assumed |
//! | - | `STARTS_OFFERED` | starts it chooses from | - | 1 January to 1 March, half months | assumed |
//! | - | `LEAST_YEARS` | fewest years worth scoring | - | 4 | assumed |

use jiff::civil::Date;
use outyard_base::Celsius;
use outyard_base::days::{days_from, plus_days};

use super::learn::learn_heat;
use super::timing::{HeatCurve, start_of};
use super::update::{BloomRecord, heat_of_record, learn_plant};
use super::{Plant, Trigger, bloom_dates};
use crate::degree_days::{Cutoff, HeatRule, Method};
use crate::weather::WeatherSeries;

/// Bases of the plain heat sums, °C.
const PLAIN_BASES_C: [u8; 2] = [5, 10];

/// Starts a learnt heat sum chooses from.
const STARTS_OFFERED: [(i8, i8); 5] = [(1, 1), (1, 15), (2, 1), (2, 15), (3, 1)];

/// Fewest years worth scoring.
pub const LEAST_YEARS: usize = 4;

/// A way of foretelling first bloom.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Foreteller {
    /// The mean date of the other years.
    FixedDate,
    /// Simple average over so many °C from 1 January; its sum is the mean of the other years.
    PlainDegreeDays(u8),
    /// Single sine; base, start and sum learnt from the other years.
    LearntHeat,
    /// The plant table's likely threshold as it stands.
    Table,
    /// The plant table's threshold moved by the other years: what the outlook uses.
    TableMoved,
}

impl Foreteller {
    /// How a page names it.
    pub fn said(self) -> String {
        match self {
            Self::FixedDate => "fixed date: mean of the other years".to_owned(),
            Self::PlainDegreeDays(base) => format!("plain degree days over {base} °C from 1 January"),
            Self::LearntHeat => "heat sum, base and start learnt".to_owned(),
            Self::Table => "plant table as it stands".to_owned(),
            Self::TableMoved => "plant table moved by the records".to_owned(),
        }
    }
}

/// Errors of one way, year by year.
#[derive(Clone, Debug, PartialEq)]
pub struct Foretold {
    /// The way.
    pub by: Foreteller,
    /// Foretold less recorded day, by year: above nought when foretold too late.
    pub errors: Vec<(i16, f64)>,
}

fn bases_offered() -> Vec<HeatRule> {
    let sine = |base: i32| HeatRule {
        method: Method::SingleSine(Cutoff::None),
        base: Celsius::of(f64::from(base)),
        upper: None,
    };
    (-2..=8).map(sine).collect()
}

#[expect(clippy::cast_precision_loss, reason = "days of a season and a count of years")]
fn mean(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / values.len() as f64
}

/// The mean day of the year of some dates.
fn fixed_date(others: &[BloomRecord], year: i16) -> Option<Date> {
    let days: Vec<f64> = others.iter().map(|other| f64::from(other.first.day_of_year())).collect();
    #[expect(clippy::cast_possible_truncation, reason = "a day of the year")]
    let day = mean(&days).round() as i64;
    Some(plus_days(Date::new(year, 1, 1).ok()?, day - 1))
}

/// Heat half way through a day and the day a sum is reached, by the plainest rule.
fn by_plain(series: &WeatherSeries, others: &[BloomRecord], year: i16, base: u8) -> Option<Date> {
    let rule = HeatRule { method: Method::SimpleAverage, base: Celsius::of(f64::from(base)), upper: None };
    let first = |year: i16| Date::new(year, 1, 1).ok();
    let sums: Vec<f64> = others
        .iter()
        .filter_map(|other| heat_of_record(&rule, first(other.first.year())?, series, other.first))
        .collect();
    (sums.len() == others.len()).then(|| HeatCurve::new(&rule, series, first(year)?).reaches(mean(&sums)))?
}

fn by_learnt(series: &WeatherSeries, others: &[BloomRecord], year: i16) -> Option<Date> {
    let seen: Vec<Date> = others.iter().map(|other| other.first).collect();
    let learnt = learn_heat(series, &seen, &bases_offered(), &STARTS_OFFERED)?;
    HeatCurve::new(&learnt.rule, series, start_of(learnt.start, year)).reaches(learnt.sum.likely.get())
}

fn foretell(
    by: Foreteller,
    plant: Option<&Plant>,
    series: &WeatherSeries,
    others: &[BloomRecord],
    record: &BloomRecord,
) -> Option<Date> {
    let year = record.first.year();
    match by {
        Foreteller::FixedDate => fixed_date(others, year),
        Foreteller::PlainDegreeDays(base) => by_plain(series, others, year, base),
        Foreteller::LearntHeat => by_learnt(series, others, year),
        Foreteller::Table => bloom_dates(plant?, series, year, record.seeded).first.likely,
        Foreteller::TableMoved => {
            bloom_dates(&learn_plant(plant?, series, others), series, year, record.seeded).first.likely
        }
    }
}

/// True when nothing a rule needs is missing for a record: weather, and the seeding of a crop.
fn usable(plant: Option<&Plant>, series: &WeatherSeries, record: &BloomRecord) -> bool {
    let from = |start: (i8, i8)| start_of(start, record.first.year());
    let mut first_day = from(STARTS_OFFERED[0]);
    match plant.map(|plant| &plant.trigger) {
        Some(Trigger::Heat { start, .. }) => first_day = first_day.min(from(*start)),
        Some(Trigger::Seeding { .. }) if record.seeded.is_none() => return false,
        _ => {}
    }
    let needed = days_from(first_day, record.first) + 1;
    usize::try_from(needed).is_ok_and(|needed| series.between(first_day, record.first).len() == needed)
}

/// Errors of every way that can be tried, on the records that can be used. A way that fails in a year (a sum never reached)
/// is left out. Empty with fewer than [`LEAST_YEARS`] usable years.
pub fn score_bloom(plant: Option<&Plant>, series: &WeatherSeries, records: &[BloomRecord]) -> Vec<Foretold> {
    let records: Vec<BloomRecord> = records.iter().filter(|record| usable(plant, series, record)).copied().collect();
    if records.len() < LEAST_YEARS {
        return Vec::new();
    }
    let mut ways = vec![Foreteller::FixedDate];
    ways.extend(PLAIN_BASES_C.map(Foreteller::PlainDegreeDays));
    ways.push(Foreteller::LearntHeat);
    if plant.is_some() {
        ways.extend([Foreteller::Table, Foreteller::TableMoved]);
    }
    ways.into_iter()
        .filter_map(|by| {
            let errors = records
                .iter()
                .enumerate()
                .map(|(index, record)| {
                    let mut others = records.clone();
                    others.remove(index);
                    let told = foretell(by, plant, series, &others, record)?;
                    #[expect(clippy::cast_precision_loss, reason = "days of a season")]
                    let error = days_from(record.first, told) as f64;
                    Some((record.first.year(), error))
                })
                .collect::<Option<Vec<_>>>()?;
            Some(Foretold { by, errors })
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scale::score::Errors;
    use crate::weather::DayWeather;
    use jiff::civil::date;
    use outyard_base::Chance;
    use outyard_base::days::each_day;

    fn springs() -> WeatherSeries {
        let mut chance = Chance::new(4, "made-up springs");
        let mut departure = 0.0;
        let days = each_day(date(2010, 1, 1), date(2025, 12, 31))
            .map(|date| {
                departure = 0.9 * departure + 1.6 * chance.normal();
                let wave = -(core::f64::consts::TAU * (f64::from(date.day_of_year()) - 20.0) / 365.25).cos();
                let mean = 7.0 + 11.0 * wave + departure;
                DayWeather::seen(date, Celsius::of(mean - 5.0), Celsius::of(mean + 5.0))
            })
            .collect();
        WeatherSeries::new(days).0
    }

    fn mean_error(foretold: &[Foretold], by: Foreteller) -> f64 {
        let row = foretold.iter().find(|row| row.by == by).unwrap();
        let errors: Vec<f64> = row.errors.iter().map(|error| error.1).collect();
        Errors::of(&errors).unwrap().mean_size
    }

    // A plant that truly sums single sines over 3 °C from 1 February: learning finds it, plain sums and dates do not.
    #[test]
    fn a_plant_with_a_rule_of_its_own_is_learnt() {
        let series = springs();
        let rule = HeatRule { method: Method::SingleSine(Cutoff::None), base: Celsius::of(3.0), upper: None };
        let records: Vec<BloomRecord> = (2010..=2024)
            .map(|year| {
                let curve = HeatCurve::new(&rule, &series, date(year, 2, 1));
                BloomRecord::from(curve.reaches(260.0).unwrap())
            })
            .collect();
        let told = score_bloom(None, &series, &records);
        assert_eq!(told.len(), 4);
        assert!(told.iter().all(|row| row.errors.len() == 15));
        let learnt = mean_error(&told, Foreteller::LearntHeat);
        assert!(learnt < 0.8, "{learnt}");
        assert!(mean_error(&told, Foreteller::FixedDate) > 3.0);
        assert!(mean_error(&told, Foreteller::PlainDegreeDays(10)) > 2.0 * learnt);
    }

    #[test]
    fn with_a_plant_the_table_is_tried_too_and_few_years_give_nothing() {
        let series = springs();
        let table = crate::plants::PlantTable::built_in();
        let plant = table.get(&"apple".parse().unwrap()).unwrap();
        let records: Vec<BloomRecord> = (2010..=2018)
            .map(|year| BloomRecord::from(bloom_dates(plant, &series, year, None).first.likely.unwrap()))
            .collect();
        let told = score_bloom(Some(plant), &series, &records);
        assert!(mean_error(&told, Foreteller::Table) < 1e-9);
        assert!(mean_error(&told, Foreteller::TableMoved) < 1.5);
        assert_eq!(score_bloom(Some(plant), &series, &records[..3]), []);
        // A year whose weather is not held is passed over, for every rule alike.
        let mut with_another = records.clone();
        with_another.push(BloomRecord::from(date(2001, 5, 1)));
        assert_eq!(score_bloom(Some(plant), &series, &with_another), told);
    }
}
