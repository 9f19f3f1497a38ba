//! A real server on a free port over a real book, and a plain client.

use std::net::SocketAddr;
use std::sync::Arc;

use jiff::civil::date;
use outyard_app::demo::invent;
use outyard_app::demo_book::write_down;
use outyard_app::ports::Store;
use outyard_folder::{Desk, SETTINGS};
use outyard_runs::Effort;
use outyard_server::{Door, Limits, Office, Role, Way, app};
use serde_json::Value;
use tempfile::TempDir;
use tokio::runtime::Runtime;

pub(crate) struct Served {
    pub(crate) folder: TempDir,
    pub(crate) address: SocketAddr,
    pub(crate) door: Arc<Door>,
    office: Arc<Office>,
    runtime: Option<Runtime>,
    agent: ureq::Agent,
}

/// Serves the invented outfit on its usual morning, to this machine alone.
pub(crate) fn serve() -> Served {
    serve_by(Way::ThisMachine, Limits::default())
}

/// Serves it so that everybody is asked who he is; encryption is tried elsewhere.
pub(crate) fn serve_asking() -> Served {
    serve_by(Way::Encrypted, Limits { asked: (1000.0, 10_000.0), ..Limits::default() })
}

/// The invented outfit in a folder of its own, on its usual morning.
pub(crate) fn outfit() -> (TempDir, Desk) {
    let folder = tempfile::tempdir().unwrap();
    let day = date(2026, 7, 3);
    let book = write_down(&invent(7, day));
    std::fs::write(folder.path().join(SETTINGS), &book.settings).unwrap();
    let desk = Desk::new(folder.path(), Some(day), "office", "office").unwrap();
    desk.with_store(async |store| {
        for file in &book.files {
            store.keep_file(file.as_bytes()).await.map_err(|error| vec![error.into()])?;
        }
        store.append(&book.entries).await.map_err(|error| vec![error.into()])?;
        Ok(())
    })
    .unwrap();
    (folder, desk)
}

/// Serves it in a way.
pub(crate) fn serve_by(way: Way, limits: Limits) -> Served {
    let (folder, desk) = outfit();
    let runtime = tokio::runtime::Builder::new_multi_thread().worker_threads(2).enable_all().build().unwrap();
    let (office, door, address) = runtime.block_on(async {
        let door = Door::open(folder.path(), way, Vec::new(), None, limits).await.unwrap();
        let office = Office::open(desk, Effort { tries: 50 }).await.unwrap();
        let listener = tokio::net::TcpListener::bind("127.0.0.1:0").await.unwrap();
        let address = listener.local_addr().unwrap();
        let service = app(Arc::clone(&office), &door);
        tokio::spawn(async move { axum::serve(listener, service).await });
        (office, door, address)
    });
    let agent = ureq::Agent::config_builder().http_status_as_error(false).build().into();
    Served { folder, address, door, office, runtime: Some(runtime), agent }
}

/// Status, headers and body of an answer.
#[derive(Debug)]
pub(crate) struct Said {
    pub(crate) status: u16,
    pub(crate) headers: ureq::http::HeaderMap,
    pub(crate) body: String,
}

impl Said {
    pub(crate) fn json(&self) -> Value {
        serde_json::from_str(&self.body).unwrap_or_else(|error| panic!("{error}: {}", self.body))
    }

    pub(crate) fn code(&self) -> String {
        assert_eq!(self.headers["content-type"], "application/problem+json", "{}", self.body);
        self.json()["troubles"][0]["code"].as_str().unwrap().to_owned()
    }
}

pub(crate) fn said(response: ureq::http::Response<ureq::Body>) -> Said {
    let (parts, mut body) = response.into_parts();
    let body = body.read_to_string().unwrap();
    Said { status: parts.status.as_u16(), headers: parts.headers, body }
}

/// Somebody at the door, with the cookie he was given.
#[derive(Clone, Default)]
pub(crate) struct Guest {
    pub(crate) cookie: String,
    pub(crate) device: String,
}

impl Served {
    /// Does something at the door's own desk.
    pub(crate) fn at_the_desk<T>(&self, work: impl Future<Output = T>) -> T {
        self.runtime.as_ref().unwrap().block_on(work)
    }

