//! Weather of a yard from the stations around it.
//!
//! Temperatures are first brought to the yard's height by the standard lapse, then averaged with weights that fall with
//! the square of the distance (Shepard 1968). Rain is taken whole from the nearest station that has it: an average of
//! wet and dry stations would rain a little everywhere. What the stations disagree by is returned with every day.
//!
//! | symbol | name in code | meaning | unit | value | source |
//! |---|---|---|---|---|---|
//! | Γ | `LAPSE_K_PER_KM` | fall of temperature with height | K/km | 6.5 | ICAO Doc 7488/3, standard atmosphere |
//! | p | `power` | power of the distance in the weights | - | 2 | Shepard 1968 |
//! | d0 | `least_km` | distance below which a station counts as being there | km | 1 | assumed |
//! | dmax | `most_km` | farthest station used | km | 150 | assumed |
//! | df | `far_km` | nearest station beyond which a note is given | km | 50 | assumed |

use std::collections::BTreeMap;

use jiff::civil::Date;
use outyard_base::{Celsius, Kilometres, KilometresPerHour, Megajoules, Metres, Note, Place};

use crate::weather::{DayWeather, Origin, WeatherSeries};

/// Fall of air temperature with height in the standard atmosphere, K/km (ICAO Doc 7488/3).
pub const LAPSE_K_PER_KM: f64 = 6.5;

/// A weather station.
#[derive(Clone, Copy, Debug)]
pub struct Station<'a> {
    /// Where it stands.
    pub place: Place,
    /// Height above sea level.
    pub elevation: Metres,
    /// What it measured.
    pub series: &'a WeatherSeries,
}

/// How stations are weighted.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BlendRules {
    /// Power of the distance in the weights.
    pub power: f64,
    /// Distance below which a station counts as being at the yard, km.
    pub least_km: f64,
    /// Stations farther off are not used, km.
    pub most_km: f64,
    /// With no station nearer than this a note is given, km.
    pub far_km: f64,
}

impl Default for BlendRules {
    /// Power 2 after Shepard 1968; the distances are assumed.
    fn default() -> Self {
        Self { power: 2.0, least_km: 1.0, most_km: 150.0, far_km: 50.0 }
    }
}

/// How far the stations are apart on one day, once brought to one height.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DaySpread {
    /// The day.
    pub date: Date,
    /// Stations that had the day.
    pub stations: usize,
    /// Weighted standard deviation of their lows, K; `None` with one station.
    pub low_k: Option<f64>,
    /// The same of their highs, K.
    pub high_k: Option<f64>,
}

/// The yard's weather and how sure it is.
#[derive(Clone, Debug, PartialEq)]
pub struct Blended {
    /// Weather at the yard.
    pub series: WeatherSeries,
    /// Disagreement of the stations, one entry per day.
    pub spread: Vec<DaySpread>,
    /// Nearest station used; `None` when none was near enough.
    pub nearest: Option<Kilometres>,
}

struct Used<'a> {
    weight: f64,
    lapse_k: f64,
    series: &'a WeatherSeries,
}

