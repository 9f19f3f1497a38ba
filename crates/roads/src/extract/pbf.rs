//! PBF: blobs of protocol-buffer messages ([osm-wiki] `PBF Format`; wire types after the Protocol Buffers encoding guide).
//!
//! The messages are walked field by field where they lie; no tree of them is built. So a blob needs the room of its own
//! 32 MiB and of one element, whatever its fields claim: a tree needs many times that when a blob is packed with
//! millions of empty messages.
//!
//! | symbol | name in code | meaning | unit | value | source |
//! |---|---|---|---|---|---|
//! | - | `HEADER_BYTES_MOST` | most of a blob's header | B | 64 KiB | [osm-wiki] `PBF Format` |
//! | - | `BLOB_BYTES_MOST` | most of a blob, packed and unpacked | B | 32 MiB | [osm-wiki] `PBF Format` |

use std::io::{BufRead, Read};

use flate2::read::ZlibDecoder;

use super::{Fault, Kind, Member, NODES_OF_WAY_MOST, PLAIN_BYTES_MOST, Point, Sink, TAGS_MOST};

const HEADER_BYTES_MOST: usize = 64 * 1024;
const BLOB_BYTES_MOST: usize = 32 * 1024 * 1024;
/// Features a reader must know ([osm-wiki] `PBF Format`), as far as this one does.
const KNOWN_FEATURES: [&str; 2] = ["OsmSchema-V0.6", "DenseNodes"];

fn torn(what: &str) -> Fault {
    Fault::Damaged(what.to_owned())
}

/// A field's value where it lies.
#[derive(Clone, Copy)]
enum Value<'a> {
    Number(u64),
    Bytes(&'a [u8]),
    Fixed,
}

impl<'a> Value<'a> {
    fn bytes(self) -> Result<&'a [u8], Fault> {
        match self {
            Value::Bytes(bytes) => Ok(bytes),
            _ => Err(torn("a field of the wrong sort")),
        }
    }

    fn number(self) -> Result<u64, Fault> {
        match self {
            Value::Number(number) => Ok(number),
            _ => Err(torn("a field of the wrong sort")),
        }
    }
}

fn varint(bytes: &mut &[u8]) -> Result<u64, Fault> {
    let mut number = 0_u64;
    for shift in (0..64).step_by(7) {
        let (first, rest) = bytes.split_first().ok_or_else(|| torn("a number that breaks off"))?;
        *bytes = rest;
        number |= u64::from(first & 0x7f) << shift;
        if first & 0x80 == 0 {
            return Ok(number);
        }
    }
    Err(torn("a number of more than ten bytes"))
}

/// Zigzag, as signed numbers are packed.
fn signed(number: u64) -> i64 {
    (number >> 1).cast_signed() ^ -(number & 1).cast_signed()
}

fn split<'a>(bytes: &mut &'a [u8], count: u64) -> Result<&'a [u8], Fault> {
    let count = usize::try_from(count).ok().filter(|count| *count <= bytes.len());
    let (part, rest) = bytes.split_at(count.ok_or_else(|| torn("a message that breaks off"))?);
    *bytes = rest;
    Ok(part)
}

/// Calls `each` for every field of a message.
fn fields<'a>(mut bytes: &'a [u8], mut each: impl FnMut(u64, Value<'a>) -> Result<(), Fault>) -> Result<(), Fault> {
    while !bytes.is_empty() {
        let key = varint(&mut bytes)?;
        let value = match key & 7 {
            0 => Value::Number(varint(&mut bytes)?),
            1 => {
                split(&mut bytes, 8)?;
                Value::Fixed
            }
            2 => {
                let length = varint(&mut bytes)?;
                Value::Bytes(split(&mut bytes, length)?)
            }
            5 => {
                split(&mut bytes, 4)?;
                Value::Fixed
            }
            _ => return Err(torn("a field of no known sort")),
        };
        each(key >> 3, value)?;
    }
    Ok(())
}

/// Fills `into` from the reader; false when there was nothing at all left.
fn fill(reader: &mut dyn BufRead, count: usize, into: &mut Vec<u8>, what: &str) -> Result<bool, Fault> {
    into.clear();
    reader.take(count as u64).read_to_end(into).map_err(|error| Fault::of_io(&error, what))?;
    match into.len() {
        0 if count > 0 => Ok(false),
        read if read == count => Ok(true),
        _ => Err(torn(&format!("{what} breaks off"))),
    }
}

