//! `bag`: the session and everything made from it as a bag (RFC 8493), as a folder and as one zip, the same bytes each time.

mod info;
mod made;

use std::collections::BTreeMap;
use std::fs::{self, File};
use std::io::{self, BufReader, Read, Write};
use std::path::{Path, PathBuf};

use self::made::{made, report_is_of};
use super::written::{self, WriteError};
use super::{Outcome, PROGRAM, report, show};
use crate::evidence::bag::{Folder, Holder, Origin, PackError, Packed, Packing, Source, Zipped, names};
use crate::evidence::digest::{Algorithm, read_through};
use crate::evidence::layout::{Layout, files_of, from_session, layout};
use crate::evidence::zip::{self, Entry, ZipError};
use crate::evidence::{Listed, NARRATION, Publication, document_number_of_list, licences};
use crate::session::{Problem, Problems, Session, Walls};

pub(super) use made::FOLDER;

/// What a bag is made as.
#[derive(Clone, Copy, Debug, PartialEq, Eq, clap::ValueEnum)]
pub(super) enum Form {
    /// A folder.
    Folder,
    /// One zip.
    Zip,
}

pub(super) struct Options {
    pub(super) forms: Vec<Form>,
    pub(super) out: PathBuf,
    pub(super) templates: Option<PathBuf>,
    pub(super) quiet: bool,
}

/// Every file of the bag, and where its bytes are.
type Files = Vec<(Packed, Origin)>;

pub(super) fn run(dir: &Path, options: &Options, out: &mut dyn Write, err: &mut dyn Write) -> Outcome {
    let mut problems = Problems::default();
    let session = crate::session::read(dir, &mut problems).filter(|_| !problems.any_error());
    let Some(session) = session else {
        show::problems(&problems, &dir.display().to_string(), err);
        return Outcome::SessionHasErrors;
    };
    let target = options.out.join(&session.name);
    if report::entangled(&target, &session) {
        let _ = writeln!(err, "{}: {}", show::plain(&session.name), report::ENTANGLED);
        return Outcome::CouldNotWrite;
    }
    let others = session.others.iter().map(|(named, _)| named.as_str());
    let layout = match layout(&session.name, others) {
        Ok(layout) => layout,
        Err(error) => {
            let _ = writeln!(err, "{}: {}", show::plain(&session.name), show::plain(&error.to_string()));
            return Outcome::SessionHasErrors;
        }
    };
    let job = Job { dir, session, target, layout, options };
    match job.run(out, err) {
        Ok(()) => Outcome::Done,
        Err(Stop::Said(outcome)) => outcome,
        Err(Stop::Problems(problems)) => {
            show::problems(&problems, &dir.display().to_string(), err);
            Outcome::SessionHasErrors
        }
        Err(Stop::Pack(error)) => {
            let _ = writeln!(err, "{}", show::plain(&error.to_string()));
            match error {
                PackError::Read { .. } | PackError::Zip(_) => Outcome::SessionHasErrors,
                PackError::Write { .. } => Outcome::CouldNotWrite,
            }
        }
        Err(Stop::Write(error)) => {
            let _ = writeln!(err, "{}", show::plain(&error.to_string()));
            Outcome::CouldNotWrite
        }
    }
}

/// Why no bag was made.
enum Stop {
    Said(Outcome),
    Problems(Problems),
    Pack(PackError),
    Write(WriteError),
}

impl From<PackError> for Stop {
    fn from(error: PackError) -> Self {
        match error {
            PackError::Zip(error) => Self::Problems(changed(&error)),
            error => Self::Pack(error),
        }
    }
}

impl From<WriteError> for Stop {
    fn from(error: WriteError) -> Self {
        Self::Write(error)
    }
}

struct Job<'a> {
    dir: &'a Path,
    session: Session,
    target: PathBuf,
    layout: Layout,
    options: &'a Options,
}

