//! `backup` and `restore`: the record copied into a file while it is written, and such a file put in the record's place.

use std::path::Path;

use super::progress::Progress;
use super::{Failure, print, read};
use crate::store::{self, Reader};

pub(super) fn backup(config: &Path, file: &Path) -> Result<(), Failure> {
    let config = read(config)?;
    if let Some(folder) = file.parent().filter(|folder| !folder.as_os_str().is_empty() && !folder.is_dir()) {
        return Err(Failure::Usage(format!("{} is no folder: make it, or name another", folder.display())));
    }
    let mut progress = Progress::new(format!("copying {}", config.store_path.display()));
    Reader::open(&config.store_path)?.copy_to(file, |share| progress.tell(share))?;
    drop(progress);
    let faults = Reader::open(file)?.integrity_check(super::check::depth(file))?;
    if !faults.is_empty() {
        return Err(Failure::Failed(format!(
            "{} was made, and the record that it is a copy of is damaged: {}; put an earlier backup in its place",
            file.display(),
            faults.join("; ")
        )));
    }
    print(file.display())
}

pub(super) fn restore(config: &Path, file: &Path) -> Result<(), Failure> {
    let config = read(config)?;
    if !file.is_file() {
        return Err(Failure::Usage(format!("there is no file {}: name a backup", file.display())));
    }
    let mut progress = Progress::new(format!("copying {}", file.display()));
    let aside = store::restore(file, &config.store_path, |share| progress.tell(share))?;
    drop(progress);
    print(format_args!("{} is now that of {}", config.store_path.display(), file.display()))?;
    match aside {
        Some(aside) => print(format_args!(
            "the record that was there is kept as {}: remove it when you need it no more",
            aside.display()
        )),
        None => Ok(()),
    }
}