/// Reads a file.
pub(super) fn read(reader: &mut dyn BufRead, sink: &mut dyn Sink) -> Result<(), Fault> {
    let (mut header, mut packed, mut plain) = (Vec::new(), Vec::new(), Vec::new());
    let mut scratch = Scratch::default();
    let mut seen_header = false;
    let mut all = 0_u64;
    while fill(reader, 4, &mut header, "the length of a blob")? {
        let length = u32::from_be_bytes([header[0], header[1], header[2], header[3]]) as usize;
        if length == 0 || length > HEADER_BYTES_MOST {
            return Err(torn(&format!("the header of a blob claims {length} bytes")));
        }
        if !fill(reader, length, &mut header, "the header of a blob")? {
            return Err(torn("the header of a blob is missing"));
        }
        let (mut sort, mut size) = (&b""[..], 0_u64);
        fields(&header, |field, value| {
            match field {
                1 => sort = value.bytes()?,
                3 => size = value.number()?,
                _ => {}
            }
            Ok(())
        })?;
        let size = usize::try_from(size)
            .ok()
            .filter(|size| *size <= BLOB_BYTES_MOST)
            .ok_or_else(|| Fault::TooLarge(format!("a blob that claims {size} bytes")))?;
        if !fill(reader, size, &mut packed, "a blob")? && size > 0 {
            return Err(torn("a blob is missing"));
        }
        if sort != b"OSMHeader" && sort != b"OSMData" {
            continue;
        }
        let block = unpack(&packed, &mut plain)?;
        all += block.len() as u64;
        if all > PLAIN_BYTES_MOST {
            return Err(Fault::TooLarge("more than 64 GiB".to_owned()));
        }
        if sort == b"OSMHeader" {
            seen_header = true;
            read_header(block)?;
        } else if seen_header {
            read_block(block, sink, &mut scratch)?;
        } else {
            return Err(torn("data before the header"));
        }
    }
    if seen_header { Ok(()) } else { Err(torn("there is no header")) }
}

fn unpack<'a>(packed: &'a [u8], plain: &'a mut Vec<u8>) -> Result<&'a [u8], Fault> {
    let (mut raw, mut zlib) = (None, None);
    fields(packed, |field, value| {
        match field {
            1 => raw = Some(value.bytes()?),
            3 => zlib = Some(value.bytes()?),
            4..=7 => return Err(Fault::Unknown("a blob packed by another way than zlib".to_owned())),
            _ => {}
        }
        Ok(())
    })?;
    if let Some(raw) = raw {
        return Ok(raw);
    }
    let zlib = zlib.ok_or_else(|| torn("a blob with nothing in it"))?;
    plain.clear();
    let mut decoder = ZlibDecoder::new(zlib).take(BLOB_BYTES_MOST as u64 + 1);
    decoder.read_to_end(plain).map_err(|error| torn(&format!("a blob cannot be unpacked: {error}")))?;
    if plain.len() > BLOB_BYTES_MOST {
        return Err(Fault::TooLarge("a blob of more than 32 MiB when unpacked".to_owned()));
    }
    Ok(plain)
}

fn read_header(block: &[u8]) -> Result<(), Fault> {
    fields(block, |field, value| {
        if field != 4 {
            return Ok(());
        }
        let feature = value.bytes()?;
        if KNOWN_FEATURES.iter().any(|known| known.as_bytes() == feature) {
            return Ok(());
        }
        let name: String =
            String::from_utf8_lossy(feature).chars().filter(|letter| !letter.is_control()).take(40).collect();
        Err(Fault::Unknown(format!("the feature {name}")))
    })
}

/// Room used again for every element.
#[derive(Default)]
struct Scratch {
    nodes: Vec<i64>,
    keys: Vec<u64>,
    values: Vec<u64>,
    roles: Vec<u64>,
    members: Vec<i64>,
    kinds: Vec<u64>,
}

/// What the elements of a block share.
struct Block<'a> {
    /// Where each text begins and ends in the table's bytes.
    texts: Vec<&'a [u8]>,
    granularity: i64,
    lat_offset: i64,
    lon_offset: i64,
}

