//! The review as one HTML file that needs nothing else: no script, no font, no picture from anywhere.

use bloom_model::quantity::measure::Measure;
use maud::{DOCTYPE, Markup, PreEscaped, html};

use super::calendar::iso;
use super::chart::{Mark, Size};
use super::charts::Picture;
use super::tables::{Cell, Table};
use super::{Earlier, Review};
use crate::drawing::Drawing;

const STYLE: &str = include_str!("page.css");

/// The whole file.
pub fn html(review: &Review, earlier: Option<&Earlier<'_>>) -> String {
    let title = match &review.scope.story {
        Some(story) => ("The bloom", &*story.id),
        None => ("The bench", &*review.scope.bench),
    };
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta name="color-scheme" content="light dark";
                title { (title.0) " " (title.1) ", " (review.site.name) }
                style { (PreEscaped(STYLE)) }
            }
            body {
                main {
                    header {
                        h1 { (title.0) " " span { (title.1) } }
                        (label(review))
                    }
                    p.told { (review.paragraph()) }
                    @if let Some(earlier) = earlier {
                        p.note {
                            "Laid over in dashes: " (earlier.name) ", moved so that both open at the same instant."
                        }
                    }
                    (pictures(review, earlier))
                    details.chapter open {
                        summary { "Tables" }
                        @for table in review.tables(earlier).iter().filter(|table| !table.behind_pictures) {
                            (shown(review, table))
                        }
                    }
                    footer {
                        "All times are local (" (review.site.timezone.name()) "). Written by anthesisd "
                        (env!("CARGO_PKG_VERSION")) "."
                    }
                }
            }
        }
    };
    page.into_string()
}

/// All pictures, each in a form for a screen (`.wide`) and one for a phone (`.narrow`), with what the drawings in them stand for.
pub fn pictures(review: &Review, earlier: Option<&Earlier<'_>>) -> Markup {
    html! {
        (marks(review, &review.marks()))
        @for (number, chapter) in review.chapters(earlier).iter().enumerate() {
            details.chapter id={ "chapter-" (number) } open {
                summary { (chapter.title) }
                div.figures-of { @for picture in &chapter.pictures { (figure(picture, chapter.sizes)) } }
            }
        }
    }
}

/// The card beside the heading, as a specimen has one.
fn label(review: &Review) -> Markup {
    let rows = [
        ("site", Some(review.site.name.to_string())),
        ("bench", Some(review.scope.bench.to_string())),
        ("plant", review.plant_name().map(str::to_owned)),
        ("kind", Some(review.spec.profile.taxon.clone())),
        ("span", Some(review.span())),
    ];
    html! {
        dl.card {
            @for (name, value) in rows {
                @if let Some(value) = value {
                    div { dt { (name) } dd { (value) } }
                }
            }
        }
    }
}

/// What the drawings in the pictures stand for.
fn marks(review: &Review, marks: &[Mark]) -> Markup {
    html! {
        @if !marks.is_empty() {
            ol.marks {
                @for Mark { drawing, words, time } in marks {
                    li {
                        svg.drawing viewBox=(Drawing::VIEW_BOX) width="16" height="22.4" role="img" aria-label=(drawing.words()) {
                            (drawing.in_ink("currentColor"))
                        }
                        " " (words) " " span { (review.local(*time)) }
                    }
                }
            }
        }
    }
}

/// A picture in both sizes; the style sheet shows one of them.
fn figure(picture: &Picture, (wide, narrow): (Size, Size)) -> Markup {
    html! {
        figure {
            figcaption { h2 { (picture.title) } @if !picture.note.is_empty() { p.note { (picture.note) } } }
            div.wide { (picture.chart.svg(wide)) }
            div.narrow { (picture.chart.svg(narrow)) }
        }
    }
}

fn shown(review: &Review, table: &Table) -> Markup {
    let units = review.site.units;
    let unit = |measure: Option<Measure>| measure.map(|measure| measure.unit(units));
    let kind = if table.columns.iter().any(|column| column.0 == "words") { "words" } else { "figures" };
    html! {
        section {
            h2 { (table.title) }
            @if !table.note.is_empty() { p.note { (table.note) } }
            @if !table.rows.is_empty() {
                table class={ (kind) @if table.columns.len() > 8 { " many" } } {
                    thead {
                        tr {
                            th scope="col" { (table.rows_are) }
                            @for column in &table.columns {
                                th scope="col" {
                                    (column.0)
                                    @if let Some(unit) = unit(column.1) { " " span.unit { (unit) } }
                                }
                            }
                        }
                    }
                    tbody {
                        @for row in &table.rows {
                            tr {
                                th scope="row" { (review.name_text(&row.name)) }
                                @for (cell, column) in row.cells.iter().zip(&table.columns) {
                                    td data-name=(column.0) data-unit=[unit(column.1)] {
                                        (filled(review, cell, column.1.is_none()))
                                    }
                                }
                            }
                        }
                    }
                }
            }
        }
    }
}

fn filled(review: &Review, cell: &Cell, with_unit: bool) -> Markup {
    html! {
        @match cell {
            Cell::Time(time) => time datetime=(iso(*time, review.site.timezone)) { (review.local(*time)) },
            other => (review.cell_text(other, with_unit)),
        }
    }
}
