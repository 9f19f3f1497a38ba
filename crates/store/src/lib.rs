//! Where the book is kept. Behind [`outyard_app::ports::Store`] stands one `SQLite` file, or a `PostgreSQL` database that
//! several offices share; both pass the same suite.
//!
//! A store is dumb: it appends, reads since, keeps files. Entries are kept as the lines of `outyard_book::wire`, so a
//! store need not change when facts are added, and hands on what it does not understand.

mod kept;
mod postgres;
mod sqlite;

pub use postgres::{Changes, PostgresAddress, PostgresStore};
pub use sqlite::{LookOver, SqliteStore, WrongSum};
