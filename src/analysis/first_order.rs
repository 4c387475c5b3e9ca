//! The first-order course y = T∞ − (T∞ − T₀)·exp(−k·x) by least squares: what a body does that is
//! heated evenly and loses heat in proportion to its rise. The time constant is τ = 1/k.
//!
//! For a given k the course is a straight line in exp(−k·x), so the whole problem is a search along
//! k: the sum of squares is looked at over a grid of k, every hollow of it is a start, and
//! Levenberg–Marquardt ends each. One start alone may settle on a false minimum (NIST `StRD`, `BoxBOD`
//! from its first start), where the curve is flat in k and the Jacobian singular.

use levenberg_marquardt::{LeastSquaresProblem, LevenbergMarquardt};
use nalgebra::{DMatrix, DVector, Dyn, storage::Owned};

use super::straight_line;

/// What is known of the value at x = 0.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Initial {
    /// Nothing: it is fitted too.
    Free,
    /// It is this value.
    Fixed(f64),
}

/// A course.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Course {
    /// T∞, where it settles.
    pub settles: f64,
    /// T₀, where it starts.
    pub start: f64,
    /// k = 1/τ, per unit of x.
    pub rate: f64,
}

impl Course {
    /// The value at x.
    pub fn at(&self, x: f64) -> f64 {
        self.settles - (self.settles - self.start) * decay(self.rate, x)
    }
}

/// exp(−k·x), held below e²⁰⁰ so that a step of the search too far to the side of growth gives a number
/// that is too large and not none: the search then goes back.
fn decay(rate: f64, x: f64) -> f64 {
    (-rate * x).min(200.0).exp()
}

/// Where a descent from one start ended.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Descent {
    /// The course.
    pub course: Course,
    /// The sum of squares left.
    pub left: f64,
    /// Whether the points say nothing of one of the parameters there.
    pub singular: bool,
}

/// The best course of all starts.
#[derive(Clone, Debug, PartialEq)]
pub struct Fit {
    /// The course.
    pub course: Course,
    /// The sum of squares left.
    pub left: f64,
    /// Degrees of freedom: points less fitted parameters.
    pub dof: f64,
    /// √(sum of squares left / degrees of freedom).
    pub deviation: f64,
    /// Standard uncertainties of `settles`, `start` (0 where it is fixed) and `rate` from the scatter.
    pub standard: Course,
    /// The sums of squares of starts that ended elsewhere and higher.
    pub false_minima: Vec<f64>,
}

/// Points of the grid over k.
const GRID: i32 = 140;

/// Fits a course to points, x from zero on. `starts` are tried besides those that the grid over k
/// gives. `None` where there are no more points than parameters or where the best course leaves a
/// parameter undetermined.
pub fn fit(x: &[f64], y: &[f64], initial: Initial, starts: &[Course]) -> Option<Fit> {
    let n = x.len().min(y.len());
    let parameters = if initial == Initial::Free { 3 } else { 2 };
    if n <= parameters {
        return None;
    }
    let (x, y) = (x.get(..n)?, y.get(..n)?);
    let ends: Vec<Descent> = hollows(x, y, initial)
        .into_iter()
        .chain(starts.iter().copied())
        .filter_map(|start| descend(x, y, initial, start))
        .collect();
    let best = *ends.iter().min_by(|a, b| a.left.total_cmp(&b.left))?;
    if best.singular {
        return None;
    }
    let dof = (n - parameters) as f64;
    let deviation = (best.left / dof).sqrt();
    let unscaled = inverse(&jacobian(x, initial, best.course))?;
    let standard = |index: usize| deviation * unscaled[(index, index)].max(0.0).sqrt();
    let standard = Course {
        settles: standard(0),
        start: if initial == Initial::Free { standard(1) } else { 0.0 },
        rate: standard(parameters - 1),
    };
    // What is a rounding error of the largest numbers is no other minimum.
    let room = 1e-6 * best.left + 1e-12 * y.iter().map(|y| y * y).sum::<f64>();
    let false_minima = ends.iter().map(|end| end.left).filter(|left| *left > best.left + room).collect();
    Some(Fit { course: best.course, left: best.left, dof, deviation, standard, false_minima })
}

