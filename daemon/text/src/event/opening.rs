//! The opening night and what follows from it, in sentences.

use bloom_model::event::{
    Doubt, FullOpenDetails, FullOpenTimes, FullyOpen, HasClosed, NotOpening, OpenHours, OpeningDetails,
    Revision, ToldBy, Window,
};
use bloom_model::time::Time;

use super::reason::{said_of_not_opening, shown};
use super::{AGAINST_SAP_IN_AN_EYE, TAKE_ALONG};
use crate::words::Words;

/// Says, behind an opening alarm that takes the place of another one, what became of that.
const TAKES_THE_PLACE: &str = " What was told before was no opening.";

impl Words<'_> {
    /// The opening alarm.
    pub(crate) fn opening(&self, opening: &OpeningDetails) -> String {
        let moment = &opening.moment;
        let head = match (opening.full_since, opening.found_open) {
            (Some(_), _) => "FULLY OPEN",
            (None, true) => "ALREADY OPEN",
            (None, false) => "OPENING NOW",
        };
        let what_to_do = self.what_to_do(opening);
        let mut message = format!("{head} {}: {what_to_do}. {TAKE_ALONG}", self.bench);
        if let Some(since) = opening.full_since {
            message.push_str(&format!(" Fully open since {}.", self.day_clock(since)));
        } else if let Some(full_open) = &moment.full_open {
            message.push_str(&format!(" Full {}.", self.full_open(full_open, moment.now)));
        }
        if moment.pollinated {
            message.push_str(" Pollination is recorded.");
        } else {
            message.push_str(&self.receptive(moment.now, &moment.hours));
        }
        message.push_str(&self.evidence(opening));
        message.push_str(&self.of_plant());
        message.push_str(AGAINST_SAP_IN_AN_EYE);
        if moment.takes_the_place {
            message.push_str(TAKES_THE_PLACE);
        }
        message
    }

    /// What is to be done now about an open bloom: an order, without its stop.
    fn what_to_do(&self, opening: &OpeningDetails) -> String {
        let moment = &opening.moment;
        let (now, OpenHours { receptive, best, collect }) = (moment.now, moment.hours);
        if !moment.pollinated && receptive.until > now {
            let from = best.map_or(receptive.from, |best| best.from);
            return if from <= now {
                "thaw pollen, pollinate now".to_owned()
            } else {
                format!("thaw pollen, pollinate from {}", self.clock_on(from, now))
            };
        }
        if moment.collected {
            "record when it closes".to_owned()
        } else if collect.until <= now {
            "look, and record what you see".to_owned()
        } else if collect.from <= now {
            format!("collect pollen, until {}", self.clock_on(collect.until, now))
        } else {
            format!("collect pollen from {}", self.clock_on(collect.from, now))
        }
    }

    /// When the flowers are receptive, as of `now`: a sentence with a space before it.
    fn receptive(&self, now: Time, hours: &OpenHours) -> String {
        let receptive = &hours.receptive;
        let until = self.day_clock(receptive.until);
        if receptive.until <= now {
            return format!(
                " Pollination hours are over by the books ({until}): try only if stigmas are moist."
            );
        }
        let best = self.best(now, hours);
        if receptive.from <= now {
            format!(" Flowers receptive until {until}{best}.")
        } else {
            format!(" Flowers receptive {} to {until}{best}.", self.day_clock(receptive.from))
        }
    }

    /// `, best Wed 18:00 to Thu 02:00`, `, best until Thu 02:00`, or nothing where the best hours are over.
    fn best(&self, now: Time, hours: &OpenHours) -> String {
        match hours.best {
            Some(best) if best.from <= now => format!(", best until {}", self.day_clock(best.until)),
            Some(best) => {
                let until = self.clock_on(best.until, best.from);
                format!(", best {} to {until}", self.day_clock(best.from))
            }
            None => String::new(),
        }
    }

    /// What shows the opening: sentences with a space before them.
    fn evidence(&self, opening: &OpeningDetails) -> String {
        let moment = &opening.moment;
        let began = self.day_clock(opening.began);
        let how = if opening.found_open {
            format!("it opened unseen, in a span without readings, about {began}")
        } else {
            format!("it began about {began}")
        };
        let rate = self.centimetres(moment.rate_m_h);
        match opening.told_by {
            ToldBy::Sign => format!(" By what was recorded {how}."),
            ToldBy::Spadix => {
                let over_air = opening
                    .spadix_above_air_k
                    .map_or_else(String::new, |kelvin| format!(" by {}", self.degrees_of_difference(kelvin)));
                format!(" Its spadix is warmer than the air{over_air}; {how}.")
            }
            ToldBy::Rim if moment.seen => {
                format!(" Edge out {}, {rate} an hour; {how}.", self.centimetres(moment.advance_m))
            }
            ToldBy::Tip if moment.seen => format!(" From above its tip rises {rate} an hour; {how}."),
            _ => format!(
                " The ranger does not show its edge now: look, from the ground or by camera. By what was seen {how}."
            ),
        }
    }

    /// What to do about a bloom that is fully open, as of `now`: a clause that offers no hour that is past.
    pub(crate) fn pollination(&self, now: Time, hours: &OpenHours) -> String {
        let OpenHours { receptive, collect, .. } = hours;
        let until = self.day_clock(receptive.until);
        if receptive.until <= now {
            let books =
                format!("pollination hours are over by the books ({until}), try only if stigmas are moist");
            return match collect {
                collect if collect.until <= now => books,
                collect if collect.from <= now => {
                    format!("{books}; collect pollen now, until {}", self.day_clock(collect.until))
                }
                collect => format!("{books}; collect pollen from {}", self.day_clock(collect.from)),
            };
        }
        let best = self.best(now, hours);
        if receptive.from <= now {
            format!("pollinate now, until about {until}{best}")
        } else {
            format!("pollinate from {} until about {until}{best}", self.day_clock(receptive.from))
        }
    }

    /// Full opening is expected at another hour than was told, or is better known.
    pub(crate) fn full_open_revised(
        &self,
        now: Time,
        full_open: &FullOpenTimes,
        revision: Revision,
    ) -> String {
        let what = match revision {
            Revision::Sooner => "opens faster than was told",
            Revision::Later => "opens more slowly than was told",
            Revision::Surer => "opens as was told",
        };
        format!("{} {what}: full {}.", self.bench, self.full_open(full_open, now))
    }

    /// The bloom is fully open, or is taken to be.
    pub(crate) fn fully_open(&self, now: Time, full: &FullOpenDetails) -> String {
        let what_to_do = if full.pollinated {
            "pollination is recorded.".to_owned()
        } else {
            format!("{}. {TAKE_ALONG}", self.pollination(now, &full.hours))
        };
        let bench = self.bench;
        match full.by {
            FullyOpen::ByTheClock => format!(
                "{bench} counted as fully open after {:.0} h, no sensor saw it: {what_to_do}",
                now.hours_since(full.began)
            ),
            FullyOpen::AtRest => format!("FULLY OPEN {bench}: {what_to_do} Its edge has come to rest."),
            FullyOpen::Recorded => format!("FULLY OPEN {bench}, as recorded: {what_to_do}"),
            FullyOpen::NotClosed => {
                format!("FULLY OPEN {bench}, that it closed was taken back: {what_to_do}")
            }
        }
    }

    /// The bloom has closed, or is taken to have.
    pub(crate) fn closed(&self, by: HasClosed, after_h: Option<f64>) -> String {
        let bench = self.bench;
        match by {
            HasClosed::ByTheClock => {
                let after = after_h.map_or(String::new(), |hours| format!(" after {hours:.0} h"));
                format!(
                    "{bench} counted as closed{after}; no sensor saw it. If it is open, record \"full-open\"."
                )
            }
            HasClosed::HalfWayBack => format!("{bench} has closed: its edge is half way back."),
            HasClosed::Recorded => format!("{bench} has closed, as recorded."),
            HasClosed::Collapsed => format!("{bench} has collapsed, as recorded."),
            HasClosed::FruitSet => format!("{bench} has set fruit, as recorded."),
        }
    }

    /// Nothing more is to come of the bloom.
    pub(crate) fn spent(&self) -> String {
        format!(
            "{} counted as over: no more is told of this bloom. The bench waits for its next bud.",
            self.bench
        )
    }

    /// The opening alarm was wrong.
    pub(crate) fn not_opening(&self, why: NotOpening) -> String {
        format!(
            "FALSE ALARM {}: not opening, {}. It may open tomorrow: the watch goes on.",
            self.bench,
            said_of_not_opening(why)
        )
    }

    /// Something of an opening is odd; its alarm stands.
    pub(crate) fn look(&self, doubt: Doubt) -> String {
        format!(
            "{}: look, from the ground or by camera, not alone: {}. The opening alarm stands; if it is closed, record \"not-opening\".",
            self.bench,
            shown(doubt)
        )
    }

    /// The last call for pollination.
    pub(crate) fn receptive_ending(&self, receptive: &Window) -> String {
        format!(
            "POLLINATE NOW {}: flowers receptive until about {}. Nobody has recorded a pollination. {TAKE_ALONG}{}{AGAINST_SAP_IN_AN_EYE}",
            self.bench,
            self.day_clock(receptive.until),
            self.of_plant()
        )
    }

    /// Pollen is shed; most likely at the instant `likely`.
    pub(crate) fn pollen(&self, now: Time, collect: &Window, likely: Time) -> String {
        let until = self.day_clock(collect.until);
        let when = if collect.from <= now {
            format!("It is shed until {until}")
        } else {
            format!("It is shed from {} to {until}", self.day_clock(collect.from))
        };
        let likely = if likely > now {
            format!(", likeliest about {}", self.day_clock(likely))
        } else {
            String::new()
        };
        format!(
            "POLLEN {}: collect it, trays in now. {when}{likely}. A mask. {TAKE_ALONG}{}{AGAINST_SAP_IN_AN_EYE}",
            self.bench,
            self.of_plant()
        )
    }
}
