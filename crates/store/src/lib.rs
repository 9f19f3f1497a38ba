//! Where the book is kept. Behind [`outyard_app::ports::Store`] stands one `SQLite` file; a server's database can stand
//! behind the same port, and must pass the same suite.
//!
//! A store is dumb: it appends, reads since, keeps files. Entries are kept as the lines of `outyard_book::wire`, so a
//! store need not change when facts are added, and hands on what it does not understand.

mod sqlite;

pub use sqlite::SqliteStore;
