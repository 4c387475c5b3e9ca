//! The house style: colour, mark and line by state, sizes and weights.
//!
//! Colours are those of Okabe & Ito, *Color Universal Design* (2008). Colour never stands alone: each
//! state has its own mark and line too.

/// The family of every text in a chart, exactly as the font book names it.
pub const FAMILY: &str = "Source Sans 3";
/// The family as an SVG must write it. Without quotes it is no CSS family name, for `3` is no identifier;
/// Typst would then take the font of the text around the chart without a word.
pub(super) const QUOTED_FAMILY: &str = "'Source Sans 3'";

/// What a visit is, which decides how it is drawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum State {
    /// Before any work: vermillion, open circle, solid line.
    AsFound,
    /// After the work: blue, filled circle, solid line.
    AsLeft,
    /// A reference or a baseline: grey, short upright bar, dashed line.
    Reference,
}

/// A colour of the screen, 8 bits a channel (sRGB).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Rgb(pub u8, pub u8, pub u8);

/// Okabe & Ito's vermillion.
pub const VERMILLION: Rgb = Rgb(0xD5, 0x5E, 0x00);
/// Okabe & Ito's blue.
pub const BLUE: Rgb = Rgb(0x00, 0x72, 0xB2);
/// A reference's or baseline's grey.
pub const GREY: Rgb = Rgb(0x6E, 0x6E, 0x6E);
/// Words and axes.
pub const INK: Rgb = Rgb(0x1A, 0x1A, 0x1A);
/// Words of the second rank: tick labels, keys.
pub const SOFT_INK: Rgb = Rgb(0x4A, 0x4A, 0x4A);
/// Grid and frame.
pub const HAIRLINE_GREY: Rgb = Rgb(0xC8, 0xC8, 0xC8);
/// The hatching over the forbidden side of a limit.
pub const HATCH_GREY: Rgb = Rgb(0xB4, 0xB4, 0xB4);
/// The paper.
pub const WHITE: Rgb = Rgb(0xFF, 0xFF, 0xFF);

/// Words in a chart, in points.
pub(super) const TEXT: f64 = 8.0;
/// Tick labels and keys, in points.
pub(super) const SMALL: f64 = 7.5;
/// Grid and hatching, in points.
pub(super) const HAIRLINE: f64 = 0.4;
/// Axes, whiskers and the edge of a limit, in points.
pub(super) const FINE: f64 = 0.6;
/// Data, in points.
pub(super) const DATA: f64 = 1.1;
/// The radius of a mark, in points.
pub(super) const MARK: f64 = 2.4;

impl State {
    /// The colour of marks and lines.
    pub fn colour(self) -> Rgb {
        match self {
            Self::AsFound => VERMILLION,
            Self::AsLeft => BLUE,
            Self::Reference => GREY,
        }
    }

    /// The same colour for words: darkened to a contrast of 4.5 on white.
    pub fn word_colour(self) -> Rgb {
        self.colour().darkened_for(WHITE, 4.5)
    }

    /// Whether lines of this state are dashed.
    pub fn is_dashed(self) -> bool {
        self == Self::Reference
    }
}

impl Rgb {
    /// Relative luminance, 0 for black to 1 for white (WCAG 2.2, "relative luminance").
    pub fn luminance(self) -> f64 {
        let linear = |channel: u8| {
            let c = f64::from(channel) / 255.0;
            if c <= 0.04045 { c / 12.92 } else { ((c + 0.055) / 1.055).powf(2.4) }
        };
        0.2126 * linear(self.0) + 0.7152 * linear(self.1) + 0.0722 * linear(self.2)
    }

    /// Contrast ratio with another colour, 1 to 21 (WCAG 2.2, "contrast ratio"); not to be rounded.
    pub fn contrast(self, other: Self) -> f64 {
        let (a, b) = (self.luminance(), other.luminance());
        (a.max(b) + 0.05) / (a.min(b) + 0.05)
    }

