//! Invented scale series with labels: what the reader is tried on besides real ones.
//!
//! A hive of invented weight stands on an invented scale for a hundred days. Bees fly out and come home, nectar dries by
//! night, rain wets the lid and dries off, the load cell follows the temperature and creeps. Crews come: boxes go on and off,
//! full ones are pulled, feed is given, hives are opened and closed; a swarm leaves; the scale is set to nought. Loggers lose
//! hours, repeat rows, send them late and send nonsense. Nothing here knows how the reader works.

use jiff::civil::{Date, date};
use jiff::tz::TimeZone;
use jiff::{SignedDuration, Timestamp};
use outyard_base::days::days_from;
use outyard_base::{Chance, Kilograms};
use outyard_season::scale::score::{Label, LabelKind, ScaleScore, score_changes};
use outyard_season::scale::{ChangeKind, ScaleReading, ScaleRules, read_instants, read_series};

const DAYS: usize = 100;

/// What is special about a series.
#[expect(clippy::struct_excessive_bools, reason = "each is a flaw a series has or has not")]
#[derive(Clone, Copy, Debug)]
pub(crate) struct Condition {
    /// How a page names it.
    pub(crate) name: &'static str,
    /// Minutes between readings.
    pub(crate) step_min: i64,
    /// Scatter of one reading, kg.
    pub(crate) noise_kg: f64,
    /// What the display can show, kg.
    pub(crate) resolution_kg: f64,
    /// Swing of the load cell over a warm day, kg.
    pub(crate) swing_kg: f64,
    /// Each reading is the mean of its step.
    pub(crate) means: bool,
    /// Best gains of the flow, kg a day.
    pub(crate) flow_kg: f64,
    /// Rain on so many days out of a hundred.
    pub(crate) rain: u32,
    /// Stretches without readings.
    pub(crate) gaps: u32,
    /// Rows told twice, and rows out of order.
    pub(crate) disorder: bool,
    /// Nonsense: spikes, a stuck cell, noughts.
    pub(crate) faults: bool,
    /// Gear of one to two kilograms besides the boxes.
    pub(crate) small_gear: bool,
    /// Written on the clock of a yard whose summer time begins and ends while the series runs.
    pub(crate) clock_change: bool,
}

const PLAIN: Condition = Condition {
    name: "every 5 minutes",
    step_min: 5,
    noise_kg: 0.02,
    resolution_kg: 0.01,
    swing_kg: 0.1,
    means: false,
    flow_kg: 3.0,
    rain: 15,
    gaps: 0,
    disorder: false,
    faults: false,
    small_gear: false,
    clock_change: false,
};

/// Every condition tried.
pub(crate) const CONDITIONS: [Condition; 23] = [
    Condition { name: "every minute", step_min: 1, ..PLAIN },
    PLAIN,
    Condition { name: "every 15 minutes", step_min: 15, ..PLAIN },
    Condition { name: "every 30 minutes", step_min: 30, ..PLAIN },
    Condition { name: "every hour", step_min: 60, ..PLAIN },
    Condition { name: "every 3 hours", step_min: 180, ..PLAIN },
    Condition { name: "every 6 hours", step_min: 360, ..PLAIN },
    Condition { name: "every 12 hours", step_min: 720, ..PLAIN },
    Condition { name: "means of an hour", step_min: 60, means: true, ..PLAIN },
    Condition { name: "means of 12 hours", step_min: 720, means: true, ..PLAIN },
    Condition { name: "a tenth of a pound", resolution_kg: 0.045_359_237, noise_kg: 0.03, step_min: 15, ..PLAIN },
    Condition { name: "grams", resolution_kg: 0.001, noise_kg: 0.002, ..PLAIN },
    Condition { name: "a poor load cell", noise_kg: 0.08, resolution_kg: 0.1, swing_kg: 0.5, step_min: 15, ..PLAIN },
    Condition { name: "a flow of 7 kg a day", flow_kg: 7.0, step_min: 15, ..PLAIN },
    Condition { name: "much rain", rain: 50, step_min: 15, ..PLAIN },
    Condition { name: "every 6 hours, 7 kg a day", flow_kg: 7.0, step_min: 360, ..PLAIN },
    Condition { name: "every 12 hours, 7 kg a day", flow_kg: 7.0, step_min: 720, ..PLAIN },
    Condition { name: "every 6 hours, much rain", rain: 50, step_min: 360, ..PLAIN },
    Condition { name: "every 12 hours, much rain", rain: 50, step_min: 720, ..PLAIN },
    Condition { name: "gaps", gaps: 8, step_min: 15, ..PLAIN },
    Condition { name: "rows twice and out of order", disorder: true, step_min: 10, ..PLAIN },
    Condition { name: "sensor faults", faults: true, step_min: 10, ..PLAIN },
    Condition { name: "small gear, clock change", small_gear: true, clock_change: true, step_min: 15, ..PLAIN },
];

