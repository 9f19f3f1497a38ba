//! From heat sums to dates.

use jiff::civil::Date;
use outyard_base::days::{each_day, plus_days};
use outyard_base::{DateRange, DegreeDays, Range};

use super::{Bloom, Plant, Step, Trigger};
use crate::degree_days::{HeatRule, low_after};
use crate::weather::{Normals, WeatherSeries};

/// Heat summed day by day from a start date.
pub(crate) struct HeatCurve {
    /// First day of the sum.
    pub(crate) start: Date,
    /// Sum up to and with each day, °C·d.
    pub(crate) sums: Vec<f64>,
    /// Days counted with normals.
    pub(crate) missing_days: usize,
}

impl HeatCurve {
    /// Sums the series from `start` to its last day, for a year at most. Days it does not hold count with their
    /// normals; with no normals they add nothing.
    pub(crate) fn new(rule: &HeatRule, series: &WeatherSeries, start: Date) -> Self {
        let year_out = plus_days(start, 364);
        Self::until(rule, series, start, series.last().map_or(Date::MIN, |last| last.min(year_out)))
    }

    /// Sums the series from `start` to `last`; days it does not hold count with their normals.
    pub(crate) fn until(rule: &HeatRule, series: &WeatherSeries, start: Date, last: Date) -> Self {
        let mut curve = Self { start, sums: Vec::new(), missing_days: 0 };
        let mut normals: Option<Normals> = None;
        let mut sum = 0.0;
        let mut held = series.between(start, last);
        for date in each_day(start, last) {
            if let Some((day, later)) = held.split_first().filter(|(day, _)| day.date == date) {
                sum += rule.day(day.low.get(), day.high.get(), low_after(day, later.first()).get());
                held = later;
            } else {
                curve.missing_days += 1;
                let normal = normals.get_or_insert_with(|| Normals::of(series)).on(date);
                if let (Some(low), Some(high)) = (normal.low_c, normal.high_c) {
                    sum += rule.day(low, high, low);
                }
            }
            curve.sums.push(sum);
        }
        curve
    }

    /// First day on which the sum reaches `heat`.
    pub(crate) fn reaches(&self, heat: f64) -> Option<Date> {
        let index = self.sums.partition_point(|sum| *sum < heat);
        (index < self.sums.len()).then(|| plus_days(self.start, i64::try_from(index).expect("days of a year")))
    }
}

/// The date on which a year's sum starts: the year before when the start lies past midsummer.
pub(crate) fn start_of(start: (i8, i8), year: i16) -> Date {
    let year = if start.0 > 6 { year - 1 } else { year };
    // 29 February in a common year counts from the 28th.
    Date::new(year, start.0, start.1).or_else(|_| Date::new(year, start.0, 28)).expect("the table's start was checked")
}

/// The start that belongs to the season a date lies in.
pub(crate) fn season_start(start: (i8, i8), today: Date) -> Date {
    let next = start_of(start, today.year() + 1);
    if start.0 > 6 && next <= today { next } else { start_of(start, today.year()) }
}

fn dates(range: Range<Option<Date>>) -> DateRange {
    DateRange { early: range.low, likely: range.likely, late: range.high }
}

fn by_heat(curve: &HeatCurve, heat: Range<DegreeDays>) -> DateRange {
    dates(heat.map(|heat| curve.reaches(heat.get())))
}

#[expect(clippy::cast_possible_truncation, reason = "days of one season, checked when read")]
fn by_days(from: Option<Date>, days: Range<f64>) -> DateRange {
    dates(days.map(|days| from.map(|from| plus_days(from, days.round() as i64))))
}

pub(super) fn bloom_dates(plant: &Plant, series: &WeatherSeries, year: i16, seeding: Option<Date>) -> Bloom {
    let (first, curve) = match &plant.trigger {
        Trigger::Heat { rule, start, first } => {
            let curve = HeatCurve::new(rule, series, start_of(*start, year));
            (by_heat(&curve, *first), Some(curve))
        }
        Trigger::Seeding { heat: Some((rule, first)), by_heat: true, .. } => match seeding {
            Some(seeding) => {
                let curve = HeatCurve::new(rule, series, seeding);
                (by_heat(&curve, *first), Some(curve))
            }
            None => (DateRange::default(), None),
        },
        Trigger::Seeding { days, .. } => (by_days(seeding, *days), None),
    };
    let step = |step: Step| match (step, &curve) {
        (Step::HeatSum(heat), Some(curve)) => by_heat(curve, heat),
        (Step::HeatSum(_), None) => DateRange::default(),
        (Step::DaysAfterFirst(days), _) => by_days(first.likely, days),
    };
    let missing_days = curve.as_ref().map_or(0, |curve| curve.missing_days);
    Bloom { first, full: step(plant.full), end: step(plant.end), missing_days }
}
