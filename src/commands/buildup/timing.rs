//! When a build-up shows what, and through which mask.

use crate::charts::sheet::Course;
use crate::typeset::picture::Lies;

/// The part of the time in which the finished picture stands still at the end.
const REST: f64 = 0.14;
/// How long a way takes beside others: a curve that grows takes its time, a limit or a sentence is there at once.
const GROWING: f64 = 3.0;
const FADING: f64 = 1.0;
/// The part of a way in which names come first, and that in which the rest comes last.
const FIRST: f64 = 0.3;
const LAST: f64 = 0.35;
/// How soft the front of what grows is, in pixels of a picture 1080 pixels high, or degrees of a turn.
const SOFT: f64 = 8.0;
const SOFT_TURN: f64 = 2.0;

/// The way from one stage to the next: what grows on it, in pixels. Where nothing does, all of it fades in.
#[derive(Clone, Debug, Default)]
pub(super) struct Way {
    pub(super) courses: Vec<OnPage>,
}

/// How a part of the picture comes to be seen, in pixels.
#[derive(Clone, Copy, Debug)]
pub(super) enum OnPage {
    /// Columns and rows, from and to.
    First([f64; 4]),
    /// The same, from the left to the right.
    Across([f64; 4]),
    /// Centre and radius.
    Round((f64, f64), f64),
}

/// A course of a drawing in the pixels of its page.
pub(super) fn on_page(course: Course, lies: Lies, scale: f64) -> OnPage {
    let at = |(x, y): (f64, f64)| ((lies.left + x) * scale, (lies.top + y) * scale);
    let corners = |rect: crate::charts::Rect| {
        let (left, top) = at((rect.left, rect.top));
        let (right, bottom) = at((rect.right, rect.bottom));
        [left, top, right, bottom]
    };
    match course {
        Course::First(rect) => OnPage::First(corners(rect)),
        Course::Across(rect) => OnPage::Across(corners(rect)),
        Course::Round { centre, radius } => OnPage::Round(at(centre), radius * scale),
    }
}

/// A moment: on which way, and how much of it is done, from 0 to 1.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Moment {
    pub(super) way: usize,
    pub(super) share: f64,
}

/// Which moment each frame shows.
#[derive(Clone, Debug)]
pub(super) struct Timing {
    count: u32,
    /// The weights of the ways.
    weights: Vec<f64>,
}

impl Timing {
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "seconds are limited")]
    pub(super) fn new(ways: &[Way], seconds: f64, per_second: u16) -> Self {
        let weight = |way: &Way| if way.courses.is_empty() { FADING } else { GROWING };
        let count = (seconds * f64::from(per_second)).round().max(2.0) as u32;
        Self { count, weights: ways.iter().map(weight).collect() }
    }

    /// How many frames there are.
    pub(super) fn count(&self) -> u32 {
        self.count
    }

    /// What a frame shows, counted from 0: the first one the first stage, the last one the last.
    pub(super) fn moment(&self, frame: u32) -> Moment {
        let last = Moment { way: self.weights.len(), share: 0.0 };
        let whole: f64 = self.weights.iter().sum();
        let done = f64::from(frame) / f64::from(self.count.max(2) - 1) / (1.0 - REST);
        let mut left = done * whole;
        if done >= 1.0 - 1e-9 {
            return last;
        }
        for (way, weight) in self.weights.iter().enumerate() {
            if left < *weight {
                return Moment { way, share: left / weight };
            }
            left -= weight;
        }
        last
    }
}

/// Slow at both ends.
fn eased(share: f64) -> f64 {
    let share = share.clamp(0.0, 1.0);
    share * share * (3.0 - 2.0 * share)
}

#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "clamped before")]
fn byte(share: f64) -> u8 {
    (share.clamp(0.0, 1.0) * 255.0).round() as u8
}

