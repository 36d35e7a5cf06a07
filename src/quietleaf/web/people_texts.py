"""The words of the pages on what is kept about people."""

from __future__ import annotations

from quietleaf.delivery.report_words import counted
from quietleaf.planning.words import names_in_words
from quietleaf.work.persons import Person

PEOPLE = "What is kept about people"
LEAD = "Everybody who reads or has read here, or has an account."
PAGES = "Pages of people"
EXPORT = "Save it all as a file"
ERASE = "Erase this person"
ERASE_ASK = (
    "The account, links, tokens, messages’ texts and pace go, and in the plan and the index a "
    "neutral word takes the name’s place. This cannot be taken back. Recordings are the station’s "
    "and are kept; their folders, the audit list and older backups still have the name. Before you "
    "do it: local rules and legal advice go first."
)
ERASE_DO = "Yes, erase"
ERASED = "It is done."
TO_PEOPLE = "To everybody"


def kept_words(person: Person) -> str:
    """Say in a sentence what is kept.

    Nothing of what it says; that is in the file.
    """
    parts = [
        counted(len(found), one, more)
        for found, one, more in (
            (person.assignments, "assignment", "assignments"),
            (person.readings, "reading", "readings"),
            (person.messages, "message", "messages"),
            (person.tokens, "way in", "ways in"),
            (person.deeds, "line of the audit list", "lines of the audit list"),
        )
        if found
    ]
    who = {"yes": "A reader", "retired": "A reader who reads here no longer", "no": "No reader"}
    account = "" if person.account is None else ", with an account"
    kept = f": {names_in_words(parts)}" if parts else ""
    return f"{who[person.reads]}{account}{kept}."
