//! The door: how callers reach this server, by which names, who they are, and how much they may ask.

use std::collections::BTreeMap;
use std::net::{IpAddr, SocketAddr};
use std::path::Path;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::{Duration, Instant};

use axum::http::header::COOKIE;
use axum::http::request::Parts;
use axum::http::{HeaderMap, HeaderValue};
use jiff::{SignedDuration, Timestamp};
use outyard_base::Trouble;
use tokio::sync::watch;

use crate::accounts::{Accounts, Known};
use crate::problem::Problem;
use crate::throttle::{Guesses, Rates};
use crate::who::Role;

/// The cookie's name. The prefix binds it to this host and to encryption (RFC 6265bis, section 4.1.3).
const COOKIE_NAME: &str = "__Host-outyard";

/// How callers reach the server.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Way {
    /// This machine alone, in the clear. Whoever sits at it is the owner.
    ThisMachine,
    /// Any address, encrypted.
    Encrypted,
    /// Through a reverse proxy on this machine that encrypts.
    BehindProxy {
        /// What browsers see, such as `https://office.example`.
        origin: String,
    },
}

/// How much is borne. All values assumed.
#[derive(Clone, Copy, Debug)]
pub struct Limits {
    /// Longest a request may take, its body's arrival included.
    pub longest: Duration,
    /// Longest a photo may take: 16 MiB at 30 kB a second.
    pub longest_file: Duration,
    /// Longest silence while a body arrives.
    pub body_pause: Duration,
    /// Longest until a request's head, or the first words of an encrypted connection, have arrived.
    pub head: Duration,
    /// Connections held at once, in all and from one address.
    pub connections: (usize, usize),
    /// Requests worked on at once.
    pub at_once: usize,
    /// Listeners for changes at once, in all and of one caller.
    pub listeners: (usize, usize),
    /// Requests of one caller: each second, and at once.
    pub asked: (f64, f64),
    /// Longest from the word to stop until what is still open is cut off.
    pub stop_within: Duration,
}

impl Default for Limits {
    fn default() -> Self {
        Self {
            longest: Duration::from_mins(1),
            longest_file: Duration::from_mins(10),
            body_pause: Duration::from_secs(15),
            head: Duration::from_secs(10),
            connections: (1024, 256),
            at_once: 512,
            listeners: (256, 8),
            asked: (20.0, 200.0),
            stop_within: Duration::from_secs(10),
        }
    }
}

/// Where a connection came from.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Peer(pub(crate) SocketAddr);

/// Who calls.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Caller {
    /// What he may do.
    pub(crate) role: Role,
    /// The device, of whoever was let in.
    pub(crate) known: Option<Known>,
    /// Where he calls from.
    pub(crate) from: IpAddr,
}

impl Caller {
    /// The name he is counted under.
    pub(crate) fn counted_as(&self) -> String {
        match &self.known {
            Some(known) => known.device.clone(),
            None => crate::throttle::house(self.from).to_string(),
        }
    }
}

/// The door.
#[derive(Debug)]
pub struct Door {
    way: Way,
    names: Vec<String>,
    /// An address others can reach this machine at, with its port.
    reach: Option<String>,
    accounts: Accounts,
    pub(crate) limits: Limits,
    pub(crate) guesses: Guesses,
    pub(crate) rates: Rates,
    listening: Mutex<BTreeMap<String, usize>>,
    let_out: watch::Sender<u64>,
}

impl Door {
    /// Opens the accounts of an outfit's folder and stands at the door.
    ///
    /// # Errors
    /// `SRV-020`.
    pub async fn open(
        folder: &Path,
        way: Way,
        names: Vec<String>,
        reach: Option<String>,
        limits: Limits,
    ) -> Result<Arc<Self>, Vec<Trouble>> {
        Ok(Arc::new(Self {
            way,
            names,
            reach,
            accounts: Accounts::open(folder).await?,
            limits,
            guesses: Guesses::new(Instant::now()),
            rates: Rates::new(limits.asked.0, limits.asked.1),
            listening: Mutex::default(),
            let_out: watch::Sender::new(0),
        }))
    }

    /// Who is let in.
    pub fn accounts(&self) -> &Accounts {
        &self.accounts
    }

    /// Whether callers are asked who they are.
    pub(crate) fn asks(&self) -> bool {
        self.way != Way::ThisMachine
    }

