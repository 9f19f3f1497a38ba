//! Who is let in: the owner's passphrase, paired devices, codes to pair by, links for readers and feeds. They stand beside
//! the book in a file of their own and are no part of it: nobody's phone carries them, and no exchange hands them on.
//!
//! | kept | as | until |
//! |---|---|---|
//! | the owner's passphrase | Argon2id, version 19, 19 MiB, 2 passes (RFC 9106; the OWASP cheat sheet's least) | it is set anew |
//! | a device's token | SHA-256 of 256 random bits | it is let out; an owner's login 30 days (assumed) |
//! | a code to pair by | SHA-256 of 40 random bits | it is used, or 10 minutes have passed (assumed) |
//! | a reader's link | SHA-256 of 256 random bits | the day it was given for: 14 unless said otherwise, at most 90 (assumed) |
//! | a feed's link | SHA-256 of 256 random bits | it is taken back |
//!
//! A row is on the disk before its secret is handed out (`synchronous = FULL`), so a kill forgets nobody and brings nobody
//! back.

use std::path::Path;
use std::time::Duration;

use argon2::Argon2;
use argon2::password_hash::phc::PasswordHash;
use argon2::password_hash::{PasswordHasher, PasswordVerifier};
use jiff::{SignedDuration, Timestamp};
use outyard_base::Trouble;
use serde::Serialize;
use sqlx::sqlite::{SqliteConnectOptions, SqliteConnection, SqliteJournalMode, SqliteRow, SqliteSynchronous};
use sqlx::{Connection, Row};
use tokio::sync::Mutex;
use utoipa::ToSchema;

use crate::secret;
use crate::who::Role;

/// Name of the file in the outfit's folder.
pub const ACCOUNTS: &str = "door.sqlite";
/// Marks the file: "oydr".
const APPLICATION_ID: i64 = 0x6f79_6472;
const TABLES: &str = include_str!("accounts.sql");
/// How long to wait for another program that writes. Assumed.
const PATIENCE: Duration = Duration::from_secs(5);
/// How long a code holds. Assumed.
const CODE_HOLDS: SignedDuration = SignedDuration::from_mins(10);
/// How long an owner's login holds. Assumed.
const LOGIN_HOLDS: SignedDuration = SignedDuration::from_hours(30 * 24);
/// How stale `last seen` may be: not every request is worth a write. Assumed.
const SEEN_AGAIN: SignedDuration = SignedDuration::from_mins(1);
/// Shortest passphrase, in letters. Assumed; NIST SP 800-63B-4 asks 15 where nothing stands beside it.
pub const PASSPHRASE_LEAST: usize = 15;
/// Longest passphrase, in bytes, so that hashing it costs no more than a request may. Assumed.
pub(crate) const PASSPHRASE_MOST: usize = 512;
/// Days a reader's link holds unless said otherwise, and at most. Assumed.
pub(crate) const READER_DAYS: (i64, i64) = (14, 90);
/// Longest name of a device's owner, in letters. Assumed.
pub(crate) const NAME_MOST: usize = 60;
/// Devices, links and codes kept at most: a mistake must not fill the disk. Assumed.
const MOST_OF_EACH: i64 = 1000;

/// Someone who was let in.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Known {
    /// The device's own name.
    pub(crate) device: String,
    /// Whose it is.
    pub(crate) name: String,
    /// What he may do.
    pub(crate) role: Role,
    /// When he is let out by himself.
    pub(crate) until: Option<Timestamp>,
}

/// A device that is let in.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub struct DeviceView {
    /// Its name.
    pub device: String,
    /// `phone` for a paired device, `login` for a browser the owner's passphrase opened, `link` for a reader's link.
    pub sort: String,
    /// Whose it is.
    pub name: String,
    /// What it may do: `owner`, `crew`, `honey-house` or `reader`.
    pub role: String,
    /// When it was let in.
    pub since: String,
    /// When it is let out by itself.
    pub until: Option<String>,
    /// When it last asked for something, to the minute.
    pub last_seen: Option<String>,
}

/// A feed that is read by a secret address.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub(crate) struct FeedLinkView {
    /// Its name.
    pub(crate) feed_link: String,
    /// The feed.
    pub(crate) feed: String,
    /// What it is for.
    pub(crate) name: String,
    /// When it was made.
    pub(crate) since: String,
    /// When it was last read, to the minute.
    pub(crate) last_read: Option<String>,
}

