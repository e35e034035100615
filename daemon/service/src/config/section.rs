//! Reads a TOML file section by section and collects every mistake on the way.
//!
//! A section is asked for its keys one by one. What it was not asked for by the time it is closed is an unknown key, so
//! the code that reads a key is also the list of the keys that there are.

use std::cell::RefCell;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::fault::{ConfigFault, ConfigFaults};
use super::files::{NamedFile, Need};
use super::value::{Read, kind, suggestion};

/// Reads a whole file: what `read` makes of it and the files that it names, or all its mistakes.
///
/// # Errors
/// Syntax errors alone if there are any, for what follows one cannot be trusted; else every other mistake.
pub(super) fn read_document<T>(
    text: &str,
    origin: &Path,
    read: impl FnOnce(&mut Section<'_>) -> Option<T>,
) -> Result<(T, Vec<NamedFile>), ConfigFaults> {
    let document = Document { origin, text, faults: RefCell::default(), named: RefCell::default() };
    let (root, errors) = DeTable::parse_recoverable(text);
    if !errors.is_empty() {
        return Err(ConfigFaults::new(errors.iter().map(|error| document.syntax_fault(error)).collect()));
    }
    let mut section = Section::new(&document, root.get_ref(), 1, String::new(), String::new());
    let value = read(&mut section);
    section.close();
    let faults = document.faults.into_inner();
    match value {
        Some(value) if faults.is_empty() => Ok((value, document.named.into_inner())),
        None if faults.is_empty() => Err(ConfigFault::of_file(
            origin,
            "is refused without a reason, which is a fault of anthesisd itself: please report it",
        )
        .into()),
        _ => Err(ConfigFaults::new(faults)),
    }
}

/// A file while it is read.
struct Document<'d> {
    origin: &'d Path,
    text: &'d str,
    faults: RefCell<Vec<ConfigFault>>,
    named: RefCell<Vec<NamedFile>>,
}

impl Document<'_> {
    fn line_at(&self, offset: usize) -> usize {
        line_at(self.text.as_bytes(), offset)
    }

    fn syntax_fault(&self, error: &toml::de::Error) -> ConfigFault {
        ConfigFault {
            file: self.origin.to_owned(),
            line: error.span().map(|span| self.line_at(span.start)),
            place: String::new(),
            what: format!("is not TOML: {}", error.message()),
        }
    }

    /// A value as it stands in the file, if it is short and holds no secret.
    fn shown(&self, value: &Spanned<DeValue<'_>>) -> Option<&str> {
        const LONGEST: usize = 60;
        let text = self.text.get(value.span())?;
        // An address with an `@` may carry a password, which belongs neither in a log nor on a screen.
        let showable = !value.get_ref().is_table() && text.len() <= LONGEST && !text.contains(['\n', '@']);
        showable.then_some(text)
    }
}

/// The line, counted from 1, on which a byte stands.
pub(super) fn line_at(bytes: &[u8], offset: usize) -> usize {
    1 + bytes.iter().take(offset).filter(|byte| **byte == b'\n').count()
}

/// A table of the file while it is read.
pub(super) struct Section<'d> {
    document: &'d Document<'d>,
    table: &'d DeTable<'d>,
    line: usize,
    /// `[site]`, `[[bench]] east-3`; empty at the top of the file.
    header: String,
    /// What stands before a key of a table within the section, such as `tip.`.
    prefix: String,
    asked: Vec<&'static str>,
}

impl<'d> Section<'d> {
    fn new(
        document: &'d Document<'d>,
        table: &'d DeTable<'d>,
        line: usize,
        header: String,
        prefix: String,
    ) -> Self {
        Self { document, table, line, header, prefix, asked: Vec::new() }
    }

