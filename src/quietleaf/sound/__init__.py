"""Arithmetic on sample arrays; knows nothing of programmes."""
