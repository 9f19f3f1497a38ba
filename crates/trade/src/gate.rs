//! Weather gates: the conditions a job needs. Only the conditions; the room that knows the weather holds them
//! against it.
//!
//! | symbol | name in code | meaning | unit | value for blowing down | source |
//! |---|---|---|---|---|---|
//! | | `from`, `to` | hours of the yard's clock; over midnight when `to` comes first | h:min | 09:00 to 19:00 | common practice, no source |
//! | t₀ | `min_temp` | least air temperature while at it | °C | 18 | common practice, no source |
//! | t₁ | `max_temp` | greatest air temperature | °C | 35 | `[ForageHours]` |
//! | u | `max_wind` | greatest mean wind | km/h | 30 | common practice, no source |
//! | h | `dry_for` | hours without rain, from the start on | h | 3 | common practice, no source |
//! | r | `min_radiation_w_per_m2` | least sun on a level square metre | W/m² | 200 | assumed |
//! | g | `min_gain_yesterday` | least net gain of the scale colony yesterday; below it robbers wait | kg/d | 0.5 | common practice, no source |

use outyard_base::{Celsius, ClockTime, Hours, KilogramsPerDay, KilometresPerHour, Minutes};

/// What the weather must be like for a job. A condition that is `None` does not matter to it.
#[derive(Clone, Debug, PartialEq)]
pub struct WeatherGate {
    /// Its name in the job book: `blow`.
    pub code: String,
    /// First hour of the yard's clock.
    pub from: ClockTime,
    /// Last hour; before `from` when the job runs over midnight.
    pub to: ClockTime,
    /// Least air temperature.
    pub min_temp: Option<Celsius>,
    /// Greatest air temperature.
    pub max_temp: Option<Celsius>,
    /// Greatest mean wind.
    pub max_wind: Option<KilometresPerHour>,
    /// Hours that must stay dry from the start of the work on.
    pub dry_for: Option<Hours>,
    /// Least sun on a level square metre, in W/m².
    pub min_radiation_w_per_m2: Option<f64>,
    /// Least net gain of the scale colony yesterday; below it bees rob.
    pub min_gain_yesterday: Option<KilogramsPerDay>,
    /// True when the label as typed sets the temperatures.
    pub label_decides: bool,
    /// The gate in words, for the page.
    pub words: String,
    /// What to do in its place when the gate is shut.
    pub instead: String,
}

impl WeatherGate {
    /// True when the gate's hours run over midnight.
    pub fn over_midnight(&self) -> bool {
        self.to < self.from
    }

    /// True when the clock time, of any day, lies within the gate's hours. Both ends belong to it.
    pub fn open_at(&self, time: ClockTime) -> bool {
        let minutes = ClockTime::MIDNIGHT + Minutes(time.minutes().get().rem_euclid(24 * 60));
        if self.over_midnight() {
            minutes >= self.from || minutes <= self.to
        } else {
            minutes >= self.from && minutes <= self.to
        }
    }

    /// The conditions with the limits they have now, as a page says them: `15 °C or more, wind to 25 km/h, 08:00 to 20:00`.
    pub fn limits(&self) -> String {
        let mut parts = Vec::new();
        match (self.min_temp, self.max_temp) {
            (Some(low), Some(high)) => parts.push(format!("{} to {high}", low.get())),
            (Some(low), None) => parts.push(format!("{low} or more")),
            (None, Some(high)) => parts.push(format!("{high} or less")),
            (None, None) => {}
        }
        if self.label_decides {
            parts.push("temperatures by the label".to_owned());
        }
        if self.min_radiation_w_per_m2.is_some() {
            parts.push("sun".to_owned());
        }
        parts.extend(self.max_wind.map(|wind| format!("wind to {wind}")));
        parts.extend(self.dry_for.map(|hours| format!("dry for {hours}")));
        parts.extend(self.min_gain_yesterday.map(|gain| format!("gain yesterday {} kg or more", gain.get())));
        parts.push(format!("{} to {}", self.from, self.to));
        parts.join(", ")
    }

    /// Minutes of the day within the gate's hours.
    pub fn minutes_open(&self) -> Minutes {
        let span = self.to - self.from;
        if self.over_midnight() { span + Minutes(24 * 60) } else { span }
    }
}

#[cfg(test)]
mod tests {
    use crate::jobbook::{DEFAULT_JOB_BOOK, JobBook, read_job_book};

    #[test]
    fn limits_are_said_as_they_stand_now() {
        let standard = JobBook::standard();
        assert_eq!(
            standard.gates["blow"].limits(),
            "18 to 35 °C, sun, wind to 30 km/h, dry for 3 h, gain yesterday 0.5 kg or more, 09:00 to 19:00"
        );
        let own = read_job_book(DEFAULT_JOB_BOOK, Some(("jobs.toml", "[gates.blow]\nmax_wind_kmh = 25\n"))).unwrap();
        assert!(own.gates["blow"].limits().contains("wind to 25 km/h"));
    }
}
