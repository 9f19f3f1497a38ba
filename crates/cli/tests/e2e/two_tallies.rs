//! Scene S19: two phones with no signal close the same yard, and the truck's load tells which is right.

use serde_json::Value;

use crate::common::{Outfit, find};

const ON: &str = "2026-07-03";

/// Boxes told by the phones for one yard.
type TwoTold = (&'static str, u32, u32);

/// A day of one truck: what it left with, came home with, what was told once and what was told twice.
fn day_out(outfit: &Outfit, loaded: u32, home: u32, once: &[(&str, u32)], twice: &[TwoTold]) {
    outfit.json(&format!("gear count shed deep=540 excluder=600 --on {ON}"));
    outfit.json(&format!("gear load Red deep={loaded} --on {ON}"));
    let tally = |yard: &str, boxes: u32, device: &str| {
        let words = format!(
            "tally {yard} --done single-down-blow:double=20 --boxes-on deep={boxes} --truck Red --device {device} --on {ON}"
        );
        outfit.json(&words)
    };
    for (yard, boxes) in once {
        assert_eq!(tally(yard, *boxes, "phone-a")["unsettled"], 0);
    }
    for (at, (yard, first, second)) in twice.iter().enumerate() {
        assert_eq!(tally(yard, *first, "phone-a")["unsettled"], at);
        assert_eq!(tally(yard, *second, "phone-b")["unsettled"], at + 1, "both tallies are flagged");
    }
    let words =
        if home > 0 { format!("gear home Red deep={home} --on {ON}") } else { format!("gear home Red --on {ON}") };
    outfit.json(&words);
}

/// Deep boxes by place, with what is outside the outfit left out.
fn deeps(gear: &Value, place: &str) -> i64 {
    let places = find(&gear["gear"], "gear", "deep")["places"].as_array().unwrap();
    places.iter().find(|line| line["place"] == place).map_or(0, |line| line["count"].as_i64().unwrap())
}

/// What the ledger holds of deeps, placed and unplaced, without the outside.
fn all_deeps(gear: &Value) -> i64 {
    let deep = find(&gear["gear"], "gear", "deep");
    let sum = |lines: &Value| -> i64 {
        let inside = lines.as_array().unwrap().iter().filter(|line| line["place"] != "outside the outfit");
        inside.map(|line| line["count"].as_i64().unwrap()).sum()
    };
    sum(&deep["places"]) + sum(&deep["unplaced"])
}

// Left with 101, told 31 and 30 at yard 7, 30 at 12, 34 at 19, 5 come home: 32 must be at yard 7, not 61.
#[test]
fn scene_19_two_phones_one_yard() {
    for (loaded, home, first, second, at_12, at_19) in
        [(101, 5, 31, 30, 30, 34), (98, 11, 25, 26, 28, 34), (120, 0, 41, 44, 40, 36), (77, 3, 20, 33, 17, 25)]
    {
        let outfit = Outfit::with_yards(&[("7", 26, 6), ("12", 20, 10), ("19", 34, 0)]);
        day_out(&outfit, loaded, home, &[("12", at_12), ("19", at_19)], &[("7", first, second)]);
        let must_be = i64::from(loaded) - i64::from(home) - i64::from(at_12) - i64::from(at_19);

        let gear = outfit.json(&format!("gear --on {ON}"));
        assert_eq!(gear["balances"], false);
        assert_eq!(deeps(&gear, "on the hives of yard 7"), 0, "neither tally counts, and never their sum");
        let doubt = find(&gear["in_doubt"], "yard", "7");
        assert_eq!(doubt["tallies"].as_array().unwrap().len(), 2);
        let reading = find(&doubt["readings"], "gear", "deep");
        assert_eq!(reading["count"], must_be);
        let mut told: Vec<u64> =
            reading["told"].as_array().unwrap().iter().map(|count| count.as_u64().unwrap()).collect();
        told.sort_unstable();
        assert_eq!(told, [first.min(second), first.max(second)].map(u64::from));
        assert_eq!(all_deeps(&gear), 540);
        let page = outfit.page(&format!("gear --on {ON}"));
        assert!(page.contains(&format!("{must_be} x deep must be at yard 7; told:")), "{page}");
        assert!(page.contains("outyard settle YARD"), "{page}");

        // One command accepts it.
        let entries = outfit.entries();
        let settled = outfit.json(&format!("settle 7 --on {ON}"));
        assert_eq!((&settled["unplaced"], &settled["unsettled"]), (&serde_json::json!([]), &0.into()));
        assert_eq!(outfit.entries(), entries + 1);
        let gear = outfit.json(&format!("gear --on {ON}"));
        assert_eq!((gear["balances"].as_bool(), gear["in_doubt"].as_array().unwrap().len()), (Some(true), 0));
        assert_eq!(deeps(&gear, "on the hives of yard 7"), must_be);
        assert_eq!(deeps(&gear, "the shed"), 540 - i64::from(loaded) + i64::from(home));
        assert_eq!(all_deeps(&gear), 540);
        assert!(outfit.page(&format!("gear --on {ON}")).contains("It balances"));
        // There is nothing left to settle.
        assert_eq!(outfit.faults(&format!("settle 7 --on {ON}"))[0].code, "STL-001");
    }
}

#[test]
fn two_yards_in_doubt_cannot_be_settled_until_one_is_counted() {
    for (loaded, home, seven, twelve, at_19, counted) in
        [(101, 5, ("7", 31, 30), ("12", 30, 29), 34, 32), (90, 8, ("7", 22, 25), ("12", 28, 33), 30, 24)]
    {
        let outfit = Outfit::with_yards(&[("7", 26, 6), ("12", 20, 10), ("19", 34, 0)]);
        day_out(&outfit, loaded, home, &[("19", at_19)], &[seven, twelve]);
        let together = loaded - home - at_19;
        let entries = outfit.entries();
        for yard in ["7", "12"] {
            let gear = outfit.json(&format!("gear --on {ON}"));
            let doubt = find(&gear["in_doubt"], "yard", yard);
            let said = doubt["proposal"].as_str().unwrap();
            assert!(said.contains("cannot be settled") && said.contains(&format!("{together} x deep")), "{said}");
            assert!(said.contains("a count at yard 7 or 12 would"), "{said}");
            assert_eq!(doubt["readings"], serde_json::json!([]));
            assert_eq!(outfit.faults(&format!("settle {yard} --on {ON}"))[0].code, "STL-002");
        }
        let refused = outfit.run(&["settle", "7", "--on", ON]);
        assert_eq!(refused.code, 1);
        assert!(refused.err.contains("count the boxes there") && !refused.err.contains("settled: cannot"), "{refused}");
        assert_eq!(outfit.entries(), entries, "nothing was written");
        assert!(outfit.page(&format!("gear --on {ON}")).contains("It does not balance"));

        // A count at one of them settles it, and the other follows from the load.
        outfit.json(&format!("settle 7 --gear deep={counted} --on {ON}"));
        let gear = outfit.json(&format!("gear --on {ON}"));
        let reading = &find(&gear["in_doubt"], "yard", "12")["readings"];
        assert_eq!(find(reading, "gear", "deep")["count"], together - counted);
        outfit.json(&format!("settle 12 --on {ON}"));
        let gear = outfit.json(&format!("gear --on {ON}"));
        assert_eq!(gear["balances"], true);
        assert_eq!(deeps(&gear, "on the hives of yard 7"), i64::from(counted));
        assert_eq!(deeps(&gear, "on the hives of yard 12"), i64::from(together - counted));
        assert_eq!(all_deeps(&gear), 540);
    }
}

#[test]
fn a_truck_that_is_still_out_settles_nothing_yet() {
    let outfit = Outfit::with_yards(&[("7", 26, 6)]);
    outfit.json(&format!("gear count shed deep=200 --on {ON}"));
    outfit.json(&format!("gear load Red deep=40 --on {ON}"));
    for (boxes, device) in [(31, "phone-a"), (30, "phone-b")] {
        outfit.json(&format!(
            "tally 7 --done single-down-blow:double=20 --boxes-on deep={boxes} --truck Red --device {device} --on {ON}"
        ));
    }
    let refused = outfit.run(&["settle", "7", "--on", ON]);
    assert!(refused.code == 1 && refused.err.contains("truck Red is not home yet"), "{refused}");
    outfit.json(&format!("gear home Red deep=9 --on {ON}"));
    outfit.json(&format!("settle 7 --on {ON}"));
    assert_eq!(deeps(&outfit.json(&format!("gear --on {ON}")), "on the hives of yard 7"), 31);
}
