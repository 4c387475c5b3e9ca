//! From the findings to the claim's letter: one page that points into the report.

mod exhibits;
mod page;

pub use page::{ExhibitCell, ExhibitRow, Exhibits, LetterPage, Occasion, Side};

use super::document::{DateShown, Fact, PaperFacts, Report};
use crate::findings::claim::words::Room;
use crate::findings::claim::{Claims, words};
use crate::session::{Date, Party};

/// What the letter is made from.
#[derive(Clone, Copy, Debug)]
pub struct Sources<'a> {
    /// What may be claimed.
    pub claims: &'a Claims<'a>,
    /// The report that the exhibits point into: its number, its paper, its sections.
    pub report: &'a Report,
    /// The letter's date.
    pub date: Date,
}

/// How much the letter says by name, so that it keeps to its page; the rest is counted and left to
/// the report.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Fit {
    /// Rows of the table at most.
    pub rows: usize,
    /// Names in a list of the remarks at most.
    pub names: usize,
    /// Letters of a text that the user wrote at most.
    pub letters: usize,
    /// Lines of an address and windows of coverage at most.
    pub lines: usize,
}

impl Fit {
    /// From the fullest letter to the shortest, at no more than so many rows.
    pub const STEPS: [Self; 4] = [
        Self { rows: 24, names: 6, letters: 400, lines: 8 },
        Self { rows: 18, names: 3, letters: 160, lines: 6 },
        Self { rows: 12, names: 1, letters: 80, lines: 4 },
        Self { rows: 6, names: 0, letters: 40, lines: 3 },
    ];
}

impl Fit {
    /// The room of a sentence, in which a name takes no more than 120 letters.
    fn room(self) -> Room {
        Room { names: self.names, letters: self.letters.min(120) }
    }
}

/// The letter's values.
pub fn letter(sources: Sources<'_>, fit: Fit) -> LetterPage {
    let claims = sources.claims;
    let session = claims.session;
    let cut = |text: &str| words::shortened(text.trim(), fit.letters);
    let facts = &sources.report.document;
    let name = |party: &Party| cut(&party.name);
    let author = session.letter.from.as_ref().map(name).or_else(|| session.prepared_by.as_deref().map(cut));
    LetterPage {
        document: PaperFacts {
            title: subject(claims, fit),
            description: format!("Letter with test report {}", facts.number),
            number: facts.number.clone(),
            author: author.clone(),
            date: DateShown::from(sources.date),
            paper: facts.paper.clone(),
            language: facts.language.clone(),
            program: facts.program.clone(),
        },
        sender: session.letter.from.as_ref().map(|party| side(party, fit)),
        addressee: session.letter.to.as_ref().map(|party| side(party, fit)),
        reference: reference(sources, fit),
        salutation: match &session.letter.to {
            Some(party) => format!("Dear {},", words::shortened(party.name.trim(), fit.letters.min(120))),
            None => "Dear Sir or Madam,".to_owned(),
        },
        bought: words::bought(claims, fit.room()),
        found: words::found(claims),
        exhibits: exhibits::exhibits(sources, fit),
        remarks: remarks(claims, fit),
        not_claimed: words::not_claimed(claims, fit.room()).unwrap_or_default(),
        coverage: coverage(claims, fit),
        ask: words::asked(claims, fit.letters.max(160)),
        closing: closing(),
        signed: author.unwrap_or_default(),
        enclosed: format!("Test report {}: {}", facts.number, cut(&session.title)),
    }
}

/// A paragraph for how it stood later, and one for what is not like for like.
fn remarks(claims: &Claims<'_>, fit: Fit) -> Vec<String> {
    let mut later = words::afterwards(claims);
    later.extend(words::better(claims));
    let paragraphs = [later.join(" "), words::not_alike(claims, fit.room()).unwrap_or_default()];
    paragraphs.into_iter().filter(|text| !text.is_empty()).collect()
}

fn subject(claims: &Claims<'_>, fit: Fit) -> String {
    let machine = claims.machine;
    let about = if claims.beyond.is_empty() { "Readings of a" } else { "Claim about a" };
    let letters = fit.letters.min(100);
    let name = words::shortened(machine.name.trim(), letters);
    match &machine.serial {
        Some(serial) => {
            format!("{about} {name}, serial no. {}", words::shortened(serial.trim(), letters))
        }
        None => format!("{about} {name}"),
    }
}

fn side(party: &Party, fit: Fit) -> Side {
    let letters = fit.letters.min(120);
    let cut = |text: &str| words::shortened(text.trim(), letters);
    let mut lines: Vec<String> = party.address.iter().take(fit.lines).map(|line| cut(line)).collect();
    lines.extend(party.email.as_deref().map(cut));
    Side { name: cut(&party.name), lines }
}

/// Machine, serial number, order, report and date; what is not known is left out.
fn reference(sources: Sources<'_>, fit: Fit) -> Vec<Fact> {
    let machine = sources.claims.machine;
    let letters = fit.letters.min(90);
    let known = [
        ("Machine", Some(machine.name.clone())),
        ("Serial no.", machine.serial.clone()),
        ("Order", machine.order.clone()),
        ("Test report", Some(sources.report.document.number.clone())),
        ("Date", Some(DateShown::from(sources.date).text)),
    ];
    let fact = |(label, value): (&str, Option<String>)| {
        Some(Fact { label: label.to_owned(), value: words::shortened(value?.trim(), letters) })
    };
    known.into_iter().filter_map(fact).collect()
}

fn coverage(claims: &Claims<'_>, fit: Fit) -> Vec<String> {
    let mut says = words::coverage(claims, fit.room());
    let rest = says.len().saturating_sub(fit.lines);
    if rest > 0 {
        says.truncate(fit.lines);
        says.push(format!("And {rest} more, which the report lists."));
    }
    says
}

fn closing() -> Vec<String> {
    vec![
        "The report, enclosed, holds every reading, the budget of each uncertainty, the methods with their sources, and the list of files with their SHA-256. I should be glad of your answer."
            .to_owned(),
    ]
}
