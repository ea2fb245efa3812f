//! Every limit of the system, one constant a line, with unit and reason.

use crate::people::authz::Role;

/// Largest JSON body of an ordinary request, bytes: a visit with long notes stays far below.
pub const BODY_BYTES_MAX: usize = 256 * 1024;
/// Seconds that a body has before it must have come at a least rate.
pub const BODY_GRACE_S: u64 = 20;
/// The least rate of a body, bytes a second: a weak telephone network sends twice as much.
pub const BODY_BYTES_A_SECOND_MIN: u64 = 2 * 1024;
/// Connections that one address (of IPv6 one network) may hold: an office of forty browsers.
pub const CONNECTIONS_BY_ADDRESS: usize = 256;
/// Descriptors that a server keeps for files and databases; the others are for connections.
pub const DESCRIPTORS_KEPT: u64 = 256;
/// Largest body of one sync call, bytes: 5,000 mutations of about 1.6 KB.
pub const SYNC_BODY_BYTES_MAX: usize = 8 * 1024 * 1024;
/// Mutations in one sync call: a phone that was a season without signal.
pub const SYNC_MUTATIONS_MAX: usize = 5_000;
/// Days for which a device keeps what it has sent, so that it can send it again after a restore: a
/// backup is seldom older.
pub const SENT_KEPT_DAYS: i64 = 14;
/// Bytes of an embedded database whose pages are looked at before the server listens: a second of
/// reading. A larger one is looked at meanwhile.
pub const PAGES_FIRST_BYTES: u64 = 256 * 1024 * 1024;
/// Seconds between two looks at the database's pages.
pub const PAGES_LOOK_S: u64 = 24 * 60 * 60;
/// Seconds for which PostgreSQL may be silent before a request is answered with 503.
pub const SILENCE_S: u64 = 8;
/// The same of work that nobody waits for: making figures, commands.
pub const SILENCE_PATIENT_S: u64 = 600;
/// Copies of an embedded database that are kept beside it from before its tables were changed.
pub const COPIES_BEFORE_MAX: usize = 3;
/// Largest photo, bytes: what a mid-range phone makes after shrinking, with room.
pub const PHOTO_BYTES_MAX: usize = 5 * 1024 * 1024;
/// Points of a photo: shown, one takes four bytes of a telephone's memory. The best telephones make 50
/// million.
pub const PHOTO_PIXELS_MAX: u64 = 50_000_000;
/// Points of a photo along one side.
pub const PHOTO_SIDE_MAX: u32 = 16_000;
/// Largest CSV file, bytes: about two million rows.
pub const CSV_BYTES_MAX: u64 = 256 * 1024 * 1024;
/// Cells of a file that is read on this machine: two million rows of thirty columns.
pub const IMPORT_CELLS_MAX: usize = 60_000_000;
/// Cells of a file that comes with a form: they take about 50 bytes of memory each.
pub const FORM_CELLS_MAX: usize = 1_500_000;
/// Imports that are looked through at one time: each has a connection and tables of its own.
pub const PREVIEWS_AT_ONCE: usize = 2;
/// Bad rows reported for one CSV file; the rest is counted.
pub const CSV_ERRORS_MAX: usize = 1_000;
/// Page size when none is asked for.
pub const PAGE_DEFAULT: usize = 50;
/// Largest page.
pub const PAGE_MAX: usize = 200;
/// Entries in one answer of the change feed.
pub const CHANGES_PAGE_MAX: usize = 1_000;
/// How far ahead of the server a device's clock may be, milliseconds.
pub const CLOCK_SKEW_MS_MAX: i64 = 10 * 60 * 1000;
/// How far in the future the time inside a client-made id may lie, milliseconds.
pub const ID_SKEW_MS_MAX: i64 = 24 * 60 * 60 * 1000;
/// Earliest day a record may carry.
pub const YEAR_MIN: i32 = 1950;
/// Life of an access token, seconds.
pub const ACCESS_TOKEN_S: i64 = 15 * 60;
/// Life of a refresh token, seconds: an officer's fortnight without signal, twice.
pub const REFRESH_TOKEN_S: i64 = 30 * 24 * 60 * 60;
/// How long a refresh token that was exchanged may come once more, milliseconds: the answer was lost
/// on a bad network, and the device asks again.
pub const REFRESH_GRACE_MS: i64 = 60 * 1000;
/// Life of an invitation or reset code, seconds.
pub const INVITATION_S: i64 = 7 * 24 * 60 * 60;
/// Failed sign-ins of one account, address, known device or tried secret before it must wait.
pub const SIGN_IN_FAILURES_MAX: u32 = 10;
/// Window in which failed sign-ins count, milliseconds.
pub const SIGN_IN_WINDOW_MS: i64 = 15 * 60 * 1000;
/// Shortest password, characters (NIST SP 800-63B-4 asks for at least 15 as a single factor and 8
/// beside another; 10 is the co-operatives' compromise for feature phones, throttled hard).
pub const PASSWORD_CHARS_MIN: usize = 10;
/// Failed sign-ins with a PIN from devices that are not known, over all accounts of an installation,
/// before further ones must wait: many addresses that try many PINs with many accounts.
pub const PIN_FAILURES_MAX: u32 = 100;
/// Keys of failed sign-ins that are kept: about 15 MB.
pub const SIGN_IN_KEYS_MAX: i64 = 100_000;
/// How long a device that has signed in is known, milliseconds: a season without signing in anew.
pub const DEVICE_KNOWN_MS: i64 = 180 * 24 * 60 * 60 * 1000;
/// People who may sign in from one browser and be known: a telephone in the family.
pub const DEVICE_PEOPLE_MAX: usize = 5;
/// Shortest PIN, digits. Members alone may take one, who type it on a telephone's keys and reach
/// their own farm only.
pub const PIN_DIGITS_MIN: usize = 6;
/// PINs of the shortest length that are not refused as guessed first, at least.
pub const PINS_LEFT: i64 = 790_000;
/// Days until whoever guesses at one member's PIN without a pause has even odds, from any number of
/// addresses: half of the PINs, so many tries a window.
pub const PIN_DAYS_ONE: i64 = PINS_LEFT / 2 / (SIGN_IN_FAILURES_MAX as i64 * WINDOWS_A_DAY);
/// Days until whoever guesses at all members has even odds to open any one account: ln 2 times the
/// PINs, so many tries a window.
pub const PIN_DAYS_ANY: i64 = PINS_LEFT * 693 / 1000 / (PIN_FAILURES_MAX as i64 * WINDOWS_A_DAY);
const WINDOWS_A_DAY: i64 = 24 * 60 * 60 * 1000 / SIGN_IN_WINDOW_MS;
/// Longest PIN, digits; what is longer is a password.
pub const PIN_DIGITS_MAX: usize = 9;
/// Longest password, characters.
pub const PASSWORD_CHARS_MAX: usize = 128;
/// How long a proof of the second factor holds for what asks for it once more, milliseconds.
pub const PROOF_MS: i64 = 10 * 60 * 1000;
/// Passkeys of one person: telephone, computer and a key or two.
pub const PASSKEYS_MAX: usize = 10;
/// How long a passkey may take to answer, milliseconds (what W3C, Web Authentication, 15.1 recommends
/// where the person is verified: five minutes).
pub const PASSKEY_MS: i64 = 5 * 60 * 1000;
/// Questions to passkeys that wait of one person: a few open pages.
pub const PASSKEY_QUESTIONS_MAX: usize = 5;
/// Longest name of a passkey, characters.
pub const PASSKEY_NAME_MAX: usize = 60;
/// Longest answer of a passkey, bytes: some say with it which maker's they are.
pub const PASSKEY_ANSWER_BYTES_MAX: usize = 32 * 1024;
/// How exactly it is kept when a sign-in was seen last, milliseconds.
pub const SEEN_STEP_MS: i64 = 10 * 60 * 1000;
/// How long a sign-in of those who run a co-operative may rest: over a weekend.
const OFFICE_IDLE_MS: i64 = 3 * DAY_MS;
/// How long it holds at all.
const OFFICE_WHOLE_MS: i64 = 14 * DAY_MS;
/// How long a sign-in of everybody else may rest: a month without signal.
const FIELD_IDLE_MS: i64 = 30 * DAY_MS;
/// How long it holds at all: half a year.
const FIELD_WHOLE_MS: i64 = 182 * DAY_MS;
const DAY_MS: i64 = 24 * 60 * 60 * 1000;