impl Fit {
    /// τ = 1/k.
    pub fn time_constant(&self) -> f64 {
        1.0 / self.course.rate
    }

    /// The standard uncertainty of τ from the scatter: u(k)/k².
    pub fn time_constant_standard(&self) -> f64 {
        self.standard.rate / self.course.rate.powi(2)
    }

    /// What an error of one unit in every point, each on its own, would do to τ (standard).
    pub fn time_constant_per_unit(&self) -> f64 {
        if self.deviation > 0.0 { self.time_constant_standard() / self.deviation } else { 0.0 }
    }
}

/// The sum of squares that the best course of a given k leaves; a negative k is one that runs away.
pub fn left_at(x: &[f64], y: &[f64], initial: Initial, rate: f64) -> Option<f64> {
    at_rate(x, y, initial, rate).map(|(_, left)| left)
}

/// Levenberg–Marquardt from one start. `None` where it leads nowhere that is a number.
pub fn descend(x: &[f64], y: &[f64], initial: Initial, from: Course) -> Option<Descent> {
    let problem = Problem { x, y, initial, course: from };
    let (ended, report) = LevenbergMarquardt::new().with_patience(200).minimize(problem);
    let course = ended.course;
    let finite = [course.settles, course.start, course.rate].iter().all(|value| value.is_finite());
    if report.termination.was_usage_issue() || !finite {
        return None;
    }
    let left: f64 = x.iter().zip(y).map(|(x, y)| (y - course.at(*x)).powi(2)).sum();
    if !left.is_finite() {
        return None;
    }
    let singular = is_singular(&jacobian(x, initial, course), course, y);
    Some(Descent { course, left, singular })
}

/// The best course of every k of a grid at which the sum of squares is lower than at its neighbours.
fn hollows(x: &[f64], y: &[f64], initial: Initial) -> Vec<Course> {
    let reach = x.iter().fold(0.0f64, |most, x| most.max(x.abs()));
    let finest = x
        .windows(2)
        .map(|pair| (pair[1] - pair[0]).abs())
        .chain(x.first().map(|x| x.abs()))
        .filter(|gap| *gap > 0.0)
        .fold(f64::INFINITY, f64::min);
    if reach <= 0.0 || !finest.is_finite() {
        return Vec::new();
    }
    let (low, high) = (0.01 / reach, 30.0 / finest);
    let grid: Vec<(Course, f64)> = (0..=GRID)
        .map(|step| low * (high / low).powf(f64::from(step) / f64::from(GRID)))
        .filter_map(|rate| at_rate(x, y, initial, rate))
        .collect();
    let is_hollow = |index: usize| {
        let left = grid[index].1;
        let other = |index: Option<usize>| index.and_then(|i| grid.get(i)).is_none_or(|(_, l)| left <= *l);
        other(index.checked_sub(1)) && other(index.checked_add(1))
    };
    // Where the curve is flat in k every point is a hollow: a few will do.
    let mut starts: Vec<(Course, f64)> =
        (0..grid.len()).filter(|index| is_hollow(*index)).map(|index| grid[index]).collect();
    starts.sort_by(|a, b| a.1.total_cmp(&b.1));
    starts.truncate(6);
    starts.into_iter().map(|(course, _)| course).collect()
}

/// The best course for a given k, and the sum of squares it leaves.
fn at_rate(x: &[f64], y: &[f64], initial: Initial, rate: f64) -> Option<(Course, f64)> {
    let decays: Vec<f64> = x.iter().map(|x| decay(rate, *x)).collect();
    let course = match initial {
        Initial::Free => {
            let line = straight_line::fit(&decays, y)?;
            Course { settles: line.intercept, start: line.at(1.0), rate }
        }
        Initial::Fixed(start) => {
            let squares: f64 = decays.iter().map(|e| (1.0 - e).powi(2)).sum();
            let products: f64 = decays.iter().zip(y).map(|(e, y)| (1.0 - e) * (y - start)).sum();
            Course { settles: start + products / squares, start, rate }
        }
    };
    let left: f64 = x.iter().zip(y).map(|(x, y)| (y - course.at(*x)).powi(2)).sum();
    left.is_finite().then_some((course, left))
}

