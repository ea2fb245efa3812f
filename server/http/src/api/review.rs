//! The review list.

use super::seed::{MEDIA, answer};
use crate::request::{Answer, Request};
use traybook_app::review::Asked;

/// What contradicts itself or looks unlikely.
pub async fn list(r: Request) -> Answer {
    let media = r.accepts(MEDIA)?;
    let [farm, rule, accepted] = r.known_query(["farm_id", "rule", "accepted"])?;
    let asked = Asked::parse(farm, rule, accepted)?;
    let list = r.app().review(r.actor()?, asked).await?;
    answer(&r, media, "review", &list)
}
