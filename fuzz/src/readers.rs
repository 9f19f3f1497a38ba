//! Every reader of the program, with a sample it accepts and what must hold of whatever it is fed: it does not panic, it
//! refuses with a code, a cause and a remedy, and what the book accepts comes back the same.
//!
//! `crates/app/tests/readers.rs` feeds them with spoilt samples; `fuzz/src/main.rs` feeds them by coverage.

use jiff::civil::Date;
use jiff::tz::TimeZone;
use outyard_app::first::read_waiting_yards;
use outyard_app::intake::drives::read_drives;
use outyard_app::intake::scale_file::read_scale_file;
use outyard_app::intake::table::{ColumnMap, read_column_choice};
use outyard_app::intake::text::read_text;
use outyard_app::intake::weather_file::read_weather;
use outyard_app::intake::yards_file::read_yards;
use outyard_app::nights::read_nights;
use outyard_app::settings::read_settings;
use outyard_app::tally::{jobs_done, read_odd, read_tallies};
use outyard_base::days::read_date;
use outyard_base::{ClockTime, DeviceId, GearCode, JobCode, Trouble, TruckId, YardId};
use outyard_book::{ContentHash, Entry, EntryId, fold, wire};
use outyard_season::PlantTable;
use outyard_trade::jobbook::{DEFAULT_JOB_BOOK, JobBook, read_job_book};
use outyard_trade::signs::{CombSeen, read_sign};

/// Lines of the book, one of each fact.
pub(crate) const LINES: &str = include_str!("../../crates/book/tests/data/format-1.jsonl");

const YARDS: &str = "yard;name;latitude;longitude;elevation_m;group;doubles;singles;splits;weak;queenless;counted_on;gate;wet_road;landowner
7;Old mill;45.2;-93.9;310,5;North;26;0;6;1;0;2026-06-01;key at the mill;yes;\"Ana, the miller\"
12;;45.25;-93.88;;North;20;;10;;;2026-06-02;;no;
";

const WEATHER: &str = "date,low_c,high_c,rain_mm,wind_km_per_h,sun_mj_per_m2
2026-06-01,8.5,21.0,0,12,22.5
2026-06-02,9.0,-,3.2,,18
2026-06-03,11,24.5,0.0,30,25
";

const SCALE: &str = "time,weight_kg
2026-06-01T21:00,41.2
2026-06-02 00:15,41.15
2026-06-02T21:00,43.7
";

const DRIVES: &str = "from,to,minutes,km\nhome,7,25,21.5\n7,12,9,6\n12,home,31,\n";

const TALLIES: &str = "date,yard,job,double,single,split,weak,queenless,boxes_on,boxes_off,boxes_left,excluders_on,full_percent,minutes,hands,truck,note
2026-07-03,7,single-down-blow,26,,,,,32,0,2,32,80,150,2,Red,\"two, left\"
2026-07-03,12,brood-lift,,,10,1,,,,,,,75,2,Red,
";

const WAITING: &str = "yard,colonies,gain_kg_per_day,free_boxes\nW,40,3.5,0.4\nN,30,2,1\n";

const NIGHTS: &str = "date,group,net_kg\n2026-06-01,North,1.4\n2026-06-02,North,-0.3\n2026-06-02,South,2.1\n";

const SETTINGS: &str = r#"name = "Quill Valley Bees"
[home]
latitude = 45.1
longitude = -93.9
zone = "America/Chicago"
[[truck]]
name = "Red"
deeps_empty = 120
payload_kg = 2300
[[crew]]
name = "Pair-one"
truck = "Red"
leave = "06:00"
"#;

const PLANTS: &str = r#"[[plant]]
code = "meadow-mix"
name = "Meadow mix"
source = "assumed"
strength_kg_per_day = [0.5, 1.0, 2.0]
strength_source = "assumed"
[plant.heat]
degrees = "F"
method = "simple-average"
base = 50.0
start = "01-01"
first_bloom = [29.0, 34.0, 39.0]
full_bloom = [36.0, 42.0, 48.0]
bloom_days = [7.0, 10.0, 14.0]
"#;

const WORDS: &str = "2026-07-03\n06:30\nyard-7\nsingle-down-blow:double=26,split=6\ndead=1, weak=2\neggs-above\nyard=name\n0197cc1e-6c00-7000-8000-000000000001\n";

/// What a reader made of an input: accepted, or refused with these troubles.
pub(crate) type Outcome = Result<(), Vec<Trouble>>;

/// A reader as the program calls it.
pub(crate) struct Reader {
    /// Its name.
    pub(crate) name: &'static str,
    /// What it accepts.
    pub(crate) sample: &'static str,
    /// Reads; panics when something does not hold that must.
    pub(crate) read: fn(&[u8]) -> Outcome,
}

fn none() -> ColumnMap {
    ColumnMap::new()
}

/// Bytes of a file as text, as the program takes them.
fn text(bytes: &[u8]) -> Result<String, Vec<Trouble>> {
    read_text("f", bytes).map_err(|trouble| vec![trouble])
}

