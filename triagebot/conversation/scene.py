"""One turn in the making: the case so far, what it is decided to do, and the blocks to say."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta

from triagebot.conversation import outcome
from triagebot.conversation.case import (
    Adopted,
    Answered,
    Asked,
    Case,
    Concluded,
    Event,
    Puzzled,
    Reason,
    Remarked,
    Standing,
    follow,
)
from triagebot.conversation.guide import Guide
from triagebot.conversation.machine import Position, View, move
from triagebot.conversation.policy import Step, follow_up, latest_choices, leading_traits, next_step
from triagebot.conversation.reply import (
    Block,
    Choice,
    Offers,
    Preface,
    Question,
    Remark,
    Reply,
    Result,
    Share,
    Status,
    Understood,
)
from triagebot.conversation.understood import Fact, Puzzle
from triagebot.conversation.wording import listing, said, shown
from triagebot.identify import BoundReading, ChoiceReading, CountReading, SizeReading, UnsureReading, belief
from triagebot.topics import Texts

#: After such a break the person is told where the conversation stood.
LONG_BREAK = timedelta(hours=6)
#: How much of a message that gave nothing is kept in the log.
KEPT = 500

_TELL: Mapping[str | None, Callable[..., tuple[tuple[Block, ...], Result]]] = {
    "answer": outcome.answer,
    "look-alike": outcome.look_alike,
    "person": outcome.person,
}


@dataclass(frozen=True, slots=True)
class Turn:
    """What one turn made: the case, the reply, and the events that are new."""

    case: Case
    reply: Reply
    events: tuple[Event, ...]
    understood: tuple[Fact, ...] = ()


class Scene:
    """One turn in the making: the case so far, and the blocks to say."""

    def __init__(self, guide: Guide, case: Case, now: datetime) -> None:
        self.guide = guide
        self.case = case
        self.at = now
        self.start = len(case.events)
        self.touched = case.touched
        self.blocks: list[Block] = []
        self.understood: tuple[Fact, ...] = ()
        self.result = Result()
        self.step: Step | None = None
        self.hush = False
        self.offers: tuple[Choice, ...] = ()

    @property
    def texts(self) -> Texts:
        return self.guide.language(self.case.language).texts

    def add(self, event: Event) -> None:
        self.case = follow(self.case, event)

    def tell(self, *blocks: Block) -> None:
        self.blocks += blocks

    def say(self, text: str, /, **values: object) -> None:
        """Say the text with this id."""
        self.tell(Remark(self.texts(text, **values), text))

    def turn(self) -> Turn:
        self._keep_result()
        question = None if self.hush else self.question()
        preface = self._preface() if question is not None and self.case.now.puzzle is None else ""
        status: Status = "person" if self.case.handed else self.case.now.outcome or "question"
        asked = (question,) if question is not None else ()
        offers = (Offers(self.offers),) if self.offers else ()
        blocks = (*self.blocks, *((Preface(preface),) if preface else ()), *asked, *offers)
        reply = Reply(blocks, status, self.result, self._candidates())
        return Turn(self.case, reply, self.case.events[self.start :], self.understood)

    def _keep_result(self) -> None:
        """An outcome that stands is told in ids with every reply, though its words are said once."""
        reached = self.case.now.outcome
        if reached in _TELL and self.result == Result():
            step = self.decide()
            if reached == "person" or (step.referral is None and step.decision.kind == reached):
                _, self.result = _TELL[reached](self.guide, self.texts, self.case, step, self.at)

    def _candidates(self) -> tuple[Share, ...]:
        topic = self.guide.topic
        shares = belief(topic.model, self.case.now.readings)
        rows = [
            Share(f, topic.fastenings[f].remover, float(p)) for f, p in zip(topic.model.fastenings, shares, strict=True)
        ]
        return tuple(sorted(rows, key=lambda row: -row.probability))

    def question(self) -> Question | None:
        """The question to show: not while something said is being asked back or picked from a list."""
        if self.case.now.puzzle is not None or self.case.now.picking or self.case.now.outcome == "stopped":
            return None
        return shown(self.guide, self.texts, self.case)

    def _preface(self) -> str:
        """What leads over to the question: why it is asked again, or that it goes with the answer."""
        now = self.case.now
        assert now.question is not None
        if now.outcome is not None:
            return self.texts("one-more-thing")
        if now.doubted:
            return self.texts("does-not-fit", name=self.texts(f"question-{now.question}.name"))
        if self.guide.topic.questions[now.question].purpose == "ability":
            choice = latest_choices(now.readings).get(now.question)
            text = f"ability-{now.question}-{choice}"
            return self.texts(text) if choice and self.texts.has(text) else ""
        return ""

    def remark(self, what: str, text: str) -> None:
        """Notes that a message was of this kind; nothing of it is an answer."""
        self.add(Remarked(self.at, what, text[:KEPT]))

    def stand_still(self) -> None:
        """Nothing changed: after the end, say that it is the end; while something is asked back, ask it once more."""
        now = self.case.now
        if self.case.handed:
            self.say("relay-stands")
            self.offers, self.hush = (Choice("bot", self.texts("relay-back")),), True
        elif now.puzzle is not None and now.puzzle.proposed is not None:
            clause = said(self.guide, self.texts, now.puzzle.proposed)
            name = self.texts(f"question-{now.puzzle.question}.name")
            self.say(f"puzzle-{now.puzzle.kind}", said=now.puzzle.text, proposed=clause, name=name)
        elif now.outcome is not None:
            self.tell(outcome.afterwards(self.texts, self.case))
        elif now.question is None:
            self.go_on()

    # --- where the case goes ------------------------------------------------------------------------------------

    def catch_up(self) -> None:
        """Bring an old case up to the topic as it is now, and say where it stood after a long break."""
        topic, case = self.guide.topic, self.case
        if case.digest != topic.digest:
            lost = tuple(dict.fromkeys(f.reading.question for f in case.now.facts if not self._still_asked(f)))
            ended = case.now.outcome not in (None, "stopped")
            asking = {state.question: state.id for state in topic.flow.states if state.question}
            question = None if ended or case.now.question not in asking else case.now.question
            state = topic.flow.start if question is None else asking[question]
            self.add(Adopted(self.at, topic.digest, lost, question, state))
            if lost:
                self.say("topic-changed", count=len(lost))
        if self.at - self.touched > LONG_BREAK and self.case.now.facts:
            self.say("welcome-back", known=outcome.because(self.guide, self.texts, self.case))

    def _still_asked(self, fact: Fact) -> bool:
        question = self.guide.topic.questions.get(fact.reading.question)
        match fact.reading:
            case _ if question is None:
                return False
            case ChoiceReading():
                return fact.reading.choice in question.choices
            case CountReading():
                return question.kind == "count"
            case SizeReading() | BoundReading():
                return question.kind == "size" and fact.reading.means in self._means()
            case UnsureReading():
                return True

    def _means(self) -> frozenset[str]:
        return frozenset(means.id for means in self.guide.topic.flow.noise.means)

    def decide(self) -> Step:
        now = self.case.now
        self.step = next_step(self.guide.topic, now.readings, now.asks, now.mentioned, self.guide.barred)
        return self.step

    def go_on(self) -> None:
        """Ask the next question, or end with an outcome."""
        now = self.case.now
        step = self.decide()
        if step.question is not None:
            told = {fact.reading.question for fact in self.understood}
            if step.question == now.question and now.outcome in (None, "stopped") and now.question not in told:
                self.ask(step.question, again=now.again, doubted=now.doubted, still=True)
            else:
                self.ask(step.question, again=step.again, doubted=step.doubted)
            return
        self.conclude(step)
        self.tell_outcome()
        if step.referral is None:
            self.follow_up_on(step, now)

    def follow_up_on(self, step: Step, before: Standing) -> None:
        """Ask what else is needed for the tool: once, but what stood open beside an outcome `before` stays open."""
        now = self.case.now
        still = before.question if before.outcome in outcome.NAMED else None
        asks = {question: times for question, times in now.asks.items() if question != still}
        extra = follow_up(self.guide.topic, step.decision, now.readings, asks, now.mentioned, self.guide.barred)
        if extra is not None:
            self.ask(extra, still=extra == still, beside=True)

    def ask(
        self, question: str, *, again: bool = False, doubted: bool = False, still: bool = False, beside: bool = False
    ) -> None:
        state = self.move("ask", self.state_of(question))
        self.add(Asked(self.at, question, state, again, doubted, still, beside))

    def state_of(self, question: str) -> str:
        """The state that asks a question."""
        return next(s.id for s in self.guide.topic.flow.states if s.question == question)

    def reopen(self) -> None:
        """Take up again, where it stood, what the person had stopped. No guard has a say: it was asked already."""
        now = self.case.now
        if now.outcome == "stopped" and now.question is not None:
            state = self.state_of(now.question)
            self.add(Asked(self.at, now.question, state, now.again, now.doubted, still=True))

    def settle(self) -> None:
        """See to it that a conversation which goes on has something open."""
        now = self.case.now
        if now.outcome is None and now.question is None and now.puzzle is None and not now.picking:
            self.go_on()

    def conclude(self, step: Step) -> None:
        kind = "person" if step.referral is not None else step.decision.kind
        state = next(s.id for s in self.guide.topic.flow.states if s.outcome == kind)
        reason: Reason = self._reason(step) if kind == "person" else ""
        named = outcome.leading(self.guide, step, step.decision) if kind in outcome.NAMED else ()
        self.add(Concluded(self.at, kind, self.move("conclude", state), reason, tuple(row.id for row in named)))

    def _reason(self, step: Step) -> Reason:
        if step.referral is not None:
            return "referral"
        model = self.guide.topic.model
        place = int(step.shares.argmax())
        fastening = self.guide.topic.fastenings[model.fastenings[place]]
        if fastening.remover is not None or step.shares[place] < 0.5:
            return "doubt"
        return "unlisted" if fastening.broad else "no-remover"

    def move(self, trigger: str, to: str | None = None) -> str:
        now = self.case.now
        step = self.step or self.decide()
        view = View(latest_choices(now.readings), leading_traits(self.guide.topic, step.decision), now.mentioned)
        return move(self.guide.topic, Position(now.state, view), trigger, to)

    def tell_outcome(self) -> None:
        """Say the outcome that the case has reached; a tool that would not be named today is not named again."""
        step = self.decide()
        if self.case.now.outcome in outcome.NAMED and (
            step.referral is not None or step.decision.kind != self.case.now.outcome
        ):
            self.conclude(step)
        reached = self.case.now.outcome
        if reached in _TELL:
            blocks, self.result = _TELL[reached](self.guide, self.texts, self.case, step, self.at)
            self.tell(*blocks)

    # --- what a message does ------------------------------------------------------------------------------------

    def take(self, facts: tuple[Fact, ...], mentions: tuple[str, ...], text: str) -> None:
        """Apply readings: echo them, then go on."""
        before = self.note(facts, mentions, text)
        if before.outcome in outcome.NAMED and facts and self._only_adds(facts):
            self._after_the_end()
            return
        warnings = self._early_warnings(before)
        if warnings and self.decide().question is not None:
            self.tell(*outcome.hazards(self.guide, self.texts, warnings))
        self.go_on()

    def _early_warnings(self, before: Standing) -> list[str]:
        """Warnings that what was just told or touched on calls for, before hands go near the wheel again."""
        old, new = latest_choices(before.readings), latest_choices(self.case.now.readings)
        touched = self.case.now.mentioned - before.mentioned
        found = [
            row.caution
            for row in self.guide.topic.flow.extra_cautions
            if (new.get(row.question) == row.choice and old.get(row.question) != row.choice)
            or (row.question in touched and row.question not in new)
        ]
        cautions = self.guide.topic.cautions
        return [caution for caution in dict.fromkeys(found) if cautions[caution].signal == "warning"]

    def note(self, facts: tuple[Fact, ...], mentions: tuple[str, ...], text: str) -> Standing:
        """Apply readings and echo them; gives the standing before."""
        self.reopen()
        before = self.case.now
        self.add(Answered(self.at, facts, mentions, text[: 4 * KEPT]))
        self.understood = facts
        if facts:
            self.tell(self._echo(facts, before.facts))
        return before

    def _only_adds(self, facts: tuple[Fact, ...]) -> bool:
        questions = self.guide.topic.questions
        return all(questions[f.reading.question].purpose == "obstacle" for f in facts)

    def _after_the_end(self) -> None:
        """An obstacle told after the remover was named: what it adds, or a person where it must be one."""
        before = self.case.now
        step = self.decide()
        if step.referral is not None or step.decision.kind == "person":
            self.conclude(step)
            self.tell_outcome()
            return
        self.conclude(step)
        latest = latest_choices(before.readings)
        added = [row.caution for row in self.guide.topic.flow.extra_cautions if latest.get(row.question) == row.choice]
        self.tell(*outcome.hazards(self.guide, self.texts, list(dict.fromkeys(added))))
        fastenings = outcome.leading(self.guide, step, step.decision)
        for fastening in fastenings if added else []:
            assert fastening.remover is not None
            self.tell(outcome.remover(self.guide, self.texts, fastening.remover))
        ids = outcome.cautions_for(self.guide, self.case, fastenings)
        links = outcome.notes(self.guide, self.case, fastenings)
        named = fastenings[0] if step.decision.kind == "answer" else None
        self.result = Result(named.id if named else None, named.remover if named else None, tuple(ids), links)
        self.say("rest-stays")
        self.follow_up_on(step, before)

    def _echo(self, facts: tuple[Fact, ...], before: tuple[Fact, ...]) -> Understood:
        old = {f.reading.question: f for f in before if not isinstance(f.reading, UnsureReading)}
        clauses = [said(self.guide, self.texts, fact.reading) for fact in facts]
        changed = [
            f
            for f in facts
            if (f.corrects or not self.case.past[-1].again)
            and f.reading.question in old
            and old[f.reading.question].reading != f.reading
            and not isinstance(f.reading, UnsureReading)
        ]
        text = self.texts("understood", clauses=listing(self.texts, clauses))
        if changed:
            instead = [said(self.guide, self.texts, old[f.reading.question].reading) for f in changed]
            text += " " + self.texts("instead-of", clauses=listing(self.texts, instead))
        return Understood(text, tuple(dict.fromkeys(fact.reading.question for fact in facts)))

    def puzzle(self, puzzle: Puzzle) -> None:
        """Ask back about something before it counts; only a proposal waits for a yes or no."""
        self.reopen()
        name = self.texts(f"question-{puzzle.question}.name")
        if puzzle.proposed is not None:
            clause = said(self.guide, self.texts, puzzle.proposed)
            self.decide()
            self.add(Puzzled(self.at, puzzle, self.move("doubt")))
            self.say(f"puzzle-{puzzle.kind}", said=puzzle.text, proposed=clause, name=name)
            return
        self.remark("not-understood", puzzle.text)
        question = self.guide.topic.questions[puzzle.question]
        self.say(f"puzzle-{puzzle.kind}-plain", said=puzzle.text, name=name, least=question.least, most=question.most)
