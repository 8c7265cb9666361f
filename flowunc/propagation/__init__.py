"""Engines that evaluate a record: linear, Monte Carlo, and what follows from them."""
