//! Documents as people read them: sections, rows of tables, entries of lists, and what in them is set as code.

/// What stands under a heading, up to the next heading; empty where there is none of that name.
pub fn section<'a>(text: &'a str, heading: &str) -> &'a str {
    let is_heading = |line: &str| line.starts_with('#');
    let mut offset = 0;
    let (mut from, mut until) = (None, text.len());
    for line in text.split_inclusive('\n') {
        let next = offset + line.len();
        if is_heading(line) && from.is_some() {
            until = offset;
            break;
        }
        if is_heading(line) && line.trim_start_matches('#').trim() == heading {
            from = Some(next);
        }
        offset = next;
    }
    from.map_or("", |from| &text[from..until])
}

/// The cells of each row of the tables in a text, without their heads.
pub fn rows(text: &str) -> Vec<Vec<&str>> {
    let lines: Vec<&str> = text.lines().collect();
    let is_head = |place: usize| lines.get(place + 1).is_some_and(|next| next.starts_with("| ---"));
    lines
        .iter()
        .enumerate()
        .filter(|(place, line)| line.starts_with("| ") && !line.starts_with("| ---") && !is_head(*place))
        .map(|(_, line)| line.trim_matches('|').split(" | ").map(str::trim).collect())
        .collect()
}

/// The entries of the lists in a text, each with its name in bold and its words on one line: `- **name**: words`.
pub fn entries(text: &str) -> Vec<(String, String)> {
    let mut entries = Vec::new();
    for paragraph in text.split("\n- **").skip(1) {
        let entry = paragraph.split("\n\n").next().unwrap_or_default();
        if let Some((name, words)) = entry.split_once("**: ") {
            entries.push((name.replace('`', ""), on_one_line(words)));
        }
    }
    entries
}

/// What stands before the first list of a text.
pub fn before_list(text: &str) -> String {
    on_one_line(text.split("\n- ").next().unwrap_or_default())
}

/// What is set as code in a text.
pub fn code(text: &str) -> impl Iterator<Item = &str> {
    text.split('`').skip(1).step_by(2)
}

/// Without links: what a reader sees of them.
pub fn without_links(text: &str) -> String {
    let mut plain = String::new();
    let mut rest = text;
    while let Some((before, after)) = rest.split_once('[') {
        plain.push_str(before);
        let link = after
            .split_once("](")
            .filter(|(words, _)| !words.contains(['[', ']']))
            .and_then(|(words, target)| Some((words, target.split_once(')')?.1)));
        match link {
            Some((words, behind)) => {
                plain.push_str(words);
                rest = behind;
            }
            None => {
                plain.push('[');
                rest = after;
            }
        }
    }
    plain + rest
}

fn on_one_line(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}
