//! Who is let in, how, and what he may do: the whole table, role by role and route by route.

use std::fmt::Write as _;
use std::time::Duration;

use outyard_server::{ACCOUNTS, Accounts, Role, WHO};
use serde_json::json;

use crate::support::{Guest, Served, serve, serve_asking};

const PASSPHRASE: &str = "four lids on a windy day";

/// What is sent to a route of the table, and what it answers to whoever may call it.
fn sample(served: &Served, verb: &str, path: &str, extra: &Guest) -> (String, Vec<u8>, u16) {
    let body = |value: serde_json::Value| value.to_string().into_bytes();
    let at = path
        .replace("{yard}", "7")
        .replace("{table}", "yards.csv")
        .replace("{device}", &extra.device)
        .replace("{hash}", &outyard_book::ContentHash::of(b"x").to_string());
    let (bytes, status) = match (verb, path) {
        ("POST", "/api/v1/login") => (body(json!({ "passphrase": PASSPHRASE })), 200),
        ("POST", "/api/v1/logout") | ("DELETE", "/api/v1/devices/{device}") => (Vec::new(), 204),
        ("POST", "/api/v1/pair") => {
            let code = served.at_the_desk(served.door.accounts().invite(Role::Crew)).unwrap().code;
            (body(json!({ "code": code, "name": "Ann" })), 200)
        }
        ("POST", "/api/v1/pair/codes") => (body(json!({ "role": "crew" })), 200),
        ("POST", "/api/v1/feeds/links") => (body(json!({ "feed": "visits.ics", "name": "wall" })), 200),
        // There is none of that name: whoever may call it is told so.
        ("DELETE", "/api/v1/feeds/links/{link}") | ("GET", "/api/v1/feeds/by/{token}/{feed}") => (Vec::new(), 404),
        ("POST", "/api/v1/entries") => (body(json!({ "entries": [] })), 200),
        ("PUT", "/api/v1/files/{hash}") => (b"x".to_vec(), 200),
        // What says nothing is refused for what it says.
        ("POST", "/api/v1/tally") => (body(json!({ "yard": "7" })), 422),
        ("POST", "/api/v1/replan") => (body(json!({})), 200),
        ("POST", "/api/v1/what-if") => (body(json!({ "changes": [] })), 422),
        ("GET", _) => (Vec::new(), 200),
        _ => (body(json!({})), 0),
    };
    (at, bytes, status)
}

#[test]
fn every_role_is_answered_on_every_route_exactly_as_the_table_says() {
    let served = serve_asking();
    served.at_the_desk(served.door.accounts().set_passphrase(PASSPHRASE)).unwrap();
    served.at_the_desk(served.door.accounts().invite(Role::Crew)).unwrap();
    let known = Role::ALL.map(|role| (role, served.pair(role)));
    // The file the table's reader is asked for is there before anybody asks.
    let hash = outyard_book::ContentHash::of(b"x");
    assert_eq!(served.ask_as(&known[0].1, "PUT", &format!("/api/v1/files/{hash}"), b"x").status, 200);
    let mut wrong = String::new();
    let mut asked = 0;
    for (verb, path, roles) in WHO {
        for role in Role::ALL.into_iter().chain([Role::Stranger]) {
            let extra = served.pair(Role::Crew);
            let guest = match known.iter().find(|(of, _)| *of == role) {
                // Whoever goes out is somebody who has only just come.
                Some(_) if path.ends_with("/logout") => served.pair(role),
                Some((_, guest)) => guest.clone(),
                None => Guest::default(),
            };
            let (at, body, fits) = sample(&served, verb, path, &extra);
            if path.ends_with("/events") && roles.contains(&role) {
                // A line that stays open is read in a test of its own.
                continue;
            }
            let said = served.ask_as(&guest, verb, &at, &body);
            let wanted = match (roles.contains(&role), role) {
                (false, Role::Stranger) => (401, "SRV-018"),
                (false, _) => (403, "SRV-014"),
                (true, _) => (fits, ""),
            };
            asked += 1;
            // A route this table of samples does not know answers to its body; it must only not turn the caller away.
            let fits = if wanted.0 == 0 {
                ![401, 403].contains(&said.status) && said.status < 500
            } else {
                said.status == wanted.0
            };
            if !fits || (!wanted.1.is_empty() && said.code() != wanted.1) {
                writeln!(
                    wrong,
                    "{verb} {path} by {}: {} instead of {wanted:?}: {}",
                    role.code(),
                    said.status,
                    said.body
                )
                .unwrap();
            }
        }
    }
    assert!(wrong.is_empty(), "{wrong}");
    assert!(asked >= WHO.len() * 5 - 5, "{asked}");
}

