//! A growing guide must not give more dry matter than is sown.

use traybook_domain::kinds::GrowingGuideValue;
use traybook_domain::planning::guide::{Guide, GuideName};
use traybook_domain::record::Record as _;
use traybook_domain::review::priced::guide_share;
use traybook_domain::review::yields::GUIDE_MOST;
use traybook_domain::{FieldError, Value};

/// Refuses a new or corrected value with which, on any day from which a value holds, fresh fodder
/// would hold more dry matter than its seed. Where it did so before, a value that brings it nearer
/// to what can be is taken.
pub(super) fn check(
    guide: &Guide,
    values: &[Value],
    old: Option<&[Value]>,
    errors: &mut Vec<FieldError>,
) {
    let entry = |values: &[Value]| GrowingGuideValue::from_values(values)?.entry();
    let Some(new) = entry(values) else { return };
    let is_of_yield = matches!(
        new.name,
        GuideName::FreshKgPerKgSeed
            | GuideName::FodderWaterPercent
            | GuideName::SeedDryMatterPercent
    );
    if !is_of_yield || !errors.is_empty() {
        return;
    }
    let made = guide.with(new, old.and_then(entry).as_ref());
    let wrong = made.days().into_iter().find_map(|day| {
        let share = guide_share(&made, day);
        let is_worse = share > guide_share(guide, day) + 1e-9;
        (share > GUIDE_MOST && is_worse).then_some((day, share))
    });
    if let Some((day, share)) = wrong {
        let percent = (share * 100.0).round();
        let detail = format!(
            "on {day} fresh fodder would hold {percent} % of the seed's dry matter; it can not \
             hold more than all of it: give a lower yield or more water"
        );
        let error = FieldError::new("value", "dry_matter", detail);
        let (percent, day) = (percent.to_string(), day.to_string());
        errors.push(error.naming("percent", percent).naming("day", day));
    }
}
