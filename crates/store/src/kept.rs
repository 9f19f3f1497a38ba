//! What all stores do alike with lines and names.

use std::collections::BTreeMap;

use outyard_app::ports::{Cursor, FILE_BYTES_MOST, StoreError, line_to_keep};
use outyard_book::{ContentHash, Entry, EntryId, SetSum, wire};

/// Entries of one call, each once, with the line to keep.
pub(crate) fn lines_to_keep(entries: &[Entry]) -> Result<Vec<(&Entry, String)>, StoreError> {
    let mut once: BTreeMap<EntryId, &Entry> = BTreeMap::new();
    let mut lines = Vec::with_capacity(entries.len());
    for entry in entries {
        match once.insert(entry.id, entry) {
            None => lines.push((entry, line_to_keep(entry)?)),
            Some(known) if known == entry => {}
            Some(_) => return Err(StoreError::SameName(entry.id)),
        }
    }
    Ok(lines)
}

/// Reads a kept line, which must be the entry it is filed as.
pub(crate) fn read_kept(book: &str, id: &[u8], line: &str) -> Result<Entry, StoreError> {
    let damaged = |why: String| StoreError::Damaged { book: book.to_owned(), why };
    let entry = wire::read_line(line.as_bytes())
        .map_err(|trouble| damaged(format!("a kept entry cannot be read: {trouble}")))?;
    if entry.id.as_bytes() == id {
        Ok(entry)
    } else {
        Err(damaged(format!("entry {} is filed under another name", entry.id)))
    }
}

/// The name of a file to keep, if it is not too large.
pub(crate) fn name_of_file(bytes: &[u8]) -> Result<ContentHash, StoreError> {
    if bytes.len() > FILE_BYTES_MOST {
        let what = "the file".to_owned();
        return Err(StoreError::TooLarge { what, bytes: bytes.len(), most: FILE_BYTES_MOST });
    }
    Ok(ContentHash::of(bytes))
}

/// A kept file as it was kept.
pub(crate) fn as_it_was_kept(book: &str, hash: &ContentHash, bytes: Vec<u8>) -> Result<Vec<u8>, StoreError> {
    if ContentHash::of(&bytes) == *hash {
        Ok(bytes)
    } else {
        Err(StoreError::Damaged { book: book.to_owned(), why: format!("the file kept as {hash} is not what was kept") })
    }
}

/// The name of a kept file, from the bytes it is filed under.
pub(crate) fn hash_from(book: &str, bytes: &[u8]) -> Result<ContentHash, StoreError> {
    bytes
        .try_into()
        .map(ContentHash::from_bytes)
        .map_err(|_| StoreError::Damaged { book: book.to_owned(), why: "a kept file has no whole name".to_owned() })
}

/// A sum as it is kept: entries, and the digest's bytes.
pub(crate) type KeptSum = (i64, Vec<u8>);

/// The last sum as the database tells it: place, entries, digest.
pub(crate) type LastSum = Option<(i64, i64, Vec<u8>)>;

/// Reads a kept sum.
pub(crate) fn sum_from(book: &str, (entries, digest): KeptSum) -> Result<SetSum, StoreError> {
    let damaged = || StoreError::Damaged { book: book.to_owned(), why: "a kept sum has no whole digest".to_owned() };
    let digest = digest.try_into().map_err(|_| damaged())?;
    Ok(SetSum::kept(u64::try_from(entries).map_err(|_| damaged())?, digest))
}

/// The last sum and where it stands; nothing at the start when there is none.
pub(crate) fn last_sum(book: &str, last: LastSum) -> Result<(Cursor, SetSum), StoreError> {
    match last {
        None => Ok((Cursor::START, SetSum::NONE)),
        Some((at, entries, digest)) => Ok((Cursor(at), sum_from(book, (entries, digest))?)),
    }
}
