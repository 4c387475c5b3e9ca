//! WAV files, the fields that name a recording, and what is said of it.

#![expect(clippy::float_cmp, reason = "the numbers come back as they were written")]

use std::fs;
use std::path::Path;

use hound::{SampleFormat, WavSpec, WavWriter};
use proptest::prelude::{ProptestConfig, any, prop_assert, prop_assert_eq, proptest};

use super::{
    Account, Block, ChannelAccount, Column, How, Listener, Recording, Request, Start, Stretch, TimeBase,
};
use crate::session::{Fields, Place, Problems, Session, SourceFile};

#[derive(Debug, Default)]
struct Heard {
    names: Vec<String>,
    channels: Vec<Vec<f64>>,
    blocks: Vec<(bool, bool)>,
}

impl Listener for Heard {
    fn begin(&mut self, start: &Start) {
        self.names.clone_from(&start.names);
        self.channels = vec![Vec::new(); start.names.len()];
    }

    fn hear(&mut self, block: &Block<'_>) {
        self.blocks.push((block.fresh, block.seconds.is_some()));
        for (all, part) in self.channels.iter_mut().zip(block.channels) {
            all.extend_from_slice(part);
        }
    }
}

fn place() -> Place {
    Place {
        source: std::sync::Arc::new(SourceFile::whole("arbor/visits/a/visit.yaml", "{file: x}")),
        span: 0..1,
    }
}

fn recording(path: &Path) -> Recording {
    let name = "visits/a/tone.wav".to_owned();
    Recording { path: path.to_owned(), name, place: place(), how: How::default(), struck: Vec::new() }
}

fn listen(recording: &Recording, request: &Request) -> (Heard, Result<Account, Vec<String>>) {
    let mut heard = Heard::default();
    let mut problems = Problems::default();
    let account = recording.listen(request, &mut heard, &mut problems);
    assert_eq!(account.is_some(), !problems.any_error());
    (heard, account.ok_or_else(|| problems.iter().map(|one| one.message.clone()).collect()))
}

fn all() -> Request {
    Request { time: TimeBase::OfFile, channels: Vec::new() }
}

fn spec(channels: u16, bits: u16, float: bool) -> WavSpec {
    let sample_format = if float { SampleFormat::Float } else { SampleFormat::Int };
    WavSpec { channels, sample_rate: 48_000, bits_per_sample: bits, sample_format }
}

/// Writes a file of integers and gives its folder, which must live as long as the file.
fn integers(spec: WavSpec, samples: &[i32]) -> (tempfile::TempDir, std::path::PathBuf) {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("tone.wav");
    let mut writer = WavWriter::create(&path, spec).expect("a file");
    for sample in samples {
        writer.write_sample(*sample).expect("a sample");
    }
    writer.finalize().expect("a whole file");
    (folder, path)
}

#[test]
fn integers_of_every_width_are_shares_of_full_scale() {
    // 24 bits and several channels make hound write WAVE_FORMAT_EXTENSIBLE.
    for bits in [8, 16, 24, 32] {
        let full = 1_i64 << (bits - 1);
        let ends = [
            0,
            i32::try_from(full - 1).expect("fits"),
            i32::try_from(-full).expect("fits"),
            i32::try_from(full / 2).expect("fits"),
        ];
        let (_folder, path) = integers(spec(2, bits, false), &ends);
        let (heard, account) = listen(&recording(&path), &all());
        let account = account.expect("it is read");
        assert_eq!(heard.names, ["channel 1", "channel 2"]);
        assert_eq!(heard.channels[0], [0.0, -1.0]);
        assert_eq!(heard.channels[1], [(full - 1) as f64 / full as f64, 0.5]);
        assert_eq!((account.samples, account.rate, account.bits), (2, 48_000.0, Some(bits)));
        assert_eq!(heard.blocks, [(true, false)]);
    }
}

