//! What hive scales show.

use std::path::Path;

use jiff::tz::TimeZone;
use outyard_app::intake::scale_file::read_scale_file;
use outyard_app::situation::Situation;
use outyard_base::{KilogramsPerDay, Trouble};
use outyard_folder::{Desk, column_map, read_file};
use outyard_season::FlowRule;
use outyard_season::flow_state::flow_spells;
use outyard_season::scale::{ChangeKind, ScaleReading, ScaleRules, read_instants};
use serde_json::{Value, json};

use crate::reply::Reply;
use crate::table::{Stand, lay_out};

type Answer = Result<Reply, Vec<Trouble>>;

/// `outyard scale list`.
pub(crate) fn list(situation: &Situation) -> Reply {
    let page = lay_out(
        &[
            ("scale", Stand::Left),
            ("yard", Stand::Left),
            ("nights", Stand::Right),
            ("last night", Stand::Left),
            ("net kg", Stand::Right),
            ("changes seen", Stand::Right),
        ],
        situation.scales.iter().map(|scale| {
            let last = scale.reading.nights.last();
            vec![
                scale.name.clone(),
                scale.yard.to_string(),
                scale.reading.nights.len().to_string(),
                last.map_or_else(|| "-".to_owned(), |night| night.date.to_string()),
                last.map_or_else(|| "-".to_owned(), |night| format!("{:.2}", night.net_gain.get())),
                scale.reading.changes.len().to_string(),
            ]
        }),
    );
    let data: Vec<Value> = situation
        .scales
        .iter()
        .map(|scale| {
            let mut data = reading_data(&scale.reading, situation.flow_rule(), &situation.settings.zone);
            data["scale"] = json!(scale.name);
            data["yard"] = json!(scale.yard.as_str());
            data
        })
        .collect();
    let notes = situation.scales.iter().flat_map(|scale| scale.reading.notes.clone());
    Reply::new(page, data).with(situation.notes.clone()).with(notes)
}

/// The clock a command names, else the outfit's.
pub(crate) fn zone_of(desk: &Desk, name: Option<&str>) -> Result<TimeZone, Vec<Trouble>> {
    let Some(name) = name else { return Ok(desk.zone()) };
    TimeZone::get(name).map_err(|_| {
        vec![Trouble::new(
            "SET-003",
            format!("there is no clock called \"{name}\""),
            "write it as region/city of the tz database, such as America/Winnipeg",
        )]
    })
}

/// A threshold of flow as a command names it.
pub(crate) fn threshold_of(kg_per_day: f64) -> Result<KilogramsPerDay, Vec<Trouble>> {
    KilogramsPerDay::new(kg_per_day)
        .ok()
        .filter(|threshold| (0.05..=20.0).contains(&threshold.get()))
        .ok_or_else(|| vec![Trouble::new("CLI-001", "the threshold is outside 0.05 to 20", "give it in kg a day")])
}

/// `outyard scale read`.
pub(crate) fn read(desk: &Desk, file: &Path, column: &[String], zone: Option<&str>, threshold: f64) -> Answer {
    let zone = zone_of(desk, zone)?;
    let threshold = threshold_of(threshold)?;
    let rule = FlowRule { threshold, ..FlowRule::default() };
    let (readings, notes) =
        read_scale_file(&file.display().to_string(), &read_file(file)?, &column_map(column)?, &zone)?;
    let reading = read_instants(&readings, &zone, &ScaleRules::default());
    let nights: Vec<_> = reading.nights.iter().map(|night| (night.date, night.net_gain)).collect();
    let mut page = format!("{} readings, {} nights\n\nChanges at the hive\n", readings.len(), nights.len());
    page.push_str(&lay_out(
        &[("when", Stand::Left), ("what", Stand::Left), ("kg", Stand::Right), ("sure", Stand::Right)],
        reading.changes.iter().map(|change| {
            vec![
                zone.to_datetime(change.at).strftime("%Y-%m-%d %H:%M").to_string(),
                change_words(change.kind).to_owned(),
                format!("{:+.2}", change.kg.get()),
                format!("{:.0} %", change.confidence.get() * 100.0),
            ]
        }),
    ));
    page.push_str(&format!("\nFlow ({} days running of at least {:.2})\n", rule.days_running, rule.threshold));
    page.push_str(&lay_out(
        &[("began", Stand::Left), ("ended", Stand::Left), ("kg gained", Stand::Right)],
        flow_spells(&nights, rule).iter().map(|spell| {
            let gained: f64 = nights
                .iter()
                .filter(|(date, _)| *date >= spell.began && spell.ended.is_none_or(|ended| *date < ended))
                .map(|(_, gain)| gain.get())
                .sum();
            vec![
                spell.began.to_string(),
                spell.ended.map_or_else(|| "still on".to_owned(), |date| date.to_string()),
                format!("{gained:.1}"),
            ]
        }),
    ));
    let data = reading_data(&reading, rule, &zone);
    Ok(Reply::new(page, data).with(notes).with(reading.notes.clone()))
}

fn reading_data(reading: &ScaleReading, rule: FlowRule, zone: &TimeZone) -> Value {
    let nights: Vec<_> = reading.nights.iter().map(|night| (night.date, night.net_gain)).collect();
    json!({
        "changes": reading.changes.iter().map(|change| json!({
            "at": zone.to_datetime(change.at).to_string(),
            "what": change_word(change.kind),
            "kg": change.kg.get(),
            "confidence": change.confidence.get(),
        })).collect::<Vec<_>>(),
        "nights": reading.nights.iter().map(|night| json!({
            "date": night.date.to_string(),
            "net_kg": night.net_gain.get(),
            "low_kg": night.range.low.get(),
            "high_kg": night.range.high.get(),
        })).collect::<Vec<_>>(),
        "flows": flow_spells(&nights, rule).iter().map(|spell| json!({
            "began": spell.began.to_string(),
            "ended": spell.ended.map(|date| date.to_string()),
        })).collect::<Vec<_>>(),
    })
}

fn change_word(kind: ChangeKind) -> &'static str {
    match kind {
        ChangeKind::BoxOn => "box-on",
        ChangeKind::BoxOff => "box-off",
        ChangeKind::Pull => "pull",
        ChangeKind::Feed => "feed",
        ChangeKind::WorkThatReturned => "work-that-returned",
        ChangeKind::Rezero => "rezero",
        ChangeKind::Swarm => "swarm",
        ChangeKind::Gap => "gap",
        ChangeKind::Fault => "fault",
    }
}

pub(crate) fn change_words(kind: ChangeKind) -> &'static str {
    match kind {
        ChangeKind::BoxOn => "box put on",
        ChangeKind::BoxOff => "box taken off",
        ChangeKind::Pull => "full boxes pulled",
        ChangeKind::Feed => "feed given",
        ChangeKind::WorkThatReturned => "worked on, stands as before",
        ChangeKind::Rezero => "set to nought",
        ChangeKind::Swarm => "sudden loss, like a swarm",
        ChangeKind::Gap => "no readings",
        ChangeKind::Fault => "readings no hive can have",
    }
}
