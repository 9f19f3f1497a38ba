//! The `PostgreSQL` store on a real server that this test starts and stops: the rules every store obeys, walls between
//! outfits, refusal of changes, a cursor that misses nothing while many write, news to listeners, and a server that
//! crashes in mid-push. Without `PostgreSQL` it says in one line what was left out.

#![expect(clippy::unwrap_used, reason = "a helper of tests stops its test")]
#![expect(clippy::print_stdout, reason = "it tells what was left out")]

#[path = "support/rules.rs"]
mod rules;
#[path = "support/server.rs"]
mod server;
mod support;

use std::collections::BTreeMap;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::Duration;

use outyard_app::exchange::{BothMarks, exchange};
use outyard_app::ports::{Appended, Cursor, Store, StoreError, read_all};
use outyard_base::Chance;
use outyard_book::{Entry, EntryId, SetSum, fold};
use outyard_store::{PostgresAddress, PostgresStore, SqliteStore};
use rules::{Opens, each_rule};
use server::{HOW_TO_INSTALL, Server};
use sqlx::postgres::{PgConnectOptions, PgConnection};
use sqlx::{Connection, Executor};
use support::{Folder, tallies};

static ADDRESS_OF_TESTS: std::sync::OnceLock<String> = std::sync::OnceLock::new();
static OUTFITS: AtomicUsize = AtomicUsize::new(0);

/// An outfit of its own for each rule, all on the one server.
struct InPostgres(PostgresAddress);

impl Opens for InPostgres {
    type Store = PostgresStore;
    fn new(name: &str) -> Self {
        let number = OUTFITS.fetch_add(1, Ordering::Relaxed);
        let server = ADDRESS_OF_TESTS.get().unwrap();
        Self(server.replace("OUTFIT", &format!("{name}-{number}")).parse().unwrap())
    }
    async fn open(&mut self) -> PostgresStore {
        PostgresStore::open(&self.0).await.unwrap()
    }
    fn done(&mut self, store: PostgresStore) {
        drop(store);
    }
}

fn main() {
    let Some(server) = Server::start("postgres") else {
        println!("postgres: left out, no PostgreSQL server is installed ({HOW_TO_INSTALL})");
        return;
    };
    ADDRESS_OF_TESTS.set(server.url("keeper", "book", "OUTFIT")).unwrap();
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().unwrap();
    runtime.block_on(async {
        macro_rules! run_all {
            ($($rule:ident)*) => {$(
                rules::$rule::<InPostgres>().await;
            )*};
        }
        each_rule!(run_all);
        println!("postgres: the rules every store obeys hold");
        outfits_are_walled_off_from_each_other(&server).await;
        a_role_that_sees_past_the_wall_is_refused(&server).await;
        the_database_refuses_changes(&server).await;
        a_database_of_others_is_left_alone(&server).await;
        readers_miss_nothing_while_many_write(&server).await;
        listeners_are_told(&server).await;
        a_book_of_the_first_layout_is_summed_up(&server).await;
        what_is_wrong_is_told(&server).await;
        a_server_that_crashes_in_mid_push_loses_and_doubles_nothing(server).await;
    });
    println!("postgres: all well");
}

async fn stranger(server: &Server, role: &str) -> PgConnection {
    let url = server.url(role, "book", "").replace("outfit=&", "");
    PgConnection::connect_with(&url.parse::<PgConnectOptions>().unwrap()).await.unwrap()
}

async fn count(connection: &mut PgConnection, table: &'static str) -> i64 {
    sqlx::query_scalar(table).fetch_one(connection).await.unwrap()
}

const ENTRIES: &str = "SELECT count(*) FROM outyard.entry";
const FILES: &str = "SELECT count(*) FROM outyard.file";