#[test]
fn floats_are_read_as_they_are_and_what_is_no_number_is_refused() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("tone.wav");
    for (last, whole) in [(1.5_f32, true), (f32::NAN, false)] {
        let mut writer = WavWriter::create(&path, spec(1, 32, true)).expect("a file");
        for sample in [0.25, last] {
            writer.write_sample(sample).expect("a sample");
        }
        writer.finalize().expect("a whole file");
        let (heard, account) = listen(&recording(&path), &all());
        if whole {
            assert_eq!(heard.channels[0], [0.25, 1.5]);
        } else {
            assert_eq!(
                account,
                Err(vec![
                    "'visits/a/tone.wav': the sample at 0.000 s is not a reading (not a number, or infinite)"
                        .to_owned()
                ])
            );
        }
    }
}

#[test]
fn a_file_cut_short_says_how_much_is_missing() {
    let (_folder, path) = integers(spec(1, 16, false), &vec![1; 48_000]);
    let bytes = fs::read(&path).expect("bytes");
    fs::write(&path, &bytes[..bytes.len() - 2 * 12_000 - 1]).expect("written");
    let (_, account) = listen(&recording(&path), &all());
    assert_eq!(
        account,
        Err(vec![
            "'visits/a/tone.wav': the file is cut short: 12001 of 48000 samples are missing, from 0.750 s on"
                .to_owned()
        ])
    );
    fs::write(&path, &bytes[..30]).expect("written");
    let (_, account) = listen(&recording(&path), &all());
    assert_eq!(
        account,
        Err(vec!["'visits/a/tone.wav': this is no whole WAV file: its header is cut short".to_owned()])
    );
    fs::write(&path, b"hello").expect("written");
    let (_, account) = listen(&recording(&path), &all());
    assert_eq!(
        account,
        Err(vec!["'visits/a/tone.wav': this is no whole WAV file: no RIFF tag found".to_owned()])
    );
}

#[test]
fn a_file_without_samples_or_with_a_senseless_header_is_refused() {
    let (_folder, path) = integers(spec(1, 16, false), &[]);
    let (_, account) = listen(&recording(&path), &all());
    assert_eq!(
        account,
        Err(vec![
            "'visits/a/tone.wav': it holds no samples, or the recorder stopped before it wrote how many"
                .to_owned()
        ])
    );
    let (_folder, path) = integers(spec(1, 16, false), &[1, 2]);
    let mut bytes = fs::read(&path).expect("bytes");
    bytes[24..32].fill(0);
    fs::write(&path, bytes).expect("written");
    let (_, account) = listen(&recording(&path), &all());
    assert_eq!(account, Err(vec!["'visits/a/tone.wav': its header says 0 samples a second".to_owned()]));
}

#[test]
fn a_rate_that_contradicts_the_header_and_a_channel_that_is_not_there_are_refused() {
    let (_folder, path) = integers(spec(2, 16, false), &[1, 2, 3, 4]);
    let ask = |time: TimeBase, channel: Column| {
        listen(&recording(&path), &Request { time, channels: vec![channel] })
    };
    let (_, account) = ask(TimeBase::Rate(44_100.0), Column::Numbered(1, place()));
    assert_eq!(
        account,
        Err(vec![
            "'visits/a/tone.wav': its header says 48000 samples a second, 'rate' says 44100".to_owned()
        ])
    );
    let (heard, _) = ask(TimeBase::Rate(48_000.0), Column::Named("right".to_owned(), place()));
    assert_eq!(heard.channels, [[2.0 / 32_768.0, 4.0 / 32_768.0]]);
    let (_, account) = ask(TimeBase::OfFile, Column::Numbered(3, place()));
    assert_eq!(account, Err(vec!["'visits/a/tone.wav' has no channel 3".to_owned()]));
}

#[test]
fn a_struck_stretch_of_sound_is_left_out_and_the_next_block_is_fresh() {
    let samples: Vec<i32> = (0..48_000).collect::<Vec<i32>>().iter().map(|index| index % 100).collect();
    let (_folder, path) = integers(spec(1, 16, false), &samples);
    let mut recording = recording(&path);
    recording.struck = vec![Stretch { from: 0.25, to: 0.5, because: "a door".to_owned() }];
    let (heard, account) = listen(&recording, &all());
    let account = account.expect("it is read");
    assert_eq!((account.struck, account.samples), (12_001, 35_999));
    assert_eq!(heard.blocks, [(true, false), (true, false)]);
    assert_eq!(heard.channels[0][12_000], f64::from(samples[24_001]) / 32_768.0);
}

