//! The way from farm to farm.

use crate::value::real;

/// Mean radius of the earth, m (IUGG; from memory).
const EARTH_RADIUS_M: f64 = 6_371_008.8;
/// Digits of a degree in a [`Position`].
pub const DEGREE_DIGITS: u8 = 5;
/// Hundred-thousandths of a degree in a degree.
const DEGREE: f64 = 100_000.0;

/// Latitude north and longitude east (WGS 84), hundred-thousandths of a degree.
pub type Position = (i64, i64);

/// Metres between two places as the crow flies (haversine on a sphere: at most 0.6 % off).
#[must_use]
pub fn metres(a: Position, b: Position) -> f64 {
    let radians = |hundred_thousandths: i64| (real(hundred_thousandths) / DEGREE).to_radians();
    let (lat_a, lat_b) = (radians(a.0), radians(b.0));
    let (by_lat, by_lon) = (lat_b - lat_a, radians(b.1) - radians(a.1));
    let h = (by_lat / 2.0).sin().powi(2) + lat_a.cos() * lat_b.cos() * (by_lon / 2.0).sin().powi(2);
    2.0 * EARTH_RADIUS_M * h.min(1.0).sqrt().asin()
}

/// The order of a round: from the first place on always to the nearest that is left, each with the
/// metres to it; places that are not known come last, in their order, without metres.
#[must_use]
pub fn round(places: &[Option<Position>]) -> Vec<(usize, Option<f64>)> {
    let mut left: Vec<(usize, Position)> =
        places.iter().enumerate().filter_map(|(i, p)| Some((i, (*p)?))).collect();
    let mut order = Vec::with_capacity(places.len());
    let mut here: Option<Position> = None;
    while !left.is_empty() {
        let next = here.map_or(0, |here| {
            let far = |(_, (_, place)): &(usize, &(usize, Position))| metres(here, *place);
            let nearest = left.iter().enumerate().min_by(|a, b| far(a).total_cmp(&far(b)));
            nearest.map_or(0, |(at, _)| at)
        });
        let (index, place) = left.remove(next);
        order.push((index, here.map(|here| metres(here, place))));
        here = Some(place);
    }
    let unknown = places.iter().enumerate().filter(|(_, p)| p.is_none());
    order.extend(unknown.map(|(index, _)| (index, None)));
    order
}

#[cfg(test)]
mod tests {
    use super::*;

    /// [ARITH] A degree of latitude is a 360th of the circumference; one of longitude at 60° north
    /// is half of that.
    #[test]
    fn degrees_have_their_length() {
        let degree = std::f64::consts::TAU * EARTH_RADIUS_M / 360.0;
        assert!((metres((0, 3_600_000), (100_000, 3_600_000)) - degree).abs() < 0.1);
        let half = metres((6_000_000, 0), (6_000_000, 1_000));
        assert!((half - degree / 200.0).abs() < 0.1, "{half}");
        assert!(metres((-130_000, 3_700_000), (-130_000, 3_700_000)) < 1e-9);
        let across = metres((0, 0), (0, 18_000_000));
        assert!((across - 180.0 * degree).abs() < 1.0, "{across}");
    }

    #[test]
    fn a_round_goes_to_the_nearest_and_loses_no_farm() {
        let places = [Some((0, 0)), Some((0, 500)), None, Some((0, 100)), Some((0, 200))];
        let order = round(&places);
        assert_eq!(order.iter().map(|o| o.0).collect::<Vec<_>>(), [0, 3, 4, 1, 2]);
        assert!(order[0].1.is_none() && order[4].1.is_none());
        assert!((order[1].1.unwrap() - 111.2).abs() < 0.1);
        assert!(round(&[]).is_empty());
        assert_eq!(round(&[None, None]), [(0, None), (1, None)]);
    }
}
