//! From a session and its findings to pictures for the screen: one chart, one sentence, one big number.
//!
//! A page of `page::Frame` is laid out here: which chart at which size, where it stands, how large the words
//! are and where their lines end. The template places what it is given and knows no rule of its own.

mod choose;
mod layout;
mod number;
mod page;
mod words;

use std::collections::BTreeMap;

use rayon::prelude::*;

pub use page::{BigNumber, ChartPlace, Colours, Look, PageSize, Sentence, StillPages, StillView};

use self::choose::Drawer;
use self::layout::Frame;
use self::page::chart_path;
use super::document::DateShown;
use crate::charts::Svg;
use crate::charts::exhibit::Room;
use crate::charts::overview;
use crate::charts::sheet::Layer;
use crate::findings::{CheckFindings, Findings, sentences};
use crate::registry::registered;
use crate::session::{Date, Session};

/// A picture that can be made of a session.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Still {
    /// What it is called by, unique in its session: `summary`, `arbor-runout-unrolled`, `arbor-runout-change`.
    pub name: String,
    /// What it says, in whole sentences.
    pub title: String,
    /// The id of the check that it shows; none for the summary.
    pub check: Option<String>,
    subject: Subject,
}

/// What a picture shows.
#[derive(Clone, Debug, PartialEq, Eq)]
enum Subject {
    Summary,
    Exhibit { check: usize, exhibit: &'static str },
    Change { comparison: usize, check: usize },
}

/// The room on paper: what a session's pictures are called does not depend on how large they are.
const PAPER: Room = Room { text: 340.0, full: 490.0, height: None };

/// Every picture of a session, in the order of its report: the summary, then each check's exhibits and after
/// them its changes.
pub fn list(session: &Session, findings: &Findings) -> Vec<Still> {
    let mut stills = Vec::new();
    if overview::draw(session, findings, PAPER).is_ok_and(|drawn| drawn.is_some()) {
        let title = sentences::answer(session, findings).join(" ");
        stills.push(Still { name: "summary".to_owned(), title, check: None, subject: Subject::Summary });
    }
    let of_checks: Vec<Vec<Still>> = findings
        .checks
        .par_iter()
        .enumerate()
        .map(|(index, check)| {
            let mut of_check = exhibits(session, check, index);
            of_check.extend(changes(session, findings, check));
            of_check
        })
        .collect();
    stills.extend(of_checks.into_iter().flatten());
    stills
}

fn exhibits(session: &Session, check: &CheckFindings, index: usize) -> Vec<Still> {
    let drawn = registered(check.measure).map(|measure| (measure.draw)(session, check, PAPER));
    // A chart that cannot be drawn stops the report, which says why; there is no picture of it.
    let drawn = drawn.and_then(Result::ok).unwrap_or_default();
    drawn
        .into_iter()
        .map(|exhibit| Still {
            name: format!("{}-{}", check.check, exhibit.name),
            title: exhibit.title,
            check: Some(check.check.clone()),
            subject: Subject::Exhibit { check: index, exhibit: exhibit.name },
        })
        .collect()
}

/// A picture for each comparison that has the check; where there are several comparisons, its id is part of
/// the name.
fn changes(session: &Session, findings: &Findings, check: &CheckFindings) -> Vec<Still> {
    let several = findings.comparisons.len() > 1;
    let of_comparison = |(comparison, found): (usize, &crate::findings::ComparisonFindings)| {
        let index = found.checks.iter().position(|changes| changes.check == check.check)?;
        let title = sentences::of_check_in(session, findings, found.checks.get(index)?)?;
        let id = if several { format!("-{}", found.id) } else { String::new() };
        Some(Still {
            name: format!("{}-change{id}", check.check),
            title,
            check: Some(check.check.clone()),
            subject: Subject::Change { comparison, check: index },
        })
    };
    findings.comparisons.iter().enumerate().filter_map(of_comparison).collect()
}

/// How much of a picture is to be seen: all of it, but in one that builds itself up.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Stage {
    /// The last layer of the chart; none for all.
    pub layer: Option<Layer>,
    /// Whether the number and the sentence are there.
    pub words: bool,
}

