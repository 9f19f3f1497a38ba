//! The outfit's own rates, learnt from its closed tallies: minutes of the setup and of each job and kind, the share of
//! queens missed at a put-down, boxes pulled in a day. Few tallies leave the default nearly as it is; many replace it.
//!
//! Minutes are a linear model in parts of what the job book expects: a visit that took `M` minutes where the book says
//! `E = setup + sum of parts` gives `M / E = sum of x_p theta_p + noise`, where `x_p` is the share of part `p` in `E` and
//! `theta_p` the outfit's rate over the book's. Its answer is that of Bayesian regression with a normal-inverse-gamma
//! prior around 1 (Gelman and others `[BDA3]`, sections 14.2 and 14.8): so tallies of several jobs teach all of them, each as
//! far as it can be told apart. For one part alone it is `theta = (k + sum of ratios) / (k + n)`: the book counts as `k`
//! visits. The share of missed queens is a beta-binomial (the same, section 2.4).
//!
//! | symbol | name in code | meaning | unit | value | source |
//! |---|---|---|---|---|---|
//! | k | `BOOK_COUNTS_AS_VISITS` | visits the job book's rate counts as | visits | 2 | assumed |
//! | s | `SPREAD` | how far visits scatter around the outfit's own rate, before any is known | of 1 | 0.30 | assumed |
//! | v | `SPREAD_COUNTS_AS_VISITS` | visits that guess counts as | visits | 8 | assumed |
//! | w | `BOOK_COUNTS_AS_COLONIES` | colonies the book's share of missed queens counts as | colonies | 50 | assumed |
//! | | `RATIO_MOST` | past this many times the book, or below one part of it, a visit is set aside | times | 4 | assumed |
//! | | `DAYS_BACK` | how old a tally may be | d | 1095 | assumed |
//! | | `HOURS_A_DAY` | hours at the hives in a day of pulling, for the default of boxes a day | h | 8 | assumed |

use std::collections::BTreeMap;

use jiff::civil::Date;
use outyard_base::days::{days_from, plus_days};
use outyard_base::{JobCode, Range, Share};
use outyard_book::outfit::{Outfit, Visit, Yard};
use outyard_trade::jobbook::{Job, JobBook};
use outyard_trade::signs::{AboveSeen, CombSeen};
use outyard_trade::{ClockStart, Kind, KindCounts};

/// Visits the job book's rate counts as; assumed.
const BOOK_COUNTS_AS_VISITS: f64 = 2.0;
/// How far visits scatter around the outfit's own rate, before any is known; assumed.
const SPREAD: f64 = 0.30;
/// Visits that guess counts as; assumed.
const SPREAD_COUNTS_AS_VISITS: f64 = 8.0;
/// Colonies the book's share of missed queens counts as; assumed.
const BOOK_COUNTS_AS_COLONIES: f64 = 50.0;
/// Past this many times the book, or below one part of it, a visit tells of something else; assumed.
const RATIO_MOST: f64 = 4.0;
/// How old a tally may be, days; assumed.
const DAYS_BACK: i64 = 1095;
/// Hours at the hives in a day of pulling; assumed.
const HOURS_A_DAY: f64 = 8.0;
/// The 90 % point of the normal distribution.
const NORMAL_90: f64 = 1.281_551_565_5;
/// Jobs that look for a queen above the excluder.
const LOOKS_ABOVE: [&str; 2] = ["egg-test", "open-brood-test"];
/// Jobs that pull honey.
const PULLS: [&str; 2] = ["pull", "last-pull"];

/// A rate with what it was before and how much it rests on.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Learnt {
    /// What the job book says.
    pub default: f64,
    /// The outfit's own, 10 to 90 %.
    pub own: Range<f64>,
    /// Visits, colonies or days it rests on.
    pub n: usize,
    /// The first of them.
    pub since: Date,
}

/// Minutes of a pair at one colony.
#[derive(Clone, Debug, PartialEq)]
pub struct OwnMinutes {
    /// The job.
    pub job: JobCode,
    /// The kind of colony.
    pub kind: Kind,
    /// The rate, minutes.
    pub rate: Learnt,
}

