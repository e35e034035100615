//! Sensors that fail, and a side ranger that does not see the edge, in sentences.

use bloom_model::event::{EdgeDetails, SensorDetails, Unwatched};
use bloom_model::quantity::Quantity;
use bloom_model::seeing::Cause;
use bloom_model::time::Time;

use crate::figure::capital;
use crate::words::Words;

/// How a person looks in place of a ranger.
pub(crate) const LOOK_SAFELY: &str = "not alone, from the ground or by camera";

/// `Thermometer, hygrometer and side ranger`.
fn listed(quantities: &[Quantity]) -> String {
    let names: Vec<&str> = quantities.iter().map(|quantity| quantity.sensor()).collect();
    capital(&match names.split_last() {
        Some((last, rest)) if !rest.is_empty() => format!("{} and {last}", rest.join(", ")),
        Some((last, _)) => (*last).to_owned(),
        None => String::new(),
    })
}

impl Words<'_> {
    fn not_watched(&self, unwatched: Unwatched) -> String {
        let what = match unwatched {
            Unwatched::Bud => "bud",
            Unwatched::Bloom => "bloom",
        };
        format!("NOT WATCHED {}: look at the {what} by eye now, {LOOK_SAFELY}.", self.bench)
    }

    /// Sensors have fallen silent.
    pub(crate) fn silent(&self, sensor: &SensorDetails) -> String {
        let names = if sensor.all { "All sensors".to_owned() } else { listed(&sensor.quantities) };
        let since = self.day_clock(sensor.since);
        match sensor.unwatched {
            Some(unwatched) => format!(
                "{} {names} silent since {since}: check power and cable.{}",
                self.not_watched(unwatched),
                self.of_plant()
            ),
            None => format!("{names} of {} silent since {since}. Check plug and cable.", self.bench),
        }
    }

    /// Sensors repeat one value.
    pub(crate) fn stuck(&self, sensor: &SensorDetails) -> String {
        let (names, since) = (listed(&sensor.quantities), self.day_clock(sensor.since));
        match sensor.unwatched {
            Some(unwatched) => format!(
                "{} {names}: the same value since {since}. Wipe its face, switch it off and on.{}",
                self.not_watched(unwatched),
                self.of_plant()
            ),
            None => {
                format!("{names} of {}: the same value since {since}. Switch it off and on.", self.bench)
            }
        }
    }

    /// Sensors work again.
    pub(crate) fn back(&self, quantities: &[Quantity]) -> String {
        let work = if quantities.len() == 1 { "works" } else { "work" };
        format!("{} of {} {work} again.", listed(quantities), self.bench)
    }

    /// The side ranger speaks and does not see the edge.
    pub(crate) fn edge_not_seen(&self, edge: &EdgeDetails, now: Time) -> String {
        let cause = edge.cause;
        let seen = match cause {
            Cause::Impossible(share) => {
                format!("{:.0} % of its figures lie where no edge can be", 100.0 * share)
            }
            Cause::Jumped(by_m) if by_m > 0.0 => {
                format!("what it meets came {} nearer at once", self.centimetres(by_m))
            }
            Cause::Jumped(by_m) => format!("what it meets went {} away at once", self.centimetres(-by_m)),
            Cause::Restless => "it meets nothing that moves as an edge does".to_owned(),
            Cause::FarApart(seconds) => {
                format!("its readings come {:.0} min apart, too seldom to see an opening", seconds / 60.0)
            }
            Cause::Still(_) => "what it meets has neither swelled nor swayed for two days".to_owned(),
        };
        let mend = match cause {
            Cause::FarApart(_) => "Let the board speak every minute, every 15 min at the most",
            _ => "Aim it at the spathe edge, or clear what stands between, and record mount-moved",
        };
        // an edge that came out while nothing was heard looks so, too
        let perhaps = match cause {
            Cause::Jumped(by_m) if by_m > 0.0 && !cause.may_be_a_knock() => " It may have opened.",
            _ => "",
        };
        let since = self.day_clock_or_date(edge.since, now);
        match edge.unwatched {
            Some(unwatched) => format!(
                "{}{perhaps} Its side ranger does not see the edge: {seen}, since {since}. {mend}.{}",
                self.not_watched(unwatched),
                self.of_plant()
            ),
            None => {
                format!("Side ranger of {} does not see the edge: {seen}, since {since}. {mend}.", self.bench)
            }
        }
    }

    /// It sees the edge again, or there is no bud that it must see.
    pub(crate) fn edge_seen(&self, waited_for: bool) -> String {
        if waited_for {
            format!("Side ranger of {} sees the spathe edge again.", self.bench)
        } else {
            format!("{}: no bud is waited for now, its side ranger need not see an edge.", self.bench)
        }
    }
}
