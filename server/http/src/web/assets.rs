//! Files that pages load: the style, the scripts, the picture on the home screen.
//! Each address carries a digest of the file, so that a browser keeps it for good and takes the
//! next release's at once.

use actix_web::HttpResponse;
use sha2::{Digest, Sha256};
use std::sync::OnceLock;

struct Asset {
    path: &'static str,
    media: &'static str,
    text: &'static str,
}

const ASSETS: [Asset; 5] = [
    Asset {
        path: "/style.css",
        media: "text/css; charset=utf-8",
        text: include_str!("../../static/style.css"),
    },
    Asset {
        path: "/phone.js",
        media: "text/javascript; charset=utf-8",
        text: include_str!("../../static/phone.js"),
    },
    Asset {
        path: "/passkey.js",
        media: "text/javascript; charset=utf-8",
        text: include_str!("../../static/passkey.js"),
    },
    Asset {
        path: "/icon.svg",
        media: "image/svg+xml",
        text: include_str!("../../static/icon.svg"),
    },
    Asset {
        path: "/traybook.webmanifest",
        media: "application/manifest+json",
        text: include_str!("../../static/traybook.webmanifest"),
    },
];

/// The script that answers for the server while there is no signal. It must keep one address.
const WORKER: &str = include_str!("../../static/worker.js");

/// Paths of the files.
pub(super) fn paths() -> impl Iterator<Item = &'static str> {
    ASSETS.iter().map(|a| a.path)
}

/// A digest over all files: what a page is kept with on a phone.
pub(super) fn release() -> &'static str {
    static RELEASE: OnceLock<String> = OnceLock::new();
    RELEASE.get_or_init(|| {
        let mut digest = Sha256::new();
        for asset in &ASSETS {
            digest.update(asset.text);
        }
        digest.update(WORKER);
        digest.finalize().iter().take(6).map(|b| format!("{b:02x}")).collect()
    })
}

/// One of the files.
pub(super) fn file(path: &str) -> HttpResponse {
    let Some(asset) = ASSETS.iter().find(|a| a.path == path) else {
        return HttpResponse::NotFound().finish();
    };
    HttpResponse::Ok()
        .content_type(asset.media)
        .insert_header(("cache-control", "public, max-age=31536000, immutable"))
        .insert_header(("x-content-type-options", "nosniff"))
        .body(asset.text)
}

/// The worker, with the release it belongs to.
pub(super) fn worker() -> HttpResponse {
    HttpResponse::Ok()
        .content_type("text/javascript; charset=utf-8")
        .insert_header(("cache-control", "no-cache"))
        .insert_header(("x-content-type-options", "nosniff"))
        .body(WORKER.replace("RELEASE", release()))
}
