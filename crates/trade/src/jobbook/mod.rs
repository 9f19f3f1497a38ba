//! The job book: what each job takes, as data the outfit can overwrite.
//!
//! The program carries a default book (`data/jobs.toml`). An outfit's own file is laid over it, field by field, so
//! that it need hold only what differs. Every rate in the default book is a starting value.
//!
//! | symbol | name in code | meaning | unit | value | source |
//! |---|---|---|---|---|---|
//! | m | `Job::pair_minutes` | work of a pair at one colony | min | by job and kind | job book |
//! | s | `VisitRules::setup_pair_minutes` | gate, smoke, wax test, packing, tally | min | 25 | assumed; handbooks 10 to 20, common practice |
//! | | `VisitRules::third_hand_saves` | part of the colony work a third hand saves a pair | of 1 | 0.25 | common practice, no source |
//! | | `VisitRules::one_hand_takes` | pairs' time one hand alone needs | times | 2.2 | assumed |
//! | | `VisitRules::spare` | more on the load than the count says | of 1 | 0.05 | common practice, no source |

mod fields;
mod read;
mod sums;
mod tree;

use std::collections::BTreeMap;

use jiff::civil::Date;
use outyard_base::{Cents, GearCode, JobCode, Kilograms, Share, Trouble};

use crate::clocks::ClockStart;
use crate::gate::WeatherGate;
use crate::kinds::{Kind, KindCounts};

pub use read::read_job_book;
pub use sums::{GearSum, LoadLine, Work, load_with_spare};

/// The default job book, as text.
pub const DEFAULT_JOB_BOOK: &str = include_str!("../../data/jobs.toml");

/// The file name troubles in the default book are reported under.
pub const DEFAULT_JOB_BOOK_NAME: &str = "default job book";

/// All jobs, gear, gates and figures the outfit works with.
#[derive(Clone, Debug, PartialEq)]
pub struct JobBook {
    /// What holds for every visit.
    pub visit: VisitRules,
    /// What things are worth.
    pub worth: Worth,
    /// Gear by code.
    pub gear: BTreeMap<GearCode, Gear>,
    /// Weather gates by code.
    pub gates: BTreeMap<String, WeatherGate>,
    /// Jobs by code.
    pub jobs: BTreeMap<JobCode, Job>,
}

/// What holds for every visit to a yard.
#[derive(Clone, Debug, PartialEq)]
pub struct VisitRules {
    /// Minutes at a yard before and after the colonies, whatever the crew.
    pub setup_pair_minutes: f64,
    /// Part of the colony work a third hand saves a pair.
    pub third_hand_saves: Share,
    /// How many times as long one hand alone needs. Nobody works alone in a yard; this is only for the sum.
    pub one_hand_takes: f64,
    /// What is loaded above the count, for gear that takes a spare.
    pub spare: Share,
    /// What is on every truck, whatever the job.
    pub always_on_truck: Vec<String>,
}

/// What things are worth: the figures behind every cost of waiting.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Worth {
    /// A kilogram of bulk honey.
    pub honey_per_kg: Cents,
    /// An hour of one hand.
    pub wage_per_hour: Cents,
    /// A kilometre of truck.
    pub road_per_km: Cents,
    /// Part of the gain that is lost once a colony has no room.
    pub lost_once_full: Share,
    /// Honey lost per day and double not put down while the flow runs.
    pub late_put_down_kg_per_day: f64,
    /// A day without boxes costs a split this much.
    pub late_brood_lift_kg_per_day: f64,
    /// Honey lost with a swarm.
    pub swarm_kg: Kilograms,
    /// Honey lost with a late queen, or a queen lost at the put-down.
    pub late_queen_kg: Kilograms,
    /// A colony lost in winter.
    pub winter_loss: Cents,
    /// A split not made.
    pub split_not_made_kg: Kilograms,
    /// Price of a box with combs.
    pub box_price: Cents,
    /// Net honey in a full deep box, for planning.
    pub full_deep_kg: Kilograms,
}

impl Worth {
    /// What that much honey is worth.
    pub fn of_honey(&self, honey: Kilograms) -> Cents {
        Cents::round_of(honey.get() * self.honey_per_kg.amount())
    }

    /// What a late or lost queen costs.
    pub fn late_queen(&self) -> Cents {
        self.of_honey(self.late_queen_kg)
    }
}

/// One sort of gear.
#[derive(Clone, Debug, PartialEq)]
pub struct Gear {
    /// Its code.
    pub code: GearCode,
    /// What it is in the shed and in the ledger: a third, an empty box and a full box are all deeps. Itself, when the
    /// book does not say.
    pub counts_as: GearCode,
    /// Its name on a load list, in the plural: `thirds`.
    pub said: String,
    /// Planning weight of one.
    pub weight: Kilograms,
    /// Deck room of one, in places of a deep box.
    pub box_places: f64,
    /// True when the load takes a spare share of it.
    pub takes_spare: bool,
    /// Honey one holds on a hive, in full deeps; 0 for what is no honey box.
    pub holds_deeps: f64,
}

