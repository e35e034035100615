//! Where the record really lies, which file it is, and what lies beside it.

use std::fs::{self, Metadata};
use std::io;
use std::os::unix::fs::{MetadataExt, PermissionsExt};
use std::path::{Path, PathBuf};

use bloom_model::time::Time;

/// Links that are followed at most, as the kernel does.
const LINKS_AT_MOST: usize = 40;
/// What the name of a record goes on with where it was saved because its file was taken away while it was open.
const WAS_OPEN: &str = ".was-open-";

/// A file whatever it is called: the device it lies on, and its number there.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct FileId {
    pub(super) device: u64,
    pub(super) inode: u64,
}

impl FileId {
    pub(crate) fn of(meta: &Metadata) -> Self {
        Self { device: meta.dev(), inode: meta.ino() }
    }

    /// The file that a path leads to now.
    ///
    /// # Errors
    /// Where there is none, or the system does not say.
    pub(super) fn at(path: &Path) -> io::Result<Self> {
        fs::metadata(path).map(|meta| Self::of(&meta))
    }
}

/// A path without links: what lies beside a record lies beside the file, not beside a link to it. A file that is not there
/// yet is found where it will be made.
pub(super) fn real(path: &Path) -> PathBuf {
    let mut path = path.to_owned();
    for _ in 0..LINKS_AT_MOST {
        let Ok(target) = fs::read_link(&path) else { break };
        path = match path.parent() {
            Some(folder) => folder.join(target),
            None => target,
        };
    }
    let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new("."));
    match (fs::canonicalize(folder), path.file_name()) {
        (Ok(folder), Some(name)) => folder.join(name),
        _ => path,
    }
}

/// A name that begins as the path does.
pub(super) fn beside(path: &Path, end: &str) -> PathBuf {
    let mut name = path.as_os_str().to_owned();
    name.push(end);
    PathBuf::from(name)
}

/// A free name for the record that was open at `path`.
pub(super) fn name_of_saved(path: &Path, now: Time) -> PathBuf {
    let at = chrono::DateTime::from_timestamp_millis(now.unix_ms()).unwrap_or_default();
    let stem = format!("{WAS_OPEN}{}", at.format("%Y%m%dT%H%M%SZ"));
    let names = (1_u32..).map(|number| match number {
        1 => beside(path, &stem),
        more => beside(path, &format!("{stem}-{more}")),
    });
    names.take(1_000).find(|name| !name.exists()).unwrap_or_else(|| beside(path, &stem))
}

/// The records that were saved beside `path` when its file was taken away while it was open, oldest first.
pub fn saved_beside(path: &Path) -> Vec<PathBuf> {
    let path = real(path);
    let (Some(folder), Some(name)) = (path.parent(), path.file_name()) else { return Vec::new() };
    let stem = format!("{}{WAS_OPEN}", name.to_string_lossy());
    let found = fs::read_dir(folder).into_iter().flatten().flatten();
    let ours = |name: &std::ffi::OsStr| {
        let name = name.to_string_lossy();
        name.starts_with(&stem) && !["-wal", "-shm", "-journal"].iter().any(|end| name.ends_with(end))
    };
    let mut saved: Vec<PathBuf> =
        found.filter(|entry| ours(&entry.file_name())).map(|entry| entry.path()).collect();
    saved.sort();
    saved
}

/// What is wrong with who may read or change the record, with the remedy; `None` if it is its owner's alone.
pub fn open_to_others(path: &Path) -> Option<String> {
    let path = real(path);
    let loose = |path: &PathBuf| {
        let mode = fs::metadata(path).ok()?.permissions().mode();
        (mode & 0o077 != 0).then_some((path.clone(), mode & 0o7777))
    };
    let files: Vec<(PathBuf, u32)> =
        ["", "-wal", "-shm"].iter().map(|end| beside(&path, end)).filter_map(|path| loose(&path)).collect();
    let (_, mode) = files.first()?;
    let names: Vec<String> = files.iter().map(|(path, _)| path.display().to_string()).collect();
    Some(format!(
        "others may read or change the record (mode {mode:04o}); run: chmod 600 {}",
        names.join(" ")
    ))
}

#[cfg(test)]
mod tests {
    use std::os::unix::fs::symlink;

    use super::*;

    #[test]
    fn a_record_behind_links_is_found_where_it_lies_or_will_lie() {
        let folder = tempfile::tempdir().unwrap();
        let at = |name: &str| fs::canonicalize(folder.path()).unwrap().join(name);
        symlink("anthesisd.db", at("link")).unwrap();
        symlink(at("link"), at("link-to-link")).unwrap();
        symlink("round", at("round")).unwrap();
        for there in [false, true] {
            if there {
                fs::write(at("anthesisd.db"), "").unwrap();
            }
            for name in ["anthesisd.db", "link", "link-to-link"] {
                assert_eq!(real(&at(name)), at("anthesisd.db"), "{name}");
            }
        }
        assert_eq!(real(&at("round")), at("round"));
        assert_eq!(real(Path::new("/nowhere/anthesisd.db")), Path::new("/nowhere/anthesisd.db"));
    }

    #[test]
    fn what_was_saved_is_found_again_and_never_overwritten() {
        let folder = tempfile::tempdir().unwrap();
        let path = fs::canonicalize(folder.path()).unwrap().join("anthesisd.db");
        assert!(saved_beside(&path).is_empty());
        let now = Time::from_unix_ms(1_811_937_600_000);
        let first = name_of_saved(&path, now);
        assert_eq!(first, beside(&path, ".was-open-20270602T120000Z"));
        fs::write(&first, "").unwrap();
        fs::write(beside(&first, "-wal"), "").unwrap();
        let second = name_of_saved(&path, now);
        fs::write(&second, "").unwrap();
        assert_eq!(saved_beside(&path), [first, second]);
    }

    #[test]
    fn a_record_that_others_may_read_or_change_is_named_with_the_remedy() {
        let folder = tempfile::tempdir().unwrap();
        let path = fs::canonicalize(folder.path()).unwrap().join("anthesisd.db");
        assert_eq!(open_to_others(&path), None);
        fs::write(&path, "").unwrap();
        for (mode, wrong) in [(0o600, false), (0o666, true), (0o640, true), (0o602, true)] {
            fs::set_permissions(&path, fs::Permissions::from_mode(mode)).unwrap();
            let said = open_to_others(&path);
            assert_eq!(said.is_some(), wrong, "{said:?}");
            assert!(said.is_none_or(|said| said.contains(&format!("chmod 600 {}", path.display()))));
        }
    }
}
