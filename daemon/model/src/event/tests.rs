//! The table of events holds together.

use super::kind::UNRANKED;
use super::{EventClass, EventKind, LifeStep};
use EventClass::{Over, Trouble};

#[test]
fn names_are_those_of_the_payload_and_each_is_one_kind() {
    for kind in EventKind::ALL {
        assert_eq!(EventKind::of(kind.name()), Some(*kind));
        assert_eq!(serde_json::to_value(kind).unwrap(), kind.name());
    }
    assert_eq!(EventKind::of("opening"), None);
}

#[test]
fn what_is_over_is_named_for_the_trouble_that_it_ends_and_every_trouble_ends() {
    for kind in EventKind::ALL {
        let ended_by: Vec<&EventKind> = EventKind::ALL
            .iter()
            .filter(|over| over.row().class == Over && over.row().ends.contains(kind))
            .collect();
        match kind.row().class {
            Trouble => assert_eq!(ended_by.len(), 1, "{kind:?} {ended_by:?}"),
            _ => assert!(ended_by.is_empty(), "{kind:?} {ended_by:?}"),
        }
        if kind.name().ends_with("-over") {
            let [of] = kind.row().ends else {
                assert_eq!(kind.step(), Some(LifeStep::GrowsOn));
                continue;
            };
            assert_eq!(kind.name(), format!("{}-over", of.name()));
        }
    }
}

#[test]
fn only_the_gravest_have_a_rank_and_no_two_the_same() {
    let mut ranks: Vec<u8> =
        EventKind::ALL.iter().map(|kind| kind.row().rank).filter(|rank| *rank < UNRANKED).collect();
    ranks.sort_unstable();
    assert_eq!(ranks, (1..=8).collect::<Vec<u8>>());
    assert_eq!(EventKind::rank_of("opening-tonight"), 1);
    assert!(EventKind::rank_of("test") > EventKind::rank_of("what a later version tells"));
}
