#!/usr/bin/env python3
"""What comes after the cast, measured: fixations and all measures of 50, 100 and 200 walks of ten
minutes at 100 Hz (3, 6 and 12 million samples) with 150 areas. Prints one table: wall and CPU
seconds, peak memory.

    look.py BUILD-FOLDER WORK-FOLDER [WALKS...]

Each study is made anew by look_load in the work folder (1.5 GB for 200 walks) and removed."""
import os
import subprocess
import sys
import time


def measure(command):
    begin = time.monotonic()
    child = subprocess.Popen(command, stdout=subprocess.DEVNULL)
    _, status, usage = os.wait4(child.pid, 0)
    child.returncode = os.waitstatus_to_exitcode(status)
    if child.returncode != 0:
        sys.exit(f"{' '.join(command)}: exit status {child.returncode}")
    return time.monotonic() - begin, usage.ru_utime + usage.ru_stime, usage.ru_maxrss / 1024


def main():
    build, work = sys.argv[1], sys.argv[2]
    lookfall = os.path.join(build, "src/cli/lookfall")
    load = os.path.join(build, "tests/bench/look_load")
    print(f"{'walks':>5} {'step':<12} {'wall s':>8} {'CPU s':>8} {'peak MB':>8}")
    for walks in [int(n) for n in sys.argv[3:]] or [50, 100, 200]:
        study = os.path.join(work, f"load-{walks}.lookfall")
        subprocess.run([load, study, str(walks), "10", "150"], check=True)
        total = 0.0
        for step, arguments in [("fixate", ["fixate", study, "--jobs", "2"])] + [
                (what, ["export", study, what, "--jobs", "2"])
                for what in ("measures", "visits", "sequences", "transitions", "entropies")]:
            wall, cpu, peak = measure([lookfall] + arguments)
            total += wall if step in ("fixate", "measures") else 0
            print(f"{walks:>5} {step:<12} {wall:>8.1f} {cpu:>8.1f} {peak:>8.0f}", flush=True)
        print(f"{walks:>5} {'fixate+measures':<12} {total:>5.1f}", flush=True)
        os.remove(study)


main()
