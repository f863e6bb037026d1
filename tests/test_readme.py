"""README.md shows what the program really prints.

Every ```console block is run: a line `$ incircuit …` is a command, the lines up to the next `$`
or the end of the block are what it must print, standard output and errors together, to the
letter. The table of kinds is the program's own list, the meter profile a file of examples/.
`python tests/test_readme.py` writes the real outputs and the real table into README.md.
"""

from __future__ import annotations

import json
import os
import re
import shlex
import subprocess
import sys
from pathlib import Path

import pytest

from incircuit.board.kinds import KINDS, KindSpec
from incircuit.story.words import STATE_FORMS

ROOT = Path(__file__).resolve().parent.parent
README = ROOT / "README.md"
BLOCK = re.compile(r"^```console\n(.*?)^```$", re.MULTILINE | re.DOTALL)
KINDS_TABLE = re.compile(r"(?<=<!-- kinds: ).*?(?=<!-- end of kinds -->)", re.DOTALL)
STATEMENTS_TABLE = re.compile(r"(?<=<!-- statements: ).*?(?=<!-- end of statements -->)", re.DOTALL)
HEADER = (
    "written by tests/test_readme.py from the program's own list -->\n"
    "| kind | what it is | pins | value | words | options |\n|---|---|---|---|---|---|\n"
)
PROMPT = "$ "


def commands_of(text: str) -> list[tuple[str, str]]:
    """(command line, shown output) of every console block, in order.

    >>> commands_of("```console\\n$ incircuit a\\none\\n\\ntwo\\n$ incircuit b\\n```\\n")
    [('incircuit a', 'one\\n\\ntwo\\n'), ('incircuit b', '')]
    """
    found: list[tuple[str, str]] = []
    for block in BLOCK.findall(text):
        for line in block.splitlines(keepends=True):
            if line.startswith(PROMPT):
                found.append((line[len(PROMPT) :].strip(), ""))
            elif not found:
                raise ValueError(f"output before any command: {line!r}")
            else:
                found[-1] = (found[-1][0], found[-1][1] + line)
    return found


def output_of(command: str) -> str:
    """What `incircuit …`, run from the repository root, prints."""
    program, *arguments = shlex.split(command)
    if program != "incircuit":
        raise ValueError(f"the README may only show `incircuit`, not {program!r}")
    environment = {**os.environ, "PYTHONPATH": str(ROOT), "PYTHONUTF8": "1", "COLUMNS": "100"}
    return subprocess.run(
        [sys.executable, "-m", "incircuit", *arguments],
        cwd=ROOT,
        env=environment,
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        encoding="utf-8",
        timeout=120,
        check=False,
    ).stdout


def with_real_outputs(text: str) -> str:
    """The text with every shown output replaced by the real one."""

    def renew(block: re.Match[str]) -> str:
        shown = (f"{PROMPT}{command}\n{output_of(command)}" for command, _ in commands_of(block[0]))
        return f"```console\n{''.join(shown)}```"

    return BLOCK.sub(renew, text)


def kind_row(spec: KindSpec) -> str:
    """One kind as a line of the README's table."""

    def code(words: tuple[str, ...], joint: str = " ") -> str:
        return joint.join(f"`{word}`" for word in words)

    layouts = " or ".join(code(pins) for pins in spec.layouts)
    pins = {"bare": "two nets", "named": layouts, "open": "any names"}[spec.style]
    if spec.style == "bare" and spec.layouts != (("1", "2"),):
        pins = f"two nets, or {' or '.join(code(p) for p in spec.layouts if p != ('1', '2'))}"
    optional = f"; if there: {code(spec.optional)}" if spec.optional else ""
    value = spec.unit if spec.value_required or not spec.unit else f"({spec.unit})"
    groups = "; ".join(code(group, ", ").replace("``", "no word") for group in spec.word_groups)
    options = code(tuple(f"{option.name}=" for option in spec.options))
    names = code((spec.name, *spec.aliases), ", ")
    return f"| {names} | {spec.doc} | {pins}{optional} | {value} | {groups} | {options} |\n"


def kinds_table() -> str:
    """The README's table of all kinds, as it must be."""
    return HEADER + "".join(kind_row(spec) for spec in KINDS.values())


