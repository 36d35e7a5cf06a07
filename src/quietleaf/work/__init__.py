"""The verbs: one thing that a person can ask for in each module."""
