//! Every reader, fed with spoilt input: bytes changed, cut out, doubled, mixed between files, numbers past all sense.
//! None may panic or take long; what is refused is told with a code, a cause and a remedy; what the book's reader
//! accepts comes back the same. Some thousand inputs run with the tests; for longer:
//!
//! `OUTYARD_FUZZ_SECONDS=3600 OUTYARD_FUZZ_SEED=1 cargo test --release -p outyard-app --test readers -- --nocapture`
//!
//! This spoils samples blindly. The folder `fuzz` grows inputs by coverage, on the same readers.

#[path = "../../../fuzz/src/readers.rs"]
mod readers;

use std::time::{Duration, Instant};

use outyard_base::Chance;
use readers::{LINES, readers, told_well};

/// Things that have broken readers before.
const SPITE: [&str; 28] = [
    "-0",
    "1e999",
    "-1e-999",
    "NaN",
    "inf",
    "99999999999999999999",
    "4294967296",
    "0x10",
    "1_000",
    "٣",
    "1,5",
    "",
    " ",
    "\0",
    "\u{feff}",
    "\u{202e}",
    "🐝",
    "\"",
    "\"\"",
    "\r\n",
    "\r",
    ",,,,",
    ";",
    "\t",
    "9999-12-31",
    "2026-02-30",
    "[[[[[[[[[[[[[[[[[[[[[[[[",
    "{\"a\":{\"a\":{\"a\":",
];

fn spoil(chance: &mut Chance, sample: &str, others: &[&str]) -> Vec<u8> {
    let mut bytes = sample.as_bytes().to_vec();
    for _ in 0..=chance.index(3) {
        let at = chance.index(bytes.len() + 1);
        let span = at..(at + chance.index(40)).min(bytes.len());
        match chance.index(9) {
            0 if at < bytes.len() => bytes[at] = chance.below(256).to_le_bytes()[0],
            1 => drop(bytes.drain(span)),
            2 => {
                let part = bytes[span].to_vec();
                let to = chance.index(bytes.len() + 1);
                bytes.splice(to..to, part);
            }
            3 => {
                let other = others[chance.index(others.len())].as_bytes();
                let from = chance.index(other.len());
                bytes.splice(at..at, other[from..(from + chance.index(80)).min(other.len())].iter().copied());
            }
            4 => bytes.truncate(at),
            5 => bytes
                .splice(at..at, (0..chance.index(30)).map(|_| chance.below(256).to_le_bytes()[0]).collect::<Vec<_>>())
                .for_each(drop),
            // A number, or what stands between two separators, becomes something else.
            6 => {
                let digits: Vec<usize> = (0..bytes.len()).filter(|at| bytes[*at].is_ascii_digit()).collect();
                if !digits.is_empty() {
                    let from = digits[chance.index(digits.len())];
                    let to = (from..bytes.len()).find(|at| !bytes[*at].is_ascii_digit()).unwrap_or(bytes.len());
                    bytes.splice(from..to, SPITE[chance.index(SPITE.len())].bytes());
                }
            }
            7 => bytes = lines_change_places(&bytes, chance),
            _ => drop(bytes.splice(at..at, SPITE[chance.index(SPITE.len())].bytes())),
        }
    }
    bytes
}

/// The same lines in another order.
fn lines_change_places(bytes: &[u8], chance: &mut Chance) -> Vec<u8> {
    let mut lines: Vec<&[u8]> = bytes.split(|byte| *byte == b'\n').collect();
    chance.shuffle(&mut lines);
    lines.join(&b'\n')
}

#[test]
fn no_reader_breaks_on_spoilt_input() {
    let number = |name: &str| std::env::var(name).ok().map(|text| text.parse::<u64>().unwrap());
    let seed = number("OUTYARD_FUZZ_SEED").unwrap_or(1);
    let seconds = number("OUTYARD_FUZZ_SECONDS");
    let readers = readers();
    let samples: Vec<&str> = readers.iter().map(|reader| reader.sample).collect();
    for reader in &readers {
        assert_eq!((reader.read)(reader.sample.as_bytes()), Ok(()), "{} refuses its sample", reader.name);
    }
    let lines: Vec<&str> = LINES.lines().collect();
    let mut chance = Chance::new(seed, "spoilt input");
    let (began, mut tried, mut slowest) = (Instant::now(), 0_u64, Duration::ZERO);
    let (mut accepted, mut refused) = (0_u64, 0_u64);
    while seconds.map_or(tried < 20_000, |seconds| began.elapsed().as_secs() < seconds) {
        let reader = &readers[chance.index(readers.len())];
        // The book's lines one by one, so that one spoilt place does not hide behind another.
        let sample = if reader.name == "lines" { lines[chance.index(lines.len())] } else { reader.sample };
        let input = spoil(&mut chance, sample, &samples);
        let started = Instant::now();
        match (reader.read)(&input) {
            Ok(()) => accepted += 1,
            Err(troubles) => {
                refused += 1;
                told_well(reader.name, &troubles, &input);
            }
        }
        slowest = slowest.max(started.elapsed());
        tried += 1;
    }
    println!(
        "readers: seed {seed}, {tried} spoilt inputs in {:.0} s, {accepted} accepted, {refused} refused, slowest {:.0} ms",
        began.elapsed().as_secs_f64(),
        slowest.as_secs_f64() * 1e3
    );
    assert!(accepted > tried / 50 && refused > tried / 10, "the inputs are too spoilt or too good to tell");
}
