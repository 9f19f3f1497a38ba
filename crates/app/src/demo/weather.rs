//! Invented weather: wet and dry days, then temperature and sun given them.
//!
//! After Richardson 1981 in the form of Richardson & Wright 1984: rain days are a two-state Markov chain by month; the
//! standardised residuals of warmest, coldest and sun follow one first-order autoregression, x = A x' + B e, about
//! means that differ between wet and dry days. Chain and gamma rain amounts are derived from monthly normals by the
//! regressions of Geng et al. 1986. Daily mean wind is Weibull, unrelated to the rest. The normals stand for no
//! station: they were set down from memory of published normals of the high plains near 45° N and rounded.
//!
//! | symbol | name in code | meaning | unit | value | source |
//! |---|---|---|---|---|---|
//! | A | `LAG` | lag-one matrix of the residuals | - | 3 x 3 | Richardson & Wright 1984, from memory |
//! | B | `MIX` | matrix on the fresh normal deviates | - | 3 x 3 | Richardson & Wright 1984, from memory |
//! | P(W\|D) | `after_dry` | rain after a dry day | - | 0.75 f, f = share of wet days | Geng et al. 1986, from memory |
//! | P(W\|W) | `after_wet` | rain after a wet day | - | 0.25 + P(W\|D) | Geng et al. 1986, from memory |
//! | β | `scale` | gamma scale of rain on a wet day | mm | -2.16 + 1.83 m, m = mean of a wet day, at least 0.6 m | Geng et al. 1986, from memory; floor assumed |
//! | α | `shape` | gamma shape | - | m / β | same |
//! | - | `NORMALS` | monthly normals | °C, mm, d, MJ/m², km/h | table | from memory |
//! | d | `WET_COOLER` | wet days' warmest below dry days' | °C | 1 (winter) to 4 (summer) | assumed |
//! | - | `WET_DIMMER` | wet days' sun over dry days' | - | 0.55 | assumed |
//! | σ | `SPREAD_*` | standard deviations | °C, share | 3.2 to 6.5, 0.22 | assumed |
//! | k | `WIND_SHAPE` | Weibull shape of daily mean wind | - | 2.6 | assumed |
//! | - | `CLEAREST` | most of the sun above the air that can reach the ground | - | 0.78 | from memory: FAO Irrigation and Drainage Paper 56 eq. 37 gives 0.75 + 2e-5 z |

use jiff::civil::{Date, date};
use outyard_base::days::{days_from, each_day, plus_days};
use outyard_base::{Celsius, Chance, KilometresPerHour, Megajoules, Metres, Millimetres, Place, StationId, sun};

use super::{DemoHome, DemoStation, DemoWeather};

const LAG: [[f64; 3]; 3] = [[0.567, 0.086, -0.002], [0.253, 0.504, -0.050], [-0.006, -0.039, 0.244]];
const MIX: [[f64; 3]; 3] = [[0.781, 0.0, 0.0], [0.328, 0.637, 0.0], [0.238, -0.341, 0.873]];
const WET_COOLER: (f64, f64) = (1.0, 4.0);
const WET_DIMMER: f64 = 0.55;
const SPREAD_TMAX: (f64, f64) = (6.5, 3.4);
const SPREAD_TMIN: (f64, f64) = (6.5, 3.2);
/// Of the day's mean sun.
const SPREAD_SUN: f64 = 0.22;
const WIND_SHAPE: f64 = 2.6;
/// Γ(1 + 1/2.6).
const WIND_MEAN_OF_UNIT: f64 = 0.888_2;
const CLEAREST: f64 = 0.78;
/// Days run in before 1 January, so that the year does not begin at its mean.
const RUN_IN_DAYS: i64 = 30;
/// Days in the forecast, today among them.
const FORECAST_DAYS: i64 = 10;
/// Full past years kept.
pub(super) const PAST_YEARS: i16 = 3;

/// Normals of one month.
struct Normal {
    tmax_c: f64,
    tmin_c: f64,
    rain_mm: f64,
    wet_days: f64,
    radiation_mj_m2: f64,
    wind_km_h: f64,
}

