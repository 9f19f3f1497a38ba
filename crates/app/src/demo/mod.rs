//! An invented outfit, so that the program can be tried before anybody types in his own.
//!
//! Everything here is made up from one seed and one date: names, yards, owners of the land, weather, scale readings and
//! the work already done this year. The same seed and date give the same outfit; another seed gives another one. The natural date is 3 July, when the flow has just begun and most yards still wait to be put down.
//!
//! The counts of bees and gear are those of a reference outfit (`common practice, no source`): 1,200 colonies in 40 yards.

mod crews;
mod flow;
mod history;
mod land;
mod names;
mod scales;
#[cfg(test)]
mod tests;
mod weather;

use jiff::Timestamp;
use jiff::civil::Date;
use outyard_base::{
    Celsius, Cents, ClockTime, CrewId, GearCode, Kilograms, KilogramsPerDay, KilometresPerHour, Megajoules, Metres,
    Millimetres, Minutes, Place, ScaleId, Share, StationId, TruckId, YardId, days::days_from,
};

/// Doubles the outfit owns at the start of the flow.
pub const DOUBLES: u32 = 900;
/// Splits of the year the outfit owns at the start of the flow.
pub const SPLITS: u32 = 300;
/// Yards the outfit keeps.
pub const YARDS: usize = 40;

/// The whole invented outfit.
#[derive(Clone, Debug, PartialEq)]
pub struct DemoOutfit {
    /// Seed it came from.
    pub seed: u64,
    /// The day it stands at; all that is told happened before it.
    pub today: Date,
    /// Name of the outfit.
    pub name: String,
    /// Name of the valley it works in.
    pub valley: String,
    /// IANA name of the time zone its clocks keep.
    pub time_zone: &'static str,
    /// Where the trucks start and end.
    pub home: DemoHome,
    /// Forty yards, in reading order of their ids.
    pub yards: Vec<DemoYard>,
    /// Crews that go out.
    pub crews: Vec<DemoCrew>,
    /// Trucks.
    pub trucks: Vec<DemoTruck>,
    /// Gear owned, by kind.
    pub gear: Vec<DemoGear>,
    /// Weather stations with three full past years, this year up to yesterday, and a forecast from today.
    pub stations: Vec<DemoStation>,
    /// Scales, one in each yard group.
    pub scales: Vec<DemoScale>,
    /// Work done this year before today, by date, then yard.
    pub history: Vec<DemoVisit>,
    /// What really goes on, for checks: nothing an outfit could know outright.
    pub truth: DemoTruth,
}

/// Where the trucks start and end.
#[derive(Clone, Debug, PartialEq)]
pub struct DemoHome {
    /// Name as it stands on the mailbox.
    pub name: String,
    /// Where it is.
    pub place: Place,
    /// Height above the sea.
    pub elevation: Metres,
}

/// One yard.
#[derive(Clone, Debug, PartialEq)]
pub struct DemoYard {
    /// Number used on gates and lists.
    pub id: YardId,
    /// Name people say.
    pub name: String,
    /// Where it is.
    pub place: Place,
    /// Height above the sea.
    pub elevation: Metres,
    /// Yard group: yards that share forage and bloom together.
    pub group: String,
    /// What bees find there.
    pub forage: Vec<DemoForage>,
    /// Doubles at the start of the flow.
    pub doubles: u32,
    /// Splits of the year at the start of the flow.
    pub splits: u32,
    /// How to get in.
    pub gate: String,
    /// A truck sinks in after rain.
    pub wet_road: bool,
    /// Who owns the land.
    pub landowner: DemoLandowner,
}

/// One plant near a yard.
#[derive(Clone, Debug, PartialEq)]
pub struct DemoForage {
    /// Code of the plant, as in the season room's plant table.
    pub plant: &'static str,
    /// Part of a good stand of this plant within flight of the yard.
    pub weight: Share,
    /// Seeding date this year, for a crop.
    pub seeded: Option<Date>,
}

/// Who owns the land a yard stands on.
#[derive(Clone, Debug, PartialEq)]
pub struct DemoLandowner {
    /// Invented name.
    pub name: String,
    /// Telephone number out of the range kept for fiction (555-01xx).
    pub telephone: String,
    /// What he is given each fall.
    pub rent: String,
}

