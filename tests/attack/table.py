#!/usr/bin/env python3
"""What hard cards, pictures, plans, names and interruptions come to: a row a fact, a column a binary.

`tests/attack/table.py [BINARY ...]` (the release build where none is named). ATTACK=FOLDER adds collected
pictures, ONLY=WORD plays the facts whose names hold the word, FRAMES=100000 takes larger cards, MOST=60 is
how many seconds a run may take before it is ended, LIMIT=8000000 how many KiB of addresses a picture's may
have. Everything is made in a temporary folder (TMPDIR). Needs Linux.
"""

import os
import pathlib
import re
import resource
import shutil
import signal
import subprocess
import sys
import tempfile
import time

import cards
import pictures

FRAMES = int(os.environ.get("FRAMES", "4000"))
MOST = float(os.environ.get("MOST", "60"))
ONLY = os.environ.get("ONLY", "")
ATTACK = os.environ.get("ATTACK", "")
# No run takes the machine from others: KiB of addresses that one may have.
pictures.LIMIT = pictures.LIMIT or 8_000_000


class Run:
    """A command that was run: its exit, seconds of clock and processors, memory in MB, and what it said."""

    def __init__(self, *command, cwd, limit=0, interrupt=None, send=signal.SIGINT, wait_for=None):
        def limited():
            if limit:
                resource.setrlimit(resource.RLIMIT_AS, (limit * 1024, limit * 1024))

        with tempfile.TemporaryFile() as told, tempfile.TemporaryFile() as noted:
            begin = time.monotonic()
            streams = {"stdout": told, "stderr": noted, "stdin": subprocess.DEVNULL}
            child = subprocess.Popen([str(c) for c in command], cwd=cwd, preexec_fn=limited, **streams)
            sent = None
            while True:
                pid, status, used = os.wait4(child.pid, os.WNOHANG)
                if pid:
                    break
                now = time.monotonic() - begin
                ready = wait_for is None or wait_for()
                if interrupt is not None and sent is None and ready and now > interrupt:
                    sent = time.monotonic()
                    child.send_signal(send)
                if now > MOST:
                    child.kill()
                time.sleep(0.002)
            child.returncode = 0
            self.seconds = time.monotonic() - begin
            self.heard = None if sent is None else time.monotonic() - sent
            self.worked = used.ru_utime + used.ru_stime
            self.memory = used.ru_maxrss * 1.024e-3
            killed = os.WIFSIGNALED(status)
            self.exit = f"signal {os.WTERMSIG(status)}" if killed else os.WEXITSTATUS(status)
            told.seek(0)
            noted.seek(0)
            self.told = told.read().decode(errors="replace")
            self.noted = noted.read().decode(errors="replace")
            self.over = self.seconds > MOST

    def time(self):
        """Processor time, which other work on the machine leaves alone."""
        return f"over {MOST:.0f} s" if self.over else f"{self.worked:.2f} s"

    def call(self):
        """The first line without what the call was made from."""
        first = (self.told or self.noted).splitlines() or [""]
        return first[0].split(":")[0] + "".join(
            re.findall(r" \([^)]*(?:accepted|tolerated)[^)]*\)", first[0])
        )


def facts():
    """Name and question of each fact. A question takes a binary and an empty folder."""
    yield from picture_facts()
    for command in ("survey", "audit"):
        for kind, count in (("pairs", 1000), ("pairs", FRAMES), ("bursts of three", 2 * FRAMES)):
            yield f"{command}, {count:,} frames, {kind}", reckoned(command, kind, count)
        for kind in ("tens", "random", "sorted", "equal", "descending", "uneven"):
            yield f"{command}, {FRAMES:,} frames, {kind}", reckoned(command, kind, FRAMES)
    yield "frames.csv of 20,000 frames, a hole of 9,998 slots after every twentieth or so", frames_csv
    yield "Ctrl-C in a decode: heard after", interrupted_decode
    yield "Ctrl-C in the reckoning: heard after", interrupted_reckoning
    yield "Ctrl-C in the hashing of verify: heard after", interrupted_hashing
    yield "verify of names ~root.JPG, C:\\x.JPG and a folder DCIM\\..", verified_names
    yield "verify where a folder became a link to its like", verified_link
    yield "Ctrl-C in --deliver: the earlier manifest is", delivery(signal.SIGINT)
    yield "killed in --deliver: the earlier manifest is", delivery(signal.SIGKILL)
    yield "a later audit without --deliver: the old page is", later_audit
    yield "found plan, every finding accepted", found_plan(accept_all)
    yield "found plan, tolerances of 10^12", found_plan(tolerate_all)
    yield "plan of 3 GB", big_plan
    yield "plan.toml is a link: lines of its target shown", linked_plan
    yield "output on a bind mount of the card", bind_mount
    yield "invisible and turning signs, raw in the outputs", signs
    yield "no thread can be started", without_threads