async fn outfits_are_walled_off_from_each_other(server: &Server) {
    let mut north = PostgresStore::open(&server.address("wall-north")).await.unwrap();
    let mut south = PostgresStore::open(&server.address("wall-south")).await.unwrap();
    let entries = tallies(1, 5);
    north.append(&entries).await.unwrap();
    let hash = north.keep_file(b"north's own").await.unwrap();
    assert!(read_all(&mut south).await.unwrap().is_empty());
    assert_eq!(south.file(&hash).await.unwrap(), None);
    assert!(south.files_since(Cursor::START, 9).await.unwrap().hashes.is_empty());
    // The same names may be used behind the wall, and stay there.
    assert_eq!(south.append(&entries[..2]).await.unwrap(), Appended { new: 2, known: 0 });
    assert_eq!(read_all(&mut north).await.unwrap(), entries);
    // Not by any words of SQL: who names no outfit sees nothing, who names one sees that one and writes to no other.
    let mut raw = stranger(server, "keeper").await;
    assert_eq!((count(&mut raw, ENTRIES).await, count(&mut raw, FILES).await), (0, 0));
    raw.execute("SET outyard.outfit = 'wall-south'").await.unwrap();
    assert_eq!((count(&mut raw, ENTRIES).await, count(&mut raw, FILES).await), (2, 0));
    assert_eq!(count(&mut raw, "SELECT count(*) FROM outyard.entry WHERE outfit = 'wall-north'").await, 0);
    let across = "INSERT INTO outyard.entry (outfit, id, line) VALUES ('wall-north', gen_random_uuid(), '{}')";
    let error = raw.execute(across).await.unwrap_err().to_string();
    assert!(error.contains("row-level security"), "{error}");
}

async fn a_role_that_sees_past_the_wall_is_refused(server: &Server) {
    server.tell("book", "CREATE ROLE overseer LOGIN BYPASSRLS");
    for role in ["postgres", "overseer"] {
        let address: PostgresAddress = server.url(role, "book", "wall-north").parse().unwrap();
        let error = PostgresStore::open(&address).await.unwrap_err();
        assert_eq!(error.code(), "STO-013", "{role}: {error}");
    }
}

async fn the_database_refuses_changes(server: &Server) {
    let mut store = PostgresStore::open(&server.address("fixed")).await.unwrap();
    let entries = tallies(2, 3);
    store.append(&entries).await.unwrap();
    store.keep_file(b"raw").await.unwrap();
    // Even the owner of the tables, and even the superuser.
    for role in ["keeper", "postgres"] {
        let mut raw = stranger(server, role).await;
        raw.execute("SET outyard.outfit = 'fixed'").await.unwrap();
        for statement in [
            "UPDATE outyard.entry SET line = '{}'",
            "DELETE FROM outyard.entry",
            "DELETE FROM outyard.entry WHERE position < 0",
            "TRUNCATE outyard.entry",
            "UPDATE outyard.file SET bytes = ''",
            "DELETE FROM outyard.file",
            "TRUNCATE outyard.file",
            "UPDATE outyard.sum SET entries = 1",
            "DELETE FROM outyard.sum",
            "TRUNCATE outyard.sum",
            "INSERT INTO outyard.entry (outfit, id, line) SELECT outfit, id, line FROM outyard.entry WHERE outfit = 'fixed' \
             ON CONFLICT (outfit, id) DO UPDATE SET line = '{}'",
        ] {
            let error = raw.execute(statement).await.expect_err(statement).to_string();
            assert!(error.contains("never"), "{role}: {statement}: {error}");
        }
    }
    assert_eq!(read_all(&mut store).await.unwrap(), entries);
}

async fn a_database_of_others_is_left_alone(server: &Server) {
    let open = async |database: &str| {
        let address: PostgresAddress = server.url("keeper", database, "mine").parse().unwrap();
        PostgresStore::open(&address).await.unwrap_err()
    };
    server.tell("postgres", "CREATE DATABASE other OWNER keeper");
    server.tell("other", "CREATE SCHEMA outyard AUTHORIZATION keeper");
    assert_eq!(open("other").await.code(), "STO-002");
    server.tell("other", "CREATE TABLE outyard.layout (number INTEGER); GRANT SELECT ON outyard.layout TO keeper");
    server.tell("other", "INSERT INTO outyard.layout VALUES (99)");
    let newer = open("other").await;
    assert!(matches!(newer, StoreError::NewerLayout { found: 99, known: 2, .. }), "{newer}");
}

