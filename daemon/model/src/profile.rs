//! The numbers that a kind of plant brings. They live in data files with a source beside each; none stands in code.

use serde::{Deserialize, Serialize};

/// A number of a profile that is unknown, missing or out of bounds.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum ProfileFault {
    /// No profile has a number of that name.
    #[error("no profile has a number {key:?}")]
    Unknown {
        /// The name as given.
        key: String,
    },
    /// The profile lacks a number that every profile needs.
    #[error("the number {key:?} is missing")]
    Missing {
        /// The name of the number.
        key: &'static str,
    },
    /// The value makes no sense for this number.
    #[error("{key} = {value} lies outside {lowest} to {highest}")]
    OutOfBounds {
        /// The name of the number.
        key: &'static str,
        /// The value as given.
        value: f64,
        /// The least value accepted.
        lowest: f64,
        /// The greatest value accepted.
        highest: f64,
    },
}

macro_rules! numbers {
    ($($(#[$doc:meta])* $key:ident: $lowest:literal to $highest:literal,)+) => {
        /// A kind of plant as numbers. Every field's meaning is in its doc; units end its name; sources are in the data file.
        #[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
        pub struct Profile {
            /// The profile's name, such as `titan-arum`.
            pub name: String,
            /// The scientific name.
            pub taxon: String,
            $($(#[$doc])* pub $key: f64,)+
        }

        impl Profile {
            /// The name of every number.
            pub const KEYS: &'static [&'static str] = &[$(stringify!($key),)+];

            /// A profile from its numbers.
            ///
            /// # Errors
            /// Every number that is unknown, missing or out of bounds.
            pub fn from_numbers<'a>(
                name: &str,
                taxon: &str,
                numbers: impl IntoIterator<Item = (&'a str, f64)>,
            ) -> Result<Self, Vec<ProfileFault>> {
                let mut profile = Self {
                    name: name.to_owned(),
                    taxon: taxon.to_owned(),
                    $($key: f64::NAN,)+
                };
                let mut faults: Vec<ProfileFault> = numbers
                    .into_iter()
                    .filter_map(|(key, value)| profile.set(key, value).err())
                    .collect();
                $(if profile.$key.is_nan() && !faults.iter().any(|fault| {
                    matches!(fault, ProfileFault::OutOfBounds { key, .. } if *key == stringify!($key))
                }) {
                    faults.push(ProfileFault::Missing { key: stringify!($key) });
                })+
                if faults.is_empty() { Ok(profile) } else { Err(faults) }
            }

            /// Replaces one number, as an `override` of a bench does.
            ///
            /// # Errors
            /// When no number has that name, or the value is out of its bounds.
            pub fn set(&mut self, key: &str, value: f64) -> Result<(), ProfileFault> {
                match key {
                    $(stringify!($key) => {
                        if !($lowest..=$highest).contains(&value) {
                            return Err(ProfileFault::OutOfBounds {
                                key: stringify!($key),
                                value,
                                lowest: $lowest,
                                highest: $highest,
                            });
                        }
                        self.$key = value;
                    })+
                    _ => return Err(ProfileFault::Unknown { key: key.to_owned() }),
                }
                Ok(())
            }
        }
    };
}

numbers! {
    /// Temperature below which no degree-days accumulate.
    base_temperature_c: -5.0 to 30.0,
    /// Temperature above which warmer air adds no further degree-days (horizontal cutoff).
    upper_temperature_c: 10.0 to 50.0,

    /// Growth per day from which a bud counts as established.
    bud_growth_cm_day: 0.05 to 10.0,
    /// The fastest growth per day that a bud of this kind has been seen to make.
    bud_growth_max_cm_day: 1.0 to 60.0,
    /// Share of the peak growth rate below which growth counts as slowing.
    slowing_fraction: 0.1 to 0.9,
    /// The least growth peak, per day, from which a slowing can be told.
    slowing_peak_cm_day: 0.5 to 30.0,
    /// The least height at which a slowing can be told.
    slowing_height_m: 0.0 to 3.0,
    /// Rate of the spadix tip per hour that neither bud growth nor air makes: a spike seen from above.
    tip_spike_cm_hour: 1.0 to 50.0,

    /// The fastest advance of the spathe rim that has been seen.
    rim_speed_max_cm_hour: 2.0 to 100.0,
    /// Advance of the rim over its lowest level of the last half day that, standing still, is an opening.
    opening_advance_cm: 1.0 to 30.0,
    /// Rate of the rim that, from its first centimetre on, is an opening.
    opening_rate_cm_hour: 1.0 to 30.0,
    /// A gap of up to this much has been seen to close again.
    gap_that_closes_cm: 0.5 to 20.0,
    /// An advance of more than this has not been seen to go back.
    sure_open_advance_cm: 1.0 to 60.0,
    /// Advance over a span without readings from which the plant is taken as found open.
    found_open_advance_cm: 2.0 to 40.0,
    /// Air temperature above which a spathe may hang slack without opening.
    slack_above_c: 30.0 to 50.0,
    /// Advance of the rim between closed and fully open, typical.
    full_advance_cm: 5.0 to 120.0,
    /// Standard deviation of that advance from plant to plant.
    full_advance_sd_cm: 1.0 to 60.0,

    /// Hours from first crack to full opening: one opening in ten is faster.
    crack_to_full_earliest_h: 0.5 to 48.0,
    /// Hours from first crack to full opening, median.
    crack_to_full_likely_h: 0.5 to 72.0,
    /// Hours from first crack to full opening: one opening in ten is slower.
    crack_to_full_latest_h: 1.0 to 96.0,
    /// Local hour from which most openings start.
    crack_from_hour: 0.0 to 24.0,
    /// Local hour by which most openings have started.
    crack_until_hour: 0.0 to 24.0,

    /// Hours from first crack until the female flowers are worth pollinating.
    receptive_from_h: 0.0 to 72.0,
    /// Hours from first crack until they no longer are.
    receptive_until_h: 1.0 to 96.0,
    /// Hours before that end at which a pollination not yet booked is called for.
    receptive_warning_h: 0.0 to 48.0,
    /// Local hour from which pollination is best.
    receptive_best_from_hour: 0.0 to 24.0,
    /// Local hour until which it is best.
    receptive_best_until_hour: 0.0 to 24.0,
    /// Hours from first crack to the earliest pollen.
    pollen_from_h: 0.0 to 96.0,
    /// Hours from first crack to pollen, typical.
    pollen_likely_h: 0.0 to 120.0,
    /// Hours from first crack until collecting is over.
    pollen_until_h: 1.0 to 168.0,
    /// Hours from first crack to closing, where no sensor tells.
    open_for_h: 2.0 to 240.0,

    /// Days from emergence to opening: one bloom in ten is faster.
    emergence_to_opening_earliest_d: 1.0 to 400.0,
    /// Days from emergence to opening, median.
    emergence_to_opening_likely_d: 1.0 to 500.0,
    /// Days from emergence to opening: one bloom in ten is slower.
    emergence_to_opening_latest_d: 1.0 to 600.0,
    /// Days from the spadix tip showing to opening: one in ten is faster.
    spadix_to_opening_earliest_d: 0.5 to 100.0,
    /// Days from the spadix tip showing to opening, median.
    spadix_to_opening_likely_d: 0.5 to 100.0,
    /// Days from the spadix tip showing to opening: one in ten is slower.
    spadix_to_opening_latest_d: 1.0 to 200.0,
    /// Days from growth falling below the slowing fraction to opening, where growth does not stop on the way: one in ten is faster.
    slowing_to_opening_earliest_d: 0.1 to 60.0,
    /// Days from growth falling below the slowing fraction to opening, median.
    slowing_to_opening_likely_d: 0.2 to 60.0,
    /// Days from growth falling below the slowing fraction to opening: one in ten is slower.
    slowing_to_opening_latest_d: 0.5 to 100.0,
    /// Days from a bud first seen tall to opening: one in ten is faster.
    tall_to_opening_earliest_d: 0.1 to 200.0,
    /// Days from a bud first seen tall to opening, median.
    tall_to_opening_likely_d: 0.1 to 200.0,
    /// Days from a bud first seen tall to opening: one in ten is slower.
    tall_to_opening_latest_d: 0.1 to 200.0,
    /// Days from the spathe edge colouring to opening: one in ten is faster.
    colour_to_opening_earliest_d: 0.1 to 100.0,
    /// Days from the spathe edge colouring to opening, median.
    colour_to_opening_likely_d: 0.1 to 100.0,
    /// Days from the spathe edge colouring to opening: one in ten is slower.
    colour_to_opening_latest_d: 0.1 to 100.0,
    /// Days from the first bract falling to opening: one in ten is faster.
    bract_to_opening_earliest_d: 0.1 to 100.0,
    /// Days from the first bract falling to opening, median.
    bract_to_opening_likely_d: 0.1 to 100.0,
    /// Days from the first bract falling to opening: one in ten is slower.
    bract_to_opening_latest_d: 0.1 to 100.0,
    /// Days from the last bract falling to opening: one in ten is faster.
    last_bract_to_opening_earliest_d: 0.1 to 60.0,
    /// Days from the last bract falling to opening, median.
    last_bract_to_opening_likely_d: 0.1 to 60.0,
    /// Days from the last bract falling to opening: one in ten is slower.
    last_bract_to_opening_latest_d: 0.1 to 60.0,
    /// Days from the spathe edge coming loose to opening: one in ten is faster.
    loose_to_opening_earliest_d: 0.1 to 60.0,
    /// Days from the spathe edge coming loose to opening, median.
    loose_to_opening_likely_d: 0.1 to 60.0,
    /// Days from the spathe edge coming loose to opening: one in ten is slower.
    loose_to_opening_latest_d: 0.1 to 60.0,
    /// Days from the first scent to opening: one in ten is faster.
    scent_to_opening_earliest_d: 0.05 to 30.0,
    /// Days from the first scent to opening, median.
    scent_to_opening_likely_d: 0.05 to 30.0,
    /// Days from the first scent to opening: one in ten is slower.
    scent_to_opening_latest_d: 0.05 to 30.0,
    /// Days from the first flies to opening: one in ten is faster.
    flies_to_opening_earliest_d: 0.05 to 30.0,
    /// Days from the first flies to opening, median.
    flies_to_opening_likely_d: 0.05 to 30.0,
    /// Days from the first flies to opening: one in ten is slower.
    flies_to_opening_latest_d: 0.05 to 30.0,
    /// Days from emergence until growth is established by a sensor or the tape, typical.
    emergence_to_seen_d: 0.0 to 60.0,

    /// Peak growth: one bud in ten has less.
    peak_growth_low_cm_day: 0.1 to 60.0,
    /// Peak growth, median.
    peak_growth_likely_cm_day: 0.1 to 60.0,
    /// Peak growth: one bud in ten has more.
    peak_growth_high_cm_day: 0.2 to 80.0,
    /// Height at opening over peak growth a day, as days at the peak: one plant in ten has less.
    height_by_peak_low_d: 1.0 to 100.0,
    /// Height at opening over peak growth a day, median.
    height_by_peak_likely_d: 1.0 to 100.0,
    /// Height at opening over peak growth a day: one plant in ten has more.
    height_by_peak_high_d: 1.0 to 200.0,
    /// Growth per day of a young bud, % of its growth: slow.
    early_growth_low_pct_day: 0.5 to 60.0,
    /// Growth per day of a young bud, % of its growth: fast.
    early_growth_high_pct_day: 0.5 to 60.0,
    /// Growth on the last day as a share of its peak: low.
    last_growth_share_low: 0.0 to 0.9,
    /// Growth on the last day as a share of its peak, median.
    last_growth_share_likely: 0.0 to 0.9,
    /// Growth on the last day as a share of its peak: high.
    last_growth_share_high: 0.0 to 0.95,
    /// Share of the buds whose growth nearly stops for days and that open all the same.
    plateau_share: 0.001 to 0.9,
    /// The longest such stand.
    plateau_latest_d: 0.5 to 60.0,
    /// Share of the buds of a flower that never open.
    never_opens_share: 0.001 to 0.9,
    /// Share of what grows like a bud and is a leaf, as long as no sign shows a flower.
    leaf_share: 0.0 to 0.9,
    /// Degree-days a day, over the base temperature, of the houses whose days are published.
    usual_degree_days_a_day: 0.5 to 30.0,

    /// Growth over the last day above this share of its peak is full growth: such a bud is not ripe.
    unripe_growth_share: 0.1 to 1.0,
    /// Growth must stay below the slowing fraction for this long before it is told: one slow night is no slowing.
    slowing_holds_h: 1.0 to 96.0,
    /// Growth above this share of its peak takes a slowing back.
    recovered_share: 0.2 to 1.0,
    /// Growth below this share of its peak is next to nothing.
    stopped_share: 0.0 to 0.5,
    /// Days without growth after which a bud is given up.
    stopped_until_aborted_d: 3.0 to 100.0,

    /// Days from closing after which an unpollinated bloom is spent and the bench waits for its next bud.
    spent_after_d: 1.0 to 200.0,
    /// Days after a bloom in which what moves at the bench is the old structure, not a new bud.
    resting_d: 0.0 to 400.0,
    /// Days from closing until the fruit, if it set, is ripe at the latest.
    fruit_ripe_latest_d: 30.0 to 1200.0,
}
