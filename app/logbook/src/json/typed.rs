//! A read JSON value as a wire form.
//!
//! The stock reader also takes a list of values for an object, in the order of its fields; a record never
//! has one, and taking it doubles the program's code for each form. Here an object is an object.

use serde::de::value::StringDeserializer;
use serde::de::{
    DeserializeOwned, DeserializeSeed, Deserializer, EnumAccess, Error as _, IntoDeserializer, MapAccess, SeqAccess,
    Unexpected, VariantAccess, Visitor,
};
use serde::forward_to_deserialize_any;
use serde_json::{Error, Map, Value};

/// Reads a value as a wire form.
///
/// # Errors
/// Returns what does not fit, in the words of the form.
pub(crate) fn typed<T: DeserializeOwned>(value: Value) -> Result<T, String> {
    T::deserialize(Content(value)).map_err(|error| error.to_string())
}

struct Content(Value);

impl Content {
    fn misfit<T>(&self, expected: &dyn serde::de::Expected) -> Result<T, Error> {
        let found = match &self.0 {
            Value::Null => Unexpected::Unit,
            Value::Bool(value) => Unexpected::Bool(*value),
            Value::Number(_) => Unexpected::Other("number"),
            Value::String(text) => Unexpected::Str(text),
            Value::Array(_) => Unexpected::Seq,
            Value::Object(_) => Unexpected::Map,
        };
        Err(Error::invalid_type(found, expected))
    }
}

impl<'de> Deserializer<'de> for Content {
    type Error = Error;

    fn deserialize_any<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Error> {
        match self.0 {
            Value::Null => visitor.visit_unit(),
            Value::Bool(value) => visitor.visit_bool(value),
            Value::Number(number) => number.deserialize_any(visitor),
            Value::String(text) => visitor.visit_string(text),
            Value::Array(items) => visitor.visit_seq(Items(items.into_iter())),
            Value::Object(fields) => visitor.visit_map(Fields::of(fields)),
        }
    }

    fn deserialize_struct<V: Visitor<'de>>(
        self,
        _name: &'static str,
        _fields: &'static [&'static str],
        visitor: V,
    ) -> Result<V::Value, Error> {
        self.deserialize_map(visitor)
    }

    fn deserialize_map<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Error> {
        match self.0 {
            Value::Object(fields) => visitor.visit_map(Fields::of(fields)),
            _ => self.misfit(&visitor),
        }
    }

    fn deserialize_seq<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Error> {
        match self.0 {
            Value::Array(items) => visitor.visit_seq(Items(items.into_iter())),
            _ => self.misfit(&visitor),
        }
    }

    fn deserialize_string<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Error> {
        match self.0 {
            Value::String(text) => visitor.visit_string(text),
            _ => self.misfit(&visitor),
        }
    }

    fn deserialize_option<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Error> {
        match self.0 {
            Value::Null => visitor.visit_none(),
            _ => visitor.visit_some(self),
        }
    }

    fn deserialize_newtype_struct<V: Visitor<'de>>(self, _name: &'static str, visitor: V) -> Result<V::Value, Error> {
        visitor.visit_newtype_struct(self)
    }

    fn deserialize_enum<V: Visitor<'de>>(
        self,
        _name: &'static str,
        _variants: &'static [&'static str],
        visitor: V,
    ) -> Result<V::Value, Error> {
        match self.0 {
            Value::String(name) => visitor.visit_enum(Choice { name, content: None }),
            Value::Object(fields) => {
                let mut fields = fields.into_iter();
                match (fields.next(), fields.next()) {
                    (Some((name, content)), None) => visitor.visit_enum(Choice { name, content: Some(content) }),
                    _ => Err(Error::custom("an object with exactly one field is expected here")),
                }
            }
            _ => self.misfit(&visitor),
        }
    }

    forward_to_deserialize_any! {
        bool i8 i16 i32 i64 i128 u8 u16 u32 u64 u128 f32 f64 char str bytes byte_buf unit unit_struct tuple
        tuple_struct identifier ignored_any
    }
}

struct Items(std::vec::IntoIter<Value>);

impl<'de> SeqAccess<'de> for Items {
    type Error = Error;

    fn next_element_seed<T: DeserializeSeed<'de>>(&mut self, seed: T) -> Result<Option<T::Value>, Error> {
        self.0.next().map(|value| seed.deserialize(Content(value))).transpose()
    }

    fn size_hint(&self) -> Option<usize> {
        Some(self.0.len())
    }
}

