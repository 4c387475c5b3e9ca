use super::draws::tests_help::both_ways;
use super::*;
use crate::analysis::size::ReadingNoise;
use crate::analysis::uncertainty::Repeatability;

fn grid(nx: usize, ny: usize) -> Vec<(f64, f64)> {
    (0..ny).flat_map(|y| (0..nx).map(move |x| (x as f64 * 250.0, y as f64 * 200.0))).collect()
}

/// Numbers between 0 and 1 that look random and are the same every time.
fn scrambled(n: usize, seed: u64) -> Vec<f64> {
    let mut draws = crate::analysis::monte_carlo::Draws::numbered(seed, 7);
    (0..n).map(|_| draws.uniform()).collect()
}

fn noise(step: f64, deviation: f64) -> ReadingNoise {
    let spread = (deviation > 0.0).then_some(Repeatability { deviation, dof: 9.0 });
    ReadingNoise { step, spread, spread_name: "Repeatability of the indicator" }
}

#[expect(clippy::many_single_char_names, reason = "the letters of two equations")]
/// The narrowest zone by trying every plane that three points and a fourth opposite can carry.
fn by_trying(places: &Places<4>, heights: &[f64]) -> f64 {
    let n = heights.len();
    let mut best = f64::INFINITY;
    let mut width = |normal: [f64; 2]| {
        let departures: Vec<f64> = (0..n)
            .map(|i| heights[i] - normal[0] * places.rows[i][1] - normal[1] * places.rows[i][2])
            .collect();
        let high = departures.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let low = departures.iter().copied().fold(f64::INFINITY, f64::min);
        best = best.min(high - low);
    };
    let slopes = |pairs: [(usize, usize); 2]| {
        let row = |(a, b): (usize, usize)| {
            let (p, q) = (places.rows[a], places.rows[b]);
            (p[1] - q[1], p[2] - q[2], heights[a] - heights[b])
        };
        let ((a, b, e), (c, d, f)) = (row(pairs[0]), row(pairs[1]));
        let det = a * d - b * c;
        (det.abs() > 1e-12).then(|| [(e * d - b * f) / det, (a * f - e * c) / det])
    };
    for a in 0..n {
        for b in 0..n {
            for c in 0..n {
                for d in 0..n {
                    if let Some(normal) = slopes([(a, b), (c, d)]) {
                        width(normal);
                    }
                }
            }
        }
    }
    best
}

#[test]
fn the_minimum_zone_is_the_narrowest_of_all() {
    for seed in 0..12 {
        let points: Vec<(f64, f64)> = scrambled(9, seed).into_iter().zip(scrambled(9, seed + 100)).collect();
        let heights = scrambled(9, seed + 200);
        let places = Places::surface(&points);
        let held = places.held(&heights, Against::MinimumZone).expect("nine points span a plane");
        assert!((held.width - by_trying(&places, &heights)).abs() < 1e-9, "{seed}");
        assert!(held.touching.len() >= 4, "four points carry a plane's zone: {:?}", held.touching);
    }
}

/// Source: CHECKVALUES 11.3, by `scipy.optimize.linprog`.
#[test]
fn a_grid_of_nine_is_flatter_against_its_minimum_zone_than_against_least_squares() {
    let places = Places::surface(&grid(3, 3));
    let heights = [0.0, 2.0, 1.0, 3.0, 6.0, 2.0, 1.0, 4.0, 0.0];
    let width = |against| places.held(&heights, against).expect("spans").width;
    assert!((width(Against::MinimumZone) - 6.0).abs() < 1e-12);
    assert!((width(Against::LeastSquares) - 37.0 / 6.0).abs() < 1e-12);
}

#[test]
fn saddles_planes_and_ties_are_no_trouble() {
    let places = Places::surface(&grid(12, 9));
    let plane: Vec<f64> = places.rows.iter().map(|row| 3.0 + row[1] - 2.0 * row[2]).collect();
    assert!(places.held(&plane, Against::MinimumZone).expect("spans").width < 1e-9);
    let saddle: Vec<f64> = places.rows.iter().map(|row| row[1] * row[2]).collect();
    let width = places.held(&saddle, Against::MinimumZone).expect("spans").width;
    assert!((width - 2.0 * saddle[0].abs()).abs() < 1e-9, "a twist keeps its corners: {width}");
    let steps: Vec<f64> = (0..108).map(|index| f64::from(u8::from(index % 2 == 0))).collect();
    assert!((places.held(&steps, Against::MinimumZone).expect("spans").width - 1.0).abs() < 1e-9);
}

