//! Boxes, frames and comb: sizes, room and weights.
//!
//! | symbol | name in code | meaning | unit | value | source |
//! |---|---|---|---|---|---|
//! | d | `across_flats_mm` | width of a cell | mm | 5.37 usual worker foundation | common practice, no source |
//! | n | `cells_per_dm2_one_side` | cells on one side: 2/(√3·d²) | 1/dm² | 400 | hexagon geometry; `[CellsPerInch]` |
//! | A | `comb_one_side_cm2` | comb on one side of a frame | cm² | 877 / 575 / 490 | `[CellsPerInch]`; medium, shallow common practice |
//! | s | `FrameCount::spacing_mm` | comb to comb | mm | 34.9 / 41.3 / 46.5 | `[FrameSizes]`; 372 mm by number of frames |
//! | b | `BEE_SPACE_MM` | room the bees leave between combs | mm | 8 | common practice, no source |
//! | ρ | `HONEY_KG_PER_LITRE` | honey | kg/L | 1.42 | common practice, no source |
//! | f | `HONEY_SHARE_OF_COMB` | part of a full comb that is honey | of 1 | 0.93 | assumed |
//! | | `planning_honey` | net honey planned per full box | kg | 24 / 16 / 11.3 | job facts 4; deep figure common practice |

use outyard_base::{Kilograms, Litres, Range};

/// How deep a box is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum BoxDepth {
    /// Full depth, 9 5/8 in.
    Deep,
    /// 6 5/8 in.
    Medium,
    /// 5 11/16 to 5 7/8 in.
    Shallow,
}

/// How wide a box is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum BoxWidth {
    /// Made for ten frames.
    TenFrame,
    /// Made for eight frames.
    EightFrame,
}

/// Frames hung in a ten-frame box.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum FrameCount {
    /// Eight, spaced wide.
    Eight,
    /// Nine, spaced wide.
    Nine,
    /// Ten, side bars touching.
    Ten,
}

/// Room the bees leave between two combs.
pub const BEE_SPACE_MM: f64 = 8.0;
/// Honey at trade moisture.
pub const HONEY_KG_PER_LITRE: f64 = 1.42;
/// Part of a full comb that is honey, the rest being wax and air: assumed.
pub const HONEY_SHARE_OF_COMB: f64 = 0.93;
/// Worker cells on one side of a square decimetre of usual foundation `[CellsPerInch]`.
pub const USUAL_CELLS_PER_DM2: f64 = 400.0;

/// Cells on one side of a square decimetre of comb, from the width of a cell across its flats: 2/(√3·d²).
///
/// ```
/// use outyard_trade::boxes::cells_per_dm2_one_side;
/// assert!((cells_per_dm2_one_side(5.37) - 400.4).abs() < 0.05);
/// ```
pub fn cells_per_dm2_one_side(across_flats_mm: f64) -> f64 {
    let dm = across_flats_mm / 100.0;
    2.0 / (3.0_f64.sqrt() * dm * dm)
}

impl FrameCount {
    /// How many.
    pub const fn number(self) -> u32 {
        match self {
            Self::Eight => 8,
            Self::Nine => 9,
            Self::Ten => 10,
        }
    }

    /// Comb to comb in a ten-frame box: ten stand by their side bars of 1 3/8 in, fewer share 372 mm.
    pub fn spacing_mm(self) -> f64 {
        match self {
            Self::Ten => 1.375 * 25.4,
            fewer => 372.0 / f64::from(fewer.number()),
        }
    }
}

/// What is known of a box of one depth.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BoxFacts {
    /// Its depth.
    pub depth: BoxDepth,
    /// Height of the body.
    pub height_mm: f64,
    /// Comb on one side of a frame.
    pub comb_one_side_cm2: f64,
    /// Net honey in a full box of ten frames as handbooks give it.
    pub full_honey: Range<Kilograms>,
    /// Net honey to plan with per full box: on the low side, because comb is also the drying floor.
    pub planning_honey: Kilograms,
    /// Gross weight of a full box.
    pub full_gross: Range<Kilograms>,
    /// Gross weight of a full box to plan loads with.
    pub planning_gross: Kilograms,
    /// A box with ten drawn, dry combs. Weigh your own.
    pub empty_drawn: Range<Kilograms>,
    /// Net honey in one full frame.
    pub frame_honey: Range<Kilograms>,
}

/// Inside length of every body.
pub const INSIDE_LENGTH_MM: f64 = 465.0;
/// Outside length of every body.
pub const OUTSIDE_LENGTH_MM: f64 = 505.0;

