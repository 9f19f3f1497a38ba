//! The job book, the plant table, and bloom year by year.

use std::collections::BTreeMap;

use jiff::civil::Date;
use outyard_app::blooms::{BloomSaid, facts_of};
use outyard_app::intake::weather_file::read_weather;
use outyard_app::seasons::weather_at;
use outyard_base::Trouble;
use outyard_base::range::day_month;
use outyard_book::Fact;
use outyard_book::fact::Where;
use outyard_folder::{Desk, column_map, read_file};
use outyard_season::plants::Bloom;
use outyard_season::plants::Trigger;
use outyard_season::{Plant, PlantCode, RepairRules, WeatherSeries, bloom_dates, repair_gaps};
use outyard_trade::clocks::marks;
use outyard_trade::jobbook::{Job, JobBook};
use serde_json::{Value, json};

use super::scores;
use crate::args::{BloomVerb, BloomWords, JobsWords, SeenWords};
use crate::reply::{Reply, hang};
use crate::table::{Stand, lay_out};

type Answer = Result<Reply, Vec<Trouble>>;

/// `outyard jobs`.
pub(crate) fn jobs(words: &JobsWords, desk: &Desk) -> Answer {
    let jobs = desk.jobs()?;
    if let Some(code) = &words.job {
        let job = jobs.job(code.as_str()).map_err(|trouble| vec![trouble])?;
        return Ok(Reply::new(job_page(&jobs, job), job_data(&jobs, job)));
    }
    let page = lay_out(
        &[("job", Stand::Left), ("", Stand::Left), ("pair minutes", Stand::Left), ("gate", Stand::Left)],
        jobs.jobs
            .values()
            .map(|job| vec![job.code.to_string(), job.name.clone(), minutes_words(job), job.gate.clone()]),
    );
    let data: Vec<Value> = jobs.jobs.values().map(|job| job_data(&jobs, job)).collect();
    Ok(Reply::new(page, data))
}

