//! Words that people type, and what in them would not be seen but would change what is.

/// Whether a character shows as nothing and changes how its surroundings are shown: control characters (C0, DEL and C1, Unicode's
/// category Cc; a terminal obeys them), line and paragraph separators, and the controls of direction (Unicode Annex #9, property
/// `Bidi_Control`; with them a text reads other than it is).
pub fn is_unseen_control(letter: char) -> bool {
    letter.is_control()
        || matches!(letter, '\u{61c}' | '\u{200e}' | '\u{200f}' | '\u{2028}'..='\u{202e}' | '\u{2066}'..='\u{2069}' | '\u{feff}')
}

/// Whether a text holds nothing of the kind. A line feed counts as one.
pub fn is_plain(text: &str) -> bool {
    !text.contains(is_unseen_control)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_would_move_a_cursor_or_turn_a_text_about_is_no_plain_text() {
        for text in [
            "\u{1b}[31m",
            "a\rb",
            "\u{9b}2J",
            "\u{7f}",
            "\u{202e}gnp",
            "\u{2066}",
            "\u{200f}",
            "a\nb",
            "\0",
            "\t",
        ] {
            assert!(!is_plain(text), "{text:?}");
        }
        for text in ["Ann", "Zoë, 21:40", "花が咲いた", "🌺", "O'Brien – 3 m", "زهرة"] {
            assert!(is_plain(text), "{text:?}");
        }
    }
}