const fn normal(tmax_c: f64, tmin_c: f64, rain_mm: f64, wet_days: f64, radiation_mj_m2: f64, wind_km_h: f64) -> Normal {
    Normal { tmax_c, tmin_c, rain_mm, wet_days, radiation_mj_m2, wind_km_h }
}

/// January to December, from memory of published normals of the high plains near 45° N, rounded.
const NORMALS: [Normal; 12] = [
    normal(-6.0, -17.0, 13.0, 6.5, 5.8, 14.0),
    normal(-3.0, -14.5, 15.0, 6.0, 9.2, 14.0),
    normal(4.5, -7.0, 27.0, 7.0, 13.2, 15.0),
    normal(13.0, -0.5, 48.0, 8.5, 16.8, 16.5),
    normal(21.0, 7.5, 80.0, 10.5, 20.2, 15.5),
    normal(26.5, 13.5, 90.0, 11.0, 22.4, 13.5),
    normal(29.0, 15.5, 75.0, 9.0, 22.8, 12.0),
    normal(28.0, 14.0, 62.0, 8.0, 19.4, 12.0),
    normal(23.5, 8.5, 57.0, 7.5, 14.6, 13.0),
    normal(14.5, 1.0, 50.0, 7.5, 9.6, 14.0),
    normal(5.0, -7.0, 18.0, 6.0, 6.0, 14.0),
    normal(-3.0, -14.0, 14.0, 6.5, 4.7, 13.5),
];

/// The weather of the valley.
#[derive(Clone, Debug)]
pub(super) struct Skies {
    /// Home first, then the hills.
    pub stations: Vec<DemoStation>,
}

/// Invents the weather; `attempt` numbers the possible years this year is taken from.
pub(super) fn invent(seed: u64, today: Date, home: &DemoHome, attempt: u32) -> Skies {
    let climate = Climate::of_the_valley();
    let first = date(today.year() - PAST_YEARS, 1, 1);
    let mut seen: Vec<DemoWeather> = Vec::new();
    for year in first.year()..today.year() {
        seen.extend(year_of_weather(
            &mut Chance::new(seed, &format!("demo weather {year}")),
            &climate,
            year,
            home.place,
        ));
    }
    let this_year = this_year(seed, today, home.place, &climate, attempt);
    let days_gone = usize::try_from(days_from(date(today.year(), 1, 1), today)).expect("today is in its own year");
    seen.extend_from_slice(&this_year[..days_gone]);
    let ahead = &this_year[days_gone..];
    let mut chance = Chance::new(seed, &format!("demo forecast {today}"));
    let at_home = DemoStation {
        id: StationId::new("home").expect("a short word is a good name"),
        name: "at the shed".to_owned(),
        place: home.place,
        elevation: home.elevation,
        forecast: forecast(&mut chance, ahead, home.place),
        seen,
    };
    let in_the_hills = station_in_the_hills(seed, &at_home);
    Skies { stations: vec![at_home, in_the_hills] }
}

/// This year and enough of the next for a forecast made on 31 December.
pub(super) fn this_year(seed: u64, today: Date, place: Place, climate: &Climate, attempt: u32) -> Vec<DemoWeather> {
    let year = today.year();
    let mut days =
        year_of_weather(&mut Chance::new(seed, &format!("demo weather {year} {attempt}")), climate, year, place);
    if days_from(today, date(year, 12, 31)) < FORECAST_DAYS {
        let next = year_of_weather(
            &mut Chance::new(seed, &format!("demo weather {} {attempt}", year + 1)),
            climate,
            year + 1,
            place,
        );
        days.extend(next.into_iter().take(31));
    }
    days
}

/// State carried from day to day.
struct Yesterday {
    wet: bool,
    residual: [f64; 3],
}

/// One calendar year of weather at a place.
pub(super) fn year_of_weather(chance: &mut Chance, climate: &Climate, year: i16, place: Place) -> Vec<DemoWeather> {
    let first = date(year, 1, 1);
    let mut yesterday = Yesterday { wet: false, residual: [0.0; 3] };
    let mut days = Vec::with_capacity(366);
    for day in each_day(plus_days(first, -RUN_IN_DAYS), date(year, 12, 31)) {
        let weather = next_day(chance, climate, day, place, &mut yesterday);
        if day >= first {
            days.push(weather);
        }
    }
    days
}

