//! Whatever a file holds, the program says what is wrong, where and what to do about it, and writes nothing.

use std::fs::{self, File};
use std::time::{Duration, Instant};

use crate::common::{Fault, Outfit, RATES, SETTINGS, Told};

const SETTINGS_WITH_ALL: &str = r#"
name = "Quill Valley Bees"
jobs = "jobs.toml"
plants = "plants.toml"
put_down_by = "single-down-blow"
yards_per_run_max = 4
[home]
latitude = 45.1
longitude = -93.9
elevation_m = 310
zone = "America/Chicago"
[roads]
detour = 1.3
speed_km_per_h = 60
drives = "drives.csv"
[flow]
threshold_kg_per_day = 1.0
days_running = 2
[outlook]
members = 10
days = 30
plan_days = 3
seed = 4
[[truck]]
name = "Red"
deeps_empty = 120
payload_kg = 2300
[[crew]]
name = "Pair-one"
truck = "Red"
hands = 2
leave = "06:00"
shift_min = 600
longest_min = 720
lunch_min = 30
lunch_within_min = 360
days_off = ["sunday"]
overtime_extra_share = 0.5
"#;

const PLANTS: &str = r#"[[plant]]
code = "buckwheat-early"
name = "buckwheat, early"
source = "own notes"
strength_kg_per_day = [0.5, 1.5, 3.0]
strength_source = "assumed"
[plant.seeding]
first_flower_days = [35.0, 40.0, 45.0]
full_after_days = [5.0, 7.0, 9.0]
bloom_days = [20.0, 25.0, 30.0]
[[plant]]
code = "own-clover"
name = "own clover"
source = "own notes"
strength_kg_per_day = [0.5, 1.5, 3.0]
strength_source = "assumed"
[plant.heat]
method = "single-sine"
base = 5.0
start = "01-01"
first_bloom = [500.0, 550.0, 600.0]
full_after_days = [5.0, 7.0, 9.0]
bloom_days = [20.0, 25.0, 30.0]
"#;

/// A file the program reads, the words that make it do so, and a text of it that is good.
struct Kind {
    file: &'static str,
    words: &'static str,
    good: &'static str,
}

const YARDS: Kind = Kind {
    file: "new.csv",
    words: "yards import new.csv --on 2026-07-03",
    good: "yard,latitude,longitude\n21,45.3,-93.7\n",
};
const WEATHER: Kind = Kind {
    file: "station.csv",
    words: "weather import station.csv --station S --latitude 45 --longitude -93 --on 2026-07-03",
    good: "date,low_c,high_c\n2026-06-01,9,21\n",
};
const SUMMED_WEATHER: Kind = Kind {
    file: "station.csv",
    words: "bloom red-maple --weather station.csv",
    good: "date,low_c,high_c\n2026-01-01,-9,2\n",
};
const SCALE: Kind = Kind {
    file: "scale.csv",
    words: "scale import scale.csv --scale S --yard 7 --on 2026-07-03",
    good: "time,weight_kg\n2026-06-01 05:40,44.2\n",
};
const SCALE_READ: Kind =
    Kind { file: "scale.csv", words: "scale read scale.csv", good: "time,weight_kg\n2026-06-01 05:40,44.2\n" };
const DRIVES: Kind =
    Kind { file: "drives.csv", words: "day 7 8 --on 2026-07-03", good: "from,to,minutes\nhome,7,25\n" };
const NIGHTS: Kind =
    Kind { file: "nights.csv", words: "flow nights.csv", good: "date,group,net_kg\n2026-07-01,N,1.2\n" };
const WAITING: Kind = Kind {
    file: "waiting.csv",
    words: "first waiting.csv",
    good: "yard,colonies,gain_kg_per_day,free_boxes\nN,34,3.5,0.4\n",
};
const NEED: Kind =
    Kind { file: "need.csv", words: "gear ahead need.csv --stock 5", good: "date,need,returns\n2026-07-17,96,0\n" };
const TALLIES: Kind = Kind {
    file: "tallies.csv",
    words: "tally --file tallies.csv --on 2026-07-05",
    good: "date,yard,job\n2026-07-03,7,add-boxes\n",
};
const ENTRIES: Kind = Kind { file: "entries.jsonl", words: "book in entries.jsonl", good: "" };
const OUTFIT: Kind = Kind { file: "outfit.toml", words: "yards", good: SETTINGS_WITH_ALL };
const JOBS: Kind = Kind { file: "jobs.toml", words: "jobs", good: RATES };
const PLANT_TABLE: Kind = Kind { file: "plants.toml", words: "plants", good: PLANTS };

const TABLES: [&Kind; 10] =
    [&YARDS, &WEATHER, &SUMMED_WEATHER, &SCALE, &SCALE_READ, &DRIVES, &NIGHTS, &WAITING, &NEED, &TALLIES];
