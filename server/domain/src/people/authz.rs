//! Who may do what: a pure table, printed to an expected file that a reviewer reads.

use crate::kind::Kind;

/// Role names as they stand in records.
pub const ROLES: &[&str] = &["operator", "manager", "officer", "member", "programme_reader"];

/// What a person does in a co-operative.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Role {
    /// Runs the machine: co-operatives and people, no farm data.
    Operator,
    /// Runs the co-operative.
    Manager,
    /// Visits farms in assigned areas.
    Officer,
    /// Owns farms.
    Member,
    /// Reads totals only.
    ProgrammeReader,
}

impl Role {
    /// All roles.
    pub const ALL: [Self; 5] =
        [Self::Operator, Self::Manager, Self::Officer, Self::Member, Self::ProgrammeReader];

    #[must_use]
    pub fn parse(text: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|r| r.text() == text)
    }

    #[must_use]
    pub const fn text(self) -> &'static str {
        match self {
            Self::Operator => "operator",
            Self::Manager => "manager",
            Self::Officer => "officer",
            Self::Member => "member",
            Self::ProgrammeReader => "programme_reader",
        }
    }
}

/// What can be done with records of a kind.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Action {
    /// List, get, history, change feed.
    Read,
    /// Make a new one.
    Create,
    Correct,
    Withdraw,
}

impl Action {
    /// All actions.
    pub const ALL: [Self; 4] = [Self::Read, Self::Create, Self::Correct, Self::Withdraw];

    #[must_use]
    pub const fn text(self) -> &'static str {
        match self {
            Self::Read => "read",
            Self::Create => "create",
            Self::Correct => "correct",
            Self::Withdraw => "withdraw",
        }
    }
}

/// What can be done besides the work on single records.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Task {
    /// Read the savings report.
    SavingsReport,
    /// Read the estimates: output change, spoilage, seed lots.
    Estimates,
    /// Ask what feeds are worth: prices of nutrients, mixes, break-even.
    Rations,
    CloseMonth,
    /// Read totals over co-operatives.
    ProgrammeTotals,
    /// Read seed stock and its movements.
    SeedStock,
    /// Send queued changes.
    Sync,
    /// Read the change feed.
    Changes,
    /// Invite a person to set a password.
    Invite,
    /// Read the growing guide in force.
    GrowingGuide,
    /// Read plans and work lists, record work as done, subscribe to a farm's calendar.
    Work,
    /// Read how much seed the plans will take, and what to buy.
    SeedForecast,
    /// Read seed accounts.
    SeedAccounts,
    /// Trace seed from a lot to the animals, and back from a batch.
    SeedTrace,
    /// Compare suppliers of seed, with what was paid them.
    SupplierComparison,
    /// Read the review list.
    Review,
    /// Take files of records.
    Import,
    /// Take back a batch with everything recorded of it.
    TakeBackBatch,
    /// Choose the language of the own pages.
    ChooseLanguage,
    /// Get a copy of all that is held about a member.
    PersonalCopy,
    /// Erase what is personal of a member who left.
    EraseMember,
    /// Read the security log of the co-operative.
    SecurityLog,
    /// Read how the server is: health, disk, backups, versions.
    Server,
    /// Link telephone numbers of members, and end that.
    TextNumbers,
}

impl Task {
    /// All tasks.
    pub const ALL: [Self; 24] = [
        Self::SavingsReport,
        Self::Estimates,
        Self::Rations,
        Self::CloseMonth,
        Self::ProgrammeTotals,
        Self::SeedStock,
        Self::Sync,
        Self::Changes,
        Self::Invite,
        Self::GrowingGuide,
        Self::Work,
        Self::SeedForecast,
        Self::SeedAccounts,
        Self::SeedTrace,
        Self::SupplierComparison,
        Self::Review,
        Self::Import,
        Self::TakeBackBatch,
        Self::ChooseLanguage,
        Self::PersonalCopy,
        Self::EraseMember,
        Self::SecurityLog,
        Self::Server,
        Self::TextNumbers,
    ];

