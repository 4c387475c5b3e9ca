//! `asfound` reads a folder of workshop readings and compiles a report that can be believed.
//!
//! ```text
//! session folder --read--> Session --analyse--> Findings --draw--> Exhibits --compose--> Document --typeset--> files
//! ```
//!
//! Each stage takes the value that the last one made and knows nothing of the stages after it.

pub mod analysis;
pub mod charts;
pub mod commands;
pub mod compose;
pub mod evidence;
pub mod findings;
pub mod notes;
pub mod quantity;
pub mod recording;
pub mod registry;
pub mod script;
pub mod session;
pub mod shelf;
pub mod typed;
pub mod typeset;
