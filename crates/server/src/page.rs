//! The built page, embedded. `make web` builds it and hands it to `crates/server/page`; without it the server still
//! answers, with a plain page that says how to make it.
//!
//! Files whose name was made from their content (`assets/`) are kept by browsers for good; all others are asked for again
//! each time and answered with a mark.

use std::collections::BTreeMap;
use std::io::Write as _;
use std::sync::{LazyLock, OnceLock};

use axum::body::Bytes;
use axum::http::{HeaderMap, HeaderValue, Method, StatusCode, Uri, header};
use axum::response::{IntoResponse, Response};
use flate2::Compression;
use flate2::write::GzEncoder;
use rust_embed::RustEmbed;

use crate::problem::Problem;
use crate::routes::has;

/// What `make web` left in `crates/server/page`.
#[derive(RustEmbed)]
#[folder = "page/"]
#[exclude = ".*"]
struct Built;

const FIRST_PAGE: &str = "index.html";

const NOT_BUILT: &str = "<!doctype html><html lang=\"en\"><meta charset=\"utf-8\">\
    <meta name=\"viewport\" content=\"width=device-width\"><title>outyard</title>\
    <h1>The page is not built yet</h1>\
    <p>This outyard was built without its page. In its checkout, with Node 20.19, 22.12 or newer: <code>make web</code>, \
    then build outyard again.</p>\
    <p>The data are here: <a href=\"/api/v1/outfit\">the outfit</a>, <a href=\"/api/v1/morning\">this morning</a>, \
    <a href=\"/api/v1/openapi.json\">all there is</a>.</p></html>\n";

/// A file of the page.
struct Kept {
    bytes: Bytes,
    sort: HeaderValue,
    tag: String,
    /// Compressed the first time a browser asks for it so; `None` inside where that makes it no smaller.
    packed: OnceLock<Option<Bytes>>,
}

impl Kept {
    fn new(bytes: Vec<u8>, sort: &str, hash: [u8; 32]) -> Self {
        let tag = hash[..12].iter().fold(String::from("\""), |tag, byte| format!("{tag}{byte:02x}")) + "\"";
        Self {
            bytes: bytes.into(),
            sort: HeaderValue::from_str(sort).unwrap_or(HeaderValue::from_static("application/octet-stream")),
            tag,
            packed: OnceLock::new(),
        }
    }

    fn packed(&self) -> Option<Bytes> {
        self.packed.get_or_init(|| pack(&self.bytes).filter(|packed| packed.len() < self.bytes.len())).clone()
    }
}

fn pack(bytes: &[u8]) -> Option<Bytes> {
    let mut encoder = GzEncoder::new(Vec::new(), Compression::best());
    encoder.write_all(bytes).ok()?;
    encoder.finish().ok().map(Bytes::from)
}

/// Pages of the door, which stand without the built one.
pub(crate) const DOOR_STYLE: &str = include_str!("../pages/door.css");
const OF_THE_DOOR: [(&str, &str, &str); 3] = [
    ("pair", "text/html; charset=utf-8", include_str!("../pages/pair.html")),
    ("pair.js", "text/javascript; charset=utf-8", include_str!("../pages/pair.js")),
    ("door.css", "text/css; charset=utf-8", DOOR_STYLE),
];

static FILES: LazyLock<BTreeMap<String, Kept>> = LazyLock::new(|| {
    let of_the_door = OF_THE_DOOR.into_iter().map(|(name, sort, text)| {
        let hash = *outyard_book::ContentHash::of(text.as_bytes()).as_bytes();
        (name.to_owned(), Kept::new(text.as_bytes().to_vec(), sort, hash))
    });
    Built::iter()
        .filter_map(|name| {
            let file = Built::get(&name)?;
            let kept = Kept::new(file.data.into_owned(), &sort_of(&name), file.metadata.sha256_hash());
            Some((name.into_owned(), kept))
        })
        .chain(of_the_door)
        .collect()
});

static WITHOUT: LazyLock<Kept> = LazyLock::new(|| {
    let hash = *outyard_book::ContentHash::of(NOT_BUILT.as_bytes()).as_bytes();
    Kept::new(NOT_BUILT.as_bytes().to_vec(), "text/html; charset=utf-8", hash)
});

/// The type of a file, by its name. Browsers run a module only under a script's type.
fn sort_of(name: &str) -> String {
    let sort = mime_guess::from_path(name).first_or_octet_stream();
    match name.rsplit_once('.').map(|(_, ending)| ending) {
        Some("webmanifest") => "application/manifest+json".to_owned(),
        Some("mjs") => "text/javascript; charset=utf-8".to_owned(),
        _ if sort.type_() == mime_guess::mime::TEXT => format!("{sort}; charset=utf-8"),
        _ => sort.to_string(),
    }
}

