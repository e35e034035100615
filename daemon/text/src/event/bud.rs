//! The bud and its mornings, in sentences.

use bloom_model::event::{
    BudSeenDetails, GivenUp, GrowsAgain, GrowthFigures, SlowingDetails, SlowingOverDetails,
};
use bloom_model::forecast::Outlook;

use crate::words::{Words, outlook};

impl Words<'_> {
    /// A bud is growing, or one that was given up is watched again.
    pub(crate) fn bud(&self, bud: &BudSeenDetails) -> String {
        let mut message = if bud.taken_up {
            format!("Bud of {} is watched again", self.bench)
        } else {
            format!("New bud {}", self.bench)
        };
        if let Some(height) = bud.height_m {
            message.push_str(&format!(", {} high", self.height(height)));
        }
        if let Some(growth) = bud.growth_cm_day {
            message.push_str(&format!(", {} a day", self.centimetres(growth / 100.0)));
        }
        message.push_str(&format!(": record the signs you see.{}", self.of_plant()));
        message
    }

    /// The bulletin of the morning.
    pub(crate) fn morning(&self, growth: &GrowthFigures, forecast: Option<&Outlook>) -> String {
        let mut message = format!("{}: ", self.bench);
        if let Some(forecast) = forecast {
            message.push_str(&format!("{}. ", outlook(forecast, true)));
        }
        match growth.height_m {
            Some(height) => message.push_str(&format!("{} high", self.height(height))),
            None => message.push_str("Height not known"),
        }
        if let Some(day) = growth.growth_cm_day {
            message.push_str(&format!(", {} since yesterday", self.centimetres(day / 100.0)));
        }
        message.push('.');
        message.push_str(&self.of_plant());
        message
    }

    /// Growth has fallen well below its peak.
    pub(crate) fn slowing(&self, slowing: &SlowingDetails) -> String {
        let forecast = slowing.outlook.as_ref();
        let expected =
            forecast.map_or("opening is days away".to_owned(), |forecast| outlook(forecast, false));
        let stopped = forecast.is_some_and(|forecast| forecast.dates().is_none());
        let what_to_do = if stopped { "" } else { " Ask for pollen, somebody there every evening." };
        format!(
            "SLOWING {}: {expected}.{what_to_do} It grows {} a day, {} at its peak.{}",
            self.bench,
            self.centimetres(slowing.growth_cm_day / 100.0),
            self.centimetres(slowing.peak_cm_day / 100.0),
            self.of_plant()
        )
    }

    /// It grows again, or had not slowed.
    pub(crate) fn grows_again(&self, over: &SlowingOverDetails) -> String {
        let mut message = match over.why {
            GrowsAgain::Recovered => format!("{} grows again", self.bench),
            GrowsAgain::TapeTakenBack => {
                format!("{} has not slowed, the taped height was taken back", self.bench)
            }
        };
        if let Some(growth) = over.growth_cm_day {
            message.push_str(&format!(", {} a day", self.centimetres(growth / 100.0)));
        }
        message.push_str(": opening is further off than said.");
        if let Some(forecast) = &over.outlook {
            message.push_str(&format!(" Now: {}.", outlook(forecast, false)));
        }
        message.push_str(&self.of_plant());
        message
    }

    /// The bud will not open, as far as anybody knows.
    pub(crate) fn given_up(&self, why: GivenUp) -> String {
        let said = match why {
            GivenUp::NoGrowth(days) => format!("counted as stopped, no growth for {days:.0} days"),
            GivenUp::Collapsed => "the bud has collapsed, as recorded".to_owned(),
            GivenUp::Leaf => "a leaf and no flower, as recorded".to_owned(),
        };
        format!("{}: {said}. Look at it. If it opens all the same, the alarm still comes.", self.bench)
    }

    /// A test alarm, of a bench or of the site.
    pub(crate) fn test(&self) -> String {
        format!(
            "TEST ALARM {}: acknowledge it now. Nothing is wrong; your answer proves that an alarm reaches somebody.{}",
            self.bench,
            self.of_plant()
        )
    }
}
