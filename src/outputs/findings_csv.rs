//! `findings.csv`: a row a finding, weightiest first (RFC 4180, UTF-8).

use super::frames_csv::writer;
use super::report::several;
use super::{cells, columns};
use crate::audit::{Audit, AuditSet};
use crate::finding::Finding;
use crate::units::Micros;
use std::io::{self, Write};

/// The columns.
pub const COLUMNS: [&str; 14] = [
    "check",
    "severity",
    "message",
    "count",
    "first_file",
    "last_file",
    "at",
    "cause",
    "cause_words",
    "accepted",
    "doubt",
    "count_low",
    "count_high",
    "evidence",
];

/// Writes the table.
///
/// # Errors
/// Where `out` does not take it.
pub fn write(audit: &Audit, out: impl Write) -> io::Result<()> {
    let mut csv = writer(out);
    csv.write_record(COLUMNS)?;
    for finding in audit.findings() {
        csv.write_record(row(audit, finding))?;
    }
    csv.flush()
}

/// Writes the table of several cameras: the findings of all, weightiest first, and behind each which camera
/// it is of.
///
/// # Errors
/// Where `out` does not take it.
pub fn write_set(set: &AuditSet, out: impl Write) -> io::Result<()> {
    let mut csv = writer(out);
    csv.write_record(COLUMNS.into_iter().chain([columns::CAMERA_INDEX.name, columns::CAMERA.name]))?;
    for (n, finding) in several::ranked(set) {
        let cells = row(&set.cameras[n].audit, finding).into_iter();
        let name = cells::text(&several::model(set, n)).into_owned();
        csv.write_record(cells.chain([n.to_string(), name]))?;
    }
    csv.flush()
}

fn row(audit: &Audit, finding: &Finding) -> [String; COLUMNS.len()] {
    let frames = &audit.evidence.frames;
    let file = |at: Option<usize>| {
        at.filter(|&at| at < frames.len())
            .map(|at| cells::text(&frames.path_text(at)).into_owned())
            .unwrap_or_default()
    };
    let text = |words: Option<&str>| cells::text(words.unwrap_or_default()).into_owned();
    [
        finding.check.to_owned(),
        finding.severity.word().to_owned(),
        text(Some(&finding.message)),
        finding.count.to_string(),
        file(finding.first),
        file(finding.last),
        finding.at.map(|at| at.iso(fraction(at))).unwrap_or_default(),
        finding.cause.as_ref().map(|c| c.code.name().to_owned()).unwrap_or_default(),
        text(finding.cause.as_ref().map(|c| c.words.as_str())),
        text(finding.accepted.as_deref()),
        text(finding.doubt.as_ref().map(|d| d.words.as_str())),
        cells::count(finding.doubt.as_ref().map(|d| d.count_low)),
        cells::count(finding.doubt.as_ref().map(|d| d.count_high)),
        text(Some(&cells::figures(&finding.evidence))),
    ]
}

/// Decimals that a moment needs: none where it stands on a whole second.
pub(super) fn fraction(at: crate::units::CivilTime) -> u8 {
    match at.micros().rem_euclid(Micros::SECOND).get() {
        0 => 0,
        us if us % 1000 == 0 => 3,
        _ => 6,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::outputs::sample;

    #[test]
    fn a_row_a_finding() {
        let mut bytes = Vec::new();
        write(&sample::audit(), &mut bytes).unwrap();
        let text = String::from_utf8(bytes).unwrap();
        let lines: Vec<_> = text.split("\r\n").collect();
        assert_eq!(lines[0], COLUMNS.join(","));
        assert_eq!(
            lines[1],
            "missing-slot,fault,2 slots in a row hold no frame.,2,100WEIR/WEIR0014.JPG,100WEIR/WEIR0015.JPG,\
             2026-05-09T04:10:36,trigger-missed,The file numbers run on: the camera did not fire.,,\
             One slot may be enough.,1,2,gap_s=36 (limit 12); share="
        );
        assert!(lines[2].starts_with("settings-change,note,'=The white balance changed.,1,"));
        assert_eq!(lines.len(), 4);
        assert_eq!(lines[3], "");
    }

    #[test]
    fn moments_need_no_idle_decimals() {
        assert_eq!(fraction(CivilTime::from_micros(Micros::new(-1_000_000))), 0);
        assert_eq!(fraction(CivilTime::from_micros(Micros::new(130_000))), 3);
        assert_eq!(fraction(CivilTime::from_micros(Micros::new(130_001))), 6);
    }

    use crate::units::CivilTime;
}
