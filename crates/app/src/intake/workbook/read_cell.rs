//! Words of cells that name a kind of colony or a job.

use outyard_base::{JobCode, Trouble};
use outyard_trade::Kind;
use outyard_trade::jobbook::JobBook;

use super::fields::words_of;
use super::grid::Cell;
use super::values::{broken, fault};

/// What a word says of a colony.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Standing {
    /// It stands, and is of this kind.
    Is(Kind),
    /// It is dead or the hive is empty: nothing to count.
    Gone,
}

/// Words for each kind in English, Spanish and French; ours.
const KINDS: [(Kind, &[&str]); 5] = [
    (Kind::Double, &["double", "double deep", "d", "2", "2 box", "two box", "doble", "camara doble", "deux corps"]),
    (Kind::Single, &["single", "single deep", "1", "1 box", "one box", "sencilla", "sencillo", "simple", "un corps"]),
    (Kind::Split, &["split", "nuc", "nucleo", "division", "essaim", "new"]),
    (Kind::Weak, &["weak", "w", "small", "debil", "faible"]),
    (Kind::Queenless, &["queenless", "ql", "no queen", "q", "sin reina", "huerfana", "orpheline", "sans reine"]),
];
const GONE: &[&str] =
    &["dead", "empty", "lost", "none", "dead out", "deadout", "muerta", "vacia", "morte", "vide", "perdue"];

/// Words for jobs beside their codes and names; ours.
const JOBS: [(&str, &[&str]); 7] = [
    ("single-down-blow", &["put down", "put down blowing", "blow down", "blown down", "put down blow"]),
    ("single-down-shake", &["put down shaking", "shake down", "put down shake"]),
    ("single-down-search", &["put down searching", "put down search", "find queen and put down"]),
    ("brood-lift", &["brood up", "brood lift", "lift brood"]),
    (
        "add-boxes",
        &["add boxe", "add box", "add super", "supering", "super", "poner alza", "alza", "hausse", "poser hausse"],
    ),
    ("pull", &["pull", "pull honey", "pulling", "sacar miel", "cosecha", "recolte"]),
    ("feed", &["feed", "feeding", "alimentar", "nourrir", "nourrissement"]),
];

pub(super) fn read_standing(cell: &Cell) -> Result<Standing, Trouble> {
    if let Cell::Broken(sign) = cell {
        return Err(broken(sign));
    }
    let words = words_of(&cell.text());
    let known = KINDS.iter().find(|(_, names)| names.iter().any(|name| words_of(name) == words));
    if let Some((kind, _)) = known {
        return Ok(Standing::Is(*kind));
    }
    if GONE.iter().any(|name| words_of(name) == words) {
        return Ok(Standing::Gone);
    }
    Err(fault(
        "IMP-022",
        format!("\"{}\" is no kind of colony", cell.text().chars().take(40).collect::<String>()),
        "write double, single, split, weak or queenless; dead or empty for a hive without bees",
    ))
}

pub(super) fn reads_as_kind(cell: &Cell) -> bool {
    read_standing(cell).is_ok()
}

pub(super) fn read_job(cell: &Cell, jobs: &JobBook) -> Result<JobCode, Trouble> {
    if let Cell::Broken(sign) = cell {
        return Err(broken(sign));
    }
    let text = cell.text();
    let words = words_of(&text);
    let by_book = jobs.jobs.values().find(|job| words_of(job.code.as_str()) == words || words_of(&job.name) == words);
    if let Some(job) = by_book {
        return Ok(job.code.clone());
    }
    let by_word = JOBS.iter().find(|(_, names)| names.iter().any(|name| words_of(name) == words));
    match by_word {
        Some((code, _)) => jobs.job(code).map(|job| job.code.clone()),
        None => jobs.job(&text).map(|job| job.code.clone()),
    }
}

pub(super) fn reads_as_job(cell: &Cell, jobs: &JobBook) -> bool {
    read_job(cell, jobs).is_ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn kinds_and_jobs_are_known_by_their_words() {
        let text = |text: &str| Cell::Text(text.to_owned());
        assert_eq!(read_standing(&text("Doubles")), Ok(Standing::Is(Kind::Double)));
        assert_eq!(read_standing(&text("Sans reine")), Ok(Standing::Is(Kind::Queenless)));
        assert_eq!(read_standing(&Cell::Number(2.0)), Ok(Standing::Is(Kind::Double)));
        assert_eq!(read_standing(&text("Dead-out")), Ok(Standing::Gone));
        assert_eq!(read_standing(&text("blue")).unwrap_err().code, "IMP-022");
        let jobs = JobBook::standard();
        assert_eq!(read_job(&text("Add boxes"), &jobs).unwrap().as_str(), "add-boxes");
        assert_eq!(read_job(&text("PULL-HONEY"), &jobs).unwrap().as_str(), "pull");
        assert_eq!(read_job(&text("mite-wash"), &jobs).unwrap().as_str(), "mite-wash");
        assert_eq!(read_job(&text("dance"), &jobs).unwrap_err().code, "TRD-010");
        assert!(JOBS.iter().all(|(code, _)| jobs.job(code).is_ok()));
    }
}
