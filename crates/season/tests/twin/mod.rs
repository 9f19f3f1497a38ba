//! Twin seasons: the truth is drawn from the model, the outlook sees the first half of it.
//!
//! A group of three yards stands in made-up weather; two have scales, the third has none. What the plants and colonies
//! truly are is drawn from what is known beforehand, each yard's place in its group too, and the days err as the model
//! says they do. Outlooks are made for the third yard: before the flow for its begin, in the middle of the flow for the
//! honey of three weeks and for the day its boxes are full.

use jiff::civil::{Date, date};
use outyard_base::days::{days_from, each_day, plus_days};
use outyard_base::{
    Celsius, Chance, DateRange, Kilograms, KilogramsPerDay, KilometresPerHour, Megajoules, Millimetres, Place, Range,
    Share,
};
use outyard_season::fill::{FillState, Room, fill_day, full_after};
use outyard_season::flow::{no_scale_yet, usual_upkeep};
use outyard_season::flow_state::flow_spells;
use outyard_season::scale::Night;
use outyard_season::{
    DayWeather, FlowRule, ForagePart, LearnRules, MemberRules, Members, OutlookInput, PlantTable, ScaleYard,
    WeatherSeries, YardForage, draw_members, learn_group, outlook_learnt,
};

const SINCE: Date = date(2026, 6, 1);
const BEFORE_THE_FLOW: Date = date(2026, 6, 24);
const IN_THE_FLOW: Date = date(2026, 7, 10);
const LAST: Date = date(2026, 9, 5);
const SUM_DAYS: usize = 21;

/// What one season tells.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Twin {
    /// The honey of three weeks lay within its 80 % range.
    pub(crate) sum_covered: bool,
    /// The day the boxes were full lay within its range.
    pub(crate) full_covered: bool,
    /// The begin of the flow lay within its range.
    pub(crate) begin_covered: bool,
    /// Error of the likely honey of three weeks, kg, and that of the last three days carried on.
    pub(crate) sum_error_kg: f64,
    pub(crate) sum_error_by_thumb_kg: f64,
    /// Error of the likely full day, d, and that of the last three days carried on.
    pub(crate) full_error_days: f64,
    pub(crate) full_error_by_thumb_days: f64,
    /// Error of the likely begin, d, and that of seeding and 50 days; `None` when no flow began.
    pub(crate) begin_error_days: Option<f64>,
    pub(crate) begin_error_by_thumb_days: Option<f64>,
    /// How far yards stand apart as learnt.
    pub(crate) spread: f64,
}

/// Made-up weather of the plains, another for each seed.
fn weather(seed: u64, last: Date) -> WeatherSeries {
    let mut chance = Chance::new(seed, "made-up weather of a twin");
    let mut departure = 0.0;
    let days = each_day(date(2008, 1, 1), last)
        .map(|date| {
            departure = 0.75 * departure + 2.5 * chance.normal();
            let wave = -(core::f64::consts::TAU * (f64::from(date.day_of_year()) - 20.0) / 365.25).cos();
            let mean = 4.5 + 15.5 * wave + departure;
            let rain = if chance.happens(0.25) { 8.0 * chance.uniform() } else { 0.0 };
            DayWeather {
                rain: Some(Millimetres::of(rain)),
                wind: Some(KilometresPerHour::of(6.0 + 12.0 * chance.uniform())),
                sun: Some(Megajoules::of(13.0 + 10.0 * wave.max(-0.8))),
                ..DayWeather::seen(date, Celsius::of(mean - 6.5), Celsius::of(mean + 6.5))
            }
        })
        .collect();
    WeatherSeries::new(days).0
}

fn until(series: &WeatherSeries, today: Date) -> WeatherSeries {
    WeatherSeries::new(series.days().iter().filter(|day| day.date < today).copied().collect()).0
}

fn forage(yard: usize) -> YardForage {
    let part = |code: &str, weight: f64, seeding| ForagePart {
        plant: code.parse().expect("a code of the table"),
        weight: Share::of(weight),
        seeding,
    };
    let canola = [0.6, 0.4, 0.5][yard];
    YardForage {
        plants: vec![
            part("canola", canola, Some(date(2026, 5, 15))),
            part("white-sweet-clover", 0.8 - canola, None),
            part("alfalfa", 0.2, None),
        ],
    }
}

