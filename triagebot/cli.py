"""The commands. Each loads only what it needs, so that `triagebot ask` starts fast."""

import gc
import json
import os
import sys
from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

from cyclopts import App, Parameter

from triagebot import __version__
from triagebot.commands import checking, keeping, staff, study
from triagebot.errors import DataError, SettingsError, TriagebotError, UsageError
from triagebot.loading import (
    BranchName,
    DataFolder,
    Folder,
    Shops,
    branches_of,
    guide_of,
    guides_of,
    settings_for,
    settings_of,
    shop_folder,
    spoken,
    store_of,
    topic_folder,
    with_neighbours,
)

if TYPE_CHECKING:
    from triagebot.conversation import Guide
    from triagebot.settings import Branch
    from triagebot.store.key_rotation import Reencrypt

app = App(
    name="triagebot",
    help="Finds out in conversation how rear sprockets are fastened, and names the remover that fits.",
    version=__version__,
)
topics = App(name="topics", help="Look at a topic: what can be identified, and how the conversation runs.")
app.command(topics)
key = App(name="key", help="Change the key that closes what is personal among the data.")
app.command(key)
app.command(staff.staff)
app.command(keeping.letters)
for command in (
    checking.check,
    study.simulate,
    study.report,
    study.replay,
    study.recount,
    study.train,
    keeping.backup,
    keeping.restore,
    keeping.tidy,
    keeping.move_store,
    keeping.doctor,
):
    app.command(command)


def main() -> None:
    """Run a command; an error of ours is printed as it is and ends with exit status 1 or 2, never a traceback."""
    # The arrays here are small: threads of the linear algebra would only cost their start (0.04 s).
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    gc.set_threshold(200_000, 20, 20)  # what is read at the start stays to the end: looking through it finds nothing
    _open_streams()
    arguments = sys.argv[1:]
    if not arguments and sys.stdin.isatty() and sys.stdout.isatty():
        arguments = ["talk"]
    try:
        try:
            app(arguments or ["--help"])
        finally:
            sys.stdout.flush()
    except UsageError as error:
        _complain(error)
        sys.exit(2)
    except TriagebotError as error:
        _complain(error)
        sys.exit(1)
    except BrokenPipeError:
        _drop_output()
        sys.exit(1)
    except OSError as error:
        print(f"triagebot: {error.filename or 'standard output'}: {error.strerror or error}", file=sys.stderr)
        _drop_output()
        sys.exit(1)
    except KeyboardInterrupt:
        sys.exit(130)
    finally:
        gc.freeze()  # the process ends: to look for rings among all that was read would take another 0.03 s


def _open_streams() -> None:
    """UTF-8 whatever the system's locale is, since texts hold “ and é; a stream that was closed is an empty one."""
    for name, mode in (("stdin", "r"), ("stdout", "w"), ("stderr", "w")):
        if getattr(sys, name) is None:
            nothing = os.open(os.devnull, os.O_RDWR)
            setattr(sys, name, open(nothing, mode, encoding="utf-8", closefd=False))  # noqa: SIM115 - open to the end
        else:
            getattr(sys, name).reconfigure(encoding="utf-8", errors="replace")


