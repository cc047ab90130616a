"""What a replay found, for a terminal and as JSON."""

from collections import Counter
from collections.abc import Iterator
from typing import Any

from triagebot.study.edits import Edit
from triagebot.study.replay import Change, Replayed

#: So many codes stand on a line, and so many lines of new wording by the same edit, before the rest is only counted.
_CODES, _WORDINGS = 12, 3


def replay_rows(found: Replayed) -> dict[str, Any]:
    """As JSON: `edits` and `changes`: `open` and `other` codes, `wording`, `from`, `to`, `by`, `together`."""
    return {
        "cases": found.cases,
        "edits": [str(edit) for edit in found.edits],
        "changes": [
            {
                "open": list(change.open),
                "other": list(change.others),
                "wording": change.wording,
                "from": change.before,
                "to": change.after,
                "by": [str(edit) for edit in change.edits],
                "together": change.together,
            }
            for change in found.changes
        ],
    }


def replay_table(found: Replayed) -> str:
    """As plain text: open cases first, whatever the change."""
    return "\n".join(_lines(found))


def _lines(found: Replayed) -> Iterator[str]:
    yield f"{len(found.edits)} rows differ; {found.cases} cases asked"
    if not found.changes:
        yield "no answer changes"
    for title, ones in (("open cases", "open"), ("cases that are over", "others")):
        touched = [change for change in found.changes if getattr(change, ones)]
        if touched:
            yield f"\n{title} whose answer changes:"
        shown: Counter[tuple[Edit, ...]] = Counter()
        for change in touched:
            shown[change.edits] += change.wording
            if shown[change.edits] <= _WORDINGS:
                yield from _change(change, getattr(change, ones))
        for edits, times in shown.items():
            if times > _WORDINGS:
                yield f"\n  {times - _WORDINGS} more lines of wording change by {_by(edits, False)}"
    idle = set(found.edits) - {edit for change in found.changes for edit in change.edits}
    if found.changes and idle:
        yield "\nrows that differ and change no stored case's answer by themselves:"
        yield from (f"  {edit}" for edit in sorted(idle))


def _change(change: Change, codes: tuple[str, ...]) -> Iterator[str]:
    more = f" and {len(codes) - _CODES} more" if len(codes) > _CODES else ""
    yield f"\n  {', '.join(codes[:_CODES])}{more}"
    yield f"    from  {_quoted(change.before, change.wording)}"
    yield f"    to    {_quoted(change.after, change.wording)}"
    yield f"    by    {_by(change.edits, change.together)}"


def _quoted(what: str, wording: bool) -> str:
    return (f"“{what}”" if what else "nothing") if wording else what


def _by(edits: tuple[Edit, ...], together: bool) -> str:
    if not edits:
        return "no set of rows: only their order differs, or it takes what one edition lacks"
    if together:
        return "only together: " + " + ".join(map(str, edits))
    return " or, alone as well, ".join(map(str, edits))
