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

/// A figure without the sign of what was rounded to nothing: `0.0` for `-0.0`.
pub fn without_idle_sign(figure: String) -> String {
    match figure.strip_prefix('-') {
        Some(nothing) if !nothing.contains(|digit: char| matches!(digit, '1'..='9')) => nothing.to_owned(),
        _ => figure,
    }
}

/// With its first letter as a capital.
pub fn capital(words: &str) -> String {
    let mut letters = words.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_has_no_sign() {
        let said = |figure: f64| without_idle_sign(format!("{figure:.1}"));
        assert_eq!((said(-0.04), said(0.04), said(-0.06)), ("0.0".into(), "0.0".into(), "-0.1".into()));
        assert_eq!(said(-10.0), "-10.0");
    }

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