/// Part of the colonies whose queen was missed at a put-down and found above the excluder.
#[derive(Clone, Debug, PartialEq)]
pub struct OwnMissed {
    /// The way of putting down.
    pub job: JobCode,
    /// The share, of 1; `n` counts colonies looked at.
    pub rate: Learnt,
}

/// All that was learnt.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Rates {
    /// Minutes at a yard before and after the colonies.
    pub setup: Option<Learnt>,
    /// Minutes by job and kind, as far as any visit tells of them.
    pub minutes: Vec<OwnMinutes>,
    /// Queens missed, by the way of putting down.
    pub missed: Vec<OwnMissed>,
    /// Boxes a pair pulls in a day.
    pub boxes_a_day: Option<Learnt>,
    /// Visits that tell minutes and hands.
    pub visits: usize,
    /// Visits that tell no minutes, no hands or no job of the book.
    pub silent: usize,
    /// Visits set aside because they took a multiple of what the book says, or a small part.
    pub set_aside: usize,
}

impl Rates {
    /// The job book with the outfit's own rates in it. With nothing learnt it is the same.
    pub fn laid_over(&self, jobs: &JobBook) -> JobBook {
        let mut own = jobs.clone();
        if let Some(setup) = &self.setup {
            own.visit.setup_pair_minutes = setup.own.likely;
        }
        for rate in &self.minutes {
            if let Some(minutes) = own.jobs.get_mut(&rate.job).and_then(|job| job.pair_minutes.get_mut(&rate.kind)) {
                *minutes = rate.rate.own.likely;
            }
        }
        for missed in &self.missed {
            if let Some(job) = own.jobs.get_mut(&missed.job) {
                job.fails = Share::of(missed.rate.own.likely);
            }
        }
        own
    }
}

/// Learns from all visits up to this morning.
pub fn learn(outfit: &Outfit, jobs: &JobBook, today: Date) -> Rates {
    let first = plus_days(today, -DAYS_BACK);
    let recent = |visit: &&Visit| visit.on >= first && visit.on <= today;
    let mut model = Model::default();
    let mut rates = Rates::default();
    for visit in outfit.yards.values().flat_map(|yard| &yard.visits).filter(recent) {
        match told(visit, jobs) {
            None => rates.silent += 1,
            Some((_, ratio)) if !(1.0 / RATIO_MOST..=RATIO_MOST).contains(&ratio) => rates.set_aside += 1,
            Some((parts, ratio)) => model.add(visit.on, parts, ratio),
        }
    }
    rates.visits = model.rows.len();
    for (part, theta, n, since) in model.solve() {
        match part {
            Part::Setup => {
                let default = jobs.visit.setup_pair_minutes;
                rates.setup = Some(Learnt { default, own: theta.map(|theta| default * theta), n, since });
            }
            Part::At(job, kind) => {
                let default = jobs.jobs[&job].pair_minutes[&kind];
                let rate = Learnt { default, own: theta.map(|theta| default * theta), n, since };
                rates.minutes.push(OwnMinutes { job, kind, rate });
            }
        }
    }
    rates.missed = missed(outfit, jobs, first, today);
    rates.boxes_a_day = boxes_a_day(outfit, jobs, first, today);
    rates
}

/// A part of what the book expects of a visit.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Part {
    Setup,
    At(JobCode, Kind),
}

/// The minutes the book expects of each part of a visit, and what the visit took over their sum.
fn told(visit: &Visit, jobs: &JobBook) -> Option<(BTreeMap<Part, f64>, f64)> {
    let tally = &visit.tally;
    let took = tally.minutes.filter(|minutes| minutes.0 > 0)?;
    let hands = tally.hands.filter(|hands| *hands > 0)?;
    let factor = jobs.hands_factor(hands);
    let mut parts: BTreeMap<Part, f64> = BTreeMap::new();
    for line in &tally.jobs {
        let job = jobs.jobs.get(&line.job)?;
        for (kind, minutes) in minutes_by_kind(job, &line.done) {
            *parts.entry(Part::At(job.code.clone(), kind)).or_default() += minutes * factor;
        }
    }
    let colonies: f64 = parts.values().sum();
    if colonies <= 0.0 {
        return None;
    }
    if jobs.visit.setup_pair_minutes > 0.0 {
        parts.insert(Part::Setup, jobs.visit.setup_pair_minutes);
    }
    let expected: f64 = parts.values().sum();
    for minutes in parts.values_mut() {
        *minutes /= expected;
    }
    #[expect(clippy::cast_precision_loss, reason = "minutes of a day")]
    let ratio = took.0 as f64 / expected;
    Some((parts, ratio))
}