/// A way in that was made: its secret is shown now and never again.
#[derive(Clone, Debug)]
pub struct Invitation {
    /// What is typed or carried in the address.
    pub code: String,
    /// Until when it holds.
    pub until: Timestamp,
}

/// A device as it was let in, with the token it shows from now on.
#[derive(Clone, Debug)]
pub(crate) struct Admitted {
    pub(crate) known: Known,
    pub(crate) token: String,
}

/// Who is let in.
#[derive(Debug)]
pub struct Accounts {
    file: Mutex<SqliteConnection>,
    name: String,
}

impl Accounts {
    /// Opens the file of an outfit's folder, and begins one when there is none. Nobody but its owner may read it.
    ///
    /// # Errors
    /// `SRV-020` when it cannot be opened or is another program's.
    pub async fn open(folder: &Path) -> Result<Self, Vec<Trouble>> {
        let path = folder.join(ACCOUNTS);
        let name = path.display().to_string();
        let cannot = |why: String| vec![cannot_keep(&name, &why)];
        crate::certificates::make_private(&path).map_err(|error| cannot(error.to_string()))?;
        let options = SqliteConnectOptions::new()
            .filename(&path)
            .journal_mode(SqliteJournalMode::Wal)
            .synchronous(SqliteSynchronous::Full)
            .foreign_keys(true)
            .busy_timeout(PATIENCE);
        let mut file = SqliteConnection::connect_with(&options).await.map_err(|error| cannot(error.to_string()))?;
        let mark: i64 = sqlx::query_scalar("PRAGMA application_id")
            .fetch_one(&mut file)
            .await
            .map_err(|error| cannot(error.to_string()))?;
        if mark != APPLICATION_ID && mark != 0 {
            return Err(cannot("it is another program's file".to_owned()));
        }
        sqlx::raw_sql(TABLES).execute(&mut file).await.map_err(|error| cannot(error.to_string()))?;
        sqlx::raw_sql("PRAGMA application_id = 1870226546")
            .execute(&mut file)
            .await
            .map_err(|error| cannot(error.to_string()))?;
        Ok(Self { file: Mutex::new(file), name })
    }

    fn cannot(&self, error: &sqlx::Error) -> Trouble {
        cannot_keep(&self.name, &error.to_string())
    }

    /// Whether the owner has set a passphrase.
    ///
    /// # Errors
    /// `SRV-020`.
    pub async fn has_passphrase(&self) -> Result<bool, Trouble> {
        Ok(self.passphrase().await?.is_some())
    }

    async fn passphrase(&self) -> Result<Option<String>, Trouble> {
        let mut file = self.file.lock().await;
        sqlx::query_scalar("SELECT passphrase FROM owner")
            .fetch_optional(&mut *file)
            .await
            .map_err(|error| self.cannot(&error))
    }

    /// Sets the owner's passphrase. Browsers the old one opened are let out.
    ///
    /// # Errors
    /// `SRV-021` when it is too short or too long, `SRV-020`.
    pub async fn set_passphrase(&self, passphrase: &str) -> Result<(), Trouble> {
        if passphrase.chars().count() < PASSPHRASE_LEAST || passphrase.len() > PASSPHRASE_MOST {
            return Err(Trouble::new(
                "SRV-021",
                format!(
                    "the passphrase has fewer than {PASSPHRASE_LEAST} letters or more than {PASSPHRASE_MOST} bytes"
                ),
                "take four or five words that do not belong together",
            ));
        }
        let kept = Argon2::default()
            .hash_password(passphrase.as_bytes())
            .map_err(|error| cannot_keep(&self.name, &error.to_string()))?
            .to_string();
        let mut file = self.file.lock().await;
        let mut whole = file.begin().await.map_err(|error| self.cannot(&error))?;
        sqlx::query("INSERT OR REPLACE INTO owner (one, passphrase, set_at) VALUES (1, ?, ?)")
            .bind(kept)
            .bind(Timestamp::now().as_second())
            .execute(&mut *whole)
            .await
            .map_err(|error| self.cannot(&error))?;
        sqlx::query("DELETE FROM devices WHERE sort = 'login'")
            .execute(&mut *whole)
            .await
            .map_err(|error| self.cannot(&error))?;
        whole.commit().await.map_err(|error| self.cannot(&error))
    }

