//! The rules every store obeys, on the store in memory and on `SQLite`. On `PostgreSQL` they run in `postgres.rs`, which
//! starts a server.

#![expect(clippy::unwrap_used, reason = "a helper of tests stops its test")]

#[path = "support/rules.rs"]
mod rules;
mod support;

use outyard_app::ports::MemoryStore;
use outyard_store::SqliteStore;
use rules::{Opens, each_rule};
use support::Folder;

struct InMemory(Option<MemoryStore>);

impl Opens for InMemory {
    type Store = MemoryStore;
    fn new(_: &str) -> Self {
        Self(Some(MemoryStore::new()))
    }
    async fn open(&mut self) -> MemoryStore {
        self.0.take().expect("a store in memory is opened once at a time")
    }
    fn done(&mut self, store: MemoryStore) {
        self.0 = Some(store);
    }
}

struct InSqlite(Folder);

impl Opens for InSqlite {
    type Store = SqliteStore;
    fn new(name: &str) -> Self {
        Self(Folder::new(name))
    }
    async fn open(&mut self) -> SqliteStore {
        SqliteStore::open(&self.0.file("book.sqlite")).await.unwrap()
    }
    fn done(&mut self, store: SqliteStore) {
        drop(store);
    }
}

macro_rules! tests_of {
    ($opens:ident $($rule:ident)*) => {$(
        #[tokio::test]
        async fn $rule() {
            crate::rules::$rule::<super::$opens>().await;
        }
    )*};
}

mod memory {
    super::each_rule!(tests_of InMemory);
}

mod sqlite {
    super::each_rule!(tests_of InSqlite);
}
