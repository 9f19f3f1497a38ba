//! The built page, embedded. Building it is the page's own business; without it the server still answers, with a plain
//! page that says how to build it.

use axum::http::{HeaderValue, Method, StatusCode, Uri, header};
use axum::response::{Html, IntoResponse, Response};
use rust_embed::RustEmbed;

use crate::problem::Problem;

/// What the page's own build left in `crates/server/page`.
#[derive(RustEmbed)]
#[folder = "page/"]
struct Built;

const NOT_BUILT: &str = "<!doctype html><html lang=\"en\"><meta charset=\"utf-8\"><title>outyard</title>\
    <h1>The page is not built yet</h1>\
    <p>This outyard was built without its page. In its checkout: <code>make web</code>, then build outyard again.</p>\
    <p>The data are here: <a href=\"/api/v1/outfit\">the outfit</a>, <a href=\"/api/v1/morning\">this morning</a>, \
    <a href=\"/api/v1/openapi.json\">all there is</a>.</p></html>";

/// Answers for whatever is no route: a file of the page, the page itself, or that there is no such thing.
pub(crate) async fn answer(method: Method, uri: Uri) -> Response {
    let path = uri.path().trim_start_matches('/');
    if path.starts_with("api/") || !matches!(method, Method::GET | Method::HEAD) {
        return Problem::new(
            StatusCode::NOT_FOUND,
            "SRV-006",
            format!("there is nothing at /{}", path.chars().take(120).collect::<String>()),
            "the description of the interface lists what there is: /api/v1/openapi.json",
        )
        .into_response();
    }
    // Names that were made from their content never change.
    let lasting = path.starts_with("assets/");
    match Built::get(path) {
        Some(file) if path != "index.html" => {
            let mut response = file.data.into_owned().into_response();
            let sort = HeaderValue::from_str(file.metadata.mimetype());
            let headers = response.headers_mut();
            headers.insert(
                header::CONTENT_TYPE,
                sort.unwrap_or_else(|_| HeaderValue::from_static("application/octet-stream")),
            );
            let keep = if lasting { "public, max-age=31536000, immutable" } else { "no-cache" };
            headers.insert(header::CACHE_CONTROL, HeaderValue::from_static(keep));
            response
        }
        _ if lasting => StatusCode::NOT_FOUND.into_response(),
        // The page finds its own way about.
        _ => {
            let html = Built::get("index.html").map(|file| String::from_utf8_lossy(&file.data).into_owned());
            let mut response = Html(html.unwrap_or_else(|| NOT_BUILT.to_owned())).into_response();
            response.headers_mut().insert(header::CACHE_CONTROL, HeaderValue::from_static("no-cache"));
            response
        }
    }
}
