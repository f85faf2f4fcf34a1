//! The plan laid on the run: parts, intervals, budgets, and when slots were due. Figures are worked by hand
//! from what the rehearsal was told to shoot.

use crate::support::rehearsed;
use lapseproof::evidence::{Sequence, gather};
use lapseproof::plan::{ExposureMode, Plan, read};
use lapseproof::rehearse::{Fault, Options, script};
use lapseproof::schedule::{Misfit, Schedule, on_clock};
use lapseproof::units::{CivilTime, Micros};

fn plan(text: &str) -> Plan {
    read(text, "plan.toml", &[]).expect("a plan")
}

/// What was shot by one plan and those faults, laid under another.
fn laid(shot: &Plan, faults: &[&str], under: &Plan) -> (Sequence, Schedule) {
    let faults: Vec<Fault> = faults.iter().map(|f| Fault::parse(f).expect(f)).collect();
    let options = Options { seed: 5, stamp_digits: 2, ..Options::default() };
    let script = script(shot, &faults, &options).expect("a script");
    let evidence = gather(under, rehearsed::frames(&script, 2));
    let schedule = Schedule::of(under, &evidence);
    (evidence, schedule)
}

const START: &str = "start = 2026-05-09T04:10:00\n";

#[test]
fn parts_begin_at_a_frame_a_moment_or_a_file_and_keep_what_they_do_not_name() {
    let shot = plan(&format!("interval = \"10 s\"\nframes = 40\n{START}"));
    // Frame 6 is due at 04:11:00; the twentieth file is that of frame 19.
    for (from, at) in [("6", 6), ("2026-05-09T04:11:00", 6), ("\"run_0020.jpg\"", 19)] {
        let under = plan(&format!(
            "interval = \"10 s\"\n{START}[exposure]\nmode = \"locked\"\nbusy = \"0.4 s\"\n\
             [[part]]\nfrom = {from}\n\
             mode = \"automatic\"\n[[part]]\nfrom = 30\ninterval = \"5 s\"\n"
        ));
        let (_, schedule) = laid(&shot, &[], &under);
        let mode = |at: usize| schedule.at(at).exposure.mode;
        assert_eq!(
            (mode(at - 1), mode(at)),
            (Some(ExposureMode::Locked), Some(ExposureMode::Automatic)),
            "{from}"
        );
        assert!(schedule.begins_between(at - 1, at) && !schedule.begins_between(at, at + 1), "{from}");
        assert_eq!((schedule.interval_s(29), schedule.interval_s(30)), (Some(10.0), Some(5.0)));
        assert_eq!(schedule.budget(35).busy_s, 0.4);
        assert_eq!(schedule.intervals_asked().collect::<Vec<_>>(), [(0, 10.0), (30, 5.0)]);
        assert_eq!(schedule.changes_of_interval().collect::<Vec<_>>(), [30]);
    }
}

#[test]
fn offsets_move_a_planned_moment() {
    let text = "interval = \"10 s\"\nstart = 2026-05-09T04:10:00+02:00\n";
    let start = plan(text).start.expect("a start");
    assert_eq!(on_clock(start, Some(0)), start.civil.plus(Micros::from_seconds(-7200)));
    assert_eq!(on_clock(start, None), start.civil);
}

/// Without a planned interval the kept one serves; where another was meant, that one does.
#[test]
fn the_interval_in_force() {
    let shot = plan("interval = \"10 s\"\nframes = 60\n");
    let (_, schedule) = laid(&shot, &[], &Plan::default());
    assert!((schedule.interval_s(7).expect("kept") - 10.0).abs() < 0.01);
    assert_eq!((schedule.at(7).interval_s, schedule.slots_asked()), (None, None));
    let (_, schedule) = laid(&shot, &[], &plan("interval = \"6 s\"\nrun = \"10 min\"\n"));
    assert!(matches!(schedule.misfit(), Some(Misfit::Interval { .. })), "{:?}", schedule.misfit());
    assert_eq!((schedule.interval_s(7), schedule.slots_asked()), (Some(10.0), Some(101)));
}

