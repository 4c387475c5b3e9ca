//! `asfound` reads a folder of workshop readings and compiles a report that can be believed.
//!
//! ```text
//! session folder --read--> Session --analyse--> Findings --draw--> Exhibits --compose--> Document --typeset--> files
//! ```
//!
//! Each stage takes the value that the last one made and knows nothing of the stages after it.
//!
//! # For other programs
//!
//! What the program does can be had stage by stage. [`session::read`] reads a folder, [`analysis::analyse`] computes its
//! [`findings`], [`commands::build`] makes the files of its report, and [`evidence`] tells what it all rests on. These
//! functions print nothing, write nothing, ask no clock and no network, and keep nothing from one call to the next: the same
//! folder gives the same values, in whichever thread. What is wrong is no `Err` but a list of [`session::Problems`], all at
//! once, each with its place; a value that comes with an error among them is as whole as it could be and must not be believed.
//!
//! ```
//! use std::path::Path;
//!
//! use asfound::findings::Verdict;
//! use asfound::session::Problems;
//! use asfound::{analysis, registry, session};
//!
//! let mut problems = Problems::default();
//! let folder = Path::new("sessions/arbor-bearings");
//! let session = session::read(folder, &mut problems).expect("a folder with a session.yaml");
//! let findings = analysis::analyse(&session, &registry::measures(), &mut problems);
//! assert!(!problems.any_error());
//!
//! // Which checks were over their limit when the machine was found, and are within it now?
//! let worst = |check: &asfound::findings::CheckFindings, visit: &str| {
//!     let visit = check.visit(visit)?;
//!     let main = visit.findings.iter().filter(|finding| finding.what == check.main);
//!     main.map(|finding| finding.verdict).find(|verdict| *verdict == Verdict::Over)
//! };
//! let mended: Vec<&str> = findings
//!     .checks
//!     .iter()
//!     .filter(|check| worst(check, "as-found").is_some() && worst(check, "as-left").is_none())
//!     .map(|check| check.check.as_str())
//!     .collect();
//! assert!(mended.contains(&"arbor-runout"));
//! ```

pub mod analysis;
pub mod charts;
pub mod commands;
pub mod compose;
pub mod evidence;
pub mod findings;
pub mod notes;
mod packed;
pub mod quantity;
pub mod recording;
pub mod registry;
pub mod schema;
pub mod script;
pub mod session;
pub mod shelf;
pub mod typed;
pub mod typeset;
