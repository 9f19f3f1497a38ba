//! The server as the command starts it, over real connections: encrypted by its own authority, by the owner's files and
//! behind a proxy; slow callers, too many callers, and the end.

use std::io::{Read, Write};
use std::net::{SocketAddr, TcpListener, TcpStream};
use std::sync::Arc;
use std::time::{Duration, Instant};

use outyard_base::Trouble;
use outyard_runs::Effort;
use outyard_server::{Accounts, Front, Limits, Ready, Role, Serve, serve_until};
use tempfile::TempDir;
use tokio::sync::oneshot;
use ureq::tls::{Certificate, PemItem, RootCerts, TlsConfig, parse_pem};

use crate::support::{Said, outfit, said};

const PASSPHRASE: &str = "four lids on a windy day";

struct Running {
    folder: TempDir,
    ready: Ready,
    stop: Option<oneshot::Sender<()>>,
    thread: Option<std::thread::JoinHandle<Result<(), Vec<Trouble>>>>,
}

fn start_in(folder: TempDir, desk: outyard_folder::Desk, front: Front, limits: Limits) -> Running {
    let (stop, stopped) = oneshot::channel();
    let (tell, told) = std::sync::mpsc::channel();
    let how = Serve {
        listen: "127.0.0.1:0".parse().unwrap(),
        front,
        names: Vec::new(),
        effort: Effort { tries: 20 },
        json_log: false,
        limits,
    };
    let thread = std::thread::spawn(move || {
        let runtime = tokio::runtime::Builder::new_multi_thread().worker_threads(2).enable_all().build().unwrap();
        runtime.block_on(serve_until(&desk, &how, move |ready| tell.send(ready.clone()).unwrap(), async move {
            drop(stopped.await);
        }))
    });
    let Ok(ready) = told.recv() else { panic!("{:?}", thread.join().unwrap()) };
    Running { folder, ready, stop: Some(stop), thread: Some(thread) }
}

fn start(front: Front, limits: Limits) -> Running {
    let (folder, desk) = outfit();
    let set = outyard_folder::Desk::run(async {
        Accounts::open(folder.path()).await?.set_passphrase(PASSPHRASE).await.map_err(|trouble| vec![trouble])
    });
    set.unwrap();
    start_in(folder, desk, front, limits)
}

impl Running {
    fn address(&self) -> SocketAddr {
        self.ready.address
    }

    fn code(&self, role: Role) -> String {
        let made = outyard_folder::Desk::run(async {
            Accounts::open(self.folder.path()).await?.invite(role).await.map_err(|trouble| vec![trouble])
        });
        made.unwrap().code
    }

    fn end(&mut self) -> Result<(), Vec<Trouble>> {
        self.stop.take().map(|stop| stop.send(()));
        self.thread.take().map_or(Ok(()), |thread| thread.join().unwrap())
    }

    fn in_the_clear(&self, head: &str) -> String {
        let mut stream = TcpStream::connect(self.address()).unwrap();
        stream.set_read_timeout(Some(Duration::from_secs(20))).unwrap();
        write!(stream, "{head}\r\nhost: {}\r\nconnection: close\r\n\r\n", self.address()).unwrap();
        let mut text = Vec::new();
        stream.read_to_end(&mut text).unwrap();
        String::from_utf8_lossy(&text).into_owned()
    }
}

impl Drop for Running {
    fn drop(&mut self) {
        drop(self.end());
    }
}

/// A client that trusts these roots and no others.
fn client(roots: Vec<Certificate<'static>>) -> ureq::Agent {
    let tls = TlsConfig::builder().root_certs(RootCerts::Specific(Arc::new(roots))).build();
    ureq::Agent::config_builder().http_status_as_error(false).tls_config(tls).max_redirects(0).build().into()
}

fn roots(pem: &str) -> Vec<Certificate<'static>> {
    let items = parse_pem(pem.as_bytes()).filter_map(Result::ok);
    items.filter_map(|item| if let PemItem::Certificate(one) = item { Some(one) } else { None }).collect()
}

