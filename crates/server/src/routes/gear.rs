//! Gear by place, and whether it lasts.

use std::sync::Arc;

use axum::extract::State;
use axum::http::HeaderMap;
use axum::response::Response;
use outyard_app::pages::gear::{AheadView, GearView, ahead_view, gear_view};
use outyard_app::pages::season::gear_wanted;

use super::{Answer, OnDay, answer};
use crate::office::Office;
use crate::problem::{Asked, Outcome, Refusals};

/// All gear by place, what the book cannot place, and tallies that differ.
#[utoipa::path(get, path = "/api/v1/gear", tag = "gear", params(OnDay),
    responses((status = 200, description = "the gear", body = Answer<GearView>),
        (status = 304, description = "as it was"), Refusals))]
pub(crate) async fn gear(
    State(office): State<Arc<Office>>,
    Asked(day): Asked<OnDay>,
    headers: HeaderMap,
) -> Outcome<Response> {
    let morning = day.morning(&office).await?;
    answer(&office, &morning, &headers, || Ok(gear_view(&morning.situation, &morning.entries)))
}

/// Whether each kind of gear lasts through the plan.
#[utoipa::path(get, path = "/api/v1/gear/ahead", tag = "gear", params(OnDay),
    responses((status = 200, description = "day by day", body = Answer<Vec<AheadView>>),
        (status = 304, description = "as it was"), Refusals))]
pub(crate) async fn ahead(
    State(office): State<Arc<Office>>,
    Asked(day): Asked<OnDay>,
    headers: HeaderMap,
) -> Outcome<Response> {
    let morning = day.morning(&office).await?;
    answer(&office, &morning, &headers, || {
        let worked = morning.worked()?;
        Ok(gear_wanted(&morning.situation, worked)
            .iter()
            .map(|gear| ahead_view(&morning.situation, worked, gear, morning.days))
            .collect::<Vec<AheadView>>())
    })
}
