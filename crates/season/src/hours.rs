//! Hours in which bees can fly and hives can be opened, from a day's low, high, rain, wind and sun.
//!
//! The day is walked in short steps. Temperature follows Parton & Logan 1981 (a sine from just after sunrise past the
//! afternoon peak to sunset, then an exponential fall); light follows the daily curve of Collares-Pereira & Rabl 1979;
//! wind is least before dawn and most in mid-afternoon. Each of temperature, light and wind lets a part of the bees
//! fly, from none to all; the parts are multiplied, summed over the daylight, and the sum is cut by the part of the
//! day that rain takes. With no sun reading the light is estimated from the span of the day's temperature (Hargreaves
//! & Samani 1985 in the form of FAO 56 eq. 50). A missing wind counts as [`USUAL_WIND_KM_PER_H`], a missing rain as none.
//!
//! | symbol | name in code | meaning | unit | value | source |
//! |---|---|---|---|---|---|
//! | a | `PEAK_AFTER_NOON_H` | temperature peak after noon | h | 1.86 | Parton & Logan 1981, 150 cm air |
//! | c | `LOW_AFTER_SUNRISE_H` | temperature low after sunrise | h | -0.17 | Parton & Logan 1981, 150 cm air |
//! | b | `NIGHT_FALL` | night-time fall | - | 2.20 | Parton & Logan 1981, 150 cm air |
//! | - | `FLY_FROM_C`, `FLY_FULLY_C` | flight begins, is full | °C | 10, 16 | practice range 10 to 13; 16 for strong foraging `[FlightWeather]` |
//! | - | `HEAT_FROM_C`, `HEAT_STOPS_C` | heat slows, stops flight | °C | 35, 37.8 | `[FlightWeather]` |
//! | - | `CALM_TO_KM_PER_H`, `WIND_STOPS_KM_PER_H` | wind slows, stops flight | km/h | 24, 40 | `[FlightWeather]` |
//! | - | `LIGHT_COOL_W_PER_M2`, `LIGHT_WARM_W_PER_M2` | light at which half the bees fly, at 12 and at 20 °C | W/m² | 250, 80 | middle of the ranges of Burrill & Dietz 1981, from memory |
//! | - | `WET_MM` | rain that takes 63 % of a day | mm | 8 | assumed |
//! | A | `WIND_SWING` | swing of the wind over the day | of 1 | 0.52 | assumed, from day twice as windy as night (FAO 24, from memory) |
//! | k | `SPAN_TO_SUN` | Hargreaves coefficient, inland | K^-0.5 | 0.16 | FAO 56 eq. 50 |
//! | - | `USUAL_WIND_KM_PER_H` | wind when none was read | km/h | 12 | assumed |

use core::f64::consts::{PI, TAU};

use jiff::civil::Date;
use jiff::tz::TimeZone;
use outyard_base::sun::{SunDay, energy_above_air, sun_day};
use outyard_base::{
    Celsius, ClockTime, Hours, KilogramsPerDay, KilometresPerHour, Megajoules, Millimetres, Minutes, Place,
};
use outyard_trade::gate::WeatherGate;

use crate::weather::DayWeather;

const PEAK_AFTER_NOON_H: f64 = 1.86;
const LOW_AFTER_SUNRISE_H: f64 = -0.17;
const NIGHT_FALL: f64 = 2.20;
const FLY_FROM_C: f64 = 10.0;
const FLY_FULLY_C: f64 = 16.0;
const HEAT_FROM_C: f64 = 35.0;
const HEAT_STOPS_C: f64 = 37.8;
const CALM_TO_KM_PER_H: f64 = 24.0;
const WIND_STOPS_KM_PER_H: f64 = 40.0;
const LIGHT_COOL_W_PER_M2: f64 = 250.0;
const LIGHT_COOL_C: f64 = 12.0;
const LIGHT_WARM_W_PER_M2: f64 = 80.0;
const LIGHT_WARM_C: f64 = 20.0;
const WET_MM: f64 = 8.0;
const WIND_SWING: f64 = 0.52;
const WINDIEST_AFTER_NOON_H: f64 = 2.5;
const SPAN_TO_SUN: f64 = 0.16;

