//! What is turned away before any route sees it: other machines' names for this one (DNS rebinding), other pages that
//! write, callers without the role, callers who ask too often, requests that take too long, and too many at once.

use std::sync::Arc;
use std::time::{Duration, Instant};

use axum::body::Body;
use axum::extract::{DefaultBodyLimit, MatchedPath, Request, State};
use axum::http::{HeaderMap, HeaderName, HeaderValue, Method, StatusCode, header};
use axum::middleware::{Next, from_fn, from_fn_with_state};
use axum::response::{IntoResponse, Response};
use axum::{Extension, Router};
use tokio::sync::Semaphore;
use tower_http::catch_panic::CatchPanicLayer;
use tower_http::compression::CompressionLayer;
use tower_http::timeout::TimeoutBody;

use crate::door::{Caller, Door};
use crate::office::Office;
use crate::problem::Problem;
use crate::who::{Role, may};
use crate::{page, routes};

/// Largest request of a route that sets no limit of its own, in bytes. Assumed.
const BODY_MOST: usize = 2 * 1024 * 1024;

/// Content that may run on the page: its own files, nothing written into it.
pub(crate) const POLICY: &str = "default-src 'self'; script-src 'self'; style-src 'self'; \
    img-src 'self' data: blob:; connect-src 'self'; worker-src 'self' blob:; object-src 'none'; base-uri 'none'; \
    form-action 'self'; frame-ancestors 'none'";

/// Puts the keeper before the routes.
pub(crate) fn stand_before(router: Router<Arc<Office>>, office: Arc<Office>, door: &Arc<Door>) -> Router {
    let at_once = Arc::new(Semaphore::new(door.limits.at_once));
    router
        .route_layer(from_fn(by_role))
        .fallback(page::answer)
        .method_not_allowed_fallback(routes::wrong_method)
        .layer(DefaultBodyLimit::max(BODY_MOST))
        .layer(CompressionLayer::new())
        .layer(from_fn_with_state(Arc::clone(door), known))
        .layer(from_fn_with_state(Arc::clone(door), in_time))
        .layer(from_fn_with_state(at_once, not_too_many))
        .layer(from_fn_with_state(Arc::clone(door), own_name))
        .layer(Extension(Arc::clone(door)))
        .layer(CatchPanicLayer::custom(broken))
        .layer(from_fn(written_down))
        .with_state(office)
}

fn broken(_: Box<dyn std::any::Any + Send>) -> Response {
    Problem::new(
        StatusCode::INTERNAL_SERVER_ERROR,
        "SRV-015",
        "the server made a mistake",
        "nothing was half-written; report what was asked for",
    )
    .into_response()
}

/// Sees who calls, and that he does not ask too often.
async fn known(State(door): State<Arc<Door>>, request: Request, next: Next) -> Response {
    let (parts, body) = request.into_parts();
    let caller = match door.caller(&parts).await {
        Ok(caller) => caller,
        Err(problem) => return problem.into_response(),
    };
    if door.asks() && !door.rates.may(&caller.counted_as(), Instant::now()) {
        return Problem::new(
            StatusCode::TOO_MANY_REQUESTS,
            "SRV-013",
            "this caller asks too often",
            "ask again in a moment; nothing was written",
        )
        .into_response();
    }
    let mut request = Request::from_parts(parts, body);
    request.extensions_mut().insert(caller);
    next.run(request).await
}

/// Role by route.
async fn by_role(Extension(caller): Extension<Caller>, path: MatchedPath, request: Request, next: Next) -> Response {
    if may(caller.role, request.method().as_str(), path.as_str()) {
        return next.run(request).await;
    }
    if caller.role == Role::Stranger {
        return Problem::new(
            StatusCode::UNAUTHORIZED,
            "SRV-018",
            "the server does not know who calls",
            "give the owner's passphrase, or pair this device by a code from the office",
        )
        .into_response();
    }
    Problem::new(
        StatusCode::FORBIDDEN,
        "SRV-014",
        "this is not open to who calls",
        "ask the owner, or do it at the office machine",
    )
    .into_response()
}

