//! A whole morning of invented outfits: from the book to runs the checker lets through.

use std::collections::BTreeMap;

use jiff::civil::date;
use outyard_app::demo::invent;
use outyard_app::demo_book::write_down;
use outyard_app::intake::drives::Drives;
use outyard_app::settings::read_settings;
use outyard_app::situation::{Situation, SituationParts};
use outyard_app::standing::{GapView, why, worth};
use outyard_app::views;
use outyard_app::work_out::{WorkOrder, floor_of, work_out};
use outyard_book::ContentHash;
use outyard_runs::{Effort, check_plan, cost, own_bill};
use outyard_season::PlantTable;
use outyard_trade::jobbook::JobBook;

fn situation(seed: u64) -> Situation {
    let today = date(2026, 7, 3);
    let book = write_down(&invent(seed, today));
    let files: BTreeMap<ContentHash, String> =
        book.files.iter().map(|text| (ContentHash::of(text.as_bytes()), text.clone())).collect();
    Situation::new(SituationParts {
        settings: read_settings("outfit.toml", &book.settings).expect("the demo writes good settings"),
        jobs: JobBook::standard(),
        plants: PlantTable::built_in(),
        drives: Drives::default(),
        entries: book.entries,
        files,
        today,
    })
    .expect("the demo's files can be read")
}

fn order(tries: u64) -> WorkOrder {
    WorkOrder { days: 7, effort: Effort { tries }, shut: Vec::new(), crews_out: Vec::new() }
}

#[test]
fn the_morning_of_any_invented_outfit_is_sound_and_beats_the_rule_of_thumb() {
    for seed in [1, 7, 23] {
        let situation = situation(seed);
        let worked = work_out(&situation, &order(1_500), &|| false).unwrap();
        assert!(worked.due.len() > 20, "seed {seed}: {} visits are due", worked.due.len());
        assert_eq!(check_plan(&worked.planned.problem, &worked.planned.plan), []);
        let bill = cost(&worked.planned.problem, &worked.planned.plan);
        assert_eq!(bill, own_bill(&worked.planned.problem, &worked.planned.plan));
        assert_eq!(bill, Some(worked.bill));
        let (own, thumb) = (worked.bill.total().get(), worked.rule_of_thumb.total().get());
        assert!(own * 100 <= thumb * 97, "seed {seed}: {own} against {thumb}, stated margin 3 %");
        // Every yard with a place has an outlook with as many members as the settings ask for.
        assert_eq!(worked.seasons.len(), 40);
        assert!(worked.seasons.values().all(|ahead| ahead.season.gain.len() == situation.settings.outlook.members));
    }
}

#[test]
fn one_seed_gives_one_morning() {
    let page = |tries| {
        let situation = situation(7);
        let worked = work_out(&situation, &order(tries), &|| false).unwrap();
        serde_json::to_string(&views::morning(&situation, &worked)).unwrap()
    };
    assert_eq!(page(300), page(300));
}

#[test]
fn waiting_never_pays_and_loads_fit_their_trucks() {
    let situation = situation(7);
    let worked = work_out(&situation, &order(600), &|| false).unwrap();
    for visit in &worked.due {
        assert!(visit.waiting.windows(2).all(|days| days[0] <= days[1]), "{}: {:?}", visit.key, visit.waiting);
    }
    let view = views::morning(&situation, &worked);
    for run in view.today.iter().chain(&view.later) {
        assert!(run.deck_places <= f64::from(run.deck_places_max) && run.weight_kg <= run.payload_kg);
        let boxes: f64 =
            run.load.iter().filter(|line| line.said.contains("thirds")).map(|line| f64::from(line.load)).sum();
        assert!(boxes <= f64::from(run.deck_places_max), "{boxes} thirds on {}", run.truck);
    }
    // The same visit has the same name whoever asks and whenever in the week.
    let again = work_out(&situation, &order(300), &|| false).unwrap();
    let keys =
        |worked: &outyard_app::work_out::Worked| worked.due.iter().map(|visit| visit.key.clone()).collect::<Vec<_>>();
    assert_eq!(keys(&worked), keys(&again));
}

#[test]
fn a_day_of_rain_is_shut_and_a_crew_at_home_makes_no_run() {
    let situation = situation(7);
    let rain = date(2026, 7, 4);
    let order = WorkOrder { shut: vec![rain], crews_out: vec![("A".to_owned(), date(2026, 7, 5))], ..order(600) };
    let worked = work_out(&situation, &order, &|| false).unwrap();
    let view = views::morning(&situation, &worked);
    assert!(view.later.iter().all(|run| run.date != rain.to_string()));
    assert!(view.later.iter().all(|run| run.date != "2026-07-05" || run.crew != "A"));
    assert!(!view.later.is_empty());
}

#[test]
fn a_plan_says_how_good_it_is_how_it_fares_and_why_it_is_so() {
    let situation = situation(7);
    let order = WorkOrder { days: 3, ..order(400) };
    let worked = work_out(&situation, &order, &|| false).unwrap();
    let gap = GapView::of(&worked, floor_of(&worked, 30_000_000));
    assert!(0 < gap.floor_cents && gap.floor_cents <= gap.plan_cents, "{gap:?}");
    assert_eq!(gap.could_save_cents, gap.plan_cents - gap.floor_cents);
    let ahead = worked.ahead.as_ref().unwrap();
    assert_eq!((ahead.fared.bills.len(), ahead.members), (12, 12));
    assert!(ahead.saved.get() >= 0, "the plan on paper is among those compared: {ahead:?}");
    let dearest = ahead.fared.bills.iter().max().unwrap();
    assert!(ahead.fared.bad_case <= *dearest && ahead.fared.mean <= *dearest, "{ahead:?}");
    for visit in 0..worked.due.len().min(8) {
        let why = why(&situation, &worked, visit);
        assert_eq!(why.other_days.len(), if why.date.is_some() { 2 } else { 3 }, "{why:?}");
        for other in why.other_days.iter().chain(&why.other_crews) {
            assert_ne!(other.adds_cents.is_some(), other.forbids.is_some(), "{other:?}");
        }
        let least = why.other_days.iter().filter_map(|other| other.adds_cents).min();
        assert_eq!(why.next_best_day.and_then(|other| other.adds_cents), least);
    }
    let priced = worth(&situation, &worked, 1, &Effort { tries: 20 }, &|| false).unwrap();
    assert!(priced.len() > situation.settings.trucks.len(), "{priced:?}");
    for one in &priced {
        let (low, likely, high) = one.saves_cents;
        assert!(0 <= low && low <= likely && likely <= high, "one more never costs money: {one:?}");
        assert_eq!(one.verdict == "not worth it", high == 0, "{one:?}");
    }
}
