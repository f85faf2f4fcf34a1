//! The text forms of the faults, for help and for reading them.

/// How a fault is written, for help.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct FaultForm {
    /// Its name.
    pub name: &'static str,
    /// Its form; what stands in brackets may be left out.
    pub form: &'static str,
    /// An example that parses.
    pub example: &'static str,
    /// What it does, in one line.
    pub meaning: &'static str,
}

const fn form(
    name: &'static str,
    form: &'static str,
    example: &'static str,
    meaning: &'static str,
) -> FaultForm {
    FaultForm { name, form, example, meaning }
}

/// Every fault, in the order in which help lists them. `@SLOT` counts from 0; without it the seed chooses.
pub const FAULTS: &[FaultForm] = &[
    form(
        "missing",
        "missing[=N|=every:K][@SLOT]",
        "missing=3@120",
        "the camera never fired: numbering continues",
    ),
    form("lost", "lost[=N][@SLOT]", "lost=2@60", "files that were shot and are gone: numbering skips"),
    form("rate", "rate[=±PPMppm|=±P%|=Fx]", "rate=+200ppm", "the timer is slow (+) or fast (-)"),
    form(
        "rate-change",
        "rate-change[=±P%|...][@SLOT]",
        "rate-change=+2%@300",
        "the timer changes its rate midway",
    ),
    form(
        "jitter",
        "jitter[=TIME[:gaussian|:uniform]]",
        "jitter=15ms",
        "the shutter opens a little early or late",
    ),
    form("pause", "pause[=TIME][@SLOT]", "pause=37s@200", "the timer stands, then goes on off its grid"),
    form("clock", "clock[=±TIME][@SLOT]", "clock=+1h@300", "the camera's clock is put forward or back"),
    form(
        "daylight-saving",
        "daylight-saving[=±TIME][@SLOT]",
        "daylight-saving=+1h@300",
        "the clock is put forward or back and the written offset with it",
    ),
    form(
        "overrun",
        "overrun[@SLOT]",
        "overrun@100",
        "the exposure grows until it no longer fits the interval",
    ),
    form("jump", "jump[=±EV][@SLOT]", "jump=+1EV@90", "the settings jump and stay there"),
    form("odd", "odd[=±EV][@SLOT]", "odd=-1EV@50", "one frame with other settings"),
    form(
        "hunting",
        "hunting[=FRAMES][@SLOT]",
        "hunting=12@60",
        "the settings go back and forth by a third of a stop",
    ),
    form(
        "flicker",
        "flicker[=EV[:random|:alternating]]",
        "flicker=0.1EV",
        "brightness that no setting explains, rms",
    ),
    form(
        "stray",
        "stray[=±EV][@SLOT]",
        "stray=-0.5EV@50",
        "one frame brighter or darker than its settings make it",
    ),
    form("stuck", "stuck[@SLOT]", "stuck@120", "the settings stand still while the light goes on"),
    form(
        "damaged",
        "damaged[=empty|cut|zeros|garbage[:N]][@SLOT]",
        "damaged=cut@10",
        "files that are no whole pictures",
    ),
    form("surplus", "surplus[=double|hand][@SLOT]", "surplus=hand@40", "a frame too many"),
    form("duplicate", "duplicate[@SLOT]", "duplicate@33", "a file copied beside itself"),
    form("tests", "tests[=HEAD:TAIL]", "tests=4:3", "test shots before and after the run"),
    form("stop", "stop[=SHARE]", "stop=60%", "the run ends early"),
    form(
        "counted-from-close",
        "counted-from-close",
        "counted-from-close",
        "the timer counts from the shutter's close",
    ),
    form("dark-frame", "dark-frame", "dark-frame", "busy for as long as the exposure again"),
    form(
        "stalled",
        "stalled[=MOVES][@SLOT]",
        "stalled=6@80",
        "the carriage stands still, then goes on from there",
    ),
    form("slip", "slip[=SHARE][@SLOT]", "slip=0.5@80", "one move of the carriage falls short by that share"),
    form("reversal", "reversal[@SLOT]", "reversal@80", "the carriage travels back from there on"),
    form("rail-end", "rail-end[@SLOT]", "rail-end@80", "the carriage stands at the end of its rail"),
    form("knock", "knock[=PIXELSpx][@SLOT]", "knock=3px@80", "the camera is knocked and stays askew"),
    form("lorry", "lorry[=FRAMES][@SLOT]", "lorry=3@80", "a lorry passes in front"),
    form("wrap", "wrap[@SLOT]", "wrap@50", "file numbers pass 9999; the slot's file is 0001"),
    form("roll", "roll[@SLOT]", "roll@50", "the camera begins a new DCIM folder"),
    form("late", "late[=TIME][@SLOT]", "late=2.4s@80", "one frame late; the grid goes on unmoved"),
    form("soft", "soft[=PIXELSpx][@SLOT]", "soft=2px@80", "one frame out of focus"),
];
