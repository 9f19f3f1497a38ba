//! Connections: taken in, encrypted, bounded, and ended in good order.
//!
//! On an encrypted address whoever speaks in the clear is led on: to the encrypted page, or, when the certificate is of an
//! authority of the office's own, to a page on how to trust it. Nothing else is answered in the clear.

use std::collections::BTreeMap;
use std::net::{IpAddr, SocketAddr};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

use axum::Router;
use axum::body::Body;
use axum::http::{HeaderValue, Method, Request, StatusCode, header};
use axum::response::{IntoResponse, Response};
use hyper::body::Incoming;
use hyper::server::conn::{http1, http2};
use hyper::service::service_fn;
use hyper_util::rt::{TokioExecutor, TokioIo, TokioTimer};
use hyper_util::server::graceful::GracefulShutdown;
use tokio::io::{AsyncRead, AsyncWrite};
use tokio::net::{TcpListener, TcpStream};
use tokio_rustls::TlsAcceptor;
use tower::ServiceExt as _;

use crate::certificates::{Authority, Shown};
use crate::door::{Door, Limits, Peer};
use crate::{gate_keeper, page};

/// First byte of an encrypted connection: a handshake (RFC 8446, section 5.1).
const HANDSHAKE: u8 = 0x16;
/// How often a quiet HTTP/2 connection is asked whether it still stands. Assumed.
const STILL_THERE: Duration = Duration::from_secs(20);
/// Requests of one HTTP/2 connection at once. Assumed.
const STREAMS: u32 = 64;
/// Rest after a connection could not be taken in, such as for want of file handles. Assumed.
const REST: Duration = Duration::from_millis(100);

/// Connections held, in all and of each address.
#[derive(Debug, Default)]
struct Held {
    of: Mutex<BTreeMap<IpAddr, usize>>,
}

/// A place among the connections, given back when it goes.
#[derive(Debug)]
struct Place {
    held: Arc<Held>,
    from: IpAddr,
}

impl Held {
    fn take(self: &Arc<Self>, from: IpAddr, limits: &Limits) -> Option<Place> {
        let from = crate::throttle::house(from);
        let mut of = self.of.lock().unwrap_or_else(PoisonError::into_inner);
        let (in_all, of_one) = limits.connections;
        if of.values().sum::<usize>() >= in_all || of.get(&from).is_some_and(|held| *held >= of_one) {
            return None;
        }
        *of.entry(from).or_default() += 1;
        Some(Place { held: Arc::clone(self), from })
    }
}

impl Drop for Place {
    fn drop(&mut self) {
        let mut of = self.held.of.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(held) = of.get_mut(&self.from) {
            *held -= 1;
            if *held == 0 {
                of.remove(&self.from);
            }
        }
    }
}

/// Takes connections in until told to stop, then lets those that are open finish for a while.
pub(crate) async fn run(
    listener: TcpListener,
    app: Router,
    door: Arc<Door>,
    shown: Option<Arc<Shown>>,
    stop: impl Future<Output = ()> + Send,
) -> Result<(), Vec<outyard_base::Trouble>> {
    let limits = door.limits;
    let front = match &shown {
        Some(shown) => Some(Front {
            acceptor: TlsAcceptor::from(shown.config()?),
            leading: Leading { authority: shown.authority().cloned(), door: Arc::clone(&door) },
        }),
        None => None,
    };
    let renewing = shown.map(|shown| tokio::spawn(shown.keep_new()));
    let open = GracefulShutdown::new();
    let held = Arc::new(Held::default());
    let mut stop = std::pin::pin!(stop);
    loop {
        let taken = tokio::select! {
            taken = listener.accept() => taken,
            () = &mut stop => break,
        };
        let (stream, from) = match taken {
            Ok(taken) => taken,
            Err(error) => {
                tracing::warn!(%error, "a connection could not be taken in");
                tokio::time::sleep(REST).await;
                continue;
            }
        };
        // Too many: the connection is closed before anything is read.
        let Some(place) = held.take(from.ip(), &limits) else { continue };
        stream.set_nodelay(true).ok();
        let (app, front, watcher) = (app.clone(), front.clone(), open.watcher());
        tokio::spawn(async move {
            let _place = place;
            connection(stream, from, app, front, limits, watcher).await;
        });
    }
    drop(listener);
    if let Some(renewing) = renewing {
        renewing.abort();
    }
    if tokio::time::timeout(limits.stop_within, open.shutdown()).await.is_err() {
        tracing::warn!("some callers did not finish in time and were cut off");
    }
    Ok(())
}

/// How an encrypted address meets its callers.
#[derive(Clone)]
struct Front {
    acceptor: TlsAcceptor,
    leading: Leading,
}

