//! The units that a session may use.
//!
//! Factors: inch, pound, pound-force and the standard acceleration of gravity are exact by
//! definition (NIST SP 811, appendix B; the values agree with `scipy.constants` 1.17.1, which
//! cites it). The horsepower is the mechanical one, 550 ft·lbf/s.

use std::fmt;

use super::KindMismatch;

/// What a unit measures. Two quantities can be compared only within one kind.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
#[allow(missing_docs)]
pub enum Kind {
    Length,
    Temperature,
    RotationalSpeed,
    Acceleration,
    Velocity,
    Frequency,
    /// A sound level; dB, dBA, dBC and dBZ do not convert into each other.
    Level,
    Angle,
    Time,
    Current,
    Voltage,
    Power,
    Force,
    Torque,
    Mass,
    VolumeRate,
    Ratio,
    Count,
    /// A change of temperature over time; no zero offset.
    TemperatureRate,
    /// A share of the speed lost, per volume removed in a time.
    DroopPerRemoval,
    /// A plain number, such as a crest factor; its symbol is empty.
    Number,
}

impl Kind {
    /// The kind in words, as a message names it: "a length".
    pub fn words(self) -> &'static str {
        match self {
            Self::Length => "a length",
            Self::Temperature => "a temperature",
            Self::RotationalSpeed => "a rotational speed",
            Self::Acceleration => "an acceleration",
            Self::Velocity => "a velocity",
            Self::Frequency => "a frequency",
            Self::Level => "a level",
            Self::Angle => "an angle",
            Self::Time => "a time",
            Self::Current => "an electric current",
            Self::Voltage => "a voltage",
            Self::Power => "a power",
            Self::Force => "a force",
            Self::Torque => "a torque",
            Self::Mass => "a mass",
            Self::VolumeRate => "a volume rate",
            Self::Ratio => "a ratio",
            Self::Count => "a count",
            Self::TemperatureRate => "a rate of temperature",
            Self::DroopPerRemoval => "a droop per removal rate",
            Self::Number => "a plain number",
        }
    }
}

/// How results are shown: the session's `units`.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum UnitSystem {
    /// Inches, thousandths, degrees Fahrenheit.
    Inch,
    /// Millimetres, micrometres, degrees Celsius.
    Metric,
}

#[derive(Debug)]
struct Definition {
    symbol: &'static str,
    spellings: &'static [&'static str],
    kind: Kind,
    factor: f64,
    offset: f64,
}

/// A unit of measurement from the table of the session format.
#[derive(Clone, Copy)]
pub struct Unit(&'static Definition);

const INCH: f64 = 0.0254;
const POUND_FORCE: f64 = 4.448_221_615_260_5;

const fn unit(
    symbol: &'static str,
    spellings: &'static [&'static str],
    kind: Kind,
    factor: f64,
) -> Definition {
    Definition { symbol, spellings, kind, factor, offset: 0.0 }
}

