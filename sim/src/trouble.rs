//! The troubles of a real house, each a switch of its own.

use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Serialize};

macro_rules! troubles {
    ($($(#[$doc:meta])* $variant:ident = $name:literal,)+) => {
        /// One trouble of a house or its sensors.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
        #[repr(u8)]
        pub enum Trouble { $($(#[$doc])* $variant,)+ }

        impl Trouble {
            /// Every trouble.
            pub const ALL: &'static [Self] = &[$(Self::$variant,)+];

            /// The name on the command line and in truth files.
            pub const fn name(self) -> &'static str {
                match self { $(Self::$variant => $name,)+ }
            }
        }
    };
}

troubles! {
    /// The air under the roof is up to 8 °C warmer than at the bench while the sun shines.
    Stratification = "stratification",
    /// Vents and heaters step the air by some degrees within minutes.
    Vents = "vents",
    /// Misting cools and wets the air and blinds the rangers for minutes to an hour.
    Misting = "misting",
    /// People in the beam for seconds to an hour; crowds in the last days.
    People = "people",
    /// A mount is knocked by 0.5 to 8 cm and stays so.
    Knocks = "knocks",
    /// Fans make tip and rim sway.
    Sway = "sway",
    /// Echoes of a neighbouring ranger.
    Crosstalk = "crosstalk",
    /// The echo is timed a carrier period late or early.
    CycleSlips = "cycle-slips",
    /// Hours without power: no sensor says anything.
    PowerCuts = "power-cuts",
    /// The thermometer is wrong by up to 1 °C, for the whole season.
    ThermometerBias = "thermometer-bias",
    /// The thermometer follows the air with a lag of 10 to 30 min.
    ThermometerLag = "thermometer-lag",
    /// The thermometer repeats one value for hours.
    ThermometerStuck = "thermometer-stuck",
    /// Slow noise on the ranges: an autoregressive process of first order.
    CorrelatedNoise = "correlated-noise",
    /// A ranger repeats one value for hours.
    StuckOutput = "stuck-output",
    /// Single echoes are missed; the ranger then says nothing, its maximum or its last value.
    Dropouts = "dropouts",
    /// Single echoes from a label or a drip line in front of the plant.
    StrayEchoes = "stray-echoes",
}

/// A name that is no trouble.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error("{said:?} is no trouble: it is one of all, none, {known}")]
pub struct UnknownTrouble {
    said: String,
    known: String,
}

/// Which troubles a season has.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Troubles(u32);

impl Troubles {
    /// A house where everything works.
    pub const NONE: Self = Self(0);

    /// A house where everything happens.
    pub fn all() -> Self {
        Trouble::ALL.iter().fold(Self::NONE, |set, trouble| set.with(*trouble))
    }

    /// These and one more.
    pub const fn with(self, trouble: Trouble) -> Self {
        Self(self.0 | 1 << trouble as u32)
    }

    /// These without one.
    pub const fn without(self, trouble: Trouble) -> Self {
        Self(self.0 & !(1 << trouble as u32))
    }

    /// Whether this one is among them.
    pub const fn has(self, trouble: Trouble) -> bool {
        self.0 & 1 << trouble as u32 != 0
    }

    /// The names of those present.
    pub fn names(self) -> Vec<&'static str> {
        Trouble::ALL.iter().filter(|trouble| self.has(**trouble)).map(|trouble| trouble.name()).collect()
    }
}

impl fmt::Display for Troubles {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if *self == Self::NONE { f.write_str("none") } else { f.write_str(&self.names().join(",")) }
    }
}

impl FromStr for Troubles {
    type Err = UnknownTrouble;

    /// Reads `none`, `all`, or names with commas between; a name after `all` with `-` before it is left out.
    fn from_str(text: &str) -> Result<Self, UnknownTrouble> {
        let mut set = Self::NONE;
        for word in text.split(',') {
            let (name, left_out) = word.strip_prefix('-').map_or((word, false), |name| (name, true));
            let found = Trouble::ALL.iter().copied().find(|trouble| trouble.name() == name);
            set = match (name, found) {
                ("none", _) => set,
                ("all", _) => Self::all(),
                (_, Some(trouble)) if left_out => set.without(trouble),
                (_, Some(trouble)) => set.with(trouble),
                _ => {
                    return Err(UnknownTrouble {
                        said: name.chars().take(40).collect(),
                        known: Self::all().names().join(", "),
                    });
                }
            };
        }
        Ok(set)
    }
}

/// What comes between the ranger and the edge of a season that is asked for it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum EdgeTrouble {
    /// While it opens the limb tilts: its echo slides back, is lost in part, and the bud's body is heard instead.
    LimbTilts,
    /// The far side opens first: the near edge comes late and not so far, and the head rocks meanwhile.
    FarSideLeads,
    /// Insects sit on the ranger's face, most of all on the nights of the bloom: its nearest figure, or none.
    InsectsOnFace,
    /// A bract peels towards the ranger, days before the opening, and falls.
    BractPeels,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sets_are_read_as_they_are_written() {
        for text in ["none", "people", "misting,people", "cycle-slips,power-cuts"] {
            assert_eq!(text.parse::<Troubles>().unwrap().to_string(), text);
        }
        let but_people: Troubles = "all,-people".parse().unwrap();
        assert_eq!(but_people.with(Trouble::People), Troubles::all());
        assert!(!but_people.has(Trouble::People));
        assert!("ghosts".parse::<Troubles>().is_err());
    }
}
