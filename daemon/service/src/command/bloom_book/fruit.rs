//! `fruit`: from set to seedlings.

use std::path::Path;

use bloom_model::book::entry::{Colour, Fact, Part};
use bloom_text::when;
use clap::builder::PossibleValuesParser;
use clap::{Args, Subcommand};

use super::{Common, Desk, Failure, print, print_json};
use crate::book::FruitView;

/// `anthesisd fruit X-2027-1 set 420`
#[derive(Debug, Args)]
pub(in crate::command) struct FruitArguments {
    /// The cross, or the plant or bench that carries it; all crosses if left out
    cross: Option<String>,
    #[command(subcommand)]
    what: Option<Work>,
    #[command(flatten)]
    common: Common,
}

#[derive(Debug, Subcommand)]
enum Work {
    /// Fruit has set
    Set {
        /// Berries that swell, if you counted them
        berries: Option<u32>,
    },
    /// The colour that the berries have come to
    Colour {
        /// green, yellow, orange or red
        #[arg(value_parser = PossibleValuesParser::new(Colour::NAMES.map(|(name, _)| name)))]
        colour: String,
        /// Where on the spike: they ripen from the top down
        #[arg(long, default_value = "all", value_parser = PossibleValuesParser::new(Part::NAMES.map(|(name, _)| name)))]
        part: String,
    },
    /// Berries were lost
    Lost {
        /// How many
        berries: u32,
    },
    /// It is ripe
    Ripe,
    /// Berries were harvested
    Harvested {
        /// How many, if you counted them
        berries: Option<u32>,
    },
    /// Seeds, cleaned and counted
    Seeds {
        /// How many
        seeds: u32,
    },
    /// Seeds were sown
    Sown {
        /// How many
        seeds: u32,
    },
    /// Seedlings came up since the last count
    Germinated {
        /// How many
        seedlings: u32,
        /// How many of them without green
        #[arg(long, value_name = "NUMBER", default_value_t = 0)]
        albino: u32,
    },
}

impl Work {
    fn fact(self) -> Option<Fact> {
        Some(match self {
            Self::Set { berries } => Fact::FruitSet { berries },
            Self::Colour { colour, part } => Fact::FruitColour {
                colour: named(&Colour::NAMES, &colour)?,
                part: named(&Part::NAMES, &part)?,
            },
            Self::Lost { berries } => Fact::FruitLost { berries },
            Self::Ripe => Fact::FruitRipe,
            Self::Harvested { berries } => Fact::Harvested { berries },
            Self::Seeds { seeds } => Fact::SeedsCounted { seeds },
            Self::Sown { seeds } => Fact::Sown { seeds },
            Self::Germinated { seedlings, albino } => Fact::Germinated { seedlings, albino },
        })
    }
}

fn named<T: Copy>(names: &[(&str, T)], name: &str) -> Option<T> {
    names.iter().find(|(known, _)| *known == name).map(|(_, value)| *value)
}

pub(in crate::command) fn fruit(path: &Path, arguments: FruitArguments) -> Result<(), Failure> {
    let FruitArguments { cross, what, common } = arguments;
    let Some(what) = what else {
        return show(&Desk::open_to_read(path, &common)?, cross.as_deref(), common.json);
    };
    let cross = cross
        .ok_or_else(|| Failure::Usage("name the cross, or its bench: anthesisd fruit east-3 …".to_owned()))?;
    // the command line lets no other word through
    let fact = what.fact().ok_or_else(|| Failure::Usage("no such colour or part".to_owned()))?;
    Desk::open(path)?.book(&common, |house, _, _| house.plan_fruit(&cross, fact))
}

fn show(desk: &Desk, name: Option<&str>, json: bool) -> Result<(), Failure> {
    let only = name.map(|name| desk.house.cross_named(name)).transpose()?;
    let views = crate::book::fruit(&desk.house, desk.reader()?.as_ref(), only, desk.now)?;
    if json {
        return print_json(&views);
    }
    for view in &views {
        print(line(view))?;
        print_forecast(desk, view, only.is_some())?;
        if only.is_some() {
            desk.print_history(&view.cross.name)?;
        }
    }
    if views.is_empty() {
        print("no cross is in the book: anthesisd cross BENCH LOT books one")?;
    }
    Ok(())
}

fn line(view: &FruitView) -> String {
    let (cross, fruit) = (&view.cross, &view.cross.fruit);
    let mut line = format!("{}: {} × {}", cross.name, cross.mother, cross.father);
    if let Some(berries) = view.berries {
        line.push_str(&format!(", {berries} berries"));
    }
    if let Some(seen) = fruit.colours.last() {
        line.push_str(&format!(", {} at the {}", seen.colour.name(), seen.part.name()));
    }
    if fruit.sown() > 0 {
        let (grown, albino) = fruit.grown();
        line.push_str(&format!(", {} seeds sown, {grown} up", fruit.sown()));
        if albino > 0 {
            line.push_str(&format!(", {albino} of them albino"));
        }
    }
    line
}

fn print_forecast(desk: &Desk, view: &FruitView, at_length: bool) -> Result<(), Failure> {
    let zone = desk.house.zone;
    if let Some(harvest) = &view.harvest {
        print(format_args!(
            "   harvest from the top down, {} to {}; clean off all pulp, gloves and goggles",
            when::date(harvest.from, zone),
            when::date(harvest.until, zone)
        ))?;
    }
    if view.unsown > 0 {
        print(format_args!("   {} seeds are not sown: sow them fresh, dry storage kills them", view.unsown))?;
    }
    let Some(ripening) = &view.ripening else { return Ok(()) };
    let ripe = &ripening.ripe;
    print(format_args!(
        "   {} since pollination; ripe likely {} ({} to {}, after {})",
        when::long_span(ripening.age_d),
        when::date(ripe.likely, zone),
        when::date(ripe.earliest, zone),
        when::date(ripe.latest, zone),
        when::long_spans(ripening.spread_d)
    ))?;
    if let (Some(heat), Some(total)) = (&ripening.heat, &ripening.degree_days) {
        let by = if total.by_own {
            "by own records"
        } else {
            "none is published: the days at this fruit's own pace"
        };
        print(format_args!(
            "   {:.0} degree-days over {:.0} days of record, {:.1} a day; likely {:.0} ({:.0} to {:.0}; {by}), reached {}",
            heat.degree_days,
            heat.covered_days,
            heat.a_day,
            total.likely,
            total.least,
            total.most,
            when::date(total.likely_on, zone)
        ))?;
    }
    if at_length {
        for figure in &ripening.published {
            print(format_args!(
                "   figure: {}, {}",
                when::long_spans((figure.days, figure.days_at_most)),
                figure.source
            ))?;
        }
        for own in &ripening.own {
            print(format_args!("   own record: {:.0} days, {}", own.days, own.cross))?;
        }
        for colour in &view.colours_published {
            print(format_args!(
                "   colour: {} after {:.0} days, {}",
                colour.colour.name(),
                colour.days,
                colour.source
            ))?;
        }
        if !view.colours_published.is_empty() {
            print("   they colour and ripen from the top down")?;
        }
    }
    Ok(())
}
