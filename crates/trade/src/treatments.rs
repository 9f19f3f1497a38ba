//! What a treatment's label, **as the outfit typed it**, means in dates. The label and the regulator outrank this
//! program, always: it stores what was typed, counts the days, blocks and explains. It knows no dose and invents none.
//!
//! | symbol | name in code | meaning | unit | source |
//! |---|---|---|---|---|
//! | | `days_min`, `days_max` | days the treatment stays in | d | the label, as typed |
//! | | `wait_before_supers_days` | days from taking it out to honey supers on | d | the label, as typed |

use jiff::civil::Date;
use outyard_base::days::{days_from, plus_days};
use outyard_base::range::day_month;
use outyard_base::{Celsius, Trouble};

/// What the outfit read on the label.
#[derive(Clone, Debug, PartialEq)]
pub struct LabelWords {
    /// Active ingredient; never a brand.
    pub active: String,
    /// Least days in the hive.
    pub days_min: i64,
    /// Most days in the hive.
    pub days_max: i64,
    /// Days from out to honey supers on.
    pub wait_before_supers_days: i64,
    /// True when the label allows it with honey supers on.
    pub allowed_with_supers: bool,
    /// Least air temperature.
    pub min_temp: Option<Celsius>,
    /// Greatest air temperature.
    pub max_temp: Option<Celsius>,
    /// The day this was typed from the label.
    pub typed_on: Date,
}

/// A label as typed and the day the treatment went in.
#[derive(Clone, Debug, PartialEq)]
pub struct LabelTyped {
    words: LabelWords,
    in_date: Date,
}

/// The dates a label gives.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct LabelDates {
    /// First day it may come out.
    pub earliest_out: Date,
    /// Last day it may stay in.
    pub latest_out: Date,
    /// First day for honey supers when it comes out as early as it may.
    pub earliest_supers: Date,
    /// First day for honey supers when it stays in as long as it may.
    pub supers_if_left_in: Date,
}

/// May honey supers go on?
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum SupersAnswer {
    /// The label as typed does not stand in the way.
    Allowed,
    /// Not on that day.
    Blocked {
        /// First day they may go on.
        earliest: Date,
        /// Days the plan is too early.
        days_short: i64,
        /// The reason, as a sentence.
        why: String,
    },
}

/// Is the treatment still in when it should be out?
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum OutState {
    /// It must stay in until the date.
    MustStay(Date),
    /// It may come out, up to the date.
    MayComeOut(Date),
    /// It should have been out by the date and nobody recorded it.
    Overdue(Date),
    /// It was recorded out within the label's days.
    OutInOrder,
    /// It was recorded out before the label's least days, so many too few.
    OutTooEarly(i64),
    /// It was recorded out after the label's most days, so many too many.
    OutTooLate(i64),
}

/// Why a treatment may not go in now.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Block {
    /// Honey supers are on and the label as typed does not allow that.
    SupersOn,
    /// Colder than the label as typed allows.
    TooCold(Celsius),
    /// Hotter than the label as typed allows.
    TooHot(Celsius),
}

impl LabelTyped {
    /// Keeps a label as typed, if its days can be.
    ///
    /// # Errors
    /// `TRT-001` for days that cannot be, `TRT-002` for temperatures the wrong way round, `TRT-003` without an active
    /// ingredient.
    pub fn new(words: LabelWords, in_date: Date) -> Result<Self, Trouble> {
        if words.active.trim().is_empty() {
            return Err(Trouble::new("TRT-003", "the treatment has no active ingredient", "type it from the label"));
        }
        let days = [words.days_min, words.days_max, words.wait_before_supers_days];
        if days.iter().any(|days| !(0..=400).contains(days)) || words.days_min > words.days_max {
            return Err(Trouble::new(
                "TRT-001",
                format!(
                    "{} to {} days in and {} days of waiting cannot be",
                    words.days_min, words.days_max, words.wait_before_supers_days
                ),
                "type the least and the most days from the label again",
            ));
        }
        if let (Some(min), Some(max)) = (words.min_temp, words.max_temp)
            && min > max
        {
            return Err(Trouble::new(
                "TRT-002",
                format!("least {min} is above greatest {max}"),
                "type the temperatures from the label again",
            ));
        }
        Ok(Self { words, in_date })
    }

    /// What was typed.
    pub fn words(&self) -> &LabelWords {
        &self.words
    }

    /// The day it went in.
    pub fn in_date(&self) -> Date {
        self.in_date
    }

    /// The dates that follow.
    pub fn dates(&self) -> LabelDates {
        let earliest_out = plus_days(self.in_date, self.words.days_min);
        let latest_out = plus_days(self.in_date, self.words.days_max);
        let wait = self.words.wait_before_supers_days;
        LabelDates {
            earliest_out,
            latest_out,
            earliest_supers: plus_days(earliest_out, wait),
            supers_if_left_in: plus_days(latest_out, wait),
        }
    }

    /// May honey supers go on, on that day? `out` is the recorded day it came out; without one the earliest day it
    /// may come out is taken, so the answer is the best case.
    pub fn supers_on(&self, plan: Date, out: Option<Date>) -> SupersAnswer {
        if self.words.allowed_with_supers || plan < self.in_date {
            return SupersAnswer::Allowed;
        }
        let out_day = out.unwrap_or_else(|| self.dates().earliest_out);
        let earliest = plus_days(out_day, self.words.wait_before_supers_days);
        if plan >= earliest {
            return SupersAnswer::Allowed;
        }
        let days_short = days_from(plan, earliest);
        let state = if out.is_some() { "came out" } else { "may come out" };
        let why = format!(
            "{}: {state} {}, then {} days before supers by the label typed on {}: not before {}, {days_short} days short",
            self.words.active,
            day_month(out_day),
            self.words.wait_before_supers_days,
            day_month(self.words.typed_on),
            day_month(earliest),
        );
        SupersAnswer::Blocked { earliest, days_short, why }
    }

    /// How it stands on a day. `out` is the recorded day it came out.
    pub fn out_state(&self, today: Date, out: Option<Date>) -> OutState {
        let dates = self.dates();
        match out {
            Some(out) if out < dates.earliest_out => OutState::OutTooEarly(days_from(out, dates.earliest_out)),
            Some(out) if out > dates.latest_out => OutState::OutTooLate(days_from(dates.latest_out, out)),
            Some(_) => OutState::OutInOrder,
            None if today < dates.earliest_out => OutState::MustStay(dates.earliest_out),
            None if today <= dates.latest_out => OutState::MayComeOut(dates.latest_out),
            None => OutState::Overdue(dates.latest_out),
        }
    }
}

impl LabelWords {
    /// Why it may not go in: honey supers, or day temperatures outside those typed. Empty when nothing stands in the
    /// way. The highs are those of the days the label speaks of, the first one the day of going in.
    pub fn blocks(&self, supers_are_on: bool, highs: &[Celsius]) -> Vec<Block> {
        let mut blocks = Vec::new();
        if supers_are_on && !self.allowed_with_supers {
            blocks.push(Block::SupersOn);
        }
        for high in highs {
            if self.min_temp.is_some_and(|min| *high < min) {
                blocks.push(Block::TooCold(*high));
            }
            if self.max_temp.is_some_and(|max| *high > max) {
                blocks.push(Block::TooHot(*high));
            }
        }
        blocks
    }
}
