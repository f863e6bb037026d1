"""The command line: parse, call the library, show. No electronics here.

Nothing heavy is imported before a command runs, so that `--help` answers at once.
"""

from __future__ import annotations

import os
import sys

import click

import incircuit
from incircuit.cli.check import check
from incircuit.cli.compare import compare
from incircuit.cli.explain import explain
from incircuit.cli.predict import predict
from incircuit.errors import IncircuitError

CAUTION = (
    "Unplug, wait, discharge the capacitors and verify with the meter on volts before you touch the board. "
    "Local codes and licensed practice come first."
)


@click.group(epilog=CAUTION,
             context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
@click.version_option(incircuit.__version__, prog_name="incircuit")
def cli() -> None:
    """What a meter should show on a dead board, in place, and what a reading means.

    BOARD is a text file with a few parts and nets, RED and BLACK are pads: a net (GATE) or a pin (D3.K).
    """


for command in (predict, explain, compare, check):
    cli.add_command(command)


def run() -> None:
    """Run and exit: 0 done, 1 `check` has warnings, 2 something to mend, 130 interrupted."""
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            # a C locale must not turn an ohm sign into a crash
            stream.reconfigure(encoding="utf-8", errors="replace")
    sys.exit(_guarded())


def _guarded() -> int:
    """The exit code; every error a user can mend is one message and no traceback."""
    try:
        cli(standalone_mode=False)
        sys.stdout.flush()
    except IncircuitError as error:
        return _told(str(error), error.exit_code)
    except click.ClickException as error:
        error.show()
        return error.exit_code
    except (click.Abort, KeyboardInterrupt):
        return _told("interrupted", 130)
    except BrokenPipeError:
        # whoever read our output has seen enough; nothing may be written at exit any more
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
    except MemoryError:
        return _told("not enough memory for this board: describe only the neighbourhood you measure in", 2)
    except RecursionError:
        return _told("this board is linked too deep: describe only the neighbourhood you measure in", 2)
    except OSError as error:
        return _told(f"cannot write the answer: {error.strerror}", 2)
    return 0


def _told(message: str, code: int) -> int:
    try:
        click.echo(message, err=True)
    except OSError:
        return code  # nobody listens
    return code
