//! OSM XML, read as a stream.
//!
//! A document type is refused: entities of one's own are no part of the format, and are how a small file grows large.
//! One tag of XML is held to a size, so that a file that never closes one does not fill the memory.

use std::io::{self, BufRead, Read};

use quick_xml::XmlVersion;
use quick_xml::events::{BytesStart, Event};
use quick_xml::reader::Reader;

use super::{Fault, Kind, Member, NODES_OF_WAY_MOST, PLAIN_BYTES_MOST, Point, Sink, TAGS_MOST};

/// Most bytes of one piece of XML: 1 MiB (assumed).
const PIECE_BYTES_MOST: usize = 1 << 20;

/// Lets through only so much between two calls of `reset`.
struct Leash<R> {
    inner: R,
    left: usize,
    all_left: u64,
}

impl<R: BufRead> Read for Leash<R> {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        let part = self.fill_buf()?;
        let count = part.len().min(into.len());
        into[..count].copy_from_slice(&part[..count]);
        self.consume(count);
        Ok(count)
    }
}

impl<R: BufRead> BufRead for Leash<R> {
    fn fill_buf(&mut self) -> io::Result<&[u8]> {
        if self.left == 0 {
            return Err(io::Error::new(io::ErrorKind::FileTooLarge, "one piece of XML has more than 1 MiB"));
        }
        if self.all_left == 0 {
            return Err(io::Error::new(io::ErrorKind::FileTooLarge, "more than 64 GiB"));
        }
        let part = self.inner.fill_buf()?;
        Ok(&part[..part.len().min(self.left)])
    }

    fn consume(&mut self, count: usize) {
        self.left = self.left.saturating_sub(count);
        self.all_left = self.all_left.saturating_sub(count as u64);
        self.inner.consume(count);
    }
}

/// The element that is being read.
struct Open {
    kind: Kind,
    id: i64,
    at: Option<Point>,
    tags: Vec<(String, String)>,
    nodes: Vec<i64>,
    members: Vec<(Kind, i64, String)>,
}

/// Reads a document.
pub(super) fn read(source: impl BufRead, sink: &mut dyn Sink) -> Result<(), Fault> {
    let leash = Leash { inner: source, left: PIECE_BYTES_MOST, all_left: PLAIN_BYTES_MOST };
    let mut reader = Reader::from_reader(leash);
    let mut piece = Vec::new();
    let mut open: Option<Open> = None;
    let (mut inside, mut closed) = (false, false);
    loop {
        piece.clear();
        reader.get_mut().left = PIECE_BYTES_MOST;
        let at = reader.buffer_position();
        let damaged = |why: &str| Fault::Damaged(format!("{why}, at byte {at}"));
        let event = reader.read_event_into(&mut piece).map_err(|error| match error {
            quick_xml::Error::Io(error) => Fault::of_io(&error, "the XML"),
            other => damaged(&other.to_string()),
        })?;
        match event {
            Event::Start(tag) if !inside => {
                if tag.name().0 != "osm" {
                    return Err(Fault::Foreign(format!(
                        "its outermost element is <{}>, not <osm>",
                        short(tag.name().0)
                    )));
                }
                inside = true;
            }
            Event::Empty(tag) if !inside => {
                if tag.name().0 != "osm" {
                    return Err(Fault::Foreign(format!(
                        "its outermost element is <{}>, not <osm>",
                        short(tag.name().0)
                    )));
                }
                closed = true;
            }
            Event::Start(tag) => {
                if let Some(element) = begin(&tag, sink).map_err(|why| damaged(&why))? {
                    open = Some(element);
                } else if let Some(open) = &mut open {
                    add(open, &tag).map_err(|fault| place(fault, at))?;
                }
            }
            Event::Empty(tag) => {
                if let Some(element) = begin(&tag, sink).map_err(|why| damaged(&why))? {
                    hand_over(&element, sink)?;
                } else if let Some(open) = &mut open {
                    add(open, &tag).map_err(|fault| place(fault, at))?;
                }
            }
            Event::End(tag) => match tag.name().0 {
                "node" | "way" | "relation" => {
                    if let Some(element) = open.take() {
                        hand_over(&element, sink)?;
                    }
                }
                "osm" => closed = true,
                _ => {}
            },
            Event::DocType(_) => return Err(Fault::Unknown("a document type with entities of its own".to_owned())),
            Event::Eof if closed => return Ok(()),
            Event::Eof if !inside => return Err(Fault::Foreign("there is no element in it".to_owned())),
            Event::Eof => return Err(damaged("it ends before </osm>")),
            _ => {}
        }
    }
}

