//! What `SQLite` says, in the words of the port.

use std::fs::OpenOptions;
use std::path::Path;

use outyard_app::ports::StoreError;
use outyard_book::Entry;

use crate::kept::read_kept;

/// Primary result codes (sqlite.org, "Result and Error Codes").
mod code {
    pub(super) const PERM: u32 = 3;
    pub(super) const BUSY: u32 = 5;
    pub(super) const LOCKED: u32 = 6;
    pub(super) const READONLY: u32 = 8;
    pub(super) const IOERR: u32 = 10;
    pub(super) const CORRUPT: u32 = 11;
    pub(super) const FULL: u32 = 13;
    pub(super) const CANTOPEN: u32 = 14;
    pub(super) const NOTADB: u32 = 26;
}

/// The book's name in messages, as the user gave it.
#[derive(Clone, Debug)]
pub(super) struct Book(String);

impl Book {
    pub(super) fn new(path: &Path) -> Self {
        Self(path.display().to_string())
    }

    pub(super) fn name(&self) -> String {
        self.0.clone()
    }

    pub(super) fn not_a_book(&self, why: &str) -> StoreError {
        StoreError::NotABook { book: self.name(), why: why.to_owned() }
    }

    /// Reads a kept line, which must be the entry it is filed as.
    pub(super) fn entry(&self, id: &[u8], line: &str) -> Result<Entry, StoreError> {
        read_kept(&self.0, id, line)
    }

    pub(super) fn cannot_open(&self, why: &str) -> StoreError {
        StoreError::CannotOpen { book: self.name(), why: why.to_owned() }
    }

    /// Why a book cannot be opened: `SQLite` says no more than that it cannot, so the file system is asked.
    pub(super) fn ask_the_file_system(&self, path: &Path, error: StoreError) -> StoreError {
        if !matches!(error, StoreError::CannotOpen { .. }) {
            return error;
        }
        let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new("."));
        let read_only = |why: String| StoreError::ReadOnly { book: self.name(), why };
        if path.is_dir() {
            return self.cannot_open("it is a folder");
        }
        match folder.metadata() {
            Err(why) => return self.cannot_open(&format!("folder {}: {why}", folder.display())),
            Ok(folder) if !folder.is_dir() => return self.cannot_open("what should be its folder is a file"),
            Ok(_) => {}
        }
        if path.exists()
            && let Err(why) = OpenOptions::new().read(true).write(true).open(path)
        {
            return read_only(why.to_string());
        }
        // The log stands beside the book, so its folder must take new files.
        let trial = folder.join(format!(".outyard-{}", std::process::id()));
        if let Err(why) = OpenOptions::new().write(true).create_new(true).open(&trial) {
            return read_only(format!("folder {}: {why}", folder.display()));
        }
        std::fs::remove_file(&trial).ok();
        error
    }

    /// An error of a book that is open.
    pub(super) fn error(&self, error: &sqlx::Error) -> StoreError {
        let book = self.name();
        let said = match error {
            sqlx::Error::Database(said) => said,
            // Bytes that are no text where a line should be: another program, or the disk, has written over them.
            sqlx::Error::ColumnDecode { .. } | sqlx::Error::Decode(_) => {
                return StoreError::Damaged { book, why: error.to_string() };
            }
            _ => return StoreError::Other { book, why: error.to_string() },
        };
        let extended: u32 = said.code().and_then(|code| code.parse().ok()).unwrap_or(0);
        let why = said.message().to_owned();
        match extended & 0xff {
            code::BUSY | code::LOCKED => StoreError::Busy { book },
            code::READONLY | code::PERM => StoreError::ReadOnly { book, why },
            code::FULL => StoreError::Full { book },
            code::CORRUPT => StoreError::Damaged { book, why },
            code::NOTADB => StoreError::NotABook { book, why: "it is no SQLite file".to_owned() },
            code::CANTOPEN => StoreError::CannotOpen { book, why },
            code::IOERR => StoreError::Other { book, why: format!("the disk failed: {why}") },
            _ => StoreError::Other { book, why },
        }
    }
}
