//! When plants bloom, and how strongly.
//!
//! A plant blooms by heat summed from a date of the year, or, for a crop, by days from its seeding (with a heat sum from
//! seeding as the other way). Every threshold is a low, a likely and a high. Bloom rises from first to full as a half
//! cosine, stays full for a part of the time left, and falls to its end as a half cosine.
//!
//! | symbol | name in code | meaning | unit | value | source |
//! |---|---|---|---|---|---|
//! | - | `FIRST_BLOOM_LEVEL` | level on the day of first bloom | of 1 | 0.05 | one flower of 20 open, [OsuPhenology] |
//! | - | `FULL_SHARE` | part of the time from full bloom to end that stays full | of 1 | 0.5 | assumed |
//! | - | first, full, end | thresholds of each plant | °C·d or d | table `data/plants.toml` | named there for each |

use core::fmt;
use core::str::FromStr;

use jiff::civil::Date;
use outyard_base::days::{days_from, plus_days};
use outyard_base::{DateRange, DegreeDays, KilogramsPerDay, Range, Trouble};

use crate::degree_days::HeatRule;
use crate::weather::WeatherSeries;

mod read;

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
    pub fn with_changes(mut self, text: &str, file: &str) -> Result<Self, Trouble> {
        for plant in read::read_table(text, file)? {
            match self.plants.binary_search_by(|known| known.code.cmp(&plant.code)) {
                Ok(index) => self.plants[index] = plant,
                Err(index) => self.plants.insert(index, plant),
            }
        }
        Ok(self)
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
