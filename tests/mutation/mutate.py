#!/usr/bin/env python3
"""Changes one constant or operator at a time and tells whether the tests notice.

  python3 tests/mutation/mutate.py [--seed N] [--count N] [--room parser/nc ...] [--build DIR]

Works on a copy of the tree in DIR (default build-mutation), never on the tree itself. The places are
drawn by the seed from parser and sim in turn, one a file as long as there are files; the room's own
test programs are built and run. Prints a row a place. Left out: headers (most of their constants
are starting values), the kernels of sim/stock (minutes to compile), and places that do not compile (drawn anew)."""
import argparse
import os
import pathlib
import random
import re
import shutil
import subprocess
import sys
import time

ROOT = pathlib.Path(__file__).resolve().parents[2]
# The room's own tests first: what they do not notice, the tests of whole jobs may.
TESTS = {
    "parser/base": ["parser_nc_tests", "parser_job_tests"],
    "parser/job": ["parser_job_tests"],
    "parser/nc": ["parser_nc_tests"],
    "sim/after": ["sim_after_tests"],
    "sim/cutting": ["sim_cutting_tests", "sim_pipeline_tests"],
    "sim/checks": ["sim_checks_tests", "sim_pipeline_tests"],
    "sim/measure": ["sim_measure_tests", "sim_pipeline_tests"],
    "parser/mesh": ["parser_mesh_tests"],
    "sim/run": ["sim_run_tests"],
    "sim/pipeline": ["sim_pipeline_tests"],
    "sim/setup": ["sim_setup_tests", "sim_pipeline_tests"],
    "sim/stock": ["sim_stock_tests", "sim_pipeline_tests"],
    "sim/timing": ["sim_timing_tests", "sim_after_tests"],
    "sim/solid": ["sim_stock_tests", "sim_pipeline_tests"],
}
SWAPS = [(" < ", " <= "), (" <= ", " < "), (" > ", " >= "), (" >= ", " > "), (" == ", " != "), (" != ", " == "),
         (" + ", " - "), (" - ", " + "), (" * ", " / "), (" / ", " * "), (" && ", " || "), (" || ", " && "),
         ("std::min(", "std::max("), ("std::max(", "std::min("), ("return true;", "return false;"),
         ("return false;", "return true;")]
NUMBER = re.compile(r"(?<![\w.\"'])(\d+\.\d+(?:e-?\d+)?|\d+e-?\d+|\d+)(?![\w.'\"])")


def blank(match):
    return re.sub(r"[^\n]", " ", match.group(0))


def code_only(text):
    """The text with comments, strings and preprocessor lines blanked, so that places stay places."""
    token = re.compile(r'//[^\n]*|/\*.*?\*/|"(?:\\.|[^"\\\n])*"|\'(?:\\.|[^\'\\\n])*\'|^[ \t]*#[^\n]*|static_assert[^\n]*',
                       re.S | re.M)
    return token.sub(blank, text)


def places(path):
    code = code_only(path.read_text())
    for old, new in SWAPS:
        at = code.find(old)
        while at >= 0:
            yield at, old, new
            at = code.find(old, at + 1)
    for match in NUMBER.finditer(code):
        old = match.group(1)
        if "." in old or "e" in old:
            new = repr(float(old) * 2 + (1 if float(old) == 0 else 0))
        else:
            new = str(int(old) + 1)
        yield match.start(1), old, new


def draw(rooms, seed):
    """Endless: layers in turn, each file once before any comes again."""
    rng = random.Random(seed)
    files = {}
    for room in rooms:
        for path in sorted((ROOT / room).glob("*.cpp")):
            if not path.name.startswith("kernel"):
                files.setdefault(room.split("/")[0], []).append(path)
    while True:
        round_of = {layer: rng.sample(all_of, len(all_of)) for layer, all_of in sorted(files.items())}
        for k in range(max(map(len, round_of.values()))):
            for layer in round_of:
                path = round_of[layer][k % len(round_of[layer])]
                found = list(places(path))
                if found:
                    yield (path.relative_to(ROOT), *rng.choice(found))