/// Pairs by a code and asks who one is, as a phone's page does.
fn pairs_and_is_known(agent: &ureq::Agent, origin: &str, code: &str) -> Said {
    let body = format!("{{\"code\":\"{code}\",\"name\":\"Ann\"}}");
    let answer = agent
        .post(format!("{origin}/api/v1/pair"))
        .header("origin", origin)
        .header("content-type", "application/json")
        .send(&body)
        .unwrap();
    let paired = said(answer);
    assert_eq!(paired.status, 200, "{}", paired.body);
    let cookie = paired.headers["set-cookie"].to_str().unwrap().split(';').next().unwrap().to_owned();
    said(agent.get(format!("{origin}/api/v1/me")).header("cookie", cookie).call().unwrap())
}

#[test]
fn an_office_makes_its_own_authority_and_leads_a_phone_to_trust_it() {
    let mut running = start(Front::OwnAuthority, Limits::default());
    let origin = format!("https://{}", running.address());
    // A client that does not trust the authority does not talk at all.
    assert!(client(Vec::new()).get(format!("{origin}/api/v1/me")).call().is_err());
    // What the phone is led to fetch in the clear is the authority's certificate and not its key.
    let page = running.in_the_clear("GET /trust HTTP/1.1");
    assert!(page.starts_with("HTTP/1.1 200") && page.contains("content-security-policy"), "{page}");
    let fingerprint = running.ready.fingerprint.clone().unwrap();
    assert!(page.contains(&fingerprint) && page.contains(&format!("https://{}/", running.address())), "{page}");
    let kept = std::fs::read_to_string(running.folder.path().join("authority.pem")).unwrap();
    let authority = roots(&kept);
    let fetched = client(Vec::new()).get(format!("http://{}/trust/authority.crt", running.address())).call().unwrap();
    assert_eq!(fetched.headers()["content-type"], "application/x-x509-ca-cert");
    assert_eq!(fetched.into_body().read_to_vec().unwrap(), authority[0].der());
    // Nothing else is answered in the clear, and nothing can be written.
    for (head, status) in [
        ("GET /api/v1/me HTTP/1.1", "HTTP/1.1 200 OK"),
        ("POST /api/v1/login HTTP/1.1\r\ncontent-length: 0", "HTTP/1.1 426"),
    ] {
        let answer = running.in_the_clear(head);
        assert!(answer.starts_with(status) && !answer.contains("\"role\""), "{answer}");
    }
    let agent = client(authority);
    let stranger = said(agent.get(format!("{origin}/api/v1/me")).call().unwrap());
    assert_eq!((stranger.status, stranger.code().as_str()), (401, "SRV-018"));
    let me = pairs_and_is_known(&agent, &origin, &running.code(Role::Crew));
    assert_eq!((me.status, me.json()["role"].as_str()), (200, Some("crew")), "{}", me.body);
    // The authority stays over a new start.
    running.end().unwrap();
    let folder = std::mem::replace(&mut running.folder, tempfile::tempdir().unwrap());
    let desk = outyard_folder::Desk::new(folder.path(), None, "office", "office").unwrap();
    let again = start_in(folder, desk, Front::OwnAuthority, Limits::default());
    assert_eq!(again.ready.fingerprint.as_deref(), Some(fingerprint.as_str()));
    let origin = format!("https://{}", again.address());
    assert_eq!(agent.get(format!("{origin}/pair")).call().unwrap().status(), 200);
}

#[test]
fn the_owners_certificate_files_are_served() {
    let made = rcgen::generate_simple_self_signed(vec!["127.0.0.1".to_owned()]).unwrap();
    let files = tempfile::tempdir().unwrap();
    let (chain, key) = (files.path().join("chain.pem"), files.path().join("key.pem"));
    std::fs::write(&chain, made.cert.pem()).unwrap();
    std::fs::write(&key, made.signing_key.serialize_pem()).unwrap();
    let running = start(Front::Files { chain, key }, Limits::default());
    let origin = format!("https://{}", running.address());
    let agent = client(roots(&made.cert.pem()));
    let me = pairs_and_is_known(&agent, &origin, &running.code(Role::HoneyHouse));
    assert_eq!(me.json()["role"], "honey-house");
    assert_eq!(running.ready.fingerprint, None);
    let led = running.in_the_clear("GET /pair?x=1 HTTP/1.1");
    assert!(led.starts_with("HTTP/1.1 308") && led.contains(&format!("location: {origin}/pair?x=1")), "{led}");
}

