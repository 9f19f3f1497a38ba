//! Points on the earth, and how far apart they are as the crow flies.

use geographiclib_rs::{Geodesic, InverseGeodesic};

use crate::trouble::Trouble;
use crate::units::Metres;

/// A point in WGS 84 degrees: latitude north positive, longitude east positive.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Place {
    latitude: f64,
    longitude: f64,
}

impl Place {
    /// Checks a point.
    ///
    /// # Errors
    /// `PLC-001` when latitude is outside ±90° or longitude outside ±180°.
    pub fn new(latitude: f64, longitude: f64) -> Result<Self, Trouble> {
        if (-90.0..=90.0).contains(&latitude) && (-180.0..=180.0).contains(&longitude) {
            return Ok(Self { latitude, longitude });
        }
        Err(Trouble::new(
            "PLC-001",
            format!("{latitude}, {longitude} is no point on the earth"),
            "latitude runs from -90 to 90 and longitude from -180 to 180; see whether the two stand in the wrong order",
        ))
    }

    /// Degrees north.
    pub const fn latitude(self) -> f64 {
        self.latitude
    }

    /// Degrees east.
    pub const fn longitude(self) -> f64 {
        self.longitude
    }

    /// Length of the shortest line over the WGS 84 ellipsoid (Karney 2013, by `geographiclib-rs`).
    pub fn distance_to(self, other: Self) -> Metres {
        let metres: f64 = Geodesic::wgs84().inverse(self.latitude, self.longitude, other.latitude, other.longitude);
        Metres::of(metres)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Reference: `geographiclib` 2.1 (Python), `Geodesic.WGS84.Inverse`, s12 in metres.
    const REFERENCE: [(f64, f64, f64, f64, f64); 12] = [
        (51.0447, -114.0719, 53.5461, -113.4938, 281_115.933),
        (49.8951, -97.1384, 50.4452, -104.6189, 537_682.994),
        (46.8083, -100.7837, 46.8772, -96.7898, 304_713.487),
        (44.3683, -100.351, 43.5446, -96.7311, 304_593.189),
        (55.1707, -118.7947, 55.7596, -120.2377, 112_375.883),
        (-38.1368, 176.2497, -36.8485, 174.7633, 194_218.622),
        (47.1625, 19.5033, 46.253, 20.1414, 112_262.684),
        (0.0, 0.0, 0.0, 1.0, 111_319.491),
        (45.0, 0.0, 46.0, 0.0, 111_141.548),
        (52.2, -106.6, 52.209, -106.587, 1_338.934),
        (60.0, 10.0, 60.0, 11.0, 55_799.470),
        (-34.6037, -58.3816, -31.4201, -64.1888, 647_195.604),
    ];

    #[test]
    fn distances_match_the_reference_to_a_millimetre() {
        for (lat1, lon1, lat2, lon2, metres) in REFERENCE {
            let from = Place::new(lat1, lon1).unwrap();
            let to = Place::new(lat2, lon2).unwrap();
            assert!((from.distance_to(to).get() - metres).abs() < 1e-3, "{lat1},{lon1} to {lat2},{lon2}");
            assert!((to.distance_to(from).get() - metres).abs() < 1e-3);
        }
    }

    #[test]
    fn a_point_off_the_earth_is_refused() {
        assert_eq!(Place::new(-106.6, 52.2).unwrap_err().code, "PLC-001");
        assert!(Place::new(f64::NAN, 0.0).is_err());
        assert!(Place::new(90.0, -180.0).is_ok());
    }
}
