//! The payload of an event: its sentence first, its evidence as the model typed it, and `reason` in words.

use bloom_model::event::{
    Details, Doubt, Event, EventKind, GrowsAgain, HasClosed, NotOpening, SlowingOverDetails,
};
use serde_json::{Value, json};

use super::*;

fn event(kind: EventKind, details: Details) -> Event {
    Event {
        id: format!("east-3-2027a/{}/1", kind.name()),
        time: at(16.0),
        site: "saltmarsh".into(),
        bench: Some("east-3".into()),
        plant: Some("AT-0412".into()),
        bloom: None,
        kind,
        severity: kind.row().severity,
        details,
        ends: vec!["not shown".to_owned()],
        stands_until: Some(at(20.0)),
    }
}

#[test]
fn the_sentence_comes_first_and_what_only_the_service_needs_is_left_out() {
    let stood_down = event(EventKind::StoodDown, Details::StoodDown { why: NotOpening::TakenBack });
    assert_eq!(
        serde_json::to_string(&Payload::of(&stood_down, &site())).unwrap(),
        r#"{"message":"FALSE ALARM east-3: not opening, the recorded opening was taken back. It may open tomorrow: the watch goes on.","#
            .to_owned()
            + r#""id":"east-3-2027a/stood-down/1","time":"2027-06-02T19:00:00Z","site":"saltmarsh","bench":"east-3","plant":"AT-0412","#
            + r#""event":"stood-down","severity":"notice","reason":"the booked opening was withdrawn"}"#
    );
    let over = Details::SlowingOver(SlowingOverDetails {
        why: GrowsAgain::Recovered,
        growth_cm_day: Some(9.0),
        outlook: None,
    });
    let over = serde_json::to_string(&Payload::of(&event(EventKind::SlowingOver, over), &site())).unwrap();
    assert!(
        over.ends_with(r#""severity":"notice","reason":"growth has come back","growth_cm_day":9.0}"#),
        "{over}"
    );
}

#[test]
fn every_event_that_is_told_by_its_reason_alone_has_one() {
    let by = HasClosed::ByTheClock;
    for (kind, details, reason) in [
        (EventKind::Look, Details::Look { doubt: Doubt::EdgeLost }, "the ranger no longer shows its edge"),
        (
            EventKind::Closed,
            Details::Closed { by, after_h: Some(48.0) },
            "by the hours such blooms stay open",
        ),
        (EventKind::FruitRipe, Details::FruitRipe {}, "as booked"),
        (EventKind::Spent, Details::Spent {}, "nothing more is to come of it"),
    ] {
        let payload: Value = serde_json::to_value(Payload::of(&event(kind, details), &site())).unwrap();
        assert_eq!((&payload["event"], &payload["reason"]), (&json!(kind.name()), &json!(reason)));
        assert_eq!(payload.as_object().unwrap().len(), 9, "{payload}");
    }
    let test = serde_json::to_value(Payload::of(&event(EventKind::Test, Details::Test {}), &site())).unwrap();
    assert_eq!(test.get("reason"), None);
}
