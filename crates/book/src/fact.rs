//! The facts an entry can tell. Each says what was seen or done, never what follows from it: what follows is the fold.

use jiff::civil::Date;
use outyard_base::{Cents, CrewId, JobCode, Kilograms, Litres, Metres, Minutes, Place, Share, TruckId, YardId};
use outyard_trade::KindCounts;

use crate::entry::{ContentHash, EntryId};
use crate::gear::{GearCounts, GearPlace};

/// What an entry tells.
#[derive(Clone, Debug, PartialEq)]
pub enum Fact {
    /// A yard is kept, with all that is known of it. A later one replaces an earlier one whole.
    YardKept(YardKept),
    /// A yard is no longer kept.
    YardGivenUp {
        /// The yard.
        yard: YardId,
    },
    /// The colonies of a yard were counted, all kinds. A kind not named was not there.
    ColoniesCounted {
        /// The yard.
        yard: YardId,
        /// Colonies by kind.
        counts: KindCounts,
    },
    /// Boxes (or other gear) standing on the hives of a yard were counted. Gear not named was not counted.
    BoxesCounted {
        /// The yard.
        yard: YardId,
        /// Pieces by kind of gear.
        boxes: GearCounts,
        /// How full the honey boxes stand, when looked at.
        fullness: Option<Share>,
    },
    /// A visit was closed with this tally.
    VisitClosed(Tally),
    /// Gear in one place was counted. Gear not named was not counted.
    GearCounted {
        /// Where.
        place: GearPlace,
        /// Pieces by kind of gear; a nought is a count too.
        gear: GearCounts,
    },
    /// Gear went from one place to another outside a visit.
    GearMoved {
        /// Where it was.
        from: GearPlace,
        /// Where it is.
        to: GearPlace,
        /// What and how much.
        gear: GearCounts,
    },
    /// Gear was bought, borrowed or built.
    GearBought {
        /// Where it was put.
        to: GearPlace,
        /// What and how much.
        gear: GearCounts,
        /// What it cost, all together.
        cost: Option<Cents>,
        /// Anything worth adding.
        note: String,
    },
    /// Gear was lost, sold, burnt or broken.
    GearLost {
        /// Where it was.
        from: GearPlace,
        /// What and how much.
        gear: GearCounts,
        /// Why.
        note: String,
    },
    /// A truck was loaded for a run.
    TruckLoaded {
        /// The truck.
        truck: TruckId,
        /// Key of the run, when it was a planned one.
        run: Option<String>,
        /// Where the gear came from: the shed unless told otherwise.
        from: GearPlace,
        /// What and how much.
        gear: GearCounts,
    },
    /// A truck came home and was emptied: what was on it.
    TruckHome {
        /// The truck.
        truck: TruckId,
        /// Key of the run, when it was a planned one.
        run: Option<String>,
        /// What went back into the shed.
        to_shed: GearCounts,
        /// What went into the hot room.
        to_hot_room: GearCounts,
    },
    /// A plant was seen at a stage of bloom.
    BloomSeen {
        /// Where.
        at: Where,
        /// The plant, as the plant table names it.
        plant: String,
        /// The stage, as the plant table names it.
        stage: String,
    },
    /// The flow was seen to be on, or off.
    FlowSeen {
        /// Where.
        at: Where,
        /// True when it is on.
        on: bool,
        /// What told him.
        sign: String,
    },
    /// The crews were told a plan. A later one replaces an earlier one whole.
    PlanTold(PlanTold),
    /// A treatment went in.
    TreatmentIn(Treatment),
    /// A treatment came out.
    TreatmentOut {
        /// The yard.
        yard: YardId,
        /// The product, written as when it went in.
        product: String,
        /// Colonies it came out of, when not all.
        colonies: Option<u32>,
    },
    /// Mites were counted in a sample.
    MiteSample(MiteSample),
    /// Colonies were fed.
    Fed {
        /// The yard.
        yard: YardId,
        /// Colonies fed.
        colonies: u32,
        /// What: syrup, patties, candy.
        feed: String,
        /// Syrup given, all colonies together.
        syrup: Option<Litres>,
        /// Sugar or dry feed given, all colonies together.
        sugar: Option<Kilograms>,
    },
    /// A series of readings was read in and its raw file kept.
    SeriesKept(SeriesKept),
    /// Honey was extracted from boxes of yards: a lot, or more of one.
    HoneyExtracted(Extraction),
    /// A drum was filled.
    HoneyDrummed(Drum),
    /// Drums were sold.
    HoneySold(Sale),
    /// Somebody told of a spraying near yards.
    SprayTold(SprayCall),
    /// A photo was kept beside the book.
    PhotoKept(Photo),
    /// What is agreed and known around a yard. A later one replaces an earlier one whole.
    YardTerms(YardTerms),
    /// Colonies went from one yard to another.
    ColoniesMoved {
        /// Where they were.
        from: YardId,
        /// Where they are.
        to: YardId,
        /// Colonies by kind.
        counts: KindCounts,
    },
    /// Splits were made.
    SplitsMade {
        /// The yard whose colonies were divided.
        from: YardId,
        /// The yard the splits stand in.
        to: YardId,
        /// Splits made.
        splits: u32,
        /// Where their queens come from, in his words.
        queens: String,
    },
    /// Colonies were lost.
    ColoniesLost {
        /// The yard.
        yard: YardId,
        /// Colonies by kind.
        counts: KindCounts,
        /// Why, as far as he can tell; never worked out here.
        cause: String,
    },
    /// Queens or cells were given to colonies.
    QueensGiven(QueensGiven),
    /// An earlier entry was wrong.
    Correction {
        /// The entry that was wrong.
        of: EntryId,
        /// What it should have told; `None` strikes it out. Never itself a correction.
        instead: Option<Box<Fact>>,
    },
    /// Several tallies of one visit were settled.
    Settled {
        /// All the tallies this replaces.
        tallies: Vec<EntryId>,
        /// What is agreed: one tally as a rule, two when two crews truly shared the yard, none when none of it happened.
        agreed: Vec<Tally>,
    },
    /// Something worth keeping in words.
    Note {
        /// The yard it is about, if one.
        yard: Option<YardId>,
        /// The words.
        text: String,
    },
    /// A fact this version of the program does not know: kept, shown as unread, and passed on untouched.
    Unknown {
        /// Its name in the file.
        name: String,
        /// Its content as JSON text.
        raw: String,
    },
}

