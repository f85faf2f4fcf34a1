//! Running the binary, and reading what it wrote.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};

/// The outputs of an audit.
pub const OUTPUTS: [&str; 9] = [
    "frames.csv",
    "findings.csv",
    "levels.csv",
    "frames.csv-metadata.json",
    "findings.csv-metadata.json",
    "levels.csv-metadata.json",
    "summary.txt",
    "audit.json",
    "report.html",
];

/// The list of what belongs together, beside them.
pub const LIST: &str = "files-sha256.txt";

/// The binary, run in `dir` with `args`.
pub fn lapseproof<A: AsRef<std::ffi::OsStr>>(dir: &Path, args: &[A]) -> Output {
    lapseproof_with(dir, args, &[])
}

/// The same with environment variables.
pub fn lapseproof_with<A: AsRef<std::ffi::OsStr>>(dir: &Path, args: &[A], env: &[(&str, &str)]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_lapseproof"))
        .args(args)
        .current_dir(dir)
        .stdin(Stdio::null())
        .env_remove("NO_COLOR")
        .env_remove("CLICOLOR_FORCE")
        .envs(env.iter().copied())
        .output()
        .expect("the binary runs")
}

/// What it printed.
pub fn out(output: &Output) -> String {
    String::from_utf8_lossy(&output.stdout).into_owned()
}

/// Holds that `full` has every line of `summary`, in order: it may have more between them.
pub fn hold_each_line(summary: &str, full: &str) {
    let mut rest = full.lines();
    for line in summary.lines() {
        assert!(rest.any(|l| l == line), "{line:?} is not told in its place:\n{full}");
    }
}

/// What it told on the way.
pub fn err(output: &Output) -> String {
    String::from_utf8_lossy(&output.stderr).into_owned()
}

/// Its exit code.
pub fn code(output: &Output) -> Option<i32> {
    output.status.code()
}

/// An empty folder that goes away with the test.
pub fn temp() -> tempfile::TempDir {
    tempfile::tempdir().expect("a folder for the test")
}

/// Writes a file and the folders above it.
pub fn put(folder: &Path, name: impl AsRef<Path>, bytes: impl AsRef<[u8]>) {
    let path = folder.join(name);
    fs::create_dir_all(path.parent().expect("a folder")).expect("a folder can be made");
    fs::write(path, bytes).expect("a file can be written");
}

/// Copies a folder and all below it.
pub fn copy(from: &Path, to: &Path) {
    for entry in walkdir::WalkDir::new(from).min_depth(1) {
        let entry = entry.expect("a readable folder");
        let path = to.join(entry.path().strip_prefix(from).expect("below it"));
        if entry.file_type().is_dir() {
            fs::create_dir_all(&path).expect("a folder can be made");
        } else {
            put(to, &path, fs::read(entry.path()).expect("a readable file"));
        }
    }
}

/// What an audit left in a folder.
pub struct Report {
    dir: PathBuf,
}

impl Report {
    /// The outputs in `dir`.
    pub fn of(dir: impl Into<PathBuf>) -> Self {
        Self { dir: dir.into() }
    }

    /// The bytes of an output.
    pub fn bytes(&self, name: &str) -> Vec<u8> {
        let path = self.dir.join(name);
        fs::read(&path).unwrap_or_else(|e| panic!("{}: {e}", path.display()))
    }

    /// The bytes of all of them.
    pub fn all(&self) -> Vec<Vec<u8>> {
        OUTPUTS.iter().map(|name| self.bytes(name)).collect()
    }

    /// An output as text.
    pub fn text(&self, name: &str) -> String {
        String::from_utf8(self.bytes(name)).expect("UTF-8")
    }

    /// `audit.json`.
    pub fn json(&self) -> serde_json::Value {
        serde_json::from_slice(&self.bytes("audit.json")).expect("it is JSON")
    }

    /// A CSV output, each row by its column names.
    pub fn rows(&self, name: &str) -> Vec<BTreeMap<String, String>> {
        rows(&self.bytes(name))
    }

    /// The findings of one check.
    pub fn findings(&self, check: &str) -> Vec<serde_json::Value> {
        let json = self.json();
        let all = json["findings"].as_array().expect("a list").clone();
        all.into_iter().filter(|f| f["check"] == check).collect()
    }

    /// The answer of one check.
    pub fn answer(&self, check: &str) -> String {
        let json = self.json();
        let all = json["judgements"].as_array().expect("a list");
        let one = all.iter().find(|j| j["check"] == check).expect(check);
        one["answer"].as_str().expect("a word").to_owned()
    }
}

/// The rows of a CSV file by its column names.
pub fn rows(bytes: &[u8]) -> Vec<BTreeMap<String, String>> {
    let mut reader = csv::Reader::from_reader(bytes);
    let names: Vec<String> = reader.headers().expect("a header").iter().map(str::to_owned).collect();
    reader
        .records()
        .map(|row| {
            let row = row.expect("a row as long as the header");
            names.iter().cloned().zip(row.iter().map(str::to_owned)).collect()
        })
        .collect()
}

/// Every file below a folder: its path, its bytes and when it was written.
pub fn state_of(folder: &Path) -> Vec<(PathBuf, Vec<u8>, std::time::SystemTime)> {
    let mut all: Vec<_> = walkdir::WalkDir::new(folder)
        .into_iter()
        .map(|entry| entry.expect("a readable folder"))
        .map(|entry| {
            let written = entry.metadata().expect("its metadata").modified().expect("a time");
            let bytes =
                if entry.file_type().is_file() { fs::read(entry.path()).expect("readable") } else { vec![] };
            (entry.into_path(), bytes, written)
        })
        .collect();
    all.sort();
    all
}