/// As [`Job::service_pair_minutes`], kind by kind.
fn minutes_by_kind(job: &Job, done: &KindCounts) -> Vec<(Kind, f64)> {
    let of_kind = |kind: Kind, count: u32| job.service_pair_minutes(&KindCounts::of(&[(kind, count)]));
    let alone: Vec<(Kind, f64)> = job.colonies(done).iter().map(|(kind, count)| (kind, of_kind(kind, count))).collect();
    let sum: f64 = alone.iter().map(|(_, minutes)| minutes).sum();
    // A sample is spread over the kinds.
    let scale = if sum > 0.0 { job.service_pair_minutes(done) / sum } else { 0.0 };
    alone.into_iter().map(|(kind, minutes)| (kind, minutes * scale)).filter(|(_, minutes)| *minutes > 0.0).collect()
}

/// Visits as rows of a regression.
#[derive(Default)]
struct Model {
    rows: Vec<(BTreeMap<Part, f64>, f64)>,
    seen: BTreeMap<Part, (usize, Date)>,
}

impl Model {
    fn add(&mut self, on: Date, parts: BTreeMap<Part, f64>, ratio: f64) {
        for part in parts.keys() {
            let seen = self.seen.entry(part.clone()).or_insert((0, on));
            *seen = (seen.0 + 1, seen.1.min(on));
        }
        self.rows.push((parts, ratio));
    }

    /// Each part with its rate over the book's.
    fn solve(self) -> Vec<(Part, Range<f64>, usize, Date)> {
        let names: Vec<&Part> = self.seen.keys().collect();
        let size = names.len();
        let mut normal = vec![vec![0.0; size]; size];
        let mut right = vec![BOOK_COUNTS_AS_VISITS; size];
        #[expect(clippy::cast_precision_loss, reason = "a handful of jobs")]
        let mut squares = BOOK_COUNTS_AS_VISITS * size as f64;
        for (at, row) in normal.iter_mut().enumerate() {
            row[at] = BOOK_COUNTS_AS_VISITS;
        }
        for (parts, ratio) in &self.rows {
            let shares: Vec<f64> = names.iter().map(|name| parts.get(name).copied().unwrap_or(0.0)).collect();
            for (left, share) in shares.iter().enumerate() {
                for (right, other) in shares.iter().enumerate() {
                    normal[left][right] += share * other;
                }
                right[left] += share * ratio;
            }
            squares += ratio * ratio;
        }
        let inverse = inverse_of(normal);
        let theta: Vec<f64> =
            inverse.iter().map(|row| row.iter().zip(&right).map(|(left, right)| left * right).sum()).collect();
        let explained: f64 = theta.iter().zip(&right).map(|(theta, right)| theta * right).sum();
        #[expect(clippy::cast_precision_loss, reason = "visits of some years")]
        let weight = SPREAD_COUNTS_AS_VISITS + self.rows.len() as f64;
        let variance = (SPREAD_COUNTS_AS_VISITS * SPREAD * SPREAD + (squares - explained).max(0.0)) / weight;
        let point = student_90(weight);
        self.seen
            .iter()
            .enumerate()
            .map(|(at, (part, (n, since)))| {
                let half = point * (variance * inverse[at][at]).max(0.0).sqrt();
                let held = |theta: f64| theta.clamp(1.0 / RATIO_MOST, RATIO_MOST);
                let range =
                    Range { low: held(theta[at] - half), likely: held(theta[at]), high: held(theta[at] + half) };
                (part.clone(), range, *n, *since)
            })
            .collect()
    }
}

