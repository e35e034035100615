//! Readers of single values. Each says in words what is wrong and what would be right.

use std::net::SocketAddr;

use bloom_model::text::is_plain;
use toml::de::{DeInteger, DeValue};

/// What a reader makes of a value: the value, or what is wrong with it.
pub(super) type Read<T> = Result<T, String>;

/// A string that is not blank.
pub(super) fn text(value: &DeValue<'_>) -> Read<String> {
    let text = value.as_str().ok_or_else(|| format!("wants text in quotation marks, not {}", kind(value)))?;
    if text.trim().is_empty() {
        return Err("is empty; write the text, or leave the key out if it is optional".to_owned());
    }
    if !is_plain(text) {
        return Err("contains a control character; take it out".to_owned());
    }
    Ok(text.to_owned())
}

/// An address and a port to listen on.
pub(super) fn listen(value: &DeValue<'_>) -> Read<SocketAddr> {
    text(value)?.parse().map_err(|_| {
        "is no address and port to listen on; write one such as \"127.0.0.1:8750\", or \"[::1]:8750\""
            .to_owned()
    })
}

/// A finite number; whole numbers count.
pub(super) fn number(value: &DeValue<'_>) -> Read<f64> {
    let number = match value {
        DeValue::Integer(integer) => as_i64(integer).map(|whole| whole as f64),
        DeValue::Float(float) => float.as_str().parse().ok(),
        _ => return Err(wants_number("a number", value)),
    };
    number
        .filter(|number| number.is_finite())
        .ok_or_else(|| "is no finite number; write one such as 1.5".to_owned())
}

/// A number from `lowest` to `highest`, both inside; `unit` follows it in the message.
pub(super) fn between(lowest: f64, highest: f64, unit: &str) -> impl Fn(&DeValue<'_>) -> Read<f64> {
    move |value| {
        Some(number(value)?)
            .filter(|number| (lowest..=highest).contains(number))
            .ok_or_else(|| format!("lies outside {lowest} to {highest} {unit}; give a value between them"))
    }
}

/// A whole number from `lowest` to `highest`, both inside; `unit` follows it in the message.
pub(super) fn whole(lowest: u32, highest: u32, unit: &str) -> impl Fn(&DeValue<'_>) -> Read<u32> {
    move |value| {
        let integer = value.as_integer().ok_or_else(|| wants_number("a whole number", value))?;
        as_i64(integer)
            .and_then(|whole| u32::try_from(whole).ok())
            .filter(|whole| (lowest..=highest).contains(whole))
            .ok_or_else(|| {
                format!("lies outside {lowest} to {highest} {unit}; give a whole number between them")
            })
    }
}

/// `true` or `false`.
pub(super) fn flag(value: &DeValue<'_>) -> Read<bool> {
    value.as_bool().ok_or_else(|| format!("wants true or false without quotation marks, not {}", kind(value)))
}

/// One of some words, each standing for a value.
pub(super) fn one_of<T: Copy>(words: &[(&str, T)]) -> impl Fn(&DeValue<'_>) -> Read<T> {
    move |value| {
        let word = text(value)?;
        words.iter().find(|(known, _)| *known == word).map(|(_, meaning)| *meaning).ok_or_else(|| {
            format!("is not known; {}", suggestion(&word, words.iter().map(|(known, _)| *known), "write"))
        })
    }
}

/// Two numbers, `[from, to]`, of which each passes `possible` and the second is the greater.
pub(super) fn pair(
    possible: impl Fn(f64) -> Read<f64>,
    example: &str,
) -> impl Fn(&DeValue<'_>) -> Read<(f64, f64)> {
    move |value| {
        let wanted = || format!("wants two numbers, from and to, such as {example}");
        let ends = value.as_array().filter(|ends| ends.len() == 2).ok_or_else(wanted)?;
        let mut ends = ends.iter().map(|end| possible(number(end.get_ref()).map_err(|_| wanted())?));
        match (ends.next().transpose()?, ends.next().transpose()?) {
            (Some(from), Some(to)) if from < to => Ok((from, to)),
            _ => Err(format!("does not rise: the first number is the lower end, such as {example}")),
        }
    }
}

/// A program and its arguments; the program comes first.
pub(super) fn command(value: &DeValue<'_>) -> Read<(String, Vec<String>)> {
    let wanted = "wants a list of texts, the program first and then its arguments, for no shell reads it; \
                  such as [\"/usr/local/bin/siren\"]";
    let words = value.as_array().ok_or_else(|| wanted.to_owned())?;
    let mut words = words
        .iter()
        .map(|word| word.get_ref().as_str().map(str::to_owned))
        .collect::<Option<Vec<_>>>()
        .ok_or(wanted)?;
    if words.first().is_none_or(|program| program.trim().is_empty()) {
        return Err(wanted.to_owned());
    }
    if words.iter().any(|word| word.contains('\0')) {
        return Err("contains a NUL character, which no program can be given; take it out".to_owned());
    }
    let program = words.remove(0);
    Ok((program, words))
}

/// The word of `known` that comes nearest to `word`, if any comes near.
pub(super) fn nearest<'k>(word: &str, known: impl IntoIterator<Item = &'k str>) -> Option<&'k str> {
    /// Below this likeness a suggestion misleads more often than it helps.
    const NEAR: f64 = 0.8;
    let word = word.to_lowercase();
    known
        .into_iter()
        .map(|candidate| (strsim::jaro_winkler(&word, &candidate.to_lowercase()), candidate))
        .filter(|(likeness, _)| *likeness >= NEAR)
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, candidate)| candidate)
}

/// The nearest known word as a question, else all of them after `offer`, as in "write a, b or c".
pub(crate) fn suggestion<'k>(
    word: &str,
    known: impl IntoIterator<Item = &'k str, IntoIter: Clone>,
    offer: &str,
) -> String {
    let known = known.into_iter();
    match nearest(word, known.clone()) {
        Some(near) => format!("did you mean {near}?"),
        None => format!("{offer} {}", either(known.collect())),
    }
}

/// Words as a choice: `a, b or c`.
fn either(words: Vec<&str>) -> String {
    match words.split_last() {
        None => "nothing".to_owned(),
        Some((last, [])) => (*last).to_owned(),
        Some((last, rest)) => format!("{} or {last}", rest.join(", ")),
    }
}

/// A TOML type in words.
pub(super) fn kind(value: &DeValue<'_>) -> &'static str {
    match value {
        DeValue::String(_) => "text",
        DeValue::Integer(_) | DeValue::Float(_) => "a number",
        DeValue::Boolean(_) => "true or false",
        DeValue::Datetime(_) => "a date",
        DeValue::Array(_) => "a list",
        DeValue::Table(_) => "a table",
    }
}

fn wants_number(what: &str, value: &DeValue<'_>) -> String {
    match value {
        DeValue::String(text) if text.trim().parse::<f64>().is_ok() => {
            format!("wants {what}, not text; take the quotation marks away")
        }
        DeValue::Float(_) => format!("wants {what}, without a decimal point"),
        _ => format!("wants {what}, not {}", kind(value)),
    }
}

fn as_i64(integer: &DeInteger<'_>) -> Option<i64> {
    i64::from_str_radix(integer.as_str(), integer.radix()).ok()
}
