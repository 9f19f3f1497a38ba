//! The facts of format 1 as they stand in a line. Field names carry their unit; a field left out is empty.

use core::fmt;
use core::fmt::Write as _;
use core::str::FromStr;

use jiff::civil::Date;
use outyard_base::{
    Cents, CrewId, GearCode, Kilograms, Litres, Metres, Minutes, OutOfRange, Place, Share, TruckId, YardId,
};
use outyard_trade::{Kind, KindCounts};
use serde::de::{Error as _, MapAccess, Visitor};
use serde::ser::SerializeMap;
use serde::{Deserialize, Deserializer, Serialize, Serializer};
use serde_json::value::RawValue;

use crate::entry::{ContentHash, EntryId};
use crate::fact::{
    BoxesFrom, Drum, Extraction, Fact, Forage, JobDone, MiteSample, OddCounts, Photo, PlanTold, QueensGiven, Sale,
    SeriesKept, SprayCall, StaysHome, Tally, ToldRun, Treatment, WantedVisit, Where, YardKept, YardTerms,
};
use crate::gear::{GearCounts, GearPlace};

/// Largest count of anything in one entry (assumed): no outfit owns a million boxes, and sums stay far from the limit.
pub(super) const COUNT_MOST: u32 = 1_000_000;

/// Field names that may be left out when empty. One name has one meaning throughout the format, so an empty value
/// under one of them says nothing more than leaving it out.
pub(super) const LEFT_OUT_WHEN_EMPTY: [&str; 76] = [
    "agreed",
    "author",
    "begins",
    "board_days",
    "boxes_left",
    "boxes_off",
    "boxes_on",
    "caller",
    "caption",
    "cause",
    "colonies",
    "colony",
    "colour",
    "columns",
    "cost_cents",
    "crew",
    "days_before_supers",
    "days_in_least",
    "days_in_most",
    "dead",
    "done",
    "dose",
    "elevation_m",
    "fence",
    "field",
    "forage",
    "from",
    "fullness",
    "gate",
    "gear_put",
    "gear_taken",
    "group",
    "hands",
    "honey_kg",
    "ingredient",
    "instead",
    "jobs",
    "label",
    "landowner",
    "laying",
    "loose_used",
    "lot",
    "method",
    "minutes",
    "moisture",
    "name",
    "neighbours",
    "nobody_out",
    "note",
    "odd",
    "place",
    "price_cents",
    "pulled_on",
    "queenless",
    "queens",
    "run",
    "seeded_on",
    "sign",
    "signs",
    "stays_home",
    "substance",
    "sugar_kg",
    "supers_on_allowed",
    "swarmed",
    "syrup_l",
    "terms",
    "to_hot_room",
    "to_shed",
    "truck",
    "undone",
    "visit",
    "wanted",
    "water",
    "wet_road",
    "yard",
    "yards",
];

/// A fact inside another: its name and content.
#[derive(Deserialize)]
#[serde(expecting = "a fact: its name under \"fact\" and its content under \"with\"")]
pub(super) struct FactInside<'a> {
    pub(super) fact: String,
    #[serde(borrow, default)]
    pub(super) with: Option<&'a RawValue>,
}

#[derive(Serialize)]
struct FactWritten<'a> {
    fact: &'a str,
    with: Box<RawValue>,
}

/// Why a fact could not be read: serde's error, and the text it counts its columns in.
pub(super) enum Unreadable<'a> {
    Content(serde_json::Error, &'a str),
    CorrectionInside(&'a str),
}

/// Reads the content of a fact by its name; `None` for a name not known.
pub(super) fn read_fact<'a>(name: &str, raw: &'a str) -> Option<Result<Fact, Unreadable<'a>>> {
    if name == "correction" {
        return Some(read_correction(raw));
    }
    macro_rules! facts {
        ($($name:literal: $wire:ty => $fact:expr;)*) => {
            match name {
                $($name => Some(
                    serde_json::from_str::<$wire>(raw).map($fact).map_err(|error| Unreadable::Content(error, raw)),
                ),)*
                _ => None,
            }
        };
    }
    facts! {
        "yard-kept": AsYardKept => |it| Fact::YardKept(it.0);
        "yard-given-up": YardOnly => |it| Fact::YardGivenUp { yard: it.yard };
        "colonies-counted": ColoniesCounted => |it| Fact::ColoniesCounted { yard: it.yard, counts: it.counts };
        "boxes-counted": BoxesCounted => |it| Fact::BoxesCounted { yard: it.yard, boxes: it.boxes, fullness: it.fullness };
        "visit-closed": AsTally => |it| Fact::VisitClosed(it.0);
        "gear-counted": GearCounted => |it| Fact::GearCounted { place: it.place, gear: it.gear };
        "gear-moved": GearMoved => |it| Fact::GearMoved { from: it.from, to: it.to, gear: it.gear };
        "gear-bought": GearBought => |it| Fact::GearBought { to: it.to, gear: it.gear, cost: it.cost_cents.map(Cents), note: it.note };
        "gear-lost": GearLost => |it| Fact::GearLost { from: it.from, gear: it.gear, note: it.note };
        "truck-loaded": TruckLoaded => |it| Fact::TruckLoaded { truck: it.truck, run: it.run, from: it.from, gear: it.gear };
        "truck-home": TruckHome => |it| Fact::TruckHome { truck: it.truck, run: it.run, to_shed: it.to_shed, to_hot_room: it.to_hot_room };
        "bloom-seen": BloomSeen => |it| Fact::BloomSeen { at: it.at, plant: it.plant, stage: it.stage };
        "flow-seen": FlowSeen => |it| Fact::FlowSeen { at: it.at, on: it.on, sign: it.sign };
        "plan-told": AsPlanTold => |it| Fact::PlanTold(it.0);
        "treatment-in": AsTreatment => |it| Fact::TreatmentIn(it.0);
        "treatment-out": TreatmentOut => |it| Fact::TreatmentOut { yard: it.yard, product: it.product, colonies: it.colonies };
        "mite-sample": AsMiteSample => |it| Fact::MiteSample(it.0);
        "fed": Fed => |it| Fact::Fed { yard: it.yard, colonies: it.colonies, feed: it.feed, syrup: it.syrup_l, sugar: it.sugar_kg };
        "series-kept": AsSeries => |it| Fact::SeriesKept(it.0);
        "settled": Settled => |it| Fact::Settled {
            tallies: it.tallies.into_iter().map(|id| id.0).collect(),
            agreed: it.agreed.into_iter().map(|tally| tally.0).collect(),
        };
        "note": Note => |it| Fact::Note { yard: it.yard, text: it.text };
        "honey-extracted": AsExtraction => |it| Fact::HoneyExtracted(it.0);
        "honey-drummed": AsDrum => |it| Fact::HoneyDrummed(it.0);
        "honey-sold": AsSale => |it| Fact::HoneySold(it.0);
        "spray-told": AsSprayCall => |it| Fact::SprayTold(it.0);
        "photo-kept": AsPhoto => |it| Fact::PhotoKept(it.0);
        "yard-terms": AsYardTerms => |it| Fact::YardTerms(it.0);
        "colonies-moved": ColoniesMoved => |it| Fact::ColoniesMoved { from: it.from_yard, to: it.to_yard, counts: it.counts };
        "splits-made": SplitsMade => |it| Fact::SplitsMade { from: it.from_yard, to: it.to_yard, splits: it.splits, queens: it.queens };
        "colonies-lost": ColoniesLost => |it| Fact::ColoniesLost { yard: it.yard, counts: it.counts, cause: it.cause };
        "queens-given": AsQueens => |it| Fact::QueensGiven(it.0);
    }
}

