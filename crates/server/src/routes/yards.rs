//! Yards: the list, one of them, and its outlook.

use std::sync::Arc;

use axum::extract::{Path, State};
use axum::http::HeaderMap;
use axum::response::Response;
use outyard_app::outlook::{OutlookParts, YardView, yard_view};
use outyard_app::pages::yards::{YardLine, YardPage, find_yard, yard_lines, yard_page};
use outyard_base::{Trouble, YardId};

use super::{Answer, OnDay, answer};
use crate::office::Office;
use crate::problem::{Asked, Outcome, Refusals, read_word};

/// All yards, with what stands there.
#[utoipa::path(get, path = "/api/v1/yards", operation_id = "yards", tag = "yards", params(OnDay),
    responses((status = 200, description = "the yards", body = Answer<Vec<YardLine>>),
        (status = 304, description = "as it was"), Refusals))]
pub(crate) async fn list(
    State(office): State<Arc<Office>>,
    Asked(day): Asked<OnDay>,
    headers: HeaderMap,
) -> Outcome<Response> {
    let morning = day.morning(&office).await?;
    answer(&office, &morning, &headers, || Ok(yard_lines(&morning.situation)))
}

/// One yard: how it stands, its clocks, what putting it down would take, its history.
#[utoipa::path(get, path = "/api/v1/yards/{yard}", tag = "yards", params(("yard" = String, Path, description = "the yard"), OnDay),
    responses((status = 200, description = "the yard", body = Answer<YardPage>),
        (status = 304, description = "as it was"), Refusals))]
pub(crate) async fn one(
    State(office): State<Arc<Office>>,
    Path(yard): Path<String>,
    Asked(day): Asked<OnDay>,
    headers: HeaderMap,
) -> Outcome<Response> {
    let id: YardId = read_word("yard", &yard)?;
    let morning = day.morning(&office).await?;
    answer(&office, &morning, &headers, || {
        let hands = morning.situation.settings.crews.first().map_or(2, |crew| crew.hands);
        Ok(yard_page(&morning.situation, &morning.entries, &id, hands)?)
    })
}

/// Flow, bloom and filling of one yard.
#[utoipa::path(get, path = "/api/v1/outlook/{yard}", tag = "yards", params(("yard" = String, Path, description = "the yard"), OnDay),
    responses((status = 200, description = "its outlook", body = Answer<YardView>),
        (status = 304, description = "as it was"), Refusals))]
pub(crate) async fn outlook(
    State(office): State<Arc<Office>>,
    Path(yard): Path<String>,
    Asked(day): Asked<OnDay>,
    headers: HeaderMap,
) -> Outcome<Response> {
    let id: YardId = read_word("yard", &yard)?;
    let morning = day.morning(&office).await?;
    answer(&office, &morning, &headers, || {
        find_yard(&morning.situation, &id)?;
        let worked = morning.worked()?;
        let (Some(yard), Some(stacks), Some(ahead)) =
            (worked.yards.get(&id), worked.stacks.get(&id), worked.seasons.get(&id))
        else {
            return Err(Trouble::new(
                "ROD-001",
                format!("nobody knows where yard {id} is, so it has no outlook"),
                "give its place: latitude and longitude",
            )
            .into());
        };
        Ok(yard_view(&morning.situation, &id, &OutlookParts { yard, stacks, ahead, due: &worked.due }))
    })
}
