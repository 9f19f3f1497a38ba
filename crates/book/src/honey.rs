//! The honey house: lots from boxes of yards, drums from lots, sales of drums; by mass, and both ways from yard to buyer.
//!
//! | symbol | name in code | meaning | unit | value | source |
//! |---|---|---|---|---|---|
//! | E | `extracted` | honey told for a lot | kg | weighed | `Extraction` |
//! | D | `drummed` | honey of a lot in drums | kg | weighed | `Drum` |
//! | L | `left` | E - D: still in tanks, or nobody wrote where it went | kg | arithmetic | conservation of mass |
//! | | `SLACK_KG` | below this a lot that gave more than it had is no fault: scales differ | kg | 5 | assumed |

use std::collections::{BTreeMap, BTreeSet};

use jiff::civil::Date;
use outyard_base::{Kilograms, YardId};

use crate::fact::{Drum, Extraction, Sale};
use crate::outfit::Dated;

/// Honey a lot may seem to have given beyond what was extracted, kg (assumed: a drum scale of one part in a hundred).
pub const SLACK_KG: f64 = 5.0;

/// What the honey house was told, in order of time; nothing of it is ever summed up.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct HoneyHouse {
    /// Extractions.
    pub extractions: Vec<Dated<Extraction>>,
    /// Drums filled.
    pub drums: Vec<Dated<Drum>>,
    /// Sales.
    pub sales: Vec<Dated<Sale>>,
}

/// A lot as it stands.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Lot {
    /// Boxes by yard.
    pub boxes: BTreeMap<YardId, u32>,
    /// First and last day of extracting.
    pub days: Option<(Date, Date)>,
    /// Honey told, kg.
    pub extracted_kg: f64,
    /// True when some of it was extracted and not weighed: then nothing can be held against its mass.
    pub unweighed: bool,
    /// Honey of it in drums, kg.
    pub drummed_kg: f64,
    /// Drums it went into.
    pub drums: BTreeSet<String>,
}

impl Lot {
    /// Honey that is in no drum, kg; below nought when more was drummed than told, nothing when not all was weighed.
    pub fn left_kg(&self) -> Option<f64> {
        (!self.unweighed).then_some(self.extracted_kg - self.drummed_kg)
    }
}

/// What does not come out in the honey house.
#[derive(Clone, Debug, PartialEq)]
pub enum HoneyFault {
    /// More of a lot in drums than was extracted.
    MoreThanExtracted {
        /// The lot.
        lot: String,
        /// Too much, kg.
        kg: f64,
    },
    /// A drum holds honey of a lot nobody extracted.
    UnknownLot {
        /// The drum.
        drum: String,
        /// The lot.
        lot: String,
    },
    /// A drum was told twice.
    DrumTwice {
        /// The drum.
        drum: String,
    },
    /// A drum was sold and never filled.
    SoldUnfilled {
        /// The drum.
        drum: String,
    },
    /// A drum was sold twice.
    SoldTwice {
        /// The drum.
        drum: String,
    },
}

impl core::fmt::Display for HoneyFault {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        match self {
            Self::MoreThanExtracted { lot, kg } => write!(f, "lot {lot}: {kg:.0} kg more in drums than was extracted"),
            Self::UnknownLot { drum, lot } => {
                write!(f, "drum {drum} holds honey of lot {lot}, which was never extracted")
            }
            Self::DrumTwice { drum } => write!(f, "drum {drum} was filled twice"),
            Self::SoldUnfilled { drum } => write!(f, "drum {drum} was sold and never filled"),
            Self::SoldTwice { drum } => write!(f, "drum {drum} was sold twice"),
        }
    }
}

/// Where the honey of a drum, or of a yard, comes from and went.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Trace {
    /// Yards, with the boxes that went into the lots.
    pub yards: BTreeMap<YardId, u32>,
    /// Lots.
    pub lots: BTreeSet<String>,
    /// Drums.
    pub drums: BTreeSet<String>,
    /// Buyers, with the drums each had.
    pub buyers: BTreeMap<String, BTreeSet<String>>,
}

