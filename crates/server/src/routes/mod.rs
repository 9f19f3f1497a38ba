//! The routes, one file each, and what their answers share.

mod about;
mod book;
mod corrections;
mod devices;
mod doubts;
mod entries;
mod events;
mod feed_links;
mod feeds;
mod files;
mod gear;
mod import;
mod login;
mod morning;
mod outfit;
mod pack;
mod pairing;
mod replan;
mod season;
mod setup;
mod tables;
mod tally;
mod what_if;
mod yards;

use std::sync::Arc;

use axum::Json;
use axum::http::{HeaderMap, HeaderValue, StatusCode, header};
use axum::response::{IntoResponse, Response};
use outyard_base::Note;
use serde::{Deserialize, Serialize};
use utoipa::openapi::{ComponentsBuilder, InfoBuilder, OpenApiBuilder};
use utoipa::{IntoParams, ToSchema};
use utoipa_axum::router::OpenApiRouter;
use utoipa_axum::routes;

use crate::office::{Morning, Office};
use crate::problem::{Problem, ProblemView, SpotView, TroubleView};

/// All routes with their description.
pub(crate) fn all() -> OpenApiRouter<Arc<Office>> {
    let info = InfoBuilder::new()
        .title("outyard")
        .version("1")
        .description(Some("The outfit over HTTP. Weights in kg, money in cents, days as year-month-day."))
        .build();
    // Refusals are named by every route and described once.
    let refusals = ComponentsBuilder::new()
        .schema_from::<ProblemView>()
        .schema_from::<TroubleView>()
        .schema_from::<SpotView>()
        .build();
    OpenApiRouter::with_openapi(OpenApiBuilder::new().info(info).components(Some(refusals)).build())
        .routes(routes!(about::about))
        .routes(routes!(login::me))
        .routes(routes!(login::login))
        .routes(routes!(login::logout))
        .routes(routes!(pairing::pair))
        .routes(routes!(pairing::codes))
        .routes(routes!(devices::list))
        .routes(routes!(devices::let_out))
        .routes(routes!(feed_links::list, feed_links::make))
        .routes(routes!(feed_links::take_back))
        .routes(routes!(feed_links::read))
        .routes(routes!(about::health))
        .routes(routes!(about::open_api))
        .routes(routes!(outfit::outfit, setup::begin))
        .routes(routes!(import::import))
        .routes(routes!(morning::morning))
        .routes(routes!(morning::runs))
        .routes(routes!(replan::replan))
        .routes(routes!(what_if::what_if))
        .routes(routes!(yards::list))
        .routes(routes!(yards::one))
        .routes(routes!(yards::outlook))
        .routes(routes!(season::season))
        .routes(routes!(gear::gear))
        .routes(routes!(gear::ahead))
        .routes(routes!(book::book))
        .routes(routes!(entries::entries))
        .routes(routes!(tally::tally))
        .routes(routes!(corrections::strike))
        .routes(routes!(doubts::list))
        .routes(routes!(doubts::settle))
        .routes(routes!(files::keep, files::fetch))
        .routes(routes!(events::events))
        .routes(routes!(pack::pack))
        .routes(routes!(feeds::visits))
        .routes(routes!(feeds::gpx_runs))
        .routes(routes!(feeds::map))
        .routes(routes!(tables::table))
}

/// A method the route does not know.
pub(crate) async fn wrong_method() -> Problem {
    Problem::new(
        StatusCode::METHOD_NOT_ALLOWED,
        "SRV-007",
        "this cannot be done here",
        "the description of the interface lists what can: /api/v1/openapi.json",
    )
}

/// Which morning is asked for.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
#[serde(deny_unknown_fields)]
pub(crate) struct OnDay {
    /// The morning to stand at, instead of today: year-month-day.
    pub(crate) on: Option<String>,
}

impl OnDay {
    /// The morning asked for.
    pub(crate) async fn morning(&self, office: &Arc<Office>) -> Result<Arc<Morning>, Problem> {
        let on = self.on.as_deref().map(|on| crate::problem::read_day("on", on)).transpose()?;
        office.morning_of(on).await
    }
}

/// What an answer rests on.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub(crate) struct AsOf {
    /// The morning it stands at.
    pub(crate) morning: String,
    /// When it was worked out.
    pub(crate) worked_at: String,
    /// Entries that arrived since and are not in it yet; it is being worked out anew when there are any.
    pub(crate) entries_behind: i64,
}

/// Something worth knowing about the data behind an answer.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub(crate) struct NoteView {
    /// Stable code.
    pub(crate) code: String,
    /// In words.
    pub(crate) text: String,
}

/// An answer with what it rests on.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub(crate) struct Answer<T> {
    /// The answer.
    #[expect(clippy::struct_field_names, reason = "the command line calls it so")]
    pub(crate) answer: T,
    /// What it rests on.
    pub(crate) as_of: AsOf,
    /// What is worth knowing.
    pub(crate) notes: Vec<NoteView>,
}

pub(crate) fn as_of(office: &Office, morning: &Morning) -> AsOf {
    AsOf {
        morning: morning.situation.today.to_string(),
        worked_at: morning.at.to_string(),
        entries_behind: (office.entries().1 - morning.cursor).max(0),
    }
}

pub(crate) fn note_views(notes: &[Note]) -> Vec<NoteView> {
    notes.iter().map(|note| NoteView { code: note.code.to_owned(), text: note.text.clone() }).collect()
}

/// An answer with its mark; only the mark when the caller has it already.
pub(crate) fn answer<T: Serialize>(
    office: &Office,
    morning: &Morning,
    headers: &HeaderMap,
    view: impl FnOnce() -> Result<T, Problem>,
) -> Result<Response, Problem> {
    let behind = as_of(office, morning);
    let tag = format!("{}b{}\"", morning.tag().trim_end_matches('"'), behind.entries_behind);
    if has(headers, &tag) {
        return Ok(tagged(StatusCode::NOT_MODIFIED.into_response(), &tag));
    }
    let whole = Answer { answer: view()?, as_of: behind, notes: note_views(morning.notes()) };
    Ok(tagged(Json(whole).into_response(), &tag))
}

/// Whether the caller has what a mark names.
pub(crate) fn has(headers: &HeaderMap, tag: &str) -> bool {
    let bare = |tag: &str| tag.trim().trim_start_matches("W/").to_owned();
    headers
        .get_all(header::IF_NONE_MATCH)
        .iter()
        .filter_map(|held| held.to_str().ok())
        .flat_map(|held| held.split(','))
        .any(|held| held.trim() == "*" || bare(held) == bare(tag))
}

/// Puts a mark on an answer.
pub(crate) fn tagged(mut response: Response, tag: &str) -> Response {
    if let Ok(tag) = HeaderValue::from_str(tag) {
        response.headers_mut().insert(header::ETAG, tag);
    }
    response.headers_mut().insert(header::CACHE_CONTROL, HeaderValue::from_static("private, no-cache"));
    response
}