struct Fields {
    left: serde_json::map::IntoIter,
    value: Value,
}

impl Fields {
    fn of(fields: Map<String, Value>) -> Self {
        Self { left: fields.into_iter(), value: Value::Null }
    }
}

impl<'de> MapAccess<'de> for Fields {
    type Error = Error;

    fn next_key_seed<K: DeserializeSeed<'de>>(&mut self, seed: K) -> Result<Option<K::Value>, Error> {
        let Some((key, value)) = self.left.next() else { return Ok(None) };
        self.value = value;
        seed.deserialize(name(key)).map(Some)
    }

    fn next_value_seed<V: DeserializeSeed<'de>>(&mut self, seed: V) -> Result<V::Value, Error> {
        seed.deserialize(Content(self.value.take()))
    }
}

struct Choice {
    name: String,
    content: Option<Value>,
}

impl<'de> EnumAccess<'de> for Choice {
    type Error = Error;
    type Variant = Chosen;

    fn variant_seed<V: DeserializeSeed<'de>>(self, seed: V) -> Result<(V::Value, Chosen), Error> {
        Ok((seed.deserialize(name(self.name))?, Chosen(self.content)))
    }
}

struct Chosen(Option<Value>);

impl<'de> VariantAccess<'de> for Chosen {
    type Error = Error;

    fn unit_variant(self) -> Result<(), Error> {
        match self.0 {
            None | Some(Value::Null) => Ok(()),
            Some(_) => Err(Error::custom("this choice takes no content")),
        }
    }

    fn newtype_variant_seed<T: DeserializeSeed<'de>>(self, seed: T) -> Result<T::Value, Error> {
        seed.deserialize(Content(self.0.unwrap_or_default()))
    }

    fn tuple_variant<V: Visitor<'de>>(self, _len: usize, visitor: V) -> Result<V::Value, Error> {
        Content(self.0.unwrap_or_default()).deserialize_seq(visitor)
    }

    fn struct_variant<V: Visitor<'de>>(self, _fields: &'static [&'static str], visitor: V) -> Result<V::Value, Error> {
        Content(self.0.unwrap_or_default()).deserialize_map(visitor)
    }
}

fn name(text: String) -> StringDeserializer<Error> {
    text.into_deserializer()
}

#[cfg(test)]
mod tests {
    use serde::Deserialize;
    use serde_json::json;

    use super::typed;

    #[derive(Debug, PartialEq, Deserialize)]
    enum Choice {
        Plain,
        One(u8),
        Named { of: Option<String> },
    }

    #[derive(Debug, PartialEq, Deserialize)]
    struct Form {
        count: u32,
        share: f64,
        #[serde(default)]
        choices: Vec<Choice>,
    }

    #[test]
    fn what_the_stock_reader_takes_as_an_object_is_read_alike() {
        for value in [
            json!({"count": 3, "share": 0.5, "choices": ["Plain", {"One": 7}, {"Named": {"of": "x"}}]}),
            json!({"count": 3, "share": 2, "choices": [{"Named": {"of": null}}, {"Named": {}}], "later": [1]}),
            json!({"count": 3, "share": 2}),
        ] {
            let stock: Form = serde_json::from_value(value.clone()).unwrap();
            assert_eq!(typed::<Form>(value), Ok(stock));
        }
    }

    #[test]
    fn what_does_not_fit_is_refused_with_what_was_found() {
        for (value, said) in [
            (json!([3, 0.5]), "sequence"),
            (json!({"share": 1}), "count"),
            (json!({"count": -1, "share": 1}), "-1"),
            (json!({"count": "3", "share": 1}), "3"),
            (json!({"count": 1, "share": 1, "choices": {"One": 7}}), "map"),
            (json!({"count": 1, "share": 1, "choices": [{"One": 7, "Plain": null}]}), "exactly one"),
            (json!({"count": 1, "share": 1, "choices": ["Other"]}), "Other"),
            (json!({"count": 1, "share": 1, "choices": [{"Plain": 3}]}), "no content"),
            (json!({"count": 1, "share": 1, "choices": [{"Named": ["x"]}]}), "sequence"),
            (json!({"count": 1, "share": 1, "choices": [7]}), "number"),
        ] {
            let error = typed::<Form>(value).unwrap_err();
            assert!(error.contains(said), "{error} names {said}");
        }
    }
}
