"""``python -m tests.benchmarks``: the engine's figures as ratios, all taken in this one run."""

from __future__ import annotations

import os

import numpy as np

from incircuit.circuit.compiled import installed
from incircuit.circuit.cores import cores
from tests.benchmarks import again, floor, reference, startup

SLICE = 1000
"""Cases that ngspice solves; the others are the same work."""


def main() -> None:
    """Print every figure."""
    os.environ["INCIRCUIT_COMPILED"] = "0"
    work = reference.task()
    print(f"reference task: {work.network.size + 1} nets, {len(reference.RESISTORS)} resistors, "
          f"{len(work.network.junctions)} junctions, {work.cases:,} cases")
    columns = np.linspace(0, work.cases - 1, SLICE).astype(int)
    volts, altered, bare = reference.by_ngspice(work, columns)
    needed = floor.iterations(work)
    print(f"  ngspice in process: {altered * 1e6:.1f} us a case, values altered; {bare * 1e6:.1f} us bare op")
    print(f"  {needed:.2f} iterations a case; load {os.getloadavg()[0]:.1f}")
    for kernel in ("0", "1") if installed() else ("0",):
        os.environ["INCIRCUIT_COMPILED"] = kernel
        least = floor.seconds(work, needed)
        solution, took = reference.ours(work, 15)
        off = np.abs(volts - solution.pad_voltage[columns])
        within = (off <= 2e-5 + 1e-4 * np.abs(volts)).all()
        each = took / work.cases
        if kernel == "0":
            print(f"  numpy alone, one core: {each * 1e6:.3f} us a case, {altered / each:.0f} times ngspice")
        else:
            alone = one_core(work)
            own = floor.compiled_seconds(work, needed)
            print(f"  compiled kernel: {each * 1e6:.3f} us a case on {cores()} cores, {alone * 1e6:.3f} on "
                  f"one; {altered / each:.0f} and {altered / alone:.0f} times ngspice")
            print(f"    {took / own:.1f} times the same arithmetic compiled, {own / work.cases * 1e6:.3f} us")
            least /= cores()
        print(f"    {took / least:.1f} times the arithmetic by numpy, {least / work.cases * 1e6:.3f} us on "
              "as many cores")
        print(f"    answers {off.max() * 1e6:.2f} uV apart at most, {'all' if within else 'NOT all'} "
              "within 20 uV + 0.01 %")
    os.environ["INCIRCUIT_COMPILED"] = "0"
    print("a story of ten readings that grows, fifteen parts")
    for story, what in (("fifteen.readings", "one fault"), ("two-faults.readings", "two faults")):
        at_once, more, same = again.ratios(story)
        print(f"  {what}: {at_once:.2f} s of processor time at once; a reading more {more:.2f} of that, "
              f"nothing new {same:.2f}")
    print("whole processes")
    for name, (seconds, ratio) in startup.table().items():
        print(f"  {name:44} {seconds:6.2f} s  {ratio:5.1f} times the imports")


def one_core(work: reference.Task) -> float:
    """Seconds a case on one core."""
    before = os.environ.get("INCIRCUIT_CORES")
    os.environ["INCIRCUIT_CORES"] = "1"
    try:
        return reference.ours(work, 7)[1] / work.cases
    finally:
        os.environ.pop("INCIRCUIT_CORES")
        if before:
            os.environ["INCIRCUIT_CORES"] = before


if __name__ == "__main__":
    main()
