"""`incircuit meter`: the shipped profiles, what a profile means, and a profile of your own."""

from __future__ import annotations

import os
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import click

from incircuit.cli.text import columns, paragraph, say_json

if TYPE_CHECKING:
    from incircuit.meter.known import Second
    from incircuit.meter.measured import Looked
    from incircuit.meter.profile import Meter

JSON = click.option("--json", "as_json", is_flag=True, help="For programs; SI units, schema 1.")


@click.group()
def meter() -> None:
    """Meters: the ones that come with the program, and your own."""


@meter.command("list")
@JSON
def list_meters(as_json: bool) -> None:
    """The meters that come with the program, one line each."""
    from incircuit.meter.profile import load_meter, shipped_meters
    from incircuit.meter.sheet import in_short, meter_sheet

    found = [load_meter(name) for name in shipped_meters()]
    if as_json:
        say_json({"meters": [meter_sheet(m) for m in found]})
    else:
        click.echo(columns(("meter", "behaves like"), [(m.name, in_short(m)) for m in found]))


@meter.command(epilog="Example: incircuit meter show handheld")
@click.argument("name", metavar="NAME|FILE")
@JSON
def show(name: str, as_json: bool) -> None:
    """What a meter puts out and what it shows, per mode and range."""
    from incircuit.meter.profile import load_meter
    from incircuit.meter.sheet import meter_sheet

    found = load_meter(name)
    if as_json:
        say_json(meter_sheet(found))
    else:
        click.echo(meter_text(found))


@meter.command(epilog='Example: incircuit meter measure my-meter --leads 0.2 --ohms "100R 1%=100.4" '
                      '--ohms "10k 1%=9.98k" --diode "1k 1%=0.921" --diode-open 2.81V -o my-meter.toml')
@click.argument("name")
@click.option("--base", default="handheld", show_default=True, metavar="NAME|FILE",
              help="The meter most like yours; what is not measured is taken from it.")
@click.option("--leads", metavar="SHOWN", help="What ohms shows with the probes held together.")
@click.option("--ohms", multiple=True, metavar='"R TOL=SHOWN"',
              help='A known resistor as ohms shows it: "10R 1%=10.3". Without tolerance: 5 %. Repeatable.')
@click.option("--diode", multiple=True, metavar='"R TOL=SHOWN"',
              help='A known resistor as the diode test shows it: "1k 1%=0.921". Repeatable.')
@click.option("--diode-current", metavar="AMPS", help="Diode test into a second meter's milliamps: 0.920mA.")
@click.option("--diode-open", metavar="VOLTS", help="Diode test into a second meter's volts: 2.81V.")
@click.option("--ohms-current", multiple=True, metavar="RANGE=AMPS",
              help="A range of ohms, named by its full scale, into milliamps: 400=0.680mA. Repeatable.")
@click.option("--ohms-open", multiple=True, metavar="[RANGE=]VOLTS",
              help="The same into volts: 400=1.10V, or for all ranges 1.10V; below zero where red is minus.")
@click.option("--second", nargs=2, type=float, metavar="PERCENT DIGITS",
              help="Accuracy of the second meter (default: 1 2).")
@click.option("--manual", "trusted", is_flag=True,
              help="The base has the accuracy your meter's manual states: it holds unless a reading differs.")
@click.option("-o", "out", metavar="FILE", help="Where the profile goes; without it, nothing is written.")
@click.option("--force", is_flag=True, help="Write over FILE if it is there.")
@JSON
def measure(name: str, base: str, trusted: bool, out: str | None, force: bool, as_json: bool,
            **typed: Any) -> None:
    """A profile of your own meter from a few known resistors, and a second meter if you have one.

    Type all digits the displays show, the last zero too. Nothing else is connected meanwhile. The
    profile says how far each figure can be trusted.
    """
    from incircuit.meter.findings import findings, measured_sheet, profile_of
    from incircuit.meter.measured import measured_meter
    from incircuit.meter.profile import load_meter

    found = measured_meter(name, load_meter(base), looked_at(**typed), trusted)
    profile = profile_of(found)
    if out is not None:
        write_new(out, profile, force)
    if as_json:
        say_json({**measured_sheet(found), "profile": profile, "file": out})
        return
    click.echo("\n".join(paragraph(line, after="  ") for line in findings(found)))
    use = f"Written to {out}: use it with --meter {out}, or the line `meter {out}` in a readings file."
    none = f"Nothing is written yet: -o {name}.toml writes the profile."
    click.echo("\n" + paragraph(use if out else none))


