//! Net gain midnight to midnight from the level without work.

use jiff::Timestamp;
use jiff::civil::Date;
use jiff::tz::TimeZone;
use outyard_base::days::{each_day, plus_days};
use outyard_base::{KilogramsPerDay, Range};

use super::clean::{Series, hours, instant};
use super::steps::Expected;
use super::{Change, Night};

/// Standard normal deviate below which 90 % lie.
const NINE_IN_TEN: f64 = 1.281_551_565_544_600_4;

/// Net gain of every day both of whose midnights lie between readings close enough together.
pub(super) fn net_gains(
    series: &Series,
    level: &[(i64, f64)],
    expected: &Expected,
    changes: &[Change],
    tz: &TimeZone,
) -> Vec<Night> {
    let (Some(first), Some(last)) = (level.first(), level.last()) else { return Vec::new() };
    let date = |at: i64| tz.to_datetime(instant(at)).date();
    let widest_s = series.gap_s().max(6 * 3600);
    let midnight = |date: Date| tz.to_timestamp(date.at(0, 0, 0, 0)).ok().map(Timestamp::as_second);
    let level_at = |at: i64| -> Option<f64> {
        let after = level.partition_point(|point| point.0 < at);
        let right = level.get(after)?;
        if right.0 == at {
            return Some(right.1);
        }
        let left = level.get(after.checked_sub(1)?)?;
        (right.0 - left.0 <= widest_s)
            .then(|| left.1 + (right.1 - left.1) * hours(at - left.0) / hours(right.0 - left.0))
    };
    let scatter_at = |at: i64| {
        let index = series.at.partition_point(|reading| *reading < at);
        expected.scatter_kg[index.min(series.len() - 1)]
    };
    let mut nights = Vec::new();
    for day in each_day(date(first.0), date(last.0)) {
        let (Some(from), Some(to)) = (midnight(day), midnight(plus_days(day, 1))) else { continue };
        let (Some(start), Some(end)) = (level_at(from), level_at(to)) else { continue };
        let gain = end - start;
        let steps: f64 = changes
            .iter()
            .filter(|change| change.kind.lasts())
            .filter(|change| change.until.as_second() > from && change.at.as_second() < to)
            .map(|change| change.kg_error.get().powi(2))
            .sum();
        let error = (scatter_at(from).powi(2) + scatter_at(to).powi(2) + steps).sqrt() * NINE_IN_TEN;
        nights.push(Night {
            date: day,
            net_gain: KilogramsPerDay::of(gain),
            range: Range {
                low: KilogramsPerDay::of(gain - error),
                likely: KilogramsPerDay::of(gain),
                high: KilogramsPerDay::of(gain + error),
            },
        });
    }
    nights
}
