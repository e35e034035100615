//! Bytes into lines, whatever arrives: bounded in memory, indifferent to where the pieces are cut.

use std::io::{self, BufRead};

use super::senml::MAX_LINE_BYTES;

/// A line without its end.
#[derive(Debug, PartialEq, Eq)]
pub enum Line<'a> {
    /// A line of at most [`MAX_LINE_BYTES`].
    Whole(&'a [u8]),
    /// A longer one, which was not kept.
    TooLong,
}

/// Cuts a stream of pieces into lines, at LF or CR LF. Holds back at most one line of [`MAX_LINE_BYTES`].
///
/// The part of a line that has come stays here until the rest comes, however long that takes.
#[derive(Debug, Default)]
pub struct Lines {
    partial: Vec<u8>,
    /// The line in `partial` was handed out.
    handed_out: bool,
    /// The line that is coming was too long: its bytes are dropped up to its end.
    dropping: bool,
}

impl Lines {
    /// Takes the next line off the front of `piece`; `None` when all of `piece` is taken.
    ///
    /// A line that is too long is told as soon as it is, for its end may never come.
    pub fn next<'s, 'p: 's>(&'s mut self, piece: &mut &'p [u8]) -> Option<Line<'s>> {
        self.forget_handed_out();
        while !piece.is_empty() {
            let end = piece.iter().position(|byte| *byte == b'\n');
            let (part, rest) = piece.split_at(end.unwrap_or(piece.len()));
            *piece = rest.get(1..).unwrap_or_default();
            if self.dropping {
                self.dropping = end.is_none();
            } else if self.partial.len() + part.len() > MAX_LINE_BYTES {
                self.partial.clear();
                self.dropping = end.is_none();
                return Some(Line::TooLong);
            } else if end.is_none() {
                self.partial.extend_from_slice(part);
            } else if self.partial.is_empty() {
                return Some(Line::Whole(without_return(part)));
            } else {
                self.partial.extend_from_slice(part);
                self.handed_out = true;
                return Some(Line::Whole(without_return(&self.partial)));
            }
        }
        None
    }

    /// The line that ends with the stream instead of a line end, if there is one.
    pub fn last(&mut self) -> Option<Line<'_>> {
        self.forget_handed_out();
        self.dropping = false;
        self.handed_out = !self.partial.is_empty();
        self.handed_out.then(|| Line::Whole(without_return(&self.partial)))
    }

    fn forget_handed_out(&mut self) {
        if std::mem::take(&mut self.handed_out) {
            self.partial.clear();
        }
    }
}

fn without_return(line: &[u8]) -> &[u8] {
    line.strip_suffix(b"\r").unwrap_or(line)
}

/// Hands every line of `reader` to `each`.
///
/// # Errors
/// When reading fails.
pub fn each_line(mut reader: impl BufRead, mut each: impl FnMut(&Line<'_>)) -> io::Result<()> {
    let mut lines = Lines::default();
    loop {
        let piece = match reader.fill_buf() {
            Ok(piece) => piece,
            Err(error) if error.kind() == io::ErrorKind::Interrupted => continue,
            Err(error) => return Err(error),
        };
        let taken = piece.len();
        if taken == 0 {
            lines.last().iter().for_each(each);
            return Ok(());
        }
        let mut rest = piece;
        while let Some(line) = lines.next(&mut rest) {
            each(&line);
        }
        reader.consume(taken);
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    /// The lines as text, with `TooLong` as `None`, of a stream that arrives in these pieces.
    fn cut<'a>(pieces: impl IntoIterator<Item = &'a [u8]>) -> Vec<Option<Vec<u8>>> {
        let own = |line: Line<'_>| match line {
            Line::Whole(bytes) => Some(bytes.to_vec()),
            Line::TooLong => None,
        };
        let mut lines = Lines::default();
        let mut found = Vec::new();
        for piece in pieces {
            let mut rest = piece;
            while let Some(line) = lines.next(&mut rest) {
                found.push(own(line));
            }
            assert!(lines.partial.len() <= MAX_LINE_BYTES);
            assert!(lines.partial.capacity() <= 2 * MAX_LINE_BYTES);
        }
        found.extend(lines.last().map(own));
        found
    }

    #[test]
    fn line_ends_are_lf_or_cr_lf_and_the_last_may_be_missing() {
        let some = |text: &str| Some(text.as_bytes().to_vec());
        assert_eq!(cut([&b"a\nb\r\n\nc"[..]]), [some("a"), some("b"), some(""), some("c")]);
        assert_eq!(cut([&b"a\r"[..], b"\nb", b"c\n"]), [some("a"), some("bc")]);
        assert_eq!(cut([&b""[..]]), []);
    }

    #[test]
    fn a_line_over_the_bound_is_dropped_up_to_its_end_and_the_next_is_read() {
        let most = vec![b'x'; MAX_LINE_BYTES];
        let over = vec![b'x'; MAX_LINE_BYTES + 1];
        for size in [1, 1000, usize::MAX] {
            let text = [&over[..], b"\n", &most, b"\nb"].concat();
            let found = cut(text.chunks(size.min(text.len())));
            assert_eq!(found, [None, Some(most.clone()), Some(b"b".to_vec())], "pieces of {size}");
        }
        // no end in sight: told once, and nothing is kept
        assert_eq!(cut(std::iter::repeat_n(&over[..], 100)), [None]);
    }

    #[test]
    fn a_reader_is_read_to_its_end_through_a_buffer_smaller_than_a_line() {
        let mut found = Vec::new();
        let reader = io::BufReader::with_capacity(3, &b"first\nsecond\r\nthird"[..]);
        each_line(reader, |line| {
            if let Line::Whole(text) = line {
                found.push(String::from_utf8_lossy(text).into_owned());
            }
        })
        .unwrap();
        assert_eq!(found, ["first", "second", "third"]);
    }

    proptest! {
        #[test]
        fn where_the_pieces_are_cut_makes_no_difference(
            text in proptest::collection::vec(prop_oneof![Just(b'\n'), Just(b'\r'), any::<u8>()], 0..600),
            sizes in proptest::collection::vec(1_usize..40, 1..40),
        ) {
            let mut rest = &text[..];
            let mut pieces = Vec::new();
            for size in sizes {
                let (piece, after) = rest.split_at(size.min(rest.len()));
                pieces.push(piece);
                rest = after;
            }
            pieces.push(rest);
            prop_assert_eq!(cut(pieces), cut([&text[..]]));
            let mut expected: Vec<_> = text
                .split(|byte| *byte == b'\n')
                .map(|line| Some(line.strip_suffix(b"\r").unwrap_or(line).to_vec()))
                .collect();
            if text.is_empty() || text.ends_with(b"\n") {
                expected.pop();
            }
            prop_assert_eq!(cut([&text[..]]), expected);
        }
    }
}
