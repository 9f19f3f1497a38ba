//! The open book, the newest morning worked out, and word of every change.
//!
//! A morning is worked out once and kept until the book, the settings or the day change; the next one is worked out beside
//! it while questions are answered from the one before. Appends never wait for it.

use std::collections::BTreeSet;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, PoisonError, RwLock};
use std::time::Duration;

use axum::http::StatusCode;
use jiff::Timestamp;
use jiff::civil::Date;
use outyard_app::ports::{Cursor, Store};
use outyard_app::situation::Situation;
use outyard_app::work_out::{WorkOrder, Worked, work_out};
use outyard_base::{Note, Trouble};
use outyard_book::{Entry, EntryId};
use outyard_folder::{BOOK, Desk, SETTINGS};
use outyard_runs::Effort;
use outyard_store::SqliteStore;
use serde::Serialize;
use tokio::sync::{Mutex, Semaphore, watch};

use crate::problem::{Outcome, Problem};

/// How often the folder is looked at for what other programs wrote. Assumed.
const LOOK_EVERY: Duration = Duration::from_secs(2);
/// How long a question waits for the first morning before it is told to come again. Assumed.
const FIRST_WAIT: Duration = Duration::from_secs(25);
/// Mornings of other days kept. Assumed: 3.
const OTHERS_KEPT: usize = 3;
/// Entries read at a time.
const AT_A_TIME: usize = 4096;

/// What is new, for whoever listens.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, utoipa::ToSchema)]
pub(crate) struct News {
    /// How far the book has come, in this server's own order.
    pub(crate) book: i64,
    /// How far it had come when the newest morning was worked out.
    pub(crate) morning: i64,
    /// How many mornings were worked out since the server started.
    pub(crate) mornings: u64,
}

/// A morning as it was worked out.
#[derive(Debug)]
pub(crate) struct Morning {
    /// All that is known.
    pub(crate) situation: Situation,
    /// Seasons, due visits and runs; or what is in the way.
    pub(crate) worked: Result<Worked, Vec<Trouble>>,
    /// The entries it rests on.
    pub(crate) entries: Arc<Vec<Entry>>,
    /// How far the book had come.
    pub(crate) cursor: i64,
    /// When it was worked out.
    pub(crate) at: Timestamp,
    /// Days planned.
    pub(crate) days: usize,
    stamp: Stamp,
}

impl Morning {
    /// What was worked out.
    ///
    /// # Errors
    /// What is in the way.
    pub(crate) fn worked(&self) -> Outcome<&Worked> {
        self.worked.as_ref().map_err(|troubles| troubles.clone().into())
    }

    /// What is worth knowing.
    pub(crate) fn notes(&self) -> &[Note] {
        self.worked.as_ref().map_or(&self.situation.notes, |worked| &worked.notes)
    }

    /// A mark that changes when the morning does.
    pub(crate) fn tag(&self) -> String {
        format!("W/\"{}-{}-{:x}\"", self.cursor, self.situation.today, self.stamp.settings)
    }
}

/// What a morning hangs on, besides the book.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Stamp {
    cursor: i64,
    settings: u64,
    today: Date,
}

/// Entries as they were read from the book.
#[derive(Debug, Default)]
struct Read {
    entries: Arc<Vec<Entry>>,
    names: BTreeSet<EntryId>,
    cursor: i64,
}

/// The office: what all routes share.
#[derive(Debug)]
pub struct Office {
    desk: Desk,
    effort: Effort,
    store: Mutex<Option<SqliteStore>>,
    read: RwLock<Read>,
    newest: watch::Sender<Option<Result<Arc<Morning>, Vec<Trouble>>>>,
    other: Mutex<Vec<Arc<Morning>>>,
    news: watch::Sender<News>,
    /// Sums that take long are done one at a time, beside the newest morning's own.
    long_sums: Semaphore,
    stopped: AtomicBool,
    stopping: watch::Sender<bool>,
}

impl Office {
    /// Opens the book and begins to work the morning out.
    ///
    /// # Errors
    /// The settings' and the book's own.
    pub async fn open(desk: Desk, effort: Effort) -> Result<Arc<Self>, Vec<Trouble>> {
        let store = match desk.settings() {
            Ok(_) => Some(open_book(&desk).await?),
            // A folder with no outfit in it yet: the page leads to one, and nothing is made before that.
            Err(troubles) if desk.folder().is_dir() && troubles.iter().any(|trouble| trouble.code == "CLI-003") => None,
            Err(troubles) => return Err(troubles),
        };
        let office = Arc::new(Self {
            desk,
            effort,
            store: Mutex::new(store),
            read: RwLock::default(),
            newest: watch::Sender::new(None),
            other: Mutex::default(),
            news: watch::Sender::new(News::default()),
            long_sums: Semaphore::new(1),
            stopped: AtomicBool::new(false),
            stopping: watch::Sender::new(false),
        });
        office.catch_up().await.map_err(|error| vec![error])?;
        tokio::spawn(Arc::clone(&office).keep_the_morning_new());
        Ok(office)
    }

