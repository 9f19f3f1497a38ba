//! Feeds for other programs: visits and clocks as iCalendar (RFC 5545), runs as GPX 1.1, yards and runs as `GeoJSON`
//! (RFC 7946).

use std::sync::Arc;

use axum::extract::State;
use axum::http::{HeaderMap, HeaderValue, StatusCode, header};
use axum::response::{IntoResponse, Response};
use geojson::{Feature, FeatureCollection, GeoJson, Geometry, GeometryValue, JsonObject, Position};
use gpx::{Gpx, GpxVersion, Route, Waypoint};
use icalendar::{Calendar, Component, Event};
use jiff::civil::Date;
use outyard_app::pages::yards::{running_views, yard_lines};
use outyard_app::views::run_views;
use outyard_base::days::{plus_days, read_date};

use super::{OnDay, has, tagged};
use crate::office::{Morning, Office};
use crate::problem::{Asked, Outcome, Problem, Refusals};

/// A feed of a morning with its mark; only the mark when the caller has it already.
async fn feed(
    office: &Arc<Office>,
    day: &OnDay,
    headers: &HeaderMap,
    sort: &'static str,
    write: impl FnOnce(&Morning) -> Outcome<String>,
) -> Outcome<Response> {
    let morning = day.morning(office).await?;
    let tag = morning.tag();
    if has(headers, &tag) {
        return Ok(tagged(StatusCode::NOT_MODIFIED.into_response(), &tag));
    }
    let mut response = write(&morning)?.into_response();
    response.headers_mut().insert(header::CONTENT_TYPE, HeaderValue::from_static(sort));
    Ok(tagged(response, &tag))
}

fn cannot(what: &str, why: &impl std::fmt::Display) -> Problem {
    Problem::new(
        StatusCode::UNPROCESSABLE_ENTITY,
        "SRV-016",
        format!("{what} cannot be written: {why}"),
        "see whether a yard has an odd name or place",
    )
}

fn compact(date: Date) -> String {
    date.strftime("%Y%m%d").to_string()
}

/// An event of whole days, as RFC 5545 writes them: the end is the day after the last.
fn whole_days(id: &str, title: &str, more: &str, from: Date, to: Date, stamp: &str) -> Event {
    let mut event = Event::new();
    event.uid(id).summary(title).description(more);
    event.add_property("DTSTAMP", stamp);
    for (name, date) in [("DTSTART", from), ("DTEND", plus_days(to, 1))] {
        event.append_property(icalendar::Property::new(name, compact(date)).add_parameter("VALUE", "DATE").done());
    }
    event.done()
}

fn calendar(morning: &Morning) -> Outcome<String> {
    let situation = &morning.situation;
    let stamp = morning.at.strftime("%Y%m%dT%H%M%SZ").to_string();
    let mut calendar = Calendar::new();
    calendar.name(&situation.settings.name);
    for run in run_views(situation, morning.worked()?) {
        let Ok(date) = read_date(&run.date) else { continue };
        for stop in &run.stops {
            let jobs: Vec<String> = stop.jobs.iter().map(|job| format!("{}: {}", job.name, job.colonies)).collect();
            let title = format!("Yard {} {} ({})", stop.yard, stop.name, run.crew);
            let more = format!("{} {}-{}\n{}", run.date, stop.start, stop.end, jobs.join("\n"));
            calendar.push(whole_days(&format!("{}@outyard", stop.visit), &title, &more, date, date, &stamp));
        }
    }
    for (id, yard) in situation.outfit.kept_yards() {
        for running in running_views(yard, situation.today) {
            for clock in running.clocks {
                let Ok(from) = read_date(&clock.from) else { continue };
                let to = clock.to.as_deref().and_then(|to| read_date(to).ok()).unwrap_or(from);
                let name = format!("{id}/{}/{}@outyard", running.put_down_on, clock.code);
                let title = format!("Yard {id}: {}", clock.name);
                calendar.push(whole_days(&name, &title, &clock.means, from, to, &stamp));
            }
        }
    }
    Ok(calendar.done().to_string())
}

/// Planned visits and brood clocks as a calendar.
#[utoipa::path(get, path = "/api/v1/feeds/visits.ics", tag = "feeds", params(OnDay),
    responses((status = 200, description = "a calendar", content_type = "text/calendar"),
        (status = 304, description = "as it was"), Refusals))]
pub(crate) async fn visits(
    State(office): State<Arc<Office>>,
    Asked(day): Asked<OnDay>,
    headers: HeaderMap,
) -> Outcome<Response> {
    feed(&office, &day, &headers, "text/calendar; charset=utf-8", calendar).await
}

