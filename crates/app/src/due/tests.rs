//! Due visits against sums worked by hand, with the starting rates of the job book: 5.00 a kilogram, 0.6 of the gain lost
//! once full, 0.6 kg a day for a double and 0.3 for a split not put down in the flow, 20 kg for a late queen.

use jiff::civil::{Date, date};
use outyard_base::days::plus_days;
use outyard_base::{Cents, DateRange, JobCode, Minutes, Share};
use outyard_trade::jobbook::JobBook;
use outyard_trade::{Kind, KindCounts};

use super::{ChoreInput, ClockSort, Done, DueVisit, PutDown, YardSeason, YardToday, due_visits, follow_ups, stacks};

const TODAY: Date = date(2026, 7, 3);
const DAYS: usize = 20;

fn code(text: &str) -> JobCode {
    text.parse().unwrap()
}

/// A season in which every day gains the same in every member, seen days too.
fn steady(gain: f64, begins: Option<Date>) -> YardSeason {
    YardSeason {
        first: TODAY,
        gain: vec![vec![gain; DAYS + 15]; 3],
        seen: vec![gain; 60],
        begins: DateRange { early: begins, likely: begins, late: begins },
        ends: DateRange::default(),
        flow_threshold_kg_per_day: 1.0,
        based_on: Vec::new(),
    }
}

fn yard(counts: &[(Kind, u32)]) -> YardToday {
    YardToday {
        yard: "7".parse().unwrap(),
        standing: KindCounts::of(counts),
        put_downs: Vec::new(),
        done: Vec::new(),
        boxes_on_hives: std::collections::BTreeMap::new(),
        fullness: None,
        counted_on: None,
    }
}

/// A yard whose 26 doubles were put down on a day.
fn put_down_on(day0: Date) -> YardToday {
    YardToday {
        put_downs: vec![PutDown { day0, colonies: KindCounts::of(&[(Kind::Double, 26)]) }],
        done: vec![Done { on: day0, job: code("single-down-blow"), colonies: KindCounts::of(&[(Kind::Double, 26)]) }],
        ..yard(&[(Kind::Single, 26)])
    }
}

fn due_with(yard: &YardToday, season: &YardSeason, boxes_kg: f64, with_follow_ups: bool) -> Vec<DueVisit> {
    let jobs = JobBook::standard();
    let stacks = stacks(yard, season, TODAY, jobs.worth.full_deep_kg.get(), boxes_kg);
    let put_down_by = code("single-down-blow");
    let input =
        ChoreInput { jobs: &jobs, yard, season, stacks: &stacks, today: TODAY, days: DAYS, put_down_by: &put_down_by };
    let due = due_visits(&input);
    if with_follow_ups { follow_ups(&input, &due, 0) } else { due }
}

fn due(yard: &YardToday, season: &YardSeason) -> Vec<DueVisit> {
    due_with(yard, season, 0.0, false)
}

fn visit_with<'a>(due: &'a [DueVisit], job: &str) -> &'a DueVisit {
    due.iter().find(|visit| visit.chores.iter().any(|chore| chore.job == code(job))).unwrap()
}

// Scene S1's yard: 26 x 0.6 x 5 + 6 x 0.3 x 5 = 87 a day; 159 minutes; 32 excluders and 32 thirds.
#[test]
fn doubles_and_splits_are_put_down_on_one_trip_and_each_day_has_its_price() {
    for (doubles, splits, a_day, minutes) in [(26, 6, 8_700, 159), (40, 0, 12_000, 185), (0, 10, 1_500, 75)] {
        let yard = yard(&[(Kind::Double, doubles), (Kind::Split, splits)]);
        let due = due(&yard, &steady(3.0, Some(TODAY)));
        assert_eq!(due.len(), 1, "{due:?}");
        assert_eq!(due[0].window.from, TODAY);
        for day in 0..DAYS {
            assert_eq!(due[0].waiting[day], Cents(a_day * i64::try_from(day).unwrap()));
        }
        assert_eq!(due[0].after_plan, Cents(a_day * 20));
        assert_eq!(due[0].pair_minutes, Minutes(minutes));
        assert_eq!(due[0].gear_out.in_yards[&"excluder".parse().unwrap()], doubles + splits);
    }
}

