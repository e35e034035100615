//! Entries of the book in words.

use bloom_model::book::entry::{Entry, Fact, PlantCard};
use bloom_model::book::kinship::Relation;
use bloom_text::when::moment;
use chrono_tz::Tz;

/// `-80 °C, freezer 2`.
pub fn kept(storage: &bloom_model::book::entry::Storage) -> String {
    match &storage.place {
        Some(place) => format!("{} °C, {place}", storage.kept_c),
        None => format!("{} °C", storage.kept_c),
    }
}

/// `selfing, kinship 0.5`.
pub fn relation(relation: &Relation) -> String {
    let words = relation.degree.words();
    if relation.kinship > 0.0 {
        format!("{words}, kinship {}", figure(relation.kinship))
    } else {
        words.to_owned()
    }
}

/// A coefficient without needless zeros.
fn figure(value: f64) -> String {
    let text = format!("{value:.4}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

/// An entry in one line, without its number.
pub fn entry(entry: &Entry, zone: Tz) -> String {
    let mut line = format!("{}  {}  {}", moment(entry.time, zone), entry.subject, fact(&entry.fact));
    if let Some(by) = &entry.by {
        line.push_str(&format!(", by {by}"));
    }
    if let Some(note) = &entry.note {
        line.push_str(&format!(" ({note})"));
    }
    line
}

/// `1 portion`, `6 portions`.
fn counted(number: u32, noun: &str) -> String {
    if number == 1 { format!("1 {noun}") } else { format!("{number} {noun}s") }
}

/// What happened, in words.
pub fn fact(fact: &Fact) -> String {
    let some =
        |count: &Option<u32>, noun: &str| count.map_or(String::new(), |count| format!(", {count} {noun}"));
    match fact {
        Fact::PlantAdded(card) => format!("taken up{}", card_words(card)),
        Fact::Weighed { mass_kg } => format!("corm {mass_kg} kg"),
        Fact::Repotted { pot_litres, mix } => {
            let pot = pot_litres.map_or(String::new(), |litres| format!(", {litres} litres"));
            let mix = mix.as_ref().map_or(String::new(), |mix| format!(", {mix}"));
            format!("repotted{pot}{mix}")
        }
        Fact::Dormant => "dormant".to_owned(),
        Fact::InLeaf => "in leaf".to_owned(),
        Fact::Gone => "gone".to_owned(),
        Fact::PollenTaken(taken) => {
            let how = if taken.received { "received" } else { "collected" };
            let dried = taken.dried.as_ref().map_or("fresh".to_owned(), |dried| format!("dried: {dried}"));
            let stored =
                taken.stored.as_ref().map_or(String::new(), |storage| format!(", {}", kept(storage)));
            format!(
                "pollen of {} {how}, {}, {dried}{stored}",
                taken.plant,
                counted(taken.portions, "portion")
            )
        }
        Fact::PollenStored(storage) => format!("stored at {}", kept(storage)),
        Fact::PollenThawed { portions } => format!("thawed, {}", counted(*portions, "portion")),
        Fact::PollenTested { germination_pct } => format!("germination {germination_pct} %"),
        Fact::PollenDiscarded => "thrown away".to_owned(),
        Fact::Pollinated(pollination) => {
            let on = pollination.bench.as_ref().map_or(String::new(), |bench| format!(" on {bench}"));
            let flowers =
                pollination.flowers.as_ref().map_or(String::new(), |flowers| format!(", {flowers}"));
            let access = pollination.access.as_ref().map_or(String::new(), |access| format!(", by {access}"));
            format!("{}{on} pollinated with {}{flowers}{access}", pollination.plant, pollination.lot)
        }
        Fact::FruitSet { berries } => format!("fruit set{}", some(berries, "berries")),
        Fact::FruitColour { colour, part } => match part {
            bloom_model::book::entry::Part::All => format!("berries {}", colour.name()),
            part => format!("berries {} at the {}", colour.name(), part.name()),
        },
        Fact::FruitLost { berries } => format!("{berries} berries lost"),
        Fact::FruitRipe => "fruit ripe".to_owned(),
        Fact::Harvested { berries } => format!("harvested{}", some(berries, "berries")),
        Fact::SeedsCounted { seeds } => format!("{seeds} seeds"),
        Fact::Sown { seeds } => format!("{seeds} seeds sown"),
        Fact::Germinated { seedlings, albino: 0 } => format!("{seedlings} seedlings"),
        Fact::Germinated { seedlings, albino } => format!("{seedlings} seedlings, {albino} of them albino"),
        Fact::Withdrawn => "withdrawn".to_owned(),
    }
}

/// What a plant's card says, each with a comma before it.
pub fn card_words(card: &PlantCard) -> String {
    let mut words = String::new();
    let mut say = |what: &str, value: &Option<String>| {
        if let Some(value) = value {
            words.push_str(&format!(", {what}{value}"));
        }
    };
    say("", &card.taxon);
    say("mother ", &card.mother);
    say("father ", &card.father);
    say("seed of ", &card.seed_of);
    say("offset of ", &card.offset_of);
    say("clone ", &card.clone);
    say("sib group ", &card.sibs);
    say("from ", &card.provenance);
    words
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_coefficient_has_no_needless_zeros() {
        assert_eq!(figure(0.0625), "0.0625");
        assert_eq!(figure(0.5), "0.5");
    }
}
