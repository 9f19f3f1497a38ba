//! From an extract to a graph of stretches (roads between two junctions, with their line) and arcs (one way over one).
//!
//! The extract is read twice: for the ways a truck can use and the turns it may not make, then for the points of these
//! ways. Junctions, ends, gates and fords become nodes. A bollard ends the road on both sides of it. A turn that is
//! forbidden at a point gives each way of arriving there a node of its own, from which only the allowed arcs leave; so
//! the search knows nothing of turns. Forbidden turns by way of a third road (`via` a way) are counted and left out.
//!
//! | symbol | name in code | meaning | unit | value | source |
//! |---|---|---|---|---|---|
//! | - | `POINTS_MOST` | most points of all usable roads | - | 150 million | assumed |
//! | - | `GAP_MOST` | most between two points of a road that is no ferry; more is a fault of the map | m | 50,000 | assumed |
//! | - | `MAIN_SHARE` | least share of the largest net of roads that still counts as a net to live on | - | 0.05 | assumed |
//! | a, e² | `RADIUS`, `FLATTENING_2` | ellipsoid WGS 84 | m, - | 6,378,137; 0.006694380 | \[nga-wgs84\] |

use std::collections::BTreeMap;

use outyard_base::{Note, Place, Trouble};
use serde::{Deserialize, Serialize};

use crate::extract::{Extract, Fault, Kind, Member, Point, Sink};
use crate::rules::{FERRY_WAIT, LAST_STRETCH, NodeRule, Tags, Truck, WayRule, node_rule, way_rule};

/// Most points of all usable roads: 150 million (assumed).
const POINTS_MOST: usize = 150_000_000;
/// Most forbidden turns: 5 million (assumed).
const TURNS_MOST: usize = 5_000_000;
/// Most between two points of a road, 50,000 m (assumed).
const GAP_MOST: f64 = 50_000.0;
/// Least share of the largest net that still counts: 0.05 (assumed).
const MAIN_SHARE: f64 = 0.05;
/// Radius at the equator, m.
const RADIUS: f64 = 6_378_137.0;
/// Square of the first eccentricity.
const FLATTENING_2: f64 = 0.006_694_379_990_14;

/// One road between two nodes of the graph.
#[expect(clippy::struct_excessive_bools, reason = "each is a plain yes or no of the map")]
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub(crate) struct Stretch {
    /// Its line: `points[first..=last]`.
    pub(crate) first: u32,
    pub(crate) last: u32,
    pub(crate) metres: u32,
    pub(crate) name: u32,
    pub(crate) business: bool,
    pub(crate) soft: bool,
    pub(crate) ferry: bool,
    /// Part of a net large enough to live on.
    pub(crate) main: bool,
}

/// One way over a stretch.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub(crate) struct Arc {
    pub(crate) stretch: u32,
    pub(crate) backward: bool,
    pub(crate) from: u32,
    pub(crate) to: u32,
    /// Driving, tenths of a second.
    pub(crate) drive: u32,
    /// What holds up at its end (a gate), tenths of a second.
    pub(crate) held: u32,
    /// What stands at its end is a gate.
    pub(crate) gate: bool,
    /// What entering counts for beyond time.
    pub(crate) entry: u32,
}

impl Arc {
    /// Time over the whole arc, tenths of a second.
    pub(crate) fn tenths(&self) -> u32 {
        self.drive.saturating_add(self.held)
    }

    /// What the search adds up. At least one, since the hierarchy knows no arc for nothing.
    pub(crate) fn weight(&self) -> u32 {
        self.tenths().saturating_add(self.entry).max(1)
    }
}

/// Roads a truck can use.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub(crate) struct Graph {
    pub(crate) nodes: u32,
    pub(crate) points: Vec<(i32, i32)>,
    pub(crate) stretches: Vec<Stretch>,
    /// Sorted by stretch.
    pub(crate) arcs: Vec<Arc>,
    /// `arcs[arcs_of[s]..arcs_of[s + 1]]` go over stretch `s`.
    pub(crate) arcs_of: Vec<u32>,
    pub(crate) names: Vec<String>,
    pub(crate) counts: Counts,
}

