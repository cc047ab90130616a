"""Photos between a customer and the staff: each goes on once it is kept, in one message with the words under it.

Rules of this file:
- what was sent as an album goes on as one, once the last of its photos that are here is settled, where the channel that
  it goes to has albums; elsewhere each photo is a message of its own;
- words do not wait for a photo that takes long, and are not lost with it: they go ahead alone;
- who sent a photo that cannot be had hears why, and so do those for whom it was;
- if a case cannot be read, nobody is told, and no photo waits for it.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Protocol

from triagebot.cases.change_channel import ToOthers, reached
from triagebot.cases.photo_places import SENDER
from triagebot.conversation import Case, Guide, Reply
from triagebot.conversation.blocks import Remark
from triagebot.handover.to_members import ToMembers
from triagebot.store.photos import Photos
from triagebot.store.post import Post
from triagebot.store.staff import Tickets

if TYPE_CHECKING:
    from triagebot.store import StoredCase, Transaction

#: So many photos are one album, wherever there are albums.
MOST_OF_AN_ALBUM = 10
#: By what a photo's place says that its words went on, and that it did itself.
_SAID, _PASSED = "said", "passed"

#: A photo of a case: its number, its state, and its place.
_Photo = tuple[int, str, Mapping[str, Any]]


class Letters(Protocol):
    """Letters to the staff, and to those whose case it is (see `to_staff.HandOver`)."""

    @property
    def guide(self) -> Guide: ...

    @property
    def rooms(self) -> Sequence[object]: ...

    @property
    def members(self) -> ToMembers: ...

    @property
    def albums(self) -> Callable[[str], bool]: ...

    def place(self, tx: "Transaction", code: str) -> object | None: ...

    def letter(
        self, tx: "Transaction", number: int, code: str, text: str, /, *, under: object = None,
        beside: Mapping[str, Any] | None = None, **variables: object,
    ) -> ToOthers: ...  # fmt: skip

    def back(self, tx: "Transaction", number: int, code: str, text: str, place: Mapping[str, Any]) -> ToOthers: ...

    def to_person(
        self, tx: "Transaction", stored: "StoredCase", case: Case, text: str, name: str, place: Mapping[str, Any],
        /, *, more: Sequence[str] = (), takes: bool = False, **variables: object,
    ) -> tuple[ToOthers, ...]: ...  # fmt: skip


@dataclass(frozen=True, eq=False)
class PhotoLetters:
    """Called from the writer's thread."""

    hand_over: Letters

    def settled(
        self, tx: "Transaction", stored: "StoredCase", case: Case, number: int, place: Mapping[str, Any], *, kept: bool
    ) -> tuple[ToOthers, ...]:
        """A photo of a case is there, or never will be."""
        lost = () if kept else self._lost(tx, stored.id, case, number, place)
        album = Photos(tx).album(stored.id, place["album"]) if place.get("album") else ()
        album = album or ((number, "kept" if kept else "lost", place),)
        if any(state == "waiting" for _, state, _ in album):
            return lost
        return (*self._go(tx, stored, case, album), *lost)

    def delayed(
        self, tx: "Transaction", stored: "StoredCase", case: Case, number: int, place: Mapping[str, Any]
    ) -> tuple[ToOthers, ...]:
        """A photo cannot be had just now: its words go ahead."""
        return self._go(tx, stored, case, ((number, "waiting", place),))

    def kept(self, tx: "Transaction", number: int, code: str) -> tuple[ToOthers, ...]:
        """All photos of those whose case it is, for its place in the room."""
        theirs = []
        for photo in Photos(tx).kept_of(number):
            found = Photos(tx).whose(photo)
            if found is not None and "by" not in found[1]:
                theirs.append(photo)
                Photos(tx).put_at(photo, {**found[1], _PASSED: True})
        return self.put(
            tx, self._only(tx, number, code, len(theirs)), theirs, lambda n: self._only(tx, number, code, n)
        )

    def put(
        self, tx: "Transaction", told: ToOthers, photos: Sequence[int], more: Callable[[int], ToOthers]
    ) -> tuple[ToOthers, ...]:
        """Something to somebody, with photos. Those for which there is no room in the first message follow in others,
        which say what is said of so many photos (`more`)."""
        who = Post(tx).found(told.person).who
        most = MOST_OF_AN_ALBUM if who is not None and self.hand_over.albums(who.channel) else 1
        made = []
        for at in range(0, len(photos), most):
            first, *others = photos[at : at + most]
            letter = told if at == 0 else more(1 + len(others))
            beside = {"photo": first} | ({"album": others} if others else {})
            made.append(replace(letter, beside={**letter.beside, **beside}))
        return tuple(made)

    # --- what goes on -----------------------------------------------------------------------------------------------

    def _go(self, tx: "Transaction", stored: "StoredCase", case: Case, album: Sequence[_Photo]) -> tuple[ToOthers, ...]:
        """The photos of an album that are there, and the words under them, as far as they have not gone on yet."""
        photos = [number for number, state, place in album if state == "kept" and not place.get(_PASSED)]
        unsaid = [place for _, _, place in album if not place.get(_SAID)]
        words = "\n".join(place["words"] for place in unsaid if place.get("words"))
        takes = any(place.get("takes") for place in unsaid)
        sender = album[0][2]
        if not (photos or words or takes):
            return ()
        if "by" in sender:
            told = self._to_person(tx, stored, case, sender, photos, words, takes=takes)
        else:
            told = self._to_staff(tx, stored.id, case, sender, photos, words)
        if told:
            for number, _, place in album:
                passed = {_PASSED: True} if number in photos else {}
                Photos(tx).put_at(number, {**place, _SAID: True, **passed})
        return told

    def _to_person(
        self, tx: "Transaction", stored: "StoredCase", case: Case, sender: Mapping[str, Any], photos: Sequence[int],
        words: str, *, takes: bool,
    ) -> tuple[ToOthers, ...]:  # fmt: skip
        hand_over, name = self.hand_over, str(sender["by"])
        taken = (hand_over.guide.language(case.language).texts("handover-taken"),) if takes else ()

        def only(count: int, more: Sequence[str] = ()) -> tuple[ToOthers, ...]:
            text = "handover-from-photo"
            return hand_over.to_person(tx, stored, case, text, name, sender, more=more, takes=takes, count=count)

        if words:
            told = hand_over.to_person(
                tx, stored, case, "staff-from-person", name, sender, more=taken, takes=takes, text=words
            )
        elif photos:
            told = only(len(photos), taken)
        else:
            told = hand_over.to_person(tx, stored, case, "handover-taken", name, sender, takes=takes)
        if not photos or not reached(tx, stored.id):
            return told
        others = {each.person: each for each in only(1)}
        return tuple(
            letter
            for each in told
            for letter in self.put(
                tx,
                each,
                photos,
                lambda n, who=each.person: replace(others[who], reply=only(n)[0].reply),  # type: ignore[misc]
            )
        )

    def _to_staff(
        self, tx: "Transaction", number: int, case: Case, sender: Mapping[str, Any], photos: Sequence[int], words: str
    ) -> tuple[ToOthers, ...]:
        who = "mentor" if tx.parties(number).get(sender.get(SENDER, "")) == "mentor" else "person"
        if not self.hand_over.rooms:
            if not case.handed:
                return ()
            members = self.hand_over.members.photos(tx, number, case.code, len(photos), who, words)
            alone = self.hand_over.members.photos(tx, number, case.code, 1, who, "")
            more = {each.person: each for each in alone}
            if not photos:
                return members
            return tuple(
                letter
                for each in members
                for letter in self.put(tx, each, photos, lambda _, who=each.person: more[who])  # type: ignore[misc]
            )
        ticket = Tickets(tx).of(number)
        if ticket is None or not ticket.open or self.hand_over.place(tx, case.code) is None:
            return ()
        said = self._only(tx, number, case.code, len(photos))
        if words:
            text = "handover-room-said"
            said = self.hand_over.letter(tx, number, case.code, text, who=who, text=words, corrects="no")
        return self.put(tx, said, photos, lambda n: self._only(tx, number, case.code, n)) if photos else (said,)

    def _only(self, tx: "Transaction", number: int, code: str, count: int) -> ToOthers:
        return self.hand_over.letter(tx, number, code, "handover-room-photo", count=count)

    # --- what does not ----------------------------------------------------------------------------------------------

    def _lost(
        self, tx: "Transaction", number: int, case: Case, photo: int, place: Mapping[str, Any]
    ) -> tuple[ToOthers, ...]:
        hand_over = self.hand_over
        if "by" in place:
            return (hand_over.back(tx, number, case.code, "handover-photo-lost", place),)
        sender = self._told_why(tx, photo, case, place)
        if not hand_over.rooms:
            staff = hand_over.members.photo_lost(tx, number, case.code) if case.handed else ()
            return (*sender, *staff)
        ticket = Tickets(tx).of(number)
        if ticket is None or not ticket.open or hand_over.place(tx, case.code) is None:
            return sender
        return (*sender, hand_over.letter(tx, number, case.code, "handover-room-photo-lost"))

    def _told_why(self, tx: "Transaction", number: int, case: Case, place: Mapping[str, Any]) -> tuple[ToOthers, ...]:
        """Who sent a photo was told that it is kept: they hear that it is not, and why; what is open stays open."""
        if SENDER not in place:
            return ()
        texts = self.hand_over.guide.language(case.language).texts
        words = Remark(texts("sent-photo-lost", reason=Photos(tx).reason(number)), "sent-photo-lost")
        return (ToOthers(place[SENDER], None, Reply((words,), "person"), aside=True, language=case.language),)
