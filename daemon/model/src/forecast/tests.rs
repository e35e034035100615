use super::*;

#[test]
fn the_window_is_the_shortest_run_that_holds_about_four_fifths() {
    // three days hold 0.84, two 0.75
    assert_eq!(window(&[0.02, 0.45, 0.3, 0.09, 0.08, 0.06]), (1, 2, 3));
    // three hold 0.93, two 0.77
    assert_eq!(window(&[0.01, 0.5, 0.27, 0.16, 0.06]), (1, 1, 2));
    assert_eq!(window(&[0.06, 0.16, 0.27, 0.5, 0.01]), (2, 3, 3));
    let mut chances = vec![0.05, 0.5, 0.2, 0.12, 0.05, 0.03, 0.03, 0.02];
    assert_eq!(window(&chances), (1, 1, 3));
    chances.reverse();
    assert_eq!(window(&chances), (4, 6, 6));
    assert_eq!(window(&[1.0]), (0, 0, 0));
}

#[test]
fn the_grid_reaches_the_horizon_without_a_day_twice() {
    let grid = grid();
    assert!(grid.windows(2).all(|pair| pair[1] > pair[0]));
    let logs: Vec<f64> = grid.iter().map(|day| -(*day as f64) / 10.0).collect();
    let weights = spread(&grid, &logs);
    assert!(
        (weights[30] - (-3.0_f64).exp()).abs() < 1e-12,
        "straight in the logarithm between the days of the grid"
    );
}
