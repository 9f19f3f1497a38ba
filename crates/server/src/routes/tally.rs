//! A visit closed, as a form tells it.

use std::collections::BTreeMap;
use std::sync::Arc;

use axum::Json;
use axum::extract::State;
use axum::http::StatusCode;
use outyard_app::closing::{faults_of, find_entry, is_known, nothing_said, put_right, says_nothing, take_out_known};
use outyard_app::tally::{gear_counts, jobs_done, read_odd};
use outyard_base::{GearCode, Minutes, Share, TruckId};
use outyard_book::{EntryId, Fact, Tally};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::office::Office;
use crate::problem::{Outcome, Problem, Refusals, Told, read_day, read_word};

/// A job and its colonies by kind.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct JobTold {
    /// The job, by its code.
    job: String,
    /// Colonies by the code of their kind.
    colonies: BTreeMap<String, u32>,
}

/// A visit as it was.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct TallyTold {
    /// Name of the entry (a UUID of version 7), so that sending it twice does no harm.
    #[serde(default)]
    entry: Option<String>,
    /// The entry whose tally this puts right.
    #[serde(default)]
    corrects: Option<String>,
    /// The yard.
    yard: String,
    /// The day, when it was not today: year-month-day.
    #[serde(default)]
    on: Option<String>,
    /// The planned visit it closes.
    #[serde(default)]
    visit: Option<String>,
    /// What was done.
    #[serde(default)]
    done: Vec<JobTold>,
    /// What was left undone.
    #[serde(default)]
    undone: Vec<JobTold>,
    /// Odd hives: dead, queenless, swarmed, weak.
    #[serde(default)]
    odd: BTreeMap<String, u32>,
    /// Boxes put on hives, by gear.
    #[serde(default)]
    boxes_on: BTreeMap<String, u32>,
    /// Boxes taken off.
    #[serde(default)]
    boxes_off: BTreeMap<String, u32>,
    /// Boxes left loose in the yard.
    #[serde(default)]
    boxes_left: BTreeMap<String, u32>,
    /// Other gear put on hives.
    #[serde(default)]
    gear_put: BTreeMap<String, u32>,
    /// Other gear taken off.
    #[serde(default)]
    gear_taken: BTreeMap<String, u32>,
    /// How full the honey boxes stood, in percent.
    #[serde(default)]
    #[schema(minimum = 0, maximum = 100)]
    full_percent: Option<f64>,
    /// Minutes at the yard.
    #[serde(default)]
    #[schema(minimum = 0, maximum = 1440)]
    minutes: Option<u16>,
    /// People who worked.
    #[serde(default)]
    #[schema(minimum = 1, maximum = 30)]
    hands: Option<u32>,
    /// The truck the gear came on.
    #[serde(default)]
    truck: Option<String>,
    /// Anything worth adding.
    #[serde(default)]
    #[schema(max_length = 2000)]
    note: String,
    /// Who writes.
    #[serde(default)]
    #[schema(max_length = 60)]
    author: Option<String>,
}

/// What became of it.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct TallyOutcome {
    /// The entry, or the one that said the same before.
    entry: String,
    /// It was in the book already; nothing was doubled.
    known: bool,
}

fn words(told: &[JobTold]) -> Vec<String> {
    told.iter()
        .map(|told| {
            let counts: Vec<String> = told.colonies.iter().map(|(kind, count)| format!("{kind}={count}")).collect();
            format!("{}:{}", told.job, counts.join(","))
        })
        .collect()
}

fn gear(counts: &BTreeMap<String, u32>) -> Outcome<Vec<(GearCode, u32)>> {
    /// The most of one kind of gear a tally tells, as on the command line.
    const MOST: u32 = 1_000_000;
    counts
        .iter()
        .map(|(gear, count)| {
            if *count > MOST {
                return Err(outside(&format!("{gear}: {count} is past {MOST}")));
            }
            Ok((read_word("gear", gear)?, *count))
        })
        .collect()
}

