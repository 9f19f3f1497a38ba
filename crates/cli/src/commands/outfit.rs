//! Making an outfit, and taking in yards, weather and scales.

use std::fs;
use std::path::Path;

use jiff::civil::Date;
use outyard_app::demo::invent;
use outyard_app::demo_book::write_down;
use outyard_app::intake::scale_file::read_scale_file;
use outyard_app::intake::table::ColumnMap;
use outyard_app::intake::weather_file::read_weather;
use outyard_app::intake::yards_file::{YardRow, read_yards};
use outyard_app::settings::{Beginning, first_settings, read_settings};
use outyard_app::situation::{FORECAST, SCALE, Situation, WEATHER};
use outyard_base::ids::in_reading_order;
use outyard_base::range::day_month;
use outyard_base::{Metres, Place, ScaleId, StationId, Trouble, YardId};
use outyard_book::{ContentHash, Fact, Forage, SeriesKept, YardKept};
use outyard_folder::{BOOK, Desk, SETTINGS, column_map, read_file, write_whole};
use outyard_season::PlantCode;
use outyard_trade::KindCounts;
use serde_json::{Value, json};

use crate::args::{DemoWords, NewWords, ScaleVerb, ScaleWords, WeatherVerb, WeatherWords, YardsVerb, YardsWords};
use crate::commands::{scales, scores};
use crate::reply::{Reply, count_of};
use crate::table::{Stand, lay_out};

type Answer = Result<Reply, Vec<Trouble>>;

fn one(trouble: Trouble) -> Vec<Trouble> {
    vec![trouble]
}

fn make_folder(folder: &Path) -> Result<(), Vec<Trouble>> {
    fs::create_dir_all(folder).map_err(|error| {
        one(Trouble::new(
            "FIL-007",
            format!("{} cannot be made: {error}", folder.display()),
            "choose a folder you may write in",
        ))
    })
}

/// `outyard new`.
pub(crate) fn new(words: &NewWords) -> Answer {
    if words.folder.join(SETTINGS).exists() || words.folder.join(BOOK).exists() {
        return Err(one(Trouble::new(
            "CLI-005",
            format!("there is an outfit in {} already", words.folder.display()),
            "choose another folder; nothing was touched",
        )));
    }
    let text = first_settings(&Beginning {
        name: words.name.clone(),
        latitude: words.latitude,
        longitude: words.longitude,
        elevation_m: words.elevation_m,
        zone: words.zone.clone(),
        crew_hands: vec![2],
    });
    let file = words.folder.join(SETTINGS).display().to_string();
    read_settings(&file, &text)?;
    make_folder(&words.folder)?;
    write_whole(&words.folder.join(SETTINGS), text.as_bytes())?;
    let folder = words.folder.display();
    let page = format!(
        "{} stands in {folder}.\n\nNext\n  1. look through {folder}/{SETTINGS}: crews, trucks, roads\n  \
         2. outyard --outfit {folder} yards import YARDS.csv\n  \
         3. outyard --outfit {folder} weather import STATION.csv --station NAME --latitude N --longitude E\n  \
         4. outyard --outfit {folder} morning\n",
        words.name
    );
    Ok(Reply::new(page, json!({ "folder": folder.to_string(), "name": words.name })))
}

/// The day the demo stands at unless told otherwise: the third of July, when the flow has just begun.
pub(crate) fn demo_day(asked: Option<Date>, today: Date) -> Date {
    asked.unwrap_or_else(|| Date::new(today.year(), 7, 3).expect("every year has a third of July"))
}

