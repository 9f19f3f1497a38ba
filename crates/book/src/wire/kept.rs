//! A kept fold as JSON text. It is read again by the same program only: another number, and it is made anew.

use std::collections::{BTreeMap, BTreeSet};

use jiff::civil::Date;
use outyard_base::{GearCode, JobCode, Share, TruckId, YardId};
use outyard_trade::KindCounts;
use serde::{Deserialize, Serialize};
use serde_json::value::RawValue;

use super::format::{date, date_opt, gear_place, kinds, quantity_opt, read_fact, text, write_fact};
use crate::entry::EntryId;
use crate::fact::{Fact, OddCounts};
use crate::gear::GearPlace;
use crate::kept::Kept;
use crate::law::{Contested, Settlement};
use crate::ledger::{Account, Carried, Proposal, Unplaced, Why};
use crate::outfit::{Bloom, Dated, FoldRules, JobTurns, Outfit, TreatmentRound, Yard, YardYear};

/// Number of the kept fold. It goes up whenever the fold, the law, the ledger or this spelling changes in the least.
pub const KEPT_FORMAT: u32 = 2;

#[derive(Serialize, Deserialize)]
struct AsKept {
    format: u32,
    program: String,
    #[serde(with = "date")]
    cut: Date,
    #[serde(with = "date")]
    told_until: Date,
    listed_least: usize,
    put_downs: Vec<Name<JobCode>>,
    entries: usize,
    #[serde(with = "date_opt")]
    last_day: Option<Date>,
    yards: Vec<AsYard>,
    told: Vec<AsTold>,
    settlements: Vec<(Name<EntryId>, Ids, Ids)>,
    contested: Vec<(Name<EntryId>, Name<EntryId>, Ids)>,
    struck: Vec<Name<EntryId>>,
    balances: Vec<(Name<GearCode>, Balances)>,
    counted: Vec<(AsPlace, Name<GearCode>)>,
    differences: Vec<AsUnplaced>,
    left: Vec<(Name<GearCode>, Name<TruckId>, i64)>,
    of_trips: Vec<AsUnplaced>,
}

