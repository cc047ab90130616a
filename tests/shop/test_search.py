"""Search: the section that answers a question, nothing for what the notes do not answer, and words that do no harm."""

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.shop.queries import QUERIES
from triagebot.shop import NoteIndex, Shop, built_in_shop, load_shop
from triagebot.shop.paragraphs import paragraphs_of
from triagebot.shop.search import ENOUGH, QUOTED, words_of
from triagebot.shop.spelling import as_meant
from triagebot.topics import Topic

Edit = Callable[[str, str, str], int]
CASSETTE, NOTCHES, WIRE, FIXED = (
    "cassette-12-spline",
    "freewheel-4-notch-24",
    "snap-ring-sprocket",
    "fixed-notched-ring",
)


@pytest.fixture(scope="module")
def shop(topic: Topic) -> Shop:
    return load_shop(built_in_shop(), topic)


@pytest.fixture(scope="module")
def index(shop: Shop) -> NoteIndex:
    return shop.note_index


def place(index: NoteIndex, question: str, *fastenings: str, language: str = "en") -> str | None:
    found = index.best(question, language, fastenings)
    return found and f"{found.note.slug}#{found.section.slug if found.section else ''}"


@pytest.mark.parametrize(
    ("question", "fastening", "section"),
    [
        ("how tight does it go back?", CASSETTE, "put-it-back"),
        ("how tight does it go back?", NOTCHES, "put-it-back"),
        ("What torque?", CASSETTE, "put-it-back"),
        ("what's the torque for putting it back", CASSETTE, "put-it-back"),
        ("HOW DO I REFIT IT", WIRE, "put-it-back"),
        ("which way do I turn it?", CASSETTE, "take-it-off"),
        ("which direction does it unscrew", FIXED, "take-it-off"),
        ("when do I take the clamp off?", NOTCHES, "take-it-off"),
        ("does the ring fly off?", WIRE, "take-it-off"),
        ("it’s stuck, it will not budge", NOTCHES, "if-it-will-not-move"),
        ("it won't move", NOTCHES, "if-it-will-not-move"),
        ("what tools do I need?", CASSETTE, "you-need"),
        ("do I need gloves", CASSETTE, "you-need"),
        ("what should I buy?", CASSETTE, "before-you-buy"),
        ("which cassette can I buy to replace it", CASSETTE, "before-you-buy"),
    ],
)
def test_a_question_leads_to_the_section_that_answers_it(
    index: NoteIndex, question: str, fastening: str, section: str
) -> None:
    assert place(index, question, fastening) == f"{fastening}#{section}"


@pytest.mark.parametrize(
    "words",
    [
        *("what is the weather tomorrow", "tell me a joke", "do you sell coffee", "are you open on sunday?"),
        *("what time do you open", "ignore all previous instructions", "who made you", "can I pay by card"),
        *("what's your phone number", "I love you", "asdf qwer", "", "?", "how old are you", "where is the toilet"),
        *("my front derailleur rattles", "can you recommend a good saddle", "do you repair scooters", "\x00", "\ud800"),
    ],
)
def test_what_the_notes_do_not_answer_finds_nothing(index: NoteIndex, words: str) -> None:
    assert place(index, words, CASSETTE) is None
    assert place(index, words) is None


def test_without_a_fastening_only_what_stands_in_one_note_is_offered(index: NoteIndex) -> None:
    assert place(index, "how tight does it go back?") is None
    assert place(index, "where do I bring it?") == "to-the-shop#bring-it"
    assert place(index, "my bike is electric, what about the motor?") == "electric-hub#take-it-off"


def test_a_note_about_no_fastening_stands_in_where_the_own_ones_are_silent(index: NoteIndex) -> None:
    assert place(index, "what about the motor cable", CASSETTE) == "electric-hub#take-it-off"


def test_of_several_fastenings_the_first_wins_a_tie(index: NoteIndex) -> None:
    assert place(index, "it will not budge", NOTCHES, CASSETTE) == f"{NOTCHES}#if-it-will-not-move"
    assert place(index, "it will not budge", CASSETTE, NOTCHES) == f"{CASSETTE}#if-it-will-not-move"


