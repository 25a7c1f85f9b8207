//! YUMA almanacs.

use lostlink::sky::AlmanacRecord;

/// Writes records as a YUMA almanac.
pub fn write_yuma(records: &[AlmanacRecord]) -> String {
    use std::fmt::Write;
    let mut text = String::new();
    for r in records {
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
            r.eccentricity,
            r.toa_s,
            r.inclination_rad,
            r.omega_dot_radps,
            r.sqrt_a_sqrtm,
            r.right_ascension_at_week_rad,
            r.arg_perigee_rad,
            r.mean_anomaly_rad,
            r.clock_offset_s,
            r.clock_drift,
            r.week
        );
    }
    text
}
