//! Adapters of the `sky` routines.

use super::Adapter;

/// Routine and adapter.
pub fn adapters() -> Vec<(&'static str, Adapter)> {
    vec![]
}
