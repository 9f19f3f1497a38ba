//! Opening a book: the outfit as it stands, from what was kept of an earlier fold when that can be, from every entry when
//! it cannot.
//!
//! What is kept names the set it was made of: the place in the book up to which it was read, and what the entries up to
//! there come to ([`SetSum`]). A store that does not come to the same at that place is another book, or an older copy: then
//! what is kept is let go. So it is when the program, the job book's put-downs or a byte of it changed, and when something
//! new reaches what it sums up ([`outyard_book::kept`]). Nothing of it is ever needed: lost, it is made again.
//!
//! | symbol | name in code | meaning | unit | value | source |
//! |---|---|---|---|---|---|
//! | o | `open_least` | happenings that stay open when a page is turned | happenings | 20,480 | assumed |
//! | t | `turn_at` | open entries from which a page is turned | entries | 49,152 | assumed |
//! | | `APART_MOST` | open entries that are asked for by name, because they arrived long ago | entries | 512 | assumed |

use std::collections::BTreeSet;

use jiff::civil::Date;
use outyard_book::kept::{Kept, Names, Turned};
use outyard_book::outfit::{FoldRules, fold_by};
use outyard_book::{ContentHash, Entry, EntryId, Outfit, SetSum, wire};

use crate::ports::{Cursor, Store, StoreError};

/// Open entries that are asked for by name (assumed).
const APART_MOST: usize = 512;
/// Entries read at a time.
const AT_A_TIME: usize = 4096;

/// Where what is kept of a fold lies. Losing it costs time and nothing else, so nothing here fails.
pub trait Shelf {
    /// What was put under this name.
    fn get(&mut self, name: &str) -> Option<Vec<u8>>;
    /// Puts it there instead of what was there.
    fn put(&mut self, name: &str, bytes: &[u8]);
}

/// Keeps nothing.
#[derive(Clone, Copy, Debug, Default)]
pub struct NoShelf;

impl Shelf for NoShelf {
    fn get(&mut self, _: &str) -> Option<Vec<u8>> {
        None
    }
    fn put(&mut self, _: &str, _: &[u8]) {}
}

/// Keeps it as long as the program lives.
#[derive(Clone, Debug, Default)]
pub struct MemoryShelf(pub std::collections::BTreeMap<String, Vec<u8>>);

impl Shelf for MemoryShelf {
    fn get(&mut self, name: &str) -> Option<Vec<u8>> {
        self.0.get(name).cloned()
    }
    fn put(&mut self, name: &str, bytes: &[u8]) {
        self.0.insert(name.to_owned(), bytes.to_vec());
    }
}

const FOLD: &str = "fold.kept";
const NAMES: &str = "fold.names";

/// When pages are turned.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct PageRules {
    /// Happenings that stay open.
    pub open_least: usize,
    /// Open entries from which a page is turned.
    pub turn_at: usize,
}

impl Default for PageRules {
    fn default() -> Self {
        Self { open_least: 20_480, turn_at: 49_152 }
    }
}

/// A book that was opened.
#[derive(Clone, Debug)]
pub struct Opened {
    /// The outfit as it stands.
    pub outfit: Outfit,
    /// Entries that were read for it.
    pub read: usize,
    /// True when it was carried on from what was kept.
    pub from_kept: bool,
}

/// A kept fold: of which set it is, and where the entries that are still open are to be found.
struct KeptFold {
    /// Place up to which the book was read.
    place: Cursor,
    /// What the entries up to there come to.
    sum: SetSum,
    /// Names of what is summed up, by the hash of their bytes.
    names: ContentHash,
    /// Open entries are read from here on.
    from: Cursor,
    /// Entries from there up to the place.
    count: usize,
    /// Of these, the ones summed up.
    summed_up: BTreeSet<EntryId>,
    /// Open entries that arrived before.
    apart: Vec<EntryId>,
    /// The morning on which the page was turned: entries told for later days were not looked at.
    morning: Date,
    kept: Kept,
}