fn places() -> [Place; 3] {
    [(50.0, -100.0), (50.1, -100.1), (49.9, -99.9)].map(|(lat, lon)| Place::new(lat, lon).expect("on the plains"))
}

fn input<'a>(
    history: &'a WeatherSeries,
    forage: &'a YardForage,
    plants: &'a PlantTable,
    nights: &'a [(Date, KilogramsPerDay)],
    today: Date,
    place: Place,
    seed: u64,
) -> OutlookInput<'a> {
    OutlookInput {
        history,
        forecast: &[],
        today,
        horizon_days: 50,
        member_count: 100,
        seed,
        rules: MemberRules::default(),
        place,
        forage,
        plants,
        scale_factor: no_scale_yet(),
        upkeep: usual_upkeep(),
        flow_rule: FlowRule::default(),
        nights,
    }
}

fn nights(gains: &[f64], today: Date) -> Vec<Night> {
    let seen = usize::try_from(days_from(SINCE, today)).expect("after the first day");
    (0..)
        .zip(&gains[..seen])
        .map(|(ahead, gain)| {
            let gain = KilogramsPerDay::of(*gain);
            Night { date: plus_days(SINCE, ahead), net_gain: gain, range: Range::exact(gain) }
        })
        .collect()
}

fn apart(one: Option<Date>, other: Option<Date>) -> f64 {
    let ends = |date: Option<Date>| days_from(SINCE, date.unwrap_or(LAST));
    #[expect(clippy::cast_precision_loss, reason = "days of a season")]
    let apart = (ends(one) - ends(other)) as f64;
    apart
}

/// Whether the truth lies between the 10 and the 90 % point of the members. Days are whole and "never" is one of them, so
/// the place of a truth that members share is drawn among them (Czado, Gneiting & Held 2009).
fn holds(members: &[Option<Date>], truth: Option<Date>, chance: &mut Chance) -> bool {
    let late = |date: &Option<Date>| date.unwrap_or(Date::MAX);
    let before = members.iter().filter(|date| late(date) < late(&truth)).count();
    let same = members.iter().filter(|date| late(date) == late(&truth)).count();
    #[expect(clippy::cast_precision_loss, reason = "a count of members")]
    let place = (before as f64 + chance.uniform() * (same as f64 + 1.0)) / (members.len() as f64 + 1.0);
    (0.1..=0.9).contains(&place)
}

