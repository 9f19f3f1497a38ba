//! Weather to come as an ensemble: the forecast first, then the station's own past years.
//!
//! Each member follows the forecast until the day on which that member stops believing it, and from then on a stretch
//! of a past year around the same days of the year. The day differs from member to member, so that trust in the
//! forecast fades over the ensemble and not at one edge. Where a stretch takes over, what the last days were warmer or
//! colder than the past year's same days is added and fades out, so no member jumps. With enough past years every
//! member is one year, each used as often as the others and moved by a few days; with fewer, members are made of
//! blocks of several days from several years.
//!
//! | symbol | name in code | meaning | unit | value | source |
//! |---|---|---|---|---|---|
//! | - | `trusted_days` | days of forecast all members follow | d | 4 | assumed |
//! | - | `spent_days` | day from which no member follows the forecast | d | 16 | assumed |
//! | τ | `fade_days` | time in which a departure falls to 37 % | d | 4 | assumed |
//! | - | `anomaly_days` | last known days whose mean departure is carried on | d | 3 | assumed |
//! | - | `shift_days` | greatest move of a past year along the calendar | d | 7 | assumed |
//! | - | `enough_years` | years from which a member is one year | - | 8 | assumed |
//! | - | `block_days` | length of a block with fewer years | d | 10 | assumed |

use jiff::civil::Date;
use outyard_base::days::{days_from, plus_days};
use outyard_base::{Celsius, Chance, Trouble};

use crate::weather::{DayWeather, Normals, Origin, WeatherSeries};

/// How members are drawn. Every number is assumed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MemberRules {
    /// Days of forecast that all members follow.
    pub trusted_days: usize,
    /// Day of the forecast from which no member follows it.
    pub spent_days: usize,
    /// Days in which a departure falls to 37 %.
    pub fade_days: f64,
    /// Last known days whose mean departure is carried on.
    pub anomaly_days: i64,
    /// Greatest move of a past year along the calendar, days either way.
    pub shift_days: i64,
    /// Years from which on a member is one year.
    pub enough_years: usize,
    /// Length of a block when there are fewer.
    pub block_days: usize,
}

impl Default for MemberRules {
    fn default() -> Self {
        Self {
            trusted_days: 4,
            spent_days: 16,
            fade_days: 4.0,
            anomaly_days: 3,
            shift_days: 7,
            enough_years: 8,
            block_days: 10,
        }
    }
}

/// Weather to come, many times over.
#[derive(Clone, Debug, PartialEq)]
pub struct Members {
    /// First day, today.
    pub first: Date,
    /// For each member its days, from `first` on.
    pub days: Vec<Vec<DayWeather>>,
}

/// Draws members by the usual rules; see [`draw_members_by`].
///
/// # Errors
/// `WTH-121` when no past year holds the days needed.
pub fn draw_members(
    history: &WeatherSeries,
    today: Date,
    forecast: &[DayWeather],
    horizon_days: usize,
    count: usize,
    seed: u64,
) -> Result<Members, Trouble> {
    draw_members_by(&MemberRules::default(), history, today, forecast, horizon_days, count, seed)
}

/// A past year that can be drawn from: the date in it that stands for today.
struct PastYear {
    today: Date,
}

/// Draws `count` members of `horizon_days` days from `today` on. The same seed gives the same members on every machine,
/// and the same choice of years for every yard, so yards share their weather. Days of `history` from today on
/// are used before the forecast.
///
/// # Errors
/// `WTH-121` when no past year holds the days needed.
pub fn draw_members_by(
    rules: &MemberRules,
    history: &WeatherSeries,
    today: Date,
    forecast: &[DayWeather],
    horizon_days: usize,
    count: usize,
    seed: u64,
) -> Result<Members, Trouble> {
    let years = past_years(history, today, horizon_days, rules);
    let known = known_days(history, today, forecast, horizon_days);
    if years.is_empty() && known.len() < horizon_days {
        return Err(Trouble::new(
            "WTH-121",
            format!("no past year of weather around {today} to draw the days ahead from"),
            "give at least one full year of daily weather from a station near by",
        ));
    }
    let normals = Normals::of(history);
    let mut chance = Chance::new(seed, "weather members");
    let mut order: Vec<usize> = Vec::new();
    let days = (0..count)
        .map(|member| {
            if order.is_empty() {
                order = (0..years.len()).collect();
                chance.shuffle(&mut order);
            }
            let year = order.pop();
            // Stratified: the members' days of giving up the forecast are spread evenly, not left to luck.
            #[expect(clippy::cast_precision_loss, reason = "counts of members")]
            let part = (member as f64 + chance.uniform()) / count as f64;
            let gives_up = gives_up_on(rules, part).min(known.len());
            let mut days = known[..gives_up.max(seen_ahead(&known))].to_vec();
            draw_rest(rules, history, &normals, today, &years, year, horizon_days, &mut days, &mut chance);
            days
        })
        .collect();
    Ok(Members { first: today, days })
}

