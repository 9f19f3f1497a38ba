//! A book in `PostgreSQL`, for when several offices and many phones share it.
//!
//! - **Durable**: `synchronous_commit` is turned on for the session, whatever the server's own setting, so an append
//!   that returned is in the server's log on disk (postgresql.org, "Write Ahead Log", `synchronous_commit`).
//! - **No reader misses one**: appends of one outfit hold an advisory lock from before the first position is drawn
//!   until the commit can be seen, so positions grow in the order of commit. A trigger takes the lock too, so a writer
//!   that forgot it does no harm.
//! - **Walls between outfits**: row-level security shows a session the rows of the outfit it named and no others. A
//!   role that could see past the wall (a superuser) is refused.
//! - **Never changed**: triggers refuse `UPDATE`, `DELETE` and `TRUNCATE`.
//! - **The server may go away** and come back: a call that loses its connection is made again on a new one until
//!   patience ends. An entry's name makes that harmless: what was committed after all is known the second time.

mod address;
mod errors;

use std::collections::BTreeMap;
use std::time::{Duration, Instant};

use outyard_app::ports::{Appended, Cursor, FilePage, Page, Store, StoreError};
use outyard_book::{ContentHash, Entry, EntryId, SetSum};
use sqlx::postgres::{PgConnection, PgListener, PgPoolOptions};
use sqlx::{Connection, Executor};

pub use address::PostgresAddress;
use errors::Server;

use crate::kept::{
    KeptSum, LastSum, as_it_was_kept, hash_from, last_sum, lines_to_keep, name_of_file, read_kept, sum_from,
};

/// Layouts in order; the number of a layout is its place, counted from 1.
const LAYOUTS: [&str; 2] =
    [include_str!("../../migrations/postgres/0001-book.sql"), include_str!("../../migrations/postgres/0002-sums.sql")];

/// How long to wait for another writer, and for a server that went away (assumed: a restart takes seconds).
const PATIENCE: Duration = Duration::from_secs(20);

/// Pause between two tries to reach a server that went away (assumed).
const PAUSE: Duration = Duration::from_millis(50);

/// Entries per statement.
const ENTRIES_AT_A_TIME: usize = 1024;

/// Names the outfit for row-level security, and makes the session wait for no lock longer than patience.
const BEGIN_SESSION: &str = "SELECT set_config('outyard.outfit', $1, false), set_config('synchronous_commit', 'on', false), \
     set_config('lock_timeout', $2, false), set_config('search_path', 'pg_catalog', false)";

/// The lock that makes appends of one outfit follow one another.
const ONE_WRITER: &str = "SELECT pg_advisory_xact_lock(hashtextextended('outyard ' || $1, 0))";

/// The lock under which a book is laid out: "oybk".
const LAY_OUT_LOCK: &str = "SELECT pg_advisory_xact_lock(1870226027)";

/// The book of one outfit in a `PostgreSQL` database.
#[derive(Debug)]
pub struct PostgresStore {
    address: PostgresAddress,
    server: Server,
    connection: Option<PgConnection>,
    patience: Duration,
}

impl PostgresStore {
    /// Opens the book of an outfit, and lays the tables out when the database has none.
    ///
    /// # Errors
    /// [`StoreError`] when the server cannot be reached or refuses, when the tables are a newer program's or not ours,
    /// and when the role could read other outfits' rows.
    pub async fn open(address: &PostgresAddress) -> Result<Self, StoreError> {
        Self::open_with(address, PATIENCE).await
    }

    /// Opens it with another limit to the waiting for other writers and for a server that went away.
    ///
    /// # Errors
    /// As [`PostgresStore::open`].
    pub async fn open_with(address: &PostgresAddress, patience: Duration) -> Result<Self, StoreError> {
        let server = Server::new(address.to_string());
        let mut connection = connect(address, &server, patience).await?;
        lay_out(&mut connection, &server).await?;
        Ok(Self { address: address.clone(), server, connection: Some(connection), patience })
    }

    /// Closes the book. Dropping it without closing loses nothing.
    ///
    /// # Errors
    /// [`StoreError`] when the server could not be told.
    pub async fn close(self) -> Result<(), StoreError> {
        match self.connection {
            Some(connection) => connection.close().await.map_err(|error| self.server.error(&error)),
            None => Ok(()),
        }
    }

