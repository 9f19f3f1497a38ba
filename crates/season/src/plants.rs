//! When plants bloom, and how strongly.
//!
//! A plant blooms by heat summed from a date of the year, or, for a crop, by days from its seeding (with a heat sum from
//! seeding as the other way). Every threshold is a low, a likely and a high. Bloom rises from first to full as a half
//! cosine, stays full for a part of the time left, and falls to its end as a half cosine.
//!
//! | symbol | name in code | meaning | unit | value | source |
//! |---|---|---|---|---|---|
//! | - | `FIRST_BLOOM_LEVEL` | level on the day of first bloom | of 1 | 0.05 | one flower of 20 open, `[OsuPhenology]` |
//! | - | `FULL_SHARE` | part of the time from full bloom to end that stays full | of 1 | 0.5 | assumed |
//! | - | first, full, end | thresholds of each plant | °C·d or d | table `data/plants.toml` | named there for each |

use core::fmt;
use core::str::FromStr;

use jiff::civil::Date;
use outyard_base::days::{days_from, plus_days};
use outyard_base::{DateRange, DegreeDays, KilogramsPerDay, Range, Trouble};

use crate::degree_days::HeatRule;
use crate::weather::WeatherSeries;

pub mod learn;
mod read;
pub mod score;
pub mod update;

/// Level of bloom on the day of first bloom: one flower of twenty open.
const FIRST_BLOOM_LEVEL: f64 = 0.05;

/// Part of the time from full bloom to end in which it stays full. Assumed.
const FULL_SHARE: f64 = 0.5;

/// Days from first to full bloom when full is not in sight yet. Assumed.
pub(crate) const USUAL_RISE_DAYS: i64 = 7;

/// Days from full bloom to its end when the end is not in sight yet. Assumed.
pub(crate) const USUAL_REST_DAYS: i64 = 14;

/// Short name of a plant: lower-case letters, digits and hyphens, at most 32.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct PlantCode(String);

impl PlantCode {
    /// Checks a code.
    ///
    /// # Errors
    /// `PLT-001` when empty, longer than 32 or with other signs.
    pub fn new(text: &str) -> Result<Self, Trouble> {
        let good = (1..=32).contains(&text.len())
            && text.bytes().all(|byte| byte.is_ascii_lowercase() || byte.is_ascii_digit() || byte == b'-');
        if good {
            return Ok(Self(text.to_owned()));
        }
        Err(Trouble::new(
            "PLT-001",
            format!("\"{}\" cannot be the code of a plant", text.chars().take(40).collect::<String>()),
            "use lower-case letters, digits and hyphens, such as sweet-clover",
        ))
    }

    /// The code as written.
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

impl fmt::Display for PlantCode {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(&self.0)
    }
}

impl FromStr for PlantCode {
    type Err = Trouble;
    fn from_str(text: &str) -> Result<Self, Trouble> {
        Self::new(text)
    }
}

/// What moves a plant to bloom.
#[derive(Clone, Debug, PartialEq)]
pub enum Trigger {
    /// Heat summed from a date of the year.
    Heat {
        /// Method and thresholds of the sum.
        rule: HeatRule,
        /// Month and day on which the sum starts; one past midsummer starts in the year before.
        start: (i8, i8),
        /// Sum at first bloom.
        first: Range<DegreeDays>,
    },
    /// Days from seeding.
    Seeding {
        /// Days to the first flower.
        days: Range<f64>,
        /// The other way: heat summed from seeding.
        heat: Option<(HeatRule, Range<DegreeDays>)>,
        /// True when the heat sum is to be used and not the days.
        by_heat: bool,
    },
}

/// A later step of the bloom.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Step {
    /// At a heat sum, counted from the plant's own start.
    HeatSum(Range<DegreeDays>),
    /// So many days after first bloom.
    DaysAfterFirst(Range<f64>),
}