/// `outyard demo`.
pub(crate) fn demo(words: &DemoWords, desk: &Desk) -> Answer {
    let folder = &words.folder;
    let marked = folder.join(SETTINGS);
    if marked.exists() || folder.join(BOOK).exists() {
        let is_demo = fs::read_to_string(&marked).is_ok_and(|text| text.contains("an invented outfit"));
        if !(words.again && is_demo) {
            return Err(one(Trouble::new(
                "CLI-005",
                format!("there is an outfit in {} already", folder.display()),
                "choose another folder, or add --again to make a demo outfit anew",
            )));
        }
        for name in [BOOK, "book.sqlite-wal", "book.sqlite-shm"] {
            let path = folder.join(name);
            if path.exists() {
                fs::remove_file(&path).map_err(|error| {
                    one(Trouble::new(
                        "FIL-007",
                        format!("{} cannot be removed: {error}", path.display()),
                        "close what has it open",
                    ))
                })?;
            }
        }
    }
    let day = demo_day(desk.on_date(), desk.today());
    let demo = invent(words.seed, day);
    let book = write_down(&demo);
    make_folder(folder)?;
    write_whole(&marked, book.settings.as_bytes())?;
    let there = desk.in_folder(folder);
    there.with_store(async |store| {
        use outyard_app::ports::Store;
        for file in &book.files {
            store.keep_file(file.as_bytes()).await.map_err(|error| one(error.into()))?;
        }
        store.append(&book.entries).await.map_err(|error| one(error.into()))?;
        Ok(())
    })?;
    let page = format!(
        "{} stands in {}: {} yards in {}, {} doubles and {} splits, {} entries in the book.\n\
         It stands at {day}; look at it with\n  outyard --outfit {} --on {day} morning\n",
        demo.name,
        folder.display(),
        demo.yards.len(),
        demo.valley,
        demo.yards.iter().map(|yard| yard.doubles).sum::<u32>(),
        demo.yards.iter().map(|yard| yard.splits).sum::<u32>(),
        book.entries.len(),
        folder.display()
    );
    Ok(Reply::new(
        page,
        json!({
            "folder": folder.display().to_string(),
            "name": demo.name,
            "seed": words.seed,
            "on": day.to_string(),
            "yards": demo.yards.len(),
            "entries": book.entries.len(),
        }),
    ))
}

/// `outyard yards`.
pub(crate) fn yards(words: &YardsWords, desk: &Desk) -> Answer {
    match &words.what {
        None | Some(YardsVerb::List) => list_yards(desk),
        Some(YardsVerb::Import { file, column, dry_run }) => import_yards(desk, file, column, *dry_run),
    }
}

fn list_yards(desk: &Desk) -> Answer {
    let situation = desk.situation()?;
    let mut yards: Vec<_> = situation.outfit.kept_yards().collect();
    yards.sort_by(|left, right| in_reading_order(left.0.as_str(), right.0.as_str()));
    let mut page = lay_out(
        &[
            ("yard", Stand::Left),
            ("", Stand::Left),
            ("group", Stand::Left),
            ("stands there", Stand::Left),
            ("counted", Stand::Left),
            ("put down", Stand::Left),
            ("last visit", Stand::Left),
        ],
        yards.iter().map(|(id, yard)| {
            let day = |date: Option<Date>| date.map_or_else(|| "-".to_owned(), day_month);
            vec![
                id.to_string(),
                yard.kept.name.clone(),
                yard.kept.group.clone(),
                yard.colonies.to_string(),
                day(yard.counted_on),
                day(yard.last_put_down().map(|(date, _)| date)),
                day(yard.last_visit()),
            ]
        }),
    );
    page.push_str(&format!("\n{}, {}\n", count_of(yards.len(), "yard"), situation.outfit.colonies()));
    let data: Vec<Value> = yards
        .iter()
        .map(|(id, yard)| {
            json!({
                "yard": id.as_str(),
                "name": yard.kept.name,
                "group": yard.kept.group,
                "latitude": yard.kept.place.map(Place::latitude),
                "longitude": yard.kept.place.map(Place::longitude),
                "colonies": yard.colonies.iter().map(|(kind, count)| (kind.code().to_owned(), json!(count))).collect::<serde_json::Map<_, _>>(),
                "counted_on": yard.counted_on.map(|date| date.to_string()),
                "put_down_on": yard.last_put_down().map(|(date, _)| date.to_string()),
                "last_visit": yard.last_visit().map(|date| date.to_string()),
            })
        })
        .collect();
    Ok(Reply::new(page, data).with(situation.notes.clone()))
}

