//! Sunrise and sunset.
//!
//! Low-precision solar position after Meeus 1998 (*Astronomical Algorithms*, ch. 25 and 28) in the form published by
//! the NOAA Global Monitoring Laboratory, iterated at the event itself: evaluated once at noon it errs by half a
//! minute at 50° N near the equinox and by more than a minute at 70° N.
//!
//! | symbol | name in code | meaning | unit | value | source |
//! |---|---|---|---|---|---|
//! | h0 | `RISE_ALTITUDE` | altitude of the sun's centre at rise and set | ° | -0.8333 | Meeus 1998 ch. 15: refraction 34', radius 16' |
//! | T | `century` | Julian centuries since J2000.0 | - | - | Meeus 1998 eq. 25.1 |
//! | L0 | `mean_longitude` | geometric mean longitude of the sun | ° | - | Meeus 1998 eq. 25.2 |
//! | M | `mean_anomaly` | mean anomaly of the sun | ° | - | Meeus 1998 eq. 25.3 |
//! | e | `eccentricity` | eccentricity of the earth's orbit | - | - | Meeus 1998 eq. 25.4 |
//! | ε | `obliquity` | obliquity of the ecliptic, corrected | ° | - | Meeus 1998 eq. 22.2, ch. 25 |
//! | δ | `declination` | declination of the sun | ° | - | Meeus 1998 eq. 25.7 |
//! | E | `equation_of_time` | apparent minus mean solar time | min | - | Meeus 1998 eq. 28.3 |

use jiff::civil::Date;
use jiff::{SignedDuration, Timestamp, tz::TimeZone};

use crate::place::Place;
use crate::units::Hours;

/// Altitude of the sun's centre when its upper edge meets a flat horizon.
pub const RISE_ALTITUDE: f64 = -0.8333;

/// What the sun does on one civil day at one place.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SunDay {
    /// It rises and sets.
    RisesAndSets {
        /// Sunrise.
        rise: Timestamp,
        /// Sunset that follows it.
        set: Timestamp,
    },
    /// It stays above the horizon all day.
    NeverSets,
    /// It stays below the horizon all day.
    NeverRises,
}

impl SunDay {
    /// Hours between rise and set; 24 or 0 where it does neither.
    pub fn daylight(self) -> Hours {
        match self {
            Self::RisesAndSets { rise, set } => Hours::of(set.duration_since(rise).as_secs_f64() / 3600.0),
            Self::NeverSets => Hours::of(24.0),
            Self::NeverRises => Hours::ZERO,
        }
    }
}

/// Where the sun stands as seen from the earth's centre.
struct SunPosition {
    declination_deg: f64,
    equation_of_time_min: f64,
}

fn sun_position(instant: f64) -> SunPosition {
    let century = (instant / 86_400.0 + 2_440_587.5 - 2_451_545.0) / 36_525.0;
    let mean_longitude = (280.466_46 + century * (36_000.769_83 + century * 0.000_303_2)).rem_euclid(360.0);
    let mean_anomaly = (357.529_11 + century * (35_999.050_29 - 0.000_153_7 * century)).to_radians();
    let eccentricity = 0.016_708_634 - century * (0.000_042_037 + 0.000_000_126_7 * century);
    let centre = mean_anomaly.sin() * (1.914_602 - century * (0.004_817 + 0.000_014 * century))
        + (2.0 * mean_anomaly).sin() * (0.019_993 - 0.000_101 * century)
        + (3.0 * mean_anomaly).sin() * 0.000_289;
    let node = (125.04 - 1934.136 * century).to_radians();
    let apparent_longitude = (mean_longitude + centre - 0.005_69 - 0.004_78 * node.sin()).to_radians();
    let mean_obliquity =
        23.0 + (26.0 + (21.448 - century * (46.815 + century * (0.000_59 - century * 0.001_813))) / 60.0) / 60.0;
    let obliquity = (mean_obliquity + 0.002_56 * node.cos()).to_radians();
    let declination = (obliquity.sin() * apparent_longitude.sin()).asin();
    let half = (obliquity / 2.0).tan().powi(2);
    let longitude = mean_longitude.to_radians();
    let equation = half * (2.0 * longitude).sin() - 2.0 * eccentricity * mean_anomaly.sin()
        + 4.0 * eccentricity * half * mean_anomaly.sin() * (2.0 * longitude).cos()
        - 0.5 * half * half * (4.0 * longitude).sin()
        - 1.25 * eccentricity * eccentricity * (2.0 * mean_anomaly).sin();
    SunPosition { declination_deg: declination.to_degrees(), equation_of_time_min: 4.0 * equation.to_degrees() }
}

/// Half the arc the sun spends above `altitude`, in degrees; `Err(true)` when always above, `Err(false)` when never.
fn half_arc(latitude: f64, declination: f64, altitude: f64) -> Result<f64, bool> {
    let (latitude, declination) = (latitude.to_radians(), declination.to_radians());
    let cosine =
        (altitude.to_radians().sin() - latitude.sin() * declination.sin()) / (latitude.cos() * declination.cos());
    if cosine <= -1.0 {
        Err(true)
    } else if cosine >= 1.0 {
        Err(false)
    } else {
        Ok(cosine.acos().to_degrees())
    }
}

