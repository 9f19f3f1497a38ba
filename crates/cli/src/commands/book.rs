//! Tallies, settlements, gear, and the book itself.

use std::path::Path;

use jiff::civil::Date;
use outyard_app::closing::{self, faults_of, take_out_known};
use outyard_app::intake::table::{ColumnRule, Faults, Table, read_count};
use outyard_app::pages::book::{told_in_words, yard_of};
use outyard_app::pages::gear::need_by_day;
use outyard_app::ports::Store;
use outyard_app::tally::{ToldTally, gear_counts, jobs_done, read_odd, read_tallies};
use outyard_app::work_out::{WorkOrder, work_out};
use outyard_base::days::{days_from, read_date};
use outyard_base::range::day_month;
use outyard_base::{GearCode, Note, Share, Trouble};
use outyard_book::ledger::Proposal;
use outyard_book::stock::{Cure, StockDay, boxes_to_get, cheapest_cure, first_short_day, forecast_stock};
use outyard_book::{Entry, EntryId, Fact, GearPlace, Tally, wire};
use outyard_folder::{Desk, column_map, read_file, write_whole};
use outyard_runs::Effort;
use serde_json::{Value, json};

use crate::args::{BookVerb, BookWords, GearVerb, GearWords, SettleWords, TallyWords};
use crate::commands::keeping;
use crate::reply::{Reply, hang};
use crate::table::{Stand, lay_out};

type Answer = Result<Reply, Vec<Trouble>>;

fn one(trouble: Trouble) -> Vec<Trouble> {
    vec![trouble]
}

/// `outyard tally`.
pub(crate) fn tally(words: &TallyWords, desk: &Desk) -> Answer {
    let situation = desk.situation()?;
    let tallies: Vec<ToldTally> = match &words.file {
        Some(file) => {
            let name = file.display().to_string();
            read_tallies(&name, &read_file(file)?, &column_map(&words.column)?, &situation.jobs)?
        }
        None => vec![ToldTally { on: situation.today, tally: typed_tally(words, &situation.jobs)?, place: None }],
    };
    let mut entries = Vec::new();
    let (mut faults, mut empty) = (Vec::new(), Vec::new());
    for ToldTally { on, tally, place } in tallies {
        let at = |trouble: Trouble| match &place {
            Some(place) => trouble.at(place.clone()),
            None => trouble,
        };
        if closing::says_nothing(&tally) {
            if tally.jobs.is_empty() {
                faults.push(at(closing::nothing_said()));
            }
            let note = Note::new(
                "TLY-101",
                format!(
                    "the tally of yard {} on {} counts nothing: no colony, no gear, no note",
                    tally.yard,
                    day_month(on)
                ),
            );
            empty.push(match &place {
                Some(place) => note.at(place.clone()),
                None => note,
            });
        }
        faults.extend(faults_of(&situation, on, &tally).into_iter().map(at));
        entries.push(desk.entry(on, Fact::VisitClosed(tally))?);
    }
    if !faults.is_empty() {
        return Err(faults);
    }
    if let (Some(wrong), [entry]) = (words.corrects, entries.as_mut_slice()) {
        put_right(desk, wrong, entry)?;
    }
    if let (Some(id), [entry]) = (words.entry, entries.as_mut_slice()) {
        entry.id = id;
        if let Some(known) = desk.entries()?.into_iter().find(|known| known.id == id) {
            return known_tally(&known, entry);
        }
    }
    let told_before = if words.entry.is_none() && words.corrects.is_none() {
        take_out_known(&mut entries, &desk.entries()?)
    } else {
        Vec::new()
    };
    let appended = match (desk.write(&entries), words.entry, entries.as_slice()) {
        (Ok(appended), ..) => appended,
        // Another program wrote an entry of this name since it was looked for.
        (Err(troubles), Some(id), [entry]) if troubles.iter().any(|trouble| trouble.code == "STO-001") => {
            let known = desk.entries()?.into_iter().find(|known| known.id == id);
            return known.map_or(Err(troubles), |known| known_tally(&known, entry));
        }
        (Err(troubles), ..) => return Err(troubles),
    };
    let mut page = String::new();
    for entry in &entries {
        let (head, tally) = match &entry.fact {
            Fact::VisitClosed(tally) => ("Closed", tally),
            Fact::Correction { instead: Some(fact), .. } => match fact.as_ref() {
                Fact::VisitClosed(tally) => ("Put right", tally),
                _ => continue,
            },
            _ => continue,
        };
        let jobs: Vec<String> = tally.jobs.iter().map(|line| format!("{} {}", line.job, line.done)).collect();
        page.push_str(&format!(
            "{head}: yard {} on {}: {}\n",
            tally.yard,
            day_month(entry.happened_on),
            jobs.join("; ")
        ));
    }
    if !told_before.is_empty() {
        page.push_str(&format!(
            "In the book already, word for word, from this device: {}. Nothing was doubled; was it done twice, add a --note.\n",
            if told_before.len() == 1 { "one tally".to_owned() } else { format!("{} tallies", told_before.len()) }
        ));
    }
    let after = desk.situation()?;
    for conflict in after
        .outfit
        .conflicts
        .iter()
        .filter(|conflict| entries.iter().any(|entry| conflict.tallies.contains(&entry.id)))
    {
        page.push_str(&format!(
            "Yard {} has {} tallies for this visit that differ; none counts until one settles it: outyard settle {}\n",
            conflict.yard,
            conflict.tallies.len(),
            conflict.yard
        ));
    }
    let data = json!({
        "entries": entries.iter().map(|entry| entry.id).chain(told_before.iter().copied()).map(|id| id.to_string()).collect::<Vec<_>>(),
        "new": appended.new,
        "known": appended.known + told_before.len(),
        "unsettled": after.outfit.conflicts.len(),
    });
    Ok(Reply::new(page, data).with(empty))
}

