//! Gear by place, what the ledger cannot place, tallies that differ, and whether the boxes last.

use std::collections::BTreeMap;

use jiff::civil::Date;
use outyard_base::GearCode;
use outyard_book::ledger::Proposal;
use outyard_book::stock::{Cure, cheapest_cure, first_short_day, forecast_stock};
use outyard_book::{Entry, Fact, Tally};
use serde::Serialize;

use crate::pages::outfit::place_code;
use crate::pages::yards::by_kind;
use crate::plan::day_of;
use crate::situation::Situation;
use crate::work_out::{Worked, shed_gear};

/// Gear in one place.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct PlacedView {
    /// The place as it is written in a request: `shed`, `truck:Red`, `hives:7`, `yard:7`, `hot-room`, `wet`, `lent:NAME`.
    pub place: String,
    /// The place in words.
    pub said: String,
    /// How many.
    pub count: i64,
}

/// Gear the ledger cannot place.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct UnplacedView {
    /// How many; below nought when more was told of than there was.
    pub count: i64,
    /// Where it shows.
    pub place: String,
    /// In words.
    pub said: String,
    /// What would settle it.
    pub settle: String,
}

/// One kind of gear by place.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct GearPlacesView {
    /// The gear.
    pub gear: String,
    /// All there is.
    pub owned: i64,
    /// Ready to go out this morning.
    pub ready: i64,
    /// Where it is.
    pub places: Vec<PlacedView>,
    /// What the book cannot place.
    pub unplaced: Vec<UnplacedView>,
}

/// One of several tallies of a visit.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct ToldView {
    /// The entry.
    pub entry: String,
    /// Who wrote it.
    pub author: String,
    /// On which device.
    pub device: String,
    /// When.
    pub recorded_at: String,
    /// What it tells.
    pub tally: TallyView,
}

/// A tally.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct TallyView {
    /// The yard.
    pub yard: String,
    /// The planned visit it closes.
    pub visit: Option<String>,
    /// What was done to how many, job by job.
    pub jobs: Vec<TallyJobView>,
    /// Boxes put on hives.
    pub boxes_on: BTreeMap<String, u32>,
    /// Boxes taken off.
    pub boxes_off: BTreeMap<String, u32>,
    /// Boxes left loose in the yard.
    pub boxes_left: BTreeMap<String, u32>,
    /// Other gear put on hives.
    pub gear_put: BTreeMap<String, u32>,
    /// Other gear taken off.
    pub gear_taken: BTreeMap<String, u32>,
    /// Minutes at the yard.
    pub minutes: Option<i64>,
    /// People who worked.
    pub hands: Option<u32>,
    /// The truck.
    pub truck: Option<String>,
    /// How full the honey boxes stood, in percent.
    pub full_percent: Option<f64>,
    /// Dead, queenless, swarmed, weak.
    pub odd: OddView,
    /// Anything added.
    pub note: String,
}

/// Odd hives of a tally.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct OddView {
    /// Dead.
    pub dead: u32,
    /// Queenless.
    pub queenless: u32,
    /// Swarmed.
    pub swarmed: u32,
    /// Weak.
    pub weak: u32,
}

/// One job of a tally.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct TallyJobView {
    /// The job.
    pub job: String,
    /// Done, by kind.
    pub done: BTreeMap<String, u32>,
    /// Left undone, by kind.
    pub undone: BTreeMap<String, u32>,
}

/// A visit with two tallies that differ.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct DoubtView {
    /// The yard.
    pub yard: String,
    /// The day.
    pub on: String,
    /// The tallies, side by side.
    pub tallies: Vec<ToldView>,
    /// What would settle it, in words.
    pub proposal: String,
    /// The proposal can be accepted as it is.
    pub can_accept: bool,
}

/// All gear.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct GearView {
    /// By kind of gear.
    pub gear: Vec<GearPlacesView>,
    /// Visits with tallies that differ.
    pub in_doubt: Vec<DoubtView>,
    /// All gear has its place.
    pub balances: bool,
}

/// A tally as the faces show it.
pub fn tally_view(tally: &Tally) -> TallyView {
    let gear = |counts: &outyard_book::GearCounts| {
        counts.iter().map(|(gear, count)| (gear.as_str().to_owned(), count)).collect()
    };
    TallyView {
        yard: tally.yard.as_str().to_owned(),
        visit: tally.visit.clone(),
        jobs: tally
            .jobs
            .iter()
            .map(|line| TallyJobView {
                job: line.job.as_str().to_owned(),
                done: by_kind(&line.done),
                undone: by_kind(&line.undone),
            })
            .collect(),
        boxes_on: gear(&tally.boxes_on),
        boxes_off: gear(&tally.boxes_off),
        boxes_left: gear(&tally.boxes_left),
        gear_put: gear(&tally.gear_put),
        gear_taken: gear(&tally.gear_taken),
        minutes: tally.minutes.map(outyard_base::Minutes::get),
        hands: tally.hands,
        truck: tally.truck.as_ref().map(|truck| truck.as_str().to_owned()),
        full_percent: tally.fullness.map(|share| share.get() * 100.0),
        odd: OddView {
            dead: tally.odd.dead,
            queenless: tally.odd.queenless,
            swarmed: tally.odd.swarmed,
            weak: tally.odd.weak,
        },
        note: tally.note.clone(),
    }
}

