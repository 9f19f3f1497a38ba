//! Every process module opens with its table of symbols, and the names in it exist.

use crate::house::{Finding, House, TextFile};
use crate::leaves::{self, Leaf, Sort};

/// How the head of a process table begins and ends; the values of several kinds may stand between.
const HEAD: (&str, &str) = ("//! | symbol | name in code | meaning | unit |", "source |");
/// The head as it is asked for.
const FULL_HEAD: &str = "| symbol | name in code | meaning | unit | value | source |";
/// Rooms whose modules are processes: a number there needs its line in a table.
const PROCESS_ROOMS: [&str; 1] = ["season"];

/// Looks through the rooms' modules.
pub(crate) fn check(house: &House) -> Vec<Finding> {
    let mut findings = Vec::new();
    for file in house.files.iter().filter(|file| file.is_room_code()) {
        let rows: Vec<(usize, &str)> = table_lines(&file.text).collect();
        if rows.is_empty() && !parent_has_table(house, file) {
            findings.extend(missing(file));
        } else {
            findings.extend(malformed(house, file, &rows));
        }
    }
    findings
}

/// One process may fill a folder: its table then stands in `folder/mod.rs` or `folder.rs`.
fn parent_has_table(house: &House, file: &TextFile) -> bool {
    let Some((folder, _)) = file.path.rsplit_once('/') else { return false };
    [format!("{folder}/mod.rs"), format!("{folder}.rs")]
        .iter()
        .any(|parent| house.text(parent).is_some_and(|text| table_lines(text).next().is_some()))
}

/// Lines of `//!` docs that are part of a table, counted from 1.
fn table_lines(text: &str) -> impl Iterator<Item = (usize, &str)> {
    text.lines().enumerate().map(|(index, line)| (index + 1, line)).filter(|(_, line)| line.starts_with("//! |"))
}

/// A process module with a number of its own and no table.
fn missing(file: &TextFile) -> Option<Finding> {
    let in_process_room = file.room().is_some_and(|room| PROCESS_ROOMS.contains(&room));
    let cut = leaves::cut(&file.text).ok()?;
    let line = first_number_constant(&cut.leaves)?;
    (in_process_room && !file.path.ends_with("/tests.rs")).then(|| {
        Finding::at(&file.path, line, format!("a process module with numbers opens with a table headed `{FULL_HEAD}`"))
    })
}

/// Line of the first constant whose value holds a decimal number.
fn first_number_constant(leaves: &[Leaf]) -> Option<usize> {
    let constants = leaves.iter().enumerate().filter(|(_, leaf)| leaf.sort == Sort::Word && leaf.text == "const");
    constants
        .filter(|(start, _)| {
            let value = leaves[*start..].iter().take_while(|leaf| leaf.text != ";" && leaf.text != "fn");
            value.clone().any(|leaf| leaf.sort == Sort::Literal && leaf.text.contains('.') && !leaf.text.contains('"'))
        })
        .map(|(_, leaf)| leaf.line)
        .next()
}

fn malformed(house: &House, file: &TextFile, rows: &[(usize, &str)]) -> Vec<Finding> {
    let mut findings = Vec::new();
    let mut head: Option<usize> = None;
    for (line, row) in rows {
        let cells = cells(row);
        let mut object = |what: String| findings.push(Finding::at(&file.path, *line, what));
        if cells[0] == "symbol" {
            head = (row.starts_with(HEAD.0) && row.ends_with(HEAD.1)).then_some(cells.len());
            if head.is_none() {
                object(format!("the table's head is `{FULL_HEAD}`"));
            }
        } else if let Some(columns) = head {
            if cells.len() != columns {
                object(format!("a row of {columns} cells has {}", cells.len()));
                continue;
            }
            for name in names(&cells[1]).into_iter().filter(|name| !exists(house, file, name)) {
                object(format!("`{name}` is in the table but not in the room's code"));
            }
        }
    }
    findings
}

/// Cells of a row; `\|` is a bar inside a cell.
fn cells(row: &str) -> Vec<String> {
    let inner = row.trim_start_matches("//!").trim().trim_start_matches('|').replace("\\|", "\u{1}");
    let inner = inner.strip_suffix('|').unwrap_or(&inner);
    inner.split('|').map(|cell| cell.trim().replace('\u{1}', "|")).collect()
}

