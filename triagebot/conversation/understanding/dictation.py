"""Numbers that dictation wrote as other words ("for notches", "there are ate"), heard where a number is asked for.

Rules of this file: where such a word is a number. Right before what is counted, or as a whole answer to a question of
how many; a word that stands anywhere in ordinary speech ("to", "for") needs words before it that introduce a number.
"""

from collections.abc import Callable, Sequence
from dataclasses import replace

from triagebot.conversation.understanding.number_words import tokenise_words
from triagebot.conversation.understanding.phrases import PhraseMeaning
from triagebot.conversation.understanding.tokens import Token
from triagebot.conversation.understanding.words import Words

#: Meanings of the phrase that begins at a token.
PhraseAt = Callable[[int], tuple[PhraseMeaning, ...]]


def heard(tokens: Sequence[Token], words: Words, counting: bool, phrase_at: PhraseAt) -> tuple[Token, ...]:
    """The tokens with numbers where dictation wrote other words; `counting`: a count is the open question."""
    return tuple(
        _as_number(token, words) if _is_number(tokens, place, words, counting, phrase_at) else token
        for place, token in enumerate(tokens)
    )


def _as_number(token: Token, words: Words) -> Token:
    number = tokenise_words(words.heard[token.key], words)[0]
    return replace(token, kind="number", key=number.key, number=number.number)


def _is_number(tokens: Sequence[Token], place: int, words: Words, counting: bool, phrase_at: PhraseAt) -> bool:
    token = tokens[place]
    if token.kind != "word" or token.key not in words.heard:
        return False
    lead = [t.key for t in tokens[:place] if t.clause == token.clause]
    introduced = all(key in words.introducing or key in words.fillers for key in lead[-2:]) and (
        not lead or lead[-1] in words.introducing
    )
    if not introduced and token.key not in words.sure_heard:
        return False
    behind = place + 1 < len(tokens) and tokens[place + 1].clause == token.clause
    if behind and any(m.kind in ("noun", "counter") for m in phrase_at(place + 1)):
        return True
    leads = all(key in words.introducing or key in words.fillers for key in lead)  # not "do broken ones count too"
    return counting and introduced and leads and not behind and not any(t.number for t in tokens)
