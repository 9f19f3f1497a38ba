//! The fold: from the set of entries to the outfit as it stands.
//!
//! Counts are taken as seen and carried forward by what was done since: a put-down turns doubles into singles with the
//! upper box above an excluder, and starts a round whose day is kept. Dead and other odd hives are told by tallies
//! without their kind, so they are summed beside the count and never taken off it.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::LazyLock;

use jiff::civil::Date;
use outyard_base::{DeviceId, GearCode, JobCode, Kilograms, Litres, Share, YardId};
use outyard_trade::{ClockStart, JobBook, Kind, KindCounts};

use crate::entry::{Entry, EntryId};
use crate::fact::{Fact, MiteSample, OddCounts, SeriesKept, Tally, Treatment, Where, YardKept};
use crate::gear::GearPlace;
use crate::law::{Conflict, Contested, Happening, Settlement, What, stand};
use crate::ledger::Ledger;

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
    /// Put-down rounds: the day the queens were put down (D0), and the colonies by the kind they were before.
    pub put_down: BTreeMap<Date, KindCounts>,
    /// Visits that count, in order of time.
    pub visits: Vec<Visit>,
    /// Gear standing on hives, by the ledger; kinds at nought left out.
    pub on_hives: BTreeMap<GearCode, i64>,
    /// Gear loose in the yard, by the ledger; kinds at nought left out.
    pub loose: BTreeMap<GearCode, i64>,
    /// Day of the last count of boxes on hives.
    pub boxes_counted_on: Option<Date>,
    /// How full the honey boxes last stood, and when.
    pub fullness: Option<(Date, Share)>,
    /// Treatments, in order of going in.
    pub treatments: Vec<TreatmentRound>,
    /// Mite samples, in order of time.
    pub samples: Vec<Dated<MiteSample>>,
    /// Feed given, in order of time.
    pub fed: Vec<Dated<Feeding>>,
}

impl Yard {
    fn new(yard: YardId, since: Date) -> Self {
        Self {
            kept: YardKept::new(yard),
            since,
            given_up: None,
            colonies: KindCounts::NONE,
            counted_on: None,
            odd: OddCounts::default(),
            put_down: BTreeMap::new(),
            visits: Vec::new(),
            on_hives: BTreeMap::new(),
            loose: BTreeMap::new(),
            boxes_counted_on: None,
            fullness: None,
            treatments: Vec::new(),
            samples: Vec::new(),
            fed: Vec::new(),
        }
    }

    /// The last put-down round: its day, and the colonies by the kind they were before.
    pub fn last_put_down(&self) -> Option<(Date, KindCounts)> {
        self.put_down.last_key_value().map(|(day, counts)| (*day, *counts))
    }

    /// Day of the last visit that counts.
    pub fn last_visit(&self) -> Option<Date> {
        self.visits.last().map(|visit| visit.on)
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
    /// Bloom seen, in order of time.
    pub blooms: Vec<Dated<Bloom>>,
    /// Flow seen on or off, in order of time.
    pub flows: Vec<Dated<FlowSign>>,
    /// Words kept, in order of time.
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

static DEFAULT_TURNS: LazyLock<JobTurns> = LazyLock::new(|| JobTurns::of(&JobBook::standard()));

/// The outfit as it stands, by the jobs of the default job book.
///
/// The same set of entries gives the same outfit, in whatever order and however often they come.
pub fn fold<'a>(entries: impl IntoIterator<Item = &'a Entry>) -> Outfit {
    fold_with(entries, &DEFAULT_TURNS)
}

/// The outfit as it stands, by the jobs of the outfit's own job book.
pub fn fold_with<'a>(entries: impl IntoIterator<Item = &'a Entry>, turns: &JobTurns) -> Outfit {
    let stands = stand(entries);
    let mut outfit = Outfit { ledger: Ledger::of(&stands), entries: stands.entries, ..Outfit::default() };
    for happening in &stands.happenings {
        outfit.take_in(happening, turns);
    }
    outfit.last_day = stands.happenings.last().map(|happening| happening.on);
    outfit.conflicts = stands.conflicts;
    outfit.settlements = stands.settlements;
    outfit.contested = stands.contested;
    outfit.struck = stands.struck;
    outfit.awaiting = stands.awaiting;
    outfit.idle = stands.idle;
    outfit.unread = stands.unread;
    outfit.same_name = stands.same_name;
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

    fn take_in(&mut self, happening: &Happening<'_>, turns: &JobTurns) {
        let on = happening.on;
        let entry = happening.entry.id;
        let fact = match happening.what {
            What::Tally(tally) => {
                let visit = Visit {
                    entry,
                    on,
                    author: happening.entry.author.clone(),
                    device: happening.device.clone(),
                    tally: tally.clone(),
                };
                self.yard(&tally.yard, on).close_visit(visit, turns);
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
                self.yard(&sample.yard, on).samples.push(Dated { entry, on, what: sample.clone() });
            }
            Fact::Fed { yard, colonies, feed, syrup, sugar } => {
                let what = Feeding { colonies: *colonies, feed: feed.clone(), syrup: *syrup, sugar: *sugar };
                self.yard(yard, on).fed.push(Dated { entry, on, what });
            }
            Fact::SeriesKept(series) => self.series.push(Dated { entry, on, what: series.clone() }),
            Fact::BloomSeen { at, plant, stage } => {
                let what = Bloom { at: at.clone(), plant: plant.clone(), stage: stage.clone() };
                self.blooms.push(Dated { entry, on, what });
            }
            Fact::FlowSeen { at, on: flows, sign } => {
                let what = FlowSign { at: at.clone(), on: *flows, sign: sign.clone() };
                self.flows.push(Dated { entry, on, what });
            }
            Fact::Note { yard, text } => {
                let what = Words { yard: yard.clone(), text: text.clone() };
                self.notes.push(Dated { entry, on, what });
            }
            // Gear is the ledger's; tallies, corrections and settlements were followed before; the unknown is listed.
            Fact::GearCounted { .. }
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
    fn close_visit(&mut self, visit: Visit, turns: &JobTurns) {
        let tally = &visit.tally;
        for job in tally.jobs.iter().filter(|job| turns.is_put_down(&job.job)) {
            let round = self.put_down.entry(visit.on).or_default();
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
        self.fullness = tally.fullness.map(|share| (visit.on, share)).or(self.fullness);
        self.visits.push(visit);
    }
}
