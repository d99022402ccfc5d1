"""Measures decoding, the afternoon script and lookfall cast on the same walks; see bench.sh."""
import argparse
import csv
import json
import os
import platform
import statistics
import subprocess
import sys
import tempfile
import time

HERE = os.path.dirname(os.path.abspath(__file__))
WAYS = {"decode": "ffmpeg, decoding only", "afternoon": "afternoon.py", "cast": "lookfall cast"}


def measure(*commands):
    """Runs the commands one after the other; wall and CPU seconds together, peak memory in MB of
    the largest process (what the kernel reports for each child)."""
    wall = cpu = peak = 0.0
    for command in commands:
        begin = time.monotonic()
        with tempfile.TemporaryFile() as told:
            child = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=told)
            _, status, usage = os.wait4(child.pid, 0)
            child.returncode = os.waitstatus_to_exitcode(status)
            if child.returncode != 0:
                told.seek(0)
                sys.exit(f"{' '.join(command)}\n{told.read().decode(errors='replace')}")
        wall += time.monotonic() - begin
        cpu += usage.ru_utime + usage.ru_stime
        peak = max(peak, usage.ru_maxrss / 1024)
    return {"wall_s": wall, "cpu_s": cpu, "peak_mb": peak}


def run(*command):
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    if done.returncode != 0:
        sys.exit(f"{' '.join(command)}\n{done.stderr}")
    return done.stdout


def read_table(path):
    with open(path, newline="") as file:
        return list(csv.DictReader(file))


def count_frames(video):
    return int(run("ffprobe", "-v", "error", "-select_streams", "v:0", "-count_packets",
                   "-show_entries", "stream=nb_read_packets", "-of", "csv=p=0", video).strip(",\n"))


def make_study(bench, study, manifest):
    for ending in ("", "-wal", "-shm", "-journal"):
        if os.path.exists(study + ending):
            os.remove(study + ending)
    run(bench.lookfall, "new", study)
    for row in read_table(os.path.join(bench.renders, "photos.csv")):
        run(bench.lookfall, "photo", "add", study, "--name", row["name"],
            "--image", os.path.join(bench.renders, row["image"]))
    run(bench.lookfall, "walk", "import", study, manifest)


class Bench:
    def __init__(self, options):
        self.renders = os.path.abspath(options.renders)
        self.jobs = options.jobs
        self.tolerance = options.tolerance
        self.lookfall = os.path.join(options.build, "src/cli/lookfall")
        self.compare = os.path.join(options.build, "demo/lookfall-compare")
        self.manifest = os.path.join(self.renders, "walks.csv")
        self.walks = read_table(self.manifest)
        self.videos = [os.path.join(self.renders, w["video"]) for w in self.walks]
        self.truths = [os.path.join(self.renders, w["name"] + "_truth.csv") for w in self.walks]
        self.frames = sum(count_frames(v) for v in self.videos)

    def decode(self, _folder):
        return measure(*[["ffmpeg", "-v", "error", "-threads", str(self.jobs), "-i", video,
                          "-map", "0:v:0", "-f", "null", "-"] for video in self.videos])

    def afternoon(self, folder):
        return measure([sys.executable, os.path.join(HERE, "afternoon.py"), self.renders,
                        os.path.join(folder, "afternoon.csv")])

    def cast(self, folder):
        """The study is made before; only the cast counts."""
        study, samples = os.path.join(folder, "bench.study"), os.path.join(folder, "cast.csv")
        make_study(self, study, self.manifest)
        taken = measure([self.lookfall, "cast", study, "--jobs", str(self.jobs)])
        if os.path.exists(samples):
            os.remove(samples)
        run(self.lookfall, "export", study, "samples", "--out", samples)
        return taken

    def score(self, samples):
        return json.loads(run(self.compare, "--json", "--tolerance", str(self.tolerance),
                              "--samples", samples, *self.truths))["pooled"]


def spread(values, digits=1):
    middle = statistics.median(values)
    return f"{middle:.{digits}f} ({min(values):.{digits}f}-{max(values):.{digits}f})"


def print_times(taken, frames):
    print(f"\n{'':24} {'wall s':>22} {'CPU s':>22} {'frames/s':>24} {'peak MB':>20}")
    for way, name in WAYS.items():
        runs = taken[way]
        print(f"{name:24} {spread([r['wall_s'] for r in runs]):>22} "
              f"{spread([r['cpu_s'] for r in runs]):>22} "
              f"{spread([frames / r['wall_s'] for r in runs]):>24} "
              f"{spread([r['peak_mb'] for r in runs], 0):>20}")


def ratios(taken):
    """Of runs that stood side by side, so that a slow minute of the machine counts for both."""
    cast = [r["wall_s"] for r in taken["cast"]]
    return {
        "cast_wall_of_decode": [c / d["wall_s"] for c, d in zip(cast, taken["decode"])],
        "cast_rate_of_afternoon": [a["wall_s"] / c for c, a in zip(cast, taken["afternoon"])],
    }


def share(value):
    return "-" if value is None else f"{100 * value:.2f}%"


def pixels(value):
    return "-" if value is None else f"{value:.2f}"


