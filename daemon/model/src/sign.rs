//! What a person saw or did at a bench.

use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Serialize};

/// A sign seen on the plant, or a thing done to it, with the time a person gave for it.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub enum Sign {
    /// A sign without a figure.
    Plain(PlainSign),
    /// A ranger was hung anew; what it reports from now on is measured from the new place.
    MountMoved(MovedMounts),
    /// A sign booked for this instant was wrong.
    Withdrawn(PlainSign),
    /// A height taped at this instant was wrong.
    HeightWithdrawn,
}

/// New distances of re-hung rangers; one that is absent was not moved.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize, Deserialize)]
pub struct MovedMounts {
    /// Overhead ranger to the height datum, m.
    pub tip_m: Option<f64>,
    /// Side ranger to the rim where it stands now, m.
    pub rim_m: Option<f64>,
}

macro_rules! plain_signs {
    ($($(#[$doc:meta])* $variant:ident = $name:literal,)+) => {
        /// The signs that carry no figure.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
        pub enum PlainSign { $($(#[$doc])* $variant,)+ }

        impl PlainSign {
            /// Every one of them.
            pub const ALL: &'static [Self] = &[$(Self::$variant,)+];

            /// The name in recordings and on the command line.
            pub const fn name(self) -> &'static str {
                match self { $(Self::$variant => $name,)+ }
            }
        }
    };
}

plain_signs! {
    /// The bud came through the soil.
    Emerged = "emerged",
    /// The spadix tip shows between the bracts.
    SpadixVisible = "spadix-visible",
    /// The spathe edge is coloured.
    EdgeColoured = "edge-coloured",
    /// A bract (cataphyll) fell.
    BractDropped = "bract-dropped",
    /// The last bract fell.
    LastBractDropped = "last-bract-dropped",
    /// The spathe edge is loose.
    EdgeLoose = "edge-loose",
    /// The bloom smells.
    Scent = "scent",
    /// Flies at the bloom.
    Flies = "flies",
    /// The spathe pulls away from the spadix.
    Opened = "opened",
    /// The spathe is fully open.
    FullOpen = "full-open",
    /// A person looked, and it is not opening.
    NotOpening = "not-opening",
    /// The female flowers were pollinated.
    Pollinated = "pollinated",
    /// The bloom's own pollen was collected.
    PollenCollected = "pollen-collected",
    /// The spathe has closed.
    Closed = "closed",
    /// The spadix has collapsed.
    Collapsed = "collapsed",
    /// Fruit has set.
    FruitSet = "fruit-set",
    /// The fruit is ripe.
    FruitRipe = "fruit-ripe",
    /// It is a leaf and no flower.
    Leaf = "leaf",
}

impl PlainSign {
    /// Whether it tells how far off the opening of a bud is.
    pub const fn moves_the_forecast(self) -> bool {
        matches!(
            self,
            Self::Emerged
                | Self::SpadixVisible
                | Self::EdgeColoured
                | Self::BractDropped
                | Self::LastBractDropped
                | Self::EdgeLoose
                | Self::Scent
                | Self::Flies
        )
    }
}

/// The word that books new ranger distances.
const MOUNT_MOVED: &str = "mount-moved";
/// The word before a sign that is taken back.
const WITHDRAWN: &str = "withdrawn";
/// What stands behind it where it is a taped height.
const HEIGHT: &str = "height";

/// A text that names no sign.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error(
    "{said:?} is no sign: it is one of {known}, `mount-moved` with `tip=METRES` or `rim=METRES`, `withdrawn SIGN` or `withdrawn height`"
)]
pub struct UnknownSign {
    said: String,
    known: String,
}

impl fmt::Display for Sign {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Plain(sign) => f.write_str(sign.name()),
            Self::Withdrawn(sign) => write!(f, "{WITHDRAWN} {}", sign.name()),
            Self::HeightWithdrawn => write!(f, "{WITHDRAWN} {HEIGHT}"),
            Self::MountMoved(moved) => {
                f.write_str(MOUNT_MOVED)?;
                for (name, value) in [("tip", moved.tip_m), ("rim", moved.rim_m)] {
                    if let Some(metres) = value {
                        write!(f, " {name}={metres}")?;
                    }
                }
                Ok(())
            }
        }
    }
}

impl FromStr for PlainSign {
    type Err = UnknownSign;

    fn from_str(text: &str) -> Result<Self, UnknownSign> {
        Self::ALL.iter().copied().find(|sign| sign.name() == text).ok_or_else(|| UnknownSign {
            said: text.chars().take(60).collect(),
            known: Self::ALL.iter().map(|sign| sign.name()).collect::<Vec<_>>().join(", "),
        })
    }
}

impl FromStr for Sign {
    type Err = UnknownSign;

    /// Reads `bract-dropped`, `mount-moved rim=0.95 tip=3.1` or `withdrawn bract-dropped`.
    fn from_str(text: &str) -> Result<Self, UnknownSign> {
        let mut words = text.split_whitespace();
        match words.next() {
            Some(MOUNT_MOVED) => {
                let mut moved = MovedMounts::default();
                for word in words {
                    let metres = |value: &str| {
                        value
                            .parse::<f64>()
                            .ok()
                            .filter(|m| *m > 0.0 && *m <= 8.0)
                            .ok_or_else(|| unknown(text))
                    };
                    match word.split_once('=') {
                        Some(("tip", value)) => moved.tip_m = Some(metres(value)?),
                        Some(("rim", value)) => moved.rim_m = Some(metres(value)?),
                        _ => return Err(unknown(text)),
                    }
                }
                Ok(Self::MountMoved(moved))
            }
            Some(WITHDRAWN) => match words.next() {
                Some(HEIGHT) => Ok(Self::HeightWithdrawn),
                sign => sign.unwrap_or_default().parse().map(Self::Withdrawn),
            },
            _ => text.trim().parse().map(Self::Plain),
        }
    }
}

fn unknown(text: &str) -> UnknownSign {
    match text.parse::<PlainSign>() {
        Err(error) => error,
        Ok(_) => UnknownSign { said: text.to_owned(), known: String::new() },
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn signs_are_read_as_they_are_written() {
        for text in [
            "bract-dropped",
            "mount-moved rim=0.95",
            "mount-moved tip=3.1 rim=0.95",
            "withdrawn opened",
            "withdrawn height",
        ] {
            assert_eq!(text.parse::<Sign>().unwrap().to_string(), text);
        }
        for text in
            ["", "bract", "mount-moved rim=-1", "mount-moved rim=NaN", "mount-moved girth=1", "withdrawn"]
        {
            assert!(text.parse::<Sign>().is_err(), "{text}");
        }
    }
}
