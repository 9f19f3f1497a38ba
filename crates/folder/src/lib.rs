//! The outfit's folder: where the pure rooms meet files, the clock and the store. The command line and the server both
//! stand here, so that neither leans on the other.
//!
//! | file | holds |
//! |---|---|
//! | `outfit.toml` | settings |
//! | `book.sqlite` | the book, and raw files that were imported |
//! | what `jobs` names | the outfit's own job book, laid over the built-in one |
//! | what `plants` names | the outfit's own plants |
//! | what `roads.drives` names | known drive times |
//! | what `roads.extract` names | an extract of the map |
//! | `cache/roads.kept` | its roads, prepared |
//! | `cache/fold.kept`, `cache/fold.names` | what a long book comes to up to a day; made again when lost |

use std::collections::BTreeMap;
use std::fs::{self, File};
use std::io::{BufReader, Write};
use std::path::{Path, PathBuf};

use jiff::Timestamp;
use jiff::civil::Date;
use jiff::tz::TimeZone;
use outyard_app::intake::drives::{Drives, read_drives};
use outyard_app::intake::table::{ColumnMap, read_column_choice};
use outyard_app::intake::text::read_text;
use outyard_app::opening::{PageRules, Shelf, open_outfit};
use outyard_app::ports::{Store, read_all};
use outyard_app::settings::{Settings, read_settings};
use outyard_app::situation::{Situation, SituationParts};
use outyard_base::trouble::Spot;
use outyard_base::{DeviceId, Trouble, YardId};
use outyard_book::outfit::{FoldRules, JobTurns, fold_by};
use outyard_book::{Entry, EntryId, Fact};
use outyard_season::{FlowRule, PlantTable};
use outyard_store::SqliteStore;
use outyard_trade::jobbook::{DEFAULT_JOB_BOOK, JobBook, read_job_book};
use tokio::runtime::Runtime;

/// Name of the settings file.
pub const SETTINGS: &str = "outfit.toml";
/// Name of the book's file.
pub const BOOK: &str = "book.sqlite";
/// Name of the folder of what can be made again.
const CACHE: &str = "cache";

/// What is kept of a fold, in files of a folder.
struct Cache(PathBuf);

impl Shelf for Cache {
    fn get(&mut self, name: &str) -> Option<Vec<u8>> {
        fs::read(self.0.join(name)).ok()
    }

    fn put(&mut self, name: &str, bytes: &[u8]) {
        // Whatever fails here costs the next opening some seconds, and nothing else.
        if fs::create_dir_all(&self.0).is_ok() {
            let file = self.0.join(name);
            let part = self.0.join(format!("{name}.part"));
            if fs::write(&part, bytes).and_then(|()| fs::rename(&part, &file)).is_err() {
                drop(fs::remove_file(&part));
            }
        }
    }
}

/// Where a face stands: folder, morning, writer.
#[derive(Clone, Debug)]
pub struct Desk {
    folder: PathBuf,
    on: Option<Date>,
    author: String,
    device: DeviceId,
}

fn one(trouble: Trouble) -> Vec<Trouble> {
    vec![trouble]
}

/// Reads a text file named on the command line or in the settings.
pub fn read_file(path: &Path) -> Result<String, Vec<Trouble>> {
    let name = path.display().to_string();
    let cannot = |error: &std::io::Error| {
        one(Trouble::new(
            "FIL-001",
            format!("cannot be read: {error}"),
            "see that the file is there, that it is a file and that you may read it",
        )
        .at(Spot::file(name.clone())))
    };
    let file = File::open(path).map_err(|error| cannot(&error))?;
    if file.metadata().is_ok_and(|kind| kind.is_dir()) {
        return Err(cannot(&std::io::Error::from(std::io::ErrorKind::IsADirectory)));
    }
    read_text(&name, BufReader::with_capacity(1 << 16, file)).map_err(one)
}

/// Writes a file whole or not at all: into a neighbour first, then moved over.
pub fn write_whole(path: &Path, bytes: &[u8]) -> Result<(), Vec<Trouble>> {
    let neighbour = path.with_extension("part");
    let outcome = fs::File::create(&neighbour)
        .and_then(|mut file| file.write_all(bytes).and_then(|()| file.sync_all()))
        .and_then(|()| fs::rename(&neighbour, path));
    outcome.map_err(|error| {
        // What was begun is of no use; that it cannot be removed either changes nothing.
        drop(fs::remove_file(&neighbour));
        one(Trouble::new(
            "FIL-007",
            format!("{} cannot be written: {error}", path.display()),
            "see that the folder is there, that you may write in it and that the disk has room",
        ))
    })
}

/// Reads the column choices of a command.
pub fn column_map(choices: &[String]) -> Result<ColumnMap, Vec<Trouble>> {
    choices.iter().map(|choice| read_column_choice(choice).map_err(one)).collect()
}

