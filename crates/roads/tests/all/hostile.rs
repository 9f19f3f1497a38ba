//! Torn, foreign and forged extracts: a clear word, no crash, no flood.

use std::io::Write;

use outyard_roads::{Extract, Network, Truck};
use proptest::prelude::*;

fn code(bytes: impl Into<Vec<u8>>) -> &'static str {
    let trouble = Network::prepare(&Extract::Bytes("x".to_owned(), bytes.into()), Truck::USUAL).unwrap_err();
    assert!(!trouble.cause.is_empty() && !trouble.remedy.is_empty());
    trouble.code
}

fn file(name: &str) -> Vec<u8> {
    std::fs::read(std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data").join(name)).unwrap()
}

fn varint(mut number: u64, into: &mut Vec<u8>) {
    while number >= 0x80 {
        into.push(u8::try_from(number & 0x7f).unwrap() | 0x80);
        number >>= 7;
    }
    into.push(u8::try_from(number).unwrap());
}

fn message(field: u64, content: &[u8], into: &mut Vec<u8>) {
    varint(field << 3 | 2, into);
    varint(content.len() as u64, into);
    into.extend_from_slice(content);
}

fn blob(sort: &str, blob: &[u8], claimed: u64) -> Vec<u8> {
    let mut header = Vec::new();
    message(1, sort.as_bytes(), &mut header);
    header.push(3 << 3);
    varint(claimed, &mut header);
    let mut bytes = u32::try_from(header.len()).unwrap().to_be_bytes().to_vec();
    bytes.extend(header);
    bytes.extend_from_slice(blob);
    bytes
}

fn zlib(plain: impl Iterator<Item = Vec<u8>>) -> Vec<u8> {
    let mut packer = flate2::write::ZlibEncoder::new(Vec::new(), flate2::Compression::best());
    plain.for_each(|part| packer.write_all(&part).unwrap());
    let mut blob = Vec::new();
    message(3, &packer.finish().unwrap(), &mut blob);
    blob
}

/// A PBF with this data after a plain header.
fn pbf(data: &[u8]) -> Vec<u8> {
    let mut header = Vec::new();
    message(
        1,
        &{
            let mut block = Vec::new();
            message(4, b"OsmSchema-V0.6", &mut block);
            block
        },
        &mut header,
    );
    let mut bytes = blob("OSMHeader", &header, header.len() as u64);
    bytes.extend(blob("OSMData", data, data.len() as u64));
    bytes
}

#[test]
fn wrong_files_are_told_apart() {
    assert_eq!(code(b""), "ROD-011");
    assert_eq!(code(b"yard,latitude,longitude\n7,50,10\n"), "ROD-011");
    assert_eq!(code(b"<html><body/></html>"), "ROD-011");
    assert_eq!(code(b"<gpx/>"), "ROD-011");
    assert_eq!(code(b"<osm/>"), "ROD-015");
    assert_eq!(code(b"<osm></osm>"), "ROD-015");
    assert_eq!(code(b"<osm><node id='1'"), "ROD-012");
    assert_eq!(code(b"<osm><way id='1'><nd ref='x'/></way></osm>"), "ROD-012");
    assert_eq!(code(b"<osm><way id='1'></node></osm>"), "ROD-012");
    let nowhere = Extract::file(std::path::Path::new("no such file"));
    assert_eq!(Network::prepare(&nowhere, Truck::USUAL).unwrap_err().code, "ROD-010");
    let folder = Extract::file(std::path::Path::new(env!("CARGO_MANIFEST_DIR")));
    assert_eq!(Network::prepare(&folder, Truck::USUAL).unwrap_err().code, "ROD-010");
}

#[test]
fn entities_of_ones_own_are_refused() {
    let bomb = "<!DOCTYPE osm [<!ENTITY a 'aaaaaaaaaa'><!ENTITY b '&a;&a;&a;&a;&a;&a;&a;&a;'>]>\
        <osm><way id='1'><nd ref='1'/><tag k='name' v='&b;'/></way></osm>";
    assert_eq!(code(bomb), "ROD-014");
    assert_eq!(code("<osm><way id='1'><nd ref='1'/><tag k='name' v='&b;'/></way></osm>"), "ROD-012");
}

#[test]
fn one_endless_piece_of_xml_does_not_fill_the_memory() {
    let mut text = b"<osm><way id='1'><tag k='name' v='".to_vec();
    text.resize(8 << 20, b'a');
    assert_eq!(code(text), "ROD-013");
    let mut comment = b"<osm><!--".to_vec();
    comment.resize(8 << 20, b'-');
    assert!(["ROD-012", "ROD-013"].contains(&code(comment)));
}

#[test]
fn every_torn_end_of_a_pbf_is_noticed() {
    let whole = file("hollow.osm.pbf");
    let mut codes = std::collections::BTreeMap::new();
    for at in 0..whole.len() {
        *codes.entry(code(&whole[..at])).or_insert(0) += 1;
    }
    // Cut between two of its three blobs it is a whole file with less in it: points, but no road.
    assert_eq!(codes.get("ROD-015"), Some(&2), "{codes:?}");
    assert!(codes.keys().all(|code| ["ROD-011", "ROD-012", "ROD-015"].contains(code)), "{codes:?}");
}

#[test]
fn bombs_are_stopped_at_the_size_a_blob_may_have() {
    // 64 MiB of noughts in 64 KiB.
    assert_eq!(code(pbf(&zlib((0..64).map(|_| vec![0; 1 << 20])))), "ROD-013");
    // Sixteen million empty groups in 31 MiB: the room of a blob, and no tree of groups.
    let groups = (0..31).map(|_| [2 << 3 | 2, 0].repeat(1 << 19));
    assert_eq!(code(pbf(&zlib(groups))), "ROD-015");
    // Texts without end.
    let mut table = Vec::new();
    message(1, &[1 << 3 | 2, 0].repeat(3 << 20), &mut table);
    assert_eq!(code(pbf(&zlib(std::iter::once(table)))), "ROD-013");
    // A blob that claims four exabytes, and one that claims less than nothing.
    for claimed in [1 << 62, u64::MAX] {
        let mut bytes = file("hollow.osm.pbf");
        bytes.extend(blob("OSMData", &[], claimed));
        assert_eq!(code(bytes), "ROD-013");
    }
    let mut bytes = 0x7fff_ffff_u32.to_be_bytes().to_vec();
    bytes.extend([0; 100]);
    assert_eq!(code(bytes), "ROD-011");
}

#[test]
fn what_is_not_known_is_said() {
    let mut header = Vec::new();
    let mut block = Vec::new();
    message(4, b"HistoricalInformation", &mut block);
    message(1, &block, &mut header);
    assert_eq!(code(blob("OSMHeader", &header, header.len() as u64)), "ROD-014");
    let mut lzma = Vec::new();
    message(4, b"....", &mut lzma);
    assert_eq!(code(pbf(&lzma)), "ROD-014");
}

#[test]
fn coordinates_off_the_earth_end_the_road() {
    let map = |lat: &str| {
        format!(
            "<osm><node id='1' lat='50' lon='10'/><node id='2' lat='50' lon='10.01'/><node id='3' lat='{lat}' lon='10.02'/>\
             <way id='1'><nd ref='1'/><nd ref='2'/><nd ref='3'/><tag k='highway' v='primary'/></way></osm>"
        )
    };
    for lat in ["91", "1e300", "NaN", "-inf"] {
        let network = Network::prepare(&Extract::Bytes("x".to_owned(), map(lat).into()), Truck::USUAL).unwrap();
        assert_eq!((network.counts().missing_points, network.metres()), (1, 717), "{lat}");
    }
    let far = Network::prepare(&Extract::Bytes("x".to_owned(), map("-80").into()), Truck::USUAL).unwrap();
    assert_eq!((far.counts().jumps, far.metres()), (1, 717));
}

/// Prepares whatever it is given: it must come back.
fn survives(bytes: Vec<u8>) {
    match Network::prepare(&Extract::Bytes("x".to_owned(), bytes), Truck::USUAL) {
        Ok(network) => assert!(network.size().1 > 0),
        Err(trouble) => assert!(trouble.code.starts_with("ROD-01")),
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]

    #[test]
    fn any_bytes_come_back(bytes in prop::collection::vec(any::<u8>(), 0..400)) {
        survives(bytes);
    }

    #[test]
    fn any_bytes_after_a_header_come_back(bytes in prop::collection::vec(any::<u8>(), 0..400)) {
        let mut raw = Vec::new();
        message(1, &bytes, &mut raw);
        survives(pbf(&raw));
        survives(pbf(&bytes));
    }

    #[test]
    fn a_turned_byte_comes_back(at in any::<prop::sample::Index>(), to in any::<u8>(), plain in any::<bool>()) {
        let mut bytes = file(if plain { "hollow-plain.osm.pbf" } else { "hollow.osm.pbf" });
        let at = at.index(bytes.len());
        bytes[at] = to;
        survives(bytes);
        let mut text = file("hollow.osm");
        let at = at % text.len();
        text[at] = to;
        survives(text);
    }

    #[test]
    fn any_tags_come_back(tags in prop::collection::vec(("(highway|maxspeed|maxheight|maxweight|oneway|access|duration|surface)", ".{0,12}"), 0..6)) {
        let tags: Vec<String> = tags.iter().map(|(key, value)| {
            let value = value.replace('&', "&amp;").replace('<', "&lt;").replace('\'', "&apos;");
            format!("<tag k='{key}' v='{value}'/>")
        }).collect();
        let tags = tags.concat();
        survives(format!("<osm><node id='1' lat='50' lon='10'/><node id='2' lat='50' lon='10.01'/>\
            <way id='1'><nd ref='1'/><nd ref='2'/>{tags}<tag k='highway' v='primary'/></way></osm>").into());
    }
}
