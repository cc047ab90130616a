"""One turn in the making: the case so far, what it is decided to do, and the blocks to say."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from triagebot.conversation import outcome, steps
from triagebot.conversation.blocks import (
    AnswerList,
    Block,
    Choice,
    Finding,
    Offers,
    Picture,
    Preface,
    Question,
    Remark,
    Step,
)
from triagebot.conversation.case import Case, Standing, follow
from triagebot.conversation.events import Asked, Concluded, Event, LeftSteps, Reason, Remarked, news
from triagebot.conversation.guide import Guide
from triagebot.conversation.machine import CONFIRMING, Position, View, move, standing_choices
from triagebot.conversation.policy import NextStep, follow_up, leading_traits, likeliest_traits, next_step
from triagebot.conversation.reply import Reply, Result, Share, Status
from triagebot.conversation.understood import Fact
from triagebot.conversation.wording import listing, not_shown_twice, preface_to, said, shown
from triagebot.identify import belief
from triagebot.topics import Texts

#: How the choice of a language begins: `speak-de`.
SPEAK = "speak-"
#: What is fired on the way through a procedure; anything else leads out of it.
_WHILE_GUIDED = ("step", "trouble", "leave", "list", "hand-over", "person", "restart", *CONFIRMING)
#: How much of a message that gave nothing is kept in the log.
KEPT = 500
#: What a message is remarked as that is for the member of staff who has the case.
FOR_THEM = "for-them"
#: Remarks behind which the open question is not shown: what was asked about the conversation itself, goodbyes, and what
#: is for somebody else.
ENDING = frozenset({"forget", "language", "visit", "hold", "erase", "moved", "stop", FOR_THEM})
#: What is asked for of the shop, and waits for a yes.
ASKING_FOR = frozenset({"visit", "hold"})
#: After such a break the person is told where the conversation stood.
LONG_BREAK = timedelta(hours=6)

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
        self.before = case.now
        self.touched = case.touched
        self.blocks: list[Block] = []
        self.understood: tuple[Fact, ...] = ()
        self.introduced = False
        self.result = Result()
        self.step: NextStep | None = None
        self.offers: tuple[Choice, ...] = ()
        self.asides: tuple[Choice, ...] = ()

    @property
    def texts(self) -> Texts:
        return self.guide.language(self.case.language).texts

    @property
    def outdated(self) -> bool:
        """Whether the case is of another edition, or was left for long (see `edition.catch_up`)."""
        return self.case.digest != self.guide.topic.digest or self.at - self.touched > LONG_BREAK

    def add(self, event: Event) -> None:
        self.case = follow(self.case, event)

    def tell(self, *blocks: Block) -> None:
        self.blocks += blocks

    def say(self, text: str, /, **values: object) -> None:
        """Say the text with this id."""
        self.tell(Remark(self.texts(text, **values), text))

    def turn(self) -> Turn:
        self._keep_result()
        question = None if self.case.handed or self._ends_here() else self.question()
        fresh = news(self.case.events[self.start :])
        leads = question is not None and self.case.now.puzzle is None
        preface = preface_to(self.guide, self.texts, self.case, fresh=fresh) if leads else ""
        status: Status = "person" if self.case.handed else self.case.now.outcome or "question"
        asked = not_shown_twice(question, self.before, self.case.events[self.start :])
        said = [block for block in self.blocks if not isinstance(block, Picture | Offers)]
        shows = [block for block in self.blocks if isinstance(block, Picture)]
        offered = self.offers or tuple(each for b in self.blocks if isinstance(b, Offers) for each in b.choices)
        offers = (Offers(offered),) if offered and question is None else ()
        blocks = (*said, *shows, *((Preface(preface),) if preface else ()), *asked, *offers)
        reply = Reply(blocks, status, self.result, self._candidates())
        return Turn(self.case, reply, self.case.events[self.start :], self.understood)

    def _keep_result(self) -> None:
        """An outcome that stands is told in ids with every reply, though its words are said once."""
        reached = self.case.now.outcome
        if reached in _TELL and self.result == Result():
            step = self.decide()
            if reached == "person" or (step.referral is None and step.decision.kind == reached):
                _, self.result = self.told()

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
        question = shown(self.guide, self.texts, self.case)
        return replace(question, aside=(*self.asides, *question.aside)) if question and self.asides else question

    def _ends_here(self) -> bool:
        """Whether the turn asks something of its own, or is the last for now, so that no question is to follow."""
        return any(isinstance(e, Remarked) and e.what in ENDING for e in self.case.events[self.start :])

    def remark(self, what: str, text: str) -> None:
        """Notes that a message was of this kind; nothing of it is an answer."""
        self.add(Remarked(self.at, what, text[:KEPT]))

    def stand_still(self) -> None:
        """Nothing changed: after the end, say that it is the end; while something is asked back, ask it once more."""
        now = self.case.now
        if self.case.handed:
            self.say("handover-stands")
            self.offers = (Choice("bot", self.texts("handover-back")),)
        elif now.puzzle is not None and now.puzzle.proposed is not None:
            self.ask_back()
        elif now.places[-1].kind == "guided":
            self.tell_step()
        elif now.outcome is not None:
            self.tell(outcome.afterwards(self.texts, self.case))
            self.offer_more()
        elif now.question is None:
            self.go_on()

    def keep_open(self) -> None:
        """Something was answered in between: what was open stays open, and what a case ended with is not told again."""
        if self.case.now.outcome not in outcome.NAMED:
            self.stand_still()
        else:
            self.offer_more()

    def offer_more(self, *told: str) -> None:
        """What can be asked next about an outcome, but for what was just `told`; or said at the step that it is."""
        if self.case.now.places[-1].kind == "guided":
            self.offers = steps.offers(self.guide, self.texts, self.case)
        elif self.case.now.outcome in outcome.ASKED_NEXT:
            ids = outcome.ASKED_NEXT[self.case.now.outcome]
            self.offers = outcome.offers(self.texts, (each for each in ids if each not in told))

    # --- where the case goes ------------------------------------------------------------------------------------

    def decide(self) -> NextStep:
        now = self.case.now
        self.step = next_step(self.guide.topic, now.readings, now.asks, now.mentioned, self.guide.barred | now.settled)
        return self.step

    def go_on(self, *, lead: str = "") -> None:
        """Ask the next question, or end with an outcome, with this `lead`."""
        now = self.case.now
        step = self.decide()
        if step.question is not None:
            told = {fact.reading.question for fact in self.understood}
            if step.question == now.question and now.outcome in (None, "stopped") and now.question not in told:
                self.ask(step.question, again=now.again, doubted=now.doubted, still=True, first=step.first)
            else:
                if step.mistaken is not None:
                    self.say("looked-at", fastening=self.texts(f"fastening-{step.mistaken}"))
                doubted = step.doubted and step.mistaken is None
                self.ask(step.question, again=step.again, doubted=doubted, first=step.first)
            return
        self.conclude(step)
        self.tell_outcome(lead=lead)
        if step.referral is None:
            self.follow_up_on(step, now)

    def follow_up_on(self, step: NextStep, before: Standing) -> None:
        """Ask what was touched on and changes what is needed for the tool: once, but what stood open beside an outcome
        `before` stays open."""
        now = self.case.now
        still = before.question if before.outcome in outcome.NAMED else None
        asks = {question: times for question, times in now.asks.items() if question != still}
        barred = self.guide.barred | now.settled
        extra = follow_up(self.guide.topic, step.decision, now.readings, asks, now.mentioned, barred, touched=True)
        if extra is not None:
            self.ask(extra, still=extra == still, beside=True)

    def ask(
        self,
        question: str,
        *,
        again: bool = False,
        doubted: bool = False,
        still: bool = False,
        beside: bool = False,
        first: str | None = None,
    ) -> None:
        """Put a question whose guards hold, or will once the person has done what to do `first`."""
        make = lambda state: Asked(self.at, question, state, again, doubted, still, beside, first or "")  # noqa: E731
        self.fire("ask", make, self.state_of(question), first)

    def ask_again(self, question: str, *, again: bool = False, doubted: bool = False, still: bool = False) -> None:
        """Put a question once more. No guard has a say, since it was asked before or the person brought it up."""
        make = lambda state: Asked(self.at, question, state, again, doubted, still)  # noqa: E731
        self.fire("ask-again", make, self.state_of(question))

    def state_of(self, question: str) -> str:
        """The state that asks a question."""
        return next(s.id for s in self.guide.topic.flow.states if s.question == question)

    def reopen(self) -> None:
        """Take up again, where it stood, what the person had stopped."""
        now = self.case.now
        if now.outcome == "stopped" and now.question is not None:
            self.ask_again(now.question, again=now.again, doubted=now.doubted, still=True)

    def settle(self) -> None:
        """See to it that a conversation which goes on has something open."""
        now = self.case.now
        waits = now.picking or now.confirming in ASKING_FOR
        if now.outcome is None and now.question is None and now.puzzle is None and not waits:
            self.go_on()

    def conclude(self, step: NextStep) -> None:
        kind = "person" if step.referral is not None else step.decision.kind
        state = next(s.id for s in self.guide.topic.flow.states if s.outcome == kind)
        reason: Reason = self.reason(step) if kind == "person" else ""
        named = outcome.leading(self.guide, step, step.decision) if kind in outcome.NAMED else ()
        ids = tuple(row.id for row in named)
        self.fire("conclude", lambda state: Concluded(self.at, kind, state, reason, ids), state)

    def reason(self, step: NextStep) -> Reason:
        """Why a person must look."""
        if step.referral is not None:
            return "referral"
        model = self.guide.topic.model
        place = int(step.shares.argmax())
        fastening = self.guide.topic.fastenings[model.fastenings[place]]
        if fastening.remover is not None or step.shares[place] < 0.5:
            return "doubt"
        if fastening.mistaken:
            return "mistaken"
        return "unlisted" if fastening.broad else "no-remover"

    def fire(self, trigger: str, make: Callable[[str], Event], to: str | None = None, first: str | None = None) -> None:
        """Fire a trigger of the machine, to the state `to` where several may be reached: the event that `make` makes of
        the new state is added, and what there is to say on entering it is said. What the person is to do `first`
        counts as done."""
        now, topic = self.case.now, self.guide.topic
        step = self.step or self.decide()
        # A question may be asked for what leads alone, or for what was decided on: either opens its guard.
        leading = leading_traits(topic, step.decision) | likeliest_traits(topic, step.shares)
        answered = {name: told for name, told in standing_choices(topic, now.readings).items() if name != first}
        view = View(answered, leading, now.mentioned)
        state = now.state
        if now.at("choosing", "confirming") is not None:
            now = now.without({"choosing", "confirming"})
            state = move(topic, Position(state), "lapse", now.state)
        if now.places[-1].kind == "guided" and trigger not in _WHILE_GUIDED:
            state = move(topic, Position(state), "leave", now.without({"guided"}).state)
        move(topic, Position(state, view, record=lambda state: self.add(make(state)), host=self), trigger, to)

    def tell_outcome(self, *, lead: str = "") -> None:
        """Say the outcome that the case has reached, before all else in this turn; a tool that would not be named today
        is not named again. `lead` stands before what was found."""
        step = self.decide()
        if self.case.now.outcome in outcome.NAMED and (
            step.referral is not None or step.decision.kind != self.case.now.outcome
        ):
            self.conclude(step)
        reached = self.case.now.outcome
        if reached in _TELL:
            blocks, self.result = self.told()
            if lead and isinstance(found := blocks[0], Finding):
                blocks = (replace(found, text=f"{lead} {found.text}"), *blocks[1:])
            self.blocks = list(outcome.first_of_all(blocks, self.blocks))

    def told(self) -> tuple[tuple[Block, ...], Result]:
        """The outcome that stands: its first message, and the same in ids."""
        return _TELL[self.case.now.outcome](self.guide, self.texts, self.case, self.decide(), self.at)

    # --- what is said on entering a state of the machine ----------------------------------------------------------

    def ask_back(self) -> None:
        """Something that was said is asked back before it counts."""
        puzzle = self.case.now.puzzle
        if puzzle is not None and puzzle.proposed is not None:
            clause = said(self.guide, self.texts, puzzle.proposed)
            name = self.texts(f"question-{puzzle.question}.name")
            self.say(f"puzzle-{puzzle.kind}", said=puzzle.text, proposed=clause, name=name)
            self.offers = (Choice("yes", self.texts("puzzle-yes-button")), Choice("no", self.texts("puzzle-no-button")))

    def leave_steps(self) -> None:
        """Lead out of the steps, since another tool is wanted."""
        if self.case.now.at("guided") is not None:
            self.add(LeftSteps(self.at, self.case.now.without({"guided"}).state))

    def tell_step(self) -> None:
        """The step at which somebody is, its cautions first."""
        self.tell(*steps.told(self.guide, self.texts, self.case))
        self.offers = steps.offers(self.guide, self.texts, self.case)

    def tell_help(self) -> None:
        """What helps in the trouble that somebody has at a step."""
        tried = self.case.now.places[-1].tried
        self.tell(Step(self.texts(f"help-{tried[-1]}"), f"help-{tried[-1]}"))
        self.offers = steps.offers(self.guide, self.texts, self.case)

    def say_stopped(self) -> None:
        self.say("stopped", code=self.case.code)

    def changeable(self) -> list[str]:
        """The questions whose answers can be changed."""
        return list(dict.fromkeys(fact.reading.question for fact in self.case.now.facts))

    def list_answers(self) -> None:
        """Every answer with a number, to pick the one that is to change."""
        rows = [self.texts("change-which")]
        for number, question in enumerate(self.changeable(), 1):
            readings = dict.fromkeys(reading for reading in self.case.now.readings if reading.question == question)
            answer = listing(self.texts, [said(self.guide, self.texts, reading) for reading in readings])
            rows.append(self.texts("change-row", number=number, answer=answer))
        self.tell(AnswerList("\n".join(rows)))

    def ask_whether_to_forget(self) -> None:
        self.say("forget")
        self.offers = (Choice("erase", self.texts("forget-yes")), Choice("keep", self.texts("forget-no")))

    def list_languages(self) -> None:
        """Which languages there are, each by its own name."""
        names = self.guide.own_names
        self.say("language", languages=", ".join(names.values()))
        self.offers = tuple(Choice(f"{SPEAK}{each}", name) for each, name in names.items())