/// Wind taken when none was read. Assumed.
pub const USUAL_WIND_KM_PER_H: f64 = 12.0;

/// Steps the daylight is cut into.
const STEPS: u8 = 24;

/// Wind at 10 m brought down to 2 m over short grass: u2 = u10·ln(2/z0)/ln(10/z0), z0 = 0.03 m (log profile; Allen et
/// al. 1998 use the same form).
///
/// ```
/// use outyard_base::KilometresPerHour;
/// use outyard_season::hours::wind_at_two_metres;
/// assert!((wind_at_two_metres(KilometresPerHour::of(10.0)).get() - 7.23).abs() < 0.01);
/// ```
pub fn wind_at_two_metres(at_ten_metres: KilometresPerHour) -> KilometresPerHour {
    const ROUGHNESS_M: f64 = 0.03;
    at_ten_metres * ((2.0 / ROUGHNESS_M).ln() / (10.0 / ROUGHNESS_M).ln())
}

/// Rises from 0 at `from` to 1 at `to` in a straight line.
fn ramp(value: f64, from: f64, to: f64) -> f64 {
    ((value - from) / (to - from)).clamp(0.0, 1.0)
}

/// Part of the bees that the temperature lets fly.
fn warmth(heat_c: f64) -> f64 {
    ramp(heat_c, FLY_FROM_C, FLY_FULLY_C) * (1.0 - ramp(heat_c, HEAT_FROM_C, HEAT_STOPS_C))
}

/// Part of the bees that the light lets fly: half of them at a light that falls as the air gets warmer.
fn light(irradiance_w_per_m2: f64, heat_c: f64) -> f64 {
    let warm = ramp(heat_c, LIGHT_COOL_C, LIGHT_WARM_C);
    let half = LIGHT_COOL_W_PER_M2 + (LIGHT_WARM_W_PER_M2 - LIGHT_COOL_W_PER_M2) * warm;
    ramp(irradiance_w_per_m2, 0.5 * half, 1.5 * half)
}

/// Part of the bees that the wind lets fly.
fn calm(wind_km_per_h: f64) -> f64 {
    1.0 - ramp(wind_km_per_h, CALM_TO_KM_PER_H, WIND_STOPS_KM_PER_H)
}

/// Part of the day that rain of so many millimetres leaves dry.
fn dry_part(rain_mm: f64) -> f64 {
    (-rain_mm / WET_MM).exp()
}

/// Wind at an hour of the day as a multiple of the day's mean.
fn wind_factor(after_noon_h: f64) -> f64 {
    1.0 + WIND_SWING * (TAU * (after_noon_h - WINDIEST_AFTER_NOON_H) / 24.0).cos()
}

/// Height of the day's temperature between low (0) and high (1), by hours after solar noon.
fn warmth_of_day(daylight_h: f64, after_noon_h: f64) -> f64 {
    let after_low = |hours: f64| hours + daylight_h / 2.0 - LOW_AFTER_SUNRISE_H;
    let span = daylight_h + 2.0 * (PEAK_AFTER_NOON_H - LOW_AFTER_SUNRISE_H);
    let day = |hours: f64| (PI * after_low(hours) / span).sin();
    let sunset = daylight_h / 2.0;
    if (-sunset + LOW_AFTER_SUNRISE_H..=sunset).contains(&after_noon_h) {
        return day(after_noon_h).max(0.0);
    }
    let since_sunset = if after_noon_h > sunset { after_noon_h - sunset } else { after_noon_h + 24.0 - sunset };
    let night_h = 24.0 - daylight_h + LOW_AFTER_SUNRISE_H;
    day(sunset) * (-NIGHT_FALL * since_sunset / night_h.max(0.1)).exp()
}

/// Light on a level square metre for each MJ of the day's sum, W/MJ (Collares-Pereira & Rabl 1979; coefficients from
/// memory).
fn light_w_per_mj(daylight_h: f64, after_noon_h: f64) -> f64 {
    let half_day = (PI * daylight_h / 24.0).min(PI);
    let whole = half_day.sin() - half_day * half_day.cos();
    if whole <= 0.0 || after_noon_h.abs() >= daylight_h / 2.0 {
        return 0.0;
    }
    let tilt = (half_day - PI / 3.0).sin();
    let angle = PI * after_noon_h / 12.0;
    let shape = 0.409 + 0.5016 * tilt + (0.6609 - 0.4767 * tilt) * angle.cos();
    (PI / 24.0 * shape * (angle.cos() - half_day.cos()) / whole).max(0.0) * 1e6 / 3600.0
}

