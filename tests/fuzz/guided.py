"""One target under atheris; libFuzzer's own options follow the name of the target."""

from __future__ import annotations

import signal
import sys


def main() -> None:
    """Does not return: libFuzzer ends the process."""
    import atheris

    with atheris.instrument_imports(include=["incircuit"]):
        from tests.fuzz.timed import stop, timed

    target = sys.argv.pop(1)
    signal.signal(signal.SIGPROF, stop)
    atheris.Setup(sys.argv, lambda data: bool(timed(target, data)) and None)
    atheris.Fuzz()


if __name__ == "__main__":
    main()
