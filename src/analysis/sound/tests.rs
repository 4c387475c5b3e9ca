//! Claims about recordings, fed to the listeners block by block.

use std::f64::consts::TAU;

use crate::analysis::uncertainty::Shown;
use crate::quantity::{Kind, Quantity, Unit};
use crate::recording::{Account, Block, ChannelAccount, Listener, Start};

use super::meter::{Heard, Meter};
use super::recorded::{Calibrated, Given, given, of_tone};
use super::tone::{Tone, ToneEar};
use super::weighting::Weighting;

const RATE: f64 = 48_000.0;

#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a few seconds of samples")]
fn sine(hertz: f64, size: f64, seconds: f64) -> Vec<f64> {
    (0..(RATE * seconds) as usize).map(|n| size * (TAU * hertz * n as f64 / RATE).sin()).collect()
}

fn feed(listener: &mut dyn Listener, samples: &[f64], block: usize) {
    listener.begin(&Start { names: vec!["channel 1".to_owned()], rate: RATE, jitter: 0.0 });
    for (index, part) in samples.chunks(block).enumerate() {
        listener.hear(&Block { fresh: index == 0, seconds: None, channels: &[part] });
    }
}

fn heard(weighting: Weighting, samples: &[f64]) -> Heard {
    let mut meter = Meter::new(weighting);
    feed(&mut meter, samples, 8192);
    meter.finish().expect("samples")
}

fn tone(samples: &[f64]) -> Option<Tone> {
    let mut ear = ToneEar::new();
    feed(&mut ear, samples, 5000);
    ear.finish()
}

fn account(samples: u64, bits: Option<u16>, most: f64, clipped: u64) -> Account {
    let channel = ChannelAccount { least: -most, most, clipped, ..ChannelAccount::default() };
    Account { samples, bits, channels: vec![channel], ..Account::default() }
}

fn level(decibels: f64, symbol: &str) -> Quantity {
    Quantity::new(decibels, Unit::known(Kind::Level, symbol).expect("a level"))
}

fn calibrated(tone: &Tone) -> Calibrated {
    of_tone("tone.wav", tone, &account(480_000, Some(16), 0.1, 0), level(94.0, "dB"), None, &Shown::nothing())
}

fn given_of(samples: &[f64], weighting: Weighting) -> Given {
    let tone = tone(&sine(1000.0, 0.1, 5.0)).expect("a tone");
    let heard = heard(weighting, samples);
    given("idle.wav", &heard, &account(heard.samples, Some(16), 0.5, 0), weighting, calibrated(&tone))
}

fn close(found: f64, wanted: f64, room: f64) {
    assert!((found - wanted).abs() < room, "{found} is not {wanted}");
}

#[test]
fn twenty_decibels_below_the_tone_reads_twenty_decibels_less() {
    for weighting in [Weighting::A, Weighting::C, Weighting::Z] {
        let given = given_of(&sine(1000.0, 0.01, 10.0), weighting);
        let levels = given.levels.expect("levels");
        close(levels.equivalent, 74.0, 0.01);
        close(levels.fast_most, 74.0, 0.02);
        close(levels.fast_90, 74.0, 0.06);
        close(levels.peak, 74.0 + 10.0 * 2f64.log10(), 0.02);
        let own = levels.bands.iter().find(|band| band.index == 0).expect("1 kHz");
        close(own.value, 74.0, 0.02);
    }
}

#[test]
fn blocks_of_any_size_give_the_same_numbers() {
    let samples: Vec<f64> =
        sine(440.0, 0.1, 3.0).iter().zip(sine(3000.0, 0.05, 3.0)).map(|(a, b)| a + b + 0.02).collect();
    let found = |block| {
        let mut meter = Meter::new(Weighting::A);
        feed(&mut meter, &samples, block);
        meter.finish().expect("samples")
    };
    let whole = found(samples.len());
    for block in [1, 777, 4096] {
        let other = found(block);
        close(other.mean_square / whole.mean_square, 1.0, 1e-12);
        close(other.fast_most / whole.fast_most, 1.0, 1e-12);
        assert_eq!(other.peak.to_bits(), whole.peak.to_bits());
    }
}

