"""``python -m tests.fuzz [COUNT] [SEED] [TARGET …]``: a million inputs, unless told otherwise.

Where atheris is installed (``pip install atheris``) half of them are guided by coverage; the others are
mutations that still look like files. A traceback, 5 s for one input (of the processor, or sixty times
of waiting) or 500 MB end in a file under ``tests/fuzz/found`` and exit code 1; what has been mended moves
to ``tests/fuzz/corpus``, where CI runs it.
"""

from __future__ import annotations

import importlib.util
import random
import resource
import signal
import subprocess
import sys
import time
import traceback
from hashlib import sha256
from pathlib import Path

from tests.fuzz.mutate import mutated
from tests.fuzz.targets import TARGETS, seeds
from tests.fuzz.timed import SECONDS, Hang, stop, timed

HERE = Path(__file__).resolve().parent
FOUND = HERE / "found"
MEGABYTES = 500
JUDGED = 1000
"""One input in so many goes through the whole of judge, which takes a second."""


def plain(target: str, count: int, seed: int) -> int:
    """Seeded mutations in this process; the number of findings."""
    signal.signal(signal.SIGALRM, stop)
    signal.signal(signal.SIGPROF, stop)
    rng, start = random.Random(f"{target} {seed}"), seeds(target)
    found = accepted = 0
    slowest, begin = 0.0, time.perf_counter()
    for number in range(1, count + 1):
        data = mutated(start, rng)
        before = time.process_time()
        signal.alarm(60 * SECONDS)  # a busy machine is no finding
        try:
            accepted += timed(target, data)
        except (Exception, Hang):  # noqa: BLE001
            found += 1
            keep(target, data, traceback.format_exc())
        finally:
            signal.alarm(0)
        slowest = max(slowest, time.process_time() - before)
        if number % 1000 == 0 or number == count:
            rate = number / (time.perf_counter() - begin)
            print(f"\r{target}: {number:,} of {count:,}, {accepted:,} accepted, {found} found, slowest "
                  f"{slowest:.2f} s, {rate:,.0f}/s ", end="", file=sys.stderr, flush=True)
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0
    print(f"\n{target}: {count:,} mutations, {found} found, slowest {slowest:.2f} s, peak {peak:.0f} MB")
    return found + (peak > MEGABYTES)


def keep(target: str, data: bytes, said: str) -> None:
    """Write a finding where it can be looked at."""
    FOUND.mkdir(exist_ok=True)
    name = f"{target}-{sha256(data).hexdigest()[:12]}"
    (FOUND / name).write_bytes(data)
    (FOUND / f"{name}.txt").write_text(said, encoding="utf-8")
    print(f"\nfound: tests/fuzz/found/{name}: {said.strip().splitlines()[-1]}", file=sys.stderr)


def guided(target: str, count: int, seed: int) -> int:
    """Coverage-guided inputs in a process of their own; 1 where something was found."""
    FOUND.mkdir(exist_ok=True)
    corpus = FOUND / f"seeds-{target}"
    corpus.mkdir(exist_ok=True)
    for data in seeds(target):
        (corpus / sha256(data).hexdigest()[:12]).write_bytes(data)
    limits = [f"-runs={count}", f"-seed={seed + 1}", f"-timeout={60 * SECONDS}", f"-rss_limit_mb={MEGABYTES}",
              f"-artifact_prefix={FOUND}/{target}-", "-max_len=8192", "-verbosity=0", "-print_final_stats=1"]
    done = subprocess.run([sys.executable, "-m", "tests.fuzz.guided", target, *limits, str(corpus)],
                          cwd=HERE.parent.parent, check=False)
    print(f"{target}: {count:,} guided by coverage, exit code {done.returncode}")
    return int(done.returncode != 0)


def main(arguments: list[str]) -> int:
    """Run all or some targets; the exit code."""
    numbers = [int(a) for a in arguments if a.isdigit()]
    count, seed = (numbers + [1_000_000, 0][len(numbers):])[:2]
    targets = [a for a in arguments if a in TARGETS] or list(TARGETS)
    parsers = [t for t in targets if t != "judge"]
    share = {t: count // max(1, len(parsers)) for t in parsers}
    if "judge" in targets:
        share["judge"] = count // JUDGED if parsers else count
    by_coverage = importlib.util.find_spec("atheris") is not None
    found = 0
    for target, inputs in share.items():
        half = inputs // 2 if by_coverage and target != "judge" else 0
        found += plain(target, inputs - half, seed)
        if half:
            found += guided(target, half, seed)
    print(f"{sum(share.values()):,} inputs, {found or 'nothing'} found")
    return 1 if found else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
