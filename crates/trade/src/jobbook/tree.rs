//! TOML as a tree that remembers where each value was written, so that one file can be laid over another and every
//! complaint still names the right line.

use std::collections::BTreeMap;

use outyard_base::trouble::{Spot, Trouble};
use toml::de::{DeTable, DeValue};

/// A value and where it stands.
#[derive(Clone, Debug)]
pub(super) struct Node {
    pub(super) place: Spot,
    pub(super) value: Value,
}

/// What was written.
#[derive(Clone, Debug)]
pub(super) enum Value {
    Text(String),
    Number(f64),
    Whole(i64),
    Flag(bool),
    List(Vec<Node>),
    Table(BTreeMap<String, Node>),
    /// A date or a number past what can be held: nothing in a job book takes it.
    Other(&'static str),
}

impl Value {
    /// Its sort, as said in a complaint.
    pub(super) fn sort(&self) -> &'static str {
        match self {
            Self::Text(_) => "a text",
            Self::Number(_) | Self::Whole(_) => "a number",
            Self::Flag(_) => "true or false",
            Self::List(_) => "a list",
            Self::Table(_) => "a table",
            Self::Other(sort) => sort,
        }
    }
}

/// Turns byte positions of a text into lines and columns.
struct Lines<'a> {
    file: &'a str,
    text: &'a str,
    starts: Vec<usize>,
}

impl<'a> Lines<'a> {
    fn of(file: &'a str, text: &'a str) -> Self {
        let starts = core::iter::once(0).chain(text.match_indices('\n').map(|(at, _)| at + 1)).collect();
        Self { file, text, starts }
    }

    fn place(&self, byte: usize) -> Spot {
        let byte = byte.min(self.text.len());
        let line = self.starts.partition_point(|start| *start <= byte);
        let column = self.text[self.starts[line - 1]..byte].chars().count() + 1;
        Spot::file(self.file).line(line).column(column.to_string())
    }
}

/// Reads TOML into a tree; every fault of the text is reported, not only the first.
pub(super) fn read_tree(file: &str, text: &str) -> Result<Node, Vec<Trouble>> {
    let lines = Lines::of(file, text);
    let (table, faults) = DeTable::parse_recoverable(text);
    if !faults.is_empty() {
        let mut troubles: Vec<Trouble> = faults.iter().map(|fault| syntax_trouble(&lines, fault)).collect();
        // One slip often breaks the rest of its line too; the first word of a line is the one that helps.
        troubles.dedup_by_key(|trouble| trouble.place.as_ref().and_then(|place| place.line));
        return Err(troubles);
    }
    Ok(Node { place: Spot::file(file), value: Value::Table(entries(table.get_ref(), &lines)) })
}

fn syntax_trouble(lines: &Lines<'_>, fault: &toml::de::Error) -> Trouble {
    let place = fault.span().map_or_else(|| Spot::file(lines.file), |span| lines.place(span.start));
    let cause = fault.message().lines().collect::<Vec<_>>().join(", ");
    Trouble::new("TRD-001", cause, "write the line as TOML, such as: setup_pair_minutes = 25").at(place)
}

fn entries(table: &DeTable<'_>, lines: &Lines<'_>) -> BTreeMap<String, Node> {
    // A value is placed at its key: that is what a reader of the file looks for.
    table
        .iter()
        .map(|(key, value)| {
            let place = lines.place(key.span().start);
            (key.get_ref().to_string(), Node { place, value: convert(value.get_ref(), lines) })
        })
        .collect()
}

fn convert(value: &DeValue<'_>, lines: &Lines<'_>) -> Value {
    match value {
        DeValue::String(text) => Value::Text(text.to_string()),
        DeValue::Integer(number) => i64::from_str_radix(number.as_str(), number.radix())
            .map_or(Value::Other("a number too large to hold"), Value::Whole),
        DeValue::Float(number) => {
            number.as_str().parse().map_or(Value::Other("a number that cannot be held"), Value::Number)
        }
        DeValue::Boolean(flag) => Value::Flag(*flag),
        DeValue::Datetime(_) => Value::Other("a date"),
        DeValue::Array(list) => Value::List(
            list.iter()
                .map(|item| Node { place: lines.place(item.span().start), value: convert(item.get_ref(), lines) })
                .collect(),
        ),
        DeValue::Table(table) => Value::Table(entries(table, lines)),
    }
}

/// Lays one tree over another: tables field by field, everything else whole.
pub(super) fn lay_over(under: &mut Node, over: Node) {
    match (&mut under.value, over.value) {
        (Value::Table(mine), Value::Table(theirs)) => {
            for (key, node) in theirs {
                match mine.get_mut(&key) {
                    Some(old) => lay_over(old, node),
                    None => {
                        mine.insert(key, node);
                    }
                }
            }
        }
        (_, value) => *under = Node { place: over.place, value },
    }
}
