"""Kinds of part → elements, defects, and data with sources."""

from incircuit.parts.change import change
from incircuit.parts.defects import Defect, Magnitude, defects_of
from incircuit.parts.expand import EXPANDERS, alike_group, check_parts, expand, expand_all
from incircuit.parts.faults import Fault, parse_fault
from incircuit.parts.priors import prior

__all__ = ["EXPANDERS", "Defect", "Fault", "Magnitude", "alike_group", "change", "check_parts", "defects_of",
           "expand", "expand_all", "parse_fault", "prior"]