fn read_correction(raw: &str) -> Result<Fact, Unreadable<'_>> {
    let correction: Correction<'_> = serde_json::from_str(raw).map_err(|error| Unreadable::Content(error, raw))?;
    let instead = match correction.instead {
        None => None,
        // Checked before its content is looked at: so nothing nests, however deep the line does.
        Some(inside) if inside.fact == "correction" => {
            return Err(Unreadable::CorrectionInside(inside.with.map_or(raw, RawValue::get)));
        }
        Some(inside) => {
            let content = inside.with.map_or("null", RawValue::get);
            Some(Box::new(match read_fact(&inside.fact, content) {
                Some(fact) => fact?,
                None => match serde_json::from_str::<serde_json::Value>(content) {
                    Ok(kept) => Fact::Unknown { name: inside.fact, raw: kept.to_string() },
                    Err(error) => return Err(Unreadable::Content(error, content)),
                },
            }))
        }
    };
    Ok(Fact::Correction { of: correction.of, instead })
}

/// The content of a fact as JSON text.
pub(super) fn write_fact(fact: &Fact) -> Box<RawValue> {
    match fact {
        Fact::YardKept(kept) => to_raw(&AsYardKept(kept.clone())),
        Fact::YardGivenUp { yard } => to_raw(&YardOnly { yard: yard.clone() }),
        Fact::ColoniesCounted { yard, counts } => to_raw(&ColoniesCounted { yard: yard.clone(), counts: *counts }),
        Fact::BoxesCounted { yard, boxes, fullness } => {
            to_raw(&BoxesCounted { yard: yard.clone(), boxes: boxes.clone(), fullness: *fullness })
        }
        Fact::VisitClosed(tally) => to_raw(&TallyWritten(tally)),
        Fact::GearCounted { place, gear } => to_raw(&GearCounted { place: place.clone(), gear: gear.clone() }),
        Fact::GearMoved { from, to, gear } => {
            to_raw(&GearMoved { from: from.clone(), to: to.clone(), gear: gear.clone() })
        }
        Fact::GearBought { to, gear, cost, note } => to_raw(&GearBought {
            to: to.clone(),
            gear: gear.clone(),
            cost_cents: cost.map(Cents::get),
            note: note.clone(),
        }),
        Fact::GearLost { from, gear, note } => {
            to_raw(&GearLost { from: from.clone(), gear: gear.clone(), note: note.clone() })
        }
        Fact::TruckLoaded { truck, run, from, gear } => {
            to_raw(&TruckLoaded { truck: truck.clone(), run: run.clone(), from: from.clone(), gear: gear.clone() })
        }
        Fact::TruckHome { truck, run, to_shed, to_hot_room } => to_raw(&TruckHome {
            truck: truck.clone(),
            run: run.clone(),
            to_shed: to_shed.clone(),
            to_hot_room: to_hot_room.clone(),
        }),
        Fact::BloomSeen { at, plant, stage } => {
            to_raw(&BloomSeen { at: at.clone(), plant: plant.clone(), stage: stage.clone() })
        }
        Fact::FlowSeen { at, on, sign } => to_raw(&FlowSeen { at: at.clone(), on: *on, sign: sign.clone() }),
        Fact::PlanTold(told) => to_raw(&AsPlanTold(told.clone())),
        Fact::TreatmentIn(treatment) => to_raw(&AsTreatment(treatment.clone())),
        Fact::TreatmentOut { yard, product, colonies } => {
            to_raw(&TreatmentOut { yard: yard.clone(), product: product.clone(), colonies: *colonies })
        }
        Fact::MiteSample(sample) => to_raw(&AsMiteSample(sample.clone())),
        Fact::Fed { yard, colonies, feed, syrup, sugar } => to_raw(&Fed {
            yard: yard.clone(),
            colonies: *colonies,
            feed: feed.clone(),
            syrup_l: *syrup,
            sugar_kg: *sugar,
        }),
        Fact::SeriesKept(series) => to_raw(&AsSeries(series.clone())),
        Fact::Correction { of, instead } => to_raw(&CorrectionWritten {
            of: *of,
            instead: instead.as_deref().map(|fact| FactWritten { fact: fact.name(), with: write_fact(fact) }),
        }),
        Fact::Settled { tallies, agreed } => to_raw(&Settled {
            tallies: tallies.iter().map(|id| AsEntryId(*id)).collect(),
            agreed: agreed.iter().map(|tally| AsTally(tally.clone())).collect(),
        }),
        Fact::HoneyExtracted(it) => to_raw(&AsExtraction(it.clone())),
        Fact::HoneyDrummed(it) => to_raw(&AsDrum(it.clone())),
        Fact::HoneySold(it) => to_raw(&AsSale(it.clone())),
        Fact::SprayTold(it) => to_raw(&AsSprayCall(it.clone())),
        Fact::PhotoKept(it) => to_raw(&AsPhoto(it.clone())),
        Fact::YardTerms(it) => to_raw(&AsYardTerms(it.clone())),
        Fact::ColoniesMoved { from, to, counts } => {
            to_raw(&ColoniesMoved { from_yard: from.clone(), to_yard: to.clone(), counts: *counts })
        }
        Fact::SplitsMade { from, to, splits, queens } => to_raw(&SplitsMade {
            from_yard: from.clone(),
            to_yard: to.clone(),
            splits: *splits,
            queens: queens.clone(),
        }),
        Fact::ColoniesLost { yard, counts, cause } => {
            to_raw(&ColoniesLost { yard: yard.clone(), counts: *counts, cause: cause.clone() })
        }
        Fact::QueensGiven(it) => to_raw(&AsQueens(it.clone())),
        Fact::Note { yard, text } => to_raw(&Note { yard: yard.clone(), text: text.clone() }),
        Fact::Unknown { raw, .. } => RawValue::from_string(raw.clone()).unwrap_or_else(|_| to_raw(raw)),
    }
}

