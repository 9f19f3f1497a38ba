//! Striking out what was wrong; it stays in the book, struck.

use std::sync::Arc;

use axum::Json;
use axum::extract::State;
use outyard_app::closing::find_entry;
use outyard_book::{EntryId, Fact};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::office::Office;
use crate::problem::{Outcome, Refusals, Told, read_word};

/// What to strike out.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct StrikeWords {
    /// The entry.
    entry: String,
}

/// What became of it.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct Struck {
    /// The entry that strikes it out; strike that one to bring it back.
    entry: String,
    /// What was struck out.
    struck: String,
}

/// Strikes an entry out.
#[utoipa::path(post, path = "/api/v1/corrections/strike", tag = "book", request_body = StrikeWords,
    responses((status = 200, description = "struck", body = Struck), Refusals))]
pub(crate) async fn strike(State(office): State<Arc<Office>>, Told(words): Told<StrikeWords>) -> Outcome<Json<Struck>> {
    let id: EntryId = read_word("entry", &words.entry)?;
    let (book, _) = office.entries();
    let wrong = find_entry(&book, id)?;
    let entry = office.desk().entry(wrong.happened_on, Fact::Correction { of: id, instead: None })?;
    office.append(std::slice::from_ref(&entry)).await?;
    Ok(Json(Struck { entry: entry.id.to_string(), struck: id.to_string() }))
}
