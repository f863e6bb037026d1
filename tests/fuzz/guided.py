"""One target under atheris; libFuzzer's own options follow the name of the target."""

from __future__ import annotations

import sys


def main() -> None:
    """Does not return: libFuzzer ends the process."""
    import atheris

    with atheris.instrument_imports(include=["incircuit"]):
        from tests.fuzz.targets import run

    target = sys.argv.pop(1)
    atheris.Setup(sys.argv, lambda data: bool(run(target, data)) and None)
    atheris.Fuzz()


if __name__ == "__main__":
    main()