fn import_yards(desk: &Desk, file: &Path, column: &[String], dry_run: bool) -> Answer {
    desk.settings()?;
    let name = file.display().to_string();
    let rows = read_yards(&name, &read_file(file)?, &column_map(column)?)?;
    let plants = desk.plants()?;
    let unknown: Vec<Trouble> = rows
        .iter()
        .flat_map(|row| row.forage.iter().map(move |forage| (row.line, &forage.plant)))
        .filter(|(_, plant)| PlantCode::new(plant).map_or(true, |code| plants.get(&code).is_none()))
        .map(|(line, plant)| {
            Trouble::new(
                "PLT-007",
                format!("no plant \"{plant}\" in the plant table"),
                "use a code `outyard plants` lists, or add the plant to your own table",
            )
            .at(outyard_base::trouble::Spot::file(name.clone()).line(line).column("forage"))
        })
        .collect();
    if !unknown.is_empty() {
        return Err(unknown);
    }
    let today = desk.today();
    let too_soon: Vec<Trouble> = rows
        .iter()
        .filter_map(|row| row.counted_on.filter(|on| *on > today).map(|on| (row.line, on)))
        .map(|(line, on)| {
            Trouble::new("YRD-006", format!("{on} has not come yet"), "correct the date of the count")
                .at(outyard_base::trouble::Spot::file(name.clone()).line(line).column("counted_on"))
        })
        .collect();
    if !too_soon.is_empty() {
        return Err(too_soon);
    }
    let mut entries = Vec::new();
    for row in &rows {
        entries.push(desk.entry(today, Fact::YardKept(kept(row)))?);
        if !row.counts.is_empty() {
            let counts: KindCounts = row.counts.iter().map(|(kind, count)| (*kind, *count)).collect();
            let on = row.counted_on.unwrap_or(today);
            entries.push(desk.entry(on, Fact::ColoniesCounted { yard: row.yard.clone(), counts })?);
        }
    }
    let colonies: u32 = rows.iter().flat_map(|row| row.counts.values()).sum();
    let written = if dry_run { 0 } else { desk.write(&entries)?.new };
    let head = if dry_run { "Would take in" } else { "Took in" };
    let page = format!(
        "{head} {} with {colonies} colonies from {name}; {written} entries written.\n",
        count_of(rows.len(), "yard")
    );
    Ok(Reply::new(
        page,
        json!({ "yards": rows.len(), "colonies": colonies, "entries_written": written, "dry_run": dry_run }),
    ))
}

fn kept(row: &YardRow) -> YardKept {
    YardKept {
        name: row.name.clone().unwrap_or_default(),
        place: Some(row.place),
        elevation: row.elevation,
        group: row.group.clone().unwrap_or_default(),
        gate: row.gate.clone().unwrap_or_default(),
        wet_road: row.wet_road,
        landowner: row.landowner.clone().unwrap_or_default(),
        forage: row
            .forage
            .iter()
            .map(|forage| Forage { plant: forage.plant.clone(), weight: forage.weight.get(), seeded_on: forage.seeded })
            .collect(),
        ..YardKept::new(row.yard.clone())
    }
}

/// `outyard weather`.
pub(crate) fn weather(words: &WeatherWords, desk: &Desk) -> Answer {
    match &words.what {
        None | Some(WeatherVerb::List) => Ok(list_weather(&desk.situation()?)),
        Some(WeatherVerb::Import { file, station, latitude, longitude, elevation_m, column, forecast }) => {
            desk.settings()?;
            let place = Place::new(*latitude, *longitude).map_err(one)?;
            let elevation = Metres::new(*elevation_m).map_err(|error| {
                one(Trouble::new("CLI-001", error.to_string(), "give the height above the sea in metres"))
            })?;
            let station = StationId::new(station)
                .map_err(|bad| one(Trouble::new("CLI-002", bad.to_string(), "give the station a short name")))?;
            let map = column_map(column)?;
            let text = read_file(file)?;
            let (days, notes) = read_weather(&file.display().to_string(), &text, &map)?;
            let (Some(first), Some(last)) = (days.first(), days.last()) else {
                return Err(one(Trouble::new(
                    "WTH-005",
                    "no day of the file has both a low and a high",
                    "see whether the right columns are named",
                )));
            };
            let series = |content| SeriesKept {
                source: station.as_str().to_owned(),
                what: if *forecast { FORECAST } else { WEATHER }.to_owned(),
                place: Some(place),
                elevation: Some(elevation),
                yard: None,
                columns: pairs(&map),
                content,
                rows: days.len() as u64,
                from: first.date,
                to: last.date,
            };
            let entry = keep(desk, &text, series)?;
            let page =
                format!("Took in {} days of weather from {station}, {} to {}.\n", days.len(), first.date, last.date);
            let data = json!({
                "station": station.as_str(),
                "days": days.len(),
                "from": first.date.to_string(),
                "to": last.date.to_string(),
                "entry": entry,
            });
            Ok(Reply::new(page, data).with(notes))
        }
    }
}

