//! Files as instruments write them, read through the public door and in pieces of any size.

use std::path::PathBuf;
use std::sync::Arc;

use proptest::prelude::*;

use super::source::Text;
use super::stream::Sizes;
use crate::quantity::{Kind, Unit};
use crate::recording::{Account, Block, Column, How, Listener, Recording, Request, Start, Stretch, TimeBase};
use crate::session::{Place, Problems, SourceFile};

/// Keeps all it hears.
#[derive(Debug, Default, PartialEq)]
struct Heard {
    rate: f64,
    names: Vec<String>,
    seconds: Vec<f64>,
    channels: Vec<Vec<f64>>,
    /// Before which samples a block was fresh.
    fresh: Vec<usize>,
}

impl Listener for Heard {
    fn begin(&mut self, start: &Start) {
        self.rate = start.rate;
        self.names.clone_from(&start.names);
        self.channels = vec![Vec::new(); start.names.len()];
    }

    fn hear(&mut self, block: &Block<'_>) {
        if block.fresh {
            self.fresh.push(self.channels[0].len());
        }
        self.seconds.extend_from_slice(block.seconds.unwrap_or_default());
        for (all, part) in self.channels.iter_mut().zip(block.channels) {
            all.extend_from_slice(part);
        }
    }
}

fn place() -> Place {
    let source = SourceFile::whole("arbor/visits/as-found/visit.yaml", "{file: run.csv}");
    Place { source: Arc::new(source), span: 1..5 }
}

fn recording(how: How) -> Recording {
    Recording {
        path: PathBuf::from("run.csv"),
        name: "visits/as-found/run.csv".to_owned(),
        place: place(),
        how,
        struck: Vec::new(),
    }
}

fn named(name: &str) -> Column {
    name.parse()
        .map_or_else(|_| Column::Named(name.to_owned(), place()), |number| Column::Numbered(number, place()))
}

fn timed(time: &str, channels: &[&str]) -> Request {
    Request {
        time: TimeBase::Column { column: named(time), unit: None },
        channels: channels.iter().map(|name| named(name)).collect(),
    }
}

fn rated(rate: f64, channels: &[&str]) -> Request {
    Request { time: TimeBase::Rate(rate), channels: channels.iter().map(|name| named(name)).collect() }
}

fn hear_bytes(
    recording: &Recording,
    request: &Request,
    bytes: &[u8],
    sizes: Sizes,
) -> (Heard, Option<Account>, Problems) {
    let mut heard = Heard::default();
    let mut problems = Problems::default();
    let latin1 = recording.how.encoding.as_deref() == Some("latin-1");
    let text = Text::of(bytes, latin1).expect("bytes are read");
    let account = super::hear(recording, request, text, sizes, &mut heard, &mut problems);
    assert_eq!(account.is_some(), !problems.any_error(), "{problems:?}");
    (heard, account, problems)
}

fn read(request: &Request, text: &str) -> (Heard, Account) {
    let (heard, account, problems) =
        hear_bytes(&recording(How::default()), request, text.as_bytes(), Sizes::default());
    assert!(account.is_some(), "{problems:?}");
    (heard, account.unwrap_or_default())
}

/// The messages, each with line and column from 1.
fn wrong(how: How, request: &Request, bytes: &[u8]) -> Vec<String> {
    let (_, account, problems) = hear_bytes(&recording(how), request, bytes, Sizes::default());
    assert!(account.is_none());
    problems
        .iter()
        .map(|problem| {
            let place = problem.place.as_ref().expect("a place");
            let text = &place.source.text;
            let start = text[..place.span.start].rfind('\n').map_or(0, |at| at + 1);
            let column = text[start..place.span.start].chars().count() + 1;
            format!("{}:{}:{column} {}", place.source.name, place.line(), problem.message)
        })
        .collect()
}

#[test]
fn a_plain_file_is_read_with_its_times_and_rate() {
    let (heard, account) =
        read(&timed("t", &["az", "ax"]), "t,ax,ay,az\n5,0.1,0.2,0.3\n5.5,1.1,1.2,1.3\n6,-2,2.2,2.3e1\n");
    assert_eq!(heard.seconds, [0.0, 0.5, 1.0]);
    assert_eq!(heard.channels, [[0.3, 1.3, 23.0], [0.1, 1.1, -2.0]]);
    assert_eq!((heard.rate, heard.fresh.as_slice()), (2.0, [0].as_slice()));
    assert_eq!((account.samples, account.seconds, account.rate, account.jitter), (3, 1.0, 2.0, 0.0));
    assert_eq!(account.channels[1].name, "ax");
    assert_eq!((account.channels[1].least, account.channels[1].most), (-2.0, 1.1));
}