type Watcher = hyper_util::server::graceful::Watcher;

async fn connection(
    stream: TcpStream,
    from: SocketAddr,
    app: Router,
    front: Option<Front>,
    limits: Limits,
    watcher: Watcher,
) {
    let Some(front) = front else { return over_http1(stream, from, Answers::App(app), limits, watcher).await };
    let mut first = [0_u8; 1];
    match tokio::time::timeout(limits.head, stream.peek(&mut first)).await {
        Ok(Ok(1)) if first[0] == HANDSHAKE => {}
        Ok(Ok(1)) => return over_http1(stream, from, Answers::Lead(front.leading), limits, watcher).await,
        _ => return,
    }
    let Ok(Ok(stream)) = tokio::time::timeout(limits.head, front.acceptor.accept(stream)).await else { return };
    if stream.get_ref().1.alpn_protocol() == Some(b"h2") {
        over_http2(stream, from, app, watcher).await;
    } else {
        over_http1(stream, from, Answers::App(app), limits, watcher).await;
    }
}

/// Who answers a connection.
#[derive(Clone)]
enum Answers {
    App(Router),
    Lead(Leading),
}

impl Answers {
    async fn answer(self, request: Request<Incoming>, from: SocketAddr) -> Result<Response, std::convert::Infallible> {
        match self {
            Self::App(app) => {
                let mut request = request.map(Body::new);
                request.extensions_mut().insert(Peer(from));
                app.oneshot(request).await
            }
            Self::Lead(leading) => Ok(leading.answer(&request)),
        }
    }
}

async fn over_http1(
    stream: impl AsyncRead + AsyncWrite + Send + Unpin + 'static,
    from: SocketAddr,
    answers: Answers,
    limits: Limits,
    watcher: Watcher,
) {
    let service = service_fn(move |request| answers.clone().answer(request, from));
    let connection = http1::Builder::new()
        .timer(TokioTimer::new())
        .header_read_timeout(limits.head)
        .serve_connection(TokioIo::new(stream), service);
    // A connection that breaks off is the caller's business.
    watcher.watch(connection).await.ok();
}

async fn over_http2(
    stream: impl AsyncRead + AsyncWrite + Send + Unpin + 'static,
    from: SocketAddr,
    app: Router,
    watcher: Watcher,
) {
    let answers = Answers::App(app);
    let service = service_fn(move |request| answers.clone().answer(request, from));
    let connection = http2::Builder::new(TokioExecutor::new())
        .timer(TokioTimer::new())
        .keep_alive_interval(STILL_THERE)
        .keep_alive_timeout(STILL_THERE)
        .max_concurrent_streams(STREAMS)
        .serve_connection(TokioIo::new(stream), service);
    watcher.watch(connection).await.ok();
}

/// Leads whoever speaks in the clear to the encrypted page.
#[derive(Clone)]
struct Leading {
    authority: Option<Authority>,
    door: Arc<Door>,
}

impl Leading {
    fn answer(&self, request: &Request<Incoming>) -> Response {
        let host = request.headers().get(header::HOST).and_then(|host| host.to_str().ok()).unwrap_or_default();
        let asks = matches!(*request.method(), Method::GET | Method::HEAD);
        let mut response = if !asks || !self.door.is_own_name(host) {
            (StatusCode::UPGRADE_REQUIRED, "this office answers under https only\n").into_response()
        } else {
            self.lead(host, request.uri().path_and_query().map_or("/", |path| path.as_str()))
        };
        gate_keeper::guard(response.headers_mut());
        response.headers_mut().insert(header::CACHE_CONTROL, HeaderValue::from_static("no-store"));
        response
    }

    fn lead(&self, host: &str, path: &str) -> Response {
        let Some(authority) = &self.authority else {
            let to = HeaderValue::from_str(&format!("https://{host}{path}"));
            return match to {
                Ok(to) => (StatusCode::PERMANENT_REDIRECT, [(header::LOCATION, to)]).into_response(),
                Err(_) => StatusCode::BAD_REQUEST.into_response(),
            };
        };
        let sort = |sort: &'static str| [(header::CONTENT_TYPE, HeaderValue::from_static(sort))];
        match path {
            "/trust/authority.crt" => (sort("application/x-x509-ca-cert"), authority.der.clone()).into_response(),
            "/door.css" => (sort("text/css; charset=utf-8"), page::DOOR_STYLE).into_response(),
            _ => {
                let page = include_str!("../pages/trust.html")
                    .replace("{host}", &as_html(host))
                    .replace("{fingerprint}", &authority.fingerprint());
                (sort("text/html; charset=utf-8"), page).into_response()
            }
        }
    }
}

fn as_html(text: &str) -> String {
    text.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;").replace('"', "&quot;")
}
