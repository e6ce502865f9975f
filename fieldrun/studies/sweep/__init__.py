"""Many designs from one file: which points, what of each, kept as they come, on one core or many."""
