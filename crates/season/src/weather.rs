//! Daily weather at one place: put in order, checked, its gaps repaired in the open.
//!
//! A day that nobody measured is never passed off as seen: a repaired day carries [`Origin::Filled`]. Low and high of a
//! missing day are the normals of its time of year plus the departure of the days either side of it, drawn in a
//! straight line from one to the other. Rain, wind and sun are not made up: they stay `None`, and whoever needs a value
//! asks [`Normals::fallback`], which says what it put in.
//!
//! | symbol | name in code | meaning | unit | value | source |
//! |---|---|---|---|---|---|
//! | G | `longest_gap_days` | longest gap filled in the current year | d | 7 | assumed |
//! | w | `NORMAL_HALF_WINDOW_DAYS` | days either side that make a normal | d | 7 | assumed |
//! | n | `NORMAL_LEAST_DAYS` | fewest days that make a normal | d | 5 | assumed |

use jiff::civil::Date;
use outyard_base::days::{days_from, each_day, plus_days};
use outyard_base::{Celsius, KilometresPerHour, Megajoules, Millimetres, Note};

/// Days either side of a day of the year that make its normal. Assumed.
const NORMAL_HALF_WINDOW_DAYS: i64 = 7;

/// Fewest days seen that make a normal. Assumed.
const NORMAL_LEAST_DAYS: usize = 5;

/// Where a day's weather comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Origin {
    /// Measured.
    Seen,
    /// Made up to close a gap.
    Filled,
    /// Forecast.
    Forecast,
    /// Drawn from past years.
    Drawn,
}

/// The weather of one civil day.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DayWeather {
    /// The day.
    pub date: Date,
    /// Least air temperature.
    pub low: Celsius,
    /// Greatest air temperature, not below `low`.
    pub high: Celsius,
    /// Rain of the whole day, if known.
    pub rain: Option<Millimetres>,
    /// Mean wind of the whole day at about 2 m, where bees fly and men work; see [`crate::hours::wind_at_two_metres`].
    pub wind: Option<KilometresPerHour>,
    /// Solar energy on a flat square metre, if known.
    pub sun: Option<Megajoules>,
    /// Where it comes from.
    pub origin: Origin,
}

impl DayWeather {
    /// A day seen, with temperatures only.
    pub fn seen(date: Date, low: Celsius, high: Celsius) -> Self {
        Self { date, low, high, rain: None, wind: None, sun: None, origin: Origin::Seen }
    }
}

/// Days of weather in order of date, one of each date at most; gaps are possible.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct WeatherSeries {
    days: Vec<DayWeather>,
}

impl WeatherSeries {
    /// Puts days in order. Of two with one date the first given is kept; a day whose low is above its high is left
    /// out. Both are noted.
    pub fn new(days: Vec<DayWeather>) -> (Self, Vec<Note>) {
        let mut notes = Vec::new();
        let mut kept: Vec<DayWeather> = Vec::with_capacity(days.len());
        for day in days {
            if day.low > day.high {
                notes.push(Note::new(
                    "WTH-102",
                    format!(
                        "{}: the low of {} is above the high of {}; the day is left out",
                        day.date, day.low, day.high
                    ),
                ));
            } else {
                kept.push(day);
            }
        }
        kept.sort_by_key(|day| day.date);
        kept.dedup_by(|later, first| {
            let twice = later.date == first.date;
            if twice {
                notes.push(Note::new("WTH-101", format!("{} stands twice; the first is kept", first.date)));
            }
            twice
        });
        (Self { days: kept }, notes)
    }

    /// The days, in order.
    pub fn days(&self) -> &[DayWeather] {
        &self.days
    }

    /// One day.
    pub fn on(&self, date: Date) -> Option<&DayWeather> {
        self.days.binary_search_by_key(&date, |day| day.date).ok().map(|index| &self.days[index])
    }

    /// The days from `first` to `last`, both included, that the series holds.
    pub fn between(&self, first: Date, last: Date) -> &[DayWeather] {
        let from = self.days.partition_point(|day| day.date < first);
        let to = self.days.partition_point(|day| day.date <= last);
        &self.days[from..to.max(from)]
    }

    /// First date held.
    pub fn first(&self) -> Option<Date> {
        self.days.first().map(|day| day.date)
    }

    /// Last date held.
    pub fn last(&self) -> Option<Date> {
        self.days.last().map(|day| day.date)
    }

