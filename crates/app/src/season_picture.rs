//! The season of one yard as plain data to draw: gain with its range, room and honey, brood clocks and fill clock.
//!
//! Days are counted from `first`, so that whoever draws needs no calendar but that one date. Room and honey are those of a
//! colony of the kind there is most of, followed through the ensemble ([`crate::due::Stack`]). Beside it stands the hand sum
//! (the one a pencil can check): room is the boxes counted plus the upper box as it hatches, honey is what was gained since
//! the put-down or the last look, never more than the room.

use jiff::civil::Date;
use outyard_base::days::{days_from, plus_days};
use outyard_base::{DateRange, Range, YardId};
use outyard_season::colony::ColonyRules;
use outyard_season::colony::kinds::Standing;
use outyard_season::fill::{FillState, HATCH_DAYS, Room, fill_dates};
use outyard_trade::{ClockStart, Kind, dated_marks};
use serde::Serialize;

use crate::due::{AboveOn, Followed, PutDown, YardToday, colony_rules};
use crate::seasons::YardAhead;
use crate::situation::Situation;
use crate::views::RangeView;

/// Days before this morning that are drawn. Assumed.
const DAYS_BACK: i64 = 35;
/// Days ahead that are drawn. Assumed.
const DAYS_AHEAD: i64 = 42;
/// Put-downs drawn, the latest ones. Assumed.
const ROUNDS_DRAWN: usize = 2;
/// Part of a box that two lifted frames are (2 of 10 frames).
const LIFTED_SHARE: f64 = 0.2;
/// Marks of the put-down's brood clock worth a place in a picture.
const MARKS_DRAWN: [&str; 5] = ["egg-test", "cell-look", "open-worker-test", "workers-out", "drones-out"];

/// A value on a day.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct DayValue {
    /// The day, counted from `first`.
    pub day: i64,
    /// The value.
    pub value: f64,
}

/// A range on a day.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct DayRange {
    /// The day, counted from `first`.
    pub day: i64,
    /// Low, likely, high.
    pub value: RangeView,
}

/// Early, likely and late day, counted from `first`; `None` past the days looked at.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
pub struct DayDates {
    /// One in ten comes before.
    pub early: Option<i64>,
    /// As often before as after.
    pub likely: Option<i64>,
    /// One in ten comes after.
    pub late: Option<i64>,
}

/// Bloom of one plant.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct BloomBar {
    /// Its name.
    pub plant: String,
    /// First bloom.
    pub first: DayDates,
    /// End of bloom.
    pub end: DayDates,
}

/// One mark of a brood clock.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct ClockBar {
    /// Its code.
    pub code: &'static str,
    /// Its name.
    pub name: &'static str,
    /// First day.
    pub from: i64,
    /// Day to plan with.
    pub best: i64,
    /// Last day; `None` when it stays true.
    pub to: Option<i64>,
}

/// Room and honey above the excluder of one colony by the hand sum.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct HandPicture {
    /// Room day by day, kg.
    pub room_kg: Vec<DayValue>,
    /// Honey so far, and the likely honey ahead if there were room, kg.
    pub held_kg: Vec<DayValue>,
    /// When the room is full.
    pub full: DayDates,
}

/// One put-down: its boxes and its clocks.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct PutDownPicture {
    /// Colonies put down, by kind.
    pub colonies: String,
    /// Day 0.
    pub day0: i64,
    /// Room above the excluder of one colony, day by day, kg: cells brood does not take; the likely one ahead.
    pub room_kg: Vec<DayValue>,
    /// Honey above it so far, kg.
    pub held_kg: Vec<DayValue>,
    /// Honey above it ahead, if nobody comes, kg.
    pub held_ahead_kg: Vec<DayRange>,
    /// When there is no more room above.
    pub full: DayDates,
    /// The same by hand.
    pub by_hand: HandPicture,
    /// Marks of the brood clock.
    pub clocks: Vec<ClockBar>,
}

/// The season of one yard.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SeasonPicture {
    /// The yard.
    pub yard: String,
    /// What people call it.
    pub name: String,
    /// Date of day 0 of the picture.
    pub first: String,
    /// This morning.
    pub today: i64,
    /// Last day drawn.
    pub last: i64,
    /// Net gain that counts as flow, kg a day.
    pub threshold_kg_per_day: f64,
    /// Net gain read from scales, kg a day.
    pub seen_kg_per_day: Vec<DayValue>,
    /// Whose scales they are.
    pub seen_by: String,
    /// Net gain of a strong colony ahead, kg a day.
    pub ahead_kg_per_day: Vec<DayRange>,
    /// When the flow begins.
    pub flow_begins: DayDates,
    /// When it ends.
    pub flow_ends: DayDates,
    /// Bloom of what grows round it.
    pub bloom: Vec<BloomBar>,
    /// Put-downs, the latest last.
    pub put_downs: Vec<PutDownPicture>,
}