/// Something that moves the weight apart from bees and weather.
#[derive(Clone, Copy, Debug)]
struct Step {
    /// Hours after the first midnight.
    at_h: f64,
    kg: f64,
}

/// One invented series.
pub(crate) struct Series {
    condition: Condition,
    first: Date,
    steps: Vec<Step>,
    gains: Vec<f64>,
    flow: core::ops::Range<f64>,
    bees_out_kg: f64,
    rain: Vec<Option<(f64, f64)>>,
    warmth: Vec<f64>,
    structure_kg: f64,
    creep_kg_per_day: f64,
    /// Feed that dries off: hour given and kilograms.
    feed: Vec<(f64, f64)>,
    labels: Vec<Label>,
}

fn zone(condition: &Condition) -> TimeZone {
    if condition.clock_change { TimeZone::get("America/Winnipeg").expect("a bundled zone") } else { TimeZone::UTC }
}

impl Series {
    pub(crate) fn new(condition: Condition, seed: u64) -> Self {
        let mut chance = Chance::new(seed, "an invented series");
        // Summer time ends on 1 November 2026 in the yard of that condition.
        let first = if condition.clock_change { date(2026, 8, 10) } else { date(2026, 5, 1) };
        let begins = 20.0 + chance.between(0.0, 15.0);
        let ends = begins + chance.between(15.0, 30.0);
        let gains = (0..DAYS)
            .map(|day| {
                #[expect(clippy::cast_precision_loss, reason = "days of one series")]
                let in_flow = (begins..ends).contains(&(day as f64));
                match (in_flow, chance.happens(0.2)) {
                    (true, true) => chance.between(-0.8, 0.3),
                    (true, false) => condition.flow_kg * chance.between(0.25, 1.0),
                    (false, _) => chance.between(-0.35, 0.05),
                }
            })
            .collect();
        let mut rain = vec![None; DAYS];
        let mut warmth = vec![1.0; DAYS];
        for day in 0..DAYS {
            warmth[day] = chance.between(0.3, 1.2);
            if chance.below(100) < u64::from(condition.rain) {
                rain[day] = Some((chance.between(0.0, 22.0), chance.between(0.1, 0.7)));
            }
        }
        let mut series = Self {
            condition,
            first,
            steps: Vec::new(),
            gains,
            flow: begins..ends,
            bees_out_kg: chance.between(0.15, 0.5),
            rain,
            warmth,
            structure_kg: chance.between(35.0, 60.0),
            creep_kg_per_day: chance.between(-0.01, 0.01),
            feed: Vec::new(),
            labels: Vec::new(),
        };
        series.work(&mut chance);
        series
    }

    fn instant(&self, hour: f64) -> Timestamp {
        let zone = zone(&self.condition);
        let start = zone.to_timestamp(self.first.at(0, 0, 0, 0)).expect("a day of 2026");
        start + SignedDuration::from_secs_f64((hour * 3600.0).round())
    }

    fn label(&mut self, kind: LabelKind, from_h: f64, to_h: f64, kg: f64) {
        let (at, until) = (self.instant(from_h), self.instant(to_h));
        self.labels.push(Label { at, until, kind, kg: Some(kg), sure: true });
    }