/// One plant.
#[derive(Clone, Debug, PartialEq)]
pub struct Plant {
    /// Short name.
    pub code: PlantCode,
    /// Name as printed.
    pub name: String,
    /// What moves it to bloom.
    pub trigger: Trigger,
    /// Full bloom.
    pub full: Step,
    /// End of bloom.
    pub end: Step,
    /// What a strong colony gains, before its own upkeep, on a day of full bloom and perfect flight where nothing
    /// but this plant stands.
    pub strength: Range<KilogramsPerDay>,
    /// Where the thresholds come from.
    pub source: String,
    /// Where the strength comes from.
    pub strength_source: String,
}

/// Plants by code.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct PlantTable {
    plants: Vec<Plant>,
}

impl PlantTable {
    /// The table that comes with the program.
    pub fn built_in() -> Self {
        read::read_table(include_str!("../data/plants.toml"), "plants.toml")
            .map(|plants| Self { plants })
            .expect("the embedded table is read by a test")
    }

    /// Reads a table alone, without the built-in one.
    ///
    /// # Errors
    /// `PLT-001` to `PLT-006`, with line and column.
    pub fn read(text: &str, file: &str) -> Result<Self, Trouble> {
        Ok(Self { plants: read::read_table(text, file)? })
    }

    /// This table with the user's plants put in: one with a code already known replaces it whole.
    ///
    /// # Errors
    /// As [`Self::read`].
    pub fn with_changes(self, text: &str, file: &str) -> Result<Self, Trouble> {
        Ok(read::read_table(text, file)?.into_iter().fold(self, Self::changed))
    }

    /// This table with one plant in place of the one of its code, or added.
    #[must_use]
    pub fn changed(mut self, plant: Plant) -> Self {
        match self.plants.binary_search_by(|known| known.code.cmp(&plant.code)) {
            Ok(index) => self.plants[index] = plant,
            Err(index) => self.plants.insert(index, plant),
        }
        self
    }

    /// One plant.
    pub fn get(&self, code: &PlantCode) -> Option<&Plant> {
        self.plants.binary_search_by(|known| known.code.cmp(code)).ok().map(|index| &self.plants[index])
    }

    /// All plants, by code.
    pub fn plants(&self) -> &[Plant] {
        &self.plants
    }
}

/// When a plant blooms in one year. The three dates of `first` and `full` are those of the low, likely and high
/// thresholds; those of `end` hold for a bloom that begins on its likely date.
#[derive(Clone, Debug, PartialEq)]
pub struct Bloom {
    /// First bloom.
    pub first: DateRange,
    /// Full bloom.
    pub full: DateRange,
    /// End of bloom, given the likely first bloom.
    pub end: DateRange,
    /// Days inside the sum without weather; their normals were counted in their place.
    pub missing_days: usize,
}

impl Bloom {
    /// The likely bloom as a curve; `None` when one of its dates is not in sight.
    pub fn likely(&self) -> Option<BloomDays> {
        Some(BloomDays { first: self.first.likely?, full: self.full.likely?, end: self.end.likely? })
    }

    /// The likely bloom, with a full bloom or an end that is not in sight put a usual time on.
    pub(crate) fn likely_or_open(&self) -> Option<BloomDays> {
        let first = self.first.likely?;
        let full = self.full.likely.unwrap_or_else(|| plus_days(first, USUAL_RISE_DAYS)).max(first);
        let end = self.end.likely.unwrap_or_else(|| plus_days(full, USUAL_REST_DAYS)).max(full);
        Some(BloomDays { first, full, end })
    }
}

/// First, full and end of one bloom.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct BloomDays {
    /// First bloom.
    pub first: Date,
    /// Full bloom, not before the first.
    pub full: Date,
    /// First day without bloom, not before full.
    pub end: Date,
}