/// A crew that goes out together.
#[derive(Clone, Debug, PartialEq)]
pub struct DemoCrew {
    /// Short name.
    pub id: CrewId,
    /// Invented first names.
    pub people: Vec<String>,
    /// When it can leave home.
    pub leaves: ClockTime,
    /// When it must be home.
    pub home_by: ClockTime,
    /// What one hour of one person costs.
    pub wage_per_hour: Cents,
    /// Truck it takes.
    pub truck: TruckId,
}

/// A truck.
#[derive(Clone, Debug, PartialEq)]
pub struct DemoTruck {
    /// Short name.
    pub id: TruckId,
    /// What it is.
    pub description: String,
    /// Empty drawn deeps its deck takes.
    pub deck_empty_deeps: u32,
    /// What it may carry.
    pub payload: Kilograms,
    /// What a kilometre costs.
    pub cost_per_km: Cents,
}

/// How much of one kind of gear the outfit owns.
#[derive(Clone, Debug, PartialEq)]
pub struct DemoGear {
    /// Kind of gear.
    pub gear: GearCode,
    /// Pieces owned, wherever they are.
    pub owned: u32,
    /// Of these, pieces that stand on hives before the flow.
    pub on_hives_in_spring: u32,
}

/// A weather station.
#[derive(Clone, Debug, PartialEq)]
pub struct DemoStation {
    /// Short name.
    pub id: StationId,
    /// Name people say.
    pub name: String,
    /// Where it is.
    pub place: Place,
    /// Height above the sea.
    pub elevation: Metres,
    /// Days seen, without a hole: from 1 January three years ago to yesterday.
    pub seen: Vec<DemoWeather>,
    /// Forecast made this morning: today and the nine days after.
    pub forecast: Vec<DemoWeather>,
}

/// The weather of one day.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DemoWeather {
    /// The day.
    pub date: Date,
    /// Coldest of the day.
    pub tmin: Celsius,
    /// Warmest of the day.
    pub tmax: Celsius,
    /// Rain; snow as water.
    pub rain: Millimetres,
    /// Mean wind, 2 m above ground.
    pub wind: KilometresPerHour,
    /// Sun on flat ground.
    pub radiation: Megajoules,
}

/// How often a scale tells its weight.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ReadingPace {
    /// Every full hour.
    Hourly,
    /// Once, at ten in the evening.
    Nightly,
}

/// A scale under one colony.
#[derive(Clone, Debug, PartialEq)]
pub struct DemoScale {
    /// Short name.
    pub id: ScaleId,
    /// Yard it stands in.
    pub yard: YardId,
    /// How often it reads.
    pub pace: ReadingPace,
    /// Readings in order; one scale has holes where its battery failed.
    pub readings: Vec<DemoReading>,
    /// What people did to the hive on it, as they would recall: for checks of the scale reader.
    pub work: Vec<DemoScaleWork>,
}

/// One reading of a scale.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DemoReading {
    /// When.
    pub at: Timestamp,
    /// Gross weight.
    pub gross: Kilograms,
}

/// A step in the weight made by people.
#[derive(Clone, Debug, PartialEq)]
pub struct DemoScaleWork {
    /// When.
    pub at: Timestamp,
    /// Weight put on (or taken off, negative).
    pub change: Kilograms,
    /// What was done.
    pub what: &'static str,
}

/// A visit already made.
#[derive(Clone, Debug, PartialEq)]
pub struct DemoVisit {
    /// The day.
    pub date: Date,
    /// Where.
    pub yard: YardId,
    /// Who.
    pub crew: CrewId,
    /// When they began there, on the yard's clock.
    pub began: ClockTime,
    /// How long they were there.
    pub minutes: Minutes,
    /// What was done, with the counts of the tally.
    pub work: DemoWork,
}

