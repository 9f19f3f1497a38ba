//! The outfit over HTTP: JSON under `/api/v1` for the page at the desk and the phone in the yard, feeds for other
//! programs, and word of every change. It works nothing out itself: each route calls the use case the command line calls.
//!
//! | part | holds |
//! |---|---|
//! | `office` | the open book, the newest morning worked out, and word of changes |
//! | `routes` | one file for each route |
//! | `problem` | what went wrong, as RFC 9457 asks, with the codes of the command line |
//! | `gate_keeper` | what is turned away before any route sees it |
//! | `who` | who may call which route, in one table |
//! | `page` | the built page, when it is there |

mod accounts;
mod door;
mod gate_keeper;
mod office;
mod page;
mod problem;
mod qr;
mod routes;
mod secret;
mod throttle;
mod who;

use std::io::IsTerminal as _;
use std::net::SocketAddr;
use std::sync::Arc;

use axum::Router;
use outyard_base::Trouble;
use outyard_folder::Desk;
use outyard_runs::Effort;
use tokio::net::TcpListener;

pub use accounts::{ACCOUNTS, Accounts, DeviceView, Invitation, PASSPHRASE_LEAST};
pub use door::{Door, Limits, Way};
pub use office::Office;
pub use qr::in_letters;
pub use who::{Role, WHO};

/// How the server stands.
#[derive(Clone, Debug)]
pub struct Serve {
    /// Where it listens.
    pub listen: SocketAddr,
    /// How long it looks for a better plan.
    pub effort: Effort,
    /// Log lines as JSON.
    pub json_log: bool,
}

/// Serves the outfit until it is told to stop. Says where it listens once it does.
///
/// # Errors
/// `SRV-010` for an address other machines can reach, `SRV-009` when nothing can be listened on, and the book's own.
pub fn serve(desk: &Desk, how: &Serve, ready: impl FnOnce(SocketAddr) + Send) -> Result<(), Vec<Trouble>> {
    if !how.listen.ip().is_loopback() {
        return Err(vec![Trouble::new(
            "SRV-010",
            format!("{} can be reached by other machines, and this server asks nobody who he is", how.listen.ip()),
            "listen on 127.0.0.1; phones on the network have to wait until pairing is built",
        )]);
    }
    start_log(how.json_log);
    let runtime =
        tokio::runtime::Builder::new_multi_thread().enable_all().build().map_err(|error| cannot_start(&error))?;
    runtime.block_on(async {
        let listener = TcpListener::bind(how.listen).await.map_err(|error| cannot_listen(how.listen, &error))?;
        let address = listener.local_addr().map_err(|error| cannot_listen(how.listen, &error))?;
        let office = Office::open(desk.clone(), how.effort).await?;
        ready(address);
        tracing::info!(%address, "listening");
        let door = Door::open(desk.folder(), Way::ThisMachine, Vec::new(), None, Limits::default()).await?;
        let app = app(Arc::clone(&office), &door);
        let stop = Arc::clone(&office);
        let outcome = axum::serve(listener, app)
            .with_graceful_shutdown(async move {
                told_to_stop().await;
                tracing::info!("stopping");
                stop.stop();
            })
            .await;
        office.stop();
        office.close().await?;
        outcome.map_err(|error| cannot_listen(how.listen, &error))
    })
}

/// The whole service over an office, for a server or a test.
pub fn app(office: Arc<Office>, door: &Arc<Door>) -> Router {
    let (router, _) = routes::all().split_for_parts();
    gate_keeper::stand_before(router, office, door)
}

/// The description of the interface, made from the code.
pub fn open_api() -> String {
    let (_, api) = routes::all().split_for_parts();
    let mut text = api.to_pretty_json().expect("a description is plain data");
    text.push('\n');
    text
}

fn cannot_start(error: &std::io::Error) -> Vec<Trouble> {
    vec![Trouble::new("SRV-009", format!("the server cannot start: {error}"), "try again")]
}

fn cannot_listen(address: SocketAddr, error: &std::io::Error) -> Vec<Trouble> {
    vec![Trouble::new(
        "SRV-009",
        format!("nothing can be listened on at {address}: {error}"),
        "name another port with --listen 127.0.0.1:PORT; another server may run already",
    )]
}

fn start_log(as_json: bool) {
    let builder = tracing_subscriber::fmt()
        .with_writer(std::io::stderr)
        .with_ansi(std::io::stderr().is_terminal())
        .with_max_level(tracing::Level::INFO);
    // A second server in one process keeps the first one's log.
    let started = if as_json { builder.json().try_init() } else { builder.compact().try_init() };
    started.ok();
}

async fn told_to_stop() {
    #[cfg(unix)]
    {
        use tokio::signal::unix::{SignalKind, signal};
        if let Ok(mut terminate) = signal(SignalKind::terminate()) {
            tokio::select! {
                _ = tokio::signal::ctrl_c() => {}
                _ = terminate.recv() => {}
            }
            return;
        }
    }
    tokio::signal::ctrl_c().await.ok();
}
