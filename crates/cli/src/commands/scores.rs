//! How well bloom is foretold and scales are read, against what was written down or labelled.

use std::path::{Path, PathBuf};

use jiff::tz::TimeZone;
use outyard_app::intake::bloom_file::read_bloom_file;
use outyard_app::intake::labels_file::{SeriesLabels, read_labels};
use outyard_app::intake::scale_file::read_scale_file;
use outyard_base::{KilogramsPerDay, Note, Trouble};
use outyard_season::flow_state::{FlowSpell, flow_spells};
use outyard_season::plants::score::{Foretold, LEAST_YEARS, score_bloom};
use outyard_season::scale::score::{
    Errors, FlowScore, LabelKind, Miss, ScaleScore, score_changes, score_flow, slack_s,
};
use outyard_season::{FlowChain, FlowRule, Plant, PlantTable, ScaleRules, WeatherSeries, flow_chances, read_instants};
use serde_json::{Value, json};

use super::scales::change_words;
use crate::args::ScoreWords;
use crate::reply::{Reply, count_of, hang};
use crate::table::{Stand, lay_out};
use outyard_folder::{Desk, column_map, read_file};

type Answer = Result<Reply, Vec<Trouble>>;

/// From this chance on the flow counts as on. Common practice, no source: more likely than not.
const CHANCE_ON: f64 = 0.5;

/// `outyard bloom --score`: records of each plant and group against the ways of foretelling them.
pub(crate) fn bloom(
    file: &Path,
    column: &[String],
    only: &[String],
    table: &PlantTable,
    series: &WeatherSeries,
    mut notes: Vec<Note>,
) -> Answer {
    let (records, more) = read_bloom_file(&file.display().to_string(), &read_file(file)?, &column_map(column)?)?;
    notes.extend(more);
    let mut page = String::new();
    let mut data = Vec::new();
    for ((plant, group), years) in &records {
        // A table without a column of plants is about the one plant named, or about a plant of no table.
        let code = if plant.is_empty() { only.first().map_or("", String::as_str) } else { plant };
        if !plant.is_empty() && !only.is_empty() && !only.contains(plant) {
            continue;
        }
        let known = known_plant(code, table)?;
        let told = score_bloom(known, series, years);
        let whose = match (known.map(|plant| plant.name.as_str()), group.is_empty()) {
            (Some(name), true) => name.to_owned(),
            (Some(name), false) => format!("{name}, {group}"),
            (None, true) => "first bloom".to_owned(),
            (None, false) => group.clone(),
        };
        page.push_str(&score_page(&whose, years.len(), &told));
        data.push(json!({
            "plant": code,
            "group": group,
            "years_written_down": years.len(),
            "rules": told.iter().map(rule_data).collect::<Vec<_>>(),
        }));
    }
    if data.is_empty() {
        return Err(vec![Trouble::new(
            "BLM-004",
            "the file tells nothing of the plants asked for",
            "see its column of plants, or name none",
        )]);
    }
    Ok(Reply::new(page, data).with(notes))
}

fn known_plant<'a>(code: &str, table: &'a PlantTable) -> Result<Option<&'a Plant>, Vec<Trouble>> {
    if code.is_empty() {
        return Ok(None);
    }
    let known = code.parse().ok().and_then(|code| table.get(&code));
    known.map(Some).ok_or_else(|| {
        vec![Trouble::new(
            "PLT-007",
            format!("no plant \"{code}\" in the plant table"),
            "use a code `outyard plants` lists, or add the plant to your own table",
        )]
    })
}

fn sizes(told: &Foretold) -> Option<Errors> {
    Errors::of(&told.errors.iter().map(|(_, days)| *days).collect::<Vec<_>>())
}

fn rule_data(told: &Foretold) -> Value {
    let errors = sizes(told);
    json!({
        "rule": told.by.said(),
        "years": told.errors.len(),
        "mean_absolute_days": errors.map(|errors| errors.mean_size),
        "bias_days": errors.map(|errors| errors.bias),
        "worst_days": errors.map(|errors| errors.worst),
        "by_year": told.errors.iter().map(|(year, days)| json!({ "year": year, "days": days })).collect::<Vec<_>>(),
    })
}

