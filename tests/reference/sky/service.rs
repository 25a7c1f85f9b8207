//! Figures that the providers publish about their service.

/// One published figure.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ServiceFigure {
    /// Short name.
    pub name: &'static str,
    /// Its value: metres, or a share.
    pub value: f64,
    /// Whether it is a length in metres (else a share).
    pub is_length: bool,
    /// Where it is published and what it means.
    pub source: &'static str,
}

/// Published figures of GPS. Floors of obligation: several times worse than what is seen.
pub const SERVICE_FIGURES: [ServiceFigure; 7] = [
    ServiceFigure {
        name: "gps_2008_range_95",
        value: 7.8,
        is_length: true,
        source: "GPS SPS performance standard, 4th edition (2008), section 3.4.1: global average range error, normal operations, \
                 all ages of data, 95 %",
    },
    ServiceFigure {
        name: "gps_2008_range_95_fresh",
        value: 6.0,
        is_length: true,
        source: "GPS SPS performance standard, 4th edition (2008), section 3.4.1: the same at zero age of data, 95 %",
    },
    ServiceFigure {
        name: "gps_2008_range_9994",
        value: 30.0,
        is_length: true,
        source: "GPS SPS performance standard, 4th edition (2008), section 3.4.1: the same, 99.94 %",
    },
    ServiceFigure {
        name: "gps_2020_range_95",
        value: 7.0,
        is_length: true,
        source: "GPS SPS performance standard, 5th edition (2020), section 3.4: range error, all ages of data, 95 % (from memory)",
    },
    ServiceFigure {
        name: "gps_2020_horizontal_95",
        value: 8.0,
        is_length: true,
        source: "GPS SPS performance standard, 5th edition (2020), section 3.8: global average horizontal error, signal in space \
                 only, 95 % (from memory)",
    },
    ServiceFigure {
        name: "gps_2020_vertical_95",
        value: 13.0,
        is_length: true,
        source: "GPS SPS performance standard, 5th edition (2020), section 3.8: global average vertical error, signal in space \
                 only, 95 % (from memory)",
    },
    ServiceFigure {
        name: "gps_2020_pdop_6",
        value: 0.98,
        is_length: false,
        source: "GPS SPS performance standard, 5th edition (2020): share of globe and day with PDOP at most 6 (from memory)",
    },
];

/// A published figure by name.
pub fn service_figure(name: &str) -> Option<&'static ServiceFigure> {
    SERVICE_FIGURES.iter().find(|figure| figure.name == name)
}