/// Counts days from the first of the picture.
struct Days {
    first: Date,
    last: i64,
}

impl Days {
    fn of(&self, date: Date) -> i64 {
        days_from(self.first, date)
    }

    fn dates(&self, dates: &DateRange) -> DayDates {
        let day = |date: Option<Date>| date.map(|date| self.of(date));
        DayDates { early: day(dates.early), likely: day(dates.likely), late: day(dates.late) }
    }
}

/// The picture of a yard.
pub fn season_picture(
    situation: &Situation,
    id: &YardId,
    yard: &YardToday,
    ahead: &YardAhead,
    stacks: &[Followed],
) -> SeasonPicture {
    let rules = colony_rules(&situation.jobs);
    let today = situation.today;
    let rounds = &yard.put_downs[yard.put_downs.len().saturating_sub(ROUNDS_DRAWN)..];
    let back = rounds.iter().map(|round| days_from(round.day0, today) + 3).max().unwrap_or(0).max(DAYS_BACK);
    let days = Days { first: plus_days(today, -back), last: back + DAYS_AHEAD };
    let kept = situation.outfit.yards.get(id).map(|yard| &yard.kept);
    let (nights, seen_by) = situation.nights_for(id, kept.map_or("", |kept| kept.group.as_str()));
    let put_down: u32 = yard.put_downs.iter().map(|round| round.colonies.total()).sum();
    let deeps = situation.deeps_on_hives(yard);
    let deep_kg = situation.jobs.worth.full_deep_kg.get();
    // With nothing counted the one third of the put-down stands there.
    let supers_kg = if deeps > 0.0 { deep_kg * deeps / f64::from(put_down.max(1)) } else { deep_kg };
    SeasonPicture {
        yard: id.as_str().to_owned(),
        name: kept.map_or_else(String::new, |kept| kept.name.clone()),
        first: days.first.to_string(),
        today: back,
        last: days.last,
        threshold_kg_per_day: situation.flow_rule().threshold.get(),
        seen_kg_per_day: nights
            .iter()
            .map(|(date, gain)| DayValue { day: days.of(*date), value: gain.get() })
            .filter(|night| (0..back).contains(&night.day))
            .collect(),
        seen_by,
        ahead_kg_per_day: by_day(back, days.last, |day| {
            ahead.season.gain.iter().filter_map(|member| member.get(day).copied()).collect()
        }),
        flow_begins: days.dates(&ahead.season.begins),
        flow_ends: days.dates(&ahead.season.ends),
        bloom: ahead
            .bloom
            .iter()
            .map(|bloom| BloomBar {
                plant: situation
                    .plants
                    .get(&bloom.plant)
                    .map_or_else(|| bloom.plant.as_str().to_owned(), |plant| plant.name.clone()),
                first: days.dates(&bloom.first),
                end: days.dates(&bloom.end),
            })
            .collect(),
        put_downs: rounds
            .iter()
            .filter_map(|round| {
                let hand = by_hand(round, yard, ahead, today, &days, (supers_kg, deep_kg));
                let of_round = |one: &&Followed| one.stack.day0 == Some(round.day0);
                let stack = stacks.iter().filter(of_round).max_by_key(|one| one.stack.colonies)?;
                Some(put_down_picture(round, stack, ahead, &rules, &days, hand))
            })
            .collect(),
    }
}

/// Ranges of the values the members have on each day from this morning to the last drawn.
fn by_day(today: i64, last: i64, values: impl Fn(usize) -> Vec<f64>) -> Vec<DayRange> {
    (today..=last)
        .map_while(|day| {
            let ahead = usize::try_from(day - today).expect("not before this morning");
            Some(DayRange { day, value: RangeView::of(Range::of_sample(&values(ahead))?) })
        })
        .collect()
}

