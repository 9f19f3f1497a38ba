//! The outfit itself: what changes seldom, with the jobs in the words of the job book.

use std::collections::BTreeMap;

use outyard_book::GearPlace;
use outyard_trade::Kind;
use outyard_trade::jobbook::{GearPer, Job, JobBook};
use serde::Serialize;

use crate::settings::Settings;
use crate::situation::Situation;
use crate::views::weekday_word;

/// A crew.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct CrewView {
    /// Its name.
    pub crew: String,
    /// How many people.
    pub hands: u32,
    /// Leaves no earlier.
    pub leave: String,
    /// Paid day without overtime.
    pub shift_min: i64,
    /// Longest day allowed.
    pub longest_min: i64,
    /// The truck it drives.
    pub truck: String,
    /// Weekdays off, in words.
    pub days_off: Vec<String>,
}

/// A truck.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct TruckView {
    /// Its name.
    pub truck: String,
    /// Room on deck, in empty deep boxes.
    pub deeps_empty: u32,
    /// What it may carry.
    pub payload_kg: f64,
}

/// A job of the job book.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct JobRuleView {
    /// Its code.
    pub job: String,
    /// Its name.
    pub name: String,
    /// What is done, in one sentence.
    pub does: String,
    /// Kinds of colony it is for, by their codes.
    pub kinds: Vec<String>,
    /// Minutes a pair needs at one colony, by kind.
    pub pair_minutes: BTreeMap<String, f64>,
    /// The weather it needs, in words.
    pub gate: String,
    /// Gear it takes out, by code and what one is counted for.
    pub gear_out: Vec<GearNeedView>,
    /// Gear it brings home.
    pub gear_home: Vec<GearNeedView>,
    /// What must be said where it is planned.
    pub cautions: Vec<String>,
    /// Where its rates come from.
    pub source: String,
}

/// What a job needs of one kind of gear.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct GearNeedView {
    /// The gear, by its code in the job book.
    pub gear: String,
    /// How many.
    pub count: f64,
    /// For each `colony`, `yard` or `crew`.
    pub per: &'static str,
}

/// A kind of gear.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct GearRuleView {
    /// Its code.
    pub gear: String,
    /// What it is in the shed and the ledger.
    pub counts_as: String,
    /// Its name on a list, in the plural.
    pub said: String,
    /// Planning weight of one.
    pub weight_kg: f64,
    /// Honey one holds on a hive, in full deeps; 0 for what is no honey box.
    pub holds_deeps: f64,
}

/// A word for a kind of colony.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct KindView {
    /// Its code.
    pub kind: &'static str,
    /// One of it.
    pub one: &'static str,
    /// Many of it.
    pub many: &'static str,
}

/// A point on the map.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct PlaceView {
    /// Degrees north.
    pub latitude: f64,
    /// Degrees east.
    pub longitude: f64,
}

/// The outfit.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct OutfitView {
    /// Its name.
    pub name: String,
    /// The morning it stands at.
    pub today: String,
    /// Weekday and date in words.
    pub said: String,
    /// Its clock, as the tz database spells it.
    pub zone: String,
    /// Where the trucks stand at night.
    pub home: PlaceView,
    /// Units of all weights, temperatures and lengths.
    pub units: UnitsView,
    /// Crews, in the order of the settings.
    pub crews: Vec<CrewView>,
    /// Trucks.
    pub trucks: Vec<TruckView>,
    /// Jobs of the job book.
    pub jobs: Vec<JobRuleView>,
    /// Gear of the job book.
    pub gear: Vec<GearRuleView>,
    /// Kinds of colony.
    pub kinds: Vec<KindView>,
    /// Plants whose bloom is reckoned, by their codes.
    pub plants: Vec<String>,
    /// Days runs are planned for.
    pub plan_days: usize,
    /// Days the season is looked ahead.
    pub season_days: usize,
    /// Yards kept.
    pub yards: usize,
    /// Colonies, in words.
    pub colonies: String,
    /// Entries in the book.
    pub entries: usize,
    /// How the outfit puts doubles down, by the code of the job.
    pub put_down_by: String,
    /// What must go along on every truck.
    pub always_on_truck: Vec<String>,
}

/// The units figures are told in.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct UnitsView {
    /// Of every weight.
    pub weight: &'static str,
    /// Of every temperature.
    pub temperature: &'static str,
    /// Of every road.
    pub length: &'static str,
    /// Money is told in hundredths.
    pub money: &'static str,
}

/// Every unit is metric; money has no country.
const UNITS: UnitsView = UnitsView { weight: "kg", temperature: "degC", length: "km", money: "cents" };

