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
