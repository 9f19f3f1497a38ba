use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::Duration;

use outyard_app::ports::{Appended, Cursor, Store, StoreError, read_all};
use outyard_base::Trouble;
use outyard_book::{Entry, EntryId, Fact};
use sqlx::sqlite::{SqliteConnectOptions, SqliteConnection};
use sqlx::{Connection, Executor};

use super::{APPLICATION_ID, LAYOUTS, SqliteStore, WrongSum};

/// A folder of its own for each test, gone when the test is over.
struct Folder(PathBuf);

impl Folder {
    fn new(name: &str) -> Self {
        let folder = std::env::temp_dir().join(format!("outyard-store-{}-{name}", std::process::id()));
        std::fs::create_dir_all(&folder).unwrap();
        Self(folder)
    }

    fn file(&self, name: &str) -> PathBuf {
        self.0.join(name)
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        std::fs::remove_dir_all(&self.0).ok();
    }
}

fn note(number: u8, text: &str) -> Entry {
    let at = "2026-07-03T17:00:00Z".parse().unwrap();
    let id = EntryId::new(at, [number; 10]);
    let fact = Fact::Note { yard: None, text: text.to_owned() };
    Entry::new(id, "phone-a".parse().unwrap(), "Ana", "2026-07-03".parse().unwrap(), at, fact)
}

async fn number(store: &mut SqliteStore, question: &'static str) -> i64 {
    sqlx::query_scalar(question).fetch_one(&mut store.connection).await.unwrap()
}

/// A connection that knows nothing of books.
async fn stranger(path: &Path) -> SqliteConnection {
    let options = SqliteConnectOptions::new().filename(path).create_if_missing(true);
    SqliteConnection::connect_with(&options).await.unwrap()
}

async fn refused(path: &Path) -> StoreError {
    SqliteStore::open(path).await.expect_err("the file was taken for a book")
}

#[tokio::test]
async fn the_file_itself_refuses_changes() {
    let folder = Folder::new("refuses");
    let path = folder.file("book.sqlite");
    let mut store = SqliteStore::open(&path).await.unwrap();
    let entries = [note(1, "one"), note(2, "two")];
    store.append(&entries).await.unwrap();
    let hash = store.keep_file(b"raw").await.unwrap();
    let mut other = stranger(&path).await;
    for statement in [
        "UPDATE entry SET line = '{}' WHERE position = 1",
        "UPDATE entry SET position = 9 WHERE position = 1",
        "DELETE FROM entry",
        "DELETE FROM entry WHERE position = 2",
        "UPDATE file SET bytes = x'00'",
        "DELETE FROM file",
        "UPDATE sum SET entries = 7",
        "DELETE FROM sum",
    ] {
        let error = other.execute(statement).await.expect_err(statement);
        assert!(error.to_string().contains("never"), "{statement}: {error}");
    }
    // REPLACE takes no row away either: by name, by position, or for a kept file.
    for statement in [
        "INSERT OR REPLACE INTO entry (id, line) SELECT id, '{}' FROM entry WHERE position = 1",
        "INSERT OR REPLACE INTO entry (position, id, line) VALUES (1, x'00112233445566778899aabbccddeeff', '{}')",
        "INSERT OR REPLACE INTO file (hash, bytes) SELECT hash, x'00' FROM file",
    ] {
        assert_eq!(other.execute(statement).await.unwrap().rows_affected(), 0, "{statement}");
    }
    assert_eq!(read_all(&mut store).await.unwrap(), entries);
    assert_eq!(store.file(&hash).await.unwrap().unwrap(), b"raw");
    other.close().await.unwrap();
    store.close().await.unwrap();
    // Closed, the book is one file.
    let names: Vec<_> = std::fs::read_dir(&folder.0).unwrap().map(|file| file.unwrap().file_name()).collect();
    assert_eq!(names, ["book.sqlite"]);
}

#[tokio::test]
async fn it_is_durable_marked_and_of_the_newest_layout() {
    let folder = Folder::new("marked");
    let mut store = SqliteStore::open(&folder.file("book.sqlite")).await.unwrap();
    assert_eq!(number(&mut store, "PRAGMA application_id").await, APPLICATION_ID);
    assert_eq!(number(&mut store, "PRAGMA user_version").await, i64::try_from(LAYOUTS.len()).unwrap());
    // 2 is FULL: the log is synced at every commit.
    assert_eq!(number(&mut store, "PRAGMA synchronous").await, 2);
    assert_eq!(number(&mut store, "PRAGMA foreign_keys").await, 1);
    let mode: String = sqlx::query_scalar("PRAGMA journal_mode").fetch_one(&mut store.connection).await.unwrap();
    assert_eq!(mode, "wal");
}

