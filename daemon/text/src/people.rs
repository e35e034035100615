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
