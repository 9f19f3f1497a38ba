//! The sign reader: the scenes worked by hand, its windows on every day, and a comb-by-comb model of the brood that
//! shows no true sign can lead to a false verdict.

use std::collections::BTreeSet;

use jiff::civil::{Date, date};
use outyard_base::days::plus_days;
use outyard_trade::{AboveSeen, BelowSeen, CombSeen, SignMeaning, SignReading, SignRefusal, Verdict, read_sign};
use proptest::prelude::*;

const PUT_DOWN: Date = date(2026, 7, 3);

fn means(day: i8, comb: CombSeen) -> SignMeaning {
    match read_sign(PUT_DOWN, date(2026, 7, day), comb) {
        SignReading::Meaning(meaning) => meaning,
        SignReading::Refused(refusal) => panic!("refused: {}", refusal.why),
    }
}

fn refused(day: i64, comb: CombSeen) -> SignRefusal {
    match read_sign(PUT_DOWN, plus_days(PUT_DOWN, day), comb) {
        SignReading::Refused(refusal) => refusal,
        SignReading::Meaning(meaning) => panic!("answered on day {day}: {}", meaning.means),
    }
}

fn said(meaning: &SignMeaning) -> String {
    format!("{} {}", meaning.means, meaning.to_do.join(" "))
}

// Scene S5 (a).
#[test]
fn s5a_eggs_above_on_8_july_mean_a_queen_above() {
    let answer = means(8, CombSeen::Above(AboveSeen::Eggs));
    assert_eq!(answer.verdict, Verdict::QueenAbove);
    let words = said(&answer);
    assert!(words.contains("xchange the boxes"), "{words}");
    assert!(answer.to_do[0].contains("queen cells"), "the lower box is looked over before the exchange: {words}");
    // The lower box has had no queen since the put-down: its cells are looked for 10 to 12 July, it clears 24 July.
    let codes: Vec<&str> = answer.next.iter().map(|dated| dated.mark.code).collect();
    assert_eq!(codes, ["cell-look", "virgin-loose", "workers-out", "drones-out"]);
    assert_eq!(answer.next[0].from, date(2026, 7, 10));
    assert_eq!(answer.next[2].from, date(2026, 7, 24));
}

// Scene S5 (b).
#[test]
fn s5b_only_capped_above_on_13_july_means_she_is_down() {
    let answer = means(13, CombSeen::Above(AboveSeen::CappedOnly));
    assert_eq!(answer.verdict, Verdict::NotAbove);
    assert!(answer.means.contains("she is down"));
}

// Scene S5 (c).
#[test]
fn s5c_open_larvae_above_on_17_july_mean_a_queen_above() {
    let answer = means(17, CombSeen::Above(AboveSeen::OpenLarvae));
    assert_eq!(answer.verdict, Verdict::QueenAbove);
    assert!(said(&answer).contains("a virgin is there, do not exchange"), "from 12 July a virgin may be loose below");
}

// Scene S5 (d): look for eggs 23 July to 2 August.
#[test]
fn s5d_a_hinged_cell_above_on_17_july_means_a_virgin_above() {
    let answer = means(17, CombSeen::Above(AboveSeen::HingedCell));
    assert_eq!(answer.verdict, Verdict::VirginAbove);
    assert!(answer.means.contains("from 23 Jul to 2 Aug"), "{}", answer.means);
    assert_eq!((answer.next[0].from, answer.next[0].to), (date(2026, 7, 23), Some(date(2026, 8, 2))));
}

// Scene S5 (e): eggs 23 July to 2 August, no requeening before.
#[test]
fn s5e_no_eggs_but_cells_below_on_17_july_mean_the_queen_was_lost() {
    let answer = means(17, CombSeen::Below(BelowSeen::NoEggsCells));
    assert_eq!(answer.verdict, Verdict::QueenLost);
    let words = said(&answer);
    assert!(words.contains("from 23 Jul to 2 Aug") && words.contains("Do not requeen before"), "{words}");
    assert_eq!((answer.next[0].from, answer.next[0].to), (date(2026, 7, 23), Some(date(2026, 8, 2))));
}

// Scene S5, refusal: eggs on 5 July were laid before the put-down.
#[test]
fn s5_eggs_above_on_5_july_prove_nothing() {
    let refusal = refused(2, CombSeen::Above(AboveSeen::Eggs));
    assert_eq!((refusal.counts_from, refusal.counts_to), (date(2026, 7, 7), None));
    assert!(refusal.why.contains("laid before the put-down"), "{}", refusal.why);
    assert!(refusal.instead.contains("7 Jul"), "{}", refusal.instead);
}

