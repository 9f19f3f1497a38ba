//! The linear program over the runs found so far: how much of each to make so that every visit is made or left out once, within crews, stock and ties.
//! Its prices say where to hunt for better runs (column generation, Dantzig & Wolfe 1960).
//!
//! Solved by the simplex method with the inverse of the basis kept whole (Dantzig 1953): a few hundred rows, warm from the last time. Right-hand sides are
//! spread a hair apart, so that steps of no length do not go round in circles. Numbers are floating, and may be: the floor is summed anew, in whole
//! numbers, at whatever prices come out.

/// Reduced costs above this count as none, as a share of the dearest column.
const TOLERANCE: f64 = 1e-9;
const PIVOT_LEAST: f64 = 1e-7;
/// How far right-hand sides are spread.
const SPREAD: f64 = 1e-5;
/// Steps after which the inverse is worked out anew.
const STEPS_BETWEEN_REFRESH: usize = 400;

/// How much of a row one of a column takes.
pub(super) type Entries = Vec<(usize, f64)>;

struct Column {
    cost: f64,
    entries: Entries,
}

/// The program and its basis.
pub(super) struct Master {
    rows: usize,
    columns: Vec<Column>,
    right: Vec<f64>,
    /// `[row]`: column in the basis.
    basis: Vec<usize>,
    is_basic: Vec<bool>,
    /// `[row * rows + row]`.
    inverse: Vec<f64>,
    level: Vec<f64>,
    /// `[row]`: what one more of it would save.
    pub(super) price: Vec<f64>,
    steps: usize,
    cost_most: f64,
}

impl Master {
    /// Rows with their right-hand sides, and what it costs to have one of a row by nothing but money (0 for a row that need not be filled).
    pub(super) fn new(rows: &[(f64, f64)]) -> Self {
        let count = rows.len();
        let mut inverse = vec![0.0; count * count];
        for row in 0..count {
            inverse[row * count + row] = 1.0;
        }
        let spread = |row: usize| SPREAD * (1.0 + f64::from(u32::try_from(row * 7919 % 1000).unwrap_or(0)) / 1000.0);
        let right: Vec<f64> = rows.iter().enumerate().map(|(row, (right, _))| right + spread(row)).collect();
        Self {
            rows: count,
            columns: rows
                .iter()
                .enumerate()
                .map(|(row, &(_, cost))| Column { cost, entries: vec![(row, 1.0)] })
                .collect(),
            level: right.clone(),
            right,
            basis: (0..count).collect(),
            is_basic: vec![true; count],
            inverse,
            price: rows.iter().map(|row| row.1).collect(),
            steps: 0,
            cost_most: rows.iter().map(|row| row.1.abs()).fold(1.0, f64::max),
        }
    }

    pub(super) fn add(&mut self, cost: f64, entries: Entries) {
        self.columns.push(Column { cost, entries });
        self.is_basic.push(false);
    }

    /// What a column costs beyond the prices of its rows.
    pub(super) fn reduced(&self, cost: f64, entries: &[(usize, f64)]) -> f64 {
        cost - entries.iter().map(|&(row, count)| self.price[row] * count).sum::<f64>()
    }

    /// What the program comes to at the present levels.
    pub(super) fn value(&self) -> f64 {
        self.basis.iter().zip(&self.level).map(|(&column, level)| self.columns[column].cost * level).sum()
    }

    /// Steps towards the optimum, at most so many; gives the work done in numbers touched.
    pub(super) fn solve(&mut self, steps_max: usize) -> u64 {
        let mut work = 0;
        for _ in 0..steps_max {
            let mut best = (-TOLERANCE * self.cost_most, None);
            for (number, column) in self.columns.iter().enumerate() {
                if self.is_basic[number] {
                    continue;
                }
                let reduced = self.reduced(column.cost, &column.entries);
                if reduced < best.0 {
                    best = (reduced, Some(number));
                }
            }
            work += 4 * self.columns.len() as u64;
            let (reduced, Some(entering)) = best else { break };
            let way = self.way(entering);
            let Some(row) = self.leaving(&way) else { break };
            work += self.step(entering, row, reduced, &way);
            self.steps += 1;
            if self.steps.is_multiple_of(STEPS_BETWEEN_REFRESH) {
                self.refresh();
                work += (self.rows * self.rows * self.rows / 4) as u64;
            }
        }
        work
    }

    /// How the levels of the basis fall as a column comes in.
    fn way(&self, entering: usize) -> Vec<f64> {
        let entries = &self.columns[entering].entries;
        self.inverse
            .chunks_exact(self.rows)
            .map(|row| entries.iter().map(|&(at, count)| row[at] * count).sum())
            .collect()
    }

