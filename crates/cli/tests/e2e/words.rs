//! Exit codes, past mornings, and two programs that write at once.

use std::process::Stdio;

use crate::common::{Outfit, SETTINGS, Told, find};

#[test]
fn exit_codes_tell_done_trouble_and_wrong_words_apart() {
    let outfit = Outfit::with_yards(&[("7", 26, 6)]);
    for done in [
        "yards",
        "yards list",
        "gear",
        "book",
        "jobs",
        "jobs pull",
        "plants",
        "weather",
        "scale",
        "fill --gain 3",
        "--help",
        "--version",
    ] {
        let words: Vec<&str> = done.split_whitespace().collect();
        let told = outfit.run(&words);
        assert!(told.code == 0 && !told.out.is_empty() && told.err.is_empty(), "{told}");
    }
    for trouble in [
        "yard 99",
        "day 7 7",
        "day 7 --crew Nobody",
        "settle 7",
        "jobs dance",
        "sign --put-down 2026-07-03 --seen bees",
        "fill --gain 400",
        "tally 7",
        "replan --crew-home Nobody@2026-07-06",
        "replan --crew-home Pair-one",
        "book strike 019f0000-0000-7000-8000-000000000000",
        "--device a-device-with-a-name-that-is-far-too-long yards",
        "flow --threshold 99",
        "round --yards 0 --a-day 3 --from 2026-07-01 --gain 2",
    ] {
        let words: Vec<&str> = trouble.split_whitespace().collect();
        let told = outfit.run(&words);
        assert!(told.code == 1 && told.out.is_empty(), "{told}");
        assert!(told.err.starts_with("outyard: ") && told.err.contains("  do: "), "{told}");
        assert!(told.err.lines().all(|line| line.chars().count() <= crate::common::PAGE_WIDTH), "{told}");
        outfit.faults(trouble);
    }
    for wrong in [
        "",
        "dance",
        "yard",
        "fill",
        "fill --gain much",
        "yards --on 2026-02-30",
        "yards --on tomorrow",
        "yard 7 --hands 0",
        "tally 7 --full 101",
        "tally 7 --boxes-on deep",
        "tally 7 --boxes-on deep=-3",
        "tally 7 --minutes 2000",
        "gear move shed nowhere deep=3",
        "gear count shed deep=9999999",
        "day 7 --gate 19:00-09:00",
        "replan --rain 2026-07-08..2026-07-06",
        "runs --days 0",
        "runs --care great",
        "tally --file t.csv --done pull:single=3",
        "tally 7 --entry nonsense",
        "gear ahead --stock 3",
    ] {
        let words: Vec<&str> = wrong.split_whitespace().collect();
        let told = outfit.run(&words);
        assert!(told.code == 2 && told.out.is_empty() && !told.err.is_empty(), "{told}");
    }
    // A folder that was named and holds no outfit is no reason to take the usual rates for its own.
    for words in ["fill --gain 3", "jobs", "plants", "flow nights.csv", "bloom canola --seeded 2026-05-15"] {
        assert_eq!(outfit.faults(&format!("--outfit elsewhere {words}"))[0].code, "CLI-003", "{words}");
    }
    let nowhere = tempfile::tempdir().unwrap();
    let output = crate::common::program(nowhere.path(), &["morning", "--json"]).output().unwrap();
    assert_eq!(Told::of(&["morning"], &output).faults()[0].code, "CLI-003");
    assert_eq!(std::fs::read_dir(nowhere.path()).unwrap().count(), 0, "nothing is made where no outfit is");
}

#[test]
fn a_new_outfit_is_made_once_and_stands() {
    let here = tempfile::tempdir().unwrap();
    let new = [
        "new",
        "mine",
        "--name",
        "Quill \"Valley\" Bees",
        "--latitude",
        "45.1",
        "--longitude",
        "-93.9",
        "--zone",
        "America/Chicago",
        "--json",
    ];
    let run = |words: &[&str]| Told::of(words, &crate::common::program(here.path(), words).output().unwrap());
    assert_eq!(run(&new).answer()["name"], "Quill \"Valley\" Bees");
    let text = std::fs::read_to_string(here.path().join("mine/outfit.toml")).unwrap();
    assert_eq!(run(&new).faults()[0].code, "CLI-005");
    assert_eq!(std::fs::read_to_string(here.path().join("mine/outfit.toml")).unwrap(), text);
    assert_eq!(run(&["--outfit", "mine", "yards", "--json"]).answer(), serde_json::json!([]));
    for (at, bad, code) in [(5, "91", "PLC-001"), (9, "America/Nowhere", "SET-003")] {
        let mut words = new;
        words[1] = "other";
        words[at] = bad;
        assert_eq!(run(&words).faults()[0].code, code);
        assert!(!here.path().join("other").exists(), "nothing is left of an outfit that was refused");
    }
}

#[test]
fn a_past_morning_is_stood_at_again() {
    let outfit = Outfit::with_yards(&[("7", 26, 6), ("8", 10, 0)]);
    outfit.json("tally 7 --done single-down-blow:double=26 --on 2026-07-03");
    outfit.json("gear count shed deep=100 --on 2026-07-05");
    let yard = |on: &str| find(&outfit.json(&format!("yards --on {on}")), "yard", "7").clone();
    assert!(yard("2026-07-02")["last_visit"].is_null(), "on the day before nothing was done yet");
    assert_eq!(yard("2026-07-02")["colonies"]["double"], 26);
    assert_eq!(yard("2026-07-03")["put_down_on"], "2026-07-03");
    assert_eq!(yard("2026-07-03")["colonies"]["single"], 26);
    assert_eq!(outfit.json("yards --on 2026-05-31"), serde_json::json!([]), "before its first count there was no yard");
    let shed = |on: &str| {
        let gear = outfit.json(&format!("gear --on {on}"));
        gear["gear"]
            .as_array()
            .unwrap()
            .iter()
            .flat_map(|line| line["places"].as_array().unwrap().clone())
            .find(|place| place["place"] == "the shed")
            .map(|place| place["count"].clone())
    };
    assert_eq!(shed("2026-07-04"), None);
    assert_eq!(shed("2026-07-05"), Some(100.into()));
    // A day that has not come cannot be tallied, and what is struck out is as if it had not been.
    let closed = outfit.json("book list --yard 7");
    let id = find(&closed, "fact", "visit-closed")["entry"].as_str().unwrap().to_owned();
    outfit.json(&format!("book strike {id}"));
    assert!(yard("2026-07-03")["last_visit"].is_null());
    assert_eq!(yard("2026-07-03")["colonies"]["double"], 26);
}