def picture_facts():
    """Pictures that declare more than a machine should give, and those that were collected."""

    def cost(make):
        def fact(binary, folder):
            file = make(folder)
            memory, _, worked, ended = pictures.audited(binary, file, 1)
            return f"{memory:.0f} MB, {worked:.2f} s, exit {ended}"

        return fact

    collected = sorted(pathlib.Path(ATTACK).iterdir()) if ATTACK else []
    for file in (f for f in collected if f.is_file() and f.suffix != ".md"):
        yield f"picture {file.name}", cost(lambda _, file=file: file)
    yield "picture: PNG with a profile of 4 GB", cost(lambda at: cards.png(at, 160, 1, cards.profile(4)))
    yield "picture: PNG, 23,000 px square", cost(lambda at: cards.png(at, 23_000, 23_000))
    yield "picture: PNG, 10,000 px square", cost(lambda at: cards.png(at, 10_000, 10_000))
    yield "picture: TIFF, 23,000 px square", cost(lambda at: cards.tiff(at, 23_000, 23_000))
    yield "picture: TIFF, 10,000 px square", cost(lambda at: cards.tiff(at, 10_000, 10_000))
    if ATTACK:
        yield "all collected pictures in 2 GB of addresses", limited


def limited(binary, folder):
    card = folder / "card"
    shutil.copytree(ATTACK, card)
    run = Run(binary, "audit", card, "--out", "out", "--quiet", cwd=folder, limit=2_000_000)
    report = "report" if (folder / "out/report.html").exists() else "no report"
    return f"exit {run.exit}, {report}, {run.memory:.0f} MB"


def reckoned(command, kind, count):
    def fact(binary, folder):
        cards.card(folder / "card", cards.stamps(kind, count))
        out = ["--out", "out"] if command == "audit" else []
        return Run(binary, command, "card", *out, "--pictures", "none", "--quiet", cwd=folder).time()

    return fact


def frames_csv(binary, folder):
    cards.card(folder / "card", cards.stamps("holes of 9,998 slots", 20_000))
    run = Run(
        binary,
        "audit",
        "card",
        "--out",
        "out",
        "--interval",
        "1s",
        "--pictures",
        "none",
        "--quiet",
        cwd=folder,
    )
    file = folder / "out/frames.csv"
    return f"{file.stat().st_size / 1e6:.0f} MB, {run.time()}" if file.exists() else f"none, {run.time()}"


def heard(run):
    return (
        f"{run.heard:.2f} s, exit {run.exit}" if run.heard is not None else f"ended before, exit {run.exit}"
    )


def interrupted_decode(binary, folder):
    (folder / "card").mkdir()
    for n in range(8):
        file = cards.png(folder / "card", 10_000, 10_000) if n == 0 else file
        if n:
            shutil.copyfile(file, folder / f"card/P{n:04}.png")
    return heard(Run(binary, "audit", "card", "--out", "out", "--quiet", cwd=folder, interrupt=0.3))


def interrupted_reckoning(binary, folder):
    cards.card(folder / "card", cards.stamps("uneven", 60_000))
    audit = [binary, "audit", "card", "--out", "out", "--pictures", "none", "--quiet"]
    return heard(Run(*audit, cwd=folder, interrupt=2.0))


