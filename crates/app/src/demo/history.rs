//! The work of the year so far: first look, treatment, second boxes, splits, rounds against swarming, put-downs.
//!
//! Dates follow the timetable of a reference outfit near 45° N (common practice, no source); put-downs follow the flow
//! of the yard's own group and the weather. Minutes are the rates of the trade (common practice, no source).

use jiff::civil::{Date, date};
use outyard_base::days::{days_from, plus_days};
use outyard_base::{Chance, ClockTime, Minutes, Place, YardId};

use super::flow::{self, Flow};
use super::{DemoCrew, DemoVisit, DemoWeather, DemoWork, DemoYard};

/// Yards a pair puts down in a day: common practice, no source.
const PUT_DOWNS_PER_PAIR_AND_DAY: usize = 3;
/// Days after which a yard is visited again: common practice, no source.
const RETURN_AFTER_DAYS: i64 = 14;
/// Part of the colonies lost over winter: yearly means of Canadian winter losses 2007-2022 lie near 26 %.
const WINTER_LOSS: f64 = 0.26;

/// From one yard to the next: assumed.
const DRIVE: Minutes = Minutes(15);

struct Year<'a> {
    seed: u64,
    today: Date,
    yards: &'a [DemoYard],
    crews: &'a [DemoCrew],
    days: &'a [DemoWeather],
    place: Place,
}

/// All visits of the year before today, by date, then crew, then time.
pub(super) fn of_year(
    seed: u64,
    today: Date,
    yards: &[DemoYard],
    crews: &[DemoCrew],
    place: Place,
    flow: &Flow,
) -> Vec<DemoVisit> {
    let year = Year { seed, today, yards, crews, days: &flow.days, place };
    let mut visits = Vec::new();
    visits.extend(year.first_looks(&visits));
    visits.extend(year.treatments(&visits));
    visits.extend(year.mite_washes(&visits));
    visits.extend(year.second_boxes(&visits));
    visits.extend(year.splits(&visits));
    visits.extend(year.swarm_rounds(&visits));
    let put_downs = year.put_downs(&visits, flow);
    visits.extend(year.returns(&put_downs));
    visits.extend(put_downs);
    visits.sort_by(|left, right| (left.date, &left.crew, left.began).cmp(&(right.date, &right.crew, right.began)));
    one_after_the_other(&mut visits);
    visits
}

/// Where two sorts of work fell on one day of a crew, the later waits for the earlier.
fn one_after_the_other(visits: &mut [DemoVisit]) {
    for index in 1..visits.len() {
        let (before, rest) = visits.split_at_mut(index);
        let (last, visit) = (&before[index - 1], &mut rest[0]);
        if last.date == visit.date && last.crew == visit.crew {
            visit.began = visit.began.max(last.began + last.minutes + DRIVE);
        }
    }
}

