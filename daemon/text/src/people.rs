//! What stands before a message, whatever it says.

/// What stands before the message of an alarm that nobody has acknowledged for so many minutes.
pub fn unanswered(minutes: i64) -> String {
    let so_long = if minutes < 120 { format!("{minutes} min") } else { format!("{} h", minutes / 60) };
    format!("UNANSWERED {so_long}: ")
}

/// A message of a rehearsal, which says so first.
pub fn rehearsed(message: &str) -> String {
    format!("REHEARSAL: {message}")
}

/// The words that an alarm's message begins with, without its place: `OPENING NOW`; `None` where it begins with that.
pub fn head<'a>(message: &'a str, place: &str) -> Option<&'a str> {
    let (head, _) = message.split_once(':')?;
    let head = head.strip_suffix(place).unwrap_or(head).trim_end();
    (!head.is_empty()).then_some(head)
}

/// The message of an alarm that a person sends to try the ways to people.
pub fn tried_by_hand(site: &str) -> String {
    format!(
        "TEST ALARM {site}: somebody tries whether alarms arrive. Nothing is wrong, and there is nothing to acknowledge."
    )
}
