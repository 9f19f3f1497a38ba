//! Roads ready to be asked: places put on the nearest road, tables of time and length, ways told road by road.
//!
//! | symbol | name in code | meaning | unit | value | source |
//! |---|---|---|---|---|---|
//! | - | `OFF_ROAD_TENTHS_PER_METRE` | from the road to the hives: over grass, at a walk | km/h | 6 | assumed |
//! | - | `OFF_ROAD_FAR` | a yard farther from any road than this is told of | m | 150 | assumed |

use std::collections::{BTreeMap, BTreeSet};

use outyard_base::{Note, Place, Trouble};
use serde::{Deserialize, Serialize};

use crate::extract::Extract;
use crate::graph::{Arc, Counts, Graph, metres_of_degree};
use crate::hierarchy::{Gate, Hierarchy, Sum};
use crate::rules::Truck;

/// From the road to the hives, 6 km/h in tenths of a second a metre (assumed).
const OFF_ROAD_TENTHS_PER_METRE: f64 = 36.0 / 6.0;
/// A yard farther from any road than this is told of, 150 m (assumed).
pub const OFF_ROAD_FAR: f64 = 150.0;

/// The roads of an extract, for one truck, contracted.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Network {
    pub(crate) graph: Graph,
    pub(crate) hierarchy: Hierarchy,
}

/// Where a place meets the roads.
#[derive(Clone, Debug, PartialEq)]
pub struct Snap {
    stretch: u32,
    /// Metres from the beginning of the stretch, and its whole length.
    along: f64,
    length: f64,
    /// The place as it was given.
    pub place: Place,
    /// The point on the road.
    pub on_road: Place,
    /// Metres between the two.
    pub off_road: f64,
    /// Name or number of the road, else its class.
    pub road: String,
    /// True when only those who have business there may drive on it.
    pub business: bool,
    /// True when its ground is soft.
    pub soft: bool,
    /// False when the road belongs to a net too small to live on: most places cannot be reached from there.
    pub main: bool,
}

/// Time and length between two places, door to door.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct RoadSum {
    /// Time, tenths of a second.
    pub tenths: u32,
    /// Length, metres.
    pub metres: u32,
}

impl RoadSum {
    /// Time in minutes.
    pub fn minutes(self) -> f64 {
        f64::from(self.tenths) / 600.0
    }
}

/// A part of a way under one name.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Leg {
    /// Name or number of the road, else its class.
    pub road: String,
    /// Time, tenths of a second, gates within.
    pub tenths: u32,
    /// Length, metres.
    pub metres: f64,
    /// Gates opened and closed.
    pub gates: u32,
    /// Metres open only to those who have business there.
    pub business: f64,
    /// Metres on soft ground.
    pub soft: f64,
    /// True for a ferry.
    pub ferry: bool,
    /// True for the part between road and place.
    pub off_road: bool,
}

/// A way from one place to another.
#[derive(Clone, Debug, PartialEq)]
pub struct Way {
    /// Time and length, door to door.
    pub sum: RoadSum,
    /// Its parts.
    pub legs: Vec<Leg>,
}

/// One arc of the graph as the search sees it, for those who check the search.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Link {
    /// Node it leaves.
    pub from: u32,
    /// Node it enters.
    pub to: u32,
    /// What the search adds up.
    pub weight: u32,
    /// Time, tenths of a second.
    pub tenths: u32,
}

fn whole(number: f64) -> u32 {
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "saturates, and is not negative")]
    let whole = number.round() as u32;
    whole
}

impl Network {
    /// Reads an extract and contracts it.
    ///
    /// # Errors
    /// `ROD-010` to `ROD-015`.
    pub fn prepare(extract: &Extract, truck: Truck) -> Result<Self, Trouble> {
        let graph = Graph::read(extract, truck)?;
        let links: Vec<crate::hierarchy::Link> = graph
            .arcs
            .iter()
            .map(|arc| crate::hierarchy::Link {
                from: arc.from,
                to: arc.to,
                sum: Sum {
                    weight: arc.weight(),
                    tenths: arc.tenths(),
                    metres: graph.stretches[arc.stretch as usize].metres,
                },
            })
            .collect();
        let hierarchy = Hierarchy::new(graph.nodes, &links);
        Ok(Self { graph, hierarchy })
    }

