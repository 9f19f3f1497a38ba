//! What is written down of the rest of the year, and the honey house.

use std::collections::BTreeSet;

use outyard_app::year::{faults_of, notes_after, unknown_yard};
use outyard_base::Trouble;
use outyard_book::fact::Where;
use outyard_book::honey::{HoneyHouse, Trace};
use outyard_book::{
    BoxesFrom, Drum, Extraction, Fact, KindCounts, MiteSample, Photo, QueensGiven, Sale, SprayCall, Treatment,
    YardTerms,
};
use outyard_folder::Desk;
use serde_json::{Value, json};

use crate::args::{HoneyWords, WriteVerb, WriteWords};
use crate::reply::{Reply, count_of, hang};
use crate::table::{Stand, lay_out};

type Answer = Result<Reply, Vec<Trouble>>;

/// `outyard write`.
pub(crate) fn write(words: &WriteWords, desk: &Desk) -> Answer {
    let outfit = desk.situation()?.outfit;
    let on = desk.today();
    let mut photo = None;
    let fact = match &words.what {
        WriteVerb::Extraction { lot, boxes, kg, moisture, pulled, note } => Fact::HoneyExtracted(Extraction {
            lot: lot.clone(),
            boxes: boxes
                .iter()
                .map(|(yard, boxes)| BoxesFrom { yard: yard.clone(), boxes: *boxes, pulled_on: *pulled })
                .collect(),
            honey: *kg,
            moisture: *moisture,
            note: note.clone(),
        }),
        WriteVerb::Drum { drum, from, moisture, colour, note } => Fact::HoneyDrummed(Drum {
            drum: drum.clone(),
            from: from.clone(),
            moisture: *moisture,
            colour: colour.clone(),
            note: note.clone(),
        }),
        WriteVerb::Sale { drums, to, price, note } => {
            Fact::HoneySold(Sale { drums: drums.clone(), to: to.clone(), price: *price, note: note.clone() })
        }
        WriteVerb::Spray { yards, caller, substance, field, begins, note } => Fact::SprayTold(SprayCall {
            yards: yards.clone(),
            caller: caller.clone(),
            substance: substance.clone(),
            field: field.clone(),
            begins: begins.clone(),
            note: note.clone(),
        }),
        WriteVerb::Photo { file, yard, caption } => {
            let bytes = std::fs::read(file).map_err(|error| {
                vec![Trouble::new(
                    "FIL-001",
                    format!("{} cannot be read: {error}", file.display()),
                    "see that the file is there, that it is a file and that you may read it",
                )]
            })?;
            let content = outyard_book::ContentHash::of(&bytes);
            photo = Some(bytes);
            Fact::PhotoKept(Photo { yard: yard.clone(), content, caption: caption.clone() })
        }
        WriteVerb::Terms { yard, terms, neighbour, water, fence } => {
            let known = outfit.yards.get(yard).and_then(|yard| yard.terms.clone());
            let known = known.unwrap_or_else(|| YardTerms {
                yard: yard.clone(),
                terms: String::new(),
                neighbours: Vec::new(),
                water: String::new(),
                fence: String::new(),
            });
            // What is not named stays as it is: the fact itself replaces the one before it whole.
            Fact::YardTerms(YardTerms {
                yard: yard.clone(),
                terms: terms.clone().unwrap_or(known.terms),
                neighbours: if neighbour.is_empty() { known.neighbours } else { neighbour.clone() },
                water: water.clone().unwrap_or(known.water),
                fence: fence.clone().unwrap_or(known.fence),
            })
        }
        WriteVerb::Moved { from, to, colonies } => {
            Fact::ColoniesMoved { from: from.clone(), to: to.clone(), counts: KindCounts::of(colonies) }
        }
        WriteVerb::Splits { from, to, splits, queens } => {
            Fact::SplitsMade { from: from.clone(), to: to.clone(), splits: *splits, queens: queens.clone() }
        }
        WriteVerb::Lost { yard, colonies, cause } => {
            Fact::ColoniesLost { yard: yard.clone(), counts: KindCounts::of(colonies), cause: cause.clone() }
        }
        WriteVerb::Queens { yard, colonies, queens, laying } => Fact::QueensGiven(QueensGiven {
            yard: yard.clone(),
            colonies: *colonies,
            queens: queens.clone(),
            laying: *laying,
        }),
        WriteVerb::TreatmentIn(it) => Fact::TreatmentIn(Treatment {
            yard: it.yard.clone(),
            product: it.product.clone(),
            ingredient: it.ingredient.clone(),
            lot: it.lot.clone(),
            colonies: it.colonies,
            dose: it.dose.clone(),
            days_in_least: it.days_in_least,
            days_in_most: it.days_in_most,
            days_before_supers: it.days_before_supers,
            supers_on_allowed: it.supers_on_allowed,
            label: it.label.clone(),
        }),
        WriteVerb::TreatmentOut { yard, product, colonies } => {
            Fact::TreatmentOut { yard: yard.clone(), product: product.clone(), colonies: *colonies }
        }
        WriteVerb::Mites { yard, bees, mites, method, colony, board_days } => Fact::MiteSample(MiteSample {
            yard: yard.clone(),
            colony: colony.clone(),
            method: method.clone(),
            bees: *bees,
            mites: *mites,
            board_days: *board_days,
        }),
        WriteVerb::Fed { yard, colonies, feed, syrup_l, sugar_kg } => {
            Fact::Fed { yard: yard.clone(), colonies: *colonies, feed: feed.clone(), syrup: *syrup_l, sugar: *sugar_kg }
        }
        WriteVerb::Bloom { yard, plant, stage } => {
            Fact::BloomSeen { at: Where::Yard(yard.clone()), plant: plant.clone(), stage: stage.clone() }
        }
        WriteVerb::Note { text, yard } => Fact::Note { yard: yard.clone(), text: text.clone() },
    };
    let mut entry = desk.entry_named(words.entry, on, fact.clone())?;
    if let Some(known) = desk.known(words.entry)? {
        if known.fact == fact && known.happened_on == on {
            let page = format!("That is in the book already ({}); nothing was doubled.\n", known.id);
            return Ok(Reply::new(page, json!({ "entry": known.id.to_string(), "new": 0 })));
        }
        return Err(vec![outyard_app::ports::StoreError::SameName(known.id).into()]);
    }
    let faults = faults_of(&outfit, on, &fact);
    if !faults.is_empty() {
        return Err(faults);
    }
    match photo {
        Some(bytes) => entry = desk.keep_bytes_and_write(&bytes, entry)?,
        None => drop(desk.write(std::slice::from_ref(&entry))?),
    }
    let after = desk.situation()?.outfit;
    let page =
        format!("Written for {on}: {}. Its name: {}\n", outyard_app::pages::book::told_in_words(&entry), entry.id);
    Ok(Reply::new(page, json!({ "entry": entry.id.to_string(), "fact": fact.name(), "new": 1 }))
        .with(notes_after(&after)))
}