    /// The lightest shade of this colour, of the same hue, with at least `ratio` on `ground`. Black
    /// where none has.
    #[must_use]
    pub fn darkened_for(self, ground: Self, ratio: f64) -> Self {
        (0..=255u8)
            .rev()
            .map(|share| self.scaled(share))
            .find(|shade| shade.contrast(ground) >= ratio)
            .unwrap_or(Self(0, 0, 0))
    }

    /// The colour mixed with white; `share` of 255 is the colour itself.
    #[must_use]
    pub fn tint(self, share: u8) -> Self {
        let mix = |channel: u8| 255 - scale(255 - channel, share);
        Self(mix(self.0), mix(self.1), mix(self.2))
    }

    fn scaled(self, share: u8) -> Self {
        Self(scale(self.0, share), scale(self.1, share), scale(self.2, share))
    }
}

/// `channel · share/255`, rounded to the nearest.
fn scale(channel: u8, share: u8) -> u8 {
    let product = u16::from(channel) * u16::from(share);
    u8::try_from((product + 127) / 255).unwrap_or(u8::MAX)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Source: Okabe & Ito (2008) by way of CHECKVALUES 13.
    #[test]
    fn the_states_have_the_published_colours() {
        assert_eq!(State::AsFound.colour(), Rgb(0xD5, 0x5E, 0x00));
        assert_eq!(State::AsLeft.colour(), Rgb(0x00, 0x72, 0xB2));
    }

    /// Source: formula of WCAG 2.x; values computed apart from it (CHECKVALUES 13).
    #[test]
    #[expect(clippy::unreadable_literal, reason = "digits as they stand in the table of check values")]
    fn luminance_and_contrast_are_those_of_wcag() {
        let table = [
            (Rgb(0x76, 0x76, 0x76), 0.18116424424986022, 4.542224959605253),
            (Rgb(0x77, 0x77, 0x77), 0.184474994500441, 4.478089453577214),
            (Rgb(0x94, 0x94, 0x94), 0.2961382707983211, 3.0334698257384747),
            (VERMILLION, 0.22151541200376595, 3.8671837898669135),
            (BLUE, 0.15248980125973846, 5.185446345779855),
            (Rgb(0xE6, 0x9F, 0x00), 0.4161926832198344, 2.252287600800611),
        ];
        for (colour, luminance, on_white) in table {
            assert!((colour.luminance() - luminance).abs() < 1e-15, "{colour:?}");
            assert!((colour.contrast(WHITE) - on_white).abs() < 1e-12, "{colour:?}");
        }
        assert!((WHITE.contrast(Rgb(0, 0, 0)) - 21.0).abs() < 1e-12);
    }

    #[test]
    fn words_in_a_colour_are_dark_enough_to_read() {
        for state in [State::AsFound, State::AsLeft, State::Reference] {
            assert!(state.word_colour().contrast(WHITE) >= 4.5, "{state:?}");
        }
        // Blue is dark enough as it is; vermillion is not.
        assert_eq!(State::AsLeft.word_colour(), BLUE);
        assert_ne!(State::AsFound.word_colour(), VERMILLION);
    }

    #[test]
    fn ink_is_readable_and_marks_are_seen() {
        assert!(INK.contrast(WHITE) >= 7.0);
        assert!(SOFT_INK.contrast(WHITE) >= 7.0);
        // WCAG 1.4.11 asks 3:1 of graphics.
        for state in [State::AsFound, State::AsLeft, State::Reference] {
            assert!(state.colour().contrast(WHITE) >= 3.0, "{state:?}");
        }
    }

    #[test]
    fn a_ground_too_dark_for_any_shade_gets_black() {
        assert_eq!(BLUE.darkened_for(Rgb(0, 0, 0), 4.5), Rgb(0, 0, 0));
    }

    #[test]
    fn a_tint_runs_from_white_to_the_colour() {
        assert_eq!(BLUE.tint(255), BLUE);
        assert_eq!(BLUE.tint(0), WHITE);
    }
}
