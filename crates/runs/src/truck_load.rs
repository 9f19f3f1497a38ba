//! What a truck carries: full of empties it runs out of room, full of honey it runs out of payload.

use outyard_base::Grams;

use crate::plan::{Load, Run};
use crate::problem::{RunParts, RunProblem};

/// The load of a run: everything needed leaves home on the truck, and what a visit brings rides along from there on.
///
/// # Panics
/// When the run names a visit the problem does not have.
pub fn load(problem: &RunProblem, run: &Run) -> Load {
    load_of(problem.parts(), &run.stops)
}

pub(crate) fn load_of(parts: &RunParts, stops: &[usize]) -> Load {
    let mut load = Load { out: vec![0; parts.gear.len()], home: vec![0; parts.gear.len()], ..Load::default() };
    let (mut volume, mut grams) = (0, 0);
    for &visit in stops {
        for &(gear, count) in &parts.visits[visit].needs {
            load.out[gear] += count;
            volume += count * parts.gear[gear].out_volume;
            grams += count * parts.gear[gear].out_grams.0;
        }
    }
    load.volume_most = volume;
    load.grams_most = Grams(grams);
    for &visit in stops {
        for &(gear, count) in &parts.visits[visit].needs {
            volume -= count * parts.gear[gear].out_volume;
            grams -= count * parts.gear[gear].out_grams.0;
        }
        for &(gear, count) in &parts.visits[visit].brings {
            load.home[gear] += count;
            volume += count * parts.gear[gear].home_volume;
            grams += count * parts.gear[gear].home_grams.0;
        }
        load.volume_most = load.volume_most.max(volume);
        load.grams_most = load.grams_most.max(Grams(grams));
    }
    load
}

/// Whether the load fits a truck all the way round.
pub(crate) fn fits(parts: &RunParts, truck: usize, load: &Load) -> bool {
    load.volume_most <= parts.trucks[truck].volume && load.grams_most <= parts.trucks[truck].payload
}
