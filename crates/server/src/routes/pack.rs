//! What a phone takes along.

use std::sync::Arc;

use axum::extract::State;
use axum::http::HeaderMap;
use axum::response::Response;
use outyard_app::pages::pack::{PackView, pack_view};

use super::{Answer, OnDay, answer};
use crate::office::Office;
use crate::problem::{Asked, Outcome, Refusals};

/// Runs, yards, jobs, kinds and what combs mean: enough for days without signal.
#[utoipa::path(get, path = "/api/v1/phone/pack", tag = "phone", params(OnDay),
    responses((status = 200, description = "the pack", body = Answer<PackView>),
        (status = 304, description = "as it was"), Refusals))]
pub(crate) async fn pack(
    State(office): State<Arc<Office>>,
    Asked(day): Asked<OnDay>,
    headers: HeaderMap,
) -> Outcome<Response> {
    let morning = day.morning(&office).await?;
    answer(&office, &morning, &headers, || Ok(pack_view(&morning.situation, morning.worked()?)))
}
