//! Box stock by day: what the runs need, what comes back wet, the first short day and the cheapest cure.
//!
//! | symbol | name in code | meaning | unit | value | source |
//! |---|---|---|---|---|---|
//! | S | `stock` | empties on hand at the end of the day | boxes | 0 or more | arithmetic |
//! | N | `need` | boxes the day's runs want | boxes/day | given | run plan |
//! | R | `returns` | wet supers usable that day | boxes/day | given | honey house |
//! | B | `short` | boxes wanted up to this day and not yet had | boxes | 0 or more | arithmetic |
//!
//! Wet supers of a day can go out that day. A box that was short is still wanted the next day, so what is missing adds
//! up until returns overtake the need.

/// One day of the forecast.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct StockDay {
    /// Empties left at the end of the day.
    pub stock: u32,
    /// Boxes wanted so far and not had.
    pub short: u32,
}

/// Box stock at the end of each day, from the empties on the first morning and each day's need and returns.
///
/// ```
/// use outyard_book::stock::{StockDay, forecast_stock};
/// let days = forecast_stock(100, &[(96, 0), (96, 80)]);
/// assert_eq!(days, [StockDay { stock: 4, short: 0 }, StockDay { stock: 0, short: 12 }]);
/// ```
pub fn forecast_stock(start: u32, days: &[(u32, u32)]) -> Vec<StockDay> {
    let mut stock = start;
    let mut short = 0_u32;
    days.iter()
        .map(|&(need, returns)| {
            let on_hand = stock.saturating_add(returns);
            let wanted = need.saturating_add(short);
            let given = on_hand.min(wanted);
            stock = on_hand - given;
            short = wanted - given;
            StockDay { stock, short }
        })
        .collect()
}

/// Index of the first day on which boxes are short.
pub fn first_short_day(forecast: &[StockDay]) -> Option<usize> {
    forecast.iter().position(|day| day.short > 0)
}

/// What ends a shortage.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Cure {
    /// Nothing is short.
    NotNeeded,
    /// Start extracting this many days earlier; `days` is the forecast then.
    ReturnEarlier {
        /// Days earlier, the fewest that do.
        days_earlier: u32,
        /// The forecast with the earlier start.
        days: Vec<StockDay>,
    },
    /// No earlier start is enough: this many boxes must be bought or borrowed by the first short day.
    GetBoxes {
        /// Boxes, the fewest that do with returns as they are.
        boxes: u32,
    },
}

/// The cheapest cure: wet supers earlier costs nothing but sooner work, so the fewest days earlier that end all
/// shortage; else boxes to get.
///
/// Returns begin on the first day with any; starting `k` days earlier puts that first day's returns on each of the `k`
/// days before it as well, but never before day `earliest` (boxes must be pulled and extracted first). A start that
/// still leaves the last day's need in hand at the end is preferred to a later one that just does (assumed): with less,
/// the shortage is only put off past the days looked at.
pub fn cheapest_cure(start: u32, days: &[(u32, u32)], earliest: usize) -> Cure {
    let forecast = forecast_stock(start, days);
    if first_short_day(&forecast).is_none() {
        return Cure::NotNeeded;
    }
    let reserve = days.last().map_or(0, |&(need, _)| need);
    let enough = earlier_returns(start, days, earliest).filter(|(_, days)| first_short_day(days).is_none());
    let mut just_enough = None;
    for (days_earlier, days) in enough {
        if days.last().is_some_and(|last| last.stock >= reserve) {
            return Cure::ReturnEarlier { days_earlier, days };
        }
        just_enough = just_enough.or(Some(Cure::ReturnEarlier { days_earlier, days }));
    }
    just_enough.unwrap_or(Cure::GetBoxes { boxes: boxes_to_get(&forecast) })
}

/// The forecast for each earlier start of returns: one day earlier, two, and so on back to day `earliest`.
pub fn earlier_returns(
    start: u32,
    days: &[(u32, u32)],
    earliest: usize,
) -> impl Iterator<Item = (u32, Vec<StockDay>)> + '_ {
    let first = days.iter().position(|&(_, returns)| returns > 0).unwrap_or(0);
    (1_u32..).zip((earliest.min(first)..first).rev()).map(move |(days_earlier, begin)| {
        let mut earlier = days.to_vec();
        for day in &mut earlier[begin..first] {
            day.1 = days[first].1;
        }
        (days_earlier, forecast_stock(start, &earlier))
    })
}

/// Boxes to buy or borrow so that no day is short: the most that is ever missing.
pub fn boxes_to_get(forecast: &[StockDay]) -> u32 {
    forecast.iter().map(|day| day.short).max().unwrap_or(0)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Scene S7: 540 empties on the morning of 17 July, 96 wanted a day, 80 wet supers a day from a given day index.
    fn july(first_return: usize) -> Vec<(u32, u32)> {
        (0..12).map(|day| (96, if day >= first_return { 80 } else { 0 })).collect()
    }

    #[test]
    fn supers_run_short_on_22_july_and_three_days_earlier_cures_it() {
        let forecast = forecast_stock(540, &july(6));
        let stock: Vec<u32> = forecast[..5].iter().map(|day| day.stock).collect();
        let short: Vec<u32> = forecast[5..].iter().map(|day| day.short).collect();
        assert_eq!(stock, [444, 348, 252, 156, 60]);
        assert_eq!(short, [36, 52, 68, 84, 100, 116, 132]);
        assert_eq!(first_short_day(&forecast), Some(5));
        assert_eq!(boxes_to_get(&forecast), 132);
        let Cure::ReturnEarlier { days_earlier, days } = cheapest_cure(540, &july(6), 0) else {
            panic!("wet supers from 20 July are enough");
        };
        assert_eq!(days_earlier, 3);
        assert_eq!(days, forecast_stock(540, &july(3)));
        assert_eq!(days[11], StockDay { stock: 108, short: 0 });
    }

    #[test]
    fn two_days_earlier_just_do_and_leave_less_than_a_day_in_hand() {
        let all: Vec<(u32, Vec<StockDay>)> = earlier_returns(540, &july(6), 0).collect();
        assert_eq!(all.len(), 6);
        assert_eq!(all[0].1[11], StockDay { stock: 0, short: 52 });
        assert_eq!(all[1].1[11], StockDay { stock: 28, short: 0 });
        // If nothing sooner than 21 July can be done, it is still the cure.
        assert_eq!(cheapest_cure(540, &july(6), 4), Cure::ReturnEarlier { days_earlier: 2, days: all[1].1.clone() });
    }

    #[test]
    fn when_extracting_cannot_start_sooner_boxes_must_be_got() {
        assert_eq!(cheapest_cure(540, &july(6), 5), Cure::GetBoxes { boxes: 132 });
        assert_eq!(cheapest_cure(10_000, &july(6), 0), Cure::NotNeeded);
        assert_eq!(cheapest_cure(5, &[(9, 0), (0, 0)], 0), Cure::GetBoxes { boxes: 4 });
        // And the boxes got are enough, one fewer is not.
        assert_eq!(first_short_day(&forecast_stock(540 + 132, &july(6))), None);
        assert!(first_short_day(&forecast_stock(540 + 131, &july(6))).is_some());
    }
}