fn outside(why: &str) -> Problem {
    Problem::new(StatusCode::UNPROCESSABLE_ENTITY, "TLY-009", why, "correct the number")
}

/// Closes a visit.
#[utoipa::path(post, path = "/api/v1/tally", tag = "book", request_body = TallyTold,
    responses((status = 200, description = "written, or known already", body = TallyOutcome), Refusals))]
pub(crate) async fn tally(
    State(office): State<Arc<Office>>,
    Told(told): Told<TallyTold>,
) -> Outcome<Json<TallyOutcome>> {
    let morning = office.morning().await?;
    let situation = &morning.situation;
    let odd: Vec<String> = told.odd.iter().map(|(what, count)| format!("{what}={count}")).collect();
    if told.full_percent.is_some_and(|percent| !(0.0..=100.0).contains(&percent)) {
        return Err(outside("full_percent is outside 0 to 100"));
    }
    if told.minutes.is_some_and(|minutes| minutes > 1440) || told.hands.is_some_and(|hands| !(1..=30).contains(&hands))
    {
        return Err(outside("minutes are outside 0 to 1440 or hands outside 1 to 30"));
    }
    if told.note.chars().count() > 2000 || told.author.as_ref().is_some_and(|author| author.chars().count() > 60) {
        return Err(outside("the note is longer than 2000 letters or the author longer than 60"));
    }
    let tally = Tally {
        visit: told.visit.clone(),
        jobs: jobs_done(&situation.jobs, &words(&told.done), &words(&told.undone))?,
        odd: read_odd(&odd)?,
        boxes_on: gear_counts(&gear(&told.boxes_on)?),
        boxes_off: gear_counts(&gear(&told.boxes_off)?),
        boxes_left: gear_counts(&gear(&told.boxes_left)?),
        gear_put: gear_counts(&gear(&told.gear_put)?),
        gear_taken: gear_counts(&gear(&told.gear_taken)?),
        fullness: told.full_percent.map(|percent| Share::of(percent / 100.0)),
        minutes: told.minutes.map(|minutes| Minutes(i64::from(minutes))),
        hands: told.hands,
        truck: told.truck.as_deref().map(|truck| read_word::<TruckId>("truck", truck)).transpose()?,
        note: told.note.clone(),
        ..Tally::new(read_word("yard", &told.yard)?)
    };
    if says_nothing(&tally) {
        return Err(nothing_said().into());
    }
    let given = told.on.as_deref().map(|on| read_day("on", on)).transpose()?;
    let on = given.unwrap_or(situation.today);
    let faults = faults_of(situation, on, &tally);
    if !faults.is_empty() {
        return Err(faults.into());
    }
    let (book, _) = office.entries();
    let desk = match &told.author {
        Some(author) => office.desk().by(author),
        None => office.desk().clone(),
    };
    let mut entry = match told.corrects.as_deref() {
        Some(wrong) => {
            let (known_on, fact) = put_right(&book, read_word("corrects", wrong)?, tally)?;
            desk.entry(given.unwrap_or(known_on), fact)?
        }
        None => desk.entry(on, Fact::VisitClosed(tally))?,
    };
    if let Some(name) = told.entry.as_deref() {
        entry.id = read_word::<EntryId>("entry", name)?;
        if let Ok(known) = find_entry(&book, entry.id) {
            is_known(known, &entry)?;
            return Ok(Json(TallyOutcome { entry: known.id.to_string(), known: true }));
        }
    } else if told.corrects.is_none() {
        let mut one = vec![entry.clone()];
        if let Some(known) = take_out_known(&mut one, &book).first() {
            return Ok(Json(TallyOutcome { entry: known.to_string(), known: true }));
        }
    }
    let appended = office.append(std::slice::from_ref(&entry)).await?;
    Ok(Json(TallyOutcome { entry: entry.id.to_string(), known: appended.new == 0 }))
}
