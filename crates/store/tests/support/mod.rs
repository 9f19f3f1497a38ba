//! Entries and folders for the tests of stores.

use std::path::PathBuf;

use jiff::SignedDuration;
use outyard_base::{Chance, Minutes, Share};
use outyard_book::{Entry, EntryId, Fact, GearCounts, JobDone, Kind, KindCounts, OddCounts, Tally};

/// A folder of its own for each test, gone when the test is over.
pub(crate) struct Folder(PathBuf);

impl Folder {
    pub(crate) fn new(name: &str) -> Self {
        let folder = std::env::temp_dir().join(format!("outyard-{}-{name}", std::process::id()));
        std::fs::create_dir_all(&folder).unwrap();
        Self(folder)
    }

    pub(crate) fn file(&self, name: &str) -> PathBuf {
        self.0.join(name)
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        std::fs::remove_dir_all(&self.0).ok();
    }
}

/// Closed tallies such as crews write them, the same for the same seed: forty yards, each visited once a day, and now
/// and then one visit tallied by two crews.
pub(crate) fn tallies(seed: u64, count: u64) -> Vec<Entry> {
    let mut chance = Chance::new(seed, "tallies");
    (0..count).map(|number| tally(&mut chance, number)).collect()
}

fn number(chance: &mut Chance, below: u64) -> u32 {
    u32::try_from(chance.below(below)).unwrap()
}

fn tally(chance: &mut Chance, place: u64) -> Entry {
    let doubles = number(chance, 40);
    let place = if chance.happens(0.02) { place.saturating_sub(1) } else { place };
    let days = i64::try_from(place / 40).unwrap();
    let minutes = i64::try_from(place % 40).unwrap();
    let at = "2026-05-01T15:00:00Z".parse::<jiff::Timestamp>().unwrap()
        + SignedDuration::from_hours(24 * days)
        + SignedDuration::from_mins(minutes);
    let mut bytes = [0; 10];
    bytes[..8].copy_from_slice(&chance.below(u64::MAX).to_be_bytes());
    let crew = number(chance, 3);
    let tally = Tally {
        visit: chance.happens(0.5).then(|| format!("visit-{place}")),
        run: Some(format!("run-{}", place / 6)),
        jobs: vec![JobDone {
            job: "single-down-blow".parse().unwrap(),
            done: KindCounts::of(&[(Kind::Double, doubles), (Kind::Split, number(chance, 9))]),
            undone: KindCounts::NONE,
        }],
        odd: OddCounts { dead: number(chance, 2), weak: number(chance, 3), ..OddCounts::default() },
        boxes_on: GearCounts::one("third".parse().unwrap(), doubles),
        gear_put: GearCounts::one("excluder".parse().unwrap(), doubles),
        fullness: Some(Share::of(chance.uniform())),
        minutes: Some(Minutes(60 + i64::from(number(chance, 120)))),
        hands: Some(2),
        truck: Some(crew.to_string().parse().unwrap()),
        note: "gate was open".repeat(chance.index(4)),
        ..Tally::new((place % 40).to_string().parse().unwrap())
    };
    let device = format!("phone-{crew}").parse().unwrap();
    let day = outyard_base::days::plus_days("2026-05-01".parse().unwrap(), days);
    Entry::new(EntryId::new(at, bytes), device, format!("crew {crew}"), day, at, Fact::VisitClosed(tally))
}