/// The 90 % point of Student's distribution by its expansion in the degrees of freedom (Abramowitz and Stegun [AS1964],
/// 26.7.5, three terms); from 8 degrees on right to 0.001.
fn student_90(degrees: f64) -> f64 {
    let z = NORMAL_90;
    let first = (z.powi(3) + z) / 4.0;
    let second = (5.0 * z.powi(5) + 16.0 * z.powi(3) + 3.0 * z) / 96.0;
    let third = (3.0 * z.powi(7) + 19.0 * z.powi(5) + 17.0 * z.powi(3) - 15.0 * z) / 384.0;
    z + first / degrees + second / degrees.powi(2) + third / degrees.powi(3)
}

/// The inverse of a symmetric matrix whose diagonal the prior keeps away from nought: plain elimination is safe.
fn inverse_of(mut matrix: Vec<Vec<f64>>) -> Vec<Vec<f64>> {
    let size = matrix.len();
    let mut inverse: Vec<Vec<f64>> =
        (0..size).map(|row| (0..size).map(|column| f64::from(u8::from(row == column))).collect()).collect();
    for pivot in 0..size {
        let scale = matrix[pivot][pivot];
        for column in 0..size {
            matrix[pivot][column] /= scale;
            inverse[pivot][column] /= scale;
        }
        let (pivot_row, pivot_inverse) = (matrix[pivot].clone(), inverse[pivot].clone());
        for row in (0..size).filter(|row| *row != pivot) {
            let times = matrix[row][pivot];
            for column in 0..size {
                matrix[row][column] -= times * pivot_row[column];
                inverse[row][column] -= times * pivot_inverse[column];
            }
        }
    }
    inverse
}

/// Colonies looked at above the excluder, and queens found there, by the way they were put down. A look counts when its
/// tally tells what every comb showed; one that tells no sign says nothing of what was not found.
fn missed(outfit: &Outfit, jobs: &JobBook, first: Date, today: Date) -> Vec<OwnMissed> {
    let mut looks: BTreeMap<JobCode, (usize, usize, Date)> = BTreeMap::new();
    for yard in outfit.yards.values() {
        for visit in yard.visits.iter().filter(|visit| visit.on >= first && visit.on <= today) {
            let looked = visit.tally.jobs.iter().any(|line| LOOKS_ABOVE.contains(&line.job.as_str()));
            let Some((day0, job)) = put_down_before(yard, visit.on, jobs) else { continue };
            let above = visit.tally.signs.iter().filter_map(|sign| match CombSeen::read(sign)? {
                CombSeen::Above(seen) => Some(seen),
                CombSeen::Below(_) => None,
            });
            for seen in above.filter(|_| looked) {
                let (from, to) = CombSeen::Above(seen).counts();
                let age = days_from(day0, visit.on);
                if age < from || to.is_some_and(|to| age > to) {
                    continue;
                }
                let look = looks.entry(job.clone()).or_insert((0, 0, visit.on));
                let found = matches!(seen, AboveSeen::Eggs | AboveSeen::OpenLarvae);
                *look = (look.0 + 1, look.1 + usize::from(found), look.2.min(visit.on));
            }
        }
    }
    let mut all = Vec::new();
    for (job, (n, found, since)) in looks {
        let default = jobs.jobs[&job].fails.get();
        #[expect(clippy::cast_precision_loss, reason = "colonies of an outfit")]
        let (colonies, queens) = (n as f64, found as f64);
        let yes = BOOK_COUNTS_AS_COLONIES * default + queens;
        let no = BOOK_COUNTS_AS_COLONIES * (1.0 - default) + colonies - queens;
        let (low, high) = beta_range(yes, no);
        let likely = yes / (yes + no);
        let own = Range { low: low.min(likely), likely, high: high.max(likely) };
        all.push(OwnMissed { job, rate: Learnt { default, own, n, since } });
    }
    all
}

