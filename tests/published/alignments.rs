//! Zones and leans against published readings and against linear programmes by scipy (the file
//! `scipy_alignments.json` says which versions, and where the readings come from).

use asfound::analysis::size::ReadingNoise;
use asfound::analysis::uncertainty::Repeatability;
use asfound::analysis::zone::{Against, Places, draw};
use serde_json::Value;

use crate::common::{Made, close, found, published};

fn oracle() -> Value {
    serde_json::from_str(&published("scipy_alignments.json")).unwrap()
}

fn numbers(value: &Value) -> Vec<f64> {
    value.as_array().unwrap().iter().map(|number| number.as_f64().unwrap()).collect()
}

fn surface(set: &Value) -> Places<4> {
    let points: Vec<(f64, f64)> = numbers(&set["x"]).into_iter().zip(numbers(&set["y"])).collect();
    Places::surface(&points)
}

fn agree(found: f64, set: &Value, key: &str) {
    let wanted = set[key].as_f64().unwrap();
    assert!(
        (found - wanted).abs() < 1e-9 * wanted.abs().max(1.0),
        "{} {key}: {found}, not {wanted}",
        set["name"]
    );
}

/// ISO 1101's minimum zone of 29 surfaces (grids, scattered points, holes, ties) by
/// `scipy.optimize.linprog` (HiGHS), and numpy's least squares.
#[test]
fn flatness_is_that_of_a_linear_programme() {
    for set in oracle()["flatness"].as_array().unwrap() {
        let (places, heights) = (surface(set), numbers(&set["z"]));
        agree(places.held(&heights, Against::MinimumZone).unwrap().width, set, "minimum_zone");
        agree(places.held(&heights, Against::LeastSquares).unwrap().width, set, "least_squares");
    }
}

/// The same of 17 lines, with the line through their end points.
#[test]
fn straightness_is_that_of_a_linear_programme() {
    for set in oracle()["straightness"].as_array().unwrap() {
        let (places, heights) = (Places::line(&numbers(&set["x"])), numbers(&set["z"]));
        agree(places.held(&heights, Against::MinimumZone).unwrap().width, set, "minimum_zone");
        agree(places.held(&heights, Against::LeastSquares).unwrap().width, set, "least_squares");
        agree(places.held(&heights, Against::EndPoints).unwrap().width, set, "end_points");
    }
}

fn made(check: &str, readings: &str) -> Made {
    let session = format!(
        "title: T\nunits: metric\nmachines: {{m: {{name: M}}}}\n\
         instruments: {{i: {{name: I, resolution: 0.01 µm}}}}\n\
         checks: {{c: {{{check}, instrument: i}}}}\n"
    );
    let visit = format!("state: baseline\ndate: 2026-03-02\nreadings: {{c: {{{readings}}}}}\n");
    Made::new(&session, &[("one", &visit)])
}

fn value(made: &Made, what: &str) -> f64 {
    found(&made.analysed().1, "c", "one", "", what).value.unwrap()
}

fn listed(values: &[f64], unit: &str) -> String {
    let each: Vec<String> = values.iter().map(|value| format!("{value}{unit}")).collect();
    format!("[{}]", each.join(", "))
}

/// The laser's readings of two axes (HP 5528A User's Guide, section 21, October 1987, pp. 21-3 to 21-7): what
/// the readings give, for the guide's own table has slips. End points 0.867, least squares 0.704, minimum
/// zone 0.65 µm of axis 1; the three fall in this order.
#[test]
fn a_laser_s_axis_is_as_straight_as_its_readings_say() {
    let oracle = oracle();
    for axis in ["axis 1", "axis 2"] {
        let set = &oracle["laser"][axis];
        let (x, z) = (numbers(&set["x"]), numbers(&set["z"]));
        let made = made(
            "measure: straightness, unit: µm",
            &format!("along: {}, passes: [{}]", listed(&x, " m"), listed(&z, "")),
        );
        let three = ["straightness", "straightness_least_squares", "straightness_end_points"]
            .map(|w| value(&made, w));
        for (found, key) in three.iter().zip(["minimum_zone", "least_squares", "end_points"]) {
            agree(*found, set, key);
        }
        assert!(three[0] <= three[1] && three[1] <= three[2]);
    }
}

/// The squareness of those axes, second slope less first, the square without error: −5.17 arcsec by least
/// squares (the guide prints −5.2).
#[test]
fn two_laser_s_axes_are_as_square_as_their_readings_say() {
    let oracle = oracle();
    let line = |axis: &str| {
        let set = &oracle["laser"][axis];
        format!(
            "{{along: {}, passes: [{}]}}",
            listed(&numbers(&set["x"]), " m"),
            listed(&numbers(&set["z"]), "")
        )
    };
    let lines = format!("lines: [{}, {}], square_error: 0 arcsec", line("axis 1"), line("axis 2"));
    let made = made("measure: squareness, unit: µm", &lines);
    close(value(&made, "angle") * 3600.0, -5.171_621_232_601_204, 1e-6);
    close(value(&made, "out_of_square"), -0.025_072_727_272_727_27, 1e-9);
}

