//! Entries as JSON lines (RFC 8259, one entry a line), with a format number, for files, for the store and between
//! devices.
//!
//! ```text
//! {"format":1,"id":"0197…","device":"phone-a","author":"Ana","happened_on":"2026-07-03",
//!  "recorded_at":"2026-07-03T17:00:00Z","fact":"visit-closed","with":{"yard":"7","boxes_on":{"third":31},…}}
//! ```
//! (one line in truth). Rules of the format, so that old and new programs can live side by side:
//!
//! - A field left out, `null`, and an empty text, list, map, `false` or nought under a name of this format are the same.
//! - A fact or a field this program does not know is kept and written out again with the same meaning. Of numbers in
//!   such parts, those are kept exactly that fit a 64-bit integer or a double (I-JSON, RFC 7493, section 2.2).
//! - A fact of a known name that a program of a *newer* format wrote and that cannot be read here is kept the same way.
//!   From a program of this format or an older one it is refused, with line and column.
//! - A program that hands on an entry hands on the format number it came with.
//!
//! `docs/design/0004-book.md` holds the table of old and new readers and writers, and says when the number must go up.

#[expect(
    clippy::ref_option,
    clippy::trivially_copy_pass_by_ref,
    reason = "serde hands a field's own functions a reference to the field"
)]
mod format;
mod kept;

use std::borrow::Cow;
use std::io::Write;

use jiff::Timestamp;
use jiff::civil::Date;
use outyard_base::trouble::Spot;
use outyard_base::{DeviceId, Trouble};
use serde::Deserialize;
use serde_json::Value;
use serde_json::error::Category;
use serde_json::value::RawValue;

use crate::entry::{Entry, EntryId, Unread};
use crate::fact::Fact;
use format::Unreadable;
pub use kept::{KEPT_FORMAT, read_kept, write_kept};

/// Newest format number this program reads and writes. Each line carries the number its fact came with, so that what an
/// older program can read it reads, and an entry has one line whoever writes it.
pub const FORMAT: u32 = 2;

/// Longest line read, in bytes (assumed): the longest tally is some thousand.
pub const LINE_BYTES_MOST: usize = 1024 * 1024;

#[derive(Deserialize)]
#[serde(expecting = "an entry: one JSON object")]
struct LineRead<'a> {
    format: u32,
    #[serde(borrow)]
    id: Cow<'a, str>,
    #[serde(borrow)]
    device: Cow<'a, str>,
    #[serde(default)]
    author: String,
    #[serde(with = "format::date")]
    happened_on: Date,
    #[serde(borrow)]
    recorded_at: Cow<'a, str>,
    #[serde(borrow)]
    fact: Cow<'a, str>,
    #[serde(borrow, default)]
    with: Option<&'a RawValue>,
}

const IN_MEMORY: &str = "memory takes all that is written";

/// One entry as a line of JSON, without the line's end. Equal entries give equal lines.
pub fn write_line(entry: &Entry) -> String {
    const JSON: &str = "names, texts and finite numbers are JSON";
    let format = entry.unread.as_ref().map_or_else(|| format::format_of(&entry.fact), |unread| unread.format);
    let with = format::write_fact(&entry.fact);
    let mut line = Vec::with_capacity(with.get().len() + 256);
    // By hand: the names are the same in every line, and nothing here but the texts needs escaping.
    let quoted = |line: &mut Vec<u8>, text: &str| serde_json::to_writer(line, text).expect(JSON);
    write!(line, "{{\"format\":{format},\"id\":\"{}\",\"device\":", entry.id).expect(IN_MEMORY);
    quoted(&mut line, entry.device.as_str());
    line.extend_from_slice(b",\"author\":");
    quoted(&mut line, &entry.author);
    write!(line, ",\"happened_on\":\"{}\",\"recorded_at\":\"{}\",\"fact\":", entry.happened_on, entry.recorded_at)
        .expect(IN_MEMORY);
    quoted(&mut line, entry.fact.name());
    line.extend_from_slice(b",\"with\":");
    line.extend_from_slice(with.get().as_bytes());
    line.push(b'}');
    let text = String::from_utf8(line).expect("JSON is UTF-8");
    let fields = entry.unread.iter().flat_map(|unread| &unread.fields);
    let mut fields = fields.peekable();
    if fields.peek().is_none() {
        return text;
    }
    let mut value: Value = serde_json::from_str(&text).expect(JSON);
    for (pointer, field) in fields {
        put_back(&mut value, pointer, serde_json::from_str(field).unwrap_or(Value::Null));
    }
    value.to_string()
}