/// The last put-down of a yard before a day, and the job by which it was made.
fn put_down_before(yard: &Yard, day: Date, jobs: &JobBook) -> Option<(Date, JobCode)> {
    let puts_down = |code: &JobCode| {
        jobs.jobs
            .get(code)
            .is_some_and(|job| job.starts.contains(&ClockStart::ExcluderUnderBrood) && job.fails.get() > 0.0)
    };
    let mut before = yard.visits.iter().rev().filter(|visit| visit.on < day);
    before.find_map(|visit| {
        let line = visit.tally.jobs.iter().find(|line| puts_down(&line.job))?;
        Some((visit.on, line.job.clone()))
    })
}

/// The 10 and 90 % points of a beta distribution, by adding up its density over the square root of the share, where it
/// has no pole for half a count or more.
fn beta_range(yes: f64, no: f64) -> (f64, f64) {
    const STEPS: u32 = 4000;
    let at = |step: u32| (f64::from(step) + 0.5) / f64::from(STEPS);
    let log = |root: f64| (2.0 * yes - 1.0) * root.ln() + (no - 1.0) * (-root * root).ln_1p();
    let most = (0..STEPS).map(|step| log(at(step))).fold(f64::NEG_INFINITY, f64::max);
    let density: Vec<f64> = (0..STEPS).map(|step| (log(at(step)) - most).exp()).collect();
    let all: f64 = density.iter().sum();
    let point = |share: f64| {
        let mut sum = 0.0;
        for (step, part) in (0..STEPS).zip(&density) {
            if sum + part >= share * all {
                let root = (f64::from(step) + (share * all - sum) / part) / f64::from(STEPS);
                return root * root;
            }
            sum += part;
        }
        1.0
    };
    (point(0.1), point(0.9))
}

