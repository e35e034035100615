//! What is packed comes back bit for bit, whatever its length and values.

use proptest::prelude::*;

use super::numbers::unpack_values;
use super::*;

fn entry(ms: u32, value: f64, taken: bool) -> Entry {
    Entry { ms, value, taken }
}

fn bits(sheet: &Sheet) -> Vec<(i64, u32, u64, bool)> {
    sheet.in_order().into_iter().map(|(series, e)| (series, e.ms, e.value.to_bits(), e.taken)).collect()
}

#[test]
fn what_is_unpacked_is_what_was_packed() {
    let mut sheet = Sheet::default();
    sheet.add(1, (0..8_640).map(|n| entry(n * 10_000, f64::from(2_000 + n % 700) / 100.0, true)));
    sheet.add(2, (0..8_640).map(|n| entry(n * 10_000, f64::from(n) / 3.0, n % 5 > 0)));
    sheet.add(3, [entry(7, -0.0, true), entry(86_399_999, f64::MIN_POSITIVE, false)]);
    let packed = sheet.pack().unwrap();
    assert_eq!(packed.readings, 2 * 8_640 + 2);
    let again = Sheet::unpack(&packed.body, packed.sum).unwrap();
    assert!(bits(&again) == bits(&sheet));
    let mut scratch = Scratch::default();
    for series in 1..=4 {
        scratch.load(&packed.body, packed.sum, series).unwrap();
        let places = 0..scratch.times().len();
        let told = places
            .map(|place| (scratch.times()[place], scratch.values()[place].to_bits(), scratch.taken(place)));
        let expected = bits(&sheet).into_iter().filter(|one| one.0 == series);
        assert!(told.eq(expected.map(|(_, ms, value, taken)| (ms, value, taken))));
    }
}

#[test]
fn series_of_the_same_packs_share_their_instants() {
    // milliseconds of arrival, which are what costs most
    let times: Vec<u32> = (0..8_640_u32).map(|n| n * 10_000 + n.wrapping_mul(2_654_435_761) % 40).collect();
    let sheet_of = |series: i64| {
        let mut sheet = Sheet::default();
        for series in 0..series {
            sheet.add(series, times.iter().map(|ms| entry(*ms, 27.31, true)));
        }
        sheet.pack().unwrap().body.len()
    };
    assert!(sheet_of(3) < sheet_of(1) + 200, "{} {}", sheet_of(3), sheet_of(1));
}

#[test]
fn the_first_of_an_instant_wins_unless_the_model_took_another() {
    let mut sheet = Sheet::default();
    assert_eq!(sheet.add(1, [entry(5, 1.0, true), entry(9, 2.0, false), entry(5, 3.0, true)]), 1);
    assert_eq!(sheet.add(1, [entry(9, 4.0, true), entry(5, 5.0, false), entry(1, 6.0, false)]), 1);
    let left = [entry(1, 6.0, false), entry(5, 1.0, true), entry(9, 4.0, true)];
    assert_eq!(sheet.0[&1], left);
}

#[test]
fn a_changed_byte_is_noticed() {
    let mut sheet = Sheet::default();
    sheet.add(1, (0..100).map(|n| entry(n, f64::from(n), true)));
    let packed = sheet.pack().unwrap();
    for place in 0..packed.body.len() {
        let mut body = packed.body.clone();
        body[place] ^= 0x10;
        assert!(matches!(Sheet::unpack(&body, packed.sum), Err(SheetError::Sum)));
    }
}

/// Readings of a sensor whose noise is some of its last digits, about the slow course of a day.
fn noisy(count: u32) -> Vec<f64> {
    let mut state = 88_172_645_463_325_252_u64;
    let mut die = || {
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        ((state >> 33) % 5) as f64
    };
    let mut noise = || die() + die() + die() - 6.0;
    let course = |n: u32| 300.0 * (f64::from(n) / 8_640.0 * std::f64::consts::TAU).sin();
    (0..count).map(|n| ((2_400.0 + course(n)).round() + noise()) / 100.0).collect()
}

