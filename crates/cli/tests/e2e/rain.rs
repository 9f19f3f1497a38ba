//! Scene S6, three days of rain: as the tailgate sum, and with an outfit whose runs are planned anew.

use std::collections::{BTreeMap, BTreeSet};

use jiff::civil::Date;
use serde_json::Value;

use crate::common::{Outfit, after, date, find, number, said};
use crate::scenes::holds_clocks;

/// A round, the rain across it, and what a colony gains on a good day and in rain.
struct Round {
    yards: u32,
    a_day: u32,
    from: Date,
    rain: Vec<i64>,
    gain: f64,
    in_rain: f64,
}

impl Round {
    fn yards_by_day(&self, rain: &[i64]) -> Vec<(Date, u32)> {
        let (mut left, mut day, mut done) = (self.yards, 0, Vec::new());
        while left > 0 {
            if !rain.contains(&day) {
                let today = left.min(self.a_day);
                done.push((after(self.from, day), today));
                left -= today;
            }
            day += 1;
        }
        done
    }

    /// Honey held and the day boxes are full, walked in thousandths of a day: 24 kg at once, 24 more over 21 days.
    fn fills(&self, rain: &[i64]) -> f64 {
        let mut held: f64 = 0.0;
        for step in 0..200_000_u32 {
            let now = f64::from(step) / 1000.0;
            if held >= 24.0 + 24.0 * now.min(21.0) / 21.0 {
                return now;
            }
            let gain = if rain.contains(&i64::from(step / 1000)) { self.in_rain } else { self.gain };
            held = (held + gain / 1000.0).max(0.0);
        }
        panic!("never full");
    }
}

#[test]
fn scene_6_the_sum_on_the_tailgate() {
    let outfit = Outfit::with_yards(&[("7", 26, 6)]);
    let scene = Round { yards: 40, a_day: 6, from: date("2026-07-03"), rain: vec![3, 4, 5], gain: 3.0, in_rain: -0.5 };
    for round in [
        Round { rain: vec![3, 4, 5], ..scene },
        Round { yards: 31, a_day: 4, from: date("2026-06-29"), rain: vec![1, 2], gain: 2.3, in_rain: -0.8 },
        Round { yards: 55, a_day: 9, from: date("2027-07-08"), rain: vec![2, 3, 4, 5, 6], gain: 4.1, in_rain: 0.2 },
    ] {
        let (first_wet, last_wet) = (round.rain[0], *round.rain.last().unwrap());
        let words = format!(
            "round --yards {} --a-day {} --from {} --rain {}..{} --gain {} --gain-in-rain {}",
            round.yards,
            round.a_day,
            round.from,
            after(round.from, first_wet),
            after(round.from, last_wet),
            round.gain,
            round.in_rain
        );
        let (answer, page) = (outfit.json(&words), outfit.page(&words));
        for (told, rain) in [(&answer["dry"], &[][..]), (&answer["wet"], &round.rain[..])] {
            let days = round.yards_by_day(rain);
            let told_days: Vec<(Date, u32)> = told["days"]
                .as_array()
                .unwrap()
                .iter()
                .map(|day| (date(day["date"].as_str().unwrap()), day["yards"].as_u64().unwrap() as u32))
                .collect();
            assert_eq!(told_days, days);
            let finish = days.last().unwrap().0;
            assert_eq!(told["finish"], finish.to_string());
            let full = round.fills(rain);
            assert!((number(&told["full_after_days"]) - full).abs() < 0.005, "{full} {}", told["full_after_days"]);
            let back = after(round.from, full as i64);
            assert_eq!(told["latest_return"], back.to_string());
            assert_eq!(told["clear_days_before_return"], i64::from((back - finish).get_days()) - 1);
            holds_clocks(&told["clocks"], round.from);
            assert!(
                page.contains(&format!("{} D+{:.1} {}", said(finish), number(&told["full_after_days"]), said(back))),
                "{page}"
            );
        }
        assert_eq!(answer["wet"]["clocks"], answer["dry"]["clocks"], "rain moves no brood clock");
        assert!(page.contains("they do NOT move"), "{page}");
        let held: f64 = (0..=last_wet).fold(0.0, |held, day| {
            (held + if round.rain.contains(&day) { round.in_rain } else { round.gain }).max(0.0)
        });
        assert_eq!(answer["wet"]["held_kg"]["day"], last_wet + 1);
        assert!((number(&answer["wet"]["held_kg"]["kg"]) - held).abs() < 1e-9);
    }
    // The scene's own numbers.
    let answer = outfit.json("round --yards 40 --a-day 6 --from 2026-07-03 --rain 2026-07-06..2026-07-08 --gain 3");
    assert_eq!((&answer["dry"]["finish"], &answer["wet"]["finish"]), (&"2026-07-09".into(), &"2026-07-12".into()));
    assert_eq!(answer["wet"]["held_kg"], serde_json::json!({ "day": 6, "kg": 7.5 }));
    assert!((number(&answer["wet"]["full_after_days"]) - 18.6).abs() < 0.05);
    let returns = (&answer["dry"]["latest_return"], &answer["wet"]["latest_return"]);
    assert_eq!(returns, (&"2026-07-15".into(), &"2026-07-21".into()));
    assert_eq!(
        (&answer["dry"]["clear_days_before_return"], &answer["wet"]["clear_days_before_return"]),
        (&5.into(), &8.into())
    );
}

/// Two pairs of three yards a day each, with the job book as it comes: what waiting costs is the colony model's word.
const TWO_PAIRS: &str = r#"
name = "Quill Valley Bees"
yards_per_run_max = 3
[home]
latitude = 45.1
longitude = -93.9
zone = "America/Chicago"
[outlook]
members = 10
[[truck]]
name = "Red"
deeps_empty = 120
payload_kg = 2300
[[truck]]
name = "White"
deeps_empty = 120
payload_kg = 2300
[[crew]]
name = "one"
truck = "Red"
leave = "06:00"
[[crew]]
name = "two"
truck = "White"
leave = "06:00"
"#;