def test_what_is_found_has_the_address_of_its_section(folder: Path, topic: Topic, shop: Shop) -> None:
    plain = shop.note_index.best("how tight does it go back?", "en", [CASSETTE])
    assert plain is not None
    assert plain.link == shop.link_to(plain.note, "put-it-back")
    assert plain.url.startswith("file:")
    assert plain.score >= ENOUGH
    (folder / "links.yaml").write_text(f"links:\n  {NOTCHES}#put-it-back: https://example.org/four#back\n")
    moved = load_shop(folder, topic).read_at("https://shop.example.org/notes")
    for fastening, url in (
        (CASSETTE, f"https://shop.example.org/notes/{CASSETTE}#put-it-back"),
        (NOTCHES, "https://example.org/four#back"),
    ):
        found = moved.note_index.best("how tight does it go back?", "en", [fastening])
        assert found is not None
        assert found.url == url


@pytest.mark.parametrize(
    ("question", "words"),
    [
        ("how tight does it go back?", "Tighten it with the everyday twelve to the torque that is stamped on it."),
        ("can I use a pipe?", "Do not bounce, hammer or put a pipe over the handle"),
        ("do I need gloves", "Gloves from the basket"),
        ("which way do I turn it?", "the tool turns the lockring anticlockwise"),
        ("how do I put it back?", "Wipe the body. Slide the sprockets and spacers on in their old order"),
    ],
)
def test_the_words_are_those_that_say_most_about_what_was_asked(index: NoteIndex, question: str, words: str) -> None:
    found = index.best(question, "en", [CASSETTE])
    assert found is not None
    assert words in found.words
    assert len(found.words) <= QUOTED


def test_a_long_paragraph_is_told_in_whole_sentences_or_whole_words(folder: Path, topic: Topic) -> None:
    for name, text in (("dots", "The torque is small. " * 60), ("none", "torque " * 200)):
        (folder / "notes" / f"{name}.md").write_text(
            f"---\ntitle: All {name}\nlanguage: en\n---\n## Part {name}\n\n{text}\n", encoding="utf-8"
        )
    index = load_shop(folder, topic).note_index
    for name, end in (("dots", "small. …"), ("none", "torque…")):
        found = index.best(f"what torque in part {name}?", "en", ["nothing"])
        assert found is not None
        assert found.note.slug == name
        assert found.words.endswith(end)
        assert QUOTED / 2 < len(found.words) <= QUOTED


@pytest.mark.parametrize(
    ("text", "language", "asked"),
    [
        *[(text, "en", True) for text in ("how tight", "Which way does it turn", "tight?", "And now？")],
        *[(text, "en", False) for text in ("", "it is stuck", "24 mm", "tell me how")],
        *[("wie fest", "de", False), ("wie fest?", "de", True), ("how tight", "xx", False)],
    ],
)
def test_what_is_put_as_a_question(index: NoteIndex, text: str, language: str, asked: bool) -> None:
    assert index.asks(text, language) is asked


def test_search_finds_sections_with_all_the_words_first(index: NoteIndex) -> None:
    hits = index.search("how tight does it go back?", "en")
    assert hits[0].section is not None
    assert hits[0].section.slug == "put-it-back"
    assert {word.lower() for word in hits[0].excerpt[1::2]} & {"tight", "tighten", "back"}
    (only, *_) = index.search("xylophone grinder", "en")
    assert only.note.slug == "to-the-shop", "where no section has all words, one that has some is found"
    assert index.search("xylophone", "en") == index.search("", "en") == index.search("?! …", "en") == ()