/// How long a role's sign-in may rest, and how long it holds at all, milliseconds.
#[must_use]
pub const fn session_ms(role: Role) -> (i64, i64) {
    match role {
        Role::Operator | Role::Manager => (OFFICE_IDLE_MS, OFFICE_WHOLE_MS),
        Role::Officer | Role::Member | Role::ProgrammeReader => (FIELD_IDLE_MS, FIELD_WHOLE_MS),
    }
}

/// How long lines of the security log are kept, milliseconds: a year and a month, so that a yearly
/// look sees all of the year.
pub const SECURITY_LOG_MS: i64 = 400 * 24 * 60 * 60 * 1000;
/// Lines of one chain of the security log: what guessers can add must not fill the disk. About
/// 300 MB; an office of a hundred people adds a tenth of it in the time that lines are kept.
pub const SECURITY_LINES_MAX: i64 = 1_000_000;
/// Guesses that a password must be expected to take: the list of common ones and what is made of it
/// by case, digits and signs lies below.
pub const PASSWORD_GUESSES_MIN: u64 = 100_000_000;
/// Passwords that may wait to be hashed, for each of the two threads that do it; each takes about
/// 50 ms. Beyond it the answer is 429.
pub const PASSWORD_QUEUE_MAX: usize = 64;
/// Seconds after which somebody whose password could not be hashed may try again.
pub const PASSWORD_BUSY_S: u32 = 5;
/// Writes that may wait for the one SQLite writer; beyond it the answer is 503.
pub const WRITE_QUEUE_MAX: usize = 1_024;
/// Writes that one SQLite transaction commits together.
pub const GROUP_COMMIT_MAX: usize = 256;
/// The part of the places to write that one co-operative may have: a quarter.
pub const SHARE: usize = 4;
/// Farms kept in memory between reads, of all co-operatives; about 500 bytes each.
pub const FARMS_KEPT_MAX: usize = 40_000;
/// Changes of a queue, or rows of a file, that are written at once; more are written in slices, and
/// others have their turn between.
pub const SLICE: usize = 200;
/// Milliseconds after which a slice ends while others of the same program wait to write.
pub const SLICE_MS: u64 = 25;
/// The same while nobody is seen to wait. Another program that writes the same file is not seen.
pub const SLICE_ALONE_MS: u64 = 60;
/// Changes or rows of a slice at the most.
pub const SLICE_MAX: usize = 5_000;
/// Seconds that a large write waits for another one of its co-operative.
pub const LARGE_WAIT_S: u64 = 20;
/// Imports, workbooks and totals that one person may have under way.
pub const COSTLY_AT_ONCE: usize = 2;
/// Times a PostgreSQL transaction is tried when another one is in its way.
pub const PG_TRIES_MAX: u32 = 5;
/// Head of animals in one record.
pub const HEAD_MAX: i64 = 1_000_000;
/// Mass in one record, grams (1,000 t).
pub const GRAMS_MAX: i64 = 1_000_000_000;
/// Milk in one record, millilitres (100,000 l).
pub const MILLILITRES_MAX: i64 = 100_000_000;
/// Money in one record, minor units.
pub const MONEY_MINOR_MAX: i64 = 100_000_000_000_000;
/// Trays in one record or shed.
pub const TRAYS_MAX: i64 = 100_000;
/// Waterings in a day.
pub const WATERINGS_MAX: i64 = 12;
/// Depth of the tree of areas.
pub const AREA_DEPTH_MAX: usize = 8;
/// Days ahead that a work list can be asked for: two months are planned with some sense.
pub const WORK_DAYS_AHEAD_MAX: i64 = 60;
/// Days on one printed work sheet: a fortnight on the wall.
pub const SHEET_DAYS_MAX: u64 = 14;
/// Days of one farm's plan: half a year.
pub const PLAN_DAYS_MAX: usize = 184;
/// Weeks of a seed forecast: a season's purchase.
pub const FORECAST_WEEKS_MAX: usize = 12;
/// Calendar addresses of one farm that were not revoked: a few people, a few devices.
pub const CALENDAR_LINKS_MAX: usize = 10;
/// Most of a form that waits for signing in again, bytes: written into an address's text it is up to
/// three times as long, and has to fit into an ordinary body with the sign-in.
pub const KEPT_FORM_BYTES_MAX: usize = 64 * 1024;
/// Largest form with files, bytes: a handful of photos that no script has shrunk, or a large CSV.
pub const FORM_BYTES_MAX: usize = 24 * 1024 * 1024;
/// Fields and files of one form with files.
pub const FORM_PARTS_MAX: usize = 400;
/// Longest address that a form may lead back to, bytes.
pub const ADDRESS_BYTES_MAX: usize = 500;
/// Figures of a new day are made where somebody was signed in or sent a text within this time,
/// milliseconds: 14 days. Whoever comes later finds them a minute after.
pub const ASKED_WITHIN_MS: i64 = 14 * 24 * 3_600_000;
/// How long the feed keeps lines that were replaced or withdrawn, milliseconds: 90 days at least. A
/// device that was away longer reads from the start.
pub const FEED_KEPT_MS: i64 = 90 * 24 * 3_600_000;
/// Days for which replaced versions stay in the database at least.
pub const HISTORY_KEPT_DAYS: i64 = 366;
/// Co-operatives whose feed forgets in one round.
pub const FEEDS_AT_ONCE: i64 = 100;
/// How long files that were looked through wait to be taken, milliseconds: half an hour to read
/// what is wrong with them.
pub const IMPORT_WAITS_MS: i64 = 30 * 60 * 1000;
/// People of a co-operative whose files may wait at one time.
pub const IMPORTS_WAITING_MAX: i64 = 8;
/// Months of totals and indicators that one page or file holds.
pub const TOTALS_MONTHS_MAX: i64 = 12;
/// Months in one workbook of savings reports: three years, as a board compares them.
pub const WORKBOOK_MONTHS_MAX: i64 = 36;
/// Workbooks and PDFs made at one time: a large workbook takes a few hundred megabytes.
pub const DOCUMENTS_AT_ONCE: usize = 2;
/// Open wishes for corrections in one answer: more than officers answer in months.
pub const WISHES_MAX: usize = 2_000;
/// Months of one farm in one answer: three years, as a chart shows them.
pub const FARM_MONTHS_MAX: i32 = 36;
/// Milliseconds between two makings of a co-operative's figures: they are looked at by people.
pub const MAKING_PAUSE_MS: i64 = 60_000;