    /// Listens for new entries of this outfit.
    ///
    /// # Errors
    /// [`StoreError`] when the server cannot be reached.
    pub async fn changes(&self) -> Result<Changes, StoreError> {
        let pool = PgPoolOptions::new()
            .max_connections(1)
            .connect_with(self.address.options().clone())
            .await
            .map_err(|error| self.server.error(&error))?;
        let channel: String = sqlx::query_scalar("SELECT 'outyard_' || md5($1)")
            .bind(self.address.outfit())
            .fetch_one(&pool)
            .await
            .map_err(|error| self.server.error(&error))?;
        let mut listener = PgListener::connect_with(&pool).await.map_err(|error| self.server.error(&error))?;
        listener.listen(&channel).await.map_err(|error| self.server.error(&error))?;
        Ok(Changes { listener, server: self.server.clone() })
    }

    /// The connection, made anew when the last one was lost.
    async fn connected(&mut self) -> Result<&mut PgConnection, StoreError> {
        let connection = match self.connection.take() {
            Some(connection) => connection,
            None => connect(&self.address, &self.server, self.patience).await?,
        };
        Ok(self.connection.insert(connection))
    }

    /// An outcome to hand out; `None` when the server went away and the work should be done again.
    async fn final_outcome<T>(
        &mut self,
        outcome: Result<T, StoreError>,
        began: Instant,
    ) -> Option<Result<T, StoreError>> {
        if !matches!(outcome, Err(StoreError::Away { .. })) {
            return Some(outcome);
        }
        self.connection = None;
        if began.elapsed() >= self.patience {
            return Some(outcome);
        }
        tokio::time::sleep(PAUSE).await;
        None
    }

    async fn try_append(&mut self, lines: &[(&Entry, String)]) -> Result<usize, StoreError> {
        let (server, outfit) = (self.server.clone(), self.address.outfit().to_owned());
        append_lines(self.connected().await?, &server, &outfit, lines).await
    }

    async fn try_read_since(&mut self, after: Cursor, limit: i64) -> Result<Vec<(i64, String, String)>, StoreError> {
        let (server, outfit) = (self.server.clone(), self.address.outfit().to_owned());
        sqlx::query_as(include_str!("read_since.sql"))
            .bind(outfit)
            .bind(after.0)
            .bind(limit)
            .fetch_all(self.connected().await?)
            .await
            .map_err(|error| server.error(&error))
    }

    async fn try_sum_at(&mut self, at: Cursor) -> Result<Option<KeptSum>, StoreError> {
        let (server, outfit) = (self.server.clone(), self.address.outfit().to_owned());
        sqlx::query_as("SELECT entries, digest FROM outyard.sum WHERE outfit = $1 AND position = $2")
            .bind(outfit)
            .bind(at.0)
            .fetch_optional(self.connected().await?)
            .await
            .map_err(|error| server.error(&error))
    }

    async fn try_head(&mut self) -> Result<(Cursor, SetSum), StoreError> {
        let (server, outfit) = (self.server.clone(), self.address.outfit().to_owned());
        read_head(self.connected().await?, &server, &outfit).await
    }

    async fn try_entry(&mut self, id: EntryId) -> Result<Option<String>, StoreError> {
        let (server, outfit) = (self.server.clone(), self.address.outfit().to_owned());
        sqlx::query_scalar("SELECT line FROM outyard.entry WHERE outfit = $1 AND id = $2::text::uuid")
            .bind(outfit)
            .bind(id.to_string())
            .fetch_optional(self.connected().await?)
            .await
            .map_err(|error| server.error(&error))
    }

    async fn try_keep_file(&mut self, hash: &ContentHash, bytes: &[u8]) -> Result<(), StoreError> {
        let (server, outfit) = (self.server.clone(), self.address.outfit().to_owned());
        sqlx::query("INSERT INTO outyard.file (outfit, hash, bytes) VALUES ($1, $2, $3) ON CONFLICT DO NOTHING")
            .bind(outfit)
            .bind(hash.as_bytes().as_slice())
            .bind(bytes)
            .execute(self.connected().await?)
            .await
            .map(drop)
            .map_err(|error| server.error(&error))
    }