/// Turns a tally into the correction of an earlier one: of its yard, and of its day unless another is named.
fn put_right(desk: &Desk, wrong: EntryId, entry: &mut Entry) -> Result<(), Vec<Trouble>> {
    let Fact::VisitClosed(tally) = &entry.fact else { return Ok(()) };
    let (known_on, fact) = closing::put_right(&desk.entries()?, wrong, tally.clone()).map_err(one)?;
    entry.happened_on = desk.on_date().unwrap_or(known_on);
    entry.fact = fact;
    Ok(())
}

/// What is told when an entry was sent twice under one name.
fn known_entry(known: &Entry, what: &str) -> Reply {
    let page = format!("That {what} is in the book already ({}); nothing was doubled.\n", known.id);
    Reply::new(page, json!({ "entries": [known.id.to_string()], "new": 0, "known": 1 }))
}

/// A tally sent twice under one name: harmless when it says the same.
fn known_tally(known: &Entry, again: &Entry) -> Answer {
    closing::is_known(known, again).map_err(one)?;
    Ok(known_entry(known, "tally"))
}

fn typed_tally(words: &TallyWords, jobs: &outyard_trade::JobBook) -> Result<Tally, Vec<Trouble>> {
    let yard = words.yard.clone().expect("clap asks for a yard or a file");
    let tally = Tally {
        visit: words.visit.clone(),
        jobs: jobs_done(jobs, &words.done, &words.undone)?,
        odd: read_odd(&words.odd).map_err(one)?,
        boxes_on: gear_counts(&words.boxes_on),
        boxes_off: gear_counts(&words.boxes_off),
        boxes_left: gear_counts(&words.boxes_left),
        gear_put: gear_counts(&words.put),
        gear_taken: gear_counts(&words.taken),
        fullness: words.full.map(|percent| Share::of(f64::from(percent) / 100.0)),
        signs: words.seen.iter().flat_map(|(sign, count)| vec![sign.clone(); *count]).collect(),
        minutes: words.minutes,
        hands: words.hands,
        truck: words.truck.clone(),
        note: words.note.clone(),
        ..Tally::new(yard)
    };
    Ok(tally)
}

