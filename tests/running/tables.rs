//! Open formats: a record goes out and comes in again, value for value; what is wrong in a sheet is named by line.
#![expect(clippy::expect_used, reason = "what the helpers of a check cannot do fails the check")]

use std::fs;

use bench_sim::options::SeasonOptions;
use bench_sim::recording::write_recording;
use bench_sim::season::Season;
use end_to_end::house::{House, said};

fn out(house: &House, arguments: &[&str]) -> String {
    let output = house.run(arguments);
    assert!(output.status.success(), "{}", said(&output));
    String::from_utf8(output.stdout).expect("results are text")
}

fn file(house: &House, name: &str, text: &str) -> String {
    let path = house.path(name);
    fs::write(&path, text).expect("a file can be written");
    path.display().to_string()
}

/// A season with everything in it that a record can hold, notes and all, read every ten minutes.
fn house() -> House {
    let options = SeasonOptions {
        interval_s: 600,
        tape: true,
        signs: true,
        spadix_temperature: true,
        ..SeasonOptions::default()
    };
    let mut text = Vec::new();
    write_recording(&[Season::draw(5, &options)], &mut text).expect("memory can be written to");
    let house = House::new().with_bench("east-3").with_bench("west-1");
    let path = file(&house, "season.jsonl", &String::from_utf8(text).expect("a recording is text"));
    out(&house, &["import", &path]);
    let odd = "time,bench,temperature (Cel),girth (m),sign,note,by\r\n\
               2027-03-01T00:00:00.25-04:00,east-3,-0.1,1.1,\"mount-moved tip=3.05 rim=0.9\",\"a, \"\"b\"\"\nc\",ann\r\n\
               2027-03-01T00:00:00.25-04:00,east-3,,,bract-dropped,,\r\n\
               2027-11-07T01:30:07-03:00,east-3,20.000000000000004,,,,\r\n\
               2027-11-07T01:30:07-04:00,east-3,1e-9,,,,\r\n";
    let path = file(&house, "odd.csv", odd);
    let said = out(&house, &["import", &path]);
    assert!(said.ends_with("6 readings new, 0 known before, 0 refused\n"), "{said}");
    house
}

#[test]
fn a_record_goes_out_as_a_table_and_comes_in_the_same() {
    let from = house();
    let (table, recording) = (out(&from, &["export", "east-3", "--csv"]), out(&from, &["export", "east-3"]));
    let header = "time,bench,temperature (Cel),humidity (%RH),tip-range (m),rim-range (m),height (m),girth (m),\
                  spadix-temperature (Cel),rim-range-2 (m),tip-heard (/),rim-heard (/),rim-2-heard (/),co2 (ppm),\
                  light (umol/m2/s),soil-temperature (Cel),sign,note,by\r\n";
    assert!(table.starts_with(header), "{}", &table[..200]);
    assert!(
        table.contains("2027-11-07T01:30:07-03:00,east-3,20.000000000000004,"),
        "DST: the first of the two"
    );
    assert!(table.contains("2027-11-07T01:30:07-04:00,east-3,0.000000001,"), "and the second");

    let to = House::new().with_bench("east-3").with_bench("west-1");
    let path = file(&to, "table.csv", &table);
    let first = out(&to, &["import", &path]);
    assert!(first.contains(" 0 known before, 0 refused"), "{first}");
    assert!(first.contains("with their own offset") && first.contains("spadix-temperature"), "{first}");
    let second = out(&to, &["import", &path]);
    assert!(second.contains("\n0 readings new, "), "nothing is doubled: {second}");
    assert_eq!(out(&to, &["export", "east-3", "--csv"]), table);
    assert_eq!(out(&to, &["export", "east-3"]), recording);
    let booked = "SELECT count(*) FROM booked WHERE note = 'a, \"b\"' || char(10) || 'c' AND by = 'ann'";
    assert_eq!((from.figure(booked), to.figure(booked)), (2, 2), "a girth and a sign have the row's note");
}

#[test]
fn a_part_of_a_record_is_asked_for_by_quantity_and_time() {
    let house = house();
    let count =
        |arguments: &[&str]| out(&house, &[&["export", "east-3"], arguments].concat()).lines().count();
    let temperatures = count(&["--quantity", "temperature"]);
    assert!(temperatures > 1000);
    assert_eq!(count(&["--quantity", "temperature", "--csv"]), temperatures + 1, "and the header");
    let signs = out(&house, &["export", "east-3", "--quantity", "sign", "--quantity", "height"]);
    assert!(signs.contains("\"emerged\"") && signs.contains("\"height\"") && !signs.contains("temperature"));
    let table = out(&house, &["export", "east-3", "--quantity", "humidity", "--csv"]);
    assert!(table.starts_with("time,bench,humidity (%RH),sign,note,by\r\n"), "{}", &table[..80]);
    let halves = count(&["--to", "2027-02-10 00:00", "--quantity", "humidity"])
        + count(&["--from", "2027-02-10 00:01", "--quantity", "humidity"]);
    assert_eq!(halves, count(&["--quantity", "humidity"]));
    let refused = house.run(&["export", "east-3", "--quantity", "pressure"]);
    assert_eq!(refused.status.code(), Some(2));
    assert!(said(&refused).contains("light, soil-temperature and sign"), "{}", said(&refused));
}

#[test]
fn tape_measurements_come_from_a_sheet_and_what_is_wrong_is_named_by_line() {
    let house = House::new().with_bench("east-3");
    let sheet = "time,height (in),by\r\n2027-05-29 08:10,50.5,ann\r\n2027-05-30,52,ann\r\n31 May,53,ann\r\n\
                 2027-06-01 08:00,5300,ann\r\n2027-06-02T11:00:00Z,55,\r\n";
    let path = file(&house, "heights.csv", sheet);
    let without = house.run(&["import", &path]);
    assert_eq!(without.status.code(), Some(1));
    assert!(said(&without).contains("heights.csv, line 1: no column \"bench\""), "{}", said(&without));

    let output = house.run(&["import", "--bench", "east-3", &path]);
    assert!(output.status.success(), "a run that refused some and did the rest: {}", said(&output));
    let told = said(&output);
    for words in [
        "heights.csv: 3 height",
        "1 with their own offset; 1 read as local, America/Halifax; 1 dates alone, read as noon, America/Halifax",
        "3 readings new, 0 known before, 2 refused",
        "heights.csv, line 4, time: \"31 May\" is no time",
        "heights.csv, line 5, height (in): height of 134.62 m is impossible",
    ] {
        assert!(told.contains(words), "{words}: {told}");
    }
    let table = out(&house, &["export", "east-3", "--csv", "--quantity", "height"]);
    assert!(table.contains("2027-05-29T08:10:00-03:00,east-3,1.2827,,,ann\r\n"), "{table}");
    assert!(table.contains("2027-05-30T12:00:00-03:00,east-3,1.3208,,,ann\r\n"), "{table}");
    let again = out(&house, &["import", "--bench", "east-3", &path]);
    assert!(again.contains("0 readings new, 3 known before, 2 refused"), "{again}");
}
