//! The thin binary on the library.

fn main() -> std::process::ExitCode {
    lapseproof::cli::run()
}
