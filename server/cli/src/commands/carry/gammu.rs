//! A folder of gammu-smsd with `service = files` (its manual: "Files backend").
//!
//! A text that came lies in `inbox` as `IN<date>_<time>_<serial>_<sender>_<part>.txt`; one to be
//! sent is moved into `outbox` as `OUTC<date>_<time>_<serial>_<recipient>_<note>.txt`, and lies in
//! `sent` or `error` afterwards. The note is the id of the text, so that none is handed over twice.

use super::door::{Door, Taken};
use super::with;
use chrono::NaiveDateTime;
use serde_json::json;
use sha2::{Digest as _, Sha256};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

/// Texts that are fetched at once: a modem sends one in some seconds.
const LEASE: usize = 10;

/// One round over the folder.
pub fn round(door: &Door, folder: &Path) -> Result<(), String> {
    take_inbox(door, &folder.join("inbox"))?;
    settle(door, folder)?;
    for out in door.lease(LEASE)? {
        // Leased again, since the modem has not come to it yet: it lies there still.
        if !files(&folder.join("outbox"))?.iter().any(|f| name(f).contains(&out.id)) {
            put(&folder.join("outbox"), &out.id, &out.to, &out.text)?;
        }
    }
    Ok(())
}

/// A text's parts have all of its name but the last number in common.
#[derive(PartialEq, Eq, PartialOrd, Ord)]
struct Came {
    at: String,
    serial: String,
    sender: String,
}

fn take_inbox(door: &Door, inbox: &Path) -> Result<(), String> {
    let mut all: BTreeMap<Came, Vec<(u32, PathBuf)>> = BTreeMap::new();
    for path in files(inbox)? {
        if let Some((came, part)) = came(&name(&path)) {
            all.entry(came).or_default().push((part, path));
        }
    }
    for (came, mut parts) in all {
        parts.sort();
        let mut text = String::new();
        for (_, path) in &parts {
            text.push_str(&decode(&std::fs::read(path).map_err(with(path))?));
        }
        let at = NaiveDateTime::parse_from_str(&came.at, "%Y%m%d_%H%M%S").ok();
        let sent_at = at.map(|at| at.format("%Y-%m-%dT%H:%M:%SZ").to_string());
        let body = json!({
            "id": id(&came, &text), "from": came.sender, "text": text, "sent_at": sent_at,
        });
        match door.take(&body)? {
            Taken::Yes => {
                for (_, path) in &parts {
                    std::fs::remove_file(path).map_err(with(path))?;
                }
            }
            Taken::Never(why) => {
                for (_, path) in &parts {
                    tracing::warn!(file = name(path), why, "a text can not be taken");
                    let aside = path.with_extension("refused");
                    std::fs::rename(path, &aside).map_err(with(path))?;
                }
            }
        }
    }
    Ok(())
}

/// What a name in the inbox says.
fn came(name: &str) -> Option<(Came, u32)> {
    let stem = name.strip_prefix("IN")?.strip_suffix(".txt")?;
    let mut parts = stem.split('_');
    let (date, time, serial) = (parts.next()?, parts.next()?, parts.next()?);
    let rest: Vec<&str> = parts.collect();
    let (part, sender) = rest.split_last()?;
    let (at, serial) = (format!("{date}_{time}"), serial.to_owned());
    Some((Came { at, serial, sender: sender.join("_") }, part.parse().ok()?))
}

/// A text that is read twice after a crash has another serial: it is told by sender, time and words.
fn id(came: &Came, text: &str) -> String {
    let mut hash = Sha256::new();
    for part in [came.sender.as_str(), came.at.as_str(), text] {
        hash.update(part.len().to_be_bytes());
        hash.update(part.as_bytes());
    }
    hash.finalize().iter().take(16).map(|b| format!("{b:02x}")).collect()
}

