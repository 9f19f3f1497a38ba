//! The stock of gear: what goes out on a day is missing on every later day, so a day's room is the least room from it onwards.

use crate::problem::RunParts;

/// How much of each kind of gear can still be taken out on each day.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct StockRoom {
    days: usize,
    /// `left[gear * days + day]`: stock less what has gone out up to that day.
    left: Vec<i64>,
    /// `room[gear * days + day]`: the least of `left` from that day on.
    room: Vec<i64>,
}

impl StockRoom {
    /// The stock with nothing taken out.
    pub(crate) fn full(parts: &RunParts) -> Self {
        let left: Vec<i64> = parts.gear.iter().flat_map(|gear| gear.stock.iter().copied()).collect();
        let mut stock = Self { days: parts.days.len(), room: left.clone(), left };
        for gear in 0..parts.gear.len() {
            stock.find_room(gear);
        }
        stock
    }

    fn find_room(&mut self, gear: usize) {
        let row = gear * self.days;
        let mut least = i64::MAX;
        for cell in (row..row + self.days).rev() {
            least = least.min(self.left[cell]);
            self.room[cell] = least;
        }
    }

    /// How many of a kind can still be taken out on a day.
    pub(crate) fn room(&self, gear: usize, day: usize) -> i64 {
        self.room[gear * self.days + day]
    }

    /// Stock of a kind less what has gone out, by day.
    pub(crate) fn left(&self, gear: usize) -> &[i64] {
        &self.left[gear * self.days..(gear + 1) * self.days]
    }

    /// Whether all needs can be met on a day.
    pub(crate) fn covers(&self, needs: &[(usize, i64)], day: usize) -> bool {
        needs.iter().all(|&(gear, count)| count == 0 || count <= self.room(gear, day))
    }

    /// Takes needs out on a day (`sign` 1) or puts them back (`sign` -1).
    pub(crate) fn take(&mut self, needs: &[(usize, i64)], day: usize, sign: i64) {
        for &(gear, count) in needs {
            let row = gear * self.days;
            for cell in row + day..row + self.days {
                self.left[cell] -= sign * count;
            }
            self.find_room(gear);
        }
    }
}
