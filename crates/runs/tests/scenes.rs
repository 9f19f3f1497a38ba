//! Scenes worked by hand: S2 (will the day fit), S4 (smallest yard first) and S7 (supers short), and what a run planner must say.

#![expect(clippy::unwrap_used, reason = "a test stops at the first surprise")]

use outyard_base::{Cents, ClockTime, CrewId, GearCode, Grams, Minutes, TruckId, YardId};
use outyard_runs::{
    Crew, Day, Effort, Extra, Gate, Gear, Hindrance, Lunch, Roads, Run, RunParts, RunProblem, Truck, Visit, check_plan,
    cost, load, price, reasons, schedule, solve,
};

fn at(text: &str) -> ClockTime {
    text.parse().unwrap()
}

fn crew(index: usize) -> Crew {
    Crew {
        id: CrewId::new(&format!("pair {}", index + 1)).unwrap(),
        hands: 2,
        pace_permille: 1000,
        base: 0,
        earliest_leave: at("06:00"),
        shift: Minutes(600),
        shift_max: Minutes(660),
        // Two hands at 24.00 an hour each (the reference outfit).
        wage_per_minute: Cents(80),
        overtime_extra_per_minute: Cents(40),
        days_off: Vec::new(),
        lunch: Some(Lunch { length: Minutes(30), begin_within: Minutes(360) }),
        trucks: vec![index],
    }
}

/// A deck that carries 120 empty deeps or 2,300 kg [common practice, no source].
fn truck(index: usize) -> Truck {
    let id = TruckId::new(&format!("truck {}", index + 1)).unwrap();
    Truck { id, volume: 120, payload: Grams(2_300_000) }
}

/// Deep boxes: 37 kg full [common practice, no source], 9 kg empty (assumed).
fn deeps(stock: Vec<i64>) -> Gear {
    Gear {
        code: GearCode::new("deep").unwrap(),
        out_volume: 1,
        out_grams: Grams(9_000),
        home_volume: 1,
        home_grams: Grams(37_000),
        stock,
    }
}

/// Roads on which only the given ones are short; all others take two hours.
fn roads(nodes: usize, short: &[(usize, usize, i64)]) -> Roads {
    let mut minutes = vec![120; nodes * nodes];
    for node in 0..nodes {
        minutes[node * nodes + node] = 0;
    }
    for &(left, right, time) in short {
        minutes[left * nodes + right] = time;
        minutes[right * nodes + left] = time;
    }
    Roads { nodes, metres: minutes.iter().map(|time| time * 1000).collect(), minutes }
}

fn visit(yard: &str, node: usize, minutes: i64, days: usize) -> Visit {
    Visit::plain(YardId::new(yard).unwrap(), "put down", node, Minutes(minutes), Cents(1_000_000), days)
}

fn parts(days: usize, roads: Roads, visits: Vec<Visit>) -> RunParts {
    RunParts {
        days: vec![Day::WHOLE; days],
        roads,
        gear: Vec::new(),
        trucks: vec![truck(0)],
        crews: vec![crew(0)],
        visits,
        max_stops: 6,
        cents_per_km: Cents(100),
        together: Vec::new(),
        apart: Vec::new(),
    }
}

/// The day of scene S2: three yards of given minutes, four drives, a gate for blowing, a lunch rule.
fn day(minutes: [i64; 3], drives: [i64; 4], opens: &str, closes: &str, lunch: Option<Lunch>) -> RunProblem {
    let short = [(0, 1, drives[0]), (1, 2, drives[1]), (2, 3, drives[2]), (3, 0, drives[3])];
    let mut visits: Vec<Visit> =
        ["7", "12", "19"].iter().zip(1..).zip(minutes).map(|((yard, node), time)| visit(yard, node, time, 1)).collect();
    for (visit, thirds) in visits.iter_mut().zip([32, 30, 34]) {
        visit.gates = vec![Gate::Open { from: at(opens), to: at(closes) }];
        visit.needs = vec![(0, thirds)];
    }
    let mut parts = parts(1, roads(4, &short), visits);
    parts.gear.push(deeps(vec![200]));
    parts.crews[0].lunch = lunch;
    RunProblem::new(parts).unwrap()
}

const SIX_HOURS: Option<Lunch> = Some(Lunch { length: Minutes(30), begin_within: Minutes(360) });

/// Times as `leave | start-end | ... | lunch from | home`.
fn told(problem: &RunProblem, stops: &[usize]) -> Option<String> {
    let run = Run { day: 0, crew: 0, truck: 0, stops: stops.to_vec() };
    let times = schedule(problem, &run)?;
    let mut words = vec![times.leave.to_string()];
    words.extend(times.stops.iter().map(|stop| format!("{}-{}", stop.start, stop.end)));
    words.push(times.lunch.map_or("no lunch".to_owned(), |lunch| format!("lunch {}", lunch.from)));
    words.push(times.home.to_string());
    words.push(format!("{} left", times.gate_left().map_or(-1, |left| left.0)));
    Some(words.join(" | "))
}

