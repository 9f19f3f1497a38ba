//! Pages gathered from the rooms' parts: errors by code, sources by key, the glossary by word.

use std::collections::BTreeMap;

use crate::codes::heading;
use crate::house::{Finding, House, TextFile};

/// The gathered page of error codes.
pub(crate) const ERRORS: &str = "docs/errors.md";
const SOURCES: &str = "docs/sources.md";
const GLOSSARY: &str = "docs/glossary.md";

/// A gathered page.
#[derive(Debug)]
pub(crate) struct Page {
    /// Where it goes.
    pub(crate) path: &'static str,
    /// What it says.
    pub(crate) text: String,
}

/// Pages that are stale, and parts that cannot be gathered.
pub(crate) fn check(house: &House) -> Vec<Finding> {
    match gather(house) {
        Err(findings) => findings,
        Ok(pages) => pages
            .iter()
            .filter(|page| house.text(page.path) != Some(page.text.as_str()))
            .map(|page| Finding::at(page.path, 0, "is stale; run cargo xtask docs"))
            .collect(),
    }
}

/// Gathers the three pages.
pub(crate) fn gather(house: &House) -> Result<Vec<Page>, Vec<Finding>> {
    let mut findings = Vec::new();
    let pages = vec![
        Page { path: ERRORS, text: errors(house, &mut findings) },
        Page { path: SOURCES, text: sources(house, &mut findings) },
        Page { path: GLOSSARY, text: glossary(house, &mut findings) },
    ];
    if findings.is_empty() { Ok(pages) } else { Err(findings) }
}

/// Entries of one page by key, each with the file and line it came from.
#[derive(Default)]
struct Entries(BTreeMap<String, (String, String, usize)>);

impl Entries {
    /// Adds an entry; a key that stands there already is a finding.
    fn add(&mut self, key: &str, text: String, file: &TextFile, line: usize, what: &str, findings: &mut Vec<Finding>) {
        if let Some((_, path, first)) = self.0.get(&key.to_lowercase()) {
            findings.push(Finding::at(&file.path, line, format!("{what} {key} stands already in {path}:{first}")));
        } else {
            self.0.insert(key.to_lowercase(), (text, file.path.clone(), line));
        }
    }

    fn texts(&self) -> impl Iterator<Item = &str> {
        self.0.values().map(|(text, _, _)| text.trim_end())
    }
}

fn errors(house: &House, findings: &mut Vec<Finding>) -> String {
    let mut entries = Entries::default();
    for file in house.under("docs/errors/") {
        let mut open: Option<(&str, usize, String)> = None;
        for (index, line) in file.text.lines().enumerate() {
            if line.starts_with('#') {
                close_error(&mut entries, open.take(), file, findings);
                match heading(line) {
                    Some(code) => open = Some((code, index + 1, format!("{line}\n"))),
                    None if line.starts_with("### ") => {
                        findings.push(Finding::at(
                            &file.path,
                            index + 1,
                            "a heading of the third rank is a code such as TRD-012",
                        ));
                    }
                    None => {}
                }
            } else if let Some((_, _, text)) = &mut open {
                text.push_str(line);
                text.push('\n');
            }
        }
        close_error(&mut entries, open, file, findings);
    }
    let head = "# Errors\n\nEvery code outyard can print, what it means and what to do.\nGathered from `docs/errors/` by `cargo xtask docs`; edit there.\n";
    page_of(head, "\n\n", &entries.texts().map(str::to_owned).collect::<Vec<_>>())
}

fn close_error(
    entries: &mut Entries,
    open: Option<(&str, usize, String)>,
    file: &TextFile,
    findings: &mut Vec<Finding>,
) {
    let Some((code, line, text)) = open else { return };
    if text.lines().skip(1).all(|line| line.trim().is_empty()) {
        findings.push(Finding::at(&file.path, line, format!("{code} has a heading and no paragraph")));
    }
    entries.add(code, text, file, line, "code", findings);
}

/// One line per word: `**word** — meaning`, with or without a bullet.
fn glossary(house: &House, findings: &mut Vec<Finding>) -> String {
    let mut entries = Entries::default();
    for file in house.under("docs/glossary/") {
        for (index, line) in file.text.lines().enumerate().filter(|(_, line)| !is_furniture(line)) {
            match keyed(line) {
                Some((word, text)) => entries.add(word, format!("- {text}"), file, index + 1, "the word", findings),
                None => findings.push(Finding::at(&file.path, index + 1, "a glossary line is `**word** — meaning`")),
            }
        }
    }
    let head = "# Glossary\n\nOne word per idea, in code, pages and screens alike.\nGathered from `docs/glossary/` by `cargo xtask docs`; edit there.\n";
    page_of(head, "\n", &entries.texts().map(str::to_owned).collect::<Vec<_>>())
}

