"""The same verbs for a terminal."""
