//! Who has the record: one service watches by it, one process at a time keeps its file.
//!
//! Two claims. *Watching* is a live service's, by the folder and the name of the record: it holds while the file itself cannot
//! be had, is removed or replaced, so that there are never two services for one house. *Keeping* is of whoever has the file
//! open to change it, service or command: a lock on a file beside it, and a claim by the file's own identity.
//!
//! A claim by identity is a socket in the abstract namespace, named by device and inode: links lead to the same one, it cannot
//! be removed, and it goes with its process. A lock on the store's own file would not do: closing its descriptor would drop the
//! locks that SQLite holds on it.

use std::fs::{self, File, OpenOptions, TryLockError};
use std::io;
use std::os::fd::OwnedFd;
use std::os::linux::net::SocketAddrExt;
use std::os::unix::fs::{MetadataExt, OpenOptionsExt};
use std::os::unix::net::{SocketAddr, UnixListener};
use std::path::Path;
use std::time::Duration;

use rustix::net::{AddressFamily, SocketAddrUnix, SocketFlags, SocketType, sockopt};
use tracing::warn;

use super::error::StoreError;
use super::place::{FileId, beside, real};

/// A claim is asked for again so often: its holder may end just then, and a program that it starts holds it for a moment more.
const TRIES: usize = 5;
/// Between two of them.
const BETWEEN_TRIES: Duration = Duration::from_millis(20);

/// The claim of the one live service of a record. It lasts as long as the value.
#[derive(Debug)]
pub struct Watching(Claim);

impl Watching {
    /// Claims the record at `path` for this service, whether its file can be had or not.
    ///
    /// # Errors
    /// [`StoreError::Kept`] if another service watches by it. Where the system allows no claim, the service goes on without,
    /// and says so.
    pub fn claim(path: &Path) -> Result<Self, StoreError> {
        let Some((name, owner)) = watch_name(path) else { return Ok(Self(Claim(None))) };
        claim(&name, owner).map(Self).ok_or_else(|| StoreError::Kept { path: path.to_owned() })
    }

    /// Whether a service watches by the record at `path` now: one whose user may.
    pub fn is_claimed(path: &Path) -> bool {
        let Some((name, owner)) = watch_name(path) else { return false };
        holder(&name).is_ok_and(|user| may_hold(user, owner))
    }

    /// Lets those who asked go: they wait in a queue, which is not endless.
    pub fn answer(&self) {
        self.0.answer();
    }
}

/// The name by which a service claims the record at `path`, and whose record it is.
fn watch_name(path: &Path) -> Option<(String, u32)> {
    let real = real(path);
    let (folder, meta) = real.ancestors().skip(1).find_map(|folder| {
        let folder = if folder.as_os_str().is_empty() { Path::new(".") } else { folder };
        fs::metadata(folder).ok().map(|meta| (folder, meta))
    })?;
    let id = FileId::of(&meta);
    let name = real.strip_prefix(folder).unwrap_or(&real);
    let sum = crc32fast::hash(name.as_os_str().as_encoded_bytes());
    Some((format!("anthesisd-watch-{:x}-{:x}-{sum:08x}", id.device, id.inode), meta.uid()))
}

/// Any user of the machine may take a name: one who has no right to the record must not silence the watch.
fn may_hold(user: u32, owner: u32) -> bool {
    user == owner || user == 0 || user == rustix::process::geteuid().as_raw()
}

/// The claim of whoever has the file open to change it.
#[derive(Debug)]
pub(super) struct Keeping {
    _lock: File,
    file: Claim,
}

impl Keeping {
    /// Claims the file at `path`, if there is one, and the place; `None` if another has either.
    pub(super) fn claim(path: &Path) -> Result<Option<Self>, StoreError> {
        let path = real(path);
        let mut lock = try_lock(&path)?;
        for _ in 1..TRIES {
            if lock.is_none() {
                std::thread::sleep(BETWEEN_TRIES);
                lock = try_lock(&path)?;
            }
        }
        let Some(lock) = lock else { return Ok(None) };
        let file = match fs::metadata(&path) {
            Ok(meta) => {
                let id = FileId::of(&meta);
                claim(&format!("anthesisd-keep-{:x}-{:x}", id.device, id.inode), meta.uid())
            }
            // whoever opens it will say what is wrong
            Err(_) => Some(Claim(None)),
        };
        Ok(file.map(|file| Self { _lock: lock, file }))
    }

    /// See [`Watching::answer`].
    pub(super) fn answer(&self) {
        self.file.answer();
    }
}