impl Fact {
    /// The fact's name in files.
    pub fn name(&self) -> &str {
        match self {
            Self::YardKept(_) => "yard-kept",
            Self::YardGivenUp { .. } => "yard-given-up",
            Self::ColoniesCounted { .. } => "colonies-counted",
            Self::BoxesCounted { .. } => "boxes-counted",
            Self::VisitClosed(_) => "visit-closed",
            Self::GearCounted { .. } => "gear-counted",
            Self::GearMoved { .. } => "gear-moved",
            Self::GearBought { .. } => "gear-bought",
            Self::GearLost { .. } => "gear-lost",
            Self::TruckLoaded { .. } => "truck-loaded",
            Self::TruckHome { .. } => "truck-home",
            Self::BloomSeen { .. } => "bloom-seen",
            Self::FlowSeen { .. } => "flow-seen",
            Self::PlanTold(_) => "plan-told",
            Self::TreatmentIn(_) => "treatment-in",
            Self::TreatmentOut { .. } => "treatment-out",
            Self::MiteSample(_) => "mite-sample",
            Self::Fed { .. } => "fed",
            Self::SeriesKept(_) => "series-kept",
            Self::HoneyExtracted(_) => "honey-extracted",
            Self::HoneyDrummed(_) => "honey-drummed",
            Self::HoneySold(_) => "honey-sold",
            Self::SprayTold(_) => "spray-told",
            Self::PhotoKept(_) => "photo-kept",
            Self::YardTerms(_) => "yard-terms",
            Self::ColoniesMoved { .. } => "colonies-moved",
            Self::SplitsMade { .. } => "splits-made",
            Self::ColoniesLost { .. } => "colonies-lost",
            Self::QueensGiven(_) => "queens-given",
            Self::Correction { .. } => "correction",
            Self::Settled { .. } => "settled",
            Self::Note { .. } => "note",
            Self::Unknown { name, .. } => name,
        }
    }
}

/// Where something was seen: at one yard, or over a whole group of yards.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Where {
    /// At one yard.
    Yard(YardId),
    /// Over a group of yards, by the group's name.
    Group(String),
}

/// What the crews were told: where they go on the next days, and what the owner laid down for it.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct PlanTold {
    /// The runs told, in order of the day, then of the crew.
    pub runs: Vec<ToldRun>,
    /// Days on which nobody goes out.
    pub nobody_out: Vec<Date>,
    /// Crews that stay home, and when.
    pub stays_home: Vec<StaysHome>,
    /// Visits the owner wants on a day.
    pub wanted: Vec<WantedVisit>,
}

/// A run as it was told.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ToldRun {
    /// The day.
    pub on: Date,
    /// The crew.
    pub crew: CrewId,
    /// The truck.
    pub truck: TruckId,
    /// Keys of its visits, in the order they are driven to.
    pub visits: Vec<String>,
}

/// A crew that stays home on a day.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct StaysHome {
    /// The crew.
    pub crew: CrewId,
    /// The day.
    pub on: Date,
}