    async fn try_file(&mut self, hash: &ContentHash) -> Result<Option<Vec<u8>>, StoreError> {
        let (server, outfit) = (self.server.clone(), self.address.outfit().to_owned());
        sqlx::query_scalar("SELECT bytes FROM outyard.file WHERE outfit = $1 AND hash = $2")
            .bind(outfit)
            .bind(hash.as_bytes().as_slice())
            .fetch_optional(self.connected().await?)
            .await
            .map_err(|error| server.error(&error))
    }

    async fn try_files_since(&mut self, after: Cursor, limit: i64) -> Result<Vec<(i64, Vec<u8>)>, StoreError> {
        let (server, outfit) = (self.server.clone(), self.address.outfit().to_owned());
        sqlx::query_as(include_str!("files_since.sql"))
            .bind(outfit)
            .bind(after.0)
            .bind(limit)
            .fetch_all(self.connected().await?)
            .await
            .map_err(|error| server.error(&error))
    }
}

/// Does work that may be done twice, again on a new connection when the server went away in the midst of it.
macro_rules! until_reached {
    ($store:ident, $work:expr) => {{
        let began = Instant::now();
        loop {
            let outcome = $work.await;
            if let Some(outcome) = $store.final_outcome(outcome, began).await {
                break outcome;
            }
        }
    }};
}

/// New entries of one outfit, told as they become readable.
#[derive(Debug)]
pub struct Changes {
    listener: PgListener,
    server: Server,
}

impl Changes {
    /// Waits until there may be something new to read, or the patience ends: then `false`. After a lost connection it
    /// says `true`, since what was written meanwhile was told to nobody.
    ///
    /// # Errors
    /// [`StoreError::Away`] when the server cannot be reached again.
    pub async fn wait(&mut self, patience: Duration) -> Result<bool, StoreError> {
        match tokio::time::timeout(patience, self.listener.try_recv()).await {
            Err(_) => Ok(false),
            Ok(Ok(_)) => {
                // Several appends in one go are one piece of news.
                while self.listener.next_buffered().is_some() {}
                Ok(true)
            }
            Ok(Err(error)) => Err(self.server.error(&error)),
        }
    }
}

async fn connect(address: &PostgresAddress, server: &Server, patience: Duration) -> Result<PgConnection, StoreError> {
    let error = |error: sqlx::Error| server.error(&error);
    let mut connection = PgConnection::connect_with(address.options()).await.map_err(error)?;
    sqlx::query(BEGIN_SESSION)
        .bind(address.outfit())
        .bind(format!("{}ms", patience.as_millis().max(1)))
        .execute(&mut connection)
        .await
        .map_err(error)?;
    Ok(connection)
}

/// Sees whether the tables are there and ours, and brings them to the newest layout.
async fn lay_out(connection: &mut PgConnection, server: &Server) -> Result<(), StoreError> {
    let error = |error: sqlx::Error| server.error(&error);
    let newest = i32::try_from(LAYOUTS.len()).expect("a handful");
    if layout(connection, server).await? == newest {
        return Ok(());
    }
    let mut work = connection.begin().await.map_err(error)?;
    work.execute(LAY_OUT_LOCK).await.map_err(error)?;
    // Another program may have done it while this one waited for the lock.
    let layout = layout(&mut work, server).await?;
    for statements in LAYOUTS.iter().skip(usize::try_from(layout).unwrap_or(0)) {
        sqlx::raw_sql(*statements).execute(&mut *work).await.map_err(error)?;
    }
    work.commit().await.map_err(error)
}

