//! Drive times and road lengths between home and the yards of a plan.

use std::collections::BTreeMap;

use outyard_base::{Kilometres, Place, Trouble, YardId};
use outyard_runs::problem::Roads as RoadTable;

use crate::intake::drives::{Drives, Stand};
use crate::settings::Settings;

/// The stands of a plan: node 0 is home, then the yards in the order given.
#[derive(Clone, Debug)]
pub struct RoadMap {
    yards: Vec<YardId>,
    /// Minutes and metres between all of them.
    pub table: RoadTable,
    /// Drives that were known from the outfit's own table; the others are reckoned from the straight line.
    pub known: usize,
    /// Drives in all.
    pub drives: usize,
}

impl RoadMap {
    /// Node of home.
    pub const HOME: usize = 0;

    /// Node of a yard.
    pub fn node(&self, yard: &YardId) -> Option<usize> {
        self.yards.iter().position(|known| known == yard).map(|at| at + 1)
    }

    /// Looks up or reckons every drive among home and the yards.
    ///
    /// # Errors
    /// `ROD-001` for each yard that has neither a place nor known drives to all the others.
    pub fn new(
        settings: &Settings,
        drives: &Drives,
        yards: Vec<YardId>,
        places: &BTreeMap<YardId, Place>,
    ) -> Result<Self, Vec<Trouble>> {
        let stands: Vec<Stand> = core::iter::once(Stand::Home).chain(yards.iter().cloned().map(Stand::Yard)).collect();
        let place_of = |stand: &Stand| match stand {
            Stand::Home => Some(settings.home),
            Stand::Yard(yard) => places.get(yard).copied(),
        };
        let nodes = stands.len();
        let mut table = RoadTable { nodes, minutes: vec![0; nodes * nodes], metres: vec![0; nodes * nodes] };
        let mut known = 0;
        let mut nowhere = std::collections::BTreeSet::new();
        for (from, from_stand) in stands.iter().enumerate() {
            for (to, to_stand) in stands.iter().enumerate() {
                if from == to {
                    continue;
                }
                let told = drives.between(from_stand, to_stand);
                let reckoned = place_of(from_stand).zip(place_of(to_stand));
                let (minutes, km) = match (told, reckoned) {
                    (Some(drive), reckoned) => {
                        known += 1;
                        // A drive told by time alone gets the length of its road at the usual speed.
                        let by_time = drive.minutes.hours().get() * settings.roads.speed.get();
                        let km = drive.length.map_or_else(
                            || reckoned.map_or(by_time, |(from, to)| settings.road_length(from, to).get()),
                            Kilometres::get,
                        );
                        (drive.minutes, km)
                    }
                    (None, Some((from, to))) => (settings.drive_time(from, to), settings.road_length(from, to).get()),
                    (None, None) => {
                        for stand in [from_stand, to_stand] {
                            if let (Stand::Yard(yard), None) = (stand, place_of(stand)) {
                                nowhere.insert(yard.clone());
                            }
                        }
                        continue;
                    }
                };
                table.minutes[from * nodes + to] = minutes.get();
                #[expect(clippy::cast_possible_truncation, reason = "roads are shorter than the earth is round")]
                let metres = (km * 1000.0).round() as i64;
                table.metres[from * nodes + to] = metres;
            }
        }
        if !nowhere.is_empty() {
            return Err(nowhere
                .iter()
                .map(|yard| {
                    Trouble::new(
                        "ROD-001",
                        format!("nobody has said where yard {yard} is"),
                        "import it with latitude and longitude, or give its drives to all other yards",
                    )
                })
                .collect());
        }
        Ok(Self { yards, table, known, drives: nodes * (nodes - 1) })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::intake::drives::read_drives;
    use crate::intake::table::ColumnMap;
    use crate::settings::read_settings;

    #[test]
    fn known_drives_win_and_a_yard_nowhere_is_told() {
        let settings = read_settings(
            "outfit.toml",
            "name='x'\n[home]\nlatitude=45\nlongitude=-93\nzone='UTC'\n[[truck]]\nname='T'\ndeeps_empty=9\npayload_kg=900\n[[crew]]\nname='C'\ntruck='T'\n",
        )
        .unwrap();
        let drives = read_drives("drives.csv", "from,to,minutes\nhome,7,25\n7,12,15\n", &ColumnMap::new()).unwrap();
        let yards: Vec<YardId> = ["7", "12"].iter().map(|name| name.parse().unwrap()).collect();
        let mut places = BTreeMap::from([(yards[0].clone(), Place::new(45.1, -93.0).unwrap())]);
        let troubles = RoadMap::new(&settings, &drives, yards.clone(), &places).unwrap_err();
        assert_eq!(troubles[0].cause, "nobody has said where yard 12 is");
        places.insert(yards[1].clone(), Place::new(45.2, -93.0).unwrap());
        let roads = RoadMap::new(&settings, &drives, yards.clone(), &places).unwrap();
        let node = |yard: &YardId| roads.node(yard).unwrap();
        let minutes = |from: usize, to: usize| roads.table.minutes[from * 3 + to];
        assert_eq!((minutes(0, node(&yards[0])), minutes(node(&yards[1]), node(&yards[0]))), (25, 15));
        // 0.2° of latitude is 22.23 km (WGS 84); at 1.3 and 60 km/h that is 28.9 min.
        assert_eq!(minutes(0, node(&yards[1])), 29);
        assert_eq!((roads.known, roads.drives), (4, 6));
    }
}
