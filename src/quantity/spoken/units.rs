//! What the units are called when they are said.

use super::super::Unit;

/// A unit's name in one and in many.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Names {
    /// Of exactly one, and after a fraction of one: "thousandth of an inch".
    pub one: &'static str,
    /// Of any other number: "thousandths of an inch".
    pub many: &'static str,
    /// `a` or `an`, before [`Names::one`].
    pub article: &'static str,
    /// The same once it has been said in full: "thousandth", "thousandths".
    brief: Option<(&'static str, &'static str)>,
}

impl Names {
    /// The name that goes with a number.
    pub fn of(self, number: f64) -> &'static str {
        if (number.abs() - 1.0).abs() < 1e-12 { self.one } else { self.many }
    }

    /// Once it has been said in full.
    #[must_use]
    pub fn short(self) -> Self {
        let (one, many) = self.brief.unwrap_or((self.one, self.many));
        Self { one, many, ..self }
    }
}

const fn both(one: &'static str, many: &'static str) -> Names {
    Names { one, many, article: "a", brief: None }
}

const fn an(one: &'static str, many: &'static str) -> Names {
    Names { one, many, article: "an", brief: None }
}

const fn brief(one: &'static str, many: &'static str, short: (&'static str, &'static str)) -> Names {
    Names { one, many, article: "a", brief: Some(short) }
}

/// The names of a unit. A unit that is missing here would be said by its symbol, which a test forbids.
pub fn names(unit: Unit) -> Names {
    match unit.symbol() {
        "in" => an("inch", "inches"),
        "thou" => brief("thousandth of an inch", "thousandths of an inch", ("thousandth", "thousandths")),
        "tenth" => brief(
            "tenth of a thousandth of an inch",
            "tenths of a thousandth of an inch",
            ("tenth of a thousandth", "tenths of a thousandth"),
        ),
        "ft" => both("foot", "feet"),
        "µm" => both("micrometre", "micrometres"),
        "mm" => both("millimetre", "millimetres"),
        "cm" => both("centimetre", "centimetres"),
        "m" => both("metre", "metres"),
        "°F" => brief("degree Fahrenheit", "degrees Fahrenheit", ("degree", "degrees")),
        "°C" => brief("degree Celsius", "degrees Celsius", ("degree", "degrees")),
        "K" => both("kelvin", "kelvins"),
        "rpm" => brief("revolution a minute", "revolutions a minute", ("revolution", "revolutions")),
        "Hz" => both("hertz", "hertz"),
        "rad/s" => both("radian per second", "radians per second"),
        "g" => both("g", "g"),
        "m/s²" => both("metre per second squared", "metres per second squared"),
        "mm/s²" => both("millimetre per second squared", "millimetres per second squared"),
        "mm/s" => both("millimetre per second", "millimetres per second"),
        "in/s" => an("inch per second", "inches per second"),
        "m/s" => both("metre per second", "metres per second"),
        "m/min" => both("metre per minute", "metres per minute"),
        "ft/min" => both("foot per minute", "feet per minute"),
        "kHz" => both("kilohertz", "kilohertz"),
        "dB" => both("decibel", "decibels"),
        "dBA" => brief("decibel, A-weighted", "decibels, A-weighted", ("decibel", "decibels")),
        "dBC" => brief("decibel, C-weighted", "decibels, C-weighted", ("decibel", "decibels")),
        "dBZ" => brief("decibel, Z-weighted", "decibels, Z-weighted", ("decibel", "decibels")),
        "deg" => both("degree", "degrees"),
        "rad" => both("radian", "radians"),
        "mrad" => both("milliradian", "milliradians"),
        "mm/m" => both("millimetre per metre", "millimetres per metre"),
        "thou/in" => brief(
            "thousandth of an inch per inch",
            "thousandths of an inch per inch",
            ("thousandth per inch", "thousandths per inch"),
        ),
        "arcmin" => both("minute of arc", "minutes of arc"),
        "arcsec" => both("second of arc", "seconds of arc"),
        "s" => both("second", "seconds"),
        "ms" => both("millisecond", "milliseconds"),
        "µs" => both("microsecond", "microseconds"),
        "min" => both("minute", "minutes"),
        "h" => an("hour", "hours"),
        "days" => both("day", "days"),
        "weeks" => both("week", "weeks"),
        "months" => both("month", "months"),
        "years" => both("year", "years"),
        "A" => an("amp", "amps"),
        "V" => both("volt", "volts"),
        "W" => both("watt", "watts"),
        "kW" => both("kilowatt", "kilowatts"),
        "hp" => both("horsepower", "horsepower"),
        "N" => both("newton", "newtons"),
        "lbf" => both("pound-force", "pounds-force"),
        "N·m" => both("newton metre", "newton metres"),
        "lbf·ft" => both("pound-foot", "pound-feet"),
        "kg" => both("kilogram", "kilograms"),
        "lb" => both("pound", "pounds"),
        "cm³/min" => both("cubic centimetre per minute", "cubic centimetres per minute"),
        "in³/min" => both("cubic inch per minute", "cubic inches per minute"),
        "%" => both("per cent", "per cent"),
        "°F/h" => both("degree Fahrenheit per hour", "degrees Fahrenheit per hour"),
        "°C/h" => both("degree Celsius per hour", "degrees Celsius per hour"),
        "K/h" => both("kelvin per hour", "kelvins per hour"),
        "%/(in³/min)" => {
            both("per cent for each cubic inch per minute", "per cent for each cubic inch per minute")
        }
        "%/(cm³/min)" => both(
            "per cent for each cubic centimetre per minute",
            "per cent for each cubic centimetre per minute",
        ),
        // A count and a plain number have no unit to be said.
        "count" | "" => both("", ""),
        other => both(other, other),
    }
}
