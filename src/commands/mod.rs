//! A file a command, each named for the trade and doing one thing.
//!
//! Exit codes: 0 done; 1 the session has errors (all of them printed); 2 wrong arguments; 3 the
//! output could not be written.

mod bag;
mod buildup;
mod completions;
mod follow;
mod guide;
mod inspect;
mod kept;
mod letter;
mod licences;
mod manual;
mod progress;
mod report;
mod schema;
mod script;
mod seal;
mod sheet;
mod shelf;
mod show;
mod stale;
mod start;
mod stills;
mod verify;
mod written;

use std::ffi::OsString;
use std::io::Write;
use std::path::PathBuf;

use clap::{Args, CommandFactory, Parser, Subcommand};

use crate::analysis::Measure;
use crate::compose::Templates;
use crate::evidence::{Positions, Publication};
use crate::findings::Findings;
use crate::registry::measures;
use crate::session::withheld::Masks;
use crate::session::{Problem, Problems, Session};

pub use report::{BuildError, Built, build, build_as};
pub use stills::{Reel, reel};
pub use verify::{Answer, Prover};

/// What the program calls itself in its outputs.
pub const PROGRAM: &str = concat!("asfound ", env!("CARGO_PKG_VERSION"));

/// Turn the readings of a workshop's machine tests into a report that can be believed.
///
/// A session is a folder: session.yaml says what is measured, visits/*/visit.yaml hold the
/// readings. It is only read; 'seal' alone adds a file to it. Turn spindles by hand with the plug out, keep guards on for
/// running tests, and put the maker's instructions, local codes and licensed practice first.
#[derive(Debug, Parser)]
#[command(name = "asfound", version, max_term_width = 96, disable_help_subcommand = true)]
#[command(
    after_help = "First steps:\n  asfound start my-saw      # a folder that works at once\n  asfound inspect my-saw    # what was found, at the terminal\n  asfound report my-saw     # out/my-saw/report.pdf\n  asfound guide             # out/guide.pdf: how a claim goes"
)]
struct Arguments {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    /// Lay out a new session folder with a commented session.yaml and a first visit.
    #[command(after_help = "Example:\n  asfound start jointer-fence\n  asfound inspect jointer-fence")]
    Start {
        /// The folder to make. It must not exist, or be empty.
        dir: PathBuf,
        #[command(flatten)]
        common: Quiet,
    },
    /// Read and analyse a session; print findings, changes and warnings; write nothing.
    #[command(after_help = "Example:\n  asfound inspect sessions/arbor-bearings")]
    Inspect {
        /// The session folder.
        dir: PathBuf,
        #[command(flatten)]
        common: Quiet,
    },
    /// Make the report: report.pdf, page.html, findings.json, findings.csv and the charts.
    #[command(
        after_help = "Example:\n  asfound report sessions/arbor-bearings\n  writes out/arbor-bearings/report.pdf"
    )]
    Report {
        /// The session folders.
        #[arg(required = true)]
        dirs: Vec<PathBuf>,
        /// Where to put the folder of outputs: OUT/<session folder's name>/.
        #[arg(long, value_name = "OUT", default_value = "out")]
        out: PathBuf,
        /// A folder whose templates replace the program's own by name.
        #[arg(long, value_name = "DIR")]
        templates: Option<PathBuf>,
        /// Also write the Typst source and its assets, beside the report.
        #[arg(long)]
        source: bool,
        /// Make it again whenever a file of the session or a template is saved, until Ctrl-C.
        #[arg(long)]
        follow: bool,
        #[command(flatten)]
        places: Places,
        #[command(flatten)]
        published: Published,
        #[command(flatten)]
        common: Quiet,
    },
    /// Write the claim's covering letter: one page, letter.pdf, that points into the report.
    ///
    /// It claims what is over or under its limit and nothing else, says what coverage applied on the
    /// day of each finding, and asks for what session.yaml's 'ask' says. Read it before you sign it:
    /// it is a letter of yours and no legal advice.
    #[command(
        after_help = "Example:\n  asfound letter sessions/arbor-bearings --date 2026-04-03\n  writes out/arbor-bearings/letter.pdf"
    )]
    Letter {
        /// The session folder.
        dir: PathBuf,
        /// The machine's id; needed where several have findings beyond their limits.
        #[arg(long, value_name = "ID")]
        machine: Option<String>,
        /// The letter's date, as 2026-04-03. Default: the session's last visit or event, as in the report.
        #[arg(long, value_name = "DATE", value_parser = letter::date)]
        date: Option<crate::session::Date>,
        /// Where to put the folder of outputs: OUT/<session folder's name>/.
        #[arg(long, value_name = "OUT", default_value = "out")]
        out: PathBuf,
        /// A folder whose templates replace the program's own by name.
        #[arg(long, value_name = "DIR")]
        templates: Option<PathBuf>,
        #[command(flatten)]
        common: Quiet,
    },
    /// Fill the narration: script.md with every number from the findings, its cue sheet and captions.
    ///
    /// The session's script.md holds placeholders such as {arbor-runout, as-found, in words} and cues such as
    /// [still: summary]. A placeholder that names nothing is an error with the nearest name. Out come script.md,
    /// script.pdf (each paragraph with its running time and the still it is spoken over, numbers as they are
    /// read aloud), script.vtt (captions) and stills.txt (the stills in order of use).
    #[command(
        after_help = "Example:\n  asfound script sessions/arbor-bearings --pace 140\n  writes out/arbor-bearings/script.pdf"
    )]
    Script {
        /// The session folder.
        dir: PathBuf,
        /// Words spoken in a minute, 60 to 400: what the times are estimated from.
        #[arg(long, value_name = "WORDS", default_value_t = crate::script::timing::USUAL_PACE,
              value_parser = clap::value_parser!(u32).range(60..=400))]
        pace: u32,
        /// Where to put the folder of outputs: OUT/<session folder's name>/.
        #[arg(long, value_name = "OUT", default_value = "out")]
        out: PathBuf,
        /// A folder whose templates replace the program's own by name.
        #[arg(long, value_name = "DIR")]
        templates: Option<PathBuf>,
        #[command(flatten)]
        published: Published,
        #[command(flatten)]
        common: Quiet,
    },
    /// Seal a visit when it is done: visits/VISIT/seal.txt, its files with their SHA-256, and nothing else.
    ///
    /// `sha256sum -c seal.txt` in the visit's folder checks it. A seal names the one before it by its own hash, so
    /// that seals make a chain. An edit after sealing is allowed: inspect and every report show it with both
    /// hashes. With --ssh-key the seal is signed as `ssh-keygen -Y sign` does it (seal.txt.sig). A time stamp that
    /// an authority gave you for it (RFC 3161) is checked if it lies beside it as seal.txt.tsr.
    #[command(
        after_help = "Example:\n  asfound seal my-saw as-found --ssh-key ~/.ssh/id_ed25519\n  writes my-saw/visits/as-found/seal.txt and seal.txt.sig"
    )]
    Seal {
        /// The session folder.
        dir: PathBuf,
        /// The visits' ids: the names of their folders.
        #[arg(required = true, value_name = "VISIT")]
        visits: Vec<String>,
        /// When it is sealed, as 2026-03-02T16:20:05-05:00 (RFC 3339). Default: this machine's clock.
        #[arg(long, value_name = "MOMENT", value_parser = seal::moment)]
        at: Option<crate::evidence::seal::Moment>,
        /// Seal anew what has changed since; the old seal is kept as seal-1.txt, and the new one names it.
        #[arg(long)]
        again: bool,
        /// A private SSH key to sign with: Ed25519 or ECDSA (P-256, P-384), without a passphrase.
        #[arg(long = "ssh-key", value_name = "FILE")]
        key: Option<PathBuf>,
        #[command(flatten)]
        common: Quiet,
    },
    /// Make blank reading sheets to take to the machine: sheet.pdf, one sheet a check.
    ///
    /// Each holds the set-up of the last visit, the conditions that must match, the cautions, the limit, a
    /// cell for every reading in the order it is taken, and the smallest number of readings that could show
    /// the change that matters. The session need not have a visit yet.
    #[command(
        after_help = "Example:\n  asfound sheet sessions/arbor-bearings --check arbor-runout --visit-title \"A year on\"\n  writes out/arbor-bearings/sheet.pdf"
    )]
    Sheet {
        /// The session folder.
        dir: PathBuf,
        /// The coming visit's title, printed on every sheet. Default: a line to write it on.
        #[arg(long, value_name = "TEXT")]
        visit_title: Option<String>,
        /// A check's id; give it again for more. Default: every check.
        #[arg(long = "check", value_name = "ID")]
        checks: Vec<String>,
        /// Where to put the folder of outputs: OUT/<session folder's name>/.
        #[arg(long, value_name = "OUT", default_value = "out")]
        out: PathBuf,
        /// A folder whose templates replace the program's own by name.
        #[arg(long, value_name = "DIR")]
        templates: Option<PathBuf>,
        #[command(flatten)]
        common: Quiet,
    },
    /// List every session in a folder and below it: machines, visits, verdicts, coverage that ends soon, seals.
    ///
    /// A folder is a session where it holds a session.yaml. One with errors is listed too, with their number.
    #[command(
        after_help = "Examples:\n  asfound shelf my-sessions --within 7 days --ends-soon --sort ends\n  asfound shelf my-sessions --as pdf --on 2026-04-01\n  writes out/shelf.pdf"
    )]
    Shelf {
        #[command(flatten)]
        asked: shelf::Asked,
        #[command(flatten)]
        common: Quiet,
    },
    /// Make pictures for a video: one chart, one sentence, one big number each; stills/NAME.png and .svg.
    ///
    /// There is one of the summary, one of each chart of each check, and one of each change. Words are no
    /// smaller than a thirtieth of the picture's shorter side and lie within nine tenths of it (the safe title
    /// area of SMPTE ST 2046-1). A run replaces the folder that an earlier one made.
    #[command(
        after_help = "Example:\n  asfound stills sessions/arbor-bearings --ground dark --ground clear --size 4k\n  writes out/arbor-bearings/stills/dark/summary.png, stills/clear/summary.png …"
    )]
    Stills {
        /// The session folder.
        dir: PathBuf,
        /// What the pictures stand on; given more than once, each has a folder of its own.
        #[arg(long = "ground", value_name = "GROUND", value_enum, default_value = "dark")]
        grounds: Vec<stills::GroundNamed>,
        /// How large they are.
        #[arg(long, value_name = "SIZE", value_enum, default_value = "hd")]
        size: stills::Size,
        /// 9:16, for a telephone held upright, and not 16:9.
        #[arg(long)]
        upright: bool,
        /// Keep the lower fifth clear, for captions.
        #[arg(long = "room-for-captions")]
        clear_below: bool,
        /// A picture's name; give it again for more. Default: every picture.
        #[arg(long, value_name = "NAME")]
        only: Vec<String>,
        /// Where to put the folder of outputs: OUT/<session folder's name>/.
        #[arg(long, value_name = "OUT", default_value = "out")]
        out: PathBuf,
        /// A folder whose templates replace the program's own by name.
        #[arg(long, value_name = "DIR")]
        templates: Option<PathBuf>,
        #[command(flatten)]
        published: Published,
        #[command(flatten)]
        common: Quiet,
    },
    /// Make pictures that draw themselves: numbered frames, one animated PNG, and a film where there is ffmpeg.
    ///
    /// First what was found before, then after, then the limit, then number and sentence; a curve grows in
    /// time, a turn is swept round. The first and the last frame are whole pictures, and the last one is the
    /// still of that name.
    #[command(
        after_help = "Example:\n  asfound buildup sessions/arbor-bearings arbor-runout-round --seconds 4\n  writes out/arbor-bearings/buildups/arbor-runout-round/0001.png …, arbor-runout-round.apng"
    )]
    Buildup {
        /// The session folder.
        dir: PathBuf,
        /// The pictures' names, as `asfound stills` lists them.
        #[arg(required = true)]
        names: Vec<String>,
        /// What the pictures stand on.
        #[arg(long, value_name = "GROUND", value_enum, default_value = "clear")]
        ground: stills::GroundNamed,
        /// How large they are.
        #[arg(long, value_name = "SIZE", value_enum, default_value = "hd")]
        size: stills::Size,
        /// 9:16, for a telephone held upright, and not 16:9.
        #[arg(long)]
        upright: bool,
        /// Keep the lower fifth clear, for captions.
        #[arg(long = "room-for-captions")]
        clear_below: bool,
        /// Frames a second.
        #[arg(long = "frames-a-second", value_name = "COUNT", value_enum, default_value = "30")]
        rate: buildup::Rate,
        /// How long it takes, with a rest at the end.
        #[arg(long, value_name = "SECONDS", value_parser = buildup::seconds, default_value = "3")]
        seconds: f64,
        /// Where to put the folder of outputs: OUT/<session folder's name>/.
        #[arg(long, value_name = "OUT", default_value = "out")]
        out: PathBuf,
        /// A folder whose templates replace the program's own by name.
        #[arg(long, value_name = "DIR")]
        templates: Option<PathBuf>,
        #[command(flatten)]
        published: Published,
        #[command(flatten)]
        common: Quiet,
    },
    /// Put the session and everything made from it into a bag: an archive that can be checked in four years.
    ///
    /// A bag (RFC 8493) holds the session as it was written, the outputs, and the SHA-256 and SHA-512 of every file. The
    /// same files make the same bag, byte for byte. A bag that is there is never replaced. Where the report that lies in
    /// OUT was made from other readings, it is made again first.
    #[command(
        after_help = "Example:\n  asfound bag sessions/arbor-bearings\n  writes out/arbor-bearings/bag/arbor-bearings/ and arbor-bearings.zip"
    )]
    Bag {
        /// The session folder.
        dir: PathBuf,
        /// What to make; given twice for both. Default: both.
        #[arg(long = "as", value_name = "FORM", value_enum)]
        forms: Vec<bag::Form>,
        /// Where to put the folder of outputs: OUT/<session folder's name>/.
        #[arg(long, value_name = "OUT", default_value = "out")]
        out: PathBuf,
        /// A folder whose templates replace the program's own by name, if the report has to be made.
        #[arg(long, value_name = "DIR")]
        templates: Option<PathBuf>,
        #[command(flatten)]
        common: Quiet,
    },
    /// Prove a bag, its zip or a report: whether it is whole, and whether its numbers still follow from its readings.
    ///
    /// A bag: every file is there, no other is, and each has the digests that the bag lists. A report: the session that is
    /// attached to it is taken out and analysed again, and every number and every page is held against what comes out. What
    /// differs is named. Nothing is written, but for files that pass. Exit code 0: it stands; 1: it does not.
    #[command(
        after_help = "Examples:\n  asfound verify out/arbor-bearings/report.pdf\n  asfound verify out/arbor-bearings/bag/arbor-bearings.zip"
    )]
    Verify {
        /// Bags (folders or zips) and reports.
        #[arg(required = true, value_name = "BAG|ZIP|PDF")]
        paths: Vec<PathBuf>,
        /// The folder of templates that the report was made with, where they are not the program's or the session's own.
        #[arg(long, value_name = "DIR")]
        templates: Option<PathBuf>,
        #[command(flatten)]
        common: Quiet,
    },
    /// Print the JSON Schema of session.yaml or visit.yaml, from which an editor offers and checks fields as you type.
    ///
    /// It is of draft 2020-12. What this program accepts the schema accepts; the program tells more, because it sees all
    /// files together.
    #[command(after_help = "Example:\n  asfound schema session > session.schema.json")]
    Schema {
        /// Which file.
        #[arg(value_name = "FILE", value_enum)]
        file: schema::Which,
    },
    /// Print what makes a shell complete commands and options of this program.
    #[command(
        after_help = "Example:\n  asfound completions bash > ~/.local/share/bash-completion/completions/asfound"
    )]
    Completions {
        /// The shell.
        #[arg(value_enum)]
        shell: clap_complete::Shell,
    },
    /// Write the guide: guide.pdf and guide.html, from the first wobble to a settled claim, with every measure's method.
    ///
    /// Its worked claim has the figures of the demo session. A file of the same name is only replaced if this program made it.
    #[command(after_help = "Example:\n  asfound guide\n  writes out/guide.pdf and out/guide.html")]
    Guide {
        /// The folder to put them into.
        #[arg(long, value_name = "DIR", default_value = "out")]
        out: PathBuf,
        /// The paper that guide.pdf is set on.
        #[arg(long, value_name = "PAPER", value_enum, default_value = "a4")]
        paper: guide::Sheets,
        #[command(flatten)]
        common: Quiet,
    },
    /// Print the licence of this program and those of everything that it is made of.
    #[command(after_help = "Example:\n  asfound licences --texts > licences.txt")]
    Licences {
        /// Also print the texts and notices that come with its parts.
        #[arg(long)]
        texts: bool,
    },
    /// Write the manual pages: asfound.1 and one for each command.
    ///
    /// A page of the same name is only replaced if this program made it.
    #[command(after_help = "Example:\n  asfound manual --out ~/.local/share/man/man1\n  man asfound-report")]
    Manual {
        /// The folder to put them into.
        #[arg(long, value_name = "DIR", default_value = "out/man1")]
        out: PathBuf,
        #[command(flatten)]
        common: Quiet,
    },
}