#[test]
fn the_owner_comes_in_by_his_passphrase_and_guessing_is_slow() {
    let served = serve_asking();
    let accounts = served.door.accounts();
    assert!(served.at_the_desk(accounts.set_passphrase("too short")).is_err());
    served.at_the_desk(accounts.set_passphrase(PASSPHRASE)).unwrap();
    let log_in = |words: &str| {
        let body = json!({ "passphrase": words }).to_string();
        served.ask_as(&Guest::default(), "POST", "/api/v1/login", body.as_bytes())
    };
    let said = log_in(PASSPHRASE);
    assert_eq!(said.status, 200, "{}", said.body);
    let cookie = said.headers["set-cookie"].to_str().unwrap().split(';').next().unwrap().to_owned();
    let owner = Guest { cookie, device: String::new() };
    let me = served.ask_as(&owner, "GET", "/api/v1/me", b"").json();
    assert_eq!((me["role"].as_str(), me["pairs"].as_bool()), (Some("owner"), Some(true)), "{me}");
    let mut answers = Vec::new();
    for _ in 0..12 {
        answers.push(log_in("four lids on a windy dax").status);
    }
    assert_eq!(answers[..5], [401; 5]);
    assert!(answers[6..].iter().all(|status| *status == 429), "{answers:?}");
    let held = log_in(PASSPHRASE);
    assert_eq!((held.status, held.code().as_str()), (429, "SRV-019"), "even the right words wait");
    assert!(held.headers["retry-after"].to_str().unwrap().parse::<u64>().unwrap() >= 1);
    // A new passphrase shuts out browsers the old one opened.
    served.at_the_desk(accounts.set_passphrase("another four words on it")).unwrap();
    assert_eq!(served.ask_as(&owner, "GET", "/api/v1/me", b"").status, 401);
    let kept = std::fs::read(served.folder.path().join(ACCOUNTS)).unwrap();
    let log = std::fs::read(served.folder.path().join(format!("{ACCOUNTS}-wal"))).unwrap_or_default();
    let token = owner.cookie.split_once('=').unwrap().1.as_bytes().to_vec();
    for secret in [PASSPHRASE.as_bytes().to_vec(), token] {
        let stands_in = |bytes: &[u8]| bytes.windows(secret.len()).any(|part| part == secret);
        assert!(!stands_in(&kept) && !stands_in(&log), "a secret stands in the file");
    }
    assert!([kept, log].concat().windows(9).any(|part| part == b"$argon2id"));
}

#[test]
fn a_code_holds_once_and_a_device_that_is_let_out_stays_out() {
    let served = serve_asking();
    let owner = served.pair(Role::Owner);
    let made = served.ask_as(&owner, "POST", "/api/v1/pair/codes", b"{\"role\":\"crew\"}").json();
    let code = made["code"].as_str().unwrap();
    assert_eq!(made["url"], format!("https://{}/pair#{code}", served.address));
    assert!(made["svg"].as_str().unwrap().contains("<svg"));
    let typed = code.to_lowercase().replace('-', " ");
    let phone = served.pair_by(&typed).unwrap_or_else(|said| panic!("{}", said.body));
    assert_eq!(served.pair_by(code).err().unwrap().code(), "SRV-018");
    assert_eq!(served.ask_as(&phone, "GET", "/api/v1/phone/pack", b"").status, 200);
    let devices = served.ask_as(&owner, "GET", "/api/v1/devices", b"").json();
    let listed = devices.as_array().unwrap().iter().find(|one| one["device"] == phone.device.as_str()).unwrap();
    assert_eq!((listed["role"].as_str(), listed["name"].as_str()), (Some("crew"), Some("Ann")));
    assert!(listed["last_seen"].is_string(), "{listed}");
    let path = format!("/api/v1/devices/{}", phone.device);
    assert_eq!(served.ask_as(&owner, "DELETE", &path, b"").status, 204);
    assert_eq!(served.ask_as(&phone, "GET", "/api/v1/phone/pack", b"").status, 401);
    assert_eq!(served.ask_as(&owner, "DELETE", &path, b"").status, 404);
    for (body, code) in [
        (json!({ "code": "0000-0000", "name": "" }), "SRV-023"),
        (json!({ "code": "0000-0000", "name": "a\nb" }), "SRV-023"),
        (json!({ "code": "0000-0000", "name": "Ann" }), "SRV-018"),
    ] {
        let said = served.ask_as(&Guest::default(), "POST", "/api/v1/pair", body.to_string().as_bytes());
        assert_eq!(said.code(), code, "{}", said.body);
    }
}

