//! The kept fold: what a book comes to up to a day, so that a book of twenty years opens without being read again.
//!
//! It is a convenience and never believed against the entries. A page is turned at a day, the *cut*: everything that
//! happened before is summed up ([`Kept`]), everything since is folded anew from its entries each time ([`Kept::carry_on`]).
//! The outcome is, field by field, what [`crate::outfit::fold_by`] makes of the whole set; where that cannot be promised the
//! answer is `None`, and the whole set is folded.
//!
//! What could reach over the cut, and why it does not:
//! - *Something told late* of a day before the cut, in doubt or not: seen by its day, and refused.
//! - *A correction, a settlement, a visit key or a run key* that names something summed up: [`Names`] holds every name
//!   of what was summed up and every name that was mentioned there; [`Kept::is_touched_by`] holds new entries against it.
//! - *Corrections of corrections* hang on what they correct: they are summed up with it, or not at all.
//! - *A visit in doubt, a trip that is not home, a run or a settlement over several days*: the cut is moved back before it.
//! - *Entries that wait, run in a circle or cannot be read* are never summed up.
//!
//! | symbol | name in code | meaning | unit | value | source |
//! |---|---|---|---|---|---|
//! | n | `names` | names and keys summed up | names | - | counted |
//! | p | - | chance that a name is taken for one of them by mistake: n / 2^64; then the whole set is folded | of 1 | 2e-13 at 4 million | birthday bound |

use std::collections::{BTreeMap, BTreeSet};

use jiff::civil::Date;

use crate::entry::{Entry, EntryId};
use crate::fact::{Fact, Tally};
use crate::law::{Stands, stand};
use crate::ledger::{Carried, days_of_trips};
use crate::outfit::{FoldRules, Outfit, fold_on, listed_from};

/// What a book comes to up to a day.
#[derive(Clone, Debug, PartialEq)]
pub struct Kept {
    pub(crate) cut: Date,
    /// Last day an entry summed up was told for, before it was corrected: of an earlier morning it must not be asked.
    pub(crate) told_until: Date,
    pub(crate) rules: FoldRules,
    /// Everything before the cut, with nothing listed.
    pub(crate) outfit: Outfit,
    pub(crate) carried: Carried,
}

/// Names and keys of everything summed up, each as a number of 64 bits, in order.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Names(Vec<u64>);

impl Names {
    /// No names.
    pub const NONE: Self = Self(Vec::new());

    /// How many.
    pub fn len(&self) -> usize {
        self.0.len()
    }

    /// True when there are none.
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    fn holds(&self, name: u64) -> bool {
        self.0.binary_search(&name).is_ok()
    }

    fn with(mut self, more: Vec<u64>) -> Self {
        self.0.extend(more);
        self.0.sort_unstable();
        self.0.dedup();
        self
    }

    /// As bytes, for keeping.
    pub fn to_bytes(&self) -> Vec<u8> {
        self.0.iter().flat_map(|name| name.to_le_bytes()).collect()
    }

    /// Names that were kept; `None` when these bytes are none.
    pub fn from_bytes(bytes: &[u8]) -> Option<Self> {
        let (names, rest) = bytes.as_chunks::<8>();
        let names: Vec<u64> = names.iter().map(|name| u64::from_le_bytes(*name)).collect();
        (rest.is_empty() && names.is_sorted()).then_some(Self(names))
    }
}

/// A name as a number: its last eight bytes are drawn at random, the first carry the moment.
fn of_id(id: EntryId) -> u64 {
    let (halves, _) = id.as_bytes().as_chunks::<8>();
    u64::from_be_bytes(halves[0]).rotate_left(29) ^ u64::from_be_bytes(halves[1])
}

/// A key as a number (Fowler, Noll and Vo, FNV-1a of 64 bits).
fn of_key(sort: u8, key: &str) -> u64 {
    key.bytes().fold(0xcbf2_9ce4_8422_2325 ^ u64::from(sort), |hash, byte| {
        (hash ^ u64::from(byte)).wrapping_mul(0x0000_0100_0000_01b3)
    })
}

fn keys_of_tally(tally: &Tally) -> impl Iterator<Item = u64> {
    let visit = tally.visit.as_deref().map(|key| of_key(b'v', key));
    visit.into_iter().chain(tally.run.as_deref().map(|key| of_key(b'r', key)))
}

