//! YUMA almanacs.

use lostlink::sky::AlmanacRecord;

/// Writes records as a YUMA almanac, without clock errors.
pub fn write_yuma(records: &[AlmanacRecord]) -> String {
    use std::fmt::Write;
    let mut text = String::new();
    for r in records {
        let e = &r.elements;
        let _ = write!(
            text,
            "******** Week {:4} almanac for PRN-{:02} ********\n\
             ID:                         {:02}\n\
             Health:                     {:03}\n\
             Eccentricity:               {:18.10E}\n\
             Time of Applicability(s):  {:.4}\n\
             Orbital Inclination(rad):   {:.10}\n\
             Rate of Right Ascen(r/s):  {:18.10E}\n\
             SQRT(A)  (m 1/2):           {:.6}\n\
             Right Ascen at Week(rad):  {:18.10E}\n\
             Argument of Perigee(rad):   {:.9}\n\
             Mean Anom(rad):            {:18.10E}\n\
             Af0(s):                    {:18.10E}\n\
             Af1(s/s):                  {:18.10E}\n\
             week:                        {}\n\n",
            r.week,
            r.number,
            r.number,
            r.health,
            e.eccentricity,
            e.toe_s,
            e.i0_rad,
            e.omega_dot_radps,
            e.sqrt_a_sqrtm,
            e.omega0_rad,
            e.arg_perigee_rad,
            e.m0_rad,
            0.0,
            0.0,
            r.week
        );
    }
    text
}
