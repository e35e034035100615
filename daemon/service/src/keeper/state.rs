//! A bench's state as bytes that cannot be taken for another's: a file that lies on flash for years may rot, and what the model
//! would make of a state that never was, nobody knows.

use bloom_model::bench::BenchState;

/// Why bytes are no state.
#[derive(Debug, thiserror::Error)]
pub enum StateError {
    /// They are not those that were written.
    #[error("its bytes are not those that were written")]
    Sum,
    /// They are those of something else.
    #[error(transparent)]
    Form(#[from] postcard::Error),
}

/// The state, followed by its CRC-32 (ISO-HDLC), least byte first.
///
/// # Errors
/// A fault of our own: every state can be written.
pub fn written_state(state: &BenchState) -> Result<Vec<u8>, postcard::Error> {
    let mut bytes = postcard::to_stdvec(state)?;
    let sum = crc32fast::hash(&bytes);
    bytes.extend_from_slice(&sum.to_le_bytes());
    Ok(bytes)
}

/// A state that [`written_state`] wrote.
///
/// # Errors
/// Where the bytes are any others.
pub fn read_state(bytes: &[u8]) -> Result<BenchState, StateError> {
    let (state, sum) = bytes.split_last_chunk().ok_or(StateError::Sum)?;
    if crc32fast::hash(state) != u32::from_le_bytes(*sum) {
        return Err(StateError::Sum);
    }
    Ok(postcard::from_bytes(state)?)
}

#[cfg(test)]
mod tests {
    use bloom_model::reading::BenchNumber;

    use super::*;
    use crate::keeper::house::House;

    #[test]
    fn a_state_of_which_a_single_bit_has_changed_is_none() {
        let mut house = House::live(&["east-3"], 1);
        house.speak("east-3", 0, 1.2, 0.0);
        let state = house.keeper.site.state_of(BenchNumber(0)).unwrap();
        let bytes = written_state(state).unwrap();
        assert_eq!(read_state(&bytes).unwrap(), *state);
        for place in 0..bytes.len() * 8 {
            let mut changed = bytes.clone();
            changed[place / 8] ^= 1 << (place % 8);
            assert!(matches!(read_state(&changed), Err(StateError::Sum)), "bit {place}");
        }
        for length in 0..bytes.len() {
            assert!(read_state(&bytes[..length]).is_err(), "{length} bytes");
        }
    }
}
