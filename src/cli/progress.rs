//! `progress`: a run that still goes on. Is it on course, when does it end, what runs out first?

use super::audit::{Format, Read, all_there, confine_to, folder_name, no_frames};
use super::exit::{Failure, Outcome, note, tell, tell_with};
use super::plan_flags::PlanFlags;
use super::{bar, interrupt, plan_source};
use crate::audit::{AuditSet, Setting, carry_out_each};
use crate::card::{self, Card};
use crate::forecast::{Forecast, Outlook, Stage, current_run, so_far};
use crate::frames::{Again, Frames};
use crate::outputs::place::on_a_card;
use crate::outputs::progress::{Underway, line, text, write};
use crate::outputs::text::columns;
use crate::plan::{self, Moment};
use crate::units::{CivilTime, counted};
use std::path::PathBuf;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

#[derive(Debug, clap::Args)]
pub(crate) struct Arguments {
    /// The card, its copy so far, or the folder that a camera on a cable fills
    #[arg(required = true, value_name = "FRAMES")]
    paths: Vec<PathBuf>,
    /// The plan of the shoot; without it, a plan.toml in FRAMES or beside a folder called frames
    #[arg(short, long, value_name = "PLAN.toml")]
    plan: Option<PathBuf>,
    /// Look again as frames arrive, until the run is complete
    #[arg(short, long)]
    watch: bool,
    /// Seconds between two looks; without it, a quarter of the interval, 5 s at most
    #[arg(long, value_name = "SECONDS", requires = "watch", value_parser = every)]
    every: Option<Duration>,
    /// The present moment on the camera's clock; without it, this computer's
    #[arg(long, value_name = "TIME", value_parser = plan::forms::moment)]
    now: Option<Moment>,
    /// What is printed
    #[arg(long, value_enum, default_value_t = Format::Text)]
    format: Format,
    /// How far the pictures themselves are read
    #[arg(long, value_enum, default_value_t = Read::Thumb)]
    pictures: Read,
    /// Frames read at a time; without it, as many as suit the machine
    #[arg(short, long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=256))]
    jobs: Option<u16>,
    /// Print the answer alone
    #[arg(short, long)]
    quiet: bool,
    #[command(flatten)]
    flags: PlanFlags,
}

fn every(text: &str) -> Result<Duration, String> {
    let seconds = text.parse::<f64>().ok().filter(|s| (0.05..=3600.0).contains(s));
    seconds.map(Duration::from_secs_f64).ok_or_else(|| "expected seconds, 0.05 to 3600".to_owned())
}

/// The longest and the shortest time between two looks that nobody chose.
const MOST: Duration = Duration::from_secs(5);
const LEAST: Duration = Duration::from_millis(200);
/// How long an interruption waits to be heard.
const HEARD: Duration = Duration::from_millis(50);

/// Runs the command.
pub(crate) fn run(arguments: Arguments) -> Result<Outcome, Failure> {
    let roots = &arguments.paths;
    all_there(roots, "Name the card, or the folder that fills")?;
    let source = plan_source::plan_for(arguments.plan.as_deref(), roots, &arguments.flags, arguments.quiet)?;
    let stop = interrupt::stop_flag();
    confine_to(None, arguments.quiet, false);
    let again = Again::new(arguments.pictures.asked(), arguments.jobs.map(usize::from));
    let pace = arguments.every.unwrap_or_else(|| {
        let quarter = source.plan.interval_s.map(|s| Duration::from_secs_f64((s / 4.0).clamp(0.0, 60.0)));
        quarter.unwrap_or(MOST).clamp(LEAST, MOST)
    });
    let mut watch = Watch {
        arguments: &arguments,
        source,
        again,
        began: Instant::now(),
        arrived: Instant::now(),
        said: String::new(),
    };
    loop {
        let seen = watch.look(&stop)?;
        let over = stop.load(Ordering::Relaxed) || seen.as_ref().is_some_and(Seen::is_over);
        if !arguments.watch || over {
            return watch.conclude(seen);
        }
        watch.say(seen.as_ref());
        wait(pace, &stop);
    }
}

/// Waits, and no longer than until an interruption.
fn wait(pace: Duration, stop: &AtomicBool) {
    let until = Instant::now() + pace;
    while !stop.load(Ordering::Relaxed) {
        let left = until.saturating_duration_since(Instant::now());
        if left.is_zero() {
            return;
        }
        std::thread::sleep(left.min(HEARD));
    }
}

/// What one look at the frames came to.
struct Seen {
    set: AuditSet,
    forecasts: Vec<Forecast>,
    /// Frames of earlier runs, which are left out.
    earlier: u64,
    /// Shots that were new, or not whole yet.
    read: u64,
}

impl Seen {
    fn runs(&self) -> Vec<Underway<'_>> {
        let cameras = self.set.cameras.iter().zip(&self.forecasts);
        cameras.map(|(camera, forecast)| Underway { audit: &camera.audit, forecast }).collect()
    }

    fn is_over(&self) -> bool {
        self.read == 0 && self.forecasts.iter().all(|f| f.stage == Stage::Whole)
    }
}