#[test]
fn nothing_is_put_down_before_the_flow_or_after_it() {
    let yard = yard(&[(Kind::Double, 26)]);
    assert!(due(&yard, &steady(0.1, None)).is_empty());
    let later = due(&yard, &steady(3.0, Some(date(2026, 7, 10))));
    assert_eq!(later[0].window.from, date(2026, 7, 10));
    let mut over = steady(3.0, Some(date(2026, 6, 10)));
    over.ends = DateRange::exact(date(2026, 7, 1));
    assert!(due(&yard, &over).is_empty());
}

// Days 7 to 9 of the clock table; afterwards 26 colonies x 10 % with cells x 100 for a late queen over 7 days.
#[test]
fn the_look_for_cells_stands_fixed_and_costs_only_when_it_is_missed() {
    let day0 = date(2026, 7, 1);
    for gain in [0.2, 3.0] {
        let due = due(&put_down_on(day0), &steady(gain, Some(day0)));
        let look = visit_with(&due, "unwanted-cells-check");
        assert_eq!(look.chores[0].clock, ClockSort::Brood);
        assert_eq!((look.chores[0].window.from, look.chores[0].window.to), (date(2026, 7, 8), Some(date(2026, 7, 10))));
    }
    let due = due(&put_down_on(day0), &steady(0.2, Some(day0)));
    let look = visit_with(&due, "unwanted-cells-check");
    let curve = look.chores[0].waiting.expected();
    let a_day = 26.0 * 0.10 * 100.0 / 7.0;
    assert_eq!(curve[7], Cents(0));
    assert_eq!(curve[8], Cents::round_of(a_day));
    assert_eq!(curve[14], Cents::round_of(7.0 * a_day));
    assert_eq!(curve[19], curve[14]);
}

// Scene S3 at 3 kg/d: full after 12.92 days; then 26 x 3 x 0.6 x 5 = 234 a day.
#[test]
fn a_full_yard_loses_its_gain_from_the_day_it_is_full() {
    let due = due(&put_down_on(TODAY), &steady(3.0, Some(TODAY)));
    let boxes = visit_with(&due, "add-boxes");
    let chore = boxes.chores.iter().find(|chore| chore.job == code("add-boxes")).unwrap();
    let curve = chore.waiting.expected();
    assert_eq!(curve[12], Cents(0));
    let full_after = 24.0 / (3.0 - 24.0 / 21.0);
    for day in [13, 14, 18] {
        let days_full = f64::from(day) - full_after;
        assert_eq!(curve[usize::try_from(day).unwrap()], Cents::round_of(234.0 * days_full), "day {day}");
    }
    assert_eq!(chore.clock, ClockSort::Fill);
    // 12 days at 3 kg bring 36 kg, and 24 kg stand empty: one box more for each colony.
    assert_eq!(boxes.gear_out.in_yards[&"box".parse().unwrap()], 26);
}

// Scene S6: three days of rain at -0.5 kg move the fill from day 12.9 to 18.6 after the put-down; the clocks stay.
#[test]
fn rain_moves_the_fill_clock_and_no_brood_clock() {
    let dry = due(&put_down_on(TODAY), &steady(3.0, Some(TODAY)));
    let mut rain = steady(3.0, Some(TODAY));
    for gains in &mut rain.gain {
        gains[3..6].fill(-0.5);
    }
    let wet = due(&put_down_on(TODAY), &rain);
    let of = |due: &[DueVisit], job: &str| {
        let visit = visit_with(due, job);
        visit.chores.iter().find(|chore| chore.job == code(job)).unwrap().window
    };
    for job in ["unwanted-cells-check", "open-brood-test"] {
        assert_eq!(of(&dry, job), of(&wet, job));
    }
    assert_eq!(of(&dry, "add-boxes").to, Some(plus_days(TODAY, 12)));
    assert_eq!(of(&wet, "add-boxes").to, Some(plus_days(TODAY, 18)));
}