/// One step of a day's daylight.
#[derive(Clone, Copy, Debug, Default)]
struct Step {
    warmth: f64,
    light_w_per_mj: f64,
    wind: f64,
}

/// What one date at one place does to every weather that may fall on it; made once, used for every member.
#[derive(Clone, Debug)]
pub struct DayShape {
    step_h: f64,
    above_air_mj: f64,
    steps: [Step; STEPS as usize],
}

impl DayShape {
    /// The shape of a date at a place.
    pub fn new(place: Place, date: Date) -> Self {
        let daylight_h = sun_day(place, date).daylight().get();
        let mut steps = [Step::default(); STEPS as usize];
        let step_h = daylight_h / f64::from(STEPS);
        for (step, index) in steps.iter_mut().zip(0..STEPS) {
            let after_noon_h = (f64::from(index) + 0.5) * step_h - daylight_h / 2.0;
            *step = Step {
                warmth: warmth_of_day(daylight_h, after_noon_h),
                light_w_per_mj: light_w_per_mj(daylight_h, after_noon_h),
                wind: wind_factor(after_noon_h),
            };
        }
        Self { step_h, above_air_mj: energy_above_air(place, date), steps }
    }

    /// Hours of full flight in such weather, 0 to the length of the day.
    pub fn flight_hours(&self, day: &DayWeather) -> f64 {
        let (low, span) = (day.low.get(), day.high.get() - day.low.get());
        let sun = day.sun.map_or_else(|| SPAN_TO_SUN * span.sqrt() * self.above_air_mj, Megajoules::get);
        let wind = day.wind.map_or(USUAL_WIND_KM_PER_H, KilometresPerHour::get);
        let flying: f64 = self
            .steps
            .iter()
            .map(|step| {
                let heat = low + span * step.warmth;
                warmth(heat) * light(sun * step.light_w_per_mj, heat) * calm(wind * step.wind)
            })
            .sum();
        flying * self.step_h * dry_part(day.rain.map_or(0.0, Millimetres::get))
    }
}

/// Hours of full flight on a day, 0 to the length of the day: an hour in which half the bees can fly counts a half.
pub fn flight_hours(day: &DayWeather, place: Place) -> Hours {
    Hours::of(DayShape::new(place, day.date).flight_hours(day))
}

/// Whether and when a job can be done.
#[derive(Clone, Debug, PartialEq)]
pub struct GateVerdict {
    /// Longest stretch of the day in which every condition holds; `None` when there is none.
    pub open: Option<(ClockTime, ClockTime)>,
    /// Hours to be expected in that stretch, less the part rain takes.
    pub hours: Hours,
    /// The reading that decided: `wind 34 km/h, limit 30 km/h`.
    pub deciding: String,
    /// What the gate asks for and nobody has read, such as yesterday's gain.
    pub not_read: Option<String>,
}

/// A condition of the gate, in the order they are named when several shut a day alike.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Shuts {
    Wind,
    Cold,
    Heat,
    Dull,
}

impl Shuts {
    const ALL: [Self; 4] = [Self::Wind, Self::Cold, Self::Heat, Self::Dull];
}

