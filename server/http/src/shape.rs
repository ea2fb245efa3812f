//! The shape of a JSON body or answer in the document.

use std::borrow::Cow;
use std::collections::BTreeMap;
use utoipa::ToSchema;
use utoipa::openapi::{RefOr, Schema};

/// Schemas by name.
pub type Schemas = BTreeMap<String, RefOr<Schema>>;

/// A type's schema with those nested in it.
#[derive(Clone, Copy, Debug)]
pub struct Shape {
    name: fn() -> Cow<'static, str>,
    schema: fn() -> RefOr<Schema>,
    nested: fn(&mut Vec<(String, RefOr<Schema>)>),
}

impl Shape {
    /// The shape of a type.
    #[must_use]
    pub const fn of<T: ToSchema>() -> Self {
        Self { name: T::name, schema: T::schema, nested: T::schemas }
    }

    /// Its name in the document.
    #[must_use]
    pub fn name(self) -> Cow<'static, str> {
        (self.name)()
    }

    /// Adds its schemas.
    ///
    /// # Errors
    /// When two types of one name differ: a reader of the document would take one for the other.
    pub fn collect(self, all: &mut Schemas) -> Result<(), String> {
        let mut found = vec![(self.name().into_owned(), (self.schema)())];
        (self.nested)(&mut found);
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