/// UTF-16 where it says so in front, else UTF-8.
fn decode(bytes: &[u8]) -> String {
    let wide = |bytes: &[u8], of: fn([u8; 2]) -> u16| {
        let (pairs, _) = bytes.as_chunks::<2>();
        let units: Vec<u16> = pairs.iter().map(|pair| of(*pair)).collect();
        String::from_utf16_lossy(&units)
    };
    match bytes {
        [0xfe, 0xff, rest @ ..] => wide(rest, u16::from_be_bytes),
        [0xff, 0xfe, rest @ ..] => wide(rest, u16::from_le_bytes),
        [0xef, 0xbb, 0xbf, rest @ ..] => String::from_utf8_lossy(rest).into_owned(),
        other => String::from_utf8_lossy(other).into_owned(),
    }
}

/// What lies in `sent` and `error` with an id of ours.
fn settle(door: &Door, folder: &Path) -> Result<(), String> {
    for (place, state) in [("sent", "sent"), ("error", "failed")] {
        let mut done = Vec::new();
        for path in files(&folder.join(place))? {
            if let Some(id) = id_of(&name(&path)) {
                done.push((id, path));
            }
        }
        for part in done.chunks(50) {
            let items: Vec<(String, &str)> =
                part.iter().map(|(id, _)| (id.clone(), state)).collect();
            door.settle(&items)?;
            for (_, path) in part {
                std::fs::remove_file(path).map_err(with(path))?;
            }
        }
    }
    Ok(())
}

/// The id in the name of a file that we wrote.
fn id_of(name: &str) -> Option<String> {
    let stem = name.strip_prefix("OUT")?.split('.').next()?;
    let id = stem.rsplit('_').next()?;
    uuid::Uuid::try_parse(id).ok().map(|id| id.to_string())
}

/// Writes a text beside the outbox and moves it in: gammu-smsd never reads half of it.
fn put(outbox: &Path, id: &str, to: &str, text: &str) -> Result<(), String> {
    let name = format!("OUTC20000101_000000_00_{to}_{id}.txt");
    let beside = outbox.with_file_name(format!(".{id}"));
    std::fs::write(&beside, text).map_err(with(&beside))?;
    let to = outbox.join(name);
    std::fs::rename(&beside, &to).map_err(with(&to))
}

fn files(folder: &Path) -> Result<Vec<PathBuf>, String> {
    let entries = std::fs::read_dir(folder).map_err(with(folder))?;
    let mut all: Vec<PathBuf> =
        entries.flatten().map(|e| e.path()).filter(|p| p.is_file()).collect();
    all.sort();
    Ok(all)
}

fn name(path: &Path) -> String {
    path.file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_of_the_inbox_are_read() {
        let (found, part) = came("IN20261129_010500_00_+255700000101_01.txt").expect("a text");
        assert_eq!(
            (found.at.as_str(), found.sender.as_str()),
            ("20261129_010500", "+255700000101")
        );
        assert_eq!(part, 1);
        let twin = came("IN20261129_010500_01_+255700000101_01.txt").expect("a text").0;
        assert_eq!(id(&found, "maziwa 12"), id(&twin, "maziwa 12"));
        assert_ne!(id(&found, "maziwa 12"), id(&found, "maziwa 13"));
        for other in ["IN2026.txt", "x.txt", "IN20261129_010500_00_+255700000101_01.refused"] {
            assert!(came(other).is_none(), "{other}");
        }
    }

    #[test]
    fn texts_are_decoded_as_their_first_bytes_say() {
        assert_eq!(decode(b"maziwa 12"), "maziwa 12");
        assert_eq!(decode(&[0xfe, 0xff, 0, b'4', 0, 0xbd]), "4½");
        assert_eq!(decode(&[0xff, 0xfe, b'4', 0]), "4");
        let id = "01960000-0000-7000-8000-000000000001";
        let name = format!("OUTC20000101_000000_00_+255700000101_{id}.txt");
        assert_eq!(id_of(&name).as_deref(), Some(id));
        assert_eq!(id_of("OUTC20000101_000000_00_+255700000101_hello.txt"), None);
    }
}