/// What was met on the way from the extract to the graph.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Counts {
    /// Roads a truck can use, as ways of the map.
    pub ways: u64,
    /// Points of these roads that the extract does not hold: cut off at its edge.
    pub missing_points: u64,
    /// Jumps between two points too far apart to be a road.
    pub jumps: u64,
    /// Gates met.
    pub gates: u64,
    /// Forbidden turns honoured.
    pub turns: u64,
    /// Forbidden turns by way of a third road: not honoured.
    pub turns_left_out: u64,
    /// Ferries.
    pub ferries: u64,
}

/// Metres between two points near each other: on the ellipsoid's own radii at their middle. Off by less than a
/// millionth within some kilometres; past 10 km the geodesic is taken.
pub(crate) fn metres_between(a: Point, b: Point) -> f64 {
    let (north, east) = metres_of_degree(f64::midpoint(a.latitude(), b.latitude()));
    let mut across = (b.longitude() - a.longitude()).abs();
    if across > 180.0 {
        across = 360.0 - across;
    }
    let short = (north * (b.latitude() - a.latitude())).hypot(east * across);
    if short < 10_000.0 {
        return short;
    }
    let place = |point: Point| Place::new(point.latitude(), point.longitude()).expect("a point is on the earth");
    place(a).distance_to(place(b)).get()
}

/// Metres of one degree to the north and to the east.
pub(crate) fn metres_of_degree(latitude: f64) -> (f64, f64) {
    let (sine, cosine) = latitude.to_radians().sin_cos();
    let root = (1.0 - FLATTENING_2 * sine * sine).sqrt();
    let across = RADIUS / root;
    let along = RADIUS * (1.0 - FLATTENING_2) / (root * root * root);
    (along.to_radians(), (across * cosine).to_radians())
}

struct KeptWay {
    id: i64,
    rule: WayRule,
    first_ref: usize,
    refs: usize,
}

/// A turn that is forbidden, or the only one allowed, at a point.
struct Turn {
    from: i64,
    at: i64,
    to: i64,
    only: bool,
}

/// First reading: ways and turns.
struct Ways {
    truck: Truck,
    kept: Vec<KeptWay>,
    refs: Vec<i64>,
    turns: Vec<Turn>,
    turns_left_out: u64,
}

impl Sink for Ways {
    fn wants(&self, kind: Kind) -> bool {
        kind != Kind::Node
    }

    fn node(&mut self, _: i64, _: Option<Point>, _: Tags<'_>) -> Result<(), Fault> {
        Ok(())
    }

    fn way(&mut self, id: i64, nodes: &[i64], tags: Tags<'_>) -> Result<(), Fault> {
        if nodes.len() < 2 {
            return Ok(());
        }
        let Some(rule) = way_rule(tags, self.truck) else { return Ok(()) };
        if self.refs.len() + nodes.len() > POINTS_MOST {
            return Err(Fault::TooLarge(format!("roads of more than {POINTS_MOST} points")));
        }
        self.kept.push(KeptWay { id, rule, first_ref: self.refs.len(), refs: nodes.len() });
        self.refs.extend_from_slice(nodes);
        Ok(())
    }

