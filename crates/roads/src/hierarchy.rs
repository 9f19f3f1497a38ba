//! Shortest ways through a contraction hierarchy (Geisberger et al. 2008, [geisberger-ch]).
//!
//! `fast_paths` contracts the graph. What it made is taken over through its serde form, with nodes renumbered by rank,
//! so that it can be kept in a file, checked when read back, and searched from many places to many: each target leaves
//! its distance at the nodes above it, each source gathers them ([knopp-many]: buckets). For 60 yards that is 120 small
//! searches instead of 3,600.
//!
//! Beside the weight each arc carries tenths of a second and metres, so that a table needs no path.

use core::cmp::Reverse;
use std::collections::{BTreeMap, BinaryHeap};

use serde::{Deserialize, Serialize};

/// What a way adds up to.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(crate) struct Sum {
    /// What the search makes least: time, and what going through land with conditions counts for.
    pub(crate) weight: u32,
    /// Time, tenths of a second.
    pub(crate) tenths: u32,
    /// Length, metres.
    pub(crate) metres: u32,
}

impl Sum {
    pub(crate) fn and(self, other: Self) -> Self {
        Self {
            weight: self.weight.saturating_add(other.weight),
            tenths: self.tenths.saturating_add(other.tenths),
            metres: self.metres.saturating_add(other.metres),
        }
    }
}

/// An arc to contract.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Link {
    pub(crate) from: u32,
    pub(crate) to: u32,
    pub(crate) sum: Sum,
}

const NONE: u32 = u32::MAX;

/// An arc that leads upwards (from a node to one contracted later), or comes down from there.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
struct Up {
    /// Rank of the upper end.
    upper: u32,
    weight: u32,
    tenths: u32,
    metres: u32,
    /// A shortcut: the arc into the node below it, among `down`, and the one out of there, among `up`; else none.
    into: u32,
    out: u32,
}

impl Up {
    fn sum(&self) -> Sum {
        Sum { weight: self.weight, tenths: self.tenths, metres: self.metres }
    }
}

/// A contracted graph.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub(crate) struct Hierarchy {
    /// Rank by node.
    rank: Vec<u32>,
    /// Node by rank.
    node: Vec<u32>,
    /// Arcs out of a node to an upper one; those of rank `r` are `up[first_up[r]..first_up[r + 1]]`.
    up: Vec<Up>,
    first_up: Vec<u32>,
    /// Arcs into a node from an upper one.
    down: Vec<Up>,
    first_down: Vec<u32>,
}

/// The library's graph as serde writes it.
#[derive(Deserialize)]
struct Written {
    num_nodes: u64,
    ranks: Vec<u64>,
    edges_fwd: Vec<WrittenEdge>,
    first_edge_ids_fwd: Vec<u64>,
    edges_bwd: Vec<WrittenEdge>,
    first_edge_ids_bwd: Vec<u64>,
}

#[derive(Clone, Copy, Deserialize)]
struct WrittenEdge {
    base_node: u64,
    adj_node: u64,
    weight: u64,
    replaced_in_edge: u64,
    replaced_out_edge: u64,
}

/// Where a search begins or ends: a node and what it costs from the place to there.
pub(crate) type Gate = (u32, Sum);

impl Hierarchy {
    /// Contracts a graph of `nodes` nodes.
    pub(crate) fn new(nodes: u32, links: &[Link]) -> Self {
        let mut input = fast_paths::InputGraph::new();
        let mut best: BTreeMap<(u32, u32), Sum> = BTreeMap::new();
        for link in links.iter().filter(|link| link.from != link.to) {
            let known = best.entry((link.from, link.to)).or_insert(link.sum);
            if (link.sum.weight, link.sum.tenths, link.sum.metres) < (known.weight, known.tenths, known.metres) {
                *known = link.sum;
            }
        }
        for (&(from, to), sum) in &best {
            input.add_edge(from as usize, to as usize, sum.weight.max(1) as usize);
        }
        input.freeze();
        let contracted = fast_paths::prepare(&input);
        let bytes = postcard::to_allocvec(&contracted).expect("plain numbers can be written");
        drop(contracted);
        let written: Written = postcard::from_bytes(&bytes).expect("the library writes its own five lists");
        drop(bytes);
        Self::take_over(nodes, &written, &best)
    }

