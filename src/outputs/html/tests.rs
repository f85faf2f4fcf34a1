use super::*;
use crate::finding::Answer;
use crate::outputs::sample;

fn page(audit: &Audit) -> String {
    let mut bytes = Vec::new();
    write(audit, &mut bytes).unwrap();
    String::from_utf8(bytes).unwrap()
}

#[test]
fn the_order_is_the_readers() {
    let text = page(&sample::audit());
    let ids = [
        "call",
        "run",
        "plot-interval",
        "findings",
        "incident-1",
        "asked",
        "reference",
        "looked-at",
        "tolerances",
        "plan",
        "versions",
    ];
    let places: Vec<_> =
        ids.iter().map(|id| text.find(&format!("id=\"{id}\"")).unwrap_or_else(|| panic!("{id}"))).collect();
    assert!(places.is_sorted(), "{places:?}");
}

/// Everything from a file or a plan stands there as text. A test on the bytes: the only tags that open are
/// our own.
#[test]
fn untrusted_text_is_text() {
    let evil = "<script>alert(1)</script>\"'><img src=x onerror=alert(2)>\u{202E}\u{1b}[2J&amp;=1+1";
    let mut audit = sample::audit();
    audit.name = evil.into();
    audit.plan_source = evil.into();
    audit.plan.first = Some(evil.into());
    audit.evidence.frames.card.shots[3].file.name = std::ffi::OsString::from(evil.replace('/', "")).into();
    audit.evidence.outside[0].why = evil.into();
    audit.verdict.incidents[0].sentence = evil.into();
    audit.verdict.incidents[0].to_do = evil.into();
    audit.evidence.frames.trouble.push(crate::evidence::Trouble { path: evil.into(), what: evil.into() });
    if let Answer::Found(findings) = &mut audit.judgements[0].answer {
        findings[0].message = evil.into();
        findings[0].accepted = Some(evil.into());
        findings[0].evidence.push(("name", crate::units::Figure::Text(evil.into())));
    }
    let text = page(&audit);
    assert!(!text.contains("<img"));
    assert!(!text.contains('\u{202E}') && !text.contains('\u{1b}'));
    assert_eq!(text.matches("<script").count(), 1, "our own");
    assert!(text.contains("&lt;script&gt;alert(1)&lt;/script&gt;&quot;"));
    assert!(text.contains("\\u{202E}") && text.contains("&amp;amp;=1+1"));
}

#[test]
fn the_page_asks_for_nothing_from_elsewhere() {
    let text = page(&sample::audit());
    assert!(text.contains("default-src 'none'"));
    for word in ["http:", "https:", "src=", "@import", "url(h", "style=\"", "onclick"] {
        let own = text.replace("http://www.w3.org/2000/svg", "");
        assert!(!own.contains(word), "{word}");
    }
}

#[test]
fn what_is_not_known_is_no_hole_in_the_page() {
    let mut audit = sample::audit();
    sample::forget(&mut audit);
    for row in &mut audit.evidence.frames.rows {
        row.stamp = crate::evidence::Cell::Absent;
        row.exposure_s = crate::evidence::Cell::Absent;
    }
    let text = page(&audit);
    assert!(text.contains("No frame.") && !text.contains("NaN") && !text.contains("plot-interval"));
}

#[test]
fn every_heading_and_table_has_its_words() {
    let text = page(&sample::audit());
    assert_eq!(text.matches("<h1").count(), 1);
    assert_eq!(text.matches("<table").count(), text.matches("</table>").count());
    assert!(text.matches("scope=").count() > 10);
    for plot in text.split("<figure class=\"plot").skip(1) {
        let id = plot.split("aria-labelledby=\"").nth(1).and_then(|p| p.split('"').next()).unwrap();
        assert!(plot.contains(&format!("id=\"{id}\"")), "{id}");
    }
}