    /// Crews and bees through the season: at most one thing on a day, each at an hour of its own.
    fn work(&mut self, chance: &mut Chance) {
        let mut days: Vec<u32> = (8..u32::try_from(DAYS).expect("few days") - 3).step_by(3).collect();
        chance.shuffle(&mut days);
        let mut days = days.into_iter();
        let mut next = || f64::from(days.next().expect("days enough"));
        for _ in 0..3 {
            let (day, kg) = (next(), chance.between(4.0, 9.5));
            self.lasting(chance, ChangeKind::BoxOn, day, kg);
        }
        for _ in 0..2 {
            let (day, kg) = (next(), -chance.between(11.0, 34.0));
            self.lasting(chance, ChangeKind::Pull, day, kg);
        }
        let (day, kg) = (next(), -chance.between(3.0, 7.0));
        self.lasting(chance, ChangeKind::BoxOff, day, kg);
        let (day, kg) = (next(), chance.between(4.0, 10.0));
        self.lasting(chance, ChangeKind::Feed, day, kg);
        if self.condition.small_gear {
            for sign in [1.0, 1.0, -1.0] {
                let (day, kg) = (next(), sign * chance.between(1.0, 2.0));
                let kind = if kg > 0.0 { ChangeKind::BoxOn } else { ChangeKind::BoxOff };
                self.lasting(chance, kind, day, kg);
            }
        }
        // A swarm: it pours out over a quarter of an hour, in the middle of the day.
        let (from, kg) = (next() * 24.0 + chance.between(10.0, 15.0), -chance.between(1.3, 3.5));
        let over_h = chance.between(0.12, 0.3);
        for part in 0..30_u32 {
            self.steps.push(Step { at_h: from + over_h * f64::from(part) / 30.0, kg: kg / 30.0 });
        }
        self.label(LabelKind::Lasting(ChangeKind::Swarm), from, from + over_h, kg);
        // With readings hours apart nobody would be sure of it.
        if self.condition.step_min > 60 {
            self.labels.last_mut().expect("just labelled").sure = false;
        }
        // The scale is set to nought: whatever stands on it.
        let from = next() * 24.0 + chance.between(8.0, 18.0);
        let kg = -self.weight_kg(from);
        self.steps.push(Step { at_h: from, kg });
        self.label(LabelKind::Lasting(ChangeKind::Rezero), from, from, kg);
        for _ in 0..8 {
            let day = next();
            self.inspection(chance, day);
        }
        self.steps.sort_by(|one, other| one.at_h.total_cmp(&other.at_h));
    }

    /// Work that leaves something: the lid off, boxes lifted, the thing itself, all put back.
    fn lasting(&mut self, chance: &mut Chance, kind: ChangeKind, day: f64, kg: f64) {
        let from = day * 24.0 + chance.between(8.0, 19.0);
        let over_h = chance.between(0.05, 0.5);
        let lid = chance.between(1.5, 4.0);
        let lifted = if chance.happens(0.5) { chance.between(8.0, 20.0) } else { 0.0 };
        self.steps.push(Step { at_h: from, kg: -lid });
        self.steps.push(Step { at_h: from + 0.2 * over_h, kg: -lifted });
        self.steps.push(Step { at_h: from + 0.5 * over_h, kg: lifted + kg });
        self.steps.push(Step { at_h: from + over_h, kg: lid });
        if kind == ChangeKind::Feed {
            self.feed.push((from + over_h, kg));
        }
        self.label(LabelKind::Lasting(kind), from, from + over_h, kg);
    }

    /// Work that leaves nothing but a few grams of comb more or less.
    fn inspection(&mut self, chance: &mut Chance, day: f64) {
        let from = day * 24.0 + chance.between(8.0, 18.0);
        let over_h = chance.between(0.1, 1.5);
        let boxes = 1 + u32::try_from(chance.below(3)).expect("few boxes");
        let mut off = 0.0;
        for number in 0..boxes {
            let kg = chance.between(2.0, 18.0);
            off += kg;
            self.steps.push(Step { at_h: from + 0.4 * over_h * f64::from(number) / f64::from(boxes), kg: -kg });
        }
        let scraped = chance.between(-0.15, 0.05);
        self.steps.push(Step { at_h: from + 0.7 * over_h, kg: 0.5 * off });
        self.steps.push(Step { at_h: from + over_h, kg: 0.5 * off + scraped });
        self.label(LabelKind::Inspection, from, from + over_h, 0.0);
    }

