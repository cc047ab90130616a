"""Which other branches have a tool, and whether it is in: what their walls tell, and nothing of who has it."""

from triagebot.counter.work import Work
from triagebot.errors import StoreError


def at_other_branches(work: Work, tool: str) -> str:
    """A line for each branch that has the tool on its wall; "" where none has, or none shares its tools."""
    lines = []
    for neighbour in work.guide.neighbours:
        own, shop = neighbour.shop.tool_for(tool), neighbour.shop.name
        if own is None or not own.count:
            continue
        try:
            left = own.count - neighbour.away(work.now).get(tool, 0)
        except StoreError:
            lines.append(work.texts("staff-branch-silent", shop=shop, name=own.name))
            continue
        if left > 0:
            lines.append(work.texts("staff-branch-in", shop=shop, name=own.name, hangs=own.hangs, count=left))
        else:
            lines.append(work.texts("staff-branch-out", shop=shop, name=own.name, count=own.count))
    return "\n".join(lines)
