//! What stands on the screen, as tables for a spreadsheet.

use std::sync::Arc;

use axum::extract::{Path, State};
use axum::http::{HeaderValue, StatusCode, header};
use axum::response::{IntoResponse, Response};
use outyard_app::pages::book::entry_views;
use outyard_app::pages::gear::gear_view;
use outyard_app::pages::yards::yard_lines;
use outyard_app::views::{due_view, run_views};

use super::OnDay;
use crate::office::{Morning, Office};
use crate::problem::{Asked, Outcome, Problem, Refusals};

/// The tables there are.
const TABLES: [&str; 5] = ["yards.csv", "runs.csv", "due.csv", "gear.csv", "book.csv"];

/// A table as CSV (RFC 4180). A text that a spreadsheet would take for a formula is written as text.
#[utoipa::path(get, path = "/api/v1/tables/{table}", tag = "feeds",
    params(("table" = String, Path, description = "yards.csv, runs.csv, due.csv, gear.csv or book.csv"), OnDay),
    responses((status = 200, description = "the table", content_type = "text/csv"), Refusals))]
pub(crate) async fn table(
    State(office): State<Arc<Office>>,
    Path(table): Path<String>,
    Asked(day): Asked<OnDay>,
) -> Outcome<Response> {
    let morning = day.morning(&office).await?;
    let rows = rows_of(&table, &morning, &office)?;
    let mut writer = csv::Writer::from_writer(Vec::new());
    for row in rows {
        writer.write_record(row.iter().map(|cell| as_text(cell))).map_err(|error| broken(&error))?;
    }
    let bytes = writer.into_inner().map_err(|error| broken(&error))?;
    let mut response = bytes.into_response();
    response.headers_mut().insert(header::CONTENT_TYPE, HeaderValue::from_static("text/csv; charset=utf-8"));
    response.headers_mut().insert(header::CACHE_CONTROL, HeaderValue::from_static("private, no-cache"));
    Ok(response)
}

fn broken(why: &impl std::fmt::Display) -> Problem {
    Problem::new(
        StatusCode::UNPROCESSABLE_ENTITY,
        "SRV-016",
        format!("the table cannot be written: {why}"),
        "try again",
    )
}

/// A cell that no spreadsheet takes for a formula.
fn as_text(cell: &str) -> String {
    let number = cell.parse::<f64>().is_ok();
    if !number && cell.starts_with(['=', '+', '-', '@', '\t', '\r']) { format!("'{cell}") } else { cell.to_owned() }
}

fn head(names: &[&str]) -> Vec<String> {
    names.iter().map(|name| (*name).to_owned()).collect()
}

fn rows_of(table: &str, morning: &Morning, office: &Office) -> Outcome<Vec<Vec<String>>> {
    let text = |value: Option<String>| value.unwrap_or_default();
    let number = |value: Option<f64>| value.map_or_else(String::new, |value| value.to_string());
    let situation = &morning.situation;
    match table {
        "yards.csv" => {
            let mut rows = vec![head(&[
                "yard",
                "name",
                "group",
                "latitude",
                "longitude",
                "gate",
                "wet_road",
                "colonies",
                "counted_on",
                "put_down_on",
                "last_visit",
            ])];
            rows.extend(yard_lines(situation).into_iter().map(|yard| {
                vec![
                    yard.yard,
                    yard.name,
                    yard.group,
                    number(yard.latitude),
                    number(yard.longitude),
                    yard.gate,
                    yard.wet_road.to_string(),
                    yard.said,
                    text(yard.counted_on),
                    text(yard.put_down_on),
                    text(yard.last_visit),
                ]
            }));
            Ok(rows)
        }
        "runs.csv" => {
            let mut rows =
                vec![head(&["date", "crew", "truck", "yard", "name", "start", "end", "jobs", "a_day_more_cents"])];
            for run in run_views(situation, morning.worked()?) {
                for stop in run.stops {
                    let jobs: Vec<String> =
                        stop.jobs.iter().map(|job| format!("{}: {}", job.name, job.colonies)).collect();
                    rows.push(vec![
                        run.date.clone(),
                        run.crew.clone(),
                        run.truck.clone(),
                        stop.yard,
                        stop.name,
                        stop.start,
                        stop.end,
                        jobs.join("; "),
                        stop.a_day_more_cents.to_string(),
                    ]);
                }
            }
            Ok(rows)
        }
        "due.csv" => {
            let worked = morning.worked()?;
            let mut rows = vec![head(&["yard", "what", "from", "best", "to", "planned", "crew", "pair_minutes"])];
            rows.extend((0..worked.due.len()).map(|visit| due_view(situation, worked, visit)).map(|due| {
                vec![
                    due.yard,
                    due.what,
                    due.from,
                    due.best,
                    text(due.to),
                    text(due.planned),
                    text(due.crew),
                    due.pair_minutes.to_string(),
                ]
            }));
            Ok(rows)
        }
        "gear.csv" => {
            let mut rows = vec![head(&["gear", "place", "count"])];
            for gear in gear_view(situation, &morning.entries).gear {
                rows.extend(
                    gear.places.into_iter().map(|place| vec![gear.gear.clone(), place.place, place.count.to_string()]),
                );
            }
            Ok(rows)
        }
        "book.csv" => {
            let (entries, _) = office.entries();
            let mut rows =
                vec![head(&["happened_on", "recorded_at", "yard", "fact", "said", "author", "device", "entry"])];
            rows.extend(entry_views(entries.iter(), &entries).into_iter().map(|entry| {
                vec![
                    entry.happened_on,
                    entry.recorded_at,
                    text(entry.yard),
                    entry.fact,
                    entry.said,
                    entry.author,
                    entry.device,
                    entry.entry,
                ]
            }));
            Ok(rows)
        }
        _ => Err(Problem::new(
            StatusCode::NOT_FOUND,
            "SRV-006",
            "there is no such table",
            &format!("the tables are {}", TABLES.join(", ")),
        )),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_spreadsheet_is_handed_no_formula() {
        assert_eq!(as_text("=1+1"), "'=1+1");
        assert_eq!(as_text("@yard"), "'@yard");
        assert_eq!(as_text("-12.5"), "-12.5");
        assert_eq!(as_text("plain"), "plain");
    }
}