/// The frames as they come.
struct Watch<'a> {
    arguments: &'a Arguments,
    source: plan_source::Source,
    again: Again,
    began: Instant,
    /// When the last frame that was new was seen.
    arrived: Instant,
    /// What was said last.
    said: String,
}

impl Watch<'_> {
    /// One look; `None` where no frame is there yet and somebody waits for the first.
    fn look(&mut self, stop: &AtomicBool) -> Result<Option<Seen>, Failure> {
        let roots = &self.arguments.paths;
        let card = card::walk_until(roots, stop);
        if card.shots.is_empty() {
            return if self.arguments.watch { Ok(None) } else { Err(no_frames(&card, roots)) };
        }
        let (frames, read) = self.read(card, stop);
        Ok(Some(self.judge(frames, read)))
    }

    fn read(&mut self, card: Card, stop: &AtomicBool) -> (Frames, u64) {
        // The bar is for the first look: later ones read a frame or two.
        let quiet = self.arguments.quiet || !self.said.is_empty();
        let bar = bar::frames(card.shots.len() as u64, quiet);
        let (frames, read) = self.again.look(card, &|more| bar.inc(more), stop);
        bar.finish_and_clear();
        if read > 0 {
            self.arrived = Instant::now();
        }
        (frames, read)
    }

    fn judge(&self, frames: Frames, read: u64) -> Seen {
        let plan = &self.source.plan;
        let (frames, earlier) = current_run(plan, frames);
        let setting = Setting {
            name: folder_name(&self.arguments.paths),
            plan: so_far(plan, frames.len()),
            plan_source: self.source.words.clone(),
            pictures: self.arguments.pictures.asked(),
        };
        let set = carry_out_each(setting, frames);
        let free_bytes = self.free_bytes();
        let forecast = |camera: &crate::audit::CameraAudit| {
            let last = camera.audit.evidence.ends().map(|(_, last)| (last.at, last.offset_min));
            let now = last.map_or(CivilTime::from_seconds(0), |(at, offset)| self.now(at, offset));
            Forecast::of(&camera.audit, plan, Outlook { now, free_bytes })
        };
        let forecasts = set.cameras.iter().map(forecast).collect();
        Seen { set, forecasts, earlier, read }
    }

    /// The present moment on the camera's clock, whose last stamp is `last`. Somebody who watches sees frames
    /// arrive, and needs no clock of this computer's.
    fn now(&self, last: CivilTime, offset_min: Option<i16>) -> CivilTime {
        match self.arguments.now {
            Some(now) => now.civil.plus_seconds(self.began.elapsed().as_secs_f64()).max(last),
            None if self.arguments.watch => last.plus_seconds(self.arrived.elapsed().as_secs_f64()),
            None => here(offset_min).max(last),
        }
    }

    /// Room on the card, or on the disk that fills. A copy's disk says nothing about the card.
    fn free_bytes(&self) -> Option<f64> {
        let root = self.arguments.paths.first()?;
        (self.arguments.watch || on_a_card(root)).then(|| card::free_bytes(root)).flatten()
    }

    /// The line as it stands, in place of the one before.
    fn say(&mut self, seen: Option<&Seen>) {
        let lines: Vec<String> = match seen {
            None => vec!["Waiting for the first frame.".to_owned()],
            Some(seen) => seen.runs().into_iter().map(line).collect(),
        };
        let words = lines.join("\n");
        if words == self.said {
            return;
        }
        let terminal = console::Term::stdout();
        if terminal.is_term() && !self.said.is_empty() {
            // Where the terminal does not do it, the lines stand below one another.
            let _ = terminal.clear_last_lines(self.said.lines().count());
        }
        let _ = tell(&format!("{words}\n"));
        self.said = words;
    }

    /// The whole answer, and the exit code.
    fn conclude(&self, seen: Option<Seen>) -> Result<Outcome, Failure> {
        let Some(seen) = seen else {
            return Err(Failure::new("stopped before the first frame came"));
        };
        let runs = seen.runs();
        match self.arguments.format {
            Format::Json => tell_with(|out| write(&runs, out))?,
            Format::Text if self.arguments.quiet => {
                let lines: String = runs.iter().map(|run| line(*run) + "\n").collect();
                tell(&lines)?;
            }
            Format::Text => tell(&text(&runs, true, columns()))?,
        }
        if seen.earlier > 0 && !self.arguments.quiet {
            note(&format!("Left out: {} of an earlier run.", counted(seen.earlier, "frame")));
        }
        if !seen.set.complete() {
            let places = counted(seen.set.trouble.len() as u64, "place");
            note(&format!("warning: the answer is incomplete: {places} could not be read."));
            return Ok(Outcome::Failed);
        }
        let good = seen.forecasts.iter().all(Forecast::on_course);
        Ok(if good { Outcome::Quiet } else { Outcome::Found })
    }
}

/// This computer's clock, in the camera's offset where that is known.
fn here(offset_min: Option<i16>) -> CivilTime {
    let offset = offset_min.and_then(|m| jiff::tz::Offset::from_seconds(i32::from(m) * 60).ok());
    let civil = match offset {
        Some(offset) => offset.to_datetime(jiff::Timestamp::now()),
        None => jiff::tz::TimeZone::system().to_datetime(jiff::Timestamp::now()),
    };
    CivilTime::from_jiff(civil)
}