/// A proxy that encrypts nothing, being a test: it hands on what it is sent, with the headers a real one sets.
fn hand_on(to: SocketAddr, host: &str) -> String {
    let proxy = TcpListener::bind("127.0.0.1:0").unwrap();
    let at = proxy.local_addr().unwrap();
    let host = host.to_owned();
    std::thread::spawn(move || {
        for stream in proxy.incoming().flatten() {
            let mut caller = stream;
            let mut head = Vec::new();
            let mut one = [0_u8; 1];
            while !head.ends_with(b"\r\n\r\n") && caller.read(&mut one).unwrap_or(0) == 1 {
                head.push(one[0]);
            }
            let text = String::from_utf8_lossy(&head).into_owned();
            let length = text
                .to_ascii_lowercase()
                .split("content-length: ")
                .nth(1)
                .and_then(|rest| rest.split("\r\n").next()?.parse::<usize>().ok());
            let mut body = vec![0; length.unwrap_or(0)];
            caller.read_exact(&mut body).unwrap();
            let kept = text.trim_end().lines().filter(|line| !line.to_ascii_lowercase().starts_with("host:"));
            let mut handed = kept.collect::<Vec<_>>().join("\r\n");
            handed.push_str(&format!("\r\nhost: {host}\r\nx-forwarded-for: 203.0.113.9\r\nx-forwarded-proto: https\r\nconnection: close\r\n\r\n"));
            let mut office = TcpStream::connect(to).unwrap();
            office.write_all(handed.as_bytes()).unwrap();
            office.write_all(&body).unwrap();
            let mut answer = Vec::new();
            office.read_to_end(&mut answer).unwrap();
            caller.write_all(&answer).ok();
        }
    });
    format!("http://{at}")
}

#[test]
fn behind_a_proxy_the_office_is_what_browsers_see_and_asks_everybody() {
    let running = start(Front::BehindProxy { origin: "https://office.example".to_owned() }, Limits::default());
    let proxy = hand_on(running.address(), "office.example");
    let agent = client(Vec::new());
    let stranger = said(agent.get(format!("{proxy}/api/v1/me")).call().unwrap());
    assert_eq!(stranger.code(), "SRV-018");
    let body = format!("{{\"passphrase\":\"{PASSPHRASE}\"}}");
    let log_in = |origin: &str| {
        let asked = agent.post(format!("{proxy}/api/v1/login")).header("content-type", "application/json");
        said(asked.header("origin", origin).send(&body).unwrap())
    };
    assert_eq!(log_in("https://other.example").code(), "SRV-014");
    let owner = log_in("https://office.example");
    assert_eq!(owner.status, 200, "{}", owner.body);
    // Past the proxy, under another name, nobody is answered.
    assert!(running.in_the_clear("GET /api/v1/me HTTP/1.1").starts_with("HTTP/1.1 403"));
    for origin in ["http://office.example", "office.example", "https://office.example/x", "https://"] {
        let (folder, desk) = outfit();
        let how = Serve {
            listen: "127.0.0.1:0".parse().unwrap(),
            front: Front::BehindProxy { origin: origin.to_owned() },
            names: Vec::new(),
            effort: Effort { tries: 1 },
            json_log: false,
            limits: Limits::default(),
        };
        let refused = outyard_folder::Desk::run(serve_until(&desk, &how, |_| {}, std::future::ready(())));
        assert_eq!(refused.unwrap_err()[0].code, "SRV-025", "{origin}");
        drop(folder);
    }
}

#[test]
fn no_address_is_opened_without_encryption_or_without_a_passphrase() {
    let (folder, desk) = outfit();
    for (listen, front) in [
        ("0.0.0.0:0", Front::ThisMachine),
        ("0.0.0.0:0", Front::OwnAuthority),
        ("127.0.0.1:0", Front::OwnAuthority),
        ("127.0.0.1:0", Front::BehindProxy { origin: "https://office.example".to_owned() }),
    ] {
        let how = Serve {
            listen: listen.parse().unwrap(),
            front: front.clone(),
            names: Vec::new(),
            effort: Effort { tries: 1 },
            json_log: false,
            limits: Limits::default(),
        };
        let refused = outyard_folder::Desk::run(serve_until(&desk, &how, |_| {}, std::future::ready(())));
        assert_eq!(refused.unwrap_err()[0].code, "SRV-010", "{front:?}");
    }
    assert!(!folder.path().join("authority.pem").exists());
}

