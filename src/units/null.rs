//! Numbers that do not exist: `null` in JSON, NaN inside.

use serde::de::DeserializeOwned;
use serde::{Deserialize, Deserializer};

/// A number that JSON writes as `null` when it does not exist, or numbers of that kind.
pub trait Nullable: Sized {
    /// As it stands in JSON.
    type Raw: DeserializeOwned;

    /// From there; `None` when there are too few or too many.
    fn of(raw: Self::Raw) -> Option<Self>;
}

impl Nullable for f64 {
    type Raw = Option<f64>;

    fn of(raw: Option<f64>) -> Option<f64> {
        Some(raw.unwrap_or(f64::NAN))
    }
}

impl Nullable for f32 {
    type Raw = Option<f32>;

    fn of(raw: Option<f32>) -> Option<f32> {
        Some(raw.unwrap_or(f32::NAN))
    }
}

impl<T: Nullable> Nullable for Vec<T> {
    type Raw = Vec<T::Raw>;

    fn of(raw: Vec<T::Raw>) -> Option<Vec<T>> {
        raw.into_iter().map(T::of).collect()
    }
}

impl<T: Nullable, const N: usize> Nullable for [T; N] {
    type Raw = Vec<T::Raw>;

    fn of(raw: Vec<T::Raw>) -> Option<[T; N]> {
        Vec::of(raw)?.try_into().ok()
    }
}

/// Reads numbers of which some may not exist: NaN here.
///
/// # Errors
/// What is no number, or a list of another length.
pub fn nullable<'de, T: Nullable, D: Deserializer<'de>>(from: D) -> Result<T, D::Error> {
    T::of(T::Raw::deserialize(from)?).ok_or_else(|| serde::de::Error::custom("a list of numbers of another length"))
}
