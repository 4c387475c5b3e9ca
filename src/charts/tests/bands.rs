//! Claims about third-octave spectra.

use super::super::ChartError;
use super::super::samples;
use super::drawn::{grid_lines, open_circles, read};

#[test]
fn before_and_after_share_a_scale_and_a_band_stands_at_its_level() {
    let mut chart = samples::bands();
    chart.plots.truncate(1);
    chart.plots[0].spectra.truncate(1);
    chart.plots[0].spectra[0].levels = vec![f64::NAN; 31];
    chart.plots[0].spectra[0].levels[17] = 80.0;
    chart.plots[0].spectra[0].levels[30] = 60.0;
    let drawn = read(&chart.draw().expect("drawn").text);
    let (heights, left, right) = grid_lines(&drawn);
    let marks = open_circles(&drawn);
    assert_eq!(marks.len(), 2);
    // 80 and 60 dB are grid lines; bands stand a step apart from −0.6 to 30.6.
    let x_of = |band: f64| left + (band + 0.6) / 31.2 * (right - left);
    for (mark, band) in marks.iter().zip([17.0, 30.0]) {
        assert!((mark.0 - x_of(band)).abs() < 0.06, "{mark:?} is not at band {band}");
        assert!(heights.iter().any(|height| (height - mark.1).abs() < 0.06), "{mark:?} {heights:?}");
    }
}

#[test]
fn octaves_are_named_along_the_bottom() {
    let drawn = read(&samples::bands().draw().expect("drawn").text);
    for name in ["31.5", "125", "500", "2 k", "8 k"] {
        assert!(drawn.words.iter().any(|word| word.words == name), "{name}");
    }
}

#[test]
fn bands_far_below_the_loudest_are_left_out_and_that_is_said() {
    let mut chart = samples::bands();
    chart.plots[0].spectra[0].levels[0] = -40.0;
    let drawn = read(&chart.draw().expect("drawn").text);
    assert!(drawn.words.iter().any(|word| word.words.contains("not drawn")));
}

#[test]
fn nothing_to_draw_is_refused() {
    let mut chart = samples::bands();
    for spectrum in chart.plots.iter_mut().flat_map(|plot| &mut plot.spectra) {
        spectrum.levels.clear();
    }
    assert!(matches!(chart.draw(), Err(ChartError::Nothing(_))));
}
