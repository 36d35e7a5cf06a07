"""Measurements and findings: what can be said about a recording."""
