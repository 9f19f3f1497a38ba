//! Every verb answers in JSON that can be read, and as a page of at most 100 columns.

use crate::common::{Outfit, date};
use crate::rain::mild_weather;

/// Six yards with the longest names an outfit may give.
fn wordy_outfit() -> Outfit {
    let settings = r#"
name = "The Quill Valley and Upper Ilver Honey and Pollination Company of the Northern Slopes, Old Branch"
jobs = "jobs.toml"
put_down_by = "single-down-blow"
[home]
latitude = 45.1
longitude = -93.9
zone = "America/Chicago"
[outlook]
members = 10
[[truck]]
name = "The red truck with the long deck"
deeps_empty = 120
payload_kg = 2300
[[crew]]
name = "The pair that always goes first-"
truck = "The red truck with the long deck"
leave = "06:00"
"#;
    let outfit = Outfit::of(&[("outfit.toml", settings), ("jobs.toml", "[worth]\nhoney_per_kg = 4.5\n")]);
    let mut yards =
        "yard,latitude,longitude,doubles,splits,singles,weak,queenless,forage,group,name,gate,wet_road,landowner\n"
            .to_owned();
    for yard in 1..=6 {
        yards.push_str(&format!(
            "Behind the old creamery road {yard:03},45.{:02},-93.8{yard},2{yard},{yard},3,2,1,white-clover:0.6;canola:0.4@2026-05-15,\
             The long northern slope over the river,Where the creamery stood before the great fire of the year {yard},\
             Three chains and a gate that must be lifted while it is pulled; the dog is called Bertram and bites those who run \
             away from it,yes,A widow and her two sons who want four jars and a telephone call before anybody drives in\n",
            10 + 3 * yard
        ));
    }
    outfit.put("yards.csv", yards);
    outfit.json("yards import yards.csv --on 2026-06-20");
    outfit.put("weather.csv", mild_weather(date("2026-07-02")));
    let words = [
        "weather",
        "import",
        "weather.csv",
        "--station",
        "On the roof of the agency, north",
        "--latitude",
        "45",
        "--longitude",
        "-93",
        "--on",
        "2026-07-03",
        "--json",
    ];
    outfit.run(&words).answer();
    let mut scale = "time,weight_kg\n".to_owned();
    for day in 1..=28 {
        for hour in 0..24 {
            let weight = 44.0 + 1.2 * f64::from(day) + 0.05 * f64::from(hour);
            scale.push_str(&format!("2026-06-{day:02} {hour:02}:00,{weight:.2}\n"));
        }
    }
    outfit.put("scale.csv", scale);
    let words = [
        "scale",
        "import",
        "scale.csv",
        "--scale",
        "Under the third hive from the left",
        "--yard",
        "Behind the old creamery road 001",
        "--json",
    ];
    assert_eq!(outfit.run(&words).faults()[0].code, "CLI-002", "a name of 34 letters is too long");
    let words = [
        "scale",
        "import",
        "scale.csv",
        "--scale",
        "Under the third hive on the left",
        "--yard",
        "Behind the old creamery road 001",
        "--on",
        "2026-07-03",
        "--json",
    ];
    outfit.run(&words).answer();
    outfit.json("gear count shed deep=900 excluder=900 third-hand-crate-of-oddments=12 --on 2026-07-01");
    outfit
}

