//! The outfit over HTTP: JSON under `/api/v1` for the page at the desk and the phone in the yard, feeds for other
//! programs, and word of every change. It works nothing out itself: each route calls the use case the command line calls.
//!
//! | part | holds |
//! |---|---|
//! | `office` | the open book, the newest morning worked out, and word of changes |
//! | `routes` | one file for each route |
//! | `problem` | what went wrong, as RFC 9457 asks, with the codes of the command line |
//! | `listen` | connections: taken in, encrypted, bounded, ended in good order |
//! | `certificates` | what the server shows for itself |
//! | `door` | by which names it is called, and who calls |
//! | `accounts`, `secret` | who is let in, and how secrets are kept |
//! | `throttle` | how often somebody may ask, and guess |
//! | `gate_keeper` | what is turned away before any route sees it |
//! | `who` | who may call which route, in one table |
//! | `page` | the built page, when it is there |

mod accounts;
mod certificates;
mod door;
mod gate_keeper;
mod listen;
mod office;
mod page;
mod problem;
mod qr;
mod routes;
mod secret;
mod throttle;
mod who;

use std::io::IsTerminal as _;
use std::net::{IpAddr, SocketAddr};
use std::path::PathBuf;
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

use certificates::{Machine, Shown, Source};

/// How callers meet the server.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Front {
    /// This machine alone, in the clear, nobody asked who he is.
    ThisMachine,
    /// Encrypted, by an authority of the office's own.
    OwnAuthority,
    /// Encrypted, by certificate files of the owner's.
    Files {
        /// The certificate with its chain, as PEM.
        chain: PathBuf,
        /// Its key, as PEM.
        key: PathBuf,
    },
    /// Through a proxy on this machine that encrypts.
    BehindProxy {
        /// What browsers see, such as `https://office.example`.
        origin: String,
    },
}

/// How the server stands.
#[derive(Clone, Debug)]
pub struct Serve {
    /// Where it listens.
    pub listen: SocketAddr,
    /// How callers meet it.
    pub front: Front,
    /// Names it answers to, besides the machine's own.
    pub names: Vec<String>,
    /// How long it looks for a better plan.
    pub effort: Effort,
    /// Log lines as JSON.
    pub json_log: bool,
    /// How much it bears.
    pub limits: Limits,
}

/// A server that has begun to listen.
#[derive(Clone, Debug)]
pub struct Ready {
    /// Where it listens.
    pub address: SocketAddr,
    /// What a browser on this machine opens.
    pub here: String,
    /// What others open, the likeliest first; none where others cannot reach it.
    pub elsewhere: Vec<String>,
    /// The SHA-256 of the office's own authority, as phones show it.
    pub fingerprint: Option<String>,
}

/// Serves the outfit until it is told to stop. Says where it listens once it does.
///
/// # Errors
/// `SRV-010` for an address other machines can reach without encryption or without a passphrase, `SRV-025` for a proxy's
/// address that is none, `SRV-027` and `SRV-028` for certificates, `SRV-009` when nothing can be listened on, `SRV-020` for
/// the file of accounts, and the book's own.
pub fn serve(desk: &Desk, how: &Serve, ready: impl FnOnce(&Ready) + Send) -> Result<(), Vec<Trouble>> {
    start_log(how.json_log);
    let runtime =
        tokio::runtime::Builder::new_multi_thread().enable_all().build().map_err(|error| cannot_start(&error))?;
    runtime.block_on(serve_until(desk, how, ready, told_to_stop()))
}