    /// Whether what was read from a file holds together.
    pub(crate) fn is_sound(&self) -> bool {
        let graph = &self.graph;
        let points = graph.points.len();
        let on_earth =
            |&(lat, lon): &(i32, i32)| lat.unsigned_abs() <= 900_000_000 && lon.unsigned_abs() <= 1_800_000_000;
        let stretches = graph.stretches.iter().all(|stretch| {
            stretch.first < stretch.last
                && (stretch.last as usize) < points
                && (stretch.name as usize) < graph.names.len()
        });
        let arcs = graph.arcs.iter().all(|arc| {
            arc.from < graph.nodes && arc.to < graph.nodes && (arc.stretch as usize) < graph.stretches.len()
        });
        let sorted = graph.arcs_of.len() == graph.stretches.len() + 1
            && graph.arcs_of[0] == 0
            && graph.arcs_of[graph.stretches.len()] as usize == graph.arcs.len()
            && graph.arcs_of.windows(2).all(|pair| pair[0] <= pair[1]);
        stretches
            && arcs
            && sorted
            && graph.points.iter().all(on_earth)
            && graph.arcs.windows(2).all(|pair| pair[0].stretch <= pair[1].stretch)
            && self.hierarchy.is_sound(graph.nodes)
    }

    /// What was met in the extract.
    pub fn counts(&self) -> Counts {
        self.graph.counts
    }

    /// Nodes of the graph, ways over its stretches, and arcs of the hierarchy.
    pub fn size(&self) -> (usize, usize, usize) {
        (self.graph.nodes as usize, self.graph.arcs.len(), self.hierarchy.arcs())
    }

    /// Metres of road a truck can use, each road once.
    pub fn metres(&self) -> u64 {
        self.graph.stretches.iter().map(|stretch| u64::from(stretch.metres)).sum()
    }

    /// What is worth knowing about it.
    pub fn notes(&self) -> Vec<Note> {
        self.graph.notes()
    }

    /// Every arc, for those who check the search by other means.
    pub fn links(&self) -> Vec<Link> {
        self.graph
            .arcs
            .iter()
            .map(|arc| Link { from: arc.from, to: arc.to, weight: arc.weight(), tenths: arc.tenths() })
            .collect()
    }

    /// Least weight and its time between pairs of nodes, row by row: `from` by `to`.
    pub fn between_nodes(&self, from: &[u32], to: &[u32]) -> Vec<Option<(u32, u32)>> {
        let gates = |nodes: &[u32]| nodes.iter().map(|&node| vec![(node, Sum::default())]).collect::<Vec<_>>();
        let table = self.hierarchy.many(&gates(from), &gates(to));
        table.into_iter().map(|sum| sum.map(|sum| (sum.weight, sum.tenths))).collect()
    }

    /// Puts places on the nearest road within a limit of metres; a road of a net one can live on goes before any other.
    pub fn snap(&self, places: &[Place], limit: f64) -> Vec<Option<Snap>> {
        let mut order: Vec<usize> = (0..places.len()).collect();
        order.sort_by(|a, b| places[*a].latitude().total_cmp(&places[*b].latitude()));
        let latitudes: Vec<f64> = order.iter().map(|&place| places[place].latitude()).collect();
        // A degree is 110.5 km at least, so this reaches a little beyond the limit.
        let reach = limit / 110_000.0;
        let mut best: Vec<Option<Found>> = vec![None; places.len()];
        for (at, stretch) in self.graph.stretches.iter().enumerate() {
            if stretch.ferry {
                continue;
            }
            let line = &self.graph.points[stretch.first as usize..=stretch.last as usize];
            let (low, high) =
                line.iter().fold((i32::MAX, i32::MIN), |(low, high), point| (low.min(point.0), high.max(point.0)));
            let first = latitudes.partition_point(|&latitude| latitude < f64::from(low) * 1e-7 - reach);
            let last = latitudes.partition_point(|&latitude| latitude <= f64::from(high) * 1e-7 + reach);
            for &place in &order[first..last.max(first)] {
                let most = match &best[place] {
                    Some(best) if best.main && !stretch.main => continue,
                    Some(best) if best.main == stretch.main => best.off_road,
                    _ => limit,
                };
                if let Some((off_road, segment, share)) = nearest(places[place], line, most) {
                    best[place] = Some(Found { stretch: at, segment, share, off_road, main: stretch.main });
                }
            }
        }
        best.into_iter().zip(places).map(|(found, place)| found.map(|found| self.snap_of(*place, &found))).collect()
    }

    fn snap_of(&self, place: Place, found: &Found) -> Snap {
        let stretch = self.graph.stretches[found.stretch];
        let line = &self.graph.points[stretch.first as usize..=stretch.last as usize];
        let length_of = |pair: &[(i32, i32)]| crate::graph::metres_between(point(pair[0]), point(pair[1]));
        let length: f64 = line.windows(2).map(length_of).sum();
        let before: f64 = line[..=found.segment].windows(2).map(length_of).sum();
        let along = before + found.share * length_of(&line[found.segment..=found.segment + 1]);
        let (a, b) = (point(line[found.segment]), point(line[found.segment + 1]));
        let between = |a: f64, b: f64| a + (b - a) * found.share;
        let on_road = Place::new(between(a.latitude(), b.latitude()), between(a.longitude(), b.longitude()));
        Snap {
            stretch: u32::try_from(found.stretch).expect("counted in 32 bits"),
            along: along.min(length),
            length: length.max(f64::MIN_POSITIVE),
            place,
            on_road: on_road.expect("between two points of the earth"),
            off_road: found.off_road,
            road: self.graph.names[stretch.name as usize].clone(),
            business: stretch.business,
            soft: stretch.soft,
            main: stretch.main,
        }
    }