fn short(text: &str) -> String {
    text.chars().filter(|letter| !letter.is_control()).take(30).collect()
}

fn place(fault: Fault, at: u64) -> Fault {
    match fault {
        Fault::Damaged(why) => Fault::Damaged(format!("{why}, at byte {at}")),
        other => other,
    }
}

fn text(tag: &BytesStart<'_>, key: &str) -> Result<Option<String>, String> {
    for attribute in tag.attributes().with_checks(false) {
        let attribute = attribute.map_err(|error| error.to_string())?;
        if attribute.key.0 == key {
            let value = attribute.normalized_value(XmlVersion::Implicit1_0).map_err(|error| error.to_string())?;
            return Ok(Some(value.into_owned()));
        }
    }
    Ok(None)
}

fn id(tag: &BytesStart<'_>, key: &str) -> Result<i64, String> {
    let text = text(tag, key)?.ok_or_else(|| format!("<{}> without {key}", short(tag.name().0)))?;
    text.trim().parse().map_err(|_| format!("\"{}\" is no id", short(&text)))
}

fn begin(tag: &BytesStart<'_>, sink: &dyn Sink) -> Result<Option<Open>, String> {
    let kind = match tag.name().0 {
        "node" => Kind::Node,
        "way" => Kind::Way,
        "relation" => Kind::Relation,
        _ => return Ok(None),
    };
    let mut open = Open { kind, id: 0, at: None, tags: Vec::new(), nodes: Vec::new(), members: Vec::new() };
    if sink.wants(kind) {
        open.id = id(tag, "id")?;
        if kind == Kind::Node {
            let degree = |key| -> Result<Option<f64>, String> {
                let Some(text) = text(tag, key)? else { return Ok(None) };
                text.trim().parse().map(Some).map_err(|_| format!("\"{}\" is no degree", short(&text)))
            };
            if let (Some(latitude), Some(longitude)) = (degree("lat")?, degree("lon")?) {
                open.at = Point::of(latitude, longitude);
            }
        }
    }
    Ok(Some(open))
}

fn add(open: &mut Open, tag: &BytesStart<'_>) -> Result<(), Fault> {
    let damaged = Fault::Damaged;
    match (tag.name().0, open.kind) {
        ("tag", _) => {
            let key = text(tag, "k").map_err(damaged)?;
            let value = text(tag, "v").map_err(damaged)?;
            let (Some(key), Some(value)) = (key, value) else {
                return Err(Fault::Damaged("a <tag> without k or v".to_owned()));
            };
            if open.tags.len() == TAGS_MOST {
                return Err(Fault::TooLarge(format!("an element with more than {TAGS_MOST} tags")));
            }
            open.tags.push((key, value));
        }
        ("nd", Kind::Way) => {
            if open.nodes.len() == NODES_OF_WAY_MOST {
                return Err(Fault::TooLarge(format!("a way with more than {NODES_OF_WAY_MOST} points")));
            }
            open.nodes.push(id(tag, "ref").map_err(damaged)?);
        }
        ("member", Kind::Relation) => {
            let kind = match text(tag, "type").map_err(damaged)?.as_deref() {
                Some("node") => Kind::Node,
                Some("way") => Kind::Way,
                _ => Kind::Relation,
            };
            if open.members.len() == NODES_OF_WAY_MOST {
                return Err(Fault::TooLarge(format!("a relation with more than {NODES_OF_WAY_MOST} members")));
            }
            let role = text(tag, "role").map_err(damaged)?.unwrap_or_default();
            open.members.push((kind, id(tag, "ref").map_err(damaged)?, role));
        }
        _ => {}
    }
    Ok(())
}

fn hand_over(open: &Open, sink: &mut dyn Sink) -> Result<(), Fault> {
    if !sink.wants(open.kind) {
        return Ok(());
    }
    let tags: Vec<(&str, &str)> = open.tags.iter().map(|(key, value)| (key.as_str(), value.as_str())).collect();
    match open.kind {
        Kind::Node => sink.node(open.id, open.at, &tags),
        Kind::Way => sink.way(open.id, &open.nodes, &tags),
        Kind::Relation => {
            let members: Vec<Member<'_>> =
                open.members.iter().map(|(kind, id, role)| Member { kind: *kind, id: *id, role }).collect();
            sink.relation(&members, &tags)
        }
    }
}