impl BloomDays {
    /// Level of bloom on a date, 0 to 1.
    pub fn level(&self, date: Date) -> f64 {
        #[expect(clippy::cast_precision_loss, reason = "days of one season")]
        let day = |to: Date| days_from(self.first, to) as f64;
        bloom_level(day(date), day(self.full), day(self.end))
    }
}

/// Level of bloom `day` days after the first, with full bloom and end so many days after it.
pub(crate) fn bloom_level(day: f64, full: f64, end: f64) -> f64 {
    let half_cosine = |part: f64| 0.5 - 0.5 * (core::f64::consts::PI * part.clamp(0.0, 1.0)).cos();
    if day < 0.0 || day >= end {
        return 0.0;
    }
    if day < full {
        return FIRST_BLOOM_LEVEL + (1.0 - FIRST_BLOOM_LEVEL) * half_cosine(day / full);
    }
    let fades = full + (end - full) * FULL_SHARE;
    if day <= fades { 1.0 } else { 1.0 - half_cosine((day - fades) / (end - fades)) }
}

/// When a plant blooms in a year. `seeding` is the date of the crop, needed by plants that count from it; without it
/// all dates are open. Days the series does not hold are counted with its normals, up to its last day; dates past that
/// stay open (`None`).
pub fn bloom_dates(plant: &Plant, series: &WeatherSeries, year: i16, seeding: Option<Date>) -> Bloom {
    timing::bloom_dates(plant, series, year, seeding)
}

pub(crate) mod timing;

#[cfg(test)]
mod tests {
    use super::*;
    use crate::weather::DayWeather;
    use jiff::civil::date;
    use outyard_base::Celsius;
    use outyard_base::days::each_day;

    /// A made-up station with the same mild spring every year, `warmer` K warmer than usual in each year given.
    fn station(years: core::ops::RangeInclusive<i16>, warmer: impl Fn(i16) -> f64) -> WeatherSeries {
        let days = each_day(date(*years.start(), 1, 1), date(*years.end(), 12, 31))
            .map(|date| {
                let wave = -(core::f64::consts::TAU * (f64::from(date.day_of_year()) - 20.0) / 365.0).cos();
                let mean = 6.0 + 14.0 * wave + warmer(date.year());
                DayWeather::seen(date, Celsius::of(mean - 6.0), Celsius::of(mean + 6.0))
            })
            .collect();
        WeatherSeries::new(days).0
    }

    fn plant(code: &str) -> Plant {
        PlantTable::built_in().get(&code.parse().unwrap()).unwrap().clone()
    }

    // Published for OSU, base 50 °F from 1 January, in °F·d: silver maple full 42, red maple first 44, black locust full
    // 548 (Herms; bygl.osu.edu, russelltreeexperts.com). 1 °C·d = 1.8 °F·d.
    #[test]
    fn the_built_in_table_holds_the_published_sums() {
        let full = |code| match plant(code).full {
            Step::HeatSum(sum) => sum.likely.get(),
            Step::DaysAfterFirst(_) => f64::NAN,
        };
        assert!((full("silver-maple") - 42.0 / 1.8).abs() < 1e-9);
        assert!((full("black-locust") - 548.0 / 1.8).abs() < 1e-9);
        let Trigger::Heat { rule, start, first } = plant("red-maple").trigger else {
            panic!("red maple blooms by heat")
        };
        assert!((first.likely.get() - 44.0 / 1.8).abs() < 1e-9);
        assert!((rule.base.get() - 10.0).abs() < 1e-9);
        assert_eq!(start, (1, 1));
        assert!(PlantTable::built_in().plants().iter().all(|plant| !plant.source.is_empty()));
    }