    fn relation(&mut self, members: &[Member<'_>], tags: Tags<'_>) -> Result<(), Fault> {
        let tag = |key: &str| tags.iter().find(|(known, _)| *known == key).map(|(_, value)| *value);
        if tag("type") != Some("restriction") {
            return Ok(());
        }
        let Some(turn) = tag("restriction:hgv").or_else(|| tag("restriction")) else { return Ok(()) };
        let spared = tag("except")
            .is_some_and(|who| who.split(';').any(|who| matches!(who.trim(), "hgv" | "goods" | "motor_vehicle")));
        let only = turn.starts_with("only_");
        if spared || !(only || turn.starts_with("no_")) {
            return Ok(());
        }
        let all = |role: &str| members.iter().filter(|member| member.role == role).collect::<Vec<_>>();
        let (from, via, to) = (all("from"), all("via"), all("to"));
        if via.len() != 1 || via[0].kind != Kind::Node || from.is_empty() || to.is_empty() {
            self.turns_left_out += 1;
            return Ok(());
        }
        for from in from.iter().filter(|member| member.kind == Kind::Way) {
            for to in to.iter().filter(|member| member.kind == Kind::Way) {
                if self.turns.len() == TURNS_MOST {
                    return Err(Fault::TooLarge(format!("more than {TURNS_MOST} forbidden turns")));
                }
                self.turns.push(Turn { from: from.id, at: via[0].id, to: to.id, only });
            }
        }
        Ok(())
    }
}

/// Second reading: the points of the kept ways.
struct Points<'a> {
    truck: Truck,
    ids: &'a [i64],
    at: Vec<Option<Point>>,
    rules: BTreeMap<usize, NodeRule>,
}

impl Sink for Points<'_> {
    fn wants(&self, kind: Kind) -> bool {
        kind == Kind::Node
    }

    fn node(&mut self, id: i64, at: Option<Point>, tags: Tags<'_>) -> Result<(), Fault> {
        let Ok(index) = self.ids.binary_search(&id) else { return Ok(()) };
        self.at[index] = at;
        if let Some(rule) = node_rule(tags, self.truck) {
            self.rules.insert(index, rule);
        }
        Ok(())
    }

    fn way(&mut self, _: i64, _: &[i64], _: Tags<'_>) -> Result<(), Fault> {
        Ok(())
    }

    fn relation(&mut self, _: &[Member<'_>], _: Tags<'_>) -> Result<(), Fault> {
        Ok(())
    }
}

const NO_NODE: u32 = u32::MAX;

impl Graph {
    /// Reads an extract for a truck.
    ///
    /// # Errors
    /// `ROD-010` to `ROD-014` for an extract that cannot be read, `ROD-015` for one with no road for the truck.
    pub(crate) fn read(extract: &Extract, truck: Truck) -> Result<Self, Trouble> {
        let name = extract.name();
        let mut ways = Ways { truck, kept: Vec::new(), refs: Vec::new(), turns: Vec::new(), turns_left_out: 0 };
        extract.tell(&mut ways).map_err(|fault| fault.trouble(&name))?;
        let mut ids = ways.refs.clone();
        ids.sort_unstable();
        ids.dedup();
        let mut points = Points { truck, at: vec![None; ids.len()], ids: &ids, rules: BTreeMap::new() };
        extract.tell(&mut points).map_err(|fault| fault.trouble(&name))?;
        let Points { at, rules, .. } = points;
        let graph = Builder::new(&ids, &at, &rules, &ways).build(&ways);
        if graph.arcs.is_empty() {
            return Err(Trouble::new(
                "ROD-015",
                "the extract holds no road the truck can use",
                "see that the extract covers home and the yards, and that the truck's height and weight in outfit.toml are right",
            )
            .at(outyard_base::trouble::Spot::file(name)));
        }
        Ok(graph)
    }

    /// What is worth knowing about it.
    pub(crate) fn notes(&self) -> Vec<Note> {
        let mut notes = Vec::new();
        let counts = self.counts;
        if counts.missing_points > 0 {
            notes.push(Note::new(
                "ROD-102",
                format!("{} points of roads are not in the extract; the roads end there", counts.missing_points),
            ));
        }
        if counts.jumps > 0 {
            notes.push(Note::new(
                "ROD-102",
                format!("{} roads jump farther than 50 km between two points; they end there", counts.jumps),
            ));
        }
        if counts.turns_left_out > 0 {
            notes.push(Note::new(
                "ROD-107",
                format!("{} forbidden turns over a third road are not heeded", counts.turns_left_out),
            ));
        }
        notes
    }
}

