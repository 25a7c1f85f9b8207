//! The air: standard atmosphere, mean wind by height, turbulence, gusts.
