//! The fingerprint of everything that an examination follows from.
//!
//! Places in files are left out: a line added above moves them and changes no finding. Every structure is
//! taken apart by name, so that a field that is added to one has to be thought of here.

use std::collections::HashMap;
use std::fmt::{self, Write as _};
use std::fs;
use std::io;
use std::path::{Path, PathBuf};
use std::sync::{Mutex, PoisonError};

use sha2::{Digest, Sha256};

use super::super::Sitting;
use crate::session::{Check, Entry, Instrument, Node, Readings, Session, Value, Visit, Walls};

/// SHA-256.
pub(super) type Fingerprint = [u8; 32];

/// The fingerprints of recordings that one analysis has read.
pub(super) type Read = Mutex<HashMap<PathBuf, Fingerprint>>;

/// The fingerprint of one check at one visit; none where a file that it may name cannot be read. A file
/// that is among those `read` is not read again.
pub(super) fn of(sitting: &Sitting<'_>, read: &Read) -> Option<Fingerprint> {
    let Sitting { session, check, visit, readings: _, instrument: _ } = *sitting;
    let walls = session.walls().ok()?;
    let mut content = Content { hasher: Sha256::new(), walls, read };
    content.session(session, check).ok()?;
    content.text(&visit.id);
    Some(content.hasher.finalize().into())
}

struct Content<'a> {
    hasher: Sha256,
    walls: Walls,
    read: &'a Read,
}

impl Content<'_> {
    fn session(&mut self, session: &Session, check: &Check) -> io::Result<()> {
        let Session {
            root,
            name: _,
            // What stands in the report and in no finding.
            title: _,
            question: _,
            ask: _,
            prepared_by: _,
            paper: _,
            letter: _,
            events: _,
            notes: _,
            script: _,
            units,
            // Coverage and comparisons look at machines; an examination is of one check.
            machines: _,
            instruments,
            checks: _,
            compare: _,
            visits,
            others: _,
            beside: _,
            // Files are read through them, and their content counts.
            masks: _,
        } = session;
        self.text(&root.to_string_lossy());
        self.debug(units);
        for instrument in instruments {
            self.instrument(instrument);
        }
        self.check(check)?;
        visits.iter().try_for_each(|visit| self.visit(visit, &check.id))
    }

    fn instrument(&mut self, instrument: &Instrument) {
        let Instrument {
            id,
            name,
            // No finding follows from these two.
            serial: _,
            calibration_due: _,
            resolution,
            accuracy,
            tip_angle,
            calibrated,
            correction,
            certificate,
            repeats,
            repeat_unit,
            emissivity_set,
            range,
            place: _,
        } = instrument;
        self.text(id);
        self.text(name);
        self.debug(&(resolution, accuracy, tip_angle, calibrated, correction, certificate));
        self.debug(&(repeat_unit, emissivity_set, range));
        for reading in repeats {
            let crate::session::Reading { quantity, text, struck, place: _ } = reading;
            self.debug(&(quantity, text, struck));
        }
    }

    /// All that is written of a check: what is read from it stands there too.
    fn check(&mut self, check: &Check) -> io::Result<()> {
        let Check {
            id,
            measure,
            own,
            measure_place: _,
            title: _,
            instrument: _,
            unit: _,
            procedure: _,
            limit: _,
            better: _,
            matters: _,
            must_match: _,
            about_the_same: _,
            place: _,
        } = check;
        self.text(id);
        self.text(measure);
        self.entries(own.written_entries(), "")
    }

    /// A visit with its readings of the check: a measure may take a unit from the first of them.
    fn visit(&mut self, visit: &Visit, check: &str) -> io::Result<()> {
        let Visit { id, title, state, machine, date, time, by, conditions, photos: _, readings, place: _ } =
            visit;
        self.debug(&(id, title, state, machine));
        self.debug(&(date, time, by, conditions));
        for readings in readings.iter().filter(|readings| readings.check == check) {
            let Readings { check: _, conditions: _, instrument: _, own, place: _ } = readings;
            self.entries(own.written_entries(), &format!("visits/{id}"))?;
        }
        Ok(())
    }

    fn entries(&mut self, entries: &[Entry], folder: &str) -> io::Result<()> {
        self.count(b'{', entries.len());
        for entry in entries {
            self.text(&entry.key);
            self.node(&entry.node, folder, true)?;
        }
        Ok(())
    }

    fn node(&mut self, node: &Node, folder: &str, named: bool) -> io::Result<()> {
        match &node.value {
            Value::Nothing => self.count(b'-', 0),
            Value::Scalar(scalar) => {
                self.debug(&scalar.is);
                self.text(&scalar.text);
                if named || !matches!(scalar.is, crate::session::ScalarKind::Number(_)) {
                    self.file(folder, &scalar.text)?;
                }
            }
            Value::List(nodes) => {
                self.count(b'[', nodes.len());
                nodes.iter().try_for_each(|node| self.node(node, folder, false))?;
            }
            Value::Map(entries) => self.entries(entries, folder)?,
        }
        Ok(())
    }

    /// The bytes of a file of the session, where a text is the name of one.
    fn file(&mut self, folder: &str, text: &str) -> io::Result<()> {
        let Ok(relative) = self.walls.relative(folder, text) else {
            return Ok(());
        };
        let there = fs::metadata(self.walls.root().join(&relative)).is_ok_and(|meta| meta.is_file());
        if there && let Ok(path) = self.walls.resolve(&relative) {
            let known = self.read.lock().unwrap_or_else(PoisonError::into_inner).get(&path).copied();
            let content = match known {
                Some(content) => content,
                None => bytes_of(&path)?,
            };
            self.read.lock().unwrap_or_else(PoisonError::into_inner).insert(path, content);
            self.hasher.update(content);
        }
        Ok(())
    }

    fn count(&mut self, kind: u8, count: usize) {
        self.hasher.update([kind]);
        self.hasher.update((count as u64).to_le_bytes());
    }

    fn text(&mut self, text: &str) {
        self.count(b'"', text.len());
        self.hasher.update(text.as_bytes());
    }

    /// A value without places in it, as its own words for debugging have it: numbers to their last bit.
    fn debug(&mut self, value: &dyn fmt::Debug) {
        let mut text = String::new();
        // Writing into a String cannot fail.
        let _ = write!(text, "{value:?}");
        self.text(&text);
    }
}

/// The fingerprint of a file, read block by block.
pub(crate) fn bytes_of(path: &Path) -> io::Result<Fingerprint> {
    let mut file = fs::File::open(path)?;
    let mut hasher = Sha256::new();
    let mut block = vec![0; 1 << 16];
    loop {
        match io::Read::read(&mut file, &mut block)? {
            0 => return Ok(hasher.finalize().into()),
            read => hasher.update(&block[..read]),
        }
    }
}
