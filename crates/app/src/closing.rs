//! Writing down what was done: tallies held against the outfit, put right, struck out, settled. Every face that takes a
//! tally comes through here.

use std::collections::BTreeSet;

use jiff::civil::Date;
use outyard_base::{GearCode, Trouble, YardId};
use outyard_book::ledger::Proposal;
use outyard_book::{Entry, EntryId, Fact, OddCounts, Tally};

use crate::ports::StoreError;
use crate::situation::Situation;
use crate::tally::check_tally;

/// What is wrong with a tally, held against the outfit as it stands this morning.
pub fn faults_of(situation: &Situation, on: Date, tally: &Tally) -> Vec<Trouble> {
    let yard = situation.outfit.yards.get(&tally.yard).filter(|yard| yard.given_up.is_none());
    let mut faults = check_tally(tally, yard.map(|yard| &yard.colonies), &situation.jobs).err().unwrap_or_default();
    if let Some(truck) = &tally.truck
        && !situation.settings.trucks.iter().any(|known| known.id == *truck)
    {
        faults.push(Trouble::new("TLY-005", format!("there is no truck {truck}"), "name it as outfit.toml does"));
    }
    if on > situation.today {
        faults.push(Trouble::new(
            "TLY-006",
            format!("{on} has not come yet"),
            "correct the date; a visit is closed when it is done",
        ));
    }
    faults
}

/// True for a tally that counts nothing: no colony, no gear, nothing seen, no word.
pub fn says_nothing(tally: &Tally) -> bool {
    let gear =
        [&tally.boxes_on, &tally.boxes_off, &tally.boxes_left, &tally.loose_used, &tally.gear_put, &tally.gear_taken];
    tally.jobs.iter().all(|job| job.done.is_empty() && job.undone.is_empty())
        && tally.odd == OddCounts::default()
        && gear.iter().all(|counts| counts.total() == 0)
        && tally.fullness.is_none()
        && tally.signs.is_empty()
        && tally.note.trim().is_empty()
}

/// `TLY-007`: a tally that counts nothing.
pub fn nothing_said() -> Trouble {
    Trouble::new(
        "TLY-007",
        "the tally says nothing",
        "say what was done, such as --done single-down-blow:double=26 --boxes-on deep=26; a visit at which nothing was \
         done has a note that says so",
    )
}

/// Takes out tallies that this device has told before, word for word, of the same day, and names what the book holds in
/// their place: a table taken in again must not double what was done. What was struck out or put right since may be told
/// anew.
pub fn take_out_known(entries: &mut Vec<Entry>, book: &[Entry]) -> Vec<EntryId> {
    let changed: BTreeSet<EntryId> = book
        .iter()
        .filter_map(|entry| match &entry.fact {
            Fact::Correction { of, .. } => Some(*of),
            _ => None,
        })
        .collect();
    let mut known = Vec::new();
    entries.retain(|entry| {
        let before = book.iter().find(|before| {
            before.fact == entry.fact
                && before.happened_on == entry.happened_on
                && before.device == entry.device
                && !changed.contains(&before.id)
        });
        known.extend(before.map(|before| before.id));
        before.is_none()
    });
    known
}

/// Whether an entry of that name is in the book with the same content; then writing it again does no harm.
///
/// # Errors
/// `STO-001` when it is there with other content.
pub fn is_known(known: &Entry, again: &Entry) -> Result<(), Trouble> {
    if known.fact == again.fact && known.happened_on == again.happened_on {
        return Ok(());
    }
    Err(StoreError::SameName(known.id).into())
}

/// An entry of the book by its name.
///
/// # Errors
/// `BOK-110`.
pub fn find_entry(entries: &[Entry], id: EntryId) -> Result<&Entry, Trouble> {
    entries.iter().find(|known| known.id == id).ok_or_else(|| {
        Trouble::new(
            "BOK-110",
            format!("there is no entry {id} in this book"),
            "`outyard book list` shows the names of the entries",
        )
    })
}

