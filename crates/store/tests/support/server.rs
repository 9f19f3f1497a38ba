//! A real `PostgreSQL` server of its own for a test: made, started, stopped and taken away again.

use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use outyard_store::PostgresAddress;

use crate::support::Folder;

/// What to say when there is no server to be had.
pub(crate) const HOW_TO_INSTALL: &str = "apt-get install postgresql";

/// A server with an empty database `book` of a plain role `keeper`; its superuser is `postgres`.
pub(crate) struct Server {
    programs: PathBuf,
    folder: Folder,
    port: u16,
    runs: bool,
}

/// Folder of the newest installed server's programs.
fn programs() -> Option<PathBuf> {
    let mut found: Vec<(u32, PathBuf)> = std::fs::read_dir("/usr/lib/postgresql")
        .into_iter()
        .flatten()
        .filter_map(|version| {
            let version = version.ok()?;
            let number = version.file_name().to_str()?.parse().ok()?;
            let programs = version.path().join("bin");
            programs.join("initdb").exists().then_some((number, programs))
        })
        .collect();
    found.sort();
    let on_path = || {
        std::env::split_paths(&std::env::var_os("PATH")?)
            .find(|folder| ["initdb", "pg_ctl", "postgres"].iter().all(|program| folder.join(program).exists()))
    };
    found.pop().map(|(_, programs)| programs).or_else(on_path)
}

fn is_root() -> bool {
    Command::new("id").arg("-u").output().is_ok_and(|id| id.stdout.trim_ascii() == b"0")
}

fn well(output: &Output, what: &str) {
    assert!(output.status.success(), "{what}: {}", String::from_utf8_lossy(&output.stderr));
}

impl Server {
    /// Makes and starts a server; `None` when `PostgreSQL` is not installed.
    pub(crate) fn start(name: &str) -> Option<Self> {
        let programs = programs()?;
        let folder = Folder::new(name);
        if is_root() {
            let chown = Command::new("chown").arg("postgres").arg(folder.file("")).output();
            well(&chown.unwrap(), "chown");
        }
        let port = std::net::TcpListener::bind("127.0.0.1:0").unwrap().local_addr().unwrap().port();
        let mut server = Self { programs, folder, port, runs: false };
        let data = server.data();
        let mut initdb = server.program("initdb");
        initdb.args(["--username=postgres", "--auth=trust", "--no-sync"]).arg("-D").arg(data);
        well(&initdb.output().unwrap(), "initdb");
        server.begin();
        server.tell("postgres", "CREATE ROLE keeper LOGIN");
        server.tell("postgres", "CREATE DATABASE book OWNER keeper");
        Some(server)
    }

    fn data(&self) -> PathBuf {
        self.folder.file("data")
    }

    /// A program of the server's, run as the server's owner: the server refuses root.
    fn program(&self, name: &str) -> Command {
        let program = self.programs.join(name);
        if is_root() {
            let mut command = Command::new("runuser");
            command.args(["-u", "postgres", "--"]).arg(program);
            command.current_dir("/");
            command
        } else {
            Command::new(program)
        }
    }

    /// Starts it on its own socket folder and port, and waits until it answers.
    pub(crate) fn begin(&mut self) {
        let options = format!(
            "-p {} -k {} -c listen_addresses=127.0.0.1 -c max_connections=40",
            self.port,
            self.folder.file("").display()
        );
        let (data, log) = (self.data(), self.folder.file("log"));
        let start = self
            .program("pg_ctl")
            .arg("-D")
            .arg(data)
            .arg("-l")
            .arg(log)
            .args(["-s", "-w", "-o", &options, "start"])
            .status();
        assert!(start.unwrap().success(), "pg_ctl start");
        self.runs = true;
    }

    /// Stops it at once, as a crash would: what it had not committed is gone.
    pub(crate) fn crash(&mut self) {
        if self.runs {
            let data = self.data();
            let stop = self.program("pg_ctl").arg("-D").arg(data).args(["-m", "immediate", "stop"]).output();
            well(&stop.unwrap(), "pg_ctl stop");
            self.runs = false;
        }
    }

    /// Has the superuser say something to a database.
    pub(crate) fn tell(&self, database: &str, statement: &str) {
        let socket = self.folder.file("");
        let psql = self
            .program("psql")
            .args(["-X", "-q", "-v", "ON_ERROR_STOP=1", "-U", "postgres", "-p", &self.port.to_string(), "-h"])
            .arg(Path::new(&socket))
            .args(["-d", database, "-c", statement])
            .output();
        well(&psql.unwrap(), statement);
    }

    /// Address of an outfit's book, for a role and a database.
    pub(crate) fn url(&self, role: &str, database: &str, outfit: &str) -> String {
        format!("postgres://{role}@127.0.0.1:{}/{database}?outfit={outfit}&sslmode=disable", self.port)
    }

    /// Address of an outfit's book.
    pub(crate) fn address(&self, outfit: &str) -> PostgresAddress {
        self.url("keeper", "book", outfit).parse().unwrap()
    }
}

impl Drop for Server {
    fn drop(&mut self) {
        self.crash();
    }
}
