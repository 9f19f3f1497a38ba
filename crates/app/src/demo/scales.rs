//! Invented scale readings: one strong double a yard group, on a scale since 15 April.
//!
//! Within a day the weight falls while the bees are out and while nectar dries, and rises as they bring it home, so that
//! midnight to midnight shows the day's net gain; the dip at dawn follows Meikle et al. 2008.
//!
//! | symbol | name in code | meaning | unit | value | source |
//! |---|---|---|---|---|---|
//! | - | `START_KG` | gross weight on 15 April | kg | 34 to 40 | assumed |
//! | - | `drying` | lost over the day to drying and breathing | kg/d | 0.1 + 25 % of the gain | common practice, no source: 15-35 % of the day's gain |
//! | - | `out_kg` | bees out at noon | kg | 0.1 to 0.4 | Meikle et al. 2008: 0.1-0.5 kg |
//! | - | `NOISE_KG` | error of one reading, standard deviation | kg | 0.04 | assumed |
//! | - | `BOX_KG` | a deep of drawn comb, or a third | kg | 9.0 | common practice, no source: 8-10 kg |
//! | - | `EXCLUDER_KG` | an excluder | kg | 0.6 | common practice, no source: 0.4-0.9 kg |

use core::f64::consts::PI;

use jiff::civil::{Date, date};
use jiff::{Timestamp, tz::TimeZone};
use outyard_base::days::days_from;
use outyard_base::{Chance, ClockTime, Kilograms, ScaleId};

use super::flow::{self, Flow};
use super::{DemoReading, DemoScale, DemoScaleWork, DemoVisit, DemoWork, DemoYard, ReadingPace, land};

const START_KG: (f64, f64) = (34.0, 40.0);
const NOISE_KG: f64 = 0.04;
const BOX_KG: f64 = 9.0;
const EXCLUDER_KG: f64 = 0.6;
/// The hour at which a nightly scale reads.
const NIGHTLY_HOUR: i8 = 22;

/// One scale for each group, in its first yard; the last one reads nightly, the second has holes.
pub(super) fn invent(seed: u64, today: Date, yards: &[DemoYard], flow: &Flow, history: &[DemoVisit]) -> Vec<DemoScale> {
    let zone = TimeZone::get(land::TIME_ZONE).expect("the bundled time zones hold the demo's");
    flow.groups
        .iter()
        .enumerate()
        .map(|(number, group)| {
            let yard = yards.iter().find(|yard| yard.group == group.group).expect("a group has yards");
            let mut chance = Chance::new(seed, &format!("demo scale {}", group.group));
            let work = work_on_the_hive(yard, history, today, &zone);
            let hive = Hive { gain: &group.gain, today, zone: &zone, work: &work };
            let hourly = hive.hourly(&mut chance);
            let nightly = number + 1 == flow.groups.len();
            let readings = if nightly { only_nightly(&hourly, &zone) } else { hourly };
            let readings = if number == 1 { with_holes(&mut chance, readings) } else { readings };
            DemoScale {
                id: ScaleId::new(&format!("{} scale", group.group)).expect("a short name"),
                yard: yard.id.clone(),
                pace: if nightly { ReadingPace::Nightly } else { ReadingPace::Hourly },
                readings,
                work,
            }
        })
        .collect()
}

/// What was put on the hive, half an hour after the crew came.
fn work_on_the_hive(yard: &DemoYard, history: &[DemoVisit], today: Date, zone: &TimeZone) -> Vec<DemoScaleWork> {
    history
        .iter()
        .filter(|visit| visit.yard == yard.id && visit.date < today && visit.date > first_day(today))
        .filter_map(|visit| {
            let (change, what) = match visit.work {
                DemoWork::SecondBox { .. } => (BOX_KG, "second brood box on"),
                DemoWork::PutDown { .. } => (BOX_KG + EXCLUDER_KG, "put down: excluder and third on"),
                DemoWork::Return { .. } => (BOX_KG, "super on"),
                _ => return None,
            };
            let at = instant(visit.date, visit.began, zone);
            Some(DemoScaleWork { at, change: Kilograms::of(change), what })
        })
        .collect()
}