/// One put-down as the colony model has it.
fn put_down_picture(
    round: &PutDown,
    one: &Followed,
    ahead: &YardAhead,
    rules: &ColonyRules,
    days: &Days,
    by_hand: HandPicture,
) -> PutDownPicture {
    let today = days.of(ahead.season.first);
    let span = usize::try_from(days.last - today).unwrap_or(0);
    let members = one.stack.ahead_above(&ahead.season, rules, span);
    let drawn = |value: fn(&AboveOn) -> f64| {
        by_day(today, days.last, |day| members.iter().filter_map(|member| member.get(day).map(value)).collect())
    };
    let so_far = |value: fn(&AboveOn) -> f64| {
        let mornings = one.stack.mornings.iter().filter(|above| above.on >= round.day0);
        mornings.map(|above| DayValue { day: days.of(above.on), value: value(above) }).collect::<Vec<_>>()
    };
    let mut room_kg = so_far(|above| above.room_kg);
    room_kg.pop();
    room_kg
        .extend(drawn(|above| above.room_kg).into_iter().map(|day| DayValue { day: day.day, value: day.value.likely }));
    PutDownPicture {
        colonies: round.colonies.to_string(),
        day0: days.of(round.day0),
        room_kg,
        held_kg: so_far(|above| above.held_kg),
        held_ahead_kg: drawn(|above| above.held_kg),
        full: days.dates(&one.ahead.full),
        by_hand,
        clocks: dated_marks(ClockStart::ExcluderUnderBrood, round.day0)
            .iter()
            .filter(|dated| MARKS_DRAWN.contains(&dated.mark.code))
            .map(|dated| ClockBar {
                code: dated.mark.code,
                name: dated.mark.name,
                from: days.of(dated.from),
                best: days.of(dated.best),
                to: dated.to.map(|to| days.of(to)),
            })
            .collect(),
    }
}

