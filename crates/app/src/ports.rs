//! What the use cases ask of the world: a store that keeps the book. (Weather sources and clocks have their own ports.)
//!
//! The store is dumb on purpose: it appends entries, hands them out since a cursor, and keeps files by content. It
//! never changes or forgets anything. No driver's type appears here.

pub mod exchange;
pub mod opening;

use std::collections::BTreeMap;
use std::future::Future;

use outyard_base::Trouble;
use outyard_book::{ContentHash, Entry, EntryId, SetSum, wire};

/// How far a reader has read in one store, in that store's own order of arrival. Means nothing in another store.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Cursor(pub i64);

impl Cursor {
    /// Before the first entry.
    pub const START: Self = Self(0);
}

/// What an append did.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Appended {
    /// Entries that were not there before.
    pub new: usize,
    /// Entries that were there already, with the same content.
    pub known: usize,
}

/// Entries read since a cursor.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Page {
    /// Entries, in order of arrival.
    pub entries: Vec<Entry>,
    /// Read on from here.
    pub next: Cursor,
    /// True when there is more to read now.
    pub more: bool,
}

/// Names of kept files read since a cursor. Files have cursors of their own.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct FilePage {
    /// Their names, in order of arrival.
    pub hashes: Vec<ContentHash>,
    /// Read on from here.
    pub next: Cursor,
    /// True when there is more to read now.
    pub more: bool,
}

/// Keeps the book.
///
/// Every store obeys the same rules, and the same tests: what [`Store::append`] returned `Ok` for is on the disk and
/// survives a power cut; all of a call's entries are kept or none; the same entry again is harmless.
pub trait Store: Send {
    /// Keeps entries. All of them or none.
    ///
    /// # Errors
    /// [`StoreError::SameName`] when an entry of that name is there, or is twice in the call, with other content;
    /// [`StoreError::Unkeepable`] for one that could not be read again.
    fn append(&mut self, entries: &[Entry]) -> impl Future<Output = Result<Appended, StoreError>> + Send;

    /// Hands out up to `limit` entries that arrived after the cursor. Reading on from [`Page::next`] until
    /// [`Page::more`] is false misses nothing, whoever writes meanwhile.
    fn read_since(&mut self, after: Cursor, limit: usize) -> impl Future<Output = Result<Page, StoreError>> + Send;

    /// What the entries up to a cursor come to, as it was reckoned when they were appended; `None` when no append ended
    /// there. Costs the same however long the book is.
    fn sum_at(&mut self, at: Cursor) -> impl Future<Output = Result<Option<SetSum>, StoreError>> + Send;

    /// Where the book ends, and what all of it comes to, as it was reckoned when it was appended.
    fn head(&mut self) -> impl Future<Output = Result<(Cursor, SetSum), StoreError>> + Send;

    /// Hands out one entry by its name; `None` when it is not here.
    fn entry(&mut self, id: EntryId) -> impl Future<Output = Result<Option<Entry>, StoreError>> + Send;

    /// Keeps a file (a raw import, a photo) under the hash of its content. The same file again is harmless.
    fn keep_file(&mut self, bytes: &[u8]) -> impl Future<Output = Result<ContentHash, StoreError>> + Send;

    /// Hands out a kept file; `None` when it is not here.
    fn file(&mut self, hash: &ContentHash) -> impl Future<Output = Result<Option<Vec<u8>>, StoreError>> + Send;

    /// Names up to `limit` files that were kept after the cursor, as [`Store::read_since`] hands out entries.
    fn files_since(&mut self, after: Cursor, limit: usize)
    -> impl Future<Output = Result<FilePage, StoreError>> + Send;
}

/// Reads everything a store holds.
///
/// # Errors
/// The store's own.
pub async fn read_all<S: Store>(store: &mut S) -> Result<Vec<Entry>, StoreError> {
    const AT_A_TIME: usize = 4096;
    let mut all = Vec::new();
    let mut after = Cursor::START;
    loop {
        let page = store.read_since(after, AT_A_TIME).await?;
        all.extend(page.entries);
        after = page.next;
        if !page.more {
            return Ok(all);
        }
    }
}

/// The line a store keeps of an entry, known to read back as the same entry.
///
/// # Errors
/// [`StoreError::Unkeepable`].
pub fn line_to_keep(entry: &Entry) -> Result<String, StoreError> {
    wire::line_to_keep(entry).map_err(|trouble| StoreError::Unkeepable { id: entry.id, why: trouble.cause })
}