/// A visit the owner wants on a day.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct WantedVisit {
    /// Key of the visit.
    pub visit: String,
    /// The day.
    pub on: Date,
    /// The crew; whichever is cheapest when none is named.
    pub crew: Option<CrewId>,
}

/// What is known of a yard.
#[derive(Clone, Debug, PartialEq)]
pub struct YardKept {
    /// Its short name: on the gate, on every list.
    pub yard: YardId,
    /// Its long name, if it has one.
    pub name: String,
    /// Where it lies.
    pub place: Option<Place>,
    /// Height above the sea.
    pub elevation: Option<Metres>,
    /// The group of yards whose flow it shares, in his words; empty when none.
    pub group: String,
    /// How to get in: keys, gate, dog.
    pub gate: String,
    /// True when the road cannot be driven wet.
    pub wet_road: bool,
    /// Who owns the land and what was agreed.
    pub landowner: String,
    /// What the bees can reach.
    pub forage: Vec<Forage>,
}

impl YardKept {
    /// A yard of which only the name is known.
    pub fn new(yard: YardId) -> Self {
        Self {
            yard,
            name: String::new(),
            place: None,
            elevation: None,
            group: String::new(),
            gate: String::new(),
            wet_road: false,
            landowner: String::new(),
            forage: Vec::new(),
        }
    }
}

/// One plant the bees of a yard can reach.
#[derive(Clone, Debug, PartialEq)]
pub struct Forage {
    /// The plant, as the plant table names it.
    pub plant: String,
    /// How much of it there is, against the other plants of this yard; no unit, nought or more.
    pub weight: f64,
    /// When it was seeded, for a crop.
    pub seeded_on: Option<Date>,
}

/// One job of a visit, with what was done and what was left.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct JobDone {
    /// The job, as the job book names it.
    pub job: JobCode,
    /// Colonies it was done to.
    pub done: KindCounts,
    /// Colonies it should have been done to and was not.
    pub undone: KindCounts,
}

/// Odd hives met at a visit.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct OddCounts {
    /// Dead colonies.
    pub dead: u32,
    /// Colonies with no laying queen.
    pub queenless: u32,
    /// Colonies that swarmed.
    pub swarmed: u32,
    /// Colonies behind the others.
    pub weak: u32,
}

/// What closes a visit: five big counts, exceptions, and the gear that changed place.
///
/// Gear comes off the truck into the yard (`boxes_on`, `boxes_left`, `gear_put`) or out of the yard onto the truck
/// (`boxes_off`, `gear_taken`); `loose_used` alone goes from the pile in the yard onto the hives. A visit that names no
/// truck took its gear from the shed and brought it back there.
#[derive(Clone, Debug, PartialEq)]
pub struct Tally {
    /// Key of the planned visit this closes, when it was planned.
    pub visit: Option<String>,
    /// Key of the run the truck was loaded for, when known: it tells two loads of one day apart.
    pub run: Option<String>,
    /// The yard.
    pub yard: YardId,
    /// The jobs done.
    pub jobs: Vec<JobDone>,
    /// Odd hives.
    pub odd: OddCounts,
    /// Boxes put on hives, off the truck.
    pub boxes_on: GearCounts,
    /// Boxes taken off hives, onto the truck.
    pub boxes_off: GearCounts,
    /// Boxes left loose in the yard, off the truck.
    pub boxes_left: GearCounts,
    /// Boxes put on hives from those that stood loose in the yard.
    pub loose_used: GearCounts,
    /// Other gear (excluders, rims) put on hives, off the truck.
    pub gear_put: GearCounts,
    /// Other gear taken off hives, onto the truck.
    pub gear_taken: GearCounts,
    /// How full the honey boxes stood on arrival.
    pub fullness: Option<Share>,
    /// Time at the yard, gate to gate.
    pub minutes: Option<Minutes>,
    /// People who worked.
    pub hands: Option<u32>,
    /// Signs seen, as the sign reader names them.
    pub signs: Vec<String>,
    /// The truck the gear came on and left on.
    pub truck: Option<TruckId>,
    /// Anything worth adding.
    pub note: String,
}

impl Tally {
    /// A tally in which nothing was done yet.
    pub fn new(yard: YardId) -> Self {
        Self {
            visit: None,
            run: None,
            yard,
            jobs: Vec::new(),
            odd: OddCounts::default(),
            boxes_on: GearCounts::none(),
            boxes_off: GearCounts::none(),
            boxes_left: GearCounts::none(),
            loose_used: GearCounts::none(),
            gear_put: GearCounts::none(),
            gear_taken: GearCounts::none(),
            fullness: None,
            minutes: None,
            hands: None,
            signs: Vec::new(),
            truck: None,
            note: String::new(),
        }
    }
}

