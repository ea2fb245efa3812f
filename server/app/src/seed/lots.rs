//! Seed stock, the growing guide in force.

use crate::days::{self, span};
use crate::error::AppError;
use crate::savings::seen_farms;
use crate::{Actor, App};
use std::collections::HashMap;
use traybook_answers::Decimal;
use traybook_answers::planning::{GrowingGuide, GuideValue};
use traybook_answers::seed::{
    LotOffer, Movement, MovementLine, SeedMovements, SeedStock, StockLine,
};
use traybook_domain::Kind;
use traybook_domain::kinds::{ANIMAL_CLASSES, SeedLot};
use traybook_domain::people::authz::{Action, Task};
use traybook_domain::planning::guide::{GuideName, animals_per_tray_is_derived};
use traybook_domain::record::Record as _;
use traybook_domain::review::priced::guide_share;
use traybook_domain::review::yields::GUIDE_WARNED;
use traybook_domain::savings::money::mul_div;
use traybook_domain::time::{local_date, minus_days, plus_days, start_of_day};
use traybook_domain::value::Instant;
use traybook_storage::records::farm_rows::Farms;
use traybook_storage::records::{self, Filter, Record, Visible};
use traybook_storage::savings::report_rows::Place;
use traybook_storage::seed::{lot_rows, seed_rows};
use traybook_storage::{Conn, records::farm_rows, savings::report_rows};
use uuid::Uuid;

/// Days back in which a lot's price is looked for: longer than seed keeps.
const PRICE_DAYS: u64 = 730;

/// Days of one ledger: a year, leap years too.
pub const MOVEMENT_DAYS_MAX: i64 = 366;

impl App {
    /// Seed in the store and on the farms, by lot, from all movements. A negative balance is shown
    /// as it is: records are missing or wrong.
    ///
    /// # Errors
    /// `Forbidden`.
    pub async fn seed_stock(&self, actor: &Actor) -> Result<SeedStock, AppError> {
        self.stock(actor, None).await
    }

    /// The same of one farm; nothing of a farm out of reach.
    ///
    /// # Errors
    /// `Forbidden`.
    pub async fn farm_stock(&self, actor: &Actor, farm: Uuid) -> Result<SeedStock, AppError> {
        self.stock(actor, Some(farm)).await
    }

    async fn stock(&self, actor: &Actor, of: Option<Uuid>) -> Result<SeedStock, AppError> {
        let visible = actor.task(Task::SeedStock)?;
        let actor = actor.clone();
        self.store
            .read(move |conn| {
                let number = actor.coop.number;
                let asked = of.as_ref().map(std::slice::from_ref);
                let seen = seen_codes(conn, number, &visible, asked)?;
                let lots = lots(conn, number)?;
                let mut items = Vec::new();
                for (farm, lot, grams) in report_rows::seed_stock(conn, number, of)? {
                    let may = match farm {
                        Some(farm) => seen.contains_key(&farm),
                        None => visible == Visible::All,
                    };
                    if !may {
                        continue;
                    }
                    let known = lots.get(&lot);
                    items.push(StockLine {
                        farm_id: farm,
                        farm: farm.and_then(|f| seen.get(&f)).cloned(),
                        seed_lot_id: lot,
                        seed_lot: known.map(|l| l.code.clone()),
                        crop: known.map(|l| l.crop.clone()),
                        stock_kg: Decimal::kg(grams),
                        is_negative: grams < 0,
                    });
                }
                Ok(SeedStock { items })
            })
            .await
    }

    /// The lots that can be handed out, those with most in the store first; none that is held.
    ///
    /// # Errors
    /// `Forbidden` for who hands out no seed.
    pub async fn lot_offers(&self, actor: &Actor) -> Result<Vec<LotOffer>, AppError> {
        actor.visible(Action::Create, Kind::SeedIssue)?;
        let (number, digits) = (actor.coop.number, actor.coop.digits);
        let today = actor.coop.today(self.now());
        self.store
            .read(move |conn| {
                let all = report_rows::seed_stock(conn, number, None)?;
                let store = all.into_iter().filter(|(farm, ..)| farm.is_none());
                let stock: HashMap<Uuid, i64> = store.map(|(_, lot, grams)| (lot, grams)).collect();
                let since = minus_days(today, PRICE_DAYS);
                let bought = seed_rows::last_prices(conn, number, false, since)?;
                let issued = seed_rows::last_prices(conn, number, true, since)?;
                let filter = Filter::default();
                let kind = Kind::SeedLot;
                let lots =
                    records::page(conn, number, kind, &Visible::All, &filter, None, 100_000)?;
                let ids: Vec<Uuid> = lots.iter().map(|lot| lot.id).collect();
                let held = lot_rows::lot_facts(conn, number, &ids, today)?.held;
                let offer = |r: &Record| {
                    let lot = SeedLot::from_values(&r.values)?;
                    let price = issued.get(&r.id).or(bought.get(&r.id));
                    let per_kg = price.and_then(|(grams, minor)| mul_div(*minor, 1_000, *grams));
                    (!held.contains(&r.id)).then(|| LotOffer {
                        seed_lot_id: r.id,
                        seed_lot: lot.code,
                        crop: lot.crop,
                        stock_kg: Decimal::kg(stock.get(&r.id).copied().unwrap_or(0)),
                        price_per_kg: per_kg.map(|minor| Decimal::new(minor, digits)),
                    })
                };
                let mut offers: Vec<LotOffer> = lots.iter().filter_map(offer).collect();
                offers.sort_by(|a, b| {
                    b.stock_kg
                        .units
                        .cmp(&a.stock_kg.units)
                        .then_with(|| a.seed_lot.cmp(&b.seed_lot))
                });
                Ok(offers)
            })
            .await
    }

