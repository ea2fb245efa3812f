//! The shape of a JSON body or answer in the document.

use std::borrow::Cow;
use std::collections::BTreeMap;
use utoipa::ToSchema;
use utoipa::openapi::{RefOr, Schema};

/// Schemas by name.
pub type Schemas = BTreeMap<String, RefOr<Schema>>;

/// A type's schema with those nested in it.
#[derive(Clone, Copy, Debug)]
pub enum Shape {
    /// A schema of the record kinds, or one still written by hand.
    Named(&'static str),
    /// Made of a type.
    Of {
        /// The type's name in the document.
        name: fn() -> Cow<'static, str>,
        /// Its own schema.
        schema: fn() -> RefOr<Schema>,
        /// Those that it refers to.
        nested: fn(&mut Vec<(String, RefOr<Schema>)>),
    },
}

impl Shape {
    /// The shape of a type.
    #[must_use]
    pub const fn of<T: ToSchema>() -> Self {
        Self::Of { name: T::name, schema: T::schema, nested: T::schemas }
    }

    /// Its name in the document.
    #[must_use]
    pub fn name(self) -> Cow<'static, str> {
        match self {
            Self::Named(name) => Cow::Borrowed(name),
            Self::Of { name, .. } => name(),
        }
    }

    /// Adds its schemas.
    ///
    /// # Errors
    /// When two types of one name differ: a reader of the document would take one for the other.
    pub fn collect(self, all: &mut Schemas) -> Result<(), String> {
        let Self::Of { name, schema, nested } = self else { return Ok(()) };
        let mut found = vec![(name().into_owned(), schema())];
        nested(&mut found);
        // A reference is to a schema of the record kinds.
        found.retain(|(_, schema)| matches!(schema, RefOr::T(_)));
        for (name, schema) in found {
            match all.get(&name) {
                Some(other) if *other != schema => {
                    return Err(format!("two different schemas are named {name}"));
                }
                Some(_) => {}
                None => {
                    all.insert(name, schema);
                }
            }
        }
        Ok(())
    }
}
