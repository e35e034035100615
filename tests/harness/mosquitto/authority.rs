//! An authority for TLS.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

use tempfile::TempDir;

use super::program::{run, tool};

/// An authority that signs certificates, made with openssl.
#[derive(Debug)]
pub struct Authority {
    folder: TempDir,
}

impl Authority {
    /// A new one of that name, which nobody trusts yet.
    ///
    /// # Panics
    /// When openssl is not installed.
    pub fn new(name: &str) -> Self {
        let folder = TempDir::new().expect("a temporary folder");
        run(openssl(folder.path())
            .args([
                "req",
                "-x509",
                "-newkey",
                "rsa:2048",
                "-nodes",
                "-days",
                "2",
                "-subj",
                &format!("/CN={name}"),
            ])
            .args(["-keyout", "ca.key", "-out", "ca.crt"]));
        Self { folder }
    }

    /// Its certificate, PEM.
    pub fn certificate(&self) -> PathBuf {
        self.folder.path().join("ca.crt")
    }

    pub(super) fn sign(&self, into: &Path, name: &str) -> (PathBuf, PathBuf) {
        fs::write(into.join("names"), format!("subjectAltName=DNS:{name}\n")).expect("the names are written");
        run(openssl(into)
            .args(["req", "-new", "-newkey", "rsa:2048", "-nodes", "-subj", "/CN=broker"])
            .args(["-keyout", "broker.key", "-out", "broker.csr"]));
        run(openssl(into)
            .args([
                "x509",
                "-req",
                "-in",
                "broker.csr",
                "-days",
                "2",
                "-extfile",
                "names",
                "-out",
                "broker.crt",
            ])
            .arg("-CA")
            .arg(self.certificate())
            .arg("-CAkey")
            .arg(self.folder.path().join("ca.key"))
            .arg("-CAcreateserial"));
        (into.join("broker.crt"), into.join("broker.key"))
    }
}

fn openssl(folder: &Path) -> Command {
    let mut command = tool("openssl", "openssl");
    command.current_dir(folder);
    command
}