def print_scores(scores, tolerance):
    print(f"\nAgainst the truth (px of the photo; wrong: off by more than {tolerance:g} degree):\n")
    head = ["", "median", "95%", "wrong of sure", "sure of visible", "sure of away", "sure of blocked"]
    print(f"{head[0]:24}" + "".join(f"{h:>17}" for h in head[1:]))
    for way, s in scores.items():
        blocked_sure = s["blocked"] * (s["share_blocked_sure"] or 0)
        away = s["off_photo"] - s["blocked"]
        away_sure = (s["off_photo_sure"] - blocked_sure) / away if away else None
        cells = [pixels(s["median_px"]), pixels(s["p95_px"]), share(s["share_wrong"]),
                 share(s["share_sure"]), share(away_sure), share(s["share_blocked_sure"])]
        print(f"{WAYS[way]:24}" + "".join(f"{c:>17}" for c in cells))


def long_walk(bench, folder, minutes):
    """The first walk over and over until it is so long, copied without encoding anew; the path of
    a manifest with it."""
    walk = bench.walks[0]
    video = bench.videos[0]
    length = float(run("ffprobe", "-v", "error", "-show_entries", "format=duration", "-of",
                       "csv=p=0", video))
    times = max(1, round(minutes * 60 / length))
    names = {kind: os.path.join(folder, f"long{minutes:g}.{kind}") for kind in
             ("txt", "mp4", "gaze.csv", "walks.csv")}
    with open(names["txt"], "w") as file:
        file.writelines(f"file '{video}'\n" for _ in range(times))
    run("ffmpeg", "-v", "error", "-y", "-f", "concat", "-safe", "0", "-i", names["txt"], "-map",
        "0:v:0", "-c", "copy", names["mp4"])
    rows = read_table(os.path.join(bench.renders, walk["gaze"]))
    with open(names["gaze.csv"], "w", newline="") as file:
        writer = csv.writer(file)
        writer.writerow(["t_s", "x_px", "y_px"])
        for i in range(times):
            # samples after the video's end would come before the next round's first
            writer.writerows([f"{float(r['t_s']) + i * length:.4f}", r["x_px"], r["y_px"]]
                             for r in rows if 0 <= float(r["t_s"]) < length - 1e-3)
    with open(names["walks.csv"], "w", newline="") as file:
        writer = csv.writer(file)
        writer.writerow(["name", "video", "gaze", "camera"])
        camera = os.path.join(bench.renders, walk["camera"]) if walk.get("camera") else ""
        writer.writerow(["long", names["mp4"], names["gaze.csv"], camera])
    return names["walks.csv"]


def measure_memory(bench, folder, minutes):
    taken = {}
    print(f"\nPeak memory of lookfall cast --jobs {bench.jobs}:")
    for length in minutes:
        study = os.path.join(folder, "long.study")
        make_study(bench, study, long_walk(bench, folder, length))
        taken[f"{length:g}"] = measure([bench.lookfall, "cast", study, "--jobs", str(bench.jobs)])
        print(f"  walk of {length:g} minutes: {taken[f'{length:g}']['peak_mb']:.0f} MB, "
              f"{taken[f'{length:g}']['wall_s']:.0f} s")
    return taken


def read_options():
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--build", required=True)
    parser.add_argument("--renders", required=True)
    parser.add_argument("--repeat", type=int, default=3)
    parser.add_argument("--jobs", type=int, default=os.cpu_count())
    parser.add_argument("--tolerance", type=float, default=1)
    parser.add_argument("--memory", action="store_true")
    parser.add_argument("--minutes", default="5,60")
    parser.add_argument("--json")
    options = parser.parse_args()
    if options.repeat < 1 or options.jobs < 1:
        parser.error("--repeat and --jobs take 1 or more")
    return options


def processor():
    with open("/proc/cpuinfo") as file:
        names = [line.split(":", 1)[1].strip() for line in file if line.startswith("model name")]
    return names[0] if names else platform.machine()


def main():
    options = read_options()
    bench = Bench(options)
    print(f"{processor()}, {os.cpu_count()} cores, load before {os.getloadavg()[0]:.2f}; "
          f"{len(bench.walks)} walks, {bench.frames} frames; {options.repeat} runs of each, "
          f"interleaved: median (least-most)")
    taken = {way: [] for way in WAYS}
    result = {"frames": bench.frames, "jobs": bench.jobs, "processor": processor(), "runs": taken}
    with tempfile.TemporaryDirectory(prefix="lookfall-bench-") as folder:
        for video in bench.videos:  # into the page cache, for all alike
            with open(video, "rb") as file:
                while file.read(1 << 20):
                    pass
        for _ in range(options.repeat):
            for way in WAYS:
                taken[way].append(getattr(bench, way)(folder))
        print_times(taken, bench.frames)
        result["ratios"] = ratios(taken)
        print(f"\nwall time of cast: {spread(result['ratios']['cast_wall_of_decode'], 2)} of decoding only; "
              f"frame rate of cast: {spread(result['ratios']['cast_rate_of_afternoon'], 2)} of afternoon.py")
        result["scores"] = {way: bench.score(os.path.join(folder, way + ".csv"))
                            for way in ("afternoon", "cast")}
        print_scores(result["scores"], options.tolerance)
        if options.memory:
            result["memory"] = measure_memory(bench, folder,
                                              [float(m) for m in options.minutes.split(",")])
    if options.json:
        with open(options.json, "w") as file:
            json.dump(result, file, indent=1)


if __name__ == "__main__":
    main()
