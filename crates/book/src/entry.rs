//! One entry of the book. It is made on a device, never changes, and can be handed on any number of times.

use core::fmt;
use core::str::FromStr;

use jiff::Timestamp;
use jiff::civil::Date;
use outyard_base::{DeviceId, Trouble};
use sha2::{Digest, Sha256};
use uuid::{Builder, Uuid, Variant};

use crate::fact::Fact;

/// Name of an entry, made on the device that wrote it: a UUID of version 7 (RFC 9562, section 5.7), so a retry
/// carries the same name and is harmless.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct EntryId(Uuid);

impl EntryId {
    /// Builds a name from the moment of writing and ten bytes of chance (or of a digest, where the same import must
    /// give the same names again). A moment before 1970 counts as 1970.
    pub fn new(written_at: Timestamp, chance: [u8; 10]) -> Self {
        let millis = u64::try_from(written_at.as_millisecond()).unwrap_or(0);
        Self(Builder::from_unix_timestamp_millis(millis, &chance).into_uuid())
    }

    /// The sixteen bytes of the name, most significant first; their order is the order of the names.
    pub fn as_bytes(&self) -> &[u8; 16] {
        self.0.as_bytes()
    }

    /// Takes sixteen bytes as a name.
    ///
    /// # Errors
    /// `BOK-001` when they are no UUID of version 7.
    pub fn from_bytes(bytes: [u8; 16]) -> Result<Self, Trouble> {
        Self::checked(Uuid::from_bytes(bytes))
    }

    fn checked(uuid: Uuid) -> Result<Self, Trouble> {
        if uuid.get_version_num() == 7 && uuid.get_variant() == Variant::RFC4122 {
            Ok(Self(uuid))
        } else {
            Err(bad_entry_id(&uuid.to_string()))
        }
    }
}

fn bad_entry_id(text: &str) -> Trouble {
    Trouble::new(
        "BOK-001",
        format!("\"{}\" cannot name an entry", text.chars().take(40).collect::<String>()),
        "an entry is named by a version 7 UUID, such as 0197cc1e-6c00-7000-8000-000000000001",
    )
}

impl fmt::Display for EntryId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.0.hyphenated().encode_lower(&mut Uuid::encode_buffer()))
    }
}

impl FromStr for EntryId {
    type Err = Trouble;
    fn from_str(text: &str) -> Result<Self, Trouble> {
        Uuid::try_parse(text).map_err(|_| bad_entry_id(text)).and_then(Self::checked)
    }
}

/// Name of a file kept beside the book (a raw import, a photo): the SHA-256 of its bytes (FIPS 180-4).
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct ContentHash([u8; 32]);

impl ContentHash {
    /// Works out the name of these bytes.
    pub fn of(bytes: &[u8]) -> Self {
        Self(Sha256::digest(bytes).into())
    }

    /// The 32 bytes of the digest.
    pub const fn as_bytes(&self) -> &[u8; 32] {
        &self.0
    }

    /// Takes a digest worked out elsewhere.
    pub const fn from_bytes(digest: [u8; 32]) -> Self {
        Self(digest)
    }
}

impl fmt::Display for ContentHash {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.iter().try_for_each(|byte| write!(f, "{byte:02x}"))
    }
}

impl FromStr for ContentHash {
    type Err = Trouble;
    fn from_str(text: &str) -> Result<Self, Trouble> {
        let bad = || {
            Trouble::new(
                "BOK-002",
                format!("\"{}\" is no SHA-256 digest", text.chars().take(70).collect::<String>()),
                "a kept file is named by 64 hexadecimal digits",
            )
        };
        if text.len() != 64 || !text.bytes().all(|byte| byte.is_ascii_hexdigit()) {
            return Err(bad());
        }
        let mut digest = [0; 32];
        for (index, byte) in digest.iter_mut().enumerate() {
            *byte = u8::from_str_radix(&text[2 * index..2 * index + 2], 16).map_err(|_| bad())?;
        }
        Ok(Self(digest))
    }
}

/// What an entry carried that this version of the program does not know: kept, and written out again untouched.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Unread {
    /// Format number of the program that wrote the entry.
    pub format: u32,
    /// Fields not known here: where they stand (a JSON pointer, RFC 6901) and their JSON text.
    pub fields: Vec<(String, String)>,
}

/// One entry of the book.
#[derive(Clone, Debug, PartialEq)]
pub struct Entry {
    /// Its name, made on the device.
    pub id: EntryId,
    /// The phone or computer it was written on.
    pub device: DeviceId,
    /// Who wrote it, as they call themselves.
    pub author: String,
    /// The day on which the thing told happened, at the yard. A correction and a settlement carry the day of the
    /// thing they correct or settle.
    pub happened_on: Date,
    /// When it was written, by the device's own clock (which may be wrong).
    pub recorded_at: Timestamp,
    /// What is told.
    pub fact: Fact,
    /// What a newer program put in and this one does not know. `None` for entries made here.
    pub unread: Option<Box<Unread>>,
}

impl Entry {
    /// An entry as this program writes it.
    pub fn new(
        id: EntryId,
        device: DeviceId,
        author: impl Into<String>,
        happened_on: Date,
        recorded_at: Timestamp,
        fact: Fact,
    ) -> Self {
        Self { id, device, author: author.into(), happened_on, recorded_at, fact, unread: None }
    }

    /// Place in the order by which the later of two corrections counts: by clock, then device, then name.
    pub fn precedence(&self) -> (Timestamp, &DeviceId, EntryId) {
        (self.recorded_at, &self.device, self.id)
    }
}
