"""What a setting over the bus has come to, so that a run that was killed is taken up again and nothing is guessed."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any, Protocol

from vault.bus.job import Job, field_words
from vault.bus.presence import Neighbour, Snapshot
from vault.errors import GearkeepError


class Notes(Protocol):
    """Notes that are on the disk when `add` returns; `vault.exchange.kept_notes.KeptNotes` is one."""

    def __iter__(self) -> Iterator[Mapping[str, Any]]: ...

    def add(self, step: str, **facts: Any) -> Mapping[str, Any]: ...


class NotesInMemory:
    """Notes that go with the process: for a run that nobody means to resume."""

    def __init__(self) -> None:
        self.held: list[Mapping[str, Any]] = []

    def __iter__(self) -> Iterator[Mapping[str, Any]]:
        return iter(list(self.held))

    def add(self, step: str, **facts: Any) -> Mapping[str, Any]:
        """Hold one note."""
        self.held.append({"step": step, **facts})
        return self.held[-1]


_OURS = "bus-"


class ProgressLog:
    """The notes of one job. They may stand among notes of others: those of a job begin with "bus-"."""

    def __init__(self, notes: Notes) -> None:
        self._notes = notes

    def note(self, step: str, **facts: Any) -> None:
        """Write one note before or after something is done."""
        self._notes.add(_OURS + step, **facts)

    def of(self, step: str) -> list[Mapping[str, Any]]:
        """Every note of that step, oldest first."""
        return [note for note in self._notes if note["step"] == _OURS + step]

    def begin(self, job: Job) -> bool:
        """Take the log for this job; True where an earlier run of it stands there.

        Raises GearkeepError (other-job) when the notes belong to other settings.
        """
        begun = self.of("job")
        if any(note["digest"] != job.digest for note in begun):
            raise GearkeepError("This progress log belongs to another setting job: other settings, another spare or "
                                "another address.", kind="other-job",
                                hint="Name the log of this job, or a new file to begin afresh.")
        if not begun:
            self.note("job", digest=job.digest, addresses=list(job.addresses))
        return bool(begun)

    def written_before(self, job: Job) -> tuple[str, ...]:
        """What an earlier run did, in plain sentences."""
        said = [f"Given before: {job.said(note['address'])}." for note in self.of("programmed")]
        begun = [f"{field_words(note['field'])} at {job.said(note['address'])}" for note in self.of("storing")]
        if self.of("stored"):
            said.append(f"Written before: {', '.join(dict.fromkeys(begun))}.")
        elif begun:
            if begun[:-1]:
                said.append(f"Written before: {', '.join(dict.fromkeys(begun[:-1]))}.")
            said.append(f"Begun, and perhaps not written: {begun[-1]}.")
        return tuple(said) or ("Nothing was written before.",)

    def snapshot(self) -> Snapshot | None:
        """The neighbours as the first run found them; None before any was taken."""
        for note in self.of("neighbours"):
            return Snapshot(asked=tuple(note["asked"]), there={int(address): Neighbour(
                device_types=tuple(one["device_types"]), groups=tuple(one["groups"]), scenes=one["scenes"],
                levels=tuple(one["levels"])) for address, one in note["there"].items()})
        return None

    def keep(self, snapshot: Snapshot) -> None:
        """Write the neighbours down."""
        self.note("neighbours", asked=list(snapshot.asked), there={
            str(address): {"device_types": one.device_types, "groups": one.groups, "scenes": one.scenes,
                           "levels": one.levels} for address, one in snapshot.there.items()})
