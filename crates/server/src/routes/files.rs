//! Photos and other files, kept under the hash of their content. The name in the address is a hash and nothing else, so no
//! path can be smuggled in it.

use std::sync::Arc;

use axum::Json;
use axum::body::Bytes;
use axum::extract::{DefaultBodyLimit, Path, Request, State};
use axum::http::{HeaderValue, StatusCode, header};
use axum::response::{IntoResponse, Response};
use axum::{RequestExt, body::Body};
use outyard_app::ports::Store;
use outyard_book::ContentHash;
use serde::Serialize;
use utoipa::ToSchema;

use crate::office::Office;
use crate::problem::{Outcome, Problem, Refusals, read_word, too_large};

/// Largest file a phone may send, in bytes. Assumed: a photo as phones make them.
const BYTES_MOST: usize = 16 * 1024 * 1024;

/// What became of a file.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct FileKept {
    /// Its name: the SHA-256 of its content.
    hash: String,
    /// Its size.
    bytes: usize,
}

/// Keeps a file. The same file again does no harm.
#[utoipa::path(put, path = "/api/v1/files/{hash}", tag = "phone",
    params(("hash" = String, Path, description = "SHA-256 of the content, in hex")),
    request_body(content = Vec<u8>, content_type = "application/octet-stream"),
    responses((status = 200, description = "kept", body = FileKept), Refusals))]
pub(crate) async fn keep(
    State(office): State<Arc<Office>>,
    Path(hash): Path<String>,
    mut request: Request<Body>,
) -> Outcome<Json<FileKept>> {
    let named: ContentHash = read_word("hash", &hash)?;
    DefaultBodyLimit::max(BYTES_MOST).apply(&mut request);
    let bytes: Bytes = request.extract().await.map_err(|_| too_large())?;
    if ContentHash::of(&bytes) != named {
        return Err(Problem::new(
            StatusCode::UNPROCESSABLE_ENTITY,
            "SRV-012",
            "the file is not what its name says",
            "send it again; it was cut short or changed on the way",
        ));
    }
    office.with_store(async |store| store.keep_file(&bytes).await).await?;
    Ok(Json(FileKept { hash: named.to_string(), bytes: bytes.len() }))
}

/// Hands a kept file out.
#[utoipa::path(get, path = "/api/v1/files/{hash}", tag = "phone",
    params(("hash" = String, Path, description = "SHA-256 of the content, in hex")),
    responses((status = 200, description = "the file", content_type = "application/octet-stream"), Refusals))]
pub(crate) async fn fetch(State(office): State<Arc<Office>>, Path(hash): Path<String>) -> Outcome<Response> {
    let named: ContentHash = read_word("hash", &hash)?;
    let bytes = office.with_store(async |store| store.file(&named).await).await?.ok_or_else(|| {
        Problem::new(
            StatusCode::NOT_FOUND,
            "SRV-006",
            "no such file is kept here",
            "exchange with the device that took it",
        )
    })?;
    let mut response = bytes.into_response();
    let headers = response.headers_mut();
    headers.insert(header::CONTENT_TYPE, HeaderValue::from_static("application/octet-stream"));
    headers.insert(header::CONTENT_DISPOSITION, HeaderValue::from_static("attachment"));
    headers.insert(header::CACHE_CONTROL, HeaderValue::from_static("private, max-age=31536000, immutable"));
    Ok(response)
}
