//! What came of proving something: what holds, and what does not.

/// More differences than this are counted, not named.
const MOST: usize = 60;

/// More of one kind than this are counted, so that the next kind is seen.
const MOST_OF_A_KIND: usize = 15;

/// An answer, line by line.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Answer {
    /// What was found to hold.
    pub holds: Vec<String>,
    /// What is worth knowing and proves nothing wrong.
    pub remarks: Vec<String>,
    /// What does not hold.
    pub differs: Vec<String>,
}

impl Answer {
    /// Whether nothing differs.
    pub fn is_whole(&self) -> bool {
        self.differs.is_empty()
    }

    pub(super) fn hold(&mut self, line: impl Into<String>) {
        self.holds.push(line.into());
    }

    pub(super) fn remark(&mut self, line: impl Into<String>) {
        self.remarks.push(line.into());
    }

    pub(super) fn differ(&mut self, line: impl Into<String>) {
        self.differs.push(line.into());
    }

    /// Several differences of one kind; beyond the first few they are counted.
    pub(super) fn differ_all(&mut self, lines: Vec<String>, kind: &str) {
        let more = lines.len().saturating_sub(MOST_OF_A_KIND);
        self.differs.extend(lines.into_iter().take(MOST_OF_A_KIND));
        if more > 0 {
            self.differs.push(format!("… and {more} more {kind}"));
        }
    }

    /// Takes in another answer; each line of it begins with what it is about.
    pub(super) fn take(&mut self, about: &str, other: Self) {
        let of = |line: String| format!("{about}: {line}");
        self.holds.extend(other.holds.into_iter().map(of));
        self.remarks.extend(other.remarks.into_iter().map(of));
        self.differs.extend(other.differs.into_iter().map(of));
    }

    /// The lines of what does not hold, cut where there are very many.
    pub(super) fn differences(&self) -> Vec<String> {
        let mut lines: Vec<String> = self.differs.iter().take(MOST).cloned().collect();
        if self.differs.len() > MOST {
            lines.push(format!("… and {} more differences", self.differs.len() - MOST));
        }
        lines
    }
}
