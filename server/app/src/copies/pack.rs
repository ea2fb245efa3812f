//! Copies as files: compressed (RFC 1952), perhaps encrypted (age-encryption.org/v1).

use super::cannot;
use crate::error::AppError;
use flate2::Compression;
use flate2::read::GzDecoder;
use flate2::write::GzEncoder;
use sha2::{Digest as _, Sha256};
use std::fs::{File, OpenOptions};
use std::io::{self, BufReader, BufWriter, Read, Write};
use std::path::Path;
use std::str::FromStr as _;

/// Who can read an encrypted backup.
#[derive(Clone, Debug)]
pub struct Recipient(age::x25519::Recipient);

impl Recipient {
    /// Reads `age1…`.
    ///
    /// # Errors
    /// What to give.
    pub fn parse(text: &str) -> Result<Self, String> {
        let read = age::x25519::Recipient::from_str(text.trim());
        read.map(Self).map_err(|e| format!("give a recipient of age, which begins with age1: {e}"))
    }
}

/// The secret that opens an encrypted backup. Never shown.
#[derive(Clone)]
pub struct Identity(age::x25519::Identity);

impl Identity {
    /// Reads a file of age's identities: the first line that is one.
    ///
    /// # Errors
    /// What to give; never what the file holds.
    pub fn parse(text: &str) -> Result<Self, String> {
        let line = text.lines().map(str::trim).find(|l| l.starts_with("AGE-SECRET-KEY-"));
        let read = line.and_then(|line| age::x25519::Identity::from_str(line).ok());
        let wrong = "it holds no identity of age, a line that begins with AGE-SECRET-KEY-";
        read.map(Self).ok_or_else(|| wrong.to_owned())
    }
}

/// Bytes that go somewhere, counted and with their digest.
struct Counted<W> {
    to: W,
    hash: Sha256,
    bytes: u64,
}

impl<W: Write> Write for Counted<W> {
    fn write(&mut self, part: &[u8]) -> io::Result<usize> {
        let taken = self.to.write(part)?;
        self.hash.update(part.get(..taken).unwrap_or_default());
        self.bytes += u64::try_from(taken).unwrap_or(0);
        Ok(taken)
    }
    fn flush(&mut self) -> io::Result<()> {
        self.to.flush()
    }
}

fn counted<W: Write>(to: W) -> Counted<W> {
    Counted { to, hash: Sha256::new(), bytes: 0 }
}

/// Compresses a copy into a new file that only its owner can read, encrypts it where somebody is
/// named, and reads it back; its size.
///
/// # Errors
/// `Unavailable` when a file can not be read or written, or does not hold what was written.
pub fn pack(copy: &Path, to: &Path, recipient: Option<&Recipient>) -> Result<u64, AppError> {
    let failed = |e: io::Error| cannot(to, &e);
    let mut source = File::open(copy).map_err(|e| cannot(copy, &e))?;
    let mut plain = counted(io::sink());
    let mut file = counted(BufWriter::new(create(to).map_err(failed)?));
    match recipient {
        None => {
            let packer = GzEncoder::new(&mut file, Compression::default());
            squeeze(&mut source, packer, &mut plain).map_err(failed)?;
        }
        Some(Recipient(recipient)) => {
            let recipients = std::iter::once(recipient as &dyn age::Recipient);
            let cipher = age::Encryptor::with_recipients(recipients);
            let cipher = cipher.map_err(|e| AppError::Internal(e.to_string()))?;
            let cipher = cipher.wrap_output(&mut file).map_err(failed)?;
            let packer = GzEncoder::new(cipher, Compression::default());
            let cipher = squeeze(&mut source, packer, &mut plain).map_err(failed)?;
            cipher.finish().map_err(failed)?;
        }
    }
    file.flush().map_err(failed)?;
    file.to.get_ref().sync_all().map_err(failed)?;
    // What can be unpacked without a secret is; of the rest the bytes are compared.
    let mut back = counted(io::sink());
    let is_same = match recipient {
        None => {
            let read = BufReader::new(File::open(to).map_err(failed)?);
            io::copy(&mut GzDecoder::new(read), &mut back).map_err(failed)?;
            back.hash.finalize() == plain.hash.finalize()
        }
        Some(_) => {
            io::copy(&mut File::open(to).map_err(failed)?, &mut back).map_err(failed)?;
            back.hash.finalize() == file.hash.finalize()
        }
    };
    if !is_same {
        return Err(cannot(to, &"the disk gives back other bytes than were written"));
    }
    Ok(file.bytes)
}

