//! Reads a bench instance (whole minutes and cents, identical crews, two kinds of gear, no gates).

use std::error::Error;
use std::path::Path;

use outyard_base::{Cents, ClockTime, CrewId, GearCode, Grams, Minutes, TruckId, YardId};
use outyard_runs::{Crew, Day, Gear, Roads, RunParts, RunProblem, Truck, Visit};
use serde_json::Value;

/// Reads one instance.
pub(crate) fn read(path: &Path) -> Result<RunProblem, Box<dyn Error>> {
    let instance: Value = serde_json::from_str(&std::fs::read_to_string(path)?)?;
    problem(&instance).ok_or_else(|| format!("{} is no bench instance", path.display()).into())
}

fn number(value: &Value, key: &str) -> Option<i64> {
    value.get(key)?.as_i64()
}

fn numbers(value: &Value) -> Option<Vec<i64>> {
    value.as_array()?.iter().map(Value::as_i64).collect()
}

pub(crate) fn problem(instance: &Value) -> Option<RunProblem> {
    let days: Vec<Day> = numbers(instance.get("workable")?)?
        .into_iter()
        .map(|open| if open == 1 { Day::WHOLE } else { Day::SHUT })
        .collect();
    let rows: Vec<Vec<i64>> = instance.get("tt")?.as_array()?.iter().map(numbers).collect::<Option<_>>()?;
    let minutes: Vec<i64> = rows.concat();
    let roads = Roads { nodes: rows.len(), metres: minutes.iter().map(|km| km * 1000).collect(), minutes };
    let stock = instance.get("stock")?;
    let gear = ["supers", "excluders"]
        .into_iter()
        .map(|code| {
            Some(Gear {
                code: GearCode::new(code).ok()?,
                out_volume: i64::from(code == "supers"),
                out_grams: Grams(0),
                home_volume: 0,
                home_grams: Grams(0),
                stock: numbers(stock.get(code)?)?,
            })
        })
        .collect::<Option<_>>()?;
    let crews = usize::try_from(number(instance, "K")?).ok()?;
    let truck = |index: usize| {
        let id = TruckId::new(&format!("truck {index}")).ok()?;
        Some(Truck { id, volume: number(instance, "truck_supers")?, payload: Grams(0) })
    };
    let crew = |index: usize| {
        Some(Crew {
            id: CrewId::new(&format!("crew {index}")).ok()?,
            hands: 2,
            pace_permille: 1000,
            base: 0,
            earliest_leave: ClockTime::at(6, 0),
            shift: Minutes(number(instance, "shift")?),
            shift_max: Minutes(number(instance, "max_shift")?),
            wage_per_minute: Cents(number(instance, "wage_per_min")?),
            overtime_extra_per_minute: Cents(number(instance, "overtime_extra_per_min")?),
            days_off: Vec::new(),
            lunch: None,
            trucks: vec![index],
        })
    };
    let visit = |(index, yard): (usize, &Value)| {
        let mut visit = Visit::plain(
            YardId::new(&index.to_string()).ok()?,
            "bench",
            index + 1,
            Minutes(number(yard, "service")?),
            Cents(number(yard, "skip")?),
            days.len(),
        );
        visit.earliest_day = usize::try_from(number(yard, "earliest")?).ok()?;
        visit.waiting = numbers(yard.get("late")?)?.into_iter().take(days.len()).map(Cents).collect();
        visit.needs = vec![(0, number(yard, "supers")?), (1, number(yard, "excluders")?)];
        Some(visit)
    };
    let visits = instance.get("yards")?.as_array()?.iter().enumerate().map(visit).collect::<Option<_>>()?;
    RunProblem::new(RunParts {
        roads,
        gear,
        trucks: (0..crews).map(truck).collect::<Option<_>>()?,
        crews: (0..crews).map(crew).collect::<Option<_>>()?,
        visits,
        max_stops: usize::try_from(number(instance, "max_stops")?).ok()?,
        cents_per_km: Cents(number(instance, "cents_per_km")?),
        together: Vec::new(),
        apart: Vec::new(),
        days,
    })
    .ok()
}
