//! Visits with two tallies that differ: side by side, and settled by a person.

use std::collections::BTreeMap;
use std::sync::Arc;

use axum::Json;
use axum::extract::{Path, State};
use axum::http::HeaderMap;
use axum::response::Response;
use outyard_app::closing::{settled_by, settlement};
use outyard_app::pages::gear::{DoubtView, doubt_views};
use outyard_base::{GearCode, YardId};
use outyard_book::EntryId;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::{Answer, answer};
use crate::office::Office;
use crate::problem::{Outcome, Refusals, Told, read_word};

/// Visits with tallies that differ, the tallies side by side.
#[utoipa::path(get, path = "/api/v1/doubts", operation_id = "doubts", tag = "book",
    responses((status = 200, description = "what is not settled", body = Answer<Vec<DoubtView>>),
        (status = 304, description = "as it was"), Refusals))]
pub(crate) async fn list(State(office): State<Arc<Office>>, headers: HeaderMap) -> Outcome<Response> {
    let morning = office.morning().await?;
    answer(&office, &morning, &headers, || Ok(doubt_views(&morning.situation, &morning.entries)))
}

/// How it is settled.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct SettleWords {
    /// Gear as agreed; the book's own proposal is taken when neither gear nor a tally is named.
    #[serde(default)]
    gear: BTreeMap<String, u32>,
    /// The tally that holds, by its entry, with all it tells.
    #[serde(default)]
    entry: Option<String>,
}

/// What became of it.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct Settled {
    /// The entry that settles it.
    entry: String,
}

/// Settles the tallies of a yard.
#[utoipa::path(post, path = "/api/v1/doubts/{yard}/settle", tag = "book", request_body = SettleWords,
    params(("yard" = String, Path, description = "the yard")),
    responses((status = 200, description = "settled", body = Settled), Refusals))]
pub(crate) async fn settle(
    State(office): State<Arc<Office>>,
    Path(yard): Path<String>,
    Told(words): Told<SettleWords>,
) -> Outcome<Json<Settled>> {
    let yard: YardId = read_word("yard", &yard)?;
    let gear: Vec<(GearCode, u32)> =
        words.gear.iter().map(|(gear, count)| Ok((read_word("gear", gear)?, *count))).collect::<Outcome<_>>()?;
    let morning = office.morning().await?;
    let holds = words.entry.as_deref().map(|entry| read_word::<EntryId>("entry", entry)).transpose()?;
    let (on, fact) = match holds {
        Some(entry) if gear.is_empty() => settled_by(&morning.situation, &morning.entries, &yard, entry)?,
        _ => settlement(&morning.situation, &morning.entries, &yard, &gear)?,
    };
    let entry = office.desk().entry(on, fact)?;
    office.append(std::slice::from_ref(&entry)).await?;
    Ok(Json(Settled { entry: entry.id.to_string() }))
}
