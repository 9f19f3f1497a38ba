//! What the flow of the invented year really is: the truth behind the invented scales.
//!
//! Each plant blooms over a stretch of heat (simple average above 10 °C from 1 January) or, for canola, over a stretch
//! of days from seeding. A good stand in full bloom on a perfect day gives a strong colony the plant's strength; the
//! day's warmth, sun, rain and wind take their part; keeping the colony alive costs a little every day. The season room
//! is not used: an estimate is worth little when the same sums made the readings.
//!
//! | symbol | name in code | meaning | unit | value | source |
//! |---|---|---|---|---|---|
//! | - | `BLOOMS` | first and last heat of bloom, strength in full bloom | °C·d or d, kg/d | table | starting guesses of the trade (common practice, no source); strengths assumed |
//! | - | `CANOLA_FIRST_DAY`, `CANOLA_DAYS` | first flower after seeding, days of bloom | d | 50, 23 | canola growers' council, 2011 |
//! | - | `UPKEEP` | lost by a colony on a day without forage | kg/d | 0.25 | assumed |
//! | T | `warm_enough` | part of full flight by the day's warmest | - | 0 at 12 °C, 1 at 22 °C, falls from 35 to 40 °C | flight limits of learn.weatherstem.com 170/13; straight lines assumed |
//! | - | `ONSET` | the flow has begun: two days running at least this | kg/d | 1.0 | common practice, no source |

use jiff::civil::{Date, date};
use outyard_base::days::days_from;
use outyard_base::{Chance, KilogramsPerDay, Place, sun};

use super::weather::{self, Climate, Skies};
use super::{DemoForage, DemoHome, DemoTruth, DemoWeather, DemoYard};

const BLOOMS: [(&str, f64, f64, f64); 7] = [
    ("dandelion", 28.0, 130.0, 2.2),
    ("white-clover", 250.0, 720.0, 2.4),
    ("yellow-sweet-clover", 330.0, 700.0, 2.6),
    ("alfalfa", 420.0, 640.0, 2.6),
    ("basswood", 430.0, 580.0, 4.0),
    ("goldenrod", 950.0, 1_250.0, 1.6),
    ("canola", 0.0, 0.0, 4.5),
];
const CANOLA_FIRST_DAY: i64 = 50;
const CANOLA_DAYS: i64 = 23;
const UPKEEP: f64 = 0.25;
/// Net gain that counts as flow when met two days running.
pub(super) const ONSET: f64 = 1.0;
/// The second day must be over before anybody knows; crews go out the morning after.
pub(super) const KNOWN_AFTER_DAYS: i64 = 2;

/// The flow of one group, at its first yard.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct GroupFlow {
    /// Group name.
    pub group: String,
    /// First of two days running over [`ONSET`] in June or later, when both are past.
    pub began: Option<Date>,
    /// Net gain of a strong colony per day from 1 January, kg/d.
    pub gain: Vec<f64>,
}

/// The flow of every group.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Flow {
    /// Days of this year before today at home.
    pub days: Vec<DemoWeather>,
    /// One for each group, in the order of the yards.
    pub groups: Vec<GroupFlow>,
}

impl Flow {
    /// The flow of a yard's group.
    pub(super) fn of(&self, yard: &DemoYard) -> &GroupFlow {
        self.groups.iter().find(|flow| flow.group == yard.group).expect("every group has its flow")
    }

    /// The part handed out for checks.
    pub(super) fn truth(&self) -> DemoTruth {
        DemoTruth {
            flow_began: self.groups.iter().map(|flow| (flow.group.clone(), flow.began)).collect(),
            gain: self
                .groups
                .iter()
                .map(|flow| (flow.group.clone(), flow.gain.iter().map(|gain| KilogramsPerDay::of(*gain)).collect()))
                .collect(),
        }
    }
}

/// Yards of each group that stand for it: the first in the list.
fn leaders(yards: &[DemoYard]) -> Vec<&DemoYard> {
    let mut leaders: Vec<&DemoYard> = Vec::new();
    for yard in yards {
        if leaders.iter().all(|leader| leader.group != yard.group) {
            leaders.push(yard);
        }
    }
    leaders
}

/// The flow of this year up to yesterday.
pub(super) fn of_groups(yards: &[DemoYard], skies: &Skies, today: Date) -> Flow {
    let home = &skies.stations[0];
    let first = date(today.year(), 1, 1);
    let days: Vec<DemoWeather> = home.seen.iter().copied().filter(|day| day.date >= first).collect();
    let groups = leaders(yards).into_iter().map(|yard| of_yard(yard, &days, home.elevation.get())).collect();
    Flow { days, groups }
}

