//! The book kept safe: exchanged, copied, looked over, brought back.

use std::fs::{self, OpenOptions};
use std::io::{Seek, SeekFrom, Write};

use crate::common::Outfit;

const ON: &str = "2026-07-03";

/// Gear counted by a device, told by the line the ledger shows.
fn count(outfit: &Outfit, device: &str, boxes: u32) {
    outfit.json(&format!("gear count shed deep={boxes} --device {device} --on {ON}"));
}

#[test]
fn two_offices_meet_by_a_stick_and_hold_the_same() {
    let (north, south) = (Outfit::with_yards(&[("7", 26, 6)]), Outfit::with_yards(&[("12", 20, 10)]));
    count(&north, "office-n", 540);
    let stick = Outfit::of(&[]);
    let to = stick.path("").display().to_string();
    let told = |outfit: &Outfit| outfit.json(&format!("exchange {to}"));
    let (at_north, at_south) = (north.entries(), south.entries());
    assert_eq!(told(&north)["sent"]["new"], at_north);
    let met = told(&south);
    assert_eq!((&met["sent"]["new"], &met["fetched"]["new"]), (&at_south.into(), &at_north.into()));
    assert_eq!(told(&north)["fetched"]["new"], at_south);
    // Nothing is left to hand on, and both say the same of their yards.
    for outfit in [&north, &south] {
        assert_eq!(outfit.entries(), at_north + at_south);
        let again = told(outfit);
        assert_eq!((&again["sent"]["new"], &again["fetched"]["new"]), (&0.into(), &0.into()));
    }
    assert_eq!(north.json("yards list"), south.json("yards list"));
    assert_eq!(stick.listing(), ["book.sqlite"], "a stick carries one file");
    // One's own book is no other.
    assert_eq!(north.faults("exchange .")[0].code, "BOK-112");
    assert_eq!(north.faults("exchange postgres://a:b@127.0.0.1:1/c?sslmode=disable")[0].code, "STO-012");
}

#[test]
fn a_copy_is_kept_and_brought_back() {
    let outfit = Outfit::with_yards(&[("7", 26, 6), ("12", 20, 10)]);
    count(&outfit, "office", 540);
    let kept = outfit.json("book keep copy.sqlite");
    assert_eq!(kept["entries"], outfit.entries());
    assert_eq!(kept["not_in_it"][0], "jobs.toml");
    assert_eq!(outfit.faults("book keep copy.sqlite")[0].code, "BOK-113");
    let empty = Outfit::of(&[("jobs.toml", crate::common::RATES)]);
    let copy = outfit.path("copy.sqlite").display().to_string();
    assert_eq!(empty.json(&format!("book bring-back {copy}"))["entries"], outfit.entries());
    assert_eq!(empty.json("yards list"), outfit.json("yards list"));
    assert_eq!(empty.faults(&format!("book bring-back {copy}"))[0].code, "BOK-113");
    // What is no book is not brought back, and leaves nothing behind.
    let other = Outfit::of(&[("letter.txt", "Dear all, this is no book at all. ".repeat(40).as_str())]);
    assert_eq!(other.faults("book bring-back letter.txt")[0].code, "STO-002");
    assert_eq!(other.listing(), ["letter.txt"]);
}

#[test]
fn a_look_over_tells_what_waits_and_what_is_damaged() {
    let outfit = Outfit::with_yards(&[("7", 26, 6)]);
    let clean = outfit.json("book check");
    assert_eq!((&clean["whole"], clean["findings"].as_array().unwrap().len()), (&true.into(), 0));
    // Two tallies of one visit, and a correction of something that never arrived.
    for device in ["phone-a", "phone-b"] {
        outfit.json(&format!("tally 7 --done single-down-blow:double=20 --device {device} --on {ON}"));
    }
    let line = r#"{"format":1,"id":"0197cc1e-6c00-7000-8000-00000000000a","device":"tablet","author":"Ana","happened_on":"2026-07-03","recorded_at":"2026-07-03T17:00:00Z","fact":"correction","with":{"of":"0197cc1e-6c00-7000-8000-00000000000b"}}"#;
    let newer = r#"{"format":7,"id":"0197cc1e-6c00-7000-8000-00000000000c","device":"tablet","author":"Ana","happened_on":"2026-07-03","recorded_at":"2026-07-03T17:00:00Z","fact":"drum-filled","with":{"kg":295.5}}"#;
    outfit.put("lines.jsonl", format!("{line}\n{newer}\n"));
    outfit.json("book in lines.jsonl");
    let looked = outfit.json("book check");
    let found = looked["findings"].as_array().unwrap();
    let count = |what: &str| {
        let finding = found.iter().find(|finding| finding["what"] == what);
        finding.map_or(0, |finding| finding["entries"].as_array().unwrap().len())
    };
    assert_eq!((count("in doubt"), count("awaiting"), count("unread"), found.len()), (2, 1, 1, 3), "{looked}");
    assert!(outfit.page("book check").contains("do: exchange with the device"));
    // A line is written over in the file: it is found, told, and all the others can be saved.
    let entries = outfit.entries();
    let book = outfit.path("book.sqlite");
    let bytes = fs::read(&book).unwrap();
    let word = b"\"fact\":\"visit-closed\"";
    let at = bytes.windows(word.len()).position(|part| part == word).unwrap();
    let mut file = OpenOptions::new().write(true).open(&book).unwrap();
    file.seek(SeekFrom::Start(at as u64)).unwrap();
    file.write_all(b"\0\0\0\0\0\0\0").unwrap();
    drop(file);
    assert_eq!(outfit.faults("book check")[0].code, "BOK-115");
    let saved = outfit.json("book check --save saved.sqlite");
    assert_eq!((&saved["whole"], &saved["entries"]), (&false.into(), &(entries - 1).into()));
    let mended = Outfit::of(&[("outfit.toml", crate::common::SETTINGS), ("jobs.toml", crate::common::RATES)]);
    mended.json(&format!("exchange {}", outfit.path("saved.sqlite").display()));
    assert_eq!((mended.entries(), &mended.json("book check")["whole"]), (entries - 1, &true.into()));
}

