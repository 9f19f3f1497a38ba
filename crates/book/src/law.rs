//! Which entries stand, once corrections and settlements are followed.
//!
//! All of it depends on the set of entries alone. Where two entries speak of the same thing, the later by clock, then
//! device, then name counts ([`Entry::precedence`]); the other stays visible.
//!
//! - A correction replaces what another entry told, or strikes it out. A correction of a correction changes that
//!   correction; striking one out brings back what it had replaced.
//! - A correction of an entry that has not arrived waits. Corrections that run in a circle, or that would put a
//!   correction in place of something, change nothing and are listed.
//! - Two tallies of one visit are a [`Conflict`]: neither counts until a settlement names them.

use std::collections::{BTreeMap, BTreeSet};

use jiff::Timestamp;
use jiff::civil::Date;
use outyard_base::{DeviceId, YardId};

use crate::entry::{Entry, EntryId};
use crate::fact::{Fact, Tally};
use crate::wire;

/// A fact that stands.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Standing<'a> {
    /// The entry that first told it.
    pub entry: &'a Entry,
    /// The entry whose words stand: the same, or its last correction.
    pub told_by: &'a Entry,
    /// What is told.
    pub fact: &'a Fact,
}

impl Standing<'_> {
    /// The day it happened, by the words that stand.
    pub fn happened_on(&self) -> Date {
        self.told_by.happened_on
    }
}

/// An entry with more than one correction alive: one stands, the others stay visible.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Contested {
    /// The entry corrected.
    pub of: EntryId,
    /// The correction that stands.
    pub stands: EntryId,
    /// The corrections that do not, in order of their names.
    pub overruled: Vec<EntryId>,
}

/// Several tallies of one visit. None of them counts; if some were settled, what was agreed counts.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Conflict {
    /// The yard of the first tally.
    pub yard: YardId,
    /// The day of the first tally.
    pub on: Date,
    /// The tallies that do not count, in order of their names.
    pub tallies: Vec<EntryId>,
    /// Settlements these tallies disagree with: what those agreed counts meanwhile.
    pub settled_before: Vec<EntryId>,
}

/// A settlement that counts.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Settlement {
    /// The entry that settles.
    pub entry: EntryId,
    /// The tallies it replaces.
    pub tallies: Vec<EntryId>,
    /// Settlements of the same tallies it overrules, in order of their names.
    pub overruled: Vec<EntryId>,
}

/// Something that happened and counts, in its place in time.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Happening<'a> {
    /// The day, at the yard.
    pub on: Date,
    /// When it was first written down; orders the happenings of a day.
    pub at: Timestamp,
    /// The device it was first written on.
    pub device: &'a DeviceId,
    /// The entry that first told it.
    pub entry: &'a Entry,
    /// What happened.
    pub what: What<'a>,
}

/// What happened: a fact, or a tally that counts (closed at a visit, or agreed in a settlement).
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum What<'a> {
    /// Any fact but a tally, a correction or a settlement.
    Fact(&'a Fact),
    /// A tally that counts.
    Tally(&'a Tally),
}

/// What stands of a set of entries.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Stands<'a> {
    /// All that happened and counts: by day, then by clock, device and name of the first telling.
    pub happenings: Vec<Happening<'a>>,
    /// The tallies that do not count, by entry, with the day they are told for.
    pub doubtful: BTreeMap<EntryId, (Date, &'a Tally)>,
    /// Visits with several tallies, unsettled.
    pub conflicts: Vec<Conflict>,
    /// Settlements that count.
    pub settlements: Vec<Settlement>,
    /// Entries with more than one correction alive.
    pub contested: Vec<Contested>,
    /// Entries struck out.
    pub struck: Vec<EntryId>,
    /// Corrections of entries that have not arrived.
    pub awaiting: Vec<EntryId>,
    /// Corrections that run in a circle or would put a correction in place of something: they change nothing.
    pub idle: Vec<EntryId>,
    /// Entries whose fact a newer program wrote and this one does not know.
    pub unread: Vec<EntryId>,
    /// Names under which entries with different content arrived: one of them was taken, the same on every device.
    pub same_name: Vec<EntryId>,
    /// Entries in the set.
    pub entries: usize,
}

/// Follows corrections and settlements.
pub fn stand<'a>(entries: impl IntoIterator<Item = &'a Entry>) -> Stands<'a> {
    let mut stands = Stands::default();
    let by_id = as_set(entries, &mut stands.same_name);
    stands.entries = by_id.0.len();
    let standing = follow_corrections(&by_id, &mut stands);
    settle(&by_id, &standing, &mut stands);
    stands.happenings.sort_by(|left, right| {
        (left.on, left.at, left.device, left.entry.id).cmp(&(right.on, right.at, right.device, right.entry.id))
    });
    stands
}

