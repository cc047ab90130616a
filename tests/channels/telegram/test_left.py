"""A whole conversation and its end: what of somebody is written into the log, and what is left in the data folder."""

import logging
import re
from pathlib import Path

import pytest

from tests.channels.telegram.stage import Rider, Stage, until
from tests.store.opened import bytes_in, opened

pytestmark = pytest.mark.asyncio

#: As long as such numbers are: "1001" also stands in a moment of the day now and then.
HERS = 7_316_204_958


def found_in(stage: Stage, folder: Path) -> bytes:
    return opened(bytes_in(folder), stage.store.cipher)


async def test_nothing_in_the_log_and_nothing_in_the_folder(
    stage: Stage, tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level(logging.INFO)
    ada = stage.platform.add_person("Adalbertine", language="en", bot=stage.token, number=HERS)
    rider = Rider(ada)
    await rider.to_the_end()
    ada.write("my zebra neighbour says so")
    ada.send("photo", caption="the okapi one")
    await stage.quiet()
    ada.write("/case")
    await stage.quiet()
    code = re.search(r"code is (\S{7})", ada.screen().from_bots[-1].text)
    assert code is not None
    assert stage.delivery.counts.photos_kept == 1
    traces = [str(ada.id), code[1], "zebra"]
    before = found_in(stage, tmp_path / "data")
    assert [trace.encode() in before for trace in traces] == [True] * len(traces)
    ada.write("/forget")
    await stage.quiet()
    ada.press("Yes, delete it")
    await stage.quiet()
    private = [*traces, "okapi", "Adalbertine"]

    def left() -> list[str]:
        after = found_in(stage, tmp_path / "data")
        return [trace for trace in private if trace.encode() in after]

    await until(lambda: not left())
    # The double of the platform is served by uvicorn, and logs for itself.
    said = [
        f"{record.getMessage()} {record.exc_info}" for record in caplog.records if not record.name.startswith("uvicorn")
    ]
    assert [trace for trace in (*private, stage.token) if trace in "\n".join(said)] == []
