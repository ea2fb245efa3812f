//! The name of a line of work, by which it is recorded.

use traybook_domain::Kind;
use traybook_domain::time::parse_date;
use traybook_planning::work::Task;
use uuid::Uuid;

/// What a line's name says.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Key {
    /// Seed to soak for a group, to be fed on a day.
    Soak { date: chrono::NaiveDate, group: Uuid, feed_on: chrono::NaiveDate },
    /// Work on a shed on a day.
    Shed { task: Task, date: chrono::NaiveDate, shed: Uuid, watering: Option<i64> },
    /// Work on a batch; for what was harvested before, the day of that harvest.
    Batch { task: Task, batch: Uuid, harvested_on: Option<chrono::NaiveDate> },
}

impl Key {
    pub(super) fn parse(text: &str) -> Option<Self> {
        let parts: Vec<&str> = text.split('.').collect();
        let task = Task::parse(parts.first()?)?;
        let id = |at: usize| Uuid::try_parse(parts.get(at)?).ok();
        let date = |at: usize| parse_date(parts.get(at)?);
        let number = |at: usize| parts.get(at)?.parse::<i64>().ok();
        match (task, parts.len()) {
            // A top-up carries the grams that grow already.
            (Task::Soak, 4 | 5) if parts.len() == 4 || number(4).is_some() => {
                Some(Self::Soak { date: date(1)?, group: id(2)?, feed_on: date(3)? })
            }
            (Task::Water, 4) => {
                let watering = Some(number(3)?);
                Some(Self::Shed { task, date: date(1)?, shed: id(2)?, watering })
            }
            (Task::Clean, 3) => {
                Some(Self::Shed { task, date: date(1)?, shed: id(2)?, watering: None })
            }
            (Task::Drain | Task::Spread, 2) => {
                Some(Self::Batch { task, batch: id(1)?, harvested_on: None })
            }
            (Task::Harvest | Task::Feed | Task::Discard, 3) => {
                number(2)?;
                Some(Self::Batch { task, batch: id(1)?, harvested_on: None })
            }
            (Task::Feed | Task::Discard, 4) => {
                number(3)?;
                Some(Self::Batch { task, batch: id(1)?, harvested_on: Some(date(2)?) })
            }
            _ => None,
        }
    }

    /// Day of the harvest that is fed or thrown away.
    pub(super) const fn harvested_on(self) -> Option<chrono::NaiveDate> {
        match self {
            Self::Batch { harvested_on, .. } => harvested_on,
            _ => None,
        }
    }

    pub(super) const fn task(self) -> Task {
        match self {
            Self::Soak { .. } => Task::Soak,
            Self::Shed { task, .. } | Self::Batch { task, .. } => task,
        }
    }

    pub(super) const fn date(self) -> Option<chrono::NaiveDate> {
        match self {
            Self::Soak { date, .. } | Self::Shed { date, .. } => Some(date),
            Self::Batch { .. } => None,
        }
    }

    /// What the work is done on.
    pub(super) const fn subject(self) -> (Kind, Uuid) {
        match self {
            Self::Soak { group, .. } => (Kind::AnimalGroup, group),
            Self::Shed { shed, .. } => (Kind::Shed, shed),
            Self::Batch { batch, .. } => (Kind::Batch, batch),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn keys_are_read_as_the_list_writes_them_and_nothing_else() {
        let id = Uuid::from_u128(7);
        let day = |text: &str| parse_date(text).expect("a day");
        let soak = Key::Soak { date: day("2026-03-01"), group: id, feed_on: day("2026-03-09") };
        assert_eq!(Key::parse(&format!("soak.2026-03-01.{id}.2026-03-09")), Some(soak));
        let water = Key::parse(&format!("water.2026-03-01.{id}.2"));
        assert!(matches!(water, Some(Key::Shed { watering: Some(2), .. })));
        assert_eq!(
            Key::parse(&format!("harvest.{id}.0")),
            Some(Key::Batch { task: Task::Harvest, batch: id, harvested_on: None })
        );
        let kept = Key::parse(&format!("feed.{id}.2026-03-01.0")).and_then(Key::harvested_on);
        assert_eq!(kept, Some(day("2026-03-01")));
        assert_eq!(Key::parse(&format!("harvest.{id}.2026-03-01.0")), None);
        for bad in ["", "soak", "harvest.x.0", "spread", "eat.2026-03-01", "water.2026-03-01"] {
            assert_eq!(Key::parse(bad), None, "{bad}");
        }
        assert_eq!(Key::parse(&format!("harvest.{id}")), None);
        assert_eq!(Key::parse(&format!("soak.{id}")), None);
    }
}
