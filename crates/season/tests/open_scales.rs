//! Scores the scale reader against real series labelled by eye. The series are not part of the project: the test reads
//! them through the environment variable `OUTYARD_DATA` and says so in one line when it is not set.

#![expect(
    clippy::unwrap_used,
    clippy::print_stdout,
    clippy::cast_precision_loss,
    reason = "a test that reads small files and tells its figures"
)]

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use jiff::civil::DateTime;
use jiff::tz::TimeZone;
use jiff::{SignedDuration, Timestamp};
use outyard_base::days::days_from;
use outyard_base::{Kilograms, KilogramsPerDay};
use outyard_season::flow_state::flow_spells;
use outyard_season::{Change, FlowRule, ScaleReading, ScaleRules, read_series};

fn data_folder() -> Option<PathBuf> {
    let folder = std::env::var_os("OUTYARD_DATA").map(PathBuf::from);
    if folder.is_none() {
        println!("left out: OUTYARD_DATA is not set");
    }
    folder
}

fn moment(text: &str) -> Timestamp {
    let at: DateTime = text.replace(' ', "T").parse().unwrap();
    TimeZone::UTC.to_timestamp(at).unwrap()
}

/// Reads time and weight; rows with no weight are gaps.
fn read_file(path: &Path, every: usize) -> ScaleReading {
    let text = std::fs::read_to_string(path).unwrap();
    let readings: Vec<(DateTime, Kilograms)> = text
        .lines()
        .skip(1)
        .filter_map(|line| {
            let mut cells = line.split(',');
            let at: DateTime = cells.next()?.replace(' ', "T").parse().ok()?;
            Some((at, Kilograms::of(cells.next()?.parse().ok()?)))
        })
        .step_by(every)
        .collect();
    read_series(&readings, &TimeZone::UTC, &ScaleRules::default())
}

struct Label {
    at: Timestamp,
    until: Timestamp,
    kind: String,
    kg: Option<f64>,
    high: bool,
}

fn labels(folder: &Path) -> BTreeMap<String, Vec<Label>> {
    let text = std::fs::read_to_string(folder.join("scale/labels.csv")).unwrap();
    let mut labels: BTreeMap<String, Vec<Label>> = BTreeMap::new();
    for line in text.lines().skip(1) {
        let cells: Vec<&str> = line.splitn(6, ',').collect();
        let at = moment(cells[1]);
        let until = cells[5].trim_matches('"').strip_prefix("transient until ").map_or(at, |rest| {
            let day = &cells[1][..10];
            moment(&format!("{day}T{}", &rest[..5]))
        });
        labels.entry(cells[0].to_owned()).or_default().push(Label {
            at,
            until,
            kind: cells[2].to_owned(),
            kg: cells[3].parse().ok(),
            high: cells[4] == "high",
        });
    }
    labels
}

fn is_step(label: &Label) -> bool {
    matches!(label.kind.as_str(), "box_added" | "box_removed" | "harvest" | "swarm")
}

fn near(change: &Change, label: &Label, slack: SignedDuration) -> bool {
    change.at <= label.until + slack && change.until >= label.at - slack
}

#[derive(Default)]
struct Score {
    found: usize,
    missed: usize,
    wrong: usize,
    inspections: usize,
    broken_inspections: usize,
    kg_errors: Vec<f64>,
}

/// Coarse series place a step within their own step only.
fn score(name: &str, reading: &ScaleReading, labels: &[Label], slack: SignedDuration, score: &mut Score) {
    let lasting: Vec<&Change> = reading.changes.iter().filter(|change| change.kind.lasts()).collect();
    for label in labels.iter().filter(|label| label.high) {
        if is_step(label) {
            let kg = label.kg.unwrap();
            let hit = lasting
                .iter()
                .find(|change| near(change, label, slack) && change.kg.get().signum().total_cmp(&kg.signum()).is_eq());
            if let Some(change) = hit {
                score.found += 1;
                score.kg_errors.push((change.kg.get() - kg).abs());
            } else {
                score.missed += 1;
                println!("{name}: missed {} of {kg} kg at {}", label.kind, label.at);
            }
        } else if label.kind == "inspection" {
            score.inspections += 1;
            // Steps labelled within the same visit explain a lasting change.
            let explained = labels
                .iter()
                .any(|other| is_step(other) && other.at >= label.at - slack && other.at <= label.until + slack);
            if !explained && lasting.iter().any(|change| near(change, label, SignedDuration::from_mins(10))) {
                score.broken_inspections += 1;
                println!("{name}: lasting change at the inspection of {}", label.at);
            }
        }
    }
    for change in lasting {
        if !labels.iter().any(|label| is_step(label) && near(change, label, slack)) {
            score.wrong += 1;
            println!("{name}: unlabelled {:?} of {:.2} kg at {}", change.kind, change.kg.get(), change.at);
        }
    }
}

