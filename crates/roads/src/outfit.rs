//! What an outfit asks of the roads: the drives between home and its yards, and what they rest on.

use std::path::Path;

use outyard_app::intake::drives::Stand;
use outyard_app::roads::{RoadDrive, RoadTimes};
use outyard_app::settings::Settings;
use outyard_app::situation::Situation;
use outyard_base::{Kilometres, Minutes, Note, Place, Trouble};

use crate::cache::open_or_prepare;
use crate::extract::Extract;
use crate::network::{Network, OFF_ROAD_FAR, Snap};
use crate::rules::Truck;

/// Where prepared roads are kept in the outfit's folder.
pub const KEPT_ROADS: &str = "cache/roads.kept";
/// Most pairs named one by one when the map knows no way between them: 20 (assumed).
const PAIRS_NAMED_MOST: usize = 20;

/// The truck the settings describe, on dry ground.
pub fn truck_of(settings: &Settings) -> Truck {
    let thousandths = |number: f64, times: f64| {
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "the settings hold it within range"
        )]
        let whole = (number * times).round() as u32;
        whole
    };
    let size = settings.roads.truck;
    Truck {
        height_cm: thousandths(size.height_m, 100.0),
        width_cm: thousandths(size.width_m, 100.0),
        length_cm: thousandths(size.length_m, 100.0),
        weight_kg: thousandths(size.weight_t, 1000.0),
        axle_kg: thousandths(size.axle_t, 1000.0),
        wet: false,
    }
}

/// The outfit's network; `None` when its settings name no extract.
///
/// # Errors
/// `ROD-010` to `ROD-015`.
pub fn network_of(settings: &Settings, folder: &Path) -> Result<Option<(Network, Vec<Note>)>, Trouble> {
    let Some(name) = &settings.roads.extract_file else { return Ok(None) };
    let extract = Extract::file(&folder.join(name));
    let (network, _, notes) = open_or_prepare(&extract, truck_of(settings), &folder.join(KEPT_ROADS))?;
    Ok(Some((network, notes)))
}

fn name(stand: &Stand) -> String {
    match stand {
        Stand::Home => "home".to_owned(),
        Stand::Yard(yard) => format!("yard {yard}"),
    }
}

/// Puts the drives by road into a situation, when the settings name an extract, and notes what drives rest on.
///
/// # Errors
/// `ROD-010` to `ROD-015`.
pub fn put_roads_in(situation: &mut Situation, folder: &Path) -> Result<(), Trouble> {
    let Some((network, notes)) = network_of(&situation.settings, folder)? else { return Ok(()) };
    situation.notes.extend(notes);
    let mut stands = vec![Stand::Home];
    let mut places = vec![situation.settings.home];
    for (yard, place) in situation.places() {
        stands.push(Stand::Yard(yard));
        places.push(place);
    }
    let snaps = network.snap(&places, situation.settings.roads.off_road_most_m);
    let table = network.table(&snaps);
    situation.notes.extend(notes_on(
        situation,
        &stands,
        &places,
        &snaps,
        &table.iter().map(Option::is_some).collect::<Vec<_>>(),
    ));
    let drives = table
        .into_iter()
        .map(|sum| {
            sum.map(|sum| RoadDrive {
                minutes: Minutes::ceil_of(sum.minutes()),
                length: Kilometres::of(f64::from(sum.metres) / 1000.0),
            })
        })
        .collect();
    situation.roads = RoadTimes::new(stands, drives);
    Ok(())
}

fn notes_on(
    situation: &Situation,
    stands: &[Stand],
    places: &[Place],
    snaps: &[Option<Snap>],
    known: &[bool],
) -> Vec<Note> {
    let mut notes = Vec::new();
    for (stand, snap) in stands.iter().zip(snaps) {
        match snap {
            None => notes.push(Note::new(
                "ROD-105",
                format!(
                    "{} lies farther than {:.0} m from any road the truck can use; its drives are reckoned from the straight line",
                    name(stand),
                    situation.settings.roads.off_road_most_m
                ),
            )),
            Some(snap) if snap.off_road > OFF_ROAD_FAR => notes.push(Note::new(
                "ROD-104",
                format!("{} lies {:.0} m from the nearest road ({}); that part counts at a walk", name(stand), snap.off_road, snap.road),
            )),
            Some(_) => {}
        }
    }
    let (mut by_map, mut by_line, mut by_table) = (0_usize, 0_usize, 0_usize);
    for (from, from_stand) in stands.iter().enumerate() {
        for (to, to_stand) in stands.iter().enumerate().filter(|(to, _)| *to != from) {
            if situation.drives.between(from_stand, to_stand).is_some() {
                by_table += 1;
            } else if known[from * places.len() + to] {
                by_map += 1;
            } else {
                by_line += 1;
                if snaps[from].is_some() && snaps[to].is_some() && by_line <= PAIRS_NAMED_MOST {
                    notes.push(Note::new(
                        "ROD-103",
                        format!(
                            "the map knows no way from {} to {}; reckoned from the straight line",
                            name(from_stand),
                            name(to_stand)
                        ),
                    ));
                }
            }
        }
    }
    notes.push(Note::new(
        "ROD-108",
        format!("drives rest on: the map {by_map}, the outfit's own table {by_table}, the straight line {by_line}"),
    ));
    notes
}
