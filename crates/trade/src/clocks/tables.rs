//! The marks of every clock. Each day that follows from the stage table is worked out from it.

use super::ClockMark;
use crate::stages::{
    DRONE, EMERGENCE_TO_FIRST_EGG, GRAFT_AGE, OLDEST_QUEEN_LARVA_DAYS, QUEEN, WORKER, emergency_virgin_day,
};

/// Last day on which a queen cell can be started: an egg laid on day 0 is then a larva of 3 days.
pub const LAST_CELL_START: i64 = WORKER.egg_days + OLDEST_QUEEN_LARVA_DAYS;

/// First day and last day on which a queen raised after a put-down or a walk-away lays her first egg
/// (common practice, no source; 12 + 12.9 days lies in the middle).
pub const NEW_QUEEN_EGGS: (i64, i64) = (20, 30);

/// A colony that raised its own queen and shows no egg by this day has failed (common practice, no source).
pub const GIVE_UP_NEW_QUEEN: i64 = 35;

const STAGES: &str = "stage table";
const PRACTICE: &str = "common practice, no source";

const fn a_mark(
    code: &'static str,
    name: &'static str,
    days: (i64, i64, Option<i64>),
    meaning: &'static str,
    source: &'static str,
    job: Option<&'static str>,
) -> ClockMark {
    ClockMark { code, name, from_day: days.0, best_day: days.1, to_day: days.2, meaning, source, job }
}

pub(super) static EXCLUDER_UNDER_BROOD: &[ClockMark] = &[
    a_mark(
        "eggs-hatched",
        "last egg above hatched",
        (WORKER.egg_days, WORKER.egg_days + 1, None),
        "Every egg laid above before the put-down has hatched; allow one day more.",
        STAGES,
        None,
    ),
    a_mark(
        "egg-test",
        "egg test",
        (WORKER.egg_days + 1, WORKER.egg_days + 1, None),
        "From now on any egg above the excluder means a queen is above.",
        "stage table; four full days [QueenTest]",
        Some("egg-test"),
    ),
    a_mark(
        "last-cell-start",
        "last day a queen cell can be started",
        (LAST_CELL_START, LAST_CELL_START, Some(LAST_CELL_START)),
        "The youngest larva above is three days old today; no new queen cell can be started after this.",
        "stage table; larva up to 72 h, Woyke 1971, from memory",
        None,
    ),
    a_mark(
        "cell-look",
        "look for queen cells",
        (LAST_CELL_START + 1, LAST_CELL_START + 2, Some(emergency_virgin_day(OLDEST_QUEEN_LARVA_DAYS) - 1)),
        "The one look that sees every queen cell above and comes before every virgin: take five hives of the yard.",
        "stage table; [CellStart1984]",
        Some("unwanted-cells-check"),
    ),
    a_mark(
        "virgin-loose",
        "a virgin may be loose",
        (
            emergency_virgin_day(OLDEST_QUEEN_LARVA_DAYS) - 1,
            emergency_virgin_day(OLDEST_QUEEN_LARVA_DAYS),
            Some(QUEEN.emerges_latest),
        ),
        "Virgins leave cells that were not taken out: as a rule from day 10, from day 9 if they are fast, until day 17 \
         if the nest was cool. Above, if cells were left there; below, if the queen was lost.",
        "stage table",
        None,
    ),
    a_mark(
        "open-worker-test",
        "open-brood test",
        (WORKER.capped_age + 1, WORKER.capped_age + 1, None),
        "From now on open worker brood above means a queen is above. One comb from the middle is enough.",
        STAGES,
        Some("open-brood-test"),
    ),
    a_mark(
        "open-drone-test",
        "open drone brood test",
        (DRONE.capped_age + 1, DRONE.capped_age + 1, None),
        "From now on open drone brood above means a queen, or a drone layer, is above.",
        STAGES,
        None,
    ),
    a_mark(
        "return",
        "normal return",
        (12, 14, Some(16)),
        "The third is filling and two thirds of the worker brood above has hatched: come back and add boxes, or \
         sooner if the fill clock says so.",
        PRACTICE,
        Some("add-boxes"),
    ),
    a_mark(
        "new-queen-eggs",
        "first eggs of a new queen",
        (NEW_QUEEN_EGGS.0, 12 + EMERGENCE_TO_FIRST_EGG, Some(NEW_QUEEN_EGGS.1)),
        "Only where the queen was lost or a virgin came out: her first eggs are due. Do not requeen before.",
        "common practice, no source; emergence to first egg [PerezSato2006]",
        None,
    ),
    a_mark(
        "workers-out",
        "upper box clear of worker brood",
        (WORKER.emerges_age, WORKER.emerges_latest, None),
        "The last worker has left the upper box: it is a honey box now.",
        STAGES,
        None,
    ),
    a_mark(
        "drones-out",
        "upper box clear of drones",
        (DRONE.emerges_age, DRONE.emerges_age + 1, None),
        "The last drone has emerged. Until then drones above need a way out: they cannot pass an excluder.",
        STAGES,
        None,
    ),
    a_mark(
        "new-queen-failed",
        "no eggs yet: a new queen has failed",
        (GIVE_UP_NEW_QUEEN, GIVE_UP_NEW_QUEEN, None),
        "Where the queen was lost and no egg stands below by now, unite the colony or give it a queen.",
        PRACTICE,
        Some("requeen"),
    ),
];

