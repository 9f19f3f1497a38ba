//! A whole outfit's colonies: 45 yards, 3 kinds, 500 members, 120 days, with curves of waiting over 21 days; the same for
//! twice and four times the yards; and the day step against the same step written plainly.

#[path = "../tests/plain/mod.rs"]
mod plain;

use core::hint::black_box;

use criterion::{BenchmarkId, Criterion, Throughput, criterion_group, criterion_main};
use jiff::civil::date;
use outyard_base::days::plus_days;
use outyard_base::{Cents, Chance, Kilograms, Share};
use outyard_season::{Colony, ColonyRules, ForageDay, Relief, Risks, WaitingInput, colonies_ahead};
use outyard_trade::boxes::FrameCount;
use outyard_trade::jobbook::Worth;
use outyard_trade::{BoxDepth, Kind};
use plain::PlainColony;

const MEMBERS: usize = 500;
const DAYS: usize = 120;
const WAITING_DAYS: usize = 21;
const KINDS: [Kind; 3] = [Kind::Double, Kind::Single, Kind::Split];

fn worth() -> Worth {
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
fn flows(yard: u64) -> (Vec<Vec<f64>>, Vec<Vec<f64>>) {
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

fn colony(kind: Kind, rules: &ColonyRules) -> Colony {
    let mut colony = Colony::of_kind(kind, rules);
    if kind == Kind::Double {
        colony.put_down(0.5);
    }
    colony.add_boxes(BoxDepth::Deep, FrameCount::Ten, 1.0, true);
    colony
}

fn whole_outfit(bench: &mut Criterion) {
    let (rules, worth) = (ColonyRules::default(), worth());
    let colonies = KINDS.map(|kind| colony(kind, &rules));
    let flows: Vec<_> = (0..45).map(flows).collect();
    let mut group = bench.benchmark_group("season_whole");
    group.sample_size(10);
    for yards in [45_usize, 90, 180] {
        let inputs: Vec<WaitingInput<'_>> = (0..yards)
            .flat_map(|yard| {
                let (gain, flight_h) = &flows[yard % flows.len()];
                colonies.iter().map(|colony| WaitingInput {
                    colony,
                    colonies: 20,
                    first: date(2026, 6, 15),
                    south: false,
                    gain,
                    flight_h,
                    relief: Relief::deeps(2.0),
                    risks: Risks { queen_above: 0.04, test_in_days: Some(3), mites_in_days: Some(30) },
                    worth: &worth,
                    rules: &rules,
                    days: WAITING_DAYS,
                })
            })
            .collect();
        group.throughput(Throughput::Elements(yards as u64));
        group.bench_with_input(BenchmarkId::new("yards", yards), &inputs, |bencher, inputs| {
            bencher.iter(|| black_box(colonies_ahead(inputs)).len());
        });
    }
    group.finish();
}

fn one_day(bench: &mut Criterion) {
    let rules = ColonyRules::default();
    let start = colony(Kind::Double, &rules);
    let days: Vec<ForageDay> = (0..120)
        .map(|ahead| ForageDay::of_gain(2.0, 8.0, plus_days(date(2026, 6, 15), ahead), false, &rules))
        .collect();
    let mut group = bench.benchmark_group("120 days of one colony");
    group.throughput(Throughput::Elements(120));
    group.bench_function("ours", |bencher| {
        bencher.iter(|| {
            let mut colony = *black_box(&start);
            for day in &days {
                colony.step(day, &rules);
            }
            colony.foragers
        });
    });
    group.bench_function("plain", |bencher| {
        bencher.iter(|| {
            let mut colony = PlainColony::of(black_box(&start));
            for day in &days {
                colony.step(day, &rules);
            }
            colony.figures()[1]
        });
    });
    group.finish();
}

criterion_group!(benches, whole_outfit, one_day);
criterion_main!(benches);
