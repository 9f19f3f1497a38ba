//! The brood clocks against the published day tables and the scenes worked by hand.

use jiff::civil::date;
use outyard_base::days::plus_days;
use outyard_trade::clocks::{ClockStart, dated_marks, mark, marks};
use outyard_trade::{DatedMark, JobBook};
use proptest::prelude::*;

fn check(start: ClockStart, code: &str, from: i64, best: i64, to: Option<i64>) {
    let mark = mark(start, code).unwrap_or_else(|| panic!("{start} has no {code}"));
    assert_eq!((mark.from_day, mark.best_day, mark.to_day), (from, best, to), "{start}: {code}");
}

// Date rules A, worked out from the stage table: egg 3; no cell started after 6; capped 9 / 10; workers 21 (22),
// drones 24 (25); look 7-8, at the latest 9; virgins 10 (9 if they take 15 days) to 16 (17 cool).
#[test]
fn a_excluder_under_brood() {
    let check = |code, from, best, to| check(ClockStart::ExcluderUnderBrood, code, from, best, to);
    check("eggs-hatched", 3, 4, None);
    check("egg-test", 4, 4, None);
    check("last-cell-start", 6, 6, Some(6));
    check("cell-look", 7, 8, Some(9));
    check("virgin-loose", 9, 10, Some(17));
    check("open-worker-test", 10, 10, None);
    check("open-drone-test", 11, 11, None);
    check("return", 12, 14, Some(16));
    check("new-queen-eggs", 20, 25, Some(30));
    check("workers-out", 21, 22, None);
    check("drones-out", 24, 25, None);
    check("new-queen-failed", 35, 35, None);
}

// Date rule B: four full days before looking for eggs.
#[test]
fn b_where_is_the_queen() {
    assert_eq!(mark(ClockStart::ExcluderUnderBrood, "egg-test").unwrap().from_day, 4);
}

// Date rules C: a cell with a fresh egg is sealed 8 days later, round every 7 days, 9 to 10 when clipped (16 days to
// the virgin); after a prime swarm a virgin in about 8, laying 21, first workers 42.
#[test]
fn c_swarm_rounds() {
    check(ClockStart::SwarmCellsSeenUnclipped, "next-round", 7, 7, Some(7));
    check(ClockStart::SwarmCellsSeenUnclipped, "swarm-may-leave", 8, 8, None);
    check(ClockStart::SwarmCellsSeenClipped, "cells-sealed", 8, 8, None);
    check(ClockStart::SwarmCellsSeenClipped, "next-round", 9, 9, Some(10));
    check(ClockStart::SwarmCellsSeenClipped, "swarm-may-leave", 16, 16, None);
    check(ClockStart::PrimeSwarm, "virgin-emerges", 7, 8, Some(9));
    check(ClockStart::PrimeSwarm, "laying", 21, 21, None);
    check(ClockStart::PrimeSwarm, "first-workers", 42, 42, None);
}

// Date rules D (grafting time sheets): -5/-4, 1, 4.5-5, 10, 11/12/13, 17-26, 22-30 mean 25, 27-30, from 40 failed;
// drone eggs 18 days before the graft.
#[test]
fn d_graft() {
    let check = |code, from, best, to| check(ClockStart::Graft, code, from, best, to);
    check("drone-eggs", -18, -18, Some(-18));
    check("mother-laying", -5, -4, Some(-4));
    check("cells-taken", 1, 1, Some(1));
    check("cells-sealed", 4, 5, Some(5));
    check("cells-ripe", 10, 10, Some(10));
    check("virgin-emerges", 11, 12, Some(13));
    check("mating-flights", 17, 20, Some(26));
    check("laying", 22, 25, Some(30));
    check("catch", 27, 28, Some(30));
    check("new-queen-failed", 40, 40, None);
}

