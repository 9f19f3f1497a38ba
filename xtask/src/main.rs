//! Checks on the house itself: `cargo xtask tidy`, `cargo xtask docs`, `cargo xtask assumed`.
//!
//! What the compiler and clippy cannot see is held here: which room may lean on which, what a pure room must not touch,
//! that every code a user can meet is explained, and that gathered pages are as fresh as their parts.

mod arrows;
mod assumed;
mod codes;
mod house;
mod leaves;
mod pages;
mod purity;
mod tables;
mod words;

use std::fmt::Write as _;
use std::io::Write as _;
use std::path::Path;
use std::process::ExitCode;

use house::{Finding, House};

const HELP: &str =
    "cargo xtask tidy      checks the house and lists every reversed arrow, impure room, missing paragraph or stale page
cargo xtask docs      gathers docs/errors, docs/sources and docs/glossary into one page each
cargo xtask assumed   lists every number marked as assumed, by room";

fn main() -> ExitCode {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).parent().expect("xtask lies in the checkout");
    let word = std::env::args().nth(1).unwrap_or_default();
    let outcome = House::read(root).and_then(|house| match word.as_str() {
        "tidy" => tidy(&house),
        "docs" => docs(&house, root),
        "assumed" => Ok(assumed::table(&assumed::find(&house))),
        _ => Err(HELP.to_owned()),
    });
    match outcome {
        Ok(text) => {
            // Nothing is left to say when the reader of this page has gone away.
            let _gone = writeln!(std::io::stdout(), "{}", text.trim_end());
            ExitCode::SUCCESS
        }
        Err(text) => {
            eprintln!("{}", text.trim_end());
            ExitCode::FAILURE
        }
    }
}

/// Runs every rule; `Err` lists what was found.
fn tidy(house: &House) -> Result<String, String> {
    let mut findings: Vec<Finding> = Vec::new();
    findings.extend(arrows::check(&arrows::read_packages(&house.root)?));
    findings.extend(purity::check(house));
    findings.extend(codes::check(house));
    findings.extend(words::check(house));
    findings.extend(tables::check(house));
    findings.extend(pages::check(house));
    if findings.is_empty() {
        let (files, counts) = (house.files.len(), assumed::counts(&assumed::find(house)));
        return Ok(format!("tidy: {files} files in order; numbers marked assumed: {counts}"));
    }
    findings.sort();
    let mut text = String::new();
    for finding in &findings {
        // Writing to a String cannot fail.
        let _ = writeln!(text, "{finding}");
    }
    let _ = write!(text, "tidy: {} found", findings.len());
    Err(text)
}

/// Writes the gathered pages that changed.
fn docs(house: &House, root: &Path) -> Result<String, String> {
    let pages = pages::gather(house)
        .map_err(|findings| findings.iter().map(ToString::to_string).collect::<Vec<_>>().join("\n"))?;
    let mut written = Vec::new();
    for page in pages {
        if house.text(page.path) != Some(page.text.as_str()) {
            std::fs::write(root.join(page.path), page.text).map_err(|error| format!("{}: {error}", page.path))?;
            written.push(page.path);
        }
    }
    Ok(if written.is_empty() { "docs: all fresh".to_owned() } else { format!("docs: wrote {}", written.join(", ")) })
}
