//! The life of a bloom as a state machine: its stages, and what leads from one to the next.

use serde::{Deserialize, Serialize};

/// Where a bloom is in its life.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Stage {
    /// A bud that grows.
    Bud,
    /// A bud whose growth has fallen well below its peak.
    Slowing,
    /// The spathe is pulling away from the spadix.
    Opening,
    /// Fully open; the female flowers are receptive.
    FullOpen,
    /// The male flowers shed their pollen.
    PollenShed,
    /// The spathe has closed.
    Closed,
    /// Fruit is set.
    Fruiting,
    /// Given up unopened; should it open all the same, the alarm still comes.
    Aborted,
    /// Over: the bench waits for its next bud.
    Spent,
}

/// What leads from one stage to the next: something sensed, the clock, or a sign that a person booked.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Turn {
    /// Growth has fallen well below its peak.
    GrowthSlows,
    /// Growth has come back.
    GrowthRecovers,
    /// The rim sets out, or a person saw it open.
    Opens,
    /// It was no opening: growth slows, or it does not.
    StandsDown {
        /// Whether the bud goes on as one that slows.
        slowing: bool,
    },
    /// The advance has levelled off, or a person saw it fully open.
    OpensFully,
    /// The hour at which pollen is shed.
    ShedsPollen,
    /// The spathe goes back, or the hours of such blooms are over, or a person saw it closed.
    Closes,
    /// A person said that fruit is set.
    SetsFruit,
    /// A person took back that fruit is set.
    HasNoFruit,
    /// No growth for too long, or a person said that it collapsed or is a leaf.
    IsGivenUp,
    /// A person books a sign of a bud, or takes back that it was given up.
    IsTakenUp {
        /// Whether the bud goes on as one that slows.
        slowing: bool,
    },
    /// Nothing more is to come.
    Ends,
}

impl Stage {
    /// Every stage.
    pub const ALL: [Self; 9] = [
        Self::Bud,
        Self::Slowing,
        Self::Opening,
        Self::FullOpen,
        Self::PollenShed,
        Self::Closed,
        Self::Fruiting,
        Self::Aborted,
        Self::Spent,
    ];

    /// The stage that a turn leads to; `None` where it leads nowhere from this one.
    pub const fn after(self, turn: Turn) -> Option<Self> {
        Some(match (self, turn) {
            (Self::Bud, Turn::GrowthSlows) => Self::Slowing,
            (Self::Slowing, Turn::GrowthRecovers) => Self::Bud,
            (Self::Bud | Self::Slowing | Self::Aborted, Turn::Opens) => Self::Opening,
            // what was closed by mistake can be seen open again
            (Self::Opening | Self::Closed, Turn::OpensFully) => Self::FullOpen,
            (Self::Opening | Self::FullOpen, Turn::ShedsPollen) => Self::PollenShed,
            (Self::Opening | Self::FullOpen | Self::PollenShed, Turn::Closes) => Self::Closed,
            (Self::FullOpen | Self::PollenShed | Self::Closed, Turn::SetsFruit) => Self::Fruiting,
            (Self::Fruiting, Turn::HasNoFruit) => Self::Closed,
            (Self::Bud | Self::Slowing, Turn::IsGivenUp) => Self::Aborted,
            (
                Self::Opening | Self::FullOpen | Self::PollenShed | Self::Closed,
                Turn::StandsDown { slowing },
            )
            | (Self::Aborted, Turn::IsTakenUp { slowing }) => {
                if slowing {
                    Self::Slowing
                } else {
                    Self::Bud
                }
            }
            (Self::Closed | Self::Fruiting | Self::Aborted, Turn::Ends) => Self::Spent,
            _ => return None,
        })
    }

    /// The word for people.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Bud => "bud",
            Self::Slowing => "slowing",
            Self::Opening => "opening",
            Self::FullOpen => "full-open",
            Self::PollenShed => "pollen-shed",
            Self::Closed => "closed",
            Self::Fruiting => "fruiting",
            Self::Aborted => "aborted",
            Self::Spent => "spent",
        }
    }

    /// Before the opening.
    pub const fn in_bud(self) -> bool {
        matches!(self, Self::Bud | Self::Slowing)
    }

    /// Whether an opening may come: in bud, or given up.
    pub const fn may_open(self) -> bool {
        self.after(Turn::Opens).is_some()
    }

    /// The spathe is away from the spadix.
    pub const fn is_open(self) -> bool {
        matches!(self, Self::Opening | Self::FullOpen | Self::PollenShed)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use Stage::*;

    const TURNS: [Turn; 14] = [
        Turn::GrowthSlows,
        Turn::GrowthRecovers,
        Turn::Opens,
        Turn::StandsDown { slowing: false },
        Turn::StandsDown { slowing: true },
        Turn::OpensFully,
        Turn::ShedsPollen,
        Turn::Closes,
        Turn::SetsFruit,
        Turn::HasNoFruit,
        Turn::IsGivenUp,
        Turn::IsTakenUp { slowing: false },
        Turn::IsTakenUp { slowing: true },
        Turn::Ends,
    ];

    /// The life of a bloom in the order of the trade (common practice): nothing is skipped that a bloom goes through.
    #[test]
    fn a_bloom_goes_from_bud_to_spent_with_fruit_and_without() {
        let life = |turns: &[Turn]| {
            turns
                .iter()
                .try_fold(Bud, |stage, turn| stage.after(*turn))
                .unwrap_or_else(|| panic!("{turns:?}"))
        };
        let opens = [Turn::GrowthSlows, Turn::Opens, Turn::OpensFully, Turn::ShedsPollen, Turn::Closes];
        assert_eq!(life(&opens), Closed);
        assert_eq!(life(&[&opens[..], &[Turn::Ends]].concat()), Spent);
        assert_eq!(life(&[&opens[..], &[Turn::SetsFruit, Turn::Ends]].concat()), Spent);
        assert_eq!(life(&[Turn::GrowthSlows, Turn::IsGivenUp, Turn::Ends]), Spent);
    }

    #[test]
    fn every_wrong_turn_can_be_taken_back() {
        let slowing = true;
        for (stage, wrong, back) in [
            (Bud, Turn::GrowthSlows, Turn::GrowthRecovers),
            (Slowing, Turn::Opens, Turn::StandsDown { slowing }),
            (Slowing, Turn::IsGivenUp, Turn::IsTakenUp { slowing }),
            (FullOpen, Turn::Closes, Turn::OpensFully),
            (Closed, Turn::SetsFruit, Turn::HasNoFruit),
        ] {
            let there = stage.after(wrong).unwrap_or_else(|| panic!("{stage:?} {wrong:?}"));
            assert_eq!(there.after(back), Some(stage), "{stage:?} {wrong:?} {back:?}");
        }
    }

    #[test]
    fn nothing_follows_the_end_and_no_turn_stays() {
        for stage in Stage::ALL {
            for turn in TURNS {
                let next = stage.after(turn);
                assert_ne!(next, Some(stage), "{stage:?} {turn:?}");
                assert!(stage != Spent || next.is_none(), "{turn:?}");
            }
        }
    }

    #[test]
    fn every_stage_can_be_reached_and_left() {
        for stage in Stage::ALL {
            let reached =
                Stage::ALL.iter().any(|from| TURNS.iter().any(|turn| from.after(*turn) == Some(stage)));
            let left = TURNS.iter().any(|turn| stage.after(*turn).is_some());
            assert!(reached && (left || stage == Spent), "{stage:?}");
        }
    }
}
