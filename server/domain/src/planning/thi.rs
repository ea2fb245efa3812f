//! Temperature-humidity index and the mould warning.

/// Temperature-humidity index from tenths of °C and tenths of a per cent; `None` without humidity.
///
/// # Source
/// THI = (1.8T + 32) − (0.55 − 0.0055 RH)(1.8T − 26), NRC 1971 as listed in Dikmen & Hansen 2009,
/// J. Dairy Sci. 92:109 (formula from memory; it reproduces the printed points below).
#[must_use]
pub fn thi(temperature_dc: i64, humidity_dpc: Option<i64>) -> Option<f64> {
    let t = tenths(temperature_dc);
    let rh = tenths(humidity_dpc?);
    Some((1.8 * t + 32.0) - (0.55 - 0.0055 * rh) * (1.8 * t - 26.0))
}

/// What the index says of cattle: stress begins at 72, milk is hit hard above 78.
#[must_use]
pub fn heat_band(thi: f64) -> &'static str {
    if thi < 72.0 {
        "comfortable"
    } else if thi <= 78.0 {
        "stress"
    } else {
        "severe"
    }
}

/// Whether sprouting trays are likely to mould: outside 17 to 24 °C and above 80 % humidity.
///
/// # Source
/// WFP, Hydroponic Fodder Implementing Guide, June 2020, Annex A.1.
#[must_use]
pub fn mould_weather(temperature_dc: i64, humidity_dpc: Option<i64>) -> bool {
    !(170..=240).contains(&temperature_dc) && humidity_dpc.is_some_and(|h| h > 800)
}

fn tenths(value: i64) -> f64 {
    // Readings are within ±2,000 tenths, exact as a double.
    i32::try_from(value).map_or(0.0, f64::from) / 10.0
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn thi_reproduces_printed_points() {
        // [READ] De Vries, Univ. of Florida: 72 at 72 °F/100 %, 77 °F/50 % (25 °C), 82 °F/20 %;
        // extension text: 78 at 31 °C/40 % and 27 °C/80 %. [ARITH] the others (CHECKS 8).
        let points = [
            (310, 400, 77.97),
            (270, 800, 78.11),
            (250, 500, 71.78),
            (200, 800, 66.90),
            (240, 600, 71.42),
            (250, 200, 68.64),
            (280, 600, 77.03),
            (300, 300, 75.22),
            (300, 700, 81.38),
            (320, 600, 82.65),
            (350, 500, 84.83),
        ];
        for (t, rh, want) in points {
            let got = thi(t, Some(rh)).expect("humidity given");
            assert!((got - want).abs() < 0.006, "{t} {rh}: {got} {want}");
        }
        assert_eq!(thi(250, None), None);
    }

    #[test]
    fn mould_weather_is_warm_or_cold_and_humid() {
        assert!(mould_weather(270, Some(850)));
        assert!(!mould_weather(200, Some(850)) && !mould_weather(270, Some(800)));
        assert!(!mould_weather(270, None));
    }
}
