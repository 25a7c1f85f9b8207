//! Harm: strike areas, injury curves and sums over cells beside those of the annex.

pub mod harm;
