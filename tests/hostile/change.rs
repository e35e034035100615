//! Inputs out of inputs: bytes changed, pieces cut, doubled, moved and put together, and the words that break readers.

use rand::rngs::SmallRng;
use rand::{RngExt, SeedableRng};

/// Longest input, bytes: some lines beyond the longest.
const LONGEST: usize = 256 << 10;
/// Numbers and pieces that are seldom thought of.
const WORDS: [&str; 22] = [
    "1e999",
    "-0",
    "NaN",
    "null",
    "99999999999999999999",
    "-1",
    "0.1e-400",
    "\u{feff}",
    "\"",
    "[[",
    "]}",
    "[{",
    "\r\n",
    "\n\n",
    "\\u0000",
    "\\ud800",
    "true",
    "{}",
    ",,",
    "9999-12-31T23:59:60Z",
    "+262142-12-31",
    "\0",
];

/// Makes them, the same for the same seed.
pub(crate) struct Changer {
    inputs: Vec<Vec<u8>>,
    random: SmallRng,
}

impl Changer {
    pub(crate) fn new(inputs: Vec<Vec<u8>>, seed: u64) -> Self {
        Self { inputs, random: SmallRng::seed_from_u64(seed) }
    }

    pub(crate) fn changed(&mut self) -> Vec<u8> {
        let mut input = self.one();
        for _ in 0..1 << self.random.random_range(0..5) {
            self.change(&mut input);
        }
        input.truncate(LONGEST);
        input
    }

    fn one(&mut self) -> Vec<u8> {
        let place = self.random.random_range(0..self.inputs.len());
        self.inputs[place].clone()
    }

    fn change(&mut self, input: &mut Vec<u8>) {
        let (from, until) = self.piece(input);
        match self.random.random_range(0..9) {
            0 if from < input.len() => input[from] ^= 1 << self.random.random_range(0..8),
            1 if from < input.len() => input[from] = self.random.random(),
            2 => drop(input.drain(from..until)),
            3 => {
                let word = WORDS[self.random.random_range(0..WORDS.len())];
                input.splice(from..from, word.bytes());
            }
            4 => {
                let word = WORDS[self.random.random_range(0..WORDS.len())];
                input.splice(from..until.min(from + 8), word.bytes());
            }
            5 => {
                let piece = input[from..until].to_vec();
                let times = 1 << self.random.random_range(0..8);
                for _ in 0..times {
                    if input.len() + piece.len() <= LONGEST {
                        input.splice(from..from, piece.iter().copied());
                    }
                }
            }
            6 => {
                let other = self.one();
                let (cut, end) = self.piece(&other);
                input.splice(from..until, other[cut..end].iter().copied());
            }
            7 => {
                let piece: Vec<u8> = input.drain(from..until).collect();
                let to = self.random.random_range(0..=input.len());
                input.splice(to..to, piece);
            }
            _ => input.extend_from_slice(&self.random.random::<u64>().to_le_bytes()),
        }
    }

    /// A piece of an input: mostly a short one.
    fn piece(&mut self, input: &[u8]) -> (usize, usize) {
        let from = self.random.random_range(0..=input.len());
        let longest = 1_usize << self.random.random_range(0..14);
        let length = self.random.random_range(0..=longest.min(input.len() - from));
        (from, from + length)
    }
}