fn squeeze<W: Write>(
    source: &mut File,
    mut packer: GzEncoder<W>,
    plain: &mut impl Write,
) -> io::Result<W> {
    let mut part = vec![0; 64 * 1024];
    loop {
        let read = source.read(&mut part)?;
        let part = part.get(..read).unwrap_or_default();
        if part.is_empty() {
            return packer.finish();
        }
        packer.write_all(part)?;
        plain.write_all(part)?;
    }
}

/// A new file that only its owner can read.
pub(crate) fn create(path: &Path) -> io::Result<File> {
    let mut options = OpenOptions::new();
    options.write(true).create_new(true);
    #[cfg(unix)]
    {
        use std::os::unix::fs::OpenOptionsExt as _;
        options.mode(0o600);
    }
    options.open(path)
}

/// The first bytes of an age file, a gzip file and a SQLite file.
const AGE: &[u8] = b"age-encryption.org/v1";
const GZIP: &[u8] = &[0x1f, 0x8b];
const SQLITE: &[u8] = b"SQLite format 3\0";

fn begins_with(path: &Path, wanted: &[u8]) -> io::Result<bool> {
    let mut first = vec![0; wanted.len()];
    match File::open(path)?.read_exact(&mut first) {
        Ok(()) => Ok(first == wanted),
        Err(e) if e.kind() == io::ErrorKind::UnexpectedEof => Ok(false),
        Err(e) => Err(e),
    }
}

/// Whether a file is a backup, and no database file that somebody copied.
///
/// # Errors
/// `Unavailable` when it can not be read.
pub fn is_packed(file: &Path) -> Result<bool, AppError> {
    begins_with(file, SQLITE).map(|is| !is).map_err(|e| cannot(file, &e))
}

/// Unpacks a backup into a new file; a plain SQLite file is copied.
///
/// # Errors
/// `Conflict` with code `not_a_backup` or `encrypted`, with what to do; `Unavailable` when a file
/// can not be read or written.
pub fn unpack_any(file: &Path, to: &Path, identity: Option<&Identity>) -> Result<(), AppError> {
    let failed = |e: io::Error| cannot(file, &e);
    let is = |wanted: &[u8]| begins_with(file, wanted).map_err(failed);
    let source = || Ok::<_, AppError>(BufReader::new(File::open(file).map_err(failed)?));
    let mut out = BufWriter::new(create(to).map_err(|e| cannot(to, &e))?);
    let broken = |e: io::Error| {
        let text = format!("{}: {e}; it is damaged: take another backup", file.display());
        AppError::conflict("not_a_backup", text)
    };
    if is(AGE)? {
        let text = "the backup is encrypted: give the file of your age identity with --identity";
        let Identity(identity) = identity.ok_or_else(|| AppError::conflict("encrypted", text))?;
        let wrong = |e: age::DecryptError| AppError::conflict("encrypted", e.to_string());
        let opened = age::Decryptor::new(source()?).map_err(wrong)?;
        let identities = std::iter::once(identity as &dyn age::Identity);
        let plain = opened.decrypt(identities).map_err(wrong)?;
        io::copy(&mut GzDecoder::new(plain), &mut out).map_err(broken)?;
    } else if is(GZIP)? {
        io::copy(&mut GzDecoder::new(source()?), &mut out).map_err(broken)?;
    } else if is(SQLITE)? {
        io::copy(&mut source()?, &mut out).map_err(broken)?;
    } else {
        let text = format!("{} is no backup of this program", file.display());
        return Err(AppError::conflict("not_a_backup", text));
    }
    out.flush().map_err(failed)?;
    out.get_ref().sync_all().map_err(failed)
}

/// Unpacks a backup into a new file that only its owner can read.
///
/// # Errors
/// As [`unpack_any`]; `Conflict` where it holds no database.
pub fn unpack(file: &Path, to: &Path, identity: Option<&Identity>) -> Result<(), AppError> {
    unpack_any(file, to, identity)?;
    let failed = |e: io::Error| cannot(file, &e);
    if !begins_with(to, SQLITE).map_err(failed)? {
        let text = format!("{} holds no database of this program", file.display());
        return Err(AppError::conflict("not_a_backup", text));
    }
    Ok(())
}
