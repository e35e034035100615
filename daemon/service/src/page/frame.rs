//! What is around every page: the head, the line that says when the daemon is lost, the way to the other pages, the foot.

use bloom_model::time::Time;
use maud::{DOCTYPE, Markup, html};

use super::words::Mark;
use super::{House, look, words};

/// Without scripts a browser loads the page anew this often, s.
const RELOADED_EVERY_S: u32 = 30;

/// A page of the house. `title` stands in the browser's tab; what keeps itself up to date within `content` is marked `data-live` and
/// has an id.
pub(super) fn page(house: &House, title: &str, content: &Markup) -> Markup {
    let site = &house.config.site;
    html! {
        (DOCTYPE)
        html lang="en" data-zone=(site.timezone.name()) {
            head {
                (head(title))
                noscript { meta http-equiv="refresh" content=(RELOADED_EVERY_S); }
                script src=(look::script_address()) defer {}
            }
            body {
                a.skip href="#main" { "To the content" }
                p #contact .contact role="alert" hidden {}
                p #said .unseen role="status" {}
                nav aria-label="Pages" {
                    a href="/" { (site.name) }
                    a href="/tonight" { "Tonight" }
                    a href="/season" { "Season" }
                    a href="/calendar.ics" { "Calendar" }
                }
                main #main { (content) }
                footer { p { (words::zone_note(site)) } }
            }
        }
    }
}

/// A page that belongs to nothing: why something was not done.
pub(super) fn plain(title: &str, what: &str) -> Markup {
    html! {
        (DOCTYPE)
        html lang="en" {
            head { (head(title)) }
            body {
                main #main {
                    h1 { (title) }
                    p { (what) }
                    p { a.press href="/" { "To the benches" } }
                }
            }
        }
    }
}

fn head(title: &str) -> Markup {
    html! {
        meta charset="utf-8";
        meta name="viewport" content="width=device-width, initial-scale=1";
        meta name="color-scheme" content="light dark";
        title { (title) }
        link rel="stylesheet" href=(look::style_address());
        link rel="icon" href="/icon.svg" type="image/svg+xml";
    }
}

/// An instant for people and for machines.
pub(super) fn instant(time: Time, words: &str) -> Markup {
    html! { time datetime=(time) { (words) } }
}

/// A name, a figure with the sign of how it fares, and a note.
pub(super) fn figure(name: &str, mark: Mark, value: &str, note: Option<&str>) -> Markup {
    html! {
        div class=(mark.class()) {
            dt { (name) }
            dd { (mark.sign()) b { (value) } @if let Some(note) = note { " " small { (note) } } }
        }
    }
}
