//! Words that people type, at the way in and at the way out.
//!
//! At the way in a control character is refused. At the way out it is written as `\u001b`, for the record may be older than
//! that rule, and a name may come from elsewhere; JSON reads it as the same character.

use std::borrow::Cow;
use std::io::{self, Write};

use bloom_model::text::is_unseen_control;
use chrono::NaiveTime;

/// Longest name of a person that is taken, in characters.
pub const MAX_BY: usize = 100;
/// Longest note that is taken, in characters.
pub const MAX_NOTE: usize = 2000;

/// What a person wrote, without blanks around it; `None` if nothing is left.
///
/// # Errors
/// If it is longer than `longest` characters, or holds control characters; a note may have several lines.
pub fn said(name: &str, text: &str, longest: usize) -> Result<Option<String>, String> {
    let text = text.trim();
    if text.chars().count() > longest {
        Err(format!("{name} is longer than {longest} characters: shorten it"))
    } else if text.chars().any(|letter| is_unseen_control(letter) && letter != '\n') {
        Err(format!("{name} holds control characters: leave them out"))
    } else {
        Ok((!text.is_empty()).then(|| text.to_owned()))
    }
}

/// Who and with what note, of what a person recorded.
///
/// # Errors
/// As [`said`].
pub fn note_and_by(note: Option<&str>, by: Option<&str>) -> Result<(Option<String>, Option<String>), String> {
    let read = |name, text: Option<&str>, longest| text.map_or(Ok(None), |text| said(name, text, longest));
    Ok((read("`note`", note, MAX_NOTE)?, read("`by`", by, MAX_BY)?))
}

/// A time of day, `21:30`.
///
/// # Errors
/// With what would be right.
pub fn clock(text: &str) -> Result<NaiveTime, String> {
    NaiveTime::parse_from_str(text.trim(), "%H:%M")
        .map_err(|_| format!("{text:?} is no time of day: give it like 21:30"))
}

/// A text as a terminal may have it: lines and tabs stay, every other control character is spelt out.
pub fn shown(text: &str) -> Cow<'_, str> {
    let spelt_out = |letter: char| is_unseen_control(letter) && !matches!(letter, '\n' | '\t');
    if !text.contains(spelt_out) {
        return Cow::Borrowed(text);
    }
    let mut out = String::with_capacity(text.len() + 16);
    let mut letters = text.chars().peekable();
    while let Some(letter) = letters.next() {
        // the end of a line of a table
        let ends_line = letter == '\r' && letters.peek() == Some(&'\n');
        if spelt_out(letter) && !ends_line {
            out.push_str(&format!("\\u{:04x}", u32::from(letter)));
        } else {
            out.push(letter);
        }
    }
    Cow::Owned(out)
}

/// Writes to a terminal, as [`shown`]. Bytes that are no text are replaced.
#[derive(Debug)]
pub struct Shown<W: Write> {
    out: W,
    /// Colours are the program's own: `tracing` spells an escape of anybody else out.
    with_colours: bool,
    /// The beginning of a character, or a carriage return, whose other half has yet to come.
    pending: Vec<u8>,
}

impl<W: Write> Shown<W> {
    /// What is written to `out`.
    pub const fn new(out: W) -> Self {
        Self { out, with_colours: false, pending: Vec::new() }
    }

    /// Lets the escapes through that the log itself writes for its colours.
    pub const fn with_colours(out: W) -> Self {
        Self { out, with_colours: true, pending: Vec::new() }
    }

    fn put(&mut self, text: &str) -> io::Result<()> {
        if !self.with_colours {
            return self.out.write_all(shown(text).as_bytes());
        }
        for (place, part) in text.split('\u{1b}').enumerate() {
            if place > 0 {
                self.out.write_all(b"\x1b")?;
            }
            self.out.write_all(shown(part).as_bytes())?;
        }
        Ok(())
    }
}

impl<W: Write> Write for Shown<W> {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.pending.extend_from_slice(bytes);
        let all = std::mem::take(&mut self.pending);
        let whole = match std::str::from_utf8(&all) {
            Ok(text) if text.ends_with('\r') => all.len() - 1,
            Err(error) if error.error_len().is_none() => error.valid_up_to(),
            _ => all.len(),
        };
        self.put(&String::from_utf8_lossy(&all[..whole]))?;
        self.pending = all[whole..].to_vec();
        Ok(bytes.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        self.out.flush()
    }
}

impl<W: Write> Drop for Shown<W> {
    fn drop(&mut self) {
        if !self.pending.is_empty() {
            let rest = String::from_utf8_lossy(&std::mem::take(&mut self.pending)).into_owned();
            // nobody is left to be told of a terminal that is gone
            let _ = self.put(&rest).and_then(|()| self.out.flush());
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const NASTY: &str = "\u{1b}[31mred\r\u{9b}2J \u{202e}txt\u{7f}";

    #[test]
    fn what_a_terminal_would_obey_is_refused_at_the_way_in() {
        let refused = said("`note`", NASTY, 100).unwrap_err();
        assert!(refused.contains("control characters"), "{refused}");
        assert_eq!(said("`note`", " a\nb ", 100), Ok(Some("a\nb".to_owned())), "a note may have two lines");
        assert_eq!(said("`by`", "  ", 100), Ok(None));
        assert!(said("`by`", &"x".repeat(101), 100).is_err());
    }

    #[test]
    fn it_is_spelt_out_at_the_way_out_however_it_is_cut() {
        let right = "\\u001b[31mred\\u000d\\u009b2J \\u202etxt\\u007f";
        assert_eq!(shown(NASTY), right);
        assert_eq!(shown("plain\r\nlines\tand Zoë\n"), "plain\r\nlines\tand Zoë\n");
        for at in 0..=NASTY.len() {
            let mut out = Vec::new();
            let mut terminal = Shown::new(&mut out);
            terminal.write_all(&NASTY.as_bytes()[..at]).unwrap();
            terminal.write_all(&NASTY.as_bytes()[at..]).unwrap();
            drop(terminal);
            assert_eq!(String::from_utf8(out).unwrap(), right, "cut at {at}");
        }
        let json: String = serde_json::from_str(&shown("\"\u{9b}\u{202e}\"")).unwrap();
        assert_eq!(json, "\u{9b}\u{202e}", "a program reads the same");
    }

    #[test]
    fn the_logs_own_colours_pass_and_nothing_else() {
        let mut out = Vec::new();
        Shown::with_colours(&mut out)
            .write_all("\u{1b}[32mINFO\u{1b}[0m a\u{9b}2J\u{202e}\n".as_bytes())
            .unwrap();
        assert_eq!(String::from_utf8(out).unwrap(), "\u{1b}[32mINFO\u{1b}[0m a\\u009b2J\\u202e\n");
    }
}
