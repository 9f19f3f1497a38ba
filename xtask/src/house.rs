//! The files of the checkout, read once, and what a rule finds in them.

use std::fmt;
use std::path::{Path, PathBuf};

/// Folders and files looked at, from the root of the checkout.
const PLACES: [&str; 9] =
    ["crates", "xtask", "docs", "Makefile", ".ci", "README.md", "ARCHITECTURE.md", "CONTRIBUTING.md", "CHANGELOG.md"];
/// Endings of files that hold text people write.
const TEXT_ENDINGS: [&str; 14] =
    ["rs", "md", "toml", "sql", "html", "css", "js", "ts", "svelte", "json", "csv", "txt", "yaml", "svg"];
/// Folders that hold what machines make.
const MADE_BY_MACHINES: [&str; 3] = ["target", "node_modules", "dist"];

/// Every text file of the checkout that the rules look at.
#[derive(Debug, Default)]
pub(crate) struct House {
    /// Root of the checkout.
    pub(crate) root: PathBuf,
    /// Files, sorted by path.
    pub(crate) files: Vec<TextFile>,
}

/// One file.
#[derive(Debug, Clone)]
pub(crate) struct TextFile {
    /// Path from the root, with forward slashes.
    pub(crate) path: String,
    /// What it says.
    pub(crate) text: String,
}

/// Something a rule objects to.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) struct Finding {
    /// File, from the root.
    pub(crate) path: String,
    /// Line, counted from 1; 0 when the whole file is meant.
    pub(crate) line: usize,
    /// What is wrong and what to do.
    pub(crate) what: String,
}

impl Finding {
    /// A finding at a line.
    pub(crate) fn at(path: &str, line: usize, what: impl Into<String>) -> Self {
        Self { path: path.to_owned(), line, what: what.into() }
    }
}

impl fmt::Display for Finding {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.line {
            0 => write!(f, "{}: {}", self.path, self.what),
            line => write!(f, "{}:{line}: {}", self.path, self.what),
        }
    }
}

impl House {
    /// Reads the checkout at `root`.
    pub(crate) fn read(root: &Path) -> Result<Self, String> {
        let mut files = Vec::new();
        for place in PLACES {
            let path = root.join(place);
            if path.exists() {
                read_into(&mut files, root, &path).map_err(|error| format!("{}: {error}", path.display()))?;
            }
        }
        files.sort_by(|left, right| left.path.cmp(&right.path));
        Ok(Self { root: root.to_owned(), files })
    }

    /// The text of one file.
    pub(crate) fn text(&self, path: &str) -> Option<&str> {
        self.files.iter().find(|file| file.path == path).map(|file| file.text.as_str())
    }

    /// Files under a folder, given with its closing slash.
    pub(crate) fn under<'a>(&'a self, folder: &'a str) -> impl Iterator<Item = &'a TextFile> {
        self.files.iter().filter(move |file| file.path.starts_with(folder))
    }

    /// A house of the given files, for tests of the rules.
    #[cfg(test)]
    pub(crate) fn of(files: &[(&str, &str)]) -> Self {
        let files = files.iter().map(|(path, text)| TextFile { path: (*path).to_owned(), text: (*text).to_owned() });
        Self { root: PathBuf::new(), files: files.collect() }
    }
}

fn read_into(files: &mut Vec<TextFile>, root: &Path, path: &Path) -> std::io::Result<()> {
    let name = path.file_name().and_then(|name| name.to_str()).unwrap_or_default();
    if path.is_dir() {
        if !MADE_BY_MACHINES.contains(&name) {
            for entry in std::fs::read_dir(path)? {
                read_into(files, root, &entry?.path())?;
            }
        }
        return Ok(());
    }
    let ending = path.extension().and_then(|ending| ending.to_str());
    if ending.is_none_or(|ending| TEXT_ENDINGS.contains(&ending)) {
        // A file without an ending may be anything; what is no text is no concern of these rules.
        if let Ok(text) = String::from_utf8(std::fs::read(path)?) {
            let relative = path.strip_prefix(root).unwrap_or(path).to_string_lossy().replace('\\', "/");
            files.push(TextFile { path: relative, text });
        }
    }
    Ok(())
}

impl TextFile {
    /// Room of a file under `crates/`.
    pub(crate) fn room(&self) -> Option<&str> {
        self.path.strip_prefix("crates/")?.split('/').next()
    }

    /// A Rust file of a room's library or program, not of its tests, benches or examples.
    pub(crate) fn is_room_code(&self) -> bool {
        let mut parts = self.path.split('/');
        parts.next() == Some("crates") && parts.nth(1) == Some("src") && self.is_rust()
    }

    /// A Rust file.
    pub(crate) fn is_rust(&self) -> bool {
        Path::new(&self.path).extension().is_some_and(|ending| ending == "rs")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_file_knows_its_room_and_whether_it_is_code() {
        let house = House::of(&[
            ("crates/season/src/bloom.rs", ""),
            ("crates/season/tests/golden.rs", ""),
            ("crates/season/data/plants.toml", ""),
            ("docs/errors/season.md", ""),
        ]);
        assert_eq!(house.files.iter().map(TextFile::is_room_code).collect::<Vec<_>>(), [true, false, false, false]);
        assert_eq!(house.files[0].room(), Some("season"));
        assert_eq!(house.files[3].room(), None);
    }

    #[test]
    fn a_finding_tells_file_and_line() {
        assert_eq!(Finding::at("a.rs", 3, "wrong").to_string(), "a.rs:3: wrong");
        assert_eq!(Finding::at("a.rs", 0, "wrong").to_string(), "a.rs: wrong");
    }
}