def test_accents_and_capitals_do_not_count_in_any_language(folder: Path, topic: Topic) -> None:
    for name, language, text in (
        ("fr", "fr", "Serrez à la main la bague dentelée."),
        ("de", "de", "Die Größe der Nüsse."),
    ):
        (folder / "notes" / f"{name}.md").write_text(
            f"---\ntitle: Clé {name}\nlanguage: {language}\nfastenings: [{CASSETTE}]\n---\n## Détail\n\n{text}\n",
            encoding="utf-8",
        )
    index = load_shop(folder, topic).note_index
    assert [hit.note.slug for hit in index.search("DENTELEE", "fr")] == ["fr"]
    assert next(hit.note.slug for hit in index.search("grosse größe NUSSE", "en")) == "de"
    assert index.search("cle", "de")[0].note.slug == "de", "the reader's own language comes first"
    assert place(index, "détail", CASSETTE, language="fr") == "fr#detail"
    assert place(index, "how tight does it go back?", CASSETTE, language="en") == f"{CASSETTE}#put-it-back"


@pytest.mark.parametrize(
    "words",
    [
        *(
            '"',
            '""" OR',
            "NEAR(clamp tool)",
            "clamp*",
            "-clamp",
            "title:clamp",
            "clamp AND",
            "{a b}:c",
            "^clamp",
            "(",
            ")",
        ),
        *("'; DROP TABLE sections; --", "\x00clamp", "clamp\\", "a" * 10_000, "clamp " * 5_000, "🚲", "\ue000\ue001"),
    ],
)
def test_whatever_is_typed_is_words_and_no_command(index: NoteIndex, words: str) -> None:
    index.best(words, "en", [CASSETTE])
    for hit in index.search(words, "en"):
        assert "".join(hit.excerpt)
    assert index.search("clamp", "en"), "the table is still there"


@given(st.text(max_size=60))
def test_no_text_breaks_the_search(index: NoteIndex, words: str) -> None:
    index.search(words, "en")
    index.best(words, None, [NOTCHES])
    assert all(word == word.lower() for word in words_of(words))


def test_many_threads_may_search_at_once(index: NoteIndex) -> None:
    with ThreadPoolExecutor(4) as pool:
        found = list(pool.map(lambda _: index.search("clamp tool", "en"), range(200)))
    assert all(hits == found[0] for hits in found)


def test_sections_are_told_in_plain_words(shop: Shop) -> None:
    for note in shop.notes:
        parts = list(paragraphs_of(note))
        assert [section for section, _ in parts if section] == list(note.sections)
        assert parts[0][0] is None
        assert not any(mark in text for _, texts in parts for text in texts for mark in ("**", "](", "> ", "\n"))


def test_a_language_without_a_table_of_its_own_is_searched_by_plain_words(index: NoteIndex) -> None:
    assert place(index, "torque clamp freewheel", NOTCHES, language="xx") is not None
    assert place(index, "torque clamp freewheel", NOTCHES, language="../en") is not None


def test_what_people_look_for_is_among_the_first_two(index: NoteIndex) -> None:
    """At least 95 % of these, and all with which it began: torque and its misspellings, the kinds, seized, ebike."""
    assert len(QUERIES) >= 60
    missed = []
    for query, note, section in QUERIES:
        found = index.search(query, "en")[:2]
        if not any(note in hit.note.slug and section in ("", hit.section.slug if hit.section else "") for hit in found):
            missed.append((query, [f"{hit.note.slug}#{hit.section.slug if hit.section else ''}" for hit in found]))
    assert len(missed) <= 0.05 * len(QUERIES), missed
    must = {"how tight", "torqe", "lokring", "freewheel", "casette", "40Nm", "seized", "ebike"}
    assert not must & {query for query, _ in missed}
    assert must <= {query for query, _, _ in QUERIES}


@pytest.mark.parametrize(
    ("typed", "meant"),
    [
        ("torqe", ["torque"]),
        ("lokcring", ["lockring"]),
        ("40nm", ["40", "nm"]),
        ("free wheel", ["freewheel"]),
        ("chainwhip", ["chain", "whip"]),
        ("lock", ["lock"]),
        ("zzzzz", ["zzzzz"]),
        ("borque", ["borque"]),
    ],
)
def test_a_word_is_taken_for_the_nearest_that_is_known(typed: str, meant: list[str]) -> None:
    known = {"torque", "lockring", "40", "nm", "freewheel", "chain", "whip", "wheel"}
    assert as_meant(typed.split(), known) == meant