/// Sunrise and sunset of a civil day at a place, at sea level and over a flat horizon, good to a few seconds at
/// latitudes where people keep bees. The day is the place's own (by its longitude), so a sunset in the Americas
/// falls on the next UTC date.
pub fn sun_day(place: Place, date: Date) -> SunDay {
    let midnight_utc =
        date.to_zoned_datetime(TimeZone::UTC).expect("midnight UTC exists on every date outyard handles").timestamp();
    #[expect(clippy::cast_precision_loss, reason = "seconds since 1970 are far below 2^52")]
    let mean_noon = midnight_utc.as_second() as f64 + 43_200.0 - place.longitude() * 240.0;
    let event = |side: f64| -> Result<f64, bool> {
        let mut instant = mean_noon;
        // The sun moves 0.4° a day at most: five rounds settle far below a second wherever it rises at all.
        for _ in 0..5 {
            let sun = sun_position(instant);
            let arc = half_arc(place.latitude(), sun.declination_deg, RISE_ALTITUDE)?;
            instant = mean_noon - sun.equation_of_time_min * 60.0 + side * arc * 240.0;
        }
        Ok(instant)
    };
    match (event(-1.0), event(1.0)) {
        (Ok(rise), Ok(set)) => SunDay::RisesAndSets { rise: instant_of(rise), set: instant_of(set) },
        (Err(true), _) | (_, Err(true)) => SunDay::NeverSets,
        _ => SunDay::NeverRises,
    }
}

fn instant_of(seconds: f64) -> Timestamp {
    Timestamp::UNIX_EPOCH + SignedDuration::from_secs_f64(seconds.round())
}

/// Solar energy that would fall on a flat square metre above the air in a day, MJ/m²
/// (Allen et al. 1998, FAO Irrigation and Drainage Paper 56, eq. 21, with this module's declination).
pub fn energy_above_air(place: Place, date: Date) -> f64 {
    let day = f64::from(date.day_of_year());
    let distance = 1.0 + 0.033 * (core::f64::consts::TAU * day / 365.0).cos();
    let declination = 0.409 * (core::f64::consts::TAU * day / 365.0 - 1.39).sin();
    let latitude = place.latitude().to_radians();
    let cosine = (-latitude.tan() * declination.tan()).clamp(-1.0, 1.0);
    let sunset = cosine.acos();
    24.0 * 60.0 / core::f64::consts::PI
        * 0.0820
        * distance
        * (sunset * latitude.sin() * declination.sin() + latitude.cos() * declination.cos() * sunset.sin())
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;

    /// Reference: astropy 8.0.2 (`get_sun` to `AltAz`, no refraction, altitude -0.8333°), times in UTC.
    const REFERENCE: [(&str, f64, f64, Date, &str, &str); 11] = [
        ("52 N prairie", 52.1579, -106.6702, date(2025, 3, 20), "2025-03-20T13:08:15Z", "2025-03-21T01:20:40Z"),
        ("55 N prairie", 55.1707, -118.7947, date(2025, 6, 21), "2025-06-21T11:14:38Z", "2025-06-22T04:39:33Z"),
        ("50 N prairie", 49.8485, -99.9501, date(2025, 9, 22), "2025-09-22T12:26:49Z", "2025-09-23T00:36:55Z"),
        ("47 N plains", 46.8083, -100.7837, date(2025, 12, 21), "2025-12-21T14:25:27Z", "2025-12-21T22:57:27Z"),
        ("37 N valley", 36.7378, -119.7871, date(2026, 5, 1), "2026-05-01T13:05:05Z", "2026-05-02T02:47:51Z"),
        ("30 N coast", 29.6516, -82.3248, date(2026, 7, 15), "2026-07-15T10:39:17Z", "2026-07-16T00:31:07Z"),
        ("38 S island", -38.1368, 176.2497, date(2026, 1, 10), "2026-01-09T17:03:16Z", "2026-01-10T07:40:59Z"),
        ("47 N basin", 46.8964, 19.6897, date(2026, 8, 1), "2026-08-01T03:20:45Z", "2026-08-01T18:13:39Z"),
        ("31 S pampa", -31.4201, -64.1888, date(2026, 11, 5), "2026-11-05T09:16:35Z", "2026-11-05T22:44:33Z"),
        ("equator", -0.1807, -78.4678, date(2026, 2, 28), "2026-02-28T11:22:54Z", "2026-02-28T23:29:42Z"),
        ("58 N river", 58.39, -116.0, date(2026, 7, 1), "2026-07-01T10:42:45Z", "2026-07-02T04:52:32Z"),
    ];

    #[test]
    fn rise_and_set_match_the_reference_within_five_seconds() {
        for (name, latitude, longitude, day, rise, set) in REFERENCE {
            let SunDay::RisesAndSets { rise: got_rise, set: got_set } =
                sun_day(Place::new(latitude, longitude).unwrap(), day)
            else {
                panic!("{name}: the sun should rise and set");
            };
            for (got, want) in [(got_rise, rise), (got_set, set)] {
                let want: Timestamp = want.parse().unwrap();
                let apart = got.duration_since(want).as_secs().abs();
                assert!(apart <= 5, "{name}: {got} is {apart} s from {want}");
            }
        }
    }

    #[test]
    fn north_of_the_circle_the_sun_neither_sets_nor_rises() {
        let far_north = Place::new(69.6492, 18.9553).unwrap();
        assert_eq!(sun_day(far_north, date(2026, 6, 21)), SunDay::NeverSets);
        assert_eq!(sun_day(far_north, date(2026, 12, 21)), SunDay::NeverRises);
        assert!((sun_day(far_north, date(2026, 6, 21)).daylight().get() - 24.0).abs() < 1e-12);
    }

    // FAO 56 example 8: 20° S on 3 September, Ra = 32.2 MJ/m² a day.
    #[test]
    fn energy_above_air_matches_the_handbook_example() {
        let energy = energy_above_air(Place::new(-20.0, 0.0).unwrap(), date(2026, 9, 3));
        assert!((energy - 32.2).abs() < 0.1, "{energy}");
    }
}
