//! The operations for those who read a programme.

use super::plain::reading;
use super::{Handler, Op, Param, Reply};
use crate::api::reports;
use traybook_answers::savings::programme::{Indicators, ProgrammeSum, ProgrammeTotals};
use traybook_domain::people::authz::Role;

/// The operations.
pub(super) fn ops() -> Vec<Op> {
    let readers = vec![Role::Manager, Role::ProgrammeReader];
    let month: Param = ("month", "Month, YYYY-MM.", true);
    vec![
        reading(
            "/v1/programme-totals",
            "get_programme_totals",
            "Totals over co-operatives",
            "No names, and no group of fewer than {MEMBERS_MIN} members. The last twelve months that are \
             over are of `made_at`: a member who agrees to be counted, or no longer, is counted so from the next \
             making on. Other months are of this moment.",
            "Reports",
            readers.clone(),
            Reply::json::<ProgrammeTotals>(),
            vec![month, ("by", "cooperative, area, sex or age_band.", true)],
            vec![304, 403, 406, 422, 429],
            handler!(reports::programme_totals),
        ),
        reading(
            "/v1/indicators",
            "get_indicators",
            "Indicators of a programme over some months",
            "Per co-operative: people trained (persons, not attendances), farms growing, active and \
             dropped out, women's share, savings and output with their intervals, months reported. \
             No figure of fewer than {MEMBERS_MIN} people. Who reads programmes asks for quarters of \
             one year that are over: one (April to June), or the first of them (January to June). Of \
             several quarters a number of people is left out where the quarters beside it would \
             give away a few.",
            "Reports",
            readers.clone(),
            Reply::json::<Indicators>(),
            vec![("from", "First month, YYYY-MM.", true), ("month", "Last month, YYYY-MM.", true)],
            vec![304, 403, 406, 422, 429],
            handler!(reports::indicators),
        ),
        reading(
            "/v1/programme-sum",
            "get_programme_sum",
            "Sums over the co-operatives of a programme",
            "Of a month that is over, for a reader to whom co-operatives were opened on the machine \
             (`traybook programme open`). A group that a co-operative's own table hides counts only \
             where several co-operatives have one and many people are in it; `is_whole` is false \
             where members are left out. Intervals add half widths: the errors of co-operatives may \
             go together.",
            "Reports",
            readers.clone(),
            Reply::json::<ProgrammeSum>(),
            vec![month, ("by", "cooperative (all members), sex or age_band.", true)],
            vec![304, 403, 406, 422, 429],
            handler!(reports::programme_sum),
        ),
    ]
}
