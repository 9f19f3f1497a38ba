//! A table of the job book while it is being read: what is asked for is taken out and checked, and what is left at
//! the end was not known.

use std::collections::{BTreeMap, BTreeSet};

use outyard_base::trouble::Spot;
use outyard_base::{Cents, ClockTime, Kilograms, Share, Trouble};

use super::MonthDay;
use super::tree::{Node, Value};

/// A table being read: fields are taken out one by one, and what is left at the end was not known.
pub(super) struct Fields<'t> {
    /// How a complaint names the table: `job "pull"`.
    pub(super) name: String,
    place: Spot,
    left: BTreeMap<String, Node>,
    /// Everything found wrong so far, in this table and all others.
    pub(super) troubles: &'t mut Vec<Trouble>,
}

impl<'t> Fields<'t> {
    /// Opens a table; anything else is a trouble.
    pub(super) fn of(name: impl Into<String>, node: Node, troubles: &'t mut Vec<Trouble>) -> Option<Self> {
        let name = name.into();
        match node.value {
            Value::Table(left) => Some(Self { name, place: node.place, left, troubles }),
            other => {
                troubles.push(wrong_sort(&name, "a table", &other, node.place));
                None
            }
        }
    }

    /// Adds a trouble at a place.
    pub(super) fn complain(&mut self, code: &'static str, cause: String, remedy: impl Into<String>, place: Spot) {
        self.troubles.push(Trouble::new(code, cause, remedy).at(place));
    }

    /// Takes a field that may be missing.
    pub(super) fn take(&mut self, key: &str) -> Option<Node> {
        self.left.remove(key)
    }

    /// The names in a table of this table, which stays where it is.
    pub(super) fn keys_of(&self, key: &str) -> BTreeSet<String> {
        match self.left.get(key).map(|node| &node.value) {
            Some(Value::Table(table)) => table.keys().cloned().collect(),
            _ => BTreeSet::new(),
        }
    }

    /// Where a field stands, or the table when it is not there.
    pub(super) fn place_of(&self, key: &str) -> Spot {
        self.left.get(key).map_or(&self.place, |node| &node.place).clone()
    }

    /// Takes a field that must be there.
    pub(super) fn need(&mut self, key: &str) -> Option<Node> {
        let node = self.take(key);
        if node.is_none() {
            let (cause, place) = (format!("{} has no \"{key}\"", self.name), self.place.clone());
            self.complain("TRD-003", cause, format!("add a line that starts with {key} ="), place);
        }
        node
    }

    /// The text of a field already taken, and its place.
    pub(super) fn text_of(&mut self, key: &str, node: Node) -> Option<(String, Spot)> {
        match node.value {
            Value::Text(text) => Some((text, node.place)),
            other => {
                self.troubles.push(wrong_sort(&format!("{key} of {}", self.name), "a text", &other, node.place));
                None
            }
        }
    }

    /// A text that must be there and say something.
    pub(super) fn text(&mut self, key: &str) -> Option<String> {
        let node = self.need(key)?;
        let (text, place) = self.text_of(key, node)?;
        if text.trim().is_empty() {
            let cause = format!("{key} of {} is empty", self.name);
            self.complain("TRD-009", cause, "write a few words", place);
            return None;
        }
        Some(text)
    }

    /// The number of a field already taken, within its limits.
    pub(super) fn number_of(&mut self, key: &str, node: Node, min: f64, max: f64) -> Option<f64> {
        let number = match node.value {
            #[expect(clippy::cast_precision_loss, reason = "a number past 2^53 is out of every range here")]
            Value::Whole(whole) => whole as f64,
            Value::Number(number) => number,
            other => {
                self.troubles.push(wrong_sort(&format!("{key} of {}", self.name), "a number", &other, node.place));
                return None;
            }
        };
        if number >= min && number <= max {
            return Some(number);
        }
        let cause = format!("{key} of {} is {number}", self.name);
        self.complain("TRD-005", cause, format!("it goes from {min} to {max}"), node.place);
        None
    }

    /// A number that must be there.
    pub(super) fn number(&mut self, key: &str, min: f64, max: f64) -> Option<f64> {
        let node = self.need(key)?;
        self.number_of(key, node, min, max)
    }

    /// `None` when a trouble was found, `Some(None)` when the field is not there.
    #[expect(clippy::option_option, reason = "not there and not readable are two things")]
    pub(super) fn number_if(&mut self, key: &str, min: f64, max: f64) -> Option<Option<f64>> {
        match self.take(key) {
            None => Some(None),
            Some(node) => self.number_of(key, node, min, max).map(Some),
        }
    }