fn score_page(whose: &str, written_down: usize, told: &[Foretold]) -> String {
    let mut page = format!("{whose}: each year left out and foretold from the others, error in days\n");
    if told.is_empty() {
        page.push_str(&hang(
            "  ",
            &format!(
                "{} written down; fewer than {LEAST_YEARS} of them have weather from 1 January (or the plant's own start) to \
                 the day, and for a crop its seeding",
                count_of(written_down, "year")
            ),
        ));
        return page;
    }
    page.push_str(&lay_out(
        &[
            ("", Stand::Left),
            ("mean size", Stand::Right),
            ("bias", Stand::Right),
            ("worst", Stand::Right),
            ("years", Stand::Right),
        ],
        told.iter().filter_map(|way| {
            let errors = sizes(way)?;
            Some(vec![
                way.by.said(),
                format!("{:.1}", errors.mean_size),
                format!("{:+.1}", errors.bias),
                format!("{:+.0}", errors.worst),
                errors.count.to_string(),
            ])
        }),
    ));
    page.push_str("  (bias and worst above nought: foretold too late)\n\n");
    page
}

/// Figures of one series.
struct Scored {
    name: String,
    readings: usize,
    step_s: i64,
    changes: ScaleScore,
    by_rule: FlowScore,
    by_chance: FlowScore,
}

/// `outyard scale score`.
pub(crate) fn scale(words: &ScoreWords, desk: &Desk) -> Answer {
    let zone = super::scales::zone_of(desk, words.zone.as_deref())?;
    let threshold = super::scales::threshold_of(words.threshold)?;
    let rule = FlowRule { threshold, ..FlowRule::default() };
    let labelled = read_labels(
        &words.labels.display().to_string(),
        &read_file(&words.labels)?,
        &column_map(&words.label_column)?,
        &zone,
    )?;
    let mut notes = Vec::new();
    let mut all: Vec<Scored> = Vec::new();
    for file in &words.files {
        let Some(labels) = labels_of(file, &labelled) else {
            return Err(vec![Trouble::new(
                "SCL-011",
                format!("{}: no series of the labels is named like this file", file.display()),
                "name the series in the labels as the file is named, or as its name begins",
            )]);
        };
        let (readings, more) =
            read_scale_file(&file.display().to_string(), &read_file(file)?, &column_map(&words.column)?, &zone)?;
        notes.extend(more);
        let reading = read_instants(&readings, &zone, &ScaleRules::default());
        notes.extend(reading.notes.iter().cloned());
        let nights: Vec<_> = reading.nights.iter().map(|night| (night.date, night.net_gain)).collect();
        let step_s = middle_step_s(&readings);
        all.push(Scored {
            name: labels.series.clone(),
            readings: readings.len(),
            step_s,
            changes: score_changes(&reading, &labels.labels, step_s),
            by_rule: score_flow(&flow_spells(&nights, rule), &labels.labels, &zone),
            by_chance: score_flow(&spells_by_chance(&nights, rule), &labels.labels, &zone),
        });
    }
    let left_out: Vec<&str> = labelled
        .iter()
        .map(|labels| labels.series.as_str())
        .filter(|series| all.iter().all(|scored| scored.name != *series))
        .collect();
    if !left_out.is_empty() {
        notes.push(Note::new("SCL-106", format!("labelled, but no file was given: {}", left_out.join(", "))));
    }
    let mut total = ScaleScore::default();
    let (mut by_rule, mut by_chance) = (FlowScore::default(), FlowScore::default());
    for scored in &all {
        total.add(scored.changes.clone());
        by_rule.add(scored.by_rule.clone());
        by_chance.add(scored.by_chance.clone());
    }
    let page = page_of(&all, &total, &by_rule, &by_chance, rule, &zone);
    let data = json!({
        "series": all.iter().map(|scored| json!({
            "series": scored.name,
            "readings": scored.readings,
            "step_minutes": scored.step_s / 60,
            "slack_minutes": slack_s(scored.step_s) / 60,
            "changes": changes_data(&scored.changes, &zone),
        })).collect::<Vec<_>>(),
        "all": changes_data(&total, &zone),
        "flow_by_rule": flow_data(&by_rule),
        "flow_by_chance": flow_data(&by_chance),
    });
    Ok(Reply::new(page, data).with(notes))
}

