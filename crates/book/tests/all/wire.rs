use outyard_book::entry::Unread;
use outyard_book::{Entry, EntryId, Fact, Tally, fold, wire};
use proptest::prelude::*;
use serde_json::{Value, json};

use super::support::*;

/// One line for each fact of format 1, as first written. Never changes: old books must be read for ever.
const FORMAT_1: &str = include_str!("../data/format-1.jsonl");

fn every_entry() -> Vec<Entry> {
    (1..).zip(every_fact()).map(|(number, fact)| entry(number, "phone-a", day(3), i64::from(number), fact)).collect()
}

/// Reads a line and says what code and column it is refused with.
fn refused(line: &[u8]) -> (&'static str, usize) {
    let trouble = wire::read_line(line).expect_err("the line was accepted");
    (trouble.code, trouble.place.expect("a place").column.expect("a column").parse().unwrap())
}

fn as_json(line: &str) -> Value {
    serde_json::from_str(line).unwrap()
}

/// A line with a value set at a JSON pointer.
fn with(line: &str, pointer: &str, value: Value) -> String {
    let mut json = as_json(line);
    let (parent, name) = pointer.rsplit_once('/').unwrap();
    json.pointer_mut(parent).unwrap().as_object_mut().unwrap().insert(name.to_owned(), value);
    json.to_string()
}

fn tally_line() -> String {
    wire::write_line(&every_entry()[4])
}

#[test]
fn every_fact_is_read_as_it_was_written() {
    for entry in every_entry() {
        let line = wire::write_line(&entry);
        assert!(!line.contains('\n'));
        assert_eq!(wire::read_line(line.as_bytes()).unwrap(), entry, "{line}");
    }
    let text = wire::write_lines(&every_entry());
    assert_eq!(wire::read_lines("book.jsonl", text.as_bytes()).unwrap(), every_entry());
    let for_another_system = format!("\u{feff}{}\r\n\r\n", text.trim_end().replace('\n', "\r\n"));
    assert_eq!(wire::read_lines("book.jsonl", for_another_system.as_bytes()).unwrap(), every_entry());
    assert!(wire::read_lines("book.jsonl", b"").unwrap().is_empty());
}

/// New reader, old data: the lines of format 1 give the same entries for ever, and are written as they were.
#[test]
fn lines_of_format_1_are_read_and_written_as_ever() {
    let mut known = every_entry();
    known.retain(|entry| wire::write_line(entry).starts_with("{\"format\":1,"));
    let mut read = wire::read_lines("format-1.jsonl", FORMAT_1.as_bytes()).unwrap();
    assert_eq!(wire::write_lines(&read), FORMAT_1);
    assert_eq!(read.len(), known.len());
    // The facts of this test are numbered through, and those of format 2 stand between them.
    for (read, known) in read.iter_mut().zip(&known) {
        (read.id, read.recorded_at) = (known.id, known.recorded_at);
    }
    assert_eq!(read, known);
}

