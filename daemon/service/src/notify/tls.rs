//! TLS to the broker: the certificate is always checked, and there is no switch against it.

use std::fs::File;
use std::io::Read;
use std::path::Path;
use std::sync::Arc;

use tokio_rustls::rustls::crypto::ring;
use tokio_rustls::rustls::pki_types::CertificateDer;
use tokio_rustls::rustls::pki_types::pem::PemObject;
use tokio_rustls::rustls::{ClientConfig, RootCertStore};

/// Where Debian's package `ca-certificates` keeps the authorities that the system trusts.
pub(super) const SYSTEM_AUTHORITIES: &str = "/etc/ssl/certs/ca-certificates.crt";
/// The longest file of authorities that is read, in bytes; the system's own has about a quarter of that.
const LONGEST: u64 = 1 << 20;

/// How to speak TLS with a broker whose certificate one of the authorities in `file` has signed.
///
/// # Errors
/// With a sentence for the log, when the file cannot be read or holds no certificate.
pub(super) fn client_config(file: &Path) -> Result<Arc<ClientConfig>, String> {
    let shown = file.display();
    let mut pem = Vec::new();
    File::open(file)
        .and_then(|opened| opened.take(LONGEST + 1).read_to_end(&mut pem))
        .map_err(|error| format!("the authorities' certificates cannot be read from {shown}: {error}"))?;
    if pem.len() as u64 > LONGEST {
        return Err(format!("{shown} is longer than 1 MiB: is it the authorities' certificates?"));
    }
    let mut authorities = RootCertStore::empty();
    for certificate in CertificateDer::pem_slice_iter(&pem) {
        let certificate = certificate.map_err(|error| format!("{shown} is no PEM file: {error}"))?;
        // one that cannot be used does not spoil the others: the system's file holds old ones too
        let _ = authorities.add(certificate);
    }
    if authorities.is_empty() {
        return Err(format!("{shown} holds no certificate of an authority: is it the right file?"));
    }
    let config = ClientConfig::builder_with_provider(Arc::new(ring::default_provider()))
        .with_safe_default_protocol_versions()
        .map_err(|error| format!("TLS cannot be set up: {error}"))?
        .with_root_certificates(authorities)
        .with_no_client_auth();
    Ok(Arc::new(config))
}

#[cfg(test)]
mod tests {
    use std::io::Write;

    use super::*;

    #[test]
    fn a_file_without_certificates_is_refused_by_name() {
        let mut file = tempfile::NamedTempFile::new().unwrap();
        assert!(client_config(file.path()).unwrap_err().contains("holds no certificate"));
        file.write_all(b"-----BEGIN CERTIFICATE-----\n!\n-----END CERTIFICATE-----\n").unwrap();
        assert!(client_config(file.path()).unwrap_err().contains("is no PEM file"));
        file.as_file().set_len(LONGEST + 1).unwrap();
        assert!(client_config(file.path()).unwrap_err().contains("longer than 1 MiB"));
        let missing = client_config(Path::new("/nowhere/ca.crt")).unwrap_err();
        assert!(missing.contains("/nowhere/ca.crt") && missing.contains("No such file"), "{missing}");
    }
}
