//! One of a few words.

/// An enum that is sent as text: the words stand here once, for JSON, CSV and the document.
#[macro_export]
macro_rules! choice {
    ($(#[$about:meta])* $name:ident { $($(#[$word_about:meta])* $word:ident = $text:literal),+ $(,)? }) => {
        $(#[$about])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
        #[derive(serde::Serialize, serde::Deserialize, utoipa::ToSchema)]
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
