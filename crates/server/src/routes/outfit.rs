//! The outfit itself.

use std::sync::Arc;

use axum::extract::State;
use axum::http::HeaderMap;
use axum::response::Response;
use outyard_app::pages::outfit::{OutfitView, outfit_view};

use super::{Answer, OnDay, answer};
use crate::office::Office;
use crate::problem::{Asked, Outcome, Refusals};

/// The outfit: name, day, crews, trucks, jobs with their words and cautions, gear, kinds.
#[utoipa::path(get, path = "/api/v1/outfit", tag = "outfit", params(OnDay),
    responses((status = 200, description = "the outfit", body = Answer<OutfitView>),
        (status = 304, description = "as it was"), Refusals))]
pub(crate) async fn outfit(
    State(office): State<Arc<Office>>,
    Asked(day): Asked<OnDay>,
    headers: HeaderMap,
) -> Outcome<Response> {
    let morning = day.morning(&office).await?;
    answer(&office, &morning, &headers, || Ok(outfit_view(&morning.situation)))
}
