//! How the server is, for whoever runs it.

use crate::wire::Time;
use serde::Serialize;
use utoipa::ToSchema;

choice! {
    /// Something that whoever runs the server should see to; the runbook says how.
    ServerWorry {
        Damaged = "damaged",
        DiskShort = "disk_short",
        BackupFailed = "backup_failed",
        BackupOld = "backup_old",
        BackupNone = "backup_none",
        FiguresFailed = "figures_failed",
        TextsWait = "texts_wait",
        CertificateEnds = "certificate_ends",
    }
}

choice! {
    /// Which database.
    DatabaseKind {
        Sqlite = "sqlite",
        Postgresql = "postgresql",
    }
}

choice! {
    /// What a disk holds.
    DiskHolds {
        Records = "records",
        Backups = "backups",
    }
}

/// The database.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct ServerDatabase {
    /// Which one.
    pub kind: DatabaseKind,
    /// Its own version.
    pub version: String,
    /// Last change of its tables.
    pub tables: String,
    /// Size, bytes.
    pub bytes: i64,
    /// When its pages were last looked at; PostgreSQL looks after its own.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub looked_at: Option<Time>,
    /// What was found wrong with them.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub damage: Option<String>,
}

/// A disk.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct ServerDisk {
    /// What it holds.
    pub holds: DiskHolds,
    /// Size, bytes.
    pub bytes: i64,
    /// Free for this server, bytes.
    pub free_bytes: i64,
    /// What should be free, bytes: room for copies of the database.
    pub needed_bytes: i64,
}

/// Backups.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct ServerBackups {
    /// Hours between two; none where this server makes none by itself.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub every_hours: Option<u16>,
    /// The last one that was made and checked.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub last_at: Option<Time>,
    /// When one failed, if none has been made since.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub failed_at: Option<Time>,
}

/// A carrier of text messages.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct ServerCarrier {
    /// Its name.
    #[schema(example = "office")]
    pub name: String,
    /// When it spoke last with this server, since that runs.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub heard_at: Option<Time>,
    /// Texts that it could fetch now.
    pub waiting: i64,
    /// Since when the oldest of them could have been fetched.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub waiting_since: Option<Time>,
}

/// How the server is.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, ToSchema)]
pub struct ServerState {
    /// Of which instant this is.
    pub at: Time,
    /// What should be seen to, the worst first.
    pub worries: Vec<ServerWorry>,
    /// Version of the program.
    pub version: String,
    /// Since when it runs.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub started_at: Option<Time>,
    /// Memory in use, bytes; none where the system does not say.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub memory_bytes: Option<i64>,
    /// Co-operatives whose figures could not be made the last time.
    pub figures_failed: i64,
    /// When the certificate ends that this server shows; none where it speaks no TLS itself.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub certificate_until: Option<Time>,
    /// The database.
    pub database: ServerDatabase,
    /// Disks that the server writes to.
    pub disks: Vec<ServerDisk>,
    /// Backups.
    pub backups: ServerBackups,
    /// Carriers of text messages.
    pub carriers: Vec<ServerCarrier>,
}
