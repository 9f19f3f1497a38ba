//! The sign reader: what one comb means on a day after the queen was put down, or why it means nothing yet.
//!
//! A sign counts only between two days after the put-down (D0). Outside them it is refused, with the reason and the
//! day on which the test holds. All days come from the clock of [`ClockStart::ExcluderUnderBrood`].
//!
//! | sign | name in code | holds from | to | means | source |
//! |---|---|---|---|---|---|
//! | eggs above | `AboveSeen::Eggs` | D+4 | - | a queen is above | mark `egg-test` |
//! | open worker larvae above | `AboveSeen::OpenLarvae` | D+10 | - | a queen is above | mark `open-worker-test` |
//! | open drone brood above | `AboveSeen::OpenDroneBrood` | D+11 | - | a queen or a drone layer is above | mark `open-drone-test` |
//! | only capped brood above | `AboveSeen::CappedOnly` | D+10 | D+21 | no queen above: she is down | marks `open-worker-test`, `workers-out` |
//! | no open brood, hinged or torn queen cell above | `AboveSeen::HingedCell` | D+10 | D+19 | a virgin is above | marks `open-worker-test`, `new-queen-eggs` |
//! | no brood above | `AboveSeen::Nothing` | D+21 | - | the upper box is a honey box | mark `workers-out` |
//! | eggs below | `BelowSeen::Eggs` | D+4 | - | she is below | mark `egg-test` |
//! | no eggs below, queen cells | `BelowSeen::NoEggsCells` | D+4 | D+17 | no queen below; from D+10 lost | marks `egg-test`, `virgin-loose` |
//! | no eggs below, no cells | `BelowSeen::NoEggsNoCells` | D+4 | - | no queen below; wait for a new one to D+35 | marks `egg-test`, `new-queen-failed` |

use jiff::civil::Date;
use outyard_base::days::{days_from, plus_days};
use outyard_base::range::day_month;

use crate::clocks::{ClockStart, DatedMark, GIVE_UP_NEW_QUEEN, NEW_QUEEN_EGGS, dated_marks};
use crate::stages::{DRONE, OLDEST_QUEEN_LARVA_DAYS, QUEEN, WORKER, emergency_virgin_day};

/// What one comb showed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum CombSeen {
    /// A comb from the middle of the box above the excluder.
    Above(AboveSeen),
    /// A comb from the middle of the brood chamber below it.
    Below(BelowSeen),
}

/// What a comb above the excluder showed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum AboveSeen {
    /// At least one egg.
    Eggs,
    /// No egg seen, but open worker larvae.
    OpenLarvae,
    /// Capped brood and nothing open.
    CappedOnly,
    /// Nothing open, and a queen cell that has opened (hinged lid) or was torn down.
    HingedCell,
    /// Open drone brood, whatever else.
    OpenDroneBrood,
    /// No brood at all and no queen cell.
    Nothing,
}

/// What a comb below the excluder showed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum BelowSeen {
    /// At least one egg.
    Eggs,
    /// No egg, and queen cells.
    NoEggsCells,
    /// No egg and no queen cell.
    NoEggsNoCells,
}

impl CombSeen {
    /// Every sign there is.
    pub const ALL: [Self; 9] = [
        Self::Above(AboveSeen::Eggs),
        Self::Above(AboveSeen::OpenLarvae),
        Self::Above(AboveSeen::CappedOnly),
        Self::Above(AboveSeen::HingedCell),
        Self::Above(AboveSeen::OpenDroneBrood),
        Self::Above(AboveSeen::Nothing),
        Self::Below(BelowSeen::Eggs),
        Self::Below(BelowSeen::NoEggsCells),
        Self::Below(BelowSeen::NoEggsNoCells),
    ];