    /// Whether a host, as a browser names it, is this server.
    pub(crate) fn is_own_name(&self, host: &str) -> bool {
        match &self.way {
            Way::ThisMachine => matches!(bare(host), "localhost" | "127.0.0.1" | "[::1]"),
            // A page elsewhere can point a name at this machine, but not a number.
            Way::Encrypted => {
                let name = bare(host);
                let number = name.trim_start_matches('[').trim_end_matches(']').parse::<IpAddr>().is_ok();
                number || name == "localhost" || self.names.iter().any(|own| own.eq_ignore_ascii_case(name))
            }
            Way::BehindProxy { origin } => origin.strip_prefix("https://") == Some(host),
        }
    }

    /// Whether a page that was fetched from an origin may write when it asks this host.
    pub(crate) fn is_own_page(&self, origin: &str, host: &str) -> bool {
        match &self.way {
            Way::ThisMachine => origin.strip_prefix("http://") == Some(host),
            Way::Encrypted | Way::BehindProxy { .. } => origin.strip_prefix("https://") == Some(host),
        }
    }

    /// What a phone is told to open, given the host the owner's browser asked for.
    pub(crate) fn origin_for(&self, host: &str) -> Option<String> {
        match &self.way {
            Way::ThisMachine => None,
            Way::BehindProxy { origin } => Some(origin.clone()),
            Way::Encrypted => {
                let own = matches!(bare(host), "localhost" | "127.0.0.1" | "[::1]" | "");
                let host = if own { self.reach.as_deref().unwrap_or(host) } else { host };
                Some(format!("https://{host}"))
            }
        }
    }

    /// Where a request came from: the proxy's word counts only where a proxy was said to stand.
    pub(crate) fn address_of(&self, peer: Option<Peer>, headers: &HeaderMap) -> IpAddr {
        let peer = peer.map_or(IpAddr::from([127, 0, 0, 1]), |peer| peer.0.ip().to_canonical());
        if !matches!(self.way, Way::BehindProxy { .. }) || !peer.is_loopback() {
            return peer;
        }
        // The proxy writes last; what stands before it anybody may have written.
        let said = headers.get_all("x-forwarded-for").iter().next_back().and_then(|said| said.to_str().ok());
        said.and_then(|said| said.rsplit(',').next()?.trim().parse().ok()).unwrap_or(peer)
    }

    /// Who calls.
    ///
    /// # Errors
    /// `SRV-020`.
    pub(crate) async fn caller(&self, parts: &Parts) -> Result<Caller, Problem> {
        let from = self.address_of(parts.extensions.get().copied(), &parts.headers);
        if !self.asks() {
            return Ok(Caller { role: Role::Owner, known: None, from });
        }
        let known = match Self::token(&parts.headers) {
            Some(token) => self.accounts.who(token).await?,
            None => None,
        };
        Ok(Caller { role: known.as_ref().map_or(Role::Stranger, |known| known.role), known, from })
    }

    fn token(headers: &HeaderMap) -> Option<&str> {
        headers
            .get_all(COOKIE)
            .iter()
            .filter_map(|cookies| cookies.to_str().ok())
            .flat_map(|cookies| cookies.split(';'))
            .find_map(|cookie| cookie.trim().strip_prefix(COOKIE_NAME)?.strip_prefix('='))
            .filter(|token| token.len() == 64)
    }

    /// The cookie that carries a token.
    pub(crate) fn cookie(token: &str, until: Option<Timestamp>) -> HeaderValue {
        /// Longest a browser keeps a cookie: 400 days (RFC 6265bis, section 5.5).
        const LONGEST_KEPT: SignedDuration = SignedDuration::from_hours(400 * 24);
        let left = until.map_or(LONGEST_KEPT, |until| until.duration_since(Timestamp::now()).min(LONGEST_KEPT));
        let text = format!(
            "{COOKIE_NAME}={token}; Path=/; Max-Age={}; Secure; HttpOnly; SameSite=Strict",
            left.as_secs().max(0)
        );
        let mut value = HeaderValue::from_str(&text).expect("hex and plain words");
        value.set_sensitive(true);
        value
    }

    /// The cookie that takes a token away.
    pub(crate) fn no_cookie() -> HeaderValue {
        Self::cookie("", Some(Timestamp::UNIX_EPOCH))
    }

    /// Tells listeners that somebody was let out; they are cut off and ask again.
    pub(crate) fn somebody_was_let_out(&self) {
        self.let_out.send_modify(|times| *times += 1);
    }

    /// Changes when somebody is let out.
    pub(crate) fn until_let_out(&self) -> watch::Receiver<u64> {
        self.let_out.subscribe()
    }

