//! What a file is, told from how it begins: a table, a recording, or something else, which is named.

use std::io::{self, Read};

use super::TIME;

/// Looked at to tell what a file is, bytes.
const LOOK_AT: u64 = 64 << 10;
/// Some spreadsheets put it before the first cell.
const BYTE_ORDER_MARK: &[u8] = "\u{feff}".as_bytes();

/// What `import` makes of a file.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// A table, with what parts its cells.
    Table(u8),
    /// A recording: some line of it begins as a pack does.
    Recording,
    /// Neither; what it looks like, and what to do.
    Neither(&'static str),
}

/// Files that begin with certain bytes, and what to do with them.
const BEGINNINGS: [(&[u8], &str); 10] = [
    (b"PK", "a spreadsheet's own file, or a packed folder: open it and save the sheet as CSV in UTF-8"),
    (b"\xd0\xcf\x11\xe0", "a spreadsheet's own file: open it and save the sheet as CSV in UTF-8"),
    (b"SQLite format 3\0", "a record or a backup of one: `anthesisd restore` puts that in its place"),
    (b"\x1f\x8b", "a packed file: unpack it first"),
    (b"\xfd7zXZ", "a packed file: unpack it first"),
    (b"BZh", "a packed file: unpack it first"),
    (b"\x28\xb5\x2f\xfd", "a packed file: unpack it first"),
    (b"\xff\xfe", "text in UTF-16: save it in UTF-8"),
    (b"\xfe\xff", "text in UTF-16: save it in UTF-8"),
    (b"%PDF", "a document: save the sheet behind it as CSV in UTF-8"),
];

/// Says what a file is, and gives all of it from its beginning.
///
/// # Errors
/// When it cannot be read.
pub fn recognise(mut reader: impl Read) -> io::Result<(Kind, impl Read)> {
    let mut head = Vec::new();
    (&mut reader).take(LOOK_AT).read_to_end(&mut head)?;
    Ok((kind(&head), io::Cursor::new(head).chain(reader)))
}

fn kind(head: &[u8]) -> Kind {
    let text = head.strip_prefix(BYTE_ORDER_MARK).unwrap_or(head).trim_ascii_start();
    if let Some((_, what)) = BEGINNINGS.iter().find(|(begins, _)| head.starts_with(begins)) {
        return Kind::Neither(what);
    }
    let mut lines = text.split(|byte| *byte == b'\n').map(<[u8]>::trim_ascii);
    if lines.clone().any(begins_a_pack) {
        return Kind::Recording;
    }
    let first = lines.next().unwrap_or_default();
    if first.is_empty() {
        return Kind::Neither("an empty file");
    }
    if text.contains(&0) {
        return Kind::Neither("no text: save it as CSV in UTF-8");
    }
    if let Some(parts) = [b',', b';', b'\t'].into_iter().find(|parts| names_time(first, *parts)) {
        return Kind::Table(parts);
    }
    if first.starts_with(b"<") {
        return Kind::Neither("a page or document in XML or HTML: save the sheet as CSV in UTF-8");
    }
    if first.starts_with(b"{\"table\":\"book\"") {
        return Kind::Neither("a bloom book: `anthesisd book import` takes it");
    }
    if first.starts_with(b"{") || first.starts_with(b"[") && lines.clone().any(|line| line.starts_with(b"{"))
    {
        return Kind::Neither(
            "JSON of another form: in a recording each line is one whole SenML pack, [{…}]",
        );
    }
    let is_section = |line: &[u8]| line.starts_with(b"[") && line.ends_with(b"]");
    let is_key = |line: &[u8]| {
        let name: Vec<u8> = line.iter().copied().take_while(|byte| *byte != b'=').collect();
        let is_name = |byte: &u8| byte.is_ascii_alphanumeric() || b"_-. ".contains(byte);
        !name.is_empty() && name.len() < line.len() && name.iter().all(is_name)
    };
    let written =
        std::iter::once(first).chain(lines).filter(|line| !line.is_empty() && !line.starts_with(b"#"));
    if written.take(3).any(|line| is_section(line) || is_key(line)) {
        return Kind::Neither("a configuration file: `--config FILE` names that one");
    }
    if [b',', b';', b'\t'].iter().any(|parts| first.contains(parts)) {
        return Kind::Neither(
            "a table without a column `time`: its first line names the columns with their units, `time,height (cm),note`",
        );
    }
    Kind::Neither(
        "neither a recording (a SenML pack a line) nor a table (CSV whose first line names the columns)",
    )
}

/// `[{`, however it is spaced, on one line.
fn begins_a_pack(line: &[u8]) -> bool {
    line.strip_prefix(b"[").is_some_and(|rest| rest.trim_ascii_start().starts_with(b"{"))
}

fn names_time(header: &[u8], parts: u8) -> bool {
    let mut cells = header.split(|byte| *byte == parts);
    cells.any(|cell| {
        let cell = cell.trim_ascii();
        let bare = cell.strip_prefix(b"\"").and_then(|rest| rest.strip_suffix(b"\"")).unwrap_or(cell);
        bare.trim_ascii() == TIME.as_bytes()
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_file_is_told_by_how_it_begins() {
        let recording = "[{\"n\":\"east-3/height\",\"t\":1800000000,\"u\":\"m\",\"v\":1.32}]";
        for (text, expected) in [
            (recording.to_owned(), Kind::Recording),
            (format!("\"v\":1.3}}]\n{recording}\n"), Kind::Recording),
            (format!(" [ {}", &recording[1..]), Kind::Recording),
            ("\u{feff}time,height (in)\r\n".to_owned(), Kind::Table(b',')),
            ("time;height (cm);note\n".to_owned(), Kind::Table(b';')),
            ("\"time\"\theight (cm)\n".to_owned(), Kind::Table(b'\t')),
        ] {
            assert_eq!(kind(text.as_bytes()), expected, "{text}");
        }
        for (head, looks_like) in [
            (&b"PK\x03\x04\x14\0"[..], "save the sheet as CSV"),
            (b"\xd0\xcf\x11\xe0\xa1\xb1", "save the sheet as CSV"),
            (b"\xff\xfet\0i\0", "UTF-16"),
            (b"SQLite format 3\0", "anthesisd restore"),
            (b"# the house\n\n[site]\nname = \"saltmarsh\"\n", "a configuration file"),
            (b"name = \"titan-arum\"\n", "a configuration file"),
            (b"{\"table\":\"book\",\"format\":1}\n", "book import"),
            (b"{\"id\":\"east-3/test/1\"}\n", "JSON"),
            (b"[\n  {\"n\":1}\n]\n", "JSON"),
            (b"<html>", "HTML"),
            (b"date,height\n", "without a column `time`"),
            (b"dear all, today;\n", "without a column `time`"),
            (b"hello\n", "neither a recording"),
            (b"\0\0\0", "no text"),
            (b" \n", "an empty file"),
            (b"", "an empty file"),
        ] {
            match kind(head) {
                Kind::Neither(what) => assert!(what.contains(looks_like), "{head:?}: {what}"),
                other => panic!("{head:?}: {other:?}"),
            }
        }
    }
}
