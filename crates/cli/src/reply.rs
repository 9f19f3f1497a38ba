//! What a command answers: a page to read, or the same as JSON.

use std::io::Write;

use outyard_base::{Note, Trouble};
use serde_json::{Value, json};

/// Exit code when all went well.
pub(crate) const DONE: u8 = 0;
/// Exit code when something in the outfit or the input is wrong. (2, wrong words, is clap's own.)
pub(crate) const TROUBLE: u8 = 1;

/// A command's answer.
#[derive(Debug)]
pub(crate) struct Reply {
    /// The page, in lines of at most 100 columns.
    pub(crate) page: String,
    /// The same for other programs.
    pub(crate) data: Value,
    /// What is worth knowing about the data behind it.
    pub(crate) notes: Vec<Note>,
}

impl Reply {
    /// An answer with no notes.
    pub(crate) fn new(page: impl Into<String>, data: impl serde::Serialize) -> Self {
        let data = serde_json::to_value(data).expect("every view is plain data with text keys");
        Self { page: page.into(), data, notes: Vec::new() }
    }

    /// Adds notes.
    pub(crate) fn with(mut self, notes: impl IntoIterator<Item = Note>) -> Self {
        self.notes.extend(notes);
        self
    }
}

fn place_of(place: Option<&outyard_base::trouble::Spot>) -> Value {
    place.map_or(Value::Null, |place| json!({ "file": place.file, "line": place.line, "column": place.column }))
}

/// Prints an answer and gives its exit code.
pub(crate) fn tell(outcome: Result<Reply, Vec<Trouble>>, as_json: bool) -> u8 {
    let (text, to_error, code) = match (outcome, as_json) {
        (Ok(reply), true) => {
            let notes: Vec<Value> = reply
                .notes
                .iter()
                .map(|note| json!({ "code": note.code, "text": note.text, "place": place_of(note.place.as_deref()) }))
                .collect();
            let whole = json!({ "answer": reply.data, "notes": notes });
            (serde_json::to_string_pretty(&whole).expect("plain data"), false, DONE)
        }
        (Ok(reply), false) => {
            let mut page = within_width(&reply.page);
            page.push_str(&notes_page(&reply.notes));
            (page, false, DONE)
        }
        (Err(troubles), true) => {
            let all: Vec<Value> = troubles
                .iter()
                .map(|trouble| {
                    json!({
                        "code": trouble.code,
                        "cause": trouble.cause,
                        "remedy": trouble.remedy,
                        "place": place_of(trouble.place.as_deref()),
                    })
                })
                .collect();
            (serde_json::to_string_pretty(&json!({ "trouble": all })).expect("plain data"), false, TROUBLE)
        }
        (Err(troubles), false) => {
            let mut page = String::new();
            for trouble in &troubles {
                page.push_str(&hang("outyard: ", &trouble.to_string()));
                page.push_str(&hang("  do: ", &trouble.remedy));
            }
            if troubles.len() > 1 {
                page.push_str(&format!("{} things to put right; nothing was written.\n", troubles.len()));
            }
            (page, true, TROUBLE)
        }
    };
    let text = if text.ends_with('\n') { text } else { text + "\n" };
    let written = if to_error {
        std::io::stderr().lock().write_all(text.as_bytes())
    } else {
        std::io::stdout().lock().write_all(text.as_bytes())
    };
    // A reader that closed its end (a pager) is no trouble of ours.
    if written.is_err() { TROUBLE } else { code }
}

/// Notes under a page: of many alike, the first two and how many more.
fn notes_page(notes: &[Note]) -> String {
    let mut page = String::new();
    let mut told: Vec<(&'static str, usize)> = Vec::new();
    for note in notes {
        let seen = if let Some((_, count)) = told.iter_mut().find(|(code, _)| *code == note.code) {
            *count += 1;
            *count
        } else {
            told.push((note.code, 1));
            1
        };
        if page.is_empty() {
            page.push_str("\nWorth knowing\n");
        }
        if seen <= 2 {
            page.push_str(&hang("  - ", &note.to_string()));
        }
    }
    for (code, count) in told.into_iter().filter(|(_, count)| *count > 2) {
        page.push_str(&format!("  - and {} more like it [{code}]\n", count - 2));
    }
    page
}

/// A count with its noun: `1 yard`, `40 yards`.
pub(crate) fn count_of(count: usize, noun: &str) -> String {
    if count == 1 { format!("1 {noun}") } else { format!("{count} {noun}s") }
}

/// Widest line of a page.
pub(crate) const PAGE_WIDTH: usize = 100;

/// A page with each line that is too wide broken at a blank and hung under its own beginning.
fn within_width(page: &str) -> String {
    let mut out = String::new();
    for line in page.lines() {
        if line.chars().count() <= PAGE_WIDTH {
            out.push_str(line);
            out.push('\n');
        } else {
            let indent = line.chars().take_while(|letter| *letter == ' ').count();
            let words = hang(&" ".repeat(indent + 2), line);
            // The first line begins where the line began.
            out.push_str(&words.replacen("  ", "", 1));
        }
    }
    out
}

/// Breaks a sentence into lines of [`PAGE_WIDTH`] columns that hang under a lead.
pub(crate) fn hang(lead: &str, text: &str) -> String {
    let indent = " ".repeat(lead.chars().count());
    let mut out = String::new();
    let mut line = lead.to_owned();
    let mut empty = true;
    for word in text.split_whitespace() {
        let width = line.chars().count() + usize::from(!empty) + word.chars().count();
        if width > PAGE_WIDTH && !empty {
            out.push_str(line.trim_end());
            out.push('\n');
            line.clone_from(&indent);
            empty = true;
        }
        if !empty {
            line.push(' ');
        }
        line.push_str(word);
        empty = false;
    }
    out.push_str(line.trim_end());
    out.push('\n');
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn long_sentences_hang_under_their_lead_and_keep_within_the_page() {
        let text = hang("  - ", &"honey ".repeat(60));
        assert!(text.lines().all(|line| line.chars().count() <= PAGE_WIDTH));
        assert!(text.lines().nth(1).unwrap().starts_with("    honey"));
        assert_eq!(text.matches("honey").count(), 60);
        assert_eq!(hang("- ", ""), "-\n");
        let page = within_width(&format!("short   stays\n  {}\n", "honey ".repeat(30)));
        assert!(page.starts_with("short   stays\n  honey") && page.matches("honey").count() == 30, "{page}");
        assert!(page.lines().all(|line| line.chars().count() <= PAGE_WIDTH), "{page}");
        assert!(page.lines().nth(2).unwrap().starts_with("    honey"), "{page}");
    }
}