/// What a count of gear goes by.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum GearPer {
    /// For every colony worked; stays in the yard or comes from it.
    Colony,
    /// For every yard.
    Yard,
    /// For every crew; comes home with it.
    Crew,
}

/// Gear a job takes out or brings home.
#[derive(Clone, Debug, PartialEq)]
pub struct GearNeed {
    /// Which gear.
    pub gear: GearCode,
    /// What the count goes by.
    pub per: GearPer,
    /// How many; a part of one is rounded up over the yard.
    pub count: f64,
    /// Only for these kinds; all kinds of the job when empty.
    pub kinds: Vec<Kind>,
}

/// A month and a day, in any year.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct MonthDay {
    /// Month, 1 to 12.
    pub month: i8,
    /// Day of the month; 29 February is read, and means 28 February in other years.
    pub day: i8,
}

impl MonthDay {
    /// Reads `06-15`; `None` when there is no such day in a leap year.
    pub fn read(text: &str) -> Option<Self> {
        let (month, day) = text.split_once('-')?;
        let number = |part: &str| {
            (part.len() == 2 && part.bytes().all(|byte| byte.is_ascii_digit())).then(|| part.parse::<i8>().ok())?
        };
        let (month, day) = (number(month)?, number(day)?);
        Date::new(2024, month, day).ok().map(|_| Self { month, day })
    }

    /// The date in a year.
    pub fn in_year(self, year: i16) -> Date {
        Date::new(year, self.month, self.day)
            .or_else(|_| Date::new(year, self.month, 28))
            .expect("only 29 February can be missing, and 28 is always there")
    }
}

/// The part of the year in which a job is due, whatever else is known. May run over the new year.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct SeasonWindow {
    /// First day.
    pub from: MonthDay,
    /// Last day.
    pub to: MonthDay,
}

impl SeasonWindow {
    /// True when the date lies within.
    pub fn holds(&self, date: Date) -> bool {
        let from = self.from.in_year(date.year());
        let to = self.to.in_year(date.year());
        if from <= to { from <= date && date <= to } else { date >= from || date <= to }
    }
}

/// What is done where a job cannot be finished, and how often.
#[derive(Clone, Debug, PartialEq)]
pub struct FallBack {
    /// The other job.
    pub job: JobCode,
    /// Part of the colonies at which it comes to that.
    pub share: Share,
}

/// One job: what is done to almost every colony of a yard on one visit.
#[derive(Clone, Debug, PartialEq)]
pub struct Job {
    /// Its code.
    pub code: JobCode,
    /// Its name on a page.
    pub name: String,
    /// What is done, in one sentence.
    pub does: String,
    /// Where its rates come from.
    pub source: String,
    /// Kinds of colony it is for.
    pub kinds: Vec<Kind>,
    /// Minutes a pair needs at one colony, by kind; holds every kind of `kinds`.
    pub pair_minutes: BTreeMap<Kind, f64>,
    /// When only some hives of a yard are opened: how many.
    pub sample_hives: Option<u32>,
    /// Part of the colonies at which it fails (queen missed or lost); 0 when that does not apply.
    pub fails: Share,
    /// The job done where this one cannot be finished.
    pub falls_back: Option<FallBack>,
    /// Gear that goes out.
    pub gear_out: Vec<GearNeed>,
    /// Gear that comes home.
    pub gear_home: Vec<GearNeed>,
    /// The weather gate, by its code in [`JobBook::gates`].
    pub gate: String,
    /// Clocks it starts.
    pub starts: Vec<ClockStart>,
    /// Times of year in which it is due; `None` when only a clock or a sign calls for it.
    pub season: Option<SeasonWindow>,
    /// What must be said where the job is planned.
    pub cautions: Vec<String>,
}

impl Job {
    /// The colonies of a yard it is for.
    pub fn colonies(&self, yard: &KindCounts) -> KindCounts {
        yard.only(&self.kinds)
    }
}

impl JobBook {
    /// The default book with nothing laid over it.
    pub fn standard() -> Self {
        read_job_book(DEFAULT_JOB_BOOK, None).expect("the default job book is tested")
    }

    /// A job by its code as typed.
    ///
    /// # Errors
    /// `TRD-010` with the codes there are.
    pub fn job(&self, code: &str) -> Result<&Job, Trouble> {
        self.jobs.values().find(|job| job.code.as_str() == code.trim()).ok_or_else(|| {
            let known: Vec<&str> = self.jobs.keys().map(JobCode::as_str).collect();
            Trouble::new(
                "TRD-010",
                format!("\"{}\" is no job of the job book", code.trim().chars().take(40).collect::<String>()),
                format!("the jobs are {}", known.join(", ")),
            )
        })
    }

    /// The weather gate of a job.
    pub fn gate_of(&self, job: &Job) -> &WeatherGate {
        self.gates.get(&job.gate).expect("every gate a job names was looked up when the book was read")
    }
}