/// Days from the making of a split to its queen's first egg (trade facts 1.3 E).
const MATED_LAYS: (i64, i64) = (4, 8);
const RIPE_CELL_LAYS: (i64, i64) = (14, 18);
const VIRGIN_LAYS: (i64, i64) = (12, 15);
const WALK_AWAY_LAYS: (i64, i64) = (22, 30);

const fn lays(days: (i64, i64), source: &'static str) -> ClockMark {
    a_mark(
        "laying",
        "queen begins to lay",
        (days.0, i64::midpoint(days.0, days.1), Some(days.1)),
        "Her first eggs. Leave the colony shut.",
        source,
        None,
    )
}

const fn first_workers(days: (i64, i64)) -> ClockMark {
    a_mark(
        "first-workers",
        "her first workers",
        (
            days.0 + WORKER.emerges_age,
            i64::midpoint(days.0, days.1) + WORKER.emerges_age,
            Some(days.1 + WORKER.emerges_age),
        ),
        "The first bees of the new queen emerge.",
        STAGES,
        None,
    )
}

const fn eggs_look(days: (i64, i64, i64), meaning: &'static str) -> ClockMark {
    a_mark(
        "egg-look",
        "look for eggs",
        (days.0, days.1, Some(days.2)),
        meaning,
        "first-egg days and common practice, no source",
        Some("split-check"),
    )
}

pub(super) static SPLIT_MATED_QUEEN: &[ClockMark] = &[
    lays(MATED_LAYS, "candy 2 to 5 days and 1 to 3 days more, common practice, no source"),
    eggs_look((7, 8, 10), "Eggs: she is taken. None and no queen: give another or unite."),
    first_workers(MATED_LAYS),
];

pub(super) static REQUEENED: &[ClockMark] = &[
    lays(MATED_LAYS, "candy 2 to 5 days and 1 to 3 days more, common practice, no source"),
    a_mark(
        "egg-look",
        "look for eggs",
        (7, 10, Some(14)),
        "Eggs: she is taken. None and no queen: give another or unite.",
        PRACTICE,
        Some("split-check"),
    ),
    first_workers(MATED_LAYS),
];

pub(super) static SPLIT_RIPE_CELL: &[ClockMark] = &[
    a_mark(
        "virgin-emerges",
        "virgin leaves the cell",
        (1, 2, Some(3)),
        "A ripe cell of day 10 opens one to three days later. Do not open the split.",
        "[GraftSheet]: 11, 12, 13 less 10",
        None,
    ),
    lays(RIPE_CELL_LAYS, "emergence and 12.9 days [PerezSato2006]"),
    eggs_look((18, 19, 21), "Eggs: mated and laying. None: look once more on day 26 before giving up."),
    a_mark(
        "second-egg-look",
        "second look for eggs",
        (26, 26, Some(26)),
        "None again: she was lost on her flights. Unite, or give a queen.",
        PRACTICE,
        Some("split-check"),
    ),
    first_workers(RIPE_CELL_LAYS),
];

pub(super) static SPLIT_VIRGIN: &[ClockMark] = &[
    lays(VIRGIN_LAYS, "0 to 1 day old and 12.9 days [PerezSato2006]"),
    eggs_look((16, 18, 20), "Eggs: mated and laying. None: look once more before giving up."),
    first_workers(VIRGIN_LAYS),
];

