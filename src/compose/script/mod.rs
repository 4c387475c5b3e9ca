//! From a narration on a clock to its cue sheet.

mod page;

pub use page::{NumberRow, Part, ScriptPage, StillRow, StillShown};

use super::document::Fact;
use super::report::{facts, short_markup};
use crate::script::timing::{self, Timing, Use};
use crate::script::{Cue, Script, Step};
use crate::session::{Date, Session};

/// What the cue sheet is made from.
#[derive(Clone, Copy)]
pub struct Sources<'a> {
    /// The session.
    pub session: &'a Session,
    /// The narration.
    pub script: &'a Script,
    /// When its parts begin and end.
    pub timing: &'a Timing,
    /// Words a minute.
    pub pace: u32,
    /// For a still's name, the path of its picture among the document's assets and the picture in words.
    pub picture: &'a dyn Fn(&str) -> Option<(String, String)>,
    /// The number of the session's state.
    pub number: &'a str,
    /// The program's name and version.
    pub program: &'a str,
    /// The document's date.
    pub date: Date,
}

/// The cue sheet's values.
pub fn page(sources: Sources<'_>) -> ScriptPage {
    let Sources { session, timing, .. } = sources;
    let uses = timing::stills(&sources.script.steps, timing);
    ScriptPage {
        document: facts::beside(
            session,
            (
                format!("Narration: {}", session.title),
                format!("Cue sheet of the narration, filled from {}", sources.number),
            ),
            sources.number,
            sources.date,
            sources.program,
        ),
        facts: about(sources, &uses),
        parts: parts(sources),
        stills: uses.iter().map(still_row).collect(),
        numbers: numbers(sources),
    }
}

fn fact(label: &str, value: String) -> Fact {
    Fact { label: label.to_owned(), value }
}

fn about(sources: Sources<'_>, uses: &[Use]) -> Vec<Fact> {
    vec![
        fact("Running time", timing::clock(sources.timing.total)),
        fact("Words spoken", sources.timing.words.to_string()),
        fact("Pace", format!("{} words a minute", sources.pace)),
        fact("Stills", uses.len().to_string()),
    ]
}

fn still_row(shown: &Use) -> StillRow {
    StillRow {
        from: timing::clock(shown.shown.start),
        until: timing::clock(shown.shown.end),
        name: shown.name.clone(),
        build_up: shown.build_up,
    }
}

/// What is on the screen while the parts go by.
enum Screen {
    /// The maker's own picture.
    Camera,
    /// A still, and whether a paragraph was spoken over it already.
    Still(crate::script::Still, bool),
}

fn parts(sources: Sources<'_>) -> Vec<Part> {
    let mut parts = Vec::new();
    let mut screen = Screen::Camera;
    // The first paragraphs need not be told that there is no still.
    let mut camera = false;
    for (index, (step, span)) in sources.script.steps.iter().zip(&sources.timing.spans).enumerate() {
        let length = span.end - span.start;
        let part = |kind| Part {
            kind,
            time: timing::clock(span.start),
            length: format!("{} s", (length + 500) / 1000),
            text: String::new(),
            spoken: None,
            still: None,
            camera: false,
        };
        match step {
            Step::Heading { text, .. } => {
                parts.push(Part { text: text.clone(), length: String::new(), ..part("heading") });
            }
            Step::Cue(Cue::Pause(_)) => parts.push(part("pause")),
            Step::Cue(Cue::Camera) => (screen, camera) = (Screen::Camera, true),
            Step::Cue(Cue::Still(still)) => screen = Screen::Still(still.clone(), false),
            Step::Speech(speech) => {
                let markup = short_markup(&format!("paragraph-{index}"), &speech.markdown);
                let still = on_screen(sources, &mut screen);
                let camera = std::mem::take(&mut camera) && still.is_none();
                parts.push(Part { spoken: Some(markup), still, camera, ..part("speech") });
            }
        }
    }
    parts
}

fn on_screen(sources: Sources<'_>, screen: &mut Screen) -> Option<StillShown> {
    let Screen::Still(still, goes_on) = screen else { return None };
    let before = std::mem::replace(goes_on, true);
    let picture = (sources.picture)(&still.name).filter(|_| !before);
    let (path, alt) = picture.unzip();
    Some(StillShown {
        name: still.name.clone(),
        path,
        alt: alt.unwrap_or_default(),
        build_up: still.build_up && !before,
        goes_on: before,
    })
}

/// What is read, number by number; a name or a verdict is no number.
fn numbers(sources: Sources<'_>) -> Vec<NumberRow> {
    let mut rows = Vec::new();
    for (step, span) in sources.script.steps.iter().zip(&sources.timing.spans) {
        let Step::Speech(speech) = step else { continue };
        rows.extend(speech.answers.iter().filter(|answer| !answer.figure.is_empty()).map(|answer| {
            NumberRow {
                time: timing::clock(span.start),
                spoken: answer.spoken.clone(),
                figure: answer.figure.clone(),
                from: answer.from.clone(),
            }
        }));
    }
    rows
}
