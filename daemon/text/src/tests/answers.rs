//! The answers to acknowledgements, in sentences.

use bloom_model::event::{Answer, AnswerDetails, WhyNothing};

use super::*;

const CUT: usize = 60;

fn taken(of: &[&str], unread: &[&str]) -> AnswerDetails {
    let owned = |names: &[&str]| names.iter().map(|name| (*name).to_owned()).collect();
    AnswerDetails {
        alarms: vec!["east-3-2027a/opening-tonight/1".to_owned()],
        by: Some("Robin".to_owned()),
        coming: None,
        comes_back: None,
        answer: Answer::Taken { of: owned(of), unread: owned(unread) },
        too_many: None,
    }
}

fn nothing(why: WhyNothing) -> AnswerDetails {
    AnswerDetails { alarms: Vec::new(), by: None, answer: Answer::Nothing(why), ..taken(&[], &[]) }
}

/// What is said at 22:14.
fn said(details: &AnswerDetails) -> String {
    let said = Words::new(&site(), "east-3", Some("AT-0412")).answer(at(22.0 + 14.0 / 60.0), details);
    keeps_the_rules(&said);
    let first: String = said.chars().take(CUT).collect();
    assert!(first.contains("east-3"), "a locked phone does not show where: {first:?}");
    said
}

#[test]
fn who_took_note_of_what_and_when() {
    let noted = taken(&["OPENING NOW"], &[]);
    assert_eq!(said(&noted), "Acknowledged at east-3 by Robin 22:14: OPENING NOW. Repeats stop.");
    let unknown = AnswerDetails { by: None, comes_back: Some(at(22.0 + 44.0 / 60.0)), ..noted };
    assert_eq!(
        said(&unknown),
        "Acknowledged at east-3 22:14: OPENING NOW. Repeats stop. Nobody said who: the opening alarm comes back at 22:44 unless a sign is \
         recorded."
    );
    let not_all = AnswerDetails { by: None, ..taken(&["POLLEN", "TOO COLD"], &["OPENING NOW"]) };
    assert_eq!(
        said(&not_all),
        "Acknowledged at east-3 22:14: POLLEN, TOO COLD. Repeats stop. Not yet OPENING NOW, told a moment ago: read it, then answer again."
    );
}

#[test]
fn who_comes_and_until_when_repeats_wait() {
    let comes = AnswerDetails { coming: Some(at(23.5)), ..taken(&["OPENING NOW"], &[]) };
    assert_eq!(said(&comes), "Robin comes to east-3 by 23:30; repeats wait until then.");
    let somebody = AnswerDetails { by: None, ..comes.clone() };
    assert_eq!(said(&somebody), "Somebody comes to east-3 by 23:30; repeats wait until then.");
    let not_the_new = AnswerDetails { coming: Some(at(23.5)), ..taken(&["POLLEN"], &["OPENING NOW"]) };
    assert_eq!(
        said(&not_the_new),
        "Robin comes to east-3 by 23:30; repeats wait until then. OPENING NOW, told a moment ago, does not wait."
    );
    let all_noted = AnswerDetails { coming: Some(at(23.5)), ..taken(&[], &[]) };
    assert_eq!(said(&all_noted), "Robin comes to east-3 by 23:30; all that stands there is acknowledged.");
}

#[test]
fn what_changed_nothing_says_why_and_what_to_do() {
    let names = |names: &[&str]| names.iter().map(|name| (*name).to_owned()).collect::<Vec<_>>();
    assert_eq!(
        said(&nothing(WhyNothing::NoneStands { elsewhere: vec![] })),
        "No alarm stands at east-3: nothing to acknowledge."
    );
    let elsewhere = || vec!["west-1".into(), "saltmarsh".into()];
    assert_eq!(
        said(&nothing(WhyNothing::NoneStands { elsewhere: elsewhere() })),
        "No alarm stands at east-3: nothing to acknowledge. Alarms stand at west-1, saltmarsh: answer there."
    );
    assert_eq!(
        said(&nothing(WhyNothing::JustTold(names(&["OPENING NOW"])))),
        "NOT acknowledged at east-3: OPENING NOW, told a moment ago. Read it, then answer again."
    );
    assert_eq!(
        said(&nothing(WhyNothing::SentBefore(names(&["OPENING NOW"])))),
        "NOT acknowledged at east-3: OPENING NOW, perhaps told after that was sent. Read it, then answer again."
    );
    let coming = |why| AnswerDetails { coming: Some(at(26.0)), ..nothing(why) };
    assert_eq!(
        said(&coming(WhyNothing::TooFarAhead { latest: at(24.0 + 14.0 / 60.0) })),
        "Repeats at east-3 go on: 02:00 is too far ahead, they wait until 00:14 at most. Say an earlier time, or acknowledge."
    );
    assert_eq!(
        said(&coming(WhyNothing::NoneStands { elsewhere: vec![] })),
        "No alarm stands at east-3: nothing waits."
    );
    assert_eq!(
        said(&coming(WhyNothing::JustTold(names(&["OPENING NOW"])))),
        "Repeats at east-3 go on: OPENING NOW, told a moment ago. Read it, then answer again."
    );
    let last =
        AnswerDetails { too_many: Some(6), ..nothing(WhyNothing::NoneStands { elsewhere: Vec::new() }) };
    assert_eq!(
        said(&last),
        "No alarm stands at east-3: nothing to acknowledge. That is the 6th such answer within an hour: no more come for a while. Is a \
         button stuck?"
    );
}

#[test]
fn an_alarm_is_named_by_the_words_that_it_begins_with() {
    for (message, place, wanted) in [
        ("OPENING NOW east-3: thaw pollen, pollinate from 18:00.", "east-3", Some("OPENING NOW")),
        ("TEST ALARM saltmarsh: acknowledge it now.", "saltmarsh", Some("TEST ALARM")),
        ("STAY OUT of the house: extreme heat.", "saltmarsh", Some("STAY OUT of the house")),
        ("NOT WATCHED: look by eye now at east-3.", "saltmarsh", Some("NOT WATCHED")),
        ("east-3: light 3000, limit 2000.", "east-3", None),
        ("No words of that kind", "east-3", None),
    ] {
        assert_eq!(head(message, place), wanted);
    }
}
