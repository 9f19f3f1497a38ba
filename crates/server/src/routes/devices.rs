//! Devices that are let in, and how one is let out.

use std::sync::Arc;

use axum::extract::Path;
use axum::http::StatusCode;
use axum::{Extension, Json};

use crate::accounts::DeviceView;
use crate::door::Door;
use crate::problem::{Outcome, Problem, Refusals};

/// All that are let in, the newest first.
#[utoipa::path(get, path = "/api/v1/devices", operation_id = "devices", tag = "door",
    responses((status = 200, description = "the devices", body = Vec<DeviceView>), Refusals))]
pub(crate) async fn list(Extension(door): Extension<Arc<Door>>) -> Outcome<Json<Vec<DeviceView>>> {
    Ok(Json(door.accounts().devices().await?))
}

/// Lets a device out for good; with a reader's link, everybody who came by it.
#[utoipa::path(delete, path = "/api/v1/devices/{device}", tag = "door",
    params(("device" = String, Path, description = "the device's own name")),
    responses((status = 204, description = "it is out"), Refusals))]
pub(crate) async fn let_out(Extension(door): Extension<Arc<Door>>, Path(device): Path<String>) -> Outcome<StatusCode> {
    if !door.accounts().let_out(&device).await? {
        return Err(Problem::new(
            StatusCode::NOT_FOUND,
            "SRV-006",
            "no such device is let in",
            "the list of devices says which are",
        ));
    }
    door.somebody_was_let_out();
    tracing::info!(device, "let out");
    Ok(StatusCode::NO_CONTENT)
}
