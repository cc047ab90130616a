"""Whatever is said, in whatever order: what must hold after every turn holds. Pure turns; the store has its own."""

from collections.abc import Iterator
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule

from tests.conversation import sayings
from tests.conversation.guides import shipped_guide, with_renamed, without_question
from tests.conversation.invariants import hold_after_a_turn, hold_for_a_case
from tests.words import words_of
from triagebot.conversation import Guide, Message, look, turn
from triagebot.testing import ScriptedPerson

QUESTIONS = sorted(shipped_guide().topic.questions)
EDITIONS: list[Guide] = []


@pytest.fixture(scope="module", autouse=True)
def editions() -> Iterator[None]:
    """The topic as it ships, and as somebody may have left it overnight."""
    guide = shipped_guide()
    with TemporaryDirectory() as folder:
        EDITIONS[:] = [
            guide,
            *(without_question(guide, question) for question in ("sprockets", "wire-ring", "size")),
            with_renamed(guide, "brakes-backwards", "stops-backwards", Path(folder) / "choice"),
            with_renamed(guide, "confirm", "asked-back", Path(folder) / "state", "flow.yaml"),
            with_renamed(guide, "ask-spin", "ask-turning", Path(folder) / "asking", "flow.yaml"),
        ]
        yield
    EDITIONS.clear()


class AnyCase(RuleBasedStateMachine):
    """One case of one person; every rule is a turn, or time that passes, or a topic that changes meanwhile."""

    @initialize()
    def arrives(self) -> None:
        self.person = ScriptedPerson(shipped_guide())

    def says(self, message: Message) -> None:
        taken = self.person.send(message)
        hold_after_a_turn(self.person.guide, taken.case, taken.reply, taken.events)

    @rule(text=sayings.texts())
    def writes(self, text: str) -> None:
        self.says(Message(text))

    @rule(choice=sayings.presses())
    def presses(self, choice: str) -> None:
        self.says(Message(choice=choice))

    @rule(place=st.integers(0, 6))
    def answers_what_is_asked(self, place: int) -> None:
        question = self.person.reply.question
        if question is None:
            self.says(Message("1"))
        elif question.choices:
            self.says(Message(str(1 + place % (len(question.choices) + 1))))
        else:
            self.says(Message(("12", "4", "23 mm", "24.5", "2", "9", "I don't know")[place]))

    @rule(command=st.sampled_from(sayings.COMMANDS))
    def commands(self, command: str) -> None:
        self.says(Message(command))

    @rule(question=st.sampled_from(QUESTIONS))
    def changes_one(self, question: str) -> None:
        name = self.person.guide.language("en").texts(f"question-{question}.name")
        self.says(Message(f"change {name}"))

    @rule()
    def takes_back(self) -> None:
        before = self.person.case
        self.says(Message("back"))
        if before.now.puzzle is not None:
            assert self.person.case.now.puzzle is None
            assert self.person.case.now.facts == before.now.facts
        elif before.past:
            assert self.person.case.now.facts == before.past[-1].facts

    @rule()
    def restarts(self) -> None:
        self.says(Message("restart"))
        now = self.person.case.now
        assert not now.facts
        assert now.outcome is None
        assert self.person.reply.question is not None

    @rule()
    def stops_and_comes_back(self) -> None:
        self.says(Message("stop"))
        before = self.person.case.now
        self.person.clock.wait(days=3)
        self.says(Message(choice="resume"))
        after = self.person.case.now
        assert after.facts == before.facts
        assert after.question == before.question
        if before.outcome == "stopped":
            assert after.outcome is None

    @rule(days=st.sampled_from([0.01, 1, 40, 4000]))
    def waits(self, days: float) -> None:
        self.person.clock.wait(days=days)

    @rule(edition=st.integers(0, 6))
    def topic_is_edited(self, edition: int) -> None:
        guide = EDITIONS[edition % len(EDITIONS)]
        before = self.person.case.now
        self.person.guide = guide
        self.says(Message(choice="resume"))
        kept = [
            fact
            for fact in before.facts
            if (question := guide.topic.questions.get(fact.reading.question)) is not None
            and getattr(fact.reading, "choice", None) in (None, *question.choices)
        ]
        lost = {f.reading.question for f in before.facts} - {f.reading.question for f in kept}
        assert list(self.person.case.now.facts) == [f for f in kept if f.reading.question not in lost]

    @precondition(lambda self: hasattr(self, "person"))
    @invariant()
    def is_what_its_events_make(self) -> None:
        hold_for_a_case(self.person.guide, self.person.case)

    @precondition(lambda self: hasattr(self, "person"))
    @invariant()
    def can_be_looked_at_without_change(self) -> None:
        reply = look(self.person.guide, self.person.case, self.person.clock())
        assert reply.status == (self.person.case.now.outcome or "question")
        assert words_of(reply) or reply.question is not None


AnyCase.TestCase.settings = settings(stateful_step_count=25)


class TestAnyCase(AnyCase.TestCase):  # type: ignore[misc,name-defined]
    """Runs the machine."""


@given(st.lists(sayings.messages(), max_size=6), sayings.messages())
def test_a_turn_is_pure(said: list[Message], last: Message) -> None:
    person = ScriptedPerson(shipped_guide())
    for message in said:
        person.send(message)
    before = person.case
    first = turn(person.guide, before, last, person.clock())
    assert turn(person.guide, before, last, person.clock()) == first
    assert before == person.case


INDEPENDENT = (
    ("the middle stays still", "4 notches"),
    ("it coasts", "9 sprockets"),
    ("about 24 mm by calliper", "it has splines"),
    ("no torque on it", "a plain hub"),
    ("it turns", "not notches"),
    ("wider than a 1 euro coin", "single speed"),
)


@pytest.mark.parametrize("pair", INDEPENDENT, ids=" + ".join)
def test_the_order_of_two_readings_does_not_matter(guide: Guide, pair: tuple[str, str]) -> None:
    one, other = ScriptedPerson(guide), ScriptedPerson(guide)
    shares = one.says(*pair).candidates
    turned = {row.fastening: row.probability for row in other.says(*reversed(pair)).candidates}
    assert len(one.case.now.facts) == len(other.case.now.facts) >= 2
    assert {row.fastening: row.probability for row in shares} == pytest.approx(turned, abs=1e-12)
