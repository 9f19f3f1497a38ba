//! A book in one `SQLite` file.
//!
//! - **Durable**: write-ahead log with `synchronous = FULL`, so an append that returned has reached the disk
//!   (sqlite.org, "Write-Ahead Logging", section on performance: "FULL ... the WAL file is synced after each commit").
//! - **Several programs**: every append takes the write lock at once (`BEGIN IMMEDIATE`) and others wait their turn.
//!   Positions are given under that lock, so they grow in the order of commit and no reader misses one.
//! - **Never changed**: triggers refuse UPDATE and DELETE, and REPLACE leaves what is there.
//! - **Recognised**: `application_id` tells a book from any other `SQLite` file before anything is written to it, and
//!   `user_version` is the layout: a newer one is left untouched.

mod care;
mod errors;

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::time::Duration;

use outyard_app::ports::{Appended, Cursor, FilePage, Page, Store, StoreError};
use outyard_book::{ContentHash, Entry, EntryId, SetSum};
use sqlx::sqlite::{SqliteConnectOptions, SqliteConnection, SqliteSynchronous};
use sqlx::{Connection, Executor};

pub use care::{LookOver, WrongSum};
use errors::Book;

use crate::kept::{KeptSum, LastSum, as_it_was_kept, hash_from, last_sum, lines_to_keep, name_of_file, sum_from};

/// Marks an `SQLite` file as a book: "oybk".
const APPLICATION_ID: i64 = 0x6f79_626b;

/// Layouts in order; the number of a layout is its place, counted from 1.
const LAYOUTS: [&str; 2] =
    [include_str!("../../migrations/sqlite/0001-book.sql"), include_str!("../../migrations/sqlite/0002-sums.sql")];

/// How long to wait for another program that writes (assumed: longer than any append, shorter than a man's patience).
const PATIENCE: Duration = Duration::from_secs(10);

/// Entries per statement.
const ENTRIES_AT_A_TIME: usize = 512;

/// A book in one `SQLite` file.
#[derive(Debug)]
pub struct SqliteStore {
    book: Book,
    connection: SqliteConnection,
}

impl SqliteStore {
    /// Opens a book, and begins one when there is no such file.
    ///
    /// # Errors
    /// [`StoreError`] when the file is no book, newer than this program, damaged, or cannot be opened or written.
    pub async fn open(path: &Path) -> Result<Self, StoreError> {
        Self::open_with(path, true, PATIENCE).await
    }

    /// Opens a book that must be there already.
    ///
    /// # Errors
    /// As [`SqliteStore::open`], and when there is no such file.
    pub async fn open_existing(path: &Path) -> Result<Self, StoreError> {
        Self::open_with(path, false, PATIENCE).await
    }

    /// Opens a book with another limit to the waiting for other programs.
    ///
    /// # Errors
    /// As [`SqliteStore::open`].
    pub async fn open_with(path: &Path, create: bool, patience: Duration) -> Result<Self, StoreError> {
        let book = Book::new(path);
        if !create && !path.exists() {
            return Err(book.cannot_open("there is no such file"));
        }
        Self::try_open(&book, path, create, patience).await.map_err(|error| book.ask_the_file_system(path, error))
    }

    async fn try_open(book: &Book, path: &Path, create: bool, patience: Duration) -> Result<Self, StoreError> {
        let is_new = !path.exists();
        let options = SqliteConnectOptions::new()
            .filename(path)
            .create_if_missing(create)
            .synchronous(SqliteSynchronous::Full)
            .foreign_keys(true)
            .busy_timeout(patience);
        let connection = SqliteConnection::connect_with(&options).await.map_err(|error| book.error(&error))?;
        let mut store = Self { book: book.clone(), connection };
        store.lay_out().await?;
        store.use_write_ahead_log(patience).await?;
        if is_new {
            sync_folder(path);
        }
        Ok(store)
    }

    /// Closes the book, folding the write-ahead log into the file. Dropping it without closing loses nothing.
    ///
    /// # Errors
    /// [`StoreError`] when the last words could not be written.
    pub async fn close(self) -> Result<(), StoreError> {
        let Self { book, connection } = self;
        connection.close().await.map_err(|error| book.error(&error))
    }

