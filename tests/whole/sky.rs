//! The fix, the heading and the heights of a whole flight.