/// One entry as a line that is known to read back as the same entry: what a store keeps.
///
/// # Errors
/// The reader's trouble, for an entry no program could read again (a count past all sense, a correction within a
/// correction); `BOK-107` for one that would come back changed.
pub fn line_to_keep(entry: &Entry) -> Result<String, Trouble> {
    let line = write_line(entry);
    if read_line(line.as_bytes())? == *entry {
        return Ok(line);
    }
    Err(Trouble::new(
        "BOK-107",
        format!("entry {} would not come back as it is", entry.id),
        "keep a copy of what was entered and report it: this is a fault of the program",
    ))
}

/// All entries as lines, each with its line's end.
pub fn write_lines<'a>(entries: impl IntoIterator<Item = &'a Entry>) -> String {
    let mut text = String::new();
    for entry in entries {
        text.push_str(&write_line(entry));
        text.push('\n');
    }
    text
}

/// Reads one line.
///
/// # Errors
/// `BOK-101` to `BOK-105` with the column, counted in characters from 1.
pub fn read_line(line: &[u8]) -> Result<Entry, Trouble> {
    if line.len() > LINE_BYTES_MOST {
        return Err(Trouble::new(
            "BOK-101",
            format!("the line has {} bytes; an entry has at most {LINE_BYTES_MOST}", line.len()),
            "see that the file holds one entry a line and nothing else",
        )
        .at(Spot::default().column("1")));
    }
    let text = str::from_utf8(line).map_err(|error| {
        let good = String::from_utf8_lossy(&line[..error.valid_up_to()]).chars().count();
        Trouble::new("BOK-102", "the line is not UTF-8 text", "export the entries again, as UTF-8")
            .at(Spot::default().column((good + 1).to_string()))
    })?;
    let read: LineRead<'_> = serde_json::from_str(text).map_err(|error| broken(&error, text, text))?;
    let content = read.with.map_or("null", RawValue::get);
    let fact = match format::read_fact(&read.fact, content) {
        Some(Ok(fact)) => fact,
        Some(Err(unreadable)) if read.format <= FORMAT => return Err(refused(&unreadable, text)),
        Some(Err(_)) | None => {
            // It must still be JSON that can be written out again.
            let kept: Value = serde_json::from_str(content).map_err(|error| broken(&error, content, text))?;
            let raw = kept.to_string();
            // A field that stood there twice stands there once now, and then the fact may be one that is known.
            match format::read_fact(&read.fact, &raw) {
                Some(Ok(fact)) => fact,
                _ => Fact::Unknown { name: read.fact.into_owned(), raw },
            }
        }
    };
    let bad = |field: &str, cause: &str| no_entry(&format!("{field}: {cause}"), 1);
    let id: EntryId = read.id.parse().map_err(|trouble: Trouble| bad("id", &trouble.cause))?;
    let device = DeviceId::new(&read.device).map_err(|error| bad("device", &error.to_string()))?;
    let recorded_at: Timestamp = read.recorded_at.parse().map_err(|_| {
        bad("recorded_at", "write the moment as year-month-day, T, time and zone, such as 2026-07-03T17:00:00Z")
    })?;
    let mut entry =
        Entry { id, device, author: read.author, happened_on: read.happened_on, recorded_at, fact, unread: None };
    entry.unread = left_over(text, &entry, read.format)?;
    Ok(entry)
}

/// What the line holds beyond the entry as it was read.
fn left_over(text: &str, entry: &Entry, format: u32) -> Result<Option<Box<Unread>>, Trouble> {
    let ours = write_line(entry);
    if ours == text {
        return Ok(None);
    }
    let theirs: Value = serde_json::from_str(text).map_err(|error| broken(&error, text, text))?;
    let ours: Value = serde_json::from_str(&ours).expect("a line just written is JSON");
    let mut fields = Vec::new();
    collect_fields(&theirs, &ours, &mut String::new(), &mut fields);
    let numbered_higher = format > format::format_of(&entry.fact);
    Ok((!fields.is_empty() || numbered_higher).then(|| Box::new(Unread { format, fields })))
}

fn collect_fields(theirs: &Value, ours: &Value, path: &mut String, fields: &mut Vec<(String, String)>) {
    let stem = path.len();
    match (theirs, ours) {
        (Value::Object(theirs), Value::Object(ours)) => {
            for (name, value) in theirs {
                path.push('/');
                path.push_str(&name.replace('~', "~0").replace('/', "~1"));
                match ours.get(name) {
                    Some(ours) => collect_fields(value, ours, path, fields),
                    None if says_nothing(name, value) => {}
                    None => fields.push((path.clone(), value.to_string())),
                }
                path.truncate(stem);
            }
        }
        (Value::Array(theirs), Value::Array(ours)) => {
            for (index, (theirs, ours)) in theirs.iter().zip(ours).enumerate() {
                path.push('/');
                path.push_str(&index.to_string());
                collect_fields(theirs, ours, path, fields);
                path.truncate(stem);
            }
        }
        // The same value, perhaps spelt otherwise (a moment in another zone): as read.
        _ => {}
    }
}