    /// What a perfect scale would show so many hours after the first midnight.
    fn weight_kg(&self, hour: f64) -> f64 {
        let whole = (hour / 24.0).floor();
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "days of one series")]
        let day = (whole as usize).min(DAYS - 1);
        let of_day = hour - 24.0 * whole;
        let gained: f64 = self.gains[..day].iter().sum();
        // Nectar comes in while bees fly; a part of it dries off through the whole day and night.
        let dries = 0.1 + 0.25 * self.gains[day].max(0.0);
        let flown = 0.5 - 0.5 * (core::f64::consts::PI * ((of_day - 8.0) / 11.5).clamp(0.0, 1.0)).cos();
        let today = (self.gains[day] + dries) * flown - dries * of_day / 24.0;
        let out_share = (of_day - 7.5).clamp(0.0, 1.5) / 1.5 - ((of_day - 17.0) / 3.0).clamp(0.0, 1.0);
        let flying = self.bees_out_kg * self.warmth[day].min(1.0) * out_share;
        let wet: f64 = (day.saturating_sub(1)..=day)
            .filter_map(|day| {
                let (from, kg) = self.rain[day]?;
                #[expect(clippy::cast_precision_loss, reason = "days of one series")]
                let since = hour - 24.0 * day as f64 - from;
                (since > 0.0).then(|| kg * since.min(1.0) * (-(since - 1.0).max(0.0) / 5.0).exp())
            })
            .sum();
        let swing = self.condition.swing_kg * self.warmth[day] * (core::f64::consts::TAU * (of_day - 9.0) / 24.0).sin();
        let steps: f64 = self.steps.iter().filter(|step| step.at_h <= hour).map(|step| step.kg).sum();
        let fed: f64 = self
            .feed
            .iter()
            .filter(|(from, _)| *from <= hour)
            .map(|(from, kg)| -0.16 * kg * ((hour - from) / (24.0 * 7.0)).min(1.0))
            .sum();
        self.structure_kg + gained + today - flying + wet + swing + steps + fed + self.creep_kg_per_day * hour / 24.0
    }

    /// What the logger wrote, and the labels of what it could have seen.
    pub(crate) fn readings(&self, seed: u64) -> (Vec<(Timestamp, Kilograms)>, Vec<Label>) {
        let condition = &self.condition;
        let mut chance = Chance::new(seed, "an invented logger");
        #[expect(clippy::cast_precision_loss, reason = "minutes of a step")]
        let step_h = condition.step_min as f64 / 60.0;
        let mut rows = Vec::new();
        let mut hour = chance.between(0.0, step_h);
        #[expect(clippy::cast_precision_loss, reason = "days of one series")]
        let end = 24.0 * DAYS as f64;
        while hour < end {
            let true_kg = if condition.means {
                (0..24_u32).map(|part| self.weight_kg(hour - step_h * f64::from(part) / 24.0)).sum::<f64>() / 24.0
            } else {
                self.weight_kg(hour)
            };
            let kg = true_kg + condition.noise_kg * chance.normal();
            let kg = (kg / condition.resolution_kg).round() * condition.resolution_kg;
            rows.push((self.instant(hour), Kilograms::of(kg)));
            hour += step_h;
        }
        let mut labels = self.labels.clone();
        for _ in 0..condition.gaps {
            let from = self.instant(chance.between(0.0, end));
            let to = from + SignedDuration::from_secs_f64(3600.0 * chance.between(3.0, 60.0));
            rows.retain(|row| !(from..to).contains(&row.0));
            let hour = SignedDuration::from_hours(1);
            // What happened while nobody read can be told by its kilograms at best: nobody would be sure of it.
            for label in labels.iter_mut().filter(|label| label.until + hour >= from && label.at - hour <= to) {
                label.sure = false;
            }
        }
        if condition.faults {
            nonsense(&mut rows, &mut chance);
        }
        if condition.disorder {
            for _ in 0..200 {
                let row = rows[chance.index(rows.len())];
                rows.push(row);
            }
            for _ in 0..60 {
                let (one, other) = (chance.index(rows.len()), chance.index(rows.len()));
                rows.swap(one, other);
            }
        }
        (rows, labels)
    }

    /// Whether a day lies within the flow.
    fn in_flow(&self, at: Timestamp) -> bool {
        #[expect(clippy::cast_precision_loss, reason = "days of one series")]
        let day = days_from(self.first, zone(&self.condition).to_datetime(at).date()) as f64;
        self.flow.contains(&day)
    }

    /// True net gains of the day before an instant, of its day, and of the day after, kg.
    pub(crate) fn gains_round(&self, at: Timestamp) -> [f64; 3] {
        let day = days_from(self.first, zone(&self.condition).to_datetime(at).date());
        [-1, 0, 1].map(|ahead| {
            usize::try_from(day + ahead).ok().and_then(|day| self.gains.get(day)).copied().unwrap_or(f64::NAN)
        })
    }

    /// Sure lasting labels, and how many of them no one could tell by the sum of the day without a false alarm, even knowing
    /// how much bees gain at least and at most on such a day: gain and work together are what gain alone may be.
    pub(crate) fn beyond_telling(&self, labels: &[Label]) -> (usize, usize) {
        let (mut all, mut hidden) = (0, 0);
        for label in labels.iter().filter(|label| label.sure && matches!(label.kind, LabelKind::Lasting(_))) {
            let Some(kg) = label.kg else { continue };
            let gain = self.gains_round(label.at)[1];
            // Off the flow no day gains more than 0.05 kg; a gain beyond that tells a day of flow.
            let (least, most) = if self.in_flow(label.at) { (-0.8, self.condition.flow_kg) } else { (-0.35, 0.05) };
            all += 1;
            hidden += usize::from((least..=most).contains(&(gain + kg)));
        }
        (all, hidden)
    }

    /// Reads and scores the series.
    pub(crate) fn score(&self, seed: u64) -> (ScaleScore, ScaleReading, Vec<Label>) {
        let (rows, labels) = self.readings(seed);
        let zone = zone(&self.condition);
        let rules = ScaleRules::default();
        let reading = if self.condition.clock_change {
            // As the logger writes it: times of the yard's clock, the hour of autumn twice.
            let civil: Vec<_> = rows.iter().map(|(at, mass)| (zone.to_datetime(*at), *mass)).collect();
            read_series(&civil, &zone, &rules)
        } else {
            read_instants(&rows, &zone, &rules)
        };
        (score_changes(&reading, &labels, 60 * self.condition.step_min), reading, labels)
    }
}