/// One entry per name, in the order of names. A sorted list: entries come nearly in that order, as names begin with the
/// moment of writing, and few are ever looked up.
struct ById<'a>(Vec<(EntryId, &'a Entry)>);

impl<'a> ById<'a> {
    fn get(&self, id: &EntryId) -> Option<&'a Entry> {
        self.0.binary_search_by_key(id, |(id, _)| *id).ok().map(|at| self.0[at].1)
    }

    fn values(&self) -> impl Iterator<Item = &'a Entry> + '_ {
        self.0.iter().map(|(_, entry)| *entry)
    }
}

/// One entry per name. Should two entries share a name, the later counts, and of two alike in time the one whose line
/// sorts last, so that every device takes the same.
fn as_set<'a>(entries: impl IntoIterator<Item = &'a Entry>, same_name: &mut Vec<EntryId>) -> ById<'a> {
    let mut all: Vec<(EntryId, &Entry)> = entries.into_iter().map(|entry| (entry.id, entry)).collect();
    all.sort_by_key(|(id, _)| *id);
    let mut once: Vec<(EntryId, &Entry)> = Vec::with_capacity(all.len());
    for (id, entry) in all {
        let Some((_, known)) = once.last_mut().filter(|(known, _)| *known == id) else {
            once.push((id, entry));
            continue;
        };
        if *known != entry {
            if same_name.last() != Some(&id) {
                same_name.push(id);
            }
            let later = entry
                .precedence()
                .cmp(&known.precedence())
                .then_with(|| wire::write_line(entry).cmp(&wire::write_line(known)));
            if later.is_gt() {
                *known = entry;
            }
        }
    }
    ById(once)
}

/// What is left of an entry after its own corrections.
#[derive(Clone, Copy)]
enum Left<'a> {
    /// It tells this, in the words of this entry. `None`, for a correction only: "strike it out".
    Alive(Option<&'a Fact>, &'a Entry),
    /// It was struck out.
    Struck,
}

fn own_telling(entry: &Entry) -> Left<'_> {
    match &entry.fact {
        Fact::Correction { instead, .. } => Left::Alive(instead.as_deref(), entry),
        fact => Left::Alive(Some(fact), entry),
    }
}

fn follow_corrections<'a>(by_id: &ById<'a>, stands: &mut Stands<'a>) -> Vec<Standing<'a>> {
    let mut corrections: BTreeMap<EntryId, Vec<&Entry>> = BTreeMap::new();
    for entry in by_id.values() {
        if let Fact::Correction { of, instead } = &entry.fact {
            if matches!(instead.as_deref(), Some(Fact::Correction { .. })) {
                stands.idle.push(entry.id);
            } else if by_id.get(of).is_some() {
                corrections.entry(*of).or_default().push(entry);
            } else {
                stands.awaiting.push(entry.id);
            }
        }
    }
    let mut standing = Vec::with_capacity(by_id.0.len());
    let mut reached = 0;
    for root in by_id.values().filter(|entry| !matches!(entry.fact, Fact::Correction { .. })) {
        let left = if !corrections.is_empty() && corrections.contains_key(&root.id) {
            resolve(root, &corrections, &mut reached, &mut stands.contested)
        } else {
            own_telling(root)
        };
        match left {
            Left::Alive(Some(fact), told_by) => standing.push(Standing { entry: root, told_by, fact }),
            Left::Alive(None, _) | Left::Struck => stands.struck.push(root.id),
        }
    }
    // A correction reached from no first telling hangs on one that waits or changes nothing, or runs in a circle.
    if corrections.values().map(Vec::len).sum::<usize>() > reached {
        list_circles(by_id, stands);
    }
    stands.contested.sort_by_key(|contested| contested.of);
    standing
}