#[test]
fn a_file_with_decimal_commas_and_semicolons_is_read() {
    let (heard, _) = read(&timed("Zeit", &["x"]), "Zeit;x\r\n0,0;1,25\r\n0,1;-0,5\r\n");
    assert_eq!(heard.channels, [[1.25, -0.5]]);
    assert_eq!(heard.seconds, [0.0, 0.1]);
}

#[test]
fn units_in_the_header_are_told_and_scale_the_time() {
    let (heard, account) = read(&timed("t", &["ax"]), "t (min),ax [g]\n0,1\n1,2\n2,3\n");
    assert_eq!(heard.seconds, [0.0, 60.0, 120.0]);
    assert_eq!(account.channels[0].unit.as_deref(), Some("g"));
    let (_, account) = read(&timed("t", &["x"]), "t,x\n0,1.5 mm/s\n1,2.5 mm/s\n");
    assert_eq!(account.channels[0].unit.as_deref(), Some("mm/s"));
}

#[test]
fn dates_clock_forms_and_times_of_day_are_read() {
    let (heard, _) = read(
        &timed("1", &["2"]),
        "2026-03-02T23:59:59.5Z,1\n2026-03-03T00:00:00.0Z,2\n2026-03-03T00:00:00.5Z,3\n",
    );
    assert_eq!(heard.seconds, [0.0, 0.5, 1.0]);
    let (heard, _) = read(&timed("1", &["2"]), "0:58.5,1\n0:59.5,2\n1:00.5,3\n");
    assert_eq!(heard.seconds, [0.0, 1.0, 2.0]);
    let how = How { clock: Some(true), ..How::default() };
    let text = "23:59:58,1.5\n23:59:59,2.5\n00:00:00,3.5\n";
    let (heard, account, _) =
        hear_bytes(&recording(how), &timed("1", &["2"]), text.as_bytes(), Sizes::default());
    assert_eq!(heard.seconds, [0.0, 1.0, 2.0]);
    assert_eq!(account.map(|account| account.backwards), Some(0));
}

#[test]
fn gaps_repeats_and_time_running_backwards_are_counted_and_blocks_begin_anew() {
    let text = "t,x\n0,1\n1,2\n2,3\n2,9\n3,4\n7,5\n8,6\n5,7\n6,8\n";
    let (heard, account) = read(&timed("t", &["x"]), text);
    assert_eq!(heard.channels[0], [1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0]);
    assert_eq!(heard.fresh, [0, 4, 6]);
    assert_eq!((account.gaps, account.longest_gap, account.repeats, account.backwards), (1, 4.0, 1, 1));
    assert_eq!((account.rate, account.seconds), (1.0, 8.0));
}

#[test]
fn empty_cells_are_counted_and_their_rows_left_out() {
    let (heard, account) = read(&timed("t", &["x", "y"]), "t,x,y\n0,1,1\n1,,2\n2,3,3\n3,4,4\n");
    assert_eq!(heard.channels, [[1.0, 3.0, 4.0], [1.0, 3.0, 4.0]]);
    assert_eq!((account.channels[0].missing, account.channels[1].missing), (1, 0));
    let (heard, _) = read(&rated(10.0, &["x"]), "x,y\n1,1\n,2\n3,3\n");
    assert_eq!(
        (heard.channels[0].as_slice(), heard.fresh.as_slice()),
        ([1.0, 3.0].as_slice(), [0, 1].as_slice())
    );
}

#[test]
fn struck_stretches_are_left_out_whatever_stands_in_them() {
    let mut recording = recording(How::default());
    recording.struck = vec![Stretch { from: 1.5, to: 3.0, because: "cable pulled".to_owned() }];
    let text = "t,x\n0,1\n1,2\n2,nan\n3,9\n4,5\n";
    let (heard, account, _) = hear_bytes(&recording, &timed("t", &["x"]), text.as_bytes(), Sizes::default());
    assert_eq!(
        (heard.channels[0].as_slice(), heard.fresh.as_slice()),
        ([1.0, 2.0, 5.0].as_slice(), [0, 2].as_slice())
    );
    let account = account.expect("it is read");
    assert_eq!(account.struck, 2);
    assert!(
        account.notes().contains(&"0:01.5 to 0:03 is struck: cable pulled.".to_owned()),
        "{:?}",
        account.notes()
    );
    let text = text
        .replace("t,", "")
        .lines()
        .map(|line| line.split(',').next_back().unwrap_or_default().to_owned() + "\n")
        .collect::<String>();
    let (heard, account, problems) =
        hear_bytes(&recording, &rated(1.0, &["1"]), text.as_bytes(), Sizes::default());
    assert_eq!(heard.channels[0], [1.0, 2.0, 5.0], "{problems:?}");
    assert_eq!(account.map(|account| account.struck), Some(2));
}