/// The keys and names a fact mentions.
fn mentions(fact: &Fact) -> Vec<u64> {
    match fact {
        Fact::VisitClosed(tally) => keys_of_tally(tally).collect(),
        Fact::TruckLoaded { run, .. } | Fact::TruckHome { run, .. } => {
            run.as_deref().map(|key| of_key(b'r', key)).into_iter().collect()
        }
        Fact::Settled { tallies, agreed } => {
            tallies.iter().copied().map(of_id).chain(agreed.iter().flat_map(keys_of_tally)).collect()
        }
        Fact::Correction { of, instead } => {
            let mut all = instead.as_deref().map(mentions).unwrap_or_default();
            all.push(of_id(*of));
            all
        }
        _ => Vec::new(),
    }
}

/// What turning a page gives.
#[derive(Clone, Debug)]
pub struct Turned {
    /// What everything before the page comes to.
    pub kept: Kept,
    /// Its names.
    pub names: Names,
    /// The entries that were summed up by this turn; the others stay open.
    pub summed_up: BTreeSet<EntryId>,
}

impl Kept {
    /// Everything before this day is summed up.
    pub const fn cut(&self) -> Date {
        self.cut
    }

    /// The rules by which it was folded.
    pub const fn rules(&self) -> &FoldRules {
        &self.rules
    }

    /// True when it can be asked of this morning by these rules: nothing that was summed up is told for a later day.
    pub fn answers(&self, rules: &FoldRules, morning: Date) -> bool {
        self.rules == *rules && self.told_until <= morning
    }

    /// True when new entries may reach what was summed up.
    pub fn is_touched_by<'a>(names: &Names, new: impl IntoIterator<Item = &'a Entry>) -> bool {
        new.into_iter().any(|entry| {
            names.holds(of_id(entry.id)) || mentions(&entry.fact).into_iter().any(|mentioned| names.holds(mentioned))
        })
    }

    /// The outfit as it stands, from what was summed up and all entries that were not; `None` when the whole set must be
    /// folded. The entries must not touch what was summed up.
    pub fn carry_on<'a>(&self, open: impl IntoIterator<Item = &'a Entry>) -> Option<Outfit> {
        let stands = stand(open);
        let from = self.lists_from(&stands)?;
        Some(fold_on(self.outfit.clone(), self.carried.clone(), stands, Some(from), &self.rules.turns))
    }

    /// The day from which lists go, when what is open can be carried on from here.
    fn lists_from(&self, stands: &Stands<'_>) -> Option<Date> {
        let from = listed_from(stands, self.rules.listed_least)?;
        let first = stands.happenings.first()?.on;
        let in_doubt = stands.doubtful.values().map(|(day, _)| *day).min();
        let late = first < self.cut || in_doubt.is_some_and(|day| day < self.cut);
        (!late && stands.same_name.is_empty()).then_some(from)
    }

    /// Turns a page: sums up what can be of the open entries, so that at least `open_least` happenings stay open. `None`
    /// when nothing can be summed up.
    pub fn turn(
        before: Option<(Self, Names)>,
        open: &[&Entry],
        rules: &FoldRules,
        open_least: usize,
    ) -> Option<Turned> {
        let stands = stand(open.iter().copied());
        if !stands.same_name.is_empty() {
            return None;
        }
        if let Some((kept, _)) = &before {
            kept.lists_from(&stands)?;
        }
        let after = stands.happenings.len().checked_sub(open_least.max(rules.listed_least + 1))?;
        let wished = stands.happenings.get(after)?.on;
        let days = Days::of(open, &stands);
        let cut = days.cut_at_or_before(wished, open, &stands);
        if stands.happenings.first().is_none_or(|first| first.on >= cut) {
            return None;
        }
        let summed_up: BTreeSet<EntryId> = open
            .iter()
            .filter(|entry| days.0.get(&entry.id).is_some_and(|day| *day < cut))
            .map(|entry| entry.id)
            .collect();
        let mut names = Vec::new();
        let mut told_until = before.as_ref().map_or(Date::MIN, |(kept, _)| kept.told_until);
        for entry in open.iter().filter(|entry| summed_up.contains(&entry.id)) {
            names.push(of_id(entry.id));
            names.extend(mentions(&entry.fact));
            told_until = told_until.max(entry.happened_on);
        }
        let (kept, known) = before.map_or_else(|| (Self::nothing(rules), Names::NONE), |(kept, names)| (kept, names));
        let closed = Stands {
            entries: summed_up.len(),
            happenings: stands.happenings.iter().filter(|one| one.on < cut).copied().collect(),
            settlements: stands.settlements.iter().filter(|one| summed_up.contains(&one.entry)).cloned().collect(),
            contested: stands.contested.iter().filter(|one| summed_up.contains(&one.of)).cloned().collect(),
            struck: stands.struck.iter().filter(|one| summed_up.contains(one)).copied().collect(),
            ..Stands::default()
        };
        let carried = Carried::sum_up(kept.carried, &closed);
        let mut outfit = fold_on(
            kept.outfit,
            Carried::default(),
            Stands { happenings: Vec::new(), ..closed.clone() },
            None,
            &rules.turns,
        );
        for happening in &closed.happenings {
            outfit.take_in(happening, &rules.turns, Date::MAX);
        }
        outfit.last_day = closed.happenings.last().map(|last| last.on).or(outfit.last_day);
        outfit.let_go_before(Date::MAX);
        let kept = Self { cut, told_until, rules: rules.clone(), outfit, carried };
        Some(Turned { kept, names: known.with(names), summed_up })
    }

    fn nothing(rules: &FoldRules) -> Self {
        Self {
            cut: Date::MIN,
            told_until: Date::MIN,
            rules: rules.clone(),
            outfit: Outfit::default(),
            carried: Carried::default(),
        }
    }
}