    /// Missing stretches between first and last date, each as its first and last missing date.
    pub fn gaps(&self) -> Vec<(Date, Date)> {
        self.days
            .windows(2)
            .filter(|pair| days_from(pair[0].date, pair[1].date) > 1)
            .map(|pair| (plus_days(pair[0].date, 1), plus_days(pair[1].date, -1)))
            .collect()
    }

    /// Adds days after the last, such as a forecast; days already held win.
    #[must_use]
    pub fn followed_by(&self, more: &[DayWeather]) -> Self {
        let mut days = self.days.clone();
        days.extend(more.iter().filter(|day| day.low <= day.high && self.on(day.date).is_none()));
        days.sort_by_key(|day| day.date);
        days.dedup_by_key(|day| day.date);
        Self { days }
    }
}

/// What a time of year usually brings, from the series' own years. Days made up count for nothing.
#[derive(Clone, Debug, PartialEq)]
pub struct Normals {
    /// By day of the year, 1 to 366 at index 0 to 365.
    days: Vec<Normal>,
}

/// What one day of the year usually brings.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Normal {
    /// Mean low, °C.
    pub low_c: Option<f64>,
    /// Mean high, °C.
    pub high_c: Option<f64>,
    /// Middle rain, mm: 0 wherever more than half the days are dry.
    pub rain_mm: Option<f64>,
    /// Mean wind, km/h.
    pub wind_km_per_h: Option<f64>,
    /// Mean solar energy, MJ/m².
    pub sun_mj_per_m2: Option<f64>,
}

/// A reading of a day.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Reading {
    /// Rain.
    Rain,
    /// Wind.
    Wind,
    /// Sun.
    Sun,
}

impl Normals {
    /// Means over 15 days around each day of the year, over all years of the series.
    pub fn of(series: &WeatherSeries) -> Self {
        let mut by_day: Vec<DaySums> = vec![DaySums::default(); 366];
        for day in series.days.iter().filter(|day| day.origin == Origin::Seen) {
            by_day[index_in_year(day.date)].take(day);
        }
        let window = || -NORMAL_HALF_WINDOW_DAYS..=NORMAL_HALF_WINDOW_DAYS;
        let mut rain = Vec::new();
        let days = (0..366_i64)
            .map(|index| {
                let mut sums = [Sum::default(); 4];
                rain.clear();
                for shift in window() {
                    let near = usize::try_from((index + shift).rem_euclid(366)).expect("not negative");
                    for (sum, part) in sums.iter_mut().zip(&by_day[near].sums) {
                        sum.total += part.total;
                        sum.count += part.count;
                    }
                    rain.extend_from_slice(&by_day[near].rain_mm);
                }
                let [low, high, wind, sun] = sums.map(Sum::mean);
                let rain_mm = middle_of(&mut rain);
                Normal { low_c: low, high_c: high, rain_mm, wind_km_per_h: wind, sun_mj_per_m2: sun }
            })
            .collect();
        Self { days }
    }

    /// The normal of a date.
    pub fn on(&self, date: Date) -> Normal {
        self.days[index_in_year(date)]
    }

    /// The day with the readings it lacks put in from the normals, and which they were. A reading with no normal
    /// either stays `None`.
    pub fn fallback(&self, day: &DayWeather) -> (DayWeather, Vec<Reading>) {
        let normal = self.on(day.date);
        let mut full = *day;
        let mut put_in = Vec::new();
        if full.rain.is_none() {
            full.rain = normal.rain_mm.map(Millimetres::of);
            put_in.extend(full.rain.map(|_| Reading::Rain));
        }
        if full.wind.is_none() {
            full.wind = normal.wind_km_per_h.map(KilometresPerHour::of);
            put_in.extend(full.wind.map(|_| Reading::Wind));
        }
        if full.sun.is_none() {
            full.sun = normal.sun_mj_per_m2.map(Megajoules::of);
            put_in.extend(full.sun.map(|_| Reading::Sun));
        }
        (full, put_in)
    }
}

fn index_in_year(date: Date) -> usize {
    usize::try_from(date.day_of_year() - 1).expect("a day of the year is 1 to 366").min(365)
}

#[derive(Clone, Copy, Default)]
struct Sum {
    total: f64,
    count: u32,
}

impl Sum {
    fn add(&mut self, value: f64) {
        self.total += value;
        self.count += 1;
    }

    fn mean(self) -> Option<f64> {
        (self.count as usize >= NORMAL_LEAST_DAYS).then(|| self.total / f64::from(self.count))
    }
}

