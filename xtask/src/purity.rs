//! Pure rooms touch no files, network, environment, clock, threads' chance, hash order or screen.
//!
//! Tests, benches and examples may: a pure room's own tests read open data by an environment variable.

use std::collections::BTreeSet;

use crate::arrows::PURE_ROOMS;
use crate::house::{Finding, House, TextFile};
use crate::leaves::{self, Cut, Leaf, Sort};

/// Two parts of a path that must not follow each other, and why.
const PAIRS: [(&str, &str, &str); 21] = [
    ("std", "fs", "reads or writes files"),
    ("std", "net", "reaches the network"),
    ("std", "env", "reads the environment"),
    ("std", "process", "starts or ends programs"),
    ("io", "stdin", "reads the keyboard"),
    ("io", "stdout", "writes to the screen"),
    ("io", "stderr", "writes to the screen"),
    ("thread", "sleep", "waits on the clock"),
    ("Timestamp", "now", "reads the clock"),
    ("Zoned", "now", "reads the clock"),
    ("Utc", "now", "reads the clock"),
    ("Local", "now", "reads the clock"),
    ("TimeZone", "system", "reads the environment"),
    ("TimeZone", "try_system", "reads the environment"),
    ("Uuid", "now_v1", "reads the clock"),
    ("Uuid", "now_v6", "reads the clock"),
    ("Uuid", "now_v7", "reads the clock"),
    ("Uuid", "new_v4", "draws unnamed chance"),
    ("rand", "random", "draws unnamed chance"),
    ("rand", "rng", "draws unnamed chance"),
    ("include_dir", "include_dir", "reads files"),
];
/// Words that must not stand anywhere, and why.
const WORDS: [(&str, &str); 14] = [
    ("Instant", "reads the clock"),
    ("SystemTime", "reads the clock"),
    ("HashMap", "keeps no order; use BTreeMap"),
    ("HashSet", "keeps no order; use BTreeSet"),
    ("RandomState", "keeps no order"),
    ("thread_rng", "draws unnamed chance"),
    ("OsRng", "draws unnamed chance"),
    ("SysRng", "draws unnamed chance"),
    ("getrandom", "draws unnamed chance"),
    ("from_os_rng", "draws unnamed chance"),
    ("tokio", "belongs to the outer rooms"),
    ("async", "belongs to the outer rooms"),
    ("rand_chacha", "belongs to base::chance alone"),
    ("rand_core", "belongs to base::chance alone"),
];
/// Macros that write to the screen.
const SCREEN: [&str; 5] = ["print", "println", "eprint", "eprintln", "dbg"];
/// The one place that may draw chance.
const CHANCE: &str = "crates/base/src/chance.rs";
/// Ports may be asynchronous traits: the only word they are let off.
const PORTS: &str = "crates/app/src/ports";

/// Finds what a pure room must not do.
pub(crate) fn check(house: &House) -> Vec<Finding> {
    let mut findings = Vec::new();
    let mut cuts: Vec<(&TextFile, Cut)> = Vec::new();
    for file in pure_code(house) {
        match leaves::cut(&file.text) {
            Ok(cut) => cuts.push((file, cut)),
            Err(why) => findings.push(Finding::at(&file.path, 0, why)),
        }
    }
    let only_for_tests = files_of_test_modules(&cuts);
    for (file, cut) in &cuts {
        if !only_for_tests
            .iter()
            .any(|place| file.path == format!("{place}.rs") || file.path.starts_with(&format!("{place}/")))
        {
            findings.extend(objections(&file.path, &cut.leaves));
        }
    }
    findings
}

fn pure_code(house: &House) -> impl Iterator<Item = &TextFile> {
    house.files.iter().filter(|file| file.is_room_code() && file.room().is_some_and(|room| PURE_ROOMS.contains(&room)))
}

/// Paths, without ending, of modules built for tests only.
fn files_of_test_modules(cuts: &[(&TextFile, Cut)]) -> BTreeSet<String> {
    cuts.iter()
        .flat_map(|(file, cut)| {
            let folder = folder_of_children(&file.path);
            cut.test_modules.iter().map(move |name| format!("{folder}/{name}"))
        })
        .collect()
}

/// Where the modules that a file declares lie: beside `lib.rs`, `main.rs` and `mod.rs`, else in a folder of its name.
fn folder_of_children(path: &str) -> String {
    let (folder, name) = path.rsplit_once('/').unwrap_or(("", path));
    match name {
        "lib.rs" | "main.rs" | "mod.rs" => folder.to_owned(),
        _ => path.trim_end_matches(".rs").to_owned(),
    }
}

