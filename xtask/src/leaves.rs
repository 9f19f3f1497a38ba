//! Rust files cut into their smallest parts, without comments, docs and test code.

use proc_macro2::{Delimiter, Group, TokenStream, TokenTree};

/// One smallest part of code.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Leaf {
    /// Line, counted from 1.
    pub(crate) line: usize,
    /// The part as written.
    pub(crate) text: String,
    /// What sort of part it is.
    pub(crate) sort: Sort,
}

/// Sorts of parts.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Sort {
    /// A name or a keyword.
    Word,
    /// A number, a character or a string.
    Literal,
    /// A sign or a bracket.
    Sign,
}

/// Code of a file, cut up.
#[derive(Debug, Default)]
pub(crate) struct Cut {
    /// Parts outside test code.
    pub(crate) leaves: Vec<Leaf>,
    /// Names of modules in files of their own that are built for tests only.
    pub(crate) test_modules: Vec<String>,
}

/// Cuts a file up; `Err` is the reason it is no Rust.
pub(crate) fn cut(text: &str) -> Result<Cut, String> {
    let stream: TokenStream = text.parse().map_err(|error| format!("cannot be read as Rust: {error}"))?;
    let mut cut = Cut::default();
    walk(stream, &mut cut);
    Ok(cut)
}

fn walk(stream: TokenStream, cut: &mut Cut) {
    let mut trees = stream.into_iter().peekable();
    while let Some(tree) = trees.next() {
        if is_sign(&tree, '#') {
            if trees.peek().is_some_and(|next| is_sign(next, '!')) {
                trees.next();
            }
            if let Some(TokenTree::Group(attribute)) = trees.next_if(|next| matches!(next, TokenTree::Group(_))) {
                if marks_tests(&attribute) {
                    skip_item(&mut trees, cut);
                } else if first_word(&attribute).as_deref() != Some("doc") {
                    walk(attribute.stream(), cut);
                }
            }
            continue;
        }
        leaf(tree, cut);
    }
}

fn is_sign(tree: &TokenTree, sign: char) -> bool {
    matches!(tree, TokenTree::Punct(punct) if punct.as_char() == sign)
}

fn first_word(group: &Group) -> Option<String> {
    match group.stream().into_iter().next() {
        Some(TokenTree::Ident(word)) => Some(word.to_string()),
        _ => None,
    }
}

/// `#[cfg(test)]`, also among others in `all(...)`; not `not(test)`.
fn marks_tests(attribute: &Group) -> bool {
    let text = attribute.stream().to_string().replace(' ', "");
    text == "cfg(test)" || (text.starts_with("cfg(all(") && text.contains("test") && !text.contains("not(test)"))
}

/// Passes over the item a test mark stands on, and notes a module that lies in a file of its own.
fn skip_item(trees: &mut impl Iterator<Item = TokenTree>, cut: &mut Cut) {
    let mut last_two: [Option<String>; 2] = [None, None];
    for tree in trees {
        match &tree {
            TokenTree::Group(group) if group.delimiter() == Delimiter::Brace => return,
            TokenTree::Punct(punct) if punct.as_char() == ';' => {
                if let [Some(keyword), Some(name)] = last_two
                    && keyword == "mod"
                {
                    cut.test_modules.push(name);
                }
                return;
            }
            _ => {
                let [_, last] = last_two;
                last_two = [last, Some(tree.to_string())];
            }
        }
    }
}

fn leaf(tree: TokenTree, cut: &mut Cut) {
    let line = tree.span().start().line;
    let mut push = |text: String, sort| cut.leaves.push(Leaf { line, text, sort });
    match tree {
        TokenTree::Ident(word) => push(word.to_string(), Sort::Word),
        TokenTree::Literal(literal) => push(literal.to_string(), Sort::Literal),
        TokenTree::Punct(punct) => push(punct.as_char().to_string(), Sort::Sign),
        TokenTree::Group(group) => {
            let (open, close) = match group.delimiter() {
                Delimiter::Parenthesis => ("(", ")"),
                Delimiter::Brace => ("{", "}"),
                Delimiter::Bracket => ("[", "]"),
                Delimiter::None => ("", ""),
            };
            push(open.to_owned(), Sort::Sign);
            walk(group.stream(), cut);
            let line = group.span_close().start().line;
            cut.leaves.push(Leaf { line, text: close.to_owned(), sort: Sort::Sign });
        }
    }
}