/// The labels of the series a file is named after: the longest name its own begins with.
fn labels_of<'a>(file: &Path, labelled: &'a [SeriesLabels]) -> Option<&'a SeriesLabels> {
    let stem = PathBuf::from(file.file_stem()?).to_string_lossy().into_owned();
    let fits = |series: &str| {
        stem.strip_prefix(series).is_some_and(|rest| !rest.starts_with(|letter: char| letter.is_alphanumeric()))
    };
    labelled.iter().filter(|labels| fits(&labels.series)).max_by_key(|labels| labels.series.len())
}

fn middle_step_s<T>(readings: &[(jiff::Timestamp, T)]) -> i64 {
    let mut at: Vec<i64> = readings.iter().map(|(at, _)| at.as_second()).collect();
    at.sort_unstable();
    let mut steps: Vec<i64> = at.windows(2).map(|pair| pair[1] - pair[0]).filter(|step| *step > 0).collect();
    steps.sort_unstable();
    steps.get(steps.len() / 2).copied().unwrap_or(0)
}

/// Spells in which the flow was more likely on than not, seen from the end of the series.
fn spells_by_chance(nights: &[(jiff::civil::Date, KilogramsPerDay)], rule: FlowRule) -> Vec<FlowSpell> {
    let mut spells: Vec<FlowSpell> = Vec::new();
    let mut on = false;
    for chance in flow_chances(nights, &FlowChain::of_rule(rule)) {
        let now = chance.in_hindsight.get() >= CHANCE_ON;
        match (on, now) {
            (false, true) => spells.push(FlowSpell { began: chance.date, ended: None }),
            (true, false) => {
                spells.last_mut().expect("a spell began before it ended").ended = Some(chance.date);
            }
            _ => {}
        }
        on = now;
    }
    spells
}

fn share(part: usize, whole: usize, value: f64) -> String {
    if whole == 0 { "-".to_owned() } else { format!("{value:.3} ({part} of {whole})") }
}

fn row(name: &str, step: String, score: &ScaleScore) -> Vec<String> {
    vec![
        name.to_owned(),
        step,
        share(score.right, score.told, score.precision()),
        share(score.found, score.labelled, score.recall()),
        format!("{} of {}", score.inspections_with_change, score.inspections),
        Errors::of(&score.kg_errors).map_or_else(|| "-".to_owned(), |errors| format!("{:.2}", errors.mean_size)),
    ]
}

fn flow_rows(name: &str, score: &FlowScore) -> Vec<Vec<String>> {
    [("begins", &score.begins), ("ends", &score.ends)]
        .into_iter()
        .map(|(what, days)| {
            #[expect(clippy::cast_precision_loss, reason = "a few days")]
            let errors = Errors::of(&days.iter().map(|days| *days as f64).collect::<Vec<_>>());
            let figure = |figure: fn(&Errors) -> String| errors.as_ref().map_or_else(|| "-".to_owned(), figure);
            vec![
                format!("flow {what}, {name}"),
                figure(|errors| format!("{:.1}", errors.mean_size)),
                figure(|errors| format!("{:+.1}", errors.bias)),
                figure(|errors| format!("{:+.0}", errors.worst)),
                days.len().to_string(),
            ]
        })
        .collect()
}