/// An empty field says nothing more than one left out, so a program that writes them all is read alike.
#[test]
fn empty_fields_are_as_if_left_out() {
    let plain = entry(1, "a", day(3), 0, Fact::VisitClosed(Tally::new(yard(7))));
    let empties = json!({
        "visit": null, "run": null, "jobs": [], "odd": {"dead": 0, "queenless": 0, "swarmed": 0, "weak": 0},
        "boxes_on": {}, "boxes_off": {}, "boxes_left": {}, "loose_used": {}, "gear_put": {}, "gear_taken": {},
        "fullness": null, "minutes": null, "hands": null, "signs": [], "truck": null, "note": "", "yard": "7",
    });
    assert_eq!(wire::read_line(with(&wire::write_line(&plain), "/with", empties).as_bytes()).unwrap(), plain);
    let kept = entry(1, "a", day(3), 0, Fact::YardKept(outyard_book::YardKept::new(yard(7))));
    let empties = json!({
        "yard": "7", "name": "", "place": null, "elevation_m": null, "group": "", "gate": "", "wet_road": false,
        "landowner": "", "forage": [],
    });
    assert_eq!(wire::read_line(with(&wire::write_line(&kept), "/with", empties).as_bytes()).unwrap(), kept);
    // Counts of nought colonies are no counts; a nought of gear is a count and stays.
    let counted = r#"{"yard":"7","counts":{"double":26,"split":0}}"#;
    let line = with(&with(&tally_line(), "/fact", json!("colonies-counted")), "/with", as_json(counted));
    let read = wire::read_line(line.as_bytes()).unwrap();
    assert_eq!(read.unread, None);
    let line = wire::write_line(&every_entry()[3]);
    assert!(line.contains(r#""boxes":{"third":0}"#), "{line}");
}

/// Old reader, new data: what is not known is kept, shown as unread, and passed on with the same meaning.
#[test]
fn what_a_newer_program_wrote_is_kept_and_passed_on() {
    let mut line = with(&tally_line(), "/format", json!(3));
    for (pointer, value) in [
        ("/signature", json!({"by": "key 1", "bytes": [1, 2, 3]})),
        ("/with/rain", json!(null)),
        ("/with/sweet", json!(false)),
        ("/with/jobs/0/left-handed", json!(-1.5e-7)),
        ("/with/odd/robbed", json!(0)),
        ("/with/a~1b", json!(9_007_199_254_740_993_u64)),
    ] {
        line = with(&line, pointer, value);
    }
    let entry = wire::read_line(line.as_bytes()).unwrap();
    let Fact::VisitClosed(tally) = &entry.fact else { panic!("a tally") };
    assert_eq!(tally.boxes_on, thirds(31));
    let unread = entry.unread.as_deref().unwrap();
    assert_eq!((unread.format, unread.fields.len()), (3, 6));
    assert_eq!(as_json(&wire::write_line(&entry)), as_json(&line));
    // And once more, by the next old program.
    let again = wire::read_line(wire::write_line(&entry).as_bytes()).unwrap();
    assert_eq!(again, entry);

    // A fact of a name not known; and a known one that grew beyond recognition.
    for (fact, content) in [
        ("drum-filled", json!({"lot": "L29", "kg": 295.5, "boxes": {"7": 12}, "deep": [[[[]]]]})),
        ("drum-filled", json!(null)),
        ("drum-filled", json!("just text")),
        ("visit-closed", json!({"yards": ["7", "12"], "boxes_on": [3, 4]})),
        ("colonies-counted", json!({"yard": "7", "counts": {"double": 3, "observation": 1}})),
        ("gear-counted", json!({"place": "moon:3", "gear": {"third": 1}})),
    ] {
        let line = with(&with(&line, "/fact", json!(fact)), "/with", content);
        let entry = wire::read_line(line.as_bytes()).unwrap();
        assert!(matches!(&entry.fact, Fact::Unknown { name, .. } if name == fact), "{line}");
        assert_eq!(as_json(&wire::write_line(&entry)), as_json(&line));
        assert_eq!(fold([&entry]).unread, [entry.id]);
    }
    // A fact not known, put in place of one that is.
    let correction = json!({"of": id(4).to_string(), "instead": {"fact": "drum-filled", "with": {"kg": 1}, "x": 2}});
    let line = with(&with(&line, "/fact", json!("correction")), "/with", correction);
    let correction = wire::read_line(line.as_bytes()).unwrap();
    assert_eq!(as_json(&wire::write_line(&correction)), as_json(&line));
}

/// Old writer, new data: its own entries carry its own format, and it can correct an entry it could not read.
#[test]
fn an_old_program_can_correct_what_it_could_not_read() {
    let line = with(&with(&tally_line(), "/format", json!(2)), "/fact", json!("drum-filled"));
    let unknown = wire::read_line(line.as_bytes()).unwrap();
    let strike = entry(90, "b", day(4), 0, Fact::Correction { of: unknown.id, instead: None });
    assert!(wire::write_line(&strike).starts_with(r#"{"format":1,"#));
    let outfit = fold(&[unknown.clone(), strike]);
    assert!(outfit.unread.is_empty());
    assert_eq!(outfit.struck, [unknown.id]);
}

/// From a program of this format or an older one, what cannot be read is an error, told with its column.
#[test]
fn what_is_wrong_is_told_with_line_and_column() {
    let line = tally_line();
    let at = |part: &str| line.find(part).unwrap() + 1;
    let wrong = line.replace(r#""third":31"#, r#""third":-31"#);
    assert_eq!(refused(wrong.as_bytes()), ("BOK-104", at(r#""third":31"#) + 10));
    let wrong = line.replace(r#""minutes":159"#, r#""minutes":"2 h""#);
    assert_eq!(refused(wrong.as_bytes()), ("BOK-104", at(r#""minutes":159"#) + 14));
    // Columns count characters, not bytes: the note before holds one of four bytes.
    let wrong = line.replace("Slough", "x").replace(r#"\n""#, r#"\n"}"#);
    let brace = wrong.find(r#"\n"}}"#).unwrap();
    assert_eq!(refused(wrong.as_bytes()), ("BOK-103", wrong[..brace].chars().count() + 6));
    let text = format!("{line}\n\n{{\"format\":1}}\n");
    let trouble = wire::read_lines("phone.jsonl", text.as_bytes()).unwrap_err();
    assert_eq!(
        trouble.to_string(),
        "phone.jsonl, line 3, column 12: the line is no entry: missing field `id` [BOK-104]"
    );
    for (pointer, value) in [
        ("/id", json!("7")),
        ("/id", json!("0197cc1e-6c00-4000-8000-000000000001")),
        ("/device", json!("")),
        ("/happened_on", json!("2026-02-30")),
        ("/happened_on", json!("3.7.2026")),
        ("/recorded_at", json!("yesterday")),
        ("/recorded_at", json!("2026-07-03T17:00")),
        ("/format", json!(-1)),
        ("/fact", json!(5)),
        ("/author", json!(["Ana"])),
        ("/with", json!([])),
        ("/with", json!(null)),
        ("/with/yard", json!(7)),
        ("/with/yard", json!("  ")),
        ("/with/boxes_on", json!([31])),
        ("/with/boxes_on", json!({"third": 1_000_001})),
        ("/with/boxes_on", json!({"third": 1.5})),
        ("/with/boxes_on", json!({"third": 1, " third": 2})),
        ("/with/jobs/0/done", json!({"triple": 1})),
        ("/with/odd", json!({"dead": 4_294_967_296_u64})),
        ("/with/fullness", json!(1.01)),
        ("/with/minutes", json!(-1)),
    ] {
        assert_eq!(refused(with(&line, pointer, value.clone()).as_bytes()).0, "BOK-104", "{pointer} {value}");
    }
    let twice = line.replace(r#""third":31"#, r#""third":31,"third":31"#);
    assert_eq!(refused(twice.as_bytes()).0, "BOK-104");
}

#[test]
fn a_file_cut_off_in_the_middle_of_a_line_says_so() {
    let text = wire::write_lines(&every_entry());
    for cut in [text.len() - 2, text.len() - 40, text.rfind('\u{1f41d}').unwrap() + 2] {
        let trouble = wire::read_lines("phone.jsonl", &text.as_bytes()[..cut]).unwrap_err();
        assert_eq!(trouble.code, "BOK-106", "{trouble}");
    }
    let mut lines = wire::lines("phone.jsonl", &text.as_bytes()[..text.len() - 40]);
    assert_eq!(lines.by_ref().take_while(Result::is_ok).count(), every_entry().len() - 1);
    // Only the line's end is missing: whole.
    assert_eq!(wire::read_lines("phone.jsonl", text.trim_end().as_bytes()).unwrap(), every_entry());
}

#[test]
fn hostile_lines_are_refused_and_never_bring_the_reader_down() {
    let line = tally_line();
    let huge = with(&line, "/with/note", json!("x".repeat(wire::LINE_BYTES_MOST)));
    assert_eq!(refused(huge.as_bytes()), ("BOK-101", 1));
    let deep = |open: &str, close: &str, levels| format!("{}1{}", open.repeat(levels), close.repeat(levels));
    for nest in [deep("[", "]", 200_000), deep(r#"{"a":"#, "}", 100_000), "[".repeat(500_000)] {
        assert!(matches!(refused(nest.as_bytes()).0, "BOK-103" | "BOK-104"));
        for (fact, format) in [("drum-filled", 2), ("visit-closed", 2), ("visit-closed", 1), ("correction", 1)] {
            let line = with(&with(&line, "/fact", json!(fact)), "/format", json!(format));
            let content = line.find(r#""with":"#).unwrap();
            let line = format!("{}\"with\":{nest}}}", &line[..content]);
            assert!(matches!(refused(line.as_bytes()).0, "BOK-103" | "BOK-104"));
        }
    }
    let inside = r#"{"of":"0197cc1e-6c00-7000-8000-000000000001","instead":{"fact":"correction","with":"#;
    let nested = format!("{}null{}", inside.repeat(10_000), "}}".repeat(10_000));
    let line = with(&with(&line, "/fact", json!("correction")), "/with", json!(1));
    let line = format!("{}{nested}{}", &line[..=line.len() - 3], "}");
    assert_eq!(refused(line.as_bytes()).0, "BOK-105");
    let mut bad = tally_line().into_bytes();
    let place = bad.iter().position(|byte| *byte == 0xf0).unwrap();
    bad[place + 1] = b' ';
    assert_eq!(refused(&bad), ("BOK-102", place + 1));
    for bytes in [&b"null"[..], b"[]", b"{}", b"\0", b"1e999", b"\"", b"{\"format\":1e5}", b"\xff\xfe"] {
        let trouble = wire::read_lines("x", bytes).unwrap_err();
        assert!(trouble.place.is_some_and(|place| place.line == Some(1) && place.column.is_some()));
    }
}

#[test]
fn ids_and_digests_are_read_as_they_print_and_nothing_else() {
    let name: EntryId = "0197cc1e-6c00-7000-8000-000000000001".parse().unwrap();
    assert_eq!(name.to_string(), "0197cc1e-6c00-7000-8000-000000000001");
    assert_eq!(EntryId::from_bytes(*name.as_bytes()).unwrap(), name);
    // RFC 9562, appendix A.6: the example of version 7, of Tuesday, February 22, 2022 2:22:22.00 PM GMT-05:00.
    let chance = [0x0c, 0xc3, 0x18, 0xc4, 0xdc, 0x0c, 0x0c, 0x07, 0x39, 0x8f];
    let example = EntryId::new("2022-02-22T14:22:22-05:00".parse().unwrap(), chance);
    assert_eq!(example.to_string(), "017f22e2-79b0-7cc3-98c4-dc0c0c07398f");
    assert!("017f22e2-79b0-7cc3-58c4-dc0c0c07398f".parse::<EntryId>().is_err());
    assert!("00000000-0000-0000-0000-000000000000".parse::<EntryId>().is_err());
    // FIPS 180-4 example "abc".
    let abc = outyard_book::ContentHash::of(b"abc");
    assert_eq!(abc.to_string(), "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
    assert_eq!(abc.to_string().parse::<outyard_book::ContentHash>().unwrap(), abc);
    for text in ["", "ba78", &"g".repeat(64), &"é".repeat(32)] {
        assert_eq!(text.parse::<outyard_book::ContentHash>().unwrap_err().code, "BOK-002");
    }
}

fn any_json() -> impl Strategy<Value = Value> {
    let leaf = prop_oneof![
        Just(Value::Null),
        any::<bool>().prop_map(Value::from),
        any::<i64>().prop_map(Value::from),
        (-1e12..1e12_f64).prop_map(Value::from),
        "\\PC{0,12}".prop_map(Value::from),
    ];
    leaf.prop_recursive(4, 24, 6, |inner| {
        prop_oneof![
            prop::collection::vec(inner.clone(), 0..6).prop_map(Value::from),
            prop::collection::btree_map("[a-z/~]{1,8}", inner, 0..6).prop_map(|map| map.into_iter().collect()),
        ]
    })
}

proptest! {
    #![proptest_config(cases(400))]

    /// Whatever a newer program adds, wherever it adds it, is there after a trip through this one.
    #[test]
    fn additions_survive(
        which in 0..31_usize,
        additions in prop::collection::vec((any::<prop::sample::Index>(), "zz[a-z/~]{1,6}", any_json()), 0..5),
        format in 2..5_u32,
    ) {
        let line = wire::write_line(&every_entry()[which]);
        let mut json = as_json(&with(&line, "/format", json!(format)));
        for (place, name, value) in additions {
            let mut pointers = Vec::new();
            objects(&json, String::new(), &mut pointers);
            let pointer = &pointers[place.index(pointers.len())];
            json.pointer_mut(pointer).unwrap().as_object_mut().unwrap().insert(name, value);
        }
        let line = json.to_string();
        let read = wire::read_line(line.as_bytes()).unwrap();
        prop_assert_eq!(as_json(&wire::write_line(&read)), json);
        prop_assert_eq!(wire::read_line(wire::write_line(&read).as_bytes()).unwrap(), read);
    }

    /// A line with bytes changed, cut or doubled is read or refused, and when refused its column lies in the line.
    #[test]
    fn damaged_lines_never_bring_the_reader_down(
        which in 0..31_usize,
        damage in prop::collection::vec((any::<prop::sample::Index>(), any::<u8>(), 0..4_u8), 1..4),
    ) {
        let mut line = wire::write_line(&every_entry()[which]).into_bytes();
        for (place, byte, how) in damage {
            let at = place.index(line.len().max(1));
            match how {
                0 => line.insert(at.min(line.len()), byte),
                1 => line.truncate(at),
                2 if at < line.len() => drop(line.remove(at)),
                _ if at < line.len() => line[at] = byte,
                _ => {}
            }
        }
        if let Err(trouble) = wire::read_line(&line) {
            let column: usize = trouble.place.unwrap().column.unwrap().parse().unwrap();
            prop_assert!((1..=line.len() + 1).contains(&column));
        }
    }

    /// Noise of any kind is read or refused.
    #[test]
    fn noise_never_brings_the_reader_down(bytes in prop::collection::vec(any::<u8>(), 0..200)) {
        for trouble in wire::lines("noise", &bytes).filter_map(Result::err) {
            prop_assert!(trouble.place.is_some_and(|place| place.line.is_some() && place.column.is_some()));
        }
    }
}

/// Pointers of all objects within a line, as they stand where additions go: not the counts by name.
fn objects(json: &Value, path: String, pointers: &mut Vec<String>) {
    match json {
        Value::Object(map) => {
            for (name, value) in map.iter().filter(|(name, _)| !COUNTS.contains(&name.as_str())) {
                objects(value, format!("{path}/{}", name.replace('~', "~0").replace('/', "~1")), pointers);
            }
            pointers.push(path);
        }
        Value::Array(list) => {
            for (index, value) in list.iter().enumerate() {
                objects(value, format!("{path}/{index}"), pointers);
            }
        }
        _ => {}
    }
}

/// Fields that hold counts by name: a name added there is a count of something not known, and no mere addition.
const COUNTS: [&str; 13] = [
    "boxes",
    "boxes_left",
    "boxes_off",
    "boxes_on",
    "counts",
    "done",
    "gear",
    "gear_put",
    "gear_taken",
    "loose_used",
    "to_hot_room",
    "to_shed",
    "undone",
];

/// What is unread belongs to the entry: two entries that differ only there are two contents under one name.
#[test]
fn unread_fields_are_part_of_the_entry() {
    let plain = every_entry().remove(4);
    let fields = vec![("/with/rain".to_owned(), "3".to_owned())];
    let more = Entry { unread: Some(Box::new(Unread { format: 2, fields })), ..plain.clone() };
    assert_ne!(plain, more);
    assert_eq!(fold([&plain, &more]).same_name, [plain.id]);
}

/// A name with blanks around it or other capitals is the same name and another field: kept as unread it would come back
/// as counted twice.
#[test]
fn a_counted_name_spelt_otherwise_is_refused() {
    let line = tally_line();
    for (name, spoilt) in [("\"third\"", "\"third \""), ("\"double\"", "\" double\""), ("\"double\"", "\"Double\"")] {
        assert!(line.contains(name), "{line}");
        assert_eq!(refused(line.replacen(name, spoilt, 1).as_bytes()).0, "BOK-104");
    }
}

#[test]
fn a_newer_line_with_a_field_twice_reads_the_same_when_it_is_handed_on() {
    let line = r#"{"format":9,"id":"019f1af9-b400-7000-8000-00000000000e","device":"a","author":"a","happened_on":"2026-07-03","recorded_at":"2026-07-03T00:14:00Z","fact":"note","with":{"text":"one","text":"two"}}"#;
    let entry = wire::read_line(line.as_bytes()).unwrap();
    assert_eq!(entry.fact, Fact::Note { yard: None, text: "two".to_owned() });
    let kept = wire::line_to_keep(&entry).unwrap();
    assert_eq!(wire::read_line(kept.as_bytes()).unwrap(), entry);
    // A program of this format writes no field twice: there it is a mistake, and refused.
    assert_eq!(wire::read_line(line.replace(":9,", ":1,").as_bytes()).unwrap_err().code, "BOK-104");
}

#[test]
fn a_program_of_format_1_keeps_and_hands_on_format_2() {
    for fact in every_fact() {
        let line = wire::write_line(&entry(3, "a", day(3), 10, fact.clone()));
        let newer = wire::read_line(line.as_bytes()).unwrap();
        assert_eq!((newer.fact.clone(), newer.unread), (fact.clone(), None));
        if !line.starts_with("{\"format\":2") {
            continue;
        }
        // To a program that does not know the name it is a fact of a newer program.
        let unknown = line.replace(&format!("\"fact\":\"{}\"", fact.name()), "\"fact\":\"of-tomorrow\"");
        let unknown = unknown.replace("\"format\":2", "\"format\":3");
        let old = wire::read_line(unknown.as_bytes()).unwrap();
        assert!(matches!(old.fact, Fact::Unknown { .. } | Fact::Correction { .. }), "{}", fact.name());
        let handed_on: serde_json::Value = serde_json::from_str(&wire::write_line(&old)).unwrap();
        assert_eq!(handed_on, serde_json::from_str::<serde_json::Value>(&unknown).unwrap());
    }
    let formats = |wanted: &str| {
        every_fact()
            .into_iter()
            .filter(|fact| wire::write_line(&entry(3, "a", day(3), 10, fact.clone())).starts_with(wanted))
            .count()
    };
    assert_eq!((formats("{\"format\":1,"), formats("{\"format\":2,")), (22, 10));
}

#[test]
fn facts_of_the_whole_year_refuse_what_cannot_be() {
    for (fact, with) in [
        ("honey-extracted", r#"{"lot":"","boxes":[]}"#),
        ("honey-extracted", r#"{"lot":"L1","boxes":[{"yard":"7","boxes":-1}]}"#),
        ("honey-extracted", r#"{"lot":"L1","boxes":[],"honey_kg":-3}"#),
        ("honey-extracted", r#"{"lot":"L1","boxes":[],"moisture":1.7}"#),
        ("honey-drummed", r#"{"drum":"4","lots":[{"lot":"L1","kg":-1}]}"#),
        ("honey-drummed", r#"{"drum":"a\nb","lots":[]}"#),
        ("honey-sold", r#"{"drums":["1"]}"#),
        ("photo-kept", r#"{"content":"12"}"#),
        ("colonies-lost", r#"{"yard":"7","counts":{"tripel":1}}"#),
        ("splits-made", r#"{"from_yard":"7","to_yard":"8","splits":9999999}"#),
    ] {
        let line = format!(
            r#"{{"format":2,"id":"{}","device":"a","happened_on":"2026-07-03","recorded_at":"2026-07-03T17:00:00Z","fact":"{fact}","with":{with}}}"#,
            id(1)
        );
        let trouble = wire::read_line(line.as_bytes()).unwrap_err();
        assert_eq!(trouble.code, "BOK-104", "{fact} {with}");
        assert!(trouble.place.as_ref().is_some_and(|place| place.column.is_some()));
    }
}
