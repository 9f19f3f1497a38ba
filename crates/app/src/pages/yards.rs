//! Yards: the list, and one yard's page.

use std::collections::BTreeMap;

use jiff::civil::Date;
use outyard_base::ids::in_reading_order;
use outyard_base::{JobCode, Trouble, YardId};
use outyard_book::{Entry, Yard};
use outyard_trade::KindCounts;
use outyard_trade::clocks::DatedMark;
use serde::Serialize;

use crate::day::{YardSheet, yard_sheet};
use crate::pages::book::{EntryView, entry_views, yard_of};
use crate::replanning::running_clocks;
use crate::situation::Situation;
use crate::views::LoadView;

/// One yard of the list.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct YardLine {
    /// The yard.
    pub yard: String,
    /// What people call it.
    pub name: String,
    /// Group of yards it belongs to.
    pub group: String,
    /// Degrees north.
    pub latitude: Option<f64>,
    /// Degrees east.
    pub longitude: Option<f64>,
    /// Gate, key, dog.
    pub gate: String,
    /// Bad road after rain.
    pub wet_road: bool,
    /// Owner of the land.
    pub landowner: String,
    /// Plants round it, by their codes.
    pub forage: Vec<String>,
    /// Colonies by kind.
    pub colonies: BTreeMap<String, u32>,
    /// Colonies, in words.
    pub said: String,
    /// Day of the last count.
    pub counted_on: Option<String>,
    /// Day of the last put-down.
    pub put_down_on: Option<String>,
    /// Day of the last visit.
    pub last_visit: Option<String>,
    /// Gear on hives, by code.
    pub on_hives: BTreeMap<String, i64>,
    /// Gear loose in the yard.
    pub loose: BTreeMap<String, i64>,
    /// How full the boxes stood when last looked into, in percent.
    pub full_percent: Option<f64>,
}

/// A clock mark with its dates.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct ClockView {
    /// Stable name.
    pub code: String,
    /// Its name on a page.
    pub name: String,
    /// First day.
    pub from: String,
    /// The day to plan with.
    pub best: String,
    /// Last day; none when it stays true.
    pub to: Option<String>,
    /// What is true then and what to do.
    pub means: String,
    /// Where the days come from.
    pub source: String,
}

impl ClockView {
    /// From a dated mark.
    pub fn of(dated: &DatedMark) -> Self {
        Self {
            code: dated.mark.code.to_owned(),
            name: dated.mark.name.to_owned(),
            from: dated.from.to_string(),
            best: dated.best.to_string(),
            to: dated.to.map(|date| date.to_string()),
            means: dated.mark.meaning.to_owned(),
            source: dated.mark.source.to_owned(),
        }
    }
}

/// The clocks a put-down started.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct RunningView {
    /// Day 0.
    pub put_down_on: String,
    /// Its marks.
    pub clocks: Vec<ClockView>,
}

/// A job and its colonies.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct SheetJobView {
    /// The job.
    pub job: String,
    /// Colonies by kind.
    pub counts: BTreeMap<String, u32>,
    /// Colonies, in words.
    pub colonies: String,
}

/// What the put-down of a yard takes.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct SheetView {
    /// Minutes at the yard.
    pub minutes: i64,
    /// Hands they are reckoned for.
    pub hands: u32,
    /// The jobs.
    pub jobs: Vec<SheetJobView>,
    /// Load list for this yard alone.
    pub load: Vec<LoadView>,
    /// Clocks that start when it is done today.
    pub clocks: Vec<ClockView>,
    /// Cautions.
    pub cautions: Vec<String>,
}

/// One yard.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct YardPage {
    /// How it stands.
    pub stands: YardLine,
    /// Clocks that run.
    pub running: Vec<RunningView>,
    /// What putting it down today would take; none when nothing stands there to be put down.
    pub put_down: Option<SheetView>,
    /// Entries that tell of it, the latest first.
    pub history: Vec<EntryView>,
}

/// Entries of a yard shown on its page.
const HISTORY_MOST: usize = 100;

/// Colonies by the code of their kind.
pub fn by_kind(counts: &KindCounts) -> BTreeMap<String, u32> {
    counts.iter().map(|(kind, count)| (kind.code().to_owned(), count)).collect()
}

fn told(date: Option<Date>) -> Option<String> {
    date.map(|date| date.to_string())
}

