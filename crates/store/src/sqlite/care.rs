//! Keeping a copy of a book while it is in use, and looking a book over for damage.

use std::path::Path;

use outyard_app::ports::StoreError;
use outyard_book::{ContentHash, Entry, SetSum};
use sqlx::Row;

use super::{SqliteStore, sync_folder};

/// Most findings of one kind that are told one by one.
const TOLD_MOST: usize = 20;

/// What a look over a book found.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct LookOver {
    /// The entries that can be read.
    pub entries: Vec<Entry>,
    /// Files that are what was kept.
    pub files: usize,
    /// What the database says of its own pages; empty when they are whole.
    pub pages: Vec<String>,
    /// Entries that cannot be read, by position and reason.
    pub unreadable: Vec<(i64, String)>,
    /// Files that are not what was kept, by name or position.
    pub damaged_files: Vec<String>,
    /// Stretches that do not come to what was reckoned when they were appended.
    pub sums: Vec<WrongSum>,
    /// True when entries may stand after a damaged page and could not be reached.
    pub cut_short: bool,
}

impl LookOver {
    /// True when nothing is damaged.
    pub fn is_whole(&self) -> bool {
        self.pages.is_empty()
            && self.unreadable.is_empty()
            && self.damaged_files.is_empty()
            && self.sums.is_empty()
            && !self.cut_short
    }

    /// Entries that were appended and are not there, as far as the sums tell.
    pub fn missing(&self) -> u64 {
        self.sums.iter().map(|wrong| wrong.appended.saturating_sub(wrong.found)).sum()
    }
}

/// A stretch of entries that does not come to what was reckoned when it was appended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct WrongSum {
    /// It begins after this position.
    pub after: i64,
    /// It ends with this position.
    pub to: i64,
    /// Entries that were appended.
    pub appended: u64,
    /// Entries that are there.
    pub found: u64,
}

/// Entries since the last sum, while a book is gone through.
#[derive(Default)]
struct Stretch {
    from: i64,
    /// The last entry read.
    to: i64,
    here: SetSum,
    /// What the last sum said.
    said: SetSum,
}

impl Stretch {
    fn end(&mut self, at: i64, entries: i64, digest: Vec<u8>, found: &mut LookOver) {
        let said = digest.try_into().map(|digest| SetSum::kept(entries.unsigned_abs(), digest)).unwrap_or_default();
        let appended = said.since(&self.said);
        if appended != self.here && found.sums.len() < TOLD_MOST {
            let found_here = self.here.entries;
            found.sums.push(WrongSum { after: self.from, to: at, appended: appended.entries, found: found_here });
        }
        (self.from, self.said, self.here) = (at, said, SetSum::NONE);
    }
}

impl SqliteStore {
    /// Writes a copy of the book as it stands at this moment into a new file, whoever writes meanwhile.
    ///
    /// # Errors
    /// [`StoreError::CannotOpen`] when there is a file of that name; else why it could not be written.
    pub async fn copy_to(&mut self, file: &Path) -> Result<(), StoreError> {
        let target = super::Book::new(file);
        if file.exists() {
            return Err(target.cannot_open("there is a file of that name already"));
        }
        let Some(name) = file.to_str() else { return Err(target.cannot_open("its name is no text")) };
        // Under another name until it is whole: a copy that was cut off must not be taken for one.
        let part = format!("{name}.part");
        std::fs::remove_file(&part).ok();
        let copied = sqlx::query("VACUUM INTO ?1").bind(&part).execute(&mut self.connection).await;
        let finished = copied.map_err(|error| target.error(&error)).and_then(|_| {
            let moved =
                std::fs::File::open(&part).and_then(|file| file.sync_all()).and_then(|()| std::fs::rename(&part, file));
            moved.map_err(|error| target.cannot_open(&error.to_string()))
        });
        if finished.is_err() {
            std::fs::remove_file(&part).ok();
        }
        finished?;
        sync_folder(file);
        Ok(())
    }

    /// Looks the whole book over: the database's pages, each entry, each file. Reads all it can reach.
    ///
    /// # Errors
    /// [`StoreError`] when the book could not be asked at all.
    pub async fn look_over(&mut self) -> Result<LookOver, StoreError> {
        let mut found = LookOver::default();
        match sqlx::query("PRAGMA integrity_check(20)").fetch_all(&mut self.connection).await {
            Ok(rows) => {
                let said = rows.iter().map(|row| row.try_get::<String, _>(0).unwrap_or_default());
                found.pages = said.filter(|line| line != "ok").take(TOLD_MOST).collect();
            }
            Err(error) => match self.book.error(&error) {
                StoreError::Damaged { why, .. } => found.pages.push(why),
                other => return Err(other),
            },
        }
        self.look_over_entries(&mut found).await?;
        self.look_over_sums(&mut found).await?;
        self.look_over_files(&mut found).await?;
        Ok(found)
    }

