//! Feeds for programs that can show no cookie: each reads a secret address of its own, which can be taken back.

use std::sync::Arc;

use axum::extract::{Path, State};
use axum::http::{HeaderMap, StatusCode, Uri, header};
use axum::response::Response;
use axum::{Extension, Json};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::OnDay;
use super::feeds::{gpx_runs, map, visits};
use super::pairing::read_name;
use crate::accounts::FeedLinkView;
use crate::door::Door;
use crate::office::Office;
use crate::problem::{Asked, Outcome, Problem, Refusals, Told};

/// The feeds there are.
const FEEDS: [&str; 3] = ["visits.ics", "runs.gpx", "map.geojson"];

/// Which feed, and for what.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct FeedLinkAsked {
    /// `visits.ics`, `runs.gpx` or `map.geojson`.
    feed: String,
    /// What it is for, such as the calendar of a phone.
    #[schema(min_length = 1, max_length = 60)]
    name: String,
}

/// A secret address that was made.
#[derive(Serialize, ToSchema)]
pub(crate) struct FeedLinkMade {
    /// Its name, by which it is taken back.
    feed_link: String,
    /// The address. Whoever has it can read the feed; it is shown only now.
    url: String,
}

/// All secret addresses, without their secrets.
#[utoipa::path(get, path = "/api/v1/feeds/links", operation_id = "feed_links", tag = "feeds",
    responses((status = 200, description = "the links", body = Vec<FeedLinkView>), Refusals))]
pub(crate) async fn list(Extension(door): Extension<Arc<Door>>) -> Outcome<Json<Vec<FeedLinkView>>> {
    Ok(Json(door.accounts().feed_links().await?))
}

/// Makes a secret address for a feed.
#[utoipa::path(post, path = "/api/v1/feeds/links", tag = "feeds", request_body = FeedLinkAsked,
    responses((status = 200, description = "the link; it is shown only now", body = FeedLinkMade), Refusals))]
pub(crate) async fn make(
    Extension(door): Extension<Arc<Door>>,
    uri: Uri,
    headers: HeaderMap,
    Told(asked): Told<FeedLinkAsked>,
) -> Outcome<Json<FeedLinkMade>> {
    if !FEEDS.contains(&asked.feed.as_str()) {
        return Err(Problem::new(
            StatusCode::UNPROCESSABLE_ENTITY,
            "SRV-023",
            "there is no such feed",
            "visits.ics, runs.gpx or map.geojson",
        ));
    }
    let name = read_name(&asked.name)?;
    let host = uri.authority().map(|authority| authority.as_str().to_owned());
    let host = host.or_else(|| Some(headers.get(header::HOST)?.to_str().ok()?.to_owned())).unwrap_or_default();
    let (feed_link, token) = door.accounts().link_feed(&asked.feed, &name).await?;
    // On this machine alone, programs of this machine read it in the clear.
    let origin = door.origin_for(&host).unwrap_or_else(|| format!("http://{host}"));
    Ok(Json(FeedLinkMade { feed_link, url: format!("{origin}/api/v1/feeds/by/{token}/{}", asked.feed) }))
}

/// Takes a secret address back.
#[utoipa::path(delete, path = "/api/v1/feeds/links/{link}", tag = "feeds",
    params(("link" = String, Path, description = "the link's name")),
    responses((status = 204, description = "it opens nothing any more"), Refusals))]
pub(crate) async fn take_back(Extension(door): Extension<Arc<Door>>, Path(link): Path<String>) -> Outcome<StatusCode> {
    if door.accounts().unlink_feed(&link).await? { Ok(StatusCode::NO_CONTENT) } else { Err(opens_nothing()) }
}

fn opens_nothing() -> Problem {
    Problem::new(
        StatusCode::NOT_FOUND,
        "SRV-006",
        "this address opens nothing, or no longer",
        "make a new link at the office",
    )
}

/// A feed by its secret address.
#[utoipa::path(get, path = "/api/v1/feeds/by/{token}/{feed}", tag = "feeds",
    params(("token" = String, Path, description = "the secret"),
        ("feed" = String, Path, description = "visits.ics, runs.gpx or map.geojson")),
    responses(
        (status = 200, description = "the feed", content(
            (String = "text/calendar"), (String = "application/gpx+xml"), (String = "application/geo+json"))),
        (status = 304, description = "as it was"), Refusals))]
pub(crate) async fn read(
    State(office): State<Arc<Office>>,
    Extension(door): Extension<Arc<Door>>,
    Path((token, feed)): Path<(String, String)>,
    headers: HeaderMap,
) -> Outcome<Response> {
    if !FEEDS.contains(&feed.as_str()) || !door.accounts().opens_feed(&token, &feed).await? {
        return Err(opens_nothing());
    }
    let today = Asked(OnDay { on: None });
    match feed.as_str() {
        "visits.ics" => visits(State(office), today, headers).await,
        "runs.gpx" => gpx_runs(State(office), today, headers).await,
        _ => map(State(office), today, headers).await,
    }
}
