//! The password of the page: a hash in a file, asked for as HTTP knows it (RFC 7617), so that phones, calendars and scripts can all
//! give it.
//!
//! To check a password takes 19 MiB and some 50 ms by design. That memory is taken once and used again by every check, one after the
//! other: taken anew by each thread it stays with the allocator, and guesses of many at once made 800 MB of it. What was right once is
//! remembered as a digest with a salt of this run and is known again at once, so that a page that asks every few seconds costs
//! nothing, and whoever guesses cannot keep out those who know.

use std::path::Path;
use std::sync::{Mutex, PoisonError};

use argon2::password_hash::PasswordHasher;
use argon2::password_hash::phc::{Output, PasswordHash, Salt};
use argon2::{Algorithm, Argon2, Block, Params, Version};
use base64ct::{Base64, Encoding};

use crate::whole_file::{read_bounded, unreadable};

/// The shortest password that is taken, characters (NIST SP 800-63B-4: at least 15 where it is the only thing asked for).
pub const SHORTEST: usize = 15;
/// Right credentials remembered at most: one a person, for the name may be any.
const REMEMBERED: usize = 64;
/// A hash whose check takes more memory is refused, blocks of 1 KiB: the second choice of RFC 9106, section 4, takes as much, and a
/// check must not take what the watch needs.
const MOST_BLOCKS: usize = 64 << 10;

/// The hash of a password.
#[derive(Clone)]
pub struct Password {
    with: Argon2<'static>,
    salt: Salt,
    hash: Output,
}

impl std::fmt::Debug for Password {
    fn fmt(&self, to: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        to.write_str("Password")
    }
}

/// A name and a password as a browser sent them.
#[derive(Clone)]
pub struct Credentials {
    /// Who it is, as they gave it; it may be empty.
    pub name: String,
    password: String,
}

impl Password {
    /// Reads the hash from a file.
    ///
    /// # Errors
    /// In words with the remedy: the file cannot be read, is not what [`hash`] makes, or asks for too much memory.
    pub fn read(path: &Path) -> Result<Self, String> {
        const REMEDY: &str = "make it with `anthesisd page-password` (anthesisd(8))";
        let bytes = read_bounded(path).map_err(|error| unreadable(&error))?;
        let text = String::from_utf8(bytes).unwrap_or_default();
        let password = Self::of_line(text.trim())
            .ok_or_else(|| format!("holds no Argon2 hash of a password; {REMEDY}"))?;
        let blocks = password.with.params().block_count();
        if blocks > MOST_BLOCKS {
            return Err(format!(
                "holds a hash whose every check takes {} MiB of memory, and at most {} are given; {REMEDY}",
                blocks.div_ceil(1024),
                MOST_BLOCKS / 1024
            ));
        }
        Ok(password)
    }

    fn of_line(line: &str) -> Option<Self> {
        let hash = PasswordHash::new(line).ok()?;
        let algorithm = Algorithm::try_from(hash.algorithm.as_str()).ok()?;
        let version = match hash.version {
            Some(version) => Version::try_from(version).ok()?,
            None => Version::default(),
        };
        let params = Params::try_from(&hash).ok()?;
        Some(Self { with: Argon2::new(algorithm, version, params), salt: hash.salt?, hash: hash.hash? })
    }

    /// Whether it is that password. `memory` is what the check works in; it grows to what that takes and stays so.
    fn is(&self, password: &str, memory: &mut Vec<Block>) -> bool {
        memory.resize(self.with.params().block_count(), Block::new());
        let mut found = [0; Output::MAX_LENGTH];
        let Some(found) = found.get_mut(..self.hash.len()) else { return false };
        let password = password.as_bytes();
        self.with.hash_password_into_with_memory(password, &self.salt, found, memory).is_ok()
            // compared in the same time wherever they differ
            && Output::new(found).is_ok_and(|found| found == self.hash)
    }
}

/// The hash of a password as one line, for the file.
///
/// # Errors
/// In words: the password is too short, or the machine has no randomness.
pub fn hash(password: &str) -> Result<String, String> {
    if password.chars().count() < SHORTEST {
        return Err(format!(
            "is shorter than {SHORTEST} characters; take a few words that do not belong together"
        ));
    }
    let hash: PasswordHash =
        Argon2::default().hash_password(password.as_bytes()).map_err(|error| error.to_string())?;
    Ok(hash.to_string())
}

impl Credentials {
    /// Reads the value of an `Authorization` header.
    pub fn of_header(value: &str) -> Option<Self> {
        let (scheme, encoded) = value.split_once(' ')?;
        if !scheme.eq_ignore_ascii_case("basic") {
            return None;
        }
        let decoded = String::from_utf8(Base64::decode_vec(encoded.trim()).ok()?).ok()?;
        let (name, password) = decoded.split_once(':')?;
        let shown = |letter: &char| !letter.is_control();
        Some(Self { name: name.chars().filter(shown).take(60).collect(), password: password.to_owned() })
    }
}

/// The door: who is let in.
#[derive(Debug)]
pub struct Door {
    password: Password,
    /// Digests of credentials that were right.
    known: Mutex<Vec<[u8; 32]>>,
    salt: [u8; 16],
    /// What a check works in: there is one, so checks go one after the other.
    memory: Mutex<Vec<Block>>,
}