#[tokio::test]
async fn a_file_that_is_no_book_is_refused_and_left_as_it_is() {
    let folder = Folder::new("no-book");
    let text = folder.file("letter.txt");
    std::fs::write(&text, "Dear neighbour, ".repeat(200)).unwrap();
    let error = refused(&text).await;
    assert_eq!(error.code(), "STO-002", "{error}");
    assert_eq!(std::fs::read(&text).unwrap().len(), 3200);

    let foreign = folder.file("other.sqlite");
    let mut other = stranger(&foreign).await;
    other.execute("CREATE TABLE recipe (name TEXT)").await.unwrap();
    other.close().await.unwrap();
    let before = std::fs::read(&foreign).unwrap();
    assert_eq!(refused(&foreign).await.code(), "STO-002");
    assert_eq!(std::fs::read(&foreign).unwrap(), before);

    // Marked by another program, though still empty.
    let marked = folder.file("marked.sqlite");
    let mut other = stranger(&marked).await;
    other.execute("PRAGMA application_id = 7").await.unwrap();
    other.close().await.unwrap();
    assert_eq!(refused(&marked).await.code(), "STO-002");

    // An empty file is a book not yet begun.
    let empty = folder.file("empty.sqlite");
    std::fs::write(&empty, "").unwrap();
    SqliteStore::open(&empty).await.unwrap();
}

#[tokio::test]
async fn a_book_of_a_newer_program_is_refused_and_left_as_it_is() {
    let folder = Folder::new("newer");
    let path = folder.file("book.sqlite");
    SqliteStore::open(&path).await.unwrap().close().await.unwrap();
    let mut other = stranger(&path).await;
    other.execute("PRAGMA user_version = 3").await.unwrap();
    other.close().await.unwrap();
    let before = std::fs::read(&path).unwrap();
    let error = refused(&path).await;
    assert_eq!(error, StoreError::NewerLayout { book: path.display().to_string(), found: 3, known: 2 });
    assert_eq!(std::fs::read(&path).unwrap(), before);
    let trouble = Trouble::from(error);
    assert_eq!(trouble.code, "STO-003");
    assert!(trouble.remedy.contains("newer program"));
}

#[tokio::test]
async fn a_book_that_is_not_there_or_no_file_cannot_be_opened() {
    let folder = Folder::new("not-there");
    let missing = folder.file("book.sqlite");
    let error = SqliteStore::open_existing(&missing).await.unwrap_err();
    assert_eq!(error.code(), "STO-008");
    assert!(error.to_string().ends_with("there is no such file"), "{error}");
    assert!(!missing.exists());
    let error = refused(&folder.file("no/such/folder/book.sqlite")).await;
    assert!(error.code() == "STO-008" && error.to_string().contains("folder"), "{error}");
    assert_eq!(
        refused(&folder.0).await.to_string(),
        format!("{} cannot be opened: it is a folder", folder.0.display())
    );
    std::fs::write(folder.file("file"), "x").unwrap();
    assert_eq!(refused(&folder.file("file/book.sqlite")).await.code(), "STO-008");
}

#[tokio::test]
async fn a_folder_that_cannot_be_written_is_said_to_be_so() {
    use std::os::unix::fs::PermissionsExt;
    let folder = Folder::new("read-only");
    let path = folder.file("book.sqlite");
    let mut store = SqliteStore::open(&path).await.unwrap();
    store.append(&[note(1, "one")]).await.unwrap();
    store.close().await.unwrap();
    let shut = |file: &Path, mode| std::fs::set_permissions(file, std::fs::Permissions::from_mode(mode)).unwrap();
    shut(&path, 0o444);
    shut(&folder.0, 0o555);
    let free = std::fs::write(folder.file("trial"), "").is_ok();
    if free {
        // This user may write everywhere: a folder of the system that takes no files stands in.
        let error = refused(Path::new("/proc/book.sqlite")).await;
        assert_eq!(error.code(), "STO-004", "{error}");
    } else {
        for path in [path, folder.file("new.sqlite")] {
            let error = refused(&path).await;
            assert_eq!(error.code(), "STO-004", "{error}");
        }
    }
    shut(&folder.0, 0o755);
}

