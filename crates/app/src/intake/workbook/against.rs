//! What a workbook tells, held against the book: what is new, what changes what an earlier telling said, what stands
//! there already.
//!
//! Taken in twice, a file adds nothing. A row that was changed since corrects the entry it had become; it never stands
//! beside it as a second truth.

use std::collections::BTreeMap;

use jiff::civil::Date;
use outyard_base::trouble::Spot;
use outyard_base::{Note, YardId};
use outyard_book::law::{Happening, What, stand};
use outyard_book::{ContentHash, Entry, EntryId, Fact, SeriesKept, YardKept};

use super::take::{CountTold, RowTold, SeriesTold, Taken, YardTold};

/// Something to be written: a fact of a day, in place of an earlier entry if one is named.
#[derive(Clone, Debug, PartialEq)]
pub struct ToWrite {
    /// The day it happened.
    pub on: Date,
    /// What is told.
    pub fact: Fact,
    /// The entry it corrects.
    pub corrects: Option<EntryId>,
    /// Text of the raw file the fact names.
    pub file: Option<String>,
    /// The row that told it.
    pub place: Spot,
}

impl ToWrite {
    /// The fact as an entry tells it: itself, or a correction.
    pub fn told(&self) -> Fact {
        match self.corrects {
            None => self.fact.clone(),
            Some(of) => Fact::Correction { of, instead: Some(Box::new(self.fact.clone())) },
        }
    }
}

/// What is to be done with a workbook.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Against {
    /// Entries to write, in the order of the file.
    pub write: Vec<ToWrite>,
    /// What stands in the book already.
    pub same: usize,
    /// What is worth knowing.
    pub notes: Vec<Note>,
}

impl Against {
    /// How many of them correct what the book says.
    pub fn corrections(&self) -> usize {
        self.write.iter().filter(|one| one.corrects.is_some()).count()
    }
}

/// Holds what was taken in against the book, up to this morning.
pub fn against(taken: &Taken, book: &[Entry], today: Date) -> Against {
    let stands = stand(book);
    let mut yards: BTreeMap<&YardId, (&Entry, &YardKept)> = BTreeMap::new();
    let mut counts: BTreeMap<(&YardId, Date), &Happening<'_>> = BTreeMap::new();
    let mut latest_count: BTreeMap<&YardId, &Happening<'_>> = BTreeMap::new();
    let mut visits: BTreeMap<(&YardId, Date), Vec<&Happening<'_>>> = BTreeMap::new();
    let mut series: BTreeMap<(&str, &str), Vec<(&Entry, &SeriesKept)>> = BTreeMap::new();
    for happening in &stands.happenings {
        match happening.what {
            What::Fact(Fact::YardKept(kept)) => {
                yards.insert(&kept.yard, (happening.entry, kept));
            }
            What::Fact(Fact::ColoniesCounted { yard, .. }) => {
                counts.insert((yard, happening.on), happening);
                latest_count.insert(yard, happening);
            }
            What::Fact(Fact::SeriesKept(kept)) => {
                series.entry((&kept.what, &kept.source)).or_default().push((happening.entry, kept));
            }
            What::Tally(tally) => visits.entry((&tally.yard, happening.on)).or_default().push(happening),
            What::Fact(_) => {}
        }
    }
    let mut all = Against::default();
    for row in &taken.yards {
        all.yard(row, yards.get(&row.what.kept.yard).copied(), today);
    }
    for row in &taken.counts {
        let CountTold { yard, on, .. } = &row.what;
        let known = match on {
            Some(on) => counts.get(&(yard, *on)),
            // A count of no day is a count of today unless it says what is known.
            None => counts.get(&(yard, today)).or_else(|| latest_count.get(yard)),
        };
        all.count(row, known.copied(), today);
    }
    let in_doubt: Vec<(&YardId, Date)> = stands.doubtful.values().map(|(on, tally)| (&tally.yard, *on)).collect();
    for row in &taken.visits {
        let key = (&row.what.tally.yard, row.what.on);
        if in_doubt.contains(&key) {
            let note = format!(
                "yard {} has tallies of {} that differ; settle them first, this row was left out",
                key.0, key.1
            );
            all.notes.push(Note::new("IMP-109", note).at(row.place.clone()));
            continue;
        }
        let fact = Fact::VisitClosed(row.what.tally.clone());
        match visits.get(&key).map(Vec::as_slice) {
            None => all.put(row.what.on, fact, None, None, &row.place),
            Some(known) if known.iter().any(|known| known.what == What::Tally(&row.what.tally)) => all.same += 1,
            Some([known]) if matches!(known.entry.fact, Fact::VisitClosed(_)) => {
                let corrects = Some(known.entry.id);
                all.put(row.what.on, fact, corrects, None, &row.place);
            }
            Some(_) => {
                let note =
                    format!("the visit of yard {} on {} was settled by a person; this row was left out", key.0, key.1);
                all.notes.push(Note::new("IMP-109", note).at(row.place.clone()));
            }
        }
    }
    for row in &taken.series {
        let known = series.get(&(row.what.what, row.what.source.as_str())).map(Vec::as_slice).unwrap_or_default();
        all.series(row, known, today);
    }
    all
}

