"""`incircuit` and `python -m incircuit`."""

from __future__ import annotations


def main() -> None:
    """Run the command line; the process ends with its exit code."""
    from incircuit.cli.main import run

    run()


if __name__ == "__main__":
    main()
