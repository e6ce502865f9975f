"""A machine's report: what one would hand to a customer, as a page, as plain text and as tables."""
