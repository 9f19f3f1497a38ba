//! Stores that fail, and devices that write at random with clocks that are wrong.

use jiff::SignedDuration;
use outyard_app::ports::{Appended, Cursor, FilePage, Page, Store, StoreError};
use outyard_base::Chance;
use outyard_book::{ContentHash, Entry, EntryId, Fact, GearCounts, GearPlace, SetSum};

use crate::support::tallies;

/// A store on a bad line: calls fail before or after they did their work, or are made twice; batches arrive in
/// another order or only in part.
pub(crate) struct BadLine<'a, S> {
    pub(crate) store: &'a mut S,
    pub(crate) chance: &'a mut Chance,
    /// Share of calls that something happens to.
    pub(crate) faults: f64,
}

impl<S: Store> BadLine<'_, S> {
    fn cut() -> StoreError {
        StoreError::Away { book: "the bad line".to_owned(), why: "cut".to_owned() }
    }

    fn bad(&mut self) -> bool {
        self.chance.happens(self.faults)
    }
}

impl<S: Store> Store for BadLine<'_, S> {
    async fn append(&mut self, entries: &[Entry]) -> Result<Appended, StoreError> {
        if !self.bad() {
            return self.store.append(entries).await;
        }
        let mut batch = entries.to_vec();
        match self.chance.index(5) {
            0 => Err(Self::cut()),
            1 => {
                self.store.append(&batch).await?;
                Err(Self::cut())
            }
            2 => {
                batch.truncate(self.chance.index(batch.len() + 1));
                self.store.append(&batch).await?;
                Err(Self::cut())
            }
            3 => {
                self.chance.shuffle(&mut batch);
                self.store.append(&batch).await
            }
            _ => {
                let first = self.store.append(&batch).await?;
                batch.extend_from_slice(entries);
                self.store.append(&batch).await?;
                Ok(first)
            }
        }
    }

    async fn read_since(&mut self, after: Cursor, limit: usize) -> Result<Page, StoreError> {
        if !self.bad() {
            return self.store.read_since(after, limit).await;
        }
        match self.chance.index(3) {
            0 => Err(Self::cut()),
            // Less than was asked for, and some of it twice.
            1 => self.store.read_since(after, 1 + limit / 3).await,
            _ => {
                let mut page = self.store.read_since(after, limit).await?;
                let again: Vec<Entry> = page.entries.iter().take(3).cloned().collect();
                page.entries.splice(0..0, again);
                Ok(page)
            }
        }
    }

    async fn sum_at(&mut self, at: Cursor) -> Result<Option<SetSum>, StoreError> {
        if self.bad() { Err(Self::cut()) } else { self.store.sum_at(at).await }
    }

    async fn head(&mut self) -> Result<(Cursor, SetSum), StoreError> {
        if self.bad() { Err(Self::cut()) } else { self.store.head().await }
    }

    async fn entry(&mut self, id: EntryId) -> Result<Option<Entry>, StoreError> {
        if self.bad() { Err(Self::cut()) } else { self.store.entry(id).await }
    }

    async fn keep_file(&mut self, bytes: &[u8]) -> Result<ContentHash, StoreError> {
        if self.bad() {
            if self.chance.happens(0.5) {
                self.store.keep_file(bytes).await?;
            }
            return Err(Self::cut());
        }
        self.store.keep_file(bytes).await
    }

    async fn file(&mut self, hash: &ContentHash) -> Result<Option<Vec<u8>>, StoreError> {
        if self.bad() { Err(Self::cut()) } else { self.store.file(hash).await }
    }

    async fn files_since(&mut self, after: Cursor, limit: usize) -> Result<FilePage, StoreError> {
        if self.bad() { Err(Self::cut()) } else { self.store.files_since(after, limit).await }
    }
}

/// What a device writes next: tallies, counts, and corrections of anything it has heard of, corrections among them.
/// Its clock is wrong by up to five days.
pub(crate) fn writes(chance: &mut Chance, device: usize, heard: &[Entry], count: usize) -> Vec<Entry> {
    let wrong = SignedDuration::from_hours(i64::try_from(chance.below(241)).unwrap() - 120);
    let name: outyard_base::DeviceId = format!("device-{device}").parse().unwrap();
    let mut written: Vec<Entry> = tallies(chance.below(u64::MAX), count as u64);
    for entry in &mut written {
        entry.device = name.clone();
        entry.recorded_at += wrong;
        let corrected = (!heard.is_empty() && chance.happens(0.3)).then(|| heard[chance.index(heard.len())].clone());
        if let Some(of) = corrected {
            let strike = chance.happens(0.4) || matches!(of.fact, Fact::Correction { .. });
            let instead = Fact::GearCounted {
                place: GearPlace::Shed,
                gear: GearCounts::one("third".parse().unwrap(), u32::try_from(chance.below(900)).unwrap()),
            };
            entry.fact = Fact::Correction { of: of.id, instead: (!strike).then(|| Box::new(instead)) };
        }
    }
    written
}