const SETTING_FILES: [&Kind; 3] = [&OUTFIT, &JOBS, &PLANT_TABLE];

fn outfit() -> Outfit {
    let outfit = Outfit::of(&[
        ("outfit.toml", SETTINGS_WITH_ALL),
        ("jobs.toml", RATES),
        ("plants.toml", PLANTS),
        ("drives.csv", DRIVES.good),
    ]);
    outfit.keep_yards(&[("7", 26, 6), ("8", 10, 4)]);
    outfit
}

/// Runs a kind's words with its file as the test left it; nothing may be written and no file be left or lost.
fn refused(outfit: &Outfit, kind: &Kind, entries: usize, told: impl FnOnce() -> Told) -> Vec<Fault> {
    let before = outfit.listing();
    let faults = told().faults();
    assert_eq!(outfit.listing(), before, "{}: {faults:?}", kind.words);
    // The outfit's own files must be whole again for its book to be looked at.
    let path = outfit.path(kind.file);
    if path.is_dir() {
        fs::remove_dir(&path).unwrap();
    }
    let lasting = [SETTING_FILES.as_slice(), &[&DRIVES]].concat();
    match lasting.iter().find(|lasting| lasting.file == kind.file) {
        Some(lasting) => outfit.put(lasting.file, lasting.good),
        None => drop(fs::remove_file(&path)),
    }
    assert_eq!(outfit.entries(), entries, "{} wrote: {faults:?}", kind.words);
    faults
}

fn words_of(kind: &Kind) -> Vec<&'static str> {
    kind.words.split_whitespace().chain(["--json"]).collect()
}