/// The name of the lock beside the record.
pub(super) fn lock_path(path: &Path) -> std::path::PathBuf {
    beside(&real(path), "-keeper")
}

fn try_lock(path: &Path) -> Result<Option<File>, StoreError> {
    let lock_path = lock_path(path);
    let at = |error: io::Error| StoreError::of_io(&lock_path, &error);
    let file = OpenOptions::new()
        .write(true)
        .create(true)
        .truncate(false)
        .mode(0o600)
        .open(&lock_path)
        .map_err(at)?;
    match file.try_lock() {
        Ok(()) => Ok(Some(file)),
        Err(TryLockError::WouldBlock) => Ok(None),
        Err(TryLockError::Error(error)) => Err(at(error)),
    }
}

/// A claimed name, or nothing where the system allows none.
#[derive(Debug)]
struct Claim(Option<UnixListener>);

impl Claim {
    fn answer(&self) {
        while self.0.as_ref().is_some_and(|listener| listener.accept().is_ok()) {}
    }
}

/// Claims a name for a record that belongs to `owner`; `None` if it is taken by one who may have it.
fn claim(name: &str, owner: u32) -> Option<Claim> {
    for _ in 0..TRIES {
        let bound = SocketAddr::from_abstract_name(name)
            .and_then(|address| UnixListener::bind_addr(&address))
            .and_then(|listener| listener.set_nonblocking(true).map(|()| listener));
        match bound {
            Ok(listener) => return Some(Claim(Some(listener))),
            Err(error) if error.kind() == io::ErrorKind::AddrInUse => {}
            Err(error) => {
                warn!("nothing keeps a second service from this record, for no name can be claimed: {error}");
                return Some(Claim(None));
            }
        }
        match holder(name) {
            // it ended just now
            Err(rustix::io::Errno::CONNREFUSED) => continue,
            Ok(user) if !may_hold(user, owner) => {
                warn!(
                    user,
                    "another user of this machine holds a name that belongs to this record; it is passed by"
                );
                return Some(Claim(None));
            }
            Ok(_) => std::thread::sleep(BETWEEN_TRIES),
            Err(error) => {
                warn!(
                    "who holds a name that belongs to this record cannot be seen ({error}); it is passed by"
                );
                return Some(Claim(None));
            }
        }
    }
    None
}

/// The user whose process holds that name.
fn holder(name: &str) -> rustix::io::Result<u32> {
    let flags = SocketFlags::NONBLOCK | SocketFlags::CLOEXEC;
    let socket: OwnedFd = rustix::net::socket_with(AddressFamily::UNIX, SocketType::STREAM, flags, None)?;
    rustix::net::connect(&socket, &SocketAddrUnix::new_abstract_name(name.as_bytes())?)?;
    Ok(sockopt::socket_peercred(&socket)?.uid.as_raw())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_service_watches_by_a_record_whatever_becomes_of_its_files() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("anthesisd.db");
        let link = folder.path().join("link.db");
        std::os::unix::fs::symlink(&path, &link).unwrap();
        assert!(!Watching::is_claimed(&path));
        let first = Watching::claim(&path).unwrap();
        assert!(Watching::is_claimed(&link));
        for other in [&path, &link] {
            assert!(matches!(Watching::claim(other), Err(StoreError::Kept { .. })));
        }
        for _ in 0..20 {
            assert!(Watching::claim(&path).is_err());
            first.answer();
        }
        Watching::claim(&folder.path().join("another.db")).unwrap();
        drop(first);
        assert!(!Watching::is_claimed(&path), "a name goes with its process, whatever it leaves behind");
        Watching::claim(&link).unwrap();
    }

    #[test]
    fn one_process_keeps_a_file_by_whatever_name_and_though_the_lock_is_removed() {
        let folder = tempfile::tempdir().unwrap();
        let (path, elsewhere) = (folder.path().join("anthesisd.db"), folder.path().join("elsewhere"));
        fs::create_dir(&elsewhere).unwrap();
        fs::write(&path, "").unwrap();
        let (link, hard) = (elsewhere.join("link.db"), elsewhere.join("hard.db"));
        std::os::unix::fs::symlink(&path, &link).unwrap();
        fs::hard_link(&path, &hard).unwrap();
        let first = Keeping::claim(&path).unwrap().unwrap();
        fs::remove_file(lock_path(&path)).unwrap();
        for other in [&path, &link, &hard] {
            assert!(Keeping::claim(other).unwrap().is_none(), "{}", other.display());
        }
        drop(first);
        assert!(Keeping::claim(&hard).unwrap().is_some());
    }
}
