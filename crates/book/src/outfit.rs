//! The fold: from the set of entries to the outfit as it stands.
//!
//! What a book of twenty years says of today does not need every visit of its first year beside it: visits, samples, feed,
//! notes and movements of gear are listed from the day of the [`LISTED_LEAST`]-th last happening on, and summed up by yard
//! and year from the first. That day follows from the set of entries alone, as everything here does.
//!
//! Counts are taken as seen and carried forward by what was done since: a put-down turns doubles into singles with the
//! upper box above an excluder, and starts a round whose day is kept. Dead and other odd hives are told by tallies
//! without their kind, so they are summed beside the count and never taken off it.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::LazyLock;

use jiff::civil::Date;
use outyard_base::{DeviceId, GearCode, JobCode, Kilograms, Litres, Minutes, Share, YardId};
use outyard_trade::{ClockStart, JobBook, Kind, KindCounts};

use crate::entry::{Entry, EntryId};
use crate::fact::{
    Fact, MiteSample, OddCounts, Photo, PlanTold, QueensGiven, SeriesKept, SprayCall, Tally, Treatment, Where,
    YardKept, YardTerms,
};
use crate::gear::GearPlace;
use crate::honey::HoneyHouse;
use crate::law::{Conflict, Contested, Happening, Settlement, Stands, What, stand};
use crate::ledger::{Carried, Ledger};

/// Happenings that are listed one by one at the least, the latest; those before are summed up by year (assumed: an outfit
/// of forty yards has not as many in five seasons).
pub const LISTED_LEAST: usize = 16_384;

/// By which rules entries are folded.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FoldRules {
    /// What jobs do to colonies.
    pub turns: JobTurns,
    /// Happenings listed one by one at the least.
    pub listed_least: usize,
}

impl FoldRules {
    /// The rules of the default job book.
    pub fn standard() -> Self {
        Self::of(DEFAULT_TURNS.clone())
    }

    /// The rules of a job book.
    pub const fn of(turns: JobTurns) -> Self {
        Self { turns, listed_least: LISTED_LEAST }
    }
}

/// A yard's year, all visits of it.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct YardYear {
    /// Visits closed.
    pub visits: u32,
    /// Minutes at the yard, as far as tallies tell them.
    pub minutes: i64,
    /// Boxes put on hives.
    pub boxes_on: u64,
    /// Boxes taken off hives.
    pub boxes_off: u64,
    /// Dead colonies met.
    pub dead: u64,
    /// Bees looked through in mite samples.
    pub bees_sampled: u64,
    /// Mites found in them.
    pub mites: u64,
    /// Times fed.
    pub feedings: u32,
    /// Colonies lost.
    pub lost: u64,
    /// Splits made that stand here.
    pub splits: u64,
    /// Boxes of it extracted.
    pub boxes_extracted: u64,
}

/// What the jobs of a job book do to the kinds of the colonies they are done to.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct JobTurns {
    put_down: BTreeSet<JobCode>,
}

impl JobTurns {
    /// Reads it off a job book: a job that starts the clock of an excluder under brood puts down.
    pub fn of(book: &JobBook) -> Self {
        let puts_down = |starts: &[ClockStart]| starts.contains(&ClockStart::ExcluderUnderBrood);
        Self { put_down: book.jobs.values().filter(|job| puts_down(&job.starts)).map(|job| job.code.clone()).collect() }
    }

    /// The same, by the jobs alone.
    pub(crate) const fn of_jobs(put_down: BTreeSet<JobCode>) -> Self {
        Self { put_down }
    }

    /// The jobs that put the queen down under an excluder.
    pub(crate) fn put_downs(&self) -> impl Iterator<Item = &JobCode> {
        self.put_down.iter()
    }

    /// True for a job that puts the queen down under an excluder.
    pub fn is_put_down(&self, job: &JobCode) -> bool {
        self.put_down.contains(job)
    }
}

/// A closed visit that counts.
#[derive(Clone, Debug, PartialEq)]
pub struct Visit {
    /// The entry that tells of it: a tally, or the settlement that agreed on it.
    pub entry: EntryId,
    /// The day.
    pub on: Date,
    /// Who wrote it.
    pub author: String,
    /// The device it was first written on.
    pub device: DeviceId,
    /// What was done.
    pub tally: Tally,
}

/// A treatment that went in, and when it came out.
#[derive(Clone, Debug, PartialEq)]
pub struct TreatmentRound {
    /// The entry that tells of it.
    pub entry: EntryId,
    /// Day it went in.
    pub in_on: Date,
    /// Day it came out, if it is told.
    pub out_on: Option<Date>,
    /// What it was.
    pub treatment: Treatment,
}

