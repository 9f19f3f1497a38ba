//! A plan, its times, its loads and its bill.

use outyard_base::{Cents, ClockTime, Grams, Minutes};

/// What is to be done: the runs, in order of day and crew. A visit on no run is left out.
#[derive(Clone, Debug, Default, PartialEq, Eq, Hash)]
pub struct Plan {
    /// The runs.
    pub runs: Vec<Run>,
}

/// One crew going out once on one day.
#[derive(Clone, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Run {
    /// The day.
    pub day: usize,
    /// The crew.
    pub crew: usize,
    /// The truck.
    pub truck: usize,
    /// Visits in the order they are driven.
    pub stops: Vec<usize>,
}

impl Plan {
    /// Drops runs without stops and puts the rest in order of day and crew.
    #[must_use]
    pub fn tidied(mut self) -> Self {
        self.runs.retain(|run| !run.stops.is_empty());
        self.runs.sort();
        self
    }

    /// Where each visit stands: `(run, place on it)`, `None` when left out.
    pub fn places(&self, visits: usize) -> Vec<Option<(usize, usize)>> {
        let mut places = vec![None; visits];
        for (index, run) in self.runs.iter().enumerate() {
            for (position, &visit) in run.stops.iter().enumerate() {
                places[visit] = Some((index, position));
            }
        }
        places
    }

    /// Day and crew of each visit, `None` when left out.
    pub fn assignments(&self, visits: usize) -> Vec<Option<(usize, usize)>> {
        self.places(visits)
            .into_iter()
            .map(|place| place.map(|(run, _)| (self.runs[run].day, self.runs[run].crew)))
            .collect()
    }
}

/// Times at one stop.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct StopTimes {
    /// The visit.
    pub visit: usize,
    /// Truck stops in the yard.
    pub arrive: ClockTime,
    /// Work begins (later than arrival when the gate is still shut, or lunch comes first).
    pub start: ClockTime,
    /// Work ends.
    pub end: ClockTime,
    /// Minutes left between the end of work and the closing of the gate; `None` when the gate is open all day.
    pub gate_left: Option<Minutes>,
}

/// Lunch on a run.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct LunchTimes {
    /// Stops already worked when lunch begins; 0 means on reaching the first yard.
    pub after_stops: usize,
    /// Lunch begins.
    pub from: ClockTime,
    /// Lunch ends.
    pub to: ClockTime,
}

/// Times of a run.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct RunTimes {
    /// The crew leaves home.
    pub leave: ClockTime,
    /// Stop by stop.
    pub stops: Vec<StopTimes>,
    /// Lunch, when one is owed.
    pub lunch: Option<LunchTimes>,
    /// The crew is home.
    pub home: ClockTime,
    /// Minutes driven.
    pub drive: Minutes,
    /// Metres driven.
    pub metres: i64,
    /// Minutes of service.
    pub service: Minutes,
    /// Minutes waited at shut gates, lunch not counted.
    pub waited: Minutes,
    /// Minutes before the longest time away is used up.
    pub to_spare: Minutes,
}

impl RunTimes {
    /// Time away, home to home.
    pub fn away(&self) -> Minutes {
        self.home - self.leave
    }

    /// Fewest minutes left in any gate of the run; `None` when no stop has a gate.
    pub fn gate_left(&self) -> Option<Minutes> {
        self.stops.iter().filter_map(|stop| stop.gate_left).min()
    }
}

/// What a truck carries on a run.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Load {
    /// `out[gear]`: taken from home.
    pub out: Vec<i64>,
    /// `home[gear]`: brought home.
    pub home: Vec<i64>,
    /// Most volume units on the deck at any time.
    pub volume_most: i64,
    /// Most mass on the deck at any time.
    pub grams_most: Grams,
}

/// What a plan costs, part by part.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Bill {
    /// Money lost by waiting, over the visits done.
    pub waiting: Cents,
    /// Money lost by leaving visits out.
    pub skip: Cents,
    /// Wages without the overtime extra.
    pub wage: Cents,
    /// Extra for overtime.
    pub overtime: Cents,
    /// Driving.
    pub road: Cents,
    /// Changing what crews were already told.
    pub told: Cents,
}

impl Bill {
    /// The sum.
    pub fn total(&self) -> Cents {
        self.waiting + self.skip + self.wage + self.overtime + self.road + self.told
    }
}