impl Year<'_> {
    fn on(&self, month: i8, day: i8) -> Date {
        date(self.today.year(), month, day)
    }

    /// Sends the crews through the yards from `first` on, `per_day` yards a pair, on days no cooler than `least_c`,
    /// nearly dry and not taken by work already `told`; only visits before today are told.
    fn round(
        &self,
        told: &[DemoVisit],
        first: Date,
        per_day: usize,
        least_c: f64,
        work: &mut dyn FnMut(&DemoYard) -> Option<(DemoWork, i64)>,
    ) -> Vec<DemoVisit> {
        let mut visits = Vec::new();
        let mut waiting = self.yards.iter();
        for day in self.days.iter().filter(|day| day.date >= first && day.date < self.today) {
            let busy = told.iter().any(|visit| visit.date == day.date);
            if busy || day.tmax.get() < least_c || day.rain.get() > 2.0 {
                continue;
            }
            let mut clocks = vec![ClockTime::at(9, 0); self.crews.len()];
            let mut done = 0;
            while done < per_day * self.crews.len() {
                let Some(yard) = waiting.next() else { return visits };
                if let Some((work, minutes)) = work(yard) {
                    let crew = done % self.crews.len();
                    visits.push(self.visit(day.date, yard, crew, &mut clocks[crew], work, minutes));
                    done += 1;
                }
            }
        }
        visits
    }

    /// One visit, and moves the crew's clock past it and the drive after it.
    fn visit(
        &self,
        date: Date,
        yard: &DemoYard,
        crew: usize,
        clock: &mut ClockTime,
        work: DemoWork,
        minutes: i64,
    ) -> DemoVisit {
        let began = *clock;
        *clock = began + Minutes(minutes) + DRIVE;
        DemoVisit {
            date,
            yard: yard.id.clone(),
            crew: self.crews[crew].id.clone(),
            began,
            minutes: Minutes(minutes),
            work,
        }
    }

    fn first_looks(&self, told: &[DemoVisit]) -> Vec<DemoVisit> {
        let mut chance = Chance::new(self.seed, "demo first look");
        self.round(told, self.on(3, 28), 4, 8.0, &mut |yard| {
            let alive = yard.doubles;
            let dead = some_of(&mut chance, alive, WINTER_LOSS / (1.0 - WINTER_LOSS));
            let light = some_of(&mut chance, alive, 0.15);
            Some((DemoWork::FirstLook { alive, dead, light }, 15 + i64::from(alive + dead)))
        })
    }

    /// Strips in about 10 April and out 46 days later or more: days the outfit typed from its own label.
    fn treatments(&self, told: &[DemoVisit]) -> Vec<DemoVisit> {
        const INGREDIENT: &str = "amitraz";
        let lot = format!("DEMO-{:04}", Chance::new(self.seed, "demo lot").below(10_000));
        let mut visits = self.round(told, self.on(4, 10), 8, 8.0, &mut |yard| {
            let work = DemoWork::TreatmentIn { ingredient: INGREDIENT, colonies: yard.doubles, lot: lot.clone() };
            Some((work, 15 + i64::from(yard.doubles)))
        });
        visits.extend(self.round(told, self.on(5, 26), 8, 8.0, &mut |yard| {
            let work = DemoWork::TreatmentOut { ingredient: INGREDIENT, colonies: yard.doubles, lot: lot.clone() };
            Some((work, 15 + i64::from(yard.doubles)))
        }));
        visits
    }

    /// Eight colonies washed in every fourth yard.
    fn mite_washes(&self, told: &[DemoVisit]) -> Vec<DemoVisit> {
        let mut chance = Chance::new(self.seed, "demo mites");
        let mut number = 0;
        self.round(told, self.on(6, 3), 3, 14.0, &mut |_| {
            number += 1;
            (number % 4 == 1).then(|| {
                let share = chance.between(0.002, 0.015);
                let washes = (0..8).map(|_| wash(&mut chance, share)).collect();
                (DemoWork::MiteWash { washes }, 15 + 8 * 5)
            })
        })
    }

    fn second_boxes(&self, told: &[DemoVisit]) -> Vec<DemoVisit> {
        self.round(told, self.on(5, 2), 5, 13.0, &mut |yard| {
            Some((DemoWork::SecondBox { boxes: yard.doubles }, 15 + 2 * i64::from(yard.doubles)))
        })
    }

    fn splits(&self, told: &[DemoVisit]) -> Vec<DemoVisit> {
        let mut chance = Chance::new(self.seed, "demo splits");
        let failed: Vec<(YardId, u32)> =
            self.yards.iter().map(|yard| (yard.id.clone(), some_of(&mut chance, yard.splits, 0.17))).collect();
        let failed_in = |yard: &DemoYard| failed.iter().find(|(id, _)| *id == yard.id).map_or(0, |(_, failed)| *failed);
        let mut visits = self.round(told, self.on(5, 12), 3, 15.0, &mut |yard| {
            let made = yard.splits + failed_in(yard);
            (yard.splits > 0).then(|| (DemoWork::SplitsMade { made }, 15 + 8 * i64::from(made)))
        });
        let checks: Vec<DemoVisit> = visits
            .iter()
            .filter_map(|made| {
                let yard = self.yards.iter().find(|yard| yard.id == made.yard)?;
                let date = plus_days(made.date, 14);
                let work = DemoWork::SplitsChecked { laying: yard.splits, failed: failed_in(yard) };
                let minutes = Minutes(15 + 3 * i64::from(yard.splits));
                let (yard, crew) = (made.yard.clone(), made.crew.clone());
                (date < self.today).then_some(DemoVisit { date, yard, crew, began: made.began, minutes, work })
            })
            .collect();
        visits.extend(checks);
        visits
    }

    fn swarm_rounds(&self, told: &[DemoVisit]) -> Vec<DemoVisit> {
        let mut chance = Chance::new(self.seed, "demo swarming");
        let mut look = |yard: &DemoYard| {
            let with_cells = some_of(&mut chance, yard.doubles, 0.12);
            Some((DemoWork::SwarmRound { looked: yard.doubles, with_cells }, 15 + 3 * i64::from(yard.doubles)))
        };
        let mut all = told.to_vec();
        for first in [self.on(5, 30), self.on(6, 11)] {
            let round = self.round(&all, first, 4, 15.0, &mut look);
            all.extend(round);
        }
        all.split_off(told.len())
    }

    /// Yards put down so far: on fit days, in groups whose flow was known the evening before, the fullest yards first.
    fn put_downs(&self, told: &[DemoVisit], flow: &Flow) -> Vec<DemoVisit> {
        let mut chance = Chance::new(self.seed, "demo put-downs");
        let mut waiting: Vec<&DemoYard> = self.yards.iter().collect();
        waiting.sort_by_key(|yard| (flow.of(yard).began, core::cmp::Reverse(yard.doubles), number_of(yard)));
        let mut visits: Vec<DemoVisit> = Vec::new();
        for day in self.days.iter().filter(|day| day.date < self.today && flow::fit_for_work(day, self.place)) {
            if told.iter().any(|visit| visit.date == day.date) {
                continue;
            }
            let known = |yard: &DemoYard| {
                flow.of(yard).began.is_some_and(|began| days_from(began, day.date) >= flow::KNOWN_AFTER_DAYS)
            };
            let mut clocks = vec![ClockTime::at(9, 0); self.crews.len()];
            // A yard put down two weeks ago is due for its return, and takes the place of a put-down.
            let due_back = visits.iter().filter(|visit| days_from(visit.date, day.date) == RETURN_AFTER_DAYS).count();
            for slot in due_back..PUT_DOWNS_PER_PAIR_AND_DAY * self.crews.len() {
                let Some(position) = waiting.iter().position(|yard| known(yard)) else { break };
                let yard = waiting.remove(position);
                let crew = slot % self.crews.len();
                let (work, minutes) = put_down(&mut chance, yard);
                visits.push(self.visit(day.date, yard, crew, &mut clocks[crew], work, minutes));
            }
        }
        visits
    }

    fn returns(&self, put_downs: &[DemoVisit]) -> Vec<DemoVisit> {
        let mut chance = Chance::new(self.seed, "demo returns");
        put_downs
            .iter()
            .filter_map(|visit| {
                let date = plus_days(visit.date, RETURN_AFTER_DAYS);
                let DemoWork::PutDown { doubles, excluders, .. } = visit.work else { return None };
                let queen_above = some_of(&mut chance, doubles, 0.04);
                let work = DemoWork::Return { queen_above, supers: excluders };
                let minutes = Minutes(15 + 2 * i64::from(excluders));
                let (yard, crew) = (visit.yard.clone(), visit.crew.clone());
                (date < self.today).then_some(DemoVisit { date, yard, crew, began: visit.began, minutes, work })
            })
            .collect()
    }
}

/// 4 pair-minutes a double, 5 a split and 25 to set up: common practice, no source.
fn put_down(chance: &mut Chance, yard: &DemoYard) -> (DemoWork, i64) {
    let left = some_of(chance, yard.doubles, 0.025);
    let doubles = yard.doubles - left;
    let hives = doubles + yard.splits;
    let work = DemoWork::PutDown { doubles, splits: yard.splits, excluders: hives, thirds: hives, left };
    (work, 25 + 4 * i64::from(doubles) + 5 * i64::from(yard.splits))
}

fn number_of(yard: &DemoYard) -> u32 {
    yard.id.as_str().parse().expect("the demo's yards are numbered")
}

/// How many of `count` something happens to.
fn some_of(chance: &mut Chance, count: u32, share: f64) -> u32 {
    (0..count).map(|_| u32::from(chance.happens(share))).sum()
}

/// Bees washed and mites found in one colony.
fn wash(chance: &mut Chance, share: f64) -> (u32, u32) {
    let bees = 280 + u32::try_from(chance.below(41)).expect("at most forty");
    (bees, some_of(chance, bees, share))
}