impl Job<'_> {
    fn run(&self, out: &mut dyn Write, err: &mut dyn Write) -> Result<(), Stop> {
        written::sweep(&self.options.out);
        let bags = self.target.join(FOLDER);
        let folder = bags.join(&self.session.name);
        let packed = bags.join(format!("{}.zip", self.session.name));
        let wants = |form| self.options.forms.contains(&form);
        // A bag that is there is never replaced: what it would be is held against it.
        let lay = wants(Form::Folder) && !stands(&folder);
        let fresh = if lay { Some(written::room_beside(&self.target)?) } else { None };
        let fill = wants(Form::Zip) && !stands(&packed);
        let filled = if fill { Some(written::file_beside(&self.target)?) } else { None };
        let zip = filled.as_ref().map(|filled| self.zipped(filled, &packed)).transpose()?;
        let files = self.gather(fresh.as_ref().map(tempfile::TempDir::path), zip, out, err)?;
        let mut lines = Vec::new();
        let mut differs = Vec::new();
        match fresh {
            Some(fresh) => {
                written::settle(fresh, &folder)?;
                lines.push(format!("{}/ ({} files)", folder.display(), files.len()));
            }
            None if wants(Form::Folder) => {
                let found = differences(&folder, &files);
                if found.is_empty() {
                    lines.push(format!("{}/ is there already, the same in every byte", folder.display()));
                }
                differs.extend(found.into_iter().map(|line| format!("{}/{line}", folder.display())));
            }
            None => {}
        }
        match filled {
            Some(filled) => {
                let size = files.iter().map(|(file, _)| file.size).sum::<u64>();
                written::settle_file(filled, &packed)?;
                lines.push(format!("{} ({size} bytes of files)", packed.display()));
            }
            None if wants(Form::Zip) => self.held_against(&packed, &files, &mut lines, &mut differs)?,
            None => {}
        }
        if !self.options.quiet {
            for line in &lines {
                let _ = writeln!(out, "{}", show::plain(line));
            }
        }
        if differs.is_empty() {
            return Ok(());
        }
        for line in &differs {
            let _ = writeln!(err, "{}", show::plain(line));
        }
        let _ = writeln!(err, "a bag is never replaced; move the old one away, or choose another --out");
        Err(Stop::Said(Outcome::CouldNotWrite))
    }

    /// The session and those that it is compared with: where each lies in the bag, and what stands before the paths of
    /// its files in the session's list.
    fn sessions(&self) -> Vec<(&Session, &str, String)> {
        let mut sessions = vec![(&self.session, self.layout.own.as_str(), String::new())];
        for ((named, other), place) in self.session.others.iter().zip(&self.layout.others) {
            if let (Some(place), Some(from)) = (place, from_session(&self.session.name, named)) {
                sessions.push((other, place, format!("{from}/")));
            }
        }
        sessions
    }

    /// The zip that this file is to become.
    fn zipped(&self, filled: &tempfile::NamedTempFile, path: &Path) -> Result<Zipped, WriteError> {
        let cannot = |source| WriteError { path: path.to_owned(), source };
        let file = filled.as_file().try_clone().map_err(cannot)?;
        Ok(Zipped::into(file, path, format!("{}/", self.session.name)))
    }

    /// Every file of the bag; copied into `folder` and put into `zip` where there is one.
    fn gather(
        &self,
        folder: Option<&Path>,
        zip: Option<Zipped>,
        out: &mut dyn Write,
        err: &mut dyn Write,
    ) -> Result<Files, Stop> {
        let mut problems = Problems::default();
        let mut tell = |_: &str| {};
        let mut packing = Packing::into(folder, zip, &mut tell);
        let (mut sources, mut listed) = (Vec::new(), Vec::new());
        for (session, place, from) in self.sessions() {
            let walls = Walls::around(&session.root)
                .map_err(|source| PackError::Read { path: session.root.clone(), source })?;
            for (path, behind) in files_of(&walls, usize::MAX, &mut problems) {
                let in_bag = format!("data/{place}/{path}");
                if path != NARRATION {
                    listed.push((format!("{from}{path}"), in_bag.clone()));
                }
                sources.push(Source { path: in_bag, from: Origin::File(behind) });
            }
        }
        if problems.any_error() {
            return Err(Stop::Problems(problems));
        }
        let packed = packing.add(sources)?;
        let packed: BTreeMap<&str, &Packed> =
            packed.iter().map(|packed| (packed.path.as_str(), packed)).collect();
        let own: Vec<Listed> = listed
            .into_iter()
            .filter_map(|(path, in_bag)| {
                let packed = packed.get(in_bag.as_str())?;
                Some(Listed { path, sha256: packed.sha256().to_owned(), size: Some(packed.size) })
            })
            .collect();
        let number = document_number_of_list(&own);
        self.report(&number, out, err)?;
        let made = made(&self.target, &number)
            .map_err(|source| PackError::Read { path: self.target.clone(), source })?;
        for stale in &made.stale {
            let path = self.target.join(stale);
            let says = "was made from other readings and is left out of the bag; make it again, or remove it";
            let _ = writeln!(err, "{} {says}", show::plain(&path.display().to_string()));
        }
        let of_outputs = |(path, behind)| Source {
            path: format!("data/out/{}/{path}", self.session.name),
            from: Origin::File(behind),
        };
        packing.add(made.files.into_iter().map(of_outputs).collect())?;
        let tags = about(&self.session.name).map(|(path, text)| (path.to_owned(), text));
        let files: Files = packing.finish(PROGRAM, &info::info(&self.session, &number), tags.into())?;
        // Others may have another system.
        for remark in names(files.iter().map(|(packed, _)| packed.path.as_str())) {
            let _ = writeln!(err, "{} {}", show::plain(&remark.path), show::plain(&remark.says));
        }
        Ok(files)
    }

    /// Makes the report where the one that lies there is not of these readings.
    fn report(&self, number: &str, out: &mut dyn Write, err: &mut dyn Write) -> Result<(), Stop> {
        if report_is_of(&self.target, number) {
            return Ok(());
        }
        let options = report::Options {
            out: self.options.out.clone(),
            templates: self.options.templates.clone(),
            source: false,
            publication: Publication::default(),
            quiet: true,
        };
        match report::run(&[self.dir.to_owned()], &options, out, err) {
            Outcome::Done => Ok(()),
            outcome => Err(Stop::Said(outcome)),
        }
    }

    /// Holds a zip that is there against the one that would be written.
    fn held_against(
        &self,
        path: &Path,
        files: &Files,
        lines: &mut Vec<String>,
        differs: &mut Vec<String>,
    ) -> Result<(), Stop> {
        let entries: Vec<Entry> = files
            .iter()
            .map(|(packed, _)| Entry {
                path: format!("{}/{}", self.session.name, packed.path),
                size: packed.size,
                crc32: packed.crc32,
            })
            .collect();
        let mut open = |index: usize| opened(&files[index].1);
        let there =
            File::open(path).map_err(|source| Stop::Write(WriteError { path: path.to_owned(), source }))?;
        match zip::same_as_written(&entries, &mut open, &mut BufReader::new(there)) {
            Ok(None) => lines.push(format!("{} is there already, the same in every byte", path.display())),
            Ok(Some(at)) => {
                let says = "is not the bag of these files; it first differs at byte";
                differs.push(format!("{} {says} {at}", path.display()));
            }
            Err(error) => return Err(PackError::of_zip(error, path).into()),
        }
        Ok(())
    }
}

