//! Run sheets: one page for each crew and day, to be read on the truck and filled in on the lid.

use std::fs;
use std::path::{Path, PathBuf};

use askama::Template;
use outyard_app::views::{self, RunView, money};
use outyard_base::Trouble;
use outyard_base::days::read_date;
use outyard_base::range::day_month;
use outyard_folder::{Desk, write_whole};
use serde_json::json;

use crate::args::SheetWords;
use crate::commands::plan::work;
use crate::reply::{Reply, count_of};

/// The page of one run.
#[derive(Template)]
#[template(path = "run_sheet.html")]
struct RunSheet<'a> {
    outfit: &'a str,
    said: String,
    run: &'a RunView,
}

/// The list of pages.
#[derive(Template)]
#[template(path = "index.html")]
struct Index<'a> {
    outfit: &'a str,
    said: String,
    pages: &'a [(String, String)],
}

fn said(date: &str) -> String {
    read_date(date).map_or_else(|_| date.to_owned(), |date| format!("{} {}", views::weekday(date), day_month(date)))
}

fn file_name(run: &RunView) -> String {
    let plain: String = run
        .crew
        .chars()
        .map(|letter| if letter.is_ascii_alphanumeric() { letter.to_ascii_lowercase() } else { '-' })
        .collect();
    format!("run-{}-{plain}.html", run.date)
}

/// `outyard sheets`.
pub(crate) fn write(words: &SheetWords, desk: &Desk) -> Result<Reply, Vec<Trouble>> {
    let (situation, worked) = work(desk, &words.plan)?;
    let runs = views::run_views(&situation, &worked);
    fs::create_dir_all(&words.to).map_err(|error| {
        vec![Trouble::new(
            "FIL-007",
            format!("{} cannot be made: {error}", words.to.display()),
            "choose a folder you may write in with --to",
        )]
    })?;
    let outfit = &situation.settings.name;
    let mut pages: Vec<(String, String)> = Vec::new();
    let mut drawn: Vec<(PathBuf, String)> = Vec::new();
    for run in &runs {
        let name = file_name(run);
        let page = RunSheet { outfit, said: said(&run.date), run };
        let text = page.render().map_err(|error| {
            vec![Trouble::new(
                "SHT-001",
                format!("the sheet cannot be drawn: {error}"),
                "report this; it is a fault of the program",
            )]
        })?;
        drawn.push((words.to.join(&name), text));
        pages.push((name, format!("{}, crew {}: {}", said(&run.date), run.crew, count_of(run.stops.len(), "yard"))));
    }
    let index = Index { outfit, said: said(&situation.today.to_string()), pages: &pages };
    let text = index.render().map_err(|error| {
        vec![Trouble::new(
            "SHT-001",
            format!("the list cannot be drawn: {error}"),
            "report this; it is a fault of the program",
        )]
    })?;
    let list = words.to.join("index.html");
    // All are drawn before the first is written, and all are written beside before the first takes its place; the list
    // goes last, so that it never names a page that is not there.
    drawn.push((list.clone(), text));
    write_all(&drawn)?;
    let page = format!("{} run sheets in {}; open {}\n", pages.len(), words.to.display(), list.display());
    let names: Vec<&String> = pages.iter().map(|(name, _)| name).collect();
    Ok(Reply::new(page, json!({ "folder": words.to.display().to_string(), "pages": names })).with(worked.notes))
}

/// Writes files beside their places, and moves them over when all are whole.
fn write_all(files: &[(PathBuf, String)]) -> Result<(), Vec<Trouble>> {
    let beside = |path: &Path| path.with_extension("new");
    for (path, text) in files {
        write_whole(&beside(path), text.as_bytes())?;
    }
    for (path, _) in files {
        fs::rename(beside(path), path).map_err(|error| {
            vec![Trouble::new(
                "FIL-007",
                format!("{} cannot be written: {error}", path.display()),
                "see that the folder is there, that you may write in it and that the disk has room",
            )]
        })?;
    }
    Ok(())
}

/// Money of a page, rounded to whole units. Called from the pages, which hand numbers over by reference.
fn whole(cents: impl std::borrow::Borrow<i64>) -> String {
    money(*cents.borrow())
}