fn next_day(chance: &mut Chance, climate: &Climate, day: Date, place: Place, yesterday: &mut Yesterday) -> DemoWeather {
    let expected = climate.on(day);
    let wet = chance.happens(expected.chance_of_rain(yesterday.wet));
    let residual = next_residual(chance, yesterday.residual);
    let (side, share) =
        if wet { (-(1.0 - expected.wet_share), expected.wet_share) } else { (expected.wet_share, expected.wet_share) };
    let summer = expected.summer;
    let tmax = expected.tmax_c + side * between(WET_COOLER, summer) + between(SPREAD_TMAX, summer) * residual[0];
    let tmin = (expected.tmin_c + between(SPREAD_TMIN, summer) * residual[1]).min(tmax - 1.0);
    let dry_sun = expected.radiation_mj_m2 / (1.0 - share + share * WET_DIMMER);
    let mean_sun = if wet { dry_sun * WET_DIMMER } else { dry_sun };
    let above_air = sun::energy_above_air(place, day);
    let radiation = (mean_sun * (1.0 + SPREAD_SUN * residual[2])).clamp(0.05 * above_air, CLEAREST * above_air);
    let rain = if wet { rain_amount(chance, expected.rain_on_a_wet_day_mm()) } else { 0.0 };
    let wind = expected.wind_km_h / WIND_MEAN_OF_UNIT * (-(1.0 - chance.uniform()).ln()).powf(1.0 / WIND_SHAPE);
    *yesterday = Yesterday { wet, residual };
    weather(day, tmin, tmax, rain, wind, radiation)
}

/// Rounds as a station prints.
fn weather(date: Date, tmin: f64, tmax: f64, rain: f64, wind: f64, radiation: f64) -> DemoWeather {
    let tenth = |value: f64| (value * 10.0).round() / 10.0;
    DemoWeather {
        date,
        tmin: Celsius::of(tenth(tmin)),
        tmax: Celsius::of(tenth(tmax)),
        rain: Millimetres::of(tenth(rain)),
        wind: KilometresPerHour::of(tenth(wind)),
        radiation: Megajoules::of(tenth(radiation)),
    }
}

fn next_residual(chance: &mut Chance, before: [f64; 3]) -> [f64; 3] {
    let fresh = [chance.normal(), chance.normal(), chance.normal()];
    core::array::from_fn(|row| {
        (0..3).map(|column| LAG[row][column] * before[column] + MIX[row][column] * fresh[column]).sum()
    })
}

/// Rain of a wet day; a trace counts as 0.1 mm.
fn rain_amount(chance: &mut Chance, mean_mm: f64) -> f64 {
    let scale = (1.83 * mean_mm - 2.16).max(0.6 * mean_mm);
    (gamma(chance, mean_mm / scale) * scale).max(0.1)
}

/// A gamma deviate of unit scale (Marsaglia & Tsang 2000, with their lift for shapes below one).
fn gamma(chance: &mut Chance, shape: f64) -> f64 {
    if shape < 1.0 {
        let lift = (1.0 - chance.uniform()).powf(1.0 / shape);
        return gamma(chance, shape + 1.0) * lift;
    }
    let offset = shape - 1.0 / 3.0;
    let slope = 1.0 / (9.0 * offset).sqrt();
    loop {
        let normal = chance.normal();
        let cube = (1.0 + slope * normal).powi(3);
        if cube > 0.0 && (1.0 - chance.uniform()).ln() < 0.5 * normal * normal + offset * (1.0 - cube + cube.ln()) {
            return offset * cube;
        }
    }
}

/// From the winter value to the summer value.
fn between((winter, summer): (f64, f64), share: f64) -> f64 {
    winter + (summer - winter) * share
}

/// What a day is expected to bring.
struct Expected {
    tmax_c: f64,
    tmin_c: f64,
    radiation_mj_m2: f64,
    wind_km_h: f64,
    wet_share: f64,
    rain_mm_per_day: f64,
    /// 0 in mid-January, 1 in mid-July.
    summer: f64,
}