impl<'a> Block<'a> {
    fn text(&self, index: u64) -> Result<&'a str, Fault> {
        let text = usize::try_from(index).ok().and_then(|index| self.texts.get(index));
        // A text that is no UTF-8 is no key or value we know.
        Ok(str::from_utf8(text.ok_or_else(|| torn("a text that is not in the table"))?).unwrap_or(""))
    }

    fn point(&self, lat: i64, lon: i64) -> Option<Point> {
        let degrees = |offset: i64, units: i64| {
            // A nanodegree each, so exact in a double for every place on the earth.
            #[expect(clippy::cast_precision_loss, reason = "what is too large for a double is off the earth")]
            self.granularity.checked_mul(units).and_then(|nano| nano.checked_add(offset)).map(|nano| nano as f64 * 1e-9)
        };
        Point::of(degrees(self.lat_offset, lat)?, degrees(self.lon_offset, lon)?)
    }

    fn tags(&self, keys: &[u64], values: &[u64]) -> Result<Vec<(&'a str, &'a str)>, Fault> {
        if keys.len() != values.len() {
            return Err(torn("keys and values of different number"));
        }
        keys.iter().zip(values).map(|(key, value)| Ok((self.text(*key)?, self.text(*value)?))).collect()
    }
}

/// Most texts in the table of a block: two million (assumed); writers put some thousands.
const TEXTS_MOST: usize = 2_000_000;

fn read_block(bytes: &[u8], sink: &mut dyn Sink, scratch: &mut Scratch) -> Result<(), Fault> {
    let mut block = Block { texts: Vec::new(), granularity: 100, lat_offset: 0, lon_offset: 0 };
    fields(bytes, |field, value| {
        match field {
            1 => fields(value.bytes()?, |field, value| {
                if field == 1 {
                    if block.texts.len() == TEXTS_MOST {
                        return Err(Fault::TooLarge(format!("a block with more than {TEXTS_MOST} texts")));
                    }
                    block.texts.push(value.bytes()?);
                }
                Ok(())
            })?,
            17 => block.granularity = value.number()?.cast_signed(),
            19 => block.lat_offset = value.number()?.cast_signed(),
            20 => block.lon_offset = value.number()?.cast_signed(),
            _ => {}
        }
        Ok(())
    })?;
    fields(bytes, |field, value| {
        if field != 2 {
            return Ok(());
        }
        fields(value.bytes()?, |field, value| match field {
            1 if sink.wants(Kind::Node) => read_node(&block, value.bytes()?, sink, scratch),
            2 if sink.wants(Kind::Node) => read_dense(&block, value.bytes()?, sink),
            3 if sink.wants(Kind::Way) => read_way(&block, value.bytes()?, sink, scratch),
            4 if sink.wants(Kind::Relation) => read_relation(&block, value.bytes()?, sink, scratch),
            _ => Ok(()),
        })
    })
}

/// Packed numbers, or one number that was not packed.
fn numbers(value: Value<'_>, into: &mut Vec<u64>, most: usize, what: &str) -> Result<(), Fault> {
    let mut bytes = match value {
        Value::Number(number) => {
            into.push(number);
            return Ok(());
        }
        other => other.bytes()?,
    };
    while !bytes.is_empty() {
        if into.len() == most {
            return Err(Fault::TooLarge(format!("an element with more than {most} {what}")));
        }
        into.push(varint(&mut bytes)?);
    }
    Ok(())
}

/// Packed numbers, each told as its difference from the one before.
fn differences(value: Value<'_>, into: &mut Vec<i64>) -> Result<(), Fault> {
    let mut bytes = value.bytes()?;
    let mut last = into.last().copied().unwrap_or(0);
    while !bytes.is_empty() {
        if into.len() == NODES_OF_WAY_MOST {
            return Err(Fault::TooLarge(format!("an element with more than {NODES_OF_WAY_MOST} points or members")));
        }
        last = last.wrapping_add(signed(varint(&mut bytes)?));
        into.push(last);
    }
    Ok(())
}

fn read_node(block: &Block<'_>, bytes: &[u8], sink: &mut dyn Sink, scratch: &mut Scratch) -> Result<(), Fault> {
    let Scratch { keys, values, .. } = scratch;
    keys.clear();
    values.clear();
    let (mut id, mut lat, mut lon) = (0, 0, 0);
    fields(bytes, |field, value| {
        match field {
            1 => id = signed(value.number()?),
            2 => numbers(value, keys, TAGS_MOST, "tags")?,
            3 => numbers(value, values, TAGS_MOST, "tags")?,
            8 => lat = signed(value.number()?),
            9 => lon = signed(value.number()?),
            _ => {}
        }
        Ok(())
    })?;
    sink.node(id, block.point(lat, lon), &block.tags(keys, values)?)
}