#[test]
fn comments_quotes_preambles_and_empty_lines_do_no_harm() {
    let text = "\u{feff}Logger \"A\"\nSerial;12\n\n\"time, s\",\"x \"\"main\"\"\"\n# begun\n0,\"1\"\n\n1,2\n// a word\n2,3\n";
    let (heard, account) = read(&timed("1", &["x \"main\""]), text);
    assert_eq!(heard.channels, [[1.0, 2.0, 3.0]]);
    assert_eq!((account.preamble, account.comments), (3, 2));
}

#[test]
fn what_is_wrong_is_said_with_the_files_own_line_and_column() {
    let file = "arbor/visits/as-found/run.csv";
    let request = timed("t", &["x"]);
    let text = b"Logger\n\nt,x,y\n0,1.5,0\n1,2x,0\n2,3\n3,nan,0\n4,\"1,5\",0\n5,1 g,1\n6,7,8,9\nx,1,1\n";
    assert_eq!(
        wrong(How::default(), &request, text),
        [
            format!("{file}:5:3 '2x' in x is not a number"),
            format!("{file}:6:3 this row has 2 cells, the others have 3"),
            format!("{file}:7:3 'nan' in x is not a reading"),
            format!("{file}:8:4 '1,5' in x is not a number with a decimal point"),
            format!("{file}:9:3 mixed units in x: g here, none before"),
            format!("{file}:10:7 this row has 4 cells, the others have 3"),
            format!("{file}:11:1 'x' in t is not a time of this recording"),
        ]
    );
    assert_eq!(
        wrong(How::default(), &request, b"t,x\n0,1\n1,\xb0\n2,3\n"),
        [format!("{file}:3:3 the file is not UTF-8 (byte 0xB0)")]
    );
}

#[test]
fn a_file_without_readings_is_refused() {
    let request = timed("t", &["x"]);
    let yaml = "arbor/visits/as-found/visit.yaml:1:2";
    let file = "arbor/visits/as-found/run.csv";
    assert_eq!(wrong(How::default(), &request, b""), [format!("{yaml} 'visits/as-found/run.csv' is empty")]);
    assert_eq!(
        wrong(How::default(), &request, b"t,x\n"),
        [format!("{file}:1:1 'visits/as-found/run.csv' holds no row of numbers")]
    );
    assert_eq!(
        wrong(How::default(), &request, b"t,x\n0,1\n"),
        [format!("{yaml} 'visits/as-found/run.csv' holds only one row with readings")]
    );
    assert_eq!(
        wrong(How::default(), &request, b"a\0b\n"),
        [format!("{yaml} 'visits/as-found/run.csv' is neither a WAV file nor a text (byte 2 is zero)")]
    );
    let long = [b"t,x\n".as_slice(), &vec![b'1'; 3 << 20], b"\n"].concat();
    assert_eq!(
        wrong(How::default(), &request, &long),
        [format!("{file}:2:1 this line is longer than a megabyte")]
    );
    assert_eq!(
        wrong(How::default(), &request, b"t,x\n0,1\n1,2\n2,\"3\n3,4\n"),
        [format!("{file}:4:1 a quote in this row is never closed")]
    );
    assert_eq!(
        wrong(How::default(), &rated(5.0, &["1"]), b"0,12\n1,15\n"),
        [format!("{file}:1:1 a comma here may stand between columns or in a number")]
    );
    assert_eq!(
        wrong(How::default(), &timed("1", &["2"]), b"0;1,234\n1;5,678\n"),
        [format!("{file}:1:3 a comma here may be decimal or stand between thousands")]
    );
}

#[test]
fn a_column_that_is_not_there_is_named_with_the_nearest() {
    let mut problems = Problems::default();
    let request = timed("t", &["accel_y"]);
    let text = Text::of(b"t,accel_x\n0,1\n1,2\n".as_slice(), false).expect("bytes");
    let account = super::hear(
        &recording(How::default()),
        &request,
        text,
        Sizes::default(),
        &mut Heard::default(),
        &mut problems,
    );
    assert!(account.is_none());
    let said: Vec<_> = problems.iter().map(|one| (one.message.as_str(), one.help.as_str())).collect();
    assert_eq!(said, [("'visits/as-found/run.csv' has no column 'accel_y'", "did you mean 'accel_x'?")]);
}

