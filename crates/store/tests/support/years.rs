//! A long book.

use jiff::SignedDuration;
use outyard_base::{Chance, Minutes, Share};
use outyard_book::{Entry, EntryId, Fact, GearCounts, JobDone, Kind, KindCounts, OddCounts, Tally};

fn number(chance: &mut Chance, below: u64) -> u32 {
    u32::try_from(chance.below(below)).unwrap()
}

/// A book of twenty years of a large outfit, ended with its last entry on 30 December 2046: 400 yards, trucks that are
/// loaded, visit and come home, counts, samples, feed, gear moved; now and then a visit two crews tallied, settled in the
/// office, and a tally put right. The same for the same seed.
pub(crate) fn twenty_years(seed: u64, count: u64) -> Vec<Entry> {
    const YARDS: u64 = 400;
    const DAYS: u64 = 20 * 365;
    let mut chance = Chance::new(seed, "twenty years");
    let third: outyard_base::GearCode = "third".parse().unwrap();
    let mut entries: Vec<Entry> = Vec::with_capacity(usize::try_from(count).unwrap());
    let first_day = outyard_base::days::plus_days("2046-12-30".parse().unwrap(), 1 - i64::try_from(DAYS).unwrap());
    let mut day = u64::MAX;
    let mut minute = 0;
    // Boxes on the truck that is out: whatever is not put on comes home.
    let mut aboard = 0;
    for place in 0..count {
        let today = place * DAYS / count;
        if today != day {
            (day, minute) = (today, 0);
        }
        let block = minute / 10;
        let whole = block < count / DAYS / 10;
        let step = minute % 10;
        minute += 1;
        let on = outyard_base::days::plus_days(first_day, i64::try_from(day).unwrap());
        let at = "2027-01-01T05:00:00Z".parse::<jiff::Timestamp>().unwrap()
            + SignedDuration::from_hours(24 * i64::try_from(day).unwrap())
            + SignedDuration::from_mins(i64::try_from(minute).unwrap());
        let mut bytes = [0; 10];
        bytes[..8].copy_from_slice(&chance.below(u64::MAX).to_be_bytes());
        let crew = number_u32(block % 7);
        let truck: outyard_base::TruckId = format!("truck {crew}").parse().unwrap();
        let run = Some(format!("{on}/crew-{crew}/{block}"));
        let yard: outyard_base::YardId = (chance.below(YARDS)).to_string().parse().unwrap();
        let doubles = 10 + number(&mut chance, 30);
        if step == 0 {
            aboard = 200 + doubles;
        }
        let put = if whole { doubles.min(aboard) } else { doubles };
        let fact = match step {
            0 if whole => Fact::TruckLoaded {
                truck: truck.clone(),
                run,
                from: outyard_book::GearPlace::Shed,
                gear: GearCounts::one(third.clone(), aboard),
            },
            // Whatever left is home before it leaves again.
            9 if whole => Fact::TruckHome {
                truck: truck.clone(),
                run,
                to_shed: GearCounts::one(third.clone(), aboard),
                to_hot_room: GearCounts::none(),
            },
            2 => Fact::GearMoved {
                from: outyard_book::GearPlace::HotRoom,
                to: outyard_book::GearPlace::Wet,
                gear: GearCounts::one(third.clone(), doubles),
            },
            3 if chance.happens(0.3) => {
                Fact::ColoniesCounted { yard, counts: KindCounts::of(&[(Kind::Double, doubles), (Kind::Weak, 2)]) }
            }
            4 if chance.happens(0.3) => Fact::MiteSample(outyard_book::MiteSample {
                yard,
                colony: String::new(),
                method: "wash".to_owned(),
                bees: 300,
                mites: number(&mut chance, 12),
                board_days: None,
            }),
            5 if chance.happens(0.02) && !entries.is_empty() => {
                let of = entries.len() - 1 - chance.index(entries.len().min(200));
                let told = &entries[of];
                if told.happened_on == on && matches!(told.fact, Fact::VisitClosed(_)) {
                    let (of, fact) = (told.id, told.fact.clone());
                    Fact::Correction { of, instead: Some(Box::new(fact)) }
                } else {
                    Fact::Note { yard: Some(yard), text: "gate was open".to_owned() }
                }
            }
            _ => {
                aboard -= if whole { put } else { 0 };
                Fact::VisitClosed(Tally {
                    visit: chance.happens(0.5).then(|| format!("{on}/{yard}/{minute}")),
                    jobs: vec![JobDone {
                        job: if doubles.is_multiple_of(3) { "single-down-blow" } else { "add-boxes" }.parse().unwrap(),
                        done: KindCounts::of(&[(Kind::Double, doubles), (Kind::Split, number(&mut chance, 9))]),
                        undone: KindCounts::NONE,
                    }],
                    odd: OddCounts { dead: number(&mut chance, 2), ..OddCounts::default() },
                    boxes_on: GearCounts::one(third.clone(), put),
                    fullness: Some(Share::of(chance.uniform())),
                    minutes: Some(Minutes(60 + i64::from(number(&mut chance, 120)))),
                    hands: Some(2),
                    truck: whole.then_some(truck),
                    run: run.filter(|_| whole),
                    ..Tally::new(yard)
                })
            }
        };
        let device = "office".parse().unwrap();
        entries.push(Entry::new(EntryId::new(at, bytes), device, format!("crew {crew}"), on, at, fact));
    }
    entries
}

fn number_u32(number: u64) -> u32 {
    u32::try_from(number).unwrap()
}
