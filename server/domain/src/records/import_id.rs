//! Ids made from what a record says, so that importing the same row twice finds the same record.

use sha2::{Digest, Sha256};
use uuid::Uuid;

/// A UUIDv7 (RFC 9562) whose time is `at_ms` and whose other bits come from the key.
///
/// The same co-operative, kind and key always give the same id; two keys meet with the
/// probability of 74 random bits.
#[must_use]
pub fn import_id(cooperative: &str, kind: &str, key: &str, at_ms: i64) -> Uuid {
    let mut hash = Sha256::new();
    for part in [cooperative, kind, key] {
        hash.update(u64::try_from(part.len()).unwrap_or(0).to_be_bytes());
        hash.update(part.as_bytes());
    }
    let digest = hash.finalize();
    let mut random = [0_u8; 10];
    for (to, from) in random.iter_mut().zip(digest.iter()) {
        *to = *from;
    }
    let millis = u64::try_from(at_ms.max(0)).unwrap_or(0);
    uuid::Builder::from_unix_timestamp_millis(millis, &random).into_uuid()
}

/// Milliseconds inside a UUIDv7; `None` for other versions.
#[must_use]
pub fn v7_millis(id: Uuid) -> Option<i64> {
    if id.get_version_num() != 7 || id.get_variant() != uuid::Variant::RFC4122 {
        return None;
    }
    let (high, low, _, _) = id.as_fields();
    i64::try_from((u64::from(high) << 16) | u64::from(low)).ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn import_id_is_a_v7_that_repeats_and_keeps_its_time() {
        let id = import_id("c", "milk_record", "a|b", 1_770_000_000_123);
        assert_eq!(id, import_id("c", "milk_record", "a|b", 1_770_000_000_123));
        assert_ne!(id, import_id("c", "milk_record", "a|c", 1_770_000_000_123));
        assert_ne!(id, import_id("cm", "ilk_record", "a|b", 1_770_000_000_123));
        assert_eq!(v7_millis(id), Some(1_770_000_000_123));
        assert_eq!(v7_millis(Uuid::nil()), None);
    }

    #[test]
    fn v7_millis_reads_the_example_of_the_standard() {
        // RFC 9562 appendix A.6: 017F22E2-79B0-7CC3-98C4-DC0C0C07398F is 2022-02-22T19:22:22Z.
        let id = Uuid::parse_str("017F22E2-79B0-7CC3-98C4-DC0C0C07398F").expect("uuid");
        assert_eq!(v7_millis(id), Some(0x017F_22E2_79B0));
    }
}