    /// Lets a browser in by the owner's passphrase; nothing when it is another.
    ///
    /// # Errors
    /// `SRV-020`.
    pub(crate) async fn log_in(&self, passphrase: String) -> Result<Option<Admitted>, Trouble> {
        let Some(kept) = self.passphrase().await? else { return Ok(None) };
        // Costs 19 MiB and some tens of milliseconds: not on a thread that answers others.
        let is_it = tokio::task::spawn_blocking(move || {
            let Ok(kept) = PasswordHash::new(&kept) else { return false };
            passphrase.len() <= PASSPHRASE_MOST
                && Argon2::default().verify_password(passphrase.as_bytes(), &kept).is_ok()
        });
        if !is_it.await.unwrap_or(false) {
            return Ok(None);
        }
        let until = from_now(LOGIN_HOLDS);
        self.admit("login", "owner", Role::Owner, Some(until), None).await.map(Some)
    }

    /// Makes a code by which one device is let in once.
    ///
    /// # Errors
    /// `SRV-020`, `SRV-022` when there are too many.
    pub async fn invite(&self, role: Role) -> Result<Invitation, Trouble> {
        let code = secret::code().map_err(|error| cannot_keep(&self.name, &error.to_string()))?;
        let until = from_now(CODE_HOLDS);
        let mut file = self.file.lock().await;
        sqlx::query("DELETE FROM codes WHERE until < ?")
            .bind(Timestamp::now().as_second())
            .execute(&mut *file)
            .await
            .map_err(|error| self.cannot(&error))?;
        let written =
            sqlx::query("INSERT INTO codes (code, role, until) SELECT ?, ?, ? WHERE (SELECT count(*) FROM codes) < ?")
                .bind(&secret::hashed(&secret::as_meant(&code))[..])
                .bind(role.code())
                .bind(until.as_second())
                .bind(MOST_OF_EACH)
                .execute(&mut *file)
                .await
                .map_err(|error| self.cannot(&error))?;
        if written.rows_affected() == 0 { Err(too_many()) } else { Ok(Invitation { code, until }) }
    }

    /// Makes a link that lets readers in until a day and then ends by itself.
    ///
    /// # Errors
    /// `SRV-020`, `SRV-022` when there are too many.
    pub async fn invite_reader(&self, name: &str, days: i64) -> Result<Invitation, Trouble> {
        let days = days.clamp(1, READER_DAYS.1);
        let until = from_now(SignedDuration::from_hours(24 * days));
        let made = self.admit("link", name, Role::Reader, Some(until), None).await?;
        Ok(Invitation { code: made.token, until })
    }

    /// Lets a device in by a code, which holds no longer, or by a reader's link.
    ///
    /// # Errors
    /// `SRV-020`.
    pub(crate) async fn pair(&self, typed: &str, name: &str) -> Result<Option<Admitted>, Trouble> {
        let hashed = secret::hashed(&secret::as_meant(typed));
        let now = Timestamp::now().as_second();
        let by_code: Option<String> = {
            let mut file = self.file.lock().await;
            sqlx::query_scalar("DELETE FROM codes WHERE code = ? AND until > ? RETURNING role")
                .bind(&hashed[..])
                .bind(now)
                .fetch_optional(&mut *file)
                .await
                .map_err(|error| self.cannot(&error))?
        };
        if let Some(role) = by_code.as_deref().and_then(Role::of_code) {
            return self.admit("phone", name, role, None, None).await.map(Some);
        }
        let link = {
            let mut file = self.file.lock().await;
            sqlx::query("SELECT device, until FROM devices WHERE token = ? AND sort = 'link' AND until > ?")
                .bind(&hashed[..])
                .bind(now)
                .fetch_optional(&mut *file)
                .await
                .map_err(|error| self.cannot(&error))?
        };
        let Some(link) = link else { return Ok(None) };
        let (came_by, until): (String, Option<i64>) = (link.get(0), link.get(1));
        self.admit("phone", name, Role::Reader, until.and_then(at), Some(&came_by)).await.map(Some)
    }