/// `outyard settle`.
pub(crate) fn settle(words: &SettleWords, desk: &Desk) -> Answer {
    // Sent again, the visit is settled already and nothing is left to settle.
    if let Some(known) = desk.known(words.entry)? {
        let of_yard = |tally: &Tally| tally.yard == words.yard;
        return match &known.fact {
            Fact::Settled { agreed, .. } if agreed.iter().any(of_yard) => Ok(known_entry(&known, "settlement")),
            _ => Err(one(outyard_app::ports::StoreError::SameName(known.id).into())),
        };
    }
    let situation = desk.situation()?;
    let (on, fact) = closing::settlement(&situation, &desk.entries()?, &words.yard, &words.gear).map_err(one)?;
    let entry = desk.entry_named(words.entry, on, fact)?;
    desk.write(std::slice::from_ref(&entry))?;
    let after = desk.situation()?;
    let left: Vec<String> = after.outfit.ledger.unplaced().map(ToString::to_string).collect();
    let mut page = format!("Settled the visit in yard {} on {}.\n", words.yard, day_month(on));
    page.push_str(if left.is_empty() { "All gear has its place.\n" } else { "Gear that still has no place:\n" });
    for line in &left {
        page.push_str(&hang("  ", line));
    }
    Ok(Reply::new(
        page,
        json!({ "entry": entry.id.to_string(), "unplaced": left, "unsettled": after.outfit.conflicts.len() }),
    ))
}

/// `outyard gear`.
pub(crate) fn gear(words: &GearWords, desk: &Desk) -> Answer {
    let today = desk.today();
    let fact = match &words.what {
        None | Some(GearVerb::Where) => return gear_where(desk),
        Some(GearVerb::Ahead { file, stock, wet_from, column, gear }) => {
            return match file {
                Some(file) => ahead_of_file(file, *stock, *wet_from, column),
                None => ahead_of_plan(desk, gear),
            };
        }
        Some(GearVerb::Count { place, gear }) => Fact::GearCounted { place: place.clone(), gear: gear_counts(gear) },
        Some(GearVerb::Move { from, to, gear }) => {
            Fact::GearMoved { from: from.clone(), to: to.clone(), gear: gear_counts(gear) }
        }
        Some(GearVerb::Buy { gear }) => {
            Fact::GearBought { to: GearPlace::Shed, gear: gear_counts(gear), cost: None, note: String::new() }
        }
        Some(GearVerb::Load { truck, gear }) => Fact::TruckLoaded {
            truck: known_truck(desk, truck)?,
            run: None,
            from: GearPlace::Shed,
            gear: gear_counts(gear),
        },
        Some(GearVerb::Home { truck, gear }) => Fact::TruckHome {
            truck: known_truck(desk, truck)?,
            run: None,
            to_shed: gear_counts(gear),
            to_hot_room: outyard_book::GearCounts::none(),
        },
    };
    desk.settings()?;
    if let Some(known) = desk.known(words.entry)? {
        if known.fact == fact && known.happened_on == today {
            return Ok(known_entry(&known, "entry"));
        }
        return Err(one(outyard_app::ports::StoreError::SameName(known.id).into()));
    }
    let entry = desk.entry_named(words.entry, today, fact)?;
    desk.write(std::slice::from_ref(&entry))?;
    let reply = gear_where(desk)?;
    Ok(Reply { page: format!("Written.\n\n{}", reply.page), ..reply })
}

fn known_truck(desk: &Desk, truck: &outyard_base::TruckId) -> Result<outyard_base::TruckId, Vec<Trouble>> {
    let settings = desk.settings()?;
    if settings.trucks.iter().any(|known| known.id == *truck) {
        return Ok(truck.clone());
    }
    Err(one(Trouble::new("TLY-005", format!("there is no truck {truck}"), "name it as outfit.toml does")))
}

