"""Power before and after the repair: what charge is left and how to take it away, and the first power-up."""