/// All that was seen on one day of the year: low, high, wind and sun summed, rain kept.
#[derive(Clone, Default)]
struct DaySums {
    sums: [Sum; 4],
    rain_mm: Vec<f64>,
}

impl DaySums {
    fn take(&mut self, day: &DayWeather) {
        let wind = day.wind.map(KilometresPerHour::get);
        let sun = day.sun.map(Megajoules::get);
        let values = [Some(day.low.get()), Some(day.high.get()), wind, sun];
        for (sum, value) in self.sums.iter_mut().zip(values) {
            if let Some(value) = value {
                sum.add(value);
            }
        }
        self.rain_mm.extend(day.rain.map(Millimetres::get));
    }
}

/// The middle value, or the upper of the two middle ones.
fn middle_of(values: &mut [f64]) -> Option<f64> {
    let middle = values.len() / 2;
    (values.len() >= NORMAL_LEAST_DAYS).then(|| *values.select_nth_unstable_by(middle, f64::total_cmp).1)
}

/// How gaps are repaired.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct RepairRules {
    /// Longest gap filled in the current year, in days. Assumed 7: past that, normals would stand in for a whole
    /// spell of weather and move bloom dates unseen.
    pub longest_gap_days: i64,
    /// The year in which a longer gap is left open.
    pub current_year: i16,
}

impl RepairRules {
    /// The usual rules for a year.
    pub fn for_year(current_year: i16) -> Self {
        Self { longest_gap_days: 7, current_year }
    }
}

/// Fills the gaps of a series and notes each. A gap longer than the rules allow is left open when it touches the
/// current year; in past years it is filled with normals. A gap with no normals (a series of less than a year) is
/// bridged in a straight line if short enough, else left open.
pub fn repair_gaps(series: &WeatherSeries, rules: &RepairRules) -> (WeatherSeries, Vec<Note>) {
    let normals = Normals::of(series);
    let mut notes = Vec::new();
    let mut filled = Vec::new();
    for (first, last) in series.gaps() {
        let length = days_from(first, last) + 1;
        let long = length > rules.longest_gap_days;
        let current = first.year() <= rules.current_year && last.year() >= rules.current_year;
        if long && current {
            notes.push(Note::new(
                "WTH-104",
                format!("no weather from {first} to {last} ({length} days); too long to fill in the current year"),
            ));
            continue;
        }
        let before = series.on(plus_days(first, -1)).expect("a gap has a day before it");
        let after = series.on(plus_days(last, 1)).expect("a gap has a day after it");
        if let Some(days) = bridge(&normals, before, after, long) {
            notes.push(Note::new(
                "WTH-103",
                format!("no weather from {first} to {last} ({length} days); temperatures filled from normals, marked as filled"),
            ));
            filled.extend(days);
        } else {
            notes.push(Note::new(
                "WTH-104",
                format!("no weather from {first} to {last} ({length} days); too few years to fill it from"),
            ));
        }
    }
    (series.followed_by(&filled), notes)
}

