//! What is told of the rest of the year, held against the outfit before it is written.

use std::collections::BTreeSet;

use jiff::civil::Date;
use outyard_base::{Note, Trouble, YardId};
use outyard_book::{Fact, Kind, KindCounts, Outfit, Treatment};

/// What a fact names that cannot be; nothing when it can be written.
pub fn faults_of(outfit: &Outfit, on: Date, fact: &Fact) -> Vec<Trouble> {
    let mut faults = Vec::new();
    for yard in yards_of(fact) {
        if outfit.yards.get(yard).is_none_or(|yard| yard.given_up.is_some()) {
            faults.push(unknown_yard(yard));
        }
    }
    match fact {
        Fact::HoneyExtracted(it) => {
            if it.boxes.iter().all(|from| from.boxes == 0) {
                faults.push(nothing("an extraction names the boxes it came from: 7=34"));
            }
            for from in it.boxes.iter().filter(|from| from.pulled_on.is_some_and(|pulled| pulled > on)) {
                faults.push(Trouble::new(
                    "YER-002",
                    format!("boxes of yard {} were extracted before they were pulled", from.yard),
                    "correct one of the two days",
                ));
            }
        }
        Fact::HoneyDrummed(it) => {
            if it.from.iter().all(|(_, kg)| kg.get() <= 0.0) {
                faults.push(nothing("a drum names the honey in it: L29=295.5"));
            }
            if outfit.honey.is_filled(&it.drum) {
                faults.push(Trouble::new(
                    "YER-003",
                    format!("drum {} was filled before", it.drum),
                    "give it another name, such as the year before the number, or strike out the entry that was wrong",
                ));
            }
            let lots = outfit.honey.lots();
            for (lot, _) in
                it.from.iter().filter(|(lot, _)| lots.get(lot.as_str()).is_none_or(|lot| lot.days.is_none()))
            {
                faults.push(Trouble::new(
                    "YER-004",
                    format!("no lot {lot} was ever extracted"),
                    "write the extraction first, or correct the lot's name; `outyard honey` lists them",
                ));
            }
        }
        Fact::HoneySold(it) => {
            if it.drums.is_empty() {
                faults.push(nothing("a sale names its drums"));
            }
            let mut named = BTreeSet::new();
            for drum in &it.drums {
                if !outfit.honey.is_filled(drum) {
                    faults.push(Trouble::new(
                        "YER-005",
                        format!("no drum {drum} was ever filled"),
                        "write the drum first, or correct its name; `outyard honey` lists them",
                    ));
                }
                if outfit.honey.is_sold(drum) || !named.insert(drum) {
                    faults.push(Trouble::new(
                        "YER-006",
                        format!("drum {drum} is sold already"),
                        "strike out the sale that was wrong, or correct the drum's name",
                    ));
                }
            }
        }
        Fact::ColoniesMoved { from, to, counts } => {
            faults.extend(fewer_than(outfit, from, counts));
            faults.extend(same_yard(from, to));
        }
        Fact::ColoniesLost { yard, counts, .. } => faults.extend(fewer_than(outfit, yard, counts)),
        Fact::SplitsMade { splits: 0, .. } => faults.push(nothing("say how many splits were made")),
        Fact::QueensGiven(it) => {
            if it.colonies == 0 {
                faults.push(nothing("say how many colonies were given a queen"));
            }
            if it.laying.is_some_and(|laying| laying > it.colonies) {
                faults.push(Trouble::new(
                    "YER-007",
                    "more queens are laying than were given",
                    "correct one of the two counts",
                ));
            }
        }
        Fact::MiteSample(it) if it.bees == 0 && it.board_days.is_none() => {
            faults.push(nothing("a sample tells its bees, or the days its board lay"));
        }
        Fact::TreatmentIn(Treatment { colonies: 0, .. }) | Fact::Fed { colonies: 0, .. } => {
            faults.push(nothing("say how many colonies"));
        }
        Fact::TreatmentIn(it) if it.days_in_least > it.days_in_most && it.days_in_most.is_some() => {
            faults.push(Trouble::new(
                "YER-008",
                "the label's fewest days are more than its most",
                "type both off the label again; the label decides",
            ));
        }
        Fact::TreatmentOut { yard, product, .. } => {
            let is_in = outfit.yards.get(yard).is_some_and(|yard| {
                yard.treatments.iter().any(|round| round.out_on.is_none() && round.treatment.product == *product)
            });
            if !is_in {
                faults.push(Trouble::new(
                    "YER-009",
                    format!("the book knows of no \"{product}\" that is in at yard {yard}"),
                    "write it as it went in: `outyard yard YARD` tells what is in",
                ));
            }
        }
        _ => {}
    }
    faults
}

/// What is worth knowing once it is written.
pub fn notes_after(outfit: &Outfit) -> Vec<Note> {
    outfit.honey.faults().into_iter().map(|fault| Note::new("YER-101", fault.to_string())).collect()
}

/// A yard the book does not know.
pub fn unknown_yard(yard: &YardId) -> Trouble {
    Trouble::new(
        "YER-001",
        format!("the book knows of no yard {yard}"),
        "correct its name, or import the yard first; `outyard yards list` lists them",
    )
}

fn nothing(remedy: &str) -> Trouble {
    Trouble::new("YER-010", "that says nothing", remedy.to_owned())
}

fn same_yard(from: &YardId, to: &YardId) -> Option<Trouble> {
    (from == to)
        .then(|| Trouble::new("YER-011", "the two yards are the same", "name where they came from and where they are"))
}

/// More colonies than the book knows of, by any kind.
fn fewer_than(outfit: &Outfit, yard: &YardId, counts: &KindCounts) -> Vec<Trouble> {
    let known = outfit.yards.get(yard).map_or(KindCounts::NONE, |yard| yard.colonies);
    let short = Kind::ALL.into_iter().filter(|kind| counts.get(*kind) > known.get(*kind));
    let mut faults: Vec<Trouble> = short
        .map(|kind| {
            Trouble::new(
                "YER-012",
                format!("yard {yard} has {} {} by the book", known.get(kind), kind.label(known.get(kind))),
                "count the yard first, or correct the kind",
            )
        })
        .collect();
    if counts.total() == 0 {
        faults.push(nothing("say how many colonies, by kind: double=2"));
    }
    faults
}

fn yards_of(fact: &Fact) -> Vec<&YardId> {
    match fact {
        Fact::HoneyExtracted(it) => it.boxes.iter().map(|from| &from.yard).collect(),
        Fact::SprayTold(it) => it.yards.iter().collect(),
        Fact::PhotoKept(it) => it.yard.iter().collect(),
        Fact::ColoniesMoved { from, to, .. } | Fact::SplitsMade { from, to, .. } => vec![from, to],
        fact => crate::pages::book::yard_of(fact).into_iter().collect(),
    }
}