#[test]
fn a_readers_link_lets_readers_look_and_ends() {
    let served = serve_asking();
    let owner = served.pair(Role::Owner);
    let asked = json!({ "role": "reader", "days": 2, "name": "inspector" }).to_string();
    let link = served.ask_as(&owner, "POST", "/api/v1/pair/codes", asked.as_bytes()).json();
    let code = link["code"].as_str().unwrap();
    let first = served.pair_by(code).unwrap_or_else(|said| panic!("{}", said.body));
    let second = served.pair_by(code).unwrap_or_else(|said| panic!("{}", said.body));
    let me = served.ask_as(&first, "GET", "/api/v1/me", b"").json();
    assert_eq!((me["role"].as_str(), &me["until"]), (Some("reader"), &link["until"]));
    // The link itself is no device: what it carries opens nothing as a cookie.
    let forged = Guest { cookie: format!("__Host-outyard={code}"), device: String::new() };
    assert_eq!(served.ask_as(&forged, "GET", "/api/v1/me", b"").status, 401);
    let devices = served.ask_as(&owner, "GET", "/api/v1/devices", b"").json();
    let of_link = devices.as_array().unwrap().iter().find(|one| one["sort"] == "link").unwrap();
    let path = format!("/api/v1/devices/{}", of_link["device"].as_str().unwrap());
    assert_eq!(served.ask_as(&owner, "DELETE", &path, b"").status, 204);
    for guest in [&first, &second] {
        assert_eq!(served.ask_as(guest, "GET", "/api/v1/me", b"").status, 401);
    }
    assert_eq!(served.pair_by(code).err().unwrap().status, 401);
    for days in [0, 91] {
        let asked = json!({ "role": "reader", "days": days }).to_string();
        let said = served.ask_as(&owner, "POST", "/api/v1/pair/codes", asked.as_bytes());
        assert_eq!(said.code(), "SRV-023");
    }
}

/// Moves every day in the file of accounts back, as if the time had passed.
fn let_days_pass(served: &Served, days: i64) {
    let path = served.folder.path().join(ACCOUNTS);
    served.at_the_desk(async {
        use sqlx::Connection;
        let options = sqlx::sqlite::SqliteConnectOptions::new().filename(&path);
        let mut file = sqlx::SqliteConnection::connect_with(&options).await.unwrap();
        for table in ["devices", "codes"] {
            let text = format!("UPDATE {table} SET until = until - {}", days * 86_400);
            sqlx::query(sqlx::AssertSqlSafe(text)).execute(&mut file).await.unwrap();
        }
    });
}

#[test]
fn codes_logins_and_links_end_by_themselves() {
    let served = serve_asking();
    let phone = served.pair(Role::Crew);
    let reader = served.pair(Role::Reader);
    let code = served.at_the_desk(served.door.accounts().invite(Role::Crew)).unwrap().code;
    let_days_pass(&served, 2);
    assert_eq!(served.pair_by(&code).err().unwrap().status, 401);
    assert_eq!(served.ask_as(&reader, "GET", "/api/v1/me", b"").status, 200);
    let_days_pass(&served, 2);
    assert_eq!(served.ask_as(&reader, "GET", "/api/v1/me", b"").status, 401);
    assert_eq!(served.ask_as(&phone, "GET", "/api/v1/me", b"").status, 200, "a crew's phone stays until it is let out");
}

#[test]
fn whoever_was_let_in_is_known_after_a_kill_and_stands_in_no_book() {
    let served = serve_asking();
    let phone = served.pair(Role::Crew);
    let copy = tempfile::tempdir().unwrap();
    // What is on the disk at this moment, while the server still has the file open: what a kill leaves.
    for name in [ACCOUNTS.to_owned(), format!("{ACCOUNTS}-wal")] {
        std::fs::copy(served.folder.path().join(&name), copy.path().join(&name)).unwrap();
    }
    let after = served.at_the_desk(Accounts::open(copy.path())).unwrap();
    let devices = served.at_the_desk(after.devices()).unwrap();
    assert_eq!(devices.iter().map(|one| one.device.as_str()).collect::<Vec<_>>(), [phone.device.as_str()]);
    let book = outyard_folder::Desk::new(served.folder.path(), None, "test", "test").unwrap().entries().unwrap();
    assert!(!book.iter().any(|entry| outyard_book::wire::write_line(entry).contains(&phone.device)));
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        let mode = std::fs::metadata(served.folder.path().join(ACCOUNTS)).unwrap().permissions().mode();
        assert_eq!(mode & 0o077, 0, "others may read the accounts: {mode:o}");
    }
}

