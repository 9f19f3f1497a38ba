//! Entries as phones send them: in batches, again and again until they are answered.

use std::collections::BTreeSet;
use std::sync::Arc;

use axum::Json;
use axum::extract::State;
use axum::http::StatusCode;
use outyard_app::ports::StoreError;
use outyard_base::Trouble;
use outyard_book::{Entry, wire};
use serde::{Deserialize, Serialize};
use serde_json::value::RawValue;
use utoipa::ToSchema;

use crate::office::Office;
use crate::problem::{Outcome, Problem, Refusals, Told, TroubleView};

/// Entries in one batch. Assumed: ten days of one phone.
const MOST: usize = 500;

/// A batch.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct Batch {
    /// Entries in the form of the book's lines: `format`, `id`, `device`, `author`,
    /// `happened_on`, `recorded_at`, `fact`, `with`.
    #[schema(value_type = Vec<Object>, max_items = 500)]
    entries: Vec<Box<RawValue>>,
}

/// What became of one entry.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct EntryOutcome {
    /// Its place in the batch, from 0.
    place: usize,
    /// Its name, if it could be read.
    entry: Option<String>,
    /// `new`, `known` when it was there already, or `refused`.
    outcome: &'static str,
    /// Why it was refused; sending it again will not help.
    trouble: Option<TroubleView>,
}

/// What became of a batch.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct BatchOutcome {
    /// Entry by entry, in the order of the batch.
    entries: Vec<EntryOutcome>,
    /// Written now.
    new: usize,
    /// There already.
    known: usize,
    /// Refused.
    refused: usize,
}

/// Keeps a batch. The same entry twice does no harm; one that is refused holds no other up.
#[utoipa::path(post, path = "/api/v1/entries", tag = "book", request_body = Batch,
    responses((status = 200, description = "what became of each", body = BatchOutcome), Refusals))]
pub(crate) async fn entries(
    State(office): State<Arc<Office>>,
    Told(batch): Told<Batch>,
) -> Outcome<Json<BatchOutcome>> {
    if batch.entries.len() > MOST {
        return Err(Problem::new(
            StatusCode::PAYLOAD_TOO_LARGE,
            "SRV-002",
            format!("{} entries are more than the {MOST} of one batch", batch.entries.len()),
            "send them in several batches",
        ));
    }
    let mut read: Vec<Result<Entry, Trouble>> =
        batch.entries.iter().map(|line| wire::read_line(line.get().as_bytes())).collect();
    let before = office.known(read.iter().filter_map(|entry| entry.as_ref().ok()).map(|entry| entry.id));
    loop {
        let good: Vec<Entry> = read.iter().filter_map(|entry| entry.as_ref().ok()).cloned().collect();
        if good.is_empty() {
            break;
        }
        let kept = office.with_store(async |store| {
            use outyard_app::ports::Store;
            Ok(store.append(&good).await)
        });
        match kept.await? {
            Ok(_) => break,
            Err(error @ (StoreError::SameName(id) | StoreError::Unkeepable { id, .. })) => {
                // All of that name step back; the others are tried again.
                for entry in &mut read {
                    if entry.as_ref().is_ok_and(|entry| entry.id == id) {
                        *entry = Err(error.clone().into());
                    }
                }
            }
            Err(error) => return Err(error.into()),
        }
    }
    office.look_again().await?;
    let mut seen = BTreeSet::new();
    let outcomes: Vec<EntryOutcome> = read
        .iter()
        .enumerate()
        .map(|(place, entry)| match entry {
            Ok(entry) => EntryOutcome {
                place,
                entry: Some(entry.id.to_string()),
                outcome: if before.contains(&entry.id) || !seen.insert(entry.id) { "known" } else { "new" },
                trouble: None,
            },
            Err(trouble) => {
                EntryOutcome { place, entry: None, outcome: "refused", trouble: Some(TroubleView::from(trouble)) }
            }
        })
        .collect();
    let count = |word: &str| outcomes.iter().filter(|one| one.outcome == word).count();
    let (new, known, refused) = (count("new"), count("known"), count("refused"));
    Ok(Json(BatchOutcome { entries: outcomes, new, known, refused }))
}