    /// The ledger of seed: every movement of at most 366 days, oldest first, into and out of the
    /// store and the farms.
    ///
    /// # Errors
    /// `Forbidden`; `Invalid` for wrong or too many days.
    pub async fn seed_movements(
        &self,
        actor: &Actor,
        from: &str,
        to: &str,
    ) -> Result<SeedMovements, AppError> {
        let visible = actor.task(Task::SeedStock)?;
        let today = actor.coop.today(self.now());
        let (from, to) = span(Some(from), Some(to), today, 0, MOVEMENT_DAYS_MAX)?;
        let actor = actor.clone();
        self.store
            .read(move |conn| {
                let (number, zone) = (actor.coop.number, actor.coop.zone);
                let seen = seen_codes(conn, number, &visible, None)?;
                let lots = lots(conn, number)?;
                let instants = (start_of_day(from, zone).0, start_of_day(plus_days(to, 1), zone).0);
                let all =
                    report_rows::seed_movements(conn, number, (from, to), instants, Place::Any)?;
                let mut items = Vec::new();
                for m in all {
                    let may = match m.farm {
                        Some(farm) => seen.contains_key(&farm),
                        None => visible == Visible::All,
                    };
                    if !may {
                        continue;
                    }
                    let date = match m.on {
                        Ok(day) => day,
                        Err(ms) => local_date(Instant(ms), zone),
                    };
                    let lot = lots.get(&m.lot);
                    let movement = Movement::parse(&m.movement);
                    let unknown = || AppError::Internal(format!("movement {}", m.movement));
                    items.push(MovementLine {
                        date,
                        movement: movement.ok_or_else(unknown)?,
                        source_id: m.source,
                        farm_id: m.farm,
                        farm: m.farm.and_then(|f| seen.get(&f)).cloned(),
                        seed_lot_id: m.lot,
                        seed_lot: lot.map(|l| l.code.clone()),
                        kg: Decimal::kg(m.grams),
                    });
                }
                items.sort_by_key(|m| m.date);
                Ok(SeedMovements { items })
            })
            .await
    }

    /// The id of the record that people know by this code.
    ///
    /// # Errors
    /// `Forbidden`; `Invalid` when there is none.
    pub async fn find_code(&self, actor: &Actor, kind: Kind, code: &str) -> Result<Uuid, AppError> {
        actor.visible(Action::Read, kind)?;
        let (number, code) = (actor.coop.number, code.to_owned());
        self.store
            .read(move |conn| {
                let found = match records::find_by_code(conn, number, kind, &code)? {
                    // Telephones begin with a small letter.
                    None => records::find_by_code(conn, number, kind, &code.to_uppercase())?,
                    found => found,
                };
                let (one, words) = (kind.spec().one, kind.spec().path.replace('-', " "));
                let detail = format!("none of the {words} has the code {code}");
                found.map(|r| r.id).ok_or_else(|| AppError::field(one, "unknown", detail))
            })
            .await
    }

    /// The growing guide in force on a day, with the source of each value.
    ///
    /// # Errors
    /// `Forbidden`; `Invalid` for a wrong day.
    pub async fn growing_guide(
        &self,
        actor: &Actor,
        day: Option<String>,
    ) -> Result<GrowingGuide, AppError> {
        actor.task(Task::GrowingGuide)?;
        let coop = actor.coop.clone();
        let day = match day {
            None => coop.today(self.now()),
            Some(text) => days::day("day", &text)?,
        };
        self.store
            .read(move |conn| {
                let guide = coop.guide(conn)?;
                let mut values = Vec::new();
                for name in GuideName::ALL {
                    let classes: Vec<Option<&str>> = if name.by_class() {
                        ANIMAL_CLASSES.iter().map(|c| Some(*c)).collect()
                    } else {
                        vec![None]
                    };
                    for class in classes {
                        let since = guide.since(*name, class, day);
                        let derived = *name == GuideName::AnimalsPerTray
                            && since.is_none()
                            && class.is_some_and(animals_per_tray_is_derived);
                        values.push(GuideValue {
                            name: name.text().to_owned(),
                            animal_class: class.map(str::to_owned),
                            value: Decimal::new(guide.value(*name, class, day), 3),
                            unit: name.unit().to_owned(),
                            valid_from: since,
                            is_default: since.is_none(),
                            is_derived: derived,
                            about: name.doc().trim().to_owned(),
                        });
                    }
                }
                let kept = guide_share(&guide, day);
                Ok(GrowingGuide {
                    day,
                    dry_matter_kept_percent: Decimal::new((kept * 1_000.0).round() as i64, 1),
                    is_dry_matter_doubtful: kept > GUIDE_WARNED,
                    values,
                })
            })
            .await
    }
}

/// Codes of the farms, all or these, that a person may see.
fn seen_codes(
    conn: &mut Conn,
    number: i64,
    visible: &Visible,
    of: Farms<'_>,
) -> Result<HashMap<Uuid, String>, AppError> {
    let mut farms = match of {
        Some(_) => farm_rows::farms(conn, number, of)?,
        None => seen_farms(conn, number, visible)?.0,
    };
    farms.retain(|f| visible.sees(f.area, f.member));
    Ok(farms.into_iter().map(|f| (f.farm, f.code.clone())).collect())
}

/// All seed lots, withdrawn ones too.
pub(crate) fn lots(conn: &mut Conn, number: i64) -> Result<HashMap<Uuid, SeedLot>, AppError> {
    let (all, filter) = (Visible::All, Filter { withdrawn: true, ..Filter::default() });
    let lots = records::page(conn, number, Kind::SeedLot, &all, &filter, None, 100_000)?;
    let known = lots.into_iter().filter_map(|r| Some((r.id, SeedLot::from_values(&r.values)?)));
    Ok(known.collect())
}
