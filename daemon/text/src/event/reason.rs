//! Why an event came, as its payload says it in words.

use std::borrow::Cow;

use bloom_model::event::{
    Answer, AnswerDetails, Details, Doubt, GivenUp, GrowsAgain, HasClosed, NotOpening, WhyNothing,
};

/// The `reason` of an event's payload; `None` for events whose figures tell it.
pub(crate) fn reason(details: &Details) -> Option<Cow<'static, str>> {
    let reason = match details {
        Details::StoodDown { why } => not_opening(*why),
        Details::Look { doubt } => shown(*doubt),
        Details::Closed { by, .. } => has_closed(*by),
        Details::GivenUp { why: GivenUp::NoGrowth(days) } => {
            return Some(Cow::Owned(format!("no growth for {days:.0} days")));
        }
        Details::GivenUp { why: GivenUp::Collapsed } => "collapsed, as booked",
        Details::GivenUp { why: GivenUp::Leaf } => "a leaf, as booked",
        Details::SlowingOver(over) => grows_again(over.why),
        Details::Answer(AnswerDetails { answer: Answer::Nothing(why), .. }) => no_answer(why),
        Details::FruitRipe {} => "as booked",
        Details::Spent {} => "nothing more is to come of it",
        _ => return None,
    };
    Some(Cow::Borrowed(reason))
}

const fn not_opening(why: NotOpening) -> &'static str {
    match why {
        NotOpening::HeardClosed => "its edge has been heard closed for two hours",
        NotOpening::GrowsOn => "the bud grows on as before",
        NotOpening::NoFurther => "in all these hours the edge came no further",
        NotOpening::PersonLooked => "a person looked and it is closed",
        NotOpening::TakenBack => "the booked opening was withdrawn",
    }
}

/// The same at the end of the sentence `not opening, …`.
pub(super) const fn said_of_not_opening(why: NotOpening) -> &'static str {
    match why {
        NotOpening::HeardClosed => "its edge was heard closed for two hours",
        NotOpening::TakenBack => "the recorded opening was taken back",
        other => not_opening(other),
    }
}

/// What the ranger shows, in the sentence too.
pub(super) const fn shown(doubt: Doubt) -> &'static str {
    match doubt {
        Doubt::EdgeLost => "the ranger no longer shows its edge",
        Doubt::TurnedBack => "the ranger shows its edge going back",
        Doubt::Back => "the ranger shows its edge closed again",
        Doubt::NoFurther => "the ranger shows its edge no further out than a gap that may close",
        Doubt::GrowsOn => "the bud grows on as before",
    }
}

const fn no_answer(why: &WhyNothing) -> &'static str {
    match why {
        WhyNothing::NoneStands { .. } => "no alarm stands there",
        WhyNothing::JustTold(_) => "the alarm was told a moment ago",
        WhyNothing::SentBefore(_) => "it may have been sent before the alarm was told",
        WhyNothing::TooFarAhead { .. } => "that time is too far ahead",
    }
}

const fn has_closed(by: HasClosed) -> &'static str {
    match by {
        HasClosed::HalfWayBack => "its edge is half way back",
        HasClosed::ByTheClock => "by the hours such blooms stay open",
        HasClosed::Recorded => "as booked",
        HasClosed::Collapsed => "collapsed, as booked",
        HasClosed::FruitSet => "fruit is set, as booked",
    }
}

const fn grows_again(why: GrowsAgain) -> &'static str {
    match why {
        GrowsAgain::Recovered => "growth has come back",
        GrowsAgain::TapeTakenBack => "the taped height that showed it was taken back",
    }
}