/// Six writers append as fast as they can; a reader that follows the cursor all the while sees each entry once.
async fn readers_miss_nothing_while_many_write(server: &Server) {
    const WRITERS: u64 = 6;
    const EACH: usize = 120;
    let address = server.address("many");
    let mut reader = PostgresStore::open(&address).await.unwrap();
    let writers: Vec<_> = (0..WRITERS)
        .map(|writer| {
            let address = address.clone();
            tokio::spawn(async move {
                let mut store = PostgresStore::open(&address).await.unwrap();
                let mut chance = Chance::new(writer, "pushes");
                let mut rest = &tallies(500 + writer, EACH as u64)[..];
                while !rest.is_empty() {
                    let (now, later) = rest.split_at(rest.len().min(1 + chance.index(5)));
                    store.append(now).await.unwrap();
                    rest = later;
                }
            })
        })
        .collect();
    let wanted = usize::try_from(WRITERS).unwrap() * EACH;
    let (mut after, mut read) = (Cursor::START, Vec::new());
    loop {
        let all_done = writers.iter().all(tokio::task::JoinHandle::is_finished);
        let page = reader.read_since(after, 7).await.unwrap();
        let quiet = page.entries.is_empty();
        after = page.next;
        read.extend(page.entries);
        if quiet && all_done {
            break;
        }
    }
    for writer in writers {
        writer.await.unwrap();
    }
    assert_eq!(read.len(), wanted);
    each_once(&read, &(0..WRITERS).flat_map(|writer| tallies(500 + writer, EACH as u64)).collect::<Vec<_>>());
    println!("postgres: {WRITERS} writers of {EACH} entries each, a reader by cursor saw each once");
}

fn each_once(read: &[Entry], wanted: &[Entry]) {
    let by_name =
        |entries: &[Entry]| entries.iter().map(|entry| (entry.id, entry.clone())).collect::<BTreeMap<EntryId, _>>();
    assert_eq!(read.len(), wanted.len(), "lost or doubled");
    assert!(by_name(read) == by_name(wanted), "what was kept is not what was told");
}

async fn listeners_are_told(server: &Server) {
    let mut store = PostgresStore::open(&server.address("news")).await.unwrap();
    let mut other = PostgresStore::open(&server.address("other-news")).await.unwrap();
    let mut changes = store.changes().await.unwrap();
    assert!(!changes.wait(Duration::from_millis(50)).await.unwrap(), "nothing was written yet");
    other.append(&tallies(3, 1)).await.unwrap();
    assert!(!changes.wait(Duration::from_millis(200)).await.unwrap(), "what another outfit writes is no news here");
    let entries = tallies(4, 3);
    store.append(&entries[..2]).await.unwrap();
    assert!(changes.wait(Duration::from_secs(10)).await.unwrap());
    let page = store.read_since(Cursor::START, 10).await.unwrap();
    assert_eq!(page.entries, entries[..2]);
    assert!(!changes.wait(Duration::from_millis(50)).await.unwrap(), "told once");
    store.append(&entries[2..]).await.unwrap();
    assert!(changes.wait(Duration::from_secs(10)).await.unwrap());
    assert_eq!(store.read_since(page.next, 10).await.unwrap().entries, entries[2..]);
}

/// The tables of layout 1 know no sums; the first look at a book that began in them reckons them.
async fn a_book_of_the_first_layout_is_summed_up(server: &Server) {
    server.tell("postgres", "CREATE DATABASE first OWNER keeper");
    let mut raw = PgConnection::connect_with(
        &server.url("keeper", "first", "").replace("outfit=&", "").parse::<PgConnectOptions>().unwrap(),
    )
    .await
    .unwrap();
    sqlx::raw_sql(include_str!("../migrations/postgres/0001-book.sql")).execute(&mut raw).await.unwrap();
    raw.execute("SET outyard.outfit = 'old'").await.unwrap();
    let entries = tallies(31, 5);
    for entry in &entries {
        sqlx::query("INSERT INTO outyard.entry (outfit, id, line) VALUES ('old', $1::text::uuid, $2)")
            .bind(entry.id.to_string())
            .bind(outyard_book::wire::write_line(entry))
            .execute(&mut raw)
            .await
            .unwrap();
    }
    let address: PostgresAddress = server.url("keeper", "first", "old").parse().unwrap();
    let mut store = PostgresStore::open(&address).await.unwrap();
    let lines: Vec<String> = entries.iter().map(outyard_book::wire::write_line).collect();
    let sum = SetSum::of(lines.iter().map(String::as_str));
    assert_eq!(store.head().await.unwrap().1, sum);
    let more = tallies(32, 2);
    store.append(&more).await.unwrap();
    let head = store.head().await.unwrap();
    assert_eq!(head.1.entries, 7);
    assert_eq!(store.sum_at(head.0).await.unwrap(), Some(head.1));
    assert_eq!(read_all(&mut store).await.unwrap(), [entries, more].concat());
}