    // Trade facts 5.3, °F·d over 50 °F from 1 January (OSU: Herms; from memory where the facts say so), 43 °F for apple (Cornell,
    // from memory), 41 °F from 1 March for alfalfa (UW Extension, from memory); canola in °C·d over 0 °C from seeding (Miller,
    // Lanier & Brandt 2001, from memory); clovers, basswood, fireweed and goldenrod are starting guesses, common practice.
    #[test]
    fn every_sum_of_the_trade_facts_stands_in_the_table() {
        let within = |code: &str, found: Range<DegreeDays>, low: f64, high: f64| {
            let likely = found.likely.get() * 1.8;
            assert!(low - 0.01 <= likely && likely <= high + 0.01, "{code}: {likely}, not {low} to {high}");
        };
        for (code, first, full) in [
            ("silver-maple", (34.0, 34.0), Some((42.0, 42.0))),
            ("red-maple", (44.0, 44.0), Some((75.0, 75.0))),
            ("dandelion", (50.0, 50.0), None),
            ("serviceberry", (153.0, 153.0), None),
            ("redbud", (191.0, 191.0), None),
            ("chokecherry", (205.0, 205.0), None),
            ("black-cherry", (368.0, 368.0), None),
            ("black-locust", (467.0, 467.0), Some((548.0, 548.0))),
            ("catalpa", (675.0, 675.0), Some((816.0, 816.0))),
            ("littleleaf-linden", (830.0, 830.0), Some((953.0, 953.0))),
            ("basswood", (780.0, 900.0), None),
            ("white-clover", (420.0, 520.0), None),
            ("yellow-sweet-clover", (480.0, 600.0), None),
            ("white-sweet-clover", (700.0, 800.0), None),
            ("fireweed", (850.0, 1000.0), None),
            ("goldenrod", (1500.0, 1900.0), None),
            ("apple", (0.0, 380.0), Some((380.0, 430.0))),
            ("alfalfa", (680.0, 880.0), Some((880.0, 950.0))),
        ] {
            let plant = plant(code);
            let Trigger::Heat { first: found, .. } = &plant.trigger else { panic!("{code} blooms by heat") };
            within(code, *found, first.0, first.1);
            match (plant.full, full) {
                (Step::HeatSum(found), Some((low, high))) => within(code, found, low, high),
                (Step::DaysAfterFirst(_), None) => {}
                (found, wanted) => panic!("{code}: {found:?}, not {wanted:?}"),
            }
        }
        let Trigger::Seeding { heat: Some((_, canola)), .. } = plant("canola").trigger else {
            panic!("canola blooms by seeding")
        };
        assert!((canola.low.get() - 582.0).abs() < 1e-9 && (canola.high.get() - 666.0).abs() < 1e-9);
    }

    // Scene S10: canola seeded 15 May flowers 50 days later and quits 20 to 25 days after that.
    #[test]
    fn scene_10_canola_by_its_seeding() {
        let bloom = bloom_dates(&plant("canola"), &WeatherSeries::default(), 2026, Some(date(2026, 5, 15)));
        assert_eq!(bloom.first.likely, Some(date(2026, 7, 4)));
        assert_eq!((bloom.end.early, bloom.end.late), (Some(date(2026, 7, 24)), Some(date(2026, 7, 29))));
        let unknown = bloom_dates(&plant("canola"), &WeatherSeries::default(), 2026, None);
        assert!(unknown.first.is_never() && unknown.end.is_never());
    }

    #[test]
    fn a_warm_year_blooms_earlier_and_thresholds_keep_their_order() {
        let series = station(2024..=2026, |year| if year == 2025 { 2.0 } else { 0.0 });
        for plant in PlantTable::built_in().plants() {
            if matches!(plant.trigger, Trigger::Seeding { .. }) {
                continue;
            }
            let usual = bloom_dates(plant, &series, 2026, None);
            let warm = bloom_dates(plant, &series, 2025, None);
            let (Some(usual_day), Some(warm_day)) = (usual.first.likely, warm.first.likely) else { continue };
            assert!(warm_day.day_of_year() < usual_day.day_of_year(), "{}: {usual_day} and {warm_day}", plant.code);
            // A date not reached within the year is open and later than all.
            let rising = |dates: [Option<Date>; 3]| dates.is_sorted_by_key(|date| (date.is_none(), *date));
            assert!(rising([usual.first.early, usual.first.likely, usual.first.late]), "{usual:?}");
            assert!(rising([usual.first.likely, usual.full.likely, usual.end.likely]), "{usual:?}");
        }
    }