#[test]
fn whoever_drips_or_says_nothing_is_cut_off() {
    let limits = Limits {
        longest: Duration::from_secs(3),
        body_pause: Duration::from_secs(1),
        head: Duration::from_secs(1),
        ..Limits::default()
    };
    for front in [Front::ThisMachine, Front::OwnAuthority] {
        let running = start(front.clone(), limits);
        // Says nothing; and drips its head, or its handshake.
        for first in [&b""[..], if front == Front::ThisMachine { b"GET / HT" } else { b"\x16\x03\x01" }] {
            let mut stream = TcpStream::connect(running.address()).unwrap();
            stream.set_read_timeout(Some(Duration::from_secs(10))).unwrap();
            stream.write_all(first).unwrap();
            let begun = Instant::now();
            let mut rest = Vec::new();
            stream.read_to_end(&mut rest).ok();
            assert!(begun.elapsed() < Duration::from_secs(5), "{front:?} {first:?}: {:?}", begun.elapsed());
        }
    }
    // Drips its body: a byte now and then, never long silent, and never done.
    let running = start(Front::ThisMachine, limits);
    for (pause_ms, longest) in [(300, 6), (2500, 4)] {
        let mut stream = TcpStream::connect(running.address()).unwrap();
        let mut writer = stream.try_clone().unwrap();
        stream.set_read_timeout(Some(Duration::from_secs(10))).unwrap();
        let head = "POST /api/v1/entries HTTP/1.1\r\ncontent-type: application/json\r\ncontent-length: 100000\r\n";
        write!(writer, "{head}host: {}\r\n\r\n", running.address()).unwrap();
        let dripping = std::thread::spawn(move || {
            while writer.write_all(b" ").is_ok() {
                std::thread::sleep(Duration::from_millis(pause_ms));
            }
        });
        let begun = Instant::now();
        let mut answer = Vec::new();
        stream.read_to_end(&mut answer).ok();
        let answer = String::from_utf8_lossy(&answer).into_owned();
        assert!(begun.elapsed() < Duration::from_secs(longest), "{pause_ms} ms: {:?} {answer}", begun.elapsed());
        assert!(answer.is_empty() || answer.starts_with("HTTP/1.1 4"), "{answer}");
        dripping.join().unwrap();
    }
}

#[test]
fn too_many_connections_are_not_taken_in_and_the_end_is_orderly() {
    let limits = Limits { connections: (5, 5), stop_within: Duration::from_secs(2), ..Limits::default() };
    let mut running = start(Front::ThisMachine, limits);
    let ask = |stream: &mut TcpStream| {
        stream.set_read_timeout(Some(Duration::from_secs(30))).unwrap();
        write!(stream, "GET /api/v1/events HTTP/1.1\r\nhost: {}\r\n\r\n", running.ready.address).ok();
        let mut head = [0_u8; 12];
        stream.read_exact(&mut head).map(|()| String::from_utf8_lossy(&head).into_owned()).unwrap_or_default()
    };
    let mut held: Vec<TcpStream> = (0..5).map(|_| TcpStream::connect(running.address()).unwrap()).collect();
    for stream in &mut held {
        assert_eq!(ask(stream), "HTTP/1.1 200");
    }
    assert_eq!(ask(&mut TcpStream::connect(running.address()).unwrap()), "", "the sixth is closed unanswered");
    drop(held.pop());
    let begun = Instant::now();
    while ask(&mut TcpStream::connect(running.address()).unwrap()) != "HTTP/1.1 200" {
        assert!(begun.elapsed() < Duration::from_secs(10), "a place that was given back is not taken again");
    }
    let begun = Instant::now();
    running.end().unwrap();
    assert!(begun.elapsed() < Duration::from_secs(20), "listeners held the end up: {:?}", begun.elapsed());
    for stream in &mut held {
        let mut rest = Vec::new();
        assert!(stream.read_to_end(&mut rest).is_ok(), "the line ended");
    }
}
