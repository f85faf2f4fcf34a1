//! A list that is laid out while it is written, one element at a time: a long run may have very many findings
//! and holes, and they need not all stand in memory twice.

use schemars::{JsonSchema, Schema, SchemaGenerator};
use serde::{Serialize, Serializer};
use std::borrow::Cow;
use std::cell::Cell;
use std::fmt;

/// The list. It is written once; a second time it is empty.
pub struct Each<'a, T>(Cell<Option<Box<dyn Iterator<Item = T> + 'a>>>);

impl<'a, T> Each<'a, T> {
    /// Of what the iterator yields.
    pub fn of(elements: impl Iterator<Item = T> + 'a) -> Self {
        Self(Cell::new(Some(Box::new(elements))))
    }
}

impl<T> fmt::Debug for Each<'_, T> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("Each(..)")
    }
}

impl<T: Serialize> Serialize for Each<'_, T> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_seq(self.0.take().into_iter().flatten())
    }
}

/// In the schema it is the plain list that it becomes.
impl<T: JsonSchema> JsonSchema for Each<'_, T> {
    fn inline_schema() -> bool {
        true
    }

    fn schema_name() -> Cow<'static, str> {
        Vec::<T>::schema_name()
    }

    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        Vec::<T>::json_schema(generator)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn it_becomes_a_plain_list() {
        assert_eq!(serde_json::to_string(&Each::of([1, 2].into_iter())).unwrap(), "[1,2]");
        let mut generator = SchemaGenerator::default();
        assert_eq!(Each::<u8>::json_schema(&mut generator), Vec::<u8>::json_schema(&mut generator));
    }
}
