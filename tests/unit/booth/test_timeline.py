"""Spans and articles of small readings, worked out by hand."""

from __future__ import annotations

from quietleaf.booth.edits import Again, ArticleStarted, Cut, TakeRolled, Undo
from quietleaf.booth.replay import Standing, timeline
from quietleaf.booth.timeline import ArticleMark, PatchPlaces, Span, lay_out
from tests.readings import enter, sealed, standing_of


def spans(standing: Standing) -> list[tuple[int, int, int]]:
    return [(span.take, span.start, span.stop) for span in timeline(standing).spans]


def again(back: int, mark: int, resume: int, *, take: int = 1, back_take: int = 1) -> Again:
    return Again(take=take, mark=mark, back_take=back_take, back_sample=back, resume=resume)


def test_nothing_recorded_has_no_spans() -> None:
    assert timeline(standing_of()).spans == ()
    assert spans(standing_of(sealed(1, 0))) == []


def test_takes_join_at_the_end() -> None:
    assert spans(standing_of(sealed(1, 100), sealed(2, 50))) == [(1, 0, 100), (2, 0, 50)]


def test_a_take_that_still_rolls_counts_as_far_as_it_was_confirmed() -> None:
    standing = standing_of(sealed(1, 100), TakeRolled(take=2, sample_rate_hz=48_000))
    assert timeline(standing, {2: 30}).spans[-1] == Span(take=2, start=0, stop=30)
    assert spans(standing) == [(1, 0, 100)]
    assert spans(enter(standing, sealed(2, 70)))[-1] == (2, 0, 70)


def test_again_leaves_out_the_sentence_and_the_lead_in() -> None:
    assert spans(standing_of(sealed(1, 1_000), again(300, 500, 700))) == [
        (1, 0, 300),
        (1, 700, 1_000),
    ]


def test_again_twice_in_a_row_goes_one_sentence_further_back() -> None:
    # The second press comes before the first lead-in has ended.
    standing = standing_of(sealed(1, 1_000), again(300, 500, 700), again(200, 600, 800))
    assert spans(standing) == [(1, 0, 200), (1, 800, 1_000)]


def test_a_second_stumble_in_the_sentence_that_was_taken_again() -> None:
    standing = standing_of(sealed(1, 1_000), again(300, 500, 700), again(700, 750, 800))
    assert spans(standing) == [(1, 0, 300), (1, 800, 1_000)]


def test_again_reaches_back_over_an_earlier_take() -> None:
    standing = standing_of(
        sealed(1, 100), sealed(2, 100), sealed(3, 100), again(60, 10, 20, take=3)
    )
    assert spans(standing) == [(1, 0, 60), (3, 20, 100)]


def test_an_undone_again_brings_back_what_was_read_first() -> None:
    standing = standing_of(sealed(1, 1_000), again(300, 500, 700), Undo(of=3))
    assert spans(standing) == [(1, 0, 1_000)]
    assert spans(enter(standing, Undo(of=4))) == [(1, 0, 300), (1, 700, 1_000)]


def test_a_join_is_placed_anew_without_anything_coming_back_in_between() -> None:
    standing = standing_of(sealed(1, 1_000), again(300, 500, 700))
    better = enter(standing, again(310, 500, 690))
    assert spans(better) == [(1, 0, 300), (1, 700, 1_000)]
    assert spans(enter(better, Undo(of=3))) == [(1, 0, 310), (1, 690, 1_000)]


def test_a_cut_leaves_a_range_out() -> None:
    standing = standing_of(
        sealed(1, 1_000), Cut(take=1, start=0, stop=10), Cut(take=1, start=5, stop=20)
    )
    assert spans(standing) == [(1, 20, 1_000)]


def test_an_article_read_again_from_its_headline_begins_with_what_stays() -> None:
    standing = standing_of(
        sealed(1, 1_000), ArticleStarted(take=1, sample=300, title="Tides"), again(300, 500, 700)
    )
    assert timeline(standing).articles == (ArticleMark(take=1, sample=700, title="Tides"),)


def test_an_article_marked_anew_is_there_once() -> None:
    standing = standing_of(
        sealed(1, 1_000),
        ArticleStarted(take=1, sample=300, title="Tides"),
        again(290, 500, 700),
        ArticleStarted(take=1, sample=720, title="Tides"),
    )
    assert timeline(standing).articles == (ArticleMark(take=1, sample=720, title="Tides"),)


def test_an_article_that_was_cut_whole_is_gone() -> None:
    standing = standing_of(
        sealed(1, 1_000),
        ArticleStarted(take=1, sample=300, title="Tides"),
        ArticleStarted(take=1, sample=600, title="Ferries"),
        Cut(take=1, start=300, stop=600),
    )
    assert [article.title for article in timeline(standing).articles] == ["Ferries"]
    after_all = enter(standing, Cut(take=1, start=600, stop=1_000))
    assert timeline(after_all).articles == ()


def test_of_two_articles_at_one_place_the_later_stands() -> None:
    standing = standing_of(
        sealed(1, 100),
        ArticleStarted(take=1, sample=5, title=""),
        ArticleStarted(take=1, sample=5, title="Tides"),
    )
    assert [article.title for article in timeline(standing).articles] == ["Tides"]


def test_a_patch_that_would_stand_in_itself_changes_nothing() -> None:
    # No ledger that was admitted has one; one that was tampered with may.
    of_itself = PatchPlaces(begin=(1, 0), until=(1, 50), start=(1, 5), stop=(1, 40))
    assert lay_out({1: 100}, (), (), (of_itself,)).spans == (Span(take=1, start=0, stop=100),)
    sound = PatchPlaces(begin=(2, 0), until=(2, 50), start=(1, 5), stop=(1, 40))
    in_itself = PatchPlaces(begin=(2, 0), until=(2, 50), start=(2, 5), stop=(2, 40))
    assert lay_out({1: 100, 2: 60}, (), (), (sound, in_itself), {2: 2}).spans == (
        Span(take=1, start=0, stop=5),
        Span(take=2, start=0, stop=50),
        Span(take=1, start=40, stop=100),
    )