#[test]
fn two_programs_write_at_once_and_nothing_is_lost() {
    let outfit = Outfit::with_yards(&[("7", 500, 6), ("8", 500, 0)]);
    let before = outfit.entries();
    let rounds = 12;
    for round in 0..rounds {
        let day = format!("2026-07-{:02}", round + 1);
        let children: Vec<_> = ["7", "8"]
            .iter()
            .flat_map(|yard| [(yard, "add-boxes:double=3", "phone-a"), (yard, "egg-test:double=5", "phone-b")])
            .map(|(yard, done, device)| {
                let words = ["tally", yard, "--done", done, "--device", device, "--on", &day, "--json"];
                outfit.command(&words).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap()
            })
            .collect();
        for child in children {
            let output = child.wait_with_output().unwrap();
            assert_eq!(Told::of(&["tally"], &output).answer()["new"], 1);
        }
    }
    assert_eq!(outfit.entries(), before + 4 * rounds);
    // One entry sent by two at the same moment is there once.
    let id = "019f0000-0000-7000-8000-000000000001";
    let words = ["tally", "7", "--done", "pull:single=3", "--entry", id, "--on", "2026-07-20", "--json"];
    let children: Vec<_> =
        (0..4).map(|_| outfit.command(&words).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap()).collect();
    let mut new = 0;
    for child in children {
        let output = child.wait_with_output().unwrap();
        new += Told::of(&words, &output).answer()["new"].as_u64().unwrap();
    }
    assert_eq!((new, outfit.entries()), (1, before + 4 * rounds + 1));
    let other = outfit.faults(&format!("tally 7 --done pull:single=4 --entry {id} --on 2026-07-20"));
    assert_eq!(other[0].code, "STO-001", "another tally under a name that is taken");
}

#[test]
fn a_book_goes_out_and_comes_in_elsewhere() {
    let outfit = Outfit::with_yards(&[("7", 26, 6)]);
    outfit.json("tally 7 --done single-down-blow:double=26 --on 2026-07-03");
    let entries = outfit.entries();
    assert_eq!(outfit.json("book out all.jsonl")["entries"], entries);
    let other = Outfit::of(&[("outfit.toml", &SETTINGS.replace("jobs = \"jobs.toml\"", ""))]);
    std::fs::copy(outfit.path("all.jsonl"), other.path("all.jsonl")).unwrap();
    for (new, known) in [(entries, 0), (0, entries)] {
        let answer = other.json("book in all.jsonl");
        assert_eq!((&answer["new"], &answer["known"]), (&new.into(), &known.into()));
    }
    assert_eq!(other.json("yards --on 2026-07-04"), outfit.json("yards --on 2026-07-04"));
}

#[test]
fn a_table_of_tallies_taken_in_again_doubles_nothing() {
    let outfit = Outfit::with_yards(&[("7", 26, 6), ("8", 10, 0)]);
    let first =
        "date,yard,job,double,boxes_on\n2026-07-03,7,single-down-blow,26,26\n2026-07-03,8,single-down-blow,10,10\n";
    let more = format!("{first}2026-07-04,8,add-boxes,,4\n");
    let deeps = || {
        let gear = outfit.json("gear --on 2026-07-05");
        let places = find(&gear["gear"], "gear", "deep")["places"].as_array().unwrap().clone();
        places
            .iter()
            .filter(|place| place["place"].as_str().unwrap().starts_with("on the hives"))
            .map(|place| place["count"].as_i64().unwrap())
            .sum::<i64>()
    };
    for (text, new, known, on_hives) in [(first, 2, 0, 36), (first, 0, 2, 36), (more.as_str(), 1, 2, 40)] {
        outfit.put("tallies.csv", text);
        let told = outfit.json("tally --file tallies.csv --on 2026-07-05");
        assert_eq!((&told["new"], &told["known"], deeps()), (&new.into(), &known.into(), on_hives));
        assert_eq!(told["entries"].as_array().unwrap().len(), new + known);
    }
    let page = outfit.page("tally --file tallies.csv --on 2026-07-05");
    assert!(page.contains("3 tallies") && page.contains("Nothing was doubled"), "{page}");
    // A second visit on the same day says something else, and one that was struck out may be told again.
    assert_eq!(outfit.json("tally 8 --done add-boxes:single=4 --boxes-on deep=4 --on 2026-07-04")["new"], 1);
    assert_eq!(outfit.json("tally 8 --done add-boxes:single=4 --boxes-on deep=4 --on 2026-07-04")["new"], 0);
    let id = outfit
        .json("book list --yard 7")
        .as_array()
        .unwrap()
        .iter()
        .find(|entry| entry["fact"] == "visit-closed")
        .unwrap()["entry"]
        .as_str()
        .unwrap()
        .to_owned();
    outfit.json(&format!("book strike {id}"));
    assert_eq!(outfit.json("tally --file tallies.csv --on 2026-07-05")["new"], 1);
}