#[test]
fn a_recording_that_is_clipped_or_stuck_says_so_and_a_good_one_says_nothing() {
    let wave = |index: i32| (f64::from(index) * 0.37).sin() * 1.4 + (f64::from(index) * 0.011).sin() * 0.2;
    let read = |value: &dyn Fn(i32) -> f64| {
        let rows: Vec<String> =
            (0..4000).map(|index| format!("{},{:.4}", f64::from(index) / 1000.0, value(index))).collect();
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("run.csv");
        fs::write(&path, format!("t,x\n{}\n", rows.join("\n"))).expect("written");
        let request = Request {
            time: TimeBase::Column { column: Column::Named("t".to_owned(), place()), unit: None },
            channels: vec![Column::Named("x".to_owned(), place())],
        };
        listen(&recording(&path), &request).1.expect("it is read").notes()
    };
    assert_eq!(read(&wave), Vec::<String>::new());
    let clipped = read(&|index| wave(index).clamp(-1.0, 1.0));
    assert_eq!(clipped.len(), 1);
    assert!(
        clipped[0].ends_with(
            "in runs at the end of the scale (−1 to 1): it is clipped, and the peaks were larger."
        ),
        "{clipped:?}"
    );
    let stuck = read(&|index| if (1000..3000).contains(&index) { 0.5 } else { wave(index) });
    assert_eq!(
        stuck,
        ["from 0:01 on, 2000 samples in a row are exactly the same: the sensor stood still or came loose."]
    );
    // A settled temperature, read to a tenth of a degree, does neither.
    let settled = read(&|index| (200.0 - 190.0 * (-f64::from(index) / 500.0).exp()).round() / 10.0);
    assert_eq!(settled, Vec::<String>::new());
}

#[test]
fn the_table_of_recordings_has_the_same_columns_for_all() {
    let account = Account {
        samples: 1_234_567,
        seconds: 754.0,
        rate: 25_600.0,
        jitter: 0.0123,
        gaps: 2,
        longest_gap: 0.5,
        preamble: 1,
        channels: vec![ChannelAccount { name: "x".to_owned(), missing: 1, ..ChannelAccount::default() }],
        ..Account::default()
    };
    let table = account.table("3450 rpm", &recording(Path::new("x")));
    assert_eq!(table.columns, ["file", "samples", "length", "rate", "jitter", "gaps", "clipped", "struck"]);
    let cells: Vec<&str> = table.rows[0].1.iter().map(|cell| cell.text.as_str()).collect();
    assert_eq!(cells, ["1\u{a0}234\u{a0}567", "12.6 min", "25.6 kHz", "1.2 %", "2", "0", "0"]);
    assert_eq!(
        account.notes(),
        [
            "1 line above the readings was skipped.",
            "The interval between samples varies by 1.2 % (its standard deviation over its mean).",
            "Samples are missing 2 times, the longest time for 0.5 s.",
            "1 cell is empty, and its row is left out.",
        ]
    );
}

/// Reads a recording's fields as a visit would give them.
fn named(yaml: &str) -> Result<Recording, Vec<String>> {
    let folder = tempfile::tempdir().expect("a folder");
    let root = folder.path().canonicalize().expect("a path").join("arbor");
    let visit = root.join("visits/as-found");
    fs::create_dir_all(visit.join("raw")).expect("folders");
    fs::write(visit.join("run.csv"), "t,x\n").expect("a file");
    fs::write(
        root.join("session.yaml"),
        "title: A\nunits: metric\nmachines:\n  saw: {name: Saw}\nchecks:\n  amps: {measure: quantity, unit: A}\n",
    )
    .expect("a file");
    fs::write(
        visit.join("visit.yaml"),
        format!("state: as-found\nmachine: saw\ndate: 2026-03-02\nreadings:\n  amps:\n    at: {yaml}\n"),
    )
    .expect("a file");
    let mut problems = Problems::default();
    let session: Session = crate::session::read(&root, &mut problems).expect("a session");
    assert!(problems.is_empty(), "{problems:?}");
    let mut own = session.visits[0].readings[0].own.clone();
    let node = own.get("at").expect("at");
    let mut fields = Fields::of(&node, own.source(), "a recording", &mut problems).expect("a map");
    let recording = Recording::named(&mut fields, &session, "as-found", &mut problems);
    fields.finish(&mut problems);
    recording
        .filter(|_| problems.is_empty())
        .ok_or_else(|| problems.iter().map(|one| one.message.clone()).collect())
}