/// Works out what is left of `root`, leaves first: a chain of corrections may be long, so no call nests.
fn resolve<'a>(
    root: &'a Entry,
    corrections: &BTreeMap<EntryId, Vec<&'a Entry>>,
    reached: &mut usize,
    contested: &mut Vec<Contested>,
) -> Left<'a> {
    let mut order = vec![root];
    let mut next = 0;
    while let Some(&entry) = order.get(next) {
        order.extend(corrections.get(&entry.id).into_iter().flatten().copied());
        next += 1;
    }
    *reached += order.len() - 1;
    let mut left: BTreeMap<EntryId, Left<'a>> = BTreeMap::new();
    for entry in order.into_iter().rev() {
        let mut alive: Vec<(&Entry, Option<&'a Fact>, &'a Entry)> = corrections
            .get(&entry.id)
            .into_iter()
            .flatten()
            .filter_map(|correction| match left.get(&correction.id) {
                Some(Left::Alive(instead, told_by)) => Some((*correction, *instead, *told_by)),
                _ => None,
            })
            .collect();
        alive.sort_by(|left, right| left.0.precedence().cmp(&right.0.precedence()));
        let now = match alive.pop() {
            None => own_telling(entry),
            Some((winner, instead, told_by)) => {
                if !alive.is_empty() {
                    let mut overruled: Vec<EntryId> = alive.iter().map(|(correction, ..)| correction.id).collect();
                    overruled.sort_unstable();
                    contested.push(Contested { of: entry.id, stands: winner.id, overruled });
                }
                instead.map_or(Left::Struck, |fact| Left::Alive(Some(fact), told_by))
            }
        };
        left.insert(entry.id, now);
    }
    left[&root.id]
}

/// Lists the corrections that run in a circle, and those hanging on them.
fn list_circles(by_id: &ById<'_>, stands: &mut Stands<'_>) {
    let ends: BTreeSet<EntryId> = stands.idle.iter().chain(&stands.awaiting).copied().collect();
    // 0 unknown, 1 on the path now, 2 comes to an end, 3 circles.
    let mut verdict: BTreeMap<EntryId, u8> = BTreeMap::new();
    for &(start, _) in &by_id.0 {
        let mut path = Vec::new();
        let mut at = start;
        let found = loop {
            match verdict.get(&at) {
                Some(1) => break 3,
                Some(&known) => break known,
                None => {}
            }
            match by_id.get(&at).map(|entry| &entry.fact) {
                Some(Fact::Correction { of, .. }) if !ends.contains(&at) => {
                    verdict.insert(at, 1);
                    path.push(at);
                    at = *of;
                }
                _ => break 2,
            }
        };
        for id in path {
            verdict.insert(id, found);
        }
    }
    stands.idle.extend(verdict.iter().filter(|(_, verdict)| **verdict == 3).map(|(id, _)| *id));
    stands.idle.sort_unstable();
}

/// A tally that may be one of several of its visit.
struct Told<'a> {
    standing: Standing<'a>,
    tally: &'a Tally,
    settled: bool,
}