    /// Where it stands.
    pub(crate) fn desk(&self) -> &Desk {
        &self.desk
    }

    /// How long is looked for a better plan.
    pub(crate) fn effort(&self) -> Effort {
        self.effort
    }

    /// Word of changes.
    pub(crate) fn listen(&self) -> watch::Receiver<News> {
        self.news.subscribe()
    }

    /// Ends when the server is told to stop.
    pub(crate) fn until_stopped(&self) -> watch::Receiver<bool> {
        self.stopping.subscribe()
    }

    /// Tells sums that take long to end.
    pub fn stop(&self) {
        self.stopped.store(true, Ordering::Relaxed);
        self.stopping.send_replace(true);
    }

    /// Folds the write-ahead log into the book's file.
    ///
    /// # Errors
    /// The store's own.
    pub async fn close(&self) -> Result<(), Vec<Trouble>> {
        match self.store.lock().await.take() {
            Some(store) => store.close().await.map_err(|error| vec![error.into()]),
            None => Ok(()),
        }
    }

    /// Does something with the book, one after the other.
    ///
    /// # Errors
    /// The work's own; `SRV-005` once the server stops.
    pub(crate) async fn with_store<T>(
        &self,
        work: impl AsyncFnOnce(&mut SqliteStore) -> Result<T, outyard_app::ports::StoreError>,
    ) -> Outcome<T> {
        let mut held = self.store.lock().await;
        let store = held.as_mut().ok_or_else(not_yet)?;
        Ok(work(store).await?)
    }

    /// Keeps entries, all or none, and tells whoever listens.
    ///
    /// # Errors
    /// The store's own.
    pub(crate) async fn append(&self, entries: &[Entry]) -> Outcome<outyard_app::ports::Appended> {
        let appended = self.with_store(async |store| store.append(entries).await).await?;
        self.catch_up().await?;
        Ok(appended)
    }

    /// Makes the outfit: writes its settings and begins its book.
    ///
    /// # Errors
    /// `CLI-005` when there is one already; what is wrong with the settings; what the disk says.
    pub(crate) async fn begin(&self, settings: &str) -> Outcome<()> {
        let mut held = self.store.lock().await;
        let file = self.desk.folder().join(SETTINGS);
        if held.is_some() || file.exists() || self.desk.folder().join(BOOK).exists() {
            return Err(Trouble::new(
                "CLI-005",
                "there is an outfit here already",
                "nothing was touched; open the page anew",
            )
            .into());
        }
        outyard_app::settings::read_settings(SETTINGS, settings)?;
        outyard_folder::write_whole(&file, settings.as_bytes())?;
        *held = Some(open_book(&self.desk).await?);
        drop(held);
        self.news.send_modify(|_| ());
        Ok(())
    }

    /// Reads what has arrived, and tells whoever listens.
    ///
    /// # Errors
    /// The store's own.
    pub(crate) async fn look_again(&self) -> Outcome<()> {
        Ok(self.catch_up().await?)
    }

    /// Reads what has arrived since; other programs write to the same book.
    async fn catch_up(&self) -> Result<(), Trouble> {
        let mut held = self.store.lock().await;
        let Some(store) = held.as_mut() else { return Ok(()) };
        let mut after = Cursor(self.read.read().unwrap_or_else(PoisonError::into_inner).cursor);
        let mut fresh = Vec::new();
        loop {
            let page = store.read_since(after, AT_A_TIME).await?;
            fresh.extend(page.entries);
            after = page.next;
            if !page.more {
                break;
            }
        }
        if fresh.is_empty() {
            return Ok(());
        }
        let mut read = self.read.write().unwrap_or_else(PoisonError::into_inner);
        read.names.extend(fresh.iter().map(|entry| entry.id));
        Arc::make_mut(&mut read.entries).extend(fresh);
        read.cursor = after.0;
        drop(read);
        drop(held);
        self.news.send_modify(|news| news.book = after.0);
        Ok(())
    }

    /// All entries, and how far the book has come.
    pub(crate) fn entries(&self) -> (Arc<Vec<Entry>>, i64) {
        let read = self.read.read().unwrap_or_else(PoisonError::into_inner);
        (Arc::clone(&read.entries), read.cursor)
    }

    /// Those of the names that are in the book already.
    pub(crate) fn known(&self, names: impl IntoIterator<Item = EntryId>) -> BTreeSet<EntryId> {
        let read = self.read.read().unwrap_or_else(PoisonError::into_inner);
        names.into_iter().filter(|id| read.names.contains(id)).collect()
    }

