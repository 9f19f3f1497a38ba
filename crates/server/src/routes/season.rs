//! The season drawn.

use std::sync::Arc;

use axum::extract::State;
use axum::http::HeaderMap;
use axum::response::Response;
use outyard_app::pages::season::{SeasonView, season_view};

use super::{Answer, OnDay, answer};
use crate::office::Office;
use crate::problem::{Asked, Outcome, Refusals};

/// All yards against days, with flow, work weather and boxes.
#[utoipa::path(get, path = "/api/v1/season", tag = "season", params(OnDay),
    responses((status = 200, description = "the season", body = Answer<SeasonView>),
        (status = 304, description = "as it was"), Refusals))]
pub(crate) async fn season(
    State(office): State<Arc<Office>>,
    Asked(day): Asked<OnDay>,
    headers: HeaderMap,
) -> Outcome<Response> {
    let morning = day.morning(&office).await?;
    answer(&office, &morning, &headers, || Ok(season_view(&morning.situation, morning.worked()?, morning.days)))
}