#[tokio::test]
async fn a_full_disk_keeps_nothing_of_the_call_and_the_book_goes_on() {
    let folder = Folder::new("full");
    let mut store = SqliteStore::open(&folder.file("book.sqlite")).await.unwrap();
    store.append(&[note(1, "one")]).await.unwrap();
    let pages = number(&mut store, "PRAGMA page_count").await;
    // SQLite meets this limit as it meets a full disk: with SQLITE_FULL.
    let limit = |pages: i64| format!("PRAGMA max_page_count = {pages}");
    store.connection.execute(sqlx::AssertSqlSafe(limit(pages))).await.unwrap();
    let call = [note(2, "small"), note(3, &"x".repeat(100_000))];
    assert_eq!(store.append(&call).await.unwrap_err().code(), "STO-005");
    assert_eq!(store.keep_file(&vec![7; 100_000]).await.unwrap_err().code(), "STO-005");
    assert_eq!(read_all(&mut store).await.unwrap(), [note(1, "one")]);
    store.connection.execute(sqlx::AssertSqlSafe(limit(pages + 1000))).await.unwrap();
    assert_eq!(store.append(&call).await.unwrap(), Appended { new: 2, known: 0 });
}

#[tokio::test]
async fn a_book_another_program_holds_is_waited_for_and_then_said_to_be_busy() {
    let folder = Folder::new("busy");
    let path = folder.file("book.sqlite");
    let mut store = SqliteStore::open_with(&path, true, Duration::from_millis(100)).await.unwrap();
    let mut other = stranger(&path).await;
    other.execute("BEGIN IMMEDIATE").await.unwrap();
    assert_eq!(store.append(&[note(1, "one")]).await.unwrap_err().code(), "STO-006");
    // Reading goes on meanwhile.
    assert!(read_all(&mut store).await.unwrap().is_empty());
    let let_go = async {
        tokio::time::sleep(Duration::from_millis(30)).await;
        other.execute("ROLLBACK").await.unwrap();
    };
    let entries = [note(1, "one")];
    let (appended, ()) = tokio::join!(store.append(&entries), let_go);
    assert_eq!(appended.unwrap().new, 1);
}

#[tokio::test]
async fn damage_is_found_when_it_is_read() {
    let folder = Folder::new("damage");
    let path = folder.file("book.sqlite");
    let mut store = SqliteStore::open(&path).await.unwrap();
    store.append(&[note(1, "one")]).await.unwrap();
    let hash = store.keep_file(b"raw").await.unwrap();
    for statement in [
        "DROP TRIGGER file_never_changes",
        "UPDATE file SET bytes = x'00'",
        "INSERT INTO entry (id, line) VALUES (x'00112233445566778899aabbccddeeff', 'scribble')",
    ] {
        store.connection.execute(statement).await.unwrap();
    }
    assert_eq!(store.file(&hash).await.unwrap_err().code(), "STO-007");
    assert_eq!(store.read_since(Cursor::START, 1).await.unwrap().entries, [note(1, "one")]);
    let error = store.read_since(Cursor(1), 9).await.unwrap_err();
    assert!(error.code() == "STO-007" && error.to_string().contains("BOK-103"), "{error}");
    store.close().await.unwrap();
    // An entry filed under another's name.
    let other_path = folder.file("other.sqlite");
    let mut store = SqliteStore::open(&other_path).await.unwrap();
    let line = outyard_book::wire::write_line(&note(1, "one"));
    sqlx::query("INSERT INTO entry (id, line) VALUES (zeroblob(16), ?1)")
        .bind(line)
        .execute(&mut store.connection)
        .await
        .unwrap();
    assert_eq!(read_all(&mut store).await.unwrap_err().code(), "STO-007");
    store.close().await.unwrap();
    // Pages overwritten in the middle of the file.
    let mut bytes = std::fs::read(&path).unwrap();
    let middle = bytes.len() / 4;
    bytes[4096..middle + 4096].fill(0xa5);
    std::fs::write(&path, bytes).unwrap();
    let error = match SqliteStore::open(&path).await {
        Ok(mut store) => read_all(&mut store).await.unwrap_err(),
        Err(error) => error,
    };
    assert_eq!(error.code(), "STO-007", "{error}");
}