    /// The word in files and on the command line.
    pub const fn code(self) -> &'static str {
        match self {
            Self::Above(AboveSeen::Eggs) => "above-eggs",
            Self::Above(AboveSeen::OpenLarvae) => "above-open-larvae",
            Self::Above(AboveSeen::CappedOnly) => "above-capped-only",
            Self::Above(AboveSeen::HingedCell) => "above-hinged-cell",
            Self::Above(AboveSeen::OpenDroneBrood) => "above-open-drone-brood",
            Self::Above(AboveSeen::Nothing) => "above-nothing",
            Self::Below(BelowSeen::Eggs) => "below-eggs",
            Self::Below(BelowSeen::NoEggsCells) => "below-no-eggs-cells",
            Self::Below(BelowSeen::NoEggsNoCells) => "below-no-eggs-no-cells",
        }
    }

    /// The sign in words, as the phone asks for it.
    pub const fn said(self) -> &'static str {
        match self {
            Self::Above(AboveSeen::Eggs) => "eggs above the excluder",
            Self::Above(AboveSeen::OpenLarvae) => "open larvae above the excluder",
            Self::Above(AboveSeen::CappedOnly) => "only capped brood above the excluder",
            Self::Above(AboveSeen::HingedCell) => "no open brood, and an opened or torn queen cell above the excluder",
            Self::Above(AboveSeen::OpenDroneBrood) => "open drone brood above the excluder",
            Self::Above(AboveSeen::Nothing) => "no brood above the excluder",
            Self::Below(BelowSeen::Eggs) => "eggs below the excluder",
            Self::Below(BelowSeen::NoEggsCells) => "no eggs below the excluder, but queen cells",
            Self::Below(BelowSeen::NoEggsNoCells) => "no eggs and no queen cells below the excluder",
        }
    }

    /// A sign by its code.
    pub fn read(code: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|seen| seen.code() == code.trim())
    }

    /// First and last day after the put-down on which the sign counts; no last day when it counts from then on.
    pub const fn counts(self) -> (i64, Option<i64>) {
        match self {
            Self::Above(AboveSeen::Eggs) | Self::Below(BelowSeen::Eggs | BelowSeen::NoEggsNoCells) => (EGG_TEST, None),
            Self::Above(AboveSeen::OpenLarvae) => (OPEN_WORKER_TEST, None),
            Self::Above(AboveSeen::OpenDroneBrood) => (DRONE.capped_age + 1, None),
            Self::Above(AboveSeen::CappedOnly) => (OPEN_WORKER_TEST, Some(WORKER.emerges_age)),
            Self::Above(AboveSeen::HingedCell) => (OPEN_WORKER_TEST, Some(NEW_QUEEN_EGGS.0 - 1)),
            Self::Above(AboveSeen::Nothing) => (WORKER.emerges_age, None),
            Self::Below(BelowSeen::NoEggsCells) => (EGG_TEST, Some(QUEEN.emerges_latest)),
        }
    }
}

const EGG_TEST: i64 = WORKER.egg_days + 1;
const OPEN_WORKER_TEST: i64 = WORKER.capped_age + 1;
/// A fast virgin, one day before the usual first one.
const FIRST_VIRGIN: i64 = emergency_virgin_day(OLDEST_QUEEN_LARVA_DAYS) - 1;

/// The answer.
#[derive(Clone, Debug, PartialEq)]
pub enum SignReading {
    /// The sign counts.
    Meaning(SignMeaning),
    /// The sign proves nothing on that day.
    Refused(SignRefusal),
}

/// What it comes to, in one word.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Verdict {
    /// A queen lays above the excluder.
    QueenAbove,
    /// A queen lays below the excluder.
    QueenBelow,
    /// No queen has laid above since the put-down: she is down, or was lost.
    NotAbove,
    /// A virgin is above.
    VirginAbove,
    /// No queen lays below: she is above, or was lost.
    NotBelow,
    /// The queen was lost at the put-down; a new one is coming below.
    QueenLost,
    /// No brood is left above: a honey box.
    UpperBoxClear,
    /// A new queen should be on her way; wait.
    WaitForNewQueen,
    /// A new queen should have laid long since.
    NewQueenFailed,
}

impl Verdict {
    /// The word in files.
    pub const fn code(self) -> &'static str {
        match self {
            Self::QueenAbove => "queen-above",
            Self::QueenBelow => "queen-below",
            Self::NotAbove => "not-above",
            Self::VirginAbove => "virgin-above",
            Self::NotBelow => "not-below",
            Self::QueenLost => "queen-lost",
            Self::UpperBoxClear => "upper-box-clear",
            Self::WaitForNewQueen => "wait-for-new-queen",
            Self::NewQueenFailed => "new-queen-failed",
        }
    }
}

/// What a sign means.
#[derive(Clone, Debug, PartialEq)]
pub struct SignMeaning {
    /// In one word.
    pub verdict: Verdict,
    /// In a sentence or two.
    pub means: String,
    /// What to do, in order.
    pub to_do: Vec<String>,
    /// The dates that count next, from the put-down's own clock; none that is over.
    pub next: Vec<DatedMark>,
    /// What else it could be.
    pub cautions: Vec<&'static str>,
}