impl Way {
    /// For every row the share of the next stage that each of its pixels has.
    pub(super) fn mask(&self, share: f64) -> impl FnMut(usize, &mut [u8]) {
        let courses = self.courses.clone();
        let late = if courses.is_empty() { eased(share) } else { eased((share - 1.0 + LAST) / LAST) };
        let (late, first) = (byte(late), byte(eased(share / FIRST)));
        // A curve grows evenly, as time does; only its start and its end are soft.
        let grown = 0.7 * share + 0.3 * eased(share);
        move |row, shares| {
            shares.fill(late);
            let y = row as f64 + 0.5;
            for course in &courses {
                match course {
                    OnPage::First(place) => {
                        each(shares, y, place, |_| first);
                    }
                    OnPage::Across(place) => {
                        let soft = SOFT * shares.len() as f64 / 1920.0;
                        let front = place[0] + grown * (place[2] - place[0] + soft);
                        each(shares, y, place, |x| byte((front - x) / soft));
                    }
                    OnPage::Round((across, down), radius) => {
                        let place = [across - radius, down - radius, across + radius, down + radius];
                        let front = grown * (360.0 + SOFT_TURN);
                        let off = y - down;
                        let half = (radius * radius - off * off).max(0.0).sqrt();
                        let place =
                            [place[0].max(across - half), place[1], place[2].min(across + half), place[3]];
                        each(shares, y, &place, |x| {
                            // Clockwise from the top.
                            let turned = (x - across).atan2(-off).to_degrees().rem_euclid(360.0);
                            byte((front - turned) / SOFT_TURN)
                        });
                    }
                }
            }
        }
    }
}

/// Sets the shares of a row's pixels whose middles lie in a place.
#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a float cast saturates")]
fn each(shares: &mut [u8], y: f64, [left, top, right, bottom]: &[f64; 4], share: impl Fn(f64) -> u8) {
    if y < *top || y > *bottom {
        return;
    }
    let from = left.max(0.0).round() as usize;
    let to = (right.max(0.0).round() as usize).min(shares.len());
    for (column, own) in shares.iter_mut().enumerate().take(to).skip(from) {
        *own = share(column as f64 + 0.5);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ways() -> Vec<Way> {
        let across = OnPage::Across([10.0, 0.0, 90.0, 40.0]);
        let round = OnPage::Round((50.0, 20.0), 18.0);
        vec![
            Way { courses: vec![OnPage::First([0.0, 0.0, 30.0, 5.0]), across] },
            Way { courses: vec![round] },
            Way::default(),
        ]
    }

    #[test]
    fn the_first_frame_is_the_first_stage_and_the_last_frames_are_the_last_one() {
        let timing = Timing::new(&ways(), 3.0, 30);
        assert_eq!(timing.count(), 90);
        assert_eq!(timing.moment(0), Moment { way: 0, share: 0.0 });
        for frame in 80..90 {
            assert_eq!(timing.moment(frame), Moment { way: 3, share: 0.0 }, "{frame}");
        }
    }

    #[test]
    fn every_way_has_its_time_and_none_goes_back() {
        let timing = Timing::new(&ways(), 2.0, 25);
        let moments: Vec<Moment> = (0..50).map(|frame| timing.moment(frame)).collect();
        for way in 0..3 {
            assert!(moments.iter().filter(|moment| moment.way == way).count() >= 5, "{way}");
        }
        let place = |moment: &Moment| moment.way as f64 + moment.share;
        assert!(moments.windows(2).all(|pair| place(&pair[1]) >= place(&pair[0])));
    }

    #[test]
    fn a_mask_begins_with_nothing_and_ends_with_everything() {
        for way in ways() {
            let mut row = vec![7; 100];
            way.mask(1e-9)(20, &mut row);
            assert!(row.iter().all(|share| *share <= 1), "{row:?}");
            way.mask(1.0 - 1e-9)(20, &mut row);
            assert!(row.iter().all(|share| *share >= 254), "{row:?}");
        }
    }

    #[test]
    fn a_curve_grows_from_the_left_and_a_turn_clockwise_from_the_top() {
        let mut row = vec![0; 100];
        ways()[0].mask(0.5)(20, &mut row);
        assert_eq!((row[20], row[80]), (255, 0));
        ways()[1].mask(0.5)(20, &mut row);
        // Half a turn: the right half is there.
        assert_eq!((row[60], row[40]), (255, 0));
    }
}