/// A graph in the making.
struct Builder<'a> {
    ids: &'a [i64],
    at: &'a [Option<Point>],
    rules: &'a BTreeMap<usize, NodeRule>,
    /// Index into `ids` by reference of the kept ways.
    refs: Vec<u32>,
    /// More than one road, or an end, or a gate stands there.
    junction: Vec<bool>,
    /// Node of the graph by index into `ids`.
    node_of: Vec<u32>,
    way_of: Vec<i64>,
    names: BTreeMap<String, u32>,
    graph: Graph,
}

impl<'a> Builder<'a> {
    fn new(ids: &'a [i64], at: &'a [Option<Point>], rules: &'a BTreeMap<usize, NodeRule>, ways: &Ways) -> Self {
        let index = |id: &i64| u32::try_from(ids.binary_search(id).expect("made of these")).expect("bounded above");
        let refs: Vec<u32> = ways.refs.iter().map(index).collect();
        let mut junction = vec![false; ids.len()];
        let mut seen = vec![false; ids.len()];
        for way in &ways.kept {
            let own = &refs[way.first_ref..way.first_ref + way.refs];
            for &point in own {
                let point = point as usize;
                junction[point] |= core::mem::replace(&mut seen[point], true);
            }
            junction[own[0] as usize] = true;
            junction[own[own.len() - 1] as usize] = true;
        }
        for &index in rules.keys() {
            junction[index] = true;
        }
        Self {
            ids,
            at,
            rules,
            refs,
            junction,
            node_of: vec![NO_NODE; ids.len()],
            way_of: Vec::new(),
            names: BTreeMap::new(),
            graph: Graph::default(),
        }
    }

    fn build(mut self, ways: &Ways) -> Graph {
        self.graph.counts.turns_left_out = ways.turns_left_out;
        for way in &ways.kept {
            self.graph.counts.ways += 1;
            self.graph.counts.ferries += u64::from(way.rule.ferry);
            self.add_way(way);
        }
        self.graph.counts.gates = self.rules.values().filter(|rule| rule.gate).count() as u64;
        self.guard_entries();
        self.forbid_turns(&ways.turns);
        let Self { mut graph, names, .. } = self;
        graph.names = vec![String::new(); names.len()];
        for (name, index) in names {
            graph.names[index as usize] = name;
        }
        graph.arcs.sort_by_key(|arc| (arc.stretch, arc.backward, arc.from, arc.to));
        graph.arcs_of = first_of(graph.stretches.len(), graph.arcs.iter().map(|arc| arc.stretch as usize));
        graph.mark_main();
        graph
    }

    fn node(&mut self, index: u32) -> u32 {
        let known = self.node_of[index as usize];
        if known != NO_NODE {
            return known;
        }
        let fresh = self.fresh_node();
        // Whoever stops at a bollard stops on his own side of it.
        if !self.rules.get(&(index as usize)).is_some_and(|rule| rule.shut) {
            self.node_of[index as usize] = fresh;
        }
        fresh
    }

    fn fresh_node(&mut self) -> u32 {
        self.graph.nodes += 1;
        self.graph.nodes - 1
    }