fn pairs(map: &ColumnMap) -> Vec<(String, String)> {
    map.iter().map(|(ours, theirs)| (ours.clone(), theirs.clone())).collect()
}

fn keep(desk: &Desk, text: &str, series: impl FnOnce(ContentHash) -> SeriesKept) -> Result<String, Vec<Trouble>> {
    let today = desk.today();
    let entry = desk.keep_and_write(text, |hash| desk.entry(today, Fact::SeriesKept(series(hash))))?;
    Ok(entry.id.to_string())
}

fn list_weather(situation: &Situation) -> Reply {
    let rows = situation.stations.iter().map(|station| {
        let span = station
            .seen
            .first()
            .zip(station.seen.last())
            .map_or_else(|| "nothing".to_owned(), |(first, last)| format!("{first} to {last}"));
        vec![
            station.name.clone(),
            format!("{:.3}, {:.3}", station.place.latitude(), station.place.longitude()),
            format!("{:.0}", station.elevation.get()),
            span,
            station.seen.gaps().len().to_string(),
            station.forecast.len().to_string(),
        ]
    });
    let page = lay_out(
        &[
            ("station", Stand::Left),
            ("place", Stand::Left),
            ("m", Stand::Right),
            ("seen", Stand::Left),
            ("gaps left", Stand::Right),
            ("days of forecast", Stand::Right),
        ],
        rows,
    );
    let data: Vec<Value> = situation
        .stations
        .iter()
        .map(|station| {
            json!({
                "station": station.name,
                "latitude": station.place.latitude(),
                "longitude": station.place.longitude(),
                "elevation_m": station.elevation.get(),
                "days": station.seen.days().len(),
                "from": station.seen.first().map(|date| date.to_string()),
                "to": station.seen.last().map(|date| date.to_string()),
                "forecast_days": station.forecast.len(),
            })
        })
        .collect();
    Reply::new(page, data).with(situation.notes.clone())
}

/// `outyard scale`.
pub(crate) fn scale(words: &ScaleWords, desk: &Desk) -> Answer {
    match &words.what {
        None | Some(ScaleVerb::List) => Ok(scales::list(&desk.situation()?)),
        Some(ScaleVerb::Read { file, column, zone, threshold }) => {
            scales::read(desk, file, column, zone.as_deref(), *threshold)
        }
        Some(ScaleVerb::Score(words)) => scores::scale(words, desk),
        Some(ScaleVerb::Import { file, scale, yard, column }) => import_scale(desk, file, scale, yard, column),
    }
}

fn import_scale(desk: &Desk, file: &Path, scale: &str, yard: &YardId, column: &[String]) -> Answer {
    let settings = desk.settings()?;
    let scale = ScaleId::new(scale)
        .map_err(|bad| one(Trouble::new("CLI-002", bad.to_string(), "give the scale a short name")))?;
    let outfit = desk.situation()?.outfit;
    if outfit.yards.get(yard).is_none_or(|yard| yard.given_up.is_some()) {
        return Err(one(Trouble::new(
            "YRD-005",
            format!("the book knows of no yard {yard}"),
            "import the yard first, or correct its name; `outyard yards` lists them",
        )));
    }
    let map = column_map(column)?;
    let text = read_file(file)?;
    let (readings, notes) = read_scale_file(&file.display().to_string(), &text, &map, &settings.zone)?;
    let days: Vec<Date> = readings.iter().map(|(at, _)| settings.zone.to_datetime(*at).date()).collect();
    let (first, last) = (days.iter().min().copied(), days.iter().max().copied());
    let (Some(first), Some(last)) = (first, last) else {
        return Err(one(Trouble::new(
            "SCL-004",
            "the file holds no reading",
            "see whether the right columns are named",
        )));
    };
    let rows = readings.len();
    let entry = keep(desk, &text, |content| SeriesKept {
        source: scale.as_str().to_owned(),
        what: SCALE.to_owned(),
        place: None,
        elevation: None,
        yard: Some(yard.clone()),
        columns: pairs(&map),
        content,
        rows: rows as u64,
        from: first,
        to: last,
    })?;
    let page = format!("Took in {rows} readings of scale {scale} in yard {yard}, {first} to {last}.\n");
    let data = json!({
        "scale": scale.as_str(),
        "yard": yard.as_str(),
        "readings": rows,
        "from": first.to_string(),
        "to": last.to_string(),
        "entry": entry,
    });
    Ok(Reply::new(page, data).with(notes))
}
