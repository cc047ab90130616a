"""Whatever people say and whatever happens to the process: the stored case is the one that they were answered from."""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from tempfile import TemporaryDirectory

from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, rule

from tests.conversation import sayings
from tests.conversation.guides import shipped_guide, without_question
from tests.conversation.invariants import hold_for_a_case, hold_for_a_reply
from tests.store.reading import current_case
from triagebot.conversation import Case, Message, fold_events
from triagebot.conversation.events import from_json
from triagebot.delivery import Heard, WaitingClient
from triagebot.store import Store, Transaction, open_store
from triagebot.testing import Clock, Codes

PEOPLE = st.sampled_from(["lines:p1", "lines:p2"])


class CrashError(Exception):
    """Stands for a process that dies between writing and committing."""


class DyingStore:
    def __init__(self, store: Store) -> None:
        self.store = store

    @contextmanager
    def begin(self) -> Iterator[Transaction]:
        with self.store.begin() as tx:
            yield tx
            raise CrashError


class AnySitting(RuleBasedStateMachine):
    """Two people, one database. `known` is the case that each was last answered from."""

    def __init__(self) -> None:
        super().__init__()
        self.scratch = TemporaryDirectory()
        self.folder = Path(self.scratch.name) / "data"
        self.clock, self.codes = Clock(), Codes()
        self.guide = shipped_guide()
        self.store = open_store(self.folder)
        self.known: dict[str, Case] = {}
        self.keys: dict[str, list[str]] = {}
        self.count = 0

    def teardown(self) -> None:
        self.store.close()
        self.scratch.cleanup()

    def waiting_client(self) -> WaitingClient:
        return WaitingClient(self.guide, self.store, self.clock, self.codes)

    def stored(self, person: str) -> Case | None:
        with self.store.read() as view:
            stored = current_case(view, person)
        if stored is None:
            return None
        return fold_events(from_json({k: v for k, v in row.items() if k != "message"}) for row in stored.events)

    def answered(self, person: str, heard: Heard) -> None:
        self.known[person] = heard.case
        hold_for_a_case(self.guide, heard.case)
        hold_for_a_reply(self.guide, heard.case, heard.reply)

    @initialize()
    def opens(self) -> None:
        self.answered("lines:p1", self.waiting_client().arrive("lines:p1", "en"))

    @rule(person=PEOPLE, message=sayings.messages(), keyed=st.booleans())
    def says(self, person: str, message: Message, keyed: bool) -> None:
        self.count += 1
        key = f"k{self.count}" if keyed else None
        self.clock.wait(minutes=1)
        heard = self.waiting_client().hear(person, message, "en", key)
        assert not heard.repeated
        self.answered(person, heard)
        if key:
            self.keys.setdefault(heard.case.code, []).append(key)

    @rule(person=PEOPLE, text=sayings.texts())
    def says_the_same_message_again(self, person: str, text: str) -> None:
        if person not in self.known or not (keys := self.keys.get(self.known[person].code)):
            return
        if self.known[person].digest == self.guide.topic.digest:
            heard = self.waiting_client().hear(person, Message(text), "en", keys[len(text) % len(keys)])
            assert heard.repeated
            assert heard.case == self.known[person]

    @rule(person=PEOPLE, new=st.booleans())
    def arrives(self, person: str, new: bool) -> None:
        before = self.known.get(person)
        heard = self.waiting_client().arrive(person, "en", new=new)
        self.answered(person, heard)
        if before is not None and before.now.outcome in (None, "stopped") and not new:
            assert heard.case.code == before.code

    @rule(person=PEOPLE, message=sayings.messages())
    def dies_before_the_commit(self, person: str, message: Message) -> None:
        dying = WaitingClient(self.guide, DyingStore(self.store), self.clock, self.codes)  # type: ignore[arg-type]
        try:
            dying.hear(person, message, "en", "never seen")
        except CrashError:
            pass
        else:
            raise AssertionError("nothing was written")

    @rule()
    def process_starts_again(self) -> None:
        self.store.close()
        self.store = open_store(self.folder)

    @rule(days=st.sampled_from([0.5, 30]))
    def time_passes(self, days: float) -> None:
        self.clock.wait(days=days)

    @rule(edition=st.sampled_from([None, "sprockets", "fitting"]))
    def topic_is_edited(self, edition: str | None) -> None:
        self.guide = without_question(shipped_guide(), edition) if edition else shipped_guide()

    @invariant()
    def what_is_stored_is_what_was_answered(self) -> None:
        for person, case in self.known.items():
            assert self.stored(person) == case


AnySitting.TestCase.settings = settings(max_examples=max(10, settings().max_examples // 3), stateful_step_count=20)


class TestAnySitting(AnySitting.TestCase):  # type: ignore[misc,name-defined]
    """Runs the machine."""
