//! The book: search and pages.

use std::sync::Arc;

use axum::Json;
use axum::extract::State;
use axum::http::{HeaderMap, StatusCode};
use axum::response::{IntoResponse, Response};
use outyard_app::pages::book::{EntryView, entry_views};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};

use super::{has, tagged};
use crate::office::Office;
use crate::problem::{Asked, Outcome, Problem, Refusals};

/// Entries of a page when no number is asked for.
const USUAL: usize = 50;
/// Entries of a page at most.
const MOST: usize = 500;

/// Which entries.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub(crate) struct BookWords {
    /// Only of this yard.
    yard: Option<String>,
    /// Only those with this text, whatever its case.
    #[param(max_length = 100)]
    search: Option<String>,
    /// Only of this sort of fact.
    fact: Option<String>,
    /// Read on from here: `next` of the page before.
    cursor: Option<String>,
    /// How many.
    #[param(minimum = 1, maximum = 500)]
    limit: Option<usize>,
}

/// A page of the book, the latest first.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct BookPage {
    /// The entries.
    entries: Vec<EntryView>,
    /// Entries that were asked for, on all pages.
    all: usize,
    /// Read on from here; none on the last page.
    next: Option<String>,
}

/// Entries, the latest first.
#[utoipa::path(get, path = "/api/v1/book", tag = "book", params(BookWords),
    responses((status = 200, description = "a page of the book", body = BookPage),
        (status = 304, description = "as it was"), Refusals))]
pub(crate) async fn book(
    State(office): State<Arc<Office>>,
    Asked(words): Asked<BookWords>,
    headers: HeaderMap,
) -> Outcome<Response> {
    let bad_cursor = || {
        Problem::new(StatusCode::BAD_REQUEST, "SRV-011", "the cursor is none of this book", "begin again without one")
    };
    let limit = words.limit.unwrap_or(USUAL);
    if !(1..=MOST).contains(&limit) {
        return Err(Problem::new(
            StatusCode::BAD_REQUEST,
            "SRV-003",
            format!("limit: {limit} is outside 1 to {MOST}"),
            "ask for less at once",
        ));
    }
    let (entries, cursor) = office.entries();
    let tag = format!("\"book-{cursor}\"");
    if has(&headers, &tag) {
        return Ok(tagged(StatusCode::NOT_MODIFIED.into_response(), &tag));
    }
    let mut views = entry_views(entries.iter(), &entries);
    let search = words.search.as_deref().map(str::to_lowercase);
    views.retain(|view| {
        words.yard.as_ref().is_none_or(|yard| view.yard.as_ref() == Some(yard))
            && words.fact.as_ref().is_none_or(|fact| view.fact == *fact)
            && search.as_ref().is_none_or(|search| {
                view.said.to_lowercase().contains(search) || view.author.to_lowercase().contains(search)
            })
    });
    let key = |view: &EntryView| format!("{} {} {}", view.happened_on, view.recorded_at, view.entry);
    views.sort_by_key(|view| std::cmp::Reverse(key(view)));
    let all = views.len();
    let start = match &words.cursor {
        None => 0,
        // A cursor names the last entry of the page before; entries that arrive meanwhile move nothing.
        Some(last) => views.iter().position(|view| view.entry == *last).ok_or_else(bad_cursor)? + 1,
    };
    let page: Vec<EntryView> = views.into_iter().skip(start).take(limit).collect();
    let next = page.last().filter(|_| start + page.len() < all).map(|last| last.entry.clone());
    Ok(tagged(Json(BookPage { entries: page, all, next }).into_response(), &tag))
}