fn stands(path: &Path) -> bool {
    fs::symlink_metadata(path).is_ok()
}

fn opened(origin: &Origin) -> io::Result<Box<dyn Read + '_>> {
    Ok(match origin {
        Origin::Bytes(bytes) => Box::new(&bytes[..]),
        Origin::File(path) => Box::new(File::open(path)?),
    })
}

/// A file that does not go into a zip as it is.
fn changed(error: &ZipError) -> Problems {
    let mut problems = Problems::default();
    problems
        .push(Problem::folder(error.to_string()).help("wait until nothing is being saved, and try again"));
    problems
}

/// How a bag that is there differs from the one that would be made, a line each.
fn differences(folder: &Path, files: &Files) -> Vec<String> {
    let there = Folder::look(folder);
    let mut lines: Vec<String> =
        there.faults().iter().map(|fault| format!("{} {}", fault.path, fault.says)).collect();
    let mut wanted: BTreeMap<&str, &Packed> =
        files.iter().map(|(packed, _)| (packed.path.as_str(), packed)).collect();
    for (index, held) in there.files().iter().enumerate() {
        let Some(packed) = wanted.remove(held.path.as_str()) else {
            lines.push(format!("{} is in the bag that is there and would not be in this one", held.path));
            continue;
        };
        let is = there.open(index).map_err(|error| error.to_string()).and_then(|mut from| {
            read_through(&mut from, &[Algorithm::Sha256], &mut io::sink()).map_err(|error| error.to_string())
        });
        match is {
            Ok(digests) if digests.of(Algorithm::Sha256) == Some(packed.sha256()) => {}
            Ok(_) => lines.push(format!("{} differs", held.path)),
            Err(error) => lines.push(format!("{} cannot be read: {error}", held.path)),
        }
    }
    lines.extend(wanted.keys().map(|path| format!("{path} is not in the bag that is there")));
    lines
}

/// Tag files that help whoever opens the bag without the program.
fn about(name: &str) -> [(&'static str, String); 3] {
    let how = format!(
        "This is a bag: a session folder and everything that was made from it, with the digest of every file\n\
         (The BagIt File Packaging Format, RFC 8493).\n\
         \n\
         Whether it is whole, with ordinary tools, from the folder that holds bagit.txt:\n\
         \n\
         \x20   sha256sum --check --quiet tagmanifest-sha256.txt manifest-sha256.txt\n\
         \n\
         Whether it is whole, and whether the numbers still follow from the readings:\n\
         \n\
         \x20   asfound verify {name}\n\
         \n\
         data/sessions/{name}   the session as it was written: session.yaml, visits, recordings, photos\n\
         data/out/{name}        the report and what else was made from it\n\
         bag-info.txt           machine, coverage, visits and diary, in plain words\n"
    );
    [
        ("about/how-to-check.txt", how),
        ("about/licence.txt", include_str!("../../../LICENSE").to_owned()),
        ("about/third-party-licences.txt", licences::LIST.to_owned()),
    ]
}
