//! Kinship against a published worked example and against an independent implementation.

use std::collections::BTreeMap;

use bloom_model::book::kinship::Pedigree;
use end_to_end::tables::{Row, rows};

fn pedigree(rows: &[Row], name: &str) -> Pedigree {
    let mut pedigree = Pedigree::default();
    for row in rows.iter().filter(|row| row.text("pedigree") == name) {
        let named = |column: &str| Some(row.text(column).to_owned()).filter(|name| !name.is_empty());
        pedigree.set_parents(row.text("other"), named("mother").as_deref(), named("father").as_deref());
    }
    pedigree
}

/// sgkit's pedigree_kinship (PyPI; its version and numpy's stand in the table): the published example and two pedigrees drawn at
/// random, one of them with two selfings in five.
#[test]
fn every_pair_of_three_pedigrees_agrees_with_sgkit() {
    let rows = rows("kinship.csv", 511);
    let names = ["mrode", "house", "selfed"];
    let pedigrees: BTreeMap<&str, Pedigree> = names.map(|name| (name, pedigree(&rows, name))).into();
    for row in &rows {
        let ours = pedigrees[row.text("pedigree")].kinship(row.text("one"), row.text("other")).unwrap();
        row.agrees("kinship", ours, 1e-12);
    }
}

/// Mrode, Linear Models for the Prediction of Animal Breeding Values (3rd edition 2014), section 2.2: the numerator relationship
/// matrix of six calves, twice the kinship. The pedigree and the figures among calves 1, 4 and 5 were seen in the book's sections
/// 2.4 and 2.6; the rest of the matrix is from memory and agrees with sgkit.
#[test]
fn the_six_calves_of_a_textbook_have_the_relationships_printed_there() {
    let printed = [
        [1.0, 0.0, 0.5, 0.5, 0.5, 0.25],
        [0.0, 1.0, 0.5, 0.0, 0.25, 0.625],
        [0.5, 0.5, 1.0, 0.25, 0.625, 0.5625],
        [0.5, 0.0, 0.25, 1.0, 0.625, 0.3125],
        [0.5, 0.25, 0.625, 0.625, 1.125, 0.6875],
        [0.25, 0.625, 0.5625, 0.3125, 0.6875, 1.125],
    ];
    let mut calves = Pedigree::default();
    for (calf, sire, dam) in
        [("3", "1", Some("2")), ("4", "1", None), ("5", "4", Some("3")), ("6", "5", Some("2"))]
    {
        calves.set_parents(calf, Some(sire), dam);
    }
    for (i, row) in printed.iter().enumerate() {
        for (j, printed) in row.iter().enumerate() {
            let ours = 2.0 * calves.kinship(&(i + 1).to_string(), &(j + 1).to_string()).unwrap();
            assert!(
                (ours - printed).abs() < 1e-12,
                "calves {} and {}: {ours}, printed {printed}",
                i + 1,
                j + 1
            );
        }
    }
}