/// The fact that puts a tally right: a correction of an earlier one of the same yard. With it goes the earlier one's day.
///
/// # Errors
/// `BOK-110` no such entry, `BOK-111` no tally of that yard.
pub fn put_right(entries: &[Entry], wrong: EntryId, tally: Tally) -> Result<(Date, Fact), Trouble> {
    let known = find_entry(entries, wrong)?;
    if !matches!(&known.fact, Fact::VisitClosed(before) if before.yard == tally.yard) {
        return Err(Trouble::new(
            "BOK-111",
            format!("entry {wrong} is no tally of yard {}", tally.yard),
            "`outyard book list --yard` shows the tallies of a yard; strike out what stands in the wrong yard",
        ));
    }
    let instead = Some(Box::new(Fact::VisitClosed(tally)));
    Ok((known.happened_on, Fact::Correction { of: wrong, instead }))
}

/// The entry that settles two tallies of one visit in a yard by one of them: it holds as it stands.
///
/// # Errors
/// `STL-001` nothing to settle there, `BOK-111` the entry is none of its tallies.
pub fn settled_by(
    situation: &Situation,
    entries: &[Entry],
    yard: &YardId,
    holds: EntryId,
) -> Result<(Date, Fact), Trouble> {
    let doubt = situation
        .outfit
        .ledger
        .doubts
        .iter()
        .filter(|doubt| doubt.conflict.yard == *yard)
        .find(|doubt| doubt.conflict.tallies.contains(&holds));
    let Some(doubt) = doubt else {
        doubt_in(situation, yard)?;
        return Err(Trouble::new(
            "BOK-111",
            format!("entry {holds} is none of the tallies that differ in yard {yard}"),
            "`outyard gear` lists what is not settled",
        ));
    };
    match &find_entry(entries, holds)?.fact {
        Fact::VisitClosed(tally) => Ok((
            doubt.conflict.on,
            Fact::Settled { tallies: doubt.conflict.tallies.clone(), agreed: vec![tally.clone()] },
        )),
        _ => Err(Trouble::new("BOK-111", format!("entry {holds} is no tally"), "settle by one of the tallies shown")),
    }
}

/// The tallies of a yard that differ.
fn doubt_in<'a>(situation: &'a Situation, yard: &YardId) -> Result<&'a outyard_book::ledger::Doubt, Trouble> {
    situation.outfit.ledger.doubts.iter().find(|doubt| doubt.conflict.yard == *yard).ok_or_else(|| {
        Trouble::new(
            "STL-001",
            format!("no visit in yard {yard} has two tallies that differ"),
            "`outyard gear` lists what is not settled",
        )
    })
}

/// The entry that settles two tallies of one visit in a yard: the ledger's own proposal, or the first tally with the
/// gear that was agreed on.
///
/// # Errors
/// `STL-001` nothing to settle there, `STL-002` the book cannot tell and no gear was named.
pub fn settlement(
    situation: &Situation,
    entries: &[Entry],
    yard: &YardId,
    gear: &[(GearCode, u32)],
) -> Result<(Date, Fact), Trouble> {
    let doubt = doubt_in(situation, yard)?;
    if gear.is_empty() {
        return match &doubt.proposal {
            Proposal::Settle { happened_on, fact, .. } => Ok((*happened_on, (**fact).clone())),
            other => Err(Trouble::new(
                "STL-002",
                format!("yard {yard}: {other}"),
                "count the boxes there and say so: outyard settle YARD --gear deep=32",
            )),
        };
    }
    let (on, mut agreed) = doubt
        .conflict
        .tallies
        .iter()
        .filter_map(|id| entries.iter().find(|entry| entry.id == *id))
        .find_map(|entry| match &entry.fact {
            Fact::VisitClosed(tally) => Some((entry.happened_on, tally.clone())),
            _ => None,
        })
        .expect("a conflict is made of tallies in the book");
    for (gear, count) in gear {
        let target = if agreed.gear_put.of(gear) > 0 { &mut agreed.gear_put } else { &mut agreed.boxes_on };
        target.set(gear.clone(), *count);
    }
    Ok((on, Fact::Settled { tallies: doubt.conflict.tallies.clone(), agreed: vec![agreed] }))
}
