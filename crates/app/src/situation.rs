//! All that is known this morning, put together: settings, job book, plants, roads, the folded book, weather and scales.

use std::collections::BTreeMap;

use jiff::civil::Date;
use outyard_base::days::plus_days;
use outyard_base::trouble::Spot;
use outyard_base::{GearCode, Kilograms, KilogramsPerDay, Metres, Note, Place, Trouble, YardId};
use outyard_book::outfit::{JobTurns, fold_with};
use outyard_book::{ContentHash, Entry, GearCounts, GearPlace, Outfit, SeriesKept, Yard};
use outyard_season::scale::{ScaleReading, ScaleRules, read_instants};
use outyard_season::{DayWeather, FlowRule, Origin, PlantTable, RepairRules, WeatherSeries, repair_gaps};
use outyard_trade::jobbook::JobBook;

use crate::due::{BoxesMoved, Done, PutDown, YardToday};
use crate::intake::drives::Drives;
use crate::intake::scale_file::read_scale_file;
use crate::intake::table::ColumnMap;
use crate::intake::weather_file::read_weather;
use crate::nights::GroupNights;
use crate::rates::{Rates, learn};
use crate::roads::RoadTimes;
use crate::settings::Settings;

/// Word in [`SeriesKept::what`] for a station's seen weather.
pub const WEATHER: &str = "weather";
/// Word in [`SeriesKept::what`] for a station's forecast.
pub const FORECAST: &str = "forecast";
/// Word in [`SeriesKept::what`] for a scale's readings.
pub const SCALE: &str = "scale";

/// What a situation is put together from.
#[derive(Clone, Debug)]
pub struct SituationParts {
    /// `outfit.toml`.
    pub settings: Settings,
    /// The job book with the outfit's own changes.
    pub jobs: JobBook,
    /// The plant table with the outfit's own plants.
    pub plants: PlantTable,
    /// Known drives.
    pub drives: Drives,
    /// All entries of the book.
    pub entries: Vec<Entry>,
    /// Text of the kept files the entries name, as far as they are here.
    pub files: BTreeMap<ContentHash, String>,
    /// The morning.
    pub today: Date,
}

/// A weather station and what it told.
#[derive(Clone, Debug)]
pub struct StationWeather {
    /// Its name.
    pub name: String,
    /// Where it stands.
    pub place: Place,
    /// Its height above the sea.
    pub elevation: Metres,
    /// Weather seen before today, short gaps repaired and flagged.
    pub seen: WeatherSeries,
    /// Forecast from today on.
    pub forecast: Vec<DayWeather>,
}

/// A scale and what its readings say.
#[derive(Clone, Debug)]
pub struct ScaleNights {
    /// Its name.
    pub name: String,
    /// The yard it stands in.
    pub yard: YardId,
    /// The group that yard belongs to; empty when none.
    pub group: String,
    /// What the series says, up to this morning.
    pub reading: ScaleReading,
}

/// All that is known this morning.
#[derive(Clone, Debug)]
pub struct Situation {
    /// `outfit.toml`.
    pub settings: Settings,
    /// The job book.
    pub jobs: JobBook,
    /// What closed tallies told of the outfit's own rates; shown, and not laid over the job book.
    pub rates: Rates,
    /// The plant table.
    pub plants: PlantTable,
    /// Known drives.
    pub drives: Drives,
    /// Drives by the roads of a map; empty until a face that has one puts it in.
    pub roads: RoadTimes,
    /// The outfit as the book tells it up to this morning.
    pub outfit: Outfit,
    /// Stations.
    pub stations: Vec<StationWeather>,
    /// Scales.
    pub scales: Vec<ScaleNights>,
    /// The morning.
    pub today: Date,
    /// What is worth knowing about the data.
    pub notes: Vec<Note>,
}