/// Day from which a member no longer follows the forecast, for an evenly spread `part` of 1.
#[expect(
    clippy::cast_precision_loss,
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a handful of days"
)]
fn gives_up_on(rules: &MemberRules, part: f64) -> usize {
    let (trusted, spent) = (rules.trusted_days as f64, rules.spent_days.max(rules.trusted_days) as f64);
    (trusted + (spent - trusted) * part).round() as usize
}

/// Days at the front that were seen and not forecast.
fn seen_ahead(known: &[DayWeather]) -> usize {
    known.iter().take_while(|day| day.origin == Origin::Seen).count()
}

/// Days from today on that are seen or forecast, without a gap.
fn known_days(history: &WeatherSeries, today: Date, forecast: &[DayWeather], horizon_days: usize) -> Vec<DayWeather> {
    let mut known = Vec::new();
    for ahead in 0..horizon_days.min(64) {
        let date = plus_days(today, i64::try_from(ahead).expect("at most 64"));
        let forecast_day = || forecast.iter().find(|day| day.date == date && day.low <= day.high).copied();
        match history.on(date).copied().or_else(forecast_day) {
            Some(day) => known.push(day),
            None => break,
        }
    }
    known
}

/// Past years that hold the days around today and ahead, mostly seen.
fn past_years(history: &WeatherSeries, today: Date, horizon_days: usize, rules: &MemberRules) -> Vec<PastYear> {
    let (Some(first), Some(last)) = (history.first(), history.last()) else { return Vec::new() };
    let horizon = i64::try_from(horizon_days).unwrap_or(400);
    (first.year()..today.year())
        .filter_map(|year| {
            let then = Date::new(year, today.month(), today.day()).or_else(|_| Date::new(year, 2, 28)).ok()?;
            let from = plus_days(then, -rules.shift_days - rules.anomaly_days);
            let to = plus_days(then, horizon + rules.shift_days);
            // The year's stretch must be over before today: it is the past.
            if to >= today || to > last {
                return None;
            }
            let needed = days_from(from, to) + 1;
            let held = history.between(from, to);
            let seen = held.iter().filter(|day| day.origin == Origin::Seen).count();
            // A gap would break the stretch; made-up days are too smooth: at most one in ten.
            let whole = i64::try_from(held.len()).is_ok_and(|held| held == needed);
            (whole && seen * 10 >= held.len() * 9).then_some(PastYear { today: then })
        })
        .collect()
}

/// Continues a member to the horizon with stretches of past years.
#[expect(clippy::too_many_arguments, reason = "one loop, taken out to be read by itself")]
fn draw_rest(
    rules: &MemberRules,
    history: &WeatherSeries,
    normals: &Normals,
    today: Date,
    years: &[PastYear],
    first_year: Option<usize>,
    horizon_days: usize,
    days: &mut Vec<DayWeather>,
    chance: &mut Chance,
) {
    let by_blocks = years.len() < rules.enough_years;
    let mut year = first_year;
    while days.len() < horizon_days {
        let Some(index) = year else { return };
        let length = if by_blocks { rules.block_days.max(1) } else { horizon_days };
        let span = u64::try_from(2 * rules.shift_days + 1).expect("a shift is not negative");
        let shift = i64::try_from(chance.below(span)).expect("a few days") - rules.shift_days;
        let from = days.len();
        let date_of = |ahead: usize| plus_days(today, i64::try_from(ahead).expect("a horizon of days"));
        let past_of = |ahead: i64| history.on(plus_days(years[index].today, ahead + shift)).copied();
        let ahead = i64::try_from(from).expect("a horizon of days");
        let carried = carried_over(rules, history, normals, today, days, &|back| past_of(ahead - back));
        for step in 0..length.min(horizon_days - from) {
            let ahead = from + step;
            let past = past_of(i64::try_from(ahead).expect("a horizon of days")).expect("checked to be whole");
            #[expect(clippy::cast_precision_loss, reason = "a horizon of days")]
            let fade = (-(step as f64 + 1.0) / rules.fade_days).exp();
            let date = date_of(ahead);
            let season = season_between(normals, past.date, date);
            let low = past.low.get() + season.0 + carried.0 * fade;
            let high = (past.high.get() + season.1 + carried.1 * fade).max(low);
            let (low, high) = (Celsius::of(low), Celsius::of(high));
            days.push(DayWeather { date, low, high, origin: Origin::Drawn, ..past });
        }
        let count = years.len() as u64;
        year = Some(usize::try_from(chance.below(count)).expect("an index"));
    }
}