/// A path such as `std::fs::read`, from an expression or out of a `use`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Path {
    /// Line of its last part.
    pub(crate) line: usize,
    /// Its parts.
    pub(crate) parts: Vec<String>,
}

/// All paths in the code; `use` trees are spread out, so `use std::{fs, time::Instant}` gives two.
pub(crate) fn paths(leaves: &[Leaf]) -> Vec<Path> {
    let mut paths = Vec::new();
    let mut at = 0;
    while at < leaves.len() {
        if leaves[at].sort == Sort::Word {
            at = spread(leaves, at, &mut Vec::new(), &mut paths);
        } else {
            at += 1;
        }
    }
    paths
}

/// Reads one path from `at` with the parts already before it; gives the place after it.
fn spread(leaves: &[Leaf], mut at: usize, before: &mut Vec<String>, paths: &mut Vec<Path>) -> usize {
    let depth = before.len();
    let text = |at: usize| leaves.get(at).map(|leaf| leaf.text.as_str());
    let mut line = 0;
    while let Some(leaf) = leaves.get(at).filter(|leaf| leaf.sort == Sort::Word) {
        before.push(leaf.text.clone());
        line = leaf.line;
        at += 1;
        if text(at) != Some(":") || text(at + 1) != Some(":") {
            break;
        }
        at += 2;
    }
    if text(at) == Some("{") && at >= 2 && text(at - 1) == Some(":") {
        at += 1;
        while let Some(next) = text(at).filter(|next| *next != "}") {
            let step = at;
            at = if next == "," || next == "*" { at + 1 } else { spread(leaves, at, before, paths) };
            // Whatever else may stand in the braces, the reading moves on.
            at = at.max(step + 1);
        }
        at += 1;
    } else if before.len() > depth {
        paths.push(Path { line, parts: before.clone() });
    }
    before.truncate(depth);
    at
}

#[cfg(test)]
mod tests {
    use super::*;

    fn words(text: &str) -> Vec<String> {
        let cut = cut(text).unwrap();
        cut.leaves.into_iter().filter(|leaf| leaf.sort == Sort::Word).map(|leaf| leaf.text).collect()
    }

    #[test]
    fn comments_docs_and_tests_are_left_out() {
        let text = "//! HashMap\n/// HashMap\nfn keep() { /* HashMap */ }\n#[cfg(test)]\nmod tests { use x::HashMap; }\nfn also() {}";
        assert_eq!(words(text), ["fn", "keep", "fn", "also"]);
        assert_eq!(words("#[cfg(test)]\nfn of() -> u8 { 1 }\nstruct After;"), ["struct", "After"]);
        assert_eq!(words("#[cfg(not(test))]\nfn kept() {}"), ["cfg", "not", "test", "fn", "kept"]);
    }

    #[test]
    fn a_test_module_in_its_own_file_is_noted() {
        assert_eq!(cut("mod a;\n#[cfg(test)]\nmod checks;\nmod b;").unwrap().test_modules, ["checks"]);
    }

    #[test]
    fn lines_are_counted_from_one() {
        assert_eq!(cut("\n\nfn here() {}").unwrap().leaves[1].line, 3);
    }

    #[test]
    fn use_trees_are_spread_out() {
        let text = "use std::{fs, io::{self, Read}, time::Instant}; fn f() { jiff::Timestamp::now(); }";
        let found: Vec<String> = paths(&cut(text).unwrap().leaves).iter().map(|path| path.parts.join("::")).collect();
        for expected in ["std::fs", "std::io::self", "std::io::Read", "std::time::Instant", "jiff::Timestamp::now"] {
            assert!(found.iter().any(|path| path == expected), "{expected} not in {found:?}");
        }
    }

    #[test]
    fn what_is_no_rust_is_said_to_be_none() {
        assert!(cut("fn broken( {").unwrap_err().contains("cannot be read as Rust"));
    }
}
