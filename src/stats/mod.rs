//! Pure statistics on slices and counts. Knows no flights.
