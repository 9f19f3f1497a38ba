//! The book as a list: what each entry tells, in words.

use std::collections::{BTreeMap, BTreeSet};

use outyard_base::YardId;
use outyard_book::{Entry, EntryId, Fact};
use serde::Serialize;

/// One entry in words.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct EntryView {
    /// Its name.
    pub entry: String,
    /// The device that wrote it.
    pub device: String,
    /// Who wrote it.
    pub author: String,
    /// The day it tells of.
    pub happened_on: String,
    /// When it was written.
    pub recorded_at: String,
    /// Sort of fact.
    pub fact: String,
    /// The yard it tells of, if it tells of one.
    pub yard: Option<String>,
    /// What it tells.
    pub said: String,
    /// The entry it corrects or strikes out.
    pub corrects: Option<String>,
    /// Corrected or struck out by these.
    pub corrected_by: Vec<String>,
}

fn counted(count: u64, one: &str, many: &str) -> String {
    format!("{count} {}", if count == 1 { one } else { many })
}

/// What an entry tells, in a line.
pub fn told_in_words(entry: &Entry) -> String {
    fact_in_words(&entry.fact)
}

/// What a fact tells, in a line.
pub fn fact_in_words(fact: &Fact) -> String {
    match fact {
        Fact::VisitClosed(tally) => {
            let jobs: Vec<String> = tally.jobs.iter().map(|line| format!("{} {}", line.job, line.done)).collect();
            format!("visit closed: {}", jobs.join("; "))
        }
        Fact::ColoniesCounted { counts, .. } => format!("counted {counts}"),
        Fact::Correction { of, instead: None } => format!("strikes out {of}"),
        Fact::Correction { of, instead: Some(fact) } => format!("corrects {of}: {}", fact.name()),
        Fact::SeriesKept(series) => format!("{} {}, {} readings", series.what, series.source, series.rows),
        Fact::Note { text, .. } => text.clone(),
        Fact::YardKept(kept) => format!("yard {} {}", kept.yard, kept.name).trim_end().to_owned(),
        Fact::PlanTold(told) => {
            let visits: usize = told.runs.iter().map(|run| run.visits.len()).sum();
            format!("plan told: {} runs, {visits} visits", told.runs.len())
        }
        Fact::HoneyExtracted(it) => {
            let boxes: u64 = it.boxes.iter().map(|from| u64::from(from.boxes)).sum();
            let mass = it.honey.map_or_else(String::new, |honey| format!(", {:.1} kg", honey.get()));
            format!("lot {}: {} extracted{mass}", it.lot, counted(boxes, "box", "boxes"))
        }
        Fact::HoneyDrummed(it) => {
            let lots: Vec<String> = it.from.iter().map(|(lot, kg)| format!("{:.1} kg of {lot}", kg.get())).collect();
            format!("drum {}: {}", it.drum, lots.join(", "))
        }
        Fact::HoneySold(it) => format!("sold to {}: drum {}", it.to, it.drums.join(", ")),
        Fact::SprayTold(it) => {
            let yards: Vec<&str> = it.yards.iter().map(YardId::as_str).collect();
            let told = [&it.caller, &it.substance, &it.field, &it.begins];
            let told: Vec<&str> = told.into_iter().filter(|told| !told.is_empty()).map(String::as_str).collect();
            format!("spraying near {}: {}", yards.join(", "), told.join(", ")).trim_end_matches(": ").to_owned()
        }
        Fact::YardTerms(it) => {
            let told = [&it.terms, &it.water, &it.fence].into_iter().chain(&it.neighbours);
            let told: Vec<&str> = told.filter(|told| !told.is_empty()).map(String::as_str).collect();
            format!("terms: {}", told.join("; "))
        }
        Fact::PhotoKept(it) => format!("photo: {}", it.caption).trim_end_matches(": ").to_owned(),
        Fact::ColoniesMoved { from, to, counts } => format!("moved {counts} from {from} to {to}"),
        Fact::SplitsMade { from, to, splits, .. } => {
            format!("{} made of {from}, in {to}", counted(u64::from(*splits), "split", "splits"))
        }
        Fact::ColoniesLost { counts, cause, .. } => format!("lost {counts}: {cause}").trim_end_matches(": ").to_owned(),
        Fact::QueensGiven(it) => {
            let queens = counted(u64::from(it.colonies), "queen", "queens");
            format!("{queens} given: {}", it.queens).trim_end_matches(": ").to_owned()
        }
        Fact::TreatmentIn(it) => {
            let colonies = counted(u64::from(it.colonies), "colony", "colonies");
            let ingredient = if it.ingredient.is_empty() { String::new() } else { format!(" ({})", it.ingredient) };
            format!("in: {}{ingredient}, {colonies}", it.product)
        }
        Fact::TreatmentOut { product, .. } => format!("out: {product}"),
        Fact::MiteSample(it) => {
            let mites = counted(u64::from(it.mites), "mite", "mites");
            match it.board_days {
                Some(days) if it.bees == 0 => {
                    format!("{mites} on a board in {}", counted(u64::from(days), "day", "days"))
                }
                _ => format!("{mites} in {} bees", it.bees),
            }
        }
        Fact::Fed { colonies, feed, .. } => {
            format!("fed {} {feed}", counted(u64::from(*colonies), "colony", "colonies"))
        }
        fact => fact.name().replace('-', " "),
    }
}

