"""What is printed on a part: marks ⇄ values, every meaning of an ambiguous one.

`read_mark` reads, `marks_of` and `capacitor_marks_of` write; `series` holds the preferred values,
`tables` the colours and letters with their sources.
"""

from incircuit.marking.model import CapacitorMarks, Marks, Meaning, Printed, Tolerance
from incircuit.marking.read import read_mark
from incircuit.marking.series import SERIES, nearest, neighbours, series_of
from incircuit.marking.write import capacitor_marks_of, marks_of, plain

__all__ = [
    "SERIES",
    "CapacitorMarks",
    "Marks",
    "Meaning",
    "Printed",
    "Tolerance",
    "capacitor_marks_of",
    "marks_of",
    "nearest",
    "neighbours",
    "plain",
    "read_mark",
    "series_of",
]