impl Expected {
    fn chance_of_rain(&self, wet_yesterday: bool) -> f64 {
        let after_dry = 0.75 * self.wet_share;
        if wet_yesterday { 0.25 + after_dry } else { after_dry }
    }

    fn rain_on_a_wet_day_mm(&self) -> f64 {
        self.rain_mm_per_day / self.wet_share
    }
}

/// Daily expectations whose monthly means are the normals.
pub(super) struct Climate {
    tmax_c: [f64; 12],
    tmin_c: [f64; 12],
    radiation_mj_m2: [f64; 12],
}

impl Climate {
    /// The climate of the normals. It is fitted to a common year: a leap day moves February's mean by less than 0.1 °C.
    pub(super) fn of_the_valley() -> Self {
        let year = 2026;
        Self {
            tmax_c: knots(year, |month| month.tmax_c),
            tmin_c: knots(year, |month| month.tmin_c),
            radiation_mj_m2: knots(year, |month| month.radiation_mj_m2),
        }
    }

    fn on(&self, day: Date) -> Expected {
        let month = &NORMALS[month_of(day)];
        let length = f64::from(day.days_in_month());
        let turn = core::f64::consts::TAU * (f64::from(day.day_of_year()) - 15.0) / 365.0;
        Expected {
            tmax_c: along(&self.tmax_c, day),
            tmin_c: along(&self.tmin_c, day),
            radiation_mj_m2: along(&self.radiation_mj_m2, day),
            wind_km_h: month.wind_km_h,
            wet_share: month.wet_days / length,
            rain_mm_per_day: month.rain_mm / length,
            summer: 0.5 - 0.5 * turn.cos(),
        }
    }
}

fn month_of(day: Date) -> usize {
    usize::try_from(day.month() - 1).expect("a civil month is 1 to 12")
}

/// Values at mid-month whose straight joins average to the normals in every month: reading straight between the
/// normals themselves would cut summer's top and winter's bottom.
fn knots(year: i16, normal: impl Fn(&Normal) -> f64) -> [f64; 12] {
    let mut knots: [f64; 12] = core::array::from_fn(|month| normal(&NORMALS[month]));
    for _ in 0..20 {
        let means = monthly_means(year, &knots);
        for month in 0..12 {
            knots[month] += normal(&NORMALS[month]) - means[month];
        }
    }
    knots
}

fn monthly_means(year: i16, knots: &[f64; 12]) -> [f64; 12] {
    let mut sums = [0.0; 12];
    for day in each_day(date(year, 1, 1), date(year, 12, 31)) {
        sums[month_of(day)] += along(knots, day) / f64::from(day.days_in_month());
    }
    sums
}

/// Reads between mid-month knots, around the year's end too.
fn along(knots: &[f64; 12], day: Date) -> f64 {
    let month = month_of(day);
    let position = (f64::from(day.day()) - 0.5) / f64::from(day.days_in_month()) - 0.5;
    let (other, part) = if position < 0.0 { ((month + 11) % 12, -position) } else { ((month + 1) % 12, position) };
    knots[month] + (knots[other] - knots[month]) * part
}

/// A forecast with errors that grow by the day: assumed 1 °C and 8 % of rain days wrong at first, 3 °C and 35 % at ten days.
fn forecast(chance: &mut Chance, ahead: &[DemoWeather], place: Place) -> Vec<DemoWeather> {
    let mut error = 0.0;
    let days = usize::try_from(FORECAST_DAYS).expect("ten");
    ahead
        .iter()
        .take(days)
        .enumerate()
        .map(|(lead, true_day)| {
            let lead = f64::from(u32::try_from(lead).expect("below ten"));
            error = 0.6 * error + 0.8 * (1.0 + 0.22 * lead) * chance.normal();
            let wet = (true_day.rain.get() > 0.0) != chance.happens(0.08 + 0.03 * lead);
            let rain = if wet { rain_amount(chance, 5.0) } else { 0.0 };
            let sun_most = CLEAREST * sun::energy_above_air(place, true_day.date);
            let radiation = if wet {
                true_day.radiation.get().min(0.5 * sun_most)
            } else {
                true_day.radiation.get().max(0.6 * sun_most)
            };
            let wind =
                true_day.wind.get() * chance.between(1.0 - 0.05 * (1.0 + lead / 3.0), 1.0 + 0.05 * (1.0 + lead / 3.0));
            let tmax = true_day.tmax.get() + error;
            weather(true_day.date, (true_day.tmin.get() + 0.6 * error).min(tmax - 1.0), tmax, rain, wind, radiation)
        })
        .collect()
}

