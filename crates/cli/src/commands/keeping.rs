//! Keeping the book safe: exchange with other devices, copies, a look over it, and bringing a copy back.

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};

use jiff::{SignedDuration, Timestamp};
use outyard_app::exchange::{BothMarks, Exchanged, HandedOn, Marks, exchange as hand_on_both_ways, files_of};
use outyard_app::ports::{Cursor, Store, StoreError};
use outyard_base::Trouble;
use outyard_book::{ContentHash, Entry, EntryId, Fact, Outfit, fold};
use outyard_folder::{BOOK, Desk, SETTINGS, write_whole};
use outyard_store::{LookOver, PostgresAddress, PostgresStore, SqliteStore};
use serde_json::{Map, Value, json};

use crate::args::ExchangeWords;
use crate::reply::{Reply, hang};

type Answer = Result<Reply, Vec<Trouble>>;

/// Beside the book: how far it has handed on to whom. Taking it away does no harm.
const MARKS: &str = "exchanges.json";

/// Entries named one by one under a finding.
const NAMED_MOST: usize = 5;

fn one(trouble: impl Into<Trouble>) -> Vec<Trouble> {
    vec![trouble.into()]
}

/// `outyard exchange`.
pub(crate) fn exchange(words: &ExchangeWords, desk: &Desk) -> Answer {
    let settings = desk.settings()?;
    let marks_file = desk.folder().join(MARKS);
    let mut all_marks = read_marks(&marks_file);
    if PostgresAddress::looks_like_one(&words.with) {
        let address = PostgresAddress::read(&words.with, Some(&settings.name)).map_err(one)?;
        let name = address.to_string();
        let mut marks = marks_of(&all_marks, &name);
        let outcome = desk.with_store(async |here| {
            let mut there = PostgresStore::open(&address).await.map_err(one)?;
            let outcome = hand_on_both_ways(here, &mut there, &mut marks).await;
            there.close().await.ok();
            outcome.map_err(one)
        });
        return finish(outcome, &mut all_marks, &marks_file, &name, &marks);
    }
    let path = PathBuf::from(&words.with);
    let path = if path.is_dir() { path.join(BOOK) } else { path };
    let own = desk.folder().join(BOOK);
    if let (Ok(theirs), Ok(own)) = (fs::canonicalize(&path), fs::canonicalize(&own))
        && theirs == own
    {
        return Err(one(Trouble::new(
            "BOK-112",
            format!("{} is this outfit's own book", path.display()),
            "name the other folder or book, such as one on a stick",
        )));
    }
    let name = std::path::absolute(&path).unwrap_or_else(|_| path.clone()).display().to_string();
    let mut marks = marks_of(&all_marks, &name);
    let outcome = desk.with_store(async |here| {
        let mut there = SqliteStore::open(&path).await.map_err(one)?;
        let outcome = hand_on_both_ways(here, &mut there, &mut marks).await;
        // The log is folded into the file, so that a stick carries one file.
        let closed = there.close().await;
        let done = outcome.map_err(one)?;
        closed.map_err(one)?;
        Ok(done)
    });
    finish(outcome, &mut all_marks, &marks_file, &name, &marks)
}

/// Remembers how far it came, whether it came to the end or not, and tells.
fn finish(
    outcome: Result<Exchanged, Vec<Trouble>>,
    all_marks: &mut Map<String, Value>,
    marks_file: &Path,
    name: &str,
    marks: &BothMarks,
) -> Answer {
    if *marks != BothMarks::default() {
        let told = json!({ "sent": told_marks(&marks.sent), "fetched": told_marks(&marks.fetched) });
        all_marks.insert(name.to_owned(), told);
        let text = serde_json::to_string_pretty(&all_marks).expect("plain data");
        write_whole(marks_file, text.as_bytes())?;
    }
    let done = outcome?;
    let mut page =
        format!("Exchanged with {name}\n  out: {}\n  in:  {}\n", told_part(&done.sent), told_part(&done.fetched));
    let clashes: BTreeSet<EntryId> = done.sent.same_name.iter().chain(&done.fetched.same_name).copied().collect();
    for id in &clashes {
        page.push_str(&hang(
            "  ! ",
            &format!("entry {id} has other content there; both books keep their own [STO-001]"),
        ));
    }
    let damaged: BTreeSet<ContentHash> =
        done.sent.damaged_files.iter().chain(&done.fetched.damaged_files).copied().collect();
    for hash in &damaged {
        page.push_str(&hang("  ! ", &format!("file {hash} is damaged where it comes from and was not handed on")));
    }
    let part = |part: &HandedOn| json!({ "new": part.new, "known": part.known, "files": part.files });
    Ok(Reply::new(
        page,
        json!({
            "with": name,
            "sent": part(&done.sent),
            "fetched": part(&done.fetched),
            "same_name": clashes.iter().map(ToString::to_string).collect::<Vec<_>>(),
            "damaged_files": damaged.iter().map(ToString::to_string).collect::<Vec<_>>(),
        }),
    ))
}