#[rustfmt::skip]
static TABLE: &[Definition] = &[
    unit("in", &["inch", "inches", "″"], Kind::Length, INCH),
    unit("thou", &["thousandth", "thousandths", "mil", "mils"], Kind::Length, INCH / 1e3),
    unit("tenth", &["tenths"], Kind::Length, INCH / 1e4),
    unit("ft", &["foot", "feet"], Kind::Length, INCH * 12.0),
    unit("µm", &["um", "μm", "micron", "microns", "micrometre", "micrometer"], Kind::Length, 1e-6),
    unit("mm", &["millimetre", "millimeter", "millimetres", "millimeters"], Kind::Length, 1e-3),
    unit("cm", &["centimetre", "centimeter"], Kind::Length, 1e-2),
    unit("m", &["metre", "meter", "metres", "meters"], Kind::Length, 1.0),
    Definition { symbol: "°F", spellings: &["degF", "deg F", "ºF", "F"], kind: Kind::Temperature, factor: 5.0 / 9.0, offset: 273.15 - 32.0 * 5.0 / 9.0 },
    Definition { symbol: "°C", spellings: &["degC", "deg C", "ºC", "C"], kind: Kind::Temperature, factor: 1.0, offset: 273.15 },
    unit("K", &["kelvin"], Kind::Temperature, 1.0),
    unit("rpm", &["r/min", "rev/min", "RPM", "min⁻¹"], Kind::RotationalSpeed, std::f64::consts::TAU / 60.0),
    unit("Hz", &["hertz"], Kind::RotationalSpeed, std::f64::consts::TAU),
    unit("rad/s", &[], Kind::RotationalSpeed, 1.0),
    unit("g", &["gn", "g0"], Kind::Acceleration, 9.806_65),
    unit("m/s²", &["m/s2", "m/s^2"], Kind::Acceleration, 1.0),
    unit("mm/s²", &["mm/s2", "mm/s^2"], Kind::Acceleration, 1e-3),
    unit("mm/s", &[], Kind::Velocity, 1e-3),
    unit("in/s", &["ips"], Kind::Velocity, INCH),
    unit("m/s", &[], Kind::Velocity, 1.0),
    unit("m/min", &[], Kind::Velocity, 1.0 / 60.0),
    unit("ft/min", &["fpm"], Kind::Velocity, INCH * 12.0 / 60.0),
    unit("Hz", &["hertz"], Kind::Frequency, 1.0),
    unit("kHz", &[], Kind::Frequency, 1e3),
    unit("dB", &[], Kind::Level, 1.0),
    unit("dBA", &["dB(A)"], Kind::Level, 1.0),
    unit("dBC", &["dB(C)"], Kind::Level, 1.0),
    unit("dBZ", &["dB(Z)"], Kind::Level, 1.0),
    unit("deg", &["°", "degree", "degrees"], Kind::Angle, std::f64::consts::PI / 180.0),
    unit("rad", &["radian", "radians"], Kind::Angle, 1.0),
    unit("mrad", &[], Kind::Angle, 1e-3),
    unit("mm/m", &[], Kind::Angle, 1e-3),
    unit("thou/in", &[], Kind::Angle, 1e-3),
    unit("arcmin", &["′"], Kind::Angle, std::f64::consts::PI / 10_800.0),
    unit("arcsec", &[], Kind::Angle, std::f64::consts::PI / 648_000.0),
    unit("s", &["sec", "second", "seconds"], Kind::Time, 1.0),
    unit("ms", &["msec", "millisecond", "milliseconds"], Kind::Time, 1e-3),
    unit("µs", &["us", "μs", "microsecond", "microseconds"], Kind::Time, 1e-6),
    unit("min", &["minute", "minutes"], Kind::Time, 60.0),
    unit("h", &["hour", "hours", "hr"], Kind::Time, 3600.0),
    unit("days", &["day", "d"], Kind::Time, 86_400.0),
    unit("weeks", &["week"], Kind::Time, 604_800.0),
    unit("months", &["month"], Kind::Time, 2_629_746.0),
    unit("years", &["year"], Kind::Time, 31_556_952.0),
    unit("A", &["amp", "amps", "ampere"], Kind::Current, 1.0),
    unit("V", &["volt", "volts"], Kind::Voltage, 1.0),
    unit("W", &["watt", "watts"], Kind::Power, 1.0),
    unit("kW", &[], Kind::Power, 1e3),
    unit("hp", &["HP"], Kind::Power, 745.699_871_582_270_1),
    unit("N", &["newton", "newtons"], Kind::Force, 1.0),
    unit("lbf", &[], Kind::Force, POUND_FORCE),
    unit("N·m", &["Nm", "N m", "N.m"], Kind::Torque, 1.0),
    unit("lbf·ft", &["lbf ft", "lbf.ft", "ft·lbf", "ft lbf"], Kind::Torque, POUND_FORCE * INCH * 12.0),
    unit("kg", &[], Kind::Mass, 1.0),
    unit("lb", &["lbs"], Kind::Mass, 0.453_592_37),
    unit("cm³/min", &["cm3/min", "cm^3/min"], Kind::VolumeRate, 1e-6 / 60.0),
    unit("in³/min", &["in3/min", "in^3/min"], Kind::VolumeRate, INCH * INCH * INCH / 60.0),
    unit("%", &["percent", "per cent"], Kind::Ratio, 0.01),
    unit("count", &["counts"], Kind::Count, 1.0),
    unit("°F/h", &["degF/h"], Kind::TemperatureRate, 5.0 / 9.0 / 3600.0),
    unit("°C/h", &["degC/h"], Kind::TemperatureRate, 1.0 / 3600.0),
    unit("K/h", &[], Kind::TemperatureRate, 1.0 / 3600.0),
    unit("%/(in³/min)", &["%/(in3/min)"], Kind::DroopPerRemoval, 0.01 / (INCH * INCH * INCH / 60.0)),
    unit("%/(cm³/min)", &["%/(cm3/min)"], Kind::DroopPerRemoval, 0.01 / (1e-6 / 60.0)),
    unit("", &[], Kind::Number, 1.0),
];