/// One yard of the list.
pub fn yard_line(id: &YardId, yard: &Yard) -> YardLine {
    let gear = |counts: &BTreeMap<outyard_base::GearCode, i64>| {
        counts.iter().map(|(gear, count)| (gear.as_str().to_owned(), *count)).collect()
    };
    YardLine {
        yard: id.as_str().to_owned(),
        name: yard.kept.name.clone(),
        group: yard.kept.group.clone(),
        latitude: yard.kept.place.map(outyard_base::Place::latitude),
        longitude: yard.kept.place.map(outyard_base::Place::longitude),
        gate: yard.kept.gate.clone(),
        wet_road: yard.kept.wet_road,
        landowner: yard.kept.landowner.clone(),
        forage: yard.kept.forage.iter().map(|forage| forage.plant.clone()).collect(),
        colonies: by_kind(&yard.colonies),
        said: yard.colonies.to_string(),
        counted_on: told(yard.counted_on),
        put_down_on: told(yard.last_put_down().map(|(date, _)| date)),
        last_visit: told(yard.last_visit()),
        on_hives: gear(&yard.on_hives),
        loose: gear(&yard.loose),
        full_percent: yard.fullness.map(|(_, share)| share.get() * 100.0),
    }
}

/// All yards kept, in reading order.
pub fn yard_lines(situation: &Situation) -> Vec<YardLine> {
    let mut yards: Vec<_> = situation.outfit.kept_yards().collect();
    yards.sort_by(|left, right| in_reading_order(left.0.as_str(), right.0.as_str()));
    yards.into_iter().map(|(id, yard)| yard_line(id, yard)).collect()
}

/// A yard that is kept.
///
/// # Errors
/// `YRD-005`.
pub fn find_yard<'a>(situation: &'a Situation, yard: &YardId) -> Result<&'a Yard, Trouble> {
    situation.outfit.yards.get(yard).filter(|yard| yard.given_up.is_none()).ok_or_else(|| {
        Trouble::new(
            "YRD-005",
            format!("the book knows of no yard {yard}"),
            "correct its name, or import it; `outyard yards` lists them",
        )
    })
}

fn sheet_view(sheet: &YardSheet, hands: u32) -> SheetView {
    SheetView {
        minutes: sheet.minutes.get(),
        hands,
        jobs: sheet
            .jobs
            .iter()
            .map(|(job, colonies)| SheetJobView {
                job: job.as_str().to_owned(),
                counts: by_kind(colonies),
                colonies: colonies.to_string(),
            })
            .collect(),
        load: sheet
            .load
            .iter()
            .map(|line| LoadView {
                comes_home: sheet.gear.with_crew.contains_key(&line.gear),
                gear: line.gear.as_str().to_owned(),
                said: line.said.clone(),
                needed: line.needed,
                load: line.load,
                weight_kg: line.weight.get(),
            })
            .collect(),
        clocks: sheet.clocks.iter().map(ClockView::of).collect(),
        cautions: sheet.cautions.clone(),
    }
}

/// What putting a yard down today would take; `None` when nothing stands there to be put down.
///
/// # Errors
/// `TRD-010` when the job is not in the job book.
pub fn put_down_sheet(
    situation: &Situation,
    id: &YardId,
    yard: &Yard,
    by: &JobCode,
    hands: u32,
) -> Result<Option<SheetView>, Trouble> {
    match yard_sheet(&situation.jobs, id, &yard.colonies, by, hands, situation.today) {
        Ok(sheet) => Ok(Some(sheet_view(&sheet, hands))),
        Err(trouble) if trouble.code == "DAY-001" => Ok(None),
        Err(trouble) => Err(trouble),
    }
}

/// The page of one yard.
///
/// # Errors
/// `YRD-005` no such yard.
pub fn yard_page(situation: &Situation, entries: &[Entry], id: &YardId, hands: u32) -> Result<YardPage, Trouble> {
    let yard = find_yard(situation, id)?;
    let mut history = entry_views(entries.iter().filter(|entry| yard_of(&entry.fact) == Some(id)), entries);
    history.sort_by(|left, right| {
        (&right.happened_on, &right.recorded_at, &right.entry).cmp(&(&left.happened_on, &left.recorded_at, &left.entry))
    });
    history.truncate(HISTORY_MOST);
    Ok(YardPage {
        stands: yard_line(id, yard),
        running: running_views(yard, situation.today),
        put_down: put_down_sheet(situation, id, yard, &situation.settings.put_down_by, hands)?,
        history,
    })
}

/// Clocks of a yard that run.
pub fn running_views(yard: &Yard, today: Date) -> Vec<RunningView> {
    running_clocks(yard, today)
        .into_iter()
        .map(|(day0, marks)| RunningView {
            put_down_on: day0.to_string(),
            clocks: marks.iter().map(ClockView::of).collect(),
        })
        .collect()
}
