//! What is turned away before any route sees it: other machines' names for this one (DNS rebinding), other pages that
//! write, callers without the role, requests that take too long, and too many at once.

use std::sync::Arc;
use std::time::{Duration, Instant};

use axum::Router;
use axum::extract::{DefaultBodyLimit, MatchedPath, Request, State};
use axum::http::{HeaderName, HeaderValue, Method, StatusCode, header};
use axum::middleware::{Next, from_fn, from_fn_with_state};
use axum::response::{IntoResponse, Response};
use tokio::sync::Semaphore;
use tower_http::catch_panic::CatchPanicLayer;
use tower_http::compression::CompressionLayer;

use crate::office::Office;
use crate::problem::Problem;
use crate::who::{Role, may};
use crate::{page, routes};

/// Largest request of a route that sets no limit of its own, in bytes. Assumed.
const BODY_MOST: usize = 2 * 1024 * 1024;
/// Longest a request may take, its body's arrival included. Assumed: longer than any sum of a large outfit.
const LONGEST: Duration = Duration::from_mins(1);
/// Requests worked on at once; more are told to come again. Assumed.
const AT_ONCE: usize = 512;

/// Content that may run on the page: its own files, nothing written into it.
const POLICY: &str = "default-src 'self'; script-src 'self'; style-src 'self'; img-src 'self' data: blob:; \
    connect-src 'self'; worker-src 'self' blob:; object-src 'none'; base-uri 'none'; form-action 'self'; \
    frame-ancestors 'none'";

/// Puts the keeper before the routes.
pub(crate) fn stand_before(router: Router<Arc<Office>>, office: Arc<Office>) -> Router {
    let at_once = Arc::new(Semaphore::new(AT_ONCE));
    router
        .route_layer(from_fn(by_role))
        .fallback(page::answer)
        .method_not_allowed_fallback(routes::wrong_method)
        .layer(DefaultBodyLimit::max(BODY_MOST))
        .layer(CompressionLayer::new())
        .layer(from_fn(in_time))
        .layer(from_fn_with_state(at_once, not_too_many))
        .layer(from_fn(own_name))
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

/// Role by route. On loopback whoever calls sits at the machine and is its owner.
async fn by_role(path: MatchedPath, request: Request, next: Next) -> Response {
    let role = request.extensions().get::<Role>().copied().unwrap_or(Role::Owner);
    if may(role, request.method().as_str(), path.as_str()) {
        return next.run(request).await;
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
async fn own_name(request: Request, next: Next) -> Response {
    let asked = request.headers().get(header::HOST).and_then(|host| host.to_str().ok()).map(str::to_owned);
    let named = request.uri().authority().map(|authority| authority.as_str().to_owned()).or(asked);
    if !named.as_deref().is_some_and(is_own) {
        return Problem::new(
            StatusCode::FORBIDDEN,
            "SRV-004",
            "the server was asked under a name that is not its own",
            "open it as http://127.0.0.1:PORT or http://localhost:PORT",
        )
        .into_response();
    }
    let writes = !matches!(*request.method(), Method::GET | Method::HEAD | Method::OPTIONS);
    let from = request.headers().get(header::ORIGIN).and_then(|origin| origin.to_str().ok());
    if writes && from.is_some_and(|from| !is_own_page(from, named.as_deref().unwrap_or_default())) {
        return Problem::new(
            StatusCode::FORBIDDEN,
            "SRV-014",
            "another page tried to write here",
            "close that page; outyard writes only from its own",
        )
        .into_response();
    }
    next.run(request).await
}

fn is_own(host: &str) -> bool {
    let name = host.rsplit_once(':').filter(|(_, port)| port.bytes().all(|byte| byte.is_ascii_digit()));
    let name = name.map_or(host, |(name, _)| name);
    matches!(name, "localhost" | "127.0.0.1" | "[::1]")
}

fn is_own_page(origin: &str, host: &str) -> bool {
    origin.strip_prefix("http://").or_else(|| origin.strip_prefix("https://")).is_some_and(|from| from == host)
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

async fn in_time(request: Request, next: Next) -> Response {
    match tokio::time::timeout(LONGEST, next.run(request)).await {
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

async fn written_down(request: Request, next: Next) -> Response {
    let started = Instant::now();
    let (method, path) = (request.method().clone(), request.uri().path().to_owned());
    let mut response = next.run(request).await;
    let headers = response.headers_mut();
    for (name, value) in [
        (header::CONTENT_SECURITY_POLICY, POLICY),
        (header::X_CONTENT_TYPE_OPTIONS, "nosniff"),
        (header::REFERRER_POLICY, "no-referrer"),
        (HeaderName::from_static("cross-origin-resource-policy"), "same-origin"),
        (HeaderName::from_static("cross-origin-opener-policy"), "same-origin"),
    ] {
        headers.insert(name, HeaderValue::from_static(value));
    }
    tracing::info!(
        %method,
        path,
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
    fn only_the_machines_own_names_pass() {
        for own in ["localhost", "localhost:8080", "127.0.0.1:7", "[::1]:80", "[::1]"] {
            assert!(is_own(own), "{own}");
        }
        for other in ["outyard.example", "127.0.0.1.example:80", "localhost.example", "", "10.0.0.7:80", "[::2]:80"] {
            assert!(!is_own(other), "{other}");
        }
    }

    #[test]
    fn a_page_writes_only_to_where_it_came_from() {
        assert!(is_own_page("http://localhost:80", "localhost:80"));
        assert!(!is_own_page("http://localhost:81", "localhost:80") && !is_own_page("null", "localhost:80"));
    }
}
