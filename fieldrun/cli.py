"""Arguments, exit codes, messages: nothing else."""