/// `outyard honey`.
pub(crate) fn honey(words: &HoneyWords, desk: &Desk) -> Answer {
    let outfit = desk.situation()?.outfit;
    let honey = &outfit.honey;
    if let Some(yard) = &words.yard {
        if !outfit.yards.contains_key(yard) {
            return Err(vec![unknown_yard(yard)]);
        }
        return Ok(traced(&format!("From yard {yard}"), &honey.trace_yard(yard), honey));
    }
    if !words.drum.is_empty() {
        let drums: BTreeSet<String> = words.drum.iter().cloned().collect();
        let unknown: Vec<Trouble> = drums
            .iter()
            .filter(|drum| !honey.is_filled(drum))
            .map(|drum| {
                Trouble::new(
                    "YER-005",
                    format!("no drum {drum} was ever filled"),
                    "write the drum first, or correct its name; `outyard honey` lists them",
                )
            })
            .collect();
        if !unknown.is_empty() {
            return Err(unknown);
        }
        let names: Vec<&str> = drums.iter().map(String::as_str).collect();
        return Ok(traced(&format!("In drum {}", names.join(", ")), &honey.trace_drums(&drums), honey));
    }
    let lots = honey.lots();
    let mut page = String::from("Honey by lot\n");
    if lots.is_empty() {
        page.push_str("  none written down yet: outyard write extraction LOT YARD=BOXES --kg KG\n");
    } else {
        page.push_str(&lay_out(
            &[
                ("lot", Stand::Left),
                ("extracted", Stand::Left),
                ("boxes", Stand::Right),
                ("kg", Stand::Right),
                ("in drums", Stand::Right),
                ("left", Stand::Right),
                ("drums", Stand::Right),
                ("yards", Stand::Left),
            ],
            lots.iter().map(|(name, lot)| {
                let yards: Vec<&str> = lot.boxes.keys().map(outyard_base::YardId::as_str).collect();
                vec![
                    (*name).to_owned(),
                    lot.days.map_or_else(|| "never told".to_owned(), |(first, _)| first.to_string()),
                    lot.boxes.values().sum::<u32>().to_string(),
                    if lot.unweighed { "-".to_owned() } else { format!("{:.1}", lot.extracted_kg) },
                    format!("{:.1}", lot.drummed_kg),
                    lot.left_kg().map_or_else(|| "-".to_owned(), |left| format!("{left:.1}")),
                    lot.drums.len().to_string(),
                    yards.join(" "),
                ]
            }),
        ));
    }
    let sold: BTreeSet<&String> = honey.sales.iter().flat_map(|sale| &sale.what.drums).collect();
    page.push_str(&format!("\n{} filled, {} sold\n", count_of(honey.drums.len(), "drum"), sold.len()));
    let faults: Vec<String> = honey.faults().iter().map(ToString::to_string).collect();
    if !faults.is_empty() {
        page.push_str("It does not come out\n");
    } else if lots.values().any(|lot| !lot.unweighed) {
        page.push_str("It comes out: no lot that was weighed gave more than it had.\n");
    }
    for fault in &faults {
        page.push_str(&hang("  ", fault));
    }
    let data: Vec<Value> = lots
        .iter()
        .map(|(name, lot)| {
            json!({
                "lot": name,
                "extracted_on": lot.days.map(|(first, _)| first.to_string()),
                "boxes": lot.boxes.iter().map(|(yard, boxes)| (yard.to_string(), *boxes)).collect::<std::collections::BTreeMap<_, _>>(),
                "extracted_kg": lot.extracted_kg,
                "all_weighed": !lot.unweighed,
                "drummed_kg": lot.drummed_kg,
                "left_kg": lot.left_kg(),
                "drums": lot.drums,
            })
        })
        .collect();
    Ok(Reply::new(page, json!({ "lots": data, "drums": honey.drums.len(), "sold": sold.len(), "faults": faults })))
}

