//! An uncertainty budget (JCGM 100:2008, 5.1 and G.4), as `analysis::uncertainty` makes it.

/// How a component's values are taken to be spread.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Distribution {
    /// Equally likely between two bounds (JCGM 100, 4.3.7).
    Rectangular,
    /// Normal, from a standard deviation or a certificate's U and k (JCGM 100, 4.3.3).
    Normal,
}

impl Distribution {
    /// In a word.
    pub fn word(self) -> &'static str {
        match self {
            Self::Rectangular => "rectangular",
            Self::Normal => "normal",
        }
    }
}

/// One line of a budget; numbers in the finding's unit.
#[derive(Clone, Debug, PartialEq)]
pub struct Component {
    /// What it is.
    pub name: String,
    /// The number that was stated or found: a step, a half-width, a standard deviation, a U.
    pub estimate: f64,
    /// How it is spread.
    pub distribution: Distribution,
    /// What the estimate is divided by to give a standard uncertainty.
    pub divisor: f64,
    /// What it adds to the finding: a standard uncertainty.
    pub contribution: f64,
    /// Its degrees of freedom; infinite for a bound.
    pub dof: f64,
}

impl Component {
    /// A bound: anything within ± half is equally likely, so half/√3 (JCGM 100, 4.3.7).
    pub fn half_width(name: &str, half: f64) -> Self {
        let divisor = 3f64.sqrt();
        Self {
            name: name.to_owned(),
            estimate: half,
            distribution: Distribution::Rectangular,
            divisor,
            contribution: half / divisor,
            dof: f64::INFINITY,
        }
    }

    /// A standard uncertainty that was found as one, with its degrees of freedom.
    pub fn standard(name: &str, standard: f64, dof: f64) -> Self {
        Self {
            name: name.to_owned(),
            estimate: standard,
            distribution: Distribution::Normal,
            divisor: 1.0,
            contribution: standard,
            dof,
        }
    }
}

/// A combined and an expanded uncertainty at 95 %.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Expanded {
    /// The combined standard uncertainty.
    pub standard: f64,
    /// Effective degrees of freedom, a whole number or infinite.
    pub dof: f64,
    /// The coverage factor.
    pub k: f64,
    /// k times the standard uncertainty.
    pub expanded: f64,
}

/// All components of a finding's uncertainty, and what they come to.
#[derive(Clone, Debug, PartialEq)]
pub struct Budget {
    /// The lines.
    pub components: Vec<Component>,
    /// Their sum in quadrature, expanded.
    pub expanded: Expanded,
    /// Whether the display step and the scatter were carried through by Monte Carlo (JCGM 101).
    pub drawn: bool,
    /// What noise pushes the value up by on average, as it does a range; the value stays the one observed.
    pub lift: f64,
}

impl Expanded {
    /// The same combined uncertainty, expanded by another factor.
    #[must_use]
    pub fn by(self, k: f64) -> Self {
        Self { k, expanded: k * self.standard, ..self }
    }
}

impl Budget {
    /// The same, with step and scatter carried through by Monte Carlo.
    #[must_use]
    pub fn by_draws(mut self) -> Self {
        self.drawn = true;
        self
    }

    /// The same of a value that noise pushes up by so much.
    #[must_use]
    pub fn lifted(mut self, lift: f64) -> Self {
        self.lift = lift.max(0.0);
        self
    }
}