#[test]
fn a_test_made_too_late_says_when_it_stopped() {
    let refusal = refused(22, CombSeen::Above(AboveSeen::CappedOnly));
    assert_eq!((refusal.counts_from, refusal.counts_to), (date(2026, 7, 13), Some(date(2026, 7, 24))));
    assert!(refused(-1, CombSeen::Below(BelowSeen::Eggs)).why.contains("before the put-down"));
}

/// The days on which each sign counts, written out by hand from the clock table.
const WINDOWS: [(CombSeen, i64, i64); 9] = [
    (CombSeen::Above(AboveSeen::Eggs), 4, i64::MAX),
    (CombSeen::Above(AboveSeen::OpenLarvae), 10, i64::MAX),
    (CombSeen::Above(AboveSeen::CappedOnly), 10, 21),
    (CombSeen::Above(AboveSeen::HingedCell), 10, 19),
    (CombSeen::Above(AboveSeen::OpenDroneBrood), 11, i64::MAX),
    (CombSeen::Above(AboveSeen::Nothing), 21, i64::MAX),
    (CombSeen::Below(BelowSeen::Eggs), 4, i64::MAX),
    (CombSeen::Below(BelowSeen::NoEggsCells), 4, 17),
    (CombSeen::Below(BelowSeen::NoEggsNoCells), 4, i64::MAX),
];

#[test]
fn on_every_day_every_sign_is_answered_inside_its_window_and_refused_outside() {
    for (comb, from, to) in WINDOWS {
        for day in -5..=60 {
            let counts = (from..=to).contains(&day);
            match read_sign(PUT_DOWN, plus_days(PUT_DOWN, day), comb) {
                SignReading::Meaning(meaning) => {
                    assert!(counts, "{} was answered on day {day}", comb.code());
                    assert!(!meaning.means.is_empty() && !meaning.to_do.is_empty(), "{} day {day}", comb.code());
                    let seen_on = plus_days(PUT_DOWN, day);
                    for dated in meaning.next {
                        let over = dated.to.unwrap_or(dated.best) < seen_on;
                        assert!(!over, "{} day {day}: {dated} is over", comb.code());
                    }
                }
                SignReading::Refused(refusal) => {
                    assert!(!counts, "{} was refused on day {day}", comb.code());
                    assert_eq!(refusal.counts_from, plus_days(PUT_DOWN, from));
                    assert_eq!(refusal.counts_to, (to < i64::MAX).then(|| plus_days(PUT_DOWN, to)));
                    assert!(!refusal.why.is_empty() && !refusal.instead.is_empty());
                    assert!(!refusal.why.contains("without an end"), "{} day {day}", comb.code());
                }
            }
        }
    }
    let read: BTreeSet<CombSeen> = WINDOWS.iter().map(|(comb, ..)| *comb).collect();
    assert_eq!(read, CombSeen::ALL.into_iter().collect(), "every sign is in the table");
    for comb in CombSeen::ALL {
        assert_eq!(CombSeen::read(comb.code()), Some(comb));
    }
}

/// One stock of bees: days as an egg, capped (worker, drone), emerged (worker, drone). The ends of the usual ranges
/// (stage table: worker 8-9 and 19.5-22, drone 9.5-10 and 23-25.5).
struct Stock {
    egg: f64,
    capped: [f64; 2],
    emerged: [f64; 2],
}

const FAST: Stock = Stock { egg: 2.9, capped: [8.0, 9.5], emerged: [19.5, 23.0] };
const USUAL: Stock = Stock { egg: 3.0, capped: [9.0, 10.0], emerged: [21.0, 24.0] };
const SLOW: Stock = Stock { egg: 3.4, capped: [9.6, 10.6], emerged: [22.0, 25.5] };

