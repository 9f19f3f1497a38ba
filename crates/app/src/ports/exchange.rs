//! Handing entries and files on between two stores, so that both hold the same.
//!
//! What the book says depends only on the set of its entries, so nothing is merged: each store is handed what the other
//! lacks, in bounded batches, and a batch sent twice is harmless. [`Marks`] remember how far it came, so that an
//! exchange that was cut off goes on where it stopped and the next one sends only what is new. Marks are a convenience:
//! when they do not fit the store (it was replaced by another, or by an older copy), everything is offered again.
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
    /// Goes back to the start when the store does not hold what it held at the marks. The entry just before a cursor is
    /// asked for by its place, so this costs the same however long the book is.
    async fn check<S: Store>(&mut self, store: &mut S) -> Result<(), StoreError> {
        if let Some(last) = self.last_entry {
            let page = store.read_since(Cursor(self.entries.0.saturating_sub(1)), 1).await?;
            let there = page.next == self.entries && page.entries.first().is_some_and(|entry| entry.id == last);
            if !there {
                (self.entries, self.last_entry) = (Cursor::START, None);
            }
        } else {
            self.entries = Cursor::START;
        }
        if let Some(last) = self.last_file {
            let page = store.files_since(Cursor(self.files.0.saturating_sub(1)), 1).await?;
            if page.next != self.files || page.hashes.first() != Some(&last) {
                (self.files, self.last_file) = (Cursor::START, None);
            }
        } else {
            self.files = Cursor::START;
        }
        Ok(())
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

/// Hands on what `to` lacks of what `from` holds. The marks move with each batch, also when an error ends it.
///
/// # Errors
/// Those of either store; what was handed on before stays.
pub async fn hand_on<F: Store, T: Store>(
    from: &mut F,
    to: &mut T,
    marks: &mut Marks,
    entries_a_batch: usize,
) -> Result<HandedOn, StoreError> {
    marks.check(from).await?;
    let mut handed = HandedOn::default();
    hand_on_files(from, to, marks, &mut handed).await?;
    loop {
        let Page { entries, next, more } = from.read_since(marks.entries, entries_a_batch.max(1)).await?;
        if let Some(last) = entries.last() {
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
        }
        if !more {
            return Ok(handed);
        }
    }
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

/// Hands on both ways: afterwards both stores hold the same entries and files. What comes in first is not sent back
/// as new; it is offered once more the next time, and known.
///
/// # Errors
/// Those of either store; what was handed on before stays, and the marks say how far it came.
pub async fn exchange<A: Store, B: Store>(
    here: &mut A,
    there: &mut B,
    marks: &mut BothMarks,
) -> Result<Exchanged, StoreError> {
    let sent = hand_on(here, there, &mut marks.sent, ENTRIES_A_BATCH).await?;
    let fetched = hand_on(there, here, &mut marks.fetched, ENTRIES_A_BATCH).await?;
    Ok(Exchanged { sent, fetched })
}