/// Something seen or done on a day, with the entry that tells of it.
#[derive(Clone, Debug, PartialEq)]
pub struct Dated<T> {
    /// The entry.
    pub entry: EntryId,
    /// The day.
    pub on: Date,
    /// What.
    pub what: T,
}

/// Feed given at one yard.
#[derive(Clone, Debug, PartialEq)]
pub struct Feeding {
    /// Colonies fed.
    pub colonies: u32,
    /// What.
    pub feed: String,
    /// Syrup, all colonies together.
    pub syrup: Option<Litres>,
    /// Sugar or dry feed, all colonies together.
    pub sugar: Option<Kilograms>,
}

/// Bloom seen.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Bloom {
    /// Where.
    pub at: Where,
    /// The plant.
    pub plant: String,
    /// The stage.
    pub stage: String,
}

/// Flow seen on or off.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FlowSign {
    /// Where.
    pub at: Where,
    /// True when on.
    pub on: bool,
    /// What told him.
    pub sign: String,
}

/// Words kept.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Words {
    /// The yard they are about, if one.
    pub yard: Option<YardId>,
    /// The words.
    pub text: String,
}

/// A yard as it stands.
#[derive(Clone, Debug, PartialEq)]
pub struct Yard {
    /// What is known of it; only its name when visits came before any description.
    pub kept: YardKept,
    /// Day it was first told of.
    pub since: Date,
    /// Day it was given up, when it is not kept any more.
    pub given_up: Option<Date>,
    /// Colonies by kind: as counted last, carried forward by the jobs done since.
    pub colonies: KindCounts,
    /// Day of the last count of colonies. Older means less sure.
    pub counted_on: Option<Date>,
    /// Odd hives told of since that count.
    pub odd: OddCounts,
    /// Put-down rounds: the day the queens were put down (D0), and the colonies by the kind they were before. The last
    /// one, and those listed.
    pub put_down: BTreeMap<Date, KindCounts>,
    /// Visits that count and are listed, in order of time.
    pub visits: Vec<Visit>,
    /// Day of the last visit that counts, listed or not.
    pub visited_on: Option<Date>,
    /// What was done here, by year.
    pub years: BTreeMap<i16, YardYear>,
    /// Gear standing on hives, by the ledger; kinds at nought left out.
    pub on_hives: BTreeMap<GearCode, i64>,
    /// Gear loose in the yard, by the ledger; kinds at nought left out.
    pub loose: BTreeMap<GearCode, i64>,
    /// Day of the last count of boxes on hives.
    pub boxes_counted_on: Option<Date>,
    /// How full the honey boxes last stood, and when.
    pub fullness: Option<(Date, Share)>,
    /// Treatments that are in, and those listed that came out; in order of going in.
    pub treatments: Vec<TreatmentRound>,
    /// Mite samples that are listed, in order of time.
    pub samples: Vec<Dated<MiteSample>>,
    /// Feed given, as far as listed, in order of time.
    pub fed: Vec<Dated<Feeding>>,
    /// Queens given, as far as listed, in order of time.
    pub queens: Vec<Dated<QueensGiven>>,
    /// What is agreed and known around it, when told.
    pub terms: Option<YardTerms>,
}

impl Yard {
    pub(crate) fn new(yard: YardId, since: Date) -> Self {
        Self {
            kept: YardKept::new(yard),
            since,
            given_up: None,
            colonies: KindCounts::NONE,
            counted_on: None,
            odd: OddCounts::default(),
            put_down: BTreeMap::new(),
            visits: Vec::new(),
            visited_on: None,
            years: BTreeMap::new(),
            on_hives: BTreeMap::new(),
            loose: BTreeMap::new(),
            boxes_counted_on: None,
            fullness: None,
            treatments: Vec::new(),
            samples: Vec::new(),
            fed: Vec::new(),
            queens: Vec::new(),
            terms: None,
        }
    }

    /// The last put-down round: its day, and the colonies by the kind they were before.
    pub fn last_put_down(&self) -> Option<(Date, KindCounts)> {
        self.put_down.last_key_value().map(|(day, counts)| (*day, *counts))
    }

    /// Day of the last visit that counts.
    pub fn last_visit(&self) -> Option<Date> {
        self.visited_on
    }
}