def interrupted_hashing(binary, folder):
    cards.card(folder / "card", cards.stamps("steady", 20))
    audit = [binary, "audit", "card", "--out", "out", "--pictures", "none", "--deliver", "--quiet"]
    Run(*audit, cwd=folder)
    for file in (folder / "card").iterdir():
        os.truncate(file, 2 << 30)
    return heard(Run(binary, "verify", "out/manifest-sha256.txt", "card", cwd=folder, interrupt=0.5))


def delivered(binary, folder):
    Run(binary, "audit", "card", "--out", "out", "--pictures", "none", "--deliver", "--quiet", cwd=folder)


def verified(binary, folder, at="card"):
    run = Run(binary, "verify", "out/manifest-sha256.txt", at, cwd=folder)
    return f"{run.call()}, exit {run.exit}"


def verified_names(binary, folder):
    for at in ("card", "card/DCIM\\.."):
        cards.card(folder / at, cards.stamps("steady", 12))
    os.rename(folder / "card/TRAP000001.JPG", folder / "card/~root.JPG")
    os.rename(folder / "card/TRAP000002.JPG", folder / "card/C:\\x.JPG")
    delivered(binary, folder)
    return verified(binary, folder)


def verified_link(binary, folder):
    cards.card(folder / "card/100TRAPS", cards.stamps("steady", 12))
    delivered(binary, folder)
    os.rename(folder / "card/100TRAPS", folder / "elsewhere")
    os.symlink(folder / "elsewhere", folder / "card/100TRAPS")
    return verified(binary, folder)


def twice_delivered(binary, folder, sent):
    """A delivery, and a second one of more files that is ended while it hashes."""
    cards.card(folder / "card", cards.stamps("steady", 30))
    delivered(binary, folder)
    manifest = folder / "out/manifest-sha256.txt"
    earlier = manifest.read_bytes() if manifest.exists() else b""
    for file in (folder / "card").iterdir():
        os.truncate(file, 1 << 30)
    report = folder / "out/audit.json"
    before = report.stat().st_mtime_ns
    audit = [binary, "audit", "card", "--out", "out", "--pictures", "none", "--deliver", "--quiet"]
    written = lambda: report.exists() and report.stat().st_mtime_ns != before
    run = Run(*audit, cwd=folder, interrupt=1.0, send=sent, wait_for=written)
    return run, manifest, earlier


def delivery(sent):
    def fact(binary, folder):
        run, manifest, earlier = twice_delivered(binary, folder, sent)
        if not manifest.exists():
            return f"gone, exit {run.exit}"
        now = manifest.read_bytes()
        state = (
            "whole"
            if now == earlier
            else "empty" if not now else f"another, of {len(now.splitlines())} lines"
        )
        return f"{state}, exit {run.exit}"

    return fact


def later_audit(binary, folder):
    cards.card(folder / "card", cards.stamps("steady", 30))
    delivered(binary, folder)
    run = Run(binary, "audit", "card", "--out", "out", "--pictures", "none", "--quiet", cwd=folder)
    there = "there" if (folder / "out/delivery.html").exists() else "removed"
    return f"{there}, {'named' if 'delivery.html' in run.noted else 'not named'}"


def checks_of(binary, folder):
    """Ids of the checks and the keys of their limits, as `explain` tells them."""
    told = Run(binary, "explain", cwd=folder).told
    ids = sorted(set(re.findall(r"^\s*([a-z]+-[a-z-]+)\s", told, re.M)))
    return {
        i: re.findall(r"^  (\w+_(?:caution|fault)) = ", Run(binary, "explain", i, cwd=folder).told, re.M)
        for i in ids
    }


def accept_all(checks):
    return "".join(f'[[accepted]]\ncheck = "{i}"\nreason = "seen"\n' for i in checks)


def tolerate_all(checks):
    tables = ((i, "".join(f"{key} = 1e12\n" for key in keys)) for i, keys in checks.items() if keys)
    return "".join(f"[tolerance.{i}]\n{keys}" for i, keys in tables)


