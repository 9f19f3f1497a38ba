//! An outfit that names an extract gets its drives by road, and is told what they rest on.

use std::collections::BTreeMap;

use jiff::civil::date;
use outyard_app::intake::drives::{Drives, Stand};
use outyard_app::settings::read_settings;
use outyard_app::situation::{Situation, SituationParts};
use outyard_base::DeviceId;
use outyard_book::{Entry, EntryId, Fact, YardKept};
use outyard_roads::put_roads_in;
use outyard_season::PlantTable;
use outyard_trade::jobbook::{DEFAULT_JOB_BOOK, read_job_book};

use crate::place;

#[test]
fn drives_come_from_the_map_and_what_it_cannot_join_is_told() {
    let folder = tempfile::tempdir().unwrap();
    let map = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data/hollow.osm.pbf");
    std::fs::copy(map, folder.path().join("map.osm.pbf")).unwrap();
    let settings = "name='x'\n[home]\nlatitude=50\nlongitude=10\nzone='UTC'\n[roads]\nextract='map.osm.pbf'\n\
        [[truck]]\nname='T'\ndeeps_empty=9\npayload_kg=900\n[[crew]]\nname='C'\ntruck='T'\n";
    let when = "2026-05-01T08:00:00Z".parse().unwrap();
    let entries = [("7", 50.03, 10.02), ("8", 50.2, 10.205), ("9", 51.0, 11.0), ("10", 50.0018, 10.015)]
        .into_iter()
        .enumerate()
        .map(|(at, (yard, latitude, longitude))| {
            let mut kept = YardKept::new(yard.parse().unwrap());
            kept.place = Some(place(latitude, longitude));
            let id = EntryId::new(when, [u8::try_from(at).unwrap(); 10]);
            Entry::new(
                id,
                DeviceId::new("office").unwrap(),
                "ana".to_owned(),
                date(2026, 5, 1),
                when,
                Fact::YardKept(kept),
            )
        })
        .collect();
    let mut situation = Situation::new(SituationParts {
        settings: read_settings("outfit.toml", settings).unwrap(),
        jobs: read_job_book(DEFAULT_JOB_BOOK, None).unwrap(),
        plants: PlantTable::built_in(),
        drives: Drives::default(),
        entries,
        files: BTreeMap::new(),
        today: date(2026, 6, 1),
    })
    .unwrap();
    put_roads_in(&mut situation, folder.path()).unwrap();
    let yard = |name: &str| Stand::Yard(name.parse().unwrap());
    // By hand in `maps`: 1.434 min of Hollow Road, 10.011 of Mill Lane, 1.5 for the gate: 12.945, rounded up.
    assert_eq!(situation.roads.between(&Stand::Home, &yard("7")).unwrap().minutes.get(), 13);
    assert_eq!(situation.roads.between(&Stand::Home, &yard("8")), None);
    let told = |code: &str| {
        situation.notes.iter().filter(|note| note.code == code).map(|note| note.text.clone()).collect::<Vec<_>>()
    };
    assert_eq!(told("ROD-105").len(), 1);
    assert!(told("ROD-105")[0].starts_with("yard 9 lies farther than 1000 m"));
    assert!(
        told("ROD-104")[0].starts_with("yard 10 lies 200 m from the nearest road (Hollow Road)"),
        "{:?}",
        told("ROD-104")
    );
    // Yard 8 stands alone on Island Street: there and back to home, 7 and 10.
    assert_eq!(told("ROD-103").len(), 6);
    assert_eq!(told("ROD-108"), ["drives rest on: the map 6, the outfit's own table 0, the straight line 14"]);
    assert!(folder.path().join(outyard_roads::KEPT_ROADS).exists());
}