/// Names between backticks: the last word of a path, without brackets.
fn names(cell: &str) -> Vec<String> {
    cell.split('`')
        .skip(1)
        .step_by(2)
        .map(|name| {
            let name = name.split(['(', '[', '<', ' ', '{']).next().unwrap_or(name);
            name.rsplit([':', '.']).next().unwrap_or(name).to_owned()
        })
        .filter(|name| !name.is_empty())
        .collect()
}

/// The name stands in the code of the same room, with or without its unit after it; `STEM*` stands for several.
fn exists(house: &House, file: &TextFile, name: &str) -> bool {
    let part_of_word = |letter: char| letter.is_alphanumeric() || letter == '_';
    let (stem, open) = name.strip_suffix('*').map_or((name, false), |stem| (stem, true));
    let ends = |rest: &str| open || rest.starts_with('_') || !rest.starts_with(part_of_word);
    let in_line = |line: &str| {
        line.match_indices(stem)
            .any(|(start, _)| !line[..start].ends_with(part_of_word) && ends(&line[start + stem.len()..]))
    };
    let in_code = |file: &TextFile| file.text.lines().any(|line| !line.trim_start().starts_with("//") && in_line(line));
    let room = file.room().unwrap_or_default();
    in_code(file) || house.under(&format!("crates/{room}/src/")).any(in_code)
}

#[cfg(test)]
mod tests {
    use super::*;

    const HEAD: &str = "//! | symbol | name in code | meaning | unit | value | source |";
    const RULE: &str = "//! |---|---|---|---|---|---|";

    fn found(text: &str) -> Vec<String> {
        check(&House::of(&[("crates/season/src/bloom.rs", text)])).into_iter().map(|finding| finding.what).collect()
    }

    #[test]
    fn a_table_whose_names_exist_passes() {
        let text = format!(
            "//! Bloom.\n//!\n{HEAD}\n{RULE}\n//! | P(a\\|b) | `START`, `heat_*` | m | °C | 1 | x |\nconst START: f64 = 1.0;\nfn f() {{ let heat_sum = 1; }}"
        );
        assert_eq!(found(&text), Vec::<String>::new());
        let two_kinds = "//! | symbol | name in code | meaning | unit | worker | drone | source |\n//! |---|---|---|---|---|---|---|\n//! | a | `f` | m | d | 1 | 2 | x |\nfn f() {}";
        assert!(found(two_kinds).is_empty());
        assert!(found("//! No numbers here.\nfn f() {}").is_empty());
    }

    #[test]
    fn a_number_without_table_fails() {
        assert_eq!(found("//! Bloom.\nconst START: f64 = 10.0;").len(), 1);
        let other_room = House::of(&[("crates/cli/src/table.rs", "const WIDE: f64 = 10.0;")]);
        assert!(check(&other_room).is_empty());
    }

    #[test]
    fn a_folder_may_keep_its_table_in_one_place() {
        let table = format!("{HEAD}\n{RULE}\n//! | a | `WIDE` | m | d | 1 | x |");
        let part = ("crates/season/src/scale/steps.rs", "const WIDE: f64 = 1.5;");
        assert!(check(&House::of(&[("crates/season/src/scale/mod.rs", &table), part])).is_empty());
        assert!(check(&House::of(&[("crates/season/src/scale.rs", &table), part])).is_empty());
        assert_eq!(check(&House::of(&[("crates/season/src/lib.rs", &table), part])).len(), 1);
    }

    #[test]
    fn a_wrong_head_a_short_row_and_a_dead_name_fail() {
        assert!(found("//! | symbol | name | meaning |\n//! |---|---|---|\n")[0].contains("head is"));
        assert!(found(&format!("{HEAD}\n{RULE}\n//! | a | `f` | b |\nfn f() {{}}"))[0].contains("has 3"));
        let dead = format!("{HEAD}\n{RULE}\n//! | a | `gone` | m | - | 1 | x |\nfn f() {{}}");
        assert!(found(&dead)[0].contains("`gone` is in the table"));
    }
}
