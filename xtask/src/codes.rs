//! Every code a user can meet has its paragraph, and no paragraph outlives its code.

use std::collections::BTreeMap;

use crate::house::{Finding, House};
use crate::leaves::{self, Sort};
use crate::pages::ERRORS;

/// Words of the same shape that are no codes of ours.
const NOT_CODES: [&str; 2] = ["SHA-256", "SHA-512"];

/// Compares the codes in the rooms' string literals, outside tests, with the headings of the gathered page.
pub(crate) fn check(house: &House) -> Vec<Finding> {
    let used = used(house);
    let page = house.text(ERRORS).unwrap_or_default();
    let listed: Vec<(usize, &str)> =
        page.lines().enumerate().filter_map(|(at, line)| Some((at + 1, heading(line)?))).collect();
    let mut findings: Vec<Finding> = used
        .iter()
        .filter(|(code, _)| listed.iter().all(|(_, listed)| listed != code))
        .map(|(code, (path, line))| {
            Finding::at(
                path,
                *line,
                format!("{code} has no paragraph in {ERRORS}; write it in docs/errors/ and run cargo xtask docs"),
            )
        })
        .collect();
    findings.extend(
        listed
            .iter()
            .filter(|(_, code)| !used.contains_key(*code))
            .map(|(line, code)| Finding::at(ERRORS, *line, format!("{code} is explained but no code uses it"))),
    );
    findings
}

/// Codes used, each with the place of its first use.
fn used(house: &House) -> BTreeMap<String, (String, usize)> {
    let mut used = BTreeMap::new();
    for file in house.files.iter().filter(|file| file.is_room_code() && !file.path.ends_with("/tests.rs")) {
        // A file that cannot be read is a finding of the purity rule or of the compiler.
        let Ok(cut) = leaves::cut(&file.text) else { continue };
        for leaf in cut.leaves.iter().filter(|leaf| leaf.sort == Sort::Literal && leaf.text.contains('"')) {
            for code in codes_in(&leaf.text) {
                used.entry(code.to_owned()).or_insert_with(|| (file.path.clone(), leaf.line));
            }
        }
    }
    used
}

/// Three capitals, a dash and three digits, standing alone.
pub(crate) fn codes_in(text: &str) -> Vec<&str> {
    let bytes = text.as_bytes();
    let is_code = |part: &[u8]| {
        part[..3].iter().all(u8::is_ascii_uppercase) && part[3] == b'-' && part[4..].iter().all(u8::is_ascii_digit)
    };
    let part_of_word = |at: Option<&u8>| at.is_some_and(|byte| byte.is_ascii_alphanumeric() || *byte == b'-');
    bytes
        .windows(7)
        .enumerate()
        .filter(|(start, part)| {
            is_code(part)
                && !part_of_word(start.checked_sub(1).and_then(|before| bytes.get(before)))
                && !part_of_word(bytes.get(start + 7))
        })
        .filter_map(|(start, _)| text.get(start..start + 7))
        .filter(|code| !NOT_CODES.contains(code))
        .collect()
}

/// The code of a heading `### CODE`, with or without more words after it.
pub(crate) fn heading(line: &str) -> Option<&str> {
    let rest = line.strip_prefix("### ")?;
    let code = codes_in(rest).first().copied()?;
    rest.trim_start_matches('`').starts_with(code).then_some(code)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn found(code: &str, page: &str) -> Vec<String> {
        let house = House::of(&[("crates/trade/src/a.rs", code), (ERRORS, page)]);
        check(&house).iter().map(ToString::to_string).collect()
    }

    #[test]
    fn a_code_with_its_paragraph_passes() {
        assert!(found("fn f() { trouble(\"TRD-012\", x) }", "### TRD-012\nWhat it means.\n").is_empty());
    }

    #[test]
    fn a_code_without_paragraph_fails_at_its_line() {
        let found = found("\nfn f() { trouble(\"TRD-012\", x) }", "");
        assert_eq!(found.len(), 1);
        assert!(found[0].starts_with("crates/trade/src/a.rs:2: TRD-012 has no paragraph"));
    }

    #[test]
    fn a_paragraph_without_code_fails() {
        assert_eq!(
            found("fn f() {}", "x\n### TRD-001\n"),
            ["docs/errors.md:2: TRD-001 is explained but no code uses it"]
        );
    }

    #[test]
    fn codes_in_docs_and_tests_do_not_count() {
        assert!(
            found("/// Gives \"TRD-001\".\nfn f() {}\n#[cfg(test)]\nmod tests { const C: &str = \"TRD-002\"; }", "")
                .is_empty()
        );
    }

    #[test]
    fn only_a_whole_code_is_a_code() {
        assert_eq!(codes_in("\"see TRD-012, RUN-003\""), ["TRD-012", "RUN-003"]);
        assert!(codes_in("SHA-256 DEMO-0123 555-0123 abc-123 XTRD-012 TRD-0123").is_empty());
        assert_eq!(heading("### TRD-012 a yard twice"), Some("TRD-012"));
        assert_eq!(heading("### About TRD-012"), None);
    }
}