def statements_table() -> str:
    """The README's table of what a readings file can say was done, as it must be."""
    rows = (f"| `{word} {' '.join(a.upper() for a in form.arguments)}` | {form.doc} | `{form.example}` |\n"
            for word, form in STATE_FORMS.items())
    return ("written by tests/test_readme.py from the program's own list -->\n"
            "| statement | what it says | example |\n|---|---|---|\n" + "".join(rows))


SHOWN = commands_of(README.read_text(encoding="utf-8"))


@pytest.mark.parametrize(("command", "shown"), SHOWN, ids=[command for command, _ in SHOWN])
def test_the_readme_shows_what_is_really_printed(command: str, shown: str) -> None:
    assert output_of(command) == shown


def test_the_tour_takes_every_command() -> None:
    verbs = {shlex.split(command)[1] for command, _ in SHOWN}
    assert verbs >= {"predict", "explain", "compare", "check", "judge", "meter", "marking"}


def test_the_table_of_kinds_is_the_programs_own() -> None:
    assert KINDS_TABLE.findall(README.read_text(encoding="utf-8")) == [kinds_table()]


def test_the_table_of_statements_is_the_programs_own() -> None:
    assert STATEMENTS_TABLE.findall(README.read_text(encoding="utf-8")) == [statements_table()]


def test_the_readings_file_shown_is_the_one_in_examples() -> None:
    story = (ROOT / "examples" / "gate-drive.readings").read_text(encoding="utf-8")
    lines = "".join(line for line in story.splitlines(keepends=True) if not line.startswith("#"))
    assert f"```text\n{lines}```" in README.read_text(encoding="utf-8")


def test_the_meter_profile_shown_is_the_one_in_examples() -> None:
    profile = (ROOT / "examples" / "bench-meter.toml").read_text(encoding="utf-8")
    assert f"```toml\n{profile}```" in README.read_text(encoding="utf-8")


def fields(value: object) -> set[str]:
    """Every field name in some JSON."""
    if isinstance(value, dict):
        return set(value) | set().union(*(fields(inner) for inner in value.values()))
    return set().union(*(fields(inner) for inner in value)) if isinstance(value, list) else set()


@pytest.mark.parametrize(
    ("verb", "rest"),
    [
        ("predict", "boards/pump-drive/gate-drive.board GATE DRV"),
        ("explain", "boards/pump-drive/gate-drive.board GATE DRV"),
        ("compare", "boards/pump-drive/gate-drive.board GATE DRV 0.011"),
        ("compare", "boards/pump-drive/gate-drive.board GATE RTN 47 --mode ohms"),
        ("judge", "boards/pump-drive/gate-drive.board examples/gate-drive.readings"),
        ("judge", "boards/pump-drive/boost-stage.board examples/boost-stage.readings"),
        ("discharge", "boards/battery-charger/battery-charger.board"),
        ("powerup", "boards/pump-drive/mains-input.board"),
        ("meter show", "handheld"),
        ("meter measure", "mine --leads 0.2 --ohms '10k 1%=9.98k' --diode '1k 1%=0.921'"),
        ("check", "examples/mistakes.board"),
    ],
)
def test_every_json_field_is_documented(verb: str, rest: str) -> None:
    answer = json.loads(output_of(f"incircuit {verb} {rest} --json"))
    assert answer["schema"] == 1
    section = README.read_text(encoding="utf-8").partition("\n## JSON\n")[2].partition("\n## ")[0]
    own = section.partition(f"\n`{verb} --json`")[2].partition(" --json`")[0] + '"schema"'
    like = {"compare": "predict", "powerup": "predict", "meter measure": "meter show"}
    whose = like.get(verb, verb)  # it says: as in …
    other = section.partition(f"\n`{whose} --json`")[2]
    assert {name for name in fields(answer) if not re.search(rf"\b{name}\b", own + other)} == set()


def test_a_wrong_output_would_be_seen() -> None:
    right = f"```console\n$ incircuit --version\n{output_of('incircuit --version')}```\n"
    wrong = right.replace("$ incircuit --version\n", "$ incircuit --version\nnot ")
    assert with_real_outputs(right) == right
    assert with_real_outputs(wrong) == right


if __name__ == "__main__":
    current = KINDS_TABLE.sub(lambda _: kinds_table(), README.read_text(encoding="utf-8"))
    current = STATEMENTS_TABLE.sub(lambda _: statements_table(), current)
    README.write_text(with_real_outputs(current), encoding="utf-8")