/// The surface plate of J. C. Moody, The Tool Engineer, October 1955: heights from his readings, the lowest
/// and the highest 17.8411 apart (9.2 arcsec of 4 in, in 1e-5 in); flat within 16.367 by the minimum zone and
/// 17.570 by least squares (linprog, numpy).
#[test]
fn the_plate_of_1955_is_flatter_than_its_highest_and_lowest_place_say() {
    let oracle = oracle();
    let moody = &oracle["moody_1955"]["places"];
    let (x, y, z) = (numbers(&moody["x"]), numbers(&moody["y"]), numbers(&moody["z"]));
    let range = z.iter().copied().fold(f64::MIN, f64::max) - z.iter().copied().fold(f64::MAX, f64::min);
    close(range, 17.841_143_464_830_928, 1e-9);
    let points: Vec<String> =
        x.iter().zip(&y).zip(&z).map(|((x, y), z)| format!("[{x} in, {y} in, {z}e-1 tenth]")).collect();
    let made = made("measure: flatness, unit: tenth", &format!("points: [{}]", points.join(", ")));
    close(value(&made, "flatness"), 1.636_730_987_425_793_4, 1e-9);
    close(value(&made, "flatness_least_squares"), 1.756_974_527_270_880_4, 1e-9);
}

/// The grid of CHECKVALUES 11.3: least squares 6.1667, more than the readings' whole range of 6; minimum zone
/// 6.0 (linprog).
#[test]
fn least_squares_can_call_a_table_worse_than_its_readings_range() {
    let rows = "rows: [[0, 2, 1], [3, 6, 2], [1, 4, 0]], step: [250 mm, 200 mm]";
    let made = made("measure: flatness, unit: thou", rows);
    close(value(&made, "flatness"), 6.0, 1e-12);
    close(value(&made, "flatness_least_squares"), 6.166_666_666_666_666, 1e-12);
}

/// Widths drawn 2·10⁵ times by numpy with every zone solved as a linear programme: standard deviation and
/// the 95 % point of a perfect plate, to the two digits that the draws go on for (JCGM 101:2008, 7.9).
#[test]
fn noise_does_to_a_zone_what_numpy_says() {
    for set in oracle()["monte_carlo"].as_array().unwrap() {
        let spread = Repeatability { deviation: set["normal_sd"].as_f64().unwrap(), dof: f64::INFINITY };
        let noise =
            ReadingNoise { step: set["step"].as_f64().unwrap(), spread: Some(spread), spread_name: "s" };
        let heights = numbers(&set["z"]);
        let counts = vec![1; heights.len()];
        for (key, against) in
            [("minimum_zone", Against::MinimumZone), ("least_squares", Against::LeastSquares)]
        {
            let drawn = if set.get("y").is_some_and(|y| !y.is_null()) {
                draw(&surface(set), &heights, &counts, against, (&noise, &noise))
            } else {
                draw(&Places::line(&numbers(&set["x"])), &heights, &counts, against, (&noise, &noise))
            }
            .unwrap();
            let two_digits = |found: f64, name: &str| {
                let wanted = set[key][name].as_f64().unwrap();
                let half = 0.5 * 10f64.powf(wanted.log10().floor() - 1.0);
                assert!((found - wanted).abs() < half, "{} {key} {name}: {found}, not {wanted}", set["name"]);
            };
            two_digits(drawn.spread, "sd");
            two_digits(drawn.floor, "floor_95");
        }
    }
}

/// The five cuts of an article on a table saw's sledge (instructables.com, Table Saw Sledge Accuracy Test):
/// ends of 27.89 and 29.25 mm, a strip of 400 mm: −1.36/4/400 = −0.85 mm/m, an angle of −0.0487°. A step of
/// 0.01 mm makes u = 0.01/√6/4/400 (CHECKVALUES 11.4).
#[test]
fn five_cuts_are_divided_by_four() {
    let session = "title: T\nunits: metric\nmachines: {m: {name: M}}\n\
         instruments: {i: {name: I, resolution: 0.01 mm}}\n\
         checks: {c: {measure: squareness, unit: mm, instrument: i}}\n";
    let visit = "state: baseline\ndate: 2026-03-02\n\
         readings: {c: {five_cuts: [{near: 27.89, far: 29.25, strip: 400 mm}]}}\n";
    let made = Made::new(session, &[("one", visit)]);
    let (_, findings) = made.analysed();
    let slope = found(&findings, "c", "one", "", "out_of_square");
    close(slope.value.unwrap(), -0.85, 1e-9);
    close(slope.expanded().unwrap().standard, 0.01 / 6f64.sqrt() / 4.0 / 400.0 * 1000.0, 1e-9);
    close(value(&made, "angle"), -0.048_701_400_857_201_5, 1e-9);
    close(value(&made, "difference"), -0.34, 1e-9);
}
