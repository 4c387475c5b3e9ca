//! From what was found to a Typst document: the values that templates see, and the templates.

pub mod document;
pub mod environment;
pub mod guide;
pub mod history;
mod html;
pub mod instrument;
pub mod letter;
pub mod literal;
mod own;
pub mod page;
pub mod script;
pub mod sheet;
pub mod shelf;
pub mod still;
mod values;

pub use environment::{ComposeError, Templates};
pub use literal::literal;
pub mod report;