fn needs(job: &[outyard_trade::jobbook::GearNeed]) -> Vec<GearNeedView> {
    job.iter()
        .map(|need| GearNeedView {
            gear: need.gear.as_str().to_owned(),
            count: need.count,
            per: match need.per {
                GearPer::Colony => "colony",
                GearPer::Yard => "yard",
                GearPer::Crew => "crew",
            },
        })
        .collect()
}

/// A job of the job book as the faces show it.
pub fn job_rule_view(jobs: &JobBook, job: &Job) -> JobRuleView {
    JobRuleView {
        job: job.code.as_str().to_owned(),
        name: job.name.clone(),
        does: job.does.clone(),
        kinds: job.kinds.iter().map(|kind| kind.code().to_owned()).collect(),
        pair_minutes: job.pair_minutes.iter().map(|(kind, minutes)| (kind.code().to_owned(), *minutes)).collect(),
        gate: jobs.gate_of(job).limits(),
        gear_out: needs(&job.gear_out),
        gear_home: needs(&job.gear_home),
        cautions: job.cautions.clone(),
        source: job.source.clone(),
    }
}

/// Kinds of colony in words.
pub fn kind_views() -> Vec<KindView> {
    Kind::ALL.into_iter().map(|kind| KindView { kind: kind.code(), one: kind.label(1), many: kind.label(2) }).collect()
}

/// Gear of a job book.
pub fn gear_rule_views(jobs: &JobBook) -> Vec<GearRuleView> {
    jobs.gear
        .values()
        .map(|gear| GearRuleView {
            gear: gear.code.as_str().to_owned(),
            counts_as: gear.counts_as.as_str().to_owned(),
            said: gear.said.clone(),
            weight_kg: gear.weight.get(),
            holds_deeps: gear.holds_deeps,
        })
        .collect()
}

/// The crews of the settings.
pub fn crew_views(settings: &Settings) -> Vec<CrewView> {
    settings
        .crews
        .iter()
        .map(|crew| CrewView {
            crew: crew.id.as_str().to_owned(),
            hands: crew.hands,
            leave: crew.leave.to_string(),
            shift_min: crew.shift.get(),
            longest_min: crew.longest.get(),
            truck: crew.truck.as_str().to_owned(),
            days_off: crew.days_off.iter().map(|day| weekday_word(*day).to_owned()).collect(),
        })
        .collect()
}

/// The outfit as it stands this morning.
pub fn outfit_view(situation: &Situation) -> OutfitView {
    let Situation { settings, jobs, outfit, today, .. } = situation;
    OutfitView {
        name: settings.name.clone(),
        today: today.to_string(),
        said: format!("{} {}", crate::views::weekday(*today), outyard_base::range::day_month(*today)),
        zone: settings.zone_name.clone(),
        home: PlaceView { latitude: settings.home.latitude(), longitude: settings.home.longitude() },
        units: UNITS,
        crews: crew_views(settings),
        trucks: settings
            .trucks
            .iter()
            .map(|truck| TruckView {
                truck: truck.id.as_str().to_owned(),
                deeps_empty: truck.deeps_empty,
                payload_kg: truck.payload.kilograms().get(),
            })
            .collect(),
        jobs: jobs.jobs.values().map(|job| job_rule_view(jobs, job)).collect(),
        gear: gear_rule_views(jobs),
        kinds: kind_views(),
        plants: situation.plants.plants().iter().map(|plant| plant.code.as_str().to_owned()).collect(),
        plan_days: settings.outlook.plan_days,
        season_days: settings.outlook.days,
        yards: outfit.kept_yards().count(),
        colonies: outfit.colonies().to_string(),
        entries: outfit.entries,
        put_down_by: settings.put_down_by.as_str().to_owned(),
        always_on_truck: jobs.visit.always_on_truck.clone(),
    }
}

/// A place of gear as it is written in a request: `shed`, `truck:Red`, `hives:7`.
pub fn place_code(place: &GearPlace) -> String {
    match place {
        GearPlace::Shed => "shed".to_owned(),
        GearPlace::Truck(truck) => format!("truck:{truck}"),
        GearPlace::OnHives(yard) => format!("hives:{yard}"),
        GearPlace::LooseInYard(yard) => format!("yard:{yard}"),
        GearPlace::HotRoom => "hot-room".to_owned(),
        GearPlace::Wet => "wet".to_owned(),
        GearPlace::LentOut(name) => format!("lent:{name}"),
        GearPlace::Outside => "outside".to_owned(),
    }
}
