//! Tables of what happened: light, events, outages.

use bloom_model::event::{EventClass, EventKind};
use bloom_model::quantity::measure::Measure;
use bloom_model::sign::Sign;
use bloom_model::time::Time;
use bloom_text::figure;

use super::{Cell, Column, Name, Row, Table};
use crate::review::Review;
use crate::review::daily_light::DayOfLight;

impl Review {
    pub(super) fn light_table(&self) -> Table {
        let row = |day: &DayOfLight| Row {
            name: Name::Date(day.date),
            cells: vec![
                Cell::Number(day.mol_m2, Measure::DailyLight),
                Cell::Number(day.measured_h, Measure::Hours),
            ],
        };
        Table {
            key: "light",
            title: "Light, day by day".to_owned(),
            rows_are: "date",
            note: self.light_note(),
            columns: vec![
                Column::new("daily light integral", Some(Measure::DailyLight)),
                Column::new("measured", Some(Measure::Hours)),
            ],
            rows: self.light.iter().map(row).collect(),
            behind_pictures: false,
        }
    }

    /// How the light of a day is summed.
    pub(in crate::review) fn light_note(&self) -> String {
        format!(
            "The photon flux density (400 to 700 nm) summed over each local day. A reading counts until the next, for {} minutes at \
             most: a day with less than 24 hours measured had more light than is shown.",
            self.site.silent_after.num_minutes()
        )
    }

    pub(super) fn event_table(&self) -> Table {
        let mut rows: Vec<(Time, Row)> = Vec::new();
        let mut put = |time: Time, what: String, words: String| {
            rows.push((
                time,
                Row { name: Name::Time(time), cells: vec![Cell::Text(what), Cell::Text(words)] },
            ));
        };
        // a bulletin is told every day, and a booked sign stands below as it was booked
        for told in &self.events {
            if EventKind::of(&told.kind).is_none_or(|kind| kind.row().class != EventClass::Echo) {
                put(told.time, told.kind.clone(), told.message.clone());
            }
        }
        for booked in &self.signs {
            let mut words = match booked.sign {
                Sign::Withdrawn(_) | Sign::HeightWithdrawn => "withdrawn".to_owned(),
                _ => "recorded".to_owned(),
            };
            if let Some(by) = &booked.by {
                words.push_str(&format!(" by {by}"));
            }
            if let Some(note) = &booked.note {
                words.push_str(&format!(": {note}"));
            }
            put(booked.time, booked.sign.to_string(), words);
        }
        for (time, height_m) in &self.taped {
            put(*time, "taped".to_owned(), figure(Measure::Length, self.site.units, *height_m));
        }
        rows.sort_by_key(|(time, _)| *time);
        Table {
            key: "events",
            title: "What happened".to_owned(),
            rows_are: "time",
            note: "Events as they were told, signs and tape measurements as they were recorded.".to_owned(),
            columns: vec![Column::new("what", None), Column::new("words", None)],
            rows: rows.into_iter().map(|(_, row)| row).collect(),
            behind_pictures: false,
        }
    }

    pub(super) fn outage_table(&self) -> Table {
        let outages = &self.outages;
        let rows = outages
            .listed
            .iter()
            .zip(1..)
            .map(|(outage, number)| Row {
                name: Name::Text(format!("{number}")),
                cells: vec![
                    Cell::Text(outage.quantity.words().to_owned()),
                    Cell::Time(outage.from),
                    Cell::Time(outage.until),
                    Cell::Number(outage.until.hours_since(outage.from), Measure::Hours),
                ],
            })
            .collect();
        let mut note = self.outage_note();
        if outages.further > 0 {
            note.push_str(&format!(" {} further ones are not listed.", outages.further));
        }
        Table {
            key: "outages",
            title: "When sensors said nothing".to_owned(),
            rows_are: "number",
            note,
            columns: vec![
                Column::new("sensor", None),
                Column::new("from", None),
                Column::new("to", None),
                Column::new("lasted", Some(Measure::Hours)),
            ],
            rows,
            behind_pictures: false,
        }
    }

    /// What the list of outages is of: an empty one says something only of what was heard.
    fn outage_note(&self) -> String {
        let outages = &self.outages;
        let minutes = self.site.silent_after.num_minutes();
        if outages.first.is_none() {
            return "No sensor said anything in this span.".to_owned();
        }
        let begun = outages.begun.iter();
        let begun: Vec<String> = begun
            .map(|(quantity, time)| format!("{} from {}", quantity.words(), self.local(*time)))
            .collect();
        match (outages.listed.is_empty(), begun.is_empty()) {
            (true, true) => format!("None of more than {minutes} minutes."),
            (true, false) => {
                format!("None of more than {minutes} minutes once they were heard: {}.", begun.join(", "))
            }
            (false, true) => format!("Spans of more than {minutes} minutes without a reading."),
            (false, false) => format!(
                "Spans of more than {minutes} minutes without a reading. Heard for the first time: {}.",
                begun.join(", ")
            ),
        }
    }
}