    fn take_over(nodes: u32, written: &Written, best: &BTreeMap<(u32, u32), Sum>) -> Self {
        let narrow = |number: u64| u32::try_from(number).unwrap_or(NONE);
        let known = narrow(written.num_nodes);
        // Nodes without any arc are not known to the library: they come last.
        let rank: Vec<u32> = written.ranks.iter().map(|&rank| narrow(rank)).chain(known..nodes).collect();
        let mut node = vec![0_u32; nodes as usize];
        for (at, &rank) in rank.iter().enumerate() {
            node[rank as usize] = u32::try_from(at).expect("as many as nodes");
        }
        let firsts = |firsts: &[u64]| -> Vec<u32> {
            let last = firsts.last().copied().unwrap_or(0);
            firsts.iter().copied().chain((known..nodes).map(|_| last)).map(narrow).collect()
        };
        let side = |edges: &[WrittenEdge], forward: bool| -> Vec<Up> {
            edges
                .iter()
                .map(|edge| {
                    let (base, adjacent) = (narrow(edge.base_node), narrow(edge.adj_node));
                    let ends = if forward { (base, adjacent) } else { (adjacent, base) };
                    let shortcut = edge.replaced_in_edge != u64::MAX;
                    let own = if shortcut { Sum::default() } else { best[&ends] };
                    Up {
                        upper: rank[adjacent as usize],
                        weight: narrow(edge.weight),
                        tenths: own.tenths,
                        metres: own.metres,
                        into: if shortcut { narrow(edge.replaced_in_edge) } else { NONE },
                        out: if shortcut { narrow(edge.replaced_out_edge) } else { NONE },
                    }
                })
                .collect()
        };
        let mut hierarchy = Self {
            up: side(&written.edges_fwd, true),
            first_up: firsts(&written.first_edge_ids_fwd),
            down: side(&written.edges_bwd, false),
            first_down: firsts(&written.first_edge_ids_bwd),
            rank,
            node,
        };
        hierarchy.sum_shortcuts();
        hierarchy
    }

    /// A shortcut takes what the two arcs below it take. Ranks ascend, so both are known.
    fn sum_shortcuts(&mut self) {
        for rank in 0..self.node.len() {
            for at in self.first_up[rank] as usize..self.first_up[rank + 1] as usize {
                let arc = self.up[at];
                if arc.into != NONE {
                    let below = self.down[arc.into as usize].sum().and(self.up[arc.out as usize].sum());
                    (self.up[at].tenths, self.up[at].metres) = (below.tenths, below.metres);
                }
            }
            for at in self.first_down[rank] as usize..self.first_down[rank + 1] as usize {
                let arc = self.down[at];
                if arc.into != NONE {
                    let below = self.down[arc.into as usize].sum().and(self.up[arc.out as usize].sum());
                    (self.down[at].tenths, self.down[at].metres) = (below.tenths, below.metres);
                }
            }
        }
    }

    /// How many nodes it has.
    pub(crate) fn nodes(&self) -> usize {
        self.node.len()
    }

    /// How many arcs, shortcuts among them.
    pub(crate) fn arcs(&self) -> usize {
        self.up.len() + self.down.len()
    }