#[test]
fn a_recording_is_named_with_the_way_it_is_written() {
    let recording = named(
        "{file: run.csv, encoding: latin-1, separator: tab, decimal: \",\", skip: 12, header: false, clock: true, \
         struck: [{from: \"0:12\", to: 15.5 s, because: cable pulled}]}",
    )
    .expect("it is there");
    assert_eq!(recording.name, "visits/as-found/run.csv");
    assert!(recording.path.ends_with("arbor/visits/as-found/run.csv"));
    let how = How {
        encoding: Some("latin-1".to_owned()),
        separator: Some('\t'),
        decimal: Some(','),
        skip: Some(12),
        header: Some(false),
        clock: Some(true),
    };
    assert_eq!(recording.how, how);
    assert_eq!(recording.struck, [Stretch { from: 12.0, to: 15.5, because: "cable pulled".to_owned() }]);
}

#[test]
fn faulty_fields_are_said_each_and_no_path_leaves_the_session() {
    for (yaml, said) in [
        ("{}", vec!["a recording has no 'file'"]),
        ("{file: none.csv}", vec!["'none.csv': there is no such file"]),
        ("{file: raw}", vec!["'raw': this is not a file"]),
        ("{file: ../../../x.csv}", vec!["'../../../x.csv': the path leaves the session folder"]),
        ("{file: /etc/hostname}", vec!["'/etc/hostname': the path leaves the session folder"]),
        (
            "{file: run.csv, separator: ab, skip: -1}",
            vec!["'separator' cannot be 'ab'", "'skip' cannot be '-1'"],
        ),
        (
            "{file: run.csv, decimal: x, encoding: ebcdic}",
            vec!["'encoding' cannot be 'ebcdic'", "'decimal' cannot be 'x'"],
        ),
        (
            "{file: run.csv, struck: [{from: 15 s, to: 12 s, because: no}]}",
            vec!["a struck stretch ends before it begins"],
        ),
        (
            "{file: run.csv, struck: [{from: 15 s}]}",
            vec!["a struck stretch has no 'to'", "a struck stretch has no 'because'"],
        ),
        ("{file: run.csv, seperator: tab}", vec!["a recording has no field 'seperator'"]),
    ] {
        assert_eq!(named(yaml).map(|_| ()), Err(said.into_iter().map(str::to_owned).collect()), "{yaml}");
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(128))]

    #[test]
    fn no_bytes_behind_a_wav_header_make_it_panic(
        bytes in proptest::collection::vec(any::<u8>(), 0..120),
        keep in 0..60_usize,
        change in 0..48_usize,
        to in any::<u8>(),
    ) {
        let (_folder, path) = integers(spec(2, 24, false), &[1, 2, 3, 4]);
        let mut file = fs::read(&path).expect("bytes");
        file.truncate(keep.max(12));
        file.extend_from_slice(&bytes);
        if let Some(byte) = file.get_mut(change) {
            *byte = to;
        }
        fs::write(&path, &file).expect("written");
        let (_, account) = listen(&recording(&path), &all());
        prop_assert!(account.is_ok() || account.is_err());
    }

    #[test]
    fn sound_reads_back_the_numbers_that_were_written(samples in proptest::collection::vec(any::<i16>(), 1..300)) {
        let wide: Vec<i32> = samples.iter().copied().map(i32::from).collect();
        let (_folder, path) = integers(spec(1, 16, false), &wide);
        let (heard, _) = listen(&recording(&path), &all());
        let meant: Vec<f64> = samples.iter().map(|sample| f64::from(*sample) / 32_768.0).collect();
        prop_assert_eq!(&heard.channels[0], &meant);
    }
}
