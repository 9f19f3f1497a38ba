//! The hierarchy against plain Dijkstra (1959), written apart: a list of what is open, nothing else.

use std::collections::{BTreeMap, BTreeSet};

use outyard_roads::{Link, Network, Truck};
use proptest::prelude::*;

use crate::made;

/// Least weight from one node to all it reaches.
pub(crate) fn from(node: u32, links: &[Link]) -> BTreeMap<u32, u32> {
    let mut out: BTreeMap<u32, Vec<&Link>> = BTreeMap::new();
    for link in links {
        out.entry(link.from).or_default().push(link);
    }
    let mut known = BTreeMap::new();
    let mut open = BTreeSet::from([(0_u32, node)]);
    while let Some((weight, node)) = open.pop_first() {
        if known.contains_key(&node) {
            continue;
        }
        known.insert(node, weight);
        for link in out.get(&node).into_iter().flatten() {
            open.insert((weight + link.weight, link.to));
        }
    }
    known
}

pub(crate) fn assert_agrees(network: &Network, from_nodes: &[u32], to_nodes: &[u32]) {
    let links = network.links();
    let table = network.between_nodes(from_nodes, to_nodes);
    for (&start, row) in from_nodes.iter().zip(table.chunks(to_nodes.len())) {
        let known = from(start, &links);
        for (end, found) in to_nodes.iter().zip(row) {
            assert_eq!(found.map(|(weight, _)| weight), known.get(end).copied(), "from {start} to {end}");
            assert!(found.is_none_or(|(weight, tenths)| tenths <= weight), "time is part of the weight");
        }
    }
}

/// A road of an invented map: between which points, its class, one way or not, who may use it.
type Road = (u8, u8, u8, u8);

fn map_of(roads: &[Road], turns: &[(u8, u8, bool)]) -> String {
    let mut text = String::new();
    for point in 0..24 {
        let (row, column) = (f64::from(point / 5), f64::from(point % 5));
        // Not on a grid, so that no two ways are equally long by chance.
        let (lat, lon) = (50.0 + 0.01 * row + 0.0007 * column * column, 10.0 + 0.013 * column + 0.0003 * row * row);
        let gate = if point % 7 == 3 { "<tag k='barrier' v='gate'/>" } else { "" };
        text += &format!("<node id='{point}' lat='{lat:.7}' lon='{lon:.7}'>{gate}</node>");
    }
    for (id, (a, b, class, extra)) in roads.iter().enumerate() {
        let class = ["primary", "residential", "track", "tertiary"][usize::from(class % 4)];
        let extra = match extra % 5 {
            0 => "<tag k='oneway' v='yes'/>",
            1 => "<tag k='access' v='private'/>",
            _ => "",
        };
        text += &format!(
            "<way id='{id}'><nd ref='{}'/><nd ref='{}'/><tag k='highway' v='{class}'/>{extra}</way>",
            a % 24,
            b % 24
        );
    }
    for (from, to, only) in turns {
        let (from, to) = (usize::from(*from) % roads.len(), usize::from(*to) % roads.len());
        let word = if *only { "only_straight_on" } else { "no_left_turn" };
        text += &format!(
            "<relation id='1'><member type='way' ref='{from}' role='from'/><member type='node' ref='{}' role='via'/>\
             <member type='way' ref='{to}' role='to'/><tag k='type' v='restriction'/><tag k='restriction' v='{word}'/></relation>",
            roads[from].1 % 24
        );
    }
    text
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]

    #[test]
    fn the_hierarchy_agrees_with_dijkstra_on_random_maps(
        roads in prop::collection::vec(any::<Road>(), 1..70),
        turns in prop::collection::vec(any::<(u8, u8, bool)>(), 0..12),
    ) {
        let Ok(network) = Network::prepare(&crate::osm(&map_of(&roads, &turns)), Truck::USUAL) else { return Ok(()) };
        let nodes: Vec<u32> = (0..u32::try_from(network.size().0).unwrap()).collect();
        assert_agrees(&network, &nodes, &nodes);
    }

    #[test]
    fn a_way_told_road_by_road_adds_up_to_the_table(
        roads in prop::collection::vec(any::<Road>(), 1..70),
        spots in prop::collection::vec((0.0..0.05_f64, 0.0..0.06_f64), 2..5),
    ) {
        let Ok(network) = Network::prepare(&crate::osm(&map_of(&roads, &[])), Truck::USUAL) else { return Ok(()) };
        let places: Vec<_> = spots.iter().map(|(up, right)| crate::place(50.0 + up, 10.0 + right)).collect();
        let snaps = network.snap(&places, 5_000.0);
        let table = network.table(&snaps);
        for (from, row) in snaps.iter().zip(table.chunks(places.len())) {
            for (to, sum) in snaps.iter().zip(row) {
                let way = from.as_ref().zip(to.as_ref()).and_then(|(from, to)| network.way(from, to));
                prop_assert_eq!(way.as_ref().map(|way| way.sum), *sum);
                if let Some(way) = way {
                    let tenths: u32 = way.legs.iter().map(|leg| leg.tenths).sum();
                    let metres: f64 = way.legs.iter().map(|leg| leg.metres).sum();
                    // Each off-road part is rounded by itself.
                    prop_assert!(tenths.abs_diff(way.sum.tenths) <= 1, "{} {}", tenths, way.sum.tenths);
                    prop_assert!((metres - f64::from(way.sum.metres)).abs() <= 2.0, "{} {}", metres, way.sum.metres);
                }
            }
        }
    }
}

#[test]
fn the_same_map_is_prepared_alike_every_time() {
    let roads: Vec<Road> =
        (0..60).map(|road: u8| (road, road.wrapping_mul(7).wrapping_add(5), road, road / 3)).collect();
    let text = map_of(&roads, &[(3, 4, false), (9, 12, true)]);
    assert_eq!(made(&text, Truck::USUAL), made(&text, Truck::USUAL));
}
