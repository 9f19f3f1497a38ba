//! The outlook through the command line: the short table of all yards, and one yard in full.

use serde_json::Value;

use crate::common::{Outfit, SETTINGS, after, date, find, number};
use crate::rain::{mild_weather, two_pairs};

fn cents(value: &Value) -> i64 {
    value.as_i64().unwrap_or_else(|| panic!("{value} is no money"))
}

/// What must hold for the outlook of any yard.
fn holds_together(view: &Value) {
    let mut week = 0;
    for wait in view["waiting"].as_array().unwrap() {
        let days = wait["by_day"].as_array().unwrap();
        let expected: Vec<i64> = days.iter().map(|day| cents(&day["expected_cents"])).collect();
        assert_eq!(expected[0], 0, "{wait:#}");
        assert!(expected.windows(2).all(|pair| pair[0] <= pair[1]), "{wait:#}");
        assert!(
            days.iter()
                .all(|day| 0 <= cents(&day["low_cents"]) && day["low_cents"].as_i64() <= day["high_cents"].as_i64())
        );
        assert!(!wait["reasons"].as_array().unwrap().is_empty());
        week += expected[7];
    }
    assert_eq!(cents(&view["week_cents"]), week);
    for stack in view["stacks"].as_array().unwrap() {
        assert_eq!(stack["put_down_on"].is_null(), stack["full_by_hand"].is_null(), "{stack:#}");
        assert!(number(&stack["held_kg"]) >= 0.0 && number(&stack["brings_kg_per_day"]) >= 0.0, "{stack:#}");
    }
    for day in view["gain_by_day"].as_array().unwrap() {
        assert!((0.0..=1.0).contains(&number(&day["flow_share"])));
        assert!(number(&day["kg"]["low"]) <= number(&day["kg"]["high"]));
    }
    assert!((0.0..=1.0).contains(&number(&view["flow"]["probability"])));
    assert!(!view["narrows"].as_array().unwrap().is_empty());
}

#[test]
fn the_dearest_yard_stands_first_and_each_adds_up() {
    let (outfit, today) = two_pairs(20, 2);
    let all = outfit.json(&format!("outlook --on {today}"));
    let all = all.as_array().unwrap();
    assert_eq!(all.len(), 20);
    let weeks: Vec<i64> = all.iter().map(|view| cents(&view["week_cents"])).collect();
    assert!(weeks.windows(2).all(|pair| pair[0] >= pair[1]), "{weeks:?}");
    all.iter().for_each(holds_together);
    // In this flow a yard still up costs more to leave than one put down these days.
    let up = |view: &Value| view["stacks"].as_array().unwrap().iter().all(|stack| stack["put_down_on"].is_null());
    assert!(all[..8].iter().all(up), "the eight yards still up stand first");
    let page = outfit.page(&format!("outlook --on {today}"));
    assert!(page.contains("the dearest yard to leave first") && page.contains("still up"), "{page}");
}

#[test]
fn one_yard_tells_room_clocks_costs_and_what_it_rests_on() {
    let (outfit, today) = two_pairs(20, 2);
    let words = format!("outlook 1 --on {today}");
    let answer = outfit.json(&words);
    assert_eq!(answer, outfit.json(&format!("outlook --yard 1 --on {today}")), "by its name or by its flag");
    let view = &answer[0];
    holds_together(view);
    // Put down on 3 July with a third each: 23 doubles and 7 splits.
    let doubles = find(&view["stacks"], "colonies", "23 doubles");
    assert_eq!((&doubles["put_down_on"], number(&doubles["boxes"])), (&"2026-07-03".into(), 1.0));
    assert!(number(&doubles["held_kg"]) > 0.0 && number(&doubles["full_share"]) < 0.6, "{doubles:#}");
    let splits = find(&view["stacks"], "colonies", "7 splits");
    let share = number(&splits["brings_kg_per_day"]) / number(&doubles["brings_kg_per_day"]);
    // Common practice, no source: a split makes half to four fifths of a double's crop.
    assert!((0.35..0.8).contains(&share), "{share}");
    // The look for cells on days 7 to 9.
    let look = find(&view["clocks"], "name", "look for queen cells");
    assert_eq!((&look["from"], &look["to"]), (&"2026-07-10".into(), &"2026-07-12".into()));
    // No scale speaks: the chance of flow is that of the members, and how much a count would narrow is not said.
    assert_eq!(view["flow"]["by_rule"], "no-nights");
    assert_eq!(view["flow"]["probability"], view["gain_by_day"][0]["flow_share"]);
    assert!(view["narrows"][0]["share"].is_null());
    let counted = find(&view["rests_on"], "said", "colonies counted");
    assert_eq!((&counted["of"], &counted["days_old"]), (&"2026-06-20".into(), &15.into()));
    let page = outfit.page(&words);
    for part in
        ["Flow: ", "Clocks that do not move", "What waiting costs", "Why: ", "What would narrow it most", "It rests on"]
    {
        assert!(page.contains(part), "no \"{part}\" in {page}");
    }
    // Boxes nobody looked into for more than a week in a flow: lift two lids. A look into them makes it fresh.
    let later = after(today, 6);
    assert!(outfit.page(&format!("outlook 1 --on {later}")).contains("lift two lids"));
    outfit.json(&format!("tally 1 --done egg-test:single=5 --full 50 --on {later}"));
    let looked = outfit.json(&format!("outlook 1 --on {later}"));
    let doubles = find(&looked[0]["stacks"], "colonies", "23 doubles");
    assert!((number(&doubles["full_share"]) - 0.5).abs() < 1e-9, "{doubles:#}");
    assert!(!outfit.page(&format!("outlook 1 --on {later}")).contains("lift two lids"));
    assert_eq!(outfit.faults("outlook 99")[0].code, "YRD-005");
}