fn settle<'a>(by_id: &ById<'a>, standing: &[Standing<'a>], stands: &mut Stands<'a>) {
    let mut told = Vec::new();
    let claimed = choose_settlements(standing, stands);
    for &one in standing {
        match one.fact {
            Fact::VisitClosed(tally) if !claimed.contains(&one.entry.id) => {
                told.push(Told { standing: one, tally, settled: false });
            }
            Fact::Settled { agreed, .. }
                if stands.settlements.binary_search_by_key(&one.entry.id, |settlement| settlement.entry).is_ok() =>
            {
                told.extend(agreed.iter().map(|tally| Told { standing: one, tally, settled: true }));
            }
            Fact::VisitClosed(_) | Fact::Settled { .. } => {}
            Fact::Unknown { .. } => stands.unread.push(one.entry.id),
            fact => stands.happenings.push(Happening {
                on: one.happened_on(),
                at: one.entry.recorded_at,
                device: &one.entry.device,
                entry: one.entry,
                what: What::Fact(fact),
            }),
        }
    }
    let groups = same_visits(&told);
    for &at in &groups.alone {
        stands.happenings.push(tally_happening(by_id, &told[at]));
    }
    for members in groups.together {
        let unsettled: Vec<&Told<'a>> = members.iter().map(|&at| &told[at]).filter(|told| !told.settled).collect();
        let doubtful = !unsettled.is_empty() && members.len() > 1;
        for told in members.iter().map(|&at| &told[at]).filter(|told| told.settled || !doubtful) {
            stands.happenings.push(tally_happening(by_id, told));
        }
        if doubtful {
            stands
                .conflicts
                .push(conflict(&unsettled, members.iter().map(|&at| &told[at]).filter(|told| told.settled)));
            for told in unsettled {
                stands.doubtful.insert(told.standing.entry.id, (told.standing.happened_on(), told.tally));
            }
        }
    }
    stands.conflicts.sort_by(|left, right| (left.on, &left.tallies).cmp(&(right.on, &right.tallies)));
}

/// The settlements that count, later before earlier: one that names a tally a later one names does not. Returns the
/// tallies they name.
fn choose_settlements(standing: &[Standing<'_>], stands: &mut Stands<'_>) -> BTreeSet<EntryId> {
    let mut all: Vec<(&Standing<'_>, &Vec<EntryId>)> = standing
        .iter()
        .filter_map(|one| match one.fact {
            Fact::Settled { tallies, .. } => Some((one, tallies)),
            _ => None,
        })
        .collect();
    all.sort_by(|left, right| {
        right
            .0
            .told_by
            .precedence()
            .cmp(&left.0.told_by.precedence())
            .then_with(|| right.0.entry.id.cmp(&left.0.entry.id))
    });
    let mut claims: BTreeMap<EntryId, usize> = BTreeMap::new();
    for (one, tallies) in all {
        if let Some(&winner) = tallies.iter().find_map(|tally| claims.get(tally)) {
            stands.settlements[winner].overruled.push(one.entry.id);
            continue;
        }
        let place = stands.settlements.len();
        claims.extend(tallies.iter().map(|tally| (*tally, place)));
        let named: BTreeSet<EntryId> = tallies.iter().copied().collect();
        stands.settlements.push(Settlement {
            entry: one.entry.id,
            tallies: named.into_iter().collect(),
            overruled: Vec::new(),
        });
    }
    for settlement in &mut stands.settlements {
        settlement.overruled.sort_unstable();
    }
    stands.settlements.sort_by_key(|settlement| settlement.entry);
    claims.into_keys().collect()
}

/// An agreed tally takes the place in time of the first tally it replaces, so that a count made after the visit stays
/// after it however late the visit is settled.
fn tally_happening<'a>(by_id: &ById<'a>, told: &Told<'a>) -> Happening<'a> {
    let own = told.standing.entry;
    let first = match told.standing.fact {
        Fact::Settled { tallies, .. } => tallies
            .iter()
            .filter_map(|tally| by_id.get(tally))
            .min_by(|left, right| left.precedence().cmp(&right.precedence()))
            .unwrap_or(own),
        _ => own,
    };
    Happening {
        on: told.standing.happened_on(),
        at: first.recorded_at,
        device: &first.device,
        entry: own,
        what: What::Tally(told.tally),
    }
}

fn conflict<'t, 'a: 't>(unsettled: &[&Told<'a>], settled: impl Iterator<Item = &'t Told<'a>>) -> Conflict {
    let mut tallies: Vec<EntryId> = unsettled.iter().map(|told| told.standing.entry.id).collect();
    tallies.sort_unstable();
    let first = unsettled
        .iter()
        .min_by_key(|told| (told.standing.happened_on(), told.standing.entry.id))
        .expect("a conflict has at least one unsettled tally");
    let settled_before: BTreeSet<EntryId> = settled.map(|told| told.standing.entry.id).collect();
    Conflict {
        yard: first.tally.yard.clone(),
        on: first.standing.happened_on(),
        tallies,
        settled_before: settled_before.into_iter().collect(),
    }
}