/// One twin season with so many draws and members.
pub(crate) fn twin(seed: u64, count: usize) -> Twin {
    let plants = PlantTable::built_in();
    let (whole, places) = (weather(seed, LAST), places());
    let forages = [0, 1, 2].map(forage);
    let before = until(&whole, SINCE);
    // The truth: one draw of what is known beforehand, with the weather that came.
    let true_days = whole.between(SINCE, LAST).to_vec();
    let true_members = Members { first: SINCE, days: vec![true_days] };
    let as_known: Vec<OutlookInput<'_>> =
        (0..3).map(|yard| input(&before, &forages[yard], &plants, &[], SINCE, places[yard], seed)).collect();
    let unseen: Vec<ScaleYard<'_>> = as_known.iter().map(|input| ScaleYard { input: *input, nights: &[] }).collect();
    let truth =
        learn_group(&unseen, SINCE, &LearnRules::default(), 4, seed ^ 0x5eed_0000).expect("plants of the table");
    let gains: Vec<Vec<f64>> = (0..3)
        .map(|yard| {
            let (outlook, _) =
                outlook_learnt(&as_known[yard], &true_members, &truth, Some(yard)).expect("plants of the table");
            outlook.gain[0].clone()
        })
        .collect();
    let true_gains = &gains[2];
    let at = |today: Date| usize::try_from(days_from(SINCE, today)).expect("after the first day");

    // The outlook of the third yard, from what the two scales showed until then.
    let look = |today: Date| {
        let history = until(&whole, today);
        let read: Vec<Vec<Night>> = (0..2).map(|yard| nights(&gains[yard], today)).collect();
        let inputs: Vec<OutlookInput<'_>> =
            (0..3).map(|yard| input(&history, &forages[yard], &plants, &[], today, places[yard], seed)).collect();
        let scales: Vec<ScaleYard<'_>> =
            (0..2).map(|yard| ScaleYard { input: inputs[yard], nights: &read[yard] }).collect();
        let learnt = learn_group(&scales, SINCE, &LearnRules::default(), count, seed).expect("plants of the table");
        let members = draw_members(&history, today, &[], 50, count, seed).expect("years enough");
        let (outlook, _) = outlook_learnt(&inputs[2], &members, &learnt, None).expect("plants of the table");
        (outlook, learnt.spread().likely)
    };
    let mut twin = Twin::default();
    let mut ties = Chance::new(seed, "ties of a twin");

    // In the flow: honey of three weeks, and boxes that are full.
    let (outlook, spread) = look(IN_THE_FLOW);
    twin.spread = spread;
    let ahead = &true_gains[at(IN_THE_FLOW)..];
    let true_sum: f64 = ahead[..SUM_DAYS].iter().sum();
    let sums: Vec<f64> = outlook.gain.iter().map(|gain| gain[..SUM_DAYS].iter().sum()).collect();
    let sum = Range::of_sample(&sums).expect("members");
    twin.sum_covered = (sum.low..=sum.high).contains(&true_sum);
    twin.sum_error_kg = (sum.likely - true_sum).abs();
    let lately: f64 =
        gains[..2].iter().map(|gains| gains[at(IN_THE_FLOW) - 3..at(IN_THE_FLOW)].iter().sum::<f64>()).sum::<f64>()
            / 6.0;
    #[expect(clippy::cast_precision_loss, reason = "three weeks")]
    let carried_on = lately * SUM_DAYS as f64;
    twin.sum_error_by_thumb_kg = (carried_on - true_sum).abs();
    let room = Room::new(Kilograms::of(24.0), Kilograms::of(24.0));
    #[expect(clippy::cast_possible_truncation, reason = "days of a season")]
    let date_of = |days: f64| plus_days(IN_THE_FLOW, (days.min(1000.0)).floor() as i64);
    let true_full = fill_day(&room, FillState::default(), &ahead[..50]).map(date_of);
    let full_members: Vec<Option<Date>> =
        outlook.gain.iter().map(|gain| fill_day(&room, FillState::default(), gain).map(date_of)).collect();
    let full = DateRange::of_members(full_members.iter().copied());
    twin.full_covered = holds(&full_members, true_full, &mut ties);
    twin.full_error_days = apart(full.likely, true_full).abs();
    let thumb = full_after(&room, KilogramsPerDay::of(lately)).map(date_of).filter(|date| *date < LAST);
    twin.full_error_by_thumb_days = apart(thumb, true_full).abs();

    // Before the flow: its begin.
    let begin = |gains: &[f64]| {
        let nights: Vec<(Date, KilogramsPerDay)> = (0..50)
            .zip(gains)
            .map(|(ahead, gain)| (plus_days(BEFORE_THE_FLOW, ahead), KilogramsPerDay::of(*gain)))
            .collect();
        flow_spells(&nights, FlowRule::default()).first().map(|spell| spell.began)
    };
    let (outlook, _) = look(BEFORE_THE_FLOW);
    let begins: Vec<Option<Date>> = outlook.gain.iter().map(|gain| begin(gain)).collect();
    let true_begin = begin(&true_gains[at(BEFORE_THE_FLOW)..]);
    twin.begin_covered = holds(&begins, true_begin, &mut ties);
    if let Some(begun) = true_begin {
        twin.begin_error_days = Some(apart(outlook.flow_begins.likely, Some(begun)).abs());
        twin.begin_error_by_thumb_days = Some(apart(Some(plus_days(date(2026, 5, 15), 50)), Some(begun)).abs());
    }
    twin
}

/// Share of the seasons for which something held.
pub(crate) fn share(twins: &[Twin], held: impl Fn(&Twin) -> bool) -> f64 {
    #[expect(clippy::cast_precision_loss, reason = "a count of seasons")]
    let share = twins.iter().filter(|twin| held(twin)).count() as f64 / twins.len().max(1) as f64;
    share
}

/// Middle of a figure over the seasons.
pub(crate) fn middle(twins: &[Twin], figure: impl Fn(&Twin) -> Option<f64>) -> f64 {
    let all: Vec<f64> = twins.iter().filter_map(figure).collect();
    Range::of_sample(&all).map_or(f64::NAN, |range| range.likely)
}