/// The outfit as it stands.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Outfit {
    /// Yards by name, given-up ones included.
    pub yards: BTreeMap<YardId, Yard>,
    /// Gear by place, what cannot be placed, and visits in doubt with what would settle them.
    pub ledger: Ledger,
    /// Visits with several tallies, unsettled. [`Ledger::doubts`] holds a proposal for each.
    pub conflicts: Vec<Conflict>,
    /// Settlements that count.
    pub settlements: Vec<Settlement>,
    /// Entries with more than one correction alive.
    pub contested: Vec<Contested>,
    /// Series of readings, in order of keeping.
    pub series: Vec<Dated<SeriesKept>>,
    /// Lots, drums and sales.
    pub honey: HoneyHouse,
    /// Calls about sprayings, in order of time.
    pub spray_calls: Vec<Dated<SprayCall>>,
    /// Photos, in order of time.
    pub photos: Vec<Dated<Photo>>,
    /// Bloom seen, in order of time.
    pub blooms: Vec<Dated<Bloom>>,
    /// Flow seen on or off, as far as listed, in order of time.
    pub flows: Vec<Dated<FlowSign>>,
    /// The plan the crews were told last, as far as listed.
    pub told: Option<Dated<PlanTold>>,
    /// Words kept, as far as listed, in order of time.
    pub notes: Vec<Dated<Words>>,
    /// Entries struck out.
    pub struck: Vec<EntryId>,
    /// Corrections of entries that have not arrived.
    pub awaiting: Vec<EntryId>,
    /// Corrections that change nothing (they run in a circle, or put a correction in place of something).
    pub idle: Vec<EntryId>,
    /// Entries a newer program wrote and this one does not know.
    pub unread: Vec<EntryId>,
    /// Names under which entries of different content arrived.
    pub same_name: Vec<EntryId>,
    /// Entries in the book.
    pub entries: usize,
    /// The last day anything happened.
    pub last_day: Option<Date>,
    /// Visits, samples, feed, notes and movements are listed from this day on; `None` when all of them are.
    pub listed_from: Option<Date>,
}

impl Outfit {
    /// Yards kept today, in the order of their names.
    pub fn kept_yards(&self) -> impl Iterator<Item = (&YardId, &Yard)> {
        self.yards.iter().filter(|(_, yard)| yard.given_up.is_none())
    }

    /// Colonies of all yards kept.
    pub fn colonies(&self) -> KindCounts {
        self.kept_yards().fold(KindCounts::NONE, |all, (_, yard)| add(all, &yard.colonies))
    }
}

/// Sums that stop at a number that can still be totalled: a book with nonsense in it must not bring the program down.
const COLONIES_MOST: u32 = 100_000_000;

fn add(mut all: KindCounts, more: &KindCounts) -> KindCounts {
    for (kind, count) in more.iter() {
        all.set(kind, all.get(kind).saturating_add(count).min(COLONIES_MOST));
    }
    all
}

fn less(mut all: KindCounts, fewer: &KindCounts) -> KindCounts {
    for (kind, count) in fewer.iter() {
        all.set(kind, all.get(kind).saturating_sub(count));
    }
    all
}

static DEFAULT_TURNS: LazyLock<JobTurns> = LazyLock::new(|| JobTurns::of(&JobBook::standard()));

/// The outfit as it stands, by the jobs of the default job book.
///
/// The same set of entries gives the same outfit, in whatever order and however often they come.
pub fn fold<'a>(entries: impl IntoIterator<Item = &'a Entry>) -> Outfit {
    fold_with(entries, &DEFAULT_TURNS)
}

/// The outfit as it stands, by the jobs of the outfit's own job book.
pub fn fold_with<'a>(entries: impl IntoIterator<Item = &'a Entry>, turns: &JobTurns) -> Outfit {
    fold_by(entries, &FoldRules::of(turns.clone()))
}

/// The outfit as it stands, by these rules.
pub fn fold_by<'a>(entries: impl IntoIterator<Item = &'a Entry>, rules: &FoldRules) -> Outfit {
    let stands = stand(entries);
    let listed_from = listed_from(&stands, rules.listed_least);
    fold_on(Outfit::default(), Carried::default(), stands, listed_from, &rules.turns)
}

/// The first day from which happenings are listed.
pub(crate) fn listed_from(stands: &Stands<'_>, least: usize) -> Option<Date> {
    let first = stands.happenings.len().checked_sub(least).filter(|first| *first > 0)?;
    stands.happenings.get(first).map(|happening| happening.on)
}

