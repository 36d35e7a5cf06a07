"""What is read in practice: invented words, for the first visit and for one's own voice."""

from __future__ import annotations

PROGRAMME_KEY = "practice"
"""Readings that are only practice go by this key; no programme of a station is meant."""

OPENING_WORDS = (
    "This is the {service}. This is a practice reading from {publication}, and {reader} is at the "
    "microphone."
)
PAGES = (
    (
        "The bench by the pond",
        "A new bench was set by the pond in Larch Lane on Monday. It is made of oak from a tree "
        "that fell in the storms of March. Two people can sit on it, or three who know one "
        "another well.",
    ),
    (
        "Bread on Thursdays",
        "The bakery in Quarry Street will bake on Thursdays again from next week. A large brown "
        "loaf is two pounds ten: two pounds and ten pence. Whoever comes after noon, the baker "
        "says, comes for the smell alone.",
    ),
)
"""Title and text of two pages, so that one has to be turned."""
CLOSING_WORDS = (
    "That was a practice reading from {publication}, read by {reader}. Nobody but you hears it."
)
