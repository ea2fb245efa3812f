//! TLS: the certificate that the server shows. Its files are read again while the server runs.

mod validity;

use rustls::ServerConfig;
use rustls::crypto::ring::default_provider;
use rustls::pki_types::pem::{Error as PemError, PemObject as _};
use rustls::pki_types::{CertificateDer, PrivateKeyDer};
use rustls::server::{ClientHello, ResolvesServerCert};
use rustls::sign::CertifiedKey;
use std::fmt;
use std::path::{Path, PathBuf};
use std::sync::{Arc, PoisonError, RwLock};
use std::time::Duration;
use traybook_app::copies::Keeping;
use traybook_domain::value::Instant;

/// With which certificate `serve` speaks TLS.
#[derive(clap::Args)]
pub struct Tls {
    /// Certificate with its chain, PEM: the server then speaks TLS itself. A new one is taken while
    /// the server runs.
    #[arg(long, value_name = "FILE", env = "TRAYBOOK_TLS_CERTIFICATE", requires = "tls_key")]
    pub tls_certificate: Option<PathBuf>,
    /// Key of the certificate, PEM.
    #[arg(long, value_name = "FILE", env = "TRAYBOOK_TLS_KEY", requires = "tls_certificate")]
    pub tls_key: Option<PathBuf>,
}

impl Tls {
    /// Reads the certificate, where one is named.
    ///
    /// # Errors
    /// What is wrong with which file; never anything of the key.
    pub fn read(&self, keeping: &Arc<Keeping>) -> Result<Option<Arc<Shown>>, String> {
        let (Some(certificate), Some(key)) = (&self.tls_certificate, &self.tls_key) else {
            return Ok(None);
        };
        let files = Files { certificate: certificate.clone(), key: key.clone() };
        let seen = files.read()?;
        let pair = files.pair(&seen)?;
        keeping.note_certificate(ends(&pair));
        let (now, keeping) = (RwLock::new(Now { seen, pair }), Arc::clone(keeping));
        Ok(Some(Arc::new(Shown { files, now, keeping })))
    }
}

/// Between two looks at the files. Who renews certificates need not restart the server.
const LOOK: Duration = Duration::from_secs(10);

/// Where certificate and key are.
struct Files {
    certificate: PathBuf,
    key: PathBuf,
}

/// What stood in both files.
type Contents = [Vec<u8>; 2];

impl Files {
    fn read(&self) -> Result<Contents, String> {
        let read = |path: &Path, option: &str| {
            std::fs::read(path).map_err(|e| format!("{option} {}: {e}", path.display()))
        };
        Ok([read(&self.certificate, "--tls-certificate")?, read(&self.key, "--tls-key")?])
    }

    fn pair(&self, [certificate, key]: &Contents) -> Result<Arc<CertifiedKey>, String> {
        let of_certificate = format!("--tls-certificate {}", self.certificate.display());
        let of_key = format!("--tls-key {}", self.key.display());
        let chain = CertificateDer::pem_slice_iter(certificate).collect::<Result<Vec<_>, _>>();
        let chain = chain.map_err(|e| format!("{of_certificate}: not in the form PEM: {e}"))?;
        if chain.is_empty() {
            return Err(format!("{of_certificate}: there is no certificate in it; give PEM"));
        }
        let key = PrivateKeyDer::from_pem_slice(key).map_err(|error| match error {
            PemError::NoItemsFound => {
                format!("{of_key}: there is no key in it; give PEM, without a password")
            }
            // The error could quote the key.
            _ => format!("{of_key}: not in the form PEM"),
        })?;
        let pair = CertifiedKey::from_der(chain, key, &default_provider());
        pair.map(Arc::new).map_err(|e| {
            format!("{of_key}: it is not the key of {}: {e}", self.certificate.display())
        })
    }
}

struct Now {
    seen: Contents,
    pair: Arc<CertifiedKey>,
}

/// The certificate that is shown.
pub struct Shown {
    files: Files,
    now: RwLock<Now>,
    keeping: Arc<Keeping>,
}

impl fmt::Debug for Shown {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Shown").field("certificate", &self.files.certificate).finish()
    }
}

impl ResolvesServerCert for Shown {
    fn resolve(&self, _: ClientHello) -> Option<Arc<CertifiedKey>> {
        Some(Arc::clone(&self.now.read().unwrap_or_else(PoisonError::into_inner).pair))
    }
}

impl Shown {
    /// How the server speaks: TLS 1.2, which older telephones need, and 1.3.
    ///
    /// # Errors
    /// When the library does not know these.
    pub fn config(self: &Arc<Self>) -> Result<ServerConfig, String> {
        let config = ServerConfig::builder_with_provider(Arc::new(default_provider()));
        let config = config.with_safe_default_protocol_versions().map_err(|e| e.to_string())?;
        let resolver: Arc<dyn ResolvesServerCert> = self.clone();
        Ok(config.with_no_client_auth().with_cert_resolver(resolver))
    }

    /// Looks at the files as long as the server runs. A pair that does not fit leaves the old one
    /// in use: it may be half written.
    pub async fn watch(self: Arc<Self>) {
        loop {
            actix_web::rt::time::sleep(LOOK).await;
            match self.renew() {
                Ok(false) => {}
                Ok(true) => tracing::warn!("a new certificate is shown from now on"),
                Err(error) => tracing::error!(error, "the old certificate stays in use"),
            }
        }
    }

    /// Takes what stands in the files, where it is new; whether it was. What was refused is not
    /// said a second time.
    fn renew(&self) -> Result<bool, String> {
        let read = self.files.read()?;
        let is_new = self.now.read().unwrap_or_else(PoisonError::into_inner).seen != read;
        if !is_new {
            return Ok(false);
        }
        let pair = self.files.pair(&read);
        let mut now = self.now.write().unwrap_or_else(PoisonError::into_inner);
        now.seen = read;
        now.pair = pair?;
        self.keeping.note_certificate(ends(&now.pair));
        Ok(true)
    }
}

/// When a certificate ends.
fn ends(pair: &CertifiedKey) -> Option<Instant> {
    pair.cert.first().and_then(|certificate| validity::not_after(certificate))
}
