//! A bench without rangers: heights taped by hand are enough for growth, slowing and the days ahead.

use chrono::{DateTime, Duration, NaiveDate, Utc};
use end_to_end::house::{House, of_kind};
use end_to_end::tables;

/// Daily heights of the second bloom of "Woody", Ohio State University Biological Sciences Greenhouse, May 2013, opened on 14 May
/// about 13:00 (bioscigreenhouse.osu.edu/woody-2nd-bloom-2013; tests/reference/series/osu_woody_2013.csv). The hour of the
/// measurements is not given: 09:00 local is taken.
#[test]
fn published_heights_alone_give_growth_slowing_and_a_window() {
    let rows = tables::rows("series/osu_woody_2013.csv", 9);
    let at = |date: &str| -> DateTime<Utc> {
        let date = NaiveDate::parse_from_str(date, "%Y-%m-%d").unwrap();
        date.and_hms_opt(13, 0, 0).unwrap().and_utc()
    };
    let heights: Vec<(DateTime<Utc>, f64)> =
        rows.iter().map(|row| (at(row.text("date")), row.number("height_cm"))).collect();
    let mut recording = String::new();
    for (time, height_cm) in &heights {
        let (unix_s, metres) = (time.timestamp(), height_cm / 100.0);
        recording.push_str(&format!(
            "[{{\"bn\":\"east-3/\",\"bt\":{unix_s},\"n\":\"temperature\",\"u\":\"Cel\",\"v\":25.0}},{{\"n\":\"height\",\"u\":\"m\",\"v\":{metres:.4}}}]\n"
        ));
    }
    let house = House::new().with_bench_of("east-3", "");
    let events = house.replay(&recording);

    assert_eq!(of_kind(&events, "bud-seen").len(), 1);
    assert_eq!(of_kind(&events, "bud-seen")[0]["told_by"], "height");
    let mornings = of_kind(&events, "morning");
    assert!(mornings.len() >= 6, "{} mornings", mornings.len());
    for morning in &mornings {
        let time: DateTime<Utc> = morning["time"].as_str().unwrap().parse().unwrap();
        let known: Vec<_> = heights.iter().filter(|(taped, _)| *taped <= time).collect();
        let (newest, before) = (known[known.len() - 1], known[known.len() - 2]);
        assert!((morning["height_m"].as_f64().unwrap() - newest.1 / 100.0).abs() < 6e-4, "{morning}");
        // the daily rate is a line through the last two days: it lies between the published differences of those days
        let difference = |a: &(DateTime<Utc>, f64), b: &(DateTime<Utc>, f64)| {
            (b.1 - a.1) / ((b.0 - a.0).num_minutes() as f64 / 1440.0)
        };
        let recent: Vec<f64> = known
            .windows(2)
            .filter(|pair| time - pair[0].0 <= Duration::hours(48))
            .map(|pair| difference(pair[0], pair[1]))
            .chain([difference(before, newest)])
            .collect();
        let growth = morning["growth_cm_day"].as_f64().unwrap();
        let (least, most) = recent.iter().fold((f64::MAX, f64::MIN), |(l, m), v| (l.min(*v), m.max(*v)));
        assert!(growth >= least - 0.05 && growth <= most + 0.05, "{growth} of {recent:?}: {morning}");
        assert!(morning["opens"].is_object(), "{morning}");
    }
    // growth fell below half of its 13.4 cm a day on 12 May
    let slowing = of_kind(&events, "slowing");
    assert_eq!(slowing.len(), 1);
    assert!(slowing[0]["peak_cm_day"].as_f64().unwrap() > 12.5, "{}", slowing[0]);
}