#[test]
fn a_rate_that_contradicts_the_times_is_refused() {
    let rows: Vec<String> =
        (0..100).map(|index| format!("{},{}", f64::from(index) / 1600.0, index % 7)).collect();
    let said =
        wrong(How::default(), &rated(3200.0, &["x"]), format!("t,x\n{}\n", rows.join("\n")).as_bytes());
    assert_eq!(said.len(), 1);
    assert!(
        said[0].ends_with(
            "'rate' says 3200 samples a second, the column 't' of 'visits/as-found/run.csv' says 1600"
        ),
        "{said:?}"
    );
    let seconds = Unit::known(Kind::Time, "s");
    assert!(seconds.is_some());
}

#[test]
fn only_the_first_of_many_wrong_rows_are_shown_and_the_rest_counted() {
    let text = format!("t,x\n0,1\n1,2\n{}", "2,x\n".repeat(1000));
    let said = wrong(How::default(), &timed("t", &["x"]), text.as_bytes());
    assert_eq!(said.len(), 13);
    assert!(said[12].ends_with("988 more rows of this file are wrong"), "{}", said[12]);
}

/// How a table may be written.
#[derive(Clone, Debug)]
#[expect(clippy::struct_excessive_bools, reason = "each is drawn for itself")]
struct Dialect {
    separator: &'static str,
    comma: bool,
    end: &'static str,
    header: bool,
    quoted: bool,
    preamble: usize,
    last_end: bool,
}

fn dialects() -> impl Strategy<Value = Dialect> {
    (
        prop_oneof![
            Just((",", false)),
            Just((";", false)),
            Just((";", true)),
            Just(("\t", true)),
            Just(("|", false)),
            Just(("  ", true)),
            Just((" ", false))
        ],
        prop_oneof![Just("\n"), Just("\r\n"), Just("\r")],
        any::<bool>(),
        any::<bool>(),
        0..4_usize,
        any::<bool>(),
    )
        .prop_map(|((separator, comma), end, header, quoted, preamble, last_end)| Dialect {
            separator,
            comma,
            end,
            header,
            quoted,
            preamble,
            last_end,
        })
}

fn written(rows: &[(f64, f64)], dialect: &Dialect) -> String {
    let mut text = format!("A logger that no one makes{}", dialect.end).repeat(dialect.preamble);
    if dialect.header {
        text += &format!("upper{}lower{}", dialect.separator, dialect.end);
    }
    for (index, (x, y)) in rows.iter().enumerate() {
        let cell = |value: f64| {
            let plain = format!("{value:?}");
            let signed = if dialect.comma { plain.replace('.', ",") } else { plain };
            if dialect.quoted && index % 3 == 1 { format!("\"{signed}\"") } else { signed }
        };
        text += &format!("{}{}{}", cell(*x), dialect.separator, cell(*y));
        if index + 1 < rows.len() || dialect.last_end {
            text += dialect.end;
        }
    }
    text
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(256))]

    #[test]
    fn a_table_reads_back_the_same_numbers_whatever_the_dialect_and_the_pieces(
        values in proptest::collection::vec((-1e6..1e6_f64, any::<i32>().prop_map(f64::from)), 2..60),
        dialect in dialects(),
        piece in 1..400_usize,
    ) {
        // One number that cannot be taken for thousands, as every real file has soon.
        let mut rows = values;
        rows[0].0 = 0.5;
        let text = written(&rows, &dialect);
        let sizes = Sizes { read: piece, piece };
        let (heard, account, problems) = hear_bytes(&recording(How::default()), &rated(100.0, &["1", "2"]), text.as_bytes(), sizes);
        prop_assert!(account.is_some(), "{:?}\n{}", problems, text);
        let found: Vec<(f64, f64)> = heard.channels[0].iter().copied().zip(heard.channels[1].iter().copied()).collect();
        prop_assert_eq!(found, rows);
        let (whole, other, _) = hear_bytes(&recording(How::default()), &rated(100.0, &["1", "2"]), text.as_bytes(), Sizes::default());
        prop_assert_eq!(whole, heard);
        prop_assert_eq!(account, other);
    }

    #[test]
    fn no_bytes_make_it_panic(
        bytes in proptest::collection::vec(prop_oneof![any::<u8>(), proptest::sample::select(b"0123456789.,;\t \"\n\r#-eE:/|".to_vec())], 0..400),
        piece in 1..100_usize,
        clock in proptest::option::of(any::<bool>()),
        header in proptest::option::of(any::<bool>()),
        skip in proptest::option::of(0..5_usize),
        latin in any::<bool>(),
    ) {
        let how = How { clock, header, skip, encoding: latin.then(|| "latin-1".to_owned()), ..How::default() };
        let sizes = Sizes { read: piece, piece };
        let _ = hear_bytes(&recording(how.clone()), &rated(10.0, &["1"]), &bytes, sizes);
        let _ = hear_bytes(&recording(how), &timed("1", &["2"]), &bytes, sizes);
    }
}
