//! The craft: motion, rotor power, battery, fall, touch-down, energy to come home.