impl Situation {
    /// Puts a situation together. Entries of days after this morning are left out, so that a past morning can be stood
    /// at again.
    ///
    /// # Errors
    /// Faults of a kept file that can no longer be read by its own column choice.
    pub fn new(parts: SituationParts) -> Result<Self, Vec<Trouble>> {
        let until_today = parts.entries.iter().filter(|entry| entry.happened_on <= parts.today);
        let outfit = fold_with(until_today, &JobTurns::of(&parts.jobs));
        Self::of_outfit(parts, outfit)
    }

    /// The same, with the outfit as the book tells it up to this morning; the entries of the parts are not looked at.
    ///
    /// # Errors
    /// As [`Situation::new`].
    pub fn of_outfit(parts: SituationParts, outfit: Outfit) -> Result<Self, Vec<Trouble>> {
        let SituationParts { settings, jobs, plants, drives, entries: _, files, today } = parts;
        let rates = learn(&outfit, &jobs, today);
        let mut notes = Vec::new();
        let mut faults = Vec::new();
        let mut stations: BTreeMap<String, StationParts> = BTreeMap::new();
        let mut scales: BTreeMap<String, ScaleParts> = BTreeMap::new();
        for kept in &outfit.series {
            let series = &kept.what;
            let Some(text) = files.get(&series.content) else {
                notes.push(Note::new(
                    "SIT-101",
                    format!("the file of {} {} is not on this device", series.what, series.source),
                ));
                continue;
            };
            let read = match series.what.as_str() {
                WEATHER | FORECAST => take_weather(series, text, &mut stations, &mut notes),
                SCALE => take_scale(series, text, &settings, &mut scales, &mut notes),
                other => {
                    notes.push(Note::new(
                        "SIT-102",
                        format!("a series of sort \"{other}\" is not known here and not read"),
                    ));
                    Ok(())
                }
            };
            faults.extend(read.err().unwrap_or_default());
        }
        if !faults.is_empty() {
            return Err(faults);
        }
        let stations = stations.into_iter().map(|(name, parts)| parts.finish(name, today, &mut notes)).collect();
        let scales = scales.into_iter().map(|(name, parts)| parts.finish(name, &outfit, &settings, today)).collect();
        Ok(Self {
            settings,
            jobs,
            rates,
            plants,
            drives,
            roads: RoadTimes::default(),
            outfit,
            stations,
            scales,
            today,
            notes,
        })
    }

    /// Yards kept, with where each stands.
    pub fn places(&self) -> BTreeMap<YardId, Place> {
        self.outfit.kept_yards().filter_map(|(id, yard)| yard.kept.place.map(|place| (id.clone(), place))).collect()
    }

    /// How a yard stands, as due visits need it.
    pub fn yard_today(&self, id: &YardId, yard: &Yard) -> YardToday {
        let this_season = plus_days(self.today, -200);
        let done = yard
            .visits
            .iter()
            .filter(|visit| visit.on >= this_season && visit.on <= self.today)
            .flat_map(|visit| {
                visit.tally.jobs.iter().map(|job| Done { on: visit.on, job: job.job.clone(), colonies: job.done })
            })
            .collect();
        let put_downs = yard
            .put_down
            .iter()
            .filter(|(day0, _)| **day0 >= this_season && **day0 <= self.today)
            .map(|(day0, colonies)| PutDown { day0: *day0, colonies: *colonies })
            .collect();
        let boxes_on_hives: BTreeMap<GearCode, u32> = yard
            .on_hives
            .iter()
            .filter(|(gear, count)| **count > 0 && self.holds_deeps(gear) > 0.0)
            .filter_map(|(gear, count)| u32::try_from(*count).ok().map(|count| (gear.clone(), count)))
            .collect();
        let boxes_moved = yard
            .visits
            .iter()
            .filter(|visit| visit.on >= this_season && visit.on <= self.today)
            .map(|visit| BoxesMoved {
                on: visit.on,
                on_deeps: self.deeps_of(&visit.tally.boxes_on) + self.deeps_of(&visit.tally.loose_used),
                off_deeps: self.deeps_of(&visit.tally.boxes_off),
            })
            .filter(|moved| moved.on_deeps > 0.0 || moved.off_deeps > 0.0)
            .collect();
        YardToday {
            yard: id.clone(),
            standing: yard.colonies,
            put_downs,
            done,
            boxes_on_hives,
            boxes_moved,
            fullness: yard.fullness,
            counted_on: yard.counted_on,
        }
    }

