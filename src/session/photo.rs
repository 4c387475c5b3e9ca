//! Photographs: whole or broken, when they were taken, and where.

use std::io::Cursor;

use image::{ImageFormat, ImageReader, Limits};
use jiff::ToSpan;
use jiff::civil::{Date, DateTime};

use super::date::written_out;
use crate::evidence::position::{Position, exif_of, position_of};

/// When a photograph was taken, by its camera's clock.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Taken {
    /// `DateTimeOriginal`, to the minute.
    pub moment: DateTime,
    /// `OffsetTimeOriginal`, where the camera knew it: minutes that its clock was ahead of UTC.
    pub offset: Option<i16>,
}

impl std::fmt::Display for Taken {
    /// "2 March 2026, 14:41 (UTC+01:00)".
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let Self { moment, offset } = self;
        write!(f, "{}, {:02}:{:02}", written_out(moment.date()), moment.hour(), moment.minute())?;
        match offset {
            Some(minutes) => {
                let sign = if *minutes < 0 { '−' } else { '+' };
                let (hours, rest) = (minutes.abs() / 60, minutes.abs() % 60);
                write!(f, " (UTC{sign}{hours:02}:{rest:02})")
            }
            None => Ok(()),
        }
    }
}

/// The zones in use lie between 12 hours behind UTC and 14 hours ahead of it (IANA time zone database 2025b:
/// `Etc/GMT+12`, `Pacific/Kiritimati`), in minutes.
const FARTHEST_BEHIND: i64 = 12 * 60;
const FARTHEST_AHEAD: i64 = 14 * 60;

impl Taken {
    /// Whether it can have been that day where the photograph was taken. A clock that tells its offset from UTC is
    /// believed, and asked whether it was that day in any zone in use. Another may stand on UTC or on the time of
    /// somewhere else, and be 14 hours off.
    pub fn may_be_on(self, day: Date) -> bool {
        let Self { moment, offset } = self;
        let (before, after) = match offset {
            Some(minutes) => (FARTHEST_AHEAD - i64::from(minutes), FARTHEST_BEHIND + i64::from(minutes)),
            None => (FARTHEST_AHEAD, FARTHEST_AHEAD),
        };
        let start = day.to_datetime(jiff::civil::Time::midnight());
        let first = start.checked_sub(before.minutes());
        let end = start.checked_add(1.day()).and_then(|end| end.checked_add(after.minutes()));
        // At the ends of the calendar nothing is said.
        let too_early = first.is_ok_and(|first| moment < first);
        let too_late = end.is_ok_and(|end| moment >= end);
        !(too_early || too_late)
    }
}

/// What a picture's own data say.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Said {
    pub(super) taken: Option<Taken>,
    pub(super) position: Option<Position>,
}

/// Why a photo cannot be shown.
pub(super) enum PhotoProblem {
    /// Not JPEG or PNG.
    Format,
    /// It says it is a picture but cannot be decoded to its end.
    Broken(String),
}

/// Decodes the whole picture (a cut-off file would only show on paper) and gives what its EXIF data say.
pub(super) fn examine(bytes: &[u8]) -> Result<Said, PhotoProblem> {
    let mut reader = ImageReader::new(Cursor::new(bytes))
        .with_guessed_format()
        .map_err(|error| PhotoProblem::Broken(error.to_string()))?;
    if !matches!(reader.format(), Some(ImageFormat::Jpeg | ImageFormat::Png)) {
        return Err(PhotoProblem::Format);
    }
    let mut limits = Limits::default();
    limits.max_image_width = Some(20_000);
    limits.max_image_height = Some(20_000);
    limits.max_alloc = Some(400 << 20);
    reader.limits(limits);
    reader.decode().map_err(|error| PhotoProblem::Broken(error.to_string()))?;
    if !ended(bytes) {
        return Err(PhotoProblem::Broken("it is cut short".to_owned()));
    }
    Ok(said(bytes))
}

/// Decoders fill up a cut-off JPEG with grey; its end-of-image marker (ISO/IEC 10918-1, B.1.1.3)
/// is then missing.
fn ended(bytes: &[u8]) -> bool {
    if !bytes.starts_with(&[0xFF, 0xD8]) {
        return true;
    }
    bytes.windows(2).rev().any(|pair| pair == [0xFF, 0xD9])
}

/// What the EXIF data of a JPEG (APP1) or PNG (eXIf) say, as far as they can be read.
pub(super) fn said(bytes: &[u8]) -> Said {
    let Some(exif) = exif_of(bytes) else {
        return Said::default();
    };
    Said { taken: taken(&exif), position: position_of(&exif) }
}

fn taken(exif: &exif::Exif) -> Option<Taken> {
    let text = |tag| match &exif.get_field(tag, exif::In::PRIMARY)?.value {
        exif::Value::Ascii(texts) => texts.first().cloned(),
        _ => None,
    };
    let mut read = exif::DateTime::from_ascii(&text(exif::Tag::DateTimeOriginal)?).ok()?;
    let part = |n: u8| i8::try_from(n).ok();
    let date = Date::new(i16::try_from(read.year).ok()?, part(read.month)?, part(read.day)?).ok()?;
    let time = jiff::civil::Time::new(part(read.hour)?, part(read.minute)?, 0, 0).ok()?;
    let offset = text(exif::Tag::OffsetTimeOriginal).and_then(|text| {
        read.parse_offset(&text).ok()?;
        read.offset.filter(|minutes| (-FARTHEST_BEHIND..=FARTHEST_AHEAD).contains(&i64::from(*minutes)))
    });
    Some(Taken { moment: date.to_datetime(time), offset })
}

#[cfg(test)]
mod tests {
    use jiff::civil::date;

    use super::Taken;

    fn taken(day: i8, hour: i8, offset: Option<i16>) -> Taken {
        Taken { moment: date(2026, 3, day).at(hour, 0, 0, 0), offset }
    }

    #[test]
    fn a_clock_without_its_offset_may_be_fourteen_hours_off() {
        let visit = date(2026, 3, 2);
        for (day, hour, may) in
            [(2, 0, true), (2, 23, true), (1, 10, true), (1, 9, false), (3, 13, true), (3, 14, false)]
        {
            assert_eq!(taken(day, hour, None).may_be_on(visit), may, "{day} March, {hour} h");
        }
    }

    #[test]
    fn a_clock_with_its_offset_is_asked_for_the_day_in_any_zone() {
        let visit = date(2026, 3, 2);
        // 2 March lasts from 1 March, 10:00 UTC (in the zone farthest ahead) to 3 March, 12:00 UTC (farthest behind).
        for (day, hour, offset, may) in [
            (1, 10, 0, true),
            (1, 9, 0, false),
            (1, 10, 60, false),
            (1, 11, 60, true),
            (3, 11, 0, true),
            (3, 12, 0, false),
            (3, 3, -480, true),
            (3, 4, -480, false),
        ] {
            assert_eq!(
                taken(day, hour, Some(offset)).may_be_on(visit),
                may,
                "{day} March, {hour} h, {offset}"
            );
        }
    }

    #[test]
    fn a_moment_is_written_out_with_its_offset() {
        assert_eq!(taken(2, 14, None).to_string(), "2 March 2026, 14:00");
        assert_eq!(taken(2, 14, Some(-570)).to_string(), "2 March 2026, 14:00 (UTC−09:30)");
        assert_eq!(taken(2, 14, Some(60)).to_string(), "2 March 2026, 14:00 (UTC+01:00)");
    }
}