pub(super) static SPLIT_WALK_AWAY: &[ClockMark] = &[
    a_mark(
        "virgin-emerges",
        "virgin leaves the cell",
        (emergency_virgin_day(3), emergency_virgin_day(1), Some(QUEEN.emerges_age)),
        "The first virgin emerges and takes the other cells. Do not open the split.",
        STAGES,
        None,
    ),
    a_mark(
        "old-workers-out",
        "last old worker brood out",
        (WORKER.emerges_age, WORKER.emerges_latest, None),
        "No capped worker brood of the old queen is left.",
        STAGES,
        None,
    ),
    lays(WALK_AWAY_LAYS, "virgin day 10 to 16 and 12.9 days [PerezSato2006]"),
    a_mark(
        "broodless",
        "no capped worker brood",
        (WORKER.emerges_latest, 25, Some(WALK_AWAY_LAYS.0 + WORKER.capped_age_earliest - 1)),
        "The days in which a brood-free treatment reaches every mite; the first days while drone brood still stands. \
         The label decides.",
        "stage table; trade facts 7.2, brood-break rule",
        None,
    ),
    a_mark(
        "old-drones-out",
        "last old drone brood out",
        (DRONE.emerges_age, DRONE.emerges_age + 1, None),
        "No capped drone brood of the old queen is left.",
        STAGES,
        None,
    ),
    eggs_look(
        (25, 27, GIVE_UP_NEW_QUEEN),
        "Not before day 25: a virgin on her flights is easily lost to an open hive.",
    ),
    a_mark(
        "new-capped",
        "first capped brood of the new queen",
        (
            WALK_AWAY_LAYS.0 + WORKER.capped_age_earliest,
            i64::midpoint(WALK_AWAY_LAYS.0, WALK_AWAY_LAYS.1) + WORKER.capped_age_earliest,
            Some(WALK_AWAY_LAYS.1 + WORKER.capped_age_earliest),
        ),
        "Mites have capped brood to go into again.",
        STAGES,
        None,
    ),
    a_mark(
        "new-queen-failed",
        "no eggs yet: she has failed",
        (GIVE_UP_NEW_QUEEN, GIVE_UP_NEW_QUEEN, None),
        "Unite the split or give it a queen.",
        PRACTICE,
        Some("unite"),
    ),
    first_workers(WALK_AWAY_LAYS),
];

pub(super) static UNITED: &[ClockMark] = &[a_mark(
    "united-look",
    "look for eggs",
    (10, 10, None),
    "One queen laying and one nest: done.",
    PRACTICE,
    Some("split-check"),
)];

/// Days from graft to emergence: earliest, usual, late `[GraftSheet]`.
const GRAFT_EMERGES: (i64, i64, i64) = (11, QUEEN.emerges_age - GRAFT_AGE, 13);
/// Days from graft to the first eggs of the young queens.
const GRAFT_LAYS: (i64, i64) = (22, 30);

pub(super) static GRAFT: &[ClockMark] = &[
    a_mark(
        "drone-eggs",
        "drone eggs laid by now",
        // Ripe drones of 12 days when the virgins are 6: 24 + 12 - (16 + 6) days before the queen's egg.
        (-(DRONE.emerges_age + 12 - QUEEN.emerges_age - 6 + GRAFT_AGE), -18, Some(-18)),
        "Drones must be twelve days old when the virgins fly at six days.",
        "stage table; drones ripe at 12 d, from memory",
        None,
    ),
    a_mark(
        "mother-laying",
        "mother laying in the comb for the graft",
        (-5, -GRAFT_AGE, Some(-GRAFT_AGE)),
        "She is shut on the comb so that the larvae are of one age.",
        "[GraftSheet]",
        None,
    ),
    a_mark(
        "cells-taken",
        "see how many are taken",
        (1, 1, Some(1)),
        "Cells drawn out and fed were taken; move them to the finisher.",
        "[GraftSheet]",
        None,
    ),
    a_mark(
        "cells-sealed",
        "cells sealed",
        (4, 5, Some(5)),
        "Some are sealed half a day before, all on day 5. Do not jolt them from now on.",
        "[GraftSealed]",
        None,
    ),
    a_mark(
        "cells-ripe",
        "ripe cells into splits",
        (10, 10, Some(10)),
        "One day before the first can open. A larva two days older than believed opens first and kills the rest.",
        "[GraftSheet]",
        Some("split-ripe-cell"),
    ),
    a_mark(
        "virgin-emerges",
        "virgins emerge",
        (GRAFT_EMERGES.0, GRAFT_EMERGES.1, Some(GRAFT_EMERGES.2)),
        "Day 12 as a rule.",
        "[GraftSheet]",
        None,
    ),
    a_mark(
        "mating-flights",
        "mating flights",
        (GRAFT_EMERGES.1 + 5, GRAFT_EMERGES.1 + 8, Some(GRAFT_EMERGES.1 + 14)),
        "Age 5 to 14 days, on warm calm days. Keep away from the entrances.",
        "from memory",
        None,
    ),
    a_mark(
        "laying",
        "first eggs",
        (GRAFT_LAYS.0, GRAFT_EMERGES.1 + EMERGENCE_TO_FIRST_EGG, Some(GRAFT_LAYS.1)),
        "Mean day 25.",
        "day 12 and 12.9 days [PerezSato2006]",
        None,
    ),
    a_mark(
        "catch",
        "look and catch",
        (27, 28, Some(30)),
        "Worker brood is proven only by capped worker cells, nine days after her first egg.",
        PRACTICE,
        None,
    ),
    a_mark("new-queen-failed", "no eggs: failed", (40, 40, None), "Not mated or lost.", PRACTICE, None),
];

