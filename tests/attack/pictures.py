#!/usr/bin/env python3
"""What hostile pictures cost.

`tests/attack/pictures.py FOLDER [BINARY ...]`: each file of FOLDER, alone and four times over, is audited by
each binary (the release build where none is named). Peak of memory, seconds a file (of the clock, and of
processors) and exit status are printed. LIMIT=2000000 sets the most KiB of addresses (`ulimit -v`),
PICTURES=full asks for whole pictures, COPIES=8 takes another number of copies.
"""

import os
import pathlib
import resource
import shutil
import subprocess
import sys
import tempfile
import time

COPIES = int(os.environ.get("COPIES", "4"))
LIMIT = int(os.environ.get("LIMIT", "0"))
PICTURES = os.environ.get("PICTURES", "thumb")
MOST_SECONDS = 300


def built():
    """The release build."""
    home = pathlib.Path(__file__).resolve().parent.parent.parent
    subprocess.run(["cargo", "build", "--release", "--quiet"], cwd=home, check=True)
    metadata = ["cargo", "metadata", "--format-version", "1", "--no-deps"]
    told = subprocess.run(metadata, cwd=home, check=True, capture_output=True, text=True).stdout
    target = told.split('"target_directory":"', 1)[1].split('"', 1)[0]
    return str(pathlib.Path(target) / "release" / "lapseproof")


def audited(binary, file, copies):
    """Peak of memory in MB, seconds a file of the clock and of processors, and how it ended."""
    with tempfile.TemporaryDirectory() as place:
        card = pathlib.Path(place, "card")
        card.mkdir()
        for n in range(copies):
            shutil.copyfile(file, card / f"BOMB{n + 1:04}{file.suffix}")
        command = [binary, "audit", str(card), "--out", f"{place}/out", "--pictures", PICTURES, "--quiet"]

        def limited():
            if LIMIT:
                resource.setrlimit(resource.RLIMIT_AS, (LIMIT * 1024, LIMIT * 1024))

        start = time.monotonic()
        quiet = {"stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}
        run = subprocess.Popen(command, preexec_fn=limited, **quiet)
        while True:
            pid, status, used = os.wait4(run.pid, os.WNOHANG)
            if pid:
                break
            if time.monotonic() - start > MOST_SECONDS:
                run.kill()
            time.sleep(0.005)
        run.returncode = 0
        took = (time.monotonic() - start) / copies
        told = os.path.exists(f"{place}/out/report.html")
        signal = os.WTERMSIG(status) if os.WIFSIGNALED(status) else 0
        ended = f"signal {signal}" if signal else str(os.WEXITSTATUS(status))
        worked = (used.ru_utime + used.ru_stime) / copies
        return used.ru_maxrss * 1.024e-3, took, worked, ended if told else f"{ended}, no report"


def main():
    if len(sys.argv) < 2:
        sys.exit(__doc__)
    files = sorted(f for f in pathlib.Path(sys.argv[1]).iterdir() if f.is_file() and f.suffix != ".md")
    for binary in sys.argv[2:] or [built()]:
        print(f"\n{binary}, pictures {PICTURES}, {f'{LIMIT} KiB of addresses' if LIMIT else 'no limit'}\n")
        print(f"| file | bytes | alone: MB, s, processor s, exit | {COPIES} of it, s a file |")
        print("| --- | --- | --- | --- |")
        for file in files:
            cells = []
            for copies in (1, COPIES):
                memory, seconds, worked, ended = audited(binary, file, copies)
                cells.append(f"{memory:.0f}, {seconds:.2f}, {worked:.2f}, {ended}")
            print(f"| `{file.name}` | {file.stat().st_size:,} | {' | '.join(cells)} |", flush=True)


if __name__ == "__main__":
    main()
