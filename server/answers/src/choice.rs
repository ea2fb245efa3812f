//! One of a few words.

/// An enum that is sent as text: the words stand here once, for JSON, CSV and the document. (A word
/// is taken as a token: derives do not look into literals.)
#[macro_export]
macro_rules! choice {
    ($(#[$about:meta])* $name:ident { $($(#[$word_about:meta])* $word:ident = $text:tt),+ $(,)? }) => {
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
        #[derive(serde::Serialize, serde::Deserialize, utoipa::ToSchema)]
        $(#[$about])*
        pub enum $name {
            $($(#[$word_about])* #[serde(rename = $text)] $word),+
        }

        impl $name {
            /// All of them, in order.
            pub const ALL: &'static [Self] = &[$(Self::$word),+];

            /// As it is sent.
            #[must_use]
            pub const fn text(self) -> &'static str {
                match self {
                    $(Self::$word => $text),+
                }
            }

            /// The one that is sent as this text.
            #[must_use]
            pub fn parse(text: &str) -> Option<Self> {
                Self::ALL.iter().copied().find(|word| word.text() == text)
            }
        }

        impl $crate::sheet::Cell for $name {
            fn cell(&self) -> String {
                self.text().to_owned()
            }
        }
    };
}

#[cfg(test)]
mod tests {
    use utoipa::PartialSchema as _;

    choice! {
        /// A colour.
        Colour {
            /// Of grass.
            DarkGreen = "dark green",
            /// Of straw.
            Yellow = "yellow",
        }
    }

    #[test]
    fn the_words_are_those_of_json_and_of_the_document() {
        let words = Colour::ALL.iter().map(|c| c.text());
        assert_eq!(words.collect::<Vec<_>>(), ["dark green", "yellow"]);
        assert_eq!(Colour::parse("yellow"), Some(Colour::Yellow));
        assert_eq!(Colour::parse("red"), None);
        assert_eq!(
            serde_json::to_string(Colour::ALL).expect("text"),
            "[\"dark green\",\"yellow\"]"
        );
        let schema = serde_json::to_value(Colour::schema()).expect("a schema");
        assert_eq!(schema.get("enum"), Some(&serde_json::json!(["dark green", "yellow"])));
    }
}
