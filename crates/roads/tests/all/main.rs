//! Roads from extracts, against hand sums and plain Dijkstra.
#![expect(clippy::unwrap_used, reason = "a test may fail by panic")]

mod dijkstra;
mod hostile;
mod maps;
mod open_data;
mod outfit;

use std::path::Path;

use outyard_base::Place;
use outyard_roads::{Extract, Network, RoadSum, Truck};

fn osm(text: &str) -> Extract {
    Extract::Bytes("map.osm".to_owned(), format!("<osm>{text}</osm>").into_bytes())
}

fn data(name: &str) -> Extract {
    Extract::file(&Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data").join(name))
}

fn place(latitude: f64, longitude: f64) -> Place {
    Place::new(latitude, longitude).unwrap()
}

/// Time and length between places within a kilometre of a road.
fn sums(network: &Network, places: &[Place]) -> Vec<Option<RoadSum>> {
    network.table(&network.snap(places, 1000.0))
}

fn made(text: &str, truck: Truck) -> Network {
    Network::prepare(&osm(text), truck).unwrap()
}
