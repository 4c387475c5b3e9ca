//! The grounds that a drawing stands on beside paper, and what becomes of its colours there.
//!
//! On the dark ground a colour has the contrast that it has on paper, by one rule: so a hairline is as
//! faint and a word as plain as it is in the report. The states' colours alone are told one by one; marks
//! and words have one colour there, for it stands 4.5:1 on its ground (WCAG 2.2, "contrast ratio").

use std::sync::LazyLock;

use super::style::{INK, Rgb, SOFT_INK, State, WHITE};

/// The dark ground: not black, which would glow at its edges beside a moving picture.
pub const DARK: Rgb = Rgb(0x15, 0x18, 0x1B);
/// Words on the dark ground: not white, which would dazzle.
const LIGHT_INK: Rgb = Rgb(0xF0, 0xF0, 0xEE);
/// Words of the second rank on the clear ground, where nobody knows what lies behind them: nearly as light.
const CLEAR_SOFT: Rgb = Rgb(0xD8, 0xD8, 0xD6);
/// What a word that carries a colour must have on its ground.
const WORD: f64 = 4.5;

/// What a drawing stands on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Ground {
    /// White, as in the report.
    Light,
    /// Near black.
    Dark,
    /// Nothing: the picture is laid over another. Colours are those of the dark ground (small words are lighter),
    /// and every mark and word has an edge in that ground's colour (a keyline), so that it is read over whatever lies beneath.
    Clear,
}

impl Ground {
    /// Every ground.
    pub const ALL: [Self; 3] = [Self::Light, Self::Dark, Self::Clear];

    /// What it is called.
    pub fn name(self) -> &'static str {
        match self {
            Self::Light => "light",
            Self::Dark => "dark",
            Self::Clear => "clear",
        }
    }

    /// The colour that marks and words stand on; on the clear ground that of their edge.
    pub fn behind(self) -> Rgb {
        if self == Self::Light { WHITE } else { DARK }
    }

    /// The colour on this ground of what has that colour on paper.
    #[must_use]
    pub fn colour(self, on_paper: Rgb) -> Rgb {
        static EXACT: LazyLock<Vec<(Rgb, Rgb)>> = LazyLock::new(exact);
        if self == Self::Light {
            return on_paper;
        }
        if self == Self::Clear && on_paper == SOFT_INK {
            return CLEAR_SOFT;
        }
        let known = EXACT.iter().find(|(colour, _)| *colour == on_paper);
        known.map_or_else(|| alike(on_paper), |(_, colour)| *colour)
    }
}

/// What is told one by one: ground, ink, and the states' colours.
fn exact() -> Vec<(Rgb, Rgb)> {
    let mut list = vec![(WHITE, DARK), (INK, LIGHT_INK)];
    for state in [State::AsFound, State::AsLeft, State::Reference] {
        let lightened = raised(state.colour(), WORD);
        list.extend([(state.colour(), lightened), (state.word_colour(), lightened)]);
    }
    list
}

/// A colour of the same hue that has on the dark ground the contrast which this one has on paper.
fn alike(on_paper: Rgb) -> Rgb {
    let wanted = on_paper.contrast(WHITE);
    let full = deepest(on_paper);
    if full.luminance() > DARK.luminance() && full.contrast(DARK) >= wanted {
        let between = |share: u8| mixed(DARK, full, share);
        return (0..=u8::MAX).map(between).find(|one| one.contrast(DARK) >= wanted).unwrap_or(full);
    }
    let from = if full.luminance() > DARK.luminance() { full } else { DARK };
    let between = |share: u8| mixed(from, WHITE, share);
    (0..=u8::MAX).map(between).find(|one| one.contrast(DARK) >= wanted).unwrap_or(LIGHT_INK)
}