def _drop_output() -> None:
    """What could not be written would be tried again when the process ends."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def _complain(error: TriagebotError) -> None:
    if isinstance(error, DataError):
        print(
            f"triagebot: {error.folder} cannot be used; nothing was changed. Mend this and start again:",
            file=sys.stderr,
        )
        print(error, file=sys.stderr)
    else:
        print(f"triagebot: {error}", file=sys.stderr)


@app.command
def ask(
    text: str,
    /,
    *,
    lang: Annotated[str | None, Parameter(help="Language to speak, such as en.")] = None,
    json_: Annotated[bool, Parameter(name="--json", negative="", help="Print the outcome as JSON.")] = False,
    why: Annotated[bool, Parameter(negative="", help="Also print which rules read it, and why this is asked.")] = False,
    open_: Annotated[str | None, Parameter(name="--open", help="The question that it answers, such as count.")] = None,
    topic: Folder = None,
    shop: Folder = None,
    branch: BranchName = None,
) -> None:
    """Say one message and print what comes of it, keeping nothing."""
    from triagebot.channels.lines import candidate_rows, fact_row
    from triagebot.conversation import Message, ask_first, open_case, plain, turn

    settings = settings_for(branch, topic=topic, shop=shop, language=lang)
    language = spoken(settings, lang)
    guide = guide_of(settings, language)
    now = datetime.now(UTC)
    case = open_case(guide, "", language, now)
    if open_ is not None:
        if open_ not in guide.topic.questions:
            raise UsageError(f"there is no question {open_!r}; there is: {', '.join(guide.topic.questions)}")
        case = ask_first(guide, case, open_, now)
    if why:
        from triagebot.study.trace import watched
        from triagebot.study.why import explained

        taken, looks, enquiry = watched(lambda: turn(guide, case, Message(text), now))
        print(explained(guide, looks, enquiry, taken), file=sys.stderr if json_ else sys.stdout)
    else:
        taken = turn(guide, case, Message(text), now)
    reply = taken.reply
    if not json_:
        print(plain(reply))
        return
    row = {
        "status": reply.status,
        "understood": [fact_row(fact) for fact in taken.understood],
        "candidates": candidate_rows(reply),
        "fastening": reply.result.fastening,
        "remover": reply.result.remover,
        "next_question": reply.question.id if reply.question else None,
        "cautions": list(reply.result.cautions),
        "notes": [{"title": note.title, "url": note.url} for note in reply.result.notes],
        "text": plain(reply),
    }
    print(json.dumps(row, ensure_ascii=False, indent=2))


@app.command
def talk(
    *,
    lines: Annotated[bool, Parameter(negative="", help="JSON lines in and out, many people at once.")] = False,
    memory: Annotated[bool, Parameter(negative="", help="Keep nothing after the end.")] = False,
    new: Annotated[bool, Parameter(negative="", help="Begin a new case.")] = False,
    person: Annotated[str, Parameter(help="Who is talking, where several share this account.")] = "me",
    lang: Annotated[str | None, Parameter(help="Language to speak, such as en.")] = None,
    topic: Folder = None,
    shop: Folder = None,
    branch: BranchName = None,
    data: DataFolder = None,
) -> None:
    """Talk in the terminal (or through a pipe). What was said is kept and goes on next time."""
    from contextlib import ExitStack
    from tempfile import TemporaryDirectory

    from triagebot.channels import terminal
    from triagebot.channels.lines import talk as talk_lines
    from triagebot.channels.staff_rooms import rooms_of
    from triagebot.delivery import WaitingClient
    from triagebot.store import open_store

    settings = settings_for(branch, topic=topic, shop=shop, language=lang, data_folder=data)
    language = spoken(settings, lang)
    if branch is None:
        guide = guide_of(settings)
    else:
        branches = branches_of(topic=topic, language=lang, data_folder=data)
        guides = with_neighbours(branches, guides_of(branches))
        guide = next(each for each, known in zip(guides, branches, strict=True) if known.name == branch)
    source, out = terminal.standard_streams()
    with ExitStack() as stack:
        folder, key, database = settings.data_folder, settings.key_file, settings.database
        if memory:
            scratch = Path(stack.enter_context(TemporaryDirectory()))
            folder, key, database = scratch / "data", scratch / "key", None
        store = stack.enter_context(open_store(folder, key_file=key, database=database))
        rooms = () if memory else rooms_of(settings, store)
        waiting_client = WaitingClient(guide, store, bench=not lines, rooms=rooms, address=settings.web_address or "")
        if not lines:
            terminal.talk(waiting_client, f"terminal:{person}", language, source, out, new=new)
            return
        for row in talk_lines(waiting_client, source, language):
            print(row, flush=True)


@app.command
def serve(
    *,
    check_: Annotated[
        bool, Parameter(name="--check", negative="", help="Only say what is missing; the token is tried.")
    ] = False,
    offline: Annotated[bool, Parameter(negative="", help="With --check: try no platform and no port.")] = False,
    topic: Folder = None,
    shop: Folder = None,
    shops: Shops = None,
    data: DataFolder = None,
) -> None:
    """Answer on every channel that is set up, until told to stop (SIGTERM) or to start again (SIGHUP)."""
    import asyncio
    from contextlib import ExitStack

    from triagebot import serving
    from triagebot.logs import log_to
    from triagebot.settings import clashes
    from triagebot.signals import start_again

    # A turn computes for milliseconds: whatever waits for the platform's answers gets its say in between.
    sys.setswitchinterval(0.0005)
    branches = branches_of(topic=topic, shop=shop, shops=shops, data_folder=data)
    guides = guides_of(branches)
    log_to(sys.stderr, branches[0].settings.log_level, branches[0].settings.log_format)

    def to_mend() -> list[str]:
        return [line for branch, guide in zip(branches, guides, strict=True) for line in _to_mend(branch, guide)]

    if check_:
        look = serving.readable(branches) if offline else asyncio.run(serving.preflight(branches))
        problems, well = look
        for line in (*well, *to_mend(), *problems):
            print(line)
        sys.exit(1 if problems else 0)
    if clashing := clashes(branches):
        raise SettingsError("\n".join(clashing))
    serving.prepare([branch.settings for branch in branches], to_mend)
    with ExitStack() as stack:
        stores = [stack.enter_context(store_of(branch.settings)) for branch in branches]
        opened = [
            serving.OpenBranch(branch.name, branch.settings, guide, store, spoken(branch.settings, None))
            for branch, guide, store in zip(branches, with_neighbours(branches, guides, stores), stores, strict=True)
        ]
        again = asyncio.run(serving.serve(opened))
    if again:
        start_again()


def _to_mend(branch: "Branch", guide: "Guide") -> list[str]:
    """What a branch's own folder ought to have mended."""
    from triagebot.shop import check_shop

    found = check_shop(shop_folder(branch.settings), guide.topic, datetime.now(UTC).date())
    return [str(problem) for problem in found]