impl Stage {
    /// The whole picture.
    pub const WHOLE: Self = Self { layer: None, words: true };
}

/// A picture laid out.
#[derive(Clone, Debug)]
pub struct Laid {
    /// What it shows.
    pub still: Still,
    /// Its chart; none where no chart has room.
    pub chart: Option<Svg>,
    look: Look,
    view: StillView,
}

impl Laid {
    /// The width and the height of its page, in points.
    pub fn size(&self) -> (f64, f64) {
        let PageSize { width, height } = PageSize::of(self.look);
        (width, height)
    }

    /// The stages in which it builds itself up: what it stands in, each visit, the limit, the words.
    pub fn stages(&self) -> Vec<Stage> {
        let layers = self.chart.as_ref().map(Svg::layers).unwrap_or_default();
        let mut stages: Vec<Stage> =
            layers.into_iter().map(|layer| Stage { layer: Some(layer), words: false }).collect();
        if stages.is_empty() {
            stages.push(Stage { layer: Some(Layer::Frame), words: false });
        }
        stages.push(Stage::WHOLE);
        stages
    }
}

/// Lays pictures out. Those of one check are drawn together.
pub fn lay(session: &Session, findings: &Findings, stills: &[Still], look: Look) -> Vec<Laid> {
    let mut groups: BTreeMap<Option<usize>, Vec<(usize, &Still)>> = BTreeMap::new();
    for (place, still) in stills.iter().enumerate() {
        let check = still.check.as_ref().and_then(|id| findings.checks.iter().position(|c| c.check == *id));
        groups.entry(check).or_default().push((place, still));
    }
    let session = words::shortened(session);
    let mut laid: Vec<(usize, Laid)> = groups
        .into_par_iter()
        .flat_map_iter(|(check, stills)| {
            let mut drawer = Drawer::new(&session, findings, check, Frame::of(look));
            stills
                .into_iter()
                .map(|(place, still)| (place, one(&mut drawer, still, look)))
                .collect::<Vec<_>>()
        })
        .collect();
    laid.sort_by_key(|(place, _)| *place);
    laid.into_iter().map(|(_, laid)| laid).collect()
}

fn one(drawer: &mut Drawer<'_>, still: &Still, look: Look) -> Laid {
    let number = number::of(drawer, still, look.ground);
    let chosen = drawer.choose(still, &number);
    let frame = Frame::of(look);
    let svg = chosen.svg.as_ref().map(|svg| (svg, still.title.as_str()));
    let view = frame.view(chosen.layout, &still.name, chosen.words, svg);
    Laid { still: still.clone(), chart: chosen.svg, look, view }
}

/// The values of the template for stages of pictures, a page each, and the charts that they show by path.
pub fn pages(
    stages: &[(&Laid, Stage)],
    look: Look,
    session: &Session,
    day: Date,
) -> (StillPages, Vec<(String, String)>) {
    let mut charts: Vec<(String, String)> = Vec::new();
    let mut views = Vec::new();
    for (page, (laid, stage)) in stages.iter().enumerate() {
        let mut view = laid.view.clone();
        if let (Some(place), Some(svg)) = (&mut view.chart, &laid.chart) {
            place.path = chart_path(page);
            charts.push((place.path.clone(), svg.on(look.ground, stage.layer).text));
        }
        if !stage.words {
            view.number = None;
            view.sentence = None;
        }
        views.push(view);
    }
    let pages = StillPages {
        title: session.title.clone(),
        date: DateShown::from(day),
        page: PageSize::of(look),
        colours: Colours::of(look.ground),
        stills: views,
    };
    (pages, charts)
}