/// A column, what stands in it, and the code that refuses it.
type BadCell = (&'static str, &'static str, &'static str);

/// The table with one cell of its first row changed, or a column more.
fn with_cell(good: &str, column: &str, value: &str) -> String {
    let mut lines = good.lines();
    let mut names: Vec<&str> = lines.next().unwrap().split(',').collect();
    let mut cells: Vec<&str> = lines.next().unwrap().split(',').collect();
    if let Some(at) = names.iter().position(|name| *name == column) {
        cells[at] = value;
    } else {
        names.push(column);
        cells.push(value);
    }
    format!("{}\n{}\n", names.join(","), cells.join(","))
}

#[test]
fn the_good_files_are_taken() {
    // Were they not, every refusal below would prove nothing.
    for kind in TABLES.into_iter().chain(SETTING_FILES) {
        let outfit = outfit();
        outfit.put(kind.file, kind.good);
        outfit.json(kind.words);
    }
}

#[test]
fn every_column_of_every_table_is_checked() {
    let cases: [(&Kind, &[BadCell]); 10] = [
        (
            &YARDS,
            &[
                ("yard", "", "TAB-007"),
                ("yard", "a name that is far too long for a run sheet", "YRD-001"),
                ("latitude", "", "TAB-007"),
                ("latitude", "45.3 N", "TAB-008"),
                ("latitude", "145", "PLC-001"),
                ("longitude", "", "TAB-007"),
                ("longitude", "west", "TAB-008"),
                ("elevation_m", "high", "TAB-008"),
                ("elevation_m", "9999", "TAB-010"),
                ("doubles", "-1", "TAB-009"),
                ("doubles", "2001", "TAB-010"),
                ("singles", "1.5", "TAB-009"),
                ("splits", "six", "TAB-009"),
                ("weak", "-2", "TAB-009"),
                ("queenless", "1e3", "TAB-009"),
                ("counted_on", "2026-02-30", "DAT-001"),
                ("counted_on", "1 July", "DAT-001"),
                ("counted_on", "2026-07-04", "YRD-006"),
                ("forage", "white-clover:much", "YRD-003"),
                ("forage", "white-clover:1.5", "YRD-003"),
                ("forage", "canola:0.4@2026-05-32", "DAT-001"),
                ("forage", "moon-clover:0.4", "PLT-007"),
                ("wet_road", "perhaps", "YRD-004"),
            ],
        ),
        (
            &WEATHER,
            &[
                ("date", "", "TAB-007"),
                ("date", "2026-06-31", "DAT-001"),
                ("date", "06/01/2026", "DAT-001"),
                ("low_c", "cold", "TAB-008"),
                ("low_c", "-95", "WTH-004"),
                ("low_c", "22", "WTH-003"),
                ("high_c", "86", "WTH-004"),
                ("rain_mm", "-1", "WTH-004"),
                ("rain_in", "wet", "TAB-008"),
                ("wind_km_per_h", "-3", "WTH-004"),
                ("wind_m_per_s", "900", "WTH-004"),
                ("wind_km_per_day", "99999", "WTH-004"),
                ("wind_mi_per_h", "calm", "TAB-008"),
                ("sun_mj_per_m2", "300", "WTH-004"),
            ],
        ),
        (&SUMMED_WEATHER, &[("date", "2026-13-01", "DAT-001"), ("low_c", "x", "TAB-008"), ("high_c", "99", "WTH-004")]),
        (
            &SCALE,
            &[
                ("time", "", "TAB-007"),
                ("time", "2026-06-01", "SCL-002"),
                ("time", "2026-06-01 25:00", "SCL-002"),
                ("weight_kg", "heavy", "TAB-008"),
                ("weight_kg", "44200", "SCL-003"),
                ("weight_kg", "", "SCL-004"),
            ],
        ),
        (&SCALE_READ, &[("time", "yesterday", "SCL-002"), ("weight_kg", "1e9", "SCL-003")]),
        (
            &DRIVES,
            &[
                ("from", "", "TAB-007"),
                ("from", "7", "DRV-001"),
                ("to", "a name that is far too long for a run sheet", "YRD-001"),
                ("minutes", "", "TAB-007"),
                ("minutes", "25 min", "TAB-008"),
                ("minutes", "-25", "TAB-010"),
                ("minutes", "1441", "TAB-010"),
                ("km", "far", "TAB-008"),
                ("km", "-3", "TAB-010"),
            ],
        ),
        (
            &NIGHTS,
            &[
                ("date", "2026-07-32", "DAT-001"),
                ("group", "", "TAB-007"),
                ("net_kg", "", "TAB-007"),
                ("net_kg", "1.2 kg", "TAB-008"),
                ("net_kg", "1200", "NGT-002"),
            ],
        ),
        (
            &WAITING,
            &[
                ("yard", "", "TAB-007"),
                ("colonies", "-34", "TAB-009"),
                ("colonies", "34.5", "TAB-009"),
                ("gain_kg_per_day", "fast", "TAB-008"),
                ("gain_kg_per_day", "3500", "TAB-010"),
                ("free_boxes", "-0.4", "TAB-010"),
                ("free_boxes", "", "TAB-007"),
            ],
        ),
        (
            &NEED,
            &[
                ("date", "July", "DAT-001"),
                ("need", "-96", "TAB-009"),
                ("need", "", "TAB-007"),
                ("returns", "some", "TAB-009"),
            ],
        ),
        (
            &TALLIES,
            &[
                ("date", "2026-07-00", "DAT-001"),
                ("yard", "", "TAB-007"),
                ("job", "dance", "TRD-010"),
                ("double", "-1", "TAB-009"),
                ("double", "2001", "TLY-002"),
                ("single", "x", "TAB-009"),
                ("split", "1.5", "TAB-009"),
                ("weak", "-3", "TAB-009"),
                ("queenless", "many", "TAB-009"),
                ("boxes_on", "-3", "TAB-009"),
                ("boxes_off", "x", "TAB-009"),
                ("boxes_left", "0.5", "TAB-009"),
                ("excluders_on", "-1", "TAB-009"),
                ("excluders_off", "x", "TAB-009"),
                ("full_percent", "101", "TAB-010"),
                ("minutes", "1441", "TAB-010"),
                ("hands", "0", "TAB-010"),
                ("truck", "a truck with a name that is far too long", "TLY-005"),
            ],
        ),
    ];
    let outfit = outfit();
    let entries = outfit.entries();
    for (kind, cells) in cases {
        for (column, value, code) in cells {
            outfit.put(kind.file, with_cell(kind.good, column, value));
            let faults = refused(&outfit, kind, entries, || outfit.run(&words_of(kind)));
            assert_eq!((faults.len(), faults[0].code.as_str()), (1, *code), "{column} = {value}: {faults:?}");
            assert!(faults[0].file.as_ref().unwrap().ends_with(kind.file), "{faults:?}");
            // A column of the whole file is told at its header, an empty one at the file.
            let line = if code.starts_with("SCL-00") && *code != "SCL-002" { 1 } else { 2 };
            assert_eq!(faults[0].line, Some(line), "{column} = {value}: {faults:?}");
            if *code != "SCL-004" {
                assert!(
                    faults[0].column.as_deref() == Some(*column) || code == &"DRV-001" || code == &"PLC-001",
                    "{faults:?}"
                );
            }
        }
        // A column that is needed and not there.
        let header = kind.good.lines().next().unwrap();
        for column in header.split(',').filter(|column| *column != "returns") {
            outfit.put(kind.file, kind.good.replacen(column, "other", 1));
            let faults = refused(&outfit, kind, entries, || outfit.run(&words_of(kind)));
            let wanted = match column {
                "weight_kg" => "SCL-001",
                "low_c" | "high_c" => "WTH-001",
                _ => "TAB-002",
            };
            assert_eq!(faults[0].code, wanted, "{column}: {faults:?}");
            assert_eq!(faults[0].line, Some(1), "{faults:?}");
        }
        // The shape of the table.
        let row = kind.good.lines().nth(1).unwrap();
        for (text, code) in [
            (format!("{header}\n"), "TAB-005"),
            (format!("{header}\n{row},9\n"), "TAB-004"),
            (format!("{header},{}\n{row},9\n", header.split(',').next().unwrap()), "TAB-003"),
        ] {
            outfit.put(kind.file, &text);
            let faults = refused(&outfit, kind, entries, || outfit.run(&words_of(kind)));
            assert_eq!(faults[0].code, code, "{text}");
        }
    }
}

#[test]
fn what_stands_twice_or_fits_nothing_is_told_with_its_row() {
    let outfit = outfit();
    let entries = outfit.entries();
    for (kind, row, code, line) in [
        (&YARDS, "21,45.4,-93.6", "YRD-002", 3),
        (&WEATHER, "2026-06-01,8,20", "WTH-002", 3),
        (&DRIVES, "home,7,26", "DRV-002", 3),
        (&NIGHTS, "2026-07-01,N,1.3", "NGT-001", 3),
        (&WAITING, "N,20,1,1", "FST-002", 3),
        (&NEED, "2026-07-17,96,0", "STK-001", 3),
        (&NEED, "2026-07-19,96,0", "STK-001", 3),
        (&TALLIES, "2026-07-03,7,add-boxes", "TLY-008", 3),
        (&TALLIES, "2026-07-03,77,add-boxes", "YRD-005", 3),
        (&TALLIES, "2026-07-06,8,add-boxes", "TLY-006", 3),
    ] {
        outfit.put(kind.file, format!("{}{row}\n", kind.good));
        let faults = refused(&outfit, kind, entries, || outfit.run(&words_of(kind)));
        assert_eq!((faults.len(), faults[0].code.as_str()), (1, code), "{faults:?}");
        assert_eq!(faults[0].line, Some(line), "{faults:?}");
    }
    for (cells, code) in [
        ("truck\n2026-07-03,7,add-boxes,Blue", "TLY-005"),
        ("double\n2026-07-03,7,add-boxes,99", "TLY-004"),
        ("weak\n2026-07-03,7,add-boxes,1", "TLY-004"),
    ] {
        outfit.put(TALLIES.file, format!("date,yard,job,{cells}\n"));
        let faults = refused(&outfit, &TALLIES, entries, || outfit.run(&words_of(&TALLIES)));
        assert_eq!((faults[0].code.as_str(), faults[0].line), (code, Some(2)), "{faults:?}");
    }
    let rows: Vec<String> = (0..15).map(|at| format!("Y{at},20,1,1")).collect();
    outfit.put(WAITING.file, format!("yard,colonies,gain_kg_per_day,free_boxes\n{}\n", rows.join("\n")));
    assert_eq!(refused(&outfit, &WAITING, entries, || outfit.run(&words_of(&WAITING)))[0].code, "FST-001");
    // One fault in one of many rows: none of the rows is taken.
    let rows: Vec<String> =
        (30..60).map(|yard| format!("{yard},45.3,-93.7,{}", if yard == 44 { "-1" } else { "20" })).collect();
    outfit.put(YARDS.file, format!("yard,latitude,longitude,doubles\n{}\n", rows.join("\n")));
    let faults = refused(&outfit, &YARDS, entries, || outfit.run(&words_of(&YARDS)));
    assert_eq!((faults.len(), faults[0].line), (1, Some(16)), "{faults:?}");
    // All faults are told at once.
    outfit.put(YARDS.file, "yard,latitude,longitude,doubles\n,95,x,-1\n22,95,10,-1\n");
    assert_eq!(refused(&outfit, &YARDS, entries, || outfit.run(&words_of(&YARDS))).len(), 5);
    for (words, code) in
        [("yards import new.csv --column dance=x", "TAB-006"), ("yards import new.csv --column yard", "TAB-001")]
    {
        outfit.put(YARDS.file, YARDS.good);
        assert_eq!(outfit.faults(words)[0].code, code);
    }
    assert_eq!(outfit.entries(), entries);
}

#[test]
fn every_word_of_the_settings_is_checked() {
    let outfit = outfit();
    let entries = outfit.entries();
    let check = |kind: &Kind, text: String, code: &str, line: Option<usize>| {
        outfit.put(kind.file, &text);
        let faults = refused(&outfit, kind, entries, || outfit.run(&words_of(kind)));
        assert_eq!(faults[0].code, code, "{faults:?}\n{text}");
        if let Some(line) = line {
            assert_eq!(faults[0].line, Some(line as u64), "{faults:?}\n{text}");
            assert!(faults[0].column.is_some() && faults[0].file.as_ref().unwrap().ends_with(kind.file), "{faults:?}");
        }
    };
    for (from, to, code) in [
        ("name = \"Quill Valley Bees\"", "name = \"\"", "SET-002"),
        ("name = \"Quill Valley Bees\"", "name = 3", "SET-001"),
        ("put_down_by = \"single-down-blow\"", "put_down_by = \"\"", "SET-002"),
        ("yards_per_run_max = 4", "yards_per_run_max = 99", "SET-002"),
        ("yards_per_run_max = 4", "yards_per_run_max = -4", "SET-001"),
        ("latitude = 45.1", "latitude = 91.0", "PLC-001"),
        ("longitude = -93.9", "longitude = \"west\"", "SET-001"),
        ("elevation_m = 310", "elevation_m = 9000", "SET-002"),
        ("zone = \"America/Chicago\"", "zone = \"America/Nowhere\"", "SET-003"),
        ("detour = 1.3", "detour = 0.5", "SET-002"),
        ("speed_km_per_h = 60", "speed_km_per_h = 600", "SET-002"),
        ("drives = \"drives.csv\"", "drives = 7", "SET-001"),
        ("threshold_kg_per_day = 1.0", "threshold_kg_per_day = 0", "SET-002"),
        ("days_running = 2", "days_running = 0", "SET-002"),
        ("members = 10", "members = 1", "SET-002"),
        ("days = 30", "days = 3000", "SET-002"),
        ("plan_days = 3", "plan_days = 0", "SET-002"),
        ("seed = 4", "seed = -4", "SET-001"),
        ("deeps_empty = 120", "deeps_empty = 0", "SET-002"),
        ("payload_kg = 2300", "payload_kg = -1", "SET-002"),
        ("payload_kg = 2300", "payload_kg = nan", "SET-002"),
        ("hands = 2", "hands = 0", "SET-002"),
        ("leave = \"06:00\"", "leave = \"6.00\"", "SET-006"),
        ("leave = \"06:00\"", "leave = \"25:00\"", "SET-006"),
        ("shift_min = 600", "shift_min = 6", "SET-002"),
        ("longest_min = 720", "longest_min = 500", "SET-002"),
        ("lunch_min = 30", "lunch_min = 300", "SET-002"),
        ("lunch_within_min = 360", "lunch_within_min = 1", "SET-002"),
        ("days_off = [\"sunday\"]", "days_off = [\"someday\"]", "SET-006"),
        ("overtime_extra_share = 0.5", "overtime_extra_share = -0.5", "SET-002"),
        ("truck = \"Red\"", "truck = \"Blue\"", "SET-004"),
        ("[[truck]]", "[[lorry]]", "SET-001"),
        ("[outlook]", "[outlook", "SET-001"),
        ("seed = 4", "seed = 4\nseed = 5", "SET-001"),
    ] {
        assert!(SETTINGS_WITH_ALL.contains(from), "{from}");
        let before = SETTINGS_WITH_ALL.split(from).next().unwrap();
        let line = before.matches('\n').count() + 1 + usize::from(to.contains('\n'));
        check(&OUTFIT, SETTINGS_WITH_ALL.replace(from, to), code, Some(line));
    }
    for needed in ["name = \"Quill", "latitude", "longitude", "zone", "deeps_empty", "payload_kg", "truck = "] {
        let text: Vec<&str> = SETTINGS_WITH_ALL.lines().filter(|line| !line.starts_with(needed)).collect();
        check(&OUTFIT, text.join("\n"), "SET-001", None);
    }
    let twice = "[[truck]]\nname = \"Red\"\ndeeps_empty = 9\npayload_kg = 900\n";
    check(&OUTFIT, format!("{SETTINGS_WITH_ALL}{twice}"), "SET-004", None);
    check(&OUTFIT, SETTINGS_WITH_ALL.split("[[truck]]").next().unwrap().to_owned(), "SET-005", None);

    for (text, code) in [
        ("[visit]\nsetup_pair_minutes = \"long\"", "TRD-004"),
        ("[visit]\nsetup_pair_minutes = -1", "TRD-005"),
        ("[visit]\nthird_hand_saves_share = 1.5", "TRD-005"),
        ("[visit]\none_hand_takes_times = 0", "TRD-005"),
        ("[visit]\nspare_share = 5", "TRD-005"),
        ("[visit]\nalways_on_truck = [3]", "TRD-004"),
        ("[visit]\nset_up = 3", "TRD-002"),
        ("[worth]\nhoney_per_kg = -5", "TRD-005"),
        ("[worth]\nwage_per_hour = true", "TRD-004"),
        ("[worth]\nroad_per_km = -1", "TRD-005"),
        ("[worth]\nlost_once_full_share = 6", "TRD-005"),
        ("[worth]\nlate_put_down_kg_per_day = 60", "TRD-005"),
        ("[worth]\nlate_brood_lift_kg_per_day = -1", "TRD-005"),
        ("[worth]\nswarm_kg = 3000", "TRD-005"),
        ("[worth]\nlate_queen_kg = -1", "TRD-005"),
        ("[worth]\nwinter_loss = -1", "TRD-005"),
        ("[worth]\nsplit_not_made_kg = 900", "TRD-005"),
        ("[worth]\nbox_price = nan", "TRD-005"),
        ("[worth]\nfull_deep_kg = 400", "TRD-005"),
        ("[gear.third]\nweight_kg = -9", "TRD-005"),
        ("[gear.third]\nbox_places = 900", "TRD-005"),
        ("[gear.third]\ntakes_spare = 1", "TRD-004"),
        ("[gear.third]\ncounts_as = 3", "TRD-004"),
        ("[gear.third]\nholds_deeps = 9", "TRD-005"),
        ("[gear.third]\nsaid = \"\"", "TRD-009"),
        ("[gear.half]\nsaid = \"halves\"", "TRD-003"),
        ("[gates.blow]\nfrom = \"9\"", "TRD-007"),
        ("[gates.blow]\nto = \"24:30\"", "TRD-007"),
        ("[gates.blow]\nmin_temp_c = 36", "TRD-005"),
        ("[gates.blow]\nmax_temp_c = 95", "TRD-005"),
        ("[gates.blow]\nmax_wind_kmh = -1", "TRD-005"),
        ("[gates.blow]\ndry_for_h = 99", "TRD-005"),
        ("[gates.blow]\nmin_radiation_w_per_m2 = -1", "TRD-005"),
        ("[gates.blow]\nmin_gain_yesterday_kg = 50", "TRD-005"),
        ("[gates.blow]\nlabel_decides = \"yes\"", "TRD-004"),
        ("[jobs.pull]\npair_minutes = { double = -3 }", "TRD-005"),
        ("[jobs.pull]\nkinds = [\"hive\"]", "TRD-006"),
        ("[jobs.pull]\nkinds = [\"weak\"]", "TRD-008"),
        ("[jobs.pull]\ngate = \"none\"", "TRD-006"),
        ("[jobs.pull]\nstarts = [\"noon\"]", "TRD-006"),
        ("[jobs.pull]\nsample_hives = 0", "TRD-005"),
        ("[jobs.pull]\nfails_share = 2", "TRD-005"),
        ("[jobs.pull]\nseason = { from = \"02-31\", to = \"08-20\" }", "TRD-007"),
        ("[jobs.pull]\ngear_out.box = { per = \"hive\", count = 1 }", "TRD-006"),
        ("[jobs.pull]\ngear_out.box = { per = \"colony\", count = -1 }", "TRD-005"),
        ("[jobs.pull]\ngear_out.rope = { per = \"colony\", count = 1 }", "TRD-006"),
        ("[jobs.pull]\nfalls_back = { job = \"dance\", share = 0.5 }", "TRD-006"),
        ("[jobs.pull]\ncautions = [\"\"]", "TRD-006"),
        ("[jobs.new]\nname = \"new\"", "TRD-003"),
        ("visit = 3", "TRD-004"),
        ("[visit", "TRD-001"),
        ("[clocks]\negg_test = 3", "TRD-002"),
    ] {
        check(&JOBS, format!("# own\n{text}\n"), code, None);
        outfit.put(JOBS.file, format!("# own\n{text}\n"));
        let faults = refused(&outfit, &JOBS, entries, || outfit.run(&words_of(&JOBS)));
        assert!(faults.iter().all(|fault| fault.line.is_some() && fault.file.is_some()), "{faults:?}\n{text}");
    }

    for (from, to, code) in [
        ("code = \"own-clover\"", "code = \"Own clover\"", "PLT-001"),
        ("code = \"own-clover\"", "code = \"buckwheat-early\"", "PLT-003"),
        ("code = \"own-clover\"", "", "PLT-002"),
        ("name = \"own clover\"", "name = 3", "PLT-002"),
        ("name = \"own clover\"\nsource = \"own notes\"", "name = \"own clover\"", "PLT-002"),
        ("strength_source = \"assumed\"\n[plant.heat]", "[plant.heat]", "PLT-002"),
        ("strength_kg_per_day = [0.5, 1.5, 3.0]", "strength_kg_per_day = [3.0, 1.5, 0.5]", "PLT-004"),
        ("strength_kg_per_day = [0.5, 1.5, 3.0]", "strength_kg_per_day = [0.5, 1.5, 300.0]", "PLT-004"),
        ("strength_kg_per_day = [0.5, 1.5, 3.0]", "strength_kg_per_day = [0.5, 1.5]", "PLT-002"),
        ("first_flower_days = [35.0, 40.0, 45.0]", "first_flower_days = [0.0, 40.0, 45.0]", "PLT-004"),
        ("full_after_days = [5.0, 7.0, 9.0]", "full_after_days = [-5.0, 7.0, 9.0]", "PLT-004"),
        ("bloom_days = [20.0, 25.0, 30.0]", "bloom_days = [20.0, 25.0, 300.0]", "PLT-004"),
        ("bloom_days = [20.0, 25.0, 30.0]", "bloom_days = [2.0, 2.0, 3.0]", "PLT-006"),
        ("method = \"single-sine\"", "method = \"guess\"", "PLT-005"),
        ("base = 5.0", "base = 500.0", "PLT-005"),
        ("base = 5.0", "base = 5.0\nupper = 4.0", "PLT-005"),
        ("base = 5.0", "base = \"five\"", "PLT-002"),
        ("base = 5.0", "base = 5.0\ndegrees = \"K\"", "PLT-002"),
        ("start = \"01-01\"", "start = \"02-31\"", "PLT-005"),
        ("first_bloom = [500.0, 550.0, 600.0]", "first_bloom = [500.0, 550.0, 60000.0]", "PLT-004"),
        ("[plant.heat]", "[plant.cold]", "PLT-002"),
        ("[[plant]]", "[plant]", "PLT-002"),
    ] {
        assert!(PLANTS.contains(from), "{from}");
        check(&PLANT_TABLE, PLANTS.replacen(from, to, 1), code, None);
    }
}

#[test]
fn a_file_that_is_no_text_of_its_kind_is_refused_whole() {
    let outfit = outfit();
    let entries = outfit.entries();
    for kind in TABLES.into_iter().chain(SETTING_FILES).chain([&ENTRIES]) {
        let path = outfit.path(kind.file);
        let check = |codes: &[&str], line: Option<u64>, make: &dyn Fn()| {
            drop(fs::remove_file(&path));
            make();
            let started = Instant::now();
            let faults = refused(&outfit, kind, entries, || limited(&outfit, kind));
            assert!(started.elapsed() < Duration::from_secs(10), "{}: {faults:?}", kind.words);
            assert!(faults.len() == 1 && codes.contains(&faults[0].code.as_str()), "{}: {faults:?}", kind.words);
            assert!(faults[0].file.as_ref().is_none_or(|file| file.ends_with(kind.file)), "{faults:?}");
            if line.is_some() {
                assert_eq!(faults[0].line, line, "{}: {faults:?}", kind.words);
            }
        };
        check(&["FIL-001", "CLI-003"], None, &|| ());
        check(&["FIL-001"], None, &|| fs::create_dir(&path).unwrap());
        check(&["FIL-002"], None, &|| outfit.put(kind.file, ""));
        check(&["FIL-002"], None, &|| outfit.put(kind.file, "\u{feff} \r\n\n"));
        check(&["FIL-005"], Some(2), &|| outfit.put(kind.file, b"# a table\ngr\xfcn,1\n"));
        check(&["FIL-003"], Some(2), &|| outfit.put(kind.file, format!("# a line\n{}", "x,".repeat(600_000))));
        check(&["FIL-006"], Some(1), &|| outfit.put(kind.file, b"PK\x03\x04\x00\x00"));
        // A gigabyte in one line, of which the disk holds nothing.
        check(&["FIL-003", "FIL-006"], Some(1), &|| File::create(&path).unwrap().set_len(1 << 30).unwrap());
    }
}

/// Runs a kind's words with half a gigabyte of memory at most.
fn limited(outfit: &Outfit, kind: &Kind) -> Told {
    let words = words_of(kind);
    if cfg!(unix) {
        let mut shell = std::process::Command::new("sh");
        shell.args(["-c", "ulimit -v 500000; exec \"$0\" \"$@\"", env!("CARGO_BIN_EXE_outyard")]);
        let output = shell.args(&words).current_dir(outfit.path("")).env_remove("OUTYARD_OUTFIT").output().unwrap();
        return Told::of(&words, &output);
    }
    outfit.run(&words)
}

#[test]
fn entries_that_are_no_entries_are_refused_whole() {
    let outfit = outfit();
    outfit.json("tally 7 --done add-boxes:double=3 --on 2026-07-03");
    outfit.json("book out all.jsonl");
    let entries = outfit.entries();
    let good = fs::read_to_string(outfit.path("all.jsonl")).unwrap();
    let last = good.lines().count() as u64;
    let one = good.lines().last().unwrap();
    for (line, code) in [
        (one[..one.len() / 2].to_owned(), "BOK-103"),
        ("yard,latitude".to_owned(), "BOK-103"),
        ("[]".to_owned(), "BOK-104"),
        (one.replace("2026-07-03", "2026-02-30"), "BOK-104"),
    ] {
        outfit.put("bad.jsonl", format!("{good}{line}\n"));
        let faults = outfit.faults("book in bad.jsonl");
        assert_eq!((faults[0].code.as_str(), faults[0].line), (code, Some(last + 1)), "{line}: {faults:?}");
        assert_eq!(outfit.entries(), entries);
    }
    let other = Outfit::of(&[("outfit.toml", SETTINGS), ("jobs.toml", RATES)]);
    other.put("bad.jsonl", format!("{good}nonsense\n"));
    other.faults("book in bad.jsonl");
    assert_eq!(other.entries(), 0, "not one of the good lines before the bad one was taken");
    // A changed line under a name that is in the book.
    outfit.put("changed.jsonl", one.replace("\"office\"", "\"elsewhere\""));
    assert_eq!(outfit.faults("book in changed.jsonl")[0].code, "STO-001");
    assert_eq!(outfit.entries(), entries);
}

#[test]
fn a_book_that_is_none_is_left_as_it_is() {
    let outfit = outfit();
    drop(fs::remove_file(outfit.path("book.sqlite-wal")));
    drop(fs::remove_file(outfit.path("book.sqlite-shm")));
    let scribble = "this is no database, but a letter to the landowner\n".repeat(200);
    outfit.put("book.sqlite", &scribble);
    outfit.put("tallies.csv", TALLIES.good);
    for words in [
        "yards",
        "gear",
        "tally 7 --done pull:single=3",
        "tally --file tallies.csv",
        "book",
        "book out all.jsonl",
        "morning --care quick",
    ] {
        assert_eq!(outfit.faults(words)[0].code, "STO-002", "{words}");
        assert_eq!(fs::read_to_string(outfit.path("book.sqlite")).unwrap(), scribble);
        assert!(!outfit.path("all.jsonl").exists());
    }
    fs::remove_file(outfit.path("book.sqlite")).unwrap();
    fs::create_dir(outfit.path("book.sqlite")).unwrap();
    assert_eq!(outfit.faults("yards")[0].code, "STO-008");
    assert_eq!(outfit.faults("gear count shed deep=3")[0].code, "STO-008");
}

#[test]
fn a_page_that_cannot_be_written_leaves_nothing_behind() {
    let outfit = outfit();
    let before = outfit.listing();
    outfit.put("taken", "a file where a folder should be");
    for words in [
        "book out nowhere/all.jsonl",
        "book out taken/all.jsonl",
        "new taken/mine --name X --latitude 1 --longitude 1 --zone UTC",
        "demo taken/demo",
    ] {
        assert_eq!(outfit.faults(words)[0].code, "FIL-007", "{words}");
    }
    fs::remove_file(outfit.path("taken")).unwrap();
    assert_eq!(outfit.listing(), before);
}

#[cfg(unix)]
#[test]
fn a_folder_that_may_not_be_written_in_is_told() {
    use std::os::unix::fs::{MetadataExt, PermissionsExt};
    use std::os::unix::process::CommandExt;

    let outfit = outfit();
    let entries = outfit.entries();
    let mode =
        |path: &str, mode: u32| fs::set_permissions(outfit.path(path), fs::Permissions::from_mode(mode)).unwrap();
    outfit.put("new.csv", YARDS.good);
    for file in outfit.listing() {
        mode(&file, 0o444);
    }
    mode("", 0o555);
    // To a superuser every folder is open; the program is run as nobody then.
    let superuser = fs::metadata(outfit.path("outfit.toml")).unwrap().uid() == 0;
    for (words, codes) in [
        ("yards import new.csv --on 2026-07-03 --json", ["STO-004", "STO-008"]),
        ("tally 7 --done add-boxes:double=3 --on 2026-07-03 --json", ["STO-004", "STO-008"]),
        ("gear count shed deep=3 --json", ["STO-004", "STO-008"]),
        ("new mine --name X --latitude 1 --longitude 1 --zone UTC --json", ["FIL-007", "FIL-007"]),
    ] {
        let words: Vec<&str> = words.split_whitespace().collect();
        let mut command = outfit.command(&words);
        if superuser {
            command.uid(65_534).gid(65_534);
        }
        let faults = Told::of(&words, &command.output().unwrap()).faults();
        assert!(codes.contains(&faults[0].code.as_str()), "{words:?}: {faults:?}");
    }
    mode("", 0o755);
    for file in outfit.listing() {
        mode(&file, 0o644);
    }
    assert_eq!(outfit.entries(), entries);
}
