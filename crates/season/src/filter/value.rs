//! Which one thing, were it known, would narrow an outlook most.
//!
//! Over the members, the share of an answer's variance that goes along with each unknown: the squared correlation, less
//! what so few members show by luck (adjusted R², Wherry 1931, from memory). Knowing the unknown would take about that
//! share of the variance away. It sees straight-line dependence only.

use outyard_base::Share;

use super::{GROUP, Learnt};
use crate::plants::PlantCode;

/// Something not known of a yard group, and what would tell it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Unknown {
    /// How late a plant is: its first bloom, written down.
    Lateness(PlantCode),
    /// How long a plant blooms: its full bloom and its end, written down.
    Length(PlantCode),
    /// How strong a plant is: scale nights in its bloom.
    Strength(PlantCode),
    /// How the group's colonies gain: scale nights, or a look into the boxes.
    Factor,
    /// What a colony uses itself: scale nights without flow.
    Upkeep,
}

impl Unknown {
    /// The count that would tell it, in words for the page.
    pub fn count_that_tells(&self) -> String {
        match self {
            Self::Lateness(plant) => format!("write down the day {plant} first blooms"),
            Self::Length(plant) => format!("write down full bloom and end of {plant}"),
            Self::Strength(plant) => format!("a scale, or how full the boxes are, while {plant} blooms"),
            Self::Factor => "how full the boxes are, in a yard of the group".to_owned(),
            Self::Upkeep => "scale nights without flow".to_owned(),
        }
    }
}

impl Learnt {
    /// Unknowns by the share of the answer's variance they go along with, the greatest first. `answers` has one value for
    /// each member of an outlook made from these draws, such as its honey of three weeks; all shares are nought with
    /// fewer than four members or an answer that is the same in all.
    pub fn narrows_most(&self, answers: &[f64]) -> Vec<(Unknown, Share)> {
        let mut unknowns = vec![(Unknown::Factor, 0), (Unknown::Upkeep, 1)];
        for (order, plant) in self.plants.iter().enumerate() {
            let at = GROUP + 3 * order;
            unknowns.push((Unknown::Lateness(plant.clone()), at));
            unknowns.push((Unknown::Length(plant.clone()), at + 1));
            unknowns.push((Unknown::Strength(plant.clone()), at + 2));
        }
        let mut shares: Vec<(Unknown, Share)> = unknowns
            .into_iter()
            .map(|(unknown, at)| {
                let deviates: Vec<f64> =
                    (0..answers.len()).map(|member| self.draws[member % self.draws.len()][at]).collect();
                (unknown, explained(&deviates, answers))
            })
            .collect();
        shares.sort_by(|one, two| two.1.get().total_cmp(&one.1.get()));
        shares
    }
}

/// Share of the variance of `answers` that goes along with `causes` in a straight line, less luck.
fn explained(causes: &[f64], answers: &[f64]) -> Share {
    const LEAST_MEMBERS: usize = 4;
    if answers.len() < LEAST_MEMBERS {
        return Share::ZERO;
    }
    #[expect(clippy::cast_precision_loss, reason = "a count of members")]
    let count = answers.len() as f64;
    let mean = |values: &[f64]| values.iter().sum::<f64>() / count;
    let (of_cause, of_answer) = (mean(causes), mean(answers));
    let (mut both, mut cause_squares, mut answer_squares) = (0.0, 0.0, 0.0);
    for (cause, answer) in causes.iter().zip(answers) {
        both += (cause - of_cause) * (answer - of_answer);
        cause_squares += (cause - of_cause).powi(2);
        answer_squares += (answer - of_answer).powi(2);
    }
    let squares = cause_squares * answer_squares;
    if squares <= 0.0 || !squares.is_finite() {
        return Share::ZERO;
    }
    let along = both * both / squares;
    Share::of((1.0 - (1.0 - along) * (count - 1.0) / (count - 2.0)).clamp(0.0, 1.0))
}

#[cfg(test)]
mod tests {
    use super::*;
    use outyard_base::Chance;

    #[test]
    fn what_moves_the_answer_is_found_and_luck_is_taken_off() {
        let mut chance = Chance::new(3, "test");
        let causes: Vec<f64> = (0..400).map(|_| chance.normal()).collect();
        let noise: Vec<f64> = (0..400).map(|_| chance.normal()).collect();
        let answers: Vec<f64> = causes.iter().zip(&noise).map(|(cause, noise)| 3.0 * cause + noise).collect();
        // Nine tenths of the variance: 9 of 9 + 1.
        assert!((explained(&causes, &answers).get() - 0.9).abs() < 0.03);
        let unrelated: Vec<f64> = (0..400).map(|_| chance.normal()).collect();
        assert!(explained(&unrelated, &answers).get() < 0.02);
        assert_eq!(explained(&causes[..3], &answers[..3]), Share::ZERO);
        assert_eq!(explained(&causes, &[2.0; 400]), Share::ZERO);
    }
}