fn objections(path: &str, leaves: &[Leaf]) -> Vec<Finding> {
    let mut findings = Vec::new();
    for found in leaves::paths(leaves) {
        for (first, second, why) in PAIRS {
            if found.parts.windows(2).any(|pair| pair[0] == first && pair[1] == second) {
                findings.push(Finding::at(
                    path,
                    found.line,
                    format!("a pure room must not use {first}::{second}: it {why}"),
                ));
            }
        }
    }
    for (index, leaf) in leaves.iter().enumerate().filter(|(_, leaf)| leaf.sort == Sort::Word) {
        let word = leaf.text.as_str();
        if SCREEN.contains(&word) && leaves.get(index + 1).is_some_and(|next| next.text == "!") {
            findings.push(Finding::at(
                path,
                leaf.line,
                format!("a pure room must not use {word}!: it writes to the screen"),
            ));
        }
        if let Some((_, why)) = WORDS.iter().find(|(banned, _)| *banned == word)
            && !let_off(path, word)
        {
            findings.push(Finding::at(path, leaf.line, format!("a pure room must not use {word}: it {why}")));
        }
    }
    findings
}

fn let_off(path: &str, word: &str) -> bool {
    (path == CHANCE && matches!(word, "rand_chacha" | "rand_core")) || (path.starts_with(PORTS) && word == "async")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn found(path: &str, text: &str) -> Vec<String> {
        check(&House::of(&[(path, text)])).iter().map(ToString::to_string).collect()
    }

    #[test]
    fn each_banned_thing_is_found_with_its_line() {
        for bad in [
            "fn f() { std::fs::read(\"x\"); }",
            "use std::{env, fmt};",
            "use std::net::TcpStream;",
            "fn f() { std::process::exit(1) }",
            "use std::time::Instant;",
            "use std::time::{Duration, SystemTime};",
            "fn f() { jiff::Timestamp::now(); }",
            "use jiff::Zoned; fn f() { Zoned::now(); }",
            "fn f() { rand::thread_rng(); }",
            "fn f() -> u8 { rand::random() }",
            "use std::collections::HashMap;",
            "type Seen = std::collections::HashSet<u8>;",
            "fn f() { println!(\"x\"); }",
            "fn f() { eprintln!(\"x\"); }",
            "async fn f() {}",
            "use rand_chacha::ChaCha8Rng;",
            "fn f() { uuid::Uuid::now_v7(); }",
            "fn f() { std::thread::sleep(x); }",
        ] {
            let found = found("crates/runs/src/search/mod.rs", &format!("\n{bad}"));
            assert!(!found.is_empty() && found[0].starts_with("crates/runs/src/search/mod.rs:2: "), "{bad}: {found:?}");
        }
    }

    #[test]
    fn plain_sums_comments_and_test_code_pass() {
        let good = "//! Not HashMap, not std::fs.\nuse std::collections::BTreeMap;\nuse std::fmt;\nfn f() { let now = 1; }\n\
            #[cfg(test)]\nmod tests { fn g() { println!(\"{:?}\", std::env::var(\"OUTYARD_DATA\")); } }";
        assert_eq!(found("crates/season/src/bloom.rs", good), Vec::<String>::new());
        let bad = "use std::fs;";
        assert!(found("crates/season/tests/golden.rs", bad).is_empty());
        assert!(found("crates/runs/benches/search.rs", bad).is_empty());
        assert!(found("crates/store/src/lib.rs", bad).is_empty());
    }

    #[test]
    fn chance_and_ports_are_let_off_one_thing_each() {
        assert!(found(CHANCE, "use rand_chacha::ChaCha12Rng; use rand_core::Rng;").is_empty());
        assert_eq!(found(CHANCE, "use std::fs;").len(), 1);
        assert!(found("crates/app/src/ports.rs", "trait Store { async fn append(&mut self); }").is_empty());
        assert_eq!(found("crates/app/src/ports.rs", "use std::fs;").len(), 1);
        assert_eq!(found("crates/app/src/morning.rs", "async fn f() {}").len(), 1);
    }

    #[test]
    fn a_test_module_in_its_own_file_passes_and_its_namesake_elsewhere_does_not() {
        let house = House::of(&[
            ("crates/app/src/demo/mod.rs", "#[cfg(test)]\nmod tests;"),
            ("crates/app/src/demo/tests.rs", "use std::fs;"),
            ("crates/app/src/other/tests.rs", "use std::fs;"),
        ]);
        let found = check(&house);
        assert_eq!(found.len(), 1);
        assert_eq!(found[0].path, "crates/app/src/other/tests.rs");
    }

    #[test]
    fn a_file_that_is_no_rust_is_a_finding() {
        assert!(found("crates/base/src/lib.rs", "fn (")[0].contains("cannot be read as Rust"));
    }
}
