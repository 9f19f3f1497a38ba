//! A plan in the making, checked stop by stop against every rule. Plain and slow: the rule of thumb, repairs and reasons use it;
//! the search keeps its own tables.

use crate::plan::{Plan, Run};
use crate::problem::RunProblem;
use crate::schedule::schedule;
use crate::stock::StockRoom;
use crate::truck_load::{fits, load_of};

/// A plan in the making; every state it takes is sound, except that bound groups may still be incomplete.
#[derive(Clone)]
pub(crate) struct Draft<'p> {
    pub(crate) problem: &'p RunProblem,
    pub(crate) plan: Plan,
    pub(crate) stock: StockRoom,
    /// Day of each visit, `None` while left out.
    pub(crate) day_of: Vec<Option<usize>>,
}

impl<'p> Draft<'p> {
    pub(crate) fn new(problem: &'p RunProblem) -> Self {
        Self {
            problem,
            plan: Plan::default(),
            stock: StockRoom::full(problem.parts()),
            day_of: vec![None; problem.visit_count()],
        }
    }

    /// The run of a crew on a day, if there is one.
    pub(crate) fn run_index(&self, day: usize, crew: usize) -> Option<usize> {
        self.plan.runs.iter().position(|run| run.day == day && run.crew == crew)
    }

    /// The run of a crew on a day as it would be with these stops: on its own truck, or the first free truck they fit.
    pub(crate) fn with_stops(&self, day: usize, crew: usize, stops: Vec<usize>) -> Option<Run> {
        let parts = self.problem.parts();
        let own = self.run_index(day, crew);
        let load = load_of(parts, &stops);
        let taken =
            |truck: usize| self.plan.runs.iter().any(|run| run.day == day && run.truck == truck && run.crew != crew);
        let own_truck = own.map(|run| self.plan.runs[run].truck);
        let truck = own_truck
            .into_iter()
            .chain(parts.crews[crew].trucks.iter().copied())
            .find(|&truck| !taken(truck) && fits(parts, truck, &load))?;
        let run = Run { day, crew, truck, stops };
        self.stands(&run).then_some(run)
    }

    /// Whether a run keeps every rule that concerns it alone.
    pub(crate) fn stands(&self, run: &Run) -> bool {
        let parts = self.problem.parts();
        run.stops.len() <= parts.max_stops
            && parts.crews[run.crew].trucks.contains(&run.truck)
            && run.stops.iter().all(|&stop| self.problem.may_do(stop, run.crew, run.day))
            && parts.apart.iter().all(|(left, right)| !(run.stops.contains(left) && run.stops.contains(right)))
            && fits(parts, run.truck, &load_of(parts, &run.stops))
            && schedule(self.problem, run).is_some_and(|times| times.to_spare.0 >= 0)
    }

    /// Whether the ties of a visit let it stand on a day, as the other visits stand now.
    pub(crate) fn ties_allow(&self, visit: usize, day: usize) -> bool {
        let parts = self.problem.parts();
        let spaced = |first: usize, second: usize, tie: crate::problem::Follows| {
            second >= first + tie.days_min as usize && second <= first + tie.days_max as usize
        };
        let own = parts.visits[visit]
            .follows
            .is_none_or(|tie| self.day_of[tie.visit].is_some_and(|first| spaced(first, day, tie)));
        own && parts.visits.iter().zip(&self.day_of).all(|(other, stands)| match (other.follows, stands) {
            (Some(tie), Some(second)) if tie.visit == visit => spaced(day, *second, tie),
            _ => true,
        })
    }

