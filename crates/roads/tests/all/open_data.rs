//! Against a real extract, where there is one.

use std::path::Path;

use outyard_roads::{Extract, Network, Truck};

use crate::dijkstra::assert_agrees;

#[test]
fn dijkstra_agrees_on_a_real_extract() {
    let Some(folder) = std::env::var_os("OUTYARD_DATA") else {
        println!("left out: OUTYARD_DATA names no folder of open data");
        return;
    };
    let extract = Extract::file(&Path::new(&folder).join("roads/north-bayreuth.osm.gz"));
    let network = Network::prepare(&extract, Truck::USUAL).unwrap();
    let (nodes, ways, arcs) = network.size();
    println!("{nodes} nodes, {ways} ways over stretches, {arcs} arcs of the hierarchy, {} km", network.metres() / 1000);
    assert!(nodes > 1000 && network.metres() > 100_000);
    let counts = network.counts();
    assert!(counts.turns > 0, "the extract has forbidden turns: {counts:?}");
    let some = |step: u32| (0..u32::try_from(nodes).unwrap()).step_by(step as usize).collect::<Vec<_>>();
    assert_agrees(&network, &some(97), &some(13));
}
