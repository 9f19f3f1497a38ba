//! Drive times and road lengths between home and the yards of a plan.

use std::collections::BTreeMap;

use outyard_base::{Kilometres, Minutes, Place, Trouble, YardId};
use outyard_runs::problem::Roads as RoadTable;

use crate::intake::drives::{Drives, Stand};
use crate::settings::Settings;

/// Time and length of a road between two stands, from a map.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RoadDrive {
    /// Time, rounded up to whole minutes.
    pub minutes: Minutes,
    /// Length.
    pub length: Kilometres,
}

/// Drives by the roads of a map, there and back, among stands of which the place is known.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct RoadTimes {
    stands: BTreeMap<Stand, usize>,
    table: Vec<Option<RoadDrive>>,
}

impl RoadTimes {
    /// A table row by row: from each stand to all of them, in the order of the list.
    ///
    /// Drives past the end of the table count as not known.
    pub fn new(stands: Vec<Stand>, table: Vec<Option<RoadDrive>>) -> Self {
        Self { stands: stands.into_iter().enumerate().map(|(at, stand)| (stand, at)).collect(), table }
    }

    /// The drive from one stand to another; `None` where the map knows no way.
    pub fn between(&self, from: &Stand, to: &Stand) -> Option<RoadDrive> {
        let (from, to) = (self.stands.get(from)?, self.stands.get(to)?);
        self.table.get(from * self.stands.len() + to).copied().flatten()
    }

    /// True when there is no map.
    pub fn is_empty(&self) -> bool {
        self.stands.is_empty()
    }
}

/// The stands of a plan: node 0 is home, then the yards in the order given.
#[derive(Clone, Debug)]
pub struct RoadMap {
    yards: Vec<YardId>,
    /// Minutes and metres between all of them.
    pub table: RoadTable,
    /// Drives that were known from the outfit's own table.
    pub known: usize,
    /// Drives by the roads of a map; all others are reckoned from the straight line.
    pub by_map: usize,
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
        roads: &RoadTimes,
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
        let (mut known, mut by_map) = (0, 0);
        let mut nowhere = std::collections::BTreeSet::new();
        for (from, from_stand) in stands.iter().enumerate() {
            for (to, to_stand) in stands.iter().enumerate() {
                if from == to {
                    continue;
                }
                let told = drives.between(from_stand, to_stand);
                let mapped = roads.between(from_stand, to_stand);
                let reckoned = place_of(from_stand).zip(place_of(to_stand));
                let (minutes, km) = match (told, mapped.zip(reckoned), reckoned) {
                    (Some(drive), _, reckoned) => {
                        known += 1;
                        // A drive told by time alone gets the length of its road at the usual speed.
                        let by_time = drive.minutes.hours().get() * settings.roads.speed.get();
                        let km = drive.length.map_or_else(
                            || {
                                let by_line =
                                    reckoned.map_or(by_time, |(from, to)| settings.road_length(from, to).get());
                                mapped.map_or(by_line, |road| road.length.get())
                            },
                            Kilometres::get,
                        );
                        (drive.minutes, km)
                    }
                    (None, Some((road, _)), _) => {
                        by_map += 1;
                        (road.minutes, road.length.get())
                    }
                    (None, None, Some((from, to))) => {
                        (settings.drive_time(from, to), settings.road_length(from, to).get())
                    }
                    (None, None, None) => {
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
        Ok(Self { yards, table, known, by_map, drives: nodes * (nodes - 1) })
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
        let troubles = RoadMap::new(&settings, &drives, &RoadTimes::default(), yards.clone(), &places).unwrap_err();
        assert_eq!(troubles[0].cause, "nobody has said where yard 12 is");
        places.insert(yards[1].clone(), Place::new(45.2, -93.0).unwrap());
        let roads = RoadMap::new(&settings, &drives, &RoadTimes::default(), yards.clone(), &places).unwrap();
        let node = |yard: &YardId| roads.node(yard).unwrap();
        let minutes = |from: usize, to: usize| roads.table.minutes[from * 3 + to];
        assert_eq!((minutes(0, node(&yards[0])), minutes(node(&yards[1]), node(&yards[0]))), (25, 15));
        // 0.2° of latitude is 22.23 km (WGS 84); at 1.3 and 60 km/h that is 28.9 min.
        assert_eq!(minutes(0, node(&yards[1])), 29);
        assert_eq!((roads.known, roads.by_map, roads.drives), (4, 0, 6));
        // A map that knows the way there and not the way back: the outfit's own table still goes before it.
        let road = |minutes, km| Some(RoadDrive { minutes: Minutes(minutes), length: Kilometres::of(km) });
        let stands = vec![Stand::Home, Stand::Yard(yards[0].clone()), Stand::Yard(yards[1].clone())];
        let map = RoadTimes::new(
            stands,
            vec![None, road(40, 30.0), road(35, 31.0), None, None, road(99, 9.0), None, None, None],
        );
        let roads = RoadMap::new(&settings, &drives, &map, yards.clone(), &places).unwrap();
        let at = |from: usize, to: usize| (roads.table.minutes[from * 3 + to], roads.table.metres[from * 3 + to]);
        assert_eq!((at(0, 1), at(0, 2), at(2, 0).0), ((25, 30_000), (35, 31_000), 29));
        assert_eq!((at(1, 2), roads.known, roads.by_map), ((15, 9_000), 4, 1));
    }
}