/// All readers.
pub(crate) fn readers() -> Vec<Reader> {
    vec![
        Reader { name: "yards", sample: YARDS, read: |bytes| read_yards("f", &text(bytes)?, &none()).map(drop) },
        Reader { name: "weather", sample: WEATHER, read: |bytes| read_weather("f", &text(bytes)?, &none()).map(drop) },
        Reader {
            name: "scale",
            sample: SCALE,
            read: |bytes| read_scale_file("f", &text(bytes)?, &none(), &TimeZone::UTC).map(drop),
        },
        Reader { name: "drives", sample: DRIVES, read: |bytes| read_drives("f", &text(bytes)?, &none()).map(drop) },
        Reader {
            name: "tallies",
            sample: TALLIES,
            read: |bytes| read_tallies("f", &text(bytes)?, &none(), &JobBook::standard()).map(drop),
        },
        Reader {
            name: "waiting",
            sample: WAITING,
            read: |bytes| read_waiting_yards("f", &text(bytes)?, &none()).map(drop),
        },
        Reader { name: "nights", sample: NIGHTS, read: |bytes| read_nights("f", &text(bytes)?, &none()).map(drop) },
        Reader { name: "settings", sample: SETTINGS, read: |bytes| read_settings("f", &text(bytes)?).map(drop) },
        Reader {
            name: "job-book",
            sample: DEFAULT_JOB_BOOK,
            read: |bytes| read_job_book(DEFAULT_JOB_BOOK, Some(("f", &text(bytes)?))).map(drop),
        },
        Reader {
            name: "plants",
            sample: PLANTS,
            read: |bytes| {
                PlantTable::built_in().with_changes(&text(bytes)?, "f").map(drop).map_err(|trouble| vec![trouble])
            },
        },
        Reader { name: "words", sample: WORDS, read: typed_words },
        Reader { name: "lines", sample: LINES, read: lines_come_back },
        Reader { name: "batch", sample: LINES, read: a_batch_is_a_set },
    ]
}

/// What is refused is told with a code, a cause and a remedy.
pub(crate) fn told_well(name: &str, troubles: &[Trouble], input: &[u8]) {
    let shown = || String::from_utf8_lossy(input).into_owned();
    assert!(!troubles.is_empty(), "{name} refused and said nothing: {}", shown());
    for trouble in troubles {
        let well = trouble.code.len() == 7 && trouble.cause.trim().len() >= 4 && trouble.remedy.trim().len() >= 8;
        assert!(well, "{name} said {trouble:?} of {}", shown());
    }
}

/// Everything that is read from a word: dates, hours, names, kinds and counts, signs, columns. Each line is tried as each.
fn typed_words(bytes: &[u8]) -> Outcome {
    let text = text(bytes)?;
    let jobs = JobBook::standard();
    for word in text.lines() {
        if let Ok(date) = read_date(word) {
            assert_eq!(read_date(&date.to_string()), Ok(date));
        }
        if let Ok(hour) = word.parse::<ClockTime>() {
            assert_eq!(hour.to_string().parse::<ClockTime>().as_ref(), Ok(&hour));
        }
        if let Ok(id) = word.parse::<EntryId>() {
            assert_eq!(id.to_string().parse::<EntryId>().as_ref(), Ok(&id));
        }
        if let Ok(hash) = word.parse::<ContentHash>() {
            assert_eq!(hash.to_string().parse::<ContentHash>().as_ref(), Ok(&hash));
        }
        if let Ok(yard) = YardId::new(word) {
            assert_eq!(YardId::new(yard.as_str()), Ok(yard));
        }
        let as_name = [
            DeviceId::new(word).is_ok(),
            TruckId::new(word).is_ok(),
            GearCode::new(word).is_ok(),
            JobCode::new(word).is_ok(),
        ];
        assert!(!as_name.contains(&true) || !word.trim().is_empty(), "blanks were taken for a name");
        for refused in [
            jobs_done(&jobs, &[word.to_owned()], &[]).err(),
            jobs_done(&jobs, &[], &[word.to_owned()]).err(),
            read_odd(&[word.to_owned()]).err().map(|trouble| vec![trouble]),
            read_column_choice(word).err().map(|trouble| vec![trouble]),
            read_date(word).err().map(|trouble| vec![trouble]),
        ]
        .into_iter()
        .flatten()
        {
            told_well("words", &refused, word.as_bytes());
        }
        let (day, rest) = word.split_once(' ').unwrap_or(("2026-07-20", word));
        if let (Ok(seen_on), Some(comb)) = (day.parse::<Date>(), CombSeen::read(rest)) {
            let put_down = Date::constant(2026, 7, 3);
            drop(read_sign(put_down, seen_on, comb));
        }
    }
    Ok(())
}

/// A line the book accepts is kept and comes back the same, by its own words.
fn lines_come_back(bytes: &[u8]) -> Outcome {
    let mut refused = Vec::new();
    for outcome in wire::lines("f", bytes) {
        match outcome {
            Ok(entry) => {
                let line = wire::write_line(&entry);
                let again = wire::read_line(line.as_bytes());
                assert!(again.as_ref() == Ok(&entry), "{line}\n{again:?}");
                assert_eq!(again.map(|again| wire::write_line(&again)).as_ref(), Ok(&line));
            }
            Err(trouble) => refused.push(trouble),
        }
    }
    if refused.is_empty() { Ok(()) } else { Err(refused) }
}

/// What another device hands on: whatever of it can be read is folded the same in any order and any number of times.
fn a_batch_is_a_set(bytes: &[u8]) -> Outcome {
    let (mut batch, mut refused): (Vec<Entry>, Vec<Trouble>) = (Vec::new(), Vec::new());
    for outcome in wire::lines("f", bytes) {
        match outcome {
            Ok(entry) => batch.push(entry),
            Err(trouble) => refused.push(trouble),
        }
    }
    let outfit = fold(&batch);
    let again: Vec<Entry> = batch.iter().rev().chain(&batch).cloned().collect();
    assert!(fold(&again) == outfit, "the order or a repeat mattered");
    if refused.is_empty() { Ok(()) } else { Err(refused) }
}