def call(words, seconds=None, **more):
    try:
        return subprocess.run(words, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, timeout=seconds, text=True,
                              errors="replace", **more)
    except subprocess.TimeoutExpired:
        return None


def first_failure(run):
    if run is None:
        return "ran into its time limit"
    found = re.search(r"\[  FAILED  \] ([\w./]+)", run.stdout)
    return found.group(1) if found else f"status {run.returncode}"


class Copy:
    """A copy of the tree, its build, and how long each test program takes unchanged."""

    def __init__(self, build, jobs):
        self.tree, self.build, self.jobs = build, build / "build", jobs
        self.limit = {}
        names = subprocess.run(["git", "ls-files", "-co", "--exclude-standard"], cwd=ROOT, check=True, text=True,
                               stdout=subprocess.PIPE).stdout.split("\n")
        for name in filter(None, names):
            source, target = ROOT / name, self.tree / name
            if not source.is_file() or (target.exists() and target.read_bytes() == source.read_bytes()):
                continue
            target.parent.mkdir(parents=True, exist_ok=True)
            shutil.copyfile(source, target)
        data = [f"-DPROVEOUT_{k}={ROOT.parent / 'shared' / v}" for k, v in
                (("FIELD_DATA", "field-data"), ("REFERENCE_DATA", "reference/nist-report"))
                if (ROOT.parent / "shared" / v).exists()]
        done = call(["cmake", "-S", str(self.tree), "-B", str(self.build), "-DPROVEOUT_TESTS=ON", "-DPROVEOUT_PAGE=OFF",
                     *data])
        if done.returncode:
            sys.exit(done.stdout)

    def compile(self, target):
        return call(["cmake", "--build", str(self.build), f"-j{self.jobs}", "--target", target])

    def run(self, target):
        return call([str(self.build / "tests" / target), "--gtest_brief=1", "--gtest_fail_fast"],
                    self.limit.get(target, 900), env={**os.environ, "PROVEOUT_SOAK": "5"})

    def must_pass(self, target):
        if target in self.limit:
            return
        done = self.compile(target)
        if done.returncode:
            sys.exit(done.stdout[-4000:])
        start = time.monotonic()
        done = self.run(target)
        if done is None or done.returncode:
            sys.exit(f"{target} fails before anything is changed: {first_failure(done)}")
        self.limit[target] = 30 + 10 * (time.monotonic() - start)

    def try_change(self, name, at, old, new):
        """Where it was noticed, '' if nowhere, None if it does not compile."""
        targets = TESTS[str(pathlib.PurePath(name).parent)]
        for target in targets:
            self.must_pass(target)
        path = self.tree / name
        text = path.read_text()
        assert text[at:at + len(old)] == old, (name, at)
        path.write_text(text[:at] + new + text[at + len(old):])
        try:
            for target in targets:
                if self.compile(target).returncode:
                    return None
                done = self.run(target)
                if done is None or done.returncode:
                    return first_failure(done)
            return ""
        finally:
            path.write_text(text)


def main():
    words = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    words.add_argument("--seed", type=int, default=1)
    words.add_argument("--count", type=int, default=20)
    words.add_argument("--room", action="append", choices=sorted(TESTS))
    words.add_argument("--build", type=pathlib.Path, default=ROOT / "build-mutation")
    words.add_argument("--jobs", type=int, default=os.cpu_count())
    options = words.parse_args()
    copy = Copy(options.build.resolve(), options.jobs)
    noticed = tried = 0
    print("| place | change | noticed by |\n|---|---|---|", flush=True)
    for name, at, old, new in draw(options.room or sorted(TESTS), options.seed):
        if tried == options.count:
            break
        where = copy.try_change(name, at, old, new)
        if where is None:
            continue
        tried += 1
        noticed += bool(where)
        line = (ROOT / name).read_text().count("\n", 0, at) + 1
        print(f"| {name}:{line} | `{old.strip()}` -> `{new.strip()}` | {where or '**nothing**'} |".replace(" || ", " or "),
              flush=True)
    print(f"\n{noticed} of {tried} noticed, seed {options.seed}")


if __name__ == "__main__":
    main()