fn told_part(part: &HandedOn) -> String {
    format!("{} new entries, {} known already, {} files", part.new, part.known, part.files)
}

fn read_marks(file: &Path) -> Map<String, Value> {
    // Marks that cannot be read are no marks: everything is offered again.
    fs::read(file).ok().and_then(|bytes| serde_json::from_slice(&bytes).ok()).unwrap_or_default()
}

fn marks_of(all: &Map<String, Value>, name: &str) -> BothMarks {
    let part = |side: &str| {
        let told = all.get(name).and_then(|marks| marks.get(side));
        let number = |field: &str| told.and_then(|told| told.get(field)).and_then(Value::as_i64).unwrap_or(0);
        let text = |field: &str| told.and_then(|told| told.get(field)).and_then(Value::as_str);
        Marks {
            entries: Cursor(number("entries")),
            last_entry: text("last_entry").and_then(|id| id.parse().ok()),
            files: Cursor(number("files")),
            last_file: text("last_file").and_then(|hash| hash.parse().ok()),
        }
    };
    BothMarks { sent: part("sent"), fetched: part("fetched") }
}

fn told_marks(marks: &Marks) -> Value {
    json!({
        "entries": marks.entries.0,
        "last_entry": marks.last_entry.map(|id| id.to_string()),
        "files": marks.files.0,
        "last_file": marks.last_file.map(|hash| hash.to_string()),
    })
}

/// Where the settings of a kept copy stand.
fn settings_beside(copy: &Path) -> PathBuf {
    copy.with_extension(SETTINGS)
}

fn must_be_new(file: &Path) -> Result<(), Vec<Trouble>> {
    if !file.exists() {
        return Ok(());
    }
    Err(one(Trouble::new(
        "BOK-113",
        format!("there is a file {} already", file.display()),
        "name a new file, with the day in its name for example; nothing was touched",
    )))
}

/// `outyard book keep`.
pub(crate) fn keep(file: &Path, desk: &Desk) -> Answer {
    let settings = desk.settings()?;
    must_be_new(file)?;
    let (entries, files) = desk.with_store(async |store| {
        store.copy_to(file).await.map_err(one)?;
        // A copy nobody has looked at is a hope.
        let mut copy = SqliteStore::open_existing(file).await.map_err(one)?;
        let found = copy.look_over().await.map_err(one)?;
        copy.close().await.map_err(one)?;
        if found.is_whole() { Ok((found.entries.len(), found.files)) } else { Err(damage(&found, file)) }
    })?;
    let beside = settings_beside(file);
    let text = fs::read(desk.folder().join(SETTINGS)).map_err(|error| unreadable(SETTINGS, &error))?;
    write_whole(&beside, &text)?;
    let mut page = format!(
        "Kept {entries} entries and {files} files in {}, read back and whole; settings in {}.\n",
        file.display(),
        beside.display()
    );
    let own: Vec<&String> =
        [&settings.jobs_file, &settings.plants_file, &settings.roads.drives_file].into_iter().flatten().collect();
    for name in &own {
        page.push_str(&format!("{name} is a file of your own and not in the copy: keep it too.\n"));
    }
    Ok(Reply::new(page, json!({ "entries": entries, "files": files, "not_in_it": own })))
}