/// A treatment as it went in, and the label as he typed it. The label decides; nothing here is worked out.
#[derive(Clone, Debug, PartialEq)]
pub struct Treatment {
    /// The yard.
    pub yard: YardId,
    /// The product, in his words.
    pub product: String,
    /// Active ingredient, as the label names it.
    pub ingredient: String,
    /// Lot number on the package.
    pub lot: String,
    /// Colonies treated.
    pub colonies: u32,
    /// Dose per colony, in the label's words.
    pub dose: String,
    /// Fewest days the label wants it in.
    pub days_in_least: Option<u32>,
    /// Most days the label allows it in.
    pub days_in_most: Option<u32>,
    /// Days the label wants between taking it out and putting honey boxes on.
    pub days_before_supers: Option<u32>,
    /// True when the label allows honey boxes on the hive.
    pub supers_on_allowed: bool,
    /// The label's own words, typed off.
    pub label: String,
}

/// Mites counted in one sample of one colony.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct MiteSample {
    /// The yard.
    pub yard: YardId,
    /// The colony, as it was marked; empty when not marked.
    pub colony: String,
    /// How they were counted: wash, sugar, drop.
    pub method: String,
    /// Bees in the sample; nought for a drop board.
    pub bees: u32,
    /// Mites counted.
    pub mites: u32,
    /// Days the board lay, for a drop count.
    pub board_days: Option<u32>,
}

/// A series of readings: a weather station's, or a scale's.
#[derive(Clone, Debug, PartialEq)]
pub struct SeriesKept {
    /// Name of the station or the scale.
    pub source: String,
    /// What it holds: `weather`, `scale`.
    pub what: String,
    /// Where the station stands.
    pub place: Option<Place>,
    /// Its height above the sea.
    pub elevation: Option<Metres>,
    /// The yard the scale stands in.
    pub yard: Option<YardId>,
    /// How the file's columns are to be read, as pairs of name and value.
    pub columns: Vec<(String, String)>,
    /// The raw file, kept by content.
    pub content: ContentHash,
    /// Readings in it.
    pub rows: u64,
    /// First day it covers.
    pub from: Date,
    /// Last day it covers.
    pub to: Date,
}

/// Boxes of one yard that went into a lot.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct BoxesFrom {
    /// The yard.
    pub yard: YardId,
    /// Boxes.
    pub boxes: u32,
    /// The day they were pulled, when told.
    pub pulled_on: Option<Date>,
}

/// Honey extracted on a day.
#[derive(Clone, Debug, PartialEq)]
pub struct Extraction {
    /// Name of the lot.
    pub lot: String,
    /// The boxes it came from.
    pub boxes: Vec<BoxesFrom>,
    /// Honey, weighed.
    pub honey: Option<Kilograms>,
    /// Water in it.
    pub moisture: Option<Share>,
    /// Anything worth adding.
    pub note: String,
}

/// A drum that was filled.
#[derive(Clone, Debug, PartialEq)]
pub struct Drum {
    /// Its name or number.
    pub drum: String,
    /// Honey in it by lot.
    pub from: Vec<(String, Kilograms)>,
    /// Water in it.
    pub moisture: Option<Share>,
    /// Colour, as it was graded.
    pub colour: String,
    /// Anything worth adding.
    pub note: String,
}

/// Drums that were sold.
#[derive(Clone, Debug, PartialEq)]
pub struct Sale {
    /// The drums.
    pub drums: Vec<String>,
    /// Who has them.
    pub to: String,
    /// What was paid for all of them.
    pub price: Option<Cents>,
    /// Anything worth adding.
    pub note: String,
}

/// A call about a spraying.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SprayCall {
    /// The yards it may reach.
    pub yards: Vec<YardId>,
    /// Who called.
    pub caller: String,
    /// The active ingredient, as told.
    pub substance: String,
    /// The field, in words.
    pub field: String,
    /// When it begins, in the caller's words.
    pub begins: String,
    /// What was asked for and agreed.
    pub note: String,
}

/// A photo kept beside the book.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Photo {
    /// The yard it shows, if one.
    pub yard: Option<YardId>,
    /// The file, kept by content.
    pub content: ContentHash,
    /// What it shows.
    pub caption: String,
}

/// What is agreed and known around a yard.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct YardTerms {
    /// The yard.
    pub yard: YardId,
    /// The land owner's terms: rent, honey, days, what was promised.
    pub terms: String,
    /// Neighbours and how to reach them.
    pub neighbours: Vec<String>,
    /// Where the bees drink.
    pub water: String,
    /// The fence against bears and stock, and how it is fed.
    pub fence: String,
}

/// Queens or cells given to colonies.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct QueensGiven {
    /// The yard.
    pub yard: YardId,
    /// Colonies that were given one.
    pub colonies: u32,
    /// What, and where from: mated queens, cells, virgins.
    pub queens: String,
    /// How many of them were found laying later, when somebody looked.
    pub laying: Option<u32>,
}
