//! How long pollen keeps: published figures of a taxon, and what they say of a lot.
//!
//! What keeps the pollen of one taxon dry kills another's, and sources disagree: every figure stands with its source, several
//! that hold for one place make a range, and none is averaged away.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::time::Time;

/// The temperature taken for pollen that nobody has put anywhere, °C: a room. Judgement.
pub const ROOM_C: f64 = 22.0;

/// What one source says about keeping the pollen of a taxon.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct StorageFigure {
    /// From and to which temperature it holds, °C.
    pub kept_c: (f64, f64),
    /// For dried pollen (true), for fresh (false), for either where it is left out.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub dried: Option<bool>,
    /// Days for which pollen was still good; where a source gives a span, its lower end.
    pub good_d: f64,
    /// The span's upper end, or the same.
    pub good_at_most_d: f64,
    /// Who says so.
    pub source: String,
}

/// A span in which a lot was kept in one way.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Keeping {
    /// Its beginning; it lasts until the next begins.
    pub from: Time,
    /// Temperature, °C; `None` where nothing was booked, and then [`ROOM_C`] is taken.
    pub kept_c: Option<f64>,
    /// The pollen was dried.
    pub dried: bool,
}

/// Where a lot stands against the figures.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Standing {
    /// Younger than the shortest figure.
    Within,
    /// Between the shortest figure and the longest.
    Between,
    /// No source says how long this taxon's pollen keeps so.
    NoFigure,
    /// Older than the longest figure. Old pollen has set seed before: it is marked, not hidden.
    Past,
}

impl Standing {
    /// The words for people.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Within => "within the published figures",
            Self::Between => "between the published figures",
            Self::NoFigure => "no published figure for this taxon and temperature",
            Self::Past => "PAST the longest published figure",
        }
    }
}

/// A lot against the figures of its taxon.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Keeps {
    /// Days since it was shed.
    pub age_d: f64,
    /// Where it stands.
    pub standing: Standing,
    /// Days for which pollen keeps in the lot's present place: the shortest figure and the longest.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub figure_d: Option<(f64, f64)>,
    /// When the lot comes to the shortest figure, and to the longest.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub good_until: Option<(Time, Time)>,
    /// Share of its life that it has used, by the longest figure and by the shortest.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub used_share: Option<(f64, f64)>,
    /// Who says so, for the present place.
    pub sources: Vec<String>,
}

/// The figures that hold for a temperature and a way of drying.
pub fn figures_for(figures: &[StorageFigure], kept_c: f64, dried: bool) -> Vec<&StorageFigure> {
    let holds = |figure: &&StorageFigure| {
        (figure.kept_c.0..=figure.kept_c.1).contains(&kept_c) && figure.dried.is_none_or(|only| only == dried)
    };
    figures.iter().filter(holds).collect()
}

/// The shortest and the longest days that figures name.
pub fn span_d(figures: &[&StorageFigure]) -> Option<(f64, f64)> {
    let shortest = figures.iter().map(|figure| figure.good_d).reduce(f64::min)?;
    let longest = figures.iter().map(|figure| figure.good_at_most_d).reduce(f64::max)?;
    Some((shortest, longest))
}

/// Weighs a lot. A lot that was moved has used, of each place, the share of that place's days for which it lay there, and
/// the shares add up (judgement: no source says how pollen ages that is moved). A first day or so at room temperature on the
/// way into the cold, up to `GRACE_D`, counts as none: the published lots had it too.
///
/// `keepings` is in the order of time; the first begins when the pollen was shed.
pub fn weigh(keepings: &[Keeping], figures: &[StorageFigure], now: Time) -> Option<Keeps> {
    let (first, last) = (keepings.first()?, keepings.last()?);
    let ends = keepings.iter().skip(1).map(|next| next.from).chain([now]);
    let mut used: Option<(f64, f64)> = Some((0.0, 0.0));
    for (place, (keeping, until)) in keepings.iter().zip(ends).enumerate() {
        let days = until.min(now).days_since(keeping.from).max(0.0);
        let on_the_way = place == 0 && keepings.len() > 1 && days <= GRACE_D;
        if on_the_way || days <= 0.0 {
            continue;
        }
        let span = span_d(&figures_for(figures, keeping.kept_c.unwrap_or(ROOM_C), keeping.dried));
        used = used
            .zip(span)
            .map(|((least, most), (shortest, longest))| // a figure of no days at all is not divided by
            (least + days / longest.max(LEAST_D), most + days / shortest.max(LEAST_D)));
    }
    let here = figures_for(figures, last.kept_c.unwrap_or(ROOM_C), last.dried);
    let figure_d = span_d(&here);
    let standing = match used.filter(|_| figure_d.is_some()) {
        None => Standing::NoFigure,
        Some((_, most)) if most < 1.0 => Standing::Within,
        Some((least, _)) if least < 1.0 => Standing::Between,
        Some(_) => Standing::Past,
    };
    let good_until = used.zip(figure_d).map(|((least, most), (shortest, longest))| {
        let at = |share: f64, days: f64| now.plus_hours(24.0 * (1.0 - share) * days);
        (at(most, shortest), at(least, longest))
    });
    Some(Keeps {
        age_d: now.days_since(first.from),
        standing,
        figure_d,
        good_until,
        used_share: used.filter(|_| figure_d.is_some()),
        sources: here.iter().map(|figure| figure.source.clone()).collect(),
    })
}

