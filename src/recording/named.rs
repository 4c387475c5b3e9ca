//! The fields that name a recording and say how it is written.

use super::{How, Recording, Stretch};
use crate::quantity::{Kind, Unit};
use crate::session::{Fields, Node, Problem, Problems, Session, named_file};

/// The field, where it is written and was read: `Err` where it was faulty.
type Read<T> = Result<Option<T>, ()>;

impl Recording {
    /// The recording that the field `file` names, with the fields that say how it is written. `None`
    /// where there is no such file or a field is faulty, which is said.
    pub fn named(
        fields: &mut Fields,
        session: &Session,
        visit: &str,
        problems: &mut Problems,
    ) -> Option<Self> {
        let before = problems.errors();
        let node = fields.need("file", "warm-up.csv", problems);
        let how = how(fields, problems);
        let struck = struck(fields, problems);
        let node = node?;
        let place = fields.at(&node);
        let walls = match session.walls() {
            Ok(walls) => walls,
            Err(error) => {
                problems.push(Problem::error(format!("the session folder cannot be opened: {error}"), place));
                return None;
            }
        };
        let name = named_file(&walls, &node, fields.source(), &format!("visits/{visit}"), problems)?;
        let path = walls.resolve(&name).ok()?;
        if problems.errors() > before {
            return None;
        }
        Some(Self { path, name, place, how: how?, struck: struck? })
    }
}

/// How the file is written, as far as the session says it.
fn how(fields: &mut Fields, problems: &mut Problems) -> Option<How> {
    let encodings = [("latin-1", Some("latin-1")), ("utf-8", None)];
    let encoding = given(fields, "encoding", problems, |fields, problems| {
        fields.one_of("encoding", &encodings, problems)
    });
    let separator = given(fields, "separator", problems, separator);
    let decimal = given(fields, "decimal", problems, decimal);
    let skip = given(fields, "skip", problems, skip);
    let header = given(fields, "header", problems, |fields, problems| fields.truth("header", problems));
    let clock = given(fields, "clock", problems, |fields, problems| fields.truth("clock", problems));
    Some(How {
        encoding: encoding.ok()?.flatten().map(str::to_owned),
        separator: separator.ok()?,
        decimal: decimal.ok()?,
        skip: skip.ok()?,
        header: header.ok()?,
        clock: clock.ok()?,
    })
}

fn given<T>(
    fields: &mut Fields,
    name: &'static str,
    problems: &mut Problems,
    read: impl FnOnce(&mut Fields, &mut Problems) -> Option<T>,
) -> Read<T> {
    if fields.get(name).is_none() {
        return Ok(None);
    }
    read(fields, problems).map(Some).ok_or(())
}

fn separator(fields: &mut Fields, problems: &mut Problems) -> Option<char> {
    let node = fields.get("separator")?;
    let text = fields.text_of(&node, "'separator'", problems)?;
    let found = match text.as_str() {
        "tab" | "\\t" => Some('\t'),
        "space" | "spaces" => Some(' '),
        other => {
            let mut letters = other.chars();
            letters.next().filter(|first| {
                letters.next().is_none() && matches!(first, ',' | ';' | '\t' | '|' | ' ' | ':' | '/')
            })
        }
    };
    if found.is_none() {
        problems.push(
            Problem::error(format!("'separator' cannot be '{text}'"), fields.at(&node))
                .expected("expected what stands between two cells")
                .help("write one of: separator: \",\"  \";\"  \"|\"  tab  space"),
        );
    }
    found
}

fn decimal(fields: &mut Fields, problems: &mut Problems) -> Option<char> {
    let node = fields.get("decimal")?;
    let text = fields.text_of(&node, "'decimal'", problems)?;
    let found = match text.as_str() {
        "." => Some('.'),
        "," => Some(','),
        _ => None,
    };
    if found.is_none() {
        problems.push(
            Problem::error(format!("'decimal' cannot be '{text}'"), fields.at(&node))
                .expected("expected a point or a comma")
                .help("write decimal: \".\" or decimal: \",\""),
        );
    }
    found
}

fn skip(fields: &mut Fields, problems: &mut Problems) -> Option<usize> {
    let node = fields.get("skip")?;
    let text = fields.text_of(&node, "'skip'", problems)?;
    let found = text.parse::<usize>().ok().filter(|lines| *lines <= 1_000_000);
    if found.is_none() {
        problems.push(
            Problem::error(format!("'skip' cannot be '{text}'"), fields.at(&node))
                .expected("expected a number of lines")
                .help("write how many lines stand above the header or the first row: skip: 12"),
        );
    }
    found
}

/// The stretches that were bad.
fn struck(fields: &mut Fields, problems: &mut Problems) -> Option<Vec<Stretch>> {
    if fields.get("struck").is_none() {
        return Some(Vec::new());
    }
    let nodes = fields.list("struck", problems)?;
    let read: Vec<Option<Stretch>> = nodes.iter().map(|node| stretch(node, fields, problems)).collect();
    read.into_iter().collect()
}

fn stretch(node: &Node, fields: &Fields, problems: &mut Problems) -> Option<Stretch> {
    let mut inner = Fields::of(node, fields.source(), "a struck stretch", problems)?;
    let place = inner.at(node);
    let from = time(&mut inner, "from", "\"0:12\"", problems);
    let to = time(&mut inner, "to", "\"0:15\"", problems);
    let because = inner.need_text("because", "cable pulled", problems);
    inner.finish(problems);
    let (from, to, because) = (from?, to?, because?);
    if from >= to {
        problems.push(
            Problem::error("a struck stretch ends before it begins", place)
                .expected("expected 'from' before 'to'")
                .help("write the times from the recording's beginning: {from: \"0:12\", to: \"0:15\", because: cable pulled}"),
        );
        return None;
    }
    Some(Stretch { from, to, because })
}

fn time(fields: &mut Fields, name: &'static str, example: &str, problems: &mut Problems) -> Option<f64> {
    fields.need(name, example, problems)?;
    let quantity = fields.quantity(name, &[Kind::Time], None, problems)?;
    quantity.to(Unit::known(Kind::Time, "s")?).ok()
}