def found_plan(blocks):
    def fact(binary, folder):
        seconds = [at for n, at in enumerate(cards.stamps("steady", 60)) if n not in range(20, 30)]
        card = cards.card(folder / "card", seconds)
        (card / "plan.toml").write_text("interval = 5\nframes = 60\n" + blocks(checks_of(binary, folder)))
        audit = Run(binary, "audit", "card", "--out", "out", "--pictures", "none", "--quiet", cwd=folder)
        return audit.call()

    return fact


def big_plan(binary, folder):
    card = cards.card(folder / "card", cards.stamps("steady", 12))
    (card / "plan.toml").write_text("interval = 5\n")
    os.truncate(card / "plan.toml", 3 << 30)
    run = Run(binary, "audit", "card", "--out", "out", "--pictures", "none", "--quiet", cwd=folder)
    return f"{run.memory:.0f} MB, {run.time()}, exit {run.exit}"


def linked_plan(binary, folder):
    card = cards.card(folder / "card", cards.stamps("steady", 12))
    (folder / "private.txt").write_text("name: somebody\n")
    os.symlink(folder / "private.txt", card / "plan.toml")
    run = Run(binary, "audit", "card", "--out", "out", "--pictures", "none", cwd=folder)
    return "yes" if "somebody" in run.noted + run.told else "no"


def bind_mount(binary, folder):
    card = cards.card(folder / "card/DCIM", cards.stamps("steady", 12)).parent
    mount = folder / "elsewhere"
    mount.mkdir()
    if subprocess.run(["mount", "--bind", card, mount], capture_output=True, check=False).returncode:
        return "not tried: no leave to mount"
    try:
        run = Run(
            binary, "audit", "card", "--out", "elsewhere/out", "--pictures", "none", "--quiet", cwd=folder
        )
        written = (mount / "out").exists()
    finally:
        subprocess.run(["umount", mount], check=True)
    return f"{'written' if written else 'refused'}, exit {run.exit}"


HIDDEN = "\u00ad\u034f\u115f\u180e\u3164\u202e\u2066\U000e0041"


def signs(binary, folder):
    """Such signs in what is told and written; the lists of checksums alone hold names byte by byte."""
    card = cards.card(folder / "card", cards.stamps("steady", 12))
    for n, sign in enumerate(HIDDEN):
        os.rename(card / f"TRAP{n + 1:06}.JPG", card / f"TRAP{sign}{n + 1:06}.JPG")
    audit = ["--out", "out", "--pictures", "none", "--deliver"]
    run = Run(binary, "audit", "card", *audit, cwd=folder)
    exact = ("manifest-sha256.txt", "files-sha256.txt")
    texts = [
        p.read_text(errors="replace")
        for p in (folder / "out").iterdir()
        if p.is_file() and p.name not in exact
    ]
    return str(sum(text.count(sign) for text in [run.told, run.noted, *texts] for sign in HIDDEN))


def without_threads(binary, folder):
    cards.card(folder / "card", cards.stamps("steady", 600))
    copy = shutil.copy(binary, folder / "binary")
    folder.chmod(0o777)
    nobody = ["setpriv", "--reuid=65534", "--regid=65534", "--clear-groups"] if os.geteuid() == 0 else []
    audit = [copy, "audit", "card", "--out", "out", "--pictures", "none", "--quiet"]
    run = Run(*nobody, "prlimit", "--nproc=1:1", *audit, cwd=folder)
    return f"exit {run.exit}, {run.call() or 'no call'}"


def main():
    binaries = [os.path.abspath(binary) for binary in sys.argv[1:]] or [pictures.built()]
    heads = ["before", "after"] if len(binaries) == 2 else [pathlib.Path(b).name for b in binaries]
    print(f"| fact | {' | '.join(heads)} |\n| --- |{' --- |' * len(binaries)}")
    for name, fact in facts():
        if ONLY not in name:
            continue
        cells = []
        for binary in binaries:
            # A card's folders may be named in no path of this machine's: they are taken away by bytes.
            folder = pathlib.Path(tempfile.mkdtemp())
            try:
                cells.append(fact(binary, folder))
            finally:
                shutil.rmtree(folder, ignore_errors=True)
        print(f"| {name} | {' | '.join(cells)} |", flush=True)


if __name__ == "__main__":
    main()