    #[must_use]
    pub const fn text(self) -> &'static str {
        match self {
            Self::SavingsReport => "savings_report",
            Self::Estimates => "estimates",
            Self::Rations => "rations",
            Self::CloseMonth => "close_month",
            Self::ProgrammeTotals => "programme_totals",
            Self::SeedStock => "seed_stock",
            Self::Sync => "sync",
            Self::Changes => "changes",
            Self::Invite => "invite",
            Self::GrowingGuide => "growing_guide",
            Self::Work => "work",
            Self::SeedForecast => "seed_forecast",
            Self::SeedAccounts => "seed_accounts",
            Self::SeedTrace => "seed_trace",
            Self::SupplierComparison => "supplier_comparison",
            Self::Review => "review",
            Self::Import => "import",
            Self::TakeBackBatch => "take_back_batch",
            Self::ChooseLanguage => "choose_language",
            Self::PersonalCopy => "personal_copy",
            Self::EraseMember => "erase_member",
            Self::SecurityLog => "security_log",
            Self::Server => "server",
            Self::TextNumbers => "text_numbers",
        }
    }
}

/// How far a permission reaches.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Reach {
    /// Nowhere.
    None,
    /// The member's own farms.
    Own,
    /// The officer's areas.
    Areas,
    /// The whole co-operative.
    All,
}

impl Reach {
    #[must_use]
    pub const fn text(self) -> &'static str {
        match self {
            Self::None => "-",
            Self::Own => "own",
            Self::Areas => "areas",
            Self::All => "all",
        }
    }
}

/// How kinds of record are handled alike.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Group {
    /// The co-operative record.
    Root,
    /// Set up by managers, read by all who work with records.
    Setup,
    /// People and officers' areas.
    People,
    /// Members and farms: the officer's register.
    Register,
    /// What a farm records of itself.
    Daily,
    /// Seed in the co-operative's hands.
    Store,
    /// Seed given to a farm, and what was paid for it.
    Issues,
    /// Holds on seed lots: everybody must know of them.
    Holds,
    /// Findings of the review list that were accepted.
    Reviews,
    /// The officer's work.
    Visits,
    Trainings,
    /// Who came to trainings.
    Attendances,
    Flags,
    /// What members ask to have put right.
    Requests,
    /// Places of farms in trials.
    Trials,
}

const fn group(kind: Kind) -> Group {
    match kind {
        Kind::Cooperative => Group::Root,
        Kind::Area | Kind::GrowingGuideValue | Kind::ChecklistItem | Kind::Feed => Group::Setup,
        Kind::Supplier | Kind::SeedLot | Kind::StartPlan => Group::Setup,
        Kind::Person | Kind::OfficerArea => Group::People,
        Kind::Member | Kind::Farm | Kind::Shed | Kind::AnimalGroup | Kind::BaselineRation => {
            Group::Register
        }
        Kind::HeadCount | Kind::Batch | Kind::BatchEvent | Kind::MilkRecord => Group::Daily,
        Kind::EggRecord | Kind::FeedPurchase | Kind::FeedCount | Kind::OtherCost => Group::Daily,
        Kind::Asset | Kind::Reading | Kind::Photo => Group::Daily,
        Kind::FodderPlan | Kind::PlannedHead | Kind::RestDay | Kind::GrowingPause => Group::Daily,
        Kind::WorkRecord => Group::Daily,
        Kind::SeedPurchase | Kind::SeedAdjustment => Group::Store,
        Kind::LotHold => Group::Holds,
        Kind::SeedIssue | Kind::SeedPayment | Kind::Deduction => Group::Issues,
        Kind::ReviewAcceptance => Group::Reviews,
        Kind::Visit | Kind::VisitPlan | Kind::VisitCheck | Kind::FollowUp => Group::Visits,
        Kind::Training => Group::Trainings,
        Kind::Attendance => Group::Attendances,
        Kind::Flag => Group::Flags,
        Kind::CorrectionRequest => Group::Requests,
        Kind::StartPlace | Kind::OnOffPlan => Group::Trials,
    }
}

