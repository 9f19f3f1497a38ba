//! `outyard roads`: what drives rest on, and one drive with its roads.

use outyard_app::intake::drives::Stand as End;
use outyard_app::situation::Situation;
use outyard_base::ids::in_reading_order;
use outyard_base::{Place, Trouble};
use outyard_folder::Desk;
use outyard_roads::{Leg, Network, Snap, Way, network_of};
use serde_json::{Value, json};

use crate::args::RoadsWords;
use crate::reply::Reply;
use crate::table::{Stand, lay_out};

type Answer = Result<Reply, Vec<Trouble>>;

fn one(trouble: Trouble) -> Vec<Trouble> {
    vec![trouble]
}

fn name(end: &End) -> String {
    match end {
        End::Home => "home".to_owned(),
        End::Yard(yard) => yard.to_string(),
    }
}

/// `outyard roads`.
pub(crate) fn roads(words: &RoadsWords, desk: &Desk) -> Answer {
    let situation = desk.situation()?;
    let map = network_of(&situation.settings, desk.folder()).map_err(one)?.map(|(network, _)| network);
    match (&words.from, &words.to) {
        (Some(from), Some(to)) => drive(&situation, map.as_ref(), from, to),
        _ => Ok(all(&situation, map.as_ref())),
    }
}

/// Home and every yard of which the place is known.
fn ends(situation: &Situation) -> Vec<(End, Place)> {
    core::iter::once((End::Home, situation.settings.home))
        .chain(situation.places().into_iter().map(|(yard, place)| (End::Yard(yard), place)))
        .collect()
}

fn snap_of(situation: &Situation, map: &Network, place: Place) -> Option<Snap> {
    map.snap(&[place], situation.settings.roads.off_road_most_m).into_iter().next().flatten()
}

/// What a drive rests on, and its minutes and length.
struct Resting {
    on: &'static str,
    minutes: i64,
    km: Option<f64>,
}

fn resting(situation: &Situation, from: &(End, Place), to: &(End, Place)) -> Resting {
    if let Some(told) = situation.drives.between(&from.0, &to.0) {
        return Resting {
            on: "the outfit's table",
            minutes: told.minutes.get(),
            km: told.length.map(outyard_base::Kilometres::get),
        };
    }
    if let Some(road) = situation.roads.between(&from.0, &to.0) {
        return Resting { on: "the map", minutes: road.minutes.get(), km: Some(road.length.get()) };
    }
    Resting {
        on: "the straight line",
        minutes: situation.settings.drive_time(from.1, to.1).get(),
        km: Some(situation.settings.road_length(from.1, to.1).get()),
    }
}

fn km_text(km: Option<f64>) -> String {
    km.map_or_else(String::new, |km| format!("{km:.1}"))
}

fn snap_text(snap: Option<&Snap>) -> String {
    let Some(snap) = snap else { return "no road the truck can use is near".to_owned() };
    let mut text = format!("{:.0} m from {}", snap.off_road, snap.road);
    for (told, more) in [
        (snap.business, ", open to those with business there"),
        (snap.soft, ", soft ground"),
        (!snap.main, ", cut off from most roads"),
    ] {
        if told {
            text.push_str(more);
        }
    }
    text
}

fn all(situation: &Situation, map: Option<&Network>) -> Reply {
    let mut ends = ends(situation);
    ends[1..].sort_by(|left, right| in_reading_order(&name(&left.0), &name(&right.0)));
    let home = &ends[0];
    let mut rows = Vec::new();
    let mut data = Vec::new();
    for end in &ends[1..] {
        let there = resting(situation, home, end);
        let back = resting(situation, end, home);
        let snap = map.and_then(|map| snap_of(situation, map, end.1));
        rows.push(vec![
            name(&end.0),
            there.minutes.to_string(),
            back.minutes.to_string(),
            km_text(there.km),
            there.on.to_owned(),
            if map.is_some() { snap_text(snap.as_ref()) } else { String::new() },
        ]);
        data.push(json!({
            "yard": name(&end.0),
            "from_home_min": there.minutes,
            "to_home_min": back.minutes,
            "road_km": there.km,
            "rests_on": there.on,
            "road": snap.as_ref().map(|snap| snap.road.clone()),
            "off_road_m": snap.as_ref().map(|snap| snap.off_road.round()),
        }));
    }
    let mut page = String::from("Drives between home and the yards\n");
    let columns = [
        ("yard", Stand::Whole),
        ("there, min", Stand::Right),
        ("back, min", Stand::Right),
        ("km", Stand::Right),
        ("rests on", Stand::Whole),
        ("where it meets the roads", Stand::Left),
    ];
    page.push_str(&lay_out(&columns, rows));
    if let Some(map) = map {
        page.push_str(&format!("\nThe map holds {} km of roads the truck can use.\n", map.metres() / 1000));
    } else {
        page.push_str(
            "\nThere is no map: name an extract (.osm, .osm.gz, .osm.pbf) as extract under [roads] in outfit.toml.\n",
        );
    }
    page.push_str("One drive, road by road: outyard roads --from home --to 7\n");
    let notes = situation.notes.iter().filter(|note| note.code.starts_with("ROD-")).cloned();
    let metres = map.map(Network::metres);
    Reply::new(page, json!({ "yards": data, "map_metres": metres })).with(notes)
}