#[test]
fn what_no_page_check_sees_is_found_by_what_the_book_comes_to() {
    let outfit = Outfit::with_yards(&[("7", 26, 6)]);
    count(&outfit, "office", 540);
    // A word of one entry becomes another word: the file is whole, the line reads well, and yet it is not what was kept.
    let book = outfit.path("book.sqlite");
    let mut bytes = fs::read(&book).unwrap();
    let at = bytes.windows(9).position(|part| part == b"\"deep\":54").unwrap();
    bytes[at + 8] = b'9';
    fs::write(&book, bytes).unwrap();
    assert_eq!(outfit.faults("book check")[0].code, "BOK-119");
}

#[test]
fn an_empty_book_a_foreign_file_and_a_clock_far_off_are_told() {
    let outfit = Outfit::with_yards(&[("7", 26, 6)]);
    let ahead = r#"{"format":1,"id":"0197cc1e-6c00-7000-8000-00000000000a","device":"tablet","author":"Ana","happened_on":"2026-07-03","recorded_at":"2101-07-03T17:00:00Z","fact":"note","with":{"text":"late"}}"#;
    outfit.put("lines.jsonl", format!("{ahead}\n"));
    outfit.json("book in lines.jsonl");
    let looked = outfit.json("book check");
    assert_eq!(looked["findings"][0]["code"], "BOK-137");
    assert_eq!(looked["findings"][0]["entries"].as_array().unwrap().len(), 1);
    outfit.put("book.sqlite", "Dear all, this is no book at all. ".repeat(40));
    assert_eq!(outfit.faults("book check")[0].code, "STO-002");
    outfit.put("book.sqlite", "");
    assert_eq!(outfit.faults("book check")[0].code, "BOK-117");
    assert_eq!(fs::read(outfit.path("book.sqlite")).unwrap().len(), 0, "a look changes nothing");
}

#[test]
fn gear_and_settlements_sent_twice_under_one_name_are_written_once() {
    let outfit = Outfit::with_yards(&[("7", 26, 6)]);
    let before = outfit.entries();
    let name = |last: u32| format!("0197cc1e-6c00-7000-8000-0000000000{last:02x}");
    for (number, words) in ["count shed deep=540", "move shed wet deep=8", "buy deep=40"].into_iter().enumerate() {
        let id = name(u32::try_from(number).unwrap());
        outfit.json(&format!("gear {words} --entry {id} --on {ON}"));
        let again = outfit.json(&format!("gear {words} --entry {id} --on {ON}"));
        assert_eq!((&again["new"], &again["known"]), (&0.into(), &1.into()), "{words}");
    }
    assert_eq!(outfit.entries(), before + 3);
    // The same name with other words is refused, and nothing is written.
    assert_eq!(outfit.faults(&format!("gear buy deep=41 --entry {} --on {ON}", name(2)))[0].code, "STO-001");
    for (device, boxes) in [("phone-a", 20), ("phone-b", 21)] {
        outfit.json(&format!(
            "tally 7 --done single-down-blow:double=20 --boxes-on deep={boxes} --device {device} --on {ON}"
        ));
    }
    let settle = format!("settle 7 --gear deep=20 --entry {} --on {ON}", name(9));
    outfit.json(&settle);
    let settled = outfit.entries();
    assert_eq!(outfit.json(&settle)["known"], 1);
    assert_eq!(outfit.entries(), settled);
    assert_eq!(outfit.faults(&format!("settle 7 --entry {} --on {ON}", name(0)))[0].code, "STO-001");
}

#[test]
fn a_row_of_tallies_that_counts_nothing_is_told_with_its_line() {
    let outfit = Outfit::with_yards(&[("7", 26, 6)]);
    let told = |row: &str| {
        outfit.put("tallies.csv", format!("date,yard,job,double,minutes,note\n{row}\n"));
        outfit.page("tally --file tallies.csv --on 2026-07-03")
    };
    let empty = told("2026-07-03,7,single-down-blow,0,30,");
    assert!(empty.contains("TLY-101") && empty.contains("counts nothing"), "{empty}");
    for row in ["2026-07-03,7,single-down-blow,2,30,", "2026-07-03,7,single-down-blow,0,30,gate locked"] {
        assert!(!told(row).contains("TLY-101"), "{row}");
    }
}