#[test]
fn every_verb_answers_in_json_and_within_the_page() {
    let outfit = wordy_outfit();
    let yard = "Behind the old creamery road 001";
    let other = "Behind the old creamery road 002";
    outfit.put("nights.csv", "date,group,net_kg\n2026-07-01,The long northern slope over the river and beyond the hills where nobody goes,1.2\n2026-07-02,The long northern slope over the river and beyond the hills where nobody goes,-0.4\n");
    outfit.put("waiting.csv", format!("yard,colonies,gain_kg_per_day,free_boxes\n{yard},34,3.5,0.4\n{other},20,4.5,0.05\nBehind the old creamery road 003,20,1.5,0.05\n"));
    outfit.put("need.csv", "date,need,returns\n2026-07-17,96,0\n2026-07-18,9600,80\n2026-07-19,96,80\n");
    outfit.put(
        "tallies.csv",
        format!(
            "date,yard,job,double,note\n2026-07-01,{other},single-down-blow,20,{}\n",
            "words without end ".repeat(12)
        ),
    );
    let on = "2026-07-03";
    let truck = "The red truck with the long deck";
    // Each writes at most once: its page is taken first, its JSON after it.
    let verbs: Vec<Vec<&str>> = vec![
        vec![
            "new",
            "mine",
            "--name",
            "A name of an outfit that says a good deal more than it must and then some",
            "--latitude",
            "1",
            "--longitude",
            "1",
            "--zone",
            "UTC",
        ],
        vec!["yards"],
        vec!["yards", "import", "yards.csv", "--dry-run"],
        vec!["weather"],
        vec!["scale"],
        vec!["scale", "read", "scale.csv"],
        vec!["yard", yard],
        vec!["yard", yard, "--hands", "1", "--by", "single-down-search"],
        vec!["day", yard, other],
        vec!["outlook"],
        vec!["outlook", yard],
        vec!["outlook", "--yard", other],
        vec!["picture", yard, "season.svg"],
        vec!["fill", "--gain", "3", "--put-down", "2026-07-03"],
        vec!["first", "waiting.csv"],
        vec![
            "round",
            "--yards",
            "40",
            "--a-day",
            "6",
            "--from",
            "2026-07-03",
            "--rain",
            "2026-07-06..2026-07-08",
            "--gain",
            "3",
        ],
        vec!["sign", "--put-down", "2026-07-03", "--seen-on", "2026-07-08", "--seen", "above-eggs"],
        vec!["flow"],
        vec!["flow", "nights.csv"],
        vec!["bloom", "--seeded", "2026-05-15"],
        vec!["bloom", "white-clover", "--weather", "weather.csv"],
        vec!["jobs"],
        vec!["jobs", "single-down-search"],
        vec!["plants"],
        vec!["roads"],
        vec!["roads", "--from", "home", "--to", yard],
        vec!["gear"],
        vec!["gear", "ahead", "need.csv", "--stock", "100"],
        vec!["gear", "load", truck, "deep=101", "excluder=101"],
        vec![
            "tally",
            yard,
            "--done",
            "single-down-blow:double=21",
            "--boxes-on",
            "deep=31",
            "--put",
            "excluder=30",
            "--truck",
            truck,
            "--odd",
            "dead=1",
            "--full",
            "60",
            "--minutes",
            "150",
            "--hands",
            "2",
            "--note",
            "a swarm in the lilac",
        ],
        vec![
            "tally",
            yard,
            "--done",
            "single-down-blow:double=21",
            "--boxes-on",
            "deep=30",
            "--put",
            "excluder=30",
            "--truck",
            truck,
            "--device",
            "the phone",
        ],
        vec!["tally", other, "--done", "egg-test:single=5", "--entry", "019f0000-0000-7000-8000-000000000007"],
        vec!["tally", "--file", "tallies.csv"],
        vec!["gear"],
        vec!["gear", "home", truck, "deep=61", "excluder=20"],
        vec!["gear", "where"],
        vec!["settle", yard],
        vec!["gear", "move", "shed", "lent:The neighbours over the long hill", "deep=8"],
        vec!["gear", "buy", "deep=80"],
        vec!["book"],
        vec!["book", "list", "--yard", yard],
        vec!["book", "out", "all.jsonl"],
        vec!["book", "in", "all.jsonl"],
        vec!["morning", "--care", "quick", "--days", "3"],
        vec!["runs", "--care", "quick", "--days", "3"],
        vec!["runs", "--care", "quick", "--days", "2", "--why", yard, "--worth"],
        vec!["replan", "--rain", "2026-07-04", "--care", "quick", "--days", "3"],
        vec!["replan", "--crew-home", "The pair that always goes first-@2026-07-04", "--care", "quick", "--days", "3"],
        vec!["sheets", "--care", "quick", "--days", "3"],
        vec!["gear", "ahead"],
    ];
    for verb in verbs {
        let page: Vec<&str> = verb.iter().copied().chain(["--on", on]).collect();
        let told = outfit.run(&page);
        told.keeps_its_width();
        assert!(!told.out.contains("NaN") && !told.out.contains("inf "), "{told}");
        let is_minus_nothing = |word: &str| word.starts_with("-0") && word.chars().all(|sign| "-0.".contains(sign));
        assert!(!told.out.split_whitespace().any(is_minus_nothing), "{told}");
        // What can be done but once is asked of another folder, or has nothing left to do.
        let json: Vec<&str> =
            page.iter().map(|word| if *word == "mine" { "mine-too" } else { *word }).chain(["--json"]).collect();
        let again = outfit.run(&json);
        if verb[0] == "settle" {
            assert!(again.code == 0 || again.faults()[0].code == "STL-001", "{again}");
            continue;
        }
        let answer = again.answer();
        assert!(answer.is_object() || answer.is_array(), "{again}");
    }
    let sheets = outfit.path("sheets");
    let pages = std::fs::read_dir(&sheets).unwrap().count();
    assert!(pages >= 2, "an index and a run at least");
    for page in std::fs::read_dir(&sheets).unwrap() {
        let page = page.unwrap().path();
        assert_eq!(page.extension().unwrap(), "html");
        let text = std::fs::read_to_string(&page).unwrap();
        assert!(text.starts_with("<!doctype html>") && text.contains("</html>"), "{}", page.display());
    }
}

#[test]
fn the_demo_answers_within_the_page() {
    let outfit = Outfit::of(&[]);
    let made = outfit.json("demo demo --on 2026-07-03");
    assert!(made["yards"].as_u64().unwrap() >= 30 && made["entries"].as_u64().unwrap() > 100, "{made}");
    assert_eq!(outfit.faults("demo demo --on 2026-07-03")[0].code, "CLI-005");
    outfit.page("demo demo --again --on 2026-07-03");
    for verb in ["yards", "weather", "scale", "flow", "bloom", "outlook", "gear", "book", "jobs", "plants"] {
        let words = ["--outfit", "demo", "--on", "2026-07-03", verb];
        outfit.run(&words).keeps_its_width();
        let json: Vec<&str> = words.into_iter().chain(["--json"]).collect();
        let answer = outfit.run(&json).answer();
        assert!(answer.as_array().is_some_and(|all| !all.is_empty()) || answer.is_object(), "{verb}");
    }
    let words = ["--outfit", "demo", "--on", "2026-07-03", "morning", "--care", "quick", "--days", "3"];
    let morning = outfit.run(&words);
    morning.keeps_its_width();
    for heading in ["Flow: ", "Go or not today", "CREW ", "Load: ", "Why ", "Mind today"] {
        assert!(morning.out.contains(heading), "no \"{heading}\"\n{morning}");
    }
}