    fn leaving(&self, way: &[f64]) -> Option<usize> {
        let mut best: Option<(f64, f64, usize)> = None;
        for (row, &fall) in way.iter().enumerate() {
            if fall < PIVOT_LEAST {
                continue;
            }
            let room = self.level[row].max(0.0) / fall;
            if best.is_none_or(|(least, most, _)| room < least - 1e-12 || (room <= least && fall > most)) {
                best = Some((room, fall, row));
            }
        }
        best.map(|(_, _, row)| row)
    }

    fn step(&mut self, entering: usize, row: usize, reduced: f64, way: &[f64]) -> u64 {
        let mut touched = 0;
        let pivot = way[row];
        let own: Vec<f64> =
            self.inverse[row * self.rows..(row + 1) * self.rows].iter().map(|cell| cell / pivot).collect();
        let level = self.level[row].max(0.0) / pivot;
        for (price, cell) in self.price.iter_mut().zip(&own) {
            *price += reduced * cell;
        }
        for (other, &fall) in way.iter().enumerate() {
            if other != row && fall != 0.0 {
                let cells = &mut self.inverse[other * self.rows..(other + 1) * self.rows];
                cells.iter_mut().zip(&own).for_each(|(cell, own)| *cell -= fall * own);
                self.level[other] -= fall * level;
                touched += 1;
            }
        }
        self.inverse[row * self.rows..(row + 1) * self.rows].copy_from_slice(&own);
        self.level[row] = level;
        self.is_basic[self.basis[row]] = false;
        self.is_basic[entering] = true;
        self.basis[row] = entering;
        touched * self.rows as u64 / 4
    }

    /// Works the inverse, levels and prices out anew from the basis (Gauss & Jordan); a basis that cannot be inverted is left as it is.
    fn refresh(&mut self) {
        let rows = self.rows;
        let mut whole = vec![0.0; rows * rows];
        for (place, &column) in self.basis.iter().enumerate() {
            for &(row, count) in &self.columns[column].entries {
                whole[row * rows + place] += count;
            }
        }
        let mut inverse = vec![0.0; rows * rows];
        for row in 0..rows {
            inverse[row * rows + row] = 1.0;
        }
        for place in 0..rows {
            let Some(pivot) = (place..rows)
                .max_by(|&one, &other| whole[one * rows + place].abs().total_cmp(&whole[other * rows + place].abs()))
            else {
                return;
            };
            if whole[pivot * rows + place].abs() < PIVOT_LEAST {
                return;
            }
            for column in 0..rows {
                whole.swap(place * rows + column, pivot * rows + column);
                inverse.swap(place * rows + column, pivot * rows + column);
            }
            let scale = whole[place * rows + place];
            let (left, right) = (
                whole[place * rows..(place + 1) * rows].iter().map(|cell| cell / scale).collect::<Vec<f64>>(),
                inverse[place * rows..(place + 1) * rows].iter().map(|cell| cell / scale).collect::<Vec<f64>>(),
            );
            for row in 0..rows {
                let times = whole[row * rows + place];
                if row != place && times != 0.0 {
                    let cells = whole[row * rows..(row + 1) * rows].iter_mut().zip(&left);
                    cells.for_each(|(cell, own)| *cell -= times * own);
                    let cells = inverse[row * rows..(row + 1) * rows].iter_mut().zip(&right);
                    cells.for_each(|(cell, own)| *cell -= times * own);
                }
            }
            whole[place * rows..(place + 1) * rows].copy_from_slice(&left);
            inverse[place * rows..(place + 1) * rows].copy_from_slice(&right);
        }
        self.inverse = inverse;
        self.level = self
            .inverse
            .chunks_exact(rows)
            .map(|row| row.iter().zip(&self.right).map(|(cell, right)| cell * right).sum())
            .collect();
        self.price = vec![0.0; rows];
        for (row, &column) in self.inverse.chunks_exact(rows).zip(&self.basis) {
            let cost = self.columns[column].cost;
            self.price.iter_mut().zip(row).for_each(|(price, cell)| *price += cost * cell);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::Master;

    /// Two visits that cost 10 and 8 to leave out; one crew day; runs for each at 3 and for both at 5.
    #[test]
    fn the_run_for_both_is_made() {
        let mut master = Master::new(&[(1.0, 10.0), (1.0, 8.0), (1.0, 0.0)]);
        master.add(3.0, vec![(0, 1.0), (2, 1.0)]);
        master.add(3.0, vec![(1, 1.0), (2, 1.0)]);
        master.solve(100);
        assert!((master.value() - 11.0).abs() < 0.01, "the first alone: {}", master.value());
        master.add(5.0, vec![(0, 1.0), (1, 1.0), (2, 1.0)]);
        master.solve(100);
        assert!((master.value() - 5.0).abs() < 0.01, "{}", master.value());
        // A visit's price is what it may cost: both together pay for the run and its crew day.
        let sum: f64 = master.price.iter().sum();
        assert!((sum - 5.0).abs() < 0.01, "{:?}", master.price);
        master.refresh();
        assert!((master.value() - 5.0).abs() < 0.01, "{}", master.value());
    }
}
