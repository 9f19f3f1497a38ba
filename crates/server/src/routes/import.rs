//! A workbook taken in from the page: first looked at, with the column proposed for each field; written once a person
//! has said that it is right.

use std::sync::Arc;

use axum::body::{Body, Bytes};
use axum::extract::{DefaultBodyLimit, Request, State};
use axum::{Json, RequestExt};
use outyard_app::intake::workbook::against::against;
use outyard_app::intake::workbook::fields::Subject;
use outyard_app::intake::workbook::mapping::lay_over;
use outyard_app::intake::workbook::propose::{Wishes, propose};
use outyard_app::intake::workbook::values::Habits;
use outyard_app::pages::import::{ImportView, import_faults, import_view, take_for};
use outyard_app::ports::Store;
use outyard_base::YardId;
use outyard_book::Entry;
use outyard_tables::read::read_workbook;
use serde::Deserialize;
use utoipa::IntoParams;

use super::{Answer, as_of, note_views};
use crate::office::Office;
use crate::problem::{Asked, Outcome, Problem, Refusals, read_word, too_large};

/// Largest workbook the page takes in, in bytes. Assumed: ten years of daily weather are 1 MB; larger ones go in by the
/// command line.
const BYTES_MOST: usize = 16 * 1024 * 1024;

/// How a workbook is taken in.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub(crate) struct ImportWords {
    /// Name of the file.
    #[param(max_length = 200)]
    name: String,
    /// What it tells of, when the proposal is wrong: yards, counts, tallies, weather or scale.
    what: Option<String>,
    /// The yard of its readings, for a scale.
    yard: Option<String>,
    /// Columns chosen otherwise, one a line: `field=column`, by header or letters.
    #[param(max_length = 4000)]
    map: Option<String>,
    /// Write it; it is only looked at otherwise.
    #[serde(default)]
    write: bool,
}

/// What a workbook tells, and what of it is new in the book.
#[utoipa::path(post, path = "/api/v1/import", tag = "outfit", params(ImportWords),
    request_body(content = Vec<u8>, content_type = "application/octet-stream", description = "the file"),
    responses((status = 200, description = "looked at, or written", body = Answer<ImportView>), Refusals))]
pub(crate) async fn import(
    State(office): State<Arc<Office>>,
    Asked(words): Asked<ImportWords>,
    mut request: Request<Body>,
) -> Outcome<Json<Answer<ImportView>>> {
    DefaultBodyLimit::max(BYTES_MOST).apply(&mut request);
    let bytes: Bytes = request.extract().await.map_err(|_| too_large())?;
    let morning = office.morning().await?;
    let situation = &morning.situation;
    let (grids, mut notes) = read_workbook(&words.name, &bytes)?;
    let subject = words.what.as_deref().map(subject).transpose()?;
    let habits = Habits { decimal: None, dates: None };
    let mut sheets = propose(&grids, &Wishes { sheet: None, subject, habits, jobs: &situation.jobs });
    for choice in words.map.iter().flat_map(|map| map.lines()).filter(|line| !line.trim().is_empty()) {
        lay_over(choice, &grids, &mut sheets)?;
    }
    let stem = words.name.rsplit(['/', '\\']).next().unwrap_or_default();
    let stem = stem.rsplit_once('.').map_or(stem, |(stem, _)| stem);
    let yard = words.yard.as_deref().map(|yard| read_word::<YardId>("yard", yard)).transpose()?;
    for sheet in &mut sheets {
        if sheet.source.is_empty() {
            // A text file has no sheet names: its own name says where the readings are from.
            stem.clone_into(&mut sheet.source);
        }
        if let Some(yard) = &yard {
            yard.as_str().clone_into(&mut sheet.yard);
        }
    }
    let taken = match take_for(situation, &words.name, &grids, &sheets) {
        Ok(taken) => taken,
        Err(faults) if words.write => return Err(faults.into()),
        Err(faults) => {
            // Whoever puts faults right wants to see which column was taken for which.
            let view = import_faults(&sheets, &faults);
            return Ok(Json(Answer { answer: view, as_of: as_of(&office, &morning), notes: note_views(&notes) }));
        }
    };
    notes.extend(taken.notes.clone());
    let (book, _) = office.entries();
    let plan = against(&taken, &book, situation.today);
    notes.extend(plan.notes.clone());
    let mut written = 0;
    if words.write && !plan.write.is_empty() {
        let entries: Vec<Entry> =
            plan.write.iter().map(|one| office.desk().entry(one.on, one.told())).collect::<Result<_, _>>()?;
        for text in plan.write.iter().filter_map(|one| one.file.as_ref()) {
            office.with_store(async |store| store.keep_file(text.as_bytes()).await).await?;
        }
        written = office.append(&entries).await?.new;
    }
    let view = import_view(&sheets, &taken, &plan, written);
    Ok(Json(Answer { answer: view, as_of: as_of(&office, &morning), notes: note_views(&notes) }))
}

fn subject(word: &str) -> Outcome<Subject> {
    Subject::read(word).ok_or_else(|| {
        Problem::new(
            axum::http::StatusCode::BAD_REQUEST,
            "SRV-003",
            format!("what: a sheet cannot tell of {word}"),
            "say yards, counts, tallies, weather or scale",
        )
    })
}
