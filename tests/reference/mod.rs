//! Formulas that judge, and that no flight uses: closed forms, exact integrals, published relations.
//!
//! The adapters of `tests/published.rs` answer with them where nothing that flies can be asked, the laws and the library's own
//! unit tests hold flying code against them. Ordered like the library; a test binary takes from it what it needs.
#![allow(dead_code)]

pub mod air;
pub mod craft;
pub mod radio;
pub mod risk;
pub mod sky;
pub mod stats;
pub mod units;
