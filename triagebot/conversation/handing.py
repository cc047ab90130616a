"""While a person of the shop has a conversation, the bot keeps quiet and keeps what comes in for that person.

Rules of this file:
- the bot still answers what is about the conversation itself (`FOR_THE_BOT`), if a message says that and nothing else;
- it keeps everything else as it came: that answers no question and gets no reply;
- it goes on when somebody says so, puts the open question again, or else asks what comes next.
"""

from triagebot.conversation.events import Remarked, Returned
from triagebot.conversation.scene import FOR_THEM, Scene
from triagebot.conversation.understood import Meaning

#: Characters of one message that are kept for them: more than any platform lets somebody send.
MOST_PASSED_ON = 100_000
#: The command that gives a conversation back to the bot.
BOT = "bot"
#: Commands that the bot still obeys.
FOR_THE_BOT = frozenset(
    {BOT, "help", "case", "privacy", "export", "language", "forget", "erase", "keep", "move", "stay"}
)


def keep(scene: Scene, text: str) -> None:
    """A message for the person who has the case."""
    note(scene, text)
    scene.blocks.clear()


def note(scene: Scene, text: str) -> None:
    """Words for the person who has the case, or will have it: those that ask for one say what for."""
    scene.add(Remarked(scene.at, FOR_THEM, text[:MOST_PASSED_ON]))


def bot(scene: Scene, meant: Meaning, text: str) -> None:
    """ "Back to the bot": gives the case back if a person has it."""
    if scene.case.handed:
        give_back(scene, "person")
        return
    scene.remark(BOT, text)
    scene.say("handover-bot-here")
    scene.stand_still()


def give_back(scene: Scene, by: str) -> None:
    """The bot goes on; `by` as in `Returned`."""
    scene.fire("give-back", lambda _: Returned(scene.at, by), _beneath(scene))
    scene.say("handover-returned" if by == "person" else "handover-returned-by", name=by)
    if scene.case.now.outcome != "person":
        scene.stand_still()
        return
    step = scene.decide()
    if step.question is None and (step.referral is not None or step.decision.kind == "person"):
        scene.stand_still()  # nothing has come to light, so a person should still look at it
    else:
        scene.go_on()


def _beneath(scene: Scene) -> str:
    """The state to which a conversation returns when it is given back."""
    return scene.case.now.without({"handed", "choosing", "confirming"}).state