/// The format number a fact came with: a program of that number or a newer one reads it.
pub(super) fn format_of(fact: &Fact) -> u32 {
    match fact {
        Fact::HoneyExtracted(_)
        | Fact::HoneyDrummed(_)
        | Fact::HoneySold(_)
        | Fact::SprayTold(_)
        | Fact::PhotoKept(_)
        | Fact::YardTerms(_)
        | Fact::ColoniesMoved { .. }
        | Fact::SplitsMade { .. }
        | Fact::ColoniesLost { .. }
        | Fact::QueensGiven(_) => 2,
        Fact::Correction { instead: Some(fact), .. } => format_of(fact),
        _ => 1,
    }
}

fn to_raw<T: Serialize + ?Sized>(content: &T) -> Box<RawValue> {
    serde_json::value::to_raw_value(content).expect("names, texts and finite numbers are JSON")
}

// ---- small facts -------------------------------------------------------------------------------------------------

#[derive(Serialize, Deserialize)]
struct YardOnly {
    #[serde(with = "text")]
    yard: YardId,
}

#[derive(Serialize, Deserialize)]
struct ColoniesCounted {
    #[serde(with = "text")]
    yard: YardId,
    #[serde(with = "kinds")]
    counts: KindCounts,
}

#[derive(Serialize, Deserialize)]
struct BoxesCounted {
    #[serde(with = "text")]
    yard: YardId,
    #[serde(with = "gear")]
    boxes: GearCounts,
    #[serde(with = "quantity_opt", default, skip_serializing_if = "Option::is_none")]
    fullness: Option<Share>,
}

#[derive(Serialize, Deserialize)]
struct GearCounted {
    #[serde(with = "gear_place")]
    place: GearPlace,
    #[serde(with = "gear")]
    gear: GearCounts,
}

#[derive(Serialize, Deserialize)]
struct GearMoved {
    #[serde(with = "gear_place")]
    from: GearPlace,
    #[serde(with = "gear_place")]
    to: GearPlace,
    #[serde(with = "gear")]
    gear: GearCounts,
}

#[derive(Serialize, Deserialize)]
struct GearBought {
    #[serde(with = "gear_place")]
    to: GearPlace,
    #[serde(with = "gear")]
    gear: GearCounts,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    cost_cents: Option<i64>,
    #[serde(default, skip_serializing_if = "String::is_empty")]
    note: String,
}

#[derive(Serialize, Deserialize)]
struct GearLost {
    #[serde(with = "gear_place")]
    from: GearPlace,
    #[serde(with = "gear")]
    gear: GearCounts,
    #[serde(default, skip_serializing_if = "String::is_empty")]
    note: String,
}

fn shed() -> GearPlace {
    GearPlace::Shed
}

fn is_shed(place: &GearPlace) -> bool {
    *place == GearPlace::Shed
}

#[derive(Serialize, Deserialize)]
struct TruckLoaded {
    #[serde(with = "text")]
    truck: TruckId,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    run: Option<String>,
    #[serde(with = "gear_place", default = "shed", skip_serializing_if = "is_shed")]
    from: GearPlace,
    #[serde(with = "gear")]
    gear: GearCounts,
}

#[derive(Serialize, Deserialize)]
struct TruckHome {
    #[serde(with = "text")]
    truck: TruckId,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    run: Option<String>,
    #[serde(with = "gear", default, skip_serializing_if = "GearCounts::is_empty")]
    to_shed: GearCounts,
    #[serde(with = "gear", default, skip_serializing_if = "GearCounts::is_empty")]
    to_hot_room: GearCounts,
}

#[derive(Serialize, Deserialize)]
struct BloomSeen {
    #[serde(with = "yard_or_group")]
    at: Where,
    plant: String,
    stage: String,
}

#[derive(Serialize, Deserialize)]
struct FlowSeen {
    #[serde(with = "yard_or_group")]
    at: Where,
    on: bool,
    #[serde(default, skip_serializing_if = "String::is_empty")]
    sign: String,
}

