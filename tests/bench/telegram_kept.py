"""A data folder of ours with many people in it, who have given some answers."""

from datetime import UTC, datetime
from pathlib import Path

from cryptography.fernet import Fernet
from sqlalchemy import insert

from tests.bench.telegram_people import FIRST_PERSON
from tests.bench.telegram_script import Step, answered, somebody
from triagebot.cases.loaded import rows_of
from triagebot.conversation import Guide
from triagebot.store import Store, open_store
from triagebot.store.encryption import KEY_ID, Sealer
from triagebot.store.tables import cases, conversations, events, keys, parties

AT = datetime(2026, 3, 1, 12, tzinfo=UTC)


def open_folder(folder: Path) -> Store:
    return open_store(folder / "data", key_file=folder / "key")


def fill(folder: Path, guide: Guide, scripts: list[list[Step]], people: int, most: int) -> None:
    """People in the database who have given so many of the answers of their script.

    Marks, codes and the ids of keys are everybody's own. The keys are all the same, so that what is the same for all of
    one script is encrypted once. Without keys, the first message of each would make them and encrypt all anew.
    """
    begun = [somebody(guide, steps, answered(steps, most)).case for steps in scripts[:people]]
    with open_folder(folder) as store, store.begin() as tx:
        key = Fernet.generate_key()
        sealed = Sealer("", Fernet(key)).encrypt_json
        bodies = [[sealed(row) for row in rows_of(case.events, {})] for case in begun]
        numbers = range(FIRST_PERSON, FIRST_PERSON + people)
        marks = [tx.lookup_hash(f"telegram:{number}") for number in numbers]
        of_cases, of_people = ([f"{kind}{place:0{KEY_ID - 1}}" for place in range(people)] for kind in "ab")
        row = {"topic": begun[0].topic, "opened_at": AT}
        tx.connection.execute(
            insert(cases),
            [row | {"id": place, "person": mark, "code": f"{place:06}"} for place, mark in enumerate(marks, 1)],
        )
        tx.connection.execute(
            insert(parties),
            [{"case_id": place, "person": mark, "role": "person", "chosen": 1} for place, mark in enumerate(marks, 1)],
        )
        for first in range(0, people, 1000):
            tx.connection.execute(
                insert(events),
                [
                    {"case_id": place + 1, "seq": seq, "body": of_cases[place] + body}
                    for place in range(first, min(people, first + 1000))
                    for seq, body in enumerate(bodies[place % len(bodies)])
                ],
            )
        closed = store.cipher.encrypt(key.decode("ascii"))
        own = [
            *({"id": name, "case_id": place, "person": None} for place, name in enumerate(of_cases, 1)),
            *({"id": name, "case_id": None, "person": mark} for mark, name in zip(marks, of_people, strict=True)),
        ]
        for first in range(0, len(own), 1000):
            tx.connection.execute(insert(keys), [row | {"body": closed} for row in own[first : first + 1000]])
        reached = [name + sealed({"chat": number}) for name, number in zip(of_people, numbers, strict=True)]
        tx.connection.execute(
            insert(conversations),
            [
                {"id": mark, "channel": "telegram", "address": address, "live": None, "gone_at": None}
                for mark, address in zip(marks, reached, strict=True)
            ],
        )