/// When a job can be done on a day, in the yard's clock time (`utc_offset` east positive).
///
/// Daily rain does not say when it falls: the expected dry part of the stretch counts as its hours, and when that is
/// less than the gate wants dry, the gate is shut. Without a rain or wind reading the day counts as dry and as windy
/// as usual ([`USUAL_WIND_KM_PER_H`]).
pub fn work_hours(
    day: &DayWeather,
    place: Place,
    gate: &WeatherGate,
    gain_yesterday: Option<KilogramsPerDay>,
    utc_offset: Minutes,
) -> GateVerdict {
    let not_read = (gate.min_gain_yesterday.is_some() && gain_yesterday.is_none())
        .then(|| "no scale reading of yesterday".to_owned());
    let shut = |deciding: String, not_read| GateVerdict { open: None, hours: Hours::ZERO, deciding, not_read };
    if let (Some(least), Some(gain)) = (gate.min_gain_yesterday, gain_yesterday)
        && gain < least
    {
        return shut(format!("gain yesterday {:.1} kg, needs {:.1} kg", gain.get(), least.get()), not_read);
    }
    let curve = DayCurve::new(day, place, utc_offset);
    let from = gate.from.minutes().get();
    let to = from + gate.minutes_open().get();
    let (best, counts) = longest_open(&curve, gate, from, to);
    let worst = Shuts::ALL.into_iter().rev().max_by_key(|kind| counts[*kind as usize]);
    let worst = worst.filter(|kind| counts[*kind as usize] > 0);
    let Some((first, last)) = best else {
        let deciding =
            worst.map_or_else(|| "the gate has no hours".to_owned(), |kind| says(kind, &curve, gate, from, to));
        return shut(deciding, not_read);
    };
    let mut hours = hours_of(last - first);
    let rain = day.rain.unwrap_or(Millimetres::ZERO).get();
    let mut deciding = worst.map_or_else(|| "nothing against it".to_owned(), |kind| says(kind, &curve, gate, from, to));
    if let Some(dry_for) = gate.dry_for.filter(|_| rain > 0.0) {
        let dry = hours * dry_part(rain);
        if dry < dry_for.get().min(hours) {
            return shut(format!("rain {rain:.1} mm leaves {dry:.1} h dry, needs {:.1} h", dry_for.get()), not_read);
        }
        if hours - dry > 0.5 {
            deciding = format!("rain {rain:.1} mm may take {:.1} h", hours - dry);
        }
        hours = dry;
    }
    let open = Some((ClockTime::at(0, first), ClockTime::at(0, last)));
    GateVerdict { open, hours: Hours::of(hours), deciding, not_read }
}

/// The longest stretch in which all conditions hold, in minutes of the clock, and how many steps each condition shuts.
fn longest_open(curve: &DayCurve, gate: &WeatherGate, from: i64, to: i64) -> (Option<(i64, i64)>, [usize; 4]) {
    const STEP_MIN: i64 = 5;
    let mut counts = [0; 4];
    let (mut best, mut begun): (Option<(i64, i64)>, Option<i64>) = (None, None);
    let mut minute = from;
    while minute < to {
        let end = (minute + STEP_MIN).min(to);
        let hour = hours_of(minute + end) / 2.0;
        match Shuts::ALL.into_iter().find(|kind| shuts(*kind, curve, gate, hour)) {
            None => {
                let first = *begun.get_or_insert(minute);
                if best.is_none_or(|(start, stop)| end - first > stop - start) {
                    best = Some((first, end));
                }
            }
            Some(kind) => {
                counts[kind as usize] += 1;
                begun = None;
            }
        }
        minute = end;
    }
    (best, counts)
}

fn shuts(kind: Shuts, curve: &DayCurve, gate: &WeatherGate, hour: f64) -> bool {
    match kind {
        Shuts::Wind => gate.max_wind.is_some_and(|most| curve.wind_km_per_h(hour) > most.get()),
        Shuts::Cold => gate.min_temp.is_some_and(|least| curve.heat_c(hour) < least.get()),
        Shuts::Heat => gate.max_temp.is_some_and(|most| curve.heat_c(hour) > most.get()),
        Shuts::Dull => gate.min_radiation_w_per_m2.is_some_and(|least| curve.light_w_per_m2(hour) < least),
    }
}

