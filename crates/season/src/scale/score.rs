//! Holds what the reader says of a series against labels of what happened.
//!
//! A lasting change is found when one is told near its label and in its direction; each label and each change count once,
//! the nearest pair first. Work of one visit may be labelled in parts and told as one change, or the other way: then the
//! sums decide. Changes near a label nobody is sure of are not judged. An inspection must leave no lasting change, unless
//! a step is labelled within it.
//!
//! | symbol | name in code | meaning | unit | value | source |
//! |---|---|---|---|---|---|
//! | - | `LEAST_SLACK_S` | how far apart in time a label and a change may stand | s | 3600, or twice the step if that is more | assumed |
//! | - | `INSPECTION_SLACK_S` | the same round an inspection | s | 600, or the step | assumed |
//! | - | `SUM_SLACK` | how far apart sums of parts may be | of 1 | 0.25, at least 0.5 kg | assumed |
//! | - | `FLOW_SLACK_DAYS` | begins and ends farther apart than this are not the same | d | 15 | assumed |

use jiff::Timestamp;
use jiff::civil::Date;
use jiff::tz::TimeZone;
use outyard_base::days::days_from;

use super::{Change, ChangeKind, ScaleReading};
use crate::flow_state::FlowSpell;

const LEAST_SLACK_S: i64 = 3600;
const INSPECTION_SLACK_S: i64 = 600;
const SUM_SLACK: f64 = 0.25;
const SUM_SLACK_KG: f64 = 0.5;
const FLOW_SLACK_DAYS: i64 = 15;

/// What a label says happened.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LabelKind {
    /// Something that stays on or off the hive; only such kinds of which [`ChangeKind::lasts`] is true.
    Lasting(ChangeKind),
    /// Work after which the hive stood as before.
    Inspection,
    /// First day of a flow.
    FlowBegins,
    /// First day without flow.
    FlowEnds,
    /// No readings, or readings that are wrong.
    Fault,
}

/// One label.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Label {
    /// When it happened, or began.
    pub at: Timestamp,
    /// When it was over.
    pub until: Timestamp,
    /// What it was.
    pub kind: LabelKind,
    /// Kilograms put on (positive) or taken off, when known.
    pub kg: Option<f64>,
    /// Whether whoever labelled it was sure; others are not scored, nor are changes near them.
    pub sure: bool,
}

/// A label that was missed, or a change nobody labelled.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Miss {
    /// A sure lasting label with no change told.
    NotFound(Label),
    /// A lasting change told with no label.
    NotLabelled(Change),
    /// A lasting change told at an inspection.
    AtInspection(Label),
}

/// Counts over one series or several.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct ScaleScore {
    /// Sure lasting labels.
    pub labelled: usize,
    /// Those found.
    pub found: usize,
    /// Lasting changes told that can be judged.
    pub told: usize,
    /// Those that are labelled.
    pub right: usize,
    /// Found ones whose kind is that of the label.
    pub named_alike: usize,
    /// Sure inspections.
    pub inspections: usize,
    /// Those at which a lasting change was told.
    pub inspections_with_change: usize,
    /// Kilograms told less kilograms labelled, of pairs found.
    pub kg_errors: Vec<f64>,
    /// What went wrong, in order of time.
    pub misses: Vec<Miss>,
}

/// Days told less days labelled, of begins and of ends of flow.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct FlowScore {
    /// Of each sure begin that was found.
    pub begins: Vec<i64>,
    /// Of each sure end that was found.
    pub ends: Vec<i64>,
    /// Sure begins and ends with none told within 15 days.
    pub missed: usize,
}

/// Size, lean and worst of some errors.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Errors {
    /// How many.
    pub count: usize,
    /// Mean of their sizes.
    pub mean_size: f64,
    /// Their mean: above nought when told too late or too heavy.
    pub bias: f64,
    /// The largest, with its sign.
    pub worst: f64,
}

impl Errors {
    /// `None` when there are none.
    pub fn of(errors: &[f64]) -> Option<Self> {
        let worst = errors.iter().copied().max_by(|one, other| one.abs().total_cmp(&other.abs()))?;
        #[expect(clippy::cast_precision_loss, reason = "a count of labels or years")]
        let count = errors.len() as f64;
        Some(Self {
            count: errors.len(),
            mean_size: errors.iter().map(|error| error.abs()).sum::<f64>() / count,
            bias: errors.iter().sum::<f64>() / count,
            worst,
        })
    }
}