def looked_at(leads: str | None, ohms: tuple[str, ...], diode: tuple[str, ...], diode_current: str | None,
              diode_open: str | None, ohms_current: tuple[str, ...], ohms_open: tuple[str, ...],
              second: tuple[float, float] | None) -> Looked:
    """What was measured, from the options. Raises MeterError, whose message begins with the option."""
    from incircuit.errors import MeterError
    from incircuit.meter.known import (
        SECOND_DIGITS,
        SECOND_PERCENT,
        parse_known,
        parse_leads,
        parse_second,
    )
    from incircuit.meter.measured import Looked

    percent, digits = second or (SECOND_PERCENT, SECOND_DIGITS)
    if not (0.0 <= percent <= 20.0 and 0.0 <= digits <= 100.0):
        raise MeterError("--second: expected percent from 0 to 20 and digits from 0 to 100")

    def one(option: str, text: str | None, unit: str) -> Second | None:
        return None if text is None else named(option, parse_second, text, unit, percent, digits)

    currents = by_range("--ohms-current", ohms_current, lambda text: one("--ohms-current", text, "A"))
    if None in currents:
        raise MeterError("--ohms-current: say on which range, by its full scale, such as 400=0.680mA")
    known = [named("--ohms", parse_known, text, "ohms") for text in ohms]
    return Looked(
        known if leads is None else [*known, named("--leads", parse_leads, leads)],
        [named("--diode", parse_known, text, "diode") for text in diode],
        one("--diode-current", diode_current, "A"), one("--diode-open", diode_open, "V"),
        {scale: figure for scale, figure in currents.items() if scale is not None},
        by_range("--ohms-open", ohms_open, lambda text: one("--ohms-open", text, "V")),
    )


def by_range(option: str, typed: tuple[str, ...], read: Callable[[str], Any]) -> dict[float | None, Any]:
    """Figures by full scale [Ω], None for all ranges. Raises MeterError where a range comes twice."""
    from incircuit.errors import MeterError
    from incircuit.meter.known import of_range

    found: dict[float | None, Any] = {}
    for text in typed:
        scale, figure = named(option, of_range, text)
        if scale in found:
            raise MeterError(f"{option} {text}: this range is given twice")
        found[scale] = read(figure)
    return found


def named(option: str, read: Callable[..., Any], *arguments: object) -> Any:
    """What `read` makes of the arguments; its complaint begins with the option."""
    from incircuit.errors import MeterError

    try:
        return read(*arguments)
    except MeterError as error:
        raise MeterError(f"{option} {error}") from None


def write_new(path: str, text: str, force: bool) -> None:
    """Write a file whole or not at all; one that is there stays, unless `force`. Raises MeterError."""
    from incircuit.errors import MeterError
    from incircuit.units import shown

    if os.path.isdir(path):
        raise MeterError(f"{shown(path)}: is a directory, name a file")
    part = f"{path}.{os.getpid()}.part"
    try:
        with open(part, "x", encoding="utf-8") as file:
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
        try:
            if force:
                os.replace(part, path)
            else:
                os.link(part, path)  # fails where the name is taken, also by another process just now
        finally:
            if os.path.exists(part):
                os.unlink(part)
    except FileExistsError:
        raise MeterError(f"{shown(path)}: is there already, name another file or add --force") from None
    except (OSError, ValueError) as error:
        reason = error.strerror if isinstance(error, OSError) else "no name for a file"
        raise MeterError(f"{shown(path)}: cannot be written: {reason}") from None


def meter_text(m: Meter) -> str:
    """A profile in plain words."""
    from incircuit.meter.sheet import mode_lines, range_rows

    lines = [paragraph(f"{m.name}: {m.source}."),
             f"Leads {m.lead_resistance:g} Ω together, {m.updates_per_second:g} readings a second."]
    for mode, said in mode_lines(m):
        lines += ["", paragraph(f"{mode}: {said}", after="  ")]
        if mode == "ohms" and m.ohms:
            head = ("range", "puts out", "open circuit", "at full scale", "last digit", "accuracy")
            lines.append(columns(head, range_rows(m.ohms)))
    return "\n".join(lines)