fn unreadable(name: &str, error: &std::io::Error) -> Vec<Trouble> {
    one(Trouble::new(
        "FIL-001",
        format!("{name} cannot be read: {error}"),
        "see that the file is there, that it is a file and that you may read it",
    ))
}

/// `outyard book bring-back`.
pub(crate) fn bring_back(file: &Path, desk: &Desk) -> Answer {
    let target = desk.folder().join(BOOK);
    if target.exists() {
        return Err(one(Trouble::new(
            "BOK-113",
            format!("there is a book in {} already", desk.folder().display()),
            "name an empty folder with --outfit; to put the copy's entries into this book, use outyard exchange",
        )));
    }
    fs::create_dir_all(desk.folder()).map_err(|error| {
        one(Trouble::new(
            "FIL-007",
            format!("{} cannot be made: {error}", desk.folder().display()),
            "choose a folder you may write in",
        ))
    })?;
    let trial = desk.folder().join("book.coming-back");
    let outcome = Desk::run(async {
        fs::remove_file(&trial).ok();
        copy_back(file, &trial).await?;
        let mut back = SqliteStore::open_existing(&trial).await.map_err(one)?;
        let found = back.look_over().await.map_err(one)?;
        back.close().await.map_err(one)?;
        if found.is_whole() { Ok(found) } else { Err(damage(&found, file)) }
    });
    let found = outcome.and_then(|found| {
        fs::rename(&trial, &target).map_err(|error| unreadable(&target.display().to_string(), &error))?;
        Ok(found)
    });
    if found.is_err() {
        fs::remove_file(&trial).ok();
    }
    let found = found?;
    let mut page =
        format!("Brought back {} entries and {} files into {}.\n", found.entries.len(), found.files, target.display());
    let (beside, settings) = (settings_beside(file), desk.folder().join(SETTINGS));
    if settings.exists() {
        page.push_str("The settings that were there stay.\n");
    } else if let Ok(text) = fs::read(&beside) {
        write_whole(&settings, &text)?;
        page.push_str(&format!("Settings from {}.\n", beside.display()));
    } else {
        page.push_str(&format!("There are no settings beside the copy: put your {SETTINGS} into the folder.\n"));
    }
    Ok(Reply::new(page, json!({ "entries": found.entries.len(), "files": found.files })))
}

/// Copies a book that may be in use; one that cannot be opened for writing is a plain copy and is taken as a file.
async fn copy_back(file: &Path, to: &Path) -> Result<(), Vec<Trouble>> {
    match SqliteStore::open_existing(file).await {
        Ok(mut book) => book.copy_to(to).await.map_err(one),
        Err(StoreError::ReadOnly { .. }) => {
            fs::copy(file, to).map(drop).map_err(|error| unreadable(&file.display().to_string(), &error))
        }
        Err(error) => Err(one(error)),
    }
}

/// What is damaged, each with what to do.
fn damage(found: &LookOver, book: &Path) -> Vec<Trouble> {
    let book = book.display();
    let mut troubles = Vec::new();
    if !found.pages.is_empty() || found.cut_short {
        let said = found.pages.first().map_or("its end cannot be reached", String::as_str);
        troubles.push(Trouble::new(
            "BOK-114",
            format!("{book} is damaged: {said}; {} entries can still be read", found.entries.len()),
            "leave the file as it is; save what can be read with outyard book check --save NEW-FILE, then exchange with \
             another device or a copy that has the rest",
        ));
    }
    if let Some((position, why)) = found.unreadable.first() {
        troubles.push(Trouble::new(
            "BOK-115",
            format!("{} entries cannot be read, the first at {position}: {why}", found.unreadable.len()),
            "save the others with outyard book check --save NEW-FILE, then exchange with a device or a copy that has these",
        ));
    }
    if let Some(name) = found.damaged_files.first() {
        troubles.push(Trouble::new(
            "BOK-116",
            format!("{} kept files are not what was kept, the first {name}", found.damaged_files.len()),
            "save the rest with outyard book check --save NEW-FILE, then exchange with a device that has the file",
        ));
    }
    let missing = found.missing();
    if missing > 0 {
        let first = found.sums.iter().find(|wrong| wrong.appended > wrong.found).map_or(0, |wrong| wrong.after);
        troubles.push(Trouble::new(
            "BOK-118",
            format!("{missing} entries of {book} were appended and are not there, the first after position {first}"),
            "save the others with outyard book check --save NEW-FILE, then exchange with a device or a copy that has them",
        ));
    }
    // A line that cannot be read was told above.
    let altered = found.sums.iter().find(|wrong| wrong.appended <= wrong.found).filter(|_| found.unreadable.is_empty());
    if let Some(wrong) = altered {
        troubles.push(Trouble::new(
            "BOK-119",
            format!(
                "entries {} to {} of {book} do not come to what was appended there: {} were appended, {} stand there, and \
                 at least one was changed or put in past the program",
                wrong.after + 1,
                wrong.to,
                wrong.appended,
                wrong.found
            ),
            "find another device or a kept copy that agrees with you, bring its book back into an empty folder, and look \
             this one through by hand",
        ));
    }
    troubles
}