    async fn admit(
        &self,
        sort: &str,
        name: &str,
        role: Role,
        until: Option<Timestamp>,
        came_by: Option<&str>,
    ) -> Result<Admitted, Trouble> {
        let no_chance = |error: getrandom::Error| cannot_keep(&self.name, &error.to_string());
        let token = secret::token().map_err(no_chance)?;
        let device = format!("{sort}-{}", secret::name().map_err(no_chance)?);
        let now = Timestamp::now().as_second();
        let mut file = self.file.lock().await;
        sqlx::query("DELETE FROM devices WHERE until < ?")
            .bind(now)
            .execute(&mut *file)
            .await
            .map_err(|error| self.cannot(&error))?;
        let written = sqlx::query(
            "INSERT INTO devices (device, sort, name, role, token, made_at, until, came_by) \
             SELECT ?, ?, ?, ?, ?, ?, ?, ? WHERE (SELECT count(*) FROM devices) < ?",
        )
        .bind(&device)
        .bind(sort)
        .bind(name)
        .bind(role.code())
        .bind(&secret::hashed(&token)[..])
        .bind(now)
        .bind(until.map(Timestamp::as_second))
        .bind(came_by)
        .bind(MOST_OF_EACH)
        .execute(&mut *file)
        .await
        .map_err(|error| self.cannot(&error))?;
        if written.rows_affected() == 0 {
            return Err(too_many());
        }
        Ok(Admitted { known: Known { device, name: name.to_owned(), role, until }, token })
    }

    /// Who shows a token; nobody when it is unknown, let out or past its day. A link is no device.
    ///
    /// # Errors
    /// `SRV-020`.
    pub(crate) async fn who(&self, token: &str) -> Result<Option<Known>, Trouble> {
        let hashed = secret::hashed(token);
        let now = Timestamp::now();
        let mut file = self.file.lock().await;
        let row = sqlx::query(
            "SELECT device, name, role, until, last_seen FROM devices \
             WHERE token = ? AND sort <> 'link' AND (until IS NULL OR until > ?)",
        )
        .bind(&hashed[..])
        .bind(now.as_second())
        .fetch_optional(&mut *file)
        .await
        .map_err(|error| self.cannot(&error))?;
        let Some(row) = row else { return Ok(None) };
        let Some(role) = Role::of_code(row.get(2)) else { return Ok(None) };
        let (device, seen): (String, Option<i64>) = (row.get(0), row.get(4));
        if seen.and_then(at).is_none_or(|seen| now.duration_since(seen) > SEEN_AGAIN) {
            sqlx::query("UPDATE devices SET last_seen = ? WHERE device = ?")
                .bind(now.as_second())
                .bind(&device)
                .execute(&mut *file)
                .await
                .map_err(|error| self.cannot(&error))?;
        }
        Ok(Some(Known { device, name: row.get(1), role, until: row.get::<Option<i64>, _>(3).and_then(at) }))
    }

    /// All that are let in, the newest first.
    ///
    /// # Errors
    /// `SRV-020`.
    pub async fn devices(&self) -> Result<Vec<DeviceView>, Trouble> {
        let mut file = self.file.lock().await;
        let rows = sqlx::query(
            "SELECT device, sort, name, role, made_at, until, last_seen FROM devices \
             WHERE until IS NULL OR until > ? ORDER BY made_at DESC, device",
        )
        .bind(Timestamp::now().as_second())
        .fetch_all(&mut *file)
        .await
        .map_err(|error| self.cannot(&error))?;
        let view = |row: &SqliteRow| DeviceView {
            device: row.get(0),
            sort: row.get(1),
            name: row.get(2),
            role: row.get(3),
            since: said(row.get::<i64, _>(4)),
            until: row.get::<Option<i64>, _>(5).map(said),
            last_seen: row.get::<Option<i64>, _>(6).map(said),
        };
        Ok(rows.iter().map(view).collect())
    }

    /// Lets a device out for good, and with a reader's link whoever came by it. False when there is no such device.
    ///
    /// # Errors
    /// `SRV-020`.
    pub async fn let_out(&self, device: &str) -> Result<bool, Trouble> {
        let mut file = self.file.lock().await;
        let gone = sqlx::query("DELETE FROM devices WHERE device = ?")
            .bind(device)
            .execute(&mut *file)
            .await
            .map_err(|error| self.cannot(&error))?;
        Ok(gone.rows_affected() > 0)
    }

