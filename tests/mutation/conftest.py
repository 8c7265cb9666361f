"""Mutation testing is asked for by hand; its files are no tests, and need cosmic-ray."""

collect_ignore = ["mutants.py", "run_mutants.py"]