impl Desk {
    /// Stands at a folder, on a morning (today if none is named), as a writer on a device.
    ///
    /// # Errors
    /// `CLI-002` for a device that cannot have that name.
    pub fn new(folder: &Path, on: Option<Date>, author: &str, device: &str) -> Result<Self, Vec<Trouble>> {
        let device = DeviceId::new(device).map_err(|bad| {
            one(Trouble::new("CLI-002", bad.to_string(), "name the device with --device, such as office"))
        })?;
        Ok(Self { folder: folder.to_owned(), on, author: author.to_owned(), device })
    }

    /// The same writer in another folder.
    #[must_use]
    pub fn in_folder(&self, folder: &Path) -> Self {
        Self { folder: folder.to_owned(), on: self.on, author: self.author.clone(), device: self.device.clone() }
    }

    /// The same writer on another morning.
    #[must_use]
    pub fn on_day(&self, on: Date) -> Self {
        Self { on: Some(on), ..self.clone() }
    }

    /// The same device with another writer.
    #[must_use]
    pub fn by(&self, author: &str) -> Self {
        Self { author: author.to_owned(), ..self.clone() }
    }

    /// The morning the words name, if any.
    pub fn on_date(&self) -> Option<Date> {
        self.on
    }

    /// True when there is an outfit to heed: one in the folder, or one that was named and must be there.
    pub fn has_outfit(&self) -> bool {
        self.folder.join(SETTINGS).exists() || self.folder != Path::new(".")
    }

    /// The outfit's clock; UTC with no outfit.
    pub fn zone(&self) -> TimeZone {
        self.settings().map_or(TimeZone::UTC, |settings| settings.zone)
    }

    /// The morning: as the words say, else today on the outfit's clock.
    pub fn today(&self) -> Date {
        self.on.unwrap_or_else(|| self.zone().to_datetime(Timestamp::now()).date())
    }

    /// The settings.
    pub fn settings(&self) -> Result<Settings, Vec<Trouble>> {
        let path = self.folder.join(SETTINGS);
        if !path.exists() {
            return Err(one(Trouble::new(
                "CLI-003",
                format!("there is no outfit in {}", self.folder.display()),
                "make one with `outyard new` or `outyard demo`, or name its folder with --outfit",
            )));
        }
        read_settings(&path.display().to_string(), &read_file(&path)?)
    }

    /// The job book: the built-in one, with the outfit's own laid over it.
    pub fn jobs(&self) -> Result<JobBook, Vec<Trouble>> {
        if !self.has_outfit() {
            return read_job_book(DEFAULT_JOB_BOOK, None);
        }
        self.jobs_of(&self.settings()?)
    }

    fn jobs_of(&self, settings: &Settings) -> Result<JobBook, Vec<Trouble>> {
        match &settings.jobs_file {
            None => read_job_book(DEFAULT_JOB_BOOK, None),
            Some(name) => {
                let text = read_file(&self.folder.join(name))?;
                read_job_book(DEFAULT_JOB_BOOK, Some((name, &text)))
            }
        }
    }

    /// The plant table: the built-in one, with the outfit's own plants put in.
    pub fn plants(&self) -> Result<PlantTable, Vec<Trouble>> {
        let own = if self.has_outfit() { self.settings()?.plants_file } else { None };
        match own {
            None => Ok(PlantTable::built_in()),
            Some(name) => {
                let text = read_file(&self.folder.join(&name))?;
                PlantTable::built_in().with_changes(&text, &name).map_err(one)
            }
        }
    }

    /// The outfit's rule for a flow; the usual one with no outfit.
    pub fn flow_rule(&self) -> Result<FlowRule, Vec<Trouble>> {
        if self.has_outfit() { Ok(self.settings()?.flow) } else { Ok(FlowRule::default()) }
    }

    fn runtime() -> Result<Runtime, Vec<Trouble>> {
        tokio::runtime::Builder::new_current_thread().enable_all().build().map_err(|error| {
            one(Trouble::new("CLI-004", format!("the program cannot start its store: {error}"), "try again"))
        })
    }

    /// The outfit's folder.
    pub fn folder(&self) -> &Path {
        &self.folder
    }

    /// Does something that waits for files or servers.
    pub fn run<T>(work: impl Future<Output = Result<T, Vec<Trouble>>>) -> Result<T, Vec<Trouble>> {
        Self::runtime()?.block_on(work)
    }

    /// Opens the book and does something with it.
    pub fn with_store<T>(
        &self,
        work: impl AsyncFnOnce(&mut SqliteStore) -> Result<T, Vec<Trouble>>,
    ) -> Result<T, Vec<Trouble>> {
        Self::runtime()?.block_on(async {
            let mut store = SqliteStore::open(&self.folder.join(BOOK)).await.map_err(|error| one(error.into()))?;
            let outcome = work(&mut store).await;
            let closed = store.close().await;
            let value = outcome?;
            closed.map_err(|error| one(error.into()))?;
            Ok(value)
        })
    }

    /// All entries of the book.
    pub fn entries(&self) -> Result<Vec<Entry>, Vec<Trouble>> {
        self.settings()?;
        self.with_store(async |store| read_all(store).await.map_err(|error| one(error.into())))
    }

    /// A new entry of this writer.
    pub fn entry(&self, happened_on: Date, fact: Fact) -> Result<Entry, Vec<Trouble>> {
        let now = Timestamp::now();
        Ok(Entry::new(new_entry_id(now)?, self.device.clone(), self.author.clone(), happened_on, now, fact))
    }

