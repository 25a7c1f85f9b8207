//! The craft, its pack and the air around it.
