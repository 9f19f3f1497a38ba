//! Times of the roads: `bench EXTRACT [pieces]` reads an extract, contracts it, keeps it, reads it back, and makes tables of
//! 60 and 2,000 places by the hierarchy and by plain Dijkstra. With a number of pieces it invents a land of so many
//! hundred junctions instead. Seconds are of the wall; run it under `time -v` for memory and processor.
#![expect(clippy::print_stdout, reason = "a command that tells its figures")]

use std::cmp::Reverse;
use std::collections::BinaryHeap;
use std::fmt::Write as _;
use std::path::Path;
use std::time::Instant;

use outyard_base::{Chance, Place};
use outyard_roads::{Extract, Network, Truck, open_or_prepare};

/// A land of towns: `side` by `side` junctions some 300 m apart, main roads every tenth, tracks between.
fn invented(side: u32) -> Extract {
    let mut chance = Chance::new(7, "roads bench");
    let mut text = String::from("<osm>");
    for row in 0..side {
        for column in 0..side {
            let lat = 45.0 + 0.0027 * (f64::from(row) + 0.5 * chance.uniform());
            let lon = 10.0 + 0.0038 * (f64::from(column) + 0.5 * chance.uniform());
            write!(text, "<node id='{}' lat='{lat:.7}' lon='{lon:.7}'/>", row * side + column)
                .expect("a text takes all");
        }
    }
    let mut road = 0;
    for row in 0..side {
        for column in 0..side {
            for (down, right) in [(0, 1), (1, 0)] {
                let (to_row, to_column) = (row + down, column + right);
                let line = if down == 0 { row } else { column };
                let class = match line % 10 {
                    0 => "primary",
                    5 => "tertiary",
                    _ => "track",
                };
                // A quarter of the small roads is not there.
                if to_row < side && to_column < side && (class != "track" || chance.uniform() > 0.25) {
                    road += 1;
                    write!(
                        text,
                        "<way id='{road}'><nd ref='{}'/><nd ref='{}'/><tag k='highway' v='{class}'/></way>",
                        row * side + column,
                        to_row * side + to_column
                    )
                    .expect("a text takes all");
                }
            }
        }
    }
    text += "</osm>";
    Extract::Bytes("invented".to_owned(), text.into_bytes())
}

/// Plain Dijkstra from one node to all, with a binary heap and flat lists.
struct Plain {
    first: Vec<u32>,
    to: Vec<(u32, u32)>,
}

impl Plain {
    fn new(network: &Network) -> Self {
        let mut links = network.links();
        links.sort_by_key(|link| link.from);
        let mut first = vec![0_u32; network.size().0 + 1];
        for link in &links {
            first[link.from as usize + 1] += 1;
        }
        for node in 1..first.len() {
            first[node] += first[node - 1];
        }
        Self { first, to: links.iter().map(|link| (link.to, link.weight)).collect() }
    }

    fn from(&self, node: u32) -> Vec<u32> {
        let mut best = vec![u32::MAX; self.first.len() - 1];
        best[node as usize] = 0;
        let mut heap = BinaryHeap::from([Reverse((0_u32, node))]);
        while let Some(Reverse((weight, node))) = heap.pop() {
            if weight > best[node as usize] {
                continue;
            }
            for &(to, more) in &self.to[self.first[node as usize] as usize..self.first[node as usize + 1] as usize] {
                let weight = weight.saturating_add(more);
                if weight < best[to as usize] {
                    best[to as usize] = weight;
                    heap.push(Reverse((weight, to)));
                }
            }
        }
        best
    }
}

fn timed<T>(what: &str, work: impl FnOnce() -> T) -> (T, f64) {
    let begun = Instant::now();
    let value = work();
    let seconds = begun.elapsed().as_secs_f64();
    println!("{what}: {seconds:.3} s");
    (value, seconds)
}

fn main() {
    let words: Vec<String> = std::env::args().skip(1).collect();
    let extract = match words.get(1).and_then(|side| side.parse().ok()) {
        Some(side) => invented(side),
        None => Extract::file(Path::new(words.first().expect("name an extract"))),
    };
    let kept = std::env::temp_dir().join(format!("outyard-roads-bench-{}", std::process::id()));
    let ((network, ..), _) = timed("read, contract and keep", || {
        open_or_prepare(&extract, Truck::USUAL, &kept).expect("an extract with roads")
    });
    println!(
        "{} nodes, {} arcs, {} of the hierarchy, {} km",
        network.size().0,
        network.size().1,
        network.size().2,
        network.metres() / 1000
    );
    println!("kept: {} kB", std::fs::metadata(&kept).map_or(0, |file| file.len() / 1024));
    timed("read back", || open_or_prepare(&extract, Truck::USUAL, &kept).expect("it was just kept"));
    drop(std::fs::remove_file(&kept));
    let mut chance = Chance::new(1, "roads bench");
    let count = u32::try_from(network.size().0).expect("counted in 32 bits");
    let plain = Plain::new(&network);
    for size in [60_u32, 2_000] {
        let nodes: Vec<u32> =
            (0..size).map(|_| u32::try_from(chance.below(u64::from(count))).expect("below 2^32")).collect();
        let (table, by_hierarchy) =
            timed(&format!("{size} x {size} by the hierarchy"), || network.between_nodes(&nodes, &nodes));
        let rows = 60.min(nodes.len());
        let (all, by_dijkstra) = timed(&format!("{rows} rows by plain Dijkstra"), || {
            nodes[..rows].iter().map(|&node| plain.from(node)).collect::<Vec<_>>()
        });
        for (row, from) in all.iter().enumerate() {
            for (column, &to) in nodes.iter().enumerate() {
                let found = table[row * nodes.len() + column].map_or(u32::MAX, |(weight, _)| weight);
                assert_eq!(found, from[to as usize], "the two agree");
            }
        }
        #[expect(clippy::cast_precision_loss, reason = "a ratio of counts")]
        let whole = by_dijkstra * nodes.len() as f64 / rows as f64;
        println!("{size} x {size}: Dijkstra would take {:.1} times as long", whole / by_hierarchy);
    }
    let places: Vec<Place> = (0..2_000)
        .map(|_| Place::new(45.0 + 0.5 * chance.uniform(), 10.0 + 0.5 * chance.uniform()).expect("on the earth"))
        .collect();
    timed("2,000 places put on roads", || network.snap(&places, 1_000.0));
}