/// Boxes pulled in a day by a pair: the boxes of one truck (or of one device, where no truck is told) on one day.
fn boxes_a_day(outfit: &Outfit, jobs: &JobBook, first: Date, today: Date) -> Option<Learnt> {
    let pull = jobs.jobs.values().find(|job| job.code.as_str() == PULLS[0])?;
    let boxes_each =
        pull.gear_home.iter().find(|need| jobs.gear.get(&need.gear).is_some_and(|gear| gear.holds_deeps > 0.0))?.count;
    let minutes = pull.pair_minutes.values().copied().fold(f64::INFINITY, f64::min);
    let default = boxes_each / minutes * 60.0 * HOURS_A_DAY;
    let mut days: BTreeMap<(Date, String), f64> = BTreeMap::new();
    for visit in outfit.yards.values().flat_map(|yard| &yard.visits) {
        let tally = &visit.tally;
        let pulled = tally.jobs.iter().any(|line| PULLS.contains(&line.job.as_str()));
        let (true, Some(hands)) =
            (pulled && visit.on >= first && visit.on <= today, tally.hands.filter(|hands| *hands > 0))
        else {
            continue;
        };
        let who = tally.truck.as_ref().map_or_else(|| visit.device.to_string(), ToString::to_string);
        #[expect(clippy::cast_precision_loss, reason = "boxes of a day")]
        let boxes = tally.boxes_off.total() as f64 * 2.0 / f64::from(hands);
        *days.entry((visit.on, who)).or_default() += boxes;
    }
    days.retain(|_, boxes| *boxes > 0.0);
    let since = days.keys().next()?.0;
    let mut model = Model::default();
    for ((on, _), boxes) in days {
        model.add(on, BTreeMap::from([(Part::Setup, 1.0)]), boxes / default);
    }
    let (_, theta, n, _) = model.solve().into_iter().next()?;
    Some(Learnt { default, own: theta.map(|theta| default * theta), n, since })
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::Timestamp;
    use jiff::civil::date;
    use outyard_base::{Chance, Minutes};
    use outyard_book::outfit::fold;
    use outyard_book::{Entry, EntryId, Fact, JobDone, Tally};

    const TODAY: Date = date(2026, 9, 1);

    struct Told {
        yard: u32,
        on: Date,
        jobs: Vec<(&'static str, Kind, u32)>,
        minutes: Option<i64>,
        hands: Option<u32>,
        signs: Vec<&'static str>,
        boxes_off: u32,
    }

    fn visit(yard: u32, on: Date, jobs: &[(&'static str, Kind, u32)], minutes: i64) -> Told {
        Told { yard, on, jobs: jobs.to_vec(), minutes: Some(minutes), hands: Some(2), signs: Vec::new(), boxes_off: 0 }
    }

    fn learnt(visits: &[Told], jobs: &JobBook) -> Rates {
        let entries: Vec<Entry> = (0_u64..)
            .zip(visits)
            .map(|(at, told)| {
                let mut tally = Tally::new(told.yard.to_string().parse().unwrap());
                tally.jobs = told
                    .jobs
                    .iter()
                    .map(|(job, kind, count)| JobDone {
                        job: job.parse().unwrap(),
                        done: KindCounts::of(&[(*kind, *count)]),
                        undone: KindCounts::NONE,
                    })
                    .collect();
                tally.minutes = told.minutes.map(Minutes);
                tally.hands = told.hands;
                tally.signs = told.signs.iter().map(|sign| (*sign).to_owned()).collect();
                tally.boxes_off.set("deep".parse().unwrap(), told.boxes_off);
                let written = Timestamp::from_second(1_780_000_000 + i64::try_from(at).unwrap()).unwrap();
                let mut name = [0; 10];
                name[..8].copy_from_slice(&at.to_be_bytes());
                let id = EntryId::new(written, name);
                Entry::new(id, "phone".parse().unwrap(), "Ana", told.on, written, Fact::VisitClosed(tally))
            })
            .collect();
        learn(&fold(&entries), jobs, TODAY)
    }

    fn minutes_of(rates: &Rates, job: &str) -> Learnt {
        rates.minutes.iter().find(|rate| rate.job.as_str() == job).unwrap().rate
    }

    #[test]
    fn without_tallies_nothing_changes() {
        let jobs = JobBook::standard();
        let rates = learnt(&[], &jobs);
        assert_eq!((rates.laid_over(&jobs) == jobs, rates.visits), (true, 0));
        let mut dumb = visit(1, date(2026, 7, 3), &[("pull", Kind::Single, 20)], 90);
        dumb.hands = None;
        let rates = learnt(&[dumb], &jobs);
        assert_eq!((rates.laid_over(&jobs) == jobs, rates.silent), (true, 1));
    }

    // By hand: 4 visits at 1.5 times the book, no setup: (2 + 4 x 1.5) / (2 + 4) = 4/3 of 4 minutes.
    #[test]
    fn one_rate_alone_is_the_plain_shrunken_mean() {
        let mut jobs = JobBook::standard();
        jobs.visit.setup_pair_minutes = 0.0;
        let four: Vec<Told> =
            (1..=4).map(|yard| visit(yard, date(2026, 7, 3), &[("single-down-blow", Kind::Double, 25)], 150)).collect();
        let rate = minutes_of(&learnt(&four, &jobs), "single-down-blow");
        assert!((rate.own.likely - 16.0 / 3.0).abs() < 1e-9, "{rate:?}");
        assert_eq!((rate.n, rate.since, rate.default), (4, date(2026, 7, 3), 4.0));
        // Spread by hand: the residual sum is 6/6 x 4 ... = 2 x 4 / 6 x 0.25; Student with 12 degrees has 1.356.
        let residual: f64 = 2.0 * 4.0 / 6.0 * 0.25;
        let half = 1.356 * ((8.0 * 0.09 + residual) / 12.0 / 6.0).sqrt() * 4.0;
        assert!((rate.own.high - rate.own.likely - half).abs() < 1e-3, "{rate:?} {half}");
    }

    // By hand: 3 visits of 25 doubles, 125 minutes by the book (25 + 100), 150 taken: shares 0.2 and 0.8, ratio 1.2.
    // A = [[2.12, 0.48], [0.48, 3.92]], b = [2.72, 4.88], det 8.08: setup 8.32 / 8.08, work 9.04 / 8.08.
    #[test]
    fn setup_and_work_are_told_apart_as_by_hand() {
        let jobs = JobBook::standard();
        let visits: Vec<Told> =
            (1..=3).map(|yard| visit(yard, date(2026, 7, 3), &[("single-down-blow", Kind::Double, 25)], 150)).collect();
        let rates = learnt(&visits, &jobs);
        assert!((rates.setup.unwrap().own.likely - 25.0 * 8.32 / 8.08).abs() < 1e-9);
        assert!((minutes_of(&rates, "single-down-blow").own.likely - 4.0 * 9.04 / 8.08).abs() < 1e-9);
        let laid = rates.laid_over(&jobs);
        assert!(laid.visit.setup_pair_minutes > 25.0);
        assert_eq!(
            laid.jobs["add-boxes".parse::<JobCode>().as_ref().unwrap()],
            jobs.jobs[&"add-boxes".parse().unwrap()]
        );
    }

    /// Visits of an outfit whose rates are so many times the book's, scattered by a share: put-downs with some lifts, and
    /// boxes added, or each job alone.
    fn invented(truth: [f64; 4], scatter: f64, visits: i64, mixed: bool, chance: &mut Chance) -> Vec<Told> {
        let [setup, blow, lift, boxes] = truth;
        (0..visits)
            .map(|at| {
                let count = |chance: &mut Chance, least: u64| u32::try_from(least + chance.below(24)).unwrap();
                let (doubles, splits, singles) = (count(chance, 8), count(chance, 0), count(chance, 20));
                let (doubles, splits, singles) = match (at % 3, mixed) {
                    (0, true) => (doubles, splits, 0),
                    (0, false) => (doubles, 0, 0),
                    (1, _) => (0, splits + 8, 0),
                    _ => (0, 0, singles),
                };
                let minutes = 25.0 * setup
                    + 4.0 * blow * f64::from(doubles)
                    + 5.0 * lift * f64::from(splits)
                    + 1.5 * boxes * f64::from(singles);
                let took = minutes * (1.0 + scatter * chance.normal()).max(0.3);
                let jobs = [
                    ("single-down-blow", Kind::Double, doubles),
                    ("brood-lift", Kind::Split, splits),
                    ("add-boxes", Kind::Single, singles),
                ];
                let jobs: Vec<_> = jobs.into_iter().filter(|(.., count)| *count > 0).collect();
                let on = plus_days(date(2026, 5, 20), at);
                visit(u32::try_from(at).unwrap() + 1, on, &jobs, Minutes::ceil_of(took).0)
            })
            .collect()
    }

    const RATES: [&str; 4] = ["setup", "single-down-blow", "brood-lift", "add-boxes"];

    fn named(rates: &Rates, name: &str) -> Learnt {
        if name == "setup" { rates.setup.unwrap() } else { minutes_of(rates, name) }
    }

    /// Outfits whose own rates scatter round the book's as the prior takes it (0.3 / sqrt 2): the 10 to 90 % ranges hold
    /// the truth about eight times in ten, whether few visits were closed or many.
    #[test]
    fn ranges_hold_the_truth_as_often_as_they_say() {
        let jobs = JobBook::standard();
        for visits in [6, 90] {
            let (mut held, mut asked) = (0_u32, 0_u32);
            for seed in 0..100 {
                let mut chance = Chance::new(seed, "own rates");
                let truth = [0; 4].map(|_| (1.0 + 0.21 * chance.normal()).clamp(0.4, 2.0));
                let rates = learnt(&invented(truth, 0.28, visits, true, &mut chance), &jobs);
                for (name, times) in RATES.into_iter().zip(truth) {
                    let rate = named(&rates, name);
                    let want = rate.default * times;
                    held += u32::from(rate.own.low <= want && want <= rate.own.high);
                    asked += 1;
                }
            }
            let coverage = f64::from(held) / f64::from(asked);
            assert!((0.74..=0.88).contains(&coverage), "{visits} visits: held {held} of {asked}");
        }
    }

    /// After 90 visits known rates are found again, to a few in a hundred of the truth on the whole.
    #[test]
    fn known_rates_are_recovered() {
        let jobs = JobBook::standard();
        let truth = [1.1, 0.8, 1.3, 1.2];
        let mut off = [0.0_f64; 4];
        for seed in 0..40 {
            let mut chance = Chance::new(seed, "known rates");
            let rates = learnt(&invented(truth, 0.2, 90, false, &mut chance), &jobs);
            for (off, (name, times)) in off.iter_mut().zip(RATES.into_iter().zip(truth)) {
                let rate = named(&rates, name);
                *off += (rate.own.likely / (rate.default * times) - 1.0) / 40.0;
            }
        }
        assert!(off.iter().all(|off| off.abs() < 0.08), "{off:?}");
    }

    #[test]
    fn a_visit_that_tells_of_something_else_is_set_aside() {
        let jobs = JobBook::standard();
        let rates = learnt(&[visit(1, date(2026, 7, 3), &[("pull", Kind::Single, 20)], 900)], &jobs);
        assert_eq!((rates.set_aside, rates.visits, rates.minutes.len()), (1, 0, 0));
    }

    // By hand: the book's 0.04 counts as 50 colonies, 2 of them missed; 100 looked at, 10 found: 12 / 150.
    #[test]
    fn queens_missed_are_counted_against_what_the_book_says() {
        let jobs = JobBook::standard();
        let mut visits = Vec::new();
        for yard in 1..=20 {
            visits.push(visit(yard, date(2026, 7, 3), &[("single-down-blow", Kind::Double, 25)], 125));
            let mut look = visit(yard, date(2026, 7, 15), &[("open-brood-test", Kind::Single, 5)], 40);
            look.signs = vec!["above-capped-only"; 5];
            if yard <= 10 {
                look.signs[0] = "above-open-larvae";
            }
            visits.push(look);
        }
        let rates = learnt(&visits, &jobs);
        let missed = &rates.missed[0];
        assert_eq!((missed.job.as_str(), missed.rate.n), ("single-down-blow", 100));
        assert!((missed.rate.own.likely - 0.08).abs() < 1e-9);
        // Points of Beta(12, 138): 0.0532 and 0.1093 by the normal of its log odds, to a percent or so.
        assert!(
            (missed.rate.own.low - 0.053).abs() < 0.002 && (missed.rate.own.high - 0.109).abs() < 0.003,
            "{missed:?}"
        );
        assert!((rates.laid_over(&jobs).jobs[&missed.job].fails.get() - 0.08).abs() < 1e-9);
        // On day 5 larvae above prove nothing yet, and a tally without signs says nothing.
        let early: Vec<Told> = visits.into_iter().map(|told| Told { signs: Vec::new(), ..told }).collect();
        assert_eq!(learnt(&early, &jobs).missed, []);
    }

    // A beta of two and two is 3x^2 - 2x^3 below x: its 10 % point is 0.19580, by solving the cubic.
    #[test]
    fn points_of_a_beta_are_those_of_its_polynomial() {
        let (low, high) = beta_range(2.0, 2.0);
        assert!((low - 0.195_80).abs() < 1e-4 && (high - 0.804_20).abs() < 1e-4, "{low} {high}");
    }

    // Student's 90 % points: 1.397 at 8 degrees, 1.310 at 30 (Abramowitz and Stegun, table 26.10).
    #[test]
    fn points_of_student_are_those_of_the_table() {
        assert!((student_90(8.0) - 1.397).abs() < 1e-3 && (student_90(30.0) - 1.310).abs() < 1e-3);
    }

    // By hand: the book pulls 2.3 / 3 x 60 x 8 = 368 boxes; one day of 184: (2 + 0.5) / 3 of it.
    #[test]
    fn boxes_of_a_day_add_up_over_its_yards() {
        let jobs = JobBook::standard();
        let day =
            |yard, boxes_off| Told { boxes_off, ..visit(yard, date(2026, 7, 20), &[("pull", Kind::Single, 40)], 150) };
        let rates = learnt(&[day(1, 100), day(2, 84)], &jobs);
        let boxes = rates.boxes_a_day.unwrap();
        assert!(
            (boxes.default - 368.0).abs() < 1e-6 && (boxes.own.likely - 368.0 * 2.5 / 3.0).abs() < 1e-6,
            "{boxes:?}"
        );
        assert_eq!(boxes.n, 1);
    }
}