/// Mild, dry days over six years up to a date.
pub(crate) fn mild_weather(last: Date) -> String {
    let mut text = "date,low_c,high_c,rain_mm,wind_km_per_h,sun_mj_per_m2\n".to_owned();
    let mut day = date("2021-01-01");
    while day <= last {
        let season = (f64::from(day.day_of_year() - 200) / 365.0 * std::f64::consts::TAU).cos();
        text.push_str(&format!(
            "{day},{:.1},{:.1},0,6,{:.1}\n",
            4.0 + 11.0 * season,
            14.0 + 13.0 * season,
            14.0 + 10.0 * season
        ));
        day = after(day, 1);
    }
    text
}

/// An outfit of two pairs whose first yards are put down from 3 July on, six a day.
pub(crate) fn two_pairs(yards: u32, days_done: i64) -> (Outfit, Date) {
    let outfit = Outfit::of(&[("outfit.toml", TWO_PAIRS)]);
    let mut text = "yard,latitude,longitude,doubles,splits,forage\n".to_owned();
    for yard in 1..=yards {
        let (row, place) = ((yard - 1) / 8, (yard - 1) % 8);
        text.push_str(&format!(
            "{yard},{:.2},{:.2},23,7,white-clover:0.5\n",
            45.15 + 0.03 * f64::from(row),
            -94.0 + 0.03 * f64::from(place)
        ));
    }
    outfit.put("yards.csv", text);
    outfit.json("yards import yards.csv --on 2026-06-20");
    let first = date("2026-07-03");
    let stands_at = after(first, days_done);
    outfit.put("weather.csv", mild_weather(after(stands_at, -1)));
    let station = "weather import weather.csv --station home --latitude 45.1 --longitude -93.9";
    outfit.json(&format!("{station} --on {stands_at}"));
    outfit.json("gear count shed deep=3000 excluder=2000 --on 2026-07-01");
    let mut tallies = "date,yard,job,double,split,boxes_on,excluders_on\n".to_owned();
    for yard in 1..=6 * days_done {
        let day = after(first, (yard - 1) / 6);
        tallies.push_str(&format!("{day},{yard},single-down-blow,23,,23,23\n{day},{yard},brood-lift,,7,7,7\n"));
    }
    outfit.put("tallies.csv", tallies);
    let told = outfit.json(&format!("tally --file tallies.csv --on {stands_at}"));
    assert_eq!(told["new"], 6 * days_done);
    (outfit, stands_at)
}

/// Yards put down by day, from a list of runs; no run may have more than three stops.
fn put_down_by_day(runs: &Value) -> BTreeMap<Date, BTreeSet<String>> {
    let mut by_day: BTreeMap<Date, BTreeSet<String>> = BTreeMap::new();
    for run in runs.as_array().unwrap() {
        let stops = run["stops"].as_array().unwrap();
        assert!(stops.len() <= 3, "{run:#}");
        for stop in stops {
            let jobs = stop["jobs"].as_array().unwrap();
            if jobs.iter().any(|job| job["job"] == "single-down-blow") {
                let day = date(run["date"].as_str().unwrap());
                by_day.entry(day).or_default().insert(stop["yard"].as_str().unwrap().to_owned());
            }
        }
    }
    by_day
}

#[test]
fn scene_6_runs_are_planned_anew_round_the_rain() {
    for (yards, days_done, days_of_rain) in [(40_u32, 3, 3), (31, 2, 2), (27, 1, 1)] {
        let (outfit, today) = two_pairs(yards, days_done);
        let last_wet = after(today, days_of_rain - 1);
        let words = format!("replan --rain {today}..{last_wet} --on {today} --care quick --days 9");
        let answer = outfit.json(&words);
        let left: BTreeSet<String> = (6 * days_done + 1..=i64::from(yards)).map(|yard| yard.to_string()).collect();

        // As it was to be: six a day from today on. As it is: six a day from the first dry day on.
        for (runs, first) in [(&answer["runs_before"], today), (&answer["runs"], after(last_wet, 1))] {
            let by_day = put_down_by_day(runs);
            let counts: Vec<(Date, usize)> = by_day.iter().map(|(day, yards)| (*day, yards.len())).collect();
            let mut wanted = Vec::new();
            let mut remaining = left.len();
            for ahead in 0.. {
                if remaining == 0 {
                    break;
                }
                wanted.push((after(first, ahead), remaining.min(6)));
                remaining -= remaining.min(6);
            }
            assert_eq!(counts, wanted);
            let done: BTreeSet<String> = by_day.into_values().flatten().collect();
            assert_eq!(done, left, "each yard once");
        }
        for run in answer["runs"].as_array().unwrap() {
            let day = date(run["date"].as_str().unwrap());
            assert!(day > last_wet, "a run in the rain: {run:#}");
        }
        let forced = answer["slid"].as_array().unwrap().iter().filter(|slide| slide["forced"] == true).count();
        assert!(forced >= left.len().min(6 * days_of_rain as usize), "{forced} visits had to slide");

        // The clocks of the yards put down on 3 July stand where they stood.
        let page = outfit.page(&words);
        assert!(page.contains("Brood clocks do not move with the rain"), "{page}");
        assert!(page.contains("1 3 Jul 10 Jul to 12 Jul 24 Jul"), "{page}");
        let yard = outfit.json(&format!("yard 1 --on {today}"));
        holds_clocks(&find(&yard["running"], "put_down_on", "2026-07-03")["clocks"], date("2026-07-03"));
    }
}