    fn add_way(&mut self, way: &KeptWay) {
        let refs: Vec<u32> = self.refs[way.first_ref..way.first_ref + way.refs].to_vec();
        // Where the line breaks off, a piece ends.
        let mut pieces: Vec<Vec<(u32, Point)>> = vec![Vec::new()];
        for index in refs {
            let piece = pieces.last_mut().expect("one at least");
            let Some(point) = self.at[index as usize] else {
                self.graph.counts.missing_points += 1;
                pieces.push(Vec::new());
                continue;
            };
            if let Some((last, before)) = piece.last() {
                if *last == index {
                    continue;
                }
                if !way.rule.ferry && metres_between(*before, point) > GAP_MOST {
                    self.graph.counts.jumps += 1;
                    pieces.push(vec![(index, point)]);
                    continue;
                }
            }
            piece.push((index, point));
        }
        let whole: f64 =
            pieces.iter().flat_map(|piece| piece.windows(2)).map(|pair| metres_between(pair[0].1, pair[1].1)).sum();
        // A ferry's time is for all of it: waiting counts once, at its first stretch either way.
        let per_metre = match (way.rule.ferry, way.rule.crossing) {
            (true, Some(crossing)) => f64::from(crossing) / whole.max(1.0),
            _ => 36.0 / way.rule.speed,
        };
        for piece in pieces.iter().filter(|piece| piece.len() > 1) {
            let mut start = 0;
            for end in 1..piece.len() {
                if end + 1 == piece.len() || self.junction[piece[end].0 as usize] {
                    self.add_stretch(way, &piece[start..=end], per_metre);
                    start = end;
                }
            }
        }
    }