fn of_yard(yard: &DemoYard, days: &[DemoWeather], station_m: f64) -> GroupFlow {
    let cooler = (yard.elevation.get() - station_m) * 0.0065;
    let mut heat = 0.0;
    let mut gain = Vec::with_capacity(days.len());
    for day in days {
        let (tmin, tmax) = (day.tmin.get() - cooler, day.tmax.get() - cooler);
        heat += (0.5 * (tmin + tmax) - 10.0_f64).max(0.0);
        let forage: f64 = yard.forage.iter().map(|plant| plant.weight.get() * offered(plant, heat, day.date)).sum();
        gain.push(forage * flight(day, tmax, yard) - UPKEEP);
    }
    GroupFlow { group: yard.group.clone(), began: onset(days, &gain), gain }
}

/// kg/d a perfect stand gives to a strong colony on a perfect day.
fn offered(plant: &DemoForage, heat: f64, day: Date) -> f64 {
    let Some(&(_, first, last, strength)) = BLOOMS.iter().find(|bloom| bloom.0 == plant.plant) else { return 0.0 };
    #[expect(clippy::cast_precision_loss, reason = "days within one year")]
    let part = match plant.seeded {
        Some(seeded) => (days_from(seeded, day) - CANOLA_FIRST_DAY) as f64 / CANOLA_DAYS as f64,
        None => (heat - first) / (last - first),
    };
    strength * bloom_share(part)
}

/// Share of flowers open: up in the first sixth of the bloom, down in the last quarter.
fn bloom_share(part: f64) -> f64 {
    ((part * 6.0).min((1.0 - part) * 4.0)).clamp(0.0, 1.0)
}

/// Part of a perfect day's flight.
fn flight(day: &DemoWeather, tmax: f64, yard: &DemoYard) -> f64 {
    let sunny = day.radiation.get() / (0.6 * sun::energy_above_air(yard.place, day.date));
    let calm = (40.0 - day.wind.get()) / 18.0;
    let dry = (-day.rain.get() / 6.0).exp();
    warm_enough(tmax) * sunny.clamp(0.0, 1.0) * calm.clamp(0.0, 1.0) * dry
}

fn warm_enough(tmax: f64) -> f64 {
    ((tmax - 12.0) / 10.0).min((40.0 - tmax) / 5.0).clamp(0.0, 1.0)
}

/// Dandelion in May is no flow to put down for; counting starts in June.
fn onset(days: &[DemoWeather], gain: &[f64]) -> Option<Date> {
    days.windows(2)
        .zip(gain.windows(2))
        .find(|(days, gain)| days[0].date.month() >= 6 && gain.iter().all(|gain| *gain >= ONSET))
        .map(|(days, _)| days[0].date)
}

/// Which of the possible years to tell about. Around the turn of June and July it is one in which the flow has just
/// begun in two groups or three and not yet in all, today is a day for work, and rain is on its way; at other times
/// of the year it is the first.
pub(super) fn telling_year(seed: u64, today: Date, yards: &[DemoYard], home: &DemoHome) -> u32 {
    const TRIES: u32 = 1500;
    let season = date(today.year(), 6, 24)..=date(today.year(), 7, 12);
    if !season.contains(&today) {
        return 0;
    }
    let leaders = leaders(yards);
    let climate = Climate::of_the_valley();
    (0..TRIES)
        .find(|attempt| {
            let days = weather::this_year(seed, today, home.place, &climate, *attempt);
            let gone = usize::try_from(days_from(date(today.year(), 1, 1), today)).expect("today is in its own year");
            rain_is_coming(&days[gone..])
                && fit_for_work(&days[gone], home.place)
                && just_begun(&leaders, &days[..gone], home, today)
        })
        .unwrap_or(0)
}

fn rain_is_coming(ahead: &[DemoWeather]) -> bool {
    ahead.iter().skip(1).take(6).filter(|day| day.rain.get() >= 3.0).count() >= 2
}

/// Begun three to five days ago somewhere, in two groups at least but not in all, and crews could work since.
fn just_begun(leaders: &[&DemoYard], days: &[DemoWeather], home: &DemoHome, today: Date) -> bool {
    let began: Vec<Option<Date>> = leaders.iter().map(|yard| of_yard(yard, days, home.elevation.get()).began).collect();
    let flowing = began.iter().flatten().count();
    let Some(first) = began.iter().flatten().min() else { return false };
    let worked =
        days.iter().any(|day| days_from(*first, day.date) >= KNOWN_AFTER_DAYS && fit_for_work(day, home.place));
    flowing >= 2 && flowing < began.len() && (3..=5).contains(&days_from(*first, today)) && worked
}

/// A day on which bees may be blown down: warm, dry, bright enough and not windy (common practice, no source).
pub(super) fn fit_for_work(day: &DemoWeather, place: Place) -> bool {
    day.tmax.get() >= 19.0
        && day.rain.get() < 1.0
        && day.wind.get() < 24.0
        && day.radiation.get() > 0.4 * sun::energy_above_air(place, day.date)
}

/// How one colony departs from the strong one of its group.
pub(super) fn strength_of_colony(chance: &mut Chance) -> f64 {
    chance.between(0.85, 1.1)
}
