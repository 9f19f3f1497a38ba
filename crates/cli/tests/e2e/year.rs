//! The rest of the year: written down in trade words, traced both ways, looked over.

use std::fs;

use crate::common::Outfit;

fn outfit() -> Outfit {
    Outfit::with_yards(&[("7", 26, 6), ("12", 20, 10), ("31", 30, 0)])
}

/// Scene S17: which yards are in drums 412 and 413, and where the honey of yard 12 went.
#[test]
fn drums_are_traced_to_yards_and_back() {
    let outfit = outfit();
    outfit.json("write extraction L29 7=34 12=28 31=10 --kg 1728 --moisture 17.2 --pulled 2026-07-28 --on 2026-07-29");
    outfit.json("write extraction L30 31=20 --kg 480 --on 2026-07-30");
    outfit.json("write drum 412 L29=300 --on 2026-07-30");
    outfit.json("write drum 413 L29=250 L30=45.5 --on 2026-07-30");
    outfit.json("write sale 412 --to Packer-one --price 1500.50 --on 2026-08-20");
    let at = "--on 2026-09-01";
    let honey = outfit.json(&format!("honey {at}"));
    let left: Vec<f64> = honey["lots"].as_array().unwrap().iter().map(|lot| lot["left_kg"].as_f64().unwrap()).collect();
    assert_eq!(left, [1178.0, 434.5]);
    assert_eq!(honey["faults"].as_array().unwrap().len(), 0);
    let traced = outfit.json(&format!("honey --drum 412 --drum 413 {at}"));
    assert_eq!(traced["yards"], serde_json::json!({ "7": 34, "12": 28, "31": 30 }));
    assert_eq!(traced["buyers"], serde_json::json!({ "Packer-one": ["412"] }));
    let from_12 = outfit.json(&format!("honey --yard 12 {at}"));
    assert_eq!(
        (&from_12["drums"], &from_12["unsold"]),
        (&serde_json::json!(["412", "413"]), &serde_json::json!(["413"]))
    );
    assert!(outfit.page(&format!("honey --yard 12 {at}")).contains("412: to Packer-one"));
    // What cannot be is refused, with nothing written.
    let entries = outfit.entries();
    for (words, code) in [
        ("write extraction L31 99=3", "YER-001"),
        ("write extraction L31 7=3 --pulled 2026-09-02", "YER-002"),
        ("write drum 412 L29=3", "YER-003"),
        ("write drum 414 L77=3", "YER-004"),
        ("write sale 500 --to A", "YER-005"),
        ("write sale 412 --to A", "YER-006"),
        ("write queens 7 2 --laying 3", "YER-007"),
        ("write treatment-in 7 strips --colonies 3 --days-in-least 56 --days-in-most 42", "YER-008"),
        ("write treatment-out 7 strips", "YER-009"),
        ("write extraction L31 7=0", "YER-010"),
        ("write moved 7 7 double=1", "YER-011"),
        ("write lost 7 double=27", "YER-012"),
        ("honey --drum 77", "YER-005"),
        ("honey --yard 99", "YER-001"),
        ("write fed 7 0", "YER-010"),
    ] {
        assert_eq!(outfit.faults(&format!("{words} {at}"))[0].code, code, "{words}");
    }
    assert_eq!(outfit.entries(), entries);
    // More in drums than was extracted is kept and told.
    let told = outfit.run(&["write", "drum", "415", "L30=900", "--on", "2026-09-01"]);
    assert!(told.code == 0 && told.out.contains("YER-101"), "{}", told.out);
}

#[test]
fn what_happens_to_colonies_is_written_in_trade_words() {
    let outfit = outfit();
    let at = "--on 2026-07-03";
    let told_of = [
        "write moved 7 31 double=4",
        "write splits 12 31 6 --queens mated",
        "write lost 31 double=1 --cause bear",
        "write queens 31 6 --queens cells --laying 5",
        "write treatment-in 7 strips --ingredient thymol --colonies 22 --days-in-least 42 --days-in-most 56",
        "write treatment-out 7 strips",
        "write mites 7 --bees 300 --mites 9",
        "write fed 7 22 --syrup-l 100",
        "write bloom 7 canola",
        "write spray 7 12 --caller neighbour --begins 20:00",
        "write terms 7 --terms rent --neighbour east --water creek --fence wire",
        "write note gate-open --yard 7",
    ];
    for (nth, words) in told_of.iter().enumerate() {
        let told = outfit.json(&format!("{words} {at} --entry 0197cc1e-6c00-7000-8000-0000000000{nth:02}"));
        assert_eq!(told["new"], 1, "{words}");
    }
    let yards = outfit.page(&format!("yards list {at}"));
    assert!(yards.contains("22 doubles"), "{yards}");
    // Sent twice under one name, it stands once; another under that name is refused.
    let known = "--entry 0197cc1e-6c00-7000-8000-0000000000ab";
    let entries = outfit.entries();
    assert_eq!(outfit.json(&format!("write note gate {at} {known}"))["new"], 1);
    assert_eq!(outfit.json(&format!("write note gate {at} {known}"))["new"], 0);
    assert_eq!(outfit.faults(&format!("write note other {at} {known}"))[0].code, "STO-001");
    assert_eq!(outfit.entries(), entries + 1);
}

#[test]
fn a_photo_is_kept_by_content_and_a_lost_one_is_found_out() {
    let outfit = outfit();
    fs::write(outfit.path("gate.jpg"), b"a picture of a gate").unwrap();
    outfit.json("write photo gate.jpg --yard 7 --caption gate --on 2026-07-03");
    let clean = outfit.json("book check");
    assert_eq!((&clean["files"], clean["files_missing"].as_array().unwrap().len()), (&1.into(), 0));
    // Its entry came by mail, its file did not.
    outfit.json("book out lines.jsonl");
    let other = Outfit::with_yards(&[("7", 26, 6)]);
    let lines = outfit.path("lines.jsonl").display().to_string();
    other.json(&format!("book in {lines}"));
    let looked = other.json("book check");
    assert_eq!(looked["files_missing"].as_array().unwrap().len(), 1, "{looked}");
    assert!(other.page("book check").contains("BOK-138"));
}