#[test]
fn what_stands_still_is_no_sound() {
    let offset: Vec<f64> = sine(1000.0, 0.01, 4.0).iter().map(|x| x + 0.3).collect();
    for weighting in [Weighting::A, Weighting::C, Weighting::Z] {
        let (with, without) = (heard(weighting, &offset), heard(weighting, &sine(1000.0, 0.01, 4.0)));
        close(with.mean_square / without.mean_square, 1.0, 1e-3);
        close(with.fast_most / without.fast_most, 1.0, 1e-3);
        close(with.peak / without.peak, 1.0, 1e-3);
    }
}

#[test]
fn bands_weighted_bin_by_bin_add_up_to_the_level_of_the_filter() {
    let mut state = 1u32;
    let white: Vec<f64> = (0..480_000)
        .map(|_| {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            0.1 * (f64::from(state) / f64::from(u32::MAX) - 0.5)
        })
        .collect();
    // Without what lies above the highest band.
    let noise: Vec<f64> = white.windows(3).map(|three| three[0] + 2.0 * three[1] + three[2]).collect();
    let heard = heard(Weighting::A, &noise);
    let sum: f64 = heard.bands.iter().map(|band| band.value).sum();
    close(10.0 * (sum / heard.mean_square).log10(), 0.0, 0.03);
}

#[test]
fn a_gap_and_a_value_that_is_no_number_end_a_stretch_and_are_said() {
    let mut samples = sine(1000.0, 0.1, 4.0);
    samples[100_000] = f64::NAN;
    let heard = heard(Weighting::A, &samples);
    assert_eq!(heard.not_numbers, 1);
    close(heard.mean_square, 0.005, 1e-5);
    assert_eq!(heard.samples, samples.len() as u64 - 1);
}

#[test]
fn a_tone_is_known_by_its_frequency_and_its_steadiness() {
    for hertz in [250.0, 1000.0, 997.3] {
        let found = tone(&sine(hertz, 0.2, 4.0)).expect("a tone");
        close(found.frequency, hertz, 0.5);
        close(10.0 * (found.mean_square / 0.02).log10(), 0.0, 0.002);
        assert!(found.wander < 0.01 && found.purity > 0.999, "{found:?}");
    }
    assert!(tone(&sine(1000.0, 0.1, 0.5)).is_none(), "too short");
    assert!(tone(&vec![0.0; 200_000]).is_none(), "silent");
}

#[test]
fn hum_beside_the_tone_is_not_counted() {
    let mixed: Vec<f64> =
        sine(1000.0, 0.1, 4.0).iter().zip(sine(60.0, 0.03, 4.0)).map(|(a, b)| a + b).collect();
    let found = tone(&mixed).expect("a tone");
    close(10.0 * (found.mean_square / 0.005).log10(), 0.0, 0.01);
    close(found.purity, 1.0 / 1.09, 0.01);
}

#[test]
fn a_calibration_that_is_off_is_said_and_one_that_is_no_tone_is_refused() {
    let notes = |samples: &[f64]| calibrated_notes(&tone(samples).expect("something"));
    let mut wandering = sine(1000.0, 0.1, 3.0);
    wandering.extend(sine(1000.0, 0.12, 1.5));
    insta::assert_snapshot!("wandering", notes(&wandering).join("\n"));
    insta::assert_snapshot!("not_1_khz", notes(&sine(440.0, 0.1, 4.0)).join("\n"));
    let rising: Vec<f64> =
        sine(1000.0, 0.1, 5.0).iter().enumerate().map(|(n, x)| x * (1.0 + n as f64 / 48e3)).collect();
    insta::assert_snapshot!("rising", notes(&rising).join("\n"));
    let two: Vec<f64> =
        sine(1000.0, 0.1, 4.0).iter().zip(sine(250.0, 0.11, 4.0)).map(|(a, b)| a + b).collect();
    let three: Vec<f64> = two.iter().zip(sine(4000.0, 0.1, 4.0)).map(|(a, b)| a + b).collect();
    insta::assert_snapshot!("no_tone", notes(&three).join("\n"));
}

