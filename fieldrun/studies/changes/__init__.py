"""What to change: one thing at a time, what it does to the first wind that charges and to a year, and what it takes."""