    fn add_stretch(&mut self, way: &KeptWay, line: &[(u32, Point)], per_metre: f64) {
        if line.len() > 2 && line[0].0 == line[line.len() - 1].0 {
            // A road that comes back to where it began: two stretches, since the search knows no loop.
            let middle = line.len() / 2;
            self.add_stretch(way, &line[..=middle], per_metre);
            self.add_stretch(way, &line[middle..], per_metre);
            return;
        }
        let (from, to) = (self.node(line[0].0), self.node(line[line.len() - 1].0));
        if from == to {
            return;
        }
        let metres: f64 = line.windows(2).map(|pair| metres_between(pair[0].1, pair[1].1)).sum();
        let next_name = u32::try_from(self.names.len()).expect("fewer names than points");
        let name = *self.names.entry(way.rule.name.clone()).or_insert(next_name);
        let whole = |number: f64| {
            #[expect(
                clippy::cast_possible_truncation,
                clippy::cast_sign_loss,
                reason = "saturates, and is not negative"
            )]
            let whole = number.round() as u32;
            whole
        };
        let stretch = u32::try_from(self.graph.stretches.len()).expect("fewer stretches than points");
        let first = u32::try_from(self.graph.points.len()).expect("bounded above");
        self.graph.points.extend(line.iter().map(|(_, point)| (point.lat, point.lon)));
        let last = u32::try_from(self.graph.points.len() - 1).expect("bounded above");
        let rule = &way.rule;
        self.graph.stretches.push(Stretch {
            first,
            last,
            metres: whole(metres),
            name,
            business: rule.business,
            soft: rule.soft,
            ferry: rule.ferry,
            main: false,
        });
        self.way_of.push(way.id);
        let drive = whole(metres * per_metre).max(1);
        let rule_at = |index: u32| self.rules.get(&(index as usize)).copied().unwrap_or_default();
        for (wanted, backward, from, to, end) in [
            (rule.forward, false, from, to, rule_at(line[line.len() - 1].0)),
            (rule.backward, true, to, from, rule_at(line[0].0)),
        ] {
            if wanted {
                let entry = if end.business { LAST_STRETCH } else { 0 };
                self.graph.arcs.push(Arc { stretch, backward, from, to, drive, held: end.held, gate: end.gate, entry });
            }
        }
    }

    /// What must be paid beyond driving when one passes from the open net onto land with conditions, or onto a ferry.
    fn guard_entries(&mut self) {
        let nodes = self.graph.nodes as usize;
        let (mut open, mut ashore) = (vec![false; nodes], vec![false; nodes]);
        for arc in &self.graph.arcs {
            let stretch = self.graph.stretches[arc.stretch as usize];
            for node in [arc.from as usize, arc.to as usize] {
                open[node] |= !stretch.business;
                ashore[node] |= !stretch.ferry;
            }
        }
        for arc in &mut self.graph.arcs {
            let stretch = self.graph.stretches[arc.stretch as usize];
            if stretch.business && open[arc.from as usize] {
                arc.entry = arc.entry.saturating_add(LAST_STRETCH);
            }
            if stretch.ferry && ashore[arc.from as usize] {
                arc.drive = arc.drive.saturating_add(FERRY_WAIT);
            }
        }
    }

    fn forbid_turns(&mut self, turns: &[Turn]) {
        if turns.is_empty() {
            return;
        }
        let nodes = self.graph.nodes as usize;
        let by = |end: fn(&Arc) -> u32, arcs: &[Arc]| {
            let mut order: Vec<u32> = (0..u32::try_from(arcs.len()).expect("bounded above")).collect();
            order.sort_by_key(|&arc| end(&arcs[arc as usize]));
            let first = first_of(nodes, order.iter().map(|&arc| end(&arcs[arc as usize]) as usize));
            (order, first)
        };
        let (arriving, first_arriving) = by(|arc| arc.to, &self.graph.arcs);
        let (leaving, first_leaving) = by(|arc| arc.from, &self.graph.arcs);
        let way_of = core::mem::take(&mut self.way_of);
        let way = |arc: u32, graph: &Graph| way_of[graph.arcs[arc as usize].stretch as usize];
        // By arriving arc: forbidden ways, and the ways one of which must be taken.
        let mut told: BTreeMap<u32, (Vec<i64>, Vec<i64>)> = BTreeMap::new();
        for turn in turns {
            let Ok(index) = self.ids.binary_search(&turn.at) else { continue };
            let node = self.node_of[index];
            if node == NO_NODE {
                continue;
            }
            let node = node as usize;
            let outs = &leaving[first_leaving[node] as usize..first_leaving[node + 1] as usize];
            // A turn onto a road that is not here tells nothing.
            if !outs.iter().any(|&out| way(out, &self.graph) == turn.to) {
                continue;
            }
            let ins = &arriving[first_arriving[node] as usize..first_arriving[node + 1] as usize];
            let mut heeded = false;
            for &arc in ins.iter().filter(|&&arc| way(arc, &self.graph) == turn.from) {
                let (no, only) = told.entry(arc).or_default();
                if turn.only {
                    only.push(turn.to);
                } else {
                    no.push(turn.to);
                }
                heeded = true;
            }
            self.graph.counts.turns += u64::from(heeded);
        }
        // Each of these arcs ends at a node of its own. First all ends, then what leaves the new nodes.
        let mut own: Vec<(u32, u32, u32)> = Vec::new();
        for &arc in told.keys() {
            let old = self.graph.arcs[arc as usize].to;
            let fresh = self.fresh_node();
            own.push((arc, old, fresh));
        }
        for &(arc, _, fresh) in &own {
            self.graph.arcs[arc as usize].to = fresh;
        }
        for (arc, old, fresh) in own {
            let (no, only) = &told[&arc];
            let old = old as usize;
            for &out in &leaving[first_leaving[old] as usize..first_leaving[old + 1] as usize] {
                let onto = way(out, &self.graph);
                if !no.contains(&onto) && (only.is_empty() || only.contains(&onto)) {
                    let copy = Arc { from: fresh, ..self.graph.arcs[out as usize] };
                    self.graph.arcs.push(copy);
                }
            }
        }
    }
}

/// Where each of `count` groups begins in a list sorted by group; one more at the end.
pub(crate) fn first_of(count: usize, groups: impl Iterator<Item = usize>) -> Vec<u32> {
    let mut first = vec![0_u32; count + 1];
    for group in groups {
        first[group + 1] += 1;
    }
    for group in 0..count {
        first[group + 1] += first[group];
    }
    first
}