    /// Honey a kind of gear of the shed holds on a hive, in full deeps; 0 for what is no honey box.
    pub fn holds_deeps(&self, gear: &GearCode) -> f64 {
        let of_shed = self.jobs.gear.values().filter(|rule| rule.counts_as == *gear || rule.code == *gear);
        of_shed.map(|rule| rule.holds_deeps).fold(0.0, f64::max)
    }

    /// Honey boxes among some gear, in deeps.
    fn deeps_of(&self, gear: &GearCounts) -> f64 {
        gear.iter().fold(0.0, |deeps, (gear, count)| deeps + self.holds_deeps(gear) * f64::from(count))
    }

    /// Honey boxes on the hives of a yard, in deeps.
    pub fn deeps_on_hives(&self, yard: &YardToday) -> f64 {
        yard.boxes_on_hives.iter().fold(0.0, |deeps, (gear, count)| deeps + self.holds_deeps(gear) * f64::from(*count))
    }

    /// Gear that can go out this morning: in the shed, and wet supers come home.
    pub fn ready_to_go(&self, gear: &GearCode) -> i64 {
        self.outfit.ledger.at(gear, &GearPlace::Shed) + self.outfit.ledger.at(gear, &GearPlace::Wet)
    }

    /// True when the book ever counted or moved such gear.
    pub fn gear_is_kept(&self, gear: &GearCode) -> bool {
        self.outfit.ledger.gear.contains_key(gear)
    }

    /// The rule by which a flow counts.
    pub fn flow_rule(&self) -> FlowRule {
        self.settings.flow
    }

    /// Nights of each scale, this season.
    pub fn nights_by_scale(&self) -> Vec<GroupNights> {
        self.scales
            .iter()
            .map(|scale| GroupNights {
                name: if scale.group.is_empty() {
                    format!("{} (yard {})", scale.name, scale.yard)
                } else {
                    format!("{} (yard {}, {})", scale.name, scale.yard, scale.group)
                },
                nights: scale.nights(),
            })
            .collect()
    }

    /// Nights that speak for a yard: of scales in it, else of its group, else of all; each day the mean of those scales.
    pub fn nights_for(&self, yard: &YardId, group: &str) -> (Vec<(Date, KilogramsPerDay)>, String) {
        let own: Vec<&ScaleNights> = self.scales.iter().filter(|scale| scale.yard == *yard).collect();
        let of_group: Vec<&ScaleNights> =
            self.scales.iter().filter(|scale| !group.is_empty() && scale.group == group).collect();
        let all: Vec<&ScaleNights> = self.scales.iter().collect();
        let (scales, said) = if !own.is_empty() {
            (own, "its own scale".to_owned())
        } else if !of_group.is_empty() {
            (of_group, format!("the scales of {group}"))
        } else if all.is_empty() {
            (all, "no scale".to_owned())
        } else {
            (all, "the scales of other yards".to_owned())
        };
        let mut by_day: BTreeMap<Date, Vec<f64>> = BTreeMap::new();
        for (date, gain) in scales.iter().flat_map(|scale| scale.nights()) {
            by_day.entry(date).or_default().push(gain.get());
        }
        #[expect(clippy::cast_precision_loss, reason = "a handful of scales")]
        let mean = |gains: &[f64]| gains.iter().sum::<f64>() / gains.len() as f64;
        (by_day.into_iter().map(|(date, gains)| (date, KilogramsPerDay::of(mean(&gains)))).collect(), said)
    }
}

impl ScaleNights {
    /// Net gain by day.
    pub fn nights(&self) -> Vec<(Date, KilogramsPerDay)> {
        self.reading.nights.iter().map(|night| (night.date, night.net_gain)).collect()
    }
}

