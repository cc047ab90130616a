"""Whatever comes in whichever order, and wherever the process dies: each message counts once, in its order; nothing
that should go out is missing; and in the end everything is as if nothing had ever gone wrong."""

import shutil
import tempfile
from collections import defaultdict
from dataclasses import dataclass
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, rule, run_state_machine_as_test

from tests.conversation.guides import shipped_guide
from tests.delivery.office import Dead, Office
from tests.delivery.recorded import After, Before, RecordedChannel
from tests.effort import effort
from triagebot.conversation import Case, Message, Turn
from triagebot.conversation import turn as real_turn
from triagebot.conversation.commands import COMMANDS
from triagebot.conversation.events import to_json
from triagebot.delivery import Received, outbox
from triagebot.messages import Pressed, RetryAfter, Said, Sent, Transient
from triagebot.messages.message import Content
from triagebot.testing import Clock
from triagebot.turns import plan

PEOPLE = ("ann", "bob")
SAID = ("9 sprockets", "it stays still", "it turns", "4 notches", "24 mm", "change", "1", "why", "back", "blub", "stop")
PEOPLES = st.sampled_from(PEOPLE)
#: Fails so many times, then counts; the last one fails for ever, and is set aside.
STUMBLING = ("stumble-1 8 sprockets", "stumble-2 7 sprockets", "stumble-9 6 sprockets")

stumbles: dict[str, int] = defaultdict(int)


def stumbling_turn(guide: object, case: Case, message: Message, now: object) -> Turn:
    for text in STUMBLING:
        if text in message.text and stumbles[message.text] < int(text[8]):
            stumbles[message.text] += 1
            raise ZeroDivisionError
    return real_turn(guide, case, message, now)  # type: ignore[arg-type]


@dataclass(frozen=True)
class Known:
    """A message that was received, as it can be brought again."""

    person: str
    key: str
    content: Content