/// One put-down by the hand sum.
fn by_hand(
    round: &PutDown,
    yard: &YardToday,
    ahead: &YardAhead,
    today: Date,
    days: &Days,
    (supers_kg, deep_kg): (f64, f64),
) -> HandPicture {
    // The kind there is most of stands for the round.
    let kind = round.colonies.iter().max_by_key(|(_, count)| *count).map_or(Kind::Double, |(kind, _)| kind);
    let share = Standing::usual(kind).adults / Standing::usual(Kind::Double).adults;
    let upper = if kind == Kind::Double { 1.0 } else { LIFTED_SHARE };
    let room = Room { super_kg: supers_kg, upper_box_kg: deep_kg * upper, hatch_days: HATCH_DAYS };
    #[expect(clippy::cast_precision_loss, reason = "days of one season")]
    let room_on = |day: i64| room.capacity_kg((day - days.of(round.day0)) as f64);
    let seen = yard.fullness.filter(|(on, _)| *on > round.day0 && *on <= today);
    let (from, mut held) = seen.map_or((round.day0, 0.0), |(on, full)| (on, full.get() * room_on(days.of(on))));
    let mut held_kg = vec![DayValue { day: days.of(from), value: held }];
    for day in days.of(from)..days.of(today) {
        let gain = ahead.season.seen_on(plus_days(days.first, day)).unwrap_or(0.0);
        held = (held + share * gain).clamp(0.0, room_on(day + 1));
        held_kg.push(DayValue { day: day + 1, value: held });
    }
    let gains: Vec<Vec<f64>> =
        ahead.season.gain.iter().map(|member| member.iter().map(|gain| gain * share).collect()).collect();
    let sums: Vec<Vec<f64>> = gains
        .iter()
        .map(|member| {
            let sum = |total: &mut f64, gain: &f64| {
                *total = (*total + gain).max(0.0);
                Some(*total)
            };
            core::iter::once(held).chain(member.iter().scan(held, sum)).collect()
        })
        .collect();
    #[expect(clippy::cast_precision_loss, reason = "days of one season")]
    let now = FillState { day: days_from(round.day0, today).max(0) as f64, held_kg: held };
    let ahead_kg =
        by_day(days.of(today), days.last, |day| sums.iter().filter_map(|member| member.get(day).copied()).collect());
    held_kg.pop();
    held_kg.extend(ahead_kg.into_iter().map(|day| DayValue { day: day.day, value: day.value.likely }));
    HandPicture {
        room_kg: (days.of(round.day0)..=days.last).map(|day| DayValue { day, value: room_on(day) }).collect(),
        held_kg,
        full: days.dates(&fill_dates(&room, now, today, &gains)),
    }
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeMap;

    use jiff::civil::date;
    use outyard_book::ContentHash;
    use outyard_season::PlantTable;
    use outyard_trade::jobbook::JobBook;

    use super::*;
    use crate::demo::invent;
    use crate::demo_book::write_down;
    use crate::intake::drives::Drives;
    use crate::settings::read_settings;
    use crate::situation::SituationParts;
    use crate::work_out::find_due;

    fn situation() -> Situation {
        let today = date(2026, 7, 12);
        let book = write_down(&invent(7, today));
        let files: BTreeMap<ContentHash, String> =
            book.files.iter().map(|text| (ContentHash::of(text.as_bytes()), text.clone())).collect();
        let mut settings = read_settings("outfit.toml", &book.settings).unwrap();
        settings.outlook.members = 40;
        Situation::new(SituationParts {
            settings,
            jobs: JobBook::standard(),
            plants: PlantTable::built_in(),
            drives: Drives::default(),
            entries: book.entries,
            files,
            today,
        })
        .unwrap()
    }

    // Values against sums of their own: the gain of a day against its members, the room against the hand sum, the clock
    // against the stage table (four full days for eggs, 21 for workers, planned 22).
    #[test]
    fn the_picture_holds_what_the_outlook_says() {
        let situation = situation();
        let found = find_due(&situation, 7).unwrap();
        let mut with_put_down = 0;
        for (id, ahead) in &found.seasons {
            let yard = &found.yards[id];
            let stacks = &found.stacks[id];
            let picture = season_picture(&situation, id, yard, ahead, stacks);
            let first: Date = picture.first.parse().unwrap();
            assert_eq!(plus_days(first, picture.today), situation.today);
            assert!(picture.seen_kg_per_day.iter().all(|night| (0..picture.today).contains(&night.day)));
            let in_a_week = picture.ahead_kg_per_day.iter().find(|day| day.day == picture.today + 7).unwrap();
            let members: Vec<f64> = ahead.season.gain.iter().map(|member| member[7]).collect();
            let range = Range::of_sample(&members).unwrap();
            assert!((in_a_week.value.likely - range.likely).abs() < 1e-12);
            assert!((in_a_week.value.high - range.high).abs() < 1e-12);
            let day = |date: Option<Date>| date.map(|date| days_from(first, date));
            assert_eq!(picture.flow_ends.likely, day(ahead.season.ends.likely));
            for (round, drawn) in yard.put_downs.iter().rev().zip(picture.put_downs.iter().rev()) {
                with_put_down += 1;
                assert_eq!(plus_days(first, drawn.day0), round.day0);
                let days: Vec<(&str, i64)> =
                    drawn.clocks.iter().map(|clock| (clock.code, clock.best - drawn.day0)).collect();
                assert!(days.contains(&("egg-test", 4)) && days.contains(&("workers-out", 22)), "{days:?}");
                let hand = &drawn.by_hand;
                let (start, end) = (hand.room_kg[0].value, hand.room_kg.last().unwrap().value);
                assert!(end >= start && end - start <= situation.jobs.worth.full_deep_kg.get() + 1e-9);
                let value_on = |values: &[DayValue], day: i64| values.iter().find(|one| one.day == day).unwrap().value;
                let so_far = hand.held_kg.iter().filter(|held| held.day <= picture.today);
                assert!(so_far.clone().count() > 0);
                assert!(so_far.clone().all(|held| held.value <= value_on(&hand.room_kg, held.day) + 1e-9));
                // By hand full on the day on which half the members' honey has caught up with the room, give or take a day.
                if let Some(likely) = hand.full.likely.filter(|day| *day > picture.today && *day + 2 <= picture.last) {
                    let (held, room) = (value_on(&hand.held_kg, likely + 2), value_on(&hand.room_kg, likely + 2));
                    assert!(held > room - 1.0, "{id}: {drawn:?}");
                }
                // The colony of the picture is that of the outlook: this morning's honey, and the same full day.
                let of_round = stacks.iter().filter(|one| one.stack.day0 == Some(round.day0));
                let one = of_round.max_by_key(|one| one.stack.colonies).unwrap();
                let now = drawn.held_kg.last().unwrap();
                assert_eq!(now.day, picture.today);
                assert!((now.value - one.stack.colony.honey_above_kg()).abs() < 1e-9);
                assert!((drawn.held_ahead_kg[0].value.likely - now.value).abs() < 1e-9);
                assert_eq!(drawn.full.likely, day(one.ahead.full.likely));
                // Ahead the room never shrinks with nobody coming (brood hatches, comb is drawn), days follow each other, and
                // nobody holds more than the room but by what lies in it as nectar.
                assert!(drawn.room_kg.windows(2).all(|pair| pair[0].day + 1 == pair[1].day));
                let all_room = drawn.room_kg.iter().map(|room| room.value).fold(0.0, f64::max);
                assert!(drawn.held_ahead_kg.iter().all(|held| held.value.high <= all_room + 1e-6), "{id}: {drawn:?}");
            }
        }
        assert!(with_put_down >= 5, "{with_put_down} put-downs drawn");
    }
}
