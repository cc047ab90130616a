"""What each statement of a message speaks of."""

from collections.abc import Callable
from dataclasses import replace

import pytest

from triagebot.conversation.understanding import Setting, understand
from triagebot.conversation.understanding.layout import lay_out
from triagebot.conversation.understood import Meaning

#: A message cut by `|` where what it speaks of changes, and what its parts speak of.
SENTENCES = """
it has 12 splines = own
i can see 12 = own
if i hold the wheel | the middle stays = own own
when i spin it the middle turns = own
23 mm |, is that normal? = own question
is 23 mm normal = question
are nuts bad = question
does 22 mm sound right = question
what does coasting mean? = question
is a quick release the lever one or the nut one = question
is coasting good for the pawls inside? = question
is fixed? = tentative
circlip |, you mean? = tentative about
through axle |, is it the thick one? = tentative about
it has a lever |, is it a quick release? = own about
it turns? = tentative
maybe 12 = tentative
i'll count them tomorrow = plan
once i find the calliper = plan
12 splines |, i'll measure later = own plan
yes, i'll check that now = plan
yes | and i'll check the rest later = own plan
yes |, i took it out = own own
no |, i'll do it later = own plan
no rush = chat
no problem |, i look later = chat plan
no rush |, it has 12 = chat own
this is nuts = chat
"notches" sounds rude = chat
wish i had 12 = wish
i always fancied a quick release = wish
if it turns |, then what = if question
if it had notches |, which tool = if question
they say 23 mm = hearsay
the man in the forum says it has 12 splines = hearsay
my husband says it turns = tentative
my son says 12 = own
nothing for a tool |, he says = own own
my dad counted 12 = own
my wife spotted that it turns = own
i used to ride a fixed wheel = memory
used to be fixed |, coasts now = memory own
my first freewheel had two notches = other
the bike i sold had hub gears = memory
eight deep splines, which i sold in the end = trailing
older ones had a thread, as i recall = trailing
my brother's bike has nuts = other
it's my brother's bike |, it has nuts = own own
my neighbour's has nine |; mine has eight = other own
my mate bet me ten |, but it's eleven = hearsay own
the tool i own has 20 splines = other
tool here is 20 |, this has 12 = other own
the remover i bought is cheap. it has 20 splines = other
the ten-speed wheel is on my other bike |. this one has twelve = other own
splines are usually fine = other
the stem says 5 nm = other
the front has nuts |, the back a lever = front own
i thought it had 11 |, but it's 12 = belief own
i said notches before |, but it's splines = belief own
what remover for 20 splines 22 mm = own
need a tool for a 4 notch freewheel = own
how do i get 6 sprockets off = own
i would like to change to 11 speed = wish
bro said 12 = hearsay
splines r what = question
the word notch is funny = chat
nine splines, one narrow, sounds like a riddle = trailing
in my experience they are 23 mm = other
the bike i want to fix has nuts = own
it's from my grandad's bike and it has two notches = own
looking for a remover for 12 splines = own
eight-deep bodies | - can you still get them? = tentative about
"""


def rows() -> list[tuple[str, list[str]]]:
    lines = [line.rpartition(" = ") for line in SENTENCES.strip().splitlines()]
    return [(text, scopes.split()) for text, _, scopes in lines]


@pytest.mark.parametrize(("text", "scopes"), rows(), ids=[text for text, _ in rows()])
def test_each_statement_speaks_of_what_its_words_say(
    text: str, scopes: list[str], setting: Callable[..., Setting]
) -> None:
    parts = text.split("|")
    layout = lay_out("".join(parts), setting("count"))
    ends = [len("".join(parts[: place + 1])) for place in range(len(parts))]
    found: list[set[str]] = [set() for _ in parts]
    for token, scope in zip(layout.tokens, layout.scopes, strict=True):
        found[next(place for place, end in enumerate(ends) if token.start < end)].add(scope)
    assert found == [{scope} for scope in scopes]


def test_every_token_has_a_scope(setting: Callable[..., Setting]) -> None:
    for text in ("", "?", "...", "- 12", "and and, but", "12 - 13", "\u2014 yes \u2014"):
        layout = lay_out(text, setting("count"))
        assert len(layout.scopes) == len(layout.tokens)


def by_rules(text: str, setting: Setting) -> Meaning:
    """What the rules alone take from a message."""
    return understand(text, replace(setting, words=replace(setting.words, guess=None)))


def test_what_is_passed_over_is_told_with_the_words(setting: Callable[..., Setting]) -> None:
    meant = by_rules("the tool here has 20 splines, this has 12 splines", setting("count"))
    assert {fact.text for fact in meant.facts} == {"splines", "12 splines"}
    assert {scope for scope, _ in meant.asides} == {"other"}


def test_the_front_is_news_only_where_it_is_named(setting: Callable[..., Setting]) -> None:
    named = by_rules("the motor is in the front wheel", setting("motor"))
    assert [fact.reading.question for fact in named.facts] == ["motor"]
    assert by_rules("the front wheel has nuts", setting("axle")).facts == ()


def test_not_knowing_holds_in_whatever_is_planned(setting: Callable[..., Setting]) -> None:
    (fact,) = by_rules("i don't know, i'm not home", setting("count")).facts
    assert fact.reading.question == "count"


def test_the_bike_of_somebody_at_home_is_this_one_where_nothing_was_asked(setting: Callable[..., Setting]) -> None:
    said = "my son's bike has 7 cogs"
    assert [fact.reading.question for fact in by_rules(said, setting()).facts] == ["sprockets"]
    assert by_rules(said, setting("drive")).facts == ()
    assert by_rules("my mate's bike has 7 cogs", setting()).facts == ()