/// Serves the outfit until a future ends.
///
/// # Errors
/// As [`serve`].
pub async fn serve_until(
    desk: &Desk,
    how: &Serve,
    ready: impl FnOnce(&Ready) + Send,
    stop: impl Future<Output = ()> + Send,
) -> Result<(), Vec<Trouble>> {
    let (way, source) = way_of(desk, how)?;
    let accounts = Accounts::open(desk.folder()).await?;
    if how.front != Front::ThisMachine && !accounts.has_passphrase().await.map_err(|trouble| vec![trouble])? {
        return Err(vec![Trouble::new(
            "SRV-010",
            "others could reach this server, and the owner has no passphrase yet",
            "set one first: outyard serve passphrase",
        )]);
    }
    let shown = source.map(Shown::open).transpose()?;
    let listener = TcpListener::bind(how.listen).await.map_err(|error| cannot_listen(how.listen, &error))?;
    let address = listener.local_addr().map_err(|error| cannot_listen(how.listen, &error))?;
    let is_ready = ready_at(address, &how.front, &how.names, shown.as_deref());
    let reach = is_ready.elsewhere.first().and_then(|origin| Some(origin.split_once("://")?.1.to_owned()));
    let names = Machine::look(&how.names).names;
    let door = Door::open(desk.folder(), way, names, reach, how.limits).await?;
    let office = Office::open(desk.clone(), how.effort).await?;
    ready(&is_ready);
    tracing::info!(%address, encrypted = shown.is_some(), "listening");
    let app = app(Arc::clone(&office), &door);
    let stopping = Arc::clone(&office);
    let outcome = listen::run(listener, app, door, shown, async move {
        stop.await;
        tracing::info!("stopping");
        stopping.stop();
    })
    .await;
    office.stop();
    office.close().await?;
    outcome
}

fn way_of(desk: &Desk, how: &Serve) -> Result<(Way, Option<Source>), Vec<Trouble>> {
    let only_here = how.listen.ip().is_loopback();
    match &how.front {
        Front::ThisMachine if !only_here => Err(vec![Trouble::new(
            "SRV-010",
            format!("{} can be reached by other machines, and nothing would be encrypted", how.listen.ip()),
            "listen on 127.0.0.1, or let the office make its own certificate with --own-authority",
        )]),
        Front::ThisMachine => Ok((Way::ThisMachine, None)),
        Front::OwnAuthority => {
            let source = Source::Own { folder: desk.folder().to_owned(), names: how.names.clone() };
            Ok((Way::Encrypted, Some(source)))
        }
        Front::Files { chain, key } => {
            Ok((Way::Encrypted, Some(Source::Files { chain: chain.clone(), key: key.clone() })))
        }
        Front::BehindProxy { origin } => {
            let host = origin.strip_prefix("https://").unwrap_or_default();
            let plain = |letter: char| letter.is_ascii_alphanumeric() || matches!(letter, '.' | '-' | ':' | '[' | ']');
            if host.is_empty() || !host.chars().all(plain) || !only_here {
                return Err(vec![Trouble::new(
                    "SRV-025",
                    format!(
                        "a proxy stands on this machine and browsers see it under https; {origin} at {} is not so",
                        how.listen
                    ),
                    "listen on 127.0.0.1 and give --behind-proxy an address such as https://office.example",
                )]);
            }
            Ok((Way::BehindProxy { origin: origin.clone() }, None))
        }
    }
}

/// What is opened where.
fn ready_at(address: SocketAddr, front: &Front, names: &[String], shown: Option<&Shown>) -> Ready {
    let port = address.port();
    let fingerprint = shown.and_then(Shown::authority).map(certificates::Authority::fingerprint);
    let (here, elsewhere) = match front {
        Front::ThisMachine => (format!("http://{address}"), Vec::new()),
        Front::BehindProxy { origin } => (origin.clone(), vec![origin.clone()]),
        Front::OwnAuthority | Front::Files { .. } => {
            let mut hosts: Vec<String> = names.to_vec();
            // A certificate of files names names; numbers are good only with one's own.
            if fingerprint.is_some() || hosts.is_empty() {
                let machine = Machine::look(&[]);
                let reached = |one: &IpAddr| {
                    let listens = address.ip().is_unspecified() && (one.is_ipv4() || address.is_ipv6());
                    !one.is_loopback() && (listens || *one == address.ip())
                };
                hosts.extend(machine.addresses.iter().filter(|one| reached(one)).map(|one| match one {
                    IpAddr::V4(four) => four.to_string(),
                    IpAddr::V6(six) => format!("[{six}]"),
                }));
            }
            let here = hosts.first().filter(|_| fingerprint.is_none()).map_or("localhost", String::as_str);
            (format!("https://{here}:{port}"), hosts.iter().map(|host| format!("https://{host}:{port}")).collect())
        }
    };
    Ready { address, here, elsewhere, fingerprint }
}

/// What a device opens to be let in by a code.
pub fn pairing_address(origin: &str, code: &str) -> String {
    format!("{origin}/pair#{code}")
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