/// The day by which each entry that can be summed up belongs before or after a cut.
struct Days(BTreeMap<EntryId, Date>);

impl Days {
    fn of(open: &[&Entry], stands: &Stands<'_>) -> Self {
        let unread: BTreeSet<EntryId> = stands.unread.iter().copied().collect();
        let mut days: BTreeMap<EntryId, Date> = open
            .iter()
            .filter(|entry| !matches!(entry.fact, Fact::Correction { .. }) && !unread.contains(&entry.id))
            .map(|entry| (entry.id, entry.happened_on))
            .collect();
        for happening in &stands.happenings {
            days.insert(happening.entry.id, happening.on);
        }
        for (id, (day, _)) in &stands.doubtful {
            days.insert(*id, *day);
        }
        // A correction belongs to what was first told, however far it hangs from it.
        let corrects: BTreeMap<EntryId, EntryId> = open
            .iter()
            .filter_map(|entry| match &entry.fact {
                Fact::Correction { of, .. } => Some((entry.id, *of)),
                _ => None,
            })
            .collect();
        let idle: BTreeSet<EntryId> = stands.idle.iter().copied().collect();
        for &start in corrects.keys() {
            let (mut path, mut at) = (Vec::new(), start);
            while let Some(of) = corrects.get(&at).filter(|_| !days.contains_key(&at) && !idle.contains(&at)) {
                path.push(at);
                at = *of;
                if path.len() > corrects.len() {
                    break;
                }
            }
            if let Some(&day) = days.get(&at) {
                days.extend(path.into_iter().map(|id| (id, day)));
            }
        }
        Self(days)
    }

    /// The latest day not after the wished one at which nothing reaches over.
    fn cut_at_or_before(&self, wished: Date, open: &[&Entry], stands: &Stands<'_>) -> Date {
        let mut spans: Vec<(Date, Date)> = days_of_trips(stands);
        spans.extend(stands.conflicts.iter().flat_map(|conflict| {
            let days = conflict.tallies.iter().chain(&conflict.settled_before).filter_map(|id| self.0.get(id));
            days.map(|day| (*day, Date::MAX))
        }));
        let mut by_key: BTreeMap<u64, (Date, Date)> = BTreeMap::new();
        let mut span = |key: u64, day: Date| {
            let span = by_key.entry(key).or_insert((day, day));
            *span = (span.0.min(day), span.1.max(day));
        };
        // By every entry, those that do not count now among them: a strike struck out brings them back. What is never
        // summed up belongs to the last of days.
        for entry in open {
            let day = self.0.get(&entry.id).copied().unwrap_or(Date::MAX);
            span(of_id(entry.id), day);
            for mentioned in mentions(&entry.fact) {
                span(mentioned, day);
            }
        }
        spans.extend(by_key.into_values().filter(|(first, last)| first < last));
        spans.sort_unstable_by_key(|(_, last)| core::cmp::Reverse(*last));
        // From the latest end back: whoever reaches over the cut moves it to where it began; those that end later have
        // been asked already, and may reach over the new cut.
        let mut cut = wished;
        loop {
            let moved =
                spans.iter().filter(|(first, last)| *first < cut && cut <= *last).map(|(first, _)| *first).min();
            match moved {
                Some(first) => cut = first,
                None => return cut,
            }
        }
    }
}
