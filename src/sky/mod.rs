//! The position fix: satellites in view, dilution of precision, errors, first fix, heading, barometer.