    #[test]
    fn by_heat_the_day_is_the_first_on_which_the_sum_is_reached() {
        // 15 °C all day gives 5 °C·d above 10: 100 °C·d on the 20th day.
        let days = each_day(date(2026, 1, 1), date(2026, 3, 1))
            .map(|date| DayWeather::seen(date, Celsius::of(15.0), Celsius::of(15.0)))
            .collect();
        let (series, _) = WeatherSeries::new(days);
        let text = r#"
            [[plant]]
            code = "test"
            name = "test"
            source = "test"
            strength_kg_per_day = [1.0, 1.0, 1.0]
            strength_source = "test"
            [plant.heat]
            method = "simple-average"
            base = 10.0
            start = "01-01"
            first_bloom = [99.0, 100.0, 101.0]
            full_after_days = [2.0, 2.0, 2.0]
            bloom_days = [5.0, 6.0, 8.0]
        "#;
        let table = PlantTable::read(text, "test.toml").unwrap();
        let bloom = bloom_dates(&table.plants()[0], &series, 2026, None);
        assert_eq!(bloom.first.early, Some(date(2026, 1, 20)));
        assert_eq!(bloom.first.likely, Some(date(2026, 1, 20)));
        assert_eq!(bloom.first.late, Some(date(2026, 1, 21)));
        assert_eq!(bloom.end.late, Some(date(2026, 1, 28)));
    }

    #[test]
    fn a_sum_not_reached_within_its_year_is_not_taken_from_the_next() {
        let cold = station(2024..=2026, |_| -9.0);
        let bloom = bloom_dates(&plant("goldenrod"), &cold, 2024, None);
        assert!(bloom.first.is_never(), "{bloom:?}");
        let early = bloom_dates(&plant("silver-maple"), &cold, 2024, None).first.likely.unwrap();
        assert_eq!(early.year(), 2024);
    }

    #[test]
    fn days_without_weather_are_counted_with_normals_and_told() {
        let whole = station(2022..=2026, |_| 0.0);
        let mut days = whole.days().to_vec();
        days.retain(|day| !(date(2026, 4, 1)..=date(2026, 4, 20)).contains(&day.date));
        let (holed, _) = WeatherSeries::new(days);
        let (with, without) =
            (bloom_dates(&plant("basswood"), &whole, 2026, None), bloom_dates(&plant("basswood"), &holed, 2026, None));
        assert_eq!((with.missing_days, without.missing_days), (0, 20));
        assert_eq!(with.first, without.first);
    }

    #[test]
    fn bloom_rises_stays_and_falls() {
        let bloom = BloomDays { first: date(2026, 7, 1), full: date(2026, 7, 9), end: date(2026, 7, 25) };
        assert!(bloom.level(date(2026, 6, 30)).abs() < 1e-12);
        assert!((bloom.level(date(2026, 7, 1)) - 0.05).abs() < 1e-12);
        assert!((bloom.level(date(2026, 7, 12)) - 1.0).abs() < 1e-12);
        assert!(bloom.level(date(2026, 7, 24)) > 0.0);
        assert!(bloom.level(date(2026, 7, 25)).abs() < 1e-12);
        let levels: Vec<f64> = each_day(date(2026, 7, 1), date(2026, 7, 9)).map(|day| bloom.level(day)).collect();
        assert!(levels.windows(2).all(|pair| pair[0] < pair[1]));
    }