impl KeptFold {
    /// As text: the hash of all that follows, the head's words one a line, and the fold.
    fn write(&self) -> Option<String> {
        let ids = |all: &mut dyn Iterator<Item = &EntryId>| all.map(EntryId::to_string).collect::<Vec<_>>().join(" ");
        let body = [
            self.place.0.to_string(),
            self.sum.entries.to_string(),
            ContentHash::from_bytes(self.sum.digest()).to_string(),
            self.names.to_string(),
            self.from.0.to_string(),
            self.count.to_string(),
            ids(&mut self.summed_up.iter()),
            ids(&mut self.apart.iter()),
            self.morning.to_string(),
            wire::write_kept(&self.kept)?,
        ]
        .join("\n");
        Some(format!("{}\n{body}", ContentHash::of(body.as_bytes())))
    }

    /// Reads it; `None` when a byte of it changed or another program wrote it.
    fn read(bytes: &[u8]) -> Option<Self> {
        let (hash, body) = str::from_utf8(bytes).ok()?.split_once('\n')?;
        if hash.parse::<ContentHash>().ok()? != ContentHash::of(body.as_bytes()) {
            return None;
        }
        let mut lines = body.splitn(10, '\n');
        let mut next = || lines.next();
        let ids = |text: &str| text.split_whitespace().map(str::parse).collect::<Result<Vec<EntryId>, _>>().ok();
        let place = Cursor(next()?.parse().ok()?);
        let (entries, digest): (u64, ContentHash) = (next()?.parse().ok()?, next()?.parse().ok()?);
        Some(Self {
            place,
            sum: SetSum::kept(entries, *digest.as_bytes()),
            names: next()?.parse().ok()?,
            from: Cursor(next()?.parse().ok()?),
            count: next()?.parse().ok()?,
            summed_up: ids(next()?)?.into_iter().collect(),
            apart: ids(next()?)?,
            morning: next()?.parse().ok()?,
            kept: wire::read_kept(next()?)?,
        })
    }

    /// Its names, when they are whole.
    fn names(&self, shelf: &mut impl Shelf) -> Option<Names> {
        let bytes = shelf.get(NAMES).filter(|bytes| ContentHash::of(bytes) == self.names)?;
        Names::from_bytes(&bytes)
    }
}

/// The entries that are open, in order of arrival.
struct Open {
    /// Those asked for by name, which arrived before the others.
    apart: Vec<Entry>,
    /// All others that were read, the ones summed up among them.
    arrived: Vec<Entry>,
    /// Of those, the ones summed up before.
    summed_up: BTreeSet<EntryId>,
    /// Places, and how many of the others were read up to there.
    marks: Vec<(Cursor, usize)>,
}

impl Open {
    async fn read<S: Store>(store: &mut S, from: Cursor) -> Result<Self, StoreError> {
        let mut open =
            Self { apart: Vec::new(), arrived: Vec::new(), summed_up: BTreeSet::new(), marks: vec![(from, 0)] };
        let mut after = from;
        loop {
            let page = store.read_since(after, AT_A_TIME).await?;
            open.arrived.extend(page.entries);
            after = page.next;
            open.marks.push((after, open.arrived.len()));
            if !page.more {
                return Ok(open);
            }
        }
    }

    /// The entries that are open on a morning.
    fn on(&self, morning: Date) -> impl Iterator<Item = &Entry> {
        let arrived =
            self.arrived.iter().filter(|entry| self.summed_up.is_empty() || !self.summed_up.contains(&entry.id));
        self.apart.iter().chain(arrived).filter(move |entry| entry.happened_on <= morning)
    }

