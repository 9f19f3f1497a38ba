//! Copies of a book in use, and damage that is found and told.

#![expect(clippy::unwrap_used, reason = "a helper of tests stops its test")]

mod support;

use std::fs::OpenOptions;
use std::io::{Seek, SeekFrom, Write};

use outyard_app::ports::{Store, read_all};
use outyard_base::Chance;
use outyard_store::SqliteStore;
use support::{Folder, tallies};

#[tokio::test]
async fn a_copy_is_whole_while_others_write() {
    let folder = Folder::new("copy");
    let mut book = SqliteStore::open(&folder.file("book.sqlite")).await.unwrap();
    let mut writer = SqliteStore::open(&folder.file("book.sqlite")).await.unwrap();
    let entries = tallies(1, 300);
    writer.append(&entries[..200]).await.unwrap();
    let hash = writer.keep_file(b"raw").await.unwrap();
    book.copy_to(&folder.file("copy.sqlite")).await.unwrap();
    writer.append(&entries[200..]).await.unwrap();
    let mut copy = SqliteStore::open_existing(&folder.file("copy.sqlite")).await.unwrap();
    assert_eq!(read_all(&mut copy).await.unwrap(), entries[..200]);
    assert_eq!(copy.file(&hash).await.unwrap().as_deref(), Some(&b"raw"[..]));
    assert!(copy.look_over().await.unwrap().is_whole());
    // It goes on as a book of its own, and is never written over.
    copy.append(&entries[200..]).await.unwrap();
    assert_eq!(book.copy_to(&folder.file("copy.sqlite")).await.unwrap_err().code(), "STO-008");
    assert_eq!(read_all(&mut copy).await.unwrap(), entries);
    assert_eq!(book.copy_to(&folder.file("nowhere/copy.sqlite")).await.unwrap_err().code(), "STO-008");
}

/// Bytes are overwritten at random in the file; each time the damage is told, and every entry that is handed out is one
/// that was written.
#[tokio::test]
async fn damage_is_found_and_what_can_be_read_is_true() {
    let folder = Folder::new("damage");
    let whole = folder.file("book.sqlite");
    let mut book = SqliteStore::open(&whole).await.unwrap();
    let entries = tallies(2, 2000);
    book.append(&entries).await.unwrap();
    book.keep_file(&vec![7; 50_000]).await.unwrap();
    let looked = book.look_over().await.unwrap();
    assert!(looked.is_whole() && looked.entries == entries && looked.files == 1);
    book.close().await.unwrap();
    let length = std::fs::metadata(&whole).unwrap().len();
    let mut chance = Chance::new(3, "damage");
    let (mut found, mut read) = (0, 0);
    for round in 0..30 {
        let file = folder.file(&format!("damaged-{round}.sqlite"));
        std::fs::copy(&whole, &file).unwrap();
        let mut bytes = OpenOptions::new().write(true).open(&file).unwrap();
        if chance.happens(0.3) {
            // A torn end, as of a copy that was pulled out too soon.
            bytes.set_len(4096 + chance.below(length - 4096)).unwrap();
        } else {
            bytes.seek(SeekFrom::Start(4096 + chance.below(length - 8192))).unwrap();
            bytes.write_all(&[0xa5; 2000]).unwrap();
        }
        drop(bytes);
        match SqliteStore::open_existing(&file).await {
            Err(error) => {
                assert_eq!(error.code(), "STO-007", "{error}");
                found += 1;
            }
            Ok(mut damaged) => {
                let looked = damaged.look_over().await.unwrap();
                found += usize::from(!looked.is_whole());
                read += looked.entries.len();
                assert!(looked.entries.iter().all(|entry| entries.contains(entry)), "an entry nobody wrote");
            }
        }
    }
    // Bytes between rows that nothing points to may be overwritten without harm; there are few in a book just written.
    assert!(found >= 27, "{found} of 30 found");
    assert!(read > 1000, "only {read} entries could be read in all");
}