/// A second station 140 m higher: cooler by 6.5 K/km, with its own small errors and showers.
fn station_in_the_hills(seed: u64, home: &DemoStation) -> DemoStation {
    const CLIMB_M: f64 = 140.0;
    let mut chance = Chance::new(seed, "demo station in the hills");
    let mut above = |day: &DemoWeather| {
        let cooler = 0.0065 * CLIMB_M;
        let tmax = day.tmax.get() - cooler + 0.6 * chance.normal();
        let rain = shower(&mut chance, day.rain.get());
        let tmin = (day.tmin.get() - cooler + 0.8 * chance.normal()).min(tmax - 1.0);
        weather(day.date, tmin, tmax, rain, day.wind.get() * 1.1, day.radiation.get() * chance.between(0.95, 1.0))
    };
    let seen = home.seen.iter().map(&mut above).collect();
    let forecast = home.forecast.iter().map(&mut above).collect();
    let place = Place::new(home.place.latitude() + 0.2, home.place.longitude() + 0.15).expect("near home");
    DemoStation {
        id: StationId::new("hills").expect("a short word is a good name"),
        name: "hill top".to_owned(),
        place,
        elevation: home.elevation + Metres::of(CLIMB_M),
        seen,
        forecast,
    }
}

/// Rain a few valleys on: one shower in eight misses, and one dry day in twenty-five catches one (assumed).
fn shower(chance: &mut Chance, rain_mm: f64) -> f64 {
    if rain_mm > 0.0 {
        if chance.happens(0.125) { 0.0 } else { (rain_mm * chance.between(0.6, 1.4)).max(0.1) }
    } else if chance.happens(0.04) {
        rain_amount(chance, 4.0)
    } else {
        0.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const YEARS: usize = 400;

    fn long_record() -> Vec<Vec<DemoWeather>> {
        let place = Place::new(45.2, -97.5).unwrap();
        let mut chance = Chance::new(1, "demo long record");
        let climate = Climate::of_the_valley();
        (0..YEARS).map(|_| year_of_weather(&mut chance, &climate, 2026, place)).collect()
    }

    /// Mean over years of a yearly figure, and the standard error of that mean.
    fn mean_and_error(yearly: &[f64]) -> (f64, f64) {
        let count = f64::from(u32::try_from(yearly.len()).unwrap());
        let mean = yearly.iter().sum::<f64>() / count;
        let variance = yearly.iter().map(|value| (value - mean).powi(2)).sum::<f64>() / (count - 1.0);
        (mean, (variance / count).sqrt())
    }

    fn of_month(year: &[DemoWeather], month: usize) -> impl Iterator<Item = &DemoWeather> {
        year.iter().filter(move |day| month_of(day.date) == month)
    }

    /// Against the normals above, in four standard errors of a mean of 400 years, plus the bias stated with each: the
    /// coldest is held 1 °C below the warmest, a trace of rain counts as 0.1 mm, the sun is held between the limits of
    /// the sky. 60 figures at four standard errors: one false alarm in 260 records.
    #[test]
    fn monthly_means_are_the_normals_within_sampling_error() {
        let record = long_record();
        for (month, normal) in NORMALS.iter().enumerate() {
            let yearly = |figure: &dyn Fn(&[&DemoWeather]) -> f64| -> Vec<f64> {
                record.iter().map(|year| figure(&of_month(year, month).collect::<Vec<_>>())).collect()
            };
            let mean_of = |value: &dyn Fn(&DemoWeather) -> f64| {
                yearly(&|days| {
                    days.iter().map(|day| value(day)).sum::<f64>() / f64::from(u32::try_from(days.len()).unwrap())
                })
            };
            let check = |what: &str, figures: &[f64], expected: f64, bias: f64| {
                let (mean, error) = mean_and_error(figures);
                let off = (mean - expected).abs();
                assert!(
                    off < 4.0 * error + bias,
                    "month {}: {what} {mean:.2} for {expected}, error {error:.2}",
                    month + 1
                );
            };
            check("warmest", &mean_of(&|day| day.tmax.get()), normal.tmax_c, 0.05);
            check("coldest", &mean_of(&|day| day.tmin.get()), normal.tmin_c, 0.25);
            check("sun", &mean_of(&|day| day.radiation.get()), normal.radiation_mj_m2, 0.04 * normal.radiation_mj_m2);
            check(
                "rain",
                &yearly(&|days| days.iter().map(|day| day.rain.get()).sum()),
                normal.rain_mm,
                0.02 * normal.rain_mm,
            );
            check(
                "wet days",
                &yearly(&|days| days.iter().map(|day| f64::from(u8::from(day.rain.get() > 0.0))).sum()),
                normal.wet_days,
                0.1,
            );
            check("wind", &mean_of(&|day| day.wind.get()), normal.wind_km_h, 0.02);
        }
    }

    /// Rain comes in spells: Geng et al. 1986 put a wet day after a wet one 0.25 likelier than after a dry one.
    #[test]
    fn a_wet_day_is_likelier_after_a_wet_one() {
        let (mut after_wet, mut wet, mut after_dry, mut dry) = (0.0, 0.0, 0.0, 0.0);
        for year in long_record() {
            for pair in year.windows(2).filter(|pair| pair[1].date.month() == 7 && pair[0].date.month() == 7) {
                let rains = f64::from(u8::from(pair[1].rain.get() > 0.0));
                if pair[0].rain.get() > 0.0 {
                    wet += 1.0;
                    after_wet += rains;
                } else {
                    dry += 1.0;
                    after_dry += rains;
                }
            }
        }
        let difference: f64 = after_wet / wet - after_dry / dry;
        let error = (0.25 / wet + 0.25 / dry).sqrt();
        assert!((difference - 0.25).abs() < 4.0 * error, "{difference} with error {error}");
    }

    /// The lag-one correlation of the three residuals that the two matrices imply has unit variances within 5 %
    /// (Richardson 1981 made them so); a wrong entry would show here.
    #[test]
    fn residuals_keep_unit_variance() {
        let mut chance = Chance::new(2, "demo residuals");
        let mut residual = [0.0; 3];
        let mut squares = [0.0; 3];
        let count = 200_000;
        for _ in 0..count {
            residual = next_residual(&mut chance, residual);
            for (square, value) in squares.iter_mut().zip(residual) {
                *square += value * value / f64::from(count);
            }
        }
        for square in squares {
            assert!((square - 1.0).abs() < 0.05, "{squares:?}");
        }
    }

    /// Mean α and variance α of a unit gamma (Abramowitz & Stegun 26.1.32), in five standard errors.
    #[test]
    fn gamma_has_the_mean_and_variance_of_its_shape() {
        for shape in [0.5, 0.7, 1.0, 2.5] {
            let mut chance = Chance::new(3, "demo gamma");
            let count = 100_000_u32;
            let draws: Vec<f64> = (0..count).map(|_| gamma(&mut chance, shape)).collect();
            let mean = draws.iter().sum::<f64>() / f64::from(count);
            let variance = draws.iter().map(|draw| (draw - mean).powi(2)).sum::<f64>() / f64::from(count);
            assert!((mean - shape).abs() < 5.0 * (shape / f64::from(count)).sqrt(), "{shape}: mean {mean}");
            let error = ((2.0 * shape * shape + 6.0 * shape) / f64::from(count)).sqrt();
            assert!((variance - shape).abs() < 5.0 * error, "{shape}: variance {variance}");
        }
    }

    #[test]
    fn every_day_is_possible() {
        for day in long_record().iter().flatten() {
            assert!(day.tmin < day.tmax, "{day:?}");
            assert!(day.rain.get() < 250.0 && day.wind.get() < 80.0, "{day:?}");
            assert!((0.1..=34.0).contains(&day.radiation.get()), "{day:?}");
        }
    }
}