fn traced(head: &str, trace: &Trace, honey: &HoneyHouse) -> Reply {
    let list = |names: &BTreeSet<String>| names.iter().map(String::as_str).collect::<Vec<_>>().join(", ");
    let yards: Vec<String> = trace
        .yards
        .iter()
        .map(|(yard, boxes)| {
            format!("{yard} ({})", if *boxes == 1 { "1 box".to_owned() } else { format!("{boxes} boxes") })
        })
        .collect();
    let mut page = format!("{head}\n");
    for (what, said) in [("yards", yards.join(", ")), ("lots", list(&trace.lots)), ("drums", list(&trace.drums))] {
        page.push_str(&hang(&format!("  {what:<7}"), if said.is_empty() { "none" } else { &said }));
    }
    for (buyer, drums) in &trace.buyers {
        page.push_str(&hang("  sold   ", &format!("{}: to {buyer}", list(drums))));
    }
    let unsold: BTreeSet<String> = trace.drums.iter().filter(|drum| !honey.is_sold(drum)).cloned().collect();
    if !unsold.is_empty() {
        page.push_str(&hang("  here   ", &list(&unsold)));
    }
    let data = json!({
        "yards": trace.yards.iter().map(|(yard, boxes)| (yard.to_string(), *boxes)).collect::<std::collections::BTreeMap<_, _>>(),
        "lots": trace.lots,
        "drums": trace.drums,
        "buyers": trace.buyers,
        "unsold": unsold,
    });
    Reply::new(page, data)
}
