//! Twins: a stored form for each domain type, and the way there and back.

use std::collections::BTreeMap;

use practicum::eye::PerEye;
use practicum::order::map_of;
use serde::{Deserialize, Serialize};

use crate::json::LARGEST;

/// A stored form of a domain type.
pub(crate) trait Twin<D>: Sized {
    /// Makes the stored form.
    fn of(domain: &D) -> Self;

    /// Makes the domain type again.
    ///
    /// # Errors
    /// Returns what is out of range, in words.
    fn back(self) -> Result<D, String>;
}

/// Makes a stored struct whose fields have the names of the domain struct's fields.
macro_rules! twin {
    ($name:ident = $domain:ident { $($field:ident : $type:ty),* $(,)? }) => {
        #[derive(Debug, Clone, serde::Serialize, serde::Deserialize)]
        pub(crate) struct $name { $(pub(crate) $field: $type),* }

        impl $crate::wire::Twin<$domain> for $name {
            fn of(domain: &$domain) -> Self {
                $name { $($field: $crate::wire::Twin::of(&domain.$field)),* }
            }

            fn back(self) -> Result<$domain, String> {
                Ok($domain { $($field: $crate::wire::Twin::back(self.$field)?),* })
            }
        }
    };
}

/// Makes a stored enum of variants with fields; a domain field without a name is given by its place.
macro_rules! twin_enum {
    ($name:ident = $domain:ident { $($variant:ident $word:literal { $($key:tt => $field:ident : $type:ty),* }),* $(,)? }) => {
        #[derive(Debug, Clone, serde::Serialize, serde::Deserialize)]
        pub(crate) enum $name { $(#[serde(rename = $word)] $variant { $($field: $type),* }),* }

        impl $crate::wire::Twin<$domain> for $name {
            fn of(domain: &$domain) -> Self {
                match domain {
                    $($domain::$variant { $($key: $field),* } => {
                        $name::$variant { $($field: $crate::wire::Twin::of($field)),* }
                    })*
                }
            }

            fn back(self) -> Result<$domain, String> {
                Ok(match self {
                    $($name::$variant { $($field),* } => {
                        $domain::$variant { $($key: $crate::wire::Twin::back($field)?),* }
                    })*
                })
            }
        }
    };
}

/// Makes a stored enum of plain words.
macro_rules! twin_words {
    ($name:ident = $domain:ident { $($variant:ident $word:literal),* $(,)? }) => {
        #[derive(Debug, Clone, Copy, serde::Serialize, serde::Deserialize)]
        pub(crate) enum $name { $(#[serde(rename = $word)] $variant),* }

        impl $crate::wire::Twin<$domain> for $name {
            fn of(domain: &$domain) -> Self {
                match domain { $($domain::$variant => $name::$variant),* }
            }

            fn back(self) -> Result<$domain, String> {
                Ok(match self { $($name::$variant => $domain::$variant),* })
            }
        }
    };
}

macro_rules! same {
    ($($type:ty),*) => {$(
        impl Twin<$type> for $type {
            fn of(domain: &$type) -> Self {
                domain.clone()
            }

            fn back(self) -> Result<$type, String> {
                Ok(self)
            }
        }
    )*};
}

same!(bool, u8, u32, String);

/// A number beyond 2^53 - 1 cannot be kept exactly; the even clock of a page reaches it after 285,000 years.
impl Twin<u64> for u64 {
    fn of(domain: &u64) -> Self {
        (*domain).min(LARGEST)
    }

    fn back(self) -> Result<u64, String> {
        Ok(self)
    }
}

impl<D, T: Twin<D>> Twin<Option<D>> for Option<T> {
    fn of(domain: &Option<D>) -> Self {
        domain.as_ref().map(T::of)
    }

    fn back(self) -> Result<Option<D>, String> {
        self.map(T::back).transpose()
    }
}

impl<D, T: Twin<D>> Twin<Vec<D>> for Vec<T> {
    fn of(domain: &Vec<D>) -> Self {
        domain.iter().map(T::of).collect()
    }

    fn back(self) -> Result<Vec<D>, String> {
        self.into_iter().map(T::back).collect()
    }
}

impl<DA, DB, A: Twin<DA>, B: Twin<DB>> Twin<(DA, DB)> for (A, B) {
    fn of(domain: &(DA, DB)) -> Self {
        (A::of(&domain.0), B::of(&domain.1))
    }

    fn back(self) -> Result<(DA, DB), String> {
        Ok((self.0.back()?, self.1.back()?))
    }
}

impl<DA, DB, DC, A: Twin<DA>, B: Twin<DB>, C: Twin<DC>> Twin<(DA, DB, DC)> for (A, B, C) {
    fn of(domain: &(DA, DB, DC)) -> Self {
        (A::of(&domain.0), B::of(&domain.1), C::of(&domain.2))
    }

    fn back(self) -> Result<(DA, DB, DC), String> {
        Ok((self.0.back()?, self.1.back()?, self.2.back()?))
    }
}

impl<D, T: Twin<D>> Twin<[D; 3]> for [T; 3] {
    fn of(domain: &[D; 3]) -> Self {
        let [a, b, c] = domain;
        [T::of(a), T::of(b), T::of(c)]
    }

    fn back(self) -> Result<[D; 3], String> {
        let [a, b, c] = self;
        Ok([a.back()?, b.back()?, c.back()?])
    }
}

impl<DK: Ord, DV, K: Twin<DK> + Ord, V: Twin<DV>> Twin<BTreeMap<DK, DV>> for BTreeMap<K, V> {
    fn of(domain: &BTreeMap<DK, DV>) -> Self {
        map_of(domain.iter().map(|(key, value)| (K::of(key), V::of(value))))
    }

    fn back(self) -> Result<BTreeMap<DK, DV>, String> {
        let mut map = BTreeMap::new();
        for (key, value) in self {
            map.insert(key.back()?, value.back()?);
        }
        Ok(map)
    }
}

/// One value for each eye.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub(crate) struct EyesV1<T> {
    left: T,
    right: T,
}

impl<D, T: Twin<D>> Twin<PerEye<D>> for EyesV1<T> {
    fn of(domain: &PerEye<D>) -> Self {
        Self { left: T::of(&domain.left), right: T::of(&domain.right) }
    }

    fn back(self) -> Result<PerEye<D>, String> {
        Ok(PerEye { left: self.left.back()?, right: self.right.back()? })
    }
}
