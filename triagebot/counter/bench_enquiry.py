"""What staff ask that customers ask as well: what a word means, how a test is done, what the shop takes for its work.

It is answered as it would be in a conversation in which nothing is known yet, in as few words.
"""

from triagebot.conversation import Reply, open_case
from triagebot.conversation.blocks import Remark
from triagebot.conversation.enquiries import find_enquiry, load_enquiries
from triagebot.conversation.enquiries.answers import answer
from triagebot.conversation.reply import told
from triagebot.conversation.scene import Scene
from triagebot.conversation.shop_offers import terms
from triagebot.counter.work import Work
from triagebot.shop import fold

#: What nobody at the bench asks, whatever their words look like.
_NOT_HERE = frozenset({
    "tool-here", "sell-tool", "book", "come-at", "keep-tool", "calendar", "cancel-visit", "do-it-for-me", "where",
    "ask-the-shop", "privacy", "language", "who", "why", "left", "said", "again", "which-tool", "is-it-ready", "photo",
    "other-trouble", "any-bike", "no-chain-whip", "only-has", "likelier", "price", "how-long-shop", "open-now", "hours",
    "open-day", "deposit",
})  # fmt: skip
#: A case that is asked in, and never kept.
_NO_CODE = "000-000"


def as_customers_ask(work: Work, text: str, *, surely: bool = False, only: str = "") -> Reply | None:
    """The answer to what a customer might ask, too; None for anything else, and with `surely` for what may be something
    else; with `only` for any other enquiry than this one."""
    known = load_enquiries(work.texts.language, work.guide.topic.folder)
    found = find_enquiry(text, known, work.guide.language(work.texts.language).words.common)
    if found is None or found.id in _NOT_HERE or (surely and not found.sure) or only not in ("", found.id):
        return None
    case = open_case(work.guide, _NO_CODE, work.texts.language, work.now)
    blocks = answer(Scene(work.guide, case, work.now), known, found)
    words = "\n".join(block.text for block in blocks if isinstance(block, Remark))
    return told(words) if words else None


def services(work: Work, text: str) -> str:
    """What the shop takes for the work that a text names; that its list has no price for other work; all of the list
    where no work is named."""
    rows, jobs = work.guide.shop.services, work.words.jobs
    if not rows:
        return work.texts("staff-services-none")
    said = [word.strip(",.?!") for word in fold(text.replace("’", "").replace("'", "")).split()]
    done = {jobs[word] for word in said if word in jobs}
    ours = any(f" {part} " in f" {' '.join(said)} " for part in work.words.job_parts)
    named = [word for word in said if word not in work.words.job_fillers and word not in work.words.tool_names]
    if not ours and any(word not in work.words.job_general and word not in jobs for word in named):
        last = len(said) - said[::-1].index(named[-1])
        job = " ".join(said[said.index(named[0]) : last])
        return work.texts("staff-services-not-this", job=job, count=len(rows))
    for kind in ("stuck", "on", "off", "look"):  # "remove a stuck freewheel" is about what is stuck
        fits = [row for row in rows if kind in {jobs.get(word) for word in fold(row.name).split()}]
        if kind in done and fits:
            rows = tuple(fits)
            break
    return "\n".join(
        work.texts("enquiry-service", name=row.name, terms=terms(work.guide, work.texts, row)) for row in rows
    )