/// A page of another machine can point its own name at this one; the name it asks for gives it away.
async fn own_name(State(door): State<Arc<Door>>, request: Request, next: Next) -> Response {
    let headers = request.headers();
    let asked = headers.get(header::HOST).and_then(|host| host.to_str().ok()).map(str::to_owned);
    let named = request.uri().authority().map(|authority| authority.as_str().to_owned()).or(asked);
    if !named.as_deref().is_some_and(|host| door.is_own_name(host)) {
        return Problem::new(
            StatusCode::FORBIDDEN,
            "SRV-004",
            "the server was asked under a name that is not its own",
            "open it as it says when it starts; other names are told to it with --name",
        )
        .into_response();
    }
    if !door.asks() && came_through_a_proxy(headers) {
        return Problem::new(
            StatusCode::FORBIDDEN,
            "SRV-017",
            "this came through a proxy, and this server takes whoever calls for the owner",
            "start it with --behind-proxy and the address browsers see",
        )
        .into_response();
    }
    let writes = !matches!(*request.method(), Method::GET | Method::HEAD | Method::OPTIONS);
    if writes && !is_from_own_page(&door, headers, named.as_deref().unwrap_or_default()) {
        return Problem::new(
            StatusCode::FORBIDDEN,
            "SRV-014",
            "another page tried to write here, or a program that does not say where it writes from",
            "close that page; a program names this server's own address as Origin",
        )
        .into_response();
    }
    next.run(request).await
}

fn came_through_a_proxy(headers: &HeaderMap) -> bool {
    ["forwarded", "x-forwarded-for", "x-forwarded-host", "x-forwarded-proto", "x-real-ip", "via"]
        .iter()
        .any(|name| headers.contains_key(*name))
}

/// Browsers say where a page that writes came from. Where a cookie opens the door, silence is no answer.
fn is_from_own_page(door: &Door, headers: &HeaderMap, host: &str) -> bool {
    let word = |name: HeaderName| headers.get(name).map(|value| value.to_str().unwrap_or("?"));
    let site = word(HeaderName::from_static("sec-fetch-site"));
    if site.is_some_and(|site| !matches!(site, "same-origin" | "none")) {
        return false;
    }
    match word(header::ORIGIN) {
        Some(origin) => door.is_own_page(origin, host),
        None => !door.asks() || site == Some("same-origin"),
    }
}

async fn not_too_many(State(at_once): State<Arc<Semaphore>>, request: Request, next: Next) -> Response {
    let Ok(_turn) = at_once.try_acquire() else {
        return Problem::new(
            StatusCode::TOO_MANY_REQUESTS,
            "SRV-013",
            "too many ask at once",
            "ask again in a moment; nothing was written",
        )
        .into_response();
    };
    next.run(request).await
}

/// A request must come without long silences, and be done in time; photos may take longer.
async fn in_time(State(door): State<Arc<Door>>, request: Request, next: Next) -> Response {
    let limits = door.limits;
    let is_file = *request.method() == Method::PUT && request.uri().path().starts_with("/api/v1/files/");
    let longest: Duration = if is_file { limits.longest_file } else { limits.longest };
    let request = request.map(|body| Body::new(TimeoutBody::new(limits.body_pause, body)));
    match tokio::time::timeout(longest, next.run(request)).await {
        Ok(response) => response,
        Err(_) => Problem::new(
            StatusCode::REQUEST_TIMEOUT,
            "SRV-008",
            "the request came too slowly or took too long",
            "ask again; what was sent twice under one name does no harm",
        )
        .into_response(),
    }
}

/// A path as it may stand in the log: without the secret of a feed's address.
fn without_secrets(path: &str) -> &str {
    if path.starts_with("/api/v1/feeds/by/") { "/api/v1/feeds/by/..." } else { path }
}

/// Headers every answer carries.
pub(crate) fn guard(headers: &mut HeaderMap) {
    for (name, value) in [
        (header::CONTENT_SECURITY_POLICY, POLICY),
        (header::X_CONTENT_TYPE_OPTIONS, "nosniff"),
        (header::X_FRAME_OPTIONS, "DENY"),
        (header::REFERRER_POLICY, "no-referrer"),
        (HeaderName::from_static("cross-origin-resource-policy"), "same-origin"),
        (HeaderName::from_static("cross-origin-opener-policy"), "same-origin"),
        (HeaderName::from_static("permissions-policy"), "geolocation=(self), camera=(self), microphone=()"),
    ] {
        headers.insert(name, HeaderValue::from_static(value));
    }
}

async fn written_down(request: Request, next: Next) -> Response {
    let started = Instant::now();
    let (method, path) = (request.method().clone(), request.uri().path().to_owned());
    let mut response = next.run(request).await;
    guard(response.headers_mut());
    tracing::info!(
        %method,
        path = without_secrets(&path),
        status = response.status().as_u16(),
        took_ms = started.elapsed().as_millis(),
        "answered"
    );
    response
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_log_holds_no_secret() {
        assert_eq!(without_secrets("/api/v1/feeds/by/0123abc/visits.ics"), "/api/v1/feeds/by/...");
        assert_eq!(without_secrets("/api/v1/feeds/visits.ics"), "/api/v1/feeds/visits.ics");
    }
}