// Date rules E: laying 4-8 / 14-18 / 12-15 / 22-30; first workers 25-29 / 35-39 / 33-36 / 43-51; eggs looked for
// 7-10 / 18-21 and 26 / 16-20 / not before 25, fail at 35; broodless from 22 or 24 to about 30.
#[test]
fn e_splits() {
    use ClockStart::{SplitMatedQueen, SplitRipeCell, SplitVirgin, SplitWalkAway};
    for (start, lays, workers, look) in [
        (SplitMatedQueen, (4, 8), (25, 29), (7, 10)),
        (SplitRipeCell, (14, 18), (35, 39), (18, 21)),
        (SplitVirgin, (12, 15), (33, 36), (16, 20)),
        (SplitWalkAway, (22, 30), (43, 51), (25, 35)),
    ] {
        for (code, (from, to)) in [("laying", lays), ("first-workers", workers), ("egg-look", look)] {
            let mark = mark(start, code).unwrap();
            assert_eq!((mark.from_day, mark.to_day), (from, Some(to)), "{start}: {code}");
        }
    }
    check(SplitRipeCell, "virgin-emerges", 1, 2, Some(3));
    check(SplitRipeCell, "second-egg-look", 26, 26, Some(26));
    check(SplitWalkAway, "virgin-emerges", 10, 12, Some(16));
    check(SplitWalkAway, "old-workers-out", 21, 22, None);
    check(SplitWalkAway, "old-drones-out", 24, 25, None);
    // New capped brood from (22 ... 30) + 8: the last day without any is the one before.
    check(SplitWalkAway, "broodless", 22, 25, Some(29));
    check(SplitWalkAway, "new-capped", 30, 34, Some(38));
    check(SplitWalkAway, "new-queen-failed", 35, 35, None);
}

// The season table: united look 10 d, recount 10 to 14 d after treatment, three days from pull to drum, reweigh 14 d.
#[test]
fn the_rest_of_the_year() {
    check(ClockStart::United, "united-look", 10, 10, None);
    check(ClockStart::TreatmentOut, "recount", 10, 12, Some(14));
    check(ClockStart::PullToDrum, "extract-by", 0, 1, Some(3));
    check(ClockStart::Fed, "reweigh", 14, 14, None);
    check(ClockStart::Requeened, "egg-look", 7, 10, Some(14));
}

// Scene S1: put down on 3 July 2026.
#[test]
fn s1_the_dates_of_the_yard_sheet() {
    let marks = dated_marks(ClockStart::ExcluderUnderBrood, date(2026, 7, 3));
    let find = |code: &str| -> DatedMark { *marks.iter().find(|dated| dated.mark.code == code).unwrap() };
    let july = |day| date(2026, 7, day);
    assert_eq!(find("egg-test").from, july(7));
    let look = find("cell-look");
    assert_eq!((look.from, look.best, look.to), (july(10), july(11), Some(july(12))));
    assert_eq!(find("open-worker-test").from, july(13));
    let back = find("return");
    assert_eq!((back.from, back.best, back.to), (july(15), july(17), Some(july(19))));
    assert_eq!((find("workers-out").from, find("workers-out").best), (july(24), july(25)));
    assert_eq!((find("drones-out").from, find("drones-out").best), (july(27), july(28)));
    assert_eq!(look.to_string(), "look for queen cells: 10 Jul to 12 Jul, best 11 Jul");
    assert_eq!(find("egg-test").to_string(), "egg test: from 7 Jul");
    assert_eq!(find("last-cell-start").to_string(), "last day a queen cell can be started: 9 Jul");
}

#[test]
fn every_mark_is_in_order_and_calls_only_jobs_of_the_book() {
    let book = JobBook::standard();
    for start in ClockStart::ALL {
        assert_eq!(start.code().parse(), Ok(start));
        let marks = marks(start);
        assert_eq!(marks.is_empty(), start == ClockStart::TreatmentIn, "{start}");
        assert!(marks.is_sorted_by_key(|mark| mark.from_day), "{start} is out of order");
        for mark in marks {
            assert!(mark.from_day <= mark.best_day, "{start}: {}", mark.code);
            assert!(mark.to_day.is_none_or(|to| mark.best_day <= to), "{start}: {}", mark.code);
            assert!(!mark.source.is_empty() && !mark.meaning.is_empty(), "{start}: {}", mark.code);
            assert_eq!(marks.iter().filter(|other| other.code == mark.code).count(), 1, "{start}: {}", mark.code);
            if let Some(job) = mark.job {
                book.job(job).unwrap_or_else(|trouble| panic!("{start}: {}: {trouble}", mark.code));
            }
        }
    }
    assert!("excluder".parse::<ClockStart>().is_err());
}

proptest! {
    // A brood clock knows nothing but its day 0: moved by some days, every date moves by as many.
    #[test]
    fn a_clock_moves_with_its_day_and_with_nothing_else(start in 0..ClockStart::ALL.len(), shift in -4000_i64..4000) {
        let start = ClockStart::ALL[start];
        let day0 = date(2026, 7, 3);
        let moved = plus_days(day0, shift);
        for (here, there) in dated_marks(start, day0).iter().zip(dated_marks(start, moved)) {
            prop_assert_eq!(plus_days(here.from, shift), there.from);
            prop_assert_eq!(plus_days(here.best, shift), there.best);
            prop_assert_eq!(here.to.map(|to| plus_days(to, shift)), there.to);
        }
    }
}
