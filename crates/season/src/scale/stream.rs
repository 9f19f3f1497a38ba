//! A scale read as its readings come in.
//!
//! Readings are taken one at a time, in any order; the answer is worked out when it is asked for and kept until another
//! reading comes. It is the answer of the whole series, to the last bit: later days decide what an earlier step was (feed
//! dries off within a week, the same hour of the days around it tells work from gain), so nothing is settled for good
//! before the series is read again. A reading costs nothing; an answer costs one pass over the series.

use jiff::Timestamp;
use jiff::tz::TimeZone;
use outyard_base::Kilograms;

use super::{ScaleReading, ScaleRules, read_instants};

/// A scale that is still sending.
#[derive(Clone, Debug)]
pub struct ScaleStream {
    readings: Vec<(Timestamp, Kilograms)>,
    tz: TimeZone,
    rules: ScaleRules,
    read: Option<ScaleReading>,
}

impl ScaleStream {
    /// A scale that has sent nothing yet; days are those of `tz`.
    pub fn new(tz: TimeZone, rules: ScaleRules) -> Self {
        Self { readings: Vec::new(), tz, rules, read: None }
    }

    /// Takes a reading.
    pub fn take(&mut self, at: Timestamp, mass: Kilograms) {
        self.readings.push((at, mass));
        self.read = None;
    }

    /// What the readings taken so far say.
    pub fn reading(&mut self) -> &ScaleReading {
        let (readings, tz, rules) = (&self.readings, &self.tz, &self.rules);
        self.read.get_or_insert_with(|| read_instants(readings, tz, rules))
    }

    /// Readings taken.
    pub fn len(&self) -> usize {
        self.readings.len()
    }

    /// True before the first reading.
    pub fn is_empty(&self) -> bool {
        self.readings.is_empty()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use outyard_base::Chance;
    use proptest::prelude::*;

    /// Days of hourly readings with a box put on, shaken, some told twice.
    fn readings(seed: u64, days: u32, shaken: bool) -> Vec<(Timestamp, Kilograms)> {
        let mut chance = Chance::new(seed, "made-up scale");
        let box_on = chance.below(u64::from(days) * 24);
        let mut all: Vec<(Timestamp, Kilograms)> = (0..u64::from(days) * 24)
            .map(|hour| {
                let at = Timestamp::from_second(1_780_000_000 + 3600 * i64::try_from(hour).unwrap()).unwrap();
                let put_on = if hour >= box_on { 8.0 } else { 0.0 };
                #[expect(clippy::cast_precision_loss, reason = "hours of a month")]
                let gained = 0.03 * hour as f64;
                (at, Kilograms::of(40.0 + gained + put_on + 0.02 * chance.normal()))
            })
            .collect();
        if shaken {
            let twice = all[chance.index(all.len())];
            all.push(twice);
            for _ in 0..5 {
                let (one, two) = (chance.index(all.len()), chance.index(all.len()));
                all.swap(one, two);
            }
        }
        all
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(24))]

        #[test]
        fn one_reading_at_a_time_gives_what_the_whole_series_gives(
            seed in 0_u64..10_000,
            days in 2_u32..20,
            shaken in any::<bool>(),
            asked_every in 1_usize..60,
        ) {
            let all = readings(seed, days, shaken);
            let mut stream = ScaleStream::new(TimeZone::UTC, ScaleRules::default());
            prop_assert!(stream.is_empty());
            for (index, (at, mass)) in all.iter().enumerate() {
                stream.take(*at, *mass);
                if index % asked_every == 0 {
                    let so_far = read_instants(&all[..=index], &TimeZone::UTC, &ScaleRules::default());
                    prop_assert_eq!(stream.reading(), &so_far);
                }
            }
            prop_assert_eq!(stream.len(), all.len());
            let whole = read_instants(&all, &TimeZone::UTC, &ScaleRules::default());
            prop_assert_eq!(stream.reading(), &whole);
            prop_assert_eq!(stream.reading(), &whole);
        }
    }
}
