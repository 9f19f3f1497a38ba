//! Which yard first: the order of single visits, one each morning, that loses the least honey.
//!
//! A yard loses nothing until its boxes are full and then a share of each day's gain, so the largest yard is not the
//! first one: the fullest is.
//!
//! | symbol | name in code | meaning | unit | value | source |
//! |---|---|---|---|---|---|
//! | n | `colonies` | colonies in the yard | 1 | input | - |
//! | g | `gain` | gain of one colony | kg/d | input | scale or outlook |
//! | f | `free_boxes` | empty comb above the excluder | boxes | input | counted |
//! | B | `box_honey` | honey a box holds | kg | 24 | common practice, no source |
//! | L | `share_lost` | part of the gain lost while boxes stand full | of 1 | 0.6 | common practice, no source |

use outyard_base::{Cents, Kilograms, KilogramsPerDay, Share, Trouble, YardId};
use outyard_season::fill::{Room, full_after, loss_after_full};

use crate::intake::table::{ColumnMap, ColumnRule, Faults, Row, Table, read_count, read_number};
use crate::intake::yards_file::read_yard_name;

/// Most yards for which every order is looked at.
pub const YARDS_MAX: usize = 14;

/// Most colonies of a yard (assumed): no land feeds a tenth of it.
pub const COLONIES_MOST: u32 = 10_000;

/// A yard that waits for boxes.
#[derive(Clone, Debug, PartialEq)]
pub struct WaitingYard {
    /// Its name.
    pub yard: YardId,
    /// Colonies in it.
    pub colonies: u32,
    /// Gain of one colony.
    pub gain: KilogramsPerDay,
    /// Empty comb left above the excluder, in boxes.
    pub free_boxes: f64,
}

/// What honey and boxes are worth here.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FirstRule {
    /// Honey a box holds.
    pub box_honey: Kilograms,
    /// Part of the gain lost while boxes stand full.
    pub share_lost: Share,
    /// Price of a kilogram of honey.
    pub price_per_kg: Cents,
}

/// One order of visits and what it loses.
#[derive(Clone, Debug, PartialEq)]
pub struct PricedOrder {
    /// Places in the list of yards, in the order of the mornings.
    pub order: Vec<usize>,
    /// Honey lost.
    pub lost: Kilograms,
    /// The same in money.
    pub money: Cents,
}

/// What a table of waiting yards may hold.
pub const COLUMNS: &[ColumnRule] = &[
    ColumnRule { name: "yard", meaning: "short name of the yard", needed: true },
    ColumnRule { name: "colonies", meaning: "colonies in it", needed: true },
    ColumnRule { name: "gain_kg_per_day", meaning: "gain of one colony", needed: true },
    ColumnRule { name: "free_boxes", meaning: "empty comb above the excluder, in boxes", needed: true },
];

/// Reads a table of waiting yards.
///
/// # Errors
/// All faults at once; `FST-001` more yards than every order can be looked at for, `FST-002` a yard twice.
pub fn read_waiting_yards(file: &str, text: &str, map: &ColumnMap) -> Result<Vec<WaitingYard>, Vec<Trouble>> {
    let table = Table::read(file, text, COLUMNS, map)?;
    let mut faults = Faults::default();
    let mut yards: Vec<WaitingYard> = Vec::new();
    for row in table.rows() {
        let Some(yard) = faults.keep(read_row(row)) else { continue };
        if yards.iter().any(|known| known.yard == yard.yard) {
            faults.push(
                Trouble::new("FST-002", format!("yard {} stands there already", yard.yard), "keep one of the rows")
                    .at(row.spot("yard")),
            );
        }
        yards.push(yard);
    }
    if yards.len() > YARDS_MAX {
        faults.push(
            Trouble::new(
                "FST-001",
                format!("{} yards have too many orders to look at them all", yards.len()),
                format!("give at most {YARDS_MAX}, or plan whole runs with `outyard runs`"),
            )
            .at(outyard_base::trouble::Spot::file(file)),
        );
    }
    faults.or(yards)
}

fn read_row(row: Row<'_>) -> Result<WaitingYard, Trouble> {
    Ok(WaitingYard {
        yard: row.read("yard", read_yard_name)?,
        colonies: row.read("colonies", |text| match read_count(text)? {
            colonies if colonies <= COLONIES_MOST => Ok(colonies),
            colonies => Err(Trouble::new(
                "TAB-009",
                format!("{colonies} colonies stand in no yard"),
                format!("write a whole number, 0 to {COLONIES_MOST}"),
            )),
        })?,
        gain: row.read("gain_kg_per_day", |text| match read_number(text)? {
            gain if (-30.0..=40.0).contains(&gain) => Ok(KilogramsPerDay::of(gain)),
            gain => Err(Trouble::new(
                "TAB-010",
                format!("{gain} kg a day is outside -30 to 40 kg a day"),
                "give the gain of one colony, not of the yard",
            )),
        })?,
        free_boxes: row.read("free_boxes", |text| match read_number(text)? {
            boxes if (0.0..=50.0).contains(&boxes) => Ok(boxes),
            boxes => {
                Err(Trouble::new("TAB-010", format!("{boxes} is outside 0 to 50 boxes"), "count boxes, not kilograms"))
            }
        })?,
    })
}

impl WaitingYard {
    /// Days until its boxes are full; `None` when they never fill at this gain.
    pub fn full_in_days(&self, rule: &FirstRule) -> Option<f64> {
        full_after(&Room::new(rule.box_honey * self.free_boxes, Kilograms::ZERO), self.gain)
    }