    /// Takes a listener in, unless there are too many.
    pub(crate) fn listener(self: &Arc<Self>, caller: &Caller) -> Option<Listening> {
        let mut listening = self.listening.lock().unwrap_or_else(PoisonError::into_inner);
        let (in_all, of_one) = self.limits.listeners;
        let name = caller.counted_as();
        if listening.values().sum::<usize>() >= in_all || listening.get(&name).is_some_and(|held| *held >= of_one) {
            return None;
        }
        *listening.entry(name.clone()).or_default() += 1;
        Some(Listening { door: Arc::clone(self), name })
    }
}

/// A listener's place, given back when it goes.
#[derive(Debug)]
pub(crate) struct Listening {
    door: Arc<Door>,
    name: String,
}

impl Drop for Listening {
    fn drop(&mut self) {
        let mut listening = self.door.listening.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(held) = listening.get_mut(&self.name) {
            *held -= 1;
            if *held == 0 {
                listening.remove(&self.name);
            }
        }
    }
}

/// A host without its port.
fn bare(host: &str) -> &str {
    let named = host.rsplit_once(':').filter(|(_, port)| port.bytes().all(|byte| byte.is_ascii_digit()));
    named.map_or(host, |(name, _)| name)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn door(way: Way) -> (tempfile::TempDir, Arc<Door>) {
        let folder = tempfile::tempdir().unwrap();
        let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().unwrap();
        let names = vec!["shed.local".to_owned()];
        let door = Door::open(folder.path(), way, names, Some("10.0.0.7:7340".to_owned()), Limits::default());
        let door = runtime.block_on(door).unwrap();
        (folder, door)
    }

    #[test]
    fn only_the_machines_own_names_pass() {
        let (_folder, door) = door(Way::ThisMachine);
        for own in ["localhost", "localhost:8080", "127.0.0.1:7", "[::1]:80", "[::1]"] {
            assert!(door.is_own_name(own), "{own}");
        }
        for other in ["outyard.example", "127.0.0.1.example:80", "localhost.example", "", "10.0.0.7:80", "[::2]:80"] {
            assert!(!door.is_own_name(other), "{other}");
        }
        assert!(door.is_own_page("http://localhost:80", "localhost:80"));
        assert!(!door.is_own_page("http://localhost:81", "localhost:80") && !door.is_own_page("null", "localhost:80"));
        assert_eq!(door.origin_for("localhost:80"), None);
    }

    #[test]
    fn on_a_network_numbers_pass_and_only_named_names() {
        let (_folder, door) = door(Way::Encrypted);
        for own in ["10.0.0.7:7340", "[fe80::1]:7340", "localhost:7340", "Shed.local:7340"] {
            assert!(door.is_own_name(own), "{own}");
        }
        for other in ["shed.example:7340", "10.0.0.7.example", "", "local"] {
            assert!(!door.is_own_name(other), "{other}");
        }
        assert!(door.is_own_page("https://10.0.0.7:7340", "10.0.0.7:7340"));
        assert!(!door.is_own_page("http://10.0.0.7:7340", "10.0.0.7:7340"));
        assert_eq!(door.origin_for("localhost:7340").as_deref(), Some("https://10.0.0.7:7340"));
        assert_eq!(door.origin_for("shed.local:7340").as_deref(), Some("https://shed.local:7340"));
    }

    #[test]
    fn a_proxy_is_believed_only_where_one_was_said_to_stand() {
        let said = HeaderMap::from_iter([(
            axum::http::HeaderName::from_static("x-forwarded-for"),
            HeaderValue::from_static("1.1.1.1, 203.0.113.9"),
        )]);
        let here = Some(Peer("127.0.0.1:5".parse().unwrap()));
        let (_folder, behind) = door(Way::BehindProxy { origin: "https://office.example".to_owned() });
        assert_eq!(behind.address_of(here, &said).to_string(), "203.0.113.9");
        assert_eq!(behind.address_of(Some(Peer("10.0.0.5:5".parse().unwrap())), &said).to_string(), "10.0.0.5");
        assert!(behind.is_own_name("office.example") && !behind.is_own_name("localhost"));
        let (_folder, open) = door(Way::Encrypted);
        assert_eq!(open.address_of(here, &said).to_string(), "127.0.0.1");
    }

    #[test]
    fn one_caller_does_not_take_every_listeners_place() {
        let (_folder, door) = door(Way::Encrypted);
        let caller = Caller { role: Role::Stranger, known: None, from: "10.0.0.7".parse().unwrap() };
        let held: Vec<_> = (0..20).filter_map(|_| door.listener(&caller)).collect();
        assert_eq!(held.len(), 8);
        drop(held);
        assert!(door.listener(&caller).is_some());
    }
}
