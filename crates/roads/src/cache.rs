//! The prepared network in a file, so that a morning need not read the extract again.
//!
//! | bytes | hold |
//! |---|---|
//! | 8 | `OUTYROAD` |
//! | 4 | number of this layout, little-endian |
//! | 32 | key: SHA-256 over the extract's content, the truck and the numbers of rules and layout |
//! | 32 | SHA-256 of what follows |
//! | rest | the network, as postcard writes it |
//!
//! A file that is torn, foreign, of another extract or another truck is made anew, with a note; it is never an error.

use std::fs;
use std::io::Write;
use std::path::Path;

use outyard_base::{Note, Trouble};
use sha2::{Digest, Sha256};

use crate::extract::Extract;
use crate::network::Network;
use crate::rules::{RULES_VERSION, Truck};

const SIGN: &[u8; 8] = b"OUTYROAD";
/// Number of the layout of the file and of the network in it.
const LAYOUT: u32 = 1;
const HEAD: usize = 8 + 4 + 32 + 32;

/// Where a network came from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kept {
    /// From the kept file.
    Read,
    /// Made anew.
    Made,
}

fn key_of(fingerprint: [u8; 32], truck: Truck) -> [u8; 32] {
    let Truck { height_cm, width_cm, length_cm, weight_kg, axle_kg, wet } = truck;
    let mut hash = Sha256::new();
    hash.update(fingerprint);
    for number in [LAYOUT, RULES_VERSION, height_cm, width_cm, length_cm, weight_kg, axle_kg, u32::from(wet)] {
        hash.update(number.to_le_bytes());
    }
    hash.finalize().into()
}

/// Why a kept file is of no use.
fn read(bytes: &[u8], key: &[u8; 32]) -> Result<Network, &'static str> {
    if bytes.len() < HEAD || &bytes[..8] != SIGN {
        return Err("it is no file of prepared roads");
    }
    if bytes[8..12] != LAYOUT.to_le_bytes() {
        return Err("another version of the program made it");
    }
    if &bytes[12..44] != key {
        return Err("the extract, the truck or the rules have changed since");
    }
    let body = &bytes[HEAD..];
    if bytes[44..76] != *Sha256::digest(body) {
        return Err("it is damaged");
    }
    let network: Network = postcard::from_bytes(body).map_err(|_| "it cannot be read")?;
    if network.is_sound() { Ok(network) } else { Err("it does not hold together") }
}

fn written(network: &Network, key: &[u8; 32]) -> Vec<u8> {
    let body = postcard::to_allocvec(network).expect("plain numbers and texts can be written");
    let mut bytes = Vec::with_capacity(HEAD + body.len());
    bytes.extend_from_slice(SIGN);
    bytes.extend_from_slice(&LAYOUT.to_le_bytes());
    bytes.extend_from_slice(key);
    bytes.extend_from_slice(&Sha256::digest(&body));
    bytes.extend_from_slice(&body);
    bytes
}

/// Writes beside the file and then puts it in its place, so that no reader meets half of it.
fn keep(path: &Path, bytes: &[u8]) -> std::io::Result<()> {
    if let Some(folder) = path.parent() {
        fs::create_dir_all(folder)?;
    }
    let beside = path.with_extension(format!("new-{}", std::process::id()));
    let outcome = fs::File::create(&beside)
        .and_then(|mut file| {
            file.write_all(bytes)?;
            file.sync_all()
        })
        .and_then(|()| fs::rename(&beside, path));
    if outcome.is_err() {
        // What is left beside is of no use to anybody; that it may stay is no further trouble.
        drop(fs::remove_file(&beside));
    }
    outcome
}

