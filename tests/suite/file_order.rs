//! Names against the order of capture, on the stamps of real sequences.

use lapseproof::audit::{Audit, Setting, carry_out};
use lapseproof::card::{Card, CardFile, FileKind, Folder, Shot, file_number};
use lapseproof::checks::files::file_order::right_order;
use lapseproof::finding::{Finding, Severity};
use lapseproof::frames::{Cell, Frames, Row, Stamp, StampSource};
use lapseproof::units::{CivilTime, Micros};
use std::ffi::OsString;
use std::fs;

/// The audit of a table of `shared/real/stamps` (facts read with a reference reader; its README names the
/// sources), in the order of its rows; `None` where the tables are absent.
fn audited(table: &str) -> Option<Audit> {
    let text = fs::read_to_string(crate::support::real()?.join("stamps").join(table)).expect("the table");
    let card = Card {
        roots: vec!["card".into()],
        folders: vec![Folder { root: 0, path: "".into(), number: None }],
        ..Card::default()
    };
    let mut frames = Frames { card, ..Frames::default() };
    let mut lines = text.lines().map(|line| line.split('\t').collect::<Vec<_>>());
    let head = lines.next().expect("a head");
    let at = |name: &str| head.iter().position(|h| *h == name).expect("a column");
    for (n, cells) in lines.enumerate() {
        let of = |name: &str| cells[at(name)];
        let stem = of("file").rsplit_once('.').expect("an extension").0;
        frames.card.shots.push(Shot {
            file: CardFile {
                folder: 0,
                name: OsString::from(of("file")).into_boxed_os_str(),
                bytes: of("bytes").parse().expect("a size"),
                kind: FileKind::Jpeg,
            },
            companions: Vec::new(),
            number: file_number(stem),
        });
        let digits = of("subsec").len() as u8;
        let parts: Vec<i16> = of("stamp").split([':', ' ']).map(|p| p.parse().expect("a number")).collect();
        let small: Vec<i8> =
            parts[1..].iter().map(|p| i8::try_from(*p).expect("a calendar's number")).collect();
        let micros = of("subsec").parse::<u32>().unwrap_or(0) * 10_u32.pow(6 - u32::from(digits));
        let at =
            CivilTime::from_calendar((parts[0], small[0], small[1]), (small[2], small[3], small[4]), micros);
        frames.rows.push(Row {
            stamp: Cell::Known(Stamp {
                at: at.expect("a real moment"),
                resolution: Micros::step_of(digits),
                digits,
                offset_min: None,
                source: StampSource::Original,
            }),
            exposure_s: of("exposure_s").parse().map_or(Cell::Absent, Cell::Known),
            f_number: of("f_number").parse().map_or(Cell::Absent, Cell::Known),
            iso: of("iso").parse().map_or(Cell::Absent, Cell::Known),
            print: n as u64 + 1,
            ..Row::default()
        });
    }
    Some(carry_out(Setting { name: table.into(), ..Setting::default() }, frames))
}

fn of_order(audit: &Audit) -> Vec<&Finding> {
    audit.findings().into_iter().filter(|f| f.check == "file-order").collect()
}

/// Worked out by hand from the table: 12, 23 and 28 were shot before the names that precede them; frame 00 at
/// 11:44:17 comes first, and 27, at 11:47:46, before 33 only.
#[test]
fn a_renamed_run_is_told_in_its_three_places() {
    let Some(audit) = audited("renamed-by-hand.tsv") else { return };
    let findings = of_order(&audit);
    assert_eq!(findings.len(), 1, "{findings:?}");
    assert_eq!((findings[0].severity, findings[0].count), (Severity::Caution, 3));
    let said = &findings[0].message;
    assert!(said.contains("in 3 places among 34 frames"), "{said}");
    for (after, before, by) in
        [("12", "11", "1 min 23 s"), ("23", "22", "2 min 23 s"), ("28", "27", "2 min 59 s")]
    {
        let place = format!("{after}.jpg comes after {before}.jpg and was shot {by} earlier");
        assert!(said.contains(&place), "{place}: {said}");
    }
    let mut marked: Vec<String> =
        findings[0].marks.iter().map(|m| audit.evidence.frame(m.first).name()).collect();
    marked.sort();
    assert_eq!(marked, ["12.jpg", "23.jpg", "28.jpg"]);
    let order =
        ["00.jpg to 01.jpg", "12.jpg", "23.jpg", "28.jpg to 33.jpg", "02.jpg to 11.jpg", "13.jpg to 22.jpg"];
    assert_eq!(right_order(&audit.evidence)[..6], order);
}

#[test]
fn names_of_cameras_sort_as_they_were_shot() {
    for table in ["action-5s.tsv", "drone-6s.tsv", "bursts-by-hand.tsv", "steady-6s.tsv"] {
        let Some(audit) = audited(table) else { return };
        assert!(of_order(&audit).is_empty(), "{table}: {:?}", of_order(&audit));
    }
}