#[tokio::test]
async fn books_begun_by_several_at_once_are_one_book() {
    let folder = Folder::new("at-once");
    let path = folder.file("book.sqlite");
    let mut all = tokio::task::JoinSet::new();
    for number in 0..8 {
        let path = path.clone();
        all.spawn(async move {
            let mut store = SqliteStore::open(&path).await.unwrap();
            store.append(&[note(number, "mine"), note(99, "everyone's")]).await.unwrap()
        });
    }
    let appended: Vec<Appended> = all.join_all().await;
    assert_eq!(appended.iter().map(|one| one.new).sum::<usize>(), 9);
    assert_eq!(read_all(&mut SqliteStore::open(&path).await.unwrap()).await.unwrap().len(), 9);
}

#[test]
fn no_tool_is_needed_to_look_into_a_book() {
    // Kept as plain lines: any SQLite shell can print a book. Where there is none, the file still holds the text.
    let folder = Folder::new("plain");
    let path = folder.file("book.sqlite");
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().unwrap();
    runtime.block_on(async {
        let mut store = SqliteStore::open(&path).await.unwrap();
        store.append(&[note(1, "spray next door")]).await.unwrap();
        store.close().await.unwrap();
    });
    let shell = Command::new("sqlite3").arg(&path).arg("SELECT line FROM entry").output();
    let text = shell.map_or_else(|_| std::fs::read(&path).unwrap(), |output| output.stdout);
    assert!(String::from_utf8_lossy(&text).contains("spray next door"));
}

#[tokio::test]
async fn a_book_of_the_first_layout_is_brought_to_the_newest_and_summed_up() {
    let folder = Folder::new("layout-1");
    let path = folder.file("book.sqlite");
    let mut other = stranger(&path).await;
    other.execute(LAYOUTS[0]).await.unwrap();
    let entries = [note(1, "one"), note(2, "two")];
    let lines: Vec<String> = entries.iter().map(outyard_book::wire::write_line).collect();
    for (entry, line) in entries.iter().zip(&lines) {
        sqlx::query("INSERT INTO entry (id, line) VALUES (?1, ?2)")
            .bind(entry.id.as_bytes().as_slice())
            .bind(line)
            .execute(&mut other)
            .await
            .unwrap();
    }
    other.execute("PRAGMA application_id = 0x6f79626b").await.unwrap();
    other.execute("PRAGMA user_version = 1").await.unwrap();
    other.close().await.unwrap();
    let mut store = SqliteStore::open(&path).await.unwrap();
    let sum = outyard_book::SetSum::of(lines.iter().map(String::as_str));
    assert_eq!(store.head().await.unwrap(), (Cursor(2), sum));
    assert_eq!(read_all(&mut store).await.unwrap(), entries);
    assert_eq!(number(&mut store, "PRAGMA user_version").await, 2);
}

#[tokio::test]
async fn rows_that_went_or_came_past_the_program_are_found() {
    let folder = Folder::new("rows");
    let path = folder.file("book.sqlite");
    let mut store = SqliteStore::open(&path).await.unwrap();
    for number in 1..=9 {
        store.append(&[note(number, "a"), note(100 + number, "b")]).await.unwrap();
    }
    assert!(store.look_over().await.unwrap().is_whole());
    store.connection.execute("DROP TRIGGER entry_never_goes").await.unwrap();
    store.connection.execute("DELETE FROM entry WHERE position = 6").await.unwrap();
    let found = store.look_over().await.unwrap();
    assert!(found.pages.is_empty() && found.unreadable.is_empty() && !found.is_whole());
    assert_eq!(found.missing(), 1);
    assert_eq!(found.sums, [WrongSum { after: 4, to: 6, appended: 2, found: 1 }]);
    // The last ones gone, and one put in by hand.
    store.connection.execute("DELETE FROM entry WHERE position > 16").await.unwrap();
    assert_eq!(store.look_over().await.unwrap().missing(), 3);
    sqlx::query("INSERT INTO entry (position, id, line) VALUES (40, ?1, ?2)")
        .bind(note(77, "by hand").id.as_bytes().as_slice())
        .bind(outyard_book::wire::write_line(&note(77, "by hand")))
        .execute(&mut store.connection)
        .await
        .unwrap();
    let found = store.look_over().await.unwrap();
    assert_eq!(found.sums.last(), Some(&WrongSum { after: 18, to: 40, appended: 0, found: 1 }));
}
