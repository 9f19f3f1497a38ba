//! Extracts of OpenStreetMap: what is in them is told to a [`Sink`], element by element, so that an extract never lies
//! in memory whole.
//!
//! Two forms are read: OSM XML ([osm-wiki] `OSM XML`), plain or packed with gzip, and PBF ([osm-wiki] `PBF Format`). Which
//! it is tells the content, not the name of the file.
//!
//! | symbol | name in code | meaning | unit | value | source |
//! |---|---|---|---|---|---|
//! | - | `PLAIN_BYTES_MOST` | most bytes read of one extract, unpacked | B | 64 GiB | assumed |
//! | - | `TAGS_MOST` | most tags of one element | - | 20,000 | assumed |
//! | - | `NODES_OF_WAY_MOST` | most points of one way; the database takes 2,000 | - | 100,000 | 2,000 [osm-wiki] `Way`; ours assumed |

mod pbf;
mod xml;

use std::fs::File;
use std::io::{self, BufRead, BufReader, Cursor, Read};
use std::path::{Path, PathBuf};

use flate2::bufread::MultiGzDecoder;
use outyard_base::Trouble;
use outyard_base::trouble::Spot;
use sha2::{Digest, Sha256};

use crate::rules::Tags;

/// Most bytes read of one extract, unpacked: 64 GiB (assumed).
const PLAIN_BYTES_MOST: u64 = 64 << 30;
/// Most tags of one element: 20,000 (assumed).
const TAGS_MOST: usize = 20_000;
/// Most points of one way: 100,000 (assumed).
const NODES_OF_WAY_MOST: usize = 100_000;

/// An extract to read: a file, or bytes already here.
#[derive(Clone, Debug)]
pub enum Extract {
    /// A file.
    File(PathBuf),
    /// Its name and its content.
    Bytes(String, Vec<u8>),
}

/// A point of the map in ten millionths of a degree, as the map's own database keeps it.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) struct Point {
    pub(crate) lat: i32,
    pub(crate) lon: i32,
}

impl Point {
    /// From degrees; `None` off the earth.
    pub(crate) fn of(latitude: f64, longitude: f64) -> Option<Self> {
        if !(-90.0..=90.0).contains(&latitude) || !(-180.0..=180.0).contains(&longitude) {
            return None;
        }
        #[expect(clippy::cast_possible_truncation, reason = "180 million tens fit")]
        Some(Self { lat: (latitude * 1e7).round() as i32, lon: (longitude * 1e7).round() as i32 })
    }

    pub(crate) fn latitude(self) -> f64 {
        f64::from(self.lat) * 1e-7
    }

    pub(crate) fn longitude(self) -> f64 {
        f64::from(self.lon) * 1e-7
    }
}

/// What is a member of a relation.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Kind {
    Node,
    Way,
    Relation,
}

/// A member of a relation.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Member<'a> {
    pub(crate) kind: Kind,
    pub(crate) id: i64,
    pub(crate) role: &'a str,
}

/// Takes what an extract tells.
pub(crate) trait Sink {
    /// True when elements of that kind should be told; skipping them saves time.
    fn wants(&self, kind: Kind) -> bool;
    /// A point, by its id; `None` for a place off the earth.
    fn node(&mut self, id: i64, at: Option<Point>, tags: Tags<'_>) -> Result<(), Fault>;
    /// A way through points.
    fn way(&mut self, id: i64, nodes: &[i64], tags: Tags<'_>) -> Result<(), Fault>;
    /// A relation.
    fn relation(&mut self, members: &[Member<'_>], tags: Tags<'_>) -> Result<(), Fault>;
}

/// Why an extract cannot be read.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) enum Fault {
    /// The system could not read it.
    Io(String),
    /// It is no extract.
    Foreign(String),
    /// It is damaged.
    Damaged(String),
    /// It holds more than is taken.
    TooLarge(String),
    /// It asks for something this program does not know.
    Unknown(String),
}

impl Fault {
    fn of_io(error: &io::Error, what: &str) -> Self {
        match error.kind() {
            io::ErrorKind::UnexpectedEof => Self::Damaged(format!("{what} ends too early")),
            io::ErrorKind::InvalidData | io::ErrorKind::InvalidInput => Self::Damaged(format!("{what}: {error}")),
            io::ErrorKind::FileTooLarge => Self::TooLarge(error.to_string()),
            _ => Self::Io(error.to_string()),
        }
    }

    /// What the user is told.
    pub(crate) fn trouble(self, file: &str) -> Trouble {
        let trouble = match self {
            Self::Io(why) => Trouble::new(
                "ROD-010",
                format!("the extract cannot be read: {why}"),
                "see that the file is there, that it is a file and that you may read it",
            ),
            Self::Foreign(why) => Trouble::new(
                "ROD-011",
                format!("this is no extract of OpenStreetMap: {why}"),
                "name a file in OSM XML (.osm, .osm.gz) or PBF (.osm.pbf)",
            ),
            Self::Damaged(why) => Trouble::new(
                "ROD-012",
                format!("the extract is damaged: {why}"),
                "fetch or make the extract again; nothing of it was used",
            ),
            Self::TooLarge(why) => Trouble::new(
                "ROD-013",
                format!("the extract holds more than is taken: {why}"),
                "cut a smaller extract around home and the yards; nothing of it was used",
            ),
            Self::Unknown(why) => Trouble::new(
                "ROD-014",
                format!("the extract asks for something not known here: {why}"),
                "write it anew as plain OSM XML or as PBF with zlib blobs; nothing of it was used",
            ),
        };
        trouble.at(Spot::file(file))
    }
}

/// The form of an extract.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Form {
    Xml,
    PackedXml,
    Pbf,
}

impl Extract {
    /// An extract in a file.
    pub fn file(path: &Path) -> Self {
        Self::File(path.to_owned())
    }

