"""`incircuit` and `python -m incircuit`."""

from __future__ import annotations

import os
import sys


def main() -> None:
    """Run the command line; the process ends with its exit code."""
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # small matrices: threads only wait for each other
    try:
        from incircuit.interrupts import watch

        watch()  # imports have callbacks too
        from incircuit.cli.main import run

        run()
    except KeyboardInterrupt:  # before `run` could say so itself
        sys.exit(130)
    except Exception:
        from incircuit.interrupts import came

        if came():  # a class being made when it came is a RuntimeError to Python before 3.12
            sys.exit(130)
        raise


if __name__ == "__main__":
    main()