    fn arcs_over(&self, stretch: u32) -> &[Arc] {
        let stretch = stretch as usize;
        &self.graph.arcs[self.graph.arcs_of[stretch] as usize..self.graph.arcs_of[stretch + 1] as usize]
    }

    /// How one leaves the stretch a place lies on.
    fn outward(&self, snap: &Snap) -> Vec<Gate> {
        let leave = |arc: &Arc| {
            let share = if arc.backward { snap.along / snap.length } else { 1.0 - snap.along / snap.length };
            let tenths = whole(f64::from(arc.drive) * share).saturating_add(arc.held);
            (arc.to, Sum { weight: tenths, tenths, metres: whole(snap.length * share) })
        };
        self.arcs_over(snap.stretch).iter().map(leave).collect()
    }

    /// How one comes to the place from the ends of its stretch.
    fn inward(&self, snap: &Snap) -> Vec<Gate> {
        let come = |arc: &Arc| {
            let share = if arc.backward { 1.0 - snap.along / snap.length } else { snap.along / snap.length };
            let tenths = whole(f64::from(arc.drive) * share);
            (arc.from, Sum { weight: tenths.saturating_add(arc.entry), tenths, metres: whole(snap.length * share) })
        };
        self.arcs_over(snap.stretch).iter().map(come).collect()
    }

    /// The way along one stretch, when both places lie on it and it may be driven that way round.
    fn along(&self, from: &Snap, to: &Snap) -> Option<Sum> {
        if from.stretch != to.stretch {
            return None;
        }
        let share = (to.along - from.along).abs() / from.length;
        let backward = to.along < from.along;
        let arc = self.arcs_over(from.stretch).iter().find(|arc| arc.backward == backward || share == 0.0)?;
        let tenths = whole(f64::from(arc.drive) * share);
        Some(Sum { weight: tenths, tenths, metres: whole(from.length * share) })
    }

    /// Time and length between all places, row by row, door to door; `None` for a place on no road or where no way leads.
    pub fn table(&self, snaps: &[Option<Snap>]) -> Vec<Option<RoadSum>> {
        let gates = |of: &dyn Fn(&Snap) -> Vec<Gate>| -> Vec<Vec<Gate>> {
            snaps.iter().map(|snap| snap.as_ref().map(of).unwrap_or_default()).collect()
        };
        let sources = gates(&|snap| self.outward(snap));
        let targets = gates(&|snap| self.inward(snap));
        let mut table: Vec<Option<RoadSum>> = Vec::with_capacity(snaps.len() * snaps.len());
        let found = self.hierarchy.many(&sources, &targets);
        for (from, row) in snaps.iter().zip(found.chunks(snaps.len().max(1))) {
            for (to, found) in snaps.iter().zip(row) {
                table.push(from.as_ref().zip(to.as_ref()).and_then(|(from, to)| {
                    let sum = least(*found, self.along(from, to))?;
                    Some(door_to_door(sum, from, to))
                }));
            }
        }
        table
    }

    /// The way from one place to another, road by road.
    pub fn way(&self, from: &Snap, to: &Snap) -> Option<Way> {
        let over = self.hierarchy.way(&self.outward(from), &self.inward(to));
        let direct = self.along(from, to);
        let sum = least(over.as_ref().map(|(sum, _)| *sum), direct)?;
        let mut legs = Vec::new();
        if from.off_road > 0.0 {
            legs.push(off_road_leg(from.off_road));
        }
        if direct.is_some_and(|direct| over.as_ref().is_none_or(|(over, _)| direct.weight <= over.weight)) {
            self.add_leg(&mut legs, from.stretch, sum.tenths, f64::from(sum.metres), false);
        } else if let Some((_, nodes)) = over {
            self.add_legs(&mut legs, from, to, &nodes);
        }
        if to.off_road > 0.0 {
            legs.push(off_road_leg(to.off_road));
        }
        Some(Way { sum: door_to_door(sum, from, to), legs })
    }