    /// Reads a key that may be left out. `None` also where it is wrong, which is then recorded.
    pub(super) fn optional<T>(
        &mut self,
        key: &'static str,
        read: impl FnOnce(&DeValue<'_>) -> Read<T>,
    ) -> Option<T> {
        self.asked.push(key);
        let value = self.table.get(key)?;
        read(value.get_ref()).map_err(|what| self.fault(key, what)).ok()
    }

    /// Reads a key that must be there; `example` is a value for it as one would write it.
    pub(super) fn required<T>(
        &mut self,
        key: &'static str,
        example: &str,
        read: impl FnOnce(&DeValue<'_>) -> Read<T>,
    ) -> Option<T> {
        if !self.has(key) {
            self.fault(key, format!("is missing; add it, such as {key} = {example}"));
        }
        self.optional(key, read)
    }

    /// Reads a table that may be left out.
    pub(super) fn table<T>(
        &mut self,
        key: &'static str,
        read: impl FnOnce(&mut Section<'d>) -> Option<T>,
    ) -> Option<T> {
        self.asked.push(key);
        match self.table.get(key)?.get_ref() {
            DeValue::Table(table) => {
                let (header, prefix) = if self.header.is_empty() {
                    (format!("[{key}]"), String::new())
                } else {
                    (self.header.clone(), format!("{}{key}.", self.prefix))
                };
                self.read_inside(table, self.line_of(key), header, prefix, read)
            }
            other => {
                self.fault(key, format!("wants a table of keys and values, not {}", kind(other)));
                None
            }
        }
    }

    /// Reads a table that must be there; `example` shows one.
    pub(super) fn required_table<T>(
        &mut self,
        key: &'static str,
        example: &str,
        read: impl FnOnce(&mut Section<'d>) -> Option<T>,
    ) -> Option<T> {
        if !self.has(key) {
            self.fault(key, format!("is missing; add it, such as {example}"));
        }
        self.table(key, read)
    }

    /// Reads each table of a list such as `[[bench]]`, up to `most`. Messages call a table by its key `named_by`.
    pub(super) fn tables<T>(
        &mut self,
        key: &'static str,
        named_by: &str,
        most: usize,
        mut read: impl FnMut(&mut Section<'d>) -> Option<T>,
    ) -> Vec<T> {
        self.asked.push(key);
        let Some(value) = self.table.get(key) else { return Vec::new() };
        let Some(items) =
            value.get_ref().as_array().filter(|items| items.iter().all(|item| item.get_ref().is_table()))
        else {
            self.fault(key, format!("wants double brackets, for there may be several: write [[{key}]]"));
            return Vec::new();
        };
        if items.len() > most {
            self.fault(key, format!("stands {} times, and {most} is the most that is read", items.len()));
            return Vec::new();
        }
        let mut values = Vec::new();
        for (place, item) in items.iter().enumerate() {
            let Some(table) = item.get_ref().as_table() else { continue };
            let name = table.get(named_by).and_then(|name| name.get_ref().as_str());
            let name = name.map_or_else(|| format!("number {}", place + 1), str::to_owned);
            let line = self.document.line_at(item.span().start);
            values.extend(self.read_inside(
                table,
                line,
                format!("[[{key}]] {name}"),
                String::new(),
                &mut read,
            ));
        }
        values
    }

    fn read_inside<T>(
        &self,
        table: &'d DeTable<'d>,
        line: usize,
        header: String,
        prefix: String,
        read: impl FnOnce(&mut Section<'d>) -> Option<T>,
    ) -> Option<T> {
        let mut inner = Section::new(self.document, table, line, header, prefix);
        let value = read(&mut inner);
        inner.close();
        value
    }

    /// Whether the key stands here.
    pub(super) fn has(&self, key: &str) -> bool {
        self.table.contains_key(key)
    }

    /// The line of a key, or of the section where the key is absent.
    pub(super) fn line_of(&self, key: &str) -> usize {
        self.table.get_key_value(key).map_or(self.line, |(key, _)| self.document.line_at(key.span().start))
    }

    /// Records a mistake at a key.
    pub(super) fn fault(&self, key: &str, what: impl Into<String>) {
        let mut place = self.place_of(key);
        if let Some(shown) = self.table.get(key).and_then(|value| self.document.shown(value)) {
            place = format!("{place} = {shown}");
        }
        self.record(ConfigFault {
            file: self.document.origin.to_owned(),
            line: Some(self.line_of(key)),
            place,
            what: what.into(),
        });
    }

    /// Records a mistake of another file that this one leads to.
    pub(super) fn record(&self, fault: ConfigFault) {
        self.document.faults.borrow_mut().push(fault);
    }

    /// Reads the path of a file; a relative one counts from the folder of the file that is read.
    pub(super) fn path_of(&self, name: &str) -> PathBuf {
        self.folder().join(name)
    }

    /// The folder of the file that is read.
    pub(super) fn folder(&self) -> &'d Path {
        self.document.origin.parent().unwrap_or(Path::new(""))
    }

    /// Notes that a key names a file, to be looked at before the service starts.
    pub(super) fn names_file(&self, key: &str, path: &Path, need: Need) {
        self.document.named.borrow_mut().push(NamedFile {
            path: path.to_owned(),
            need,
            file: self.document.origin.to_owned(),
            line: self.line_of(key),
            place: self.place_of(key),
        });
    }

    fn place_of(&self, key: &str) -> String {
        let is_section =
            |value: &Spanned<DeValue<'_>>| value.get_ref().is_table() || value.get_ref().is_array();
        match self.table.get(key) {
            _ if !self.header.is_empty() => format!("{}, {}{key}", self.header, self.prefix),
            Some(value) if is_section(value) => format!("[{key}]"),
            _ => key.to_owned(),
        }
    }

    fn close(self) {
        for (key, value) in self.table {
            let key: &str = key.get_ref();
            if self.asked.iter().any(|asked| asked == &key) {
                continue;
            }
            let noun = if value.get_ref().is_table() { "section" } else { "key" };
            self.record(ConfigFault {
                file: self.document.origin.to_owned(),
                line: Some(self.line_of(key)),
                place: self.place_of(key),
                what: format!(
                    "unknown {noun}; {}",
                    suggestion(key, self.asked.iter().copied(), "known here:")
                ),
            });
        }
    }
}

/// Values that may stand once in a file, and the line on which each first stood.
pub(super) struct Once<K>(BTreeMap<K, usize>);

impl<K: Ord> Once<K> {
    /// Nothing seen yet.
    pub(super) const fn new() -> Self {
        Self(BTreeMap::new())
    }

    /// Records a mistake if the value of `key` stood before. `twice` says what that means and what to do.
    pub(super) fn take(&mut self, section: &Section<'_>, key: &str, value: K, twice: &str) {
        match self.0.get(&value) {
            Some(first) => section.fault(key, format!("stands on line {first} already; {twice}")),
            None => {
                self.0.insert(value, section.line_of(key));
            }
        }
    }
}