/// Makes the weather of a place from stations around it. A day is there when at least one station has it; it counts as
/// seen only when a station it was made from saw it.
pub fn blend_to_place(
    stations: &[Station<'_>],
    at: Place,
    elevation: Metres,
    rules: &BlendRules,
) -> (Blended, Vec<Note>) {
    let mut by_distance: Vec<(f64, &Station<'_>)> = stations
        .iter()
        .map(|station| (station.place.distance_to(at).kilometres().get(), station))
        .filter(|(distance, _)| *distance <= rules.most_km)
        .collect();
    by_distance.sort_by(|left, right| left.0.total_cmp(&right.0));
    let nearest = by_distance.first().map(|(distance, _)| Kilometres::of(*distance));
    let note = match nearest {
        None => Some(("WTH-111", format!("no weather station within {:.0} km of the yard", rules.most_km))),
        Some(nearest) if nearest.get() > rules.far_km => Some((
            "WTH-112",
            format!(
                "the nearest weather station is {:.0} km off; rain there says little about the yard",
                nearest.get()
            ),
        )),
        Some(_) => None,
    };
    let notes = note.map(|(code, text)| Note::new(code, text)).into_iter().collect();
    let used: Vec<Used<'_>> = by_distance
        .iter()
        .map(|(distance, station)| Used {
            weight: distance.max(rules.least_km).powf(-rules.power),
            lapse_k: LAPSE_K_PER_KM * (station.elevation.get() - elevation.get()) / 1000.0,
            series: station.series,
        })
        .collect();
    // Nearest station first within each day, because the stations are walked in that order.
    let mut by_date: BTreeMap<Date, Vec<(f64, f64, &DayWeather)>> = BTreeMap::new();
    for station in &used {
        for day in station.series.days() {
            by_date.entry(day.date).or_default().push((station.weight, station.lapse_k, day));
        }
    }
    let mut days = Vec::with_capacity(by_date.len());
    let mut spread = Vec::with_capacity(by_date.len());
    for (date, parts) in by_date {
        let (day, day_spread) = blend_day(date, &parts);
        days.push(day);
        spread.push(day_spread);
    }
    let (series, _) = WeatherSeries::new(days);
    (Blended { series, spread, nearest }, notes)
}

fn blend_day(date: Date, parts: &[(f64, f64, &DayWeather)]) -> (DayWeather, DaySpread) {
    let mean = |value: &dyn Fn(&DayWeather, f64) -> Option<f64>| {
        let (mut sum, mut weights) = (0.0, 0.0);
        for (weight, lapse_k, day) in parts {
            if let Some(value) = value(day, *lapse_k) {
                sum += weight * value;
                weights += weight;
            }
        }
        (weights > 0.0).then(|| sum / weights)
    };
    let of_low = |day: &DayWeather, lapse_k: f64| day.low.get() + lapse_k;
    let of_high = |day: &DayWeather, lapse_k: f64| day.high.get() + lapse_k;
    let low = mean(&|day, lapse_k| Some(of_low(day, lapse_k))).expect("a day has at least one station");
    let high = mean(&|day, lapse_k| Some(of_high(day, lapse_k))).expect("a day has at least one station");
    let deviation = |value: &dyn Fn(&DayWeather, f64) -> f64, centre: f64| {
        (parts.len() > 1).then(|| {
            let weights: f64 = parts.iter().map(|part| part.0).sum();
            let square: f64 = parts.iter().map(|part| part.0 * (value(part.2, part.1) - centre).powi(2)).sum();
            (square / weights).sqrt()
        })
    };
    let origin = |wanted: Origin| parts.iter().any(|part| part.2.origin == wanted);
    let day = DayWeather {
        date,
        low: Celsius::of(low),
        high: Celsius::of(high),
        rain: parts.iter().find_map(|part| part.2.rain),
        wind: mean(&|day, _| day.wind.map(KilometresPerHour::get)).map(KilometresPerHour::of),
        sun: mean(&|day, _| day.sun.map(Megajoules::get)).map(Megajoules::of),
        origin: [Origin::Seen, Origin::Forecast, Origin::Drawn]
            .into_iter()
            .find(|wanted| origin(*wanted))
            .unwrap_or(Origin::Filled),
    };
    let day_spread =
        DaySpread { date, stations: parts.len(), low_k: deviation(&of_low, low), high_k: deviation(&of_high, high) };
    (day, day_spread)
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;
    use outyard_base::Millimetres;

    fn one_day(low: f64, high: f64, rain: Option<f64>) -> WeatherSeries {
        let mut day = DayWeather::seen(date(2026, 6, 1), Celsius::of(low), Celsius::of(high));
        day.rain = rain.map(Millimetres::of);
        WeatherSeries::new(vec![day]).0
    }

    #[test]
    fn a_yard_between_two_stations_gets_the_mean_and_the_nearest_rain() {
        let (west, east) = (one_day(8.0, 20.0, Some(6.0)), one_day(12.0, 24.0, Some(0.0)));
        let station = |longitude, series| Station {
            place: Place::new(50.0, longitude).unwrap(),
            elevation: Metres::of(500.0),
            series,
        };
        let stations = [station(-100.0, &west), station(-99.0, &east)];
        let middle = Place::new(50.0, -99.5).unwrap();
        let (blended, notes) = blend_to_place(&stations, middle, Metres::of(500.0), &BlendRules::default());
        assert!(notes.is_empty());
        let day = blended.series.days()[0];
        assert!((day.low.get() - 10.0).abs() < 1e-6);
        assert!((blended.spread[0].low_k.unwrap() - 2.0).abs() < 1e-6);
        // Twice as far counts a quarter: (4 x 8 + 12) / 5.
        let third = Place::new(50.0, -100.0 + 1.0 / 3.0).unwrap();
        let (nearer, _) = blend_to_place(&stations, third, Metres::of(500.0), &BlendRules::default());
        assert!((nearer.series.days()[0].low.get() - 8.8).abs() < 0.01);
        assert_eq!(nearer.series.days()[0].rain, Some(Millimetres::of(6.0)));
    }

    #[test]
    fn a_yard_higher_up_is_colder_by_the_lapse() {
        let valley = one_day(10.0, 22.0, None);
        let stations =
            [Station { place: Place::new(50.0, -100.0).unwrap(), elevation: Metres::of(400.0), series: &valley }];
        let (blended, _) = blend_to_place(&stations, stations[0].place, Metres::of(1400.0), &BlendRules::default());
        assert!((blended.series.days()[0].high.get() - 15.5).abs() < 1e-9);
        assert_eq!(blended.spread[0].high_k, None);
    }

    #[test]
    fn no_station_and_a_far_one_are_noted() {
        let (nothing, notes) =
            blend_to_place(&[], Place::new(50.0, -100.0).unwrap(), Metres::ZERO, &BlendRules::default());
        assert!(nothing.series.days().is_empty());
        assert_eq!(notes[0].code, "WTH-111");
        let far = one_day(10.0, 22.0, None);
        let stations = [Station { place: Place::new(50.0, -101.0).unwrap(), elevation: Metres::ZERO, series: &far }];
        let (_, notes) =
            blend_to_place(&stations, Place::new(50.0, -100.0).unwrap(), Metres::ZERO, &BlendRules::default());
        assert_eq!(notes[0].code, "WTH-112");
    }
}