/// Low and high of the days between two: normals plus the departure of the two, in a straight line from one to the
/// other; with no normals, a straight line alone.
fn bridge(normals: &Normals, before: &DayWeather, after: &DayWeather, long: bool) -> Option<Vec<DayWeather>> {
    let dates = || each_day(before.date, after.date);
    let known = dates().all(|date| normals.on(date).low_c.is_some());
    if !known && long {
        return None;
    }
    let normal = |date: Date| {
        let normal = normals.on(date);
        if known { (normal.low_c.unwrap_or(0.0), normal.high_c.unwrap_or(0.0)) } else { (0.0, 0.0) }
    };
    let departure = |day: &DayWeather| {
        let (low, high) = normal(day.date);
        (day.low.get() - low, day.high.get() - high)
    };
    let (from, to) = (departure(before), departure(after));
    #[expect(clippy::cast_precision_loss, reason = "a count of days")]
    let span = days_from(before.date, after.date) as f64;
    let mut filled = Vec::new();
    for (index, date) in dates().enumerate().skip(1) {
        if date == after.date {
            break;
        }
        #[expect(clippy::cast_precision_loss, reason = "a count of days")]
        let part = index as f64 / span;
        let (low, high) = normal(date);
        let low = low + from.0 + (to.0 - from.0) * part;
        let high = (high + from.1 + (to.1 - from.1) * part).max(low);
        let mut day = DayWeather::seen(date, Celsius::of(low), Celsius::of(high));
        day.origin = Origin::Filled;
        filled.push(day);
    }
    Some(filled)
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;

    /// A made-up station: a yearly wave plus a departure that changes from day to day.
    fn made_up(first: Date, last: Date) -> Vec<DayWeather> {
        each_day(first, last)
            .map(|date| {
                let wave = -(core::f64::consts::TAU * (f64::from(date.day_of_year()) - 15.0) / 365.0).cos();
                let mean = 5.0 + 15.0 * wave;
                let mut day = DayWeather::seen(date, Celsius::of(mean - 6.0), Celsius::of(mean + 6.0));
                day.wind = Some(KilometresPerHour::of(14.0));
                day
            })
            .collect()
    }

    #[test]
    fn days_are_ordered_and_flaws_are_noted() {
        let good = DayWeather::seen(date(2026, 6, 2), Celsius::of(8.0), Celsius::of(20.0));
        let twice = DayWeather { high: Celsius::of(25.0), ..good };
        let crossed = DayWeather::seen(date(2026, 6, 3), Celsius::of(20.0), Celsius::of(8.0));
        let early = DayWeather::seen(date(2026, 6, 1), Celsius::of(7.0), Celsius::of(18.0));
        let (series, notes) = WeatherSeries::new(vec![good, twice, crossed, early]);
        assert_eq!(series.days(), [early, good]);
        let codes: Vec<_> = notes.iter().map(|note| note.code).collect();
        assert_eq!(codes, ["WTH-102", "WTH-101"]);
    }

    #[test]
    fn a_short_gap_is_filled_near_the_truth_and_marked() {
        let mut days = made_up(date(2023, 1, 1), date(2026, 6, 30));
        let truth = days.iter().copied().filter(|day| day.date == date(2026, 5, 12)).collect::<Vec<_>>()[0];
        days.retain(|day| !(date(2026, 5, 10)..=date(2026, 5, 14)).contains(&day.date));
        let (series, _) = WeatherSeries::new(days);
        let (repaired, notes) = repair_gaps(&series, &RepairRules::for_year(2026));
        let filled = repaired.on(date(2026, 5, 12)).unwrap();
        assert_eq!(filled.origin, Origin::Filled);
        assert!((filled.low.get() - truth.low.get()).abs() < 0.2, "{filled:?}");
        assert_eq!((filled.rain, filled.wind, filled.sun), (None, None, None));
        assert_eq!(notes.len(), 1);
        assert_eq!(notes[0].code, "WTH-103");
        assert!(repaired.gaps().is_empty());
        let (_, put_in) = Normals::of(&series).fallback(filled);
        assert_eq!(put_in, [Reading::Wind]);
    }

    #[test]
    fn a_long_gap_stays_open_this_year_and_is_filled_in_the_past() {
        let mut days = made_up(date(2022, 1, 1), date(2026, 6, 30));
        for year in [2024, 2026] {
            days.retain(|day| !(date(year, 4, 1)..=date(year, 4, 20)).contains(&day.date));
        }
        let (series, _) = WeatherSeries::new(days);
        let (repaired, notes) = repair_gaps(&series, &RepairRules::for_year(2026));
        assert_eq!(repaired.gaps(), [(date(2026, 4, 1), date(2026, 4, 20))]);
        assert_eq!(notes.iter().map(|note| note.code).collect::<Vec<_>>(), ["WTH-103", "WTH-104"]);
        assert_eq!(repaired.on(date(2024, 4, 10)).unwrap().origin, Origin::Filled);
    }

    #[test]
    fn with_no_normals_only_a_short_gap_is_bridged() {
        let sparse = |gap: i64| {
            let first = DayWeather::seen(date(2026, 6, 1), Celsius::of(6.0), Celsius::of(16.0));
            let second = DayWeather::seen(plus_days(first.date, gap + 1), Celsius::of(10.0), Celsius::of(20.0));
            let (series, _) = WeatherSeries::new(vec![first, second]);
            repair_gaps(&series, &RepairRules::for_year(2025))
        };
        let (short, _) = sparse(3);
        assert_eq!(short.on(date(2026, 6, 3)).unwrap().low, Celsius::of(8.0));
        let (long, notes) = sparse(20);
        assert_eq!(long.days().len(), 2);
        assert_eq!(notes[0].code, "WTH-104");
    }
}
