//! The running text of a `CommonMark` file, block by block, each letter with its place in the file.
//!
//! For what reads a person's words and not their marks: placeholders, cues, numbers. Code, HTML, link targets and the
//! words of links are told apart from text, so that nothing in them is taken for more than it is.

use std::ops::Range;

use pulldown_cmark::{Event, HeadingLevel, Options, Parser, Tag, TagEnd};

/// What a block is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum BlockKind {
    /// A paragraph, also one in a quotation or a list.
    Paragraph,
    /// A heading and its level, 1 to 6.
    Heading(u8),
    /// A cell of a table.
    Cell,
    /// A block of code.
    Code,
    /// A block of HTML.
    Html,
}

/// What a piece of a block is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum PieceKind {
    /// Words as they were typed: the text is that of the place, byte by byte.
    Text,
    /// Words that are written otherwise than they read (`&amp;`, an escaped letter).
    Entity,
    /// The words of a link or of what was struck through, which are somebody else's or withdrawn.
    Apart,
    /// Code within a line.
    Code,
    /// HTML within a line: not seen where `CommonMark` is shown.
    Html,
    /// The end of a line; the words go on.
    Break,
}

/// A stretch of a block.
#[derive(Clone, Debug)]
pub struct Piece {
    /// What it is.
    pub kind: PieceKind,
    /// As it reads.
    pub text: String,
    /// Where it stands in the file, in bytes.
    pub range: Range<usize>,
}

/// A block of running text.
#[derive(Clone, Debug)]
pub struct Block {
    /// What it is.
    pub kind: BlockKind,
    /// Where it stands in the file, in bytes: from its first mark to its last.
    pub range: Range<usize>,
    /// Its pieces in order.
    pub pieces: Vec<Piece>,
}

/// Reads the blocks of a file. Takes any text.
pub fn blocks(markdown: &str) -> Vec<Block> {
    let options = Options::ENABLE_TABLES
        | Options::ENABLE_FOOTNOTES
        | Options::ENABLE_STRIKETHROUGH
        | Options::ENABLE_TASKLISTS;
    let mut reader = Reader { markdown, blocks: Vec::new(), open: None, apart: 0 };
    for (event, range) in Parser::new_ext(markdown, options).into_offset_iter() {
        reader.take(event, range);
    }
    reader.close();
    reader.blocks
}

struct Reader<'a> {
    markdown: &'a str,
    blocks: Vec<Block>,
    open: Option<Block>,
    /// How many links and struck stretches are open.
    apart: usize,
}