impl HoneyHouse {
    /// Lots by name.
    pub fn lots(&self) -> BTreeMap<&str, Lot> {
        let mut lots: BTreeMap<&str, Lot> = BTreeMap::new();
        for told in &self.extractions {
            let lot = lots.entry(&told.what.lot).or_default();
            for from in &told.what.boxes {
                let boxes = lot.boxes.entry(from.yard.clone()).or_default();
                *boxes = boxes.saturating_add(from.boxes);
            }
            let (first, last) = lot.days.unwrap_or((told.on, told.on));
            lot.days = Some((first.min(told.on), last.max(told.on)));
            lot.extracted_kg += told.what.honey.map_or(0.0, Kilograms::get);
            lot.unweighed |= told.what.honey.is_none();
        }
        for told in &self.drums {
            for (name, mass) in &told.what.from {
                let lot = lots.entry(name).or_default();
                lot.drummed_kg += mass.get();
                lot.drums.insert(told.what.drum.clone());
            }
        }
        lots
    }

    /// What does not come out.
    pub fn faults(&self) -> Vec<HoneyFault> {
        let mut faults = Vec::new();
        let lots = self.lots();
        for (name, lot) in &lots {
            if lot.days.is_none() {
                let unknown = |drum: &String| HoneyFault::UnknownLot { drum: drum.clone(), lot: (*name).to_owned() };
                faults.extend(lot.drums.iter().map(unknown));
            } else if let Some(left) = lot.left_kg()
                && left < -SLACK_KG
            {
                faults.push(HoneyFault::MoreThanExtracted { lot: (*name).to_owned(), kg: -left });
            }
        }
        let mut filled = BTreeSet::new();
        for told in &self.drums {
            if !filled.insert(told.what.drum.as_str()) {
                faults.push(HoneyFault::DrumTwice { drum: told.what.drum.clone() });
            }
        }
        let mut sold = BTreeSet::new();
        for drum in self.sales.iter().flat_map(|told| &told.what.drums) {
            if !filled.contains(drum.as_str()) {
                faults.push(HoneyFault::SoldUnfilled { drum: drum.clone() });
            }
            if !sold.insert(drum.as_str()) {
                faults.push(HoneyFault::SoldTwice { drum: drum.clone() });
            }
        }
        faults
    }

    /// From drums back to yards: what is in these drums, and who has them.
    pub fn trace_drums(&self, drums: &BTreeSet<String>) -> Trace {
        let lots = self.lots();
        let mut trace = Trace::default();
        for (name, lot) in lots.iter().filter(|(_, lot)| !lot.drums.is_disjoint(drums)) {
            trace.lots.insert((*name).to_owned());
            for (yard, boxes) in &lot.boxes {
                let all = trace.yards.entry(yard.clone()).or_default();
                *all = all.saturating_add(*boxes);
            }
        }
        trace.drums = drums.iter().filter(|drum| self.is_filled(drum)).cloned().collect();
        trace.buyers = self.buyers(&trace.drums);
        trace
    }

    /// From a yard on: every lot, drum and buyer its honey may have reached.
    pub fn trace_yard(&self, yard: &YardId) -> Trace {
        let mut trace = Trace::default();
        for (name, lot) in self.lots() {
            if let Some(boxes) = lot.boxes.get(yard) {
                let all = trace.yards.entry(yard.clone()).or_default();
                *all = all.saturating_add(*boxes);
                trace.lots.insert(name.to_owned());
                trace.drums.extend(lot.drums);
            }
        }
        trace.buyers = self.buyers(&trace.drums);
        trace
    }

    /// True when a drum of this name was filled.
    pub fn is_filled(&self, drum: &str) -> bool {
        self.drums.iter().any(|told| told.what.drum == drum)
    }

    /// True when it was sold.
    pub fn is_sold(&self, drum: &str) -> bool {
        self.sales.iter().any(|told| told.what.drums.iter().any(|sold| sold == drum))
    }

    fn buyers(&self, drums: &BTreeSet<String>) -> BTreeMap<String, BTreeSet<String>> {
        let mut buyers: BTreeMap<String, BTreeSet<String>> = BTreeMap::new();
        for sale in &self.sales {
            let had: BTreeSet<String> = sale.what.drums.iter().filter(|drum| drums.contains(*drum)).cloned().collect();
            if !had.is_empty() {
                buyers.entry(sale.what.to.clone()).or_default().extend(had);
            }
        }
        buyers
    }
}
