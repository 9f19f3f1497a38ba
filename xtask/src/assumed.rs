//! Numbers the house chose itself, so that nobody takes them for knowledge.

use std::collections::BTreeMap;
use std::fmt::Write as _;

use crate::house::House;

/// One line that marks a number as assumed.
#[derive(Debug, PartialEq, Eq)]
pub(crate) struct Mark {
    /// Room it stands in.
    pub(crate) room: String,
    /// File and line.
    pub(crate) place: String,
    /// The line without its comment signs.
    pub(crate) text: String,
}

/// Finds every mark in the rooms' code and data, in order of file and line.
pub(crate) fn find(house: &House) -> Vec<Mark> {
    let mut marks = Vec::new();
    for file in house.under("crates/") {
        let Some(room) = file.room() else { continue };
        if !file.path.contains("/src/") && !file.path.contains("/data/") {
            continue;
        }
        let lines: Vec<&str> = file.text.lines().collect();
        for (index, line) in lines.iter().enumerate().filter(|(_, line)| has_word(line, "assumed")) {
            if number_nearby(&lines, index) {
                let text = line.trim().trim_start_matches(['/', '!', '#', '|', ' ']).to_owned();
                marks.push(Mark { room: room.to_owned(), place: format!("{}:{}", file.path, index + 1), text });
            }
        }
    }
    marks
}

/// A mark stands within three lines of its number; one that does not speaks of marks in general.
fn number_nearby(lines: &[&str], index: usize) -> bool {
    let last = (index + 3).min(lines.len() - 1);
    lines[index.saturating_sub(3)..=last].iter().any(|line| line.contains(|letter: char| letter.is_ascii_digit()))
}

/// The word by itself, not as part of a longer one.
fn has_word(line: &str, word: &str) -> bool {
    let part_of_word = |letter: char| letter.is_alphanumeric() || letter == '_';
    line.match_indices(word).any(|(start, _)| {
        !line[..start].ends_with(part_of_word) && !line[start + word.len()..].starts_with(part_of_word)
    })
}

/// How many in each room: `season 12, trade 3`.
pub(crate) fn counts(marks: &[Mark]) -> String {
    let mut rooms: BTreeMap<&str, usize> = BTreeMap::new();
    for mark in marks {
        *rooms.entry(&mark.room).or_default() += 1;
    }
    if rooms.is_empty() {
        return "none".to_owned();
    }
    rooms.iter().map(|(room, count)| format!("{room} {count}")).collect::<Vec<_>>().join(", ")
}

/// All marks as a table, then the counts.
pub(crate) fn table(marks: &[Mark]) -> String {
    let widest = marks.iter().map(|mark| mark.place.len()).max().unwrap_or(0);
    let mut text = String::new();
    for mark in marks {
        // Writing to a String cannot fail.
        let _ = writeln!(text, "{:widest$}  {}", mark.place, mark.text);
    }
    let _ = write!(text, "{} marked assumed: {}", marks.len(), counts(marks));
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn marks_are_found_by_room_with_file_line_and_text() {
        let house = House::of(&[
            ("crates/season/data/plants.toml", "x = 1\n# weight: assumed\n"),
            ("crates/trade/src/boxes.rs", "/// 9.0 kg: assumed.\nconst BOX: f64 = 9.0;\nlet assumed_weight = 1;\n"),
            ("crates/trade/tests/boxes.rs", "// assumed\n"),
            ("crates/book/src/lib.rs", "//! What is assumed is marked.\n//! The rest is not.\n"),
            ("docs/errors.md", "assumed 1\n"),
        ]);
        let marks = find(&house);
        assert_eq!(marks.len(), 2);
        assert_eq!(marks[1].place, "crates/trade/src/boxes.rs:1");
        assert_eq!(marks[1].text, "9.0 kg: assumed.");
        assert_eq!(counts(&marks), "season 1, trade 1");
        assert!(table(&marks).ends_with("2 marked assumed: season 1, trade 1"));
    }

    #[test]
    fn a_longer_word_is_no_mark() {
        assert!(has_word("(assumed)", "assumed"));
        assert!(!has_word("unassumed assumed_by", "assumed"));
    }
}