impl Graph {
    /// Marks the stretches of nets in which every place can be reached from every other and that are large enough.
    fn mark_main(&mut self) {
        let nets = self.nets();
        let mut size = vec![0_u64; self.nodes as usize];
        for arc in &self.arcs {
            if nets[arc.from as usize] == nets[arc.to as usize] {
                size[nets[arc.from as usize] as usize] += 1;
            }
        }
        #[expect(clippy::cast_precision_loss, reason = "a share of a count")]
        let least = size.iter().max().map_or(0.0, |most| *most as f64 * MAIN_SHARE);
        for arc in &self.arcs {
            let net = nets[arc.from as usize];
            #[expect(clippy::cast_precision_loss, reason = "a count of arcs")]
            let large = size[net as usize] > 0 && size[net as usize] as f64 >= least;
            if net == nets[arc.to as usize] && large {
                self.stretches[arc.stretch as usize].main = true;
            }
        }
    }

    /// Strongly connected components (Tarjan 1972, without recursion): a number for each node.
    fn nets(&self) -> Vec<u32> {
        let nodes = self.nodes as usize;
        let mut order: Vec<u32> = (0..u32::try_from(self.arcs.len()).expect("bounded above")).collect();
        order.sort_by_key(|&arc| self.arcs[arc as usize].from);
        let first = first_of(nodes, order.iter().map(|&arc| self.arcs[arc as usize].from as usize));
        let mut seen = vec![0_u32; nodes];
        let mut low = vec![0_u32; nodes];
        let mut net = vec![NO_NODE; nodes];
        let (mut clock, mut nets) = (0_u32, 0_u32);
        let mut kept: Vec<u32> = Vec::new();
        let mut path: Vec<(u32, u32)> = Vec::new();
        for root in 0..self.nodes {
            if seen[root as usize] != 0 {
                continue;
            }
            path.push((root, first[root as usize]));
            while let Some((node, next)) = path.last_mut() {
                let at = *node as usize;
                if seen[at] == 0 {
                    clock += 1;
                    (seen[at], low[at]) = (clock, clock);
                    kept.push(*node);
                }
                if *next < first[at + 1] {
                    let to = self.arcs[order[*next as usize] as usize].to;
                    *next += 1;
                    if seen[to as usize] == 0 {
                        path.push((to, first[to as usize]));
                    } else if net[to as usize] == NO_NODE {
                        low[at] = low[at].min(seen[to as usize]);
                    }
                    continue;
                }
                if low[at] == seen[at] {
                    while let Some(member) = kept.pop() {
                        net[member as usize] = nets;
                        if member as usize == at {
                            break;
                        }
                    }
                    nets += 1;
                }
                path.pop();
                if let Some((above, _)) = path.last() {
                    let above = *above as usize;
                    low[above] = low[above].min(low[at]);
                }
            }
        }
        net
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// WGS 84: a degree along a meridian is 110,574.3 m at the equator and 111,694 m at the pole; along the equator 111,319.5 m
    /// (the last as in the reference of `Place`).
    #[test]
    fn a_degree_has_its_length() {
        let (north, east) = metres_of_degree(0.0);
        assert!((north - 110_574.28).abs() < 0.1 && (east - 111_319.491).abs() < 0.01);
        assert!((metres_of_degree(90.0).0 - 111_693.98).abs() < 0.1);
    }

    #[test]
    fn short_distances_agree_with_the_geodesic() {
        for (lat, lon, up, right) in [(49.9, 11.4, 0.03, 0.05), (-38.0, 179.99, 0.02, 0.03), (68.0, -20.0, 0.01, 0.1)] {
            let right = if lon + right > 180.0 { right - 360.0 } else { right };
            let (a, b) = (Point::of(lat, lon).unwrap(), Point::of(lat + up, lon + right).unwrap());
            let place = |point: Point| Place::new(point.latitude(), point.longitude()).unwrap();
            let exact = place(a).distance_to(place(b)).get();
            assert!((metres_between(a, b) / exact - 1.0).abs() < 1e-5, "{} against {exact}", metres_between(a, b));
        }
    }
}