/// What can go wrong in a store. `book` is where the book is kept, as the user gave it.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum StoreError {
    /// An entry of this name is there with other content.
    #[error("entry {0} is in the book already, with other content")]
    SameName(EntryId),
    /// The file is no book of outyard.
    #[error("{book} is no book: {why}")]
    NotABook {
        /// The book.
        book: String,
        /// How it shows.
        why: String,
    },
    /// A newer program made the book.
    #[error("{book} has layout {found}, and this program knows layouts up to {known}")]
    NewerLayout {
        /// The book.
        book: String,
        /// Its layout.
        found: i64,
        /// The newest layout known here.
        known: i64,
    },
    /// The book or its folder cannot be written.
    #[error("{book} cannot be written: {why}")]
    ReadOnly {
        /// The book.
        book: String,
        /// As the system puts it.
        why: String,
    },
    /// The disk is full.
    #[error("no room left on the disk for {book}")]
    Full {
        /// The book.
        book: String,
    },
    /// Another program held the book too long.
    #[error("another program is writing {book} and did not let go in time")]
    Busy {
        /// The book.
        book: String,
    },
    /// The book is damaged.
    #[error("{book} is damaged: {why}")]
    Damaged {
        /// The book.
        book: String,
        /// How it shows.
        why: String,
    },
    /// The book cannot be opened.
    #[error("{book} cannot be opened: {why}")]
    CannotOpen {
        /// The book.
        book: String,
        /// As the system puts it.
        why: String,
    },
    /// An entry no program could read again.
    #[error("entry {id} cannot be kept: {why}")]
    Unkeepable {
        /// The entry.
        id: EntryId,
        /// Why.
        why: String,
    },
    /// A file is larger than a store takes.
    #[error("{what} has {bytes} bytes, and a store takes {most} at most")]
    TooLarge {
        /// What is too large.
        what: String,
        /// Its size.
        bytes: usize,
        /// The largest allowed.
        most: usize,
    },
    /// The server that keeps the book cannot be reached, or went away and did not come back in time.
    #[error("{book} cannot be reached: {why}")]
    Away {
        /// The book.
        book: String,
        /// As the system puts it.
        why: String,
    },
    /// The role would see the books of other outfits.
    #[error("the role of {book} could read every outfit's book")]
    NoWall {
        /// The book.
        book: String,
    },
    /// Anything else the store met.
    #[error("{book}: {why}")]
    Other {
        /// The book.
        book: String,
        /// As the store puts it.
        why: String,
    },
}

impl StoreError {
    /// Its stable code.
    pub const fn code(&self) -> &'static str {
        match self {
            Self::SameName(_) => "STO-001",
            Self::NotABook { .. } => "STO-002",
            Self::NewerLayout { .. } => "STO-003",
            Self::ReadOnly { .. } => "STO-004",
            Self::Full { .. } => "STO-005",
            Self::Busy { .. } => "STO-006",
            Self::Damaged { .. } => "STO-007",
            Self::CannotOpen { .. } => "STO-008",
            Self::TooLarge { .. } => "STO-009",
            Self::Other { .. } => "STO-010",
            Self::Unkeepable { .. } => "STO-011",
            Self::Away { .. } => "STO-012",
            Self::NoWall { .. } => "STO-013",
        }
    }

    /// What the user can do.
    pub const fn remedy(&self) -> &'static str {
        match self {
            Self::SameName(_) => {
                "nothing was written; an entry never changes: write a correction that names it, or give the new entry its own name"
            }
            Self::NotABook { .. } => "name the book's own file, or another name to begin a new book",
            Self::NewerLayout { .. } => "use the newer program that made it; this one leaves it untouched",
            Self::ReadOnly { .. } => {
                "allow writing to the file and its folder, or copy the book to a folder of your own"
            }
            Self::Full { .. } => "nothing was written; make room on the disk and try again",
            Self::Busy { .. } => "nothing was written; try again, and see what else has the book open",
            Self::Damaged { .. } => {
                "leave the file as it is, and begin a new book from a copy or from another device's entries"
            }
            Self::CannotOpen { .. } => "see that the folder exists and that you may open the file",
            Self::TooLarge { .. } => "keep it elsewhere, or split it",
            Self::Unkeepable { .. } => "nothing was written; correct the figure named and write the entry again",
            Self::Away { .. } => {
                "see that the server runs and that its address is right; what is written here waits and can be shared later"
            }
            Self::NoWall { .. } => {
                "nothing was read or written; name a plain role in the address: no superuser, and without BYPASSRLS"
            }
            Self::Other { .. } => "try again; if it stays, keep a copy of the book and report the words above",
        }
    }
}