fn read_dense(block: &Block<'_>, bytes: &[u8], sink: &mut dyn Sink) -> Result<(), Fault> {
    let (mut ids, mut lats, mut lons, mut tags) = (&b""[..], &b""[..], &b""[..], &b""[..]);
    fields(bytes, |field, value| {
        match field {
            1 => ids = value.bytes()?,
            8 => lats = value.bytes()?,
            9 => lons = value.bytes()?,
            10 => tags = value.bytes()?,
            _ => {}
        }
        Ok(())
    })?;
    let (mut id, mut lat, mut lon) = (0_i64, 0_i64, 0_i64);
    let tagged = !tags.is_empty();
    let mut told: Vec<(&str, &str)> = Vec::new();
    while !ids.is_empty() {
        id = id.wrapping_add(signed(varint(&mut ids)?));
        lat = lat.wrapping_add(signed(varint(&mut lats)?));
        lon = lon.wrapping_add(signed(varint(&mut lons)?));
        told.clear();
        // No list at all means that no point has tags; else a nought ends those of each.
        if tagged {
            read_tags_of_point(block, &mut tags, &mut told)?;
        }
        sink.node(id, block.point(lat, lon), &told)?;
    }
    Ok(())
}

fn read_tags_of_point<'a>(
    block: &Block<'a>,
    tags: &mut &[u8],
    told: &mut Vec<(&'a str, &'a str)>,
) -> Result<(), Fault> {
    loop {
        let key = varint(tags)?;
        if key == 0 {
            return Ok(());
        }
        if told.len() == TAGS_MOST {
            return Err(Fault::TooLarge(format!("an element with more than {TAGS_MOST} tags")));
        }
        told.push((block.text(key)?, block.text(varint(tags)?)?));
    }
}

fn read_way(block: &Block<'_>, bytes: &[u8], sink: &mut dyn Sink, scratch: &mut Scratch) -> Result<(), Fault> {
    let Scratch { nodes, keys, values, .. } = scratch;
    nodes.clear();
    keys.clear();
    values.clear();
    let mut id = 0;
    fields(bytes, |field, value| {
        match field {
            1 => id = value.number()?.cast_signed(),
            2 => numbers(value, keys, TAGS_MOST, "tags")?,
            3 => numbers(value, values, TAGS_MOST, "tags")?,
            8 => differences(value, nodes)?,
            _ => {}
        }
        Ok(())
    })?;
    sink.way(id, nodes, &block.tags(keys, values)?)
}

fn read_relation(block: &Block<'_>, bytes: &[u8], sink: &mut dyn Sink, scratch: &mut Scratch) -> Result<(), Fault> {
    let Scratch { keys, values, roles, members, kinds, .. } = scratch;
    for list in [&mut *keys, values, roles, kinds] {
        list.clear();
    }
    members.clear();
    fields(bytes, |field, value| {
        match field {
            2 => numbers(value, keys, TAGS_MOST, "tags")?,
            3 => numbers(value, values, TAGS_MOST, "tags")?,
            8 => numbers(value, roles, NODES_OF_WAY_MOST, "members")?,
            9 => differences(value, members)?,
            10 => numbers(value, kinds, NODES_OF_WAY_MOST, "members")?,
            _ => {}
        }
        Ok(())
    })?;
    if roles.len() != members.len() || kinds.len() != members.len() {
        return Err(torn("members and roles of different number"));
    }
    let told: Vec<Member<'_>> = members
        .iter()
        .zip(roles.iter().zip(&*kinds))
        .map(|(id, (role, kind))| {
            let kind = match kind {
                0 => Kind::Node,
                1 => Kind::Way,
                _ => Kind::Relation,
            };
            Ok(Member { kind, id: *id, role: block.text(*role)? })
        })
        .collect::<Result<_, Fault>>()?;
    sink.relation(&told, &block.tags(keys, values)?)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Protocol Buffers encoding guide: 150 is 96 01; zigzag 0, -1, 1, -2 are 0, 1, 2, 3.
    #[test]
    fn numbers_are_read_as_the_guide_shows() {
        assert_eq!(varint(&mut &[0x96, 0x01][..]), Ok(150));
        assert_eq!([0, 1, 2, 3].map(signed), [0, -1, 1, -2]);
        assert!(varint(&mut &[0x80][..]).is_err());
        assert!(varint(&mut &[0xff; 11][..]).is_err());
    }
}