    async fn look_over_entries(&mut self, found: &mut LookOver) -> Result<(), StoreError> {
        const AT_A_TIME: i64 = 1000;
        let last = self.last_position("SELECT max(position) FROM entry", found).await?;
        let mut from = 0;
        while from < last {
            let to = from + AT_A_TIME;
            match self.entry_rows(from, to).await {
                Ok(rows) => rows.iter().for_each(|row| self.take_in(row, found)),
                // One by one around the damage, so that what stands beside it is not given up.
                Err(StoreError::Damaged { .. }) => {
                    for at in from..to.min(last) {
                        match self.entry_rows(at, at + 1).await {
                            Ok(rows) => rows.iter().for_each(|row| self.take_in(row, found)),
                            Err(StoreError::Damaged { why, .. }) => found.unreadable.push((at + 1, why)),
                            Err(error) => return Err(error),
                        }
                    }
                }
                Err(error) => return Err(error),
            }
            from = to;
        }
        Ok(())
    }

    async fn entry_rows(&mut self, after: i64, to: i64) -> Result<Vec<(i64, Vec<u8>, String)>, StoreError> {
        sqlx::query_as("SELECT position, id, line FROM entry WHERE position > ?1 AND position <= ?2 ORDER BY position")
            .bind(after)
            .bind(to)
            .fetch_all(&mut self.connection)
            .await
            .map_err(|error| self.book.error(&error))
    }

    fn take_in(&self, (position, id, line): &(i64, Vec<u8>, String), found: &mut LookOver) {
        match self.book.entry(id, line) {
            Ok(entry) => found.entries.push(entry),
            Err(error) => found.unreadable.push((*position, error.to_string())),
        }
    }

    /// Holds each stretch between two sums against what was reckoned when it was appended.
    async fn look_over_sums(&mut self, found: &mut LookOver) -> Result<(), StoreError> {
        const AT_A_TIME: i64 = 4096;
        let kept = sqlx::query_as("SELECT position, entries, digest FROM sum ORDER BY position")
            .fetch_all(&mut self.connection)
            .await
            .map_err(|error| self.book.error(&error));
        let kept: Vec<(i64, i64, Vec<u8>)> = match kept {
            Ok(kept) => kept,
            Err(StoreError::Damaged { why, .. }) => {
                found.pages.push(why);
                return Ok(());
            }
            Err(error) => return Err(error),
        };
        let mut sums = kept.into_iter().peekable();
        let mut stretch = Stretch::default();
        loop {
            let rows: Result<Vec<(i64, String)>, _> =
                sqlx::query_as("SELECT position, line FROM entry WHERE position > ?1 ORDER BY position LIMIT ?2")
                    .bind(stretch.to)
                    .bind(AT_A_TIME)
                    .fetch_all(&mut self.connection)
                    .await
                    .map_err(|error| self.book.error(&error));
            let rows = match rows {
                Ok(rows) => rows,
                // Told by the pages and the entries already.
                Err(StoreError::Damaged { .. }) => return Ok(()),
                Err(error) => return Err(error),
            };
            if rows.is_empty() {
                break;
            }
            for (position, line) in rows {
                // A damaged index can lead round in a circle; it is told by the pages.
                if position <= stretch.to {
                    found.cut_short = true;
                    return Ok(());
                }
                while let Some((at, entries, digest)) = sums.next_if(|(at, ..)| *at < position) {
                    stretch.end(at, entries, digest, found);
                }
                stretch.here.add_line(&line);
                stretch.to = position;
            }
        }
        for (at, entries, digest) in sums {
            stretch.end(at, entries, digest, found);
        }
        if stretch.here.entries > 0 {
            let Stretch { from: after, to, here, .. } = stretch;
            found.sums.push(WrongSum { after, to, appended: 0, found: here.entries });
        }
        Ok(())
    }

    async fn look_over_files(&mut self, found: &mut LookOver) -> Result<(), StoreError> {
        let last = self.last_position("SELECT max(position) FROM file", found).await?;
        for position in 1..=last {
            let file: Result<Option<(Vec<u8>, Vec<u8>)>, _> =
                sqlx::query_as("SELECT hash, bytes FROM file WHERE position = ?1")
                    .bind(position)
                    .fetch_optional(&mut self.connection)
                    .await
                    .map_err(|error| self.book.error(&error));
            match file {
                Ok(None) => {}
                Ok(Some((hash, bytes))) if ContentHash::of(&bytes).as_bytes()[..] == hash[..] => found.files += 1,
                Ok(Some((hash, _))) => {
                    let name = hash.try_into().map(ContentHash::from_bytes).map(|hash| hash.to_string());
                    found.damaged_files.push(name.unwrap_or_else(|_| format!("at {position}")));
                }
                Err(StoreError::Damaged { .. }) => found.damaged_files.push(format!("at {position}")),
                Err(error) => return Err(error),
            }
        }
        Ok(())
    }

    async fn last_position(&mut self, question: &'static str, found: &mut LookOver) -> Result<i64, StoreError> {
        // Each row has a byte at least, so a higher position than the file has bytes is rubbish.
        let most = sqlx::query_scalar("SELECT page_count * page_size FROM pragma_page_count, pragma_page_size")
            .fetch_one(&mut self.connection)
            .await
            .unwrap_or(i64::MAX);
        match sqlx::query_scalar::<_, Option<i64>>(question).fetch_one(&mut self.connection).await {
            Ok(last) if last.unwrap_or(0) > most => {
                found.cut_short = true;
                Ok(most)
            }
            Ok(last) => Ok(last.unwrap_or(0)),
            Err(error) => match self.book.error(&error) {
                StoreError::Damaged { .. } => {
                    found.cut_short = true;
                    Ok(0)
                }
                other => Err(other),
            },
        }
    }
}