#[test]
fn no_other_page_writes_and_no_proxy_passes_for_the_owner() {
    let asking = serve_asking();
    let owner = asking.pair(Role::Owner);
    let url = asking.url("/api/v1/pair/codes");
    for (name, value) in [
        ("x-nothing", String::new()),
        ("origin", "https://outyard.example".to_owned()),
        ("origin", format!("http://{}", asking.address)),
        ("origin", "null".to_owned()),
        ("sec-fetch-site", "cross-site".to_owned()),
        ("sec-fetch-site", "same-site".to_owned()),
    ] {
        let said = asking.post_raw(&url, &[("cookie", &owner.cookie), (name, &value)], "{\"role\":\"crew\"}");
        assert_eq!((said.status, said.code().as_str()), (403, "SRV-014"), "{name}: {value}");
    }
    let open = serve();
    for name in ["forwarded", "x-forwarded-for", "x-real-ip", "via"] {
        let said = open.get_with("/api/v1/me", name, "10.0.0.9");
        assert_eq!((said.status, said.code().as_str()), (403, "SRV-017"), "{name}");
    }
    let me = open.get("/api/v1/me").json();
    assert_eq!(
        (me["role"].as_str(), me["pairs"].as_bool(), me["today"].as_str()),
        (Some("owner"), Some(false), Some("2026-07-03"))
    );
    assert_eq!(open.post("/api/v1/pair/codes", &json!({ "role": "crew" })).code(), "SRV-024");
    assert_eq!(open.post("/api/v1/login", &json!({ "passphrase": "" })).status, 200);
}

#[test]
fn a_feed_is_read_by_its_secret_address_until_it_is_taken_back() {
    let served = serve_asking();
    let owner = served.pair(Role::Owner);
    for (feed, begins) in [("visits.ics", "BEGIN:VCALENDAR"), ("runs.gpx", "<?xml"), ("map.geojson", "{")] {
        let asked = json!({ "feed": feed, "name": "the wall" }).to_string();
        let made = served.ask_as(&owner, "POST", "/api/v1/feeds/links", asked.as_bytes()).json();
        let url = made["url"].as_str().unwrap();
        let path = url.strip_prefix(&format!("https://{}", served.address)).unwrap();
        // As a calendar reads it: no cookie, no origin.
        let read = served.get(path);
        assert!(read.status == 200 && read.body.starts_with(begins), "{feed}: {}", read.body);
        let tag = read.headers["etag"].to_str().unwrap();
        assert_eq!(served.get_with(path, "if-none-match", tag).status, 304);
        let other = if feed == "visits.ics" { "runs.gpx" } else { "visits.ics" };
        assert_eq!(served.get(&path.replace(feed, other)).status, 404, "a link opens one feed");
        assert_eq!(served.get(&path.replace("/by/", "/by/0")).status, 404);
        let link = format!("/api/v1/feeds/links/{}", made["feed_link"].as_str().unwrap());
        let list = served.ask_as(&owner, "GET", "/api/v1/feeds/links", b"");
        assert!(list.body.contains("last_read\":\"20") && !list.body.contains(path.split('/').nth(5).unwrap()));
        assert_eq!(served.ask_as(&owner, "DELETE", &link, b"").status, 204);
        assert_eq!(served.get(path).status, 404);
    }
    let said = served.ask_as(&owner, "POST", "/api/v1/feeds/links", b"{\"feed\":\"../book\",\"name\":\"x\"}");
    assert_eq!(said.code(), "SRV-023");
}

#[test]
fn listeners_are_bounded_and_whoever_is_let_out_hears_no_more() {
    use std::io::{Read, Write};
    let served = serve_asking();
    let owner = served.pair(Role::Owner);
    let phone = served.pair(Role::Crew);
    let listen = || {
        let mut stream = std::net::TcpStream::connect(served.address).unwrap();
        stream.set_read_timeout(Some(Duration::from_secs(20))).unwrap();
        let (host, cookie) = (served.address, &phone.cookie);
        write!(stream, "GET /api/v1/events HTTP/1.1\r\nhost: {host}\r\ncookie: {cookie}\r\n\r\n").unwrap();
        let mut head = [0_u8; 15];
        stream.read_exact(&mut head).unwrap();
        (stream, String::from_utf8_lossy(&head[9..12]).into_owned())
    };
    let mut held: Vec<_> = (0..10).map(|_| listen()).collect();
    let answers: Vec<&str> = held.iter().map(|(_, status)| status.as_str()).collect();
    assert_eq!(answers, ["200", "200", "200", "200", "200", "200", "200", "200", "429", "429"]);
    assert_eq!(served.ask_as(&owner, "DELETE", &format!("/api/v1/devices/{}", phone.device), b"").status, 204);
    for (stream, _) in &mut held[..8] {
        let mut rest = String::new();
        // The stream ends with its last part; the connection itself may stay.
        let mut part = [0_u8; 1024];
        while !rest.contains("\r\n0\r\n\r\n") {
            let read = stream.read(&mut part).expect("the line was cut off in time");
            assert!(read > 0 || rest.contains("event: news"), "{rest}");
            rest.push_str(&String::from_utf8_lossy(&part[..read]));
            if read == 0 {
                break;
            }
        }
    }
    assert_eq!(listen().1, "401");
}