struct Problem<'a> {
    x: &'a [f64],
    y: &'a [f64],
    initial: Initial,
    course: Course,
}

impl LeastSquaresProblem<f64, Dyn, Dyn> for Problem<'_> {
    type ParameterStorage = Owned<f64, Dyn>;
    type ResidualStorage = Owned<f64, Dyn>;
    type JacobianStorage = Owned<f64, Dyn, Dyn>;

    fn set_params(&mut self, p: &DVector<f64>) {
        self.course = match self.initial {
            Initial::Free => Course { settles: p[0], start: p[1], rate: p[2] },
            Initial::Fixed(start) => Course { settles: p[0], start, rate: p[1] },
        };
    }

    fn params(&self) -> DVector<f64> {
        let Course { settles, start, rate } = self.course;
        match self.initial {
            Initial::Free => DVector::from_vec(vec![settles, start, rate]),
            Initial::Fixed(_) => DVector::from_vec(vec![settles, rate]),
        }
    }

    fn residuals(&self) -> Option<DVector<f64>> {
        let residuals: Vec<f64> = self.x.iter().zip(self.y).map(|(x, y)| self.course.at(*x) - y).collect();
        residuals.iter().all(|residual| residual.is_finite()).then(|| DVector::from_vec(residuals))
    }

    fn jacobian(&self) -> Option<DMatrix<f64>> {
        let matrix = jacobian(self.x, self.initial, self.course);
        matrix.iter().all(|entry| entry.is_finite()).then_some(matrix)
    }
}

/// The course's derivatives by its fitted parameters, a row a point.
fn jacobian(x: &[f64], initial: Initial, course: Course) -> DMatrix<f64> {
    let travel = course.settles - course.start;
    let free = initial == Initial::Free;
    DMatrix::from_fn(x.len(), if free { 3 } else { 2 }, |row, column| {
        let decay = decay(course.rate, x[row]);
        match (column, free) {
            (0, _) => 1.0 - decay,
            (1, true) => decay,
            _ => travel * x[row] * decay,
        }
    })
}

/// (JᵀJ)⁻¹ by way of J's triangle, its columns brought to one length first.
fn inverse(jacobian: &DMatrix<f64>) -> Option<DMatrix<f64>> {
    let lengths: Vec<f64> = jacobian.column_iter().map(|column| column.norm()).collect();
    if lengths.iter().any(|length| !(length.is_finite() && *length > 0.0)) {
        return None;
    }
    let mut scaled = jacobian.clone();
    for (mut column, length) in scaled.column_iter_mut().zip(&lengths) {
        column /= *length;
    }
    let triangle = scaled.qr().r().try_inverse()?;
    let mut product = &triangle * triangle.transpose();
    for (row, first) in lengths.iter().enumerate() {
        for (column, second) in lengths.iter().enumerate() {
            product[(row, column)] /= first * second;
        }
    }
    product.iter().all(|entry| entry.is_finite()).then_some(product)
}

/// Whether a change of k hardly moves the course, or two parameters move it alike.
fn is_singular(jacobian: &DMatrix<f64>, course: Course, y: &[f64]) -> bool {
    let size = y.iter().map(|y| y * y).sum::<f64>().sqrt();
    let last = jacobian.ncols() - 1;
    if jacobian.column(last).norm() * course.rate.abs() <= 1e-9 * size {
        return true;
    }
    let mut scaled = jacobian.clone();
    for mut column in scaled.column_iter_mut() {
        let length = column.norm();
        if length > 0.0 {
            column /= length;
        }
    }
    let values = scaled.singular_values();
    let (most, least) = (values.max(), values.min());
    least.is_nan() || least <= 1e-9 * most
}