impl Against {
    fn put(&mut self, on: Date, fact: Fact, corrects: Option<EntryId>, file: Option<String>, place: &Spot) {
        self.write.push(ToWrite { on, fact, corrects, file, place: place.clone() });
    }

    fn yard(&mut self, row: &RowTold<YardTold>, known: Option<(&Entry, &YardKept)>, today: Date) {
        let told = &row.what;
        let Some((entry, known)) = known else {
            self.put(today, Fact::YardKept(told.kept.clone()), None, None, &row.place);
            return;
        };
        // What the sheet has no column for stays as the book has it.
        let tells = |field: &str| told.tells.contains(field);
        let pick =
            |field: &str, theirs: &String, ours: &String| if tells(field) { theirs.clone() } else { ours.clone() };
        let kept = YardKept {
            yard: known.yard.clone(),
            name: pick("name", &told.kept.name, &known.name),
            place: told.kept.place.or(known.place),
            elevation: if tells("elevation") { told.kept.elevation } else { known.elevation },
            group: pick("group", &told.kept.group, &known.group),
            gate: pick("gate", &told.kept.gate, &known.gate),
            wet_road: if tells("wet_road") { told.kept.wet_road } else { known.wet_road },
            landowner: pick("landowner", &told.kept.landowner, &known.landowner),
            forage: if tells("forage") { told.kept.forage.clone() } else { known.forage.clone() },
        };
        if kept == *known {
            self.same += 1;
        } else {
            self.put(entry.happened_on, Fact::YardKept(kept), Some(entry.id), None, &row.place);
        }
    }

    fn count(&mut self, row: &RowTold<CountTold>, known: Option<&Happening<'_>>, today: Date) {
        let CountTold { yard, on, counts } = &row.what;
        let fact = Fact::ColoniesCounted { yard: yard.clone(), counts: *counts };
        match known {
            Some(known) if known.what == What::Fact(&fact) => self.same += 1,
            Some(known) if known.on == on.unwrap_or(today) => {
                self.put(known.on, fact, Some(known.entry.id), None, &row.place);
            }
            _ => self.put(on.unwrap_or(today), fact, None, None, &row.place),
        }
    }

    fn series(&mut self, row: &RowTold<SeriesTold>, known: &[(&Entry, &SeriesKept)], today: Date) {
        let told = &row.what;
        let kept = SeriesKept {
            source: told.source.clone(),
            what: told.what.to_owned(),
            place: told.station.map(|(place, _)| place),
            elevation: told.station.map(|(_, metres)| metres),
            yard: told.yard.clone(),
            columns: Vec::new(),
            content: ContentHash::of(told.text.as_bytes()),
            rows: told.rows,
            from: told.from,
            to: told.to,
        };
        if known.iter().any(|(_, known)| **known == kept) {
            self.same += 1;
            return;
        }
        // A file that covers all an earlier one did is that one, changed or gone on.
        let before = known.iter().find(|(_, known)| kept.from <= known.from && known.to <= kept.to);
        let on = before.map_or(today, |(entry, _)| entry.happened_on);
        let corrects = before.map(|(entry, _)| entry.id);
        self.put(on, Fact::SeriesKept(kept), corrects, Some(told.text.clone()), &row.place);
    }
}