    fn add_legs(&self, legs: &mut Vec<Leg>, from: &Snap, to: &Snap, nodes: &[u32]) {
        let (start, end) = (nodes[0], nodes[nodes.len() - 1]);
        let least_at = |gates: Vec<Gate>, node: u32| {
            gates
                .into_iter()
                .filter(|(at, _)| *at == node)
                .map(|(_, sum)| sum)
                .min_by_key(|sum| sum.weight)
                .unwrap_or_default()
        };
        let first = least_at(self.outward(from), start);
        let gate = self.arcs_over(from.stretch).iter().any(|arc| arc.to == start && arc.gate);
        self.add_leg(legs, from.stretch, first.tenths, f64::from(first.metres), gate);
        let pairs: BTreeSet<(u32, u32)> = nodes.windows(2).map(|pair| (pair[0], pair[1])).collect();
        let mut taken: BTreeMap<(u32, u32), &Arc> = BTreeMap::new();
        for arc in self.graph.arcs.iter().filter(|arc| pairs.contains(&(arc.from, arc.to))) {
            let known = taken.entry((arc.from, arc.to)).or_insert(arc);
            let rank = |arc: &Arc| (arc.weight(), arc.tenths(), self.graph.stretches[arc.stretch as usize].metres);
            if rank(arc) < rank(known) {
                *known = arc;
            }
        }
        for pair in nodes.windows(2) {
            if let Some(arc) = taken.get(&(pair[0], pair[1])) {
                let metres = self.graph.stretches[arc.stretch as usize].metres;
                self.add_leg(legs, arc.stretch, arc.tenths(), f64::from(metres), arc.gate);
            }
        }
        let last = least_at(self.inward(to), end);
        self.add_leg(legs, to.stretch, last.tenths, f64::from(last.metres), false);
    }

    fn add_leg(&self, legs: &mut Vec<Leg>, stretch: u32, tenths: u32, metres: f64, gate: bool) {
        let stretch = self.graph.stretches[stretch as usize];
        let road = &self.graph.names[stretch.name as usize];
        if legs.last().is_none_or(|leg| leg.off_road || leg.road != *road || leg.ferry != stretch.ferry) {
            legs.push(Leg { road: road.clone(), ferry: stretch.ferry, ..Leg::default() });
        }
        let leg = legs.last_mut().expect("one was just put there");
        leg.tenths = leg.tenths.saturating_add(tenths);
        leg.metres += metres;
        leg.gates += u32::from(gate);
        leg.business += if stretch.business { metres } else { 0.0 };
        leg.soft += if stretch.soft { metres } else { 0.0 };
    }
}

#[derive(Clone, Copy)]
struct Found {
    stretch: usize,
    segment: usize,
    share: f64,
    off_road: f64,
    main: bool,
}

fn point((lat, lon): (i32, i32)) -> crate::extract::Point {
    crate::extract::Point { lat, lon }
}

fn least(one: Option<Sum>, other: Option<Sum>) -> Option<Sum> {
    match (one, other) {
        (Some(one), Some(other)) => Some(if other.weight <= one.weight { other } else { one }),
        (one, other) => one.or(other),
    }
}

fn door_to_door(sum: Sum, from: &Snap, to: &Snap) -> RoadSum {
    let off_road = from.off_road + to.off_road;
    RoadSum {
        tenths: sum.tenths.saturating_add(whole(off_road * OFF_ROAD_TENTHS_PER_METRE)),
        metres: sum.metres.saturating_add(whole(off_road)),
    }
}

fn off_road_leg(metres: f64) -> Leg {
    Leg {
        road: "off the road".to_owned(),
        tenths: whole(metres * OFF_ROAD_TENTHS_PER_METRE),
        metres,
        off_road: true,
        ..Leg::default()
    }
}

/// The nearest point of a line to a place, when nearer than `most`: metres, segment, share of the segment.
fn nearest(place: Place, line: &[(i32, i32)], most: f64) -> Option<(f64, usize, f64)> {
    let (north, east) = metres_of_degree(place.latitude());
    let flat = |&(lat, lon): &(i32, i32)| {
        let mut across = f64::from(lon) * 1e-7 - place.longitude();
        if across > 180.0 {
            across -= 360.0;
        } else if across < -180.0 {
            across += 360.0;
        }
        (across * east, (f64::from(lat) * 1e-7 - place.latitude()) * north)
    };
    let mut best: Option<(f64, usize, f64)> = None;
    let mut before = flat(&line[0]);
    for (segment, after) in line[1..].iter().map(flat).enumerate() {
        let (dx, dy) = (after.0 - before.0, after.1 - before.1);
        let squared = dx * dx + dy * dy;
        let share = if squared > 0.0 { (-(before.0 * dx + before.1 * dy) / squared).clamp(0.0, 1.0) } else { 0.0 };
        let off = (before.0 + share * dx).hypot(before.1 + share * dy);
        if off < best.map_or(most, |(off, ..)| off) {
            best = Some((off, segment, share));
        }
        before = after;
    }
    best
}
