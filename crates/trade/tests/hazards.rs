//! Lifting and noise against worked check values, and the hours of the weather gates.

use outyard_base::{ClockTime, Hours, Kilograms, Minutes};
use outyard_trade::JobBook;
use outyard_trade::lifting::{Grip, Lift, LiftSpell, lifts_caution};
use outyard_trade::noise::NoiseLimit;

// Revised NIOSH equation, twelve lifts worked by an independent script (trade facts 11.1): H, V, D, A, F, spell, grip,
// load, then HM VM DM AM FM CM, RWL and LI.
#[test]
fn the_lifting_equation_matches_its_check_values() {
    use Grip::{Fair, Good, Poor};
    use LiftSpell::{UpToEightHours as Eight, UpToOneHour as One, UpToTwoHours as Two};
    #[rustfmt::skip]
    let table = [
        (25.0, 75.0, 25.0, 0.0, 0.2, One, Good, 23.0, [1.0000, 1.0000, 1.0000, 1.0000, 1.0000, 1.0000], 23.000, 1.000),
        (40.0, 60.0, 50.0, 0.0, 1.0, Two, Fair, 27.0, [0.6250, 0.9550, 0.9100, 1.0000, 0.8800, 0.9500], 10.444, 2.585),
        (40.0, 30.0, 70.0, 0.0, 2.0, Eight, Fair, 36.0, [0.6250, 0.8650, 0.8843, 1.0000, 0.6500, 0.9500], 6.790, 5.302),
        (35.0, 100.0, 40.0, 45.0, 2.0, Eight, Fair, 27.0, [0.7143, 0.9250, 0.9325, 0.8560, 0.6500, 1.0000], 7.885, 3.424),
        (30.0, 75.0, 60.0, 30.0, 4.0, Two, Good, 18.0, [0.8333, 1.0000, 0.8950, 0.9040, 0.7200, 1.0000], 11.165, 1.612),
        (50.0, 20.0, 100.0, 0.0, 1.0, One, Poor, 40.0, [0.5000, 0.8350, 0.8650, 1.0000, 0.9400, 0.9000], 7.027, 5.692),
        (40.0, 120.0, 30.0, 90.0, 3.0, Eight, Fair, 27.0, [0.6250, 0.8650, 0.9700, 0.7120, 0.5500, 1.0000], 4.723, 5.716),
        (63.0, 0.0, 25.0, 0.0, 0.2, One, Good, 15.0, [0.3968, 0.7750, 1.0000, 1.0000, 1.0000, 1.0000], 7.073, 2.121),
        (25.0, 150.0, 75.0, 0.0, 0.5, Eight, Good, 25.0, [1.0000, 0.7750, 0.8800, 1.0000, 0.8100, 1.0000], 12.706, 1.968),
        (45.0, 40.0, 80.0, 60.0, 1.0, Eight, Poor, 36.0, [0.5556, 0.8950, 0.8762, 0.8080, 0.7500, 0.9000], 5.465, 6.587),
        (64.0, 75.0, 25.0, 0.0, 0.2, One, Good, 5.0, [0.0000, 1.0000, 1.0000, 1.0000, 1.0000, 1.0000], 0.000, f64::INFINITY),
        (38.0, 75.0, 100.0, 0.0, 5.0, Two, Fair, 27.0, [0.6579, 1.0000, 0.8650, 1.0000, 0.6000, 1.0000], 7.853, 3.438),
    ];
    for (reach_cm, height_cm, travel_cm, twist_deg, lifts_per_minute, spell, grip, load, factors, recommended, index) in
        table
    {
        let load = Kilograms::of(load);
        let lift = Lift { load, reach_cm, height_cm, travel_cm, twist_deg, lifts_per_minute, spell, grip };
        let of = lift.factors();
        for (found, expected) in [of.reach, of.height, of.travel, of.twist, of.often, of.grip].into_iter().zip(factors)
        {
            assert!((found - expected).abs() < 6e-5, "{lift:?}: {found}, expected {expected}");
        }
        assert!((lift.recommended().get() - recommended).abs() < 6e-4, "{lift:?}: {}", lift.recommended());
        let found = lift.index();
        assert!((found - index).abs() < 6e-4 || found.is_infinite() && index.is_infinite(), "{lift:?}: {found}");
    }
}

// Trade facts 11.1: a full deep of 36 to 41 kg passes 23 kg in any posture; past the limits nothing is left.
#[test]
fn no_posture_makes_a_full_deep_light() {
    let best = Lift {
        load: Kilograms::of(36.0),
        reach_cm: 25.0,
        height_cm: 75.0,
        travel_cm: 25.0,
        twist_deg: 0.0,
        lifts_per_minute: 0.2,
        spell: LiftSpell::UpToOneHour,
        grip: Grip::Good,
    };
    assert!(best.index() > 1.5);
    for past in [
        Lift { height_cm: 176.0, ..best },
        Lift { travel_cm: 176.0, ..best },
        Lift { twist_deg: 136.0, ..best },
        Lift { lifts_per_minute: 15.1, ..best },
        Lift { lifts_per_minute: 9.0, height_cm: 74.0, spell: LiftSpell::UpToEightHours, ..best },
    ] {
        assert!(past.index().is_infinite(), "{past:?}");
    }
}

// Job facts 10: 96 thirds and 90 upper boxes are 186 lifts.
#[test]
fn a_day_of_lifts_is_counted_for_each_hand() {
    let words = lifts_caution(96 + 90, 2, Kilograms::of(37.0));
    assert!(
        words.starts_with("186 lifts, 93 a hand") && words.contains("37 kg") && words.contains("by two"),
        "{words}"
    );
    assert!(!lifts_caution(40, 2, Kilograms::of(9.0)).contains("by two"));
}

// Trade facts 11.3: hours allowed by the health and the legal limit; 2 h at 97 and 1 h at 91 dBA is 450 %, 91.53 dBA
// over eight hours.
#[test]
fn noise_doses_match_their_check_values() {
    for (level, health, legal) in [
        (85.0, 8.0, 16.0),
        (88.0, 4.0, 10.556),
        (91.0, 2.0, 6.964),
        (94.0, 1.0, 4.595),
        (97.0, 0.5, 3.031),
        (100.0, 0.25, 2.0),
        (103.0, 0.125, 1.320),
    ] {
        assert!((NoiseLimit::Health.allowed(level).get() - health).abs() < 1e-9, "{level}");
        assert!((NoiseLimit::Legal.allowed(level).get() - legal).abs() < 6e-4, "{level}");
    }
    let dose = NoiseLimit::Health.dose_percent(&[(97.0, Hours::of(2.0)), (91.0, Hours::of(1.0))]);
    assert!((dose - 450.0).abs() < 1e-9, "{dose}");
    let level = NoiseLimit::Health.eight_hour_level_dba(dose);
    assert!((level - 91.53).abs() < 0.005, "{level}");
}

#[test]
fn gates_open_and_shut_by_the_clock_even_over_midnight() {
    let book = JobBook::standard();
    let (blow, night) = (&book.gates["blow"], &book.gates["night-move"]);
    for (hours, minutes, blows, moves) in [
        (8, 59, false, false),
        (9, 0, true, false),
        (19, 0, true, false),
        (19, 1, false, false),
        (21, 0, false, true),
        (32, 30, false, true),
    ] {
        let time = ClockTime::at(hours, minutes);
        assert_eq!((blow.open_at(time), night.open_at(time)), (blows, moves), "{time}");
    }
    assert_eq!((blow.minutes_open(), night.minutes_open()), (Minutes(600), Minutes(11 * 60 + 30)));
}