/// The colour itself where it has so much contrast on the dark ground, else the darkest of its tints that has.
fn raised(colour: Rgb, ratio: f64) -> Rgb {
    let between = |share: u8| mixed(colour, WHITE, share);
    (0..=u8::MAX).map(between).find(|one| one.contrast(DARK) >= ratio).unwrap_or(WHITE)
}

/// The fullest colour of which this one is a tint: the line from white through it, as far as there are colours.
fn deepest(colour: Rgb) -> Rgb {
    let inks = [255 - colour.0, 255 - colour.1, 255 - colour.2].map(u32::from);
    let most = inks.iter().copied().max().unwrap_or(0).max(1);
    let full = inks.map(|ink| u8::try_from(255 - ink * 255 / most).unwrap_or(0));
    Rgb(full[0], full[1], full[2])
}

/// A colour on the way from one to another; a share of 255 is the other.
fn mixed(from: Rgb, to: Rgb, share: u8) -> Rgb {
    let mix = |from: u8, to: u8| {
        let (from, to, share) = (u32::from(from), u32::from(to), u32::from(share));
        u8::try_from((from * (255 - share) + to * share + 127) / 255).unwrap_or(u8::MAX)
    };
    Rgb(mix(from.0, to.0), mix(from.1, to.1), mix(from.2, to.2))
}

#[cfg(test)]
mod tests {
    use super::super::style::{BLUE, GREY, HAIRLINE_GREY, HATCH_GREY, VERMILLION};
    use super::*;

    #[test]
    fn on_paper_nothing_changes() {
        for colour in [WHITE, INK, VERMILLION, HATCH_GREY, BLUE.tint(30)] {
            assert_eq!(Ground::Light.colour(colour), colour);
        }
    }

    /// Source: formula of WCAG 2.2, "contrast ratio"; that it is computed right is shown in `style`.
    #[test]
    fn words_marks_and_ink_are_read_on_the_dark_ground() {
        for state in [State::AsFound, State::AsLeft, State::Reference] {
            for colour in [state.colour(), state.word_colour()] {
                assert!(Ground::Dark.colour(colour).contrast(DARK) >= 4.5, "{state:?}");
            }
        }
        for ink in [INK, SOFT_INK] {
            assert!(Ground::Dark.colour(ink).contrast(DARK) >= 7.0, "{ink:?}");
        }
        // Vermillion is light enough as it is; blue and grey are not.
        assert_eq!(Ground::Dark.colour(VERMILLION), VERMILLION);
        assert_ne!(Ground::Dark.colour(BLUE), BLUE);
        assert_ne!(Ground::Dark.colour(GREY), GREY);
    }

    #[test]
    fn what_is_faint_on_paper_is_as_faint_on_the_dark_ground() {
        for colour in
            [HAIRLINE_GREY, HATCH_GREY, SOFT_INK, VERMILLION.tint(30), BLUE.tint(110), GREY.tint(60)]
        {
            let (paper, dark) = (colour.contrast(WHITE), Ground::Dark.colour(colour).contrast(DARK));
            assert!(dark >= paper && dark < paper + 0.12, "{colour:?}: {paper} on paper, {dark} on dark");
        }
    }

    #[test]
    fn a_tint_keeps_its_hue_and_the_white_behind_words_becomes_the_ground() {
        let pale = Ground::Dark.colour(VERMILLION.tint(30));
        assert!(pale.0 > pale.1 && pale.1 >= pale.2, "{pale:?}");
        let pale = Ground::Dark.colour(BLUE.tint(30));
        assert!(pale.2 > pale.1 && pale.1 > pale.0, "{pale:?}");
        assert_eq!(Ground::Dark.colour(WHITE), DARK);
    }

    #[test]
    fn the_clear_ground_has_the_colours_of_the_dark_one() {
        for colour in [WHITE, INK, VERMILLION, BLUE, HAIRLINE_GREY] {
            assert_eq!(Ground::Clear.colour(colour), Ground::Dark.colour(colour));
        }
    }
}