impl Unit {
    /// The unit's symbol as results print it.
    pub fn symbol(self) -> &'static str {
        self.0.symbol
    }

    /// What it measures.
    pub fn kind(self) -> Kind {
        self.0.kind
    }

    pub(super) fn factor(self) -> f64 {
        self.0.factor
    }

    pub(super) fn offset(self) -> f64 {
        self.0.offset
    }

    /// A hertz is a turning speed or a frequency, whichever is wanted; every other unit is what it is.
    pub(super) fn as_kind_of(self, wanted: Self) -> Self {
        let hertz = |kind| matches!(kind, Kind::RotationalSpeed | Kind::Frequency);
        if self.symbol() == "Hz" && hertz(wanted.kind()) {
            Self::known(wanted.kind(), "Hz").unwrap_or(self)
        } else {
            self
        }
    }

    pub(super) fn convertible(self, other: Self) -> Result<(), KindMismatch> {
        let same_kind = self.kind() == other.kind();
        if same_kind && (self.kind() != Kind::Level || self.symbol() == other.symbol()) {
            return Ok(());
        }
        Err(if same_kind {
            KindMismatch { found: self.symbol(), wanted: other.symbol() }
        } else {
            KindMismatch { found: self.kind().words(), wanted: other.kind().words() }
        })
    }

    /// The unit of that symbol and kind, for the program's own tables.
    pub fn known(kind: Kind, symbol: &str) -> Option<Self> {
        units_of(kind).find(|unit| unit.symbol() == symbol)
    }

    /// All units that a spelling can mean (`Hz` is a speed and a frequency).
    pub(super) fn spelled(text: &str) -> impl Iterator<Item = Self> + use<'_> {
        TABLE.iter().filter(move |unit| unit.symbol == text || unit.spellings.contains(&text)).map(Unit)
    }

    /// Every unit, in the order of the session format's table.
    pub fn all() -> impl Iterator<Item = Self> {
        TABLE.iter().map(Unit)
    }

    /// Whether a text spells a unit of any kind. Unlike a failed [`super::parse_unit`], a no costs no search for
    /// what might have been meant.
    pub fn is_spelled(text: &str) -> bool {
        Self::spelled(text.trim()).next().is_some()
    }

    /// Every spelling of every unit, for finding the nearest to a typo.
    pub(crate) fn spellings() -> impl Iterator<Item = (&'static str, Self)> {
        TABLE.iter().flat_map(|definition| {
            std::iter::once(definition.symbol)
                .chain(definition.spellings.iter().copied())
                .map(move |text| (text, Unit(definition)))
        })
    }
}

/// All units of a kind, in the order of the session format's table.
pub fn units_of(kind: Kind) -> impl Iterator<Item = Unit> {
    TABLE.iter().filter(move |unit| unit.kind == kind).map(Unit)
}

impl PartialEq for Unit {
    fn eq(&self, other: &Self) -> bool {
        self.symbol() == other.symbol() && self.kind() == other.kind()
    }
}

impl Eq for Unit {}

impl fmt::Debug for Unit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Unit({})", self.symbol())
    }
}

impl fmt::Display for Unit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.symbol())
    }
}
