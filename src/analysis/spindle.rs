//! Eccentricity along a spindle: an offset that is the same everywhere, and a tilt that grows.
//!
//! At each radial station the once-per-turn part gives the eccentricity as a vector, half its
//! peak-to-peak size at the angle of the high spot. Over the stations e(z) = offset + tilt·z is
//! fitted by least squares in both directions alike.

use super::floor::Alone;
use super::monte_carlo::{Draws, LANES, Noise, Row, floor_stands, propagate_until, spread, spread_stands};

/// One station: all lengths in the check's unit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Along {
    /// Distance along the axis.
    pub distance: f64,
    /// The eccentricity's parts at 0° and 90° from the index mark.
    pub eccentricity: (f64, f64),
    /// Standard uncertainty of each part from the readings' scatter and step.
    pub scatter: f64,
    /// The same on a perfect part, for the floor.
    pub idle: f64,
    /// Standard uncertainty of each part from the indicator's accuracy.
    pub accuracy: f64,
}

/// The fitted line.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Line {
    /// The eccentricity at distance 0.
    pub offset: (f64, f64),
    /// Its growth with distance (a ratio of lengths).
    pub tilt: (f64, f64),
}

/// A size with what made its uncertainty.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Size {
    /// The length of the vector.
    pub value: f64,
    /// Standard uncertainty from the readings.
    pub from_readings: f64,
    /// Standard uncertainty from the indicator's accuracy.
    pub from_accuracy: f64,
    /// What a perfect spindle would show 95 times in 100.
    pub floor: f64,
}

/// Offset and tilt with their uncertainties.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Spindle {
    /// The fitted line.
    pub line: Line,
    /// The offset's size.
    pub offset: Size,
    /// The tilt's size, in radians.
    pub tilt: Size,
    /// The angle between offset and tilt, degrees from 0 to 180.
    pub between: f64,
}

/// What each station adds to offset and tilt: the fit is linear.
fn weights(stations: &[Along]) -> Option<Vec<(f64, f64)>> {
    let n = stations.len() as f64;
    let centre = stations.iter().map(|station| station.distance).sum::<f64>() / n;
    let squares: f64 = stations.iter().map(|station| (station.distance - centre).powi(2)).sum();
    let reach = stations.iter().map(|station| station.distance.abs()).fold(0.0, f64::max);
    if stations.len() < 2 || squares <= (reach * 1e-9).powi(2) {
        return None;
    }
    Some(
        stations
            .iter()
            .map(|station| {
                let lever = (station.distance - centre) / squares;
                (1.0 / n - centre * lever, lever)
            })
            .collect(),
    )
}

/// Fits offset and tilt; `alone` is the noise of the one indicator that read them all. `None` of fewer than two stations or of stations at one distance.
pub fn fit(stations: &[Along], alone: Alone) -> Option<Spindle> {
    let weights = weights(stations)?;
    let sum = |pick: fn(&(f64, f64)) -> f64, part: fn(&Along) -> f64| -> f64 {
        weights.iter().zip(stations).map(|(weight, station)| pick(weight) * part(station)).sum()
    };
    let offset = (sum(|w| w.0, |s| s.eccentricity.0), sum(|w| w.0, |s| s.eccentricity.1));
    let tilt = (sum(|w| w.1, |s| s.eccentricity.0), sum(|w| w.1, |s| s.eccentricity.1));
    let root = |pick: fn(&(f64, f64)) -> f64, part: fn(&Along) -> f64| -> f64 {
        weights
            .iter()
            .zip(stations)
            .map(|(weight, station)| (pick(weight) * part(station)).powi(2))
            .sum::<f64>()
            .sqrt()
    };
    let seed: Vec<f64> = stations.iter().map(|station| station.eccentricity.0).collect();
    let mut draws = Draws::seeded(&seed);
    let size = |vector: (f64, f64), pick: fn(&(f64, f64)) -> f64, draws: &mut Draws| {
        let readings = root(pick, |s| s.scatter);
        let accuracy = root(pick, |s| s.accuracy);
        let idle = root(pick, |s| s.idle);
        length(vector, readings, accuracy, (idle, alone), draws)
    };
    let between = (offset.1.atan2(offset.0) - tilt.1.atan2(tilt.0)).to_degrees().rem_euclid(360.0);
    Some(Spindle {
        line: Line { offset, tilt },
        offset: size(offset, |w| w.0, &mut draws),
        tilt: size(tilt, |w| w.1, &mut draws),
        between: if between > 180.0 { 360.0 - between } else { between },
    })
}

/// The length of a vector whose parts are uncertain alike, by Monte Carlo.
fn length(
    vector: (f64, f64),
    readings: f64,
    accuracy: f64,
    (idle, alone): (f64, Alone),
    draws: &mut Draws,
) -> Size {
    let value = vector.0.hypot(vector.1);
    let total = readings.hypot(accuracy);
    // Worked out in units of the total, in which single precision is ample.
    let unit = if total > 0.0 { total } else { 1.0 };
    let noise = Noise::normal(1.0);
    #[allow(clippy::cast_possible_truncation)]
    let (x, y) = ((vector.0 / unit) as f32, (vector.1 / unit) as f32);
    let stands = |draws: &[f32]| spread_stands(draws) && floor_stands(draws);
    let [around, idle_draws] = propagate_until(draws, &[&noise, &noise], stands, |rows: &[Row], out| {
        for lane in 0..LANES {
            let (a, b) = (rows[0][lane], rows[1][lane]);
            out[0][lane] = ((x + a).powi(2) + (y + b).powi(2)).sqrt();
            out[1][lane] = a.hypot(b);
        }
    });
    let spread = spread(&around) * unit;
    let share = |part: f64| {
        if total > 0.0 { spread * part / total } else { 0.0 }
    };
    Size {
        value,
        from_readings: share(readings),
        from_accuracy: share(accuracy),
        floor: alone.floor(idle_draws) * idle,
    }
}