fn minutes_words(job: &Job) -> String {
    let mut by_minutes: Vec<(f64, Vec<&'static str>)> = Vec::new();
    for (kind, minutes) in &job.pair_minutes {
        match by_minutes.iter_mut().find(|(known, _)| (known - minutes).abs() < 1e-9) {
            Some((_, kinds)) => kinds.push(kind.code()),
            None => by_minutes.push((*minutes, vec![kind.code()])),
        }
    }
    let parts: Vec<String> =
        by_minutes.iter().map(|(minutes, kinds)| format!("{minutes} {}", kinds.join("/"))).collect();
    parts.join(", ")
}

fn job_page(jobs: &JobBook, job: &Job) -> String {
    let gate = jobs.gate_of(job);
    let mut page = format!("{} ({})\n", job.name, job.code);
    page.push_str(&hang("  ", &job.does));
    page.push_str(&hang(
        "  Pair minutes: ",
        &format!("{} and {} for the visit", minutes_words(job), jobs.visit.setup_pair_minutes),
    ));
    page.push_str(&hang("  Weather: ", &gate.words));
    page.push_str(&hang("  When it is shut: ", &gate.instead));
    page.push_str(&hang("  Source: ", &job.source));
    for start in &job.starts {
        page.push_str(&format!("\nStarts the clock {start}\n"));
        page.push_str(&lay_out(
            &[
                ("", Stand::Left),
                ("from day", Stand::Right),
                ("best", Stand::Right),
                ("to", Stand::Right),
                ("source", Stand::Left),
            ],
            marks(*start).iter().map(|mark| {
                vec![
                    mark.name.to_owned(),
                    mark.from_day.to_string(),
                    mark.best_day.to_string(),
                    mark.to_day.map_or_else(|| "-".to_owned(), |day| day.to_string()),
                    mark.source.to_owned(),
                ]
            }),
        ));
    }
    for caution in &job.cautions {
        page.push_str(&hang("Mind: ", caution));
    }
    page
}

fn job_data(jobs: &JobBook, job: &Job) -> Value {
    let gate = jobs.gate_of(job);
    json!({
        "job": job.code.as_str(),
        "name": job.name,
        "does": job.does,
        "pair_minutes": job.pair_minutes.iter().map(|(kind, minutes)| (kind.code().to_owned(), json!(minutes))).collect::<serde_json::Map<_, _>>(),
        "setup_pair_minutes": jobs.visit.setup_pair_minutes,
        "gate": gate.code,
        "gate_said": gate.words,
        "starts": job.starts.iter().map(ToString::to_string).collect::<Vec<_>>(),
        "cautions": job.cautions,
        "source": job.source,
    })
}

/// `outyard plants`.
pub(crate) fn plants(desk: &Desk) -> Answer {
    let table = desk.plants()?;
    let page = lay_out(
        &[
            ("plant", Stand::Left),
            ("", Stand::Left),
            ("first bloom", Stand::Left),
            ("strength kg/d", Stand::Left),
            ("source", Stand::Left),
        ],
        table.plants().iter().map(|plant| {
            vec![
                plant.code.to_string(),
                plant.name.clone(),
                trigger_words(plant),
                format!(
                    "{:.1} ({:.1} to {:.1})",
                    plant.strength.likely.get(),
                    plant.strength.low.get(),
                    plant.strength.high.get()
                ),
                plant.source.clone(),
            ]
        }),
    );
    let data: Vec<Value> = table
        .plants()
        .iter()
        .map(|plant| {
            json!({
                "plant": plant.code.as_str(),
                "name": plant.name,
                "first_bloom": trigger_words(plant),
                "strength_kg_per_day": [plant.strength.low.get(), plant.strength.likely.get(), plant.strength.high.get()],
                "source": plant.source,
            })
        })
        .collect();
    Ok(Reply::new(page, data))
}

fn trigger_words(plant: &Plant) -> String {
    match &plant.trigger {
        Trigger::Heat { first, .. } => {
            format!("{:.0} °C·d ({:.0} to {:.0})", first.likely.get(), first.low.get(), first.high.get())
        }
        Trigger::Seeding { days, .. } => {
            format!("{:.0} days after seeding ({:.0} to {:.0})", days.likely, days.low, days.high)
        }
    }
}

/// `outyard bloom`.
pub(crate) fn bloom(words: &BloomWords, desk: &Desk) -> Answer {
    if let Some(BloomVerb::Seen(words)) = &words.what {
        return bloom_seen(words, desk);
    }
    let table = desk.plants()?;
    let mut notes = Vec::new();
    let series = match &words.weather {
        Some(file) => {
            let (days, more) =
                read_weather(&file.display().to_string(), &read_file(file)?, &column_map(&words.column)?)?;
            notes.extend(more);
            let last_year = days.last().map_or(2026, |day| day.date.year());
            let (series, more) = WeatherSeries::new(days);
            notes.extend(more);
            let (series, more) = repair_gaps(&series, &RepairRules::for_year(last_year));
            notes.extend(more);
            series
        }
        // A crop reckoned in days from its seeding needs neither weather nor an outfit.
        None if words.seeded.is_some() && !desk.has_outfit() => WeatherSeries::new(Vec::new()).0,
        None => {
            let situation = desk.situation()?;
            let (series, _, more) = weather_at(&situation, situation.settings.home, situation.settings.home_elevation);
            notes.extend(situation.notes.clone());
            notes.extend(more);
            series
        }
    };
    if let Some(file) = &words.score {
        return scores::bloom(file, &words.record_column, &words.plants, &table, &series, notes);
    }
    let plants = chosen(&words.plants, table.plants(), |code| table.get(code))?;
    let mut rows = Vec::new();
    let mut data = Vec::new();
    for plant in plants {
        let mut by_year: BTreeMap<i16, Bloom> = BTreeMap::new();
        for year in years_of(plant, &series, words.seeded) {
            let seeding = words.seeded.and_then(|day| Date::new(year, day.month(), day.day()).ok());
            let bloom = bloom_dates(plant, &series, year, seeding);
            data.push(json!({
                "plant": plant.code.as_str(),
                "year": year,
                "first": outyard_app::views::DatesView::of(&bloom.first),
                "full": outyard_app::views::DatesView::of(&bloom.full),
                "end": outyard_app::views::DatesView::of(&bloom.end),
                "missing_days": bloom.missing_days,
            }));
            by_year.insert(year, bloom);
        }
        if !by_year.is_empty() {
            rows.push((plant, by_year));
        }
    }
    if rows.is_empty() {
        return Err(vec![Trouble::new(
            "SIT-001",
            "there is neither weather to sum nor a crop with its seeding",
            "give a station's file with --weather or import one; for a crop give the day with --seeded",
        )]);
    }
    let mut page = String::from("First bloom, likely (early to late by the range of the plant's threshold)\n\n");
    for (plant, by_year) in &rows {
        page.push_str(&format!("{} ({})\n", plant.name, plant.code));
        page.push_str(&lay_out(
            &[("year", Stand::Left), ("first bloom", Stand::Left), ("over", Stand::Left)],
            by_year.iter().map(|(year, bloom)| vec![year.to_string(), bloom.first.to_string(), bloom.end.to_string()]),
        ));
        let days: Vec<f64> =
            by_year.values().filter_map(|bloom| bloom.first.likely).map(|date| f64::from(date.day_of_year())).collect();
        if let Some(range) = outyard_base::Range::of_sample(&days) {
            let day = |number: f64| {
                #[expect(clippy::cast_possible_truncation, reason = "a day of the year")]
                let ahead = number.round() as i64 - 1;
                day_month(outyard_base::days::plus_days(jiff::civil::date(2025, 1, 1), ahead))
            };
            page.push_str(&format!(
                "  over the years {} ({} to {})\n\n",
                day(range.likely),
                day(range.low),
                day(range.high)
            ));
        }
    }
    Ok(Reply::new(page, data).with(notes))
}

/// The years a plant's bloom can be told for: those whose weather was read, and for a crop reckoned in days the year of
/// its seeding.
fn years_of(plant: &Plant, series: &WeatherSeries, seeded: Option<Date>) -> Vec<i16> {
    let by_days = matches!(plant.trigger, Trigger::Seeding { by_heat: false, .. });
    if matches!(plant.trigger, Trigger::Seeding { .. }) && seeded.is_none() {
        return Vec::new();
    }
    let mut years: Vec<i16> = match (series.first(), series.last()) {
        // A year whose spring was not read tells nothing of a heat sum from its first days.
        (Some(first), Some(last)) => (first.year()..=last.year())
            .filter(|year| Date::new(*year, 1, 15).is_ok_and(|start| start >= first))
            .collect(),
        _ => Vec::new(),
    };
    years.extend(seeded.filter(|day| by_days && !years.contains(&day.year())).map(jiff::civil::Date::year));
    years.sort_unstable();
    years
}

fn chosen<'a>(
    codes: &[String],
    all: &'a [Plant],
    get: impl Fn(&PlantCode) -> Option<&'a Plant>,
) -> Result<Vec<&'a Plant>, Vec<Trouble>> {
    if codes.is_empty() {
        return Ok(all.iter().collect());
    }
    codes
        .iter()
        .map(|text| {
            let known = PlantCode::new(text).ok().and_then(|code| get(&code));
            known.ok_or_else(|| {
                vec![Trouble::new(
                    "PLT-007",
                    format!("no plant \"{text}\" in the plant table"),
                    "use a code `outyard plants` lists, or add the plant to your own table",
                )]
            })
        })
        .collect()
}

