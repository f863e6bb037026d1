"""A verdict from the whole bench story: every reading as evidence, every fault as a hypothesis.

`scenes` turns the story into circuits and readings, `faults` lists what could be wrong, `joint` gives the
probability of all readings together, `search` finds the hypotheses that explain them, `slips` what the
hand may have done, `ruling` says what that means for every part.
"""