/// Signs of a middle comb on a day, when a queen laid there on every day from -40 to `last_egg` (none: she lays on),
/// with cells opened on it from the day a virgin emerged.
fn signs_of(stock: &Stock, day: i64, last_egg: Option<i64>, above: bool) -> BTreeSet<CombSeen> {
    let [mut egg, mut open_worker, mut open_drone, mut capped] = [false; 4];
    for laid in -40..=last_egg.unwrap_or(day).min(day) {
        #[expect(clippy::cast_precision_loss, reason = "small days")]
        let age = (day - laid) as f64;
        egg |= age < stock.egg;
        open_worker |= age >= stock.egg && age < stock.capped[0];
        open_drone |= age >= stock.egg && age < stock.capped[1];
        capped |= (0..2).any(|caste| age >= stock.capped[caste] && age < stock.emerged[caste]);
    }
    let mut signs = BTreeSet::new();
    if above {
        let first = if egg {
            Some(AboveSeen::Eggs)
        } else if open_worker {
            Some(AboveSeen::OpenLarvae)
        } else if open_drone {
            None
        } else if capped {
            Some(AboveSeen::CappedOnly)
        } else {
            Some(AboveSeen::Nothing)
        };
        signs.extend(first.map(CombSeen::Above));
        if open_drone {
            signs.insert(CombSeen::Above(AboveSeen::OpenDroneBrood));
        }
    } else if egg {
        signs.insert(CombSeen::Below(BelowSeen::Eggs));
    } else {
        signs.insert(CombSeen::Below(BelowSeen::NoEggsNoCells));
        if (1..=17).contains(&day) {
            signs.insert(CombSeen::Below(BelowSeen::NoEggsCells));
        }
    }
    signs
}

fn verdicts(stock: &Stock, day: i64, last_above: Option<i64>, last_below: Option<i64>) -> Vec<(CombSeen, SignMeaning)> {
    let mut signs = signs_of(stock, day, last_above, true);
    signs.extend(signs_of(stock, day, last_below, false));
    signs
        .into_iter()
        .filter_map(|sign| match read_sign(PUT_DOWN, plus_days(PUT_DOWN, day), sign) {
            SignReading::Meaning(meaning) => Some((sign, meaning)),
            SignReading::Refused(_) => None,
        })
        .collect()
}

#[test]
fn no_true_sign_leads_to_a_false_verdict() {
    let mut answers = 0;
    for stock in [FAST, USUAL, SLOW] {
        for day in 0..=40 {
            // She is down: nothing laid above after day 0, laying goes on below.
            for (sign, meaning) in verdicts(&stock, day, Some(0), None) {
                answers += 1;
                let true_ones = [Verdict::NotAbove, Verdict::QueenBelow, Verdict::UpperBoxClear];
                assert!(
                    true_ones.contains(&meaning.verdict),
                    "down, day {day}: {} -> {:?}",
                    sign.code(),
                    meaning.verdict
                );
            }
            // She is above: laying goes on above, nothing below after day 0. What is seen below alone cannot tell her
            // from a lost queen, so such an answer must first send him to look above.
            for (sign, meaning) in verdicts(&stock, day, None, Some(0)) {
                answers += 1;
                let sends_above = meaning.to_do[0].contains("above");
                assert!(
                    meaning.verdict == Verdict::QueenAbove || sends_above,
                    "above, day {day}: {} -> {:?}",
                    sign.code(),
                    meaning.verdict
                );
            }
            // She was lost: nothing laid anywhere after day 0.
            for (sign, meaning) in verdicts(&stock, day, Some(0), Some(0)) {
                answers += 1;
                let false_ones = [Verdict::QueenAbove, Verdict::QueenBelow, Verdict::VirginAbove];
                assert!(
                    !false_ones.contains(&meaning.verdict),
                    "lost, day {day}: {} -> {:?}",
                    sign.code(),
                    meaning.verdict
                );
            }
        }
    }
    assert!(answers > 500, "the model must reach many answers, found {answers}");
}

proptest! {
    // Only the days between count, in any year and over its end.
    #[test]
    fn the_same_days_apart_give_the_same_verdict(shift in -30_000_i64..30_000, day in -3_i64..45, sign in 0..9_usize) {
        let comb = CombSeen::ALL[sign];
        let moved = plus_days(PUT_DOWN, shift);
        let here = read_sign(PUT_DOWN, plus_days(PUT_DOWN, day), comb);
        let there = read_sign(moved, plus_days(moved, day), comb);
        match (here, there) {
            (SignReading::Meaning(here), SignReading::Meaning(there)) => {
                prop_assert_eq!(here.verdict, there.verdict);
                prop_assert_eq!(here.next.len(), there.next.len());
            }
            (SignReading::Refused(here), SignReading::Refused(there)) => {
                prop_assert_eq!(plus_days(here.counts_from, shift), there.counts_from);
                prop_assert_eq!(here.why, there.why);
            }
            _ => prop_assert!(false, "one was answered, the other refused"),
        }
    }
}