/// The stamps' law counts for the budget even where the plan does not say so: the last exposure lies outside.
#[test]
fn the_budget_goes_by_the_measured_law() {
    let ramp = "interval = \"12 s\"\nframes = 200\n[exposure]\nmode = \"ramped\"\n\
         shutter = [\"1/8\", \"8 s\"]\nbusy = \"0.5 s\"\n";
    let (evidence, schedule) = laid(&plan(ramp), &["counted-from-close"], &plan(ramp));
    assert!(schedule.law().from_close() && schedule.budget(0).from_close);
    assert_eq!(schedule.budget(150).slot([8.0]).camera_s, 0.5);
    // No grid tells when a slot was due; it is where the frame stands.
    for at in [20, 100, 180] {
        let due = schedule.due_of(&evidence, at).expect("a moment");
        let off_s = due.seconds_since(evidence.frame(at).stamp().expect("a stamp").at);
        assert!(off_s.abs() < 0.1, "{at}: {off_s}");
    }
}

/// Slots 30 and 31 of a timer of 12 s were due 12 and 24 s after the frame in slot 29. Under a law that
/// counts from the close an empty slot has its share of the gap.
#[test]
fn empty_slots_were_due_on_the_grid_that_went_on_to_them() {
    let steady = plan(&format!("interval = \"12 s\"\nframes = 100\n{START}"));
    let (evidence, schedule) = laid(&steady, &["missing=2@30"], &steady);
    let before = evidence.frame(29).stamp().expect("a stamp").at;
    let at = |s: i64| before.plus(Micros::from_seconds(s));
    let near = |due: Option<CivilTime>, want: CivilTime| {
        let due = due.expect("a moment");
        assert!(due.seconds_since(want).abs() < 0.02, "{} against {}", due.iso(4), want.iso(4));
    };
    near(schedule.due(&evidence, 30), at(12));
    near(schedule.due(&evidence, 31), at(24));
    let hole = &evidence.timing.holes[0];
    assert_eq!(
        schedule.due_as_stamped(&evidence, hole).expect("a moment").micros().rem_euclid(Micros::step_of(2)),
        Micros::ZERO
    );
    assert_eq!(schedule.due(&evidence, -1), None);
    let close = plan(
        "interval = \"12 s\"\nframes = 100\ncounted_from = \"close\"\n[exposure]\nmode = \"ramped\"\n\
         shutter = [\"1/8\", \"8 s\"]\n",
    );
    let (evidence, schedule) = laid(&close, &["missing=1@60"], &close);
    let hole = &evidence.timing.holes[0];
    let (before, after) = (
        evidence.frame(hole.before).stamp().expect("one").at,
        evidence.frame(hole.after).stamp().expect("one").at,
    );
    let half = after.seconds_since(before) / 2.0;
    near(schedule.due(&evidence, hole.slot), before.plus(Micros::truncated(half)));
}

/// Where the card holds another number of exposures than the plan says, its slots are counted off by them.
#[test]
fn slots_by_the_exposures_of_the_card() {
    let shot = plan("interval = \"10 s\"\nframes = 40\nbracket = 3\n");
    let (evidence, schedule) = laid(&shot, &[], &shot);
    assert_eq!(
        (schedule.members(), schedule.slots_shot(&evidence), schedule.slots_asked()),
        (3, 40, Some(40))
    );
    let (evidence, schedule) = laid(&shot, &[], &plan("interval = \"10 s\"\nbracket = 5\n"));
    assert!(matches!(schedule.misfit(), Some(Misfit::Exposures { shot: 3, planned: 5 })));
    assert_eq!((schedule.slots_shot(&evidence), schedule.at(9).interval_s), (40, None));
}
