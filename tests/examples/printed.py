"""What a command prints, run in this process: sixty processes of their own would load numpy sixty times."""

from __future__ import annotations

import os
import shlex
from pathlib import Path

from click.testing import CliRunner

from incircuit.cli.main import cli

ROOT = Path(__file__).resolve().parents[2]


def printed(command: str) -> str:
    """Output and errors of `incircuit …`, run from the root of the repository; only commands that succeed."""
    program, *arguments = shlex.split(command)
    assert program == "incircuit"
    before = Path.cwd()
    os.chdir(ROOT)
    try:
        result = CliRunner().invoke(cli, arguments, prog_name="incircuit", catch_exceptions=False)
    finally:
        os.chdir(before)
    assert result.exit_code == 0, result.output
    return result.output
