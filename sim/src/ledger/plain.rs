//! The same data in plain SQLite rows, with the same journal and syncs.

use std::path::Path;
use std::time::Instant;

use rusqlite::{Connection, params};

use super::data::{BENCHES, Benches, ROUND_MS, Stamps};
use super::live::Lived;
use super::{CHART_POINTS, Fault, Plan, expect_points, median_ms, system, year_span};

/// Rows of the import in one transaction.
const ROWS_A_COMMIT: usize = 10_000;
/// Rounds of the run with a commit for each row: ten minutes.
const ROUNDS_ONE_BY_ONE: i64 = 60;

fn open(path: &Path, key: &str) -> Result<Connection, Fault> {
    let conn = Connection::open(path)?;
    conn.pragma_update_and_check(None, "journal_mode", "WAL", |_| Ok(()))?;
    conn.pragma_update(None, "synchronous", "FULL")?;
    conn.execute_batch(&format!(
        "CREATE TABLE reading (time_ms INTEGER NOT NULL, series INTEGER NOT NULL, value REAL NOT NULL, PRIMARY KEY {key})
         STRICT, WITHOUT ROWID"
    ))?;
    Ok(conn)
}

/// Puts rounds in, a transaction for so many rows at least; gives the number of rows.
fn put(
    conn: &Connection,
    benches: &mut Benches,
    rounds: std::ops::Range<i64>,
    rows_a_commit: usize,
) -> Result<u64, Fault> {
    let mut rows = Vec::new();
    let mut count = 0;
    let end = rounds.end;
    for round in rounds {
        let mut bench = 0;
        benches.round(round, |_, time, values| {
            rows.extend((bench..).zip(values).map(|(series, value)| (time.unix_ms(), series, value)));
            bench += 3;
        });
        if rows.len() < rows_a_commit && round + 1 < end {
            continue;
        }
        for commit in rows.chunks(rows_a_commit.max(1)) {
            let tx = conn.unchecked_transaction()?;
            let mut insert = tx.prepare_cached("INSERT INTO reading VALUES (?1, ?2, ?3)")?;
            for (time_ms, series, value) in commit {
                insert.execute(params![time_ms, series, value])?;
            }
            drop(insert);
            tx.commit()?;
            count += commit.len() as u64;
        }
        rows.clear();
    }
    Ok(count)
}

/// The days, keyed and committed as the store's newest rows are.
pub(super) fn live(path: &Path, plan: &Plan) -> Result<Lived, Fault> {
    let conn = open(path, "(time_ms, series)")?;
    let mut benches = Benches::new(BENCHES, plan.stamps, plan.days);
    let minute = 6 * BENCHES * 3;
    let mut readings = put(&conn, &mut benches, 0..8_640, minute)?;
    let before = system::written()?;
    readings += put(&conn, &mut benches, 8_640..i64::from(plan.days) * 8_640, minute)?;
    Ok(Lived {
        readings,
        days: plan.days,
        file_bytes: system::length(path),
        log_bytes: system::log_length(path),
        written_bytes: system::written()? - before,
        longest_step_ms: 0.0,
        peak_mib: 0.0,
    })
}

/// Bytes written for each row, where each has a commit of its own.
pub(super) fn one_row_a_commit(path: &Path, stamps: Stamps) -> Result<f64, Fault> {
    let conn = open(path, "(time_ms, series)")?;
    let before = system::written()?;
    let rows = put(&conn, &mut Benches::new(BENCHES, stamps, 1), 0..ROUNDS_ONE_BY_ONE, 1)?;
    Ok((system::written()? - before) as f64 / rows as f64)
}

/// Rows a second, in transactions of ten thousand, keyed by time first.
pub(super) fn import_rate(path: &Path, stamps: Stamps) -> Result<f64, Fault> {
    let conn = open(path, "(time_ms, series)")?;
    let mut benches = Benches::new(BENCHES, stamps, 1);
    // what drawing the data takes is not the database's
    let drawing = Instant::now();
    for round in 0..8_640 {
        Benches::round(&mut benches, round, |_, time, values| {
            std::hint::black_box((time, values));
        });
    }
    let drawing = drawing.elapsed();
    let started = Instant::now();
    let rows = put(&conn, &mut Benches::new(BENCHES, stamps, 1), 0..8_640, ROWS_A_COMMIT)?;
    Ok(rows as f64 / started.elapsed().saturating_sub(drawing).as_secs_f64())
}

/// A year of one bench, keyed by series first, which suits this one best; read as the chart of one quantity.
pub(super) fn chart_ms(path: &Path, stamps: Stamps) -> Result<f64, Fault> {
    let conn = open(path, "(series, time_ms)")?;
    put(&conn, &mut Benches::new(1, stamps, 365), 0..365 * 86_400_000 / ROUND_MS, ROWS_A_COMMIT)?;
    let (from, until) = year_span();
    median_ms(|| {
        let mut chart = anthesisd::store::Chart::new(from, until, CHART_POINTS);
        let mut rows = conn.prepare_cached(
            "SELECT time_ms, value FROM reading WHERE series = 2 AND time_ms BETWEEN ?1 AND ?2 ORDER BY time_ms",
        )?;
        let mut rows = rows.query(params![from.unix_ms(), until.unix_ms()])?;
        while let Some(row) = rows.next()? {
            chart.add(bloom_model::time::Time::from_unix_ms(row.get(0)?), row.get(1)?);
        }
        expect_points(chart.points().len())
    })
}