async fn what_is_wrong_is_told(server: &Server) {
    let open =
        async |url: String| PostgresStore::open(&url.parse::<PostgresAddress>().unwrap()).await.unwrap_err().code();
    assert_eq!(open(server.url("keeper", "nowhere", "a")).await, "STO-008");
    assert_eq!(open(server.url("nobody", "book", "a")).await, "STO-008");
    assert_eq!(open("postgres://keeper@127.0.0.1:1/book?outfit=a&sslmode=disable".to_owned()).await, "STO-012");
    // A role that may look but not write.
    server.tell("book", "CREATE ROLE guest LOGIN; GRANT USAGE ON SCHEMA outyard TO guest; GRANT SELECT ON ALL TABLES IN SCHEMA outyard TO guest");
    let address: PostgresAddress = server.url("guest", "book", "fixed").parse().unwrap();
    let mut guest = PostgresStore::open(&address).await.unwrap();
    assert_eq!(read_all(&mut guest).await.unwrap().len(), 3);
    assert_eq!(guest.append(&tallies(9, 1)).await.unwrap_err().code(), "STO-004");
}

/// The server is stopped as by a power cut and started again, over and over, while two devices push. Nothing that was
/// told to be kept is lost, and nothing is there twice; the devices only wait.
async fn a_server_that_crashes_in_mid_push_loses_and_doubles_nothing(mut server: Server) {
    const CRASHES: usize = 4;
    const ENTRIES_EACH: u64 = 4000;
    let address = server.address("crashes");
    let mut pushes = Vec::new();
    for seed in [21, 22] {
        let mut store = PostgresStore::open(&address).await.unwrap();
        pushes.push(tokio::spawn(async move {
            let mut chance = Chance::new(seed, "pushes");
            let all = tallies(seed, ENTRIES_EACH);
            let (mut rest, mut calls) = (&all[..], 0);
            while !rest.is_empty() {
                let (now, later) = rest.split_at(rest.len().min(1 + chance.index(12)));
                store.append(now).await.unwrap();
                calls += 1;
                rest = later;
            }
            calls
        }));
    }
    let folder = Folder::new("postgres-file");
    let file = folder.file("book.sqlite");
    let exchanged = {
        let file = file.clone();
        let mut store = PostgresStore::open(&address).await.unwrap();
        tokio::spawn(async move {
            let mut book = SqliteStore::open(&file).await.unwrap();
            book.append(&tallies(23, ENTRIES_EACH)).await.unwrap();
            let mut marks = BothMarks::default();
            for _ in 0..20 {
                exchange(&mut book, &mut store, &mut marks).await.unwrap();
                tokio::time::sleep(Duration::from_millis(20)).await;
            }
        })
    };
    let mut chance = Chance::new(1, "crashes");
    let mut in_mid_push = 0;
    for _ in 0..CRASHES {
        tokio::time::sleep(Duration::from_millis(30 + chance.below(150))).await;
        in_mid_push += usize::from(pushes.iter().any(|push| !push.is_finished()));
        let again = move || {
            server.crash();
            server.begin();
            server
        };
        server = tokio::task::spawn_blocking(again).await.unwrap();
    }
    let mut calls = 0;
    for push in pushes {
        calls += push.await.unwrap();
    }
    exchanged.await.unwrap();
    let (mut store, mut book) = (PostgresStore::open(&address).await.unwrap(), SqliteStore::open(&file).await.unwrap());
    exchange(&mut book, &mut store, &mut BothMarks::default()).await.unwrap();
    let wanted = [21, 22, 23].map(|seed| tallies(seed, ENTRIES_EACH)).concat();
    let kept = read_all(&mut store).await.unwrap();
    each_once(&kept, &wanted);
    let in_file = read_all(&mut book).await.unwrap();
    each_once(&in_file, &wanted);
    assert_eq!(fold(&kept), fold(&in_file));
    assert!(in_mid_push >= 2, "only {in_mid_push} crashes while devices pushed");
    println!("postgres: {in_mid_push} crashes in mid-push, {calls} pushes, {} entries, 0 lost, 0 doubled", kept.len());
}