#[derive(Clone, Copy, Debug, Args)]
struct Places {
    /// Print where photographs were taken, as far as their cameras wrote it into them.
    #[arg(long, conflicts_with_all = ["strip_positions", "public"])]
    show_positions: bool,
    /// Take the places where photographs were taken out of all that is written. Pictures stay as they are.
    #[arg(long)]
    strip_positions: bool,
}

impl Places {
    fn positions(self) -> Positions {
        match self {
            Self { show_positions: true, .. } => Positions::Shown,
            Self { strip_positions: true, .. } => Positions::Stripped,
            Self { .. } => Positions::AsTheyAre,
        }
    }
}

#[derive(Clone, Copy, Debug, Args)]
struct Published {
    /// For publication: leave out people's names and addresses, serial and order numbers, sellers and prices.
    ///
    /// They read 'withheld' in all that is written, attached files among it; names of files stay. The document number
    /// stays that of the session. Recordings of sound and other files that are no text are not searched.
    #[arg(long)]
    public: bool,
}

#[derive(Clone, Copy, Debug, Args)]
struct Quiet {
    /// Print errors only.
    #[arg(long, short)]
    quiet: bool,
}

/// How a command ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Outcome {
    Done,
    SessionHasErrors,
    WrongArguments,
    CouldNotWrite,
}

