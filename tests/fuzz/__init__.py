"""Fuzzing of everything a user can hand over as a file; `python -m tests.fuzz` runs it, see `__main__`."""
