use outyard_base::Share;
use outyard_book::fact::Where;
use outyard_book::{Fact, OddCounts, Tally, Treatment, YardKept, fold};
use outyard_trade::{Kind, KindCounts};

use super::support::*;

fn count(number: u32, on: i8, doubles: u32, splits: u32) -> outyard_book::Entry {
    let counts = KindCounts::of(&[(Kind::Double, doubles), (Kind::Split, splits)]);
    entry(number, "a", day(on), 400, Fact::ColoniesCounted { yard: yard(7), counts })
}

/// Scene S1: yard 7 with 26 doubles and 6 splits is put down on 3 July. Scene S6: that day is what its clocks hang on.
#[test]
fn a_put_down_makes_singles_of_doubles_and_keeps_its_day() {
    let mut tally = put_on(&yard(7), &truck(1), thirds(26));
    tally.jobs.push(outyard_book::JobDone {
        job: "brood-lift".parse().unwrap(),
        done: KindCounts::of(&[(Kind::Split, 6)]),
        undone: KindCounts::NONE,
    });
    tally.odd = OddCounts { dead: 1, weak: 2, ..OddCounts::default() };
    tally.fullness = Some(Share::of(0.5));
    let visit = entry(2, "a", day(3), 600, Fact::VisitClosed(tally));
    let outfit = fold(&[count(1, 1, 26, 6), visit.clone()]);
    let seven = &outfit.yards[&yard(7)];
    assert_eq!(seven.colonies, KindCounts::of(&[(Kind::Single, 26), (Kind::Split, 6)]));
    let (d0, before) = seven.last_put_down().unwrap();
    assert_eq!((d0, before), (day(3), KindCounts::of(&[(Kind::Double, 26), (Kind::Split, 6)])));
    assert_eq!((seven.counted_on, seven.last_visit()), (Some(day(1)), Some(day(3))));
    assert_eq!((seven.odd.dead, seven.odd.weak), (1, 2));
    assert_eq!(seven.fullness, Some((day(3), Share::of(0.5))));
    // A later count is taken as seen, and forgets the odd hives told of before it; the round stays.
    let outfit = fold(&[count(1, 1, 26, 6), visit, count(3, 5, 0, 5)]);
    let seven = &outfit.yards[&yard(7)];
    assert_eq!(seven.colonies, KindCounts::of(&[(Kind::Split, 5)]));
    assert_eq!(seven.odd, OddCounts::default());
    assert_eq!(seven.put_down.len(), 1);
}

#[test]
fn every_put_down_job_of_the_job_book_starts_a_round_and_no_other_does() {
    let book = outyard_trade::JobBook::standard();
    let turns = outyard_book::outfit::JobTurns::of(&book);
    let mut rounds = 0;
    for job in book.jobs.values() {
        let mut tally = Tally::new(yard(7));
        tally.jobs.push(outyard_book::JobDone {
            job: job.code.clone(),
            done: KindCounts::of(&[(Kind::Double, 4)]),
            undone: KindCounts::NONE,
        });
        let outfit = fold(&[count(1, 1, 9, 0), entry(2, "a", day(3), 600, Fact::VisitClosed(tally))]);
        let puts_down = job.starts.contains(&outyard_trade::ClockStart::ExcluderUnderBrood);
        assert_eq!(turns.is_put_down(&job.code), puts_down);
        let seven = &outfit.yards[&yard(7)];
        assert_eq!(seven.put_down.len(), usize::from(puts_down), "{}", job.code);
        assert_eq!(seven.colonies.get(Kind::Double), if puts_down { 5 } else { 9 });
        rounds += u32::from(puts_down);
    }
    assert!(rounds > 0, "the standard job book has no put-down job");
}

#[test]
fn a_yard_is_kept_given_up_and_kept_again() {
    let kept = |name: &str| {
        Fact::YardKept(YardKept { name: name.to_owned(), group: "North".to_owned(), ..YardKept::new(yard(7)) })
    };
    let given_up = entry(2, "a", day(4), 10, Fact::YardGivenUp { yard: yard(7) });
    let first = entry(1, "a", day(1), 10, kept("Slough"));
    let outfit = fold(&[first.clone(), given_up.clone(), count(4, 2, 26, 6)]);
    assert_eq!(outfit.yards[&yard(7)].given_up, Some(day(4)));
    assert_eq!(outfit.kept_yards().count(), 0);
    assert!(outfit.colonies().is_empty());
    let outfit = fold(&[first, given_up, count(4, 2, 26, 6), entry(3, "a", day(5), 10, kept("Slough corner"))]);
    assert_eq!(outfit.yards[&yard(7)].kept.name, "Slough corner");
    assert_eq!(outfit.colonies().total(), 32);
    assert_eq!(outfit.last_day, Some(day(5)));
}

