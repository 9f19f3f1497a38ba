//! A whole outfit's colonies: 45 yards, 3 kinds, 500 members, 120 days, with curves of waiting over 21 days; the same for
//! twice and four times the yards; and the day step against the same step written plainly.

#[path = "../tests/outfit/mod.rs"]
mod outfit;
#[path = "../tests/plain/mod.rs"]
mod plain;

use core::hint::black_box;

use criterion::{BenchmarkId, Criterion, Throughput, criterion_group, criterion_main};
use jiff::civil::date;
use outfit::{KINDS, colony, flows, input, worth};
use outyard_base::days::plus_days;
use outyard_season::{ColonyRules, ForageDay, WaitingInput, colonies_ahead};
use outyard_trade::Kind;
use plain::PlainColony;

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
                colonies.iter().map(|colony| input(colony, gain, flight_h, &worth, &rules))
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