    /// Sees whether this is a book and of which layout, and brings it to the newest. Nothing is written to a file that
    /// is no book.
    async fn lay_out(&mut self) -> Result<(), StoreError> {
        let newest = i64::try_from(LAYOUTS.len()).expect("a handful");
        if self.layout(newest).await? == newest {
            return Ok(());
        }
        let mut work = self.connection.begin_with("BEGIN IMMEDIATE").await.map_err(|error| self.book.error(&error))?;
        // Another program may have done it while this one waited for the lock.
        let layout: i64 = sqlx::query_scalar("PRAGMA user_version")
            .fetch_one(&mut *work)
            .await
            .map_err(|error| self.book.error(&error))?;
        for statements in LAYOUTS.iter().skip(usize::try_from(layout).unwrap_or(0)) {
            work.execute(*statements).await.map_err(|error| self.book.error(&error))?;
        }
        if layout == 1 {
            let (at, sum) = read_head(&mut work, &self.book).await?;
            if sum.entries > 0 {
                write_sum(&mut work, &self.book, at, &sum).await?;
            }
        }
        for statement in [SET_APPLICATION_ID, SET_LAYOUT] {
            work.execute(statement).await.map_err(|error| self.book.error(&error))?;
        }
        work.commit().await.map_err(|error| self.book.error(&error))
    }

    /// The layout of the file, 0 for a new one.
    async fn layout(&mut self, newest: i64) -> Result<i64, StoreError> {
        // One statement, one look: another program may be laying the book out at this moment.
        let marks = sqlx::query_as(include_str!("marks.sql")).fetch_one(&mut self.connection).await;
        match marks.map_err(|error| self.book.error(&error))? {
            (APPLICATION_ID, found, _) if found > newest => {
                Err(StoreError::NewerLayout { book: self.book.name(), found, known: newest })
            }
            (APPLICATION_ID, found, _) if found > 0 => Ok(found),
            (0, 0, 0) => Ok(0),
            _ => Err(self.book.not_a_book("it is an SQLite file of another program")),
        }
    }

    /// Turns the write-ahead log on. `SQLite` does not wait for the lock this needs, so waiting is done here.
    async fn use_write_ahead_log(&mut self, patience: Duration) -> Result<(), StoreError> {
        const PAUSE: Duration = Duration::from_millis(20);
        let mut waited = Duration::ZERO;
        loop {
            match self.connection.execute("PRAGMA journal_mode = WAL").await {
                Ok(_) => return Ok(()),
                Err(error) => {
                    let error = self.book.error(&error);
                    if !matches!(error, StoreError::Busy { .. }) || waited >= patience {
                        return Err(error);
                    }
                    tokio::time::sleep(PAUSE).await;
                    waited += PAUSE;
                }
            }
        }
    }
}

/// Sees that positions grow: in a damaged index they can lead round in a circle, and a reader would never end.
fn in_order(book: &Book, after: Cursor, positions: impl Iterator<Item = i64>) -> Result<(), StoreError> {
    let mut last = after.0;
    for position in positions {
        if position <= last {
            return Err(StoreError::Damaged {
                book: book.name(),
                why: format!("position {position} comes after {last}"),
            });
        }
        last = position;
    }
    Ok(())
}

async fn write_sum(work: &mut SqliteConnection, book: &Book, at: Cursor, sum: &SetSum) -> Result<(), StoreError> {
    sqlx::query("INSERT INTO sum (position, entries, digest) VALUES (?1, ?2, ?3)")
        .bind(at.0)
        .bind(i64::try_from(sum.entries).unwrap_or(i64::MAX))
        .bind(sum.digest().as_slice())
        .execute(work)
        .await
        .map(drop)
        .map_err(|error| book.error(&error))
}

