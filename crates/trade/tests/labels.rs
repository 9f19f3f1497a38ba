//! Treatment labels as typed: the dates of the scenes, and what is blocked.

use jiff::civil::{Date, date};
use outyard_base::Celsius;
use outyard_trade::treatments::{Block, LabelTyped, LabelWords, OutState, SupersAnswer};

/// Strips as typed in the scenes: 42 to 56 days, 14 days before supers.
fn strips() -> LabelWords {
    LabelWords {
        active: "amitraz".to_owned(),
        days_min: 42,
        days_max: 56,
        wait_before_supers_days: 14,
        allowed_with_supers: false,
        min_temp: Some(Celsius::of(10.0)),
        max_temp: None,
        typed_on: date(2026, 3, 2),
    }
}

fn put_in(month: i8, day: i8) -> LabelTyped {
    LabelTyped::new(strips(), date(2026, month, day)).expect("days of a label that can be")
}

// Scene S12, spring: in 10 April; supers from 5 June; left in to 56 days: out 5 June, supers 19 June.
#[test]
fn s12_spring_strips() {
    let dates = put_in(4, 10).dates();
    assert_eq!(dates.earliest_out, date(2026, 5, 22));
    assert_eq!(dates.earliest_supers, date(2026, 6, 5));
    assert_eq!((dates.latest_out, dates.supers_if_left_in), (date(2026, 6, 5), date(2026, 6, 19)));
}

// Scene S12: a plan for supers on 1 June is refused, 4 days short.
#[test]
fn s12_supers_planned_too_early_are_refused_with_the_days() {
    let spring = put_in(4, 10);
    let SupersAnswer::Blocked { earliest, days_short, why } = spring.supers_on(date(2026, 6, 1), None) else {
        panic!("1 June was allowed");
    };
    assert_eq!((earliest, days_short), (date(2026, 6, 5), 4));
    assert!(why.contains("4 days short") && why.contains("5 Jun") && why.contains("2 Mar"), "{why}");
    assert_eq!(spring.supers_on(date(2026, 6, 5), None), SupersAnswer::Allowed);
    // Recorded out late, the wait starts late; taken out early, it starts early, and the state says it was too early.
    let late = date(2026, 6, 5);
    assert!(matches!(spring.supers_on(date(2026, 6, 18), Some(late)), SupersAnswer::Blocked { days_short: 1, .. }));
    assert_eq!(spring.supers_on(date(2026, 6, 19), Some(late)), SupersAnswer::Allowed);
}

// Scene S17: out 20 May, supers on 10 June: 21 days of at least 14.
#[test]
fn s17_the_wait_was_kept() {
    let spring = put_in(4, 1);
    assert_eq!(spring.supers_on(date(2026, 6, 10), Some(date(2026, 5, 20))), SupersAnswer::Allowed);
}

// Scene S12, fall: in 18 August, out 29 September to 13 October, an alarm when nobody recorded it out.
#[test]
fn s12_fall_strips_must_be_recorded_out() {
    let fall = put_in(8, 18);
    let (first, last) = (date(2026, 9, 29), date(2026, 10, 13));
    assert_eq!((fall.dates().earliest_out, fall.dates().latest_out), (first, last));
    for (today, out, expected) in [
        (date(2026, 9, 28), None, OutState::MustStay(first)),
        (first, None, OutState::MayComeOut(last)),
        (last, None, OutState::MayComeOut(last)),
        (date(2026, 10, 14), None, OutState::Overdue(last)),
        (date(2026, 11, 1), Some(date(2026, 10, 1)), OutState::OutInOrder),
        (date(2026, 11, 1), Some(date(2026, 9, 27)), OutState::OutTooEarly(2)),
        (date(2026, 11, 1), Some(date(2026, 10, 16)), OutState::OutTooLate(3)),
    ] {
        assert_eq!(fall.out_state(today, out), expected, "{today}");
    }
}

// Scene S13: supers on and 33 °C ahead: blocked for both reasons, each named.
#[test]
fn s13_supers_on_and_heat_block_what_the_label_does_not_allow() {
    let highs = [28.0, 33.0, 31.0].map(Celsius::of);
    assert_eq!(strips().blocks(true, &highs), [Block::SupersOn]);
    let pads = LabelWords {
        active: "formic acid".to_owned(),
        days_min: 14,
        days_max: 14,
        wait_before_supers_days: 0,
        allowed_with_supers: true,
        min_temp: Some(Celsius::of(10.0)),
        max_temp: Some(Celsius::of(29.5)),
        ..strips()
    };
    assert_eq!(pads.blocks(true, &highs), [Block::TooHot(highs[1]), Block::TooHot(highs[2])]);
    assert_eq!(pads.blocks(true, &[Celsius::of(9.0)]), [Block::TooCold(Celsius::of(9.0))]);
    assert!(pads.blocks(true, &[Celsius::of(29.5)]).is_empty());
    let in_now = LabelTyped::new(pads, date(2026, 8, 5)).unwrap();
    assert_eq!(in_now.supers_on(date(2026, 8, 5), None), SupersAnswer::Allowed);
}

#[test]
fn a_label_that_cannot_be_is_refused() {
    let day: Date = date(2026, 4, 10);
    let code = |words: LabelWords| LabelTyped::new(words, day).unwrap_err().code;
    assert_eq!(code(LabelWords { days_min: 57, ..strips() }), "TRT-001");
    assert_eq!(code(LabelWords { wait_before_supers_days: -1, ..strips() }), "TRT-001");
    assert_eq!(code(LabelWords { max_temp: Some(Celsius::of(5.0)), ..strips() }), "TRT-002");
    assert_eq!(code(LabelWords { active: " ".to_owned(), ..strips() }), "TRT-003");
}
