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

    /// The run of a crew on a day as it would be with these stops: on its own truck, else on `wish`, else on the first free truck
    /// they fit.
    fn with_stops(&self, day: usize, crew: usize, stops: Vec<usize>, wish: Option<usize>) -> Option<Run> {
        let parts = self.problem.parts();
        let load = load_of(parts, &stops);
        let taken =
            |truck: usize| self.plan.runs.iter().any(|run| run.day == day && run.truck == truck && run.crew != crew);
        let own_truck = self.run_index(day, crew).map(|run| self.plan.runs[run].truck);
        let allowed = &parts.crews[crew].trucks;
        let truck = own_truck
            .into_iter()
            .chain(wish)
            .chain(allowed.iter().copied())
            .find(|truck| allowed.contains(truck) && !taken(*truck) && fits(parts, *truck, &load))?;
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
        self.place_on(day, crew, visits, stops, None)
    }

    fn place_on(&mut self, day: usize, crew: usize, visits: &[usize], stops: Vec<usize>, wish: Option<usize>) -> bool {
        let parts = self.problem.parts();
        if visits.iter().any(|&visit| self.day_of[visit].is_some()) {
            return false;
        }
        let Some(run) = self.with_stops(day, crew, stops, wish) else { return false };
        let mut taken = 0;
        for &visit in visits {
            let needs = &parts.visits[visit].needs;
            if self.day_of[visit].is_some() || !self.stock.covers(needs, day) {
                break;
            }
            self.stock.take(needs, day, 1);
            self.day_of[visit] = Some(day);
            taken += 1;
        }
        if taken < visits.len() || !visits.iter().all(|&visit| self.ties_allow(visit, day)) {
            for &visit in &visits[..taken] {
                self.stock.take(&parts.visits[visit].needs, day, -1);
                self.day_of[visit] = None;
            }
            return false;
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
    let there =
        |run: &&Run| run.day < parts.days.len() && run.crew < parts.crews.len() && run.truck < parts.trucks.len();
    let mut waiting: Vec<Run> = old.runs.iter().filter(there).cloned().collect();
    for run in &mut waiting {
        run.stops.retain(|&stop| stop < parts.visits.len());
    }
    waiting.sort();
    // Whole runs keep their order; a run tied to one further down the list gets another turn.
    let mut before = usize::MAX;
    while waiting.len() < before {
        before = waiting.len();
        waiting.retain(|run| {
            draft.run_index(run.day, run.crew).is_some()
                || !draft.place_on(run.day, run.crew, &run.stops, run.stops.clone(), Some(run.truck))
        });
    }
    for run in &waiting {
        keep_what_stands(&mut draft, run, &groups);
    }
    drop_broken_groups(&mut draft);
    draft
}

/// Keeps those stops of a run that can stand, one group after the other.
fn keep_what_stands(draft: &mut Draft<'_>, run: &Run, groups: &[usize]) {
    if draft.run_index(run.day, run.crew).is_some() {
        return;
    }
    let mut kept: Vec<usize> = Vec::new();
    for &stop in &run.stops {
        let group: Vec<usize> = run.stops.iter().copied().filter(|&other| groups[other] == groups[stop]).collect();
        if group[0] != stop {
            continue;
        }
        let wanted: Vec<usize> =
            run.stops.iter().copied().filter(|other| kept.contains(other) || group.contains(other)).collect();
        if draft.place_on(run.day, run.crew, &group, wanted.clone(), Some(run.truck)) {
            kept = wanted;
        }
    }
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
