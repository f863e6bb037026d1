"""The graph's answers: which parts can matter to a reading, and which carry the meter's current."""