/// Where the book ends and what it comes to: the last sum, and what stands behind it. Nothing does, but in a book of
/// layout 1, which had no sums, or where someone wrote past this program.
async fn read_head(connection: &mut SqliteConnection, book: &Book) -> Result<(Cursor, SetSum), StoreError> {
    const AT_A_TIME: i64 = 4096;
    let error = |error: sqlx::Error| book.error(&error);
    let last: LastSum = sqlx::query_as("SELECT position, entries, digest FROM sum ORDER BY position DESC LIMIT 1")
        .fetch_optional(&mut *connection)
        .await
        .map_err(error)?;
    let (mut at, mut sum) = last_sum(&book.name(), last)?;
    loop {
        let rows: Vec<(i64, String)> =
            sqlx::query_as("SELECT position, line FROM entry WHERE position > ?1 ORDER BY position LIMIT ?2")
                .bind(at.0)
                .bind(AT_A_TIME)
                .fetch_all(&mut *connection)
                .await
                .map_err(error)?;
        let Some((last, _)) = rows.last() else { return Ok((at, sum)) };
        in_order(book, at, rows.iter().map(|(position, _)| *position))?;
        at = Cursor(*last);
        for (_, line) in &rows {
            sum.add_line(line);
        }
    }
}

const SET_APPLICATION_ID: &str = "PRAGMA application_id = 0x6f79626b";
const SET_LAYOUT: &str = "PRAGMA user_version = 2";

/// Makes the name of a new file durable too. Where folders cannot be synced, the system does it in its own time.
fn sync_folder(path: &Path) {
    let folder: PathBuf = match path.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder.to_owned(),
        _ => PathBuf::from("."),
    };
    if let Ok(folder) = std::fs::File::open(folder) {
        // Nothing can be done about a failure, and nothing in the book is at risk: it stays readable under its name.
        folder.sync_all().ok();
    }
}

/// An entry as it is filed: its name's bytes, and its line.
type Filed = (Vec<u8>, String);

fn hex(id: EntryId) -> String {
    id.to_string().replace('-', "")
}

fn json(value: &impl serde::Serialize) -> String {
    serde_json::to_string(value).expect("lists of texts are JSON")
}

impl Store for SqliteStore {
    async fn append(&mut self, entries: &[Entry]) -> Result<Appended, StoreError> {
        let lines = lines_to_keep(entries)?;
        if lines.is_empty() {
            return Ok(Appended::default());
        }
        let book = &self.book;
        let error = |error: sqlx::Error| book.error(&error);
        let mut work = self.connection.begin_with("BEGIN IMMEDIATE").await.map_err(error)?;
        let (mut new, mut sum) = (0, None);
        for some in lines.chunks(ENTRIES_AT_A_TIME) {
            let names: Vec<String> = some.iter().map(|(entry, _)| hex(entry.id)).collect();
            let rows: Vec<Filed> = sqlx::query_as(include_str!("known.sql"))
                .bind(json(&names))
                .fetch_all(&mut *work)
                .await
                .map_err(error)?;
            let known: BTreeMap<EntryId, Entry> = rows
                .iter()
                .map(|(id, line)| book.entry(id, line).map(|entry| (entry.id, entry)))
                .collect::<Result<_, _>>()?;
            let mut fresh: Vec<(String, &str)> = Vec::with_capacity(some.len());
            for ((entry, line), name) in some.iter().zip(names) {
                match known.get(&entry.id) {
                    None => fresh.push((name, line)),
                    Some(known) if known == *entry => {}
                    Some(_) => return Err(StoreError::SameName(entry.id)),
                }
            }
            if !fresh.is_empty() {
                // Before the first of them is in: the head tells what stood there until now.
                let so_far: &mut SetSum = match &mut sum {
                    Some(sum) => sum,
                    None => sum.insert(read_head(&mut work, book).await?.1),
                };
                for (_, line) in &fresh {
                    so_far.add_line(line);
                }
                sqlx::query(include_str!("append.sql")).bind(json(&fresh)).execute(&mut *work).await.map_err(error)?;
            }
            new += fresh.len();
        }
        if let Some(sum) = sum {
            let last: i64 =
                sqlx::query_scalar("SELECT max(position) FROM entry").fetch_one(&mut *work).await.map_err(error)?;
            write_sum(&mut work, book, Cursor(last), &sum).await?;
        }
        work.commit().await.map_err(error)?;
        Ok(Appended { new, known: entries.len() - new })
    }