/// Folds what stands onto an outfit of everything before.
pub(crate) fn fold_on(
    before: Outfit,
    carried: Carried,
    stands: Stands<'_>,
    listed_from: Option<Date>,
    turns: &JobTurns,
) -> Outfit {
    let from = listed_from.unwrap_or(Date::MIN);
    let mut outfit = before;
    outfit.ledger = Ledger::carried_on(carried, &stands, from);
    outfit.entries += stands.entries;
    for happening in &stands.happenings {
        outfit.take_in(happening, turns, from);
    }
    outfit.listed_from = listed_from;
    outfit.last_day = stands.happenings.last().map(|happening| happening.on).or(outfit.last_day);
    outfit.conflicts = stands.conflicts;
    outfit.settlements.extend(stands.settlements);
    outfit.settlements.sort_by_key(|settlement| settlement.entry);
    outfit.contested.extend(stands.contested);
    outfit.contested.sort_by_key(|contested| contested.of);
    outfit.struck.extend(stands.struck);
    outfit.struck.sort_unstable();
    outfit.awaiting = stands.awaiting;
    outfit.idle = stands.idle;
    outfit.unread = stands.unread;
    outfit.same_name = stands.same_name;
    outfit.let_go_before(from);
    for (id, yard) in &mut outfit.yards {
        yard.on_hives = outfit.ledger.in_place(&GearPlace::OnHives(id.clone()));
        yard.loose = outfit.ledger.in_place(&GearPlace::LooseInYard(id.clone()));
    }
    outfit
}

impl Outfit {
    fn yard(&mut self, yard: &YardId, on: Date) -> &mut Yard {
        if !self.yards.contains_key(yard) {
            self.yards.insert(yard.clone(), Yard::new(yard.clone(), on));
        }
        self.yards.get_mut(yard).expect("put in just above")
    }

    /// Lets go of what came to an end before lists begin.
    pub(crate) fn let_go_before(&mut self, from: Date) {
        for yard in self.yards.values_mut() {
            yard.treatments.retain(|round| round.in_on >= from || round.out_on.is_none_or(|out| out >= from));
            let last = yard.put_down.last_key_value().map(|(day, _)| *day);
            yard.put_down.retain(|day, _| *day >= from || Some(*day) == last);
        }
    }

