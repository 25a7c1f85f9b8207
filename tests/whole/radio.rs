//! The link over a whole site and a whole flight.