    /// The newest morning known; waits for the first one.
    ///
    /// # Errors
    /// `SRV-005` while the first one is still worked out, and what is wrong with the outfit's files.
    pub(crate) async fn morning(&self) -> Outcome<Arc<Morning>> {
        let mut newest = self.newest.subscribe();
        let found = tokio::time::timeout(FIRST_WAIT, newest.wait_for(Option::is_some)).await;
        match found {
            Ok(Ok(found)) => match found.as_ref().expect("it was waited for") {
                Ok(morning) => Ok(Arc::clone(morning)),
                Err(troubles) => Err(troubles.clone().into()),
            },
            _ => Err(not_yet()),
        }
    }

    /// The morning of a day: the newest one, or another worked out for the question and kept a while.
    ///
    /// # Errors
    /// As [`Office::morning`].
    pub(crate) async fn morning_of(self: &Arc<Self>, on: Option<Date>) -> Outcome<Arc<Morning>> {
        let newest = self.morning().await?;
        let Some(on) = on.filter(|on| *on != newest.situation.today) else { return Ok(newest) };
        let stamp = Stamp { today: on, ..self.stamp() };
        let mut others = self.other.lock().await;
        if let Some(known) = others.iter().find(|known| known.stamp == stamp) {
            return Ok(Arc::clone(known));
        }
        let office = Arc::clone(self);
        let morning = self.long_sum(move || office.look(&office.desk.on_day(on), stamp)).await??;
        let morning = Arc::new(morning);
        others.insert(0, Arc::clone(&morning));
        others.truncate(OTHERS_KEPT);
        Ok(morning)
    }

    /// Does a sum that takes long, one at a time, without holding anybody else up.
    ///
    /// # Errors
    /// `SRV-005` when the server stops meanwhile.
    pub(crate) async fn long_sum<T: Send + 'static>(&self, sum: impl FnOnce() -> T + Send + 'static) -> Outcome<T> {
        let _turn = self.long_sums.acquire().await.map_err(|_| not_yet())?;
        tokio::task::spawn_blocking(sum).await.map_err(|_| not_yet())
    }

    /// True once the server is told to stop; sums that take long ask it.
    pub(crate) fn is_stopped(&self) -> bool {
        self.stopped.load(Ordering::Relaxed)
    }

    fn stamp(&self) -> Stamp {
        let cursor = self.read.read().unwrap_or_else(PoisonError::into_inner).cursor;
        let bytes = std::fs::read(self.desk.folder().join(SETTINGS)).unwrap_or_default();
        let digest = outyard_book::ContentHash::of(&bytes);
        let settings = digest.as_bytes()[..8].iter().fold(0_u64, |sum, byte| (sum << 8) | u64::from(*byte));
        Stamp { cursor, settings, today: self.desk.today() }
    }

    fn look(&self, desk: &Desk, stamp: Stamp) -> Result<Morning, Vec<Trouble>> {
        let (entries, _) = self.entries();
        let situation = desk.situation_of(entries.to_vec())?;
        let days = situation.settings.outlook.plan_days;
        let order = WorkOrder { days, effort: self.effort, shut: Vec::new(), crews_out: Vec::new() };
        let worked = work_out(&situation, &order, &|| self.is_stopped());
        Ok(Morning { situation, worked, entries, cursor: stamp.cursor, at: Timestamp::now(), days, stamp })
    }

    /// Works the morning out anew whenever the book, the settings or the day have changed.
    async fn keep_the_morning_new(self: Arc<Self>) {
        let mut news = self.news.subscribe();
        let mut stopping = self.stopping.subscribe();
        let mut last: Option<Stamp> = None;
        while !self.is_stopped() {
            if let Err(trouble) = self.catch_up().await {
                tracing::warn!(code = trouble.code, "{}", trouble.cause);
            }
            let stamp = self.stamp();
            if last != Some(stamp) {
                last = Some(stamp);
                let office = Arc::clone(&self);
                let started = std::time::Instant::now();
                let looked = tokio::task::spawn_blocking(move || office.look(&office.desk, stamp)).await;
                if self.is_stopped() {
                    return;
                }
                let Ok(looked) = looked else { continue };
                tracing::info!(
                    book = stamp.cursor,
                    took_ms = started.elapsed().as_millis(),
                    well = looked.is_ok(),
                    "morning worked out"
                );
                self.newest.send_replace(Some(looked.map(Arc::new)));
                self.news.send_modify(|news| {
                    news.morning = stamp.cursor;
                    news.mornings += 1;
                });
                continue;
            }
            tokio::select! {
                changed = news.changed() => if changed.is_err() { return },
                changed = stopping.changed() => if changed.is_err() { return },
                () = tokio::time::sleep(LOOK_EVERY) => {}
            }
        }
    }
}

async fn open_book(desk: &Desk) -> Result<SqliteStore, Vec<Trouble>> {
    SqliteStore::open(&desk.folder().join(BOOK)).await.map_err(|error| vec![error.into()])
}

fn not_yet() -> Problem {
    Problem::new(
        StatusCode::SERVICE_UNAVAILABLE,
        "SRV-005",
        "the morning is still being worked out, or the server is stopping",
        "ask again in a moment",
    )
}
