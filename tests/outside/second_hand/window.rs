//! The days ahead (daemon/model/EQUATIONS.md, "Forecast"): a chance for each coming date, and that it never opens.

use std::collections::BTreeMap;

use super::numbers::Numbers;

/// Dates that are weighed, today first.
const AHEAD: usize = 140;
/// From the median of a normal spread to its tenth and its ninetieth, and its thirtieth and seventieth percentile.
const TENTH: f64 = 1.281_551_6;
const THIRTIETH: f64 = 0.524_400_5;
/// Days of growth that are weighed.
const DAYS: usize = 10;

/// A day's growth.
#[derive(Debug, Clone, Copy)]
pub(super) struct Day {
    pub(super) from_h: f64,
    pub(super) until_h: f64,
    pub(super) cm: f64,
    pub(super) sd_cm: f64,
}

impl Day {
    fn length_d(&self) -> f64 {
        (self.until_h - self.from_h) / 24.0
    }
}

/// What a morning knows. Hours count from one instant, whichever.
pub(super) struct Evidence<'a> {
    pub(super) now_h: f64,
    /// The middle of the hours at which it cracks, today.
    pub(super) cracks_h: f64,
    pub(super) seen_h: f64,
    pub(super) seen_cm: Option<f64>,
    /// The first of each sign, by the names that README.md lists.
    pub(super) signs: &'a BTreeMap<&'static str, f64>,
    pub(super) days: &'a [Day],
    pub(super) height_cm: f64,
    pub(super) degree_days: f64,
    pub(super) covered_d: f64,
    pub(super) stopped: bool,
    /// −ln(1 − chance) of each past morning on which growth was next to nothing, added up.
    pub(super) waited: f64,
}

/// What it says; dates as days from today.
#[derive(Debug, Clone)]
pub(super) struct Window {
    pub(super) earliest: usize,
    pub(super) likely: usize,
    pub(super) latest: usize,
    pub(super) today: f64,
    /// The chance of each date, today first.
    pub(super) chances: Vec<f64>,
    pub(super) never: f64,
}

/// A two-piece log-normal spread: `ln x` is normal below and above its mode, with a standard deviation of its own for each, and
/// both pieces are as high where they meet.
#[derive(Debug, Clone, Copy)]
struct Spread {
    mode: f64,
    below: f64,
    above: f64,
}

impl Spread {
    /// The spread of which a tenth lies below the first and a tenth above the last.
    fn of([low, likely, high]: [f64; 3]) -> Self {
        let mode = likely.ln();
        Self { mode, below: (mode - low.ln()) / TENTH, above: (high.ln() - mode) / TENTH }
    }

    /// `x` at so many standard deviations.
    fn at(&self, z: f64) -> f64 {
        (self.mode + z * if z < 0.0 { self.below } else { self.above }).exp()
    }

    /// Logarithm of the normal density of `ln x`, but for a constant.
    fn ln_normal(&self, x: f64) -> f64 {
        let off = x.ln() - self.mode;
        let z = off / if off < 0.0 { self.below } else { self.above };
        -z * z / 2.0
    }

    /// Logarithm of the density of `x` itself.
    fn ln_density(&self, x: f64) -> f64 {
        self.ln_normal(x) - x.ln()
    }
}

/// Days from something seen to the opening; `x = days + 1`.
fn spread_of_days(days: [f64; 3]) -> Spread {
    Spread::of(days.map(|days| days + 1.0))
}

/// Weighs the evidence.
pub(super) fn window(evidence: &Evidence<'_>, numbers: &Numbers) -> Window {
    let fits = Fits::of(numbers);
    let logarithms: Vec<f64> = (0..AHEAD)
        .map(|ahead| {
            let opens_h = evidence.cracks_h + 24.0 * ahead as f64;
            lasting(evidence, numbers, opens_h) + fits.curve(evidence, opens_h)
        })
        .collect();
    let highest = logarithms.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let weights: Vec<f64> = logarithms.iter().map(|logarithm| (logarithm - highest).exp()).collect();
    let sum: f64 = weights.iter().sum();
    let chances: Vec<f64> = weights
        .iter()
        .enumerate()
        .map(|(ahead, weight)| 0.98 * weight / sum + if ahead < 30 { 0.02 / 30.0 } else { 0.0 })
        .collect();

    let until = |ahead: usize| chances[..ahead].iter().sum::<f64>();
    let likely = (0..AHEAD).find(|ahead| until(ahead + 1) >= 0.5).unwrap();
    let mut shortest: Option<(usize, usize)> = None;
    for earliest in 0..=likely {
        let holds = |latest: &usize| until(latest + 1) - until(earliest) >= 0.8;
        let Some(latest) = (likely..AHEAD).find(holds) else { continue };
        if shortest.is_none_or(|(from, to)| latest - earliest < to - from) {
            shortest = Some((earliest, latest));
        }
    }
    let (mut earliest, mut latest) = shortest.unwrap();
    // one day less, where that comes nearer to four fifths
    let held = until(latest + 1) - until(earliest);
    let least = chances[earliest].min(chances[latest]);
    if latest > earliest && (held - least - 0.8).abs() < held - 0.8 {
        if chances[earliest] < chances[latest] { earliest += 1 } else { latest -= 1 }
    }
    let likely = likely.clamp(earliest, latest);
    let never = never(evidence, numbers);
    Window { earliest, likely, latest, today: chances[0], never, chances }
}