// Scene S2, sums reworked by hand: 26x4+6x5+25 = 159, 155 and 161 minutes; drives 25, 15, 20, 40; lunch 30.
#[test]
fn scene_2_the_day_fits_with_an_hour_of_window_left() {
    let problem = day([159, 155, 161], [25, 15, 20, 40], "09:00", "19:00", SIX_HOURS);
    assert_eq!(
        told(&problem, &[0, 1, 2]).unwrap(),
        "08:35 | 09:00-11:39 | 11:54-14:29 | 15:19-18:00 | lunch 14:29 | 18:40 | 60 left"
    );
    let plan = solve(&problem, &Effort { tries: 200 }, 1, None, &|| false);
    assert_eq!(check_plan(&problem, &plan), []);
    // Round the same way or the other, one run does it all: 96 thirds on a deck of 120.
    assert_eq!(plan.runs.len(), 1);
    assert_eq!(load(&problem, &plan.runs[0]).out, [96]);
    assert_eq!(load(&problem, &plan.runs[0]).volume_most, 96);
    // 08:35 to 18:40 is 605 minutes: 605 x 80 + 5 x 40 cents, and 100 km at 100 cents.
    assert_eq!(cost(&problem, &plan).unwrap().total(), Cents(605 * 80 + 5 * 40 + 10_000));
}

#[test]
fn scene_2_with_other_figures_gives_other_times() {
    let later = day([159, 155, 161], [25, 15, 20, 40], "09:40", "19:00", SIX_HOURS);
    assert_eq!(
        told(&later, &[0, 1, 2]).unwrap(),
        "09:15 | 09:40-12:19 | 12:34-15:09 | 15:59-18:40 | lunch 15:09 | 19:20 | 20 left"
    );
    // The last yard would end at 19:10, ten minutes after its gate.
    let too_late = day([159, 155, 161], [25, 15, 20, 40], "10:10", "19:00", SIX_HOURS);
    assert_eq!(told(&too_late, &[0, 1, 2]), None);
    // Lunch within five hours of leaving: before the second yard's end, so after the first.
    let early = Some(Lunch { length: Minutes(30), begin_within: Minutes(300) });
    let early = day([159, 155, 161], [25, 15, 20, 40], "09:00", "19:00", early);
    assert_eq!(
        told(&early, &[0, 1, 2]).unwrap(),
        "08:35 | 09:00-11:39 | 12:24-14:59 | 15:19-18:00 | lunch 11:39 | 18:40 | 60 left"
    );
    // No rule, no lunch; a gate open before the crew may leave does not pull it out of bed.
    let none = day([159, 155, 161], [25, 15, 20, 40], "05:00", "19:00", None);
    assert_eq!(
        told(&none, &[0, 1, 2]).unwrap(),
        "06:00 | 06:25-09:04 | 09:19-11:54 | 12:14-14:55 | no lunch | 15:35 | 245 left"
    );
    // Home within six hours: no lunch is owed.
    let short = day([60, 60, 60], [25, 15, 20, 40], "09:00", "19:00", SIX_HOURS);
    assert_eq!(
        told(&short, &[0, 1, 2]).unwrap(),
        "08:35 | 09:00-10:00 | 10:15-11:15 | 11:35-12:35 | no lunch | 13:15 | 385 left"
    );
}

#[test]
fn a_crew_leaves_later_rather_than_wait_at_a_later_gate() {
    let mut parts = day([60, 60, 60], [25, 15, 20, 40], "06:00", "20:00", None).into_parts();
    parts.visits[1].gates = vec![Gate::Open { from: at("12:00"), to: at("20:00") }];
    let problem = RunProblem::new(parts).unwrap();
    assert_eq!(
        told(&problem, &[0, 1, 2]).unwrap(),
        "10:20 | 10:45-11:45 | 12:00-13:00 | 13:20-14:20 | no lunch | 15:00 | 340 left"
    );
}

// 2,300 kg over 37 kg a full deep: 62 boxes come home, 63 do not [common practice, no source].
#[test]
fn empties_run_out_of_room_and_full_boxes_out_of_payload() {
    for (brings, needs, fits) in [(62, 0, true), (63, 0, false), (0, 120, true), (0, 121, false), (40, 80, true)] {
        let mut due = visit("7", 1, 60, 1);
        due.brings = vec![(0, brings)];
        due.needs = vec![(0, needs)];
        let mut parts = parts(1, roads(2, &[(0, 1, 30)]), vec![due]);
        parts.gear.push(deeps(vec![500]));
        let problem = RunProblem::new(parts).unwrap();
        let plan = solve(&problem, &Effort { tries: 20 }, 1, None, &|| false);
        assert_eq!(!plan.runs.is_empty(), fits, "{brings} home, {needs} out");
    }
}