/// After a making a co-operative rests this many times as long as the making took, so that one
/// large co-operative does not keep a processor busy.
pub const MAKING_REST: i64 = 20;

/// Milliseconds that whoever makes a co-operative's figures has for it; then another server may.
pub const MAKING_LEASE_MS: i64 = 600_000;

/// Co-operatives whose figures are made in one round.
pub const MAKINGS_AT_ONCE: i64 = 64;

/// Milliseconds between two looks for figures that are due.
pub const MAKING_LOOK_MS: u64 = 2_000;

/// Bytes of the boards of today that a server keeps in memory, estimated: a co-operative of 10,000
/// farms takes about 60 MB, one of 200 about 1 MB.
pub const BOARDS_BYTES_MAX: usize = 48_000_000;

/// Days after which seed that is owed for counts as old, and as very old. *Common practice, no
/// source.* The answers of the interface name them.
pub const OWED_DAYS: [u64; 2] = [30, 90];

/// Names in one list of the board's paper: with all lists it stays within four pages.
pub const BOARD_NAMES_MAX: usize = 6;

/// Bytes of the savings reports of months that a server keeps in memory, estimated: one of
/// 10,000 farms takes about 20 MB.
pub const REPORTS_BYTES_MAX: usize = 24_000_000;

/// Milk (or egg) records of one group on one day: two milkings, a few corrections that came as new
/// records, and room. Without a bound one person could make every change of a day slow.
pub const DAY_RECORDS_MAX: usize = 40;

/// Bytes that must be free on a disk with records or backups, however small the database is.
pub const DISK_FREE_MIN: i64 = 256 * 1024 * 1024;
/// Room that must be free there, in sizes of the database: a backup and a new version each write a
/// copy of all of it first.
pub const DISK_FREE_DATABASES: i64 = 2;

/// Pauses between two backups after which the last one counts as old: one may fail.
pub const BACKUP_OLD_PAUSES: i64 = 2;

/// Milliseconds for which a text may wait for its carrier before that is said: a modem sends some
/// texts a minute, so a quarter of an hour is more than a queue.
pub const TEXTS_WAIT_MS: i64 = 15 * 60_000;

/// Milliseconds before the end of a certificate from which on that is said: three weeks.
pub const CERTIFICATE_ENDS_MS: i64 = 21 * 86_400_000;