#[test]
fn treatments_are_paired_with_the_day_they_came_out() {
    let product = |number, on, product: &str| {
        let Some(Fact::TreatmentIn(treatment)) =
            every_fact().into_iter().find(|fact| matches!(fact, Fact::TreatmentIn(_)))
        else {
            panic!("a treatment is among the facts");
        };
        entry(number, "a", day(on), 10, Fact::TreatmentIn(Treatment { product: product.to_owned(), ..treatment }))
    };
    let out = |number, on, product: &str| {
        let fact = Fact::TreatmentOut { yard: yard(7), product: product.to_owned(), colonies: None };
        entry(number, "a", day(on), 10, fact)
    };
    let outfit = fold(&[
        product(1, 1, "acid"),
        product(2, 2, "strips"),
        out(3, 20, "strips"),
        out(4, 25, "strips"),
        product(5, 28, "strips"),
    ]);
    let outs: Vec<_> = outfit.yards[&yard(7)].treatments.iter().map(|round| (round.in_on, round.out_on)).collect();
    assert_eq!(outs, [(day(1), None), (day(2), Some(day(20))), (day(28), None)]);
}

#[test]
fn every_fact_reaches_the_outfit() {
    let entries: Vec<_> = every_fact()
        .into_iter()
        .zip(1..)
        .filter(|(fact, _)| !matches!(fact, Fact::Correction { .. } | Fact::Settled { .. }))
        .map(|(fact, number)| entry(number, "a", day(3), i64::from(number), fact))
        .collect();
    let outfit = fold(&entries);
    let seven = &outfit.yards[&yard(7)];
    assert_eq!(seven.kept.group, "North");
    assert_eq!((seven.samples.len(), seven.fed.len(), seven.treatments.len(), seven.visits.len()), (1, 1, 1, 1));
    assert_eq!(seven.boxes_counted_on, Some(day(3)));
    assert_eq!(outfit.series[0].what.rows, 720);
    assert_eq!(outfit.blooms[0].what.at, Where::Group("North".to_owned()));
    assert!(outfit.flows[0].what.on);
    assert_eq!(outfit.notes[0].what.text, "spray next door");
    assert!(outfit.unread.is_empty());
}

#[test]
fn counts_beyond_all_sense_do_not_bring_the_fold_down() {
    let all = KindCounts::of(&[(Kind::Double, u32::MAX)]);
    let mut entries = Vec::new();
    for number in 0..40 {
        let mut tally = put_on(&yard(7), &truck(1), thirds(0));
        tally.boxes_on = thirds(u32::MAX);
        tally.jobs[0].done = all;
        tally.odd.dead = u32::MAX;
        entries.push(entry(number, "a", day(3), i64::from(number), Fact::VisitClosed(tally)));
    }
    let outfit = fold(&entries);
    assert_eq!(outfit.yards[&yard(7)].odd.dead, u32::MAX);
    assert_eq!(outfit.yards[&yard(7)].on_hives[&gear("third")], 40 * i64::from(u32::MAX));
    assert!(outfit.colonies().total() > 0);
}

fn extracted(number: u32, of_july: i8, lot: &str, boxes: &[(u32, u32)], kg: f64) -> outyard_book::Entry {
    let boxes = boxes
        .iter()
        .map(|(at, boxes)| outyard_book::BoxesFrom { yard: yard(at), boxes: *boxes, pulled_on: Some(day(of_july - 1)) })
        .collect();
    let honey = Some(outyard_base::Kilograms::of(kg));
    let what = outyard_book::Extraction { lot: lot.to_owned(), boxes, honey, moisture: None, note: String::new() };
    entry(number, "house", day(of_july), 600, Fact::HoneyExtracted(what))
}

fn drum(number: u32, name: &str, from: &[(&str, f64)]) -> outyard_book::Entry {
    let from = from.iter().map(|(lot, kg)| ((*lot).to_owned(), outyard_base::Kilograms::of(*kg))).collect();
    let what =
        outyard_book::Drum { drum: name.to_owned(), from, moisture: None, colour: String::new(), note: String::new() };
    entry(number, "house", day(30), 700, Fact::HoneyDrummed(what))
}

fn sold(number: u32, drums: &[&str], to: &str) -> outyard_book::Entry {
    let drums = drums.iter().map(|drum| (*drum).to_owned()).collect();
    let what = outyard_book::Sale { drums, to: to.to_owned(), price: None, note: String::new() };
    entry(number, "house", day(31), 800, Fact::HoneySold(what))
}