impl BoxWidth {
    /// Inside width.
    pub const fn inside_mm(self) -> f64 {
        match self {
            Self::TenFrame => 373.0,
            Self::EightFrame => 311.0,
        }
    }

    /// Outside width; eight-frame bodies of 349 to 356 mm exist.
    pub const fn outside_mm(self) -> f64 {
        match self {
            Self::TenFrame => 413.0,
            Self::EightFrame => 352.5,
        }
    }
}

const fn kg(low: f64, likely: f64, high: f64) -> Range<Kilograms> {
    Range { low: Kilograms::of(low), likely: Kilograms::of(likely), high: Kilograms::of(high) }
}

/// Ranges: full honey 60-70, 35-40, 25-30 lb `[FullYields]`; gross 80-90, 50-60, 30-40 lb `[GrossFull]`; empty with ten
/// drawn combs common practice, no source; a frame 6-8, 3.5-5, 2.5-3.5 lb `[FrameHoney]`, shallow common practice.
/// Middle values are midpoints unless a source gives one. Planning gross 37 kg: truck figure, common practice.
static DEEP: BoxFacts = BoxFacts {
    depth: BoxDepth::Deep,
    height_mm: 243.0,
    comb_one_side_cm2: 877.0,
    full_honey: kg(27.2, 29.5, 31.8),
    planning_honey: Kilograms::of(24.0),
    full_gross: kg(36.0, 38.5, 41.0),
    planning_gross: Kilograms::of(37.0),
    empty_drawn: kg(8.0, 9.0, 10.0),
    frame_honey: kg(2.7, 3.2, 3.6),
};
static MEDIUM: BoxFacts = BoxFacts {
    depth: BoxDepth::Medium,
    height_mm: 168.0,
    comb_one_side_cm2: 575.0,
    full_honey: kg(15.9, 17.0, 18.1),
    planning_honey: Kilograms::of(16.0),
    full_gross: kg(22.0, 24.5, 27.0),
    planning_gross: Kilograms::of(25.0),
    empty_drawn: kg(6.0, 6.5, 7.0),
    frame_honey: kg(1.6, 1.8, 2.3),
};
static SHALLOW: BoxFacts = BoxFacts {
    depth: BoxDepth::Shallow,
    height_mm: 144.5,
    comb_one_side_cm2: 490.0,
    full_honey: kg(11.3, 12.5, 13.6),
    planning_honey: Kilograms::of(11.3),
    full_gross: kg(13.0, 16.0, 18.0),
    planning_gross: Kilograms::of(17.0),
    empty_drawn: kg(5.0, 5.5, 6.0),
    frame_honey: kg(1.1, 1.4, 1.6),
};

impl BoxDepth {
    /// All depths, deepest first.
    pub const ALL: [Self; 3] = [Self::Deep, Self::Medium, Self::Shallow];

    /// What is known of it.
    pub const fn facts(self) -> &'static BoxFacts {
        match self {
            Self::Deep => &DEEP,
            Self::Medium => &MEDIUM,
            Self::Shallow => &SHALLOW,
        }
    }

    /// The word in files.
    pub const fn code(self) -> &'static str {
        match self {
            Self::Deep => "deep",
            Self::Medium => "medium",
            Self::Shallow => "shallow",
        }
    }
}

impl BoxFacts {
    /// Room inside the body.
    pub fn volume(&self, width: BoxWidth) -> Litres {
        Litres::of(INSIDE_LENGTH_MM * width.inside_mm() * self.height_mm / 1e6)
    }

    /// Worker cells of one frame, both sides.
    pub fn cells_per_frame(&self, cells_per_dm2_one_side: f64) -> f64 {
        2.0 * self.comb_one_side_cm2 / 100.0 * cells_per_dm2_one_side
    }

    /// Most honey one frame can hold by its geometry: comb area x (spacing - bee space) x density x honey share. An
    /// upper bound: fully drawn, fully capped.
    pub fn most_honey_per_frame(&self, frames: FrameCount) -> Kilograms {
        let thickness_cm = (frames.spacing_mm() - BEE_SPACE_MM) / 10.0;
        let litres = self.comb_one_side_cm2 * thickness_cm / 1000.0;
        Kilograms::of(litres * HONEY_KG_PER_LITRE * HONEY_SHARE_OF_COMB)
    }

    /// The same for a whole ten-frame box.
    pub fn most_honey_per_box(&self, frames: FrameCount) -> Kilograms {
        self.most_honey_per_frame(frames) * f64::from(frames.number())
    }
}
