//! Runs the season on real weather and bloom dates. They are not part of the project: the tests read them through the
//! environment variable `OUTYARD_DATA` and say so in one line when it is not set.

#![expect(
    clippy::unwrap_used,
    clippy::print_stdout,
    clippy::cast_precision_loss,
    clippy::cast_possible_truncation,
    reason = "a test that reads small files and tells its figures"
)]

use std::path::PathBuf;

use jiff::civil::Date;
use outyard_base::days::plus_days;
use outyard_base::{Celsius, KilometresPerHour, Megajoules, Millimetres, Place};
use outyard_season::plants::learn::learn_heat;
use outyard_season::plants::update::{BloomRecord, leave_one_year_out};
use outyard_season::{
    DayWeather, HeatRule, Method, PlantTable, RepairRules, WeatherSeries, bloom_dates, flight_hours, repair_gaps,
};

fn data_file(name: &str) -> Option<String> {
    let Some(folder) = std::env::var_os("OUTYARD_DATA").map(PathBuf::from) else {
        println!("left out: OUTYARD_DATA is not set");
        return None;
    };
    Some(std::fs::read_to_string(folder.join(name)).unwrap())
}

/// Columns date, sun, high, low, rain, dew point, wind run in km a day.
fn plains() -> Option<WeatherSeries> {
    let text = data_file("weather/carrington_nd_daily.csv")?;
    let days = text
        .lines()
        .skip(1)
        .filter_map(|line| {
            let cells: Vec<&str> = line.split(',').collect();
            let number = |index: usize| cells[index].parse::<f64>().ok();
            Some(DayWeather {
                rain: number(4).and_then(|mm| Millimetres::new(mm).ok()),
                wind: number(6).and_then(|km| KilometresPerHour::new(km / 24.0).ok()),
                sun: number(1).and_then(|mj| Megajoules::new(mj).ok()),
                ..DayWeather::seen(cells[0].parse().unwrap(), Celsius::of(number(3)?), Celsius::of(number(2)?))
            })
        })
        .collect();
    let (series, notes) = WeatherSeries::new(days);
    println!("{} days, {} notes", series.days().len(), notes.len());
    let (series, notes) = repair_gaps(&series, &RepairRules::for_year(2017));
    println!("{} gaps", notes.len());
    Some(series)
}

#[test]
fn flight_hours_of_the_northern_plains_are_those_of_practice() {
    let Some(series) = plains() else { return };
    let place = Place::new(47.51, -99.13).unwrap();
    let mut means = Vec::new();
    for month in 4..=10 {
        let mut hours: Vec<f64> = series
            .days()
            .iter()
            .filter(|day| day.date.month() == month)
            .map(|day| flight_hours(day, place).get())
            .collect();
        hours.sort_by(f64::total_cmp);
        let mean = hours.iter().sum::<f64>() / hours.len() as f64;
        let at = |share: f64| outyard_base::range::quantile(&hours, share);
        println!("month {month}: mean {mean:.1} h, 10/50/90 % {:.1} {:.1} {:.1}", at(0.1), at(0.5), at(0.9));
        means.push(mean);
    }
    // Practice: June 9 to 12 h.
    assert!((9.0..=12.0).contains(&means[2]), "June {}", means[2]);
}

#[test]
fn first_bloom_dates_by_year_lie_in_their_season() {
    let Some(series) = plains() else { return };
    let table = PlantTable::built_in();
    for (code, from, to) in
        [("dandelion", (4, 1), (6, 5)), ("yellow-sweet-clover", (5, 25), (7, 10)), ("basswood", (6, 10), (8, 1))]
    {
        let plant = table.get(&code.parse().unwrap()).unwrap();
        let dates: Vec<Date> = (1991..=2016)
            .filter_map(|year| {
                let bloom = bloom_dates(plant, &series, year, None);
                bloom.first.likely.filter(|_| bloom.missing_days == 0)
            })
            .collect();
        let words: Vec<String> = dates.iter().map(|date| format!("{date}")).collect();
        println!("{code}: {}", words.join(" "));
        assert!(dates.len() >= 20, "{code}: {} years", dates.len());
        for date in dates {
            let at = |(month, day): (i8, i8)| Date::new(date.year(), month, day).unwrap();
            assert!((at(from)..=at(to)).contains(&date), "{code} {date}");
        }
    }
}

#[test]
fn a_learnt_heat_sum_beats_the_fixed_date_for_cherry() {
    let (Some(bloom), Some(weather)) = (data_file("phenology/KA_bloom.csv"), data_file("phenology/KA_weather.csv"))
    else {
        return;
    };
    let seen: Vec<Date> = bloom
        .lines()
        .skip(1)
        .filter_map(|line| {
            let (year, day) = line.split_once(',')?;
            let day: f64 = day.parse().ok()?;
            Some(plus_days(Date::new(year.parse().ok()?, 1, 1).ok()?, day as i64 - 1))
        })
        .collect();
    let days = weather
        .lines()
        .skip(1)
        .filter_map(|line| {
            let cells: Vec<f64> = line.split(',').filter_map(|cell| cell.parse().ok()).collect();
            let [year, month, day, high, low] = cells[..] else { return None };
            let date = Date::new(year as i16, month as i8, day as i8).ok()?;
            Some(DayWeather::seen(date, Celsius::of(low), Celsius::of(high)))
        })
        .collect();
    let (series, _) = WeatherSeries::new(days);
    for method in [Method::SimpleAverage, Method::SingleSine(outyard_season::Cutoff::None)] {
        let rules: Vec<HeatRule> =
            (-2..=8).map(|base| HeatRule { method, base: Celsius::of(f64::from(base)), upper: None }).collect();
        let starts = [(1, 1), (1, 15), (2, 1), (2, 15), (3, 1)];
        let learnt = learn_heat(&series, &seen, &rules, &starts).unwrap();
        println!(
            "{}: {} years, base {}, from {:?}, sum {:.0}, left-out error {:.2} d, fixed date {:.2} d",
            method.name(),
            learnt.years,
            learnt.rule.base,
            learnt.start,
            learnt.sum.likely.get(),
            learnt.error_days.unwrap(),
            learnt.fixed_date_error_days.unwrap()
        );
        assert!(learnt.error_days.unwrap() < 0.7 * learnt.fixed_date_error_days.unwrap());
    }
    // A plant of a table that is far off, moved by the years but one: against the table alone and the fixed date.
    let table = PlantTable::read(
        r#"
        [[plant]]
        code = "early-cherry"
        name = "early cherry"
        source = "assumed, and far off on purpose"
        strength_kg_per_day = [0.1, 0.3, 0.5]
        strength_source = "assumed"
        [plant.heat]
        degrees = "C"
        method = "single-sine"
        base = 2.0
        start = "02-15"
        first_bloom = [150.0, 250.0, 450.0]
        full_after_days = [2.0, 4.0, 6.0]
        bloom_days = [8.0, 11.0, 15.0]
        "#,
        "test",
    )
    .unwrap();
    let records: Vec<BloomRecord> = seen.iter().copied().map(BloomRecord::from).collect();
    let left_out = leave_one_year_out(&table.plants()[0], &series, &records).unwrap();
    println!(
        "threshold moved by records: {} years, left-out error {:.2} d, table alone {:.2} d, fixed date {:.2} d",
        left_out.years, left_out.learnt_days, left_out.table_days, left_out.fixed_date_days
    );
    assert!(left_out.learnt_days < 0.8 * left_out.fixed_date_days);
    assert!(left_out.learnt_days < left_out.table_days);
}