class AnyDelivery(RuleBasedStateMachine):
    """`received` is what counts, in order, for each person; the same is said to an undisturbed delivery in the end."""

    @initialize()
    def open(self) -> None:
        self.place = Path(tempfile.mkdtemp(dir="/dev/shm" if Path("/dev/shm").is_dir() else None))
        self.channel = RecordedChannel()
        self.office = Office(self.place / "data", shipped_guide(), self.channel, Clock())
        self.received: dict[str, list[Known]] = defaultdict(list)
        self.crashes, self.keys = 0, 0
        self.times: dict[str, object] = {}
        stumbles.clear()

    # --- what is brought ---------------------------------------------------------------------------------------------

    def bring(self, person: str, content: Content) -> Received:
        self.keys += 1
        known = Known(person, f"k{self.keys}", content)
        received = self.office.bring(person, content, known.key)
        self.received[person].append(known)
        self.times[known.key] = self.office.clock()
        return received

    @rule(person=PEOPLES, text=st.sampled_from(SAID))
    def say(self, person: str, text: str) -> None:
        self.bring(person, Said(text))

    @rule(person=PEOPLES)
    def send_a_photo(self, person: str) -> None:
        self.bring(person, Sent("photo", ({"file": "f"},)))

    @rule(person=PEOPLES, back=st.integers(1, 4), which=st.integers(0, 5))
    def press(self, person: str, back: int, which: int) -> None:
        """A button of the last message, or of an older one."""
        asked = [m for m in self.channel.screens[person] if m.reply.question is not None]
        if len(asked) < back:
            return
        shown = asked[-back]
        assert shown.reply.question is not None
        choices = (*shown.reply.question.choices, *shown.reply.question.aside)
        choice = choices[which % len(choices)].id
        held = self.office.held(person)
        assert held is not None
        received = self.bring(person, Pressed(shown.case, shown.turn, choice))
        if received.outcome == "applied" and choice not in COMMANDS:
            assert held.case.now.question == shown.reply.question.id, "it answered another question than it showed"
        if received.outcome in ("double", "stale"):
            assert self.office.held(person) == held

    @rule(person=PEOPLES, data=st.data())
    def tap_again(self, person: str, data: st.DataObject) -> None:
        """The same press under a new key, as platforms send it after a while: it never counts twice."""
        pressed = [known.content for known in self.received[person] if isinstance(known.content, Pressed)]
        if pressed:
            again = data.draw(st.sampled_from(pressed))
            outcome = self.bring(person, again).outcome
            assert outcome in ("double", "stale") or again.choice == "how"

    @rule(person=PEOPLES, data=st.data())
    def come_twice(self, person: str, data: st.DataObject) -> None:
        if self.received[person]:
            known = data.draw(st.sampled_from(self.received[person]))
            assert self.office.bring(person, known.content, known.key).outcome == "duplicate"

    @rule(person=PEOPLES, text=st.sampled_from(STUMBLING))
    def stumble(self, person: str, text: str) -> None:
        self.keys += 1
        self.bring(person, Said(f"{text} or {self.keys}"))

    @rule(texts=st.lists(st.tuples(PEOPLES, st.sampled_from(SAID + STUMBLING)), min_size=2, max_size=6))
    def bring_many(self, texts: list[tuple[str, str]]) -> None:
        """A batch, as a platform hands it out."""
        batch = []
        for person, text in texts:
            self.keys += 1
            mark = f" or {self.keys}" if text in STUMBLING else ""
            known = Known(person, f"k{self.keys}", Said(text + mark))
            batch.append(self.office.incoming(person, known.content, known.key))
            self.received[person].append(known)
            self.times[known.key] = self.office.clock()

        async def bring() -> None:
            await self.office.delivery.receive_all(batch, self.channel.name, f"{self.keys}")
            await self.office.delivery.idle()

        self.office.run(bring())

    # --- what goes wrong ---------------------------------------------------------------------------------------------

    @rule(person=PEOPLES, error=st.sampled_from([Transient("down"), RetryAfter(0.001), ZeroDivisionError()]))
    def sending_will_fail(self, person: str, error: Exception) -> None:
        if len(self.channel.fates[person]) < 3:
            self.channel.fates[person].append(error)

    @rule(hours=st.sampled_from([-48, -1, 1, 7, 100]))
    def the_clock_jumps(self, hours: int) -> None:
        self.office.clock.wait(hours=hours)

    @rule(person=PEOPLES, text=st.sampled_from(SAID), moment=st.sampled_from(["before the commit", "after the commit"]))
    def die_while_receiving(self, person: str, text: str, moment: str) -> None:
        """The platform heard nothing, so it brings the message again."""
        self.keys += 1
        known = Known(person, f"k{self.keys}", Said(text))
        self.times[known.key] = self.office.clock()
        self.office.store.dies = moment
        with pytest.raises(Dead):
            self.office.run(self.office.delivery.receive(self.office.incoming(person, known.content, known.key)))
        self.crash()
        again = self.office.bring(person, known.content, known.key)
        assert again.outcome == ("applied" if moment == "before the commit" else "duplicate")
        self.received[person].append(known)

    @rule(person=PEOPLES, text=st.sampled_from(SAID), fate=st.sampled_from([Before, After]), at_once=st.booleans())
    def die_while_sending(self, person: str, text: str, fate: type[Before | After], at_once: bool) -> None:
        """Before the message is taken, once it is and we do not know, or once we know."""
        self.keys += 1
        known = Known(person, f"k{self.keys}", Said(text))
        self.times[known.key] = self.office.clock()
        store = self.office.store
        self.channel.fates[person].append(fate(store.die_at_once if at_once else store.die))
        incoming = self.office.incoming(person, known.content, known.key)

        async def bring() -> None:
            await self.office.delivery.receive(incoming)
            while not self.office.store.dead:
                await self.office.a_moment()

        self.office.run(bring())
        self.received[person].append(known)
        self.crash()

    @rule()
    def crash(self) -> None:
        self.crashes += 1
        self.office.crash()
        self.office.run(self.office.delivery.idle())

    # --- what must hold in the end -----------------------------------------------------------------------------------

    def teardown(self) -> None:
        try:
            if hasattr(self, "office"):
                self.office.run(self.office.delivery.idle())
                self.look_at_the_outbox()
                for person in PEOPLE:
                    self.compare(person)
        finally:
            if hasattr(self, "office"):
                self.office.close()
                self.office.runner.close()
                shutil.rmtree(self.place)

    def look_at_the_outbox(self) -> None:
        states = self.office.rows("outbox", "state, reason, kind")
        assert {state for state, _, _ in states} <= {"sent"}, states
        assert {row[0] for row in self.office.rows("inbox", "state")} <= {"done", "aside"}
        repeats = 0
        for person in PEOPLE:
            numbers = [message.id for message in self.channel.screens[person]]
            assert numbers == sorted(numbers), "out of order"
            repeats += len(numbers) - len(set(numbers))
        assert repeats <= self.crashes

    def compare(self, person: str) -> None:
        """The same messages at the same times, each undisturbed."""
        quiet = Office(self.place / f"quiet-{person}", self.office.guide, RecordedChannel(), Clock())
        try:
            for known in self.received[person]:
                quiet.clock.now = self.times[known.key]  # type: ignore[assignment]
                stumbles[getattr(known.content, "text", "")] = 9 if "stumble-9" not in str(known.content) else 0
                content = known.content
                if isinstance(content, Pressed):
                    held = quiet.held(person)
                    assert held is not None
                    content = Pressed(held.case.code, content.turn, content.choice)
                quiet.bring(person, content, known.key)
            one, other = self.office.held(person), quiet.held(person)
            assert (one is None) == (other is None)
            if one is None or other is None:
                return
            assert one.case.now == other.case.now
            for each, quietly in zip(plainly(one.case), plainly(other.case), strict=True):
                assert each == quietly, (each, quietly)
            assert one.presses == other.presses
            texts = [
                [text.replace(case.code, "") for text in channel.texts(person)]
                for channel, case in ((self.channel, one.case), (quiet.channel, other.case))
            ]
            assert texts[0] == texts[1]
        finally:
            quiet.close()
            quiet.runner.close()


def plainly(case: Case) -> list[dict[str, object]]:
    """The events without what is each delivery's own."""
    return [{k: v for k, v in to_json(event).items() if k not in ("at", "code")} for event in case.events]


@pytest.mark.slow
def test_any_delivery(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(plan, "turn", stumbling_turn)
    monkeypatch.setattr(outbox, "pause", lambda attempt: 0.0005)
    monkeypatch.setattr(outbox, "LONGEST_LEFT_OVER", 0.001)
    monkeypatch.setattr(outbox, "MOST_FAULTS", 99)
    run_state_machine_as_test(
        AnyDelivery,
        settings=settings(
            settings(),
            stateful_step_count=25,
            suppress_health_check=list(HealthCheck),
            max_examples=effort(12, 200),
            print_blob=True,
        ),
    )
