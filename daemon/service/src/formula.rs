//! Text that a spreadsheet would run as a formula, guarded in every table that is written, and restored in those that are read.
//!
//! The usual guard (OWASP, "CSV Injection", from memory): a cell that begins with `=`, `+`, `-`, `@`, a tab or a carriage return
//! is text after an apostrophe. Spreadsheets drop blanks before it, some know the signs in full width, and one that expects
//! semicolons or tabs between cells begins a cell after each of them, and after each line: there, too. Numbers have columns of
//! their own and are not touched. RFC 4180 says how a cell with commas, quotes or lines in it is written; `csv` does that.

use std::borrow::Cow;

/// The guard.
const GUARD: char = '\'';

/// Where a reader of other habits would begin a new cell.
const fn ends_cell(letter: char) -> bool {
    matches!(letter, ';' | '\t' | '\n' | '\r')
}

/// Whether a part of a text would run, whatever guards stand before it: so that one guard can always be put and taken off again.
fn would_run(part: &str) -> bool {
    let body = part.trim_end_matches(ends_cell);
    let first = body.trim_start_matches(|letter: char| letter == GUARD || letter.is_whitespace());
    first.starts_with(['=', '+', '-', '@', '\u{ff1d}', '\u{ff0b}', '\u{ff0d}', '\u{ff20}'])
        || first.is_empty() && part.ends_with(['\t', '\r'])
}

/// The text as a cell of a table.
pub fn guarded(text: &str) -> Cow<'_, str> {
    if !text.split_inclusive(ends_cell).any(would_run) {
        return Cow::Borrowed(text);
    }
    let mut out = String::with_capacity(text.len() + 8);
    for part in text.split_inclusive(ends_cell) {
        if would_run(part) {
            out.push(GUARD);
        }
        out.push_str(part);
    }
    Cow::Owned(out)
}

/// The text that a cell of a table was written from.
pub fn restored(text: &str) -> String {
    let parts = text.split_inclusive(ends_cell);
    parts.map(|part| part.strip_prefix(GUARD).filter(|_| would_run(part)).unwrap_or(part)).collect()
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn a_formula_is_text_after_an_apostrophe() {
        for (text, cell) in [
            ("=HYPERLINK(\"http://example.org\")", "'=HYPERLINK(\"http://example.org\")"),
            ("+1", "'+1"),
            ("-5 °C last night", "'-5 °C last night"),
            ("@SUM(A1)", "'@SUM(A1)"),
            ("\t=1", "'\t'=1"),
            ("\r=1", "'\r'=1"),
            ("  =1", "'  =1"),
            ("\u{ff1d}1", "'\u{ff1d}1"),
            ("seen;=1+1", "seen;'=1+1"),
            ("two\n=lines", "two\n'=lines"),
            ("'=1", "''=1"),
            ("'tis a bud", "'tis a bud"),
            ("a = b, 1.5 - 2", "a = b, 1.5 - 2"),
            ("", ""),
        ] {
            assert_eq!(guarded(text), cell, "{text:?}");
            assert_eq!(restored(cell), text, "{cell:?}");
        }
    }

    proptest! {
        #[test]
        fn what_was_guarded_is_restored_and_would_not_run(text in "[=+@';\\t\\n\\r a-]{0,12}") {
            let cell = guarded(&text).into_owned();
            prop_assert_eq!(restored(&cell), text);
            prop_assert!(!cell.split(ends_cell).any(|part| part.trim_start().starts_with(['=', '+', '-', '@'])));
            prop_assert!(!cell.starts_with(['\t', '\r']));
        }
    }
}