/// Answers for whatever is no route: a file of the page, the page itself, or that there is no such thing.
pub(crate) async fn answer(method: Method, uri: Uri, headers: HeaderMap) -> Response {
    let path = uri.path().trim_start_matches('/');
    if path == "api" || path.starts_with("api/") || !matches!(method, Method::GET | Method::HEAD) {
        return nothing_at(path);
    }
    // Names that were made from their content never change.
    let lasting = path.starts_with("assets/");
    match FILES.get(path) {
        Some(file) => handed_out(file, lasting, &headers),
        // A file that is not there must not be answered with the page: a browser would take it for the file.
        None if lasting || path.rsplit('/').next().is_some_and(|name| name.contains('.')) => nothing_at(path),
        // The page finds its own way about.
        None => handed_out(FILES.get(FIRST_PAGE).unwrap_or(&WITHOUT), false, &headers),
    }
}

fn nothing_at(path: &str) -> Response {
    Problem::new(
        StatusCode::NOT_FOUND,
        "SRV-006",
        format!("there is nothing at /{}", path.chars().take(120).collect::<String>()),
        "the description of the interface lists what there is: /api/v1/openapi.json",
    )
    .into_response()
}

fn handed_out(file: &Kept, lasting: bool, asked: &HeaderMap) -> Response {
    let mut response = if has(asked, &file.tag) {
        StatusCode::NOT_MODIFIED.into_response()
    } else if let Some(packed) = takes_packed(asked).then(|| file.packed()).flatten() {
        ([(header::CONTENT_ENCODING, "gzip")], packed).into_response()
    } else {
        file.bytes.clone().into_response()
    };
    let headers = response.headers_mut();
    headers.insert(header::CONTENT_TYPE, file.sort.clone());
    headers.insert(header::VARY, HeaderValue::from_static("accept-encoding"));
    let keep = if lasting { "public, max-age=31536000, immutable" } else { "no-cache" };
    headers.insert(header::CACHE_CONTROL, HeaderValue::from_static(keep));
    if let Ok(tag) = HeaderValue::from_str(&file.tag) {
        headers.insert(header::ETAG, tag);
    }
    response
}

fn takes_packed(asked: &HeaderMap) -> bool {
    asked
        .get_all(header::ACCEPT_ENCODING)
        .iter()
        .filter_map(|taken| taken.to_str().ok())
        .flat_map(|taken| taken.split(','))
        .any(|taken| {
            let (name, weight) = taken.split_once(';').unwrap_or((taken, ""));
            name.trim().eq_ignore_ascii_case("gzip") && !matches!(weight.trim(), "q=0" | "q=0.0" | "q=0.00" | "q=0.000")
        })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_file_has_the_type_its_name_says() {
        for (name, sort) in [
            ("assets/desk-1.js", "text/javascript; charset=utf-8"),
            ("assets/worker-1.mjs", "text/javascript; charset=utf-8"),
            ("assets/desk-1.css", "text/css; charset=utf-8"),
            ("manifest.webmanifest", "application/manifest+json"),
            ("icon-192.png", "image/png"),
            ("icon.svg", "image/svg+xml"),
            ("what", "application/octet-stream"),
        ] {
            assert_eq!(sort_of(name), sort, "{name}");
        }
    }

    #[test]
    fn a_browser_gets_what_it_takes_and_nothing_twice() {
        let file = Kept::new(b"the same again ".repeat(100), "text/plain", [7; 32]);
        let asked = |name: header::HeaderName, value: &'static str| {
            HeaderMap::from_iter([(name, HeaderValue::from_static(value))])
        };
        let plain = handed_out(&file, true, &HeaderMap::new());
        assert!(!plain.headers().contains_key(header::CONTENT_ENCODING));
        assert_eq!(plain.headers()[header::CACHE_CONTROL], "public, max-age=31536000, immutable");
        let packed = handed_out(&file, false, &asked(header::ACCEPT_ENCODING, "br, gzip;q=0.8"));
        assert_eq!(packed.headers()[header::CONTENT_ENCODING], "gzip");
        assert!(file.packed().is_some_and(|packed| packed.len() < 100));
        assert!(!takes_packed(&asked(header::ACCEPT_ENCODING, "br, gzip;q=0")));
        let again = handed_out(&file, false, &asked(header::IF_NONE_MATCH, "\"070707070707070707070707\""));
        assert_eq!(again.status(), StatusCode::NOT_MODIFIED);
    }
}