    /// Honey lost when it is reached on this morning, counted from 0.
    pub fn lost_by(&self, morning: usize, rule: &FirstRule) -> Kilograms {
        #[expect(clippy::cast_precision_loss, reason = "a handful of mornings")]
        let day = morning as f64;
        loss_after_full(self.colonies, self.gain, self.full_in_days(rule), day, rule.share_lost)
    }
}

/// Prices an order of visits, one each morning.
pub fn price_order(yards: &[WaitingYard], order: &[usize], rule: &FirstRule) -> PricedOrder {
    let lost: Kilograms = order.iter().enumerate().map(|(morning, &yard)| yards[yard].lost_by(morning, rule)).sum();
    PricedOrder { order: order.to_vec(), lost, money: Cents::round_of(lost.get() * rule.price_per_kg.amount()) }
}

/// The order that loses least, by dynamic programming over the set of yards already reached (Held & Karp 1962, with
/// costs that depend on the morning alone). Of equal orders the one that takes the sooner-full yard first.
///
/// # Panics
/// With more than [`YARDS_MAX`] yards.
pub fn best_order(yards: &[WaitingYard], rule: &FirstRule) -> PricedOrder {
    assert!(yards.len() <= YARDS_MAX, "the reader lets no longer list through");
    let count = yards.len();
    let mut by_fullness: Vec<usize> = (0..count).collect();
    let days = |yard: usize| yards[yard].full_in_days(rule).unwrap_or(f64::INFINITY);
    by_fullness.sort_by(|&left, &right| days(left).total_cmp(&days(right)));
    // lost[done] = least honey lost from the morning after the yards in `done` have been reached.
    let mut lost = vec![0.0_f64; 1 << count];
    let mut next = vec![usize::MAX; 1 << count];
    for done in (0..(1_usize << count) - 1).rev() {
        let morning = done.count_ones() as usize;
        let mut best = f64::INFINITY;
        for &yard in &by_fullness {
            if done & (1 << yard) != 0 {
                continue;
            }
            let total = yards[yard].lost_by(morning, rule).get() + lost[done | (1 << yard)];
            if total < best - 1e-9 {
                best = total;
                next[done] = yard;
            }
        }
        lost[done] = best;
    }
    let mut order = Vec::with_capacity(count);
    let mut done = 0;
    while order.len() < count {
        order.push(next[done]);
        done |= 1 << next[done];
    }
    price_order(yards, &order, rule)
}

/// Why this order, in words: each yard with the day it is full and what a morning more would cost.
pub fn reasons(yards: &[WaitingYard], best: &PricedOrder, rule: &FirstRule) -> Vec<String> {
    best.order
        .iter()
        .enumerate()
        .map(|(morning, &at)| {
            let yard = &yards[at];
            let full = match yard.full_in_days(rule) {
                Some(days) => format!("full in {days:.2} days"),
                None => "never full at this gain".to_owned(),
            };
            let later = yard.lost_by(morning + 1, rule) - yard.lost_by(morning, rule);
            let worth = Cents::round_of(later.get() * rule.price_per_kg.amount());
            format!(
                "{}: {} colonies at {:.1}, {full}; a morning later loses {later:.1} ({worth}) more",
                yard.yard, yard.colonies, yard.gain
            )
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rule() -> FirstRule {
        FirstRule { box_honey: Kilograms::of(24.0), share_lost: Share::of(0.6), price_per_kg: Cents(500) }
    }

    // Scene S4.
    #[test]
    fn scene_4_the_fullest_yard_goes_first() {
        let text = "yard,colonies,gain_kg_per_day,free_boxes\nN,34,3.5,0.4\nS,28,1.2,1.0\nW,20,4.5,0.05\n";
        let yards = read_waiting_yards("waiting.csv", text, &ColumnMap::new()).unwrap();
        let best = best_order(&yards, &rule());
        assert_eq!(best.order, [2, 0, 1]);
        assert_eq!(best.money, Cents(0));
        let second = price_order(&yards, &[0, 2, 1], &rule());
        assert!((second.lost.get() - 39.6).abs() < 0.05 && second.money == Cents(19_800));
        assert!((price_order(&yards, &[1, 0, 2], &rule()).lost.get() - 93.6).abs() < 0.05);
        assert!(
            reasons(&yards, &best, &rule())[0]
                .starts_with("W: 20 colonies at 4.5 kg/d, full in 0.27 days; a morning later loses 39.6 kg (198.00)")
        );
    }

    proptest::proptest! {
        #[test]
        fn no_other_order_is_better(
            drawn in proptest::collection::vec((1_u32..60, 0.0_f64..6.0, 0.0_f64..1.5), 1..6),
            seed in 0_u64..1000,
        ) {
            let yards: Vec<WaitingYard> = drawn.iter().enumerate().map(|(at, &(colonies, gain, free_boxes))| WaitingYard {
                yard: YardId::new(&at.to_string()).unwrap(),
                colonies,
                gain: KilogramsPerDay::of(gain),
                free_boxes,
            }).collect();
            let best = best_order(&yards, &rule());
            let mut order: Vec<usize> = (0..yards.len()).collect();
            let mut chance = outyard_base::Chance::new(seed, "orders");
            for _ in 0..50 {
                chance.shuffle(&mut order);
                proptest::prop_assert!(price_order(&yards, &order, &rule()).lost.get() >= best.lost.get() - 1e-6);
            }
        }
    }

    #[test]
    fn a_yard_of_more_colonies_than_land_can_feed_is_refused() {
        let read = |colonies: &str| {
            let text = format!("yard,colonies,gain_kg_per_day,free_boxes\nN,{colonies},3.5,0.4\n");
            read_waiting_yards("first.csv", &text, &ColumnMap::new())
        };
        assert_eq!(read("10000").unwrap()[0].colonies, 10_000);
        assert_eq!(read("10001").unwrap_err()[0].code, "TAB-009");
    }
}