#[test]
fn a_scale_tells_whether_the_flow_is_on_and_which_count_would_narrow_the_rest() {
    let outfit = Outfit::of(&[("outfit.toml", SETTINGS.replace("jobs = \"jobs.toml\"", "").as_str())]);
    outfit.put(
        "yards.csv",
        "yard,latitude,longitude,doubles,splits,forage,group\n\
         N1,45.20,-93.90,20,4,white-clover:0.6,North\nN2,45.25,-93.88,18,6,white-clover:0.5,North\n",
    );
    outfit.json("yards import yards.csv --on 2026-06-20");
    outfit.put("weather.csv", mild_weather(date("2026-07-02")));
    outfit.json("weather import weather.csv --station home --latitude 45.1 --longitude -93.9 --on 2026-07-03");
    let mut scale = "time,weight_kg\n".to_owned();
    for day in 0..20_i64 {
        let gained = if day < 8 { -0.1 * day as f64 } else { -0.7 + 1.8 * (day - 7) as f64 };
        scale.push_str(&format!("{} 00:00,{:.2}\n", after(date("2026-06-13"), day), 44.0 + gained));
    }
    outfit.put("scale.csv", scale);
    outfit.json("scale import scale.csv --scale S1 --yard N1 --on 2026-07-03");
    for yard in ["N1", "N2"] {
        let answer = outfit.json(&format!("outlook {yard} --on 2026-07-03"));
        let view = &answer[0];
        holds_together(view);
        // Gain begins on the night of 20 June: two days running of at least 1 kg.
        assert_eq!((&view["flow"]["by_rule"], &view["flow"]["since"]), (&"on".into(), &"2026-06-20".into()));
        assert!(number(&view["flow"]["probability"]) > 0.9, "{}", view["flow"]);
        assert!((number(&view["flow"]["last_night_kg"]) - 1.8).abs() < 0.05, "{}", view["flow"]);
        let shares: Vec<f64> = view["narrows"].as_array().unwrap().iter().map(|one| number(&one["share"])).collect();
        assert!(shares.windows(2).all(|pair| pair[0] >= pair[1]) && shares[0] > 0.0, "{shares:?}");
        let page = outfit.page(&format!("outlook {yard} --on 2026-07-03"));
        assert!(page.contains("on since 20 Jun by the rule (1.0 kg, 2 days running)"), "{page}");
    }
}

/// Two yards of a group and one of none, clover round each and canola at the first, weather of six years.
fn three_yards() -> Outfit {
    let outfit = Outfit::of(&[("outfit.toml", SETTINGS.replace("jobs = \"jobs.toml\"", "").as_str())]);
    outfit.put(
        "yards.csv",
        "yard,latitude,longitude,doubles,splits,forage,group\n\
         N1,45.20,-93.90,20,4,white-clover:0.6;canola:0.4@2026-05-15,North\nN2,45.25,-93.88,18,6,white-clover:0.5,North\n\
         S1,45.00,-93.80,18,6,white-clover:0.5,\n",
    );
    outfit.json("yards import yards.csv --on 2026-05-20");
    outfit.put("weather.csv", mild_weather(date("2026-06-14")));
    outfit.json("weather import weather.csv --station home --latitude 45.1 --longitude -93.9 --on 2026-06-11");
    outfit
}

