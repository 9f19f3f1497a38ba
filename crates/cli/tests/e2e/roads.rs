//! What drives rest on: the map, the outfit's table, the straight line.

use crate::common::Outfit;

fn outfit(roads: &str) -> Outfit {
    let settings = format!(
        "name='x'\n[home]\nlatitude=50\nlongitude=10\nzone='UTC'\n[roads]\n{roads}\n\
         [[truck]]\nname='T'\ndeeps_empty=9\npayload_kg=900\n[[crew]]\nname='C'\ntruck='T'\n"
    );
    let outfit = Outfit::of(&[("outfit.toml", &settings)]);
    let map = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../roads/tests/data/hollow.osm.pbf");
    outfit.put("map.osm.pbf", std::fs::read(map).unwrap());
    outfit.put(
        "yards.csv",
        "yard,latitude,longitude,doubles,counted_on\n7,50.03,10.02,20,2026-05-01\n9,51.0,11.0,20,2026-05-01\n",
    );
    outfit.json("yards import yards.csv --on 2026-06-20");
    outfit
}

/// By hand, as in the roads' own tests: 1.434 min of Hollow Road, 10.011 of Mill Lane, 1.5 for its gate.
#[test]
fn a_drive_is_told_road_by_road() {
    let outfit = outfit("extract='map.osm.pbf'");
    let way = outfit.json("roads --from home --to 7");
    assert_eq!((way["min"].as_i64(), way["rests_on"].as_str()), (Some(13), Some("the map")));
    let legs = way["by_map"]["legs"].as_array().unwrap();
    let on = |road: &str| legs.iter().find(|leg| leg["road"] == road).unwrap();
    assert!((on("Hollow Road")["min"].as_f64().unwrap() - 1.434).abs() < 0.01, "{legs:?}");
    assert!((on("Mill Lane")["min"].as_f64().unwrap() - 11.511).abs() < 0.02, "{legs:?}");
    assert_eq!(on("Mill Lane")["gates"], 1);
    let page = outfit.page("roads --from home --to 7");
    assert!(page.contains("a gate") && page.starts_with("From home to 7: 13 min"), "{page}");
}

#[test]
fn what_the_map_does_not_reach_rests_on_the_straight_line() {
    let outfit = outfit("extract='map.osm.pbf'");
    let all = outfit.json("roads");
    let rests: Vec<_> =
        all["yards"].as_array().unwrap().iter().map(|yard| yard["rests_on"].as_str().unwrap()).collect();
    assert_eq!(rests, ["the map", "the straight line"]);
    let faults = outfit.faults("roads --from home --to 12");
    assert_eq!(faults.iter().map(|fault| fault.code.as_str()).collect::<Vec<_>>(), ["ROD-002"]);
    assert_eq!(outfit.run(&["roads", "--from", "home"]).code, 2);
}

#[test]
fn without_a_map_it_is_said_how_to_name_one() {
    let outfit = outfit("speed_km_per_h=60");
    let all = outfit.json("roads");
    assert!(all["yards"].as_array().unwrap().iter().all(|yard| yard["rests_on"] == "the straight line"));
    assert!(all["map_metres"].is_null());
    assert!(outfit.page("roads").contains("extract under [roads] in outfit.toml"));
}
