//! What may stand in session.yaml and in a visit.yaml, as JSON Schema (draft 2020-12), for editors and for whoever writes
//! sessions by a program.
//!
//! The reader decides ([`crate::session`], the measures); a schema only says beforehand what it would say. What the reader
//! accepts a schema accepts; what needs more than one file, or a number's size, the reader alone tells.
//!
//! Servers of editors for YAML mostly read draft 7, so no word is used that means something else there: `prefixItems`
//! is passed over, and a description beside `$ref` at worst not shown.
//!
//! ```
//! use asfound::registry::measures;
//!
//! let schema = asfound::schema::visit(&measures());
//! assert_eq!(schema["required"], serde_json::json!(["state", "date"]));
//! ```

mod quantities;
mod recording;
mod session;
mod shape;
mod visit;

pub use quantities::{degrees, number_or_quantity, or_hole, quantity, reading, reading_with_unit, unit};
pub use recording::{column, recording};
pub use session::session;
pub use shape::{
    Form, Shape, any, list, map_of, number, one_of, present, row, some_map_of, some_text, station_id, text,
    truth, whole_number,
};
pub use visit::visit;

/// What a measure reads.
#[derive(Clone, Debug)]
pub struct Own {
    /// What it is, in a sentence that an editor shows.
    pub says: &'static str,
    /// The fields of a check that it alone knows.
    pub check: Form,
    /// The fields of a visit's readings that it alone knows: a form for each way to write them.
    pub readings: Vec<Form>,
}

/// The setting of a machine, as a key: a quantity with its unit.
pub fn setting() -> Shape {
    quantity(&[])
}

/// A share of one: above 0 and at most 1.
pub fn fraction() -> Shape {
    number(0.0, false, 1.0)
}

/// `2026-03-02`.
fn date() -> Shape {
    shape::like(r"^\s*[0-9]{4}-(?:0[1-9]|1[0-2])-(?:0[1-9]|[12][0-9]|3[01])\s*$").named("date")
}