#[test]
fn what_was_seen_in_the_boxes_counts_more_than_what_was_summed() {
    let day0 = plus_days(TODAY, -6);
    let season = steady(2.0, Some(day0));
    let held = |fullness| {
        let yard = YardToday { fullness, ..put_down_on(day0) };
        stacks(&yard, &season, TODAY, 24.0, 0.0)[0].now.held_kg
    };
    assert!((held(None) - 12.0).abs() < 1e-9);
    // Looked into yesterday: half of 24 + 24 x 5/21 kg, and one day's gain since.
    let yesterday = Some((plus_days(TODAY, -1), Share::of(0.5)));
    assert!((held(yesterday) - (0.5 * (24.0 + 24.0 * 5.0 / 21.0) + 2.0)).abs() < 1e-9);
    // Two deeps a colony on the hives hold twice as much.
    let two = stacks(&put_down_on(day0), &season, TODAY, 24.0, 26.0 * 48.0);
    assert!((two[0].room.super_kg - 48.0).abs() < 1e-9);
}

#[test]
fn a_straggler_waits_for_the_look_and_a_yardful_does_not() {
    let day0 = date(2026, 7, 1);
    let few = YardToday { standing: KindCounts::of(&[(Kind::Single, 26), (Kind::Double, 1)]), ..put_down_on(day0) };
    let season = steady(2.0, Some(day0));
    let together = due(&few, &season);
    let look = visit_with(&together, "unwanted-cells-check");
    assert!(look.chores.iter().any(|chore| chore.job == code("single-down-blow")), "{look:?}");
    let many = YardToday { standing: KindCounts::of(&[(Kind::Single, 26), (Kind::Double, 25)]), ..put_down_on(day0) };
    let apart = due(&many, &season);
    let put_down = visit_with(&apart, "single-down-blow");
    assert_eq!(put_down.chores.len(), 1);
    assert_eq!(put_down.window.from, TODAY);
}

#[test]
fn a_put_down_to_come_brings_its_look_and_its_return() {
    let yard = yard(&[(Kind::Double, 26), (Kind::Split, 6)]);
    let more = due_with(&yard, &steady(3.0, Some(TODAY)), 0.0, true);
    let spans: Vec<_> = more
        .iter()
        .map(|visit| (visit.chores[0].job.as_str(), visit.follows.map(|tie| (tie.after, tie.days_min, tie.days_max))))
        .collect();
    assert_eq!(spans, [("unwanted-cells-check", Some((0, 7, 9))), ("add-boxes", Some((0, 12, 16)))]);
    assert!(more.iter().all(|visit| visit.waiting.iter().all(|cents| *cents == Cents::ZERO)));
    assert_eq!(more[1].chores[0].colonies.total(), 32);
}

#[test]
fn a_split_is_looked_at_when_its_clock_says_so() {
    // Split with a mated queen on 27 June: look for eggs on days 7 to 10, best 8.
    let made = date(2026, 6, 27);
    let yard = YardToday {
        done: vec![Done { on: made, job: code("split-mated-queen"), colonies: KindCounts::of(&[(Kind::Split, 6)]) }],
        ..yard(&[(Kind::Split, 6)])
    };
    let due = due(&yard, &steady(0.1, None));
    let look = visit_with(&due, "split-check");
    assert_eq!(
        (look.window.from, look.window.best, look.window.to),
        (date(2026, 7, 4), date(2026, 7, 5), Some(date(2026, 7, 7)))
    );
    assert_eq!(look.waiting[4], Cents(0));
    // 6 splits x 15 % x 45 kg x 5.00 over 14 days.
    assert_eq!(look.waiting[5], Cents::round_of(6.0 * 0.15 * 225.0 / 14.0));
}