/// The yard a fact tells of, if it tells of one.
pub fn yard_of(fact: &Fact) -> Option<&YardId> {
    match fact {
        Fact::YardKept(kept) => Some(&kept.yard),
        Fact::YardGivenUp { yard }
        | Fact::ColoniesCounted { yard, .. }
        | Fact::BoxesCounted { yard, .. }
        | Fact::TreatmentOut { yard, .. }
        | Fact::ColoniesLost { yard, .. }
        | Fact::Fed { yard, .. } => Some(yard),
        Fact::VisitClosed(tally) => Some(&tally.yard),
        Fact::TreatmentIn(treatment) => Some(&treatment.yard),
        Fact::MiteSample(sample) => Some(&sample.yard),
        Fact::YardTerms(terms) => Some(&terms.yard),
        Fact::QueensGiven(given) => Some(&given.yard),
        Fact::ColoniesMoved { to, .. } | Fact::SplitsMade { to, .. } => Some(to),
        Fact::PhotoKept(photo) => photo.yard.as_ref(),
        Fact::Note { yard, .. } => yard.as_ref(),
        Fact::Settled { agreed, .. } => agreed.first().map(|tally| &tally.yard),
        _ => None,
    }
}

/// Entries in words; `book` is where their corrections are looked for.
pub fn entry_views<'a>(entries: impl IntoIterator<Item = &'a Entry>, book: &[Entry]) -> Vec<EntryView> {
    let mut corrected: BTreeMap<EntryId, BTreeSet<EntryId>> = BTreeMap::new();
    for entry in book {
        if let Fact::Correction { of, .. } = &entry.fact {
            corrected.entry(*of).or_default().insert(entry.id);
        }
    }
    let by_id: BTreeMap<EntryId, &Entry> = book.iter().map(|entry| (entry.id, entry)).collect();
    entries
        .into_iter()
        .map(|entry| {
            let corrects = match &entry.fact {
                Fact::Correction { of, .. } => Some(*of),
                _ => None,
            };
            let yard = yard_of(&entry.fact)
                .or_else(|| corrects.and_then(|of| by_id.get(&of)).and_then(|told| yard_of(&told.fact)));
            EntryView {
                entry: entry.id.to_string(),
                device: entry.device.as_str().to_owned(),
                author: entry.author.clone(),
                happened_on: entry.happened_on.to_string(),
                recorded_at: entry.recorded_at.to_string(),
                fact: entry.fact.name().to_owned(),
                yard: yard.map(|yard| yard.as_str().to_owned()),
                said: told_in_words(entry),
                corrects: corrects.map(|of| of.to_string()),
                corrected_by: corrected.get(&entry.id).into_iter().flatten().map(ToString::to_string).collect(),
            }
        })
        .collect()
}