/// Something the law found that a person should know of.
struct Finding {
    code: &'static str,
    what: &'static str,
    means: &'static str,
    remedy: &'static str,
    entries: Vec<EntryId>,
}

fn findings(outfit: &Outfit) -> Vec<Finding> {
    let finding = |code, what, means, remedy, entries: Vec<EntryId>| Finding { code, what, means, remedy, entries };
    let all = vec![
        finding(
            "BOK-131",
            "in doubt",
            "two tallies of one visit; neither counts",
            "outyard settle shows them and what would settle them",
            outfit.conflicts.iter().flat_map(|conflict| conflict.tallies.iter().copied()).collect(),
        ),
        finding(
            "BOK-132",
            "awaiting",
            "corrections of entries that have not arrived; they wait",
            "exchange with the device that wrote what they correct",
            outfit.awaiting.clone(),
        ),
        finding(
            "BOK-133",
            "idle",
            "corrections that run in a circle or put a correction in place of something; they change nothing",
            "strike them out, and write the correction anew against the first telling",
            outfit.idle.clone(),
        ),
        finding(
            "BOK-134",
            "contested",
            "corrected twice; the later by clock counts, the other stays visible",
            "strike the correction that is wrong",
            outfit.contested.iter().map(|contested| contested.of).collect(),
        ),
        finding(
            "BOK-135",
            "same name",
            "two contents arrived under one name; the later counts on every device",
            "find the device whose copy was changed by hand, and begin its book anew from another one",
            outfit.same_name.clone(),
        ),
        finding(
            "BOK-136",
            "unread",
            "written by a newer outyard; kept and passed on, and not reckoned with here",
            "bring this outyard up to date",
            outfit.unread.clone(),
        ),
    ];
    all.into_iter().filter(|finding| !finding.entries.is_empty()).collect()
}

/// Entries written later than it is: a device's clock is wrong, and its word goes before others' on the same thing.
fn ahead_of_the_clock(entries: &[Entry], now: Timestamp) -> Option<Finding> {
    /// Clocks of phones and computers agree within minutes; a day is past all doubt (assumed).
    const DOUBTFUL: SignedDuration = SignedDuration::from_hours(24);
    let late = now.checked_add(DOUBTFUL).unwrap_or(Timestamp::MAX);
    let entries: Vec<EntryId> = entries.iter().filter(|entry| entry.recorded_at > late).map(|entry| entry.id).collect();
    (!entries.is_empty()).then_some(Finding {
        code: "BOK-137",
        what: "ahead of the clock",
        means: "written more than a day later than it is now: of two words on one thing theirs counts, whoever spoke last",
        remedy: "set the clock of the device that wrote them; then see what they corrected, and correct it again if need be",
        entries,
    })
}

