"""Quietleaf: from the printed page to the air, for reading services."""