// Scene S4: 34 colonies at 3.5 kg/d with 0.4 box free, 28 at 1.2 with 1.0, 20 at 4.5 with 0.05; 24 kg a box, 0.6 lost once full, 5.00 a kg;
// one yard each morning t = 0, 1, 2.
#[test]
fn scene_4_the_smallest_yard_goes_first_and_the_reason_is_money() {
    let yards = [("N", 34.0, 3.5, 0.4), ("S", 28.0, 1.2, 1.0), ("W", 20.0, 4.5, 0.05)];
    let visits = yards
        .iter()
        .zip(1..)
        .map(|(&(name, colonies, gain, free), node)| {
            let full = free * 24.0 / gain;
            let mut due = visit(name, node, 300, 3);
            due.waiting = (0..3_i32)
                .map(|day| Cents::round_of((f64::from(day) - full).max(0.0) * colonies * gain * 0.6 * 5.0))
                .collect();
            due
        })
        .collect();
    let mut parts = parts(3, roads(4, &[(0, 1, 30), (0, 2, 30), (0, 3, 30)]), visits);
    parts.max_stops = 1;
    let problem = RunProblem::new(parts).unwrap();
    let plan = solve(&problem, &Effort { tries: 200 }, 1, None, &|| false);
    assert_eq!(cost(&problem, &plan).unwrap().waiting, Cents(0));
    let days = plan.assignments(3);
    assert_eq!(days[2].unwrap().0, 0, "W stands on the first morning");
    // 0.733 x 54 kg = 39.6 kg = 198 if W waits a day.
    assert_eq!(problem.parts().visits[2].waiting[1], Cents(19_800));
    let why = reasons(&problem, &plan, 2);
    assert_eq!(why.stands, Some((0, 0)));
    assert_eq!(why.loss, Cents(0));
    // The other mornings are full: the crew has the one stop it may have.
    assert!(why.alternatives.iter().all(|other| other.outcome == Err(Hindrance::RunFull)), "{why:?}");
}

// Scene S7: 540 empties on 17 July, 96 a day needed, wet supers 80 a day from 23 July: short 36 on 22 July, 132 on 28 July.
#[test]
fn scene_7_boxes_run_short_and_one_more_load_has_its_price() {
    let days = 12;
    let supply = |first: usize| -> Vec<i64> {
        (0..days).map(|day| 540 + 80 * i64::try_from((day + 1_usize).saturating_sub(first)).unwrap()).collect()
    };
    let build = |stock: Vec<i64>| {
        let visits = (0..days)
            .map(|day| {
                let mut due = visit(&format!("{}", day + 1), 1, 300, days);
                due.needs = vec![(0, 96)];
                due.earliest_day = day;
                due.waiting = (0..days).map(|on| Cents(if on > day { 50_000 } else { 0 })).collect();
                due.skip = Cents(100_000);
                due
            })
            .collect();
        let mut parts = parts(days, roads(2, &[(0, 1, 30)]), visits);
        parts.gear.push(deeps(stock));
        RunProblem::new(parts).unwrap()
    };
    let done = |problem: &RunProblem| {
        let plan = solve(problem, &Effort { tries: 2_000 }, 1, None, &|| false);
        assert_eq!(check_plan(problem, &plan), []);
        plan.runs.iter().map(|run| run.stops.len()).sum::<usize>()
    };
    // 540 + 6 x 80 = 1,020 boxes by the last day against 12 x 96 = 1,152: two loads cannot go out, as 132 are missing.
    assert_eq!(supply(6)[11], 1152 - 132);
    assert_eq!(done(&build(supply(6))), 10);
    // Extracting three days earlier: never short.
    assert_eq!(supply(3)[11], 1152 + 108);
    assert_eq!(done(&build(supply(3))), 12);
    // So 132 boxes more by 22 July are worth two yards, and once nothing is short another box is worth nothing.
    let short = build(supply(6));
    let plan = solve(&short, &Effort { tries: 2_000 }, 1, None, &|| false);
    let effort = Effort { tries: 1_000 };
    let boxes = Extra::Gear { gear: 0, day: 5, count: 132 };
    let worth = price(&short, &plan, boxes, &effort, &[1, 2, 3], &|| false).unwrap();
    // A yard done saves its 1,000.00; it costs 360 minutes at 0.80 and 60 km at 1.00, so 652.00 each.
    let yard = 100_000 - (360 * 80 + 6_000);
    assert_eq!(worth.worth.likely, Cents(2 * yard));
    assert_eq!(worth.verdict, outyard_runs::prices::Verdict::Saves);
    let enough = build(supply(3));
    let plan = solve(&enough, &Effort { tries: 2_000 }, 1, None, &|| false);
    let worth = price(&enough, &plan, boxes, &effort, &[1, 2, 3], &|| false).unwrap();
    assert_eq!((worth.worth.high, worth.verdict), (Cents(0), outyard_runs::prices::Verdict::NotWorthIt));
}