/// `outyard book check`.
pub(crate) fn check(save: Option<&Path>, desk: &Desk) -> Answer {
    desk.settings()?;
    let path = desk.folder().join(BOOK);
    if fs::metadata(&path).is_ok_and(|file| file.len() == 0) {
        return Err(one(Trouble::new(
            "BOK-117",
            format!(
                "{} is there and empty: the beginning of a book that was cut off, or a book that was emptied",
                path.display()
            ),
            "bring a kept copy back into another folder, or exchange with a device that has the book; if there never was one, \
             write on and a new book begins",
        )));
    }
    let (found, files) = Desk::run(async {
        let mut store = SqliteStore::open_existing(&path).await.map_err(one)?;
        let found = store.look_over().await.map_err(one)?;
        let files = if found.damaged_files.is_empty() { files_of(&mut store).await.ok() } else { None };
        if let Some(save) = save {
            save_what_is_left(&mut store, &found, save).await?;
        }
        Ok((found, files.unwrap_or_default()))
    })?;
    if !found.is_whole() && save.is_none() {
        return Err(damage(&found, &path));
    }
    let outfit = fold(&found.entries);
    let missing = missing_files(&found.entries, &files);
    let mut page = format!(
        "{}: {} entries and {} files, each read back{}.\n",
        path.display(),
        found.entries.len(),
        found.files,
        if found.is_whole() { "; the file is whole" } else { "; the file is DAMAGED" }
    );
    if let Some(save) = save {
        page.push_str(&format!("What can be read stands in {}.\n", save.display()));
    }
    let mut told = Vec::new();
    let ahead = ahead_of_the_clock(&found.entries, Timestamp::now());
    for finding in findings(&outfit).into_iter().chain(ahead) {
        page.push_str(&format!("\n{}: {} [{}]\n", finding.what, finding.entries.len(), finding.code));
        page.push_str(&hang("  ", finding.means));
        page.push_str(&hang("  do: ", finding.remedy));
        for id in finding.entries.iter().take(NAMED_MOST) {
            page.push_str(&format!("  {id}\n"));
        }
        told.push(json!({
            "code": finding.code,
            "what": finding.what,
            "entries": finding.entries.iter().map(ToString::to_string).collect::<Vec<_>>(),
            "do": finding.remedy,
        }));
    }
    if !missing.is_empty() && found.damaged_files.is_empty() {
        page.push_str(&format!("\nfiles that are named and not here: {} [BOK-138]\n", missing.len()));
        page.push_str(&hang("  do: ", "exchange with the device that took them in"));
    }
    let unplaced = outfit.ledger.unplaced().count();
    if unplaced > 0 {
        page.push_str(&format!("\ngear that cannot be placed: {unplaced} [BOK-139]\n"));
        page.push_str(&hang("  do: ", "outyard gear tells each with what would settle it"));
    }
    if told.is_empty() && missing.is_empty() && unplaced == 0 {
        page.push_str("Nothing waits, nothing is contested, nothing is unread.\n");
    }
    Ok(Reply::new(
        page,
        json!({
            "entries": found.entries.len(),
            "files": found.files,
            "whole": found.is_whole(),
            "findings": told,
            "files_missing": missing.iter().map(ToString::to_string).collect::<Vec<_>>(),
            "gear_unplaced": unplaced,
        }),
    ))
}

fn missing_files(entries: &[Entry], here: &BTreeSet<ContentHash>) -> BTreeSet<ContentHash> {
    let named = entries.iter().filter_map(|entry| match &entry.fact {
        Fact::SeriesKept(series) => Some(series.content),
        Fact::PhotoKept(photo) => Some(photo.content),
        _ => None,
    });
    named.filter(|hash| !here.contains(hash)).collect()
}

async fn save_what_is_left(store: &mut SqliteStore, found: &LookOver, save: &Path) -> Result<(), Vec<Trouble>> {
    must_be_new(save)?;
    let mut saved = SqliteStore::open(save).await.map_err(one)?;
    saved.append(&found.entries).await.map_err(one)?;
    let mut after = Cursor::START;
    // Files that cannot be named or read are told as damaged already.
    while let Ok(page) = store.files_since(after, 100).await {
        for hash in &page.hashes {
            if let Ok(Some(bytes)) = store.file(hash).await {
                saved.keep_file(&bytes).await.map_err(one)?;
            }
        }
        after = page.next;
        if !page.more {
            break;
        }
    }
    saved.close().await.map_err(one)
}
