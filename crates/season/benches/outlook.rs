//! How long the outlook of a whole outfit takes: 45 yards, 200 members, 60 days.

use criterion::{Criterion, criterion_group, criterion_main};
use jiff::civil::date;
use outyard_base::days::each_day;
use outyard_base::{Celsius, Chance, KilometresPerHour, Megajoules, Millimetres, Place, Share};
use outyard_season::flow::{no_scale_yet, usual_upkeep};
use outyard_season::{
    DayWeather, FlowRule, ForagePart, MemberRules, OutlookInput, PlantTable, WeatherSeries, YardForage, outlook,
};

/// Twenty-five years of made-up weather of the plains.
fn made_up() -> WeatherSeries {
    let mut chance = Chance::new(1, "made-up weather");
    let mut departure = 0.0;
    let days = each_day(date(2001, 1, 1), date(2026, 6, 20))
        .map(|date| {
            departure = 0.75 * departure + 3.0 * chance.normal();
            let wave = -(core::f64::consts::TAU * (f64::from(date.day_of_year()) - 20.0) / 365.25).cos();
            let mean = 4.5 + 16.5 * wave + departure;
            DayWeather {
                rain: Some(Millimetres::of(if chance.happens(0.3) {
                    -6.0 * chance.uniform().max(1e-6).ln()
                } else {
                    0.0
                })),
                wind: Some(KilometresPerHour::of(6.0 + 16.0 * chance.uniform())),
                sun: Some(Megajoules::of(14.0 + 9.0 * wave * chance.uniform())),
                ..DayWeather::seen(date, Celsius::of(mean - 6.5), Celsius::of(mean + 6.5))
            }
        })
        .collect();
    WeatherSeries::new(days).0
}

fn whole_outfit(bench: &mut Criterion) {
    let history = made_up();
    let plants = PlantTable::built_in();
    let part = |code: &str, weight: f64, seeding| ForagePart {
        plant: code.parse().expect("a code of the table"),
        weight: Share::of(weight),
        seeding,
    };
    let forage = YardForage {
        plants: vec![
            part("canola", 0.4, Some(date(2026, 5, 15))),
            part("white-sweet-clover", 0.3, None),
            part("alfalfa", 0.2, None),
            part("basswood", 0.2, None),
        ],
    };
    bench.bench_function("outlook of 45 yards, 200 members, 60 days", |bencher| {
        bencher.iter(|| {
            (0..45_u32)
                .map(|yard| {
                    let input = OutlookInput {
                        history: &history,
                        forecast: &[],
                        today: date(2026, 6, 21),
                        horizon_days: 60,
                        member_count: 200,
                        seed: 7,
                        rules: MemberRules::default(),
                        place: Place::new(47.0 + f64::from(yard) * 0.02, -99.0).expect("a place on the plains"),
                        forage: &forage,
                        plants: &plants,
                        scale_factor: no_scale_yet(),
                        upkeep: usual_upkeep(),
                        flow_rule: FlowRule::default(),
                        nights: &[],
                    };
                    outlook(&input).expect("years enough").0.gain.len()
                })
                .sum::<usize>()
        });
    });
}

criterion_group!(benches, whole_outfit);
criterion_main!(benches);