    #[test]
    fn flaws_of_a_table_are_told_with_line_and_column() {
        let good = include_str!("../data/plants.toml");
        let check = |from: &str, to: &str, code: &str, place: (usize, &str)| {
            assert!(good.contains(from), "{from}");
            let trouble = PlantTable::read(&good.replacen(from, to, 1), "my.toml").unwrap_err();
            let at = trouble.place.clone().unwrap();
            assert_eq!(
                (trouble.code, at.line.unwrap(), at.column.as_deref().unwrap()),
                (code, place.0, place.1),
                "{trouble}"
            );
        };
        let line = |text: &str| good[..good.find(text).unwrap()].lines().count() + 1;
        let first_plant = line("code = \"silver-maple\"");
        check("code = \"silver-maple\"", "code = \"Silver maple\"", "PLT-001", (first_plant, "8"));
        check("code = \"silver-maple\"", "cod = \"silver-maple\"", "PLT-002", (first_plant, "1"));
        check("code = \"red-maple\"", "code = \"silver-maple\"", "PLT-003", (line("code = \"red-maple\""), "8"));
        check(
            "strength_kg_per_day = [0.3, 0.8, 1.5]",
            "strength_kg_per_day = [0.9, 0.8, 1.5]",
            "PLT-004",
            (first_plant + 3, "23"),
        );
        check("method = \"simple-average\"", "method = \"average\"", "PLT-005", (first_plant + 7, "10"));
        check("start = \"01-01\"", "start = \"13-01\"", "PLT-005", (first_plant + 9, "9"));
        check("bloom_days = [7.0, 10.0, 14.0]", "", "PLT-006", (first_plant - 1, "1"));
    }

    #[test]
    fn the_users_plants_replace_and_add() {
        let own = r#"
            [[plant]]
            code = "basswood"
            name = "basswood by the river"
            source = "own dates"
            strength_kg_per_day = [1.0, 2.0, 3.0]
            strength_source = "own scales"
            [plant.heat]
            degrees = "C"
            method = "double-sine-horizontal"
            base = 7.0
            upper = 28.0
            start = "03-01"
            first_bloom = [500.0, 520.0, 540.0]
            full_bloom = [550.0, 570.0, 590.0]
            end = [640.0, 660.0, 700.0]
        "#;
        let before = PlantTable::built_in();
        let table = before.clone().with_changes(own, "my.toml").unwrap();
        assert_eq!(table.plants().len(), before.plants().len());
        let basswood = table.get(&"basswood".parse().unwrap()).unwrap();
        assert_eq!(basswood.name, "basswood by the river");
        let added =
            before.with_changes(&own.replace("code = \"basswood\"", "code = \"own-linden\""), "my.toml").unwrap();
        assert_eq!(added.plants().len(), table.plants().len() + 1);
        assert!(added.get(&"own-linden".parse().unwrap()).is_some());
    }

    #[test]
    fn a_heat_sum_is_learnt_back_from_dates_made_with_it() {
        // Years that differ by up to 3 K, and dates made with base 6 °C from 1 February at 150 °C·d.
        let series = station(2010..=2026, |year| f64::from((i32::from(year) * 37) % 7) - 3.0);
        let rule = |base: f64| HeatRule { method: crate::Method::SimpleAverage, base: Celsius::of(base), upper: None };
        let seen: Vec<Date> = (2011..=2026)
            .filter_map(|year| timing::HeatCurve::new(&rule(6.0), &series, date(year, 2, 1)).reaches(150.0))
            .collect();
        let rules: Vec<HeatRule> = (0..=12).map(|base| rule(f64::from(base))).collect();
        let learnt = learn::learn_heat(&series, &seen, &rules, &[(1, 1), (2, 1), (3, 1)]).unwrap();
        assert_eq!(learnt.years, 16);
        assert!(learnt.error_days.unwrap() < 0.5, "{learnt:?}");
        assert!(learnt.fixed_date_error_days.unwrap() > 3.0, "{learnt:?}");
        assert_eq!(learn::learn_heat(&series, &seen[..2], &rules, &[(1, 1)]), None);
    }
}
