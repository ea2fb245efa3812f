//! The pages, made by the server. They work without script; forms are protected by a token that
//! follows from the sign-in, and by the browser's word on where a form came from.
//!
//! [`routes`] are the addresses, [`site`] how each is answered, [`visit`] what a page is asked,
//! [`blocks`] what pages are made of, [`forms`] what forms share. Pages ask the same use cases as
//! the interface and decide nothing by themselves.

mod assets;
mod blocks;
mod book;
mod calendar;
mod called;
mod echo;
mod farms;
mod figures;
mod fold;
mod form;
mod forms;
mod held;
mod indicators;
mod losses;
mod manager;
mod member;
mod nothing_bought;
mod officer;
mod output;
mod output_words;
mod own;
mod page;
mod passkeys;
mod refusals;
mod requests;
pub mod routes;
mod shelf;
mod sign_in;
mod site;
mod today;
mod totals;
mod visit;
mod waits;

#[cfg(test)]
mod tests {
    /// What a template says by itself: what is left without tags, expressions and attributes.
    fn own_words(template: &str) -> String {
        let mut text = template.to_owned();
        for (open, close) in [("{%", "%}"), ("{{", "}}"), ("{#", "#}"), ("<", ">")] {
            while let Some(from) = text.find(open) {
                let end = text.get(from..).and_then(|t| t.find(close)).unwrap_or(0);
                assert!(end > 0, "{open} without {close}");
                text.replace_range(from..from + end + close.len(), " ");
            }
        }
        text
    }

    #[test]
    fn templates_say_nothing_by_themselves() {
        for template in [
            include_str!("../../templates/base.html"),
            include_str!("../../templates/blocks.html"),
            include_str!("../../templates/field.html"),
            include_str!("../../templates/form.html"),
            include_str!("../../templates/missing.html"),
            include_str!("../../templates/phone.html"),
            include_str!("../../templates/sign_in.html"),
            include_str!("../../templates/today.html"),
        ] {
            let words = own_words(template);
            assert!(!words.chars().any(char::is_alphabetic), "hard-coded: {}", words.trim());
        }
        assert!(own_words("<p>Hello {{ name }}</p>").contains("Hello"), "it would be found");
    }
}
