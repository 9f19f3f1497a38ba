//! Words and paths that stay out of the house. This file is the only one that may hold them.

use crate::house::{Finding, House};

/// Parts of paths that exist on somebody's machine only.
const MACHINE_PATHS: [&str; 4] = ["/work/", "/tmp/", "/home/", "/Users/"];
/// Words of office programs and of how a text came to be; found in any case of letters.
const WORDS: [&str; 3] = ["dashboard", "workflow", "transcript"];
/// Signs of work left undone; found as written.
const UNDONE: [&str; 5] = ["todo!(", "unimplemented!(", "#[ignore", "FIXME", "TODO"];
/// The file that holds the list.
const OWN: &str = "xtask/src/words.rs";

/// Looks through every text file of the house.
pub(crate) fn check(house: &House) -> Vec<Finding> {
    let mut findings = Vec::new();
    for file in house.files.iter().filter(|file| file.path != OWN) {
        for (index, line) in file.text.lines().enumerate() {
            findings.extend(objection(line).map(|what| Finding::at(&file.path, index + 1, what)));
        }
    }
    findings
}

fn objection(line: &str) -> Option<String> {
    let lower = line.to_lowercase();
    let path = MACHINE_PATHS.iter().find(|path| is_path(line, path));
    let word = WORDS.iter().find(|word| lower.contains(**word));
    let undone = UNDONE.iter().find(|sign| line.contains(**sign));
    path.map(|path| format!("{path} is a path of one machine"))
        .or_else(|| word.map(|word| format!("\"{word}\" is not a word of this house; see docs/glossary.md")))
        .or_else(|| undone.map(|sign| format!("{sign}: work is finished or not begun")))
}

/// At the start of a path, not in the midst of a web address or a longer path such as `docs/work/`.
fn is_path(line: &str, path: &str) -> bool {
    line.match_indices(path).any(|(start, _)| {
        !line[..start].ends_with(|letter: char| letter.is_alphanumeric() || matches!(letter, '.' | '_' | '-'))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn found(text: &str) -> usize {
        check(&House::of(&[("docs/a.md", text)])).len()
    }

    #[test]
    fn each_word_and_path_is_found() {
        for bad in [
            "see /work/main",
            "kept in /tmp/x",
            "\"/home/x\"",
            "our Dashboard",
            "a workflow",
            "the transcript",
            "todo!()",
            "unimplemented!(\"x\")",
            "#[ignore]",
            "// FIXME later",
            "// TODO later",
        ] {
            assert_eq!(found(bad), 1, "{bad}");
        }
    }

    #[test]
    fn plain_words_pass_and_the_list_itself_is_let_off() {
        for good in
            ["work on the truck", "docs/work/plan.md", "example.org/home/page", "ignore the rain", "the flow works"]
        {
            assert_eq!(found(good), 0, "{good}");
        }
        assert!(check(&House::of(&[(OWN, "dashboard")])).is_empty());
    }
}