    /// Puts visits that are still left out onto a run whose new stops are given; false, with nothing changed, when a rule forbids it.
    pub(crate) fn place(&mut self, day: usize, crew: usize, visits: &[usize], stops: Vec<usize>) -> bool {
        let Some(run) = self.with_stops(day, crew, stops) else { return false };
        for (done, &visit) in visits.iter().enumerate() {
            let needs = &self.problem.parts().visits[visit].needs;
            if self.day_of[visit].is_some() || !self.ties_allow(visit, day) || !self.stock.covers(needs, day) {
                for &undo in &visits[..done] {
                    self.stock.take(&self.problem.parts().visits[undo].needs, day, -1);
                    self.day_of[undo] = None;
                }
                return false;
            }
            self.stock.take(needs, day, 1);
            self.day_of[visit] = Some(day);
        }
        match self.run_index(day, crew) {
            Some(index) => self.plan.runs[index] = run,
            None => self.plan.runs.push(run),
        }
        true
    }

    /// Takes visits off the plan, with every second visit that would lose its first and every bound partner.
    pub(crate) fn remove(&mut self, visits: &[usize]) {
        let parts = self.problem.parts();
        let mut waiting: Vec<usize> = visits.to_vec();
        let mut gone: Vec<usize> = Vec::new();
        while let Some(visit) = waiting.pop() {
            if self.day_of[visit].is_none() || gone.contains(&visit) {
                continue;
            }
            gone.push(visit);
            let second = |index: &usize| parts.visits[*index].follows.is_some_and(|tie| tie.visit == visit);
            waiting.extend((0..parts.visits.len()).filter(second));
            waiting.extend(parts.together.iter().filter(|pair| pair.0 == visit).map(|pair| pair.1));
            waiting.extend(parts.together.iter().filter(|pair| pair.1 == visit).map(|pair| pair.0));
        }
        self.take_off(&gone);
    }

    /// Takes just these visits off the plan; ties and groups of others may then be broken.
    pub(crate) fn take_off(&mut self, visits: &[usize]) {
        for &visit in visits {
            let Some(day) = self.day_of[visit].take() else { continue };
            self.stock.take(&self.problem.parts().visits[visit].needs, day, -1);
        }
        for run in &mut self.plan.runs {
            run.stops.retain(|stop| !visits.contains(stop));
        }
        self.plan.runs.retain(|run| !run.stops.is_empty());
    }
}

/// What of an old plan still stands under this problem: stops that break a rule are dropped, the order of the rest is kept.
pub(crate) fn repaired<'p>(problem: &'p RunProblem, old: &Plan) -> Draft<'p> {
    let parts = problem.parts();
    let groups = crate::groups::groups(parts);
    let mut draft = Draft::new(problem);
    let mut runs: Vec<&Run> = old.runs.iter().collect();
    runs.sort_by_key(|run| (run.day, run.crew));
    let there =
        |run: &&&Run| run.day < parts.days.len() && run.crew < parts.crews.len() && run.truck < parts.trucks.len();
    for run in runs.iter().filter(there) {
        let stops: Vec<usize> = run.stops.iter().copied().filter(|&stop| stop < parts.visits.len()).collect();
        // The whole run at once keeps its order; when it no longer stands, stop by stop.
        if draft.run_index(run.day, run.crew).is_some() || draft.place(run.day, run.crew, &stops, stops.clone()) {
            continue;
        }
        let mut kept: Vec<usize> = Vec::new();
        for &stop in &stops {
            let group: Vec<usize> = stops.iter().copied().filter(|&other| groups[other] == groups[stop]).collect();
            if group[0] != stop {
                continue;
            }
            let mut wanted: Vec<usize> =
                stops.iter().copied().filter(|other| kept.contains(other) || group.contains(other)).collect();
            wanted.dedup();
            if draft.place(run.day, run.crew, &group, wanted.clone()) {
                kept = wanted;
            }
        }
    }
    drop_broken_groups(&mut draft);
    draft
}

/// Takes off visits whose bound partner is not on the same run.
pub(crate) fn drop_broken_groups(draft: &mut Draft<'_>) {
    let pairs = &draft.problem.parts().together;
    loop {
        let places = draft.plan.assignments(draft.problem.visit_count());
        let Some(&(left, right)) = pairs.iter().find(|(left, right)| places[*left] != places[*right]) else { return };
        draft.remove(&[left, right]);
    }
}
