//! The heat index against the chart and the algorithm of the US National Weather Service.

use bloom_model::heat::{SCALE_ENDS_C, heat_index_c};
use end_to_end::tables::rows;

#[test]
fn the_index_is_that_of_the_published_algorithm() {
    for row in rows("heat_index_table.csv", 135) {
        let (t_f, humidity) = (row.number("t_f"), row.number("rh_pct"));
        let index_f = heat_index_c((t_f - 32.0) / 1.8, humidity) * 1.8 + 32.0;
        let wanted = row.number("computed_f").min(SCALE_ENDS_C * 1.8 + 32.0);
        assert!((index_f - wanted).abs() < 1e-4, "{t_f} °F, {humidity} %: {index_f} for {wanted}");
        // the printed chart is the bare regression: within its rounding where no adjustment applies
        if humidity <= 85.0 && index_f >= 80.0 {
            let printed = row.number("table_f");
            assert!((index_f - printed).abs() < 0.51, "{t_f} °F, {humidity} %: {index_f}, printed {printed}");
        }
    }
}

#[test]
fn it_holds_over_all_air_of_a_house_and_ends_with_its_scale() {
    let mut above = 0;
    for row in rows("heat_stress_grid.csv", 512) {
        let (t_c, humidity, published) = (row.number("t_c"), row.number("rh_pct"), row.number("hi_nws_c"));
        let index_c = heat_index_c(t_c, humidity);
        above += usize::from(published > SCALE_ENDS_C);
        let wanted = published.min(SCALE_ENDS_C);
        assert!((index_c - wanted).abs() < 1e-4, "{t_c} °C, {humidity} %: {index_c} for {wanted}");
    }
    assert!(above > 20, "the grid goes beyond the scale");
}
