//! What stands on the screen, as tables for a spreadsheet.

use std::sync::Arc;

use axum::extract::{Path, State};
use axum::http::{HeaderValue, StatusCode, header};
use axum::response::{IntoResponse, Response};
use outyard_app::pages::book::entry_views;
use outyard_app::pages::gear::{ahead_view, gear_view};
use outyard_app::pages::season::{gear_wanted, season_view};
use outyard_app::pages::yards::yard_lines;
use outyard_app::views::{due_view, morning as morning_view, run_views};
use rust_xlsxwriter::{Format, Workbook, Worksheet, XlsxError};

use super::OnDay;
use crate::office::{Morning, Office};
use crate::problem::{Asked, Outcome, Problem, Refusals};

/// The tables there are.
const TABLES: [&str; 12] =
    ["yards", "runs", "due", "loads", "gates", "stock", "gear", "boxes", "season", "work-weather", "gain", "book"];

/// A table as CSV (RFC 4180) or as a workbook. A text that a spreadsheet would take for a formula is written as text.
#[utoipa::path(get, path = "/api/v1/tables/{table}", tag = "feeds",
    params(("table" = String, Path, description = "yards, runs, due, loads, gates, stock, gear, boxes, season, \
        work-weather, gain or book, with .csv or .xlsx behind it"), OnDay),
    responses((status = 200, description = "the table", content(
        (Vec<u8> = "text/csv"),
        (Vec<u8> = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"))), Refusals))]
pub(crate) async fn table(
    State(office): State<Arc<Office>>,
    Path(table): Path<String>,
    Asked(day): Asked<OnDay>,
) -> Outcome<Response> {
    let (name, as_book) = match table.rsplit_once('.') {
        Some((name, "csv")) => (name, false),
        Some((name, "xlsx")) => (name, true),
        _ => return Err(no_such_table()),
    };
    let morning = day.morning(&office).await?;
    let rows = rows_of(name, &morning, &office)?;
    let (bytes, sort) = if as_book {
        (workbook(name, &rows)?, "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet")
    } else {
        (comma_separated(&rows)?, "text/csv; charset=utf-8")
    };
    let mut response = bytes.into_response();
    let headers = response.headers_mut();
    headers.insert(header::CONTENT_TYPE, HeaderValue::from_static(sort));
    headers.insert(header::CACHE_CONTROL, HeaderValue::from_static("private, no-cache"));
    Ok(response)
}

fn comma_separated(rows: &[Vec<String>]) -> Outcome<Vec<u8>> {
    let mut writer = csv::Writer::from_writer(Vec::new());
    for row in rows {
        writer.write_record(row.iter().map(|cell| as_text(cell))).map_err(|error| broken(&error))?;
    }
    writer.into_inner().map_err(|error| broken(&error))
}

/// Numbers are numbers and everything else is text: no cell of it is a formula.
fn workbook(name: &str, rows: &[Vec<String>]) -> Outcome<Vec<u8>> {
    let mut book = Workbook::new();
    let sheet = book.add_worksheet();
    let write = |sheet: &mut Worksheet| -> Result<(), XlsxError> {
        let bold = Format::new().set_bold();
        sheet.set_name(name)?;
        sheet.set_freeze_panes(1, 0)?;
        for (line, row) in (0_u32..).zip(rows) {
            for (column, cell) in (0_u16..).zip(row) {
                match cell.parse::<f64>() {
                    Ok(number) if line > 0 && number.is_finite() && !keeps_zeros(cell) => {
                        sheet.write_number(line, column, number)?
                    }
                    _ if line == 0 => sheet.write_string_with_format(line, column, cell, &bold)?,
                    _ => sheet.write_string(line, column, cell)?,
                };
            }
        }
        sheet.autofit();
        Ok(())
    };
    write(sheet).map_err(|error| broken(&error))?;
    book.save_to_buffer().map_err(|error| broken(&error))
}

/// A name such as 007 is no number.
fn keeps_zeros(cell: &str) -> bool {
    let digits = cell.trim_start_matches('-');
    digits.len() > 1 && digits.starts_with('0') && !digits.starts_with("0.")
}

fn no_such_table() -> Problem {
    Problem::new(
        StatusCode::NOT_FOUND,
        "SRV-006",
        "there is no such table",
        &format!("the tables are {}, each with .csv or .xlsx behind it", TABLES.join(", ")),
    )
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
        "yards" => {
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
        "runs" => {
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
        "due" => {
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
        "gear" => {
            let mut rows = vec![head(&["gear", "place", "count"])];
            for gear in gear_view(situation, &morning.entries).gear {
                rows.extend(
                    gear.places.into_iter().map(|place| vec![gear.gear.clone(), place.place, place.count.to_string()]),
                );
            }
            Ok(rows)
        }
        "book" => {
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
        "loads" => {
            let mut rows =
                vec![head(&["date", "crew", "truck", "gear", "what", "needed", "load", "weight_kg", "comes_home"])];
            for run in run_views(situation, morning.worked()?) {
                rows.extend(run.load.into_iter().map(|line| {
                    vec![
                        run.date.clone(),
                        run.crew.clone(),
                        run.truck.clone(),
                        line.gear,
                        line.said,
                        line.needed.to_string(),
                        line.load.to_string(),
                        format!("{:.1}", line.weight_kg),
                        line.comes_home.to_string(),
                    ]
                }));
            }
            Ok(rows)
        }
        "gates" => {
            let mut rows = vec![head(&["jobs", "yards_open", "yards", "from", "to", "decided_by", "needs", "instead"])];
            rows.extend(morning_view(situation, morning.worked()?).gates.into_iter().map(|gate| {
                let (from, to) = gate.hours.unwrap_or_default();
                vec![
                    gate.jobs.join(", "),
                    gate.yards_open.to_string(),
                    gate.yards.to_string(),
                    from,
                    to,
                    gate.deciding,
                    gate.words,
                    gate.instead,
                ]
            }));
            Ok(rows)
        }
        "stock" => {
            let mut rows = vec![head(&["gear", "ready", "wanted", "left"])];
            rows.extend(
                morning_view(situation, morning.worked()?).stock.into_iter().map(|line| {
                    vec![line.gear, line.ready.to_string(), line.wanted.to_string(), line.left.to_string()]
                }),
            );
            Ok(rows)
        }
        "boxes" => {
            let worked = morning.worked()?;
            let mut rows = vec![head(&["gear", "date", "need", "returns", "stock", "short"])];
            for gear in gear_wanted(situation, worked) {
                let ahead = ahead_view(situation, worked, &gear, morning.days);
                rows.extend(ahead.days.into_iter().map(|day| {
                    vec![
                        ahead.gear.clone(),
                        day.date,
                        day.need.to_string(),
                        day.returns.to_string(),
                        day.stock.to_string(),
                        day.short.to_string(),
                    ]
                }));
            }
            Ok(rows)
        }
        "season" => {
            let mut rows = vec![head(&["yard", "name", "what", "clock", "from", "best", "to", "planned", "crew"])];
            for yard in season_view(situation, morning.worked()?, morning.days).yards {
                rows.extend(yard.windows.into_iter().map(|window| {
                    vec![
                        yard.yard.clone(),
                        yard.name.clone(),
                        window.what,
                        window.clock.to_owned(),
                        window.from,
                        window.best,
                        text(window.to),
                        text(window.planned),
                        text(window.crew),
                    ]
                }));
            }
            Ok(rows)
        }
        "work-weather" => {
            let mut rows = vec![head(&["date", "jobs", "needs", "yards_open", "yards", "share_open"])];
            rows.extend(season_view(situation, morning.worked()?, morning.days).work_weather.into_iter().map(|day| {
                vec![
                    day.date,
                    day.jobs.join(", "),
                    day.needs,
                    day.yards_open.to_string(),
                    day.yards.to_string(),
                    format!("{:.3}", day.share_open),
                ]
            }));
            Ok(rows)
        }
        "gain" => {
            let mut rows = vec![head(&["date", "low_kg", "likely_kg", "high_kg", "flow_share"])];
            rows.extend(season_view(situation, morning.worked()?, morning.days).gain_by_day.into_iter().map(|day| {
                vec![
                    day.date,
                    format!("{:.2}", day.kg.low),
                    format!("{:.2}", day.kg.likely),
                    format!("{:.2}", day.kg.high),
                    format!("{:.3}", day.flow_share),
                ]
            }));
            Ok(rows)
        }
        _ => Err(no_such_table()),
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
        let rows = [vec!["yard".to_owned(), "kg".to_owned()], vec!["=1+1".to_owned(), "12.5".to_owned()]];
        let (grids, _) = outyard_tables::read::read_workbook("t.xlsx", &workbook("yards", &rows).unwrap()).unwrap();
        assert_eq!(grids[0].rows[1].cell(0).unwrap().text(), "=1+1");
        assert_eq!(grids[0].rows[1].cell(1), Some(&outyard_app::intake::workbook::grid::Cell::Number(12.5)));
        assert!(keeps_zeros("007") && !keeps_zeros("0.7") && !keeps_zeros("0") && !keeps_zeros("70"));
    }
}
