"""The command line: parse, call the library, show. No electronics here.

Nothing heavy is imported before a command runs, so that `--help` answers at once.
"""

from __future__ import annotations

import os
import sys

import click

import incircuit
from incircuit.cli.bench import bench
from incircuit.cli.check import check
from incircuit.cli.compare import compare
from incircuit.cli.discharge import discharge
from incircuit.cli.draw import draw
from incircuit.cli.drill import drill
from incircuit.cli.explain import explain
from incircuit.cli.judge import judge, show_verdict
from incircuit.cli.marking import marking
from incircuit.cli.meter import meter
from incircuit.cli.netlists import bring_in, export
from incircuit.cli.new import new
from incircuit.cli.next import following
from incircuit.cli.pads import pads
from incircuit.cli.powerup import powerup
from incircuit.cli.predict import predict
from incircuit.cli.record import make_record
from incircuit.cli.report import report
from incircuit.cli.survey import survey
from incircuit.cli.worksheet import worksheet
from incircuit.errors import IncircuitError
from incircuit.interrupts import came, rest

CAUTION = (
    "Unplug, wait, discharge the capacitors and verify with the meter on volts before you touch the board. "
    "Local codes and licensed practice come first."
)


class InOrder(click.Group):
    """A group that lists its commands in the order of the work, not of the alphabet."""

    def list_commands(self, ctx: click.Context) -> list[str]:  # noqa: ARG002  click hands it over
        """Names in the order they were added."""
        return list(self.commands)


@click.group(cls=InOrder, epilog=CAUTION, invoke_without_command=True,
             context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
@click.version_option(incircuit.__version__, prog_name="incircuit")
@click.pass_context
def cli(ctx: click.Context) -> None:
    """What a meter should show on a dead board, in place, and what a reading means.

    BOARD is a text file with a few parts and nets, RED and BLACK are pads: a net (GATE) or a pin (D3.K).
    """
    if ctx.invoked_subcommand is None:
        click.echo(ctx.get_help())


for command, line in (
    (discharge, "What the capacitors hold after the plug is out, and how to empty them."),
    (new, "Begin a board file with a commented one."),
    (check, "Did I type my board right? Everything that looks wrong, at once."),
    (predict, "What should the meter show here if all is well?"),
    (explain, "Why? Who carries the current, what can this reading not see?"),
    (compare, "I read this: what does it mean?"),
    (make_record(show_verdict), "Add a reading, or what was done, to a readings file."),
    (judge, "What do all my readings together mean, part by part?"),
    (following, "What do I do next? The telling reading, or the lead to lift."),
    (survey, "Which faults can be judged in place, and what must be lifted?"),
    (worksheet, "The shortest list of readings that shows every fault."),
    (powerup, "The first power-up after the repair, step by step, with voltages to expect."),
    (draw, "A picture: the circuit, the probes, who carries the current; SVG or PNG."),
    (report, "The job record: one page of what was read, concluded and replaced."),
    (pads, "Where do I put the probes for a part?"),
    (meter, "The meters there are, and a profile of your own."),
    (marking, "What is printed on the part?"),
    (drill, "Practise on a bench with a hidden fault, or none."),
    (bring_in, "Make a board file of a SPICE deck or a schematic's netlist."),
    (export, "One reading as a SPICE deck, for another program to check."),
    (bench, "All of this on one page in the browser."),
):
    command.short_help = line
    cli.add_command(command)


def run() -> None:
    """Run and exit.

    0 done, 1 `check` has warnings, 2 something to mend, 3 a fault of the program, 130 interrupted.
    """
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            # a C locale must not turn an ohm sign into a crash
            stream.reconfigure(encoding="utf-8", errors="replace")
    code = _guarded()
    rest()
    sys.exit(code)


def _guarded() -> int:
    """The exit code; every error is one message and no traceback."""
    try:
        code = cli(prog_name="incircuit", standalone_mode=False)
        if sys.stdout is not None:
            sys.stdout.flush()
        if came() and code != 130:  # a library dropped it
            return _told("interrupted", 130)
        return code if isinstance(code, int) else 0
    except IncircuitError as error:
        return _told(str(error), error.exit_code)
    except click.UsageError as error:
        asked = error.ctx.command_path if error.ctx else "incircuit"
        return _told(f"{error.format_message().rstrip('.')}: see {asked} --help", 2)
    except (click.Abort, KeyboardInterrupt):
        return _told("interrupted", 130)
    except BrokenPipeError:
        return _silenced(0)  # whoever read our output has seen enough
    except OSError as error:
        return _silenced(_told(f"the answer cannot be written: {error.strerror}", 2))
    except (MemoryError, RecursionError):
        return _told("too large for this machine: describe only the neighbourhood you measure in", 2)
    except Exception as error:  # the last resort; `python -X dev` shows the traceback
        if sys.flags.dev_mode:
            raise
        if came():  # a library made something else of it
            return _told("interrupted", 130)
        return _told(f"a fault of this program, please report it with the board file: {error!r}", 3)


def _silenced(code: int) -> int:
    """What is left in the buffer goes nowhere, so that the end of the process does not complain."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    return code


def _told(message: str, code: int) -> int:
    try:
        click.echo(message, err=True)
    except OSError:
        return code  # nobody listens
    return code
