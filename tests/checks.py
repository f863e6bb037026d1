"""Everything CI checks, in one place: `python tests/checks.py`, from any directory.

Stops at the first check that fails and returns its exit code. `--quick` only shows that the tools
are there and that every test can be collected; it runs none of them.
"""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
PYTHON = sys.executable
IMPORT_CONTRACT = str(Path(PYTHON).parent / "lint-imports")

CHECKS = (
    (PYTHON, "-m", "ruff", "check", "."),
    (IMPORT_CONTRACT,),
    (PYTHON, "-m", "mypy"),
    (PYTHON, "-m", "pytest", "-n", "2"),
)
QUICK = (
    (PYTHON, "-m", "ruff", "--version"),
    (IMPORT_CONTRACT, "--help"),
    (PYTHON, "-m", "mypy", "--version"),
    (PYTHON, "-m", "pytest", "--collect-only", "-q"),
)


def run(checks: tuple[tuple[str, ...], ...]) -> int:
    """Run the commands in order; the exit code of the first that fails, or 0."""
    for check in checks:
        print("+", Path(check[0]).name, *check[1:], flush=True)
        code = subprocess.run(check, cwd=ROOT, check=False).returncode
        if code:
            print(f"failed with exit code {code}: {' '.join(check)}", file=sys.stderr)
            return code
    return 0


if __name__ == "__main__":
    sys.exit(run(QUICK if "--quick" in sys.argv[1:] else CHECKS))
