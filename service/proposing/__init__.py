"""Proposals over every door: the solver in a process of its own, its answer as text, JSON and a plan."""