/// How long such blooms have taken from what was seen.
fn lasting(evidence: &Evidence<'_>, numbers: &Numbers, opens_h: f64) -> f64 {
    let since = |hour: f64, days: [f64; 3]| spread_of_days(days).ln_density((opens_h - hour) / 24.0 + 1.0);

    let mut from_emergence = numbers.days_from("emergence");
    let bloom_d = (evidence.now_h - evidence.seen_h) / 24.0;
    if evidence.covered_d + 1.0 / 1440.0 >= 3.0 && evidence.covered_d >= 0.8 * bloom_d {
        let own = evidence.degree_days / evidence.covered_d;
        let slower = (numbers.get("usual_degree_days_a_day") / own).powf(0.3).clamp(0.7, 1.5);
        from_emergence = from_emergence.map(|days| days * slower);
    }
    let start = if let Some(emerged_h) = evidence.signs.get("emerged") {
        since(*emerged_h, from_emergence)
    } else if evidence.seen_cm.is_none_or(|seen_cm| seen_cm <= 25.0) {
        since(evidence.seen_h - 24.0 * numbers.get("emergence_to_seen_d"), from_emergence)
    } else {
        since(evidence.seen_h, numbers.days_from("tall"))
    };

    let of_signs: Vec<f64> = [
        ("spadix-visible", "spadix"),
        ("edge-coloured", "colour"),
        ("bract-dropped", "bract"),
        ("last-bract-dropped", "last_bract"),
        ("edge-loose", "loose"),
        ("scent", "scent"),
        ("flies", "flies"),
    ]
    .into_iter()
    .filter_map(|(sign, what)| Some(since(*evidence.signs.get(sign)?, numbers.days_from(what))))
    .collect();
    // signs go together: each further one tells less
    let damping = if of_signs.len() >= 2 { 1.0 + 0.3 * (of_signs.len() as f64 - 1.0) } else { 1.0 };
    start + of_signs.iter().sum::<f64>() / damping
}

/// A course that growth may take.
struct Course {
    plateau_d: f64,
    slowing_d: f64,
    last_share: f64,
    early: f64,
    weight: f64,
}

impl Course {
    /// The days of peak growth that so many days before the opening are worth: the integral of the course, which is `last_share`
    /// on the plateau, rises smoothly by 3z² − 2z³, is 1 for two days, and dies away before them.
    fn worth_d(&self, left_d: f64) -> f64 {
        let plateau_d = left_d.clamp(0.0, self.plateau_d);
        let z = ((left_d - self.plateau_d) / self.slowing_d).clamp(0.0, 1.0);
        let full_d = (left_d - self.plateau_d - self.slowing_d).clamp(0.0, 2.0);
        let early_d = (left_d - self.plateau_d - self.slowing_d - 2.0).max(0.0);
        self.last_share * (plateau_d + self.slowing_d * z)
            + (1.0 - self.last_share) * self.slowing_d * (z.powi(3) - z.powi(4) / 2.0)
            + full_d
            + (1.0 - (-self.early * early_d).exp()) / self.early
    }
}

/// The courses and the peaks that are tried.
struct Fits {
    courses: Vec<Course>,
    /// Peak, cm a day, and weight.
    peaks: Vec<(f64, f64)>,
    height_by_peak: Spread,
}