/// Takes the network from the kept file, or reads the extract, contracts it and keeps it there.
///
/// # Errors
/// `ROD-010` to `ROD-015` for the extract. A kept file that cannot be read or written is a note.
pub fn open_or_prepare(extract: &Extract, truck: Truck, path: &Path) -> Result<(Network, Kept, Vec<Note>), Trouble> {
    let fingerprint = extract.fingerprint().map_err(|fault| fault.trouble(&extract.name()))?;
    let key = key_of(fingerprint, truck);
    let mut notes = Vec::new();
    match fs::read(path) {
        Ok(bytes) => match read(&bytes, &key) {
            Ok(network) => {
                notes.extend(network.notes());
                return Ok((network, Kept::Read, notes));
            }
            Err(why) => notes.push(Note::new("ROD-101", format!("the prepared roads were made anew: {why}"))),
        },
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => {}
        Err(error) => notes.push(Note::new("ROD-101", format!("the prepared roads were made anew: {error}"))),
    }
    let network = Network::prepare(extract, truck)?;
    if let Err(error) = keep(path, &written(&network, &key)) {
        notes.push(Note::new("ROD-106", format!("the prepared roads could not be kept: {error}")));
    }
    notes.extend(network.notes());
    Ok((network, Kept::Made, notes))
}

#[cfg(test)]
mod tests {
    use super::*;

    const MAP: &str = r#"<osm>
        <node id="1" lat="50" lon="10"/><node id="2" lat="50.01" lon="10"/><node id="3" lat="50.01" lon="10.01"/>
        <way id="1"><nd ref="1"/><nd ref="2"/><tag k="highway" v="primary"/></way>
        <way id="2"><nd ref="2"/><nd ref="3"/><tag k="highway" v="track"/></way></osm>"#;

    fn extract() -> Extract {
        Extract::Bytes("map.osm".to_owned(), MAP.as_bytes().to_vec())
    }

    #[test]
    fn what_was_kept_is_read_again_and_anything_else_is_made_anew() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("cache").join("roads.kept");
        let (made, kept, notes) = open_or_prepare(&extract(), Truck::USUAL, &path).unwrap();
        assert_eq!((kept, notes), (Kept::Made, vec![]));
        let (read, kept, notes) = open_or_prepare(&extract(), Truck::USUAL, &path).unwrap();
        assert_eq!((kept, notes, &read), (Kept::Read, vec![], &made));
        let low = Truck { height_cm: 200, ..Truck::USUAL };
        let (_, kept, notes) = open_or_prepare(&extract(), low, &path).unwrap();
        assert_eq!((kept, notes[0].code), (Kept::Made, "ROD-101"));
        assert!(notes[0].text.contains("changed"));
    }

    #[test]
    fn every_torn_or_turned_byte_is_noticed() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("roads.kept");
        let (made, ..) = open_or_prepare(&extract(), Truck::USUAL, &path).unwrap();
        let whole = fs::read(&path).unwrap();
        for at in 0..whole.len() {
            let mut turned = whole.clone();
            turned[at] ^= 0x41;
            for bytes in [&whole[..at], &turned[..]] {
                fs::write(&path, bytes).unwrap();
                let (again, kept, notes) = open_or_prepare(&extract(), Truck::USUAL, &path).unwrap();
                assert_eq!((kept, notes[0].code, &again), (Kept::Made, "ROD-101", &made), "byte {at}");
            }
        }
    }

    #[test]
    fn a_forged_file_with_a_right_sum_does_not_lead_astray() {
        let (made, ..) =
            open_or_prepare(&extract(), Truck::USUAL, &tempfile::tempdir().unwrap().path().join("r")).unwrap();
        let key = [7; 32];
        assert_eq!(read(&written(&made, &key), &key).unwrap(), made);
        let mut forged = made.clone();
        forged.graph.arcs[0].to = 1000;
        assert_eq!(read(&written(&forged, &key), &key), Err("it does not hold together"));
        let mut forged = made.clone();
        forged.graph.points[0] = (i32::MAX, 0);
        assert_eq!(read(&written(&forged, &key), &key), Err("it does not hold together"));
        let mut forged = made;
        forged.graph.nodes += 1;
        assert_eq!(read(&written(&forged, &key), &key), Err("it does not hold together"));
    }

    #[test]
    fn a_folder_that_cannot_be_written_is_a_note() {
        let folder = tempfile::tempdir().unwrap();
        let blocked = folder.path().join("file");
        fs::write(&blocked, "not a folder").unwrap();
        let (_, kept, notes) = open_or_prepare(&extract(), Truck::USUAL, &blocked.join("roads")).unwrap();
        assert_eq!(kept, Kept::Made);
        assert!(notes.iter().any(|note| note.code == "ROD-106"));
    }
}
