//! Every test that docs/season-checks.md names must be there.

#![expect(clippy::unwrap_used, reason = "a test of the project's own files")]

use std::fs;
use std::path::Path;

/// Source text of every file of Rust below a folder.
fn sources(folder: &Path, all: &mut String) {
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            sources(&path, all);
        } else if path.extension().is_some_and(|ending| ending == "rs") {
            all.push_str(&fs::read_to_string(&path).unwrap());
        }
    }
}

#[test]
fn every_test_the_checks_name_is_there() {
    let crates = Path::new(env!("CARGO_MANIFEST_DIR")).join("..");
    let mut all = String::new();
    for room in ["base", "trade", "season"] {
        for part in ["src", "tests"] {
            let folder = crates.join(room).join(part);
            if folder.is_dir() {
                sources(&folder, &mut all);
            }
        }
    }
    let page = fs::read_to_string(crates.join("../docs/season-checks.md")).unwrap();
    let held = page.split("## Held").nth(1).unwrap().split("## Not used").next().unwrap();
    let named: Vec<&str> = held
        .lines()
        .filter(|line| line.starts_with("| ") && !line.starts_with("| what"))
        .filter_map(|line| line.trim_end_matches(" |").rsplit(" | ").next())
        .flat_map(|tests| tests.split(", "))
        .map(|test| test.trim_matches('`'))
        .collect();
    assert!(named.len() >= 40, "{named:?}");
    for test in named {
        assert!(
            all.contains(&format!("#[test]\n    fn {test}(")) || all.contains(&format!("#[test]\nfn {test}(")),
            "{test}"
        );
    }
}
