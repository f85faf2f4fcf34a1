//! Every key of a plan as a flag, by its row. The forms are those of a plan file, and a flag wins over the
//! file.

use crate::checks::CHECKS;
use crate::finding::InForce;
use crate::plan::schema::{Form, Keyed, Kind, Place, PlanKey, Unit};
use crate::plan::{CardPlan, DeliveryPlan, DocumentPlan, ExposurePlan, Plan, Planned, RigPlan, forms};
use clap::builder::{PossibleValuesParser, ValueParser};
use clap::{Arg, ArgAction, ArgMatches, Command, Error, value_parser};

/// The heading of the flags in the help.
const HEADING: &str = "The plan, in flags: alone, or over a plan file";

/// The flag of a check's limit.
const TOLERANCE: &str = "tolerance";

/// The flags: a plan that says only what they say.
#[derive(Debug, Default)]
pub(crate) struct PlanFlags(Plan);

impl PlanFlags {
    /// True where a flag was given.
    pub(crate) fn any(&self) -> bool {
        self.0 != Plan::default()
    }

    /// The flags as a plan that says only what they say.
    pub(crate) fn plan(&self) -> Plan {
        self.0.clone()
    }
}

impl clap::Args for PlanFlags {
    fn augment_args(command: Command) -> Command {
        let limit = Arg::new(TOLERANCE)
            .long(TOLERANCE)
            .value_name("CHECK.KEY=NUMBER")
            .help("A limit of a check: missing-slot.caution=1 (may be repeated)")
            .action(ArgAction::Append)
            .value_parser(ValueParser::new(tolerance));
        command
            .next_help_heading(HEADING)
            .args(flags::<Plan>(false))
            .args(flags::<ExposurePlan>(false))
            .args(flags::<RigPlan>(false))
            .args(flags::<CardPlan>(false))
            .args(flags::<RigPlan>(true))
            .args(flags::<DeliveryPlan>(false))
            .args(flags::<DocumentPlan>(false))
            .arg(limit)
    }

    fn augment_args_for_update(command: Command) -> Command {
        Self::augment_args(command)
    }
}

impl clap::FromArgMatches for PlanFlags {
    fn from_arg_matches(matches: &ArgMatches) -> Result<Self, Error> {
        let mut flags = Self::default();
        flags.update_from_arg_matches(matches)?;
        Ok(flags)
    }

    fn update_from_arg_matches(&mut self, matches: &ArgMatches) -> Result<(), Error> {
        let plan = &mut self.0;
        said(matches, plan);
        said(matches, &mut plan.exposure);
        said(matches, &mut plan.rig);
        said(matches, &mut plan.card);
        said(matches, &mut plan.delivery);
        said(matches, &mut plan.document);
        for (check, key, value) in matches.get_many::<(String, String, f64)>(TOLERANCE).into_iter().flatten()
        {
            plan.tolerances.entry(check.clone()).or_default().insert(key.clone(), *value);
        }
        Ok(())
    }
}

/// The flags of a table's keys: those that the help has late, or the others.
fn flags<S: Keyed>(late: bool) -> impl Iterator<Item = Arg> {
    S::KEYS.iter().filter(move |key| key.flag.is_some_and(|flag| flag.late == late)).filter_map(arg)
}

/// The flag of a key. A choice is called by its key in the help.
fn arg<S>(key: &'static PlanKey<S>) -> Option<Arg> {
    let (flag, long) = (key.flag?, key.long()?);
    let value = if flag.value.is_empty() { key.name.to_uppercase() } else { flag.value.to_owned() };
    let arg = Arg::new(long.clone()).long(long).value_name(value).help(flag.help);
    Some(match &key.kind {
        Kind::Text(_) => arg.value_parser(value_parser!(String)),
        Kind::Lines(_) => arg.action(ArgAction::Append).value_parser(value_parser!(String)),
        Kind::Hours(_) => arg.action(ArgAction::Append).value_parser(ValueParser::new(forms::daily_hours)),
        Kind::Moment(_) => arg.value_parser(ValueParser::new(forms::moment)),
        Kind::Number(form, unit, _) => arg
            .value_parser(ValueParser::new(*form))
            .allow_hyphen_values(matches!(unit, Unit::Celsius | Unit::Degrees)),
        Kind::Count(form, _) => arg.value_parser(ValueParser::new(*form)),
        Kind::Few(form, _) => arg.value_parser(ValueParser::new(*form)),
        Kind::Planned(form, ..) => {
            let form = *form;
            arg.value_parser(ValueParser::new(move |text: &str| planned(text, form)))
        }
        Kind::YesNo(_) => arg
            .num_args(0..=1)
            .require_equals(true)
            .default_missing_value("true")
            .value_parser(value_parser!(bool)),
        Kind::Word(place) => arg.value_parser(PossibleValuesParser::new((place.words)())),
    })
}

/// Puts what the flags say into the fields of a table.
fn said<S: Keyed>(matches: &ArgMatches, into: &mut S) {
    for key in S::KEYS {
        if let Some(long) = key.long() {
            put(matches, &long, &key.kind, into);
        }
    }
}