    /// Takes in what happened; what is listed only for a while is listed when it happened on this day or later.
    pub(crate) fn take_in(&mut self, happening: &Happening<'_>, turns: &JobTurns, listed_from: Date) {
        let on = happening.on;
        let listed = on >= listed_from;
        let entry = happening.entry.id;
        let fact = match happening.what {
            What::Tally(tally) => {
                let yard = self.yard(&tally.yard, on);
                yard.close_visit(on, tally, turns);
                if listed {
                    yard.visits.push(Visit {
                        entry,
                        on,
                        author: happening.entry.author.clone(),
                        device: happening.device.clone(),
                        tally: tally.clone(),
                    });
                }
                return;
            }
            What::Fact(fact) => fact,
        };
        match fact {
            Fact::YardKept(kept) => {
                let yard = self.yard(&kept.yard, on);
                yard.kept = kept.clone();
                yard.given_up = None;
            }
            Fact::YardGivenUp { yard } => self.yard(yard, on).given_up = Some(on),
            Fact::ColoniesCounted { yard, counts } => {
                let yard = self.yard(yard, on);
                yard.colonies = *counts;
                yard.counted_on = Some(on);
                yard.odd = OddCounts::default();
            }
            Fact::BoxesCounted { yard, fullness, .. } => {
                let yard = self.yard(yard, on);
                yard.boxes_counted_on = Some(on);
                yard.fullness = fullness.map(|share| (on, share)).or(yard.fullness);
            }
            Fact::TreatmentIn(treatment) => self.yard(&treatment.yard, on).treatments.push(TreatmentRound {
                entry,
                in_on: on,
                out_on: None,
                treatment: treatment.clone(),
            }),
            Fact::TreatmentOut { yard, product, .. } => {
                let rounds = &mut self.yard(yard, on).treatments;
                for round in rounds.iter_mut().filter(|round| round.treatment.product == *product) {
                    round.out_on = round.out_on.or(Some(on));
                }
            }
            Fact::MiteSample(sample) => {
                let yard = self.yard(&sample.yard, on);
                let year = yard.years.entry(on.year()).or_default();
                year.bees_sampled += u64::from(sample.bees);
                year.mites += u64::from(sample.mites);
                if listed {
                    yard.samples.push(Dated { entry, on, what: sample.clone() });
                }
            }
            Fact::Fed { yard, colonies, feed, syrup, sugar } => {
                let yard = self.yard(yard, on);
                yard.years.entry(on.year()).or_default().feedings += 1;
                if listed {
                    let what = Feeding { colonies: *colonies, feed: feed.clone(), syrup: *syrup, sugar: *sugar };
                    yard.fed.push(Dated { entry, on, what });
                }
            }
            Fact::SeriesKept(series) => self.series.push(Dated { entry, on, what: series.clone() }),
            Fact::BloomSeen { at, plant, stage } => {
                let what = Bloom { at: at.clone(), plant: plant.clone(), stage: stage.clone() };
                self.blooms.push(Dated { entry, on, what });
            }
            Fact::FlowSeen { at, on: flows, sign } if listed => {
                let what = FlowSign { at: at.clone(), on: *flows, sign: sign.clone() };
                self.flows.push(Dated { entry, on, what });
            }
            Fact::PlanTold(told) if listed => self.told = Some(Dated { entry, on, what: told.clone() }),
            Fact::Note { yard, text } if listed => {
                let what = Words { yard: yard.clone(), text: text.clone() };
                self.notes.push(Dated { entry, on, what });
            }
            Fact::HoneyExtracted(extraction) => {
                for from in &extraction.boxes {
                    let year = self.yard(&from.yard, on).years.entry(on.year()).or_default();
                    year.boxes_extracted += u64::from(from.boxes);
                }
                self.honey.extractions.push(Dated { entry, on, what: extraction.clone() });
            }
            Fact::HoneyDrummed(drum) => self.honey.drums.push(Dated { entry, on, what: drum.clone() }),
            Fact::HoneySold(sale) => self.honey.sales.push(Dated { entry, on, what: sale.clone() }),
            Fact::SprayTold(call) => self.spray_calls.push(Dated { entry, on, what: call.clone() }),
            Fact::PhotoKept(photo) => self.photos.push(Dated { entry, on, what: photo.clone() }),
            Fact::YardTerms(terms) => self.yard(&terms.yard, on).terms = Some(terms.clone()),
            Fact::ColoniesMoved { from, to, counts } => {
                let yard = self.yard(from, on);
                yard.colonies = less(yard.colonies, counts);
                let yard = self.yard(to, on);
                yard.colonies = add(yard.colonies, counts);
            }
            Fact::SplitsMade { from, to, splits, .. } => {
                self.yard(from, on);
                let yard = self.yard(to, on);
                yard.colonies = add(yard.colonies, &KindCounts::of(&[(Kind::Split, *splits)]));
                yard.years.entry(on.year()).or_default().splits += u64::from(*splits);
            }
            Fact::ColoniesLost { yard, counts, .. } => {
                let yard = self.yard(yard, on);
                yard.colonies = less(yard.colonies, counts);
                yard.years.entry(on.year()).or_default().lost += u64::from(counts.total());
            }
            Fact::QueensGiven(given) => {
                let yard = self.yard(&given.yard, on);
                if listed {
                    yard.queens.push(Dated { entry, on, what: given.clone() });
                }
            }
            // Gear is the ledger's; tallies, corrections and settlements were followed before; the unknown is listed.
            Fact::FlowSeen { .. }
            | Fact::PlanTold(_)
            | Fact::Note { .. }
            | Fact::GearCounted { .. }
            | Fact::GearMoved { .. }
            | Fact::GearBought { .. }
            | Fact::GearLost { .. }
            | Fact::TruckLoaded { .. }
            | Fact::TruckHome { .. }
            | Fact::VisitClosed(_)
            | Fact::Correction { .. }
            | Fact::Settled { .. }
            | Fact::Unknown { .. } => {}
        }
    }
}

impl Yard {
    fn close_visit(&mut self, on: Date, tally: &Tally, turns: &JobTurns) {
        let year = self.years.entry(on.year()).or_default();
        year.visits += 1;
        year.minutes += tally.minutes.map_or(0, Minutes::get);
        year.boxes_on += tally.boxes_on.total();
        year.boxes_off += tally.boxes_off.total();
        year.dead += u64::from(tally.odd.dead);
        for job in tally.jobs.iter().filter(|job| turns.is_put_down(&job.job)) {
            let round = self.put_down.entry(on).or_default();
            *round = add(*round, &job.done);
            // More put down than the last count knew of: the tally was there, the count is older.
            let doubles = job.done.get(Kind::Double);
            self.colonies.set(Kind::Double, self.colonies.get(Kind::Double).saturating_sub(doubles));
            self.colonies = add(self.colonies, &KindCounts::of(&[(Kind::Single, doubles)]));
        }
        let odd = &mut self.odd;
        odd.dead = odd.dead.saturating_add(tally.odd.dead);
        odd.queenless = odd.queenless.saturating_add(tally.odd.queenless);
        odd.swarmed = odd.swarmed.saturating_add(tally.odd.swarmed);
        odd.weak = odd.weak.saturating_add(tally.odd.weak);
        self.fullness = tally.fullness.map(|share| (on, share)).or(self.fullness);
        self.visited_on = Some(on);
    }
}