/// Single wild readings, readings of nought for an hour, a cell that sticks for half a day.
fn nonsense(rows: &mut [(Timestamp, Kilograms)], chance: &mut Chance) {
    for wild in [6553.5, -999.0, 0.0, 180.0, 0.0, 3.0, 95.0, 12.0] {
        let at = chance.index(rows.len());
        rows[at].1 = Kilograms::of(wild);
    }
    for _ in 0..3 {
        let at = chance.index(rows.len() - 8);
        for row in &mut rows[at..at + 6] {
            row.1 = Kilograms::of(0.0);
        }
    }
    let at = chance.index(rows.len() - 80);
    let stuck = rows[at].1;
    for row in &mut rows[at..at + 60] {
        row.1 = stuck;
    }
}

/// Score of a condition over so many series.
pub(crate) fn score_condition(condition: Condition, seeds: core::ops::Range<u64>) -> ScaleScore {
    let mut total = ScaleScore::default();
    for seed in seeds {
        total.add(Series::new(condition, seed).score(seed).0);
    }
    total
}

/// The most of the labels of a condition that the sum of a day can tell, by [`Series::beyond_telling`].
pub(crate) fn recall_at_most(condition: Condition, seeds: core::ops::Range<u64>) -> f64 {
    let (mut all, mut hidden) = (0, 0);
    for seed in seeds {
        let series = Series::new(condition, seed);
        let (labelled, lost) = series.beyond_telling(&series.readings(seed).1);
        all += labelled;
        hidden += lost;
    }
    #[expect(clippy::cast_precision_loss, reason = "a count of labels")]
    let share = (all - hidden) as f64 / all as f64;
    share
}