#[derive(Serialize, Deserialize)]
struct AsDay(#[serde(with = "date")] Date);
#[derive(Serialize, Deserialize)]
struct AsToldRun(#[serde(with = "ToldRunFields")] ToldRun);
#[derive(Serialize, Deserialize)]
struct AsStaysHome(#[serde(with = "StaysHomeFields")] StaysHome);
#[derive(Serialize, Deserialize)]
struct AsWanted(#[serde(with = "WantedFields")] WantedVisit);
#[derive(Serialize, Deserialize)]
struct AsPlanTold(#[serde(with = "PlanToldFields")] PlanTold);

#[derive(Serialize, Deserialize)]
#[serde(remote = "PlanTold", rename = "plan")]
struct PlanToldFields {
    #[serde(with = "told_runs")]
    runs: Vec<ToldRun>,
    #[serde(with = "dates", default, skip_serializing_if = "Vec::is_empty")]
    nobody_out: Vec<Date>,
    #[serde(with = "stays_home", default, skip_serializing_if = "Vec::is_empty")]
    stays_home: Vec<StaysHome>,
    #[serde(with = "wanted", default, skip_serializing_if = "Vec::is_empty")]
    wanted: Vec<WantedVisit>,
}

#[derive(Serialize, Deserialize)]
#[serde(remote = "ToldRun", rename = "run")]
struct ToldRunFields {
    #[serde(with = "date")]
    on: Date,
    #[serde(with = "text")]
    crew: CrewId,
    #[serde(with = "text")]
    truck: TruckId,
    visits: Vec<String>,
}

#[derive(Serialize, Deserialize)]
#[serde(remote = "StaysHome", rename = "crew at home")]
struct StaysHomeFields {
    #[serde(with = "text")]
    crew: CrewId,
    #[serde(with = "date")]
    on: Date,
}

#[derive(Serialize, Deserialize)]
#[serde(remote = "WantedVisit", rename = "wanted visit")]
struct WantedFields {
    visit: String,
    #[serde(with = "date")]
    on: Date,
    #[serde(with = "text_opt", default, skip_serializing_if = "Option::is_none")]
    crew: Option<CrewId>,
}

#[derive(Serialize, Deserialize)]
struct TreatmentOut {
    #[serde(with = "text")]
    yard: YardId,
    product: String,
    #[serde(default, skip_serializing_if = "Option::is_none", deserialize_with = "count_opt")]
    colonies: Option<u32>,
}

#[derive(Serialize, Deserialize)]
struct Fed {
    #[serde(with = "text")]
    yard: YardId,
    #[serde(default, deserialize_with = "count")]
    colonies: u32,
    feed: String,
    #[serde(with = "quantity_opt", default, skip_serializing_if = "Option::is_none")]
    syrup_l: Option<Litres>,
    #[serde(with = "quantity_opt", default, skip_serializing_if = "Option::is_none")]
    sugar_kg: Option<Kilograms>,
}

#[derive(Deserialize)]
struct Correction<'a> {
    #[serde(with = "text")]
    of: EntryId,
    #[serde(borrow, default)]
    instead: Option<FactInside<'a>>,
}

#[derive(Serialize)]
struct CorrectionWritten<'a> {
    #[serde(with = "text")]
    of: EntryId,
    #[serde(skip_serializing_if = "Option::is_none")]
    instead: Option<FactWritten<'a>>,
}

#[derive(Serialize, Deserialize)]
struct Settled {
    tallies: Vec<AsEntryId>,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    agreed: Vec<AsTally>,
}

#[derive(Serialize, Deserialize)]
struct Note {
    #[serde(with = "text_opt", default, skip_serializing_if = "Option::is_none")]
    yard: Option<YardId>,
    text: String,
}

// ---- the book's own types, field by field ------------------------------------------------------------------------

#[derive(Serialize, Deserialize)]
#[serde(transparent)]
struct AsEntryId(#[serde(with = "text")] EntryId);
#[derive(Serialize, Deserialize)]
struct AsYardKept(#[serde(with = "YardKeptFields")] YardKept);
#[derive(Serialize, Deserialize)]
struct AsForage(#[serde(with = "ForageFields")] Forage);
#[derive(Serialize, Deserialize)]
struct AsTally(#[serde(with = "TallyFields")] Tally);
/// The facts there are most of are written without taking a copy.
#[derive(Serialize)]
struct TallyWritten<'a>(#[serde(with = "TallyFields")] &'a Tally);
#[derive(Serialize)]
struct JobDoneWritten<'a>(#[serde(with = "JobDoneFields")] &'a JobDone);
#[derive(Serialize, Deserialize)]
struct AsJobDone(#[serde(with = "JobDoneFields")] JobDone);
#[derive(Serialize, Deserialize)]
struct AsTreatment(#[serde(with = "TreatmentFields")] Treatment);
#[derive(Serialize, Deserialize)]
struct AsMiteSample(#[serde(with = "MiteSampleFields")] MiteSample);
#[derive(Serialize, Deserialize)]
struct AsSeries(#[serde(with = "SeriesFields")] SeriesKept);

#[derive(Serialize, Deserialize)]
#[serde(remote = "YardKept", rename = "yard-kept")]
struct YardKeptFields {
    #[serde(with = "text")]
    yard: YardId,
    #[serde(default, skip_serializing_if = "String::is_empty")]
    name: String,
    #[serde(with = "point_opt", default, skip_serializing_if = "Option::is_none")]
    place: Option<Place>,
    #[serde(rename = "elevation_m", with = "quantity_opt", default, skip_serializing_if = "Option::is_none")]
    elevation: Option<Metres>,
    #[serde(default, skip_serializing_if = "String::is_empty")]
    group: String,
    #[serde(default, skip_serializing_if = "String::is_empty")]
    gate: String,
    #[serde(default, skip_serializing_if = "core::ops::Not::not")]
    wet_road: bool,
    #[serde(default, skip_serializing_if = "String::is_empty")]
    landowner: String,
    #[serde(with = "forage", default, skip_serializing_if = "Vec::is_empty")]
    forage: Vec<Forage>,
}

#[derive(Serialize, Deserialize)]
#[serde(remote = "Forage", rename = "forage")]
struct ForageFields {
    plant: String,
    #[serde(deserialize_with = "weight")]
    weight: f64,
    #[serde(with = "date_opt", default, skip_serializing_if = "Option::is_none")]
    seeded_on: Option<Date>,
}

#[derive(Serialize, Deserialize)]
#[serde(remote = "Tally", rename = "tally")]
struct TallyFields {
    #[serde(default, skip_serializing_if = "Option::is_none")]
    visit: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    run: Option<String>,
    #[serde(with = "text")]
    yard: YardId,
    #[serde(with = "jobs", default, skip_serializing_if = "Vec::is_empty")]
    jobs: Vec<JobDone>,
    #[serde(with = "OddFields", default, skip_serializing_if = "no_odd")]
    odd: OddCounts,
    #[serde(with = "gear", default, skip_serializing_if = "GearCounts::is_empty")]
    boxes_on: GearCounts,
    #[serde(with = "gear", default, skip_serializing_if = "GearCounts::is_empty")]
    boxes_off: GearCounts,
    #[serde(with = "gear", default, skip_serializing_if = "GearCounts::is_empty")]
    boxes_left: GearCounts,
    #[serde(with = "gear", default, skip_serializing_if = "GearCounts::is_empty")]
    loose_used: GearCounts,
    #[serde(with = "gear", default, skip_serializing_if = "GearCounts::is_empty")]
    gear_put: GearCounts,
    #[serde(with = "gear", default, skip_serializing_if = "GearCounts::is_empty")]
    gear_taken: GearCounts,
    #[serde(with = "quantity_opt", default, skip_serializing_if = "Option::is_none")]
    fullness: Option<Share>,
    #[serde(with = "minutes_opt", default, skip_serializing_if = "Option::is_none")]
    minutes: Option<Minutes>,
    #[serde(default, skip_serializing_if = "Option::is_none", deserialize_with = "count_opt")]
    hands: Option<u32>,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    signs: Vec<String>,
    #[serde(with = "text_opt", default, skip_serializing_if = "Option::is_none")]
    truck: Option<TruckId>,
    #[serde(default, skip_serializing_if = "String::is_empty")]
    note: String,
}

fn no_odd(odd: &OddCounts) -> bool {
    *odd == OddCounts::default()
}

fn is_zero(count: &u32) -> bool {
    *count == 0
}

#[derive(Serialize, Deserialize)]
#[serde(remote = "OddCounts", rename = "odd hives")]
struct OddFields {
    #[serde(default, skip_serializing_if = "is_zero", deserialize_with = "count")]
    dead: u32,
    #[serde(default, skip_serializing_if = "is_zero", deserialize_with = "count")]
    queenless: u32,
    #[serde(default, skip_serializing_if = "is_zero", deserialize_with = "count")]
    swarmed: u32,
    #[serde(default, skip_serializing_if = "is_zero", deserialize_with = "count")]
    weak: u32,
}

#[derive(Serialize, Deserialize)]
#[serde(remote = "JobDone", rename = "job")]
struct JobDoneFields {
    #[serde(with = "text")]
    job: outyard_base::JobCode,
    #[serde(with = "kinds", default, skip_serializing_if = "KindCounts::is_empty")]
    done: KindCounts,
    #[serde(with = "kinds", default, skip_serializing_if = "KindCounts::is_empty")]
    undone: KindCounts,
}

#[derive(Serialize, Deserialize)]
#[serde(remote = "Treatment", rename = "treatment")]
struct TreatmentFields {
    #[serde(with = "text")]
    yard: YardId,
    product: String,
    #[serde(default, skip_serializing_if = "String::is_empty")]
    ingredient: String,
    #[serde(default, skip_serializing_if = "String::is_empty")]
    lot: String,
    #[serde(default, deserialize_with = "count")]
    colonies: u32,
    #[serde(default, skip_serializing_if = "String::is_empty")]
    dose: String,
    #[serde(default, skip_serializing_if = "Option::is_none", deserialize_with = "count_opt")]
    days_in_least: Option<u32>,
    #[serde(default, skip_serializing_if = "Option::is_none", deserialize_with = "count_opt")]
    days_in_most: Option<u32>,
    #[serde(default, skip_serializing_if = "Option::is_none", deserialize_with = "count_opt")]
    days_before_supers: Option<u32>,
    #[serde(default, skip_serializing_if = "core::ops::Not::not")]
    supers_on_allowed: bool,
    #[serde(default, skip_serializing_if = "String::is_empty")]
    label: String,
}

#[derive(Serialize, Deserialize)]
#[serde(remote = "MiteSample", rename = "mite sample")]
struct MiteSampleFields {
    #[serde(with = "text")]
    yard: YardId,
    #[serde(default, skip_serializing_if = "String::is_empty")]
    colony: String,
    #[serde(default, skip_serializing_if = "String::is_empty")]
    method: String,
    #[serde(deserialize_with = "count")]
    bees: u32,
    #[serde(deserialize_with = "count")]
    mites: u32,
    #[serde(default, skip_serializing_if = "Option::is_none", deserialize_with = "count_opt")]
    board_days: Option<u32>,
}

#[derive(Serialize, Deserialize)]
#[serde(remote = "SeriesKept", rename = "series")]
struct SeriesFields {
    source: String,
    what: String,
    #[serde(with = "point_opt", default, skip_serializing_if = "Option::is_none")]
    place: Option<Place>,
    #[serde(rename = "elevation_m", with = "quantity_opt", default, skip_serializing_if = "Option::is_none")]
    elevation: Option<Metres>,
    #[serde(with = "text_opt", default, skip_serializing_if = "Option::is_none")]
    yard: Option<YardId>,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    columns: Vec<(String, String)>,
    #[serde(with = "text")]
    content: ContentHash,
    rows: u64,
    #[serde(with = "date")]
    from: Date,
    #[serde(with = "date")]
    to: Date,
}

// ---- facts of format 2 -------------------------------------------------------------------------------------------

#[derive(Serialize, Deserialize)]
struct ColoniesMoved {
    #[serde(with = "text")]
    from_yard: YardId,
    #[serde(with = "text")]
    to_yard: YardId,
    #[serde(with = "kinds")]
    counts: KindCounts,
}

#[derive(Serialize, Deserialize)]
struct SplitsMade {
    #[serde(with = "text")]
    from_yard: YardId,
    #[serde(with = "text")]
    to_yard: YardId,
    #[serde(deserialize_with = "count")]
    splits: u32,
    #[serde(default, skip_serializing_if = "String::is_empty")]
    queens: String,
}

#[derive(Serialize, Deserialize)]
struct ColoniesLost {
    #[serde(with = "text")]
    yard: YardId,
    #[serde(with = "kinds")]
    counts: KindCounts,
    #[serde(default, skip_serializing_if = "String::is_empty")]
    cause: String,
}

#[derive(Serialize, Deserialize)]
struct AsExtraction(#[serde(with = "ExtractionFields")] Extraction);
#[derive(Serialize, Deserialize)]
struct AsBoxesFrom(#[serde(with = "BoxesFromFields")] BoxesFrom);
#[derive(Serialize, Deserialize)]
struct AsDrum(#[serde(with = "DrumFields")] Drum);
#[derive(Serialize, Deserialize)]
struct AsSale(#[serde(with = "SaleFields")] Sale);
#[derive(Serialize, Deserialize)]
struct AsSprayCall(#[serde(with = "SprayCallFields")] SprayCall);
#[derive(Serialize, Deserialize)]
struct AsPhoto(#[serde(with = "PhotoFields")] Photo);
#[derive(Serialize, Deserialize)]
struct AsYardTerms(#[serde(with = "YardTermsFields")] YardTerms);
#[derive(Serialize, Deserialize)]
struct AsQueens(#[serde(with = "QueensFields")] QueensGiven);

#[derive(Serialize, Deserialize)]
#[serde(remote = "Extraction", rename = "extraction")]
struct ExtractionFields {
    #[serde(deserialize_with = "own_name")]
    lot: String,
    #[serde(with = "boxes_from")]
    boxes: Vec<BoxesFrom>,
    #[serde(rename = "honey_kg", with = "mass_opt", default, skip_serializing_if = "Option::is_none")]
    honey: Option<Kilograms>,
    #[serde(with = "quantity_opt", default, skip_serializing_if = "Option::is_none")]
    moisture: Option<Share>,
    #[serde(default, skip_serializing_if = "String::is_empty")]
    note: String,
}

#[derive(Serialize, Deserialize)]
#[serde(remote = "BoxesFrom", rename = "boxes of a yard")]
struct BoxesFromFields {
    #[serde(with = "text")]
    yard: YardId,
    #[serde(deserialize_with = "count")]
    boxes: u32,
    #[serde(with = "date_opt", default, skip_serializing_if = "Option::is_none")]
    pulled_on: Option<Date>,
}

#[derive(Serialize, Deserialize)]
#[serde(remote = "Drum", rename = "drum")]
struct DrumFields {
    #[serde(deserialize_with = "own_name")]
    drum: String,
    #[serde(rename = "lots", with = "lots_kg")]
    from: Vec<(String, Kilograms)>,
    #[serde(with = "quantity_opt", default, skip_serializing_if = "Option::is_none")]
    moisture: Option<Share>,
    #[serde(default, skip_serializing_if = "String::is_empty")]
    colour: String,
    #[serde(default, skip_serializing_if = "String::is_empty")]
    note: String,
}

#[derive(Serialize, Deserialize)]
#[serde(remote = "Sale", rename = "sale")]
struct SaleFields {
    drums: Vec<String>,
    #[serde(rename = "buyer")]
    to: String,
    #[serde(rename = "price_cents", with = "cents_opt", default, skip_serializing_if = "Option::is_none")]
    price: Option<Cents>,
    #[serde(default, skip_serializing_if = "String::is_empty")]
    note: String,
}

#[derive(Serialize, Deserialize)]
#[serde(remote = "SprayCall", rename = "call about a spraying")]
struct SprayCallFields {
    #[serde(with = "texts", default, skip_serializing_if = "Vec::is_empty")]
    yards: Vec<YardId>,
    #[serde(default, skip_serializing_if = "String::is_empty")]
    caller: String,
    #[serde(default, skip_serializing_if = "String::is_empty")]
    substance: String,
    #[serde(default, skip_serializing_if = "String::is_empty")]
    field: String,
    #[serde(default, skip_serializing_if = "String::is_empty")]
    begins: String,
    #[serde(default, skip_serializing_if = "String::is_empty")]
    note: String,
}

#[derive(Serialize, Deserialize)]
#[serde(remote = "Photo", rename = "photo")]
struct PhotoFields {
    #[serde(with = "text_opt", default, skip_serializing_if = "Option::is_none")]
    yard: Option<YardId>,
    #[serde(with = "text")]
    content: ContentHash,
    #[serde(default, skip_serializing_if = "String::is_empty")]
    caption: String,
}

#[derive(Serialize, Deserialize)]
#[serde(remote = "YardTerms", rename = "terms of a yard")]
struct YardTermsFields {
    #[serde(with = "text")]
    yard: YardId,
    #[serde(default, skip_serializing_if = "String::is_empty")]
    terms: String,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    neighbours: Vec<String>,
    #[serde(default, skip_serializing_if = "String::is_empty")]
    water: String,
    #[serde(default, skip_serializing_if = "String::is_empty")]
    fence: String,
}

#[derive(Serialize, Deserialize)]
#[serde(remote = "QueensGiven", rename = "queens given")]
struct QueensFields {
    #[serde(with = "text")]
    yard: YardId,
    #[serde(deserialize_with = "count")]
    colonies: u32,
    #[serde(default, skip_serializing_if = "String::is_empty")]
    queens: String,
    #[serde(default, skip_serializing_if = "Option::is_none", deserialize_with = "count_opt")]
    laying: Option<u32>,
}

/// A name the outfit gives to a lot or a drum: some text on one line.
fn own_name<'de, D: Deserializer<'de>>(from: D) -> Result<String, D::Error> {
    let name = String::deserialize(from)?;
    if name.trim().is_empty() || name.trim() != name || name.chars().count() > 64 || name.chars().any(char::is_control)
    {
        return Err(D::Error::custom("a lot or a drum has a name of one to 64 characters on one line"));
    }
    Ok(name)
}

fn mass<E: serde::de::Error>(value: f64) -> Result<Kilograms, E> {
    if value < 0.0 {
        return Err(E::custom(format!("{value} kg is less than nothing")));
    }
    Kilograms::new(value).map_err(E::custom)
}

/// A mass of nought or more.
mod mass_opt {
    use super::{Deserialize, Deserializer, Kilograms, Serialize, Serializer, mass};

    pub(super) fn serialize<S: Serializer>(value: &Option<Kilograms>, to: S) -> Result<S::Ok, S::Error> {
        value.map(Kilograms::get).serialize(to)
    }

    pub(super) fn deserialize<'de, D: Deserializer<'de>>(from: D) -> Result<Option<Kilograms>, D::Error> {
        Option::<f64>::deserialize(from)?.map(mass).transpose()
    }
}

mod cents_opt {
    use super::{Cents, Deserialize, Deserializer, Serialize, Serializer};

    pub(super) fn serialize<S: Serializer>(value: &Option<Cents>, to: S) -> Result<S::Ok, S::Error> {
        value.map(Cents::get).serialize(to)
    }

    pub(super) fn deserialize<'de, D: Deserializer<'de>>(from: D) -> Result<Option<Cents>, D::Error> {
        Ok(Option::<i64>::deserialize(from)?.map(Cents))
    }
}

mod texts {
    use super::{Deserialize, Deserializer, Parsed, Serializer, YardId};

    pub(super) fn serialize<S: Serializer>(all: &[YardId], to: S) -> Result<S::Ok, S::Error> {
        to.collect_seq(all.iter().map(YardId::as_str))
    }

    pub(super) fn deserialize<'de, D: Deserializer<'de>>(from: D) -> Result<Vec<YardId>, D::Error> {
        Ok(Vec::<Parsed<YardId>>::deserialize(from)?.into_iter().map(|one| one.0).collect())
    }
}

mod boxes_from {
    use super::{AsBoxesFrom, BoxesFrom, Deserialize, Deserializer, Serializer};

    pub(super) fn serialize<S: Serializer>(all: &[BoxesFrom], to: S) -> Result<S::Ok, S::Error> {
        to.collect_seq(all.iter().cloned().map(AsBoxesFrom))
    }

    pub(super) fn deserialize<'de, D: Deserializer<'de>>(from: D) -> Result<Vec<BoxesFrom>, D::Error> {
        Ok(Vec::<AsBoxesFrom>::deserialize(from)?.into_iter().map(|one| one.0).collect())
    }
}

/// What is in a drum, lot by lot.
mod lots_kg {
    use super::{Deserialize, Deserializer, Kilograms, Serialize, Serializer, mass};

    #[derive(Serialize, Deserialize)]
    struct OfLot {
        #[serde(deserialize_with = "super::own_name")]
        lot: String,
        kg: f64,
    }

    pub(super) fn serialize<S: Serializer>(all: &[(String, Kilograms)], to: S) -> Result<S::Ok, S::Error> {
        to.collect_seq(all.iter().map(|(lot, kg)| OfLot { lot: lot.clone(), kg: kg.get() }))
    }

    pub(super) fn deserialize<'de, D: Deserializer<'de>>(from: D) -> Result<Vec<(String, Kilograms)>, D::Error> {
        Vec::<OfLot>::deserialize(from)?.into_iter().map(|of| Ok((of.lot, mass(of.kg)?))).collect()
    }
}

// ---- how single values stand in a line ---------------------------------------------------------------------------

fn checked_count<E: serde::de::Error>(count: u32) -> Result<u32, E> {
    if count <= COUNT_MOST {
        Ok(count)
    } else {
        Err(E::custom(format!("a count of {count} is more than {COUNT_MOST}")))
    }
}

fn count<'de, D: Deserializer<'de>>(from: D) -> Result<u32, D::Error> {
    u32::deserialize(from).and_then(checked_count)
}

fn count_opt<'de, D: Deserializer<'de>>(from: D) -> Result<Option<u32>, D::Error> {
    Option::<u32>::deserialize(from)?.map(checked_count).transpose()
}

fn weight<'de, D: Deserializer<'de>>(from: D) -> Result<f64, D::Error> {
    let weight = f64::deserialize(from)?;
    if weight.is_finite() && weight >= 0.0 { Ok(weight) } else { Err(D::Error::custom("a weight is nought or more")) }
}

/// A text read as something, straight from the line: most texts are names, and there are many.
struct Parsed<T>(T);

impl<'de, T: FromStr<Err: fmt::Display>> Deserialize<'de> for Parsed<T> {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        struct Reader<T>(core::marker::PhantomData<T>);
        impl<T: FromStr<Err: fmt::Display>> Visitor<'_> for Reader<T> {
            type Value = Parsed<T>;
            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a string")
            }
            fn visit_str<E: serde::de::Error>(self, text: &str) -> Result<Self::Value, E> {
                text.parse().map(Parsed).map_err(E::custom)
            }
        }
        from.deserialize_str(Reader(core::marker::PhantomData))
    }
}

/// A name before a count, as this program writes it. With blanks around it or other capitals it would be another field
/// of the line, and the same name.
struct Counted<T>(T);

impl<T: FromStr<Err: fmt::Display> + fmt::Display> FromStr for Counted<T> {
    type Err = String;
    fn from_str(text: &str) -> Result<Self, String> {
        let name: T = text.parse().map_err(|error: T::Err| error.to_string())?;
        let mut rest = Rest(text);
        if write!(rest, "{name}").is_ok() && rest.0.is_empty() {
            Ok(Self(name))
        } else {
            Err(format!("\"{text}\" should be written \"{name}\""))
        }
    }
}

/// What is left of a text after what was written; writing something else fails.
struct Rest<'a>(&'a str);

impl fmt::Write for Rest<'_> {
    fn write_str(&mut self, part: &str) -> fmt::Result {
        self.0 = self.0.strip_prefix(part).ok_or(fmt::Error)?;
        Ok(())
    }
}

/// Anything that prints as it is read.
pub(super) mod text {
    use super::{Deserialize, Deserializer, FromStr, Parsed, Serializer, fmt};

    pub(in super::super) fn serialize<T: fmt::Display, S: Serializer>(value: &T, to: S) -> Result<S::Ok, S::Error> {
        to.collect_str(value)
    }

    pub(in super::super) fn deserialize<'de, T, D>(from: D) -> Result<T, D::Error>
    where
        T: FromStr<Err: fmt::Display>,
        D: Deserializer<'de>,
    {
        Parsed::deserialize(from).map(|parsed| parsed.0)
    }
}

pub(super) mod text_opt {
    use super::{Deserialize, Deserializer, FromStr, Parsed, Serializer, fmt};

    pub(in super::super) fn serialize<T: fmt::Display, S: Serializer>(
        value: &Option<T>,
        to: S,
    ) -> Result<S::Ok, S::Error> {
        match value {
            Some(value) => to.collect_str(value),
            None => to.serialize_none(),
        }
    }

    pub(in super::super) fn deserialize<'de, T, D>(from: D) -> Result<Option<T>, D::Error>
    where
        T: FromStr<Err: fmt::Display>,
        D: Deserializer<'de>,
    {
        Ok(Option::<Parsed<T>>::deserialize(from)?.map(|parsed| parsed.0))
    }
}

/// A day, as `2026-07-03` and nothing else.
pub(super) mod date {
    use super::{Date, Deserialize, Deserializer, FromStr, Parsed, Serializer};

    struct Day(Date);

    impl FromStr for Day {
        type Err = String;
        fn from_str(text: &str) -> Result<Self, String> {
            outyard_base::days::read_date(text).map(Day).map_err(|trouble| trouble.cause)
        }
    }

    pub(in super::super) fn serialize<S: Serializer>(day: &Date, to: S) -> Result<S::Ok, S::Error> {
        to.collect_str(day)
    }

    pub(in super::super) fn deserialize<'de, D: Deserializer<'de>>(from: D) -> Result<Date, D::Error> {
        Parsed::<Day>::deserialize(from).map(|day| day.0.0)
    }
}

pub(super) mod date_opt {
    use super::{Date, Deserialize, Deserializer, Serialize, Serializer};

    #[derive(Serialize, Deserialize)]
    struct AsDate(#[serde(with = "super::date")] Date);

    pub(in super::super) fn serialize<S: Serializer>(day: &Option<Date>, to: S) -> Result<S::Ok, S::Error> {
        day.map(AsDate).serialize(to)
    }

    pub(in super::super) fn deserialize<'de, D: Deserializer<'de>>(from: D) -> Result<Option<Date>, D::Error> {
        Ok(Option::<AsDate>::deserialize(from)?.map(|day| day.0))
    }
}

/// A quantity that is checked when built.
pub(super) trait Quantity: Copy {
    fn read(value: f64) -> Result<Self, OutOfRange>;
    fn value(self) -> f64;
}

macro_rules! quantities {
    ($($name:ident),*) => {$(
        impl Quantity for $name {
            fn read(value: f64) -> Result<Self, OutOfRange> { Self::new(value) }
            fn value(self) -> f64 { self.get() }
        }
    )*};
}

quantities!(Share, Metres, Litres, Kilograms);

pub(super) mod quantity_opt {
    use super::{Deserialize, Deserializer, Quantity, Serialize, Serializer};
    use serde::de::Error as _;

    pub(in super::super) fn serialize<Q: Quantity, S: Serializer>(value: &Option<Q>, to: S) -> Result<S::Ok, S::Error> {
        value.map(Quantity::value).serialize(to)
    }

    pub(in super::super) fn deserialize<'de, Q: Quantity, D: Deserializer<'de>>(
        from: D,
    ) -> Result<Option<Q>, D::Error> {
        Option::<f64>::deserialize(from)?.map(|value| Q::read(value).map_err(D::Error::custom)).transpose()
    }
}

mod minutes_opt {
    use super::{Deserialize, Deserializer, Minutes, Serialize, Serializer};
    use serde::de::Error as _;

    pub(super) fn serialize<S: Serializer>(value: &Option<Minutes>, to: S) -> Result<S::Ok, S::Error> {
        value.map(Minutes::get).serialize(to)
    }

    pub(super) fn deserialize<'de, D: Deserializer<'de>>(from: D) -> Result<Option<Minutes>, D::Error> {
        match Option::<i64>::deserialize(from)? {
            Some(minutes) if (0..=100_000).contains(&minutes) => Ok(Some(Minutes(minutes))),
            Some(minutes) => Err(D::Error::custom(format!("{minutes} minutes is no time at a yard"))),
            None => Ok(None),
        }
    }
}

/// A point on the earth, WGS 84.
mod point_opt {
    use super::{Deserialize, Deserializer, Place, Serialize, Serializer};
    use serde::de::Error as _;

    #[derive(Serialize, Deserialize)]
    struct Point {
        latitude_deg: f64,
        longitude_deg: f64,
    }

    pub(super) fn serialize<S: Serializer>(place: &Option<Place>, to: S) -> Result<S::Ok, S::Error> {
        place.map(|at| Point { latitude_deg: at.latitude(), longitude_deg: at.longitude() }).serialize(to)
    }

    pub(super) fn deserialize<'de, D: Deserializer<'de>>(from: D) -> Result<Option<Place>, D::Error> {
        Option::<Point>::deserialize(from)?
            .map(|at| Place::new(at.latitude_deg, at.longitude_deg).map_err(|trouble| D::Error::custom(trouble.cause)))
            .transpose()
    }
}

/// A place of gear: `shed`, `truck:2`, `on-hives:7`, `loose:7`, `hot-room`, `wet`, `lent:Name`, `outside`.
pub(super) mod gear_place {
    use super::{Deserialize, Deserializer, GearPlace, Serializer};
    use serde::de::Error as _;

    pub(in super::super) fn serialize<S: Serializer>(place: &GearPlace, to: S) -> Result<S::Ok, S::Error> {
        match place {
            GearPlace::Shed => to.serialize_str("shed"),
            GearPlace::Truck(truck) => to.collect_str(&format_args!("truck:{truck}")),
            GearPlace::OnHives(yard) => to.collect_str(&format_args!("on-hives:{yard}")),
            GearPlace::LooseInYard(yard) => to.collect_str(&format_args!("loose:{yard}")),
            GearPlace::HotRoom => to.serialize_str("hot-room"),
            GearPlace::Wet => to.serialize_str("wet"),
            GearPlace::LentOut(whom) => to.collect_str(&format_args!("lent:{whom}")),
            GearPlace::Outside => to.serialize_str("outside"),
        }
    }

    pub(in super::super) fn deserialize<'de, D: Deserializer<'de>>(from: D) -> Result<GearPlace, D::Error> {
        let text = String::deserialize(from)?;
        match text.split_once(':') {
            None if text == "shed" => Ok(GearPlace::Shed),
            None if text == "hot-room" => Ok(GearPlace::HotRoom),
            None if text == "wet" => Ok(GearPlace::Wet),
            None if text == "outside" => Ok(GearPlace::Outside),
            Some(("truck", truck)) => truck.parse().map(GearPlace::Truck).map_err(D::Error::custom),
            Some(("on-hives", yard)) => yard.parse().map(GearPlace::OnHives).map_err(D::Error::custom),
            Some(("loose", yard)) => yard.parse().map(GearPlace::LooseInYard).map_err(D::Error::custom),
            Some(("lent", whom)) => Ok(GearPlace::LentOut(whom.to_owned())),
            _ => {
                Err(D::Error::custom(format!("\"{}\" is no place for gear", text.chars().take(40).collect::<String>())))
            }
        }
    }
}

/// `yard:7` or `group:North`.
mod yard_or_group {
    use super::{Deserialize, Deserializer, Serializer, Where};
    use serde::de::Error as _;

    pub(super) fn serialize<S: Serializer>(at: &Where, to: S) -> Result<S::Ok, S::Error> {
        match at {
            Where::Yard(yard) => to.collect_str(&format_args!("yard:{yard}")),
            Where::Group(group) => to.collect_str(&format_args!("group:{group}")),
        }
    }

    pub(super) fn deserialize<'de, D: Deserializer<'de>>(from: D) -> Result<Where, D::Error> {
        let text = String::deserialize(from)?;
        match text.split_once(':') {
            Some(("yard", yard)) => yard.parse().map(Where::Yard).map_err(D::Error::custom),
            Some(("group", group)) => Ok(Where::Group(group.to_owned())),
            _ => Err(D::Error::custom("it is neither \"yard:\" nor \"group:\" and a name")),
        }
    }
}

/// Counts by name, each name once.
struct Counts<T>(Vec<(T, u32)>);

impl<'de, T: FromStr<Err: fmt::Display> + Ord + Clone + fmt::Display> Deserialize<'de> for Counts<T> {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        struct Reader<T>(core::marker::PhantomData<T>);
        impl<'de, T: FromStr<Err: fmt::Display> + Ord + Clone + fmt::Display> Visitor<'de> for Reader<T> {
            type Value = Counts<T>;
            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("counts by name")
            }
            fn visit_map<M: MapAccess<'de>>(self, mut map: M) -> Result<Self::Value, M::Error> {
                let mut counts: Vec<(T, u32)> = Vec::new();
                // A handful as a rule, and then looking through them is quickest; but a line may hold thousands.
                let mut names = std::collections::BTreeSet::new();
                while let Some((Parsed(Counted(name)), count)) = map.next_entry::<Parsed<Counted<T>>, u32>()? {
                    if counts.len() == 16 {
                        names.extend(counts.iter().map(|(known, _)| known.clone()));
                    }
                    let twice = if counts.len() < 16 {
                        counts.iter().any(|(known, _)| *known == name)
                    } else {
                        !names.insert(name.clone())
                    };
                    if twice {
                        return Err(M::Error::custom(format!("\"{name}\" is counted twice")));
                    }
                    counts.push((name, checked_count(count)?));
                }
                Ok(Counts(counts))
            }
        }
        from.deserialize_map(Reader(core::marker::PhantomData))
    }
}

pub(super) mod kinds {
    use super::{Counts, Deserialize, Deserializer, Kind, KindCounts, SerializeMap, Serializer};

    pub(in super::super) fn serialize<S: Serializer>(counts: &KindCounts, to: S) -> Result<S::Ok, S::Error> {
        let mut map = to.serialize_map(None)?;
        for (kind, count) in counts.iter() {
            map.serialize_entry(kind.code(), &count)?;
        }
        map.end()
    }

    pub(in super::super) fn deserialize<'de, D: Deserializer<'de>>(from: D) -> Result<KindCounts, D::Error> {
        Ok(Counts::<Kind>::deserialize(from)?.0.into_iter().collect())
    }
}

mod gear {
    use super::{Counts, Deserialize, Deserializer, GearCode, GearCounts, SerializeMap, Serializer};

    pub(super) fn serialize<S: Serializer>(counts: &GearCounts, to: S) -> Result<S::Ok, S::Error> {
        let mut map = to.serialize_map(None)?;
        for (gear, count) in counts.iter() {
            map.serialize_entry(gear.as_str(), &count)?;
        }
        map.end()
    }

    pub(super) fn deserialize<'de, D: Deserializer<'de>>(from: D) -> Result<GearCounts, D::Error> {
        Ok(Counts::<GearCode>::deserialize(from)?.0.into_iter().collect())
    }
}

/// Lists of the book's own types: each item is written and read by a struct that wraps it.
macro_rules! lists {
    ($($module:ident: $item:ident by $wrapped:ident;)*) => {$(
        mod $module {
            use super::{$item, $wrapped, Deserialize, Deserializer, Serializer};

            pub(super) fn serialize<S: Serializer>(all: &[$item], to: S) -> Result<S::Ok, S::Error> {
                to.collect_seq(all.iter().cloned().map($wrapped))
            }

            pub(super) fn deserialize<'de, D: Deserializer<'de>>(from: D) -> Result<Vec<$item>, D::Error> {
                Ok(Vec::<$wrapped>::deserialize(from)?.into_iter().map(|one| one.0).collect())
            }
        }
    )*};
}

lists! {
    forage: Forage by AsForage;
    dates: Date by AsDay;
    told_runs: ToldRun by AsToldRun;
    stays_home: StaysHome by AsStaysHome;
    wanted: WantedVisit by AsWanted;
}

mod jobs {
    use super::{AsJobDone, Deserialize, Deserializer, JobDone, JobDoneWritten, Serializer};

    pub(super) fn serialize<S: Serializer>(all: &[JobDone], to: S) -> Result<S::Ok, S::Error> {
        to.collect_seq(all.iter().map(JobDoneWritten))
    }

    pub(super) fn deserialize<'de, D: Deserializer<'de>>(from: D) -> Result<Vec<JobDone>, D::Error> {
        Ok(Vec::<AsJobDone>::deserialize(from)?.into_iter().map(|one| one.0).collect())
    }
}