fn waypoint(latitude: f64, longitude: f64, name: String) -> Waypoint {
    let mut point = Waypoint::new((longitude, latitude).into());
    point.name = Some(name);
    point
}

/// Runs of the plan as routes, and the yards as points.
#[utoipa::path(get, path = "/api/v1/feeds/runs.gpx", tag = "feeds", params(OnDay),
    responses((status = 200, description = "GPX 1.1", content_type = "application/gpx+xml"),
        (status = 304, description = "as it was"), Refusals))]
pub(crate) async fn gpx_runs(
    State(office): State<Arc<Office>>,
    Asked(day): Asked<OnDay>,
    headers: HeaderMap,
) -> Outcome<Response> {
    feed(&office, &day, &headers, "application/gpx+xml", gpx_file).await
}

fn gpx_file(morning: &Morning) -> Outcome<String> {
    let home = morning.situation.settings.home;
    let mut file = Gpx { version: GpxVersion::Gpx11, creator: Some("outyard".to_owned()), ..Gpx::default() };
    file.waypoints = yard_lines(&morning.situation)
        .into_iter()
        .filter_map(|yard| Some(waypoint(yard.latitude?, yard.longitude?, format!("{} {}", yard.yard, yard.name))))
        .collect();
    for run in run_views(&morning.situation, morning.worked()?) {
        let mut route = Route { name: Some(format!("{} {}", run.date, run.crew)), ..Route::default() };
        route.points.push(waypoint(home.latitude(), home.longitude(), "home".to_owned()));
        for stop in &run.stops {
            if let (Some(latitude), Some(longitude)) = (stop.latitude, stop.longitude) {
                route.points.push(waypoint(latitude, longitude, format!("{} {}", stop.start, stop.yard)));
            }
        }
        route.points.push(waypoint(home.latitude(), home.longitude(), "home".to_owned()));
        file.routes.push(route);
    }
    let mut bytes = Vec::new();
    gpx::write(&file, &mut bytes).map_err(|error| cannot("the GPX file", &error))?;
    String::from_utf8(bytes).map_err(|error| cannot("the GPX file", &error))
}

fn feature(value: GeometryValue, facts: &[(&str, serde_json::Value)]) -> Feature {
    let properties: JsonObject = facts.iter().map(|(name, value)| ((*name).to_owned(), value.clone())).collect();
    Feature { geometry: Some(Geometry::new(value)), properties: Some(properties), ..Feature::default() }
}

fn at(latitude: f64, longitude: f64) -> Position {
    Position::from([longitude, latitude])
}

/// Yards, home and runs as `GeoJSON`; runs are straight lines between yards.
#[utoipa::path(get, path = "/api/v1/feeds/map.geojson", tag = "feeds", params(OnDay),
    responses((status = 200, description = "GeoJSON", content_type = "application/geo+json"),
        (status = 304, description = "as it was"), Refusals))]
pub(crate) async fn map(
    State(office): State<Arc<Office>>,
    Asked(day): Asked<OnDay>,
    headers: HeaderMap,
) -> Outcome<Response> {
    feed(&office, &day, &headers, "application/geo+json", map_file).await
}

fn map_file(morning: &Morning) -> Outcome<String> {
    let home = morning.situation.settings.home;
    let home_at = || at(home.latitude(), home.longitude());
    let mut features = vec![feature(GeometryValue::new_point(home_at()), &[("what", "home".into())])];
    for yard in yard_lines(&morning.situation) {
        let (Some(latitude), Some(longitude)) = (yard.latitude, yard.longitude) else { continue };
        features.push(feature(
            GeometryValue::new_point(at(latitude, longitude)),
            &[
                ("what", "yard".into()),
                ("yard", yard.yard.into()),
                ("name", yard.name.into()),
                ("group", yard.group.into()),
                ("gate", yard.gate.into()),
                ("wet_road", yard.wet_road.into()),
                ("said", yard.said.into()),
            ],
        ));
    }
    for run in run_views(&morning.situation, morning.worked()?) {
        let mut line = vec![home_at()];
        line.extend(run.stops.iter().filter_map(|stop| Some(at(stop.latitude?, stop.longitude?))));
        line.push(home_at());
        features.push(feature(
            GeometryValue::new_line_string(line),
            &[
                ("what", "run".into()),
                ("date", run.date.into()),
                ("crew", run.crew.into()),
                ("truck", run.truck.into()),
            ],
        ));
    }
    Ok(GeoJson::from(FeatureCollection { features, bbox: None, foreign_members: None }).to_string())
}