fn put<S>(matches: &ArgMatches, flag: &str, kind: &Kind<S>, into: &mut S) {
    fn one<S, T: Clone + Send + Sync + 'static>(
        (matches, flag): (&ArgMatches, &str),
        place: &Place<S, Option<T>>,
        into: &mut S,
    ) {
        if let Some(value) = matches.get_one::<T>(flag) {
            *(place.get_mut)(into) = Some(value.clone());
        }
    }
    fn all<S, T: Clone + Send + Sync + 'static>(
        (matches, flag): (&ArgMatches, &str),
        place: &Place<S, Vec<T>>,
        into: &mut S,
    ) {
        if let Some(values) = matches.get_many::<T>(flag) {
            *(place.get_mut)(into) = values.cloned().collect();
        }
    }
    let from = (matches, flag);
    match kind {
        Kind::Text(place) => one(from, place, into),
        Kind::Lines(place) => all(from, place, into),
        Kind::Hours(place) => all(from, place, into),
        Kind::Moment(place) => one(from, place, into),
        Kind::Number(_, _, place) => one(from, place, into),
        Kind::Count(_, place) => one(from, place, into),
        Kind::Few(_, place) => one(from, place, into),
        Kind::Planned(_, _, place) => one(from, place, into),
        Kind::YesNo(place) => one(from, place, into),
        Kind::Word(place) => {
            if let Some(word) = matches.get_one::<String>(flag) {
                (place.set)(into, word);
            }
        }
    }
}

/// One value, or two with `..` or ` to ` between: the ends of a ramp.
fn planned(text: &str, one: Form<f64>) -> Result<Planned, String> {
    match text.split_once("..").or_else(|| text.split_once(" to ")) {
        Some((from, to)) => Ok(Planned::Between(one(from)?, one(to)?)),
        None => Ok(Planned::Fixed(one(text)?)),
    }
}

/// `CHECK.KEY=NUMBER`, compared with the checks there are.
fn tolerance(text: &str) -> Result<(String, String, f64), String> {
    let expected = "expected CHECK.KEY=NUMBER, such as missing-slot.caution=1";
    let (place, number) = text.split_once('=').ok_or(expected)?;
    let (id, key) = place.trim().split_once('.').ok_or(expected)?;
    let check = CHECKS
        .iter()
        .find(|c| c.text.id == id)
        .ok_or("no check has that id; lapseproof explain lists them")?;
    let keys = InForce::keys(check.limits);
    if !keys.iter().any(|k| k == key) {
        return Err(format!("{id} has no limit of that key; its keys are {}", keys.join(", ")));
    }
    let value: f64 = number.trim().parse().map_err(|_| expected)?;
    if !value.is_finite() {
        return Err(expected.into());
    }
    Ok((id.to_owned(), key.to_owned(), value))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plan::{ExposureMode, FileSystem};
    use clap::Parser;

    #[derive(Parser)]
    struct Alone {
        #[command(flatten)]
        flags: PlanFlags,
    }

    fn plan(args: &[&str]) -> Result<Plan, String> {
        let all = std::iter::once("x").chain(args.iter().copied());
        Alone::try_parse_from(all).map(|a| a.flags.plan()).map_err(|e| e.to_string())
    }

    #[test]
    fn flags_say_what_a_plan_says() {
        let got = plan(&[
            "--interval",
            "12s",
            "--frames",
            "601",
            "--shutter",
            "1/500..4s",
            "--aperture",
            "f/8",
            "--iso=200",
            "--mode",
            "ramped",
            "--dark-frame",
            "--travel",
            "900 mm",
            "--active",
            "07:00-19:00",
            "--fps",
            "25",
            "--patch-up-to",
            "0",
        ])
        .unwrap();
        assert_eq!(got.interval_s, Some(12.0));
        assert_eq!(got.frames, Some(601));
        assert_eq!(got.exposure.shutter_s, Some(Planned::Between(0.002, 4.0)));
        assert_eq!(got.exposure.aperture, Some(Planned::Fixed(8.0)));
        assert_eq!(got.exposure.mode, Some(ExposureMode::Ramped));
        assert_eq!(got.exposure.dark_frame, Some(true));
        assert_eq!(got.rig.travel_m, Some(0.9));
        assert_eq!(got.active.len(), 1);
        assert_eq!((got.delivery.fps, got.delivery.patch_up_to), (Some(25.0), Some(0)));
    }

    #[test]
    fn no_flag_says_nothing() {
        assert_eq!(plan(&[]).unwrap(), Plan::default());
    }

    #[test]
    fn a_bad_flag_names_itself_and_what_was_expected() {
        let told = plan(&["--interval", "soon"]).unwrap_err();
        assert!(told.contains("--interval") && told.contains("expected"), "{told}");
        assert!(plan(&["--frames", "0"]).unwrap_err().contains("expected"));
        assert!(plan(&["--patch-up-to", "few"]).unwrap_err().contains("a whole number of slots"));
        assert!(plan(&["--mode", "wild"]).unwrap_err().contains("locked"));
        assert!(plan(&["--tolerance", "no-such-check.caution=1"]).unwrap_err().contains("no check"));
    }

    #[test]
    fn the_gear_and_the_card() {
        let got = plan(&[
            "--temperature",
            "-5 °C",
            "--interval-range",
            "1s..1h",
            "--step-range",
            "0.1mm..50mm",
            "--speed-range",
            "1mm/s..40mm/s",
            "--hours-range",
            "4..10",
            "--card",
            "64 GB",
            "--frame-size",
            "25MB",
            "--file-system",
            "fat32",
        ])
        .unwrap();
        assert_eq!(got.rig.temperature_c, Some(-5.0));
        assert_eq!(got.rig.interval_range_s, Some(Planned::Between(1.0, 3600.0)));
        assert_eq!(got.rig.hours_range, Some(Planned::Between(4.0, 10.0)));
        assert_eq!((got.card.size_bytes, got.card.frame_bytes), (Some(64e9), Some(25e6)));
        assert_eq!(got.card.file_system, Some(FileSystem::Fat32));
    }
}