impl Door {
    /// A door with that password.
    ///
    /// # Errors
    /// If the machine has no randomness.
    pub fn new(password: Password) -> Result<Self, String> {
        let mut salt = [0; 16];
        rustix::rand::getrandom(&mut salt, rustix::rand::GetRandomFlags::empty())
            .map_err(|error| format!("no randomness from the system: {error}"))?;
        Ok(Self { password, known: Mutex::default(), salt, memory: Mutex::default() })
    }

    /// Whether these were right before.
    pub fn knows(&self, credentials: &Credentials) -> bool {
        let Some(digest) = self.digest(credentials) else { return false };
        // the digests depend on a salt that nobody knows, so how long this takes tells nothing
        self.known.lock().unwrap_or_else(PoisonError::into_inner).contains(&digest)
    }

    /// Whether they are right. It takes its time, on a thread that may wait.
    pub fn lets_in(&self, credentials: &Credentials) -> bool {
        let mut memory = self.memory.lock().unwrap_or_else(PoisonError::into_inner);
        if !self.password.is(&credentials.password, &mut memory) {
            return false;
        }
        drop(memory);
        if let Some(digest) = self.digest(credentials) {
            let mut known = self.known.lock().unwrap_or_else(PoisonError::into_inner);
            if known.len() >= REMEMBERED {
                known.remove(0);
            }
            known.push(digest);
        }
        true
    }

    fn digest(&self, credentials: &Credentials) -> Option<[u8; 32]> {
        // the same function with the least work it allows: what it guards lives in memory, as long as this process
        let params = Params::new(8, 1, 1, Some(32)).ok()?;
        let quick = Argon2::new(Algorithm::Argon2id, Version::V0x13, params);
        let said = format!("{}\n{}", credentials.name, credentials.password);
        let mut digest = [0; 32];
        quick.hash_password_into(said.as_bytes(), &self.salt, &mut digest).ok()?;
        Some(digest)
    }
}

#[cfg(test)]
mod tests {
    use std::fs;

    use super::*;

    fn basic(credentials: &str) -> String {
        format!("Basic {}", Base64::encode_string(credentials.as_bytes()))
    }

    #[test]
    fn the_password_of_the_file_lets_in_and_no_other() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("page-password");
        fs::write(&path, hash("wet leaves at night").unwrap() + "\n").unwrap();
        let door = Door::new(Password::read(&path).unwrap()).unwrap();
        let of = |text: &str| Credentials::of_header(&basic(text)).unwrap();
        assert!(!door.knows(&of("Robin:wet leaves at night")));
        assert!(door.lets_in(&of("Robin:wet leaves at night")));
        assert!(door.knows(&of("Robin:wet leaves at night")));
        for wrong in ["Robin:wet leaves at nigh", "Robin:", "Robin:Wet leaves at night"] {
            assert!(!door.lets_in(&of(wrong)) && !door.knows(&of(wrong)), "{wrong}");
        }
        let text = fs::read_to_string(&path).unwrap();
        assert!(text.starts_with("$argon2id$v=19$") && !text.contains("leaves"), "{text}");
    }

    /// RFC 9106 (Argon2), in the PHC string of the reference implementation's test: `./argon2 somesalt -t 2 -m 16 -p 1` of
    /// "password", from its README as known from memory.
    #[test]
    fn a_hash_of_another_program_serves() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("page-password");
        let elsewhere =
            "$argon2id$v=19$m=65536,t=2,p=1$c29tZXNhbHQ$CTFhFdXPJO1aFaMaO6Mm5c8y7cJHAph8ArZWb2GRPPc";
        fs::write(&path, elsewhere).unwrap();
        let password = Password::read(&path).unwrap();
        let mut memory = Vec::new();
        assert!(password.is("password", &mut memory));
        assert!(!password.is("passwords", &mut memory), "in memory that was used");
        assert!(password.is("password", &mut memory), "again");
    }

    #[test]
    fn a_hash_whose_check_takes_the_memory_of_the_watch_is_refused() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("page-password");
        let greedy =
            "$argon2id$v=19$m=1048576,t=2,p=1$c29tZXNhbHQ$CTFhFdXPJO1aFaMaO6Mm5c8y7cJHAph8ArZWb2GRPPc";
        fs::write(&path, greedy).unwrap();
        let why = Password::read(&path).unwrap_err();
        assert!(
            why.contains("1024 MiB") && why.contains("at most 64") && why.contains("page-password"),
            "{why}"
        );
    }

    #[test]
    fn what_is_no_hash_and_what_is_short_is_refused() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("page-password");
        for wrong in [
            "wet leaves at night",
            "$2b$12$abcdefghijklmnopqrstuv",
            "$argon2id$v=19$m=65536,t=2,p=1$c29tZXNhbHQ",
        ] {
            fs::write(&path, wrong).unwrap();
            let why = Password::read(&path).unwrap_err();
            assert!(why.contains("page-password") && !why.contains("leaves"), "{why}");
        }
        assert!(hash("short").unwrap_err().contains("shorter than 15"));
    }

    /// RFC 7617, section 2: the example of Aladdin.
    #[test]
    fn credentials_are_read_as_published() {
        let read = Credentials::of_header("Basic QWxhZGRpbjpvcGVuIHNlc2FtZQ==").unwrap();
        assert_eq!((read.name.as_str(), read.password.as_str()), ("Aladdin", "open sesame"));
        for wrong in ["Bearer QWxhZGRpbjpvcGVuIHNlc2FtZQ==", "Basic ???", "Basic QWxhZGRpbg==", "Basic", ""] {
            assert!(Credentials::of_header(wrong).is_none(), "{wrong}");
        }
    }
}
