//! Minutes and gear of a visit, worked out from the job book.

use std::collections::BTreeMap;

use outyard_base::{GearCode, Kilograms, Minutes, Share};

use super::{GearNeed, GearPer, Job, JobBook};
use crate::kinds::KindCounts;

/// A job to be done at a yard and the colonies it is to be done to.
#[derive(Clone, Copy, Debug)]
pub struct Work<'a> {
    /// The job.
    pub job: &'a Job,
    /// The colonies; kinds the job is not for are left out of every sum.
    pub colonies: KindCounts,
}

/// Gear for a visit or for a whole run.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct GearSum {
    /// Goes into the yards, or comes out of them.
    pub in_yards: BTreeMap<GearCode, u32>,
    /// Goes with the crew and comes home with it.
    pub with_crew: BTreeMap<GearCode, u32>,
}

impl GearSum {
    /// Adds another yard of the same run: what stays in the yards adds up, what the crew carries serves both.
    #[must_use]
    pub fn and(mut self, other: &Self) -> Self {
        for (gear, count) in &other.in_yards {
            *self.in_yards.entry(gear.clone()).or_default() += count;
        }
        for (gear, count) in &other.with_crew {
            let mine = self.with_crew.entry(gear.clone()).or_default();
            *mine = (*mine).max(*count);
        }
        self
    }
}

/// One line of a load list.
#[derive(Clone, Debug, PartialEq)]
pub struct LoadLine {
    /// Which gear.
    pub gear: GearCode,
    /// Its name on the list.
    pub said: String,
    /// The count without spares.
    pub needed: u32,
    /// The count to load.
    pub load: u32,
    /// Weight of what is loaded.
    pub weight: Kilograms,
    /// Deck room of what is loaded, in places of a deep box.
    pub box_places: f64,
}

/// The count to load: the total and a share more, rounded up. Binary dust never adds one: 20 and 5 % is 21.
///
/// ```
/// use outyard_base::Share;
/// use outyard_trade::load_with_spare;
/// assert_eq!([32, 96, 20, 0].map(|total| load_with_spare(total, Share::of(0.05))), [34, 101, 21, 0]);
/// ```
pub fn load_with_spare(total: u32, spare: Share) -> u32 {
    ceil_count(f64::from(total) * (1.0 + spare.get()))
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "counts of gear are small and not negative"
)]
fn ceil_count(count: f64) -> u32 {
    (count - 1e-9).ceil().max(0.0) as u32
}

impl Job {
    /// Minutes of a pair at the colonies, without the setup of the visit. With a sample size only that many hives
    /// are opened, spread over the kinds as they stand.
    pub fn service_pair_minutes(&self, yard: &KindCounts) -> f64 {
        let colonies = self.colonies(yard);
        let all: f64 = colonies.iter().map(|(kind, count)| f64::from(count) * self.pair_minutes[&kind]).sum();
        match self.sample_hives {
            Some(sample) if sample < colonies.total() => all * f64::from(sample) / f64::from(colonies.total()),
            _ => all,
        }
    }

    /// Colonies opened at a yard: all it is for, or the sample.
    pub fn colonies_opened(&self, yard: &KindCounts) -> u32 {
        let all = self.colonies(yard).total();
        self.sample_hives.map_or(all, |sample| sample.min(all))
    }

    fn needed(&self, need: &GearNeed, yard: &KindCounts) -> u32 {
        let colonies = self.colonies(yard);
        if colonies.is_empty() {
            return 0;
        }
        match need.per {
            GearPer::Yard | GearPer::Crew => ceil_count(need.count),
            GearPer::Colony if need.kinds.is_empty() => ceil_count(need.count * f64::from(self.colonies_opened(yard))),
            GearPer::Colony => ceil_count(need.count * f64::from(colonies.only(&need.kinds).total())),
        }
    }
}

impl JobBook {
    /// How long a crew takes at colonies for which a pair takes one minute.
    ///
    /// Hands beyond two work as further pairs, an odd one out as the third hand of a pair.
    ///
    /// # Panics
    /// With no hands.
    pub fn hands_factor(&self, hands: u32) -> f64 {
        assert!(hands > 0, "a crew has at least one hand");
        if hands == 1 {
            return self.visit.one_hand_takes;
        }
        let pairs = f64::from(hands / 2);
        let third = 1.0 / (1.0 - self.visit.third_hand_saves.get());
        if hands.is_multiple_of(2) { 1.0 / pairs } else { 1.0 / (pairs - 1.0 + third) }
    }

    /// What to say about the size of a crew; `None` for two or more.
    pub fn hands_caution(hands: u32) -> Option<&'static str> {
        (hands < 2).then_some("Nobody works alone in a yard: stings, lifting and a blower all need a second person.")
    }

    /// Minutes a crew is at a yard for all the work of one visit: one setup, then the colonies; rounded up.
    ///
    /// # Panics
    /// With no hands.
    pub fn service_minutes(&self, work: &[Work<'_>], hands: u32) -> Minutes {
        let colonies: f64 = work.iter().map(|work| work.job.service_pair_minutes(&work.colonies)).sum();
        if colonies <= 0.0 {
            return Minutes::ZERO;
        }
        Minutes::ceil_of(self.visit.setup_pair_minutes + colonies * self.hands_factor(hands))
    }

    /// Gear that goes out for the work of one visit, without spares.
    pub fn gear_out(&self, work: &[Work<'_>]) -> GearSum {
        sum(work, |job| &job.gear_out)
    }

    /// Gear that comes home from one visit.
    pub fn gear_home(&self, work: &[Work<'_>]) -> GearSum {
        sum(work, |job| &job.gear_home)
    }

    /// The load list for a run: spares go on the total over its yards, not on each yard.
    pub fn load_list(&self, run: &GearSum) -> Vec<LoadLine> {
        let in_yards = run.in_yards.iter().map(|(gear, count)| (gear, *count));
        let with_crew = run.with_crew.iter().map(|(gear, count)| (gear, *count));
        in_yards
            .chain(with_crew)
            .filter(|(_, count)| *count > 0)
            .map(|(gear, count)| self.load_line(gear, count))
            .collect()
    }

    fn load_line(&self, code: &GearCode, needed: u32) -> LoadLine {
        let gear = self.gear.get(code).expect("every gear a job names was looked up when the book was read");
        let load = if gear.takes_spare { load_with_spare(needed, self.visit.spare) } else { needed };
        LoadLine {
            gear: code.clone(),
            said: gear.said.clone(),
            needed,
            load,
            weight: gear.weight * f64::from(load),
            box_places: gear.box_places * f64::from(load),
        }
    }
}

fn sum(work: &[Work<'_>], needs: impl Fn(&Job) -> &Vec<GearNeed>) -> GearSum {
    let mut all = GearSum::default();
    for work in work {
        for need in needs(work.job) {
            let count = work.job.needed(need, &work.colonies);
            if count == 0 {
                continue;
            }
            if need.per == GearPer::Crew {
                let carried = all.with_crew.entry(need.gear.clone()).or_default();
                *carried = (*carried).max(count);
            } else {
                *all.in_yards.entry(need.gear.clone()).or_default() += count;
            }
        }
    }
    all
}