/// True for an empty value under a name of this format.
fn says_nothing(name: &str, value: &Value) -> bool {
    let known = format::LEFT_OUT_WHEN_EMPTY.binary_search(&name).is_ok() || name.parse::<outyard_trade::Kind>().is_ok();
    known
        && match value {
            Value::Null | Value::Bool(false) => true,
            Value::Bool(true) => false,
            Value::Number(number) => number.as_u64() == Some(0),
            Value::String(text) => text.is_empty(),
            Value::Array(list) => list.is_empty(),
            Value::Object(map) => map.iter().all(|(name, value)| says_nothing(name, value)),
        }
}

fn put_back(value: &mut Value, pointer: &str, field: Value) {
    let Some((parent, name)) = pointer.rsplit_once('/') else { return };
    if let Some(Value::Object(map)) = value.pointer_mut(parent) {
        map.entry(name.replace("~1", "/").replace("~0", "~")).or_insert(field);
    }
}

/// Reads a file of lines one by one. Blank lines are passed over, and a byte-order mark at the start of the file.
pub fn lines<'a>(file: &'a str, bytes: &'a [u8]) -> impl Iterator<Item = Result<Entry, Trouble>> + 'a {
    let bytes = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
    let whole = bytes.is_empty() || bytes.ends_with(b"\n");
    let count = bytes.split(|byte| *byte == b'\n').count();
    bytes.split(|byte| *byte == b'\n').enumerate().filter(|(_, line)| !line.trim_ascii().is_empty()).map(
        move |(index, line)| {
            read_line(line.strip_suffix(b"\r").unwrap_or(line)).map_err(|trouble| {
                let cut_off = !whole && index + 1 == count && matches!(trouble.code, "BOK-102" | "BOK-103");
                let trouble = if cut_off {
                    Trouble {
                        code: "BOK-106",
                        cause: "the file ends in the middle of an entry".to_owned(),
                        remedy: "get the file again; the lines before this one are whole".to_owned(),
                        ..trouble
                    }
                } else {
                    trouble
                };
                let column =
                    trouble.place.as_ref().and_then(|place| place.column.clone()).unwrap_or_else(|| "1".to_owned());
                trouble.at(Spot::file(file).line(index + 1).column(column))
            })
        },
    )
}

/// Reads a whole file of lines.
///
/// # Errors
/// The first trouble, with file, line and column.
pub fn read_lines(file: &str, bytes: &[u8]) -> Result<Vec<Entry>, Trouble> {
    lines(file, bytes).collect()
}

fn refused(unreadable: &Unreadable<'_>, line: &str) -> Trouble {
    match unreadable {
        Unreadable::Content(error, part) => broken(error, part, line),
        Unreadable::CorrectionInside(part) => Trouble::new(
            "BOK-105",
            "a correction cannot put another correction in place of something",
            "strike out the correction that went to the wrong entry, and write a new one",
        )
        .at(Spot::default().column(column_of(line, offset_of(part, line)).to_string())),
    }
}

/// Says what is wrong with `part` of `line`, by serde's error.
fn broken(error: &serde_json::Error, part: &str, line: &str) -> Trouble {
    let within = error.column().saturating_sub(1).min(part.len());
    let column = column_of(line, offset_of(part, line) + within);
    let words = error.to_string();
    let cause: String =
        words.rsplit_once(" at line ").map_or(words.as_str(), |(cause, _)| cause).chars().take(200).collect();
    match error.classify() {
        Category::Data => no_entry(&cause, column),
        Category::Syntax | Category::Eof | Category::Io => Trouble::new(
            "BOK-103",
            format!("the line is not JSON: {cause}"),
            "see that the file holds one entry a line and nothing else; get it again if it was cut off or changed",
        )
        .at(Spot::default().column(column.to_string())),
    }
}

fn no_entry(cause: &str, column: usize) -> Trouble {
    Trouble::new(
        "BOK-104",
        format!("the line is no entry: {cause}"),
        "correct the line, or leave it out; entries are written by the program, never by hand",
    )
    .at(Spot::default().column(column.to_string()))
}

/// Where `part`, a slice of `line`, begins; the start when it is not.
fn offset_of(part: &str, line: &str) -> usize {
    let offset = (part.as_ptr() as usize).wrapping_sub(line.as_ptr() as usize);
    if offset <= line.len() { offset } else { 0 }
}

/// Column of a byte, counted in characters from 1.
fn column_of(line: &str, byte: usize) -> usize {
    line.char_indices().take_while(|(at, _)| *at < byte).count() + 1
}