/// Why a sign was refused.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SignRefusal {
    /// The reason.
    pub why: String,
    /// First day the sign counts.
    pub counts_from: Date,
    /// Last day the sign counts; `None` when it counts from then on.
    pub counts_to: Option<Date>,
    /// What to look for today in its place.
    pub instead: String,
}

/// Reads one comb: put down on one day, seen on another.
///
/// ```
/// use jiff::civil::date;
/// use outyard_trade::{AboveSeen, CombSeen, SignReading, Verdict, read_sign};
/// let put_down = date(2026, 7, 3);
/// let SignReading::Meaning(eggs) = read_sign(put_down, date(2026, 7, 8), CombSeen::Above(AboveSeen::Eggs)) else {
///     panic!("five days after, eggs count");
/// };
/// assert_eq!(eggs.verdict, Verdict::QueenAbove);
/// ```
pub fn read_sign(put_down: Date, seen_on: Date, comb: CombSeen) -> SignReading {
    let day = days_from(put_down, seen_on);
    let (from, to) = comb.counts();
    if day < from || to.is_some_and(|to| day > to) {
        return SignReading::Refused(refuse(put_down, day, comb));
    }
    let mut meaning = match comb {
        CombSeen::Above(seen) => read_above(put_down, day, seen),
        CombSeen::Below(seen) => read_below(put_down, day, seen),
    };
    meaning.next = next_dates(put_down, day, meaning.verdict);
    SignReading::Meaning(meaning)
}