impl Reader<'_> {
    fn take(&mut self, event: Event<'_>, range: Range<usize>) {
        match event {
            Event::Start(tag) => self.start(&tag, range),
            Event::End(end) => match end {
                TagEnd::Link | TagEnd::Image | TagEnd::Strikethrough => {
                    self.apart = self.apart.saturating_sub(1);
                    self.touch(&range);
                }
                TagEnd::Emphasis | TagEnd::Strong => {
                    self.touch(&range);
                }
                _ => self.close(),
            },
            Event::Text(text) => self.text(&text, range),
            Event::Code(text) => self.piece(PieceKind::Code, text.to_string(), range),
            Event::InlineHtml(text) | Event::Html(text) => {
                self.piece(PieceKind::Html, text.to_string(), range);
            }
            Event::SoftBreak | Event::HardBreak => self.piece(PieceKind::Break, " ".to_owned(), range),
            Event::Rule => self.close(),
            Event::FootnoteReference(_)
            | Event::TaskListMarker(_)
            | Event::InlineMath(_)
            | Event::DisplayMath(_) => {}
        }
    }

    fn start(&mut self, tag: &Tag<'_>, range: Range<usize>) {
        let kind = match tag {
            Tag::Link { .. } | Tag::Image { .. } | Tag::Strikethrough => {
                self.apart += 1;
                self.touch(&range);
                return;
            }
            Tag::Emphasis | Tag::Strong => {
                self.touch(&range);
                return;
            }
            Tag::Paragraph => BlockKind::Paragraph,
            Tag::Heading { level, .. } => BlockKind::Heading(number(*level)),
            Tag::TableCell => BlockKind::Cell,
            Tag::CodeBlock(_) => BlockKind::Code,
            Tag::HtmlBlock => BlockKind::Html,
            // The text of a tight list's item stands in no paragraph; its block opens with its first piece.
            _ => {
                self.close();
                return;
            }
        };
        self.close();
        self.open = Some(Block { kind, range, pieces: Vec::new() });
    }

    fn text(&mut self, text: &str, range: Range<usize>) {
        let in_code = self.open.as_ref().is_some_and(|block| block.kind == BlockKind::Code);
        let escaped = range.start > 0 && self.markdown.as_bytes().get(range.start - 1) == Some(&b'\\');
        let typed = self.markdown.get(range.clone());
        let kind = match typed {
            _ if in_code => PieceKind::Code,
            _ if self.apart > 0 => PieceKind::Apart,
            Some(typed) if typed == text && escaped => {
                // Only the first letter was escaped; what follows it is text like any other.
                let first = text.chars().next().map_or(0, char::len_utf8);
                let (head, tail) = text.split_at(first);
                let cut = range.start + first;
                self.piece(PieceKind::Entity, head.to_owned(), range.start..cut);
                if !tail.is_empty() {
                    self.piece(PieceKind::Text, tail.to_owned(), cut..range.end);
                }
                return;
            }
            Some(typed) if typed == text => PieceKind::Text,
            _ => PieceKind::Entity,
        };
        self.piece(kind, text.to_owned(), range);
    }

    /// The block that is open, reaching to the end of `range`.
    fn touch(&mut self, range: &Range<usize>) -> &mut Block {
        let open = self.open.get_or_insert_with(|| Block {
            kind: BlockKind::Paragraph,
            range: range.clone(),
            pieces: Vec::new(),
        });
        open.range.end = open.range.end.max(range.end);
        open
    }

    fn piece(&mut self, kind: PieceKind, text: String, range: Range<usize>) {
        self.touch(&range).pieces.push(Piece { kind, text, range });
    }

    fn close(&mut self) {
        self.blocks.extend(self.open.take().filter(|block| !block.pieces.is_empty()));
    }
}

fn number(level: HeadingLevel) -> u8 {
    match level {
        HeadingLevel::H1 => 1,
        HeadingLevel::H2 => 2,
        HeadingLevel::H3 => 3,
        HeadingLevel::H4 => 4,
        HeadingLevel::H5 => 5,
        HeadingLevel::H6 => 6,
    }
}

/// The words of a block in one line, each byte with its place in the file; what is no plain text (code, links, HTML,
/// entities) is a letter that no word holds.
#[derive(Clone, Debug, Default)]
pub struct Line {
    /// The words. `\u{fffc}` stands for what is not plain text.
    pub text: String,
    /// For each byte of `text`, its place in the file; one more for the end.
    places: Vec<usize>,
}

/// Stands in a [`Line`] for what is not plain text.
pub const OBJECT: char = '\u{fffc}';

impl Line {
    /// The line of some pieces.
    pub fn of(pieces: &[Piece]) -> Self {
        let mut line = Self::default();
        for piece in pieces {
            match piece.kind {
                PieceKind::Text => {
                    line.text.push_str(&piece.text);
                    line.places.extend(piece.range.clone());
                }
                PieceKind::Break => line.stand_in(' ', piece.range.start),
                PieceKind::Html => {}
                PieceKind::Entity | PieceKind::Apart | PieceKind::Code => {
                    line.stand_in(OBJECT, piece.range.start);
                }
            }
        }
        let end = pieces.last().map_or(0, |piece| piece.range.end);
        line.places.push(end);
        line
    }

    fn stand_in(&mut self, c: char, place: usize) {
        self.text.push(c);
        self.places.extend(std::iter::repeat_n(place, c.len_utf8()));
    }

    /// The place in the file of a stretch of the line.
    pub fn place(&self, range: Range<usize>) -> Range<usize> {
        let at = |index: usize| self.places.get(index).or(self.places.last()).copied().unwrap_or(0);
        let start = at(range.start);
        // The end is that of the last byte inside: a mark between two pieces is no part of the first.
        let end = if range.end > range.start { at(range.end - 1) + 1 } else { start };
        start..end.max(start)
    }
}
