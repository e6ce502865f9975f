"""Questions about whole machines that one run does not answer: which way of computing to trust, what to change."""
