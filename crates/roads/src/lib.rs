//! Road times for trucks from extracts of OpenStreetMap.
//!
//! An extract is read into a graph of the roads a truck can use, contracted once, kept in a file, and asked for minutes
//! and metres between home and the yards. See `docs/design/0012-roads.md`.
//!
//! | module | holds |
//! |---|---|
//! | `rules` | what the tags of the map mean for the truck |
//! | `extract` | OSM XML and PBF, element by element |
//! | `graph` | stretches, arcs, forbidden turns |
//! | `hierarchy` | shortest ways from many places to many |
//! | `network` | all of it together: places put on roads, tables, ways told road by road |
//! | `cache` | the prepared network in a file |
//! | `outfit` | drives of an outfit, and what they rest on |

mod cache;
mod extract;
mod graph;
mod hierarchy;
mod network;
mod outfit;

mod rules;

pub use cache::{Kept, open_or_prepare};
pub use extract::Extract;
pub use graph::Counts;
pub use network::{Leg, Link, Network, OFF_ROAD_FAR, RoadSum, Snap, Way};

pub use outfit::{KEPT_ROADS, network_of, put_roads_in, truck_of};
pub use rules::{RULES_VERSION, Truck};