    /// Its name.
    pub fn name(&self) -> String {
        match self {
            Self::File(path) => path.display().to_string(),
            Self::Bytes(name, _) => name.clone(),
        }
    }

    fn open(&self) -> Result<Box<dyn BufRead + '_>, Fault> {
        match self {
            Self::File(path) => {
                let io = |error: io::Error| Fault::Io(error.to_string());
                let file = File::open(path).map_err(io)?;
                if file.metadata().map_err(io)?.is_dir() {
                    return Err(Fault::Io("it is a folder".to_owned()));
                }
                Ok(Box::new(BufReader::with_capacity(1 << 18, file)))
            }
            Self::Bytes(_, bytes) => Ok(Box::new(Cursor::new(bytes.as_slice()))),
        }
    }

    /// SHA-256 of the content.
    pub(crate) fn fingerprint(&self) -> Result<[u8; 32], Fault> {
        let mut reader = self.open()?;
        let mut hash = Sha256::new();
        loop {
            let part = reader.fill_buf().map_err(|error| Fault::of_io(&error, "the file"))?;
            if part.is_empty() {
                return Ok(hash.finalize().into());
            }
            hash.update(part);
            let read = part.len();
            reader.consume(read);
        }
    }

    /// Tells everything to the sink.
    pub(crate) fn tell(&self, sink: &mut dyn Sink) -> Result<(), Fault> {
        let mut reader = self.open()?;
        let form = form_of(reader.fill_buf().map_err(|error| Fault::of_io(&error, "the file"))?)?;
        match form {
            Form::Pbf => pbf::read(&mut *reader, sink),
            Form::Xml => xml::read(reader.take(PLAIN_BYTES_MOST), sink),
            Form::PackedXml => {
                xml::read(BufReader::with_capacity(1 << 16, MultiGzDecoder::new(reader).take(PLAIN_BYTES_MOST)), sink)
            }
        }
    }
}

fn form_of(head: &[u8]) -> Result<Form, Fault> {
    let text = head.strip_prefix(b"\xef\xbb\xbf").unwrap_or(head).trim_ascii_start();
    if head.starts_with(&[0x1f, 0x8b]) {
        return Ok(Form::PackedXml);
    }
    if text.first() == Some(&b'<') {
        return Ok(Form::Xml);
    }
    // Four bytes of length, then a field of text (tag 1) that says OSMHeader.
    if head.len() > 16
        && head[..2] == [0, 0]
        && head[4] == 0x0a
        && head.windows(9).take(64).any(|part| part == b"OSMHeader")
    {
        return Ok(Form::Pbf);
    }
    Err(Fault::Foreign(if head.is_empty() { "it is empty" } else { "it begins as neither XML nor PBF" }.to_owned()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_form_is_told_by_the_content() {
        assert_eq!(form_of(b"\xef\xbb\xbf  <?xml ?>"), Ok(Form::Xml));
        assert_eq!(form_of(&[0x1f, 0x8b, 8, 0]), Ok(Form::PackedXml));
        assert_eq!(form_of(b"\0\0\0\x0e\x0a\x09OSMHeader\x18\x7c\x10"), Ok(Form::Pbf));
        for wrong in [&b""[..], b"SQLite format 3\0............", b"PK\x03\x04", b"\0\0\0\x0e\x0a\x09OSMSomething"] {
            assert!(matches!(form_of(wrong), Err(Fault::Foreign(_))), "{wrong:?}");
        }
    }

    #[test]
    fn a_place_off_the_earth_is_none() {
        assert_eq!(Point::of(90.1, 0.0), None);
        assert_eq!(Point::of(f64::NAN, 0.0), None);
        assert_eq!(Point::of(-90.0, 180.0), Some(Point { lat: -900_000_000, lon: 1_800_000_000 }));
    }
}
