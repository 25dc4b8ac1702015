"""Networkx graphs of plantings through time and space."""