impl Outcome {
    fn code(self) -> u8 {
        match self {
            Self::Done => 0,
            Self::SessionHasErrors => 1,
            Self::WrongArguments => 2,
            Self::CouldNotWrite => 3,
        }
    }
}

/// Runs the program: findings go to `out`, problems to `err`. Gives the exit code.
pub fn run(arguments: impl IntoIterator<Item = OsString>, out: &mut dyn Write, err: &mut dyn Write) -> u8 {
    let arguments = help_asked_for(arguments.into_iter().collect());
    let parsed = match Arguments::try_parse_from(&arguments) {
        Ok(parsed) => parsed,
        Err(error) => {
            let help = error.exit_code() == 0;
            let rendered = error.render();
            let colour = show::colour(help);
            let text = if colour { rendered.ansi().to_string() } else { rendered.to_string() };
            let target: &mut dyn Write = if help { out } else { err };
            // A reader that went away is no error of ours.
            let _ = target.write_all(text.as_bytes());
            if let Some(example) = example_for(&error, &arguments) {
                let _ = write!(target, "\n{example}\n");
            }
            return if help { 0 } else { 2 };
        }
    };
    done(parsed.command, out, err).code()
}

/// `asfound help report` for those who are used to it: the same as `asfound report --help`.
fn help_asked_for(mut arguments: Vec<OsString>) -> Vec<OsString> {
    if arguments.get(1).is_some_and(|word| word == "help") {
        arguments.remove(1);
        arguments.push("--help".into());
    }
    arguments
}

