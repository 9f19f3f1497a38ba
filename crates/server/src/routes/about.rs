//! What this server is, whether it is well, and what can be asked.

use std::sync::Arc;

use axum::extract::State;
use axum::http::{HeaderValue, header};
use axum::response::{IntoResponse, Response};
use axum::{Extension, Json};
use serde::Serialize;
use utoipa::ToSchema;

use crate::door::Caller;
use crate::office::{News, Office};
use crate::problem::{Outcome, Refusals};

/// What this server is.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct AboutView {
    /// The program.
    program: &'static str,
    /// Its version.
    version: &'static str,
    /// Name of the outfit.
    outfit: String,
    /// The morning it stands at.
    today: String,
    /// What the caller may do: `owner`, `crew`, `honey-house` or `reader`.
    role: &'static str,
}

/// What this server is.
#[utoipa::path(get, path = "/api/v1/about", tag = "server",
    responses((status = 200, description = "what it is", body = AboutView), Refusals))]
pub(crate) async fn about(
    State(office): State<Arc<Office>>,
    Extension(caller): Extension<Caller>,
) -> Outcome<Json<AboutView>> {
    let settings = office.desk().settings()?;
    Ok(Json(AboutView {
        program: "outyard",
        version: env!("CARGO_PKG_VERSION"),
        outfit: settings.name,
        today: office.desk().today().to_string(),
        role: caller.role.code(),
    }))
}

/// Whether it is well.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct HealthView {
    /// The book can be read.
    book: bool,
    /// How far the book and the morning have come.
    news: News,
}

/// Whether it is well.
#[utoipa::path(get, path = "/api/v1/health", tag = "server",
    responses((status = 200, description = "how it is", body = HealthView), Refusals))]
pub(crate) async fn health(State(office): State<Arc<Office>>) -> Json<HealthView> {
    use outyard_app::ports::{Cursor, Store};
    let book = office.with_store(async |store| store.read_since(Cursor::START, 1).await).await.is_ok();
    let news = *office.listen().borrow();
    Json(HealthView { book, news })
}

/// The description of the interface.
#[utoipa::path(get, path = "/api/v1/openapi.json", tag = "server",
    responses((status = 200, description = "OpenAPI 3.1", content_type = "application/json"), Refusals))]
pub(crate) async fn open_api() -> Response {
    let mut response = crate::open_api().into_response();
    response.headers_mut().insert(header::CONTENT_TYPE, HeaderValue::from_static("application/json"));
    response
}