/// Days from a fresh egg in a queen cell to the sealing of it, when a prime swarm leaves.
const EGG_TO_SEALED: i64 = QUEEN.capped_age;

pub(super) static SWARM_CELLS_UNCLIPPED: &[ClockMark] = &[
    a_mark(
        "next-round",
        "next swarm round",
        (EGG_TO_SEALED - 1, EGG_TO_SEALED - 1, Some(EGG_TO_SEALED - 1)),
        "At the latest on this day: a cell with a fresh egg at the last look is still open.",
        "stage table; interval common practice, no source",
        Some("swarm-cells-check"),
    ),
    a_mark(
        "swarm-may-leave",
        "a prime swarm may leave",
        (EGG_TO_SEALED, EGG_TO_SEALED, None),
        "A cell started right after the last look is sealed now, and the old queen goes.",
        STAGES,
        None,
    ),
];

pub(super) static SWARM_CELLS_CLIPPED: &[ClockMark] = &[
    a_mark(
        "cells-sealed",
        "a cell may be sealed",
        (EGG_TO_SEALED, EGG_TO_SEALED, None),
        "A clipped queen may be lost at the first try to swarm; the bees wait for the first virgin.",
        STAGES,
        None,
    ),
    a_mark(
        "next-round",
        "next swarm round",
        (9, 9, Some(10)),
        "A clipped queen cannot take the swarm away, so the round may wait two or three days longer.",
        PRACTICE,
        Some("swarm-cells-check-clipped"),
    ),
    a_mark(
        "swarm-may-leave",
        "a swarm may leave with a virgin",
        (QUEEN.emerges_age, QUEEN.emerges_age, None),
        "The first virgin emerges 16 days after her egg.",
        STAGES,
        None,
    ),
];

/// Days from sealing to emergence of a queen.
const SEALED_TO_VIRGIN: i64 = QUEEN.emerges_age - QUEEN.capped_age;

pub(super) static PRIME_SWARM: &[ClockMark] = &[
    a_mark(
        "virgin-emerges",
        "virgin leaves the cell",
        (SEALED_TO_VIRGIN - 1, SEALED_TO_VIRGIN, Some(SEALED_TO_VIRGIN + 1)),
        "The colony that swarmed has a virgin; an after-swarm may go with her.",
        "stage table; a day either way",
        None,
    ),
    a_mark(
        "laying",
        "new queen lays",
        (SEALED_TO_VIRGIN + EMERGENCE_TO_FIRST_EGG, SEALED_TO_VIRGIN + EMERGENCE_TO_FIRST_EGG, None),
        "Look for eggs, not before.",
        "8 and 12.9 days [PerezSato2006]",
        Some("split-check"),
    ),
    a_mark(
        "first-workers",
        "her first workers",
        (
            SEALED_TO_VIRGIN + EMERGENCE_TO_FIRST_EGG + WORKER.emerges_age,
            SEALED_TO_VIRGIN + EMERGENCE_TO_FIRST_EGG + WORKER.emerges_age,
            None,
        ),
        "Six weeks without a new bee: she brings no more crop this year.",
        STAGES,
        None,
    ),
];

pub(super) static TREATMENT_OUT: &[ClockMark] = &[a_mark(
    "recount",
    "count mites again",
    (10, 12, Some(14)),
    "Did it work? The same colonies, the same count.",
    PRACTICE,
    Some("mite-wash"),
)];

pub(super) static PULL_TO_DRUM: &[ClockMark] = &[
    a_mark(
        "extract-by",
        "out of the comb by now",
        (0, 1, Some(3)),
        "Three days from pull to drum: after that combs set and honey draws water.",
        "[ThreeDays]",
        None,
    ),
    a_mark(
        "may-set",
        "canola may have set",
        (7, 7, None),
        "Canola can set in the comb within a week.",
        "[CanolaSets]",
        None,
    ),
];

pub(super) static FED: &[ClockMark] = &[a_mark(
    "reweigh",
    "weigh again",
    (14, 14, None),
    "Not up to weight: feed again while they still take it.",
    PRACTICE,
    Some("feed"),
)];