fn find_end(situation: &Situation, wanted: &str) -> Result<(End, Place), Vec<Trouble>> {
    ends(situation).into_iter().find(|(end, _)| name(end) == wanted).ok_or_else(|| {
        one(Trouble::new(
            "ROD-002",
            format!("there is no place known for \"{wanted}\""),
            "name home, or a yard that was imported with latitude and longitude",
        ))
    })
}

fn leg_row(leg: &Leg) -> Vec<String> {
    let mut on_it = Vec::new();
    if leg.gates > 0 {
        on_it.push(if leg.gates == 1 { "a gate".to_owned() } else { format!("{} gates", leg.gates) });
    }
    if leg.business > 0.0 {
        on_it.push(format!("{:.0} m open to those with business there", leg.business));
    }
    if leg.soft > 0.0 {
        on_it.push(format!("{:.0} m soft ground", leg.soft));
    }
    if leg.ferry {
        on_it.push("ferry".to_owned());
    }
    let road = if leg.off_road { "from road to hives, at a walk".to_owned() } else { leg.road.clone() };
    vec![road, format!("{:.1}", f64::from(leg.tenths) / 600.0), format!("{:.2}", leg.metres / 1000.0), on_it.join(", ")]
}

fn drive(situation: &Situation, map: Option<&Network>, from: &str, to: &str) -> Answer {
    let from = find_end(situation, from)?;
    let to = find_end(situation, to)?;
    let rests = resting(situation, &from, &to);
    let km = rests.km.map_or_else(String::new, |km| format!(", {km:.1} km"));
    let mut page = format!("From {} to {}: {} min{km}, by {}\n", name(&from.0), name(&to.0), rests.minutes, rests.on);
    let way: Option<Way> = map.and_then(|map| {
        let ends = map.snap(&[from.1, to.1], situation.settings.roads.off_road_most_m);
        map.way(ends[0].as_ref()?, ends[1].as_ref()?)
    });
    if let Some(way) = &way {
        page.push('\n');
        let columns = [("road", Stand::Left), ("min", Stand::Right), ("km", Stand::Right), ("on it", Stand::Left)];
        page.push_str(&lay_out(&columns, way.legs.iter().map(leg_row)));
        page.push_str(&format!(
            "By the map {:.1} min, {:.1} km; ",
            way.sum.minutes(),
            f64::from(way.sum.metres) / 1000.0
        ));
    } else if map.is_some() {
        page.push_str("The map knows no way between them; ");
    } else {
        page.push_str("There is no map; ");
    }
    let line_min = situation.settings.drive_time(from.1, to.1).get();
    let line_km = situation.settings.road_length(from.1, to.1).get();
    page.push_str(&format!("by the straight line {line_min} min, {line_km:.1} km.\n"));
    let legs: Option<Vec<Value>> = way.as_ref().map(|way| {
        way.legs
            .iter()
            .map(|leg| {
                json!({
                    "road": leg.road, "min": f64::from(leg.tenths) / 600.0, "m": leg.metres, "gates": leg.gates,
                    "business_m": leg.business, "soft_m": leg.soft, "ferry": leg.ferry, "off_road": leg.off_road,
                })
            })
            .collect()
    });
    let data = json!({
        "from": name(&from.0), "to": name(&to.0), "min": rests.minutes, "km": rests.km, "rests_on": rests.on,
        "by_map": way.as_ref().map(|way| json!({
            "min": way.sum.minutes(), "km": f64::from(way.sum.metres) / 1000.0, "legs": legs,
        })),
        "by_line": { "min": line_min, "km": line_km },
    });
    Ok(Reply::new(page, data))
}