    /// A part of a whole, 0 to 1.
    pub(super) fn share(&mut self, key: &str) -> Option<Share> {
        self.number(key, Share::MIN, Share::MAX).map(Share::of)
    }

    /// A mass from 0 on.
    pub(super) fn kilograms(&mut self, key: &str, max: f64) -> Option<Kilograms> {
        self.number(key, 0.0, max).map(Kilograms::of)
    }

    /// An amount of money from 0 on.
    pub(super) fn money(&mut self, key: &str) -> Option<Cents> {
        self.number(key, 0.0, 1e6).map(Cents::round_of)
    }

    /// True or false; false when not there.
    pub(super) fn flag(&mut self, key: &str) -> Option<bool> {
        let Some(node) = self.take(key) else { return Some(false) };
        match node.value {
            Value::Flag(flag) => Some(flag),
            other => {
                self.troubles.push(wrong_sort(&format!("{key} of {}", self.name), "true or false", &other, node.place));
                None
            }
        }
    }

    /// A clock time that must be there.
    pub(super) fn hour(&mut self, key: &str) -> Option<ClockTime> {
        let node = self.need(key)?;
        let (text, place) = self.text_of(key, node)?;
        match text.parse() {
            Ok(time) => Some(time),
            Err(bad) => {
                self.complain("TRD-007", format!("{key} of {}: {bad}", self.name), "write it as \"07:30\"", place);
                None
            }
        }
    }

    /// A day of the year that must be there.
    pub(super) fn month_day(&mut self, key: &str) -> Option<MonthDay> {
        let node = self.need(key)?;
        let (text, place) = self.text_of(key, node)?;
        let day = MonthDay::read(&text);
        if day.is_none() {
            let cause = format!("{key} of {}: \"{text}\" is no day of the year", self.name);
            self.complain("TRD-007", cause, "write it as month and day, \"06-15\"", place);
        }
        day
    }

    /// A list of words, each read by `read`; an absent list is empty.
    pub(super) fn words<T>(&mut self, key: &str, known: &str, read: impl Fn(&str) -> Option<T>) -> Option<Vec<T>> {
        let Some(node) = self.take(key) else { return Some(Vec::new()) };
        let list = match node.value {
            Value::List(list) => list,
            other => {
                self.troubles.push(wrong_sort(&format!("{key} of {}", self.name), "a list", &other, node.place));
                return None;
            }
        };
        let mut all = Some(Vec::with_capacity(list.len()));
        for item in list {
            let word = self.text_of(key, item).and_then(|(word, place)| {
                let found = read(&word);
                if found.is_none() {
                    let cause = format!("{key} of {}: \"{word}\" is not known", self.name);
                    self.complain("TRD-006", cause, format!("known are {known}"), place);
                }
                found
            });
            match (&mut all, word) {
                (Some(all), Some(word)) => all.push(word),
                _ => all = None,
            }
        }
        all
    }

    /// A list of sentences; an absent list is empty.
    pub(super) fn sentences(&mut self, key: &str) -> Option<Vec<String>> {
        self.words(key, "any words but none", |words| (!words.trim().is_empty()).then(|| words.to_owned()))
    }

    /// A table of tables, each entry read by `read` under its own key; an absent table is empty.
    pub(super) fn each<T>(
        &mut self,
        key: &str,
        mut read: impl FnMut(&str, Node, &mut Vec<Trouble>) -> Option<T>,
    ) -> Option<Vec<T>> {
        let Some(node) = self.take(key) else { return Some(Vec::new()) };
        let table = Fields::of(format!("{key} of {}", self.name), node, self.troubles)?;
        let mut all = Some(Vec::with_capacity(table.left.len()));
        for (key, node) in table.left {
            match (&mut all, read(&key, node, table.troubles)) {
                (Some(all), Some(item)) => all.push(item),
                _ => all = None,
            }
        }
        all
    }

    /// Complains about every field nobody asked for.
    pub(super) fn nothing_else(self) {
        for (key, node) in self.left {
            self.troubles.push(
                Trouble::new(
                    "TRD-002",
                    format!("{} has no \"{key}\" that could be set", self.name),
                    "check the spelling against the default job book",
                )
                .at(node.place),
            );
        }
    }
}

fn wrong_sort(what: &str, wanted: &str, found: &Value, place: Spot) -> Trouble {
    Trouble::new("TRD-004", format!("{what} is {}", found.sort()), format!("write {wanted}")).at(place)
}