/// A station while its files are read.
struct StationParts {
    place: Option<Place>,
    elevation: Metres,
    seen: BTreeMap<Date, DayWeather>,
    forecast: BTreeMap<Date, DayWeather>,
}

impl StationParts {
    fn finish(self, name: String, today: Date, notes: &mut Vec<Note>) -> StationWeather {
        let before_today: Vec<DayWeather> = self.seen.into_values().filter(|day| day.date < today).collect();
        let (series, more) = WeatherSeries::new(before_today);
        notes.extend(more);
        let (seen, more) = repair_gaps(&series, &RepairRules::for_year(today.year()));
        notes.extend(more.into_iter().map(|mut note| {
            note.text = format!("station {name}: {}", note.text);
            note
        }));
        let forecast = self.forecast.into_values().filter(|day| day.date >= today).collect();
        // A station whose place nobody told cannot be weighed by distance; the intake refuses such a file.
        let place = self.place.unwrap_or_else(|| Place::new(0.0, 0.0).expect("the middle of the map is a place"));
        StationWeather { name, place, elevation: self.elevation, seen, forecast }
    }
}

/// A scale while its files are read.
struct ScaleParts {
    yard: Option<YardId>,
    readings: Vec<(jiff::Timestamp, Kilograms)>,
}

impl ScaleParts {
    fn finish(self, name: String, outfit: &Outfit, settings: &Settings, today: Date) -> ScaleNights {
        let midnight = settings.zone.to_timestamp(today.at(0, 0, 0, 0)).ok();
        let mut until_today = self.readings;
        until_today.retain(|(at, _)| midnight.is_none_or(|midnight| *at <= midnight));
        let mut reading = read_instants(&until_today, &settings.zone, &ScaleRules::default());
        // The season's own nights only: last year's flow must not begin this year's.
        reading.nights.retain(|night| night.date.year() == today.year() && night.date < today);
        let yard = self.yard.unwrap_or_else(|| YardId::new("?").expect("a question mark is a name"));
        let group = outfit.yards.get(&yard).map(|yard| yard.kept.group.clone()).unwrap_or_default();
        ScaleNights { name, yard, group, reading }
    }
}

fn columns(series: &SeriesKept) -> ColumnMap {
    series.columns.iter().cloned().collect()
}

fn take_weather(
    series: &SeriesKept,
    text: &str,
    stations: &mut BTreeMap<String, StationParts>,
    notes: &mut Vec<Note>,
) -> Result<(), Vec<Trouble>> {
    let file = format!("kept file of station {}", series.source);
    let (days, more) = read_weather(&file, text, &columns(series))?;
    notes.extend(more.into_iter().map(|note| note.at(Spot::file(file.clone()))));
    let station = stations.entry(series.source.clone()).or_insert_with(|| StationParts {
        place: None,
        elevation: Metres::ZERO,
        seen: BTreeMap::new(),
        forecast: BTreeMap::new(),
    });
    station.place = series.place.or(station.place);
    station.elevation = series.elevation.unwrap_or(station.elevation);
    // What was told later replaces what was told before, day by day.
    for mut day in days {
        if series.what == FORECAST {
            day.origin = Origin::Forecast;
            station.forecast.insert(day.date, day);
        } else {
            station.seen.insert(day.date, day);
        }
    }
    Ok(())
}

fn take_scale(
    series: &SeriesKept,
    text: &str,
    settings: &Settings,
    scales: &mut BTreeMap<String, ScaleParts>,
    notes: &mut Vec<Note>,
) -> Result<(), Vec<Trouble>> {
    let file = format!("kept file of scale {}", series.source);
    let (readings, more) = read_scale_file(&file, text, &columns(series), &settings.zone)?;
    notes.extend(more.into_iter().map(|note| note.at(Spot::file(file.clone()))));
    let scale = scales.entry(series.source.clone()).or_insert_with(|| ScaleParts { yard: None, readings: Vec::new() });
    scale.yard = series.yard.clone().or_else(|| scale.yard.take());
    scale.readings.extend(readings);
    Ok(())
}