/// Days that stand for none in a share.
const LEAST_D: f64 = 0.01;

/// Days at room temperature between the anther and the cold that count as none. Judgement.
const GRACE_D: f64 = 1.0;

#[cfg(test)]
mod tests {
    use super::*;

    fn figure(kept_c: (f64, f64), dried: Option<bool>, good_d: f64, good_at_most_d: f64) -> StorageFigure {
        StorageFigure { kept_c, dried, good_d, good_at_most_d, source: format!("{good_d} days") }
    }

    fn day(number: f64) -> Time {
        Time::from_unix_ms(0).plus_hours(24.0 * number)
    }

    fn figures() -> Vec<StorageFigure> {
        vec![
            figure((-90.0, -60.0), Some(false), 730.0, 730.0),
            figure((-90.0, -70.0), Some(false), 1095.0, 1095.0),
            figure((0.0, 10.0), None, 20.0, 20.0),
            figure((15.0, 30.0), None, 1.0, 2.0),
        ]
    }

    #[test]
    fn sources_that_disagree_make_a_range() {
        let kept = [
            Keeping { from: day(0.0), kept_c: None, dried: false },
            Keeping { from: day(0.5), kept_c: Some(-80.0), dried: false },
        ];
        let standing = |now: f64| weigh(&kept, &figures(), day(now)).unwrap();
        assert_eq!(standing(100.0).standing, Standing::Within);
        assert_eq!(standing(100.0).figure_d, Some((730.0, 1095.0)));
        assert_eq!(standing(100.0).sources, ["730 days", "1095 days"]);
        assert_eq!(standing(731.0).standing, Standing::Between);
        assert_eq!(standing(1096.0).standing, Standing::Past);
        let (shortest, longest) = standing(100.0).good_until.unwrap();
        assert_eq!((shortest, longest), (day(730.5), day(1095.5)));
        assert!((standing(100.0).age_d - 100.0).abs() < 1e-9);
    }

    #[test]
    fn what_is_left_out_keeps_as_in_a_room_and_what_is_moved_adds_up() {
        let room = [Keeping { from: day(0.0), kept_c: None, dried: false }];
        assert_eq!(weigh(&room, &figures(), day(1.5)).unwrap().standing, Standing::Between);
        assert_eq!(weigh(&room, &figures(), day(3.0)).unwrap().standing, Standing::Past);
        let moved = [
            Keeping { from: day(0.0), kept_c: Some(4.0), dried: false },
            Keeping { from: day(10.0), kept_c: Some(22.0), dried: false },
        ];
        // half of the cold's days are gone, and 0.6 of the room's longest
        let keeps = weigh(&moved, &figures(), day(11.2)).unwrap();
        assert_eq!(keeps.standing, Standing::Past);
        assert!((keeps.used_share.unwrap().0 - 1.1).abs() < 1e-9);
    }

    #[test]
    fn where_no_source_speaks_no_figure_is_made_up() {
        let dried = [Keeping { from: day(0.0), kept_c: Some(-80.0), dried: true }];
        let keeps = weigh(&dried, &figures(), day(10.0)).unwrap();
        assert_eq!((keeps.standing, keeps.figure_d, keeps.good_until), (Standing::NoFigure, None, None));
        assert_eq!(weigh(&[], &figures(), day(1.0)), None);
    }
}