def encrypted_files() -> "Sequence[Reencrypt]":
    """What encrypts the files beside the database anew, by the parts that own them."""
    from triagebot.channels.matrix.session import reencrypt_session
    from triagebot.delivery.writer import reencrypt_receipts

    return reencrypt_session, reencrypt_receipts


@key.command(name="renew")
def renew_key(*, branch: BranchName = None, data: DataFolder = None) -> None:
    """Make a new key, and encrypt everything with it; the old one stays behind it in the key file."""
    from triagebot.delivery import staffed
    from triagebot.store.key_rotation import renew

    settings = settings_for(branch, data_folder=data)
    with staffed(settings.data_folder):
        count = renew(settings.data_folder, settings.key_file, encrypted_files(), settings.database)
    print(f"{settings.key_file}: has a new key; {count} texts are encrypted with it")
    print("keep a copy of the file elsewhere, start triagebot again wherever it runs, then: triagebot key retire")


@key.command(name="retire")
def retire_key(*, branch: BranchName = None, data: DataFolder = None) -> None:
    """Take the old keys away, once every triagebot has been started again since the new one was made."""
    from triagebot.delivery import staffed
    from triagebot.store.key_rotation import retire

    settings = settings_for(branch, data_folder=data)
    with staffed(settings.data_folder):
        count = retire(settings.data_folder, settings.key_file, encrypted_files(), settings.database)
    old = "one old key" if count == 1 else f"{count} old keys"
    print(f"{settings.key_file}: {old} taken away; all that is kept is encrypted with the new one")


@app.command
def gauge(
    *,
    paper: Annotated[str | None, Parameter(help="A4 or letter; without it, what the country prints on.")] = None,
    country: Annotated[str | None, Parameter(help="Whose coins are on it, such as de or gb.")] = None,
    out: Annotated[Path | None, Parameter(help="The PDF to write, in place of one in this folder.")] = None,
    lang: Annotated[str | None, Parameter(help="Language of its words, such as en.")] = None,
    topic: Folder = None,
) -> None:
    """Write a sheet to print at true size, to hold against a fitting where there is no calliper."""
    from triagebot.gauge import PAPERS, country_of, paper_of, write_gauge
    from triagebot.topics import load_texts, load_topic

    settings = settings_of(topic=topic, language=lang)
    texts = load_texts(topic_folder(settings), spoken(settings, lang))
    known = {name.lower(): name for name in PAPERS}
    if paper is not None and paper.lower() not in known:
        raise UsageError(f"there is no paper {paper!r}; there is: {', '.join(PAPERS)}")
    on = known[paper.lower()] if paper is not None else paper_of(country or country_of(texts))
    file = out or Path(f"gauge-sheet-{on}.pdf")
    sheet = write_gauge(file, load_topic(topic_folder(settings)), texts, on, country)
    print(texts("gauge-written", file=str(file), pages=len(sheet.pages), paper=texts(f"gauge-paper-{on.lower()}")))


@topics.command
def show(
    *,
    topic: Folder = None,
    lang: str | None = None,
    only: Annotated[str | None, Parameter(help="`catalogue` or `machine`.")] = None,
) -> None:
    """The catalogue as a table and the machine as a Mermaid diagram."""
    from triagebot.conversation.machine import whole
    from triagebot.topics import catalogue_table, load_texts, load_topic, mermaid

    if only not in (None, "catalogue", "machine"):
        raise UsageError("--only takes catalogue or machine")
    settings = settings_of(topic=topic, language=lang)
    loaded = load_topic(topic_folder(settings))
    if only != "machine":
        print(catalogue_table(loaded, load_texts(topic_folder(settings), spoken(settings, lang))))
    if only is None:
        print()
    if only != "catalogue":
        print(mermaid(whole(loaded.flow)))
