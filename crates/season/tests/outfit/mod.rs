//! A made-up outfit for measuring and comparing: made-up flows, three kinds in every yard.

use jiff::civil::date;
use outyard_base::{Cents, Chance, Kilograms, Share};
use outyard_season::{Colony, ColonyRules, Relief, Risks, WaitingInput};
use outyard_trade::boxes::FrameCount;
use outyard_trade::jobbook::Worth;
use outyard_trade::{BoxDepth, Kind};

pub(crate) const MEMBERS: usize = 500;
pub(crate) const DAYS: usize = 120;
pub(crate) const WAITING_DAYS: usize = 21;
pub(crate) const KINDS: [Kind; 3] = [Kind::Double, Kind::Single, Kind::Split];

pub(crate) fn worth() -> Worth {
    Worth {
        honey_per_kg: Cents(500),
        wage_per_hour: Cents(2400),
        road_per_km: Cents(100),
        lost_once_full: Share::of(0.6),
        late_put_down_kg_per_day: 0.6,
        late_brood_lift_kg_per_day: 0.3,
        swarm_kg: Kilograms::of(30.0),
        late_queen_kg: Kilograms::of(20.0),
        winter_loss: Cents(25_000),
        split_not_made_kg: Kilograms::of(45.0),
        box_price: Cents(4500),
        full_deep_kg: Kilograms::of(24.0),
    }
}

/// Gains of a made-up flow with rainy days, and hours of flight to go with them.
pub(crate) fn flows(yard: u64) -> (Vec<Vec<f64>>, Vec<Vec<f64>>) {
    let mut chance = Chance::new(yard, "made-up flows");
    (0..MEMBERS)
        .map(|_| {
            let begins = chance.between(10.0, 25.0);
            let ends = begins + chance.between(20.0, 35.0);
            let strength = chance.between(1.5, 5.0);
            (0..DAYS)
                .map(|day| {
                    #[expect(clippy::cast_precision_loss, reason = "days of one outlook")]
                    let on = (begins..ends).contains(&(day as f64));
                    let flight_h = if chance.happens(0.25) { 2.0 } else { chance.between(6.0, 12.0) };
                    let gain = if on { strength * flight_h / 10.0 } else { 0.0 } - 0.15;
                    (gain, flight_h)
                })
                .unzip()
        })
        .unzip()
}

pub(crate) fn colony(kind: Kind, rules: &ColonyRules) -> Colony {
    let mut colony = Colony::of_kind(kind, rules);
    if kind == Kind::Double {
        colony.put_down(0.5);
    }
    colony.add_boxes(BoxDepth::Deep, FrameCount::Ten, 1.0, true);
    colony
}

/// One kind of a yard, with what is asked of it.
pub(crate) fn input<'a>(
    colony: &'a Colony,
    gain: &'a [Vec<f64>],
    flight_h: &'a [Vec<f64>],
    worth: &'a Worth,
    rules: &'a ColonyRules,
) -> WaitingInput<'a> {
    WaitingInput {
        colony,
        colonies: 20,
        first: date(2026, 6, 15),
        south: false,
        gain,
        flight_h,
        relief: Relief::deeps(2.0),
        risks: Risks { queen_above: 0.04, test_in_days: Some(3), mites_in_days: Some(30) },
        worth,
        rules,
        days: WAITING_DAYS,
    }
}
