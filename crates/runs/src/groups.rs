//! Visits bound to one run: the classes of the rule "must share a run".

use crate::problem::RunParts;

/// The group of every visit: the smallest visit number it is bound to, directly or through others.
pub(crate) fn groups(parts: &RunParts) -> Vec<usize> {
    let mut group: Vec<usize> = (0..parts.visits.len()).collect();
    loop {
        let mut changed = false;
        for &(left, right) in &parts.together {
            let least = group[left].min(group[right]);
            changed |= group[left] != least || group[right] != least;
            group[left] = least;
            group[right] = least;
        }
        if !changed {
            return group;
        }
    }
}