/// One line per source: `- **Key** — full line`. The same key may be cited by several rooms; each room's words are kept.
fn sources(house: &House, findings: &mut Vec<Finding>) -> String {
    let mut lines: BTreeMap<(String, String), String> = BTreeMap::new();
    for file in house.under("docs/sources/") {
        let room = file.path.trim_start_matches("docs/sources/").trim_end_matches(".md");
        let mut last: Option<(String, String)> = None;
        for (index, line) in file.text.lines().enumerate().filter(|(_, line)| !is_furniture(line)) {
            if let Some((key, text)) = keyed(line) {
                let place = (key.to_lowercase(), room.to_owned());
                if lines.insert(place.clone(), format!("- {text}")).is_some() {
                    findings.push(Finding::at(&file.path, index + 1, format!("source {key} stands twice")));
                }
                last = Some(place);
            } else if let Some(before) =
                last.as_ref().filter(|_| line.starts_with(' ')).and_then(|last| lines.get_mut(last))
            {
                before.push(' ');
                before.push_str(line.trim());
            } else {
                findings.push(Finding::at(
                    &file.path,
                    index + 1,
                    "a source line is `- **Key** — author, title, where and when`",
                ));
            }
        }
    }
    let head = "# Sources\n\nWhere the numbers come from. A key in the code stands here in full; the room that cites it follows in brackets.\nGathered from `docs/sources/` by `cargo xtask docs`; edit there.\n";
    let lines: Vec<String> = lines.iter().map(|((_, room), text)| format!("{} [{room}]", text.trim_end())).collect();
    page_of(head, "\n", &lines)
}

/// A head, a blank line, and the entries.
fn page_of(head: &str, between: &str, entries: &[String]) -> String {
    if entries.is_empty() { head.to_owned() } else { format!("{head}\n{}\n", entries.join(between)) }
}

/// Headings, blank lines and comments.
fn is_furniture(line: &str) -> bool {
    line.trim().is_empty() || line.starts_with('#') || line.starts_with("<!--")
}

/// The word in bold at the start of a line, and the line without its bullet.
fn keyed(line: &str) -> Option<(&str, &str)> {
    let text = line.strip_prefix("- ").unwrap_or(line);
    let (key, rest) = text.strip_prefix("**")?.split_once("**")?;
    (!key.trim().is_empty() && !rest.trim().is_empty()).then_some((key.trim_matches(['`', '[', ']']), text))
}

#[cfg(test)]
mod tests {
    use super::*;

    const GOOD: [(&str, &str); 5] = [
        ("docs/errors/trade.md", "# Trade\n\n### TRD-002\nSecond.\n\n### TRD-001 twice\nFirst.\n"),
        ("docs/errors/base.md", "### DAT-001\nNo date.\n"),
        ("docs/glossary/trade.md", "**yard** — a place with hives\n"),
        ("docs/glossary/season.md", "- **Flow** — nectar comes in\n"),
        ("docs/sources/season.md", "- **Khoury 2011** — A paper.\n  More of it.\n"),
    ];

    fn with(extra: &[(&str, &str)]) -> House {
        House::of(&[&GOOD[..], extra].concat())
    }

    fn page(path: &str) -> String {
        gather(&with(&[])).unwrap().into_iter().find(|page| page.path == path).unwrap().text
    }

    #[test]
    fn pages_are_sorted_by_code_word_and_key() {
        let errors = page(ERRORS);
        let order: Vec<&str> = errors.lines().filter_map(heading).collect();
        assert_eq!(order, ["DAT-001", "TRD-001", "TRD-002"]);
        assert!(page(GLOSSARY).ends_with("- **Flow** — nectar comes in\n- **yard** — a place with hives\n"));
        assert!(page(SOURCES).ends_with("- **Khoury 2011** — A paper. More of it. [season]\n"));
    }

    #[test]
    fn fresh_pages_pass_and_stale_ones_fail() {
        let pages = gather(&with(&[])).unwrap();
        let files: Vec<(&str, &str)> = pages.iter().map(|page| (page.path, page.text.as_str())).collect();
        assert!(check(&with(&files)).is_empty());
        let stale = check(&with(&[files[0], files[1], (GLOSSARY, "old")]));
        assert_eq!(stale.len(), 1);
        assert_eq!(stale[0].to_string(), "docs/glossary.md: is stale; run cargo xtask docs");
    }

    #[test]
    fn a_word_or_a_code_twice_fails() {
        let twice = check(&with(&[("docs/glossary/runs.md", "**flow** — again\n")]));
        assert!(twice[0].what.contains("stands already in docs/glossary/season.md:1"), "{twice:?}");
        let twice = check(&with(&[("docs/errors/runs.md", "### TRD-001\nAgain.\n")]));
        assert!(twice[0].what.contains("code TRD-001 stands already"), "{twice:?}");
    }

    #[test]
    fn a_line_out_of_shape_fails() {
        for bad in [
            ("docs/glossary/runs.md", "crew: people\n"),
            ("docs/errors/runs.md", "### Something\nx\n"),
            ("docs/errors/runs.md", "### RUN-001\n\n"),
            ("docs/sources/runs.md", "Solomon 1987\n"),
            ("docs/sources/runs.md", "- **A** — x\n- **A** — y\n"),
        ] {
            assert_eq!(check(&with(&[bad])).len(), 1, "{bad:?}");
        }
    }
}