    /// A new entry of this writer, under a name that was given or a fresh one.
    pub fn entry_named(&self, id: Option<EntryId>, happened_on: Date, fact: Fact) -> Result<Entry, Vec<Trouble>> {
        let mut entry = self.entry(happened_on, fact)?;
        entry.id = id.unwrap_or(entry.id);
        Ok(entry)
    }

    /// The entry of a name that was given, when the book has it already.
    pub fn known(&self, id: Option<EntryId>) -> Result<Option<Entry>, Vec<Trouble>> {
        let Some(id) = id else { return Ok(None) };
        self.settings()?;
        self.with_store(async |store| store.entry(id).await.map_err(|error| one(error.into())))
    }

    /// Writes entries; all of them or none.
    pub fn write(&self, entries: &[Entry]) -> Result<outyard_app::ports::Appended, Vec<Trouble>> {
        self.with_store(async |store| store.append(entries).await.map_err(|error| one(error.into())))
    }

    /// Keeps a raw file and writes an entry that names it.
    pub fn keep_and_write(
        &self,
        text: &str,
        entry: impl FnOnce(outyard_book::ContentHash) -> Result<Entry, Vec<Trouble>>,
    ) -> Result<Entry, Vec<Trouble>> {
        self.with_store(async |store| {
            let hash = store.keep_file(text.as_bytes()).await.map_err(|error| one(error.into()))?;
            let entry = entry(hash)?;
            store.append(std::slice::from_ref(&entry)).await.map_err(|error| one(error.into()))?;
            Ok(entry)
        })
    }

    /// Keeps a file, and then the entry that names it.
    pub fn keep_bytes_and_write(&self, bytes: &[u8], entry: Entry) -> Result<Entry, Vec<Trouble>> {
        self.with_store(async |store| {
            store.keep_file(bytes).await.map_err(|error| one(error.into()))?;
            store.append(std::slice::from_ref(&entry)).await.map_err(|error| one(error.into()))?;
            Ok(entry)
        })
    }

    /// All that is known this morning.
    pub fn situation(&self) -> Result<Situation, Vec<Trouble>> {
        self.situation_with(None)
    }

    /// All that is known this morning, by the entries of this book, which were read already.
    pub fn situation_of(&self, entries: Vec<Entry>) -> Result<Situation, Vec<Trouble>> {
        self.situation_with(Some(entries))
    }

    fn situation_with(&self, entries: Option<Vec<Entry>>) -> Result<Situation, Vec<Trouble>> {
        let settings = self.settings()?;
        let jobs = self.jobs_of(&settings)?;
        let (rules, today) = (FoldRules::of(JobTurns::of(&jobs)), self.today());
        let (outfit, files) = self.with_store(async |store| {
            let outfit = if let Some(entries) = entries {
                fold_by(entries.iter().filter(|entry| entry.happened_on <= today), &rules)
            } else {
                let mut shelf = Cache(self.folder.join(CACHE));
                let opened = open_outfit(store, &mut shelf, &rules, PageRules::default(), today).await;
                opened.map_err(|error| one(error.into()))?.outfit
            };
            let mut files = BTreeMap::new();
            for series in outfit.series.iter().map(|kept| &kept.what) {
                if files.contains_key(&series.content) {
                    continue;
                }
                let bytes = store.file(&series.content).await.map_err(|error| one(error.into()))?;
                // A kept file that is no text any more is left out; the situation notes that it is missing.
                if let Some(text) = bytes.and_then(|bytes| String::from_utf8(bytes).ok()) {
                    files.insert(series.content, text);
                }
            }
            Ok((outfit, files))
        })?;
        let drives = match &settings.roads.drives_file {
            None => Drives::default(),
            Some(name) => read_drives(name, &read_file(&self.folder.join(name))?, &ColumnMap::new())?,
        };
        let plants = self.plants()?;
        let parts = SituationParts { jobs, plants, drives, entries: Vec::new(), files, today, settings };
        let mut situation = Situation::of_outfit(parts, outfit)?;
        outyard_roads::put_roads_in(&mut situation, &self.folder).map_err(one)?;
        Ok(situation)
    }

    /// Day of the last put-down in a yard.
    pub fn last_put_down(&self, yard: &YardId) -> Result<Date, Vec<Trouble>> {
        let situation = self.situation()?;
        situation.outfit.yards.get(yard).and_then(outyard_book::Yard::last_put_down).map(|(day, _)| day).ok_or_else(
            || {
                one(Trouble::new(
                    "SGN-002",
                    format!("the book knows of no put-down in yard {yard}"),
                    "give the day with --put-down",
                ))
            },
        )
    }
}

/// A fresh name for an entry.
pub fn new_entry_id(now: Timestamp) -> Result<EntryId, Vec<Trouble>> {
    let mut chance = [0_u8; 10];
    getrandom::fill(&mut chance).map_err(|error| {
        one(Trouble::new("CLI-004", format!("the machine gives no random numbers: {error}"), "try again"))
    })?;
    Ok(EntryId::new(now, chance))
}
