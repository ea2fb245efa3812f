//! Calls over HTTP and TLS. What a server shows is checked against the authorities that the system
//! trusts, or against those of a file.

use rustls::crypto::ring::default_provider;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Duration;
use ureq::tls::{Certificate, PemItem, RootCerts, TlsConfig, parse_pem};

/// Whom to believe which server it is.
#[derive(clap::Args, Clone)]
pub struct Trust {
    /// Certificates of the authorities that are trusted where an address begins with https, PEM.
    #[arg(
        long,
        value_name = "FILE",
        env = "SSL_CERT_FILE",
        default_value = "/etc/ssl/certs/ca-certificates.crt"
    )]
    pub authorities: PathBuf,
    /// Set for the server of this very process: it is not asked who it is.
    #[arg(skip)]
    pub is_self: bool,
}

impl Trust {
    /// What calls these addresses; the authorities are read where one of them asks for TLS.
    ///
    /// # Errors
    /// What is wrong with an address or with the file.
    pub fn agent(&self, addresses: &[&str], timeout: Duration) -> Result<ureq::Agent, String> {
        let config =
            ureq::Agent::config_builder().http_status_as_error(false).timeout_global(Some(timeout));
        for address in addresses {
            if !address.starts_with("http://") && !address.starts_with("https://") {
                return Err("give an address that begins with https:// or http://".to_owned());
            }
        }
        if !addresses.iter().any(|a| a.starts_with("https://")) {
            return Ok(config.build().new_agent());
        }
        let tls =
            TlsConfig::builder().unversioned_rustls_crypto_provider(Arc::new(default_provider()));
        let tls = match self.is_self {
            true => tls.disable_verification(true),
            false => tls.root_certs(RootCerts::from(read(&self.authorities)?)),
        };
        Ok(config.tls_config(tls.build()).build().new_agent())
    }
}

/// Certificates of a file.
fn read(path: &Path) -> Result<Vec<Certificate<'static>>, String> {
    let bad = |why: &dyn std::fmt::Display| format!("--authorities {}: {why}", path.display());
    let pem = std::fs::read(path).map_err(|e| bad(&e))?;
    let mut all = Vec::new();
    for item in parse_pem(&pem) {
        if let PemItem::Certificate(certificate) = item.map_err(|e| bad(&e))? {
            all.push(certificate);
        }
    }
    if all.is_empty() {
        return Err(bad(&"there is no certificate in it; give PEM"));
    }
    Ok(all)
}