#[test]
fn points_on_one_line_span_no_plane_and_points_at_one_place_no_line() {
    let row: Vec<(f64, f64)> = (0..6).map(|i| (f64::from(i) * 0.3, f64::from(i) * 0.1 + 5.0)).collect();
    assert!(!Places::surface(&row).span());
    assert!(!Places::surface(&grid(3, 1)).span());
    assert!(!Places::line(&[2.0, 2.0, 2.0]).span());
    assert!(!Places::line(&[0.0, 1.0]).span());
    assert!(Places::line(&[0.0, 1.0, 2.0]).span());
}

#[test]
fn a_few_places_of_many_give_the_same_draws_as_all_of_them() {
    let points = grid(40, 25);
    let places = Places::surface(&points);
    let flat = vec![0.0; 1000];
    let hollow: Vec<f64> =
        places.rows.iter().map(|row| 4.0 * (row[1] * row[1] + 0.5 * row[2] * row[2])).collect();
    for heights in [&flat, &hollow] {
        for against in [Against::MinimumZone, Against::LeastSquares] {
            let (all, few) = both_ways(&places, heights, against, &noise(0.5, 0.3), 6_000);
            for (a, b, tolerance) in [(all.0, few.0, 0.01), (all.1, few.1, 0.05)] {
                assert!((a / b - 1.0).abs() < tolerance, "{against:?}: {all:?} {few:?}");
            }
        }
    }
    let along: Vec<f64> = (0..1000).map(f64::from).collect();
    let places = Places::line(&along);
    let bow: Vec<f64> = places.rows.iter().map(|row| 3.0 * (1.0 - row[1] * row[1])).collect();
    for against in [Against::MinimumZone, Against::LeastSquares, Against::EndPoints] {
        let (all, few) = both_ways(&places, &bow, against, &noise(0.5, 0.3), 6_000);
        assert!(
            (all.0 / few.0 - 1.0).abs() < 0.01 && (all.1 / few.1 - 1.0).abs() < 0.05,
            "{against:?}: {all:?} {few:?}"
        );
    }
}

#[test]
fn passes_that_lie_otherwise_say_the_same() {
    let places = Places::line(&[0.0, 100.0, 200.0, 300.0, 400.0]);
    let form = [0.0, 1.0, 1.5, 1.0, 0.0];
    let mut observed = Vec::new();
    for (pass, (level, slope)) in [(0.0, 0.0), (5.0, 0.01), (-2.0, 0.004)].into_iter().enumerate() {
        for (at, height) in form.iter().enumerate() {
            let height = height + level + slope * 100.0 * at as f64;
            observed.push(Observed { at, pass, height, struck: pass == 1 && at == 4 });
        }
    }
    let combined = combine(&places, &observed, false);
    let held = places.held(&combined.heights, Against::MinimumZone).expect("spans");
    assert!((held.width - 1.5).abs() < 1e-9, "a missing reading does not bend the line: {}", held.width);
    let (deviation, dof) = combined.scatter.expect("three passes");
    assert!(deviation < 1e-9);
    assert_eq!(dof, 14 - 5 - 4);
    assert_eq!(combined.counts, [3, 3, 3, 3, 2]);
}

#[test]
fn a_scatter_from_passes_is_that_of_the_readings() {
    let places = Places::line(&[0.0, 1.0, 2.0]);
    // Differences between two passes: 0, 1, 0; less their own line (mean 1/3): 2/3·(−½, 1, −½).
    let heights = [[0.0, 1.0, 0.0], [0.0, 2.0, 0.0]];
    let observed: Vec<Observed> = (0..2)
        .flat_map(|pass| {
            (0..3).map(move |at| Observed { at, pass, height: heights[pass][at], struck: false })
        })
        .collect();
    let (deviation, dof) = combine(&places, &observed, false).scatter.expect("two passes");
    assert_eq!(dof, 1);
    // Sum of squares of the differences' residuals, halved: (1/9 + 4/9 + 1/9)/2.
    assert!((deviation * deviation - 1.0 / 3.0).abs() < 1e-12, "{deviation}");
}
