//! How the rooms say that something is wrong: a stable code, the cause, and what to do about it.

use core::fmt;

/// An error a user can meet. `code` is stable and has its own paragraph in `docs/errors.md`.
///
/// ```
/// use outyard_base::trouble::{Spot, Trouble};
/// let trouble = Trouble::new("YRD-003", "yard 7 is listed twice", "keep one of the two rows")
///     .at(Spot::file("yards.csv").line(9).column("yard"));
/// assert_eq!(trouble.to_string(), "yards.csv, line 9, column yard: yard 7 is listed twice [YRD-003]");
/// ```
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Trouble {
    /// Stable code such as `YRD-003`.
    pub code: &'static str,
    /// What is wrong, with the facts, as a lower-case fragment.
    pub cause: String,
    /// What the user can do.
    pub remedy: String,
    /// Where it stands, when it came from a file or a command word.
    pub place: Option<Box<Spot>>,
}

impl Trouble {
    /// Builds a trouble with no place.
    pub fn new(code: &'static str, cause: impl Into<String>, remedy: impl Into<String>) -> Self {
        Self { code, cause: cause.into(), remedy: remedy.into(), place: None }
    }

    /// Adds where it stands.
    #[must_use]
    pub fn at(mut self, place: Spot) -> Self {
        self.place = Some(Box::new(place));
        self
    }
}

impl fmt::Display for Trouble {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if let Some(place) = &self.place {
            write!(f, "{place}: ")?;
        }
        write!(f, "{} [{}]", self.cause, self.code)
    }
}

impl std::error::Error for Trouble {}

/// Where in the user's own files something stands.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Spot {
    /// File name as the user gave it.
    pub file: Option<String>,
    /// Line, counted from 1.
    pub line: Option<usize>,
    /// Column: a header name, or a character position counted from 1.
    pub column: Option<String>,
}

impl Spot {
    /// A place in a named file.
    pub fn file(name: impl Into<String>) -> Self {
        Self { file: Some(name.into()), ..Self::default() }
    }

    /// Adds the line, counted from 1.
    #[must_use]
    pub fn line(mut self, line: usize) -> Self {
        self.line = Some(line);
        self
    }

    /// Adds the column: a header name or a character position.
    #[must_use]
    pub fn column(mut self, column: impl Into<String>) -> Self {
        self.column = Some(column.into());
        self
    }
}

impl fmt::Display for Spot {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let mut first = true;
        let mut part = |f: &mut fmt::Formatter<'_>, text: &str| {
            let lead = if first { "" } else { ", " };
            first = false;
            write!(f, "{lead}{text}")
        };
        if let Some(file) = &self.file {
            part(f, file)?;
        }
        if let Some(line) = self.line {
            part(f, &format!("line {line}"))?;
        }
        if let Some(column) = &self.column {
            part(f, &format!("column {column}"))?;
        }
        Ok(())
    }
}

/// Something worth saying about data that could still be used: a gap, a repeated row, a value set aside.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Note {
    /// Stable code such as `WTH-101`.
    pub code: &'static str,
    /// The sentence shown to the user.
    pub text: String,
    /// Where it stands, when known.
    pub place: Option<Box<Spot>>,
}

impl Note {
    /// Builds a note with no place.
    pub fn new(code: &'static str, text: impl Into<String>) -> Self {
        Self { code, text: text.into(), place: None }
    }

    /// Adds where it stands.
    #[must_use]
    pub fn at(mut self, place: Spot) -> Self {
        self.place = Some(Box::new(place));
        self
    }
}

impl fmt::Display for Note {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if let Some(place) = &self.place {
            write!(f, "{place}: ")?;
        }
        write!(f, "{} [{}]", self.text, self.code)
    }
}