/// A part of a whole; with nothing to judge nothing is wrong.
fn share(part: usize, whole: usize) -> f64 {
    #[expect(clippy::cast_precision_loss, reason = "a count of labels")]
    let share = part as f64 / whole as f64;
    if whole == 0 { 1.0 } else { share }
}

impl ScaleScore {
    /// Share of the sure lasting labels that were found.
    pub fn recall(&self) -> f64 {
        share(self.found, self.labelled)
    }

    /// Share of the lasting changes told that were labelled.
    pub fn precision(&self) -> f64 {
        share(self.right, self.told)
    }

    /// Takes in the counts of another series.
    pub fn add(&mut self, other: Self) {
        self.labelled += other.labelled;
        self.found += other.found;
        self.told += other.told;
        self.right += other.right;
        self.named_alike += other.named_alike;
        self.inspections += other.inspections;
        self.inspections_with_change += other.inspections_with_change;
        self.kg_errors.extend(other.kg_errors);
        self.misses.extend(other.misses);
    }
}

impl FlowScore {
    /// Takes in those of another series.
    pub fn add(&mut self, other: Self) {
        self.begins.extend(other.begins);
        self.ends.extend(other.ends);
        self.missed += other.missed;
    }
}

/// Seconds between two spans of time; nought when they touch.
fn apart_s(change: &Change, label: &Label) -> i64 {
    let (from, to) = (change.at.as_second(), change.until.as_second());
    (label.at.as_second() - to).max(from - label.until.as_second()).max(0)
}

fn near_sum(one: f64, other: f64) -> bool {
    (one - other).abs() <= (SUM_SLACK * one.abs().max(other.abs())).max(SUM_SLACK_KG)
}

/// How far a label may stand from its change in a series of so many seconds between readings.
pub fn slack_s(step_s: i64) -> i64 {
    LEAST_SLACK_S.max(2 * step_s)
}

/// Scores one series whose readings are `step_s` seconds apart.
pub fn score_changes(reading: &ScaleReading, labels: &[Label], step_s: i64) -> ScaleScore {
    let slack = slack_s(step_s);
    let lasting: Vec<&Change> = reading.changes.iter().filter(|change| change.kind.lasts()).collect();
    let steps: Vec<&Label> = labels.iter().filter(|label| matches!(label.kind, LabelKind::Lasting(_))).collect();
    let same_way = |change: &Change, label: &Label| {
        label.kg.is_none_or(|kg| kg.signum().total_cmp(&change.kg.get().signum()).is_eq())
    };
    let near = |change: &Change, label: &Label| apart_s(change, label) <= slack;
    let pairs = nearest_pairs(&lasting, &steps, |change, label| near(change, label) && same_way(change, label));
    let told_of: Vec<Option<usize>> =
        (0..steps.len()).map(|step| pairs.iter().find(|pair| pair.1 == step).map(|pair| pair.0)).collect();
    let label_of: Vec<Option<usize>> =
        (0..lasting.len()).map(|change| pairs.iter().find(|pair| pair.0 == change).map(|pair| pair.1)).collect();

    let mut score = ScaleScore::default();
    for (label, told) in steps.iter().zip(&told_of).filter(|(label, _)| label.sure) {
        score.labelled += 1;
        let in_one = || {
            lasting.iter().any(|change| {
                let labelled: f64 = steps.iter().filter(|step| near(change, step)).filter_map(|step| step.kg).sum();
                near(change, label) && near_sum(labelled, change.kg.get())
            })
        };
        match told {
            Some(index) => {
                let change = lasting[*index];
                score.found += 1;
                score.named_alike += usize::from(label.kind == LabelKind::Lasting(change.kind));
                score.kg_errors.extend(label.kg.map(|kg| change.kg.get() - kg));
            }
            None if in_one() => score.found += 1,
            None => score.misses.push(Miss::NotFound(**label)),
        }
    }
    for (change, label) in lasting.iter().zip(&label_of) {
        if let Some(index) = label {
            let sure = usize::from(steps[*index].sure);
            score.told += sure;
            score.right += sure;
            continue;
        }
        if steps.iter().any(|label| !label.sure && near(change, label)) {
            continue;
        }
        score.told += 1;
        let in_parts = steps.iter().filter(|label| near(change, label)).any(|label| {
            let told: f64 = lasting.iter().filter(|other| near(other, label)).map(|other| other.kg.get()).sum();
            label.kg.is_some_and(|kg| near_sum(kg, told))
        });
        if in_parts {
            score.right += 1;
        } else {
            score.misses.push(Miss::NotLabelled(**change));
        }
    }
    let round = INSPECTION_SLACK_S.max(step_s.min(LEAST_SLACK_S));
    for label in labels.iter().filter(|label| label.sure && label.kind == LabelKind::Inspection) {
        score.inspections += 1;
        let explained = |change: &Change| steps.iter().any(|step| near(change, step));
        if lasting.iter().any(|change| apart_s(change, label) <= round && !explained(change)) {
            score.inspections_with_change += 1;
            score.misses.push(Miss::AtInspection(*label));
        }
    }
    score.misses.sort_by_key(|miss| match miss {
        Miss::NotFound(label) | Miss::AtInspection(label) => label.at,
        Miss::NotLabelled(change) => change.at,
    });
    score
}