#[test]
fn bloom_written_down_moves_the_outlook_of_its_group_and_of_no_other() {
    let outfit = three_yards();
    let view = |yard: &str, on: &str| outfit.json(&format!("outlook {yard} --on {on}"))[0].clone();
    let clover = |view: &Value| find(&view["bloom"], "plant", "white-clover").clone();
    let (north, south, before) = (view("N1", "2026-06-15"), view("S1", "2026-06-15"), view("N1", "2026-06-12"));
    let table_first = date(clover(&north)["first"]["likely"].as_str().unwrap());
    assert_eq!((&clover(&north)["records"], &clover(&north)["seen"]), (&0.into(), &Value::Null));
    assert!(
        outfit.page("outlook N1 --on 2026-06-15").contains("bloom of white-clover, canola rests on the plant table")
    );

    // Every year of this weather is alike: clover seen twelve days after the table's day moves the threshold later.
    for year in [2024, 2025] {
        let late = date(&format!("{year}{}", &after(table_first, 12).to_string()[4..]));
        let told = outfit.json(&format!("bloom seen white-clover --yard N2 --first {late} --on 2026-06-15"));
        assert_eq!((&told["new"], &told["known"]), (&1.into(), &0.into()));
        let again = outfit.json(&format!("bloom seen white-clover --yard N2 --first {late} --on 2026-06-15"));
        assert_eq!((&again["new"], &again["known"]), (&0.into(), &1.into()));
    }
    let learnt = view("N1", "2026-06-15");
    let moved = clover(&learnt);
    assert_eq!(moved["records"], 2);
    let first = date(moved["first"]["likely"].as_str().unwrap());
    assert!(after(table_first, 8) <= first && first <= after(table_first, 13), "{first}, by the table {table_first}");
    assert_ne!(learnt["gain_by_day"], north["gain_by_day"]);
    let page = outfit.page("outlook N1 --on 2026-06-15");
    assert!(
        page.contains("bloom of white-clover rests on 2 records, the last") && page.contains("2 records"),
        "{page}"
    );
    assert!(page.contains("bloom of canola rests on the plant table, no record"), "{page}");
    // A yard of no group has seen nothing.
    assert_eq!(view("S1", "2026-06-15"), south);

    // This season's own bloom stands on its day, and what comes after it stays open.
    outfit.json("bloom seen white-clover --group North --first 2026-06-13 --on 2026-06-15");
    let now = clover(&view("N1", "2026-06-15"));
    assert_eq!((&now["records"], &now["seen"]), (&3.into(), &"2026-06-13".into()));
    for which in ["early", "likely", "late"] {
        assert_eq!(now["first"][which], "2026-06-13", "{now:#}");
    }
    assert_ne!(now["end"]["early"], now["end"]["late"], "{now:#}");
    assert!(outfit.page("outlook N1 --on 2026-06-15").contains("seen 13 Jun"));
    // Stood at the morning before, that day is not yet told.
    let stood_before = clover(&view("N1", "2026-06-12"));
    assert_eq!((&stood_before["records"], &stood_before["seen"]), (&2.into(), &Value::Null));
    assert!(clover(&before)["first"]["likely"].as_str() < stood_before["first"]["likely"].as_str());
}

#[test]
fn a_crop_written_down_learns_its_days_from_seeding() {
    let outfit = three_yards();
    let canola = || find(&outfit.json("outlook N1 --on 2026-06-15")[0]["bloom"], "plant", "canola").clone();
    let by_table = canola();
    // The table's likely 50 days from 15 May, give or take the draws.
    let day = |bloom: &Value| date(bloom["first"]["likely"].as_str().unwrap());
    assert!((date("2026-07-03")..=date("2026-07-05")).contains(&day(&by_table)), "{by_table:#}");
    // Without its seeding a past year teaches nothing, and the note says why.
    outfit.json("bloom seen canola --yard N1 --first 2024-06-28 --on 2026-06-15");
    assert_eq!(canola(), by_table);
    let told = outfit.run(&["outlook", "N1", "--on", "2026-06-15", "--json"]);
    assert!(told.out.contains("BLM-103") && told.out.contains("the day of seeding is not known"), "{told}");
    // 44 days in 2024 and 2025: by eq. 2.10 of Gelman et al. 2013 the middle goes most of the way from 50 to 44.
    outfit.json("bloom seen canola --yard N1 --seeded 2024-05-15 --first 2024-06-28 --on 2026-06-15");
    outfit.json("bloom seen canola --yard N1 --seeded 2025-05-15 --first 2025-06-28 --full 2025-07-07 --on 2026-06-15");
    let learnt = canola();
    assert_eq!((&learnt["records"], &learnt["seen"]), (&2.into(), &Value::Null));
    assert!((date("2026-06-28")..=date("2026-06-30")).contains(&day(&learnt)), "{learnt:#}");
}

#[test]
fn bloom_that_cannot_be_is_refused_and_nothing_is_written() {
    let outfit = three_yards();
    let before = outfit.entries();
    for (words, codes) in [
        ("canole --yard N1 --first 2025-07-01", vec!["PLT-007"]),
        ("canola --yard N9 --first 2025-07-01", vec!["YRD-005"]),
        ("canola --group West --first 2025-07-01", vec!["BLM-005"]),
        ("canola --yard N1 --first 2026-06-16", vec!["BLM-006"]),
        ("canola --yard N1 --first 2025-07-09 --full 2025-07-01", vec!["BLM-006"]),
        ("canole --group West --full 2025-07-01 --first 2025-07-02", vec!["PLT-007", "BLM-005", "BLM-006"]),
    ] {
        let faults = outfit.faults(&format!("bloom seen {words} --on 2026-06-15"));
        assert_eq!(faults.iter().map(|fault| fault.code.as_str()).collect::<Vec<_>>(), codes, "{words}");
    }
    for words in
        [vec!["bloom", "seen", "canola", "--yard", "N1"], vec!["bloom", "seen", "canola", "--first", "2025-07-01"]]
    {
        assert_eq!(outfit.run(&words).code, 2, "{words:?}");
    }
    assert_eq!(outfit.entries(), before);
}