impl From<StoreError> for Trouble {
    fn from(error: StoreError) -> Self {
        Self::new(error.code(), error.to_string(), error.remedy())
    }
}

/// Largest kept file, in bytes: a season of one-minute readings fits many times over (assumed).
pub const FILE_BYTES_MOST: usize = 256 * 1024 * 1024;

/// A store that lives as long as the program: for tests, and for looking at a book without keeping it.
#[derive(Clone, Debug, Default)]
pub struct MemoryStore {
    entries: Vec<Entry>,
    by_id: BTreeMap<EntryId, usize>,
    sums: BTreeMap<Cursor, SetSum>,
    files: BTreeMap<ContentHash, Vec<u8>>,
    files_in_order: Vec<ContentHash>,
}

impl MemoryStore {
    /// An empty store.
    pub fn new() -> Self {
        Self::default()
    }
}

fn part(after: Cursor, limit: usize, all: usize) -> (usize, usize) {
    let from = usize::try_from(after.0).unwrap_or(0).min(all);
    (from, from.saturating_add(limit).min(all))
}

fn cursor_at(place: usize) -> Cursor {
    Cursor(i64::try_from(place).expect("fewer than fit in memory"))
}

impl Store for MemoryStore {
    async fn append(&mut self, entries: &[Entry]) -> Result<Appended, StoreError> {
        let mut fresh: BTreeMap<EntryId, &Entry> = BTreeMap::new();
        let mut in_order = Vec::new();
        for entry in entries {
            line_to_keep(entry)?;
            let known =
                self.by_id.get(&entry.id).map(|&at| &self.entries[at]).or_else(|| fresh.get(&entry.id).copied());
            match known {
                Some(known) if known == entry => {}
                Some(_) => return Err(StoreError::SameName(entry.id)),
                None => {
                    fresh.insert(entry.id, entry);
                    in_order.push(entry);
                }
            }
        }
        let new = in_order.len();
        let mut sum = self.sums.last_key_value().map_or(SetSum::NONE, |(_, sum)| *sum);
        for entry in in_order {
            sum.add_line(&wire::write_line(entry));
            self.by_id.insert(entry.id, self.entries.len());
            self.entries.push(entry.clone());
        }
        if new > 0 {
            self.sums.insert(cursor_at(self.entries.len()), sum);
        }
        Ok(Appended { new, known: entries.len() - new })
    }

    async fn read_since(&mut self, after: Cursor, limit: usize) -> Result<Page, StoreError> {
        let (from, to) = part(after, limit, self.entries.len());
        Ok(Page { entries: self.entries[from..to].to_vec(), next: cursor_at(to), more: to < self.entries.len() })
    }

    async fn sum_at(&mut self, at: Cursor) -> Result<Option<SetSum>, StoreError> {
        Ok(if at == Cursor::START { Some(SetSum::NONE) } else { self.sums.get(&at).copied() })
    }

    async fn head(&mut self) -> Result<(Cursor, SetSum), StoreError> {
        Ok(self.sums.last_key_value().map_or((Cursor::START, SetSum::NONE), |(at, sum)| (*at, *sum)))
    }

    async fn entry(&mut self, id: EntryId) -> Result<Option<Entry>, StoreError> {
        Ok(self.by_id.get(&id).map(|&at| self.entries[at].clone()))
    }

    async fn keep_file(&mut self, bytes: &[u8]) -> Result<ContentHash, StoreError> {
        if bytes.len() > FILE_BYTES_MOST {
            let what = "the file".to_owned();
            return Err(StoreError::TooLarge { what, bytes: bytes.len(), most: FILE_BYTES_MOST });
        }
        let hash = ContentHash::of(bytes);
        if self.files.insert(hash, bytes.to_vec()).is_none() {
            self.files_in_order.push(hash);
        }
        Ok(hash)
    }

    async fn file(&mut self, hash: &ContentHash) -> Result<Option<Vec<u8>>, StoreError> {
        Ok(self.files.get(hash).cloned())
    }

    async fn files_since(&mut self, after: Cursor, limit: usize) -> Result<FilePage, StoreError> {
        let (from, to) = part(after, limit, self.files_in_order.len());
        Ok(FilePage {
            hashes: self.files_in_order[from..to].to_vec(),
            next: cursor_at(to),
            more: to < self.files_in_order.len(),
        })
    }
}
