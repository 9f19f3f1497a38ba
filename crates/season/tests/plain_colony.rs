//! The colony's day step against the same step written a second time.

mod plain;

use jiff::civil::date;
use outyard_base::Chance;
use outyard_base::days::plus_days;
use outyard_season::colony::{Colony, ColonyRules, ForageDay};
use outyard_trade::boxes::FrameCount;
use outyard_trade::{BoxDepth, Kind};
use plain::PlainColony;

fn figures(colony: &Colony) -> [f64; 6] {
    let brood = colony.nest.workers.cells()
        + colony.above.workers.cells()
        + colony.nest.drones.cells()
        + colony.above.drones.cells();
    let water = colony.nest.stores.unripe_water_kg + colony.above.stores.unripe_water_kg;
    [colony.house, colony.foragers, colony.drones, brood, colony.sugar_kg(), water]
}

#[test]
fn the_step_and_its_plain_twin_agree_through_a_season() {
    let rules = ColonyRules::default();
    for (kind, seed) in [(Kind::Double, 1), (Kind::Single, 2), (Kind::Split, 3), (Kind::Weak, 4)] {
        for boxes in [0.0, 1.0, 4.0] {
            let mut colony = Colony::of_kind(kind, &rules);
            if kind == Kind::Double {
                colony.put_down(0.5);
            }
            colony.add_boxes(BoxDepth::Deep, FrameCount::Ten, boxes, true);
            let mut twin = PlainColony::of(&colony);
            let mut chance = Chance::new(seed, "made-up gains");
            for ahead in 0..120 {
                let gain = chance.between(-0.4, 5.0);
                let flight_h = chance.between(0.0, 13.0);
                let day = ForageDay::of_gain(gain, flight_h, plus_days(date(2026, 6, 1), ahead), false, &rules);
                colony.step(&day, &rules);
                twin.step(&day, &rules);
                for (ours, plain) in figures(&colony).into_iter().zip(twin.figures()) {
                    let apart = (ours - plain).abs();
                    assert!(
                        apart <= 1e-9 * plain.abs().max(1.0),
                        "{kind} with {boxes}, day {ahead}: {ours} and {plain}"
                    );
                }
                assert!((colony.unswarmed - twin.unswarmed).abs() < 1e-12);
            }
        }
    }
}
