//! The program is killed at random moments while tallies are typed one after another: none that was acknowledged is lost,
//! none is there twice.

use std::collections::BTreeSet;
use std::process::Stdio;
use std::thread::sleep;
use std::time::Duration;

use outyard_base::Chance;
use serde_json::Value;

use crate::common::{Outfit, Told, after, date};

const TALLIES: usize = 200;
const YARDS: usize = 25;

/// A name for an entry: a UUID of version 7 made from numbers.
fn entry_name(at: usize, chance: &mut Chance) -> String {
    let mut part = |digits: u32| chance.below(1 << (4 * digits));
    format!("019f{at:04x}-{:04x}-7{:03x}-8{:03x}-{:012x}", part(4), part(3), part(3), part(12))
}

#[test]
fn no_acknowledged_tally_is_lost_and_none_is_doubled() {
    let chance = &mut Chance::new(19, "killed tallies");
    let names: Vec<String> = (0..YARDS).map(|yard| format!("Y{yard}")).collect();
    let yards: Vec<(&str, u32, u32)> = names.iter().map(|name| (name.as_str(), 30, 5)).collect();
    let outfit = Outfit::with_yards(&yards);
    let before = outfit.entries();
    // How long the program takes for one tally here, so that it is killed early, in the middle and late.
    let started = std::time::Instant::now();
    outfit.json("tally Y0 --done add-boxes:double=1 --on 2026-06-30");
    let usual = started.elapsed().as_secs_f64();

    let mut acknowledged: BTreeSet<String> = BTreeSet::new();
    let (mut killed, mut told_twice) = (0, 0);
    for at in 0..TALLIES {
        let entry = entry_name(at, chance);
        let day = after(date("2026-07-01"), (at / YARDS) as i64).to_string();
        let done = format!("single-down-blow:double={}", 1 + chance.below(29));
        let boxes = format!("deep={}", 1 + chance.below(40));
        let words = [
            "tally",
            &names[at % YARDS],
            "--done",
            &done,
            "--boxes-on",
            &boxes,
            "--entry",
            &entry,
            "--on",
            &day,
            "--json",
        ];
        for attempt in 0.. {
            assert!(attempt < 50, "never acknowledged");
            let mut child = outfit.command(&words).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
            // After a few tries it is let run, as a person would in the end.
            if attempt < 4 {
                sleep(Duration::from_secs_f64(chance.between(0.0, 1.3 * usual)));
                child.kill().unwrap();
            }
            let output = child.wait_with_output().unwrap();
            if output.status.code() != Some(0) {
                assert!(output.status.code().is_none(), "{}", Told::of(&words, &output));
                killed += 1;
                continue;
            }
            let answer = Told::of(&words, &output).answer();
            assert_eq!(answer["entries"][0], entry.as_str());
            told_twice += answer["known"].as_u64().unwrap();
            assert_eq!(answer["new"].as_u64().unwrap() + answer["known"].as_u64().unwrap(), 1);
            break;
        }
        acknowledged.insert(entry);
    }
    assert!(killed > TALLIES / 10, "only {killed} were killed: the test tested little");
    assert!(told_twice > 0, "no tally was killed between its writing and its acknowledgement");

    let list: Value = outfit.json("book list --last 1000000");
    let closed: Vec<&str> = list
        .as_array()
        .unwrap()
        .iter()
        .filter(|entry| entry["fact"] == "visit-closed" && entry["happened_on"] != "2026-06-30")
        .map(|entry| entry["entry"].as_str().unwrap())
        .collect();
    let distinct: BTreeSet<String> = closed.iter().map(|entry| (*entry).to_owned()).collect();
    assert_eq!(closed.len(), TALLIES, "as many closed visits as distinct tallies");
    assert_eq!(distinct, acknowledged);
    assert_eq!(list.as_array().unwrap().len(), before + 1 + TALLIES);
    // No visit is told of twice, so none is in doubt.
    assert_eq!(outfit.json("gear --on 2026-07-20")["in_doubt"], serde_json::json!([]));
}
