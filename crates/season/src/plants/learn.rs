//! A yard's own heat sums, from the bloom dates its keeper wrote down.
//!
//! The heat sum of a rule at each recorded date is taken half way through that day; their mean is the likely threshold
//! and their scatter, widened for the small number of years, its range. Base and start are chosen among the ones
//! offered by the least squared error in days. The error told is that of leaving each year out in turn, base and start
//! chosen anew without it, so it is the error to expect of a year not yet seen.

use jiff::civil::Date;
use outyard_base::days::days_from;
use outyard_base::{DegreeDays, Range};

use super::timing::{HeatCurve, start_of};
use crate::degree_days::HeatRule;
use crate::weather::WeatherSeries;

/// Standard normal deviate below which 90 % lie.
const NINE_IN_TEN: f64 = 1.281_551_565_544_600_4;

/// Fewest years from which a heat sum is learnt.
pub const LEAST_YEARS: usize = 3;

/// A heat sum learnt from recorded dates.
#[derive(Clone, Debug, PartialEq)]
pub struct LearntHeat {
    /// Method and thresholds of the sum.
    pub rule: HeatRule,
    /// Month and day on which the sum starts.
    pub start: (i8, i8),
    /// Sum at bloom.
    pub sum: Range<DegreeDays>,
    /// Years used: those with a date and with weather from the start of the sum to the date.
    pub years: usize,
    /// Mean error of a year left out, days; `None` with fewer than four years.
    pub error_days: Option<f64>,
    /// The same of the plain rule "on the mean date of the other years", to compare with.
    pub fixed_date_error_days: Option<f64>,
}

/// One rule offered, with its heat sums of every year used.
struct Offer {
    rule: HeatRule,
    start: (i8, i8),
    curves: Vec<HeatCurve>,
    /// Sum half way through the recorded day, by year.
    at_bloom: Vec<f64>,
}

/// Learns the heat sum at `seen` (one date of bloom a year, any years) for the best of the rules and starts offered.
/// `None` with fewer than [`LEAST_YEARS`] usable years or when no rule gathers heat before bloom.
pub fn learn_heat(
    series: &WeatherSeries,
    seen: &[Date],
    rules: &[HeatRule],
    starts: &[(i8, i8)],
) -> Option<LearntHeat> {
    let earliest = starts.iter().copied().min()?;
    let seen: Vec<Date> = seen
        .iter()
        .copied()
        .filter(|date| {
            let start = start_of(earliest, date.year());
            let held = series.between(start, *date).len();
            usize::try_from(days_from(start, *date) + 1).is_ok_and(|needed| held == needed)
        })
        .collect();
    if seen.len() < LEAST_YEARS {
        return None;
    }
    let offers: Vec<Offer> = rules
        .iter()
        .flat_map(|rule| starts.iter().filter_map(|start| Offer::new(rule, *start, series, &seen)))
        .collect();
    let all: Vec<usize> = (0..seen.len()).collect();
    let best = best_of(&offers, &seen, &all)?;
    let sum = best.range(&all);
    let left_out = |year: usize| -> Vec<usize> { all.iter().copied().filter(|other| *other != year).collect() };
    let error_days = (seen.len() > LEAST_YEARS).then(|| {
        mean(all.iter().map(|year| {
            let others = left_out(*year);
            best_of(&offers, &seen, &others)
                .map_or(f64::NAN, |offer| offer.error_days(&seen, *year, offer.mean_sum(&others)).abs())
        }))
    });
    let day_of_year = |year: usize| f64::from(seen[year].day_of_year());
    let fixed_date_error_days = (seen.len() > LEAST_YEARS).then(|| {
        mean(all.iter().map(|year| {
            let others = left_out(*year);
            (day_of_year(*year) - mean(others.iter().map(|other| day_of_year(*other))).round()).abs()
        }))
    });
    Some(LearntHeat { rule: best.rule, start: best.start, sum, years: seen.len(), error_days, fixed_date_error_days })
}

#[expect(clippy::cast_precision_loss, reason = "a count of years")]
fn mean(values: impl ExactSizeIterator<Item = f64>) -> f64 {
    let count = values.len() as f64;
    values.sum::<f64>() / count
}

impl Offer {
    /// `None` when a start lies after a recorded date, or no heat was gathered before one.
    fn new(rule: &HeatRule, start: (i8, i8), series: &WeatherSeries, seen: &[Date]) -> Option<Self> {
        const DAYS_PAST_BLOOM: i64 = 60;
        let mut curves = Vec::with_capacity(seen.len());
        let mut at_bloom = Vec::with_capacity(seen.len());
        for date in seen {
            let from = start_of(start, date.year());
            let index = usize::try_from(days_from(from, *date)).ok()?;
            let last = series.last()?.min(outyard_base::days::plus_days(*date, DAYS_PAST_BLOOM));
            let curve = HeatCurve::until(rule, series, from, last);
            let before = index.checked_sub(1).map_or(0.0, |day| curve.sums[day]);
            let half_way = f64::midpoint(before, curve.sums[index]);
            if half_way <= 0.0 {
                return None;
            }
            at_bloom.push(half_way);
            curves.push(curve);
        }
        Some(Self { rule: *rule, start, curves, at_bloom })
    }

    fn mean_sum(&self, years: &[usize]) -> f64 {
        mean(years.iter().map(|year| self.at_bloom[*year]))
    }

    /// Predicted less recorded date; a sum not reached counts as the last day looked at.
    #[expect(clippy::cast_precision_loss, reason = "days of a season")]
    fn error_days(&self, seen: &[Date], year: usize, sum: f64) -> f64 {
        let curve = &self.curves[year];
        let last = || outyard_base::days::plus_days(curve.start, i64::try_from(curve.sums.len()).unwrap_or(0));
        days_from(seen[year], curve.reaches(sum).unwrap_or_else(last)) as f64
    }

    fn range(&self, years: &[usize]) -> Range<DegreeDays> {
        let likely = self.mean_sum(years);
        #[expect(clippy::cast_precision_loss, reason = "a count of years")]
        let count = years.len() as f64;
        let square: f64 = years.iter().map(|year| (self.at_bloom[*year] - likely).powi(2)).sum();
        // The mean itself is uncertain too: hence 1 + 1/n.
        let half = NINE_IN_TEN * (square / (count - 1.0) * (1.0 + 1.0 / count)).sqrt();
        Range { low: (likely - half).max(0.0), likely, high: likely + half }.map(DegreeDays::of)
    }
}

/// The offer with the least squared error in days over some years.
fn best_of<'a>(offers: &'a [Offer], seen: &[Date], years: &[usize]) -> Option<&'a Offer> {
    let squares = |offer: &Offer| -> f64 {
        let sum = offer.mean_sum(years);
        years.iter().map(|year| offer.error_days(seen, *year, sum).powi(2)).sum()
    };
    offers
        .iter()
        .map(|offer| (squares(offer), offer))
        .min_by(|left, right| left.0.total_cmp(&right.0))
        .map(|(_, offer)| offer)
}
