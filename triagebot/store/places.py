"""What a channel knows of its platform: how far it has read there, and what pictures are called there. Read and written
inside one transaction."""

from sqlalchemy import select

from triagebot.store.cases import View
from triagebot.store.inserting import insert_into
from triagebot.store.tables import pictures, positions
from triagebot.store.writing import decrypted_json, encrypted_json


class Places:
    """The channels' own notes, inside the transaction (or, for looking only, the view) that is given."""

    def __init__(self, tx: View) -> None:
        self.connection = tx.connection
        self.cipher = tx.cipher

    def place(self, channel: str) -> str | None:
        """How far a channel has read."""
        closed = self.connection.scalar(select(positions.c.place).where(positions.c.channel == channel))
        return None if closed is None else str(decrypted_json(self.cipher, closed)["place"])

    def read_to(self, channel: str, place: str) -> None:
        row = {"channel": channel, "place": encrypted_json(self.cipher, {"place": place})}
        new = insert_into(positions, self.connection.dialect.name).values(**row)
        self.connection.execute(new.on_conflict_do_update(index_elements=["channel"], set_={"place": row["place"]}))

    def picture(self, channel: str, digest: str) -> str | None:
        """What a channel calls a picture that it has uploaded."""
        which = (pictures.c.channel == channel, pictures.c.digest == digest)
        name: str | None = self.connection.scalar(select(pictures.c.name).where(*which))
        return name

    def uploaded(self, channel: str, digest: str, name: str) -> None:
        """Says what a channel calls a picture from now on."""
        new = insert_into(pictures, self.connection.dialect.name).values(channel=channel, digest=digest, name=name)
        self.connection.execute(new.on_conflict_do_update(index_elements=["channel", "digest"], set_={"name": name}))