    /// Whether it holds together: what was read from a file must not lead a search astray.
    pub(crate) fn is_sound(&self, nodes: u32) -> bool {
        let count = nodes as usize;
        let firsts = |first: &[u32], arcs: usize| {
            first.len() == count + 1
                && first[0] == 0
                && first[count] as usize == arcs
                && first.windows(2).all(|pair| pair[0] <= pair[1])
        };
        let inverse = self.rank.len() == count
            && self.node.len() == count
            && self
                .rank
                .iter()
                .enumerate()
                .all(|(node, &rank)| self.node.get(rank as usize).is_some_and(|&back| back as usize == node));
        if !inverse || !firsts(&self.first_up, self.up.len()) || !firsts(&self.first_down, self.down.len()) {
            return false;
        }
        (0..count).all(|rank| {
            let (ups, downs) = (self.first_up[rank], self.first_down[rank]);
            let sound = |arc: &Up| {
                let shortcut = arc.into != NONE;
                // What a shortcut stands for lies below, so unpacking ends.
                let below = if shortcut { arc.into < downs && arc.out < ups } else { arc.out == NONE };
                (arc.upper as usize) > rank && (arc.upper as usize) < count && below
            };
            self.up[ups as usize..self.first_up[rank + 1] as usize].iter().all(sound)
                && self.down[downs as usize..self.first_down[rank + 1] as usize].iter().all(sound)
        })
    }

    fn up_of(&self, rank: u32) -> core::ops::Range<usize> {
        self.first_up[rank as usize] as usize..self.first_up[rank as usize + 1] as usize
    }

    fn down_of(&self, rank: u32) -> core::ops::Range<usize> {
        self.first_down[rank as usize] as usize..self.first_down[rank as usize + 1] as usize
    }

    /// Searches upwards from some gates; `visit` sees each settled rank with its sum, the least way first.
    fn climb(&self, room: &mut Room, gates: &[Gate], forward: bool, mut visit: impl FnMut(u32, Sum)) {
        room.begin(self.nodes());
        for &(node, sum) in gates {
            room.reach(self.rank[node as usize], sum, NONE, NONE);
        }
        while let Some(Reverse((weight, rank))) = room.heap.pop() {
            if room.sum[rank as usize].weight != weight || room.settled[rank as usize] {
                continue;
            }
            room.settled[rank as usize] = true;
            let sum = room.sum[rank as usize];
            // A node that can be reached cheaper over an upper one lies on no shortest way (stall on demand).
            let (opposite, opposite_range) =
                if forward { (&self.down, self.down_of(rank)) } else { (&self.up, self.up_of(rank)) };
            let stalled = opposite[opposite_range].iter().any(|arc| {
                room.known(arc.upper) && room.sum[arc.upper as usize].weight.saturating_add(arc.weight) < weight
            });
            if stalled {
                continue;
            }
            visit(rank, sum);
            let (arcs, range) = if forward { (&self.up, self.up_of(rank)) } else { (&self.down, self.down_of(rank)) };
            for at in range {
                let arc = &arcs[at];
                room.reach(arc.upper, sum.and(arc.sum()), rank, u32::try_from(at).unwrap_or(NONE));
            }
        }
    }

    /// The least sums from each source to each target, row by row; `None` where no way leads.
    pub(crate) fn many(&self, sources: &[Vec<Gate>], targets: &[Vec<Gate>]) -> Vec<Option<Sum>> {
        let mut room = Room::default();
        let mut left: Vec<(u32, u32, Sum)> = Vec::new();
        for (target, gates) in targets.iter().enumerate() {
            let target = u32::try_from(target).expect("fewer targets than that");
            self.climb(&mut room, gates, false, |rank, sum| left.push((rank, target, sum)));
        }
        left.sort_unstable_by_key(|&(rank, target, _)| (rank, target));
        let first = crate::graph::first_of(self.nodes(), left.iter().map(|&(rank, ..)| rank as usize));
        let mut table = vec![None; sources.len() * targets.len()];
        for (row, gates) in table.chunks_mut(targets.len().max(1)).zip(sources) {
            self.climb(&mut room, gates, true, |rank, sum| {
                for &(_, target, rest) in &left[first[rank as usize] as usize..first[rank as usize + 1] as usize] {
                    let whole = sum.and(rest);
                    let best: &mut Option<Sum> = &mut row[target as usize];
                    if best.is_none_or(|best| whole.weight < best.weight) {
                        *best = Some(whole);
                    }
                }
            });
        }
        table
    }