/// Pairs of a change and a label, each used once, the nearest in time first, then the nearest in kilograms.
fn nearest_pairs(
    changes: &[&Change],
    labels: &[&Label],
    fits: impl Fn(&Change, &Label) -> bool,
) -> Vec<(usize, usize)> {
    let mut all: Vec<(i64, f64, usize, usize)> = Vec::new();
    for (at, change) in changes.iter().enumerate() {
        for (of, label) in labels.iter().enumerate().filter(|(_, label)| fits(change, label)) {
            let off_kg = label.kg.map_or(0.0, |kg| (change.kg.get() - kg).abs());
            all.push((apart_s(change, label), off_kg, at, of));
        }
    }
    all.sort_by(|one, other| one.0.cmp(&other.0).then(one.1.total_cmp(&other.1)));
    let mut pairs: Vec<(usize, usize)> = Vec::new();
    for (_, _, change, label) in all {
        if pairs.iter().all(|pair| pair.0 != change && pair.1 != label) {
            pairs.push((change, label));
        }
    }
    pairs
}

/// Scores begins and ends of flow; days are those of `tz`.
pub fn score_flow(spells: &[FlowSpell], labels: &[Label], tz: &TimeZone) -> FlowScore {
    let mut score = FlowScore::default();
    let off = |told: &mut dyn Iterator<Item = Date>, label: &Label| {
        let day = tz.to_datetime(label.at).date();
        told.map(|date| days_from(day, date)).min_by_key(|days| days.abs()).filter(|days| days.abs() <= FLOW_SLACK_DAYS)
    };
    for label in labels.iter().filter(|label| label.sure) {
        let (found, all) = match label.kind {
            LabelKind::FlowBegins => (off(&mut spells.iter().map(|spell| spell.began), label), &mut score.begins),
            LabelKind::FlowEnds => (off(&mut spells.iter().filter_map(|spell| spell.ended), label), &mut score.ends),
            _ => continue,
        };
        all.extend(found);
        score.missed += usize::from(found.is_none());
    }
    score
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;
    use outyard_base::{Kilograms, Share};

    fn at(minute: i64) -> Timestamp {
        Timestamp::from_second(1_780_000_000 + 60 * minute).unwrap()
    }

    fn change(minute: i64, kg: f64, kind: ChangeKind) -> Change {
        Change {
            at: at(minute),
            until: at(minute + 10),
            kg: Kilograms::of(kg),
            kg_error: Kilograms::of(0.1),
            kind,
            confidence: Share::of(0.9),
        }
    }

    fn label(minute: i64, kg: f64, kind: LabelKind, sure: bool) -> Label {
        Label { at: at(minute), until: at(minute), kind, kg: Some(kg), sure }
    }

    fn reading(changes: Vec<Change>) -> ScaleReading {
        ScaleReading { changes, ..ScaleReading::default() }
    }

    const BOX: LabelKind = LabelKind::Lasting(ChangeKind::BoxOn);
    const OFF: LabelKind = LabelKind::Lasting(ChangeKind::BoxOff);

    #[test]
    fn found_missed_and_made_up_are_told_apart() {
        let labels = [
            label(0, 8.0, BOX, true),
            label(1000, -6.0, OFF, true),
            label(5000, 2.0, BOX, false),
            label(7000, 0.0, LabelKind::Inspection, true),
        ];
        let told = reading(vec![
            change(5, 8.2, ChangeKind::BoxOn),
            // The wrong way round: no hit.
            change(1000, 6.0, ChangeKind::BoxOn),
            // Near a label nobody is sure of: not judged.
            change(5000, 2.5, ChangeKind::BoxOn),
            change(7003, -0.8, ChangeKind::BoxOff),
            change(9000, 3.0, ChangeKind::WorkThatReturned),
        ]);
        let score = score_changes(&told, &labels, 300);
        assert_eq!((score.labelled, score.found, score.told, score.right), (2, 1, 3, 1));
        assert_eq!((score.inspections, score.inspections_with_change, score.named_alike), (1, 1, 1));
        assert!((score.recall() - 0.5).abs() < 1e-12 && (score.precision() - 1.0 / 3.0).abs() < 1e-12);
        assert!((score.kg_errors[0] - 0.2).abs() < 1e-9);
        assert_eq!(score.misses.len(), 4);
    }

    #[test]
    fn one_change_answers_for_one_label_unless_the_sums_agree() {
        let labels = [label(0, 8.0, BOX, true), label(20, 8.0, BOX, true)];
        let one = reading(vec![change(0, 8.0, ChangeKind::BoxOn)]);
        assert_eq!(score_changes(&one, &labels, 300).found, 1);
        let both = reading(vec![change(0, 16.1, ChangeKind::BoxOn)]);
        let score = score_changes(&both, &labels, 300);
        assert_eq!((score.found, score.told, score.right), (2, 1, 1));
        let parts = reading(vec![change(0, -20.0, ChangeKind::Pull), change(40, -11.0, ChangeKind::Pull)]);
        let pulled = [label(10, -31.0, LabelKind::Lasting(ChangeKind::Pull), true)];
        let score = score_changes(&parts, &pulled, 300);
        assert_eq!((score.found, score.told, score.right), (1, 2, 2));
        let more = reading(vec![change(0, -31.0, ChangeKind::Pull), change(40, -31.0, ChangeKind::Pull)]);
        assert_eq!(score_changes(&more, &pulled, 300).right, 1);
    }

    #[test]
    fn a_long_step_widens_the_slack_and_nothing_said_is_not_right() {
        let labels = [label(0, 8.0, BOX, true)];
        let late = reading(vec![change(1200, 8.0, ChangeKind::BoxOn)]);
        assert_eq!(score_changes(&late, &labels, 300).found, 0);
        assert_eq!(score_changes(&late, &labels, 12 * 3600).found, 1);
        let silent = score_changes(&reading(Vec::new()), &labels, 300);
        assert!((silent.recall(), silent.precision()) == (0.0, 1.0));
    }

    #[test]
    fn flow_days_are_counted_on_the_yards_own_clock() {
        let spells = [FlowSpell { began: date(2026, 5, 30), ended: Some(date(2026, 6, 20)) }];
        let on = |day: Date, hour: i8| TimeZone::UTC.to_timestamp(day.at(hour, 0, 0, 0)).unwrap();
        let of = |day: Date, hour: i8, kind| {
            let at = on(day, hour);
            Label { at, until: at, kind, kg: None, sure: true }
        };
        let labels = [
            of(date(2026, 5, 29), 2, LabelKind::FlowBegins),
            of(date(2026, 6, 21), 14, LabelKind::FlowEnds),
            of(date(2026, 8, 1), 14, LabelKind::FlowBegins),
        ];
        let utc = score_flow(&spells, &labels, &TimeZone::UTC);
        assert_eq!(utc, FlowScore { begins: vec![1], ends: vec![-1], missed: 1 });
        // Two in the morning of the 29th in UTC is still the 28th on the plains.
        let plains = TimeZone::get("America/Winnipeg").unwrap();
        assert_eq!(score_flow(&spells, &labels, &plains).begins, [2]);
    }

    #[test]
    fn errors_have_size_lean_and_worst() {
        let errors = Errors::of(&[1.0, -3.0, 0.5]).unwrap();
        assert_eq!((errors.count, errors.worst), (3, -3.0));
        assert!((errors.mean_size - 1.5).abs() < 1e-12 && (errors.bias + 0.5).abs() < 1e-12);
        assert_eq!(Errors::of(&[]), None);
    }
}
