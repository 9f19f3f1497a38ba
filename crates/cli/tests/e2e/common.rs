//! An outfit's folder made from texts, and the program run in it.

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};
use std::sync::OnceLock;

use jiff::civil::Date;
use serde_json::Value;
use tempfile::TempDir;

/// Widest line of a page.
pub(crate) const PAGE_WIDTH: usize = 100;

/// Settings with one crew and its truck; the texts that follow may add to them.
pub(crate) const SETTINGS: &str = r#"
name = "Quill Valley Bees"
jobs = "jobs.toml"
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

/// The rates the scenes are reckoned with, said outright.
pub(crate) const RATES: &str = "
[visit]
setup_pair_minutes = 25
spare_share = 0.05
[worth]
honey_per_kg = 5.0
lost_once_full_share = 0.6
full_deep_kg = 24
[gear.full-box]
weight_kg = 37
[jobs.single-down-blow]
pair_minutes = { double = 4 }
[jobs.brood-lift]
pair_minutes = { split = 5, single = 5 }
";

/// A folder with an outfit in it.
pub(crate) struct Outfit {
    folder: TempDir,
}

/// What the program said.
pub(crate) struct Told {
    pub(crate) words: String,
    pub(crate) code: i32,
    pub(crate) out: String,
    pub(crate) err: String,
}

/// A thing found wrong, as JSON tells it.
#[derive(Debug, PartialEq, Eq)]
pub(crate) struct Fault {
    pub(crate) code: String,
    pub(crate) file: Option<String>,
    pub(crate) line: Option<u64>,
    pub(crate) column: Option<String>,
}

impl Outfit {
    /// A folder with these files.
    pub(crate) fn of(files: &[(&str, &str)]) -> Self {
        let outfit = Self { folder: tempfile::tempdir().unwrap() };
        for (name, text) in files {
            outfit.put(name, text);
        }
        outfit
    }

    /// An outfit with the scenes' rates and these yards: name, doubles, splits.
    pub(crate) fn with_yards(yards: &[(&str, u32, u32)]) -> Self {
        let outfit = Self::of(&[("outfit.toml", SETTINGS), ("jobs.toml", RATES)]);
        outfit.keep_yards(yards);
        outfit
    }

    /// Imports yards near home: name, doubles, splits.
    pub(crate) fn keep_yards(&self, yards: &[(&str, u32, u32)]) {
        let mut text = "yard,latitude,longitude,doubles,splits,counted_on\n".to_owned();
        for (at, (yard, doubles, splits)) in yards.iter().enumerate() {
            text.push_str(&format!("{yard},45.2,{:.2},{doubles},{splits},2026-06-01\n", -93.9 + 0.02 * at as f64));
        }
        self.put("yards.csv", &text);
        let answer = self.json("yards import yards.csv --on 2026-06-20");
        assert_eq!(answer["yards"], yards.len());
    }

    /// Where a file of the folder stands.
    pub(crate) fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    /// Writes a file.
    pub(crate) fn put(&self, name: &str, bytes: impl AsRef<[u8]>) {
        fs::write(self.path(name), bytes).unwrap();
    }

    /// The program, about to be started in the folder.
    pub(crate) fn command(&self, words: &[&str]) -> Command {
        program(self.folder.path(), words)
    }

    /// Runs the program in the folder.
    pub(crate) fn run(&self, words: &[&str]) -> Told {
        Told::of(words, &self.command(words).output().unwrap())
    }

    /// What is answered, from JSON; the words are parted at blanks.
    pub(crate) fn json(&self, words: &str) -> Value {
        let mut words: Vec<&str> = words.split_whitespace().collect();
        words.push("--json");
        self.run(&words).answer()
    }

    /// The page, with blanks run together; it must keep its width.
    pub(crate) fn page(&self, words: &str) -> String {
        let words: Vec<&str> = words.split_whitespace().collect();
        let told = self.run(&words);
        told.keeps_its_width();
        told.out.split_whitespace().collect::<Vec<_>>().join(" ")
    }

    /// What is found wrong: the exit code must be 1 and each fault have a code, a cause and a remedy.
    pub(crate) fn faults(&self, words: &str) -> Vec<Fault> {
        let mut words: Vec<&str> = words.split_whitespace().collect();
        words.push("--json");
        self.run(&words).faults()
    }

    /// How many entries the book holds.
    pub(crate) fn entries(&self) -> usize {
        self.json("book list --last 1000000").as_array().unwrap().len()
    }

    /// Names of what lies in the folder, but for what the book's store keeps beside it while it is open.
    pub(crate) fn listing(&self) -> Vec<String> {
        let mut names: Vec<String> = fs::read_dir(self.folder.path())
            .unwrap()
            .map(|entry| entry.unwrap().file_name().into_string().unwrap())
            .filter(|name| !name.starts_with("book.sqlite-"))
            .collect();
        names.sort();
        names
    }
}