    /// Makes a secret address for a feed.
    ///
    /// # Errors
    /// `SRV-020`, `SRV-022` when there are too many.
    pub(crate) async fn link_feed(&self, feed: &str, name: &str) -> Result<(String, String), Trouble> {
        let no_chance = |error: getrandom::Error| cannot_keep(&self.name, &error.to_string());
        let token = secret::token().map_err(no_chance)?;
        let feed_link = format!("feed-{}", secret::name().map_err(no_chance)?);
        let mut file = self.file.lock().await;
        let written = sqlx::query(
            "INSERT INTO feeds (feed_link, token, feed, name, made_at) \
             SELECT ?, ?, ?, ?, ? WHERE (SELECT count(*) FROM feeds) < ?",
        )
        .bind(&feed_link)
        .bind(&secret::hashed(&token)[..])
        .bind(feed)
        .bind(name)
        .bind(Timestamp::now().as_second())
        .bind(MOST_OF_EACH)
        .execute(&mut *file)
        .await
        .map_err(|error| self.cannot(&error))?;
        if written.rows_affected() == 0 { Err(too_many()) } else { Ok((feed_link, token)) }
    }

    /// Whether a secret address opens a feed.
    ///
    /// # Errors
    /// `SRV-020`.
    pub(crate) async fn opens_feed(&self, token: &str, feed: &str) -> Result<bool, Trouble> {
        let hashed = secret::hashed(token);
        let now = Timestamp::now();
        let mut file = self.file.lock().await;
        let row = sqlx::query("SELECT last_read FROM feeds WHERE token = ? AND feed = ?")
            .bind(&hashed[..])
            .bind(feed)
            .fetch_optional(&mut *file)
            .await
            .map_err(|error| self.cannot(&error))?;
        let Some(row) = row else { return Ok(false) };
        if row.get::<Option<i64>, _>(0).and_then(at).is_none_or(|read| now.duration_since(read) > SEEN_AGAIN) {
            sqlx::query("UPDATE feeds SET last_read = ? WHERE token = ?")
                .bind(now.as_second())
                .bind(&hashed[..])
                .execute(&mut *file)
                .await
                .map_err(|error| self.cannot(&error))?;
        }
        Ok(true)
    }

    /// All secret addresses of feeds, the newest first.
    ///
    /// # Errors
    /// `SRV-020`.
    pub(crate) async fn feed_links(&self) -> Result<Vec<FeedLinkView>, Trouble> {
        let mut file = self.file.lock().await;
        let rows =
            sqlx::query("SELECT feed_link, feed, name, made_at, last_read FROM feeds ORDER BY made_at DESC, feed_link")
                .fetch_all(&mut *file)
                .await
                .map_err(|error| self.cannot(&error))?;
        let view = |row: &SqliteRow| FeedLinkView {
            feed_link: row.get(0),
            feed: row.get(1),
            name: row.get(2),
            since: said(row.get::<i64, _>(3)),
            last_read: row.get::<Option<i64>, _>(4).map(said),
        };
        Ok(rows.iter().map(view).collect())
    }

    /// Takes a secret address back. False when there is none of that name.
    ///
    /// # Errors
    /// `SRV-020`.
    pub(crate) async fn unlink_feed(&self, feed_link: &str) -> Result<bool, Trouble> {
        let mut file = self.file.lock().await;
        let gone = sqlx::query("DELETE FROM feeds WHERE feed_link = ?")
            .bind(feed_link)
            .execute(&mut *file)
            .await
            .map_err(|error| self.cannot(&error))?;
        Ok(gone.rows_affected() > 0)
    }
}

/// A moment from now, in whole seconds as it is kept.
fn from_now(wait: SignedDuration) -> Timestamp {
    let until = Timestamp::now() + wait;
    at(until.as_second()).unwrap_or(until)
}

fn at(second: i64) -> Option<Timestamp> {
    Timestamp::from_second(second).ok()
}

fn said(second: i64) -> String {
    at(second).map_or_else(String::new, |at| at.to_string())
}

fn cannot_keep(file: &str, why: &str) -> Trouble {
    Trouble::new(
        "SRV-020",
        format!("{file}, where those who are let in stand, cannot be used: {why}"),
        "see that you may write it and that the disk has room; moved away, it is begun anew and every device pairs again",
    )
}

fn too_many() -> Trouble {
    Trouble::new(
        "SRV-022",
        format!("there are {MOST_OF_EACH} already"),
        "let devices out that are no longer used, or wait for codes to end",
    )
}