/// Scene S17: drums are led back to their yards, and a yard on to its drums and buyers.
#[test]
fn drums_are_traced_to_yards_and_yards_to_buyers_and_lots_balance_by_mass() {
    let entries = [
        extracted(1, 29, "L29", &[(7, 34), (12, 28)], 1488.0),
        extracted(2, 29, "L29", &[(31, 10)], 240.0),
        extracted(3, 30, "L30", &[(9, 20)], 480.0),
        drum(4, "412", &[("L29", 300.0)]),
        drum(5, "413", &[("L29", 250.0), ("L30", 45.0)]),
        drum(6, "414", &[("L30", 300.0)]),
        sold(7, &["412", "414"], "Example Packing"),
    ];
    let honey = fold(&entries).honey;
    assert_eq!(honey.faults(), []);
    let lots = honey.lots();
    assert_eq!((lots["L29"].left_kg(), lots["L30"].left_kg()), (Some(1728.0 - 550.0), Some(135.0)));
    // By mass nothing is made or lost: 2208 kg were extracted, 895 kg are in drums.
    let left: f64 = lots.values().filter_map(outyard_book::honey::Lot::left_kg).sum();
    assert!((left - (2208.0 - 895.0)).abs() < 1e-9);
    // Honey that nobody weighed cannot be held against its drums.
    let mut unweighed = extracted(8, 30, "L30", &[(9, 1)], 0.0);
    if let Fact::HoneyExtracted(it) = &mut unweighed.fact {
        it.honey = None;
    }
    let more = fold(&[&entries[..], &[unweighed, drum(9, "415", &[("L30", 900.0)])]].concat()).honey;
    assert_eq!((more.lots()["L30"].left_kg(), more.faults().len()), (None, 0));
    let of = |name: &str| honey.trace_drums(&std::iter::once(name.to_owned()).collect());
    assert_eq!(of("412").yards.keys().map(ToString::to_string).collect::<Vec<_>>(), ["12", "31", "7"]);
    assert_eq!(of("413").lots.len(), 2);
    assert!(of("414").buyers["Example Packing"].contains("414") && of("413").buyers.is_empty());
    let from_9 = honey.trace_yard(&yard(9));
    assert_eq!((from_9.lots.len(), from_9.drums.len(), from_9.yards[&yard(9)]), (1, 2, 20));
    // Every drum traced to a yard is traced back from it.
    for name in ["412", "413", "414"] {
        for at in of(name).yards.keys() {
            assert!(honey.trace_yard(at).drums.contains(name));
        }
    }
    let wrong = [
        extracted(1, 29, "L29", &[(7, 34)], 100.0),
        drum(4, "412", &[("L29", 300.0)]),
        drum(5, "412", &[("L31", 1.0)]),
        sold(7, &["412", "500", "412"], "A"),
    ];
    let faults: Vec<String> = fold(&wrong).honey.faults().iter().map(ToString::to_string).collect();
    assert_eq!(
        faults,
        [
            "lot L29: 200 kg more in drums than was extracted",
            "drum 412 holds honey of lot L31, which was never extracted",
            "drum 412 was filled twice",
            "drum 500 was sold and never filled",
            "drum 412 was sold twice",
        ]
    );
}

#[test]
fn moves_splits_and_losses_change_what_stands_in_a_yard() {
    let kinds = |kind, count| outyard_trade::KindCounts::of(&[(kind, count)]);
    let (double, split) = (outyard_trade::Kind::Double, outyard_trade::Kind::Split);
    let entries = [
        count(1, 1, 26, 6),
        entry(2, "a", day(2), 1, Fact::ColoniesMoved { from: yard(7), to: yard(30), counts: kinds(double, 4) }),
        entry(3, "a", day(3), 1, Fact::SplitsMade { from: yard(7), to: yard(30), splits: 6, queens: String::new() }),
        entry(
            4,
            "a",
            day(4),
            1,
            Fact::ColoniesLost { yard: yard(7), counts: kinds(split, 2), cause: "bear".to_owned() },
        ),
    ];
    let outfit = fold(&entries);
    let stands = |at: u32, kind| outfit.yards[&yard(at)].colonies.get(kind);
    assert_eq!((stands(7, double), stands(7, split)), (22, 4));
    assert_eq!((stands(30, double), stands(30, split)), (4, 6));
    assert_eq!((outfit.yards[&yard(7)].years[&2026].lost, outfit.yards[&yard(30)].years[&2026].splits), (2, 6));
    // Moved colonies are the same colonies: only splits and losses change how many there are.
    assert_eq!(outfit.colonies().total(), 32 + 6 - 2);
}