#[test]
fn lasting_changes_are_found_and_inspections_leave_none() {
    let Some(folder) = data_folder() else { return };
    // The series as they are, then the five-minute ones thinned out to 10, 15, 30 and 60 minutes.
    let labels = labels(&folder);
    for every in [1, 2, 3, 6, 12] {
        let total = score_all(&folder, &labels, every);
        assert_eq!(total.broken_inspections, 0);
        assert_eq!(total.missed, 0);
        assert_eq!(total.wrong, 0);
    }
}

fn score_all(folder: &Path, labels: &BTreeMap<String, Vec<Label>>, every: usize) -> Score {
    let mut total = Score::default();
    for (name, labels) in labels {
        let (file, slack, every) = if name == "schwartau" {
            ("schwartau_2017_weight_12h".to_owned(), SignedDuration::from_hours(24), 1)
        } else {
            (name.clone(), SignedDuration::from_hours(1), every)
        };
        let reading = read_file(&folder.join(format!("scale/{file}.csv")), every);
        if std::env::var_os("OUTYARD_SAY").is_some() {
            for change in &reading.changes {
                println!(
                    "{name} {} {:?} {:.2} kg, {:.2}",
                    change.at,
                    change.kind,
                    change.kg.get(),
                    change.confidence.get()
                );
            }
        }
        score(name, &reading, labels, slack, &mut total);
    }
    let share = |part: usize, whole: usize| part as f64 / whole.max(1) as f64;
    println!(
        "every {every}: lasting changes: {} found, {} missed, {} not labelled: recall {:.2}, precision {:.2}",
        total.found,
        total.missed,
        total.wrong,
        share(total.found, total.found + total.missed),
        share(total.found, total.found + total.wrong)
    );
    println!("inspections: {} of {} with a lasting change", total.broken_inspections, total.inspections);
    println!("mean error of a step {:.3} kg", total.kg_errors.iter().sum::<f64>() / total.kg_errors.len() as f64);
    total
}

#[test]
fn the_flow_begins_and_ends_within_two_days() {
    let Some(folder) = data_folder() else { return };
    let labels = labels(&folder);
    let reading = read_file(&folder.join("scale/schwartau_2017_weight_12h.csv"), 1);
    let nights: Vec<_> = reading.nights.iter().map(|night| (night.date, night.net_gain)).collect();
    let spells = flow_spells(&nights, FlowRule::default());
    for spell in &spells {
        println!("flow {} to {:?}", spell.began, spell.ended);
    }
    let mut missed = 0;
    for label in labels["schwartau"].iter().filter(|label| label.high) {
        let day = TimeZone::UTC.to_datetime(label.at).date();
        let ends: Vec<_> = match label.kind.as_str() {
            "flow_start" => spells.iter().map(|spell| spell.began).collect(),
            "flow_end" => spells.iter().filter_map(|spell| spell.ended).collect(),
            _ => continue,
        };
        let off = ends.iter().map(|end| days_from(day, *end)).min_by_key(|days| days.abs());
        println!("{} {day}: off by {off:?} days", label.kind);
        missed += usize::from(off.is_none_or(|days| days.abs() > 2));
    }
    assert_eq!(missed, 0);
}

#[test]
fn a_dearth_shows_no_flow() {
    let Some(folder) = data_folder() else { return };
    for hive in ["2059", "2120", "2123", "2129", "2130"] {
        let reading = read_file(&folder.join(format!("scale/tucson2022_hive{hive}.csv")), 1);
        let nights: Vec<(_, KilogramsPerDay)> =
            reading.nights.iter().map(|night| (night.date, night.net_gain)).collect();
        assert!(nights.len() > 85, "{hive}: {} nights", nights.len());
        assert!(flow_spells(&nights, FlowRule::default()).is_empty(), "{hive}");
    }
}