/// The reading of a condition at its most telling within the gate's hours.
fn says(kind: Shuts, curve: &DayCurve, gate: &WeatherGate, from: i64, to: i64) -> String {
    let most = |value: &dyn Fn(f64) -> f64| {
        (from..=to).step_by(10).map(|minute| value(hours_of(minute))).fold(f64::MIN, f64::max)
    };
    match kind {
        Shuts::Wind => {
            let limit = gate.max_wind.map_or(0.0, KilometresPerHour::get);
            format!("wind {:.0} km/h, limit {limit:.0} km/h", most(&|hour| curve.wind_km_per_h(hour)))
        }
        Shuts::Cold => {
            let limit = gate.min_temp.map_or(0.0, Celsius::get);
            format!("{:.0} °C at the warmest, needs {limit:.0} °C", most(&|hour| curve.heat_c(hour)))
        }
        Shuts::Heat => {
            let limit = gate.max_temp.map_or(0.0, Celsius::get);
            format!("{:.0} °C at the warmest, limit {limit:.0} °C", most(&|hour| curve.heat_c(hour)))
        }
        Shuts::Dull => {
            let limit = gate.min_radiation_w_per_m2.unwrap_or(0.0);
            format!("sun {:.0} W/m² at the brightest, needs {limit:.0} W/m²", most(&|hour| curve.light_w_per_m2(hour)))
        }
    }
}

#[expect(clippy::cast_precision_loss, reason = "minutes of a day or two")]
fn hours_of(minutes: i64) -> f64 {
    minutes as f64 / 60.0
}

/// Temperature, light and wind of a day by the yard's clock.
struct DayCurve {
    low_c: f64,
    high_c: f64,
    sun_mj: f64,
    wind_km_per_h: f64,
    daylight_h: f64,
    noon_h: f64,
}

impl DayCurve {
    fn new(day: &DayWeather, place: Place, utc_offset: Minutes) -> Self {
        let sun = sun_day(place, day.date);
        #[expect(clippy::cast_precision_loss, reason = "minutes of an offset")]
        let offset_h = utc_offset.get() as f64 / 60.0;
        let noon_h = match sun {
            SunDay::RisesAndSets { rise, set } => {
                let midnight = day
                    .date
                    .to_zoned_datetime(TimeZone::UTC)
                    .expect("midnight UTC exists on every date outyard handles")
                    .timestamp();
                let since = |instant: jiff::Timestamp| instant.duration_since(midnight).as_secs_f64() / 3600.0;
                f64::midpoint(since(rise), since(set)) + offset_h
            }
            SunDay::NeverSets | SunDay::NeverRises => 12.0 - place.longitude() / 15.0 + offset_h,
        };
        let span = day.high.get() - day.low.get();
        let sun_mj =
            day.sun.map_or_else(|| SPAN_TO_SUN * span.sqrt() * energy_above_air(place, day.date), Megajoules::get);
        Self {
            low_c: day.low.get(),
            high_c: day.high.get(),
            sun_mj,
            wind_km_per_h: day.wind.map_or(USUAL_WIND_KM_PER_H, KilometresPerHour::get),
            daylight_h: sun.daylight().get(),
            noon_h,
        }
    }

    /// Hours after solar noon, -12 to 12.
    fn after_noon_h(&self, hour: f64) -> f64 {
        (hour - self.noon_h + 12.0).rem_euclid(24.0) - 12.0
    }

    fn heat_c(&self, hour: f64) -> f64 {
        self.low_c + (self.high_c - self.low_c) * warmth_of_day(self.daylight_h, self.after_noon_h(hour))
    }

    fn wind_km_per_h(&self, hour: f64) -> f64 {
        self.wind_km_per_h * wind_factor(self.after_noon_h(hour))
    }