/// What the season itself adds from one date to another, low and high; nought without normals.
fn season_between(normals: &Normals, from: Date, to: Date) -> (f64, f64) {
    let (from, to) = (normals.on(from), normals.on(to));
    let step = |from: Option<f64>, to: Option<f64>| from.zip(to).map_or(0.0, |(from, to)| to - from);
    (step(from.low_c, to.low_c), step(from.high_c, to.high_c))
}

/// By how much the last known days were warmer than the same days of the stretch taking over, low and high, each
/// against its normals.
fn carried_over(
    rules: &MemberRules,
    history: &WeatherSeries,
    normals: &Normals,
    today: Date,
    days: &[DayWeather],
    past: &dyn Fn(i64) -> Option<DayWeather>,
) -> (f64, f64) {
    let (mut low, mut high, mut count) = (0.0, 0.0, 0.0);
    for back in 1..=rules.anomaly_days {
        let ahead = i64::try_from(days.len()).expect("a horizon of days") - back;
        let now = match usize::try_from(ahead) {
            Ok(index) => days.get(index).copied(),
            Err(_) => history.on(plus_days(today, ahead)).copied(),
        };
        let (Some(now), Some(then)) = (now, past(back)) else { continue };
        let departure = |day: &DayWeather| {
            let normal = normals.on(day.date);
            (day.low.get() - normal.low_c.unwrap_or(0.0), day.high.get() - normal.high_c.unwrap_or(0.0))
        };
        let (now, then) = (departure(&now), departure(&then));
        low += now.0 - then.0;
        high += now.1 - then.1;
        count += 1.0;
    }
    if count > 0.0 { (low / count, high / count) } else { (0.0, 0.0) }
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;
    use outyard_base::days::each_day;

    /// Years that each have their own made-up, slowly changing departure.
    fn history(first_year: i16, last: Date, seed: u64) -> WeatherSeries {
        let mut chance = Chance::new(seed, "made-up weather");
        let mut departure = 0.0;
        let days = each_day(date(first_year, 1, 1), last)
            .map(|date| {
                departure = 0.75 * departure + 2.5 * chance.normal();
                let wave = -(core::f64::consts::TAU * (f64::from(date.day_of_year()) - 20.0) / 365.0).cos();
                let mean = 5.0 + 15.0 * wave + departure;
                DayWeather::seen(date, Celsius::of(mean - 6.0), Celsius::of(mean + 6.0))
            })
            .collect();
        WeatherSeries::new(days).0
    }

    fn forecast(today: Date, days: i64, high: f64) -> Vec<DayWeather> {
        (0..days)
            .map(|ahead| DayWeather {
                origin: Origin::Forecast,
                ..DayWeather::seen(plus_days(today, ahead), Celsius::of(high - 12.0), Celsius::of(high))
            })
            .collect()
    }

    const TODAY: Date = date(2026, 6, 20);

    /// Mean and standard deviation.
    fn moments(values: &[f64]) -> (f64, f64) {
        let count = f64::from(u32::try_from(values.len()).unwrap());
        let mean = values.iter().sum::<f64>() / count;
        (mean, (values.iter().map(|value| (value - mean).powi(2)).sum::<f64>() / count).sqrt())
    }

    fn highs(members: &Members, day: usize) -> Vec<f64> {
        members.days.iter().map(|days| days[day].high.get()).collect()
    }

    fn high_mean(members: &Members, day: usize) -> f64 {
        moments(&highs(members, day)).0
    }

    fn high_spread(members: &Members, day: usize) -> f64 {
        moments(&highs(members, day)).1
    }

    #[test]
    fn the_same_seed_draws_the_same_and_another_draws_others() {
        let history = history(2000, date(2026, 6, 19), 1);
        let draw = |seed| draw_members(&history, TODAY, &forecast(TODAY, 10, 30.0), 60, 50, seed).unwrap();
        assert_eq!(draw(3), draw(3));
        assert_ne!(draw(3), draw(4));
        let members = draw(3);
        assert_eq!(members.days.len(), 50);
        for days in &members.days {
            assert_eq!(days.len(), 60);
            for (ahead, day) in (0..).zip(days) {
                assert_eq!(day.date, plus_days(TODAY, ahead));
                assert!(day.low <= day.high);
            }
        }
    }

    #[test]
    fn the_forecast_comes_first_and_trust_in_it_fades() {
        let history = history(2000, date(2026, 6, 19), 1);
        let members = draw_members(&history, TODAY, &forecast(TODAY, 16, 30.0), 40, 200, 3).unwrap();
        let following = |day: usize| members.days.iter().filter(|days| days[day].origin == Origin::Forecast).count();
        for day in 0..4 {
            assert_eq!(following(day), 200);
        }
        assert!((4..16).all(|day| following(day) <= following(day - 1)));
        assert!((85..=115).contains(&following(9)), "{}", following(9));
        assert_eq!(following(16), 0);
        assert!(high_spread(&members, 2) < 1e-9);
        assert!(high_spread(&members, 8) > 0.3);
        assert!(high_spread(&members, 30) > high_spread(&members, 8));
    }

    #[test]
    fn a_departure_fades_out_and_the_season_goes_on() {
        let mut days = history(2000, date(2026, 6, 19), 1).days().to_vec();
        for day in days.iter_mut().filter(|day| day.date >= date(2026, 6, 17)) {
            day.high = Celsius::of(day.high.get() + 12.0);
        }
        let (warm, _) = WeatherSeries::new(days);
        let usual = history(2000, date(2026, 6, 19), 1);
        let (warm, usual) = (
            draw_members(&warm, TODAY, &[], 40, 200, 3).unwrap(),
            draw_members(&usual, TODAY, &[], 40, 200, 3).unwrap(),
        );
        let apart = |day: usize| high_mean(&warm, day) - high_mean(&usual, day);
        // exp(-1/4) of 12 K on the first day, nothing after a month.
        assert!((apart(0) - 12.0 * (-0.25_f64).exp()).abs() < 0.5, "{}", apart(0));
        assert!(apart(35).abs() < 0.2);
    }

    #[test]
    fn members_are_as_variable_as_the_years_they_come_from() {
        let history = history(2000, date(2026, 6, 19), 1);
        let members = draw_members(&history, TODAY, &[], 60, 200, 3).unwrap();
        let past: Vec<f64> =
            (2000..2026).map(|year| history.on(Date::new(year, 8, 4).unwrap()).unwrap().high.get()).collect();
        let (_, spread) = moments(&past);
        let drawn = high_spread(&members, 45);
        assert!((0.7..1.4).contains(&(drawn / spread)), "{drawn} against {spread}");
    }

    #[test]
    fn few_years_give_blocks_and_none_is_refused() {
        let few = history(2023, date(2026, 6, 19), 1);
        let members = draw_members(&few, TODAY, &[], 60, 40, 3).unwrap();
        let mut ends = highs(&members, 59);
        ends.sort_by(f64::total_cmp);
        ends.dedup_by(|left, right| (*left - *right).abs() < 1e-9);
        assert!(ends.len() > 20, "{} different members of 40", ends.len());
        let none = history(2026, date(2026, 6, 19), 1);
        assert_eq!(draw_members(&none, TODAY, &[], 60, 40, 3).unwrap_err().code, "WTH-121");
        // A forecast long enough needs no past.
        assert!(draw_members(&none, TODAY, &forecast(TODAY, 16, 30.0), 4, 5, 3).is_ok());
    }

    #[test]
    fn a_year_with_a_hole_is_not_drawn_from() {
        let mut days = history(2016, date(2026, 6, 19), 1).days().to_vec();
        days.retain(|day| !(date(2020, 7, 1)..=date(2020, 7, 10)).contains(&day.date));
        let (holed, _) = WeatherSeries::new(days);
        let rules = MemberRules::default();
        assert_eq!(past_years(&holed, TODAY, 60, &rules).len(), 9);
        assert_eq!(past_years(&history(2016, date(2026, 6, 19), 1), TODAY, 60, &rules).len(), 10);
    }
}
