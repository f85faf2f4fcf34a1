//! The samples' reports, byte for byte: `reports/NAME/` holds what `lapseproof audit sample-sequences/NAME`
//! writes.
//!
//! `LAPSEPROOF_BLESS=1` writes them anew; look at the difference before you commit it.

use crate::support::cases::rounds;
use crate::support::run::{
    LIST, OUTPUTS, Report, code, copy, err, hold_each_line, lapseproof, lapseproof_with, out, temp,
};
use std::fs;
use std::path::{Path, PathBuf};

fn home() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

fn folders(path: &Path) -> Vec<String> {
    let mut names: Vec<String> = fs::read_dir(path)
        .unwrap_or_else(|e| panic!("{}: {e}", path.display()))
        .map(|entry| entry.expect("an entry").file_name().to_string_lossy().into_owned())
        .collect();
    names.sort();
    names
}

/// The first line that differs, for a message that can be read.
fn difference(told: &[u8], golden: &[u8]) -> String {
    let lines = |bytes: &[u8]| String::from_utf8_lossy(bytes).lines().map(str::to_owned).collect::<Vec<_>>();
    let (told, golden) = (lines(told), lines(golden));
    let at = told.iter().zip(&golden).take_while(|(a, b)| a == b).count();
    let line = |all: &[String]| all.get(at).cloned().unwrap_or_else(|| "(no such line)".into());
    format!("line {}:\n  now    {}\n  golden {}", at + 1, line(&told), line(&golden))
}

/// The plain command, run where the sample lies, writes what `reports/NAME/` holds.
#[test]
fn the_reports_of_the_samples() {
    let bless = std::env::var_os("LAPSEPROOF_BLESS").is_some_and(|v| v == "1");
    let samples = folders(&home().join("sample-sequences"));
    assert!(samples.len() >= 4, "{samples:?}");
    let mut wrong = Vec::new();
    for name in &samples {
        let dir = temp();
        let sample = format!("sample-sequences/{name}");
        copy(&home().join(&sample), &dir.path().join(&sample));
        let told = lapseproof(dir.path(), &["audit", &sample, "--verbose"]);
        assert!(matches!(code(&told), Some(0 | 1)), "{name}: {}", err(&told));
        let report = Report::of(dir.path().join("reports").join(name));
        hold_each_line(&report.text("summary.txt"), &out(&told));
        let golden = home().join("reports").join(name);
        for output in OUTPUTS {
            let now = report.bytes(output);
            if bless {
                fs::create_dir_all(&golden).expect("a folder can be made");
                fs::write(golden.join(output), &now).expect("a file can be written");
            }
            match fs::read(golden.join(output)) {
                Ok(then) if then == now => {}
                Ok(then) => wrong.push(format!("reports/{name}/{output}, {}", difference(&now, &then))),
                Err(e) => wrong.push(format!("reports/{name}/{output}: {e}")),
            }
        }
        // The list beside them holds nothing but the checksums of what is compared here.
        assert!(report.text(LIST).lines().count() == OUTPUTS.len(), "{name}");
        assert_eq!(folders(&dir.path().join("reports").join(name)).len(), OUTPUTS.len() + 1, "{name}");
    }
    assert!(
        wrong.is_empty(),
        "LAPSEPROOF_BLESS=1 cargo test --test suite golden:: writes them anew:\n{}",
        wrong.join("\n")
    );
    // The figures that benches and long rounds print stand beside them.
    let mut reports = folders(&home().join("reports"));
    reports.retain(|name| name != "figures");
    assert_eq!(reports, samples, "a report for each sample, and no other");
}

/// Neither threads, nor the current folder, nor how the frames are named, nor the machine's zone, language or
/// terminal changes a byte. Of two samples; `.ci/rounds bytes` takes all of them.
#[test]
fn the_bytes_depend_on_the_frames_and_the_plan_alone() {
    for name in folders(&home().join("sample-sequences")).into_iter().take(rounds(1) as usize) {
        let relative = format!("sample-sequences/{name}");
        let absolute = home().join(&relative).display().to_string();
        let dir = temp();
        let elsewhere = dir.path().join("elsewhere");
        fs::create_dir(&elsewhere).expect("made");
        let odd = [
            ("TZ", "Asia/Kathmandu"),
            ("LC_ALL", "de_DE.UTF-8"),
            ("COLUMNS", "40"),
            ("RAYON_NUM_THREADS", "3"),
        ];
        // What the reports hold is the other test's matter: here all are compared with the plain command.
        let plain = dir.path().join("plain");
        let args = ["audit", &relative, "--out", plain.to_str().expect("a plain path")];
        assert!(matches!(code(&lapseproof(&home(), &args)), Some(0 | 1)), "{name}");
        let golden = Report::of(plain).all();
        type Case<'a> = (&'a str, &'a Path, &'a str, &'a [&'a str], &'a [(&'a str, &'a str)]);
        let (project, samples, sample) =
            (home(), home().join("sample-sequences"), home().join("sample-sequences").join(&name));
        let dotted = format!("./{name}/../{name}/");
        let cases: [Case; 7] = [
            ("one thread", &project, &relative, &["--jobs", "1"], &[]),
            ("eight threads", &project, &relative, &["--jobs", "8"], &[]),
            ("absolute", &elsewhere, &absolute, &[], &[]),
            ("from the folder above", &samples, &name, &[], &[]),
            ("from within", &sample, ".", &[], &[]),
            ("by a roundabout path", &samples, &dotted, &[], &[]),
            ("in another place of the world", &project, &relative, &["--quiet"], &odd),
        ];
        for (what, from, frames, more, env) in cases {
            let place = dir.path().join(what);
            let mut args = vec!["audit", frames, "--out", place.to_str().expect("a plain path")];
            args.extend(more);
            let told = lapseproof_with(from, &args, env);
            assert!(matches!(code(&told), Some(0 | 1)), "{name}, {what}: {}", err(&told));
            for (output, then) in OUTPUTS.iter().zip(&golden) {
                let now = fs::read(place.join(output)).expect(output);
                assert!(now == *then, "{name}, {what}, {output}, {}", difference(&now, then));
            }
        }
    }
}

/// The call of each sample is the one that its story asks for.
#[test]
fn the_calls_of_the_samples() {
    let calls = [
        ("bridge-road", "hold", 1),
        ("building-site-copy", "hold", 1),
        ("canal-lock-dusk", "hold", 1),
        ("glasshouse-night", "hold", 1),
        ("harbour-falling-tide", "clear", 0),
        ("valley-day-to-night", "hold", 1),
    ];
    assert_eq!(folders(&home().join("sample-sequences")), calls.map(|c| c.0));
    for (name, call, exit) in calls {
        let dir = temp();
        let args = [
            "audit".into(),
            format!("sample-sequences/{name}"),
            "--out".into(),
            dir.path().display().to_string(),
        ];
        assert_eq!(code(&lapseproof(&home(), &args)), Some(exit), "{name}");
        assert_eq!(Report::of(dir.path()).json()["verdict"]["call"], call, "{name}");
    }
}