fn first_day(today: Date) -> Date {
    date(today.year(), 4, 15)
}

/// Half past the full hour in which work began, so that it falls between two readings.
fn instant(day: Date, began: ClockTime, zone: &TimeZone) -> Timestamp {
    let hour = i8::try_from(began.minutes().get() / 60).expect("crews begin within the day");
    at_clock(day, hour, 30, zone)
}

fn at_clock(day: Date, hour: i8, minute: i8, zone: &TimeZone) -> Timestamp {
    zone.to_ambiguous_zoned_datetime(day.at(hour, minute, 0, 0))
        .compatible()
        .expect("a clock time of these years is an instant")
        .timestamp()
}

struct Hive<'a> {
    gain: &'a [f64],
    today: Date,
    zone: &'a TimeZone,
    work: &'a [DemoScaleWork],
}

impl Hive<'_> {
    /// Every full hour from 15 April to five o'clock this morning.
    fn hourly(&self, chance: &mut Chance) -> Vec<DemoReading> {
        let share = flow::strength_of_colony(chance);
        let mut at_midnight = chance.between(START_KG.0, START_KG.1);
        let first = first_day(self.today);
        let mut readings = Vec::new();
        let new_year = date(self.today.year(), 1, 1);
        for day in outyard_base::days::each_day(first, self.today) {
            let index = usize::try_from(days_from(new_year, day)).expect("after new year");
            // Today's gain is not there yet: before dawn only drying shows, which needs yesterday's.
            let gain = self.gain.get(index).or(self.gain.last()).copied().unwrap_or(0.0) * share;
            let out_kg = chance.between(0.1, 0.4);
            let last_hour = if day == self.today { 5 } else { 23 };
            for hour in 0..=last_hour {
                let at = at_clock(day, hour, 0, self.zone);
                let put_on: f64 = self.work.iter().filter(|work| work.at < at).map(|work| work.change.get()).sum();
                let gross =
                    at_midnight + put_on + within_day(f64::from(hour), gain, out_kg) + NOISE_KG * chance.normal();
                readings.push(DemoReading { at, gross: Kilograms::of((gross * 100.0).round() / 100.0) });
            }
            at_midnight += gain;
        }
        readings
    }
}

/// Change since midnight: even drying, nectar home between 8 and 20 o'clock, bees out from 7 to 20.
fn within_day(hour: f64, gain: f64, out_kg: f64) -> f64 {
    let drying = (0.1 + 0.25 * gain.max(0.0)).max(-gain);
    let home = smooth(hour, 8.0, 20.0);
    let out = smooth(hour, 6.5, 9.0) - smooth(hour, 17.0, 20.5);
    -drying * hour / 24.0 + (gain + drying) * home - out_kg * flying(gain) * out
}

/// Fewer bees are out on a day without forage.
fn flying(gain: f64) -> f64 {
    (0.4 + 0.4 * gain).clamp(0.1, 1.0)
}

/// From 0 to 1 between two hours, along half a cosine.
fn smooth(hour: f64, from: f64, to: f64) -> f64 {
    let part = ((hour - from) / (to - from)).clamp(0.0, 1.0);
    0.5 - 0.5 * (PI * part).cos()
}

fn only_nightly(hourly: &[DemoReading], zone: &TimeZone) -> Vec<DemoReading> {
    hourly
        .iter()
        .filter(|reading| zone.to_datetime(reading.at).hour() == NIGHTLY_HOUR)
        .map(|reading| DemoReading { gross: Kilograms::of((reading.gross.get() * 10.0).round() / 10.0), ..*reading })
        .collect()
}

/// One hole of 31 hours and a reading in fifty lost.
fn with_holes(chance: &mut Chance, readings: Vec<DemoReading>) -> Vec<DemoReading> {
    const HOLE: usize = 31;
    let start = chance.index(readings.len().saturating_sub(HOLE).max(1));
    readings
        .into_iter()
        .enumerate()
        .filter(|(index, _)| !(start..start + HOLE).contains(index) && !chance.happens(0.02))
        .map(|(_, reading)| reading)
        .collect()
}
