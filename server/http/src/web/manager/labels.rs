//! Labels for sheds and batches: QR codes (ISO/IEC 18004) that open the right page after signing
//! in.

use crate::web::blocks::{Block, Label, Leaf};
use crate::web::called::by_code;
use crate::web::farms::{growing, id, list, one, text};
use crate::web::member::batches::cautions;
use crate::web::site::{Shown, go};
use crate::web::visit::Visit;
use traybook_app::AppError;
use traybook_domain::Kind;
use traybook_reports::labels::qr_svg;

/// Size of a module of the code, in the units of its picture.
const MODULE_PX: u32 = 4;

fn label(visit: &Visit, to: &str, title: String, line: String) -> Result<Label, AppError> {
    let code = visit.whole_address(to).map(|to| qr_svg(&to, MODULE_PX));
    let code = code.transpose().map_err(AppError::Internal)?;
    Ok(Label { code, title, line })
}

/// The sheet of a farm: its sheds, and the batches that grow.
pub(crate) async fn show_labels(visit: Visit) -> Shown {
    let farm = one(&visit, Kind::Farm, visit.id("id")?).await?;
    let (page, code) = (visit.page(), text(&farm, "code"));
    let of = [("farm_id", text(&farm, "id").to_owned())];
    let mut labels = Vec::new();
    for shed in list(&visit, Kind::Shed, &of).await? {
        let to = format!("/sheds/{}", text(&shed, "id"));
        labels.push(label(&visit, &to, text(&shed, "code").to_owned(), code.to_owned())?);
    }
    for batch in growing(&visit, text(&farm, "id")).await? {
        let to = format!("/batches/{}", text(&batch, "id"));
        let mut line = page.with("harvest-on", "date", page.day(&batch["harvest_on"]));
        for caution in cautions(&page, &batch) {
            line = format!("{line} · {caution}");
        }
        labels.push(label(&visit, &to, by_code(&page, &batch), line)?);
    }
    let mut leaf = Leaf::new(page.clone(), page.with("labels-of", "farm", code))
        .back(format!("/farms/{}", text(&farm, "id")), code);
    leaf.text("labels-about");
    leaf.address_unknown(&visit);
    leaf.add(Block::Labels(labels));
    leaf.show()
}

/// The page of a shed is that of its farm.
pub(crate) async fn show_shed(visit: Visit) -> Shown {
    let shed = one(&visit, Kind::Shed, visit.id("id")?).await?;
    let farm = id(&shed, "farm_id").ok_or(AppError::NotFound)?;
    Ok(go(&format!("/farms/{farm}#shed-{}", text(&shed, "id"))))
}
