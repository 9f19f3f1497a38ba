//! Handing entries and files on between two stores, so that both hold the same.
//!
//! What the book says depends only on the set of its entries, so nothing is merged: each store is handed what the other
//! lacks, in bounded batches, and a batch sent twice is harmless. [`Marks`] remember how far it came, so that an
//! exchange that was cut off goes on where it stopped and the next one sends only what is new.
//!
//! Marks are a convenience and are believed only while both stores hold, at the place of their mark, the entry that
//! stood there. Both must: what was handed on says nothing once the receiver was replaced by a new book or by an older
//! copy, though the giver is the same. If either does not, everything is offered again, which costs time and nothing
//! else. So that both have marks from the first batch on, sending and fetching take turns.
//!
//! Files go before entries: whoever sees an entry finds the file it names.

use std::collections::BTreeSet;

use outyard_book::{ContentHash, EntryId};

use crate::ports::{Cursor, Page, Store, StoreError};

/// Entries of one batch (assumed: some hundred kilobytes).
pub const ENTRIES_A_BATCH: usize = 512;

/// Names of files asked for at once (assumed).
const FILES_A_PAGE: usize = 512;

/// How far one store was handed on to another.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Marks {
    /// Entries up to here were handed on.
    pub entries: Cursor,
    /// The entry that stood there.
    pub last_entry: Option<EntryId>,
    /// Files up to here were handed on.
    pub files: Cursor,
    /// The file that stood there.
    pub last_file: Option<ContentHash>,
}

impl Marks {
    /// Whether the store holds at the marks what it held when they were made. The entry is asked for by its place, so
    /// this costs the same however long the book is.
    async fn fit<S: Store>(&self, store: &mut S) -> Result<bool, StoreError> {
        let Some(last) = self.last_entry else { return Ok(false) };
        let page = store.read_since(Cursor(self.entries.0.saturating_sub(1)), 1).await?;
        if page.next != self.entries || page.entries.first().is_none_or(|entry| entry.id != last) {
            return Ok(false);
        }
        let Some(last) = self.last_file else { return Ok(self.files == Cursor::START) };
        let page = store.files_since(Cursor(self.files.0.saturating_sub(1)), 1).await?;
        Ok(page.next == self.files && page.hashes.first() == Some(&last))
    }
}

/// What was handed on in one direction.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct HandedOn {
    /// Entries the receiver did not have.
    pub new: usize,
    /// Entries it had already.
    pub known: usize,
    /// Files it did not have.
    pub files: usize,
    /// Entries it refused because it holds other content under their names.
    pub same_name: Vec<EntryId>,
    /// Files that are damaged where they come from, and were not handed on.
    pub damaged_files: Vec<ContentHash>,
}

/// Hands on the next batch of entries. The mark moves when the receiver has kept them. True when there is more.
async fn hand_on_batch<F: Store, T: Store>(
    from: &mut F,
    to: &mut T,
    marks: &mut Marks,
    handed: &mut HandedOn,
) -> Result<bool, StoreError> {
    let Page { entries, next, more } = from.read_since(marks.entries, ENTRIES_A_BATCH).await?;
    let Some(last) = entries.last() else { return Ok(more) };
    match to.append(&entries).await {
        Ok(appended) => {
            handed.new += appended.new;
            handed.known += appended.known;
        }
        // One clash must not keep the others back.
        Err(StoreError::SameName(_)) => {
            for entry in &entries {
                match to.append(std::slice::from_ref(entry)).await {
                    Ok(appended) => {
                        handed.new += appended.new;
                        handed.known += appended.known;
                    }
                    Err(StoreError::SameName(id)) => handed.same_name.push(id),
                    Err(error) => return Err(error),
                }
            }
        }
        Err(error) => return Err(error),
    }
    (marks.entries, marks.last_entry) = (next, Some(last.id));
    Ok(more)
}

async fn hand_on_files<F: Store, T: Store>(
    from: &mut F,
    to: &mut T,
    marks: &mut Marks,
    handed: &mut HandedOn,
) -> Result<(), StoreError> {
    let mut there: Option<BTreeSet<ContentHash>> = None;
    loop {
        let page = from.files_since(marks.files, FILES_A_PAGE).await?;
        if page.hashes.is_empty() {
            return Ok(());
        }
        if there.is_none() {
            there = Some(files_of(to).await?);
        }
        for hash in page.hashes.iter().filter(|hash| there.as_ref().is_none_or(|there| !there.contains(hash))) {
            match from.file(hash).await {
                Ok(Some(bytes)) => {
                    to.keep_file(&bytes).await?;
                    handed.files += 1;
                }
                Ok(None) | Err(StoreError::Damaged { .. }) => handed.damaged_files.push(*hash),
                Err(error) => return Err(error),
            }
        }
        // A damaged file is offered again the next time: it may have been mended by then.
        if handed.damaged_files.is_empty() {
            (marks.files, marks.last_file) = (page.next, page.hashes.last().copied());
        } else if !page.more {
            return Ok(());
        } else {
            marks.files = page.next;
            marks.last_file = None;
        }
    }
}

/// Names of all files a store holds.
///
/// # Errors
/// The store's own.
pub async fn files_of<S: Store>(store: &mut S) -> Result<BTreeSet<ContentHash>, StoreError> {
    let mut all = BTreeSet::new();
    let mut after = Cursor::START;
    loop {
        let page = store.files_since(after, FILES_A_PAGE).await?;
        all.extend(page.hashes);
        after = page.next;
        if !page.more {
            return Ok(all);
        }
    }
}

/// What an exchange did.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Exchanged {
    /// What went out.
    pub sent: HandedOn,
    /// What came in.
    pub fetched: HandedOn,
}

/// How far two stores have handed on to each other.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct BothMarks {
    /// From here to there.
    pub sent: Marks,
    /// From there to here.
    pub fetched: Marks,
}

/// Hands on both ways: afterwards both stores hold the same entries and files. What comes in is offered back once, and
/// known.
///
/// # Errors
/// Those of either store; what was handed on before stays, and the marks say how far it came.
pub async fn exchange<A: Store, B: Store>(
    here: &mut A,
    there: &mut B,
    marks: &mut BothMarks,
) -> Result<Exchanged, StoreError> {
    if !(marks.sent.fit(here).await? && marks.fetched.fit(there).await?) {
        *marks = BothMarks::default();
    }
    let mut done = Exchanged::default();
    hand_on_files(here, there, &mut marks.sent, &mut done.sent).await?;
    hand_on_files(there, here, &mut marks.fetched, &mut done.fetched).await?;
    loop {
        let to_send = hand_on_batch(here, there, &mut marks.sent, &mut done.sent).await?;
        let to_fetch = hand_on_batch(there, here, &mut marks.fetched, &mut done.fetched).await?;
        if !to_send && !to_fetch {
            return Ok(done);
        }
    }
}