/// How far a role may do an action on records of a kind. What is not listed is denied.
#[must_use]
pub const fn reach(role: Role, action: Action, kind: Kind) -> Reach {
    use Action::{Correct, Create, Read, Withdraw};
    use Role::{Manager, Member, Officer, Operator, ProgrammeReader};
    match (role, group(kind), action) {
        (Operator | Manager, Group::Root, Read | Correct) => Reach::All,
        (Operator, Group::Root, Create) => Reach::All,
        (Officer | Member | ProgrammeReader, Group::Root, Read) => Reach::All,
        (Operator | Manager, Group::People, _) => Reach::All,
        (Manager, Group::Root, _) => Reach::None,
        (Manager, _, _) => Reach::All,
        (Officer, Group::Trials, Read) => Reach::Areas,
        (Member, Group::Trials, Read) => Reach::Own,
        (Operator | Officer | Member, Group::Setup | Group::Holds, Read) => Reach::All,
        (Officer, Group::Holds, Create) => Reach::All,
        (Officer, Group::Register, Read | Create | Correct) => Reach::Areas,
        (Officer, Group::Daily | Group::Visits | Group::Attendances, _) => Reach::Areas,
        (Officer, Group::Issues | Group::Reviews, Read | Create | Correct) => Reach::Areas,
        (Officer, Group::Trainings, Read | Create | Correct | Withdraw) => Reach::All,
        (Member, Group::Register | Group::Issues | Group::Visits, Read) => Reach::Own,
        (Officer, Group::Flags, Read | Correct) => Reach::Areas,
        (Member, Group::Flags, Read) => Reach::Own,
        (Officer, Group::Requests, Read | Create | Correct) => Reach::Areas,
        (Member, Group::Requests, Read | Create) => Reach::Own,
        (Member, Group::Daily, _) => Reach::Own,
        _ => Reach::None,
    }
}

/// Whether a second factor is asked for once more before an action, of whoever has one: people and
/// what they may see.
#[must_use]
pub const fn asks_proof(action: Action, kind: Kind) -> bool {
    matches!(group(kind), Group::People) && !matches!(action, Action::Read)
}

/// How far a role may do a task.
#[must_use]
pub const fn task_reach(role: Role, task: Task) -> Reach {
    match (role, task) {
        // Of the own record, whoever may write those of people.
        (_, Task::ChooseLanguage) => Reach::All,
        // Of whoever runs the machine.
        (Role::Operator, Task::Server) => Reach::All,
        (Role::Manager, Task::Server) => Reach::None,
        (Role::Manager, _) => Reach::All,
        (Role::Officer, Task::TakeBackBatch) => Reach::Areas,
        (Role::Member, Task::TakeBackBatch) => Reach::Own,
        (Role::Operator, Task::Invite | Task::Sync | Task::Changes) => Reach::All,
        (Role::Operator, Task::SecurityLog) => Reach::All,
        (Role::Officer, Task::SavingsReport | Task::SeedStock | Task::Estimates) => Reach::Areas,
        (Role::Officer, Task::Rations) => Reach::Areas,
        (Role::Member, Task::Rations | Task::PersonalCopy) => Reach::Own,
        (Role::Officer, Task::Sync | Task::Changes) => Reach::Areas,
        (Role::Officer, Task::SeedAccounts | Task::SeedTrace | Task::Review) => Reach::Areas,
        (Role::Member, Task::SeedAccounts | Task::SeedTrace) => Reach::Own,
        (Role::Member, Task::SavingsReport | Task::SeedStock | Task::Estimates) => Reach::Own,
        (Role::Member, Task::Sync | Task::Changes) => Reach::Own,
        (Role::Officer, Task::Work | Task::SeedForecast | Task::TextNumbers) => Reach::Areas,
        (Role::Member, Task::Work) => Reach::Own,
        (Role::Officer | Role::Member, Task::GrowingGuide) => Reach::All,
        (Role::ProgrammeReader, Task::ProgrammeTotals) => Reach::All,
        _ => Reach::None,
    }
}

/// The whole policy as text, one line a kind and action or task.
#[must_use]
pub fn policy_text() -> String {
    use std::fmt::Write as _;
    let mut out = String::from("# who may do what; printed from the policy, checked by a test\n");
    let names = Role::ALL.map(Role::text);
    let _ = writeln!(out, "{:<34}{}", "", names.map(|n| format!("{n:<18}")).concat().trim_end());
    let mut line = |what: String, reaches: [Reach; 5]| {
        let cells = reaches.map(|r| format!("{:<18}", r.text())).concat();
        let _ = writeln!(out, "{what:<34}{}", cells.trim_end());
    };
    for kind in Kind::ALL {
        for action in Action::ALL {
            let what = format!("{} {}", kind.spec().path, action.text());
            line(what, Role::ALL.map(|role| reach(role, action, *kind)));
        }
    }
    for task in Task::ALL {
        line(format!("task {}", task.text()), Role::ALL.map(|role| task_reach(role, task)));
    }
    out
}