/// The layout of the tables, 0 when there are none.
async fn layout(connection: &mut PgConnection, server: &Server) -> Result<i32, StoreError> {
    let error = |error: sqlx::Error| server.error(&error);
    let (schema, ours, sees_all): (bool, bool, bool) =
        sqlx::query_as(include_str!("marks.sql")).fetch_one(&mut *connection).await.map_err(error)?;
    if sees_all {
        return Err(StoreError::NoWall { book: server.name() });
    }
    match (schema, ours) {
        (false, _) => Ok(0),
        (true, false) => {
            Err(StoreError::NotABook { book: server.name(), why: "its schema outyard is another program's".to_owned() })
        }
        (true, true) => {
            let found: Option<i32> = sqlx::query_scalar("SELECT max(number) FROM outyard.layout")
                .fetch_one(connection)
                .await
                .map_err(error)?;
            let newest = i32::try_from(LAYOUTS.len()).expect("a handful");
            match found {
                Some(found) if found > newest => Err(StoreError::NewerLayout {
                    book: server.name(),
                    found: i64::from(found),
                    known: i64::from(newest),
                }),
                found => Ok(found.unwrap_or(0)),
            }
        }
    }
}

fn id_from(server: &Server, id: &str) -> Result<EntryId, StoreError> {
    id.parse().map_err(|_| StoreError::Damaged { book: server.name(), why: format!("\"{id}\" names no entry") })
}

fn read_row(server: &Server, id: &str, line: &str) -> Result<Entry, StoreError> {
    read_kept(&server.name(), id_from(server, id)?.as_bytes(), line)
}

/// Where the book ends and what it comes to: the last sum, and what stands behind it. Nothing does, but in a book of
/// layout 1, which had no sums, or where someone wrote past this program.
async fn read_head(
    connection: &mut PgConnection,
    server: &Server,
    outfit: &str,
) -> Result<(Cursor, SetSum), StoreError> {
    const AT_A_TIME: i64 = 4096;
    let error = |error: sqlx::Error| server.error(&error);
    let last: LastSum = sqlx::query_as(
        "SELECT position, entries, digest FROM outyard.sum WHERE outfit = $1 ORDER BY position DESC LIMIT 1",
    )
    .bind(outfit)
    .fetch_optional(&mut *connection)
    .await
    .map_err(error)?;
    let (mut at, mut sum) = last_sum(&server.name(), last)?;
    loop {
        let rows: Vec<(i64, String, String)> = sqlx::query_as(include_str!("read_since.sql"))
            .bind(outfit)
            .bind(at.0)
            .bind(AT_A_TIME)
            .fetch_all(&mut *connection)
            .await
            .map_err(error)?;
        let Some((last, ..)) = rows.last() else { return Ok((at, sum)) };
        at = Cursor(*last);
        for (.., line) in &rows {
            sum.add_line(line);
        }
    }
}

async fn write_sum(
    connection: &mut PgConnection,
    server: &Server,
    outfit: &str,
    at: Cursor,
    sum: &SetSum,
) -> Result<(), StoreError> {
    sqlx::query("INSERT INTO outyard.sum (outfit, position, entries, digest) VALUES ($1, $2, $3, $4)")
        .bind(outfit)
        .bind(at.0)
        .bind(i64::try_from(sum.entries).unwrap_or(i64::MAX))
        .bind(sum.digest().as_slice())
        .execute(connection)
        .await
        .map(drop)
        .map_err(|error| server.error(&error))
}