    /// The least way from some gates to others: its sum and the nodes it goes through.
    pub(crate) fn way(&self, from: &[Gate], to: &[Gate]) -> Option<(Sum, Vec<u32>)> {
        let (mut below, mut above) = (Room::default(), Room::default());
        let mut reached: BTreeMap<u32, Sum> = BTreeMap::new();
        self.climb(&mut below, to, false, |rank, sum| {
            reached.insert(rank, sum);
        });
        let mut best: Option<(Sum, u32)> = None;
        self.climb(&mut above, from, true, |rank, sum| {
            if let Some(&rest) = reached.get(&rank) {
                let whole = sum.and(rest);
                if best.is_none_or(|(best, _)| whole.weight < best.weight) {
                    best = Some((whole, rank));
                }
            }
        });
        let (sum, top) = best?;
        let mut climbed = Vec::new();
        let mut rank = top;
        while above.arc[rank as usize] != NONE {
            climbed.push(above.arc[rank as usize]);
            rank = above.before[rank as usize];
        }
        let mut ranks = vec![rank];
        for &arc in climbed.iter().rev() {
            self.unpack(arc, true, rank, &mut ranks);
            rank = *ranks.last().expect("it began with one");
        }
        while below.arc[rank as usize] != NONE {
            let next = below.before[rank as usize];
            self.unpack(below.arc[rank as usize], false, next, &mut ranks);
            rank = next;
        }
        Some((sum, ranks.into_iter().map(|rank| self.node[rank as usize]).collect()))
    }

    /// Adds the ranks along an arc after its first one. `lower` is the arc's lower end.
    fn unpack(&self, arc: u32, forward: bool, lower: u32, ranks: &mut Vec<u32>) {
        let mut open = vec![(arc, forward, lower)];
        while let Some((at, forward, lower)) = open.pop() {
            let arc = if forward { self.up[at as usize] } else { self.down[at as usize] };
            if arc.into == NONE {
                ranks.push(if forward { arc.upper } else { lower });
                continue;
            }
            // Both arcs stand at the node between, which lies below.
            let middle = u32::try_from(self.first_up.partition_point(|&first| first <= arc.out) - 1).unwrap_or(NONE);
            open.push((arc.out, true, middle));
            open.push((arc.into, false, middle));
        }
    }
}

/// Room for a search, used again and cleaned only where it was touched.
#[derive(Default)]
struct Room {
    sum: Vec<Sum>,
    before: Vec<u32>,
    arc: Vec<u32>,
    settled: Vec<bool>,
    touched: Vec<u32>,
    heap: BinaryHeap<Reverse<(u32, u32)>>,
}

const FAR: Sum = Sum { weight: u32::MAX, tenths: u32::MAX, metres: u32::MAX };

impl Room {
    fn begin(&mut self, nodes: usize) {
        if self.sum.len() != nodes {
            self.sum = vec![FAR; nodes];
            self.before = vec![NONE; nodes];
            self.arc = vec![NONE; nodes];
            self.settled = vec![false; nodes];
            self.touched.clear();
        }
        for &rank in &self.touched {
            let rank = rank as usize;
            self.sum[rank] = FAR;
            (self.before[rank], self.arc[rank], self.settled[rank]) = (NONE, NONE, false);
        }
        self.touched.clear();
        self.heap.clear();
    }

    fn known(&self, rank: u32) -> bool {
        self.sum[rank as usize].weight != u32::MAX
    }

    fn reach(&mut self, rank: u32, sum: Sum, before: u32, arc: u32) {
        let at = rank as usize;
        if sum.weight < self.sum[at].weight {
            if self.sum[at].weight == u32::MAX {
                self.touched.push(rank);
            }
            (self.sum[at], self.before[at], self.arc[at]) = (sum, before, arc);
            self.heap.push(Reverse((sum.weight, rank)));
        }
    }
}
