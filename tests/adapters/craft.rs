//! Adapters of the `craft` routines.

use super::Adapter;

/// Routine and adapter.
pub fn adapters() -> Vec<(&'static str, Adapter)> {
    vec![]
}