fn page_of(
    all: &[Scored],
    total: &ScaleScore,
    by_rule: &FlowScore,
    by_chance: &FlowScore,
    rule: FlowRule,
    zone: &TimeZone,
) -> String {
    let mut page = String::from("Lasting changes told against labels of confidence high\n");
    let mut rows: Vec<Vec<String>> =
        all.iter().map(|scored| row(&scored.name, step_words(scored.step_s), &scored.changes)).collect();
    if all.len() > 1 {
        rows.push(row("all", String::new(), total));
    }
    page.push_str(&lay_out(
        &[
            ("series", Stand::Left),
            ("step", Stand::Right),
            ("precision", Stand::Right),
            ("recall", Stand::Right),
            ("inspections with one", Stand::Right),
            ("kg off", Stand::Right),
        ],
        rows,
    ));
    page.push_str(&format!("  kind named as labelled: {} of {} found\n", total.named_alike, total.found));
    if !total.misses.is_empty() {
        page.push_str("\nMissed, or told with no label\n");
        for scored in all {
            for miss in &scored.changes.misses {
                page.push_str(&hang("  ", &format!("{}: {}", scored.name, miss_words(miss, zone))));
            }
        }
    }
    let labelled = by_rule.begins.len() + by_rule.ends.len() + by_rule.missed;
    if labelled > 0 {
        page.push_str(&format!(
            "\nFlow, error in days ({} days running of at least {:.2}; chance of at least {:.0} %)\n",
            rule.days_running,
            rule.threshold,
            CHANCE_ON * 100.0
        ));
        let rows = flow_rows("by the rule", by_rule).into_iter().chain(flow_rows("by chance", by_chance));
        page.push_str(&lay_out(
            &[
                ("", Stand::Left),
                ("mean size", Stand::Right),
                ("bias", Stand::Right),
                ("worst", Stand::Right),
                ("found", Stand::Right),
            ],
            rows,
        ));
        page.push_str(&format!(
            "  not found within 15 days: {} of {labelled} by the rule, {} by chance\n",
            by_rule.missed, by_chance.missed
        ));
    }
    page
}

fn step_words(step_s: i64) -> String {
    if step_s >= 7200 { format!("{} h", step_s / 3600) } else { format!("{} min", step_s / 60) }
}

fn miss_words(miss: &Miss, zone: &TimeZone) -> String {
    let at = |at: jiff::Timestamp| zone.to_datetime(at).strftime("%Y-%m-%d %H:%M").to_string();
    let label_words = |kind: LabelKind| match kind {
        LabelKind::Lasting(kind) => change_words(kind),
        LabelKind::Inspection => "inspection",
        LabelKind::FlowBegins => "flow begins",
        LabelKind::FlowEnds => "flow ends",
        LabelKind::Fault => "fault",
    };
    match miss {
        Miss::NotFound(label) => {
            let kg = label.kg.map_or_else(String::new, |kg| format!(", {kg:+.1} kg"));
            format!("not found: {} at {}{kg}", label_words(label.kind), at(label.at))
        }
        Miss::NotLabelled(change) => {
            format!("no label for: {} at {}, {:+.1} kg", change_words(change.kind), at(change.at), change.kg.get())
        }
        Miss::AtInspection(label) => format!("a lasting change at the inspection of {}", at(label.at)),
    }
}

fn changes_data(score: &ScaleScore, zone: &TimeZone) -> Value {
    json!({
        "labelled": score.labelled,
        "found": score.found,
        "told": score.told,
        "right": score.right,
        "precision": score.precision(),
        "recall": score.recall(),
        "named_alike": score.named_alike,
        "inspections": score.inspections,
        "inspections_with_change": score.inspections_with_change,
        "kg_mean_absolute": Errors::of(&score.kg_errors).map(|errors| errors.mean_size),
        "misses": score.misses.iter().map(|miss| miss_words(miss, zone)).collect::<Vec<_>>(),
    })
}

fn flow_data(score: &FlowScore) -> Value {
    json!({ "begins_days": score.begins, "ends_days": score.ends, "missed": score.missed })
}
