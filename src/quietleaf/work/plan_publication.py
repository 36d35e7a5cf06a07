"""Plan a publication: add it, change it, take it out where nothing is read from it."""

from __future__ import annotations

from dataclasses import replace

from quietleaf.errors import Conflict, NotFound
from quietleaf.planning.keys import key_of
from quietleaf.planning.publication import Publication
from quietleaf.planning.station import Station
from quietleaf.planning.words import names_in_words
from quietleaf.work.tools import Tools


def add_publication(publication: Publication, tools: Tools) -> Publication:
    """Add a publication; its key is made of its title.

    Raises
    ------
    Invalid
        If another has its title, or it has none.
    """

    def change(station: Station) -> Station:
        taken = {one.key for one in station.publications}
        added = replace(publication, key=key_of(publication.title, taken, "publication"))
        return replace(station, publications=(*station.publications, added))

    return tools.database.change_station(change).publications[-1]


def change_publication(publication: Publication, tools: Tools) -> Publication:
    """Change the publication of this key; programmes follow a title that changes.

    Raises
    ------
    NotFound
        If there is none of that key.
    Invalid
        If the station would not hold together.
    """

    def change(station: Station) -> Station:
        before = publication_of_key(station, publication.key)
        return replace(
            station,
            publications=tuple(
                publication if one is before else one for one in station.publications
            ),
            programmes=tuple(
                replace(programme, publication=publication.title)
                if programme.publication == before.title
                else programme
                for programme in station.programmes
            ),
        )

    return publication_of_key(tools.database.change_station(change), publication.key)


def remove_publication(key: str, tools: Tools) -> None:
    """Take a publication out of the plan.

    Raises
    ------
    NotFound
        If there is none of that key.
    Conflict
        If a programme is read from it.
    """

    def change(station: Station) -> Station:
        gone = publication_of_key(station, key)
        reading = [one.title for one in station.programmes if one.publication == gone.title]
        if reading:
            raise Conflict(
                "plan/publication-used",
                f"{gone.title} stays, since {names_in_words(reading)} "
                f"{'is' if len(reading) == 1 else 'are'} read from it. Give "
                f"{'that programme' if len(reading) == 1 else 'those programmes'} another "
                "publication first.",
            )
        return replace(
            station, publications=tuple(one for one in station.publications if one is not gone)
        )

    tools.database.change_station(change)


def publication_of_key(station: Station, key: str) -> Publication:
    """Find a publication by its key.

    Raises
    ------
    NotFound
        If the station has none of that key.
    """
    for publication in station.publications:
        if publication.key == key:
            return publication
    raise NotFound("planning/no-publication", f"There is no publication {key!r} at {station.name}.")
