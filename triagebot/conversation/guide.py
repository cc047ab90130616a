"""All that stays the same between turns: a topic, a shop, and the words of each language."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

from babel import Locale

from triagebot.conversation.understanding import Setting, Words, load_words
from triagebot.shop import Neighbour, Shop
from triagebot.topics import Question, Texts, Topic, handing_over, languages, proved_texts, taught

#: The question whose choices stand for makers' names, which only a shop can supply.
UNSURE = "unsure"


@dataclass(frozen=True, slots=True)
class Language:
    """What is said (`texts`) and what is understood (`words`) in one language."""

    texts: Texts
    words: Words


@dataclass(frozen=True, eq=False)
class Guide:
    """What a turn is given besides the case and the message; loading it is the only I/O of a conversation.

    `address` is where people reach the pages, without a slash at its end; None where they cannot. `neighbours` are the
    branches that share their tools with this one."""

    topic: Topic
    shop: Shop
    spoken: Mapping[str, Language]
    address: str | None = None
    neighbours: tuple[Neighbour, ...] = ()

    def language(self, code: str) -> Language:
        """The language by its code, else the shop's own, else the first there is."""
        return self.spoken.get(code) or self.spoken.get(self.shop.language) or next(iter(self.spoken.values()))

    @cached_property
    def own_names(self) -> dict[str, str]:
        """The languages by their codes, each called what its speakers call it."""
        return {each: Locale.parse(each, sep="-").get_display_name() or each for each in self.spoken}

    @cached_property
    def barred(self) -> frozenset[str]:
        """Questions that this shop cannot put: those about makers' words when its table has none."""
        named = any(self.shop.maker_labels.values())
        return frozenset(q.id for q in self.topic.flow.questions if q.shop_words and not named)

    def label(self, texts: Texts, question: Question, choice: str) -> str:
        """A choice as it is shown: the shop's makers stand in for a choice about makers' words."""
        makers = self.shop.maker_labels.get(choice, ()) if question.shop_words else ()
        return ", ".join(makers) if makers else texts(f"choice-{question.id}-{choice}")

    def setting(self, language: str, opened: str | None) -> Setting:
        """What understanding is told while a question is open and nothing is known or being asked back."""
        spoken = self.language(language)
        question = self.topic.questions.get(opened or "")
        choices = question.choices if question is not None else ()
        return Setting(
            words=spoken.words,
            questions=self.topic.questions,
            open_question=opened,
            choices=choices,
            labels=tuple(self.label(spoken.texts, question, choice) for choice in choices) if question else (),
            makers=self.shop.makers,
            gauges=self.topic.gauges,
            confirming=False,
        )


def load_guide(
    topic: Topic, shop: Shop, chosen: tuple[str, ...] = (), spoken: Mapping[str, Language] | None = None
) -> Guide:
    """Load the words of the `chosen` languages (all that the topic has, if none), unless they are given as `spoken`;
    what the shop has learned takes the place of the topic's own figures, and what it wants a person for is in force.
    The topic has been proved. Raises DataError."""
    if spoken is None:
        codes = chosen or languages(topic.folder)
        spoken = {code: Language(proved_texts(topic.folder, code), load_words(code, topic.folder)) for code in codes}
    return Guide(taught(handing_over(topic, shop.about.hand_over), shop.learned), shop, spoken)