    /// Sums up what can be, and puts it on the shelf.
    async fn turn_page<S: Store>(
        self,
        store: &mut S,
        shelf: &mut impl Shelf,
        before: Option<(Kept, Names)>,
        (rules, pages, morning): (&FoldRules, PageRules, Date),
    ) -> Result<(), StoreError> {
        let place = self.marks.last().map_or(Cursor::START, |(place, _)| *place);
        // Somebody may be appending: then this place is the end of no append, and the next opening does.
        let Some(sum) = store.sum_at(place).await? else { return Ok(()) };
        let open: Vec<&Entry> = self.on(morning).collect();
        let Some(Turned { kept, names, summed_up }) = Kept::turn(before, &open, rules, pages.open_least) else {
            return Ok(());
        };
        let closed = |entry: &Entry| summed_up.contains(&entry.id) || self.summed_up.contains(&entry.id);
        // From the last mark that leaves few open entries behind.
        let mut apart: Vec<EntryId> = self.apart.iter().filter(|entry| !closed(entry)).map(|entry| entry.id).collect();
        let (mut from, mut read) = self.marks[0];
        for &(mark, upto) in &self.marks[1..self.marks.len() - 1] {
            let behind: Vec<EntryId> =
                self.arrived[read..upto].iter().filter(|entry| !closed(entry)).map(|entry| entry.id).collect();
            if apart.len() + behind.len() > APART_MOST {
                break;
            }
            apart.extend(behind);
            (from, read) = (mark, upto);
        }
        let rest = &self.arrived[read..];
        let bytes = names.to_bytes();
        let fold = KeptFold {
            place,
            sum,
            names: ContentHash::of(&bytes),
            from,
            count: rest.len(),
            summed_up: rest.iter().filter(|entry| closed(entry)).map(|entry| entry.id).collect(),
            apart,
            morning,
            kept,
        };
        if let Some(text) = fold.write() {
            shelf.put(NAMES, &bytes);
            shelf.put(FOLD, text.as_bytes());
        }
        Ok(())
    }
}

/// Opens a book: the outfit on a morning, by these rules. Entries told for days after the morning are left out.
///
/// # Errors
/// The store's own.
pub async fn open_outfit<S: Store>(
    store: &mut S,
    shelf: &mut impl Shelf,
    rules: &FoldRules,
    pages: PageRules,
    morning: Date,
) -> Result<Opened, StoreError> {
    let fold = shelf.get(FOLD).as_deref().and_then(KeptFold::read);
    // Who stands at an earlier morning must not take away what serves today.
    let may_turn = fold.as_ref().is_none_or(|fold| fold.morning <= morning);
    if let Some(fold) = fold
        && may_turn
        && fold.kept.answers(rules, morning)
        && store.sum_at(fold.place).await? == Some(fold.sum)
        && let Some(opened) = carry_on(store, shelf, fold, pages, morning).await?
    {
        return Ok(opened);
    }
    let open = Open::read(store, Cursor::START).await?;
    let read = open.arrived.len();
    let outfit = fold_by(open.on(morning), rules);
    if may_turn && read >= pages.turn_at {
        open.turn_page(store, shelf, None, (rules, pages, morning)).await?;
    }
    Ok(Opened { outfit, read, from_kept: false })
}

/// Carries on from a kept fold of this book; `None` when all entries must be read.
async fn carry_on<S: Store>(
    store: &mut S,
    shelf: &mut impl Shelf,
    fold: KeptFold,
    pages: PageRules,
    morning: Date,
) -> Result<Option<Opened>, StoreError> {
    let mut open = Open::read(store, fold.from).await?;
    for id in &fold.apart {
        let Some(entry) = store.entry(*id).await? else { return Ok(None) };
        open.apart.push(entry);
    }
    let (known, new) = open.arrived.split_at(fold.count.min(open.arrived.len()));
    if known.len() < fold.count {
        return Ok(None);
    }
    let later = |entry: &&Entry| entry.happened_on > fold.morning;
    let new: Vec<&Entry> =
        new.iter().chain(known.iter().filter(later)).chain(open.apart.iter().filter(later)).collect();
    let mut names = None;
    if !new.is_empty() {
        let Some(known) = fold.names(shelf) else { return Ok(None) };
        if Kept::is_touched_by(&known, new) {
            return Ok(None);
        }
        names = Some(known);
    }
    open.summed_up = fold.summed_up;
    let Some(outfit) = fold.kept.carry_on(open.on(morning)) else { return Ok(None) };
    let read = open.arrived.len() + open.apart.len();
    if let Some(names) = names.filter(|_| read >= pages.turn_at) {
        let rules = fold.kept.rules().clone();
        open.turn_page(store, shelf, Some((fold.kept, names)), (&rules, pages, morning)).await?;
    }
    Ok(Some(Opened { outfit, read, from_kept: true }))
}