async fn append_lines(
    connection: &mut PgConnection,
    server: &Server,
    outfit: &str,
    lines: &[(&Entry, String)],
) -> Result<usize, StoreError> {
    let error = |error: sqlx::Error| server.error(&error);
    let mut work = connection.begin().await.map_err(error)?;
    sqlx::query(ONE_WRITER).bind(outfit).execute(&mut *work).await.map_err(error)?;
    let (mut new, mut sum) = (0, None);
    for some in lines.chunks(ENTRIES_AT_A_TIME) {
        let names: Vec<String> = some.iter().map(|(entry, _)| entry.id.to_string()).collect();
        let rows: Vec<(String, String)> = sqlx::query_as(include_str!("known.sql"))
            .bind(outfit)
            .bind(&names)
            .fetch_all(&mut *work)
            .await
            .map_err(error)?;
        let known: BTreeMap<EntryId, Entry> = rows
            .iter()
            .map(|(id, line)| read_row(server, id, line).map(|entry| (entry.id, entry)))
            .collect::<Result<_, _>>()?;
        let (mut fresh_names, mut fresh_lines) = (Vec::new(), Vec::new());
        for ((entry, line), name) in some.iter().zip(&names) {
            match known.get(&entry.id) {
                None => {
                    fresh_names.push(name.as_str());
                    fresh_lines.push(line.as_str());
                }
                Some(known) if known == *entry => {}
                Some(_) => return Err(StoreError::SameName(entry.id)),
            }
        }
        if !fresh_names.is_empty() {
            // Before the first of them is in: the head tells what stood there until now.
            let so_far: &mut SetSum = match &mut sum {
                Some(sum) => sum,
                None => sum.insert(read_head(&mut work, server, outfit).await?.1),
            };
            for line in &fresh_lines {
                so_far.add_line(line);
            }
            sqlx::query(include_str!("append.sql"))
                .bind(outfit)
                .bind(&fresh_names)
                .bind(&fresh_lines)
                .execute(&mut *work)
                .await
                .map_err(error)?;
        }
        new += fresh_names.len();
    }
    if let Some(sum) = sum {
        let last: i64 = sqlx::query_scalar("SELECT max(position) FROM outyard.entry WHERE outfit = $1")
            .bind(outfit)
            .fetch_one(&mut *work)
            .await
            .map_err(error)?;
        write_sum(&mut work, server, outfit, Cursor(last), &sum).await?;
    }
    work.commit().await.map_err(error)?;
    Ok(new)
}

/// One row more than wanted is asked for, to know whether there is more.
fn one_more(limit: usize) -> i64 {
    i64::try_from(limit).unwrap_or(i64::MAX).saturating_add(1)
}

impl Store for PostgresStore {
    async fn append(&mut self, entries: &[Entry]) -> Result<Appended, StoreError> {
        let lines = lines_to_keep(entries)?;
        if lines.is_empty() {
            return Ok(Appended::default());
        }
        let new = until_reached!(self, self.try_append(&lines))?;
        Ok(Appended { new, known: entries.len() - new })
    }

    async fn read_since(&mut self, after: Cursor, limit: usize) -> Result<Page, StoreError> {
        let mut rows = until_reached!(self, self.try_read_since(after, one_more(limit)))?;
        let more = rows.len() > limit;
        rows.truncate(limit);
        let next = rows.last().map_or(after, |(position, ..)| Cursor(*position));
        let entries = rows.iter().map(|(_, id, line)| read_row(&self.server, id, line)).collect::<Result<_, _>>()?;
        Ok(Page { entries, next, more })
    }

    async fn sum_at(&mut self, at: Cursor) -> Result<Option<SetSum>, StoreError> {
        if at == Cursor::START {
            return Ok(Some(SetSum::NONE));
        }
        let sum = until_reached!(self, self.try_sum_at(at))?;
        sum.map(|sum| sum_from(&self.server.name(), sum)).transpose()
    }

    async fn head(&mut self) -> Result<(Cursor, SetSum), StoreError> {
        until_reached!(self, self.try_head())
    }

    async fn entry(&mut self, id: EntryId) -> Result<Option<Entry>, StoreError> {
        let line = until_reached!(self, self.try_entry(id))?;
        line.map(|line| read_row(&self.server, &id.to_string(), &line)).transpose()
    }

    async fn keep_file(&mut self, bytes: &[u8]) -> Result<ContentHash, StoreError> {
        let hash = name_of_file(bytes)?;
        until_reached!(self, self.try_keep_file(&hash, bytes))?;
        Ok(hash)
    }

    async fn file(&mut self, hash: &ContentHash) -> Result<Option<Vec<u8>>, StoreError> {
        let bytes = until_reached!(self, self.try_file(hash))?;
        bytes.map(|bytes| as_it_was_kept(&self.server.name(), hash, bytes)).transpose()
    }

    async fn files_since(&mut self, after: Cursor, limit: usize) -> Result<FilePage, StoreError> {
        let mut rows = until_reached!(self, self.try_files_since(after, one_more(limit)))?;
        let more = rows.len() > limit;
        rows.truncate(limit);
        let next = rows.last().map_or(after, |(position, _)| Cursor(*position));
        let name = self.server.name();
        let hashes = rows.iter().map(|(_, hash)| hash_from(&name, hash)).collect::<Result<_, _>>()?;
        Ok(FilePage { hashes, next, more })
    }
}