    fn light_w_per_m2(&self, hour: f64) -> f64 {
        self.sun_mj * light_w_per_mj(self.daylight_h, self.after_noon_h(hour))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;

    fn plains() -> Place {
        Place::new(47.5, -99.1).unwrap()
    }

    fn day(date: Date, low: f64, high: f64, rain: f64, wind: f64, sun: f64) -> DayWeather {
        DayWeather {
            rain: Some(Millimetres::of(rain)),
            wind: Some(KilometresPerHour::of(wind)),
            sun: Some(Megajoules::of(sun)),
            ..DayWeather::seen(date, Celsius::of(low), Celsius::of(high))
        }
    }

    fn hours(day: &DayWeather) -> f64 {
        flight_hours(day, plains()).get()
    }

    // Practice range for the northern plains: 9 to 12 h in June, 7 to 9 h in August; this sum gives up to an hour more
    // than practice in August.
    #[test]
    fn ordinary_days_fall_within_the_practice_range() {
        let june = hours(&day(date(2026, 6, 20), 10.0, 22.0, 1.0, 13.0, 20.0));
        assert!((9.0..=12.0).contains(&june), "{june}");
        let late_august = hours(&day(date(2026, 8, 28), 9.0, 22.0, 1.0, 13.0, 16.0));
        assert!((7.0..=10.0).contains(&late_august), "{late_august}");
    }

    #[test]
    fn bees_stay_home_when_it_is_cold_windy_wet_or_too_hot() {
        let june = date(2026, 6, 20);
        let fair = hours(&day(june, 11.0, 24.0, 0.0, 10.0, 23.0));
        assert!(hours(&day(june, 1.0, 9.5, 0.0, 10.0, 23.0)).abs() < 1e-12);
        assert!(hours(&day(june, 11.0, 24.0, 0.0, 45.0, 23.0)) < 0.35 * fair);
        assert!(hours(&day(june, 11.0, 24.0, 25.0, 10.0, 23.0)) < 0.1 * fair);
        assert!(hours(&day(june, 24.0, 42.0, 0.0, 10.0, 26.0)) < 0.7 * fair);
        assert!(hours(&day(june, 11.0, 24.0, 0.0, 10.0, 3.0)) < 0.8 * fair);
        // In the dark of a northern winter nothing flies, however warm.
        let far_north = Place::new(70.0, 20.0).unwrap();
        assert!(flight_hours(&day(date(2026, 12, 21), 15.0, 20.0, 0.0, 5.0, 0.0), far_north).get() < 1e-9);
    }

    #[test]
    fn without_a_sun_reading_the_span_of_the_day_stands_in() {
        let with = day(date(2026, 6, 20), 11.0, 24.0, 0.0, 10.0, 23.0);
        let without = DayWeather { sun: None, ..with };
        assert!((hours(&with) - hours(&without)).abs() < 1.0);
    }

    // Parton & Logan 1981: the day passes through its low just before sunrise and its high 1.86 h after solar noon.
    #[test]
    fn the_temperature_curve_meets_low_and_high() {
        for daylight_h in [9.0, 12.0, 16.0] {
            let peak = warmth_of_day(daylight_h, PEAK_AFTER_NOON_H);
            assert!((peak - 1.0).abs() < 1e-12);
            assert!(warmth_of_day(daylight_h, -daylight_h / 2.0 + LOW_AFTER_SUNRISE_H).abs() < 1e-9);
            // No jump at sunset.
            let (before, after) = (
                warmth_of_day(daylight_h, daylight_h / 2.0 - 1e-6),
                warmth_of_day(daylight_h, daylight_h / 2.0 + 1e-6),
            );
            assert!((before - after).abs() < 1e-4);
            // The night falls nearly to the low, which the model's exponential does not quite reach.
            assert!(warmth_of_day(daylight_h, -daylight_h / 2.0 + LOW_AFTER_SUNRISE_H - 0.01) < 0.12);
        }
    }

    // The light of all hours together is the day's energy: 1 MJ over a day is 1e6/3600 Wh. The published coefficients
    // close to 2 % at the longest days.
    #[test]
    fn the_light_of_all_hours_sums_to_the_days_energy() {
        for daylight_h in [8.5, 12.0, 15.9, 18.0] {
            let count = 2000_u32;
            let step_h = daylight_h / f64::from(count);
            let sum: f64 = (0..count)
                .map(|step| light_w_per_mj(daylight_h, (f64::from(step) + 0.5) * step_h - daylight_h / 2.0) * step_h)
                .sum();
            assert!((sum * 3600.0 / 1e6 - 1.0).abs() < 0.02, "{daylight_h} h: {sum}");
        }
    }

    #[test]
    fn wind_over_the_day_keeps_its_mean_and_is_twice_as_strong_by_day() {
        let mean = |from: f64, to: f64| {
            (0..1000).map(|step| wind_factor(from + (to - from) * (f64::from(step) + 0.5) / 1000.0)).sum::<f64>()
                / 1000.0
        };
        assert!((mean(-12.0, 12.0) - 1.0).abs() < 1e-9);
        let by_day = mean(WINDIEST_AFTER_NOON_H - 6.0, WINDIEST_AFTER_NOON_H + 6.0);
        let by_night = mean(WINDIEST_AFTER_NOON_H + 6.0, WINDIEST_AFTER_NOON_H + 18.0);
        assert!((by_day / by_night - 2.0).abs() < 0.02, "{}", by_day / by_night);
    }

    fn blow() -> WeatherGate {
        WeatherGate {
            code: "blow".to_owned(),
            from: ClockTime::at(9, 0),
            to: ClockTime::at(18, 0),
            min_temp: Some(Celsius::of(18.0)),
            max_temp: Some(Celsius::of(35.0)),
            max_wind: Some(KilometresPerHour::of(30.0)),
            dry_for: Some(Hours::of(3.0)),
            min_radiation_w_per_m2: Some(200.0),
            min_gain_yesterday: Some(KilogramsPerDay::of(0.5)),
            label_decides: false,
            words: String::new(),
            instead: String::new(),
        }
    }

    fn verdict(weather: &DayWeather, gain: Option<f64>) -> GateVerdict {
        work_hours(weather, plains(), &blow(), gain.map(KilogramsPerDay::of), Minutes(-300))
    }

    #[test]
    fn a_fair_day_is_open_as_long_as_the_gate() {
        let fair = verdict(&day(date(2026, 7, 3), 17.0, 28.0, 0.0, 10.0, 25.0), Some(1.4));
        assert_eq!(fair.open, Some((ClockTime::at(9, 0), ClockTime::at(18, 0))), "{fair:?}");
        assert!((fair.hours.get() - 9.0).abs() < 1e-9);
        assert_eq!(fair.not_read, None);
    }

    #[test]
    fn the_reading_that_decided_is_named() {
        let july = date(2026, 7, 3);
        let windy = verdict(&day(july, 17.0, 28.0, 0.0, 38.0, 25.0), Some(1.4));
        assert_eq!(windy.open, None);
        assert_eq!(windy.deciding, "wind 58 km/h, limit 30 km/h");
        let cold = verdict(&day(july, 6.0, 15.0, 0.0, 10.0, 25.0), Some(1.4));
        assert_eq!((cold.open, cold.deciding.as_str()), (None, "15 °C at the warmest, needs 18 °C"));
        let wet = verdict(&day(july, 17.0, 28.0, 20.0, 10.0, 12.0), Some(1.4));
        assert_eq!((wet.open, wet.deciding.as_str()), (None, "rain 20.0 mm leaves 0.7 h dry, needs 3.0 h"));
        let dearth = verdict(&day(july, 17.0, 28.0, 0.0, 10.0, 25.0), Some(0.3));
        assert_eq!((dearth.open, dearth.deciding.as_str()), (None, "gain yesterday 0.3 kg, needs 0.5 kg"));
        let unread = verdict(&day(july, 17.0, 28.0, 0.0, 10.0, 25.0), None);
        assert_eq!(unread.not_read.as_deref(), Some("no scale reading of yesterday"));
        assert!(unread.open.is_some());
    }

    #[test]
    fn a_cool_morning_opens_late_and_says_why() {
        let late = verdict(&day(date(2026, 7, 3), 8.0, 22.0, 0.0, 10.0, 25.0), Some(1.4));
        let (from, to) = late.open.unwrap();
        assert!(from > ClockTime::at(10, 0) && from < ClockTime::at(13, 0), "{from}");
        assert_eq!(to, ClockTime::at(18, 0));
        assert_eq!(late.deciding, "22 °C at the warmest, needs 18 °C");
    }

    #[test]
    fn a_gate_over_midnight_runs_into_the_morning() {
        let gate = WeatherGate {
            from: ClockTime::at(21, 0),
            to: ClockTime::at(8, 30),
            min_temp: None,
            max_temp: Some(Celsius::of(20.0)),
            min_radiation_w_per_m2: None,
            min_gain_yesterday: None,
            ..blow()
        };
        let warm = day(date(2026, 7, 3), 16.0, 30.0, 0.0, 8.0, 25.0);
        let verdict = work_hours(&warm, plains(), &gate, None, Minutes(-300));
        let (from, to) = verdict.open.unwrap();
        assert!(from > ClockTime::at(21, 0) && to > ClockTime::at(24, 0) && to <= ClockTime::at(32, 30), "{verdict:?}");
    }
}