#[test]
fn a_noisy_sensor_is_told_by_its_course_and_takes_less_than_by_its_steps() {
    let values = noisy(8_640);
    let (form, packed) = pack_values(&values).unwrap();
    assert!(matches!(form, Form::Followed { decimals: 2, gain: 2..=16, first: _ }), "{form:?}");
    let steps = pack_numbers(&decimals(&values).unwrap().1).unwrap();
    assert!(packed.len() * 100 < steps.len() * 96, "{} {}", packed.len(), steps.len());
    let (mut whole, mut again) = (Vec::new(), Vec::new());
    unpack_values(form, &packed, values.len(), &mut whole, &mut again).unwrap();
    assert!(again.iter().map(|value| value.to_bits()).eq(values.iter().map(|value| value.to_bits())));
}

#[test]
fn a_gain_that_no_sheet_can_have_is_no_form() {
    let (form, packed) = pack_values(&noisy(8_640)).unwrap();
    let Form::Followed { decimals, first, .. } = form else { panic!("{form:?}") };
    let other = Form::Followed { decimals, gain: 65, first };
    let outcome = unpack_values(other, &packed, 8_640, &mut Vec::new(), &mut Vec::new());
    assert!(matches!(outcome, Err(SheetError::Parts)));
}

/// A packer that works in batches must take a column that ends anywhere in one.
#[test]
fn columns_of_every_length_come_back() {
    for length in 1..=600_u32 {
        let noisy = |n: u32| f64::from(2_000 + n.wrapping_mul(2_654_435_761) % 41) / 100.0;
        let mut sheet = Sheet::default();
        sheet.add(1, (0..length).map(|n| entry(n * 10_000, noisy(n), true)));
        let packed = sheet.pack().unwrap();
        let again = Sheet::unpack(&packed.body, packed.sum).unwrap();
        assert!(bits(&again) == bits(&sheet), "{length}");
    }
}

proptest! {
    #[test]
    fn any_values_come_back_bit_for_bit(
        values in prop::collection::vec(any::<f64>(), 1..300),
        plain in prop::collection::vec((-2_000_000..2_000_000_i32, 0..8_u8), 1..300),
    ) {
        let mut sheet = Sheet::default();
        sheet.add(1, values.iter().zip(0..).map(|(value, ms)| entry(ms, *value, ms % 3 == 0)));
        let decimal = |(whole, decimals): &(i32, u8)| f64::from(*whole) / 10_f64.powi(i32::from(*decimals));
        sheet.add(2, plain.iter().zip(0..).map(|(one, ms)| entry(ms * 7, decimal(one), true)));
        let packed = sheet.pack().unwrap();
        prop_assert!(bits(&Sheet::unpack(&packed.body, packed.sum).unwrap()) == bits(&sheet));
    }

    #[test]
    fn any_course_comes_back(wide in prop::collection::vec(any::<i32>(), 1..200), gain in 1_u8..=64) {
        let distances = numbers::distances(wide[0], gain, &wide);
        let again = numbers::values_at(wide[0], gain, distances);
        prop_assert_eq!(again, wide);
    }

    #[test]
    fn no_bytes_make_it_panic(mut body in prop::collection::vec(any::<u8>(), 0..400), flip in any::<usize>()) {
        let _ = Sheet::unpack(&body, crc32fast::hash(&body));
        let mut sheet = Sheet::default();
        sheet.add(1, (0..50).map(|n| entry(n * 3, f64::from(n), true)));
        let whole = sheet.pack().unwrap().body;
        let place = flip % whole.len();
        body.truncate(1);
        let mut changed = whole;
        changed[place] ^= body.first().copied().unwrap_or(1);
        let _ = Sheet::unpack(&changed, crc32fast::hash(&changed));
    }
}