/// The example of a command that was called without what it needs.
fn example_for(error: &clap::Error, arguments: &[OsString]) -> Option<String> {
    let missing = error.kind() == clap::error::ErrorKind::MissingRequiredArgument;
    let name = arguments.get(1).filter(|_| missing)?.to_str()?;
    let command = Arguments::command();
    let example = command.find_subcommand(name)?.get_after_help()?;
    Some(example.to_string())
}

/// Does what was asked: an arm a command.
fn done(command: Command, out: &mut dyn Write, err: &mut dyn Write) -> Outcome {
    match command {
        Command::Start { dir, common } => start::run(&dir, common.quiet, out, err),
        Command::Inspect { dir, common } => inspect::run(&dir, common.quiet, out, err),
        Command::Report { dirs, out: target, templates, source, follow, places, published, common } => {
            let publication = Publication { public: published.public, positions: places.positions() };
            let options =
                report::Options { out: target, templates, source, publication, quiet: common.quiet };
            let run = if follow { follow::run } else { report::run };
            run(&dirs, &options, out, err)
        }
        Command::Letter { dir, machine, date, out: target, templates, common } => {
            let options = letter::Options { machine, date, out: target, templates, quiet: common.quiet };
            letter::run(&dir, &options, out, err)
        }
        Command::Seal { dir, visits, at, again, key, common } => {
            let options = seal::Options { visits, at, again, key, quiet: common.quiet };
            seal::run(&dir, &options, out, err)
        }
        Command::Sheet { dir, visit_title, checks, out: target, templates, common } => {
            let options = sheet::Options { visit_title, checks, out: target, templates, quiet: common.quiet };
            sheet::run(&dir, &options, out, err)
        }
        Command::Shelf { asked, common } => shelf::run(&asked, common.quiet, out, err),
        Command::Bag { dir, forms, out: target, templates, common } => {
            let forms = if forms.is_empty() { vec![bag::Form::Folder, bag::Form::Zip] } else { forms };
            let options = bag::Options { forms, out: target, templates, quiet: common.quiet };
            bag::run(&dir, &options, out, err)
        }
        Command::Verify { paths, templates, common } => {
            verify::run(&paths, &verify::Options { templates, quiet: common.quiet }, out, err)
        }
        Command::Schema { file } => schema::run(file, out),
        Command::Guide { out: folder, paper, common } => {
            guide::run(&guide::Options { out: folder, paper, quiet: common.quiet }, out, err)
        }
        Command::Licences { texts } => licences::run(texts, out),
        Command::Completions { shell } => completions::run(shell, Arguments::command(), out),
        Command::Manual { out: target, common } => {
            manual::run(Arguments::command(), &target, common.quiet, out, err)
        }
        Command::Script { dir, pace, out: target, templates, published, common } => {
            let options = script::Options { pace, out: target, templates, published, quiet: common.quiet };
            script::run(&dir, &options, out, err)
        }
        Command::Buildup {
            dir,
            names,
            ground,
            size,
            upright,
            clear_below,
            rate,
            seconds,
            out: target,
            templates,
            published,
            common,
        } => {
            let options = buildup::Options {
                names,
                ground,
                size,
                upright,
                clear_below,
                rate,
                seconds,
                out: target,
                templates,
                published,
                quiet: common.quiet,
            };
            buildup::run(&dir, &options, out, err)
        }
        Command::Stills {
            dir,
            grounds,
            size,
            upright,
            clear_below,
            only,
            out: target,
            templates,
            published,
            common,
        } => {
            let options = stills::Options {
                grounds,
                size,
                upright,
                clear_below,
                only,
                out: target,
                templates,
                published,
                quiet: common.quiet,
            };
            stills::run(&dir, &options, out, err)
        }
    }
}