/// What a visit did, with its counts.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum DemoWork {
    /// First look of the year.
    FirstLook {
        /// Colonies alive.
        alive: u32,
        /// Colonies dead over winter.
        dead: u32,
        /// Live colonies found light of food.
        light: u32,
    },
    /// Mite treatment put in; the outfit typed the label's days itself.
    TreatmentIn {
        /// Active ingredient.
        ingredient: &'static str,
        /// Colonies treated.
        colonies: u32,
        /// Lot printed on the packs, invented.
        lot: String,
    },
    /// Mite treatment taken out.
    TreatmentOut {
        /// Active ingredient.
        ingredient: &'static str,
        /// Colonies cleared of it.
        colonies: u32,
        /// Lot printed on the packs, invented.
        lot: String,
    },
    /// Bees of some colonies washed and mites counted.
    MiteWash {
        /// One row for each colony washed: bees, mites.
        washes: Vec<(u32, u32)>,
    },
    /// Second brood box put on.
    SecondBox {
        /// Boxes put on.
        boxes: u32,
    },
    /// Splits made, each with a mated queen.
    SplitsMade {
        /// Splits made and left here.
        made: u32,
    },
    /// Splits looked at two weeks later.
    SplitsChecked {
        /// Splits with eggs.
        laying: u32,
        /// Splits without a queen, shaken out.
        failed: u32,
    },
    /// Round against swarming.
    SwarmRound {
        /// Colonies looked into.
        looked: u32,
        /// Colonies with queen cells.
        with_cells: u32,
    },
    /// Put down: doubles to one brood chamber with the brood above the excluder, splits with two frames of brood above.
    PutDown {
        /// Doubles put down by blowing.
        doubles: u32,
        /// Splits given their two frames above.
        splits: u32,
        /// Excluders put on.
        excluders: u32,
        /// Thirds put on.
        thirds: u32,
        /// Hives left as they were: weak, or without a queen.
        left: u32,
    },
    /// Return about two weeks after a put-down.
    Return {
        /// Hives with a queen found above.
        queen_above: u32,
        /// Supers put on.
        supers: u32,
    },
}

/// What really goes on, for checks only.
#[derive(Clone, Debug, PartialEq)]
pub struct DemoTruth {
    /// Per yard group in the order of first mention: the day the flow began this year, when it did before today.
    pub flow_began: Vec<(String, Option<Date>)>,
    /// Per yard group: net gain of a strong colony for every day from 1 January to yesterday.
    pub gain: Vec<(String, Vec<KilogramsPerDay>)>,
}

impl DemoOutfit {
    /// Looks a yard up.
    pub fn yard(&self, id: &YardId) -> Option<&DemoYard> {
        self.yards.iter().find(|yard| yard.id == *id)
    }

    /// Days since a yard was put down; `None` when it has not been.
    pub fn days_since_put_down(&self, id: &YardId) -> Option<i64> {
        self.history
            .iter()
            .find(|visit| visit.yard == *id && matches!(visit.work, DemoWork::PutDown { .. }))
            .map(|visit| days_from(visit.date, self.today))
    }
}

/// Invents an outfit that stands at `today`.
///
/// ```
/// use jiff::civil::date;
/// use outyard_app::demo;
/// let outfit = demo::invent(7, date(2026, 7, 3));
/// assert_eq!(outfit.yards.len(), 40);
/// assert_eq!(outfit.yards.iter().map(|yard| yard.doubles).sum::<u32>(), 900);
/// assert_eq!(outfit, demo::invent(7, date(2026, 7, 3)));
/// ```
pub fn invent(seed: u64, today: Date) -> DemoOutfit {
    let valley = names::valley(seed);
    let home = land::home(seed, &valley);
    let yards = land::yards(seed, today, &home);
    let (crews, trucks) = crews::crews(seed);
    let attempt = flow::telling_year(seed, today, &yards, &home);
    let skies = weather::invent(seed, today, &home, attempt);
    let flow = flow::of_groups(&yards, &skies, today);
    let history = history::of_year(seed, today, &yards, &crews, home.place, &flow);
    let scales = scales::invent(seed, today, &yards, &flow, &history);
    DemoOutfit {
        seed,
        today,
        name: format!("{valley} Honey Yards"),
        valley,
        time_zone: land::TIME_ZONE,
        home,
        yards,
        crews,
        trucks,
        gear: crews::gear(),
        stations: skies.stations,
        scales,
        history,
        truth: flow.truth(),
    }
}