fn meaning(verdict: Verdict, means: impl Into<String>, to_do: &[&str], cautions: &[&'static str]) -> SignMeaning {
    SignMeaning {
        verdict,
        means: means.into(),
        to_do: to_do.iter().map(|step| (*step).to_owned()).collect(),
        next: Vec::new(),
        cautions: cautions.to_vec(),
    }
}

const ONE_COMB: &str = "One comb is one comb: take it from the middle of the brood, and a second one if in doubt.";
const LAYING_WORKERS: &str = "Several eggs in a cell, or drone brood in worker cells, is no queen's work: a drone \
    layer or laying workers. Do not exchange boxes then; ask the owner.";
const AFTER_SWARM: &str = "A swarm since the put-down looks the same; then the new queen's eggs come about three \
    weeks after the day it left.";
const DRONES_ABOVE: &str = "Drones above cannot pass the excluder: leave them a way out until they are gone.";

fn read_above(put_down: Date, day: i64, seen: AboveSeen) -> SignMeaning {
    match seen {
        AboveSeen::Eggs | AboveSeen::OpenLarvae if day >= NEW_QUEEN_EGGS.0 => meaning(
            Verdict::QueenAbove,
            "A queen lays above the excluder: the old one, or by now a young one raised above.",
            &[
                "Look for eggs below.",
                "None below: take out queen cells there, then exchange the boxes: hers to the floor, excluder, the \
                 other on top.",
                "Eggs in both boxes: two queens. Leave them as they are and tell the owner.",
            ],
            &[ONE_COMB, LAYING_WORKERS],
        ),
        AboveSeen::Eggs | AboveSeen::OpenLarvae => meaning(
            Verdict::QueenAbove,
            if seen == AboveSeen::Eggs {
                "Every egg laid above before the put-down has hatched: a queen is above the excluder."
            } else {
                "All brood laid above before the put-down is capped: open larvae mean a queen is above the excluder."
            },
            &[
                "Look through the lower box for queen cells and take them out.",
                if day < FIRST_VIRGIN {
                    "Exchange the boxes: hers to the floor, excluder, the other on top. No search for her."
                } else {
                    "A cell below that has opened: a virgin is there, do not exchange; tell the owner. Otherwise \
                     exchange the boxes: hers to the floor, excluder, the other on top. No search for her."
                },
            ],
            &[ONE_COMB, LAYING_WORKERS, DRONES_ABOVE],
        ),
        AboveSeen::OpenDroneBrood => meaning(
            Verdict::QueenAbove,
            "All drone brood laid above before the put-down is capped: open drone brood means a layer is above.",
            &[
                "Look for eggs and open worker brood on the next comb.",
                "Worker brood too: take out queen cells below, then exchange the boxes.",
                "Drone brood only: leave the boxes as they are and tell the owner.",
            ],
            &[ONE_COMB, LAYING_WORKERS, DRONES_ABOVE],
        ),
        AboveSeen::CappedOnly => meaning(
            Verdict::NotAbove,
            "No egg was laid above since the put-down: she is down.",
            &["Close up. Nothing to do but the normal return."],
            &[ONE_COMB, "It does not prove that she lives: eggs below do.", DRONES_ABOVE],
        ),
        AboveSeen::HingedCell => meaning(
            Verdict::VirginAbove,
            format!(
                "No queen has laid above since the put-down, and a queen cell has opened there: a virgin is above. Her \
                 eggs are due from {} to {}.",
                day_month(plus_days(put_down, NEW_QUEEN_EGGS.0)),
                day_month(plus_days(put_down, NEW_QUEEN_EGGS.1)),
            ),
            &[
                "Look for eggs below: with eggs there, the old queen is well and the one above is not wanted.",
                "Tell the owner: find her and take her out, or leave an upper way out and let her mate.",
                "Look for eggs above within those dates, not before.",
            ],
            &[
                "She can mate only through an upper way out; without one she becomes a drone layer.",
                "A small virgin may slip through an excluder and fight the queen below.",
            ],
        ),
        AboveSeen::Nothing => meaning(
            Verdict::UpperBoxClear,
            "No brood is left above: the upper box is a honey box now.",
            &["Treat it as a honey box from now on."],
            &[ONE_COMB, DRONES_ABOVE],
        ),
    }
}

fn read_below(put_down: Date, day: i64, seen: BelowSeen) -> SignMeaning {
    let due_from = day_month(plus_days(put_down, NEW_QUEEN_EGGS.0));
    let due_to = day_month(plus_days(put_down, NEW_QUEEN_EGGS.1));
    let give_up = day_month(plus_days(put_down, GIVE_UP_NEW_QUEEN));
    match seen {
        BelowSeen::Eggs => meaning(
            Verdict::QueenBelow,
            if day < NEW_QUEEN_EGGS.0 {
                "Eggs younger than the put-down stand below: the queen is down and laying."
            } else {
                "A queen lays below: the old one, or a young one that has begun."
            },
            &["Close up. Nothing to do but the normal return."],
            &[LAYING_WORKERS],
        ),
        BelowSeen::NoEggsCells | BelowSeen::NoEggsNoCells if day < OPEN_WORKER_TEST => meaning(
            Verdict::NotBelow,
            "No queen has laid below for three days: she is above, or she was lost at the put-down.",
            &[
                "Look for eggs above now.",
                "Eggs above: take out queen cells below, then exchange the boxes.",
                "None above either: leave the queen cells below alone, she was lost.",
            ],
            &[ONE_COMB, "A brood nest filled with nectar leaves her no cell to lay in: look for empty cells too."],
        ),
        BelowSeen::NoEggsCells => meaning(
            Verdict::QueenLost,
            format!(
                "The queen was lost on the day of the put-down and the bees are raising another. Her eggs are due \
                 from {due_from} to {due_to}."
            ),
            &[
                "Make sure there is no open brood above; if there is, she is above.",
                "Leave the cells, and close up.",
                "Do not requeen before those dates: a queen given now would be killed.",
                "Look for eggs below within those dates.",
            ],
            &[AFTER_SWARM],
        ),
        BelowSeen::NoEggsNoCells if day < GIVE_UP_NEW_QUEEN => meaning(
            Verdict::WaitForNewQueen,
            if day <= NEW_QUEEN_EGGS.1 {
                format!(
                    "No queen lays below. Unless open brood stands above, a young one is on her way: her eggs are due \
                     from {due_from} to {due_to}."
                )
            } else {
                format!(
                    "No queen lays below, and the eggs of a young one were due by {due_to}: look for the last time on \
                     {give_up}."
                )
            },
            &[
                "Make sure there is no open brood above; if there is, she is above.",
                "Close up and look again when they are due; do not requeen before.",
            ],
            &[AFTER_SWARM, "A brood nest filled with nectar leaves her no cell to lay in: look for empty cells too."],
        ),
        BelowSeen::NoEggsNoCells => meaning(
            Verdict::NewQueenFailed,
            format!("A young queen would have laid by {give_up}: there is none that lays."),
            &["Look above once more.", "Unite the colony with its neighbour, or give it a queen."],
            &[AFTER_SWARM, "Laying workers take no queen: several eggs in a cell come before long."],
        ),
    }
}

/// The marks of the put-down's clock that matter after a verdict and are not over on that day.
fn next_dates(put_down: Date, day: i64, verdict: Verdict) -> Vec<DatedMark> {
    let wanted: &[&str] = match verdict {
        // The box that goes up after an exchange has had no queen since the put-down: its clock is the same one.
        Verdict::QueenAbove => &["cell-look", "virgin-loose", "workers-out", "drones-out"],
        Verdict::QueenBelow | Verdict::NotAbove => &["cell-look", "return", "workers-out", "drones-out"],
        Verdict::VirginAbove => &["new-queen-eggs", "workers-out", "drones-out"],
        Verdict::NotBelow => &["cell-look", "new-queen-eggs", "new-queen-failed"],
        Verdict::QueenLost | Verdict::WaitForNewQueen => &["new-queen-eggs", "new-queen-failed"],
        Verdict::UpperBoxClear => &["drones-out"],
        Verdict::NewQueenFailed => &[],
    };
    dated_marks(ClockStart::ExcluderUnderBrood, put_down)
        .into_iter()
        .filter(|dated| wanted.contains(&dated.mark.code))
        .filter(|dated| day <= dated.mark.to_day.unwrap_or(dated.mark.best_day))
        .collect()
}

fn refuse(put_down: Date, day: i64, comb: CombSeen) -> SignRefusal {
    let (from, to) = comb.counts();
    let too_early = day < from;
    let why = if day < 0 {
        "It was seen before the put-down.".to_owned()
    } else if too_early {
        too_early_because(comb).to_owned()
    } else {
        too_late_because(comb).to_owned()
    };
    let instead = match (too_early, comb) {
        (true, _) if day < EGG_TEST => &format!(
            "Nothing in the combs can tell yet. Look for eggs from {} on.",
            day_month(plus_days(put_down, EGG_TEST))
        ),
        (true, CombSeen::Above(AboveSeen::Nothing)) | (false, CombSeen::Above(AboveSeen::HingedCell)) => {
            "Look for eggs, above and below."
        }
        (true, _) => "Look for eggs: they count already.",
        (false, _) => "Look for eggs, below first.",
    };
    SignRefusal {
        why,
        counts_from: plus_days(put_down, from),
        counts_to: to.map(|to| plus_days(put_down, to)),
        instead: instead.to_owned(),
    }
}

const fn too_early_because(comb: CombSeen) -> &'static str {
    match comb {
        CombSeen::Above(AboveSeen::Eggs) => {
            "These eggs may have been laid before the put-down: an egg stays one for three days."
        }
        CombSeen::Below(BelowSeen::Eggs) => {
            "These eggs may have been laid before the put-down, by a queen who is above now."
        }
        CombSeen::Below(BelowSeen::NoEggsCells | BelowSeen::NoEggsNoCells) => {
            "A queen just put down may not have laid here yet."
        }
        CombSeen::Above(AboveSeen::OpenLarvae) => {
            "These larvae may come from eggs laid before the put-down: they stay open to an age of nine days."
        }
        CombSeen::Above(AboveSeen::OpenDroneBrood) => {
            "This drone brood may come from eggs laid before the put-down: it stays open to an age of ten days."
        }
        CombSeen::Above(AboveSeen::CappedOnly) => {
            "Brood laid before the put-down may still be open on another comb; one comb with capped brood only proves \
             nothing yet."
        }
        CombSeen::Above(AboveSeen::HingedCell) => {
            "No cell begun after the put-down can have opened and all brood be capped: this one is older. There may be \
             a second queen; tell the owner."
        }
        CombSeen::Above(AboveSeen::Nothing) => {
            "Brood of the old queen must still be above: this comb had none to begin with. Take one from the middle."
        }
    }
}

const fn too_late_because(comb: CombSeen) -> &'static str {
    match comb {
        CombSeen::Above(AboveSeen::CappedOnly) => {
            "All workers laid above before the put-down have emerged. Capped drone brood may stand a few days longer; \
             capped worker brood now was laid later."
        }
        CombSeen::Above(AboveSeen::HingedCell) => {
            "A virgin from that cell is due to lay by now: her eggs tell, the old cell does not."
        }
        CombSeen::Below(BelowSeen::NoEggsCells) => {
            "Every cell begun at the put-down has opened. These cells are younger: the colony is swarming or changing \
             its queen, and that has its own clock."
        }
        _ => "This sign counts without an end.",
    }
}