fn calibrated_notes(tone: &Tone) -> Vec<String> {
    let heard = heard(Weighting::A, &sine(1000.0, 0.05, 4.0));
    let account = account(heard.samples, Some(16), 0.1, 0);
    let found = given("idle.wav", &heard, &account, Weighting::A, calibrated(tone));
    found.averaged.map_or(found.notes, |averaged| averaged.notes)
}

#[test]
fn a_clipped_tone_and_a_clipped_recording_are_refused_and_a_few_samples_said() {
    let clean = tone(&sine(1000.0, 0.1, 4.0)).expect("a tone");
    let clipped_tone = of_tone(
        "tone.wav",
        &clean,
        &account(192_000, Some(16), 1.0, 20_000),
        level(94.0, "dB"),
        None,
        &Shown::nothing(),
    );
    let heard = heard(Weighting::A, &sine(1000.0, 0.05, 4.0));
    let fine = account(heard.samples, Some(16), 0.1, 0);
    let refused = given("idle.wav", &heard, &fine, Weighting::A, clipped_tone);
    assert!(refused.averaged.is_none() && refused.notes[0].contains("clipped"));
    let much = account(heard.samples, Some(16), 1.0, 40_000);
    let refused = given("idle.wav", &heard, &much, Weighting::A, calibrated(&clean));
    assert!(refused.averaged.is_none() && refused.notes[0].contains("clipped"));
    let few = account(heard.samples, Some(16), 1.0, 6);
    let said = given("idle.wav", &heard, &few, Weighting::A, calibrated(&clean));
    assert!(said.averaged.expect("a level").notes[0].contains("6 of 192000 samples"));
}

#[test]
fn what_is_lost_in_the_rounding_of_the_recording_has_no_level() {
    // A tone at full scale is 94 dB: the rounding noise of 8 bits lies near 44 dB.
    let loud = tone(&sine(1000.0, 1.0, 4.0)).expect("a tone");
    let heard = heard(Weighting::Z, &sine(1000.0, 0.003, 4.0));
    let eight = account(heard.samples, Some(8), 0.003, 0);
    let found = given("quiet.wav", &heard, &eight, Weighting::Z, calibrated(&loud));
    assert!(found.averaged.is_none(), "{found:?}");
    insta::assert_snapshot!("lost_in_rounding", found.notes[0]);
}

#[test]
fn silence_has_no_level() {
    let clean = tone(&sine(1000.0, 0.1, 4.0)).expect("a tone");
    let heard = heard(Weighting::A, &vec![0.25; 96_000]);
    let found =
        given("off.wav", &heard, &account(96_000, Some(16), 0.25, 0), Weighting::A, calibrated(&clean));
    assert!(found.averaged.is_none());
    insta::assert_snapshot!("silence", found.notes[0]);
}

#[test]
fn a_tone_given_in_dba_at_250_hz_is_louder_unweighted() {
    let found = tone(&sine(250.0, 0.1, 4.0)).expect("a tone");
    let plain = account(192_000, Some(16), 0.1, 0);
    let a = of_tone("tone.wav", &found, &plain, level(85.3, "dBA"), None, &Shown::nothing());
    let heard = heard(Weighting::Z, &sine(250.0, 0.1, 4.0));
    let levels = given("idle.wav", &heard, &plain, Weighting::Z, a).levels.expect("levels");
    close(levels.equivalent, 85.3 + 8.675, 0.03);
}