/// Groups tallies of one visit: those with the same visit key, and those of one yard and day that share a job (or all
/// name none) and come from different devices, unless both name a visit and not the same one.
fn same_visits(told: &[Told<'_>]) -> Lists {
    let mut groups = Groups::new(told.len());
    let mut by_visit: Vec<(&str, usize)> = Vec::new();
    let mut by_job: Vec<(Date, &YardId, Option<&str>, usize)> = Vec::with_capacity(told.len());
    for (at, one) in told.iter().enumerate() {
        by_visit.extend(one.tally.visit.as_deref().map(|visit| (visit, at)));
        let (day, yard, first) = (one.standing.happened_on(), &one.tally.yard, by_job.len());
        for job in &one.tally.jobs {
            let job = Some(job.job.as_str());
            if by_job[first..].iter().all(|(_, _, known, _)| *known != job) {
                by_job.push((day, yard, job, at));
            }
        }
        if by_job.len() == first {
            by_job.push((day, yard, None, at));
        }
    }
    by_visit.sort_unstable();
    for same in by_visit.chunk_by(|left, right| left.0 == right.0) {
        for (_, at) in same {
            groups.join(same[0].1, *at);
        }
    }
    by_job.sort_unstable();
    for same in by_job.chunk_by(|left, right| (left.0, left.1, left.2) == (right.0, right.1, right.2)) {
        if same.len() > 1 {
            let bucket: Vec<usize> = same.iter().map(|(.., at)| *at).collect();
            join_bucket(told, &bucket, &mut groups);
        }
    }
    groups.into_lists()
}

/// Joins the tallies of one yard, day and job. Of two that both name a visit nothing is said here; any other two are
/// of one visit when their devices differ. An agreed tally differs from every device.
fn join_bucket(told: &[Told<'_>], bucket: &[usize], groups: &mut Groups) {
    let device = |at: usize| (!told[at].settled).then_some(&told[at].standing.entry.device);
    let keyless: Vec<usize> = bucket.iter().copied().filter(|&at| told[at].tally.visit.is_none()).collect();
    let Some(&first) = keyless.first() else { return };
    let one_device = keyless.iter().all(|&at| device(at).is_some() && device(at) == device(first));
    let joined: Vec<usize> = if one_device {
        bucket.iter().copied().filter(|&at| device(at) != device(first)).collect()
    } else {
        bucket.to_vec()
    };
    if !joined.is_empty() {
        for &at in joined.iter().chain(&keyless) {
            groups.join(first, at);
        }
    }
}

/// Disjoint groups, joined two by two (Tarjan 1975, with path halving; the lower index leads, so the outcome does not
/// hang on the order of joining).
pub(crate) struct Groups(Vec<usize>);

impl Groups {
    pub(crate) fn new(size: usize) -> Self {
        Self((0..size).collect())
    }

    pub(crate) fn lead(&mut self, mut at: usize) -> usize {
        while self.0[at] != at {
            self.0[at] = self.0[self.0[at]];
            at = self.0[at];
        }
        at
    }

    pub(crate) fn join(&mut self, left: usize, right: usize) {
        let (left, right) = (self.lead(left), self.lead(right));
        self.0[left.max(right)] = left.min(right);
    }

    /// Sorts out those that stand alone, which nearly all do, from those that stand together.
    fn into_lists(mut self) -> Lists {
        let mut sizes = vec![0_u32; self.0.len()];
        for at in 0..self.0.len() {
            sizes[self.lead(at)] += 1;
        }
        let mut lists = Lists::default();
        let mut together: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
        for at in 0..self.0.len() {
            let lead = self.lead(at);
            if sizes[lead] == 1 {
                lists.alone.push(at);
            } else {
                together.entry(lead).or_default().push(at);
            }
        }
        lists.together = together.into_values().collect();
        lists
    }
}

/// Groups as lists of their members.
#[derive(Default)]
struct Lists {
    /// Members of groups of one.
    alone: Vec<usize>,
    /// Groups of several.
    together: Vec<Vec<usize>>,
}