    async fn read_since(&mut self, after: Cursor, limit: usize) -> Result<Page, StoreError> {
        let one_more = i64::try_from(limit).unwrap_or(i64::MAX).saturating_add(1);
        let mut rows: Vec<(i64, Vec<u8>, String)> = sqlx::query_as(include_str!("read_since.sql"))
            .bind(after.0)
            .bind(one_more)
            .fetch_all(&mut self.connection)
            .await
            .map_err(|error| self.book.error(&error))?;
        in_order(&self.book, after, rows.iter().map(|(position, ..)| *position))?;
        let more = rows.len() > limit;
        rows.truncate(limit);
        let next = rows.last().map_or(after, |(position, ..)| Cursor(*position));
        let entries = rows.iter().map(|(_, id, line)| self.book.entry(id, line)).collect::<Result<_, _>>()?;
        Ok(Page { entries, next, more })
    }

    async fn sum_at(&mut self, at: Cursor) -> Result<Option<SetSum>, StoreError> {
        if at == Cursor::START {
            return Ok(Some(SetSum::NONE));
        }
        let sum: Option<KeptSum> = sqlx::query_as("SELECT entries, digest FROM sum WHERE position = ?1")
            .bind(at.0)
            .fetch_optional(&mut self.connection)
            .await
            .map_err(|error| self.book.error(&error))?;
        sum.map(|sum| sum_from(&self.book.name(), sum)).transpose()
    }

    async fn head(&mut self) -> Result<(Cursor, SetSum), StoreError> {
        read_head(&mut self.connection, &self.book).await
    }

    async fn entry(&mut self, id: EntryId) -> Result<Option<Entry>, StoreError> {
        let line: Option<String> = sqlx::query_scalar("SELECT line FROM entry WHERE id = ?1")
            .bind(id.as_bytes().as_slice())
            .fetch_optional(&mut self.connection)
            .await
            .map_err(|error| self.book.error(&error))?;
        line.map(|line| self.book.entry(id.as_bytes(), &line)).transpose()
    }

    async fn keep_file(&mut self, bytes: &[u8]) -> Result<ContentHash, StoreError> {
        let hash = name_of_file(bytes)?;
        sqlx::query("INSERT INTO file (hash, bytes) VALUES (?1, ?2)")
            .bind(hash.as_bytes().as_slice())
            .bind(bytes)
            .execute(&mut self.connection)
            .await
            .map_err(|error| self.book.error(&error))?;
        Ok(hash)
    }

    async fn file(&mut self, hash: &ContentHash) -> Result<Option<Vec<u8>>, StoreError> {
        let bytes: Option<Vec<u8>> = sqlx::query_scalar("SELECT bytes FROM file WHERE hash = ?1")
            .bind(hash.as_bytes().as_slice())
            .fetch_optional(&mut self.connection)
            .await
            .map_err(|error| self.book.error(&error))?;
        bytes.map(|bytes| as_it_was_kept(&self.book.name(), hash, bytes)).transpose()
    }

    async fn files_since(&mut self, after: Cursor, limit: usize) -> Result<FilePage, StoreError> {
        let one_more = i64::try_from(limit).unwrap_or(i64::MAX).saturating_add(1);
        let mut rows: Vec<(i64, Vec<u8>)> =
            sqlx::query_as("SELECT position, hash FROM file WHERE position > ?1 ORDER BY position LIMIT ?2")
                .bind(after.0)
                .bind(one_more)
                .fetch_all(&mut self.connection)
                .await
                .map_err(|error| self.book.error(&error))?;
        in_order(&self.book, after, rows.iter().map(|(position, _)| *position))?;
        let more = rows.len() > limit;
        rows.truncate(limit);
        let next = rows.last().map_or(after, |(position, _)| Cursor(*position));
        let hashes = rows.iter().map(|(_, hash)| hash_from(&self.book.name(), hash)).collect::<Result<_, _>>()?;
        Ok(FilePage { hashes, next, more })
    }
}

#[cfg(test)]
mod tests;