    /// Asks as somebody, from the server's own page.
    pub(crate) fn ask_as(&self, guest: &Guest, verb: &str, path: &str, body: &[u8]) -> Said {
        let sort = if verb == "PUT" { "application/octet-stream" } else { "application/json" };
        let request = ureq::http::Request::builder()
            .method(verb)
            .uri(self.url(path))
            .header("origin", format!("https://{}", self.address))
            .header("content-type", sort)
            .header("cookie", &guest.cookie);
        let bare = matches!(verb, "GET" | "DELETE");
        said(
            if bare { self.agent.run(request.body(()).unwrap()) } else { self.agent.run(request.body(body).unwrap()) }
                .unwrap(),
        )
    }

    /// Lets somebody in by a code, as a phone does.
    pub(crate) fn pair(&self, role: Role) -> Guest {
        let accounts = self.door.accounts();
        let code = match role {
            Role::Reader => self.at_the_desk(accounts.invite_reader("inspector", 3)),
            role => self.at_the_desk(accounts.invite(role)),
        };
        self.pair_by(&code.unwrap().code).unwrap()
    }

    pub(crate) fn pair_by(&self, code: &str) -> Result<Guest, Box<Said>> {
        let body = serde_json::json!({ "code": code, "name": "Ann" }).to_string();
        let said = self.ask_as(&Guest::default(), "POST", "/api/v1/pair", body.as_bytes());
        if said.status != 200 {
            return Err(Box::new(said));
        }
        let given = said.headers["set-cookie"].to_str().unwrap();
        for word in ["__Host-outyard=", "; Path=/;", "; Secure;", "; HttpOnly;", "; SameSite=Strict"] {
            assert!(given.contains(word), "{given}");
        }
        let cookie = given.split(';').next().unwrap().to_owned();
        Ok(Guest { cookie, device: said.json()["device"].as_str().unwrap().to_owned() })
    }

    pub(crate) fn url(&self, path: &str) -> String {
        format!("http://{}{path}", self.address)
    }

    pub(crate) fn get(&self, path: &str) -> Said {
        self.get_with(path, "accept", "*/*")
    }

    pub(crate) fn get_with(&self, path: &str, name: &str, value: &str) -> Said {
        said(self.agent.get(self.url(path)).header(name, value).call().unwrap())
    }

    pub(crate) fn post(&self, path: &str, body: &Value) -> Said {
        self.post_text(path, &body.to_string())
    }

    pub(crate) fn post_text(&self, path: &str, body: &str) -> Said {
        said(self.agent.post(self.url(path)).header("content-type", "application/json").send(body).unwrap())
    }

    pub(crate) fn post_raw(&self, url: &str, headers: &[(&str, &str)], body: &str) -> Said {
        let request = headers.iter().fold(self.agent.post(url), |request, (name, value)| request.header(*name, *value));
        said(request.header("content-type", "application/json").send(body).unwrap())
    }

    pub(crate) fn put(&self, path: &str, bytes: &[u8]) -> Said {
        said(self.agent.put(self.url(path)).send(bytes).unwrap())
    }

    /// Whether a body is refused as too large. The server hangs up rather than read on, which a client that is still
    /// sending may meet before it meets the answer.
    pub(crate) fn is_refused_as_too_large(&self, path: &str, bytes: &[u8]) -> bool {
        let outcome = if path.contains("/files/") {
            self.agent.put(self.url(path)).send(bytes)
        } else {
            self.agent.post(self.url(path)).header("content-type", "application/json").send(bytes)
        };
        match outcome {
            Ok(answer) => answer.status() == 413,
            Err(ureq::Error::Io(_)) => true,
            Err(_) => false,
        }
    }

    /// The morning is worked out anew beside the answers: waits until it knows all that is in the book.
    pub(crate) fn wait_for_the_morning(&self) {
        let mut behind = i64::MAX;
        for _ in 0..300 {
            behind = self.get("/api/v1/yards").json()["as_of"]["entries_behind"].as_i64().unwrap();
            if behind == 0 {
                break;
            }
            std::thread::sleep(core::time::Duration::from_millis(200));
        }
        assert_eq!(behind, 0);
    }

    pub(crate) fn entries(&self) -> usize {
        Desk::new(self.folder.path(), None, "test", "test").unwrap().entries().unwrap().len()
    }
}

impl Drop for Served {
    fn drop(&mut self) {
        self.office.stop();
        if let Some(runtime) = self.runtime.take() {
            runtime.shutdown_timeout(std::time::Duration::from_secs(20));
        }
    }
}
