//! Policies and the pilot as they fly.
