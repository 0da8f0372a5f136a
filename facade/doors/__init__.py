"""What follows from a front for each of its doors: weight, swing, cup, fit in the opening."""