impl Fits {
    fn of(numbers: &Numbers) -> Self {
        let slowing = Spread::of(numbers.days_from("slowing"));
        let slowing_d = |z: f64| 2.2 * slowing.at(z);
        let last_shares = numbers.three("last_growth_share_", ["low", "likely", "high"], "");
        let [low, high] =
            ["low", "high"].map(|end| numbers.get(&format!("early_growth_{end}_pct_day")) / 100.0);
        let middle = ((low.ln() + high.ln()) / 2.0).exp();
        let plateau_share = numbers.get("plateau_share");

        let mut courses = Vec::new();
        for (early, share) in [(low, 0.3), (middle, 0.4), (high, 0.3)] {
            for z in [-TENTH, -THIRTIETH, 0.0, THIRTIETH, TENTH] {
                for (last_share, weight) in last_shares.into_iter().zip([0.25, 0.45, 0.3]) {
                    let weight = (1.0 - plateau_share) * share / 5.0 * weight;
                    courses.push(Course {
                        plateau_d: 0.0,
                        slowing_d: slowing_d(z),
                        last_share,
                        early,
                        weight,
                    });
                }
            }
            for (part, weight) in [(0.25, 0.45), (0.55, 0.33), (0.9, 0.22)] {
                let plateau_d = part * numbers.get("plateau_latest_d");
                for z in [-THIRTIETH, THIRTIETH] {
                    let weight = plateau_share * share / 2.0 * weight;
                    let last_share = last_shares[0];
                    courses.push(Course { plateau_d, slowing_d: slowing_d(z), last_share, early, weight });
                }
            }
        }
        let peak = Spread::of(numbers.three("peak_growth_", ["low", "likely", "high"], "_cm_day"));
        let peaks = [-1.5, -0.9, -0.3, 0.3, 0.9, 1.5].map(|z: f64| (peak.at(z), (-z * z / 2.0).exp()));
        let height_by_peak = Spread::of(numbers.three("height_by_peak_", ["low", "likely", "high"], "_d"));
        Self { courses, peaks: peaks.to_vec(), height_by_peak }
    }

    /// How well the growth so far fits an opening at that hour: the logarithm of all courses and peaks by their weight.
    fn curve(&self, evidence: &Evidence<'_>, opens_h: f64) -> f64 {
        let days = &evidence.days[evidence.days.len().saturating_sub(DAYS)..];
        if days.is_empty() {
            return 0.0;
        }
        let worth_d = |course: &Course, from_h: f64| course.worth_d((opens_h - from_h) / 24.0);
        let mut fits = Vec::new();
        for course in &self.courses {
            let shares: Vec<f64> = days
                .iter()
                .map(|day| (worth_d(course, day.from_h) - worth_d(course, day.until_h)) / day.length_d())
                .collect();
            let to_come_d = worth_d(course, evidence.now_h);
            for (peak_cm, peak_weight) in &self.peaks {
                let by_peak_d = evidence.height_cm / peak_cm + to_come_d;
                let fit = -0.5 * misfit(days, &shares, *peak_cm) + self.height_by_peak.ln_normal(by_peak_d);
                fits.push((course.weight * peak_weight).ln() + fit);
            }
        }
        let best = fits.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        best + fits.iter().map(|fit| (fit - best).exp()).sum::<f64>().ln()
    }
}

/// Misfits of the days, which level off so that one odd day does not decide, and the logarithms of their variances. A day is held against
/// what the days before it leave of their departures, for these fade by two fifths a day. Part of a day counts as such.
fn misfit(days: &[Day], shares: &[f64], peak_cm: f64) -> f64 {
    let mut sum = 0.0;
    // the departure as a multiple of what is usual, and how surely it is known: 0 for surely, 1 for not at all
    let (mut believed, mut unsure) = (0.0, 1.0);
    let mut before_h: Option<f64> = None;
    for (day, share) in days.iter().zip(shares) {
        let fades = before_h.map_or(0.0, |before_h| 0.6_f64.powf(((day.until_h - before_h) / 24.0).max(0.0)));
        believed *= fades;
        unsure = fades.powi(2) * unsure + 1.0 - fades.powi(2);
        let expected_cm = peak_cm * share;
        let usual_cm = (0.12 * expected_cm).hypot(0.06 * peak_cm);
        let variance = usual_cm.powi(2) * unsure + day.sd_cm.powi(2);
        let surprise_cm = day.cm - (expected_cm + usual_cm * believed);
        let trust = 1.0 / (1.0 + surprise_cm.powi(2) / variance / 9.0);
        sum += day.length_d().min(1.0) * (trust * surprise_cm.powi(2) / variance + variance.ln());
        let learnt = trust * usual_cm * unsure / variance;
        believed += learnt * surprise_cm;
        unsure *= 1.0 - learnt * usual_cm;
        before_h = Some(day.until_h);
    }
    sum
}

/// That it never opens, by Bayes' rule.
fn never(evidence: &Evidence<'_>, numbers: &Numbers) -> f64 {
    let shows_a_flower = ["spadix-visible", "edge-coloured", "edge-loose", "scent", "flies"]
        .iter()
        .any(|sign| evidence.signs.contains_key(sign));
    let leaf = if shows_a_flower { 0.0 } else { numbers.get("leaf_share") };
    let never = 1.0 - (1.0 - numbers.get("never_opens_share")) * (1.0 - leaf);
    let stands = if evidence.stopped { 0.25 + numbers.get("plateau_share") } else { 1.0 };
    let opens = (1.0 - never) * (-evidence.waited).exp() * stands;
    never / (never + opens)
}
