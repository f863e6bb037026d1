"""What a reading means: the healthy board and each single fault, weighed by what was read."""
