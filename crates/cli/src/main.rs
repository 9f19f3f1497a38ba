//! `outyard` at the command line: words in, a page or JSON out.
//!
//! Exit codes: 0 done; 1 something in the outfit or the input is wrong, and nothing was half-written; 2 wrong words.

mod args;
mod commands;
mod picture;
mod progress;
mod reply;
mod table;

use std::process::ExitCode;

use clap::Parser;
use outyard_base::Trouble;
use outyard_folder::Desk;

use crate::args::{Verb, Words};
use crate::commands::{
    book, import, keeping, outfit, outlook, pictures, plan, rates, roads, serve, sheets, sums, tables, write,
};
use crate::reply::{Reply, tell};

fn main() -> ExitCode {
    let words = Words::parse();
    let as_json = words.json;
    ExitCode::from(tell(answer(&words), as_json))
}

fn answer(words: &Words) -> Result<Reply, Vec<Trouble>> {
    let desk = Desk::new(&words.outfit, words.on, &words.author, &words.device)?;
    match &words.verb {
        Verb::New(words) => outfit::new(words),
        Verb::Demo(words) => outfit::demo(words, &desk),
        Verb::Morning(words) => plan::morning(words, &desk),
        Verb::Runs(words) => plan::runs(words, &desk),
        Verb::Replan(words) => plan::replan_runs(words, &desk),
        Verb::Sheets(words) => sheets::write(words, &desk),
        Verb::Yard(words) => plan::yard(words, &desk),
        Verb::Day(words) => plan::day(words, &desk),
        Verb::Outlook(words) => outlook::outlook(words, &desk),
        Verb::Picture(words) => pictures::season(words, &desk),
        Verb::Fill(words) => sums::fill(words, &desk),
        Verb::First(words) => sums::first(words, &desk),
        Verb::Round(words) => sums::round(words, &desk),
        Verb::Sign(words) => sums::sign(words, &desk),
        Verb::Flow(words) => sums::flow(words, &desk),
        Verb::Bloom(words) => tables::bloom(words, &desk),
        Verb::Tally(words) => book::tally(words, &desk),
        Verb::Settle(words) => book::settle(words, &desk),
        Verb::Gear(words) => book::gear(words, &desk),
        Verb::Yards(words) => outfit::yards(words, &desk),
        Verb::Weather(words) => outfit::weather(words, &desk),
        Verb::Scale(words) => outfit::scale(words, &desk),
        Verb::Import(import_words) => import::import(import_words, &desk, words.json),
        Verb::Write(words) => write::write(words, &desk),
        Verb::Honey(words) => write::honey(words, &desk),
        Verb::Book(words) => book::book(words, &desk),
        Verb::Exchange(words) => keeping::exchange(words, &desk),
        Verb::Rates => rates::rates(&desk),
        Verb::Jobs(words) => tables::jobs(words, &desk),
        Verb::Plants => tables::plants(&desk),
        Verb::Roads(words) => roads::roads(words, &desk),
        Verb::Serve(words) => serve::serve(words, &desk),
    }
}