/// Reads a session: as it stands, or for `public` from masked copies.
fn read_for(dir: &std::path::Path, public: bool, problems: &mut Problems) -> Option<Session> {
    if !public || !dir.is_dir() {
        return crate::session::read(dir, problems);
    }
    let masks = crate::session::withheld::withhold(dir, problems)?;
    let before = problems.errors();
    let session = crate::session::read_masked(dir, &masks, problems);
    let mut as_it_stands = Problems::default();
    if problems.errors() > before
        && crate::session::read(dir, &mut as_it_stands).is_some()
        && !as_it_stands.any_error()
    {
        problems.push(
            Problem::folder("the session can be read, and its masked copy cannot")
                .help("a private value is also a word that the session needs, such as a unit or an id: write one of the two otherwise"),
        );
    }
    session
}

/// Reads and analyses a session; the session and its findings where there is no error.
fn read_and_analyse(dir: &std::path::Path, problems: &mut Problems) -> Option<(Session, Findings)> {
    read_and_analyse_for(dir, false, problems)
}

/// The same, as it stands or for `public`.
fn read_and_analyse_for(
    dir: &std::path::Path,
    public: bool,
    problems: &mut Problems,
) -> Option<(Session, Findings)> {
    let session = read_for(dir, public, problems)?;
    let findings = analysed(&session, &measures(), problems)?;
    Some((session, findings))
}

