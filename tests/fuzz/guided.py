"""One target under atheris; libFuzzer's own options follow the name of the target."""

from __future__ import annotations

import sys

import atheris

with atheris.instrument_imports(include=["incircuit"]):
    from tests.fuzz.targets import run


if __name__ == "__main__":
    target = sys.argv.pop(1)
    atheris.Setup(sys.argv, lambda data: bool(run(target, data)) and None)
    atheris.Fuzz()