/// `outyard bloom seen`.
fn bloom_seen(words: &SeenWords, desk: &Desk) -> Answer {
    let situation = desk.situation()?;
    let at = match (&words.yard, &words.group) {
        (Some(yard), _) => Where::Yard(yard.clone()),
        (None, group) => Where::Group(group.clone().unwrap_or_default()),
    };
    let said = BloomSaid {
        at: at.clone(),
        plant: words.plant.clone(),
        seeded: words.seeded,
        first: words.first,
        full: words.full,
    };
    let facts = facts_of(&situation, &said)?;
    let all = desk.entries()?;
    let told = |(on, fact): &(Date, Fact)| all.iter().any(|entry| entry.happened_on == *on && entry.fact == *fact);
    let known: Vec<bool> = facts.iter().map(told).collect();
    let entries = facts
        .into_iter()
        .zip(&known)
        .filter(|(_, known)| !**known)
        .map(|((on, fact), _)| desk.entry(on, fact))
        .collect::<Result<Vec<_>, _>>()?;
    desk.write(&entries)?;
    let place = match &at {
        Where::Yard(yard) => format!("at yard {yard}"),
        Where::Group(group) => format!("over {group}"),
    };
    let days: Vec<String> = [("seeded", said.seeded), ("first", said.first), ("full", said.full)]
        .into_iter()
        .filter_map(|(stage, day)| Some(format!("{stage} {}", day_month(day?))))
        .collect();
    let mut page = format!("Written down: {} {place}: {}\n", said.plant, days.join(", "));
    let before = known.iter().filter(|known| **known).count();
    if before > 0 {
        page.push_str(&format!("In the book already: {before} of these days. Nothing was doubled.\n"));
    }
    page.push_str("What it moves: outyard outlook YARD, under Bloom\n");
    let data = json!({
        "entries": entries.iter().map(|entry| entry.id.to_string()).collect::<Vec<_>>(),
        "new": entries.len(),
        "known": before,
    });
    Ok(Reply::new(page, data))
}
