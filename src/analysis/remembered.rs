//! Examinations remembered from one analysis of a session to the next.
//!
//! What a measure finds at a visit follows from what the session says of the check, its visits and its
//! instruments, and from the recordings named there. [`Memory`] keeps the findings under the fingerprint
//! of all that, bytes of recordings included: nothing is taken for unchanged that was not looked at.

mod content;

use std::collections::HashMap;
use std::sync::{Arc, Mutex, PoisonError};

use crate::findings::{Budget, CheckFindings, Finding, Pattern, VisitFindings};
use crate::quantity::Unit;
use crate::schema::Own;
use crate::session::{Better, Check, Problems, Session};

use super::blank::{Blank, Order};
use super::readings_needed::Repeated;
use super::uncertainty::Shown;
use super::{Examined, Measure, Prepared, Sitting, What};
pub(crate) use content::bytes_of;
use content::{Fingerprint, Read};

/// Analyses after which an examination is forgotten that none of them needed.
const GENERATIONS: u64 = 10;

/// What was found before.
#[derive(Debug, Default)]
pub struct Memory {
    kept: Mutex<Kept>,
}

#[derive(Debug, Default)]
struct Kept {
    now: u64,
    // Only looked into: its order is never seen.
    examined: HashMap<Fingerprint, (Examined, u64)>,
}

impl Memory {
    /// These measures, but with a memory. To be called once for each analysis.
    pub fn with(self: &Arc<Self>, measures: &[&'static dyn Measure]) -> Vec<Remembering> {
        let mut kept = self.kept();
        kept.now += 1;
        let oldest = kept.now.saturating_sub(GENERATIONS);
        kept.examined.retain(|_, (_, used)| *used >= oldest);
        drop(kept);
        let read = Arc::new(Read::default());
        let with = |measure: &&'static dyn Measure| Remembering {
            measure: *measure,
            memory: Arc::clone(self),
            read: Arc::clone(&read),
        };
        measures.iter().map(with).collect()
    }

    fn kept(&self) -> std::sync::MutexGuard<'_, Kept> {
        self.kept.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn recall(&self, fingerprint: &Fingerprint) -> Option<Examined> {
        let mut kept = self.kept();
        let now = kept.now;
        let (examined, used) = kept.examined.get_mut(fingerprint)?;
        *used = now;
        Some(examined.clone())
    }

    fn keep(&self, fingerprint: Fingerprint, examined: Examined) {
        let mut kept = self.kept();
        let now = kept.now;
        kept.examined.insert(fingerprint, (examined, now));
    }
}

/// A measure that remembers what it found.
pub struct Remembering {
    measure: &'static dyn Measure,
    memory: Arc<Memory>,
    read: Arc<Read>,
}

impl std::fmt::Debug for Remembering {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_tuple("Remembering").field(&self.measure.name()).finish()
    }
}

/// Every method is the measure's own, those with a usual answer too.
impl Measure for Remembering {
    fn name(&self) -> &'static str {
        self.measure.name()
    }

    fn whats(&self) -> &'static [What] {
        self.measure.whats()
    }

    fn better(&self) -> Option<Better> {
        self.measure.better()
    }

    fn all_places(&self) -> Option<&'static str> {
        self.measure.all_places()
    }

    fn deciding(&self) -> &'static [&'static str] {
        self.measure.deciding()
    }

    fn schema(&self) -> Own {
        self.measure.schema()
    }

    fn prepare(
        &self,
        session: &Session,
        check: &Check,
        problems: &mut Problems,
    ) -> Option<Box<dyn Prepared>> {
        let prepared = self.measure.prepare(session, check, problems)?;
        Some(Box::new(Ready { prepared, memory: Arc::clone(&self.memory), read: Arc::clone(&self.read) }))
    }

    fn patterns(&self, session: &Session, own: &CheckFindings, all: &[CheckFindings]) -> Vec<Pattern> {
        self.measure.patterns(session, own, all)
    }

    fn legend(&self, own: &CheckFindings) -> Vec<String> {
        self.measure.legend(own)
    }

    fn order(&self) -> Order {
        self.measure.order()
    }

    fn blanks(&self, visit: &VisitFindings) -> Vec<Blank> {
        self.measure.blanks(visit)
    }

    fn usual(&self, session: &Session, check: &Check) -> Vec<Blank> {
        self.measure.usual(session, check)
    }

    fn repeated(&self, visit: &VisitFindings, finding: &Finding) -> Option<Repeated> {
        self.measure.repeated(visit, finding)
    }

    fn expected(&self, shown: &Shown, unit: Unit) -> Option<Budget> {
        self.measure.expected(shown, unit)
    }

    fn cautions(&self) -> &'static [&'static str] {
        self.measure.cautions()
    }

    fn methods(&self) -> &'static [&'static str] {
        self.measure.methods()
    }
}

struct Ready {
    prepared: Box<dyn Prepared>,
    memory: Arc<Memory>,
    read: Arc<Read>,
}

impl Prepared for Ready {
    fn unit(&self) -> Unit {
        self.prepared.unit()
    }

    fn examine(&self, sitting: &Sitting<'_>, problems: &mut Problems) -> Option<Examined> {
        let fingerprint = content::of(sitting, &self.read);
        if let Some(found) = fingerprint.as_ref().and_then(|fingerprint| self.memory.recall(fingerprint)) {
            return Some(found);
        }
        let mut own = Problems::default();
        let examined = self.prepared.examine(sitting, &mut own);
        // What is said of a place would point elsewhere next time; and a recording that is being written
        // may not be what was fingerprinted.
        if own.is_empty()
            && let Some((examined, fingerprint)) = examined.as_ref().zip(fingerprint)
            && content::of(sitting, &Read::default()).as_ref() == Some(&fingerprint)
        {
            self.memory.keep(fingerprint, examined.clone());
        }
        problems.extend(own);
        examined
    }
}