#[derive(Serialize, Deserialize)]
#[serde(
    transparent,
    bound(serialize = "T: core::fmt::Display", deserialize = "T: core::str::FromStr<Err: core::fmt::Display>")
)]
struct Name<T>(#[serde(with = "text")] T);

#[derive(Serialize, Deserialize)]
#[serde(transparent)]
struct AsPlace(#[serde(with = "gear_place")] GearPlace);

/// Names of entries.
type Ids = Vec<Name<EntryId>>;

/// Balances by account.
type Balances = Vec<(AsAccount, i64)>;

#[derive(Serialize, Deserialize)]
#[serde(remote = "YardYear")]
struct YearFields {
    visits: u32,
    minutes: i64,
    boxes_on: u64,
    boxes_off: u64,
    dead: u64,
    bees_sampled: u64,
    mites: u64,
    feedings: u32,
    lost: u64,
    splits: u64,
    boxes_extracted: u64,
}

#[derive(Serialize, Deserialize)]
struct AsYear(#[serde(with = "YearFields")] YardYear);

/// An account: a place, or nothing for what cannot be placed.
type AsAccount = Option<AsPlace>;

#[derive(Serialize, Deserialize)]
struct AsDay(#[serde(with = "date")] Date);

#[derive(Serialize, Deserialize)]
struct AsShare(#[serde(with = "date")] Date, #[serde(with = "quantity_opt")] Option<Share>);

#[derive(Serialize, Deserialize)]
struct AsYard {
    #[serde(with = "text")]
    yard: YardId,
    #[serde(with = "date")]
    since: Date,
    #[serde(with = "date_opt")]
    given_up: Option<Date>,
    kept: AsFact,
    #[serde(with = "kinds")]
    colonies: KindCounts,
    #[serde(with = "date_opt")]
    counted_on: Option<Date>,
    odd: [u32; 4],
    put_down: Vec<(AsDay, AsKinds)>,
    #[serde(with = "date_opt")]
    visited_on: Option<Date>,
    #[serde(with = "date_opt")]
    boxes_counted_on: Option<Date>,
    fullness: Option<AsShare>,
    years: Vec<(i16, AsYear)>,
    treatments: Vec<AsTold>,
    terms: Option<AsFact>,
}

#[derive(Serialize, Deserialize)]
struct AsKinds(#[serde(with = "kinds")] KindCounts);

#[derive(Serialize, Deserialize)]
struct AsFact {
    fact: String,
    with: Box<RawValue>,
}

impl AsFact {
    fn of(fact: &Fact) -> Self {
        Self { fact: fact.name().to_owned(), with: write_fact(fact) }
    }

    fn read(&self) -> Option<Fact> {
        read_fact(&self.fact, self.with.get())?.ok()
    }
}

#[derive(Serialize, Deserialize)]
struct AsTold {
    #[serde(with = "text")]
    entry: EntryId,
    #[serde(with = "date")]
    on: Date,
    #[serde(flatten)]
    told: AsFactFlat,
}

/// A fact within other fields: its content as a text of its own.
#[derive(Serialize, Deserialize)]
struct AsFactFlat {
    fact: String,
    with: String,
}

impl AsTold {
    fn of(entry: EntryId, on: Date, fact: &Fact) -> Self {
        let told = AsFactFlat { fact: fact.name().to_owned(), with: write_fact(fact).get().to_owned() };
        Self { entry, on, told }
    }

    fn read(&self) -> Option<Fact> {
        read_fact(&self.told.fact, &self.told.with)?.ok()
    }
}

#[derive(Serialize, Deserialize)]
struct AsUnplaced {
    #[serde(with = "text")]
    gear: GearCode,
    count: i64,
    place: AsPlace,
    why: AsWhy,
    ask: AsAsk,
}

#[derive(Serialize, Deserialize)]
enum AsWhy {
    Trip {
        #[serde(with = "text")]
        truck: TruckId,
        #[serde(with = "date")]
        from: Date,
        #[serde(with = "date")]
        to: Date,
        loaded: bool,
        told: Vec<Name<YardId>>,
    },
    Counted {
        #[serde(with = "date")]
        on: Date,
        #[serde(with = "text")]
        entry: EntryId,
        book: i64,
        counted: u32,
    },
}

#[derive(Serialize, Deserialize)]
enum AsAsk {
    Yards(Vec<Name<YardId>>),
    Places(Vec<AsPlace>),
}

impl AsUnplaced {
    /// Nothing in doubt is ever summed up, so a difference has no settlement proposed and no yard in doubt.
    fn of(unplaced: &Unplaced) -> Option<Self> {
        let why = match &unplaced.why {
            Why::Trip { truck, from, to, loaded, told, in_doubt } if in_doubt.is_empty() => AsWhy::Trip {
                truck: truck.clone(),
                from: *from,
                to: *to,
                loaded: *loaded,
                told: told.iter().cloned().map(Name).collect(),
            },
            Why::Counted { on, entry, book, counted } => {
                AsWhy::Counted { on: *on, entry: *entry, book: *book, counted: *counted }
            }
            Why::Trip { .. } | Why::BelowNothing => return None,
        };
        let ask = match &unplaced.proposal {
            Proposal::CountYards { yards, why: None } => AsAsk::Yards(yards.iter().cloned().map(Name).collect()),
            Proposal::CountPlaces { places } => AsAsk::Places(places.iter().cloned().map(AsPlace).collect()),
            Proposal::Settle { .. } | Proposal::CountYards { .. } => return None,
        };
        let Unplaced { gear, count, place, .. } = unplaced;
        Some(Self { gear: gear.clone(), count: *count, place: AsPlace(place.clone()), why, ask })
    }

    fn read(self) -> Unplaced {
        let why = match self.why {
            AsWhy::Trip { truck, from, to, loaded, told } => {
                Why::Trip { truck, from, to, loaded, told: plain(told), in_doubt: BTreeSet::new() }
            }
            AsWhy::Counted { on, entry, book, counted } => Why::Counted { on, entry, book, counted },
        };
        let proposal = match self.ask {
            AsAsk::Yards(yards) => Proposal::CountYards { yards: plain(yards), why: None },
            AsAsk::Places(places) => {
                Proposal::CountPlaces { places: places.into_iter().map(|place| place.0).collect() }
            }
        };
        Unplaced { gear: self.gear, count: self.count, place: self.place.0, why, proposal }
    }
}

fn plain<T, C: FromIterator<T>>(names: Vec<Name<T>>) -> C {
    names.into_iter().map(|name| name.0).collect()
}

fn named<'a, T: Clone + 'a>(names: impl IntoIterator<Item = &'a T>) -> Vec<Name<T>> {
    names.into_iter().cloned().map(Name).collect()
}

fn write_unplaced(all: &BTreeMap<GearCode, Vec<Unplaced>>) -> Option<Vec<AsUnplaced>> {
    all.values().flatten().map(AsUnplaced::of).collect()
}

fn read_unplaced(all: Vec<AsUnplaced>) -> BTreeMap<GearCode, Vec<Unplaced>> {
    let mut by_gear: BTreeMap<GearCode, Vec<Unplaced>> = BTreeMap::new();
    for one in all {
        by_gear.entry(one.gear.clone()).or_default().push(one.read());
    }
    by_gear
}

fn write_yard(id: &YardId, yard: &Yard) -> AsYard {
    let OddCounts { dead, queenless, swarmed, weak } = yard.odd;
    AsYard {
        yard: id.clone(),
        since: yard.since,
        given_up: yard.given_up,
        kept: AsFact::of(&Fact::YardKept(yard.kept.clone())),
        colonies: yard.colonies,
        counted_on: yard.counted_on,
        odd: [dead, queenless, swarmed, weak],
        put_down: yard.put_down.iter().map(|(day, counts)| (AsDay(*day), AsKinds(*counts))).collect(),
        visited_on: yard.visited_on,
        boxes_counted_on: yard.boxes_counted_on,
        fullness: yard.fullness.map(|(day, share)| AsShare(day, Some(share))),
        years: yard.years.iter().map(|(year, it)| (*year, AsYear(*it))).collect(),
        terms: yard.terms.clone().map(|terms| AsFact::of(&Fact::YardTerms(terms))),
        treatments: yard
            .treatments
            .iter()
            .map(|round| AsTold::of(round.entry, round.in_on, &Fact::TreatmentIn(round.treatment.clone())))
            .collect(),
    }
}

fn read_yard(it: AsYard) -> Option<(YardId, Yard)> {
    let mut yard = Yard::new(it.yard.clone(), it.since);
    let Some(Fact::YardKept(kept)) = it.kept.read() else { return None };
    yard.kept = kept;
    yard.given_up = it.given_up;
    yard.colonies = it.colonies;
    yard.counted_on = it.counted_on;
    let [dead, queenless, swarmed, weak] = it.odd;
    yard.odd = OddCounts { dead, queenless, swarmed, weak };
    yard.put_down = it.put_down.into_iter().map(|(day, counts)| (day.0, counts.0)).collect();
    yard.visited_on = it.visited_on;
    yard.boxes_counted_on = it.boxes_counted_on;
    yard.fullness = it.fullness.and_then(|AsShare(day, share)| Some((day, share?)));
    yard.years = it.years.into_iter().map(|(year, AsYear(sums))| (year, sums)).collect();
    for told in it.treatments {
        let Some(Fact::TreatmentIn(treatment)) = told.read() else { return None };
        yard.treatments.push(TreatmentRound { entry: told.entry, in_on: told.on, out_on: None, treatment });
    }
    if let Some(terms) = it.terms {
        let Some(Fact::YardTerms(terms)) = terms.read() else { return None };
        yard.terms = Some(terms);
    }
    Some((it.yard, yard))
}

/// A kept fold as text; `None` when it holds something that is never summed up, which would be a fault of the program.
pub fn write_kept(kept: &Kept) -> Option<String> {
    let Kept { cut, told_until, rules, outfit, carried } = kept;
    let series = outfit.series.iter().map(|one| AsTold::of(one.entry, one.on, &Fact::SeriesKept(one.what.clone())));
    let blooms = outfit.blooms.iter().map(|one| {
        let Bloom { at, plant, stage } = one.what.clone();
        AsTold::of(one.entry, one.on, &Fact::BloomSeen { at, plant, stage })
    });
    macro_rules! told {
        ($list:expr, $fact:path) => {
            $list.iter().map(|one| AsTold::of(one.entry, one.on, &$fact(one.what.clone())))
        };
    }
    let honey = &outfit.honey;
    let year = told!(honey.extractions, Fact::HoneyExtracted)
        .chain(told!(honey.drums, Fact::HoneyDrummed))
        .chain(told!(honey.sales, Fact::HoneySold))
        .chain(told!(outfit.spray_calls, Fact::SprayTold))
        .chain(told!(outfit.photos, Fact::PhotoKept));
    let written = AsKept {
        format: KEPT_FORMAT,
        program: env!("CARGO_PKG_VERSION").to_owned(),
        cut: *cut,
        told_until: *told_until,
        listed_least: rules.listed_least,
        put_downs: named(rules.turns.put_downs()),
        entries: outfit.entries,
        last_day: outfit.last_day,
        yards: outfit.yards.iter().map(|(id, yard)| write_yard(id, yard)).collect(),
        told: series.chain(blooms).chain(year).collect(),
        settlements: outfit
            .settlements
            .iter()
            .map(|one| (Name(one.entry), named(&one.tallies), named(&one.overruled)))
            .collect(),
        contested: outfit.contested.iter().map(|one| (Name(one.of), Name(one.stands), named(&one.overruled))).collect(),
        struck: named(&outfit.struck),
        balances: carried
            .balances
            .iter()
            .map(|(gear, accounts)| {
                let account = |account: &Account| match account {
                    Account::At(place) => Some(AsPlace(place.clone())),
                    Account::Unplaced => None,
                };
                (Name(gear.clone()), accounts.iter().map(|(at, count)| (account(at), *count)).collect())
            })
            .collect(),
        counted: carried.counted.iter().map(|(place, gear)| (AsPlace(place.clone()), Name(gear.clone()))).collect(),
        differences: write_unplaced(&carried.differences)?,
        left: carried
            .left
            .iter()
            .map(|((gear, truck), count)| (Name(gear.clone()), Name(truck.clone()), *count))
            .collect(),
        of_trips: write_unplaced(&carried.of_trips)?,
    };
    serde_json::to_string(&written).ok()
}

/// Reads a kept fold; `None` when another program wrote it, or it is no kept fold.
pub fn read_kept(text: &str) -> Option<Kept> {
    let it: AsKept = serde_json::from_str(text).ok()?;
    if it.format != KEPT_FORMAT || it.program != env!("CARGO_PKG_VERSION") {
        return None;
    }
    let mut outfit = Outfit {
        yards: it.yards.into_iter().map(read_yard).collect::<Option<_>>()?,
        settlements: it
            .settlements
            .into_iter()
            .map(|(entry, tallies, overruled)| Settlement {
                entry: entry.0,
                tallies: plain(tallies),
                overruled: plain(overruled),
            })
            .collect(),
        contested: it
            .contested
            .into_iter()
            .map(|(of, stands, overruled)| Contested { of: of.0, stands: stands.0, overruled: plain(overruled) })
            .collect(),
        struck: plain(it.struck),
        entries: it.entries,
        last_day: it.last_day,
        ..Outfit::default()
    };
    for told in it.told {
        let (entry, on) = (told.entry, told.on);
        match told.read()? {
            Fact::SeriesKept(what) => outfit.series.push(Dated { entry, on, what }),
            Fact::BloomSeen { at, plant, stage } => {
                outfit.blooms.push(Dated { entry, on, what: Bloom { at, plant, stage } });
            }
            Fact::HoneyExtracted(what) => outfit.honey.extractions.push(Dated { entry, on, what }),
            Fact::HoneyDrummed(what) => outfit.honey.drums.push(Dated { entry, on, what }),
            Fact::HoneySold(what) => outfit.honey.sales.push(Dated { entry, on, what }),
            Fact::SprayTold(what) => outfit.spray_calls.push(Dated { entry, on, what }),
            Fact::PhotoKept(what) => outfit.photos.push(Dated { entry, on, what }),
            _ => return None,
        }
    }
    let account = |at: AsAccount| at.map_or(Account::Unplaced, |place| Account::At(place.0));
    let carried = Carried {
        balances: it
            .balances
            .into_iter()
            .map(|(gear, all)| (gear.0, all.into_iter().map(|(at, count)| (account(at), count)).collect()))
            .collect(),
        counted: it.counted.into_iter().map(|(place, gear)| (place.0, gear.0)).collect(),
        differences: read_unplaced(it.differences),
        left: it.left.into_iter().map(|(gear, truck, count)| ((gear.0, truck.0), count)).collect(),
        of_trips: read_unplaced(it.of_trips),
    };
    let rules = FoldRules { turns: JobTurns::of_jobs(plain(it.put_downs)), listed_least: it.listed_least };
    Some(Kept { cut: it.cut, told_until: it.told_until, rules, outfit, carried })
}