/// A session's findings where there is no error in it.
fn analysed(session: &Session, measures: &[&dyn Measure], problems: &mut Problems) -> Option<Findings> {
    // Even a session with errors is analysed: the measures have their own to add.
    let findings = crate::analysis::analyse(session, measures, problems);
    if !problems.any_error() {
        crate::typed::point_out(session, &findings, problems);
    }
    problems.sort();
    (!problems.any_error()).then_some(findings)
}

/// The templates in use for a session: those of the folder named, then those of its own `templates/`,
/// then the program's. None, and the reason said, where a folder cannot be read.
fn templates(
    folder: Option<&std::path::Path>,
    dir: &std::path::Path,
    masks: Option<&Masks>,
    err: &mut dyn Write,
) -> Option<Templates> {
    let masked = masks.and_then(Masks::templates);
    let own = masked.map_or_else(|| dir.join("templates"), std::path::Path::to_owned);
    // A link could lead out of the session, so only a folder is one.
    let is_folder = std::fs::symlink_metadata(&own).is_ok_and(|meta| meta.is_dir());
    let folders: Vec<&std::path::Path> =
        folder.into_iter().chain(is_folder.then_some(own.as_path())).collect();
    match Templates::with_folders(&folders) {
        Ok(templates) => {
            for said in templates.misnamed() {
                let _ = writeln!(err, "warning: {}", show::plain(&said));
            }
            Some(templates)
        }
        Err(error) => {
            let _ = writeln!(err, "{}", show::plain(&error.to_string()));
            None
        }
    }
}

/// Writes a PDF into the session's folder of outputs, beside its report. What hinders is said.
fn beside_report(
    pdf: &crate::typeset::Pdf,
    name: &str,
    session: &Session,
    out: &std::path::Path,
    err: &mut dyn Write,
) -> Result<std::path::PathBuf, Outcome> {
    for warning in &pdf.warnings {
        let _ = writeln!(err, "{}", show::plain(&warning.to_string()));
    }
    let target = out.join(&session.name);
    if report::entangled(&target, session) {
        let _ = writeln!(err, "{}: {}", show::plain(&session.name), report::ENTANGLED);
        return Err(Outcome::CouldNotWrite);
    }
    written::put(&target, name, &pdf.bytes).map_err(|error| {
        let _ = writeln!(err, "{}", show::plain(&error.to_string()));
        Outcome::CouldNotWrite
    })?;
    Ok(target.join(name))
}
