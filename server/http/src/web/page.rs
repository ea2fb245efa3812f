//! What every page has: language, who is signed in, the form token.

use super::speech::{Arg, Language};
use sha2::{Digest, Sha256};

/// The frame of a page.
pub(super) struct Page {
    /// Language.
    pub language: Language,
    /// Whether somebody is signed in.
    pub signed_in: bool,
    /// Token of its forms.
    pub csrf: String,
    /// Address without the slash.
    pub here: &'static str,
}

impl Page {
    /// A text.
    pub fn say(&self, key: &str) -> String {
        self.language.say(key, &[])
    }

    /// A text with arguments.
    pub fn tell(&self, key: &str, args: &[(&'static str, Arg)]) -> String {
        self.language.say(key, args)
    }

    /// Tag of the language.
    pub fn lang(&self) -> &'static str {
        self.language.tag()
    }

    /// Tag of the other language.
    pub fn other(&self) -> &'static str {
        self.language.other().tag()
    }
}

/// The form token of a sign-in: nobody who does not have its secret can make it.
pub(super) fn form_token(secret: &str) -> String {
    let digest = Sha256::digest(format!("form token of {secret}"));
    digest.iter().take(16).map(|b| format!("{b:02x}")).collect()
}