/// A column of the gear page: its head, and the places it adds up.
type PlaceColumn = (&'static str, fn(&GearPlace) -> bool);

fn gear_where(desk: &Desk) -> Answer {
    let situation = desk.situation()?;
    let ledger = &situation.outfit.ledger;
    let mut page = String::from("Gear by place\n");
    let sum_of = |gear: &GearCode, wanted: fn(&GearPlace) -> bool| -> i64 {
        ledger.gear[gear].placed.iter().filter(|(place, _)| wanted(place)).map(|(_, count)| *count).sum()
    };
    let columns: [PlaceColumn; 7] = [
        ("shed", |place| matches!(place, GearPlace::Shed)),
        ("trucks", |place| matches!(place, GearPlace::Truck(_))),
        ("on hives", |place| matches!(place, GearPlace::OnHives(_))),
        ("loose", |place| matches!(place, GearPlace::LooseInYard(_))),
        ("hot room", |place| matches!(place, GearPlace::HotRoom)),
        ("wet", |place| matches!(place, GearPlace::Wet)),
        ("lent", |place| matches!(place, GearPlace::LentOut(_))),
    ];
    let mut heads = vec![("", Stand::Left)];
    heads.extend(columns.iter().map(|(name, _)| (*name, Stand::Right)));
    heads.push(("owned", Stand::Right));
    page.push_str(&lay_out(
        &heads,
        ledger.gear.iter().map(|(gear, balance)| {
            let mut row = vec![gear.to_string()];
            row.extend(columns.iter().map(|(_, wanted)| sum_of(gear, *wanted).to_string()));
            row.push(balance.owned().to_string());
            row
        }),
    ));
    let doubts: Vec<String> = ledger
        .doubts
        .iter()
        .map(|doubt| {
            format!(
                "yard {} on {}: {} tallies, none counts. {}",
                doubt.conflict.yard,
                day_month(doubt.conflict.on),
                doubt.conflict.tallies.len(),
                doubt.proposal
            )
        })
        .collect();
    if !doubts.is_empty() {
        page.push_str("\nVisits with tallies that differ\n");
        for doubt in &doubts {
            page.push_str(&hang("  ", doubt));
        }
        page.push_str("  Accept a proposal with: outyard settle YARD\n");
    }
    let unplaced: Vec<String> = ledger.unplaced().map(|missing| format!("{missing}. {}", missing.proposal)).collect();
    if unplaced.is_empty() {
        page.push_str("\nIt balances: all gear has its place.\n");
    } else {
        page.push_str("\nIt does not balance\n");
        for line in &unplaced {
            page.push_str(&hang("  ", line));
        }
    }
    let places: Vec<Value> = ledger
        .gear
        .iter()
        .map(|(gear, balance)| {
            json!({
                "gear": gear.as_str(),
                "owned": balance.owned(),
                "places": balance.placed.iter().map(|(place, count)| json!({ "place": place.to_string(), "count": count })).collect::<Vec<_>>(),
                "unplaced": balance.unplaced.iter().map(|missing| json!({
                    "count": missing.count,
                    "place": missing.place.to_string(),
                    "said": missing.to_string(),
                })).collect::<Vec<_>>(),
            })
        })
        .collect();
    let proposals: Vec<Value> = ledger
        .doubts
        .iter()
        .map(|doubt| {
            let readings = match &doubt.proposal {
                Proposal::Settle { readings, .. } => readings
                    .iter()
                    .map(|reading| {
                        json!({
                            "yard": reading.yard.as_str(),
                            "gear": reading.gear.as_str(),
                            "count": reading.count,
                            "told": reading.told.iter().map(|(_, count)| count).collect::<Vec<_>>(),
                        })
                    })
                    .collect(),
                _ => Vec::new(),
            };
            json!({
                "yard": doubt.conflict.yard.as_str(),
                "on": doubt.conflict.on.to_string(),
                "tallies": doubt.conflict.tallies.iter().map(ToString::to_string).collect::<Vec<_>>(),
                "proposal": doubt.proposal.to_string(),
                "readings": readings,
            })
        })
        .collect();
    let data = json!({ "gear": places, "in_doubt": proposals, "balances": unplaced.is_empty() });
    Ok(Reply::new(page, data).with(situation.notes.clone()))
}

const AHEAD_COLUMNS: &[ColumnRule] = &[
    ColumnRule { name: "date", meaning: "the day", needed: true },
    ColumnRule { name: "need", meaning: "boxes the day's runs want", needed: true },
    ColumnRule { name: "returns", meaning: "wet supers usable that day", needed: false },
];

fn ahead_of_file(file: &Path, stock: Option<u32>, wet_from: Option<Date>, column: &[String]) -> Answer {
    let name = file.display().to_string();
    let table = Table::read(&name, &read_file(file)?, AHEAD_COLUMNS, &column_map(column)?)?;
    let mut faults = Faults::default();
    let mut days: Vec<(Date, u32, u32)> = Vec::new();
    for row in table.rows() {
        let date = faults.keep(row.read("date", read_date));
        let need = faults.keep(row.read("need", read_count));
        let returns = faults.keep(row.read_if_any("returns", read_count));
        let (Some(date), Some(need), Some(returns)) = (date, need, returns) else { continue };
        if let Some((last, ..)) = days.last()
            && days_from(*last, date) != 1
        {
            faults.push(
                Trouble::new(
                    "STK-001",
                    format!("{date} does not follow {last}"),
                    "give one row for each day, in order",
                )
                .at(row.spot("date")),
            );
        }
        days.push((date, need, returns.unwrap_or(0)));
    }
    let days = faults.or(days)?;
    let stock = stock.ok_or_else(|| {
        one(Trouble::new(
            "STK-002",
            "nobody said how many boxes there are",
            "give the empties on the first morning with --stock",
        ))
    })?;
    Ok(ahead(stock, &days, wet_from))
}

/// Stock against the outfit's own plan: what its runs take each day. Wet supers that come back are not foreseen yet.
fn ahead_of_plan(desk: &Desk, gear: &GearCode) -> Answer {
    let situation = desk.situation()?;
    let planned_days = situation.settings.outlook.plan_days;
    let order = WorkOrder { days: planned_days, effort: Effort::QUICK, shut: Vec::new(), crews_out: Vec::new() };
    let worked = work_out(&situation, &order, &|| false)?;
    let ready = u32::try_from(situation.ready_to_go(gear).max(0)).unwrap_or(u32::MAX);
    let days = need_by_day(&situation, &worked, gear, planned_days);
    Ok(ahead(ready, &days, None).with(worked.notes))
}

fn ahead(stock: u32, days: &[(Date, u32, u32)], wet_from: Option<Date>) -> Reply {
    let plain: Vec<(u32, u32)> = days.iter().map(|(_, need, returns)| (*need, *returns)).collect();
    let forecast = forecast_stock(stock, &plain);
    let earliest = wet_from
        .zip(days.first())
        .and_then(|(wet, (first, ..))| usize::try_from(days_from(*first, wet)).ok())
        .unwrap_or(0);
    let cure = cheapest_cure(stock, &plain, earliest);
    let mut page = format!("{stock} empties on the first morning\n\n");
    page.push_str(&lay_out(
        &[
            ("day", Stand::Left),
            ("need", Stand::Right),
            ("wet back", Stand::Right),
            ("left", Stand::Right),
            ("short", Stand::Right),
        ],
        days.iter().zip(&forecast).map(|((date, need, returns), day)| {
            let short = if day.short > 0 { format!("SHORT {}", day.short) } else { String::new() };
            vec![day_month(*date), need.to_string(), returns.to_string(), day.stock.to_string(), short]
        }),
    ));
    page.push('\n');
    page.push_str(&match first_short_day(&forecast) {
        None => format!("Never short; {} left at the end.\n", forecast.last().map_or(stock, |day| day.stock)),
        Some(first) => format!("Short by {} on {}.\n", forecast[first].short, day_month(days[first].0)),
    });
    page.push_str(&cure_words(&cure, &forecast));
    let told = |forecast: &[StockDay]| -> Vec<Value> {
        days.iter()
            .zip(forecast)
            .map(|((date, ..), day)| json!({ "date": date.to_string(), "stock": day.stock, "short": day.short }))
            .collect()
    };
    let cure_data = match &cure {
        Cure::NotNeeded => json!({ "cure": "not-needed" }),
        Cure::ReturnEarlier { days_earlier, days: better } => json!({
            "cure": "wet-supers-earlier",
            "days_earlier": days_earlier,
            "forecast": told(better),
            "or_boxes_to_get": boxes_to_get(&forecast),
        }),
        Cure::GetBoxes { boxes } => json!({ "cure": "get-boxes", "boxes": boxes }),
    };
    Reply::new(
        page,
        json!({
            "forecast": told(&forecast),
            "first_short": first_short_day(&forecast).map(|at| days[at].0.to_string()),
            "cure": cure_data,
        }),
    )
}

fn cure_words(cure: &Cure, forecast: &[StockDay]) -> String {
    match cure {
        Cure::NotNeeded => String::new(),
        Cure::ReturnEarlier { days_earlier, days } => format!(
            "Start extracting {days_earlier} days earlier: never short, {} left at the end. Otherwise buy or borrow {} boxes.\n",
            days.last().map_or(0, |day| day.stock),
            boxes_to_get(forecast)
        ),
        Cure::GetBoxes { boxes } => format!("Wet supers earlier are not enough: buy or borrow {boxes} boxes.\n"),
    }
}

/// `outyard book`.
pub(crate) fn book(words: &BookWords, desk: &Desk) -> Answer {
    match &words.what {
        None => list(desk, None, 40),
        Some(BookVerb::List { yard, last }) => list(desk, yard.as_ref(), *last),
        Some(BookVerb::Strike { entry }) => strike(desk, *entry),
        Some(BookVerb::Keep { file }) => keeping::keep(file, desk),
        Some(BookVerb::Check { save }) => keeping::check(save.as_deref(), desk),
        Some(BookVerb::BringBack { file }) => keeping::bring_back(file, desk),
        Some(BookVerb::Out { file }) => {
            let entries = desk.entries()?;
            let mut lines = String::new();
            for entry in &entries {
                lines.push_str(&wire::write_line(entry));
                lines.push('\n');
            }
            write_whole(file, lines.as_bytes())?;
            let page = format!("Wrote {} entries to {}.\n", entries.len(), file.display());
            Ok(Reply::new(page, json!({ "entries": entries.len() })))
        }
        Some(BookVerb::In { file }) => {
            desk.settings()?;
            let entries = wire::read_lines(&file.display().to_string(), read_file(file)?.as_bytes()).map_err(one)?;
            let appended =
                desk.with_store(async |store| store.append(&entries).await.map_err(|error| one(error.into())))?;
            let page = format!("{} new entries taken in; {} were here already.\n", appended.new, appended.known);
            Ok(Reply::new(page, json!({ "new": appended.new, "known": appended.known })))
        }
    }
}

fn list(desk: &Desk, yard: Option<&outyard_base::YardId>, last: usize) -> Answer {
    let mut entries = desk.entries()?;
    entries.sort_by_key(|entry| (entry.happened_on, entry.recorded_at, entry.id));
    let chosen: Vec<&Entry> =
        entries.iter().filter(|entry| yard.is_none_or(|yard| yard_of(&entry.fact) == Some(yard))).collect();
    let shown = &chosen[chosen.len().saturating_sub(last)..];
    let mut page = lay_out(
        &[
            ("day", Stand::Left),
            ("yard", Stand::Left),
            ("told", Stand::Left),
            ("by", Stand::Left),
            ("entry", Stand::Whole),
        ],
        shown.iter().map(|entry| {
            vec![
                entry.happened_on.to_string(),
                yard_of(&entry.fact).map_or_else(String::new, ToString::to_string),
                told_in_words(entry),
                entry.author.clone(),
                entry.id.to_string(),
            ]
        }),
    );
    page.push_str(&format!("\n{} of {} entries\n", shown.len(), chosen.len()));
    let data: Vec<Value> = shown
        .iter()
        .map(|entry| {
            json!({
                "entry": entry.id.to_string(),
                "device": entry.device.as_str(),
                "author": entry.author,
                "happened_on": entry.happened_on.to_string(),
                "recorded_at": entry.recorded_at.to_string(),
                "fact": entry.fact.name(),
                "yard": yard_of(&entry.fact).map(outyard_base::YardId::as_str),
                "said": told_in_words(entry),
            })
        })
        .collect();
    Ok(Reply::new(page, data))
}

fn strike(desk: &Desk, id: EntryId) -> Answer {
    let entries = desk.entries()?;
    let wrong = closing::find_entry(&entries, id).map_err(one)?;
    let entry = desk.entry(wrong.happened_on, Fact::Correction { of: id, instead: None })?;
    desk.write(std::slice::from_ref(&entry))?;
    let page = format!(
        "Struck out: {} of {}. It stays in the book, struck; strike {} to bring it back.\n",
        told_in_words(wrong),
        day_month(wrong.happened_on),
        entry.id
    );
    Ok(Reply::new(page, json!({ "entry": entry.id.to_string(), "struck": id.to_string() })))
}