/// Visits with tallies that differ, the tallies side by side.
pub fn doubt_views(situation: &Situation, entries: &[Entry]) -> Vec<DoubtView> {
    situation
        .outfit
        .ledger
        .doubts
        .iter()
        .map(|doubt| DoubtView {
            yard: doubt.conflict.yard.as_str().to_owned(),
            on: doubt.conflict.on.to_string(),
            tallies: doubt
                .conflict
                .tallies
                .iter()
                .filter_map(|id| entries.iter().find(|entry| entry.id == *id))
                .filter_map(|entry| match &entry.fact {
                    Fact::VisitClosed(tally) => Some(ToldView {
                        entry: entry.id.to_string(),
                        author: entry.author.clone(),
                        device: entry.device.as_str().to_owned(),
                        recorded_at: entry.recorded_at.to_string(),
                        tally: tally_view(tally),
                    }),
                    _ => None,
                })
                .collect(),
            proposal: doubt.proposal.to_string(),
            can_accept: matches!(doubt.proposal, Proposal::Settle { .. }),
        })
        .collect()
}

/// All gear by place.
pub fn gear_view(situation: &Situation, entries: &[Entry]) -> GearView {
    let ledger = &situation.outfit.ledger;
    GearView {
        gear: ledger
            .gear
            .iter()
            .map(|(gear, balance)| GearPlacesView {
                gear: gear.as_str().to_owned(),
                owned: balance.owned(),
                ready: situation.ready_to_go(gear),
                places: balance
                    .placed
                    .iter()
                    .map(|(place, count)| PlacedView {
                        place: place_code(place),
                        said: place.to_string(),
                        count: *count,
                    })
                    .collect(),
                unplaced: balance
                    .unplaced
                    .iter()
                    .map(|missing| UnplacedView {
                        count: missing.count,
                        place: place_code(&missing.place),
                        said: missing.to_string(),
                        settle: missing.proposal.to_string(),
                    })
                    .collect(),
            })
            .collect(),
        in_doubt: doubt_views(situation, entries),
        balances: ledger.unplaced().next().is_none(),
    }
}

/// Boxes on one day of the plan.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct StockDayView {
    /// The day.
    pub date: String,
    /// The day's runs want.
    pub need: u32,
    /// Wet supers that come back.
    pub returns: u32,
    /// Left in the evening.
    pub stock: u32,
    /// Short by.
    pub short: u32,
}

/// Whether a kind of gear lasts.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct AheadView {
    /// The gear of the shed.
    pub gear: String,
    /// All there is; nought when it was never counted.
    pub owned: i64,
    /// Ready this morning.
    pub ready: u32,
    /// Day by day.
    pub days: Vec<StockDayView>,
    /// First day it runs short.
    pub first_short: Option<String>,
    /// The cheapest cure: `not-needed`, `wet-supers-earlier` or `get-boxes`.
    pub cure: &'static str,
    /// Boxes to get, when that is the cure.
    pub boxes_to_get: u32,
    /// Days earlier the wet supers must be back, when that is the cure.
    pub days_earlier: Option<u32>,
}

/// What the plan's runs want of a kind of gear of the shed, day by day. Wet supers that come back are not foreseen yet.
pub fn need_by_day(situation: &Situation, worked: &Worked, gear: &GearCode, days: usize) -> Vec<(Date, u32, u32)> {
    let mut need = vec![0_u32; days];
    for run in &worked.planned.plan.runs {
        for &visit in &run.stops {
            for (code, count) in &worked.due[visit].gear_out.in_yards {
                if shed_gear(&situation.jobs, code) == gear
                    && let Some(of_day) = need.get_mut(run.day)
                {
                    *of_day = of_day.saturating_add(*count);
                }
            }
        }
    }
    need.into_iter().enumerate().map(|(day, need)| (day_of(situation.today, day), need, 0)).collect()
}

/// Whether a kind of gear lasts through the plan.
pub fn ahead_view(situation: &Situation, worked: &Worked, gear: &GearCode, days: usize) -> AheadView {
    let need = need_by_day(situation, worked, gear, days);
    let ready = u32::try_from(situation.ready_to_go(gear).max(0)).unwrap_or(u32::MAX);
    let plain: Vec<(u32, u32)> = need.iter().map(|(_, need, returns)| (*need, *returns)).collect();
    let forecast = forecast_stock(ready, &plain);
    let (cure, boxes_to_get, days_earlier) = match cheapest_cure(ready, &plain, 0) {
        Cure::NotNeeded => ("not-needed", 0, None),
        Cure::ReturnEarlier { days_earlier, .. } => ("wet-supers-earlier", 0, Some(days_earlier)),
        Cure::GetBoxes { boxes } => ("get-boxes", boxes, None),
    };
    AheadView {
        gear: gear.as_str().to_owned(),
        owned: situation.outfit.ledger.gear.get(gear).map_or(0, outyard_book::GearBalance::owned),
        ready,
        first_short: first_short_day(&forecast).map(|at| need[at].0.to_string()),
        days: need
            .iter()
            .zip(&forecast)
            .map(|((date, need, returns), day)| StockDayView {
                date: date.to_string(),
                need: *need,
                returns: *returns,
                stock: day.stock,
                short: day.short,
            })
            .collect(),
        cure,
        boxes_to_get,
        days_earlier,
    }
}