/// The program, about to be started in a folder with nothing of the caller's own settings.
pub(crate) fn program(folder: &Path, words: &[&str]) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_outyard"));
    command.current_dir(folder).args(words);
    for name in ["OUTYARD_OUTFIT", "OUTYARD_AUTHOR", "OUTYARD_DEVICE"] {
        command.env_remove(name);
    }
    command
}

impl Told {
    pub(crate) fn of(words: &[&str], output: &Output) -> Self {
        let text = |bytes: &[u8]| String::from_utf8(bytes.to_vec()).unwrap();
        let told = Self {
            words: words.join(" "),
            code: output.status.code().unwrap_or(-1),
            out: text(&output.stdout),
            err: text(&output.stderr),
        };
        assert!(!told.err.contains("panicked"), "{told}");
        assert!((0..=2).contains(&told.code), "{told}");
        told
    }

    /// The answer of a command that went well.
    pub(crate) fn answer(&self) -> Value {
        assert_eq!(self.code, 0, "{self}");
        let whole: Value = serde_json::from_str(&self.out).unwrap_or_else(|error| panic!("{error}\n{self}"));
        assert!(whole["notes"].is_array(), "{self}");
        whole.get("answer").unwrap_or_else(|| panic!("no answer\n{self}")).clone()
    }

    pub(crate) fn keeps_its_width(&self) {
        assert_eq!(self.code, 0, "{self}");
        assert!(!self.out.trim().is_empty(), "an empty page\n{self}");
        for line in self.out.lines() {
            assert!(line.chars().count() <= PAGE_WIDTH, "a line of {}: {line}\n{self}", line.chars().count());
        }
    }

    pub(crate) fn faults(&self) -> Vec<Fault> {
        assert_eq!(self.code, 1, "{self}");
        let whole: Value = serde_json::from_str(&self.out).unwrap_or_else(|error| panic!("{error}\n{self}"));
        let all = whole["trouble"].as_array().unwrap_or_else(|| panic!("no trouble\n{self}"));
        assert!(!all.is_empty(), "{self}");
        all.iter()
            .map(|fault| {
                let text = |key: &str| fault[key].as_str().unwrap_or_default().to_owned();
                let code = text("code");
                let (topic, number) = code.split_once('-').unwrap_or_else(|| panic!("{self}"));
                assert!(topic.len() == 3 && topic.chars().all(|letter| letter.is_ascii_uppercase()), "{self}");
                assert!(number.len() == 3 && number.chars().all(|digit| digit.is_ascii_digit()), "{self}");
                assert!(documented().contains(&code), "{code} stands in no list of codes\n{self}");
                assert!(text("cause").trim().len() >= 8, "no cause: {self}");
                assert!(text("remedy").trim().len() >= 8, "no remedy: {self}");
                let place = &fault["place"];
                Fault {
                    code,
                    file: place["file"].as_str().map(str::to_owned),
                    line: place["line"].as_u64(),
                    column: place["column"].as_str().map(str::to_owned),
                }
            })
            .collect()
    }
}

impl std::fmt::Display for Told {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "outyard {}\nexit code {}\n{}{}", self.words, self.code, self.out, self.err)
    }
}

/// The codes the lists of errors explain.
fn documented() -> &'static BTreeSet<String> {
    static CODES: OnceLock<BTreeSet<String>> = OnceLock::new();
    CODES.get_or_init(|| {
        let lists = fs::read_dir(concat!(env!("CARGO_MANIFEST_DIR"), "/../../docs/errors")).unwrap();
        let texts = lists.map(|list| fs::read_to_string(list.unwrap().path()).unwrap());
        texts
            .flat_map(|text| {
                text.lines().filter_map(|line| line.strip_prefix("### ")).map(str::to_owned).collect::<Vec<_>>()
            })
            .collect()
    })
}

/// A date from its text.
pub(crate) fn date(text: &str) -> Date {
    text.parse().unwrap()
}

/// Days after a date.
pub(crate) fn after(from: Date, days: i64) -> Date {
    from.checked_add(jiff::Span::new().days(days)).unwrap()
}

/// A date as pages say it: `3 Jul`.
pub(crate) fn said(date: Date) -> String {
    let months = ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"];
    format!("{} {}", date.day(), months[date.month() as usize - 1])
}

/// The member of a list whose `key` says `what`.
pub(crate) fn find<'a>(list: &'a Value, key: &str, what: &str) -> &'a Value {
    let all = list.as_array().unwrap_or_else(|| panic!("no list: {list}"));
    all.iter().find(|one| one[key] == what).unwrap_or_else(|| panic!("no {key} {what} in {list:#}"))
}

/// A number of an answer.
pub(crate) fn number(value: &Value) -> f64 {
    value.as_f64().unwrap_or_else(|| panic!("{value} is no number"))
}

/// Holds two numbers to be the same but for rounding.
pub(crate) fn same(found: &Value, wanted: f64) {
    assert!((number(found) - wanted).abs() < 1e-6 * wanted.abs().max(1.0), "{found} is not {wanted}");
}
