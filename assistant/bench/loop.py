"""The loop: take an event, commit it, step, perform the effects.

Only that order lives here; what is heard and how an effect is performed is the devices'.
"""

import secrets
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Literal

from assistant.bench.last_job import last_job
from assistant.bench.timekeeping import CLOCK_STEP_S, aged, now, seconds_between, spoken_day, steady
from assistant.dialogue import wording
from assistant.dialogue.following import placed
from assistant.dialogue.machine import Profile
from assistant.dialogue.messages import (
    TURNED_DOWN,
    ClockSet,
    Closed,
    DeviceBack,
    DeviceLost,
    Effect,
    Event,
    Heard,
    KeyPressed,
    Learned,
    LongSilence,
    MachineChosen,
    NewJob,
    Resumed,
    RoomNoise,
    Say,
    Started,
    Step,
)
from assistant.dialogue.procedures.introduction import StartingPoint
from assistant.dialogue.questions import listen
from assistant.dialogue.state import State
from assistant.dialogue.step import introduce as begin
from assistant.dialogue.step import step
from assistant.records.faults import RecordError
from assistant.records.journal.codec import DamagedEvent
from assistant.records.journal.journal import Journal
from assistant.records.journal.resume import keep_snapshot, load_state

JOBS_LEARNT = 3
"""Finished jobs on record from which prompts are in few words."""

Perform = Callable[[Effect], None]
Committed = Callable[[Event], None]
Clock = Callable[[], str]
TellProblem = Callable[[str], None]
"""Told one line to print about something that the dialogue knows nothing of."""

REFUSED: dict[str, str] = {
    "full": wording.DISK_FULL,
    "read_only": wording.DISK_READ_ONLY,
}
"""What is said when the record takes nothing, by the error's code; else `NOT_KEPT`."""


def new_job_id() -> str:
    """A job's identifier: the day and time, and something that makes it unique."""
    return f"{datetime.now(UTC):%Y%m%d-%H%M%S}-{secrets.token_hex(2)}"


@dataclass(frozen=True, slots=True)
class Machines:
    """Where machines come from when none was named.

    ``known``: names, likeliest first; ``load`` gives the profile of one. ``kinds``: what a new
    one may start from; ``keep`` writes it. Both raise RecordError.
    """

    known: Sequence[str]
    kinds: Sequence[StartingPoint]
    load: Callable[[str], Profile]
    keep: Callable[[Profile], None]


LONG_SILENCE_H = 8.0
"""Hours without an answer after which the machine may have been used by somebody else."""

_HAPPENED = (DeviceLost, DeviceBack, RoomNoise, ClockSet, LongSilence)
"""Events that nobody can say again."""

_ANSWERS = (Started, Resumed, Heard, KeyPressed)
"""Events by which somebody is there."""


class Loop:
    """One job at a time: every event is on the disk before anything is done about it.

    ``perform`` does an effect; ``committed`` is told of every event in the record. Use
    ``open_job`` first, then ``post``. ``remember`` keeps what was learned of the machine for
    other jobs. With ``machines`` it is asked first which machine it is; of that nothing is in
    the record. ``problem`` prints what is wrong with the record, where it is spoken of in a
    few words only. ``clock_set`` tells by how many seconds the clock was set since it was last
    asked; ``steady``: seconds that nobody can set. ``prompts``: in few words or in full, usually
    by the jobs on record; ``quiet``: they are read and not spoken. ``number`` is that of the event
    committed last. One thread only.
    """

    def __init__(
        self,
        journal: Journal,
        profile: Profile,
        perform: Perform,
        committed: Committed | None = None,
        remember: Callable[[Profile], None] | None = None,
        machines: Machines | None = None,
        clock: Clock = now,
        job_id: Callable[[], str] = new_job_id,
        problem: TellProblem = lambda _: None,
        clock_set: Callable[[], float] = lambda: 0.0,
        steady: Callable[[], float] = steady,
        prompts: Literal["usual", "short", "long"] = "usual",
        quiet: bool = False,
    ) -> None:
        self.journal = journal
        self.profile = profile
        self.state: State | None = None
        self.report: Path | None = None
        self.number = 0
        self._problem = problem
        self._clock_set = clock_set
        self._steady = steady
        self._answered_s = steady()
        self._prompts = prompts
        self._quiet = quiet
        self._owed: list[Event] = []
        self._told: Step | None = None
        self._declined: set[str] = set()
        self._perform = perform
        self._committed = committed
        self._remember = remember
        self._machines = machines
        self._clock = clock
        self._job_id = job_id

    def open_job(self) -> None:
        """Take up the machine's unfinished job if there is one, else begin a new one.

        Before that, ask which machine it is if that is not known.
        """
        if self._machines is not None:
            self.state, effects = begin(self._machines.known, self._machines.kinds)
            self._do("", effects)
            return
        self._open()

    def _open(self) -> None:
        for line in self.journal.told():
            self._problem(line)
        if self.journal.rescued is not None:
            self._perform(Say(wording.RECORD_DAMAGED))
        self._take_up()

    def _take_up(self) -> None:
        """Offer the newest unfinished job that was not declined already, else begin a new one."""
        for row in self.journal.unfinished(self.profile.name):
            if row.id in self._declined:
                continue
            try:
                state = load_state(self.journal, row.id)
            except DamagedEvent as error:
                # What is appended behind an event that cannot be read would be lost with it.
                self._problem(f"job {row.id}: {error}: it stays as it is, a new one begins")
                self._perform(Say(wording.RECORD_DAMAGED))
                continue
            if state is None:
                continue
            if state.phase == "closed":
                # The program ended between the last event and the closing of the job.
                self._finish(row.id)
                continue
            self.state = state
            last_at = self._last_at(row.id)
            self._clock_before(last_at)
            now_at = self._clock()
            self.post(Resumed(now_at, spoken_day(last_at, now_at), self._quiet))
            return
        self.begin()

    def begin(self) -> None:
        """Begin a new job of this machine."""
        at, job = self._clock(), self._job_id()
        last = last_job(self.journal, self.profile, at)
        self.journal.start(job, self.profile.name, at)
        self.state = None
        begins = Started(at, job, aged(self.profile, at), self._knows_the_job(), last, self._quiet)
        self._commit_and_step(job, begins)

    def _knows_the_job(self) -> bool:
        """Whether so many jobs were finished here that prompts may be short."""
        if self._prompts != "usual":
            return self._prompts == "short"
        finished = sum(row.closed_at is not None for row in self.journal.jobs())
        return finished >= JOBS_LEARNT

    @property
    def over(self) -> bool:
        """Whether the job has been closed or stopped."""
        return self.state is None or self.state.stopped or self.state.phase == "closed"

    def post(self, event: Event) -> None:
        """Commit an event, step, perform. What cannot be committed does not happen.

        What happened to a device or the clock is owed then, and committed before the next.
        """
        if self.state is None:
            raise RuntimeError("open a job before posting events to it")
        self.look_at_the_time()
        set_s = self._clock_set()
        if set_s:
            self._owed.append(ClockSet(self._clock(), set_s))
        while self._owed and self._commit_and_step(self.state.job, self._owed[0]):
            del self._owed[0]
        # What is owed and refused is refused in the new event's place, too, and said once.
        kept = not self._owed and self._commit_and_step(self.state.job, event)
        if not kept and isinstance(event, _HAPPENED):
            self._owed.append(event)

    def look_at_the_time(self) -> None:
        """Notice that nobody has answered for hours; to be called now and then."""
        hours = (self._steady() - self._answered_s) / 3600
        if hours >= LONG_SILENCE_H and self.state is not None and not self.over:
            self._answered_s = self._steady()
            self.post(LongSilence(self._clock(), round(hours, 1)))

    def _clock_before(self, last_at: str) -> None:
        """A clock that stands before the last event was set back while the program was off."""
        set_s = seconds_between(last_at, self._clock())
        if set_s < -CLOCK_STEP_S:
            self._owed.append(ClockSet(self._clock(), round(set_s, 1)))

    def _last_at(self, job: str) -> str:
        count = self.journal.job(job).events
        return self.journal.events(job, after=count - 1)[-1].at

    def _commit_and_step(self, job: str, event: Event, *, silent: bool = False) -> bool:
        if not job:
            # Still being asked which machine it is: there is no job to record.
            self.state, effects = step(self.state, event)
            self._do(job, effects)
            return True
        if isinstance(event, Heard | KeyPressed) and self.state is not None:
            event = placed(self.state, event, self._told)
        try:
            self.number = self.journal.append(job, event)
        except RecordError as error:
            if self.state is None:
                raise
            self._problem(str(error))
            self._perform(Say(REFUSED.get(error.code, wording.NOT_KEPT)))
            self._perform(listen(self.state))
            return False
        if isinstance(event, Heard | KeyPressed) and event.phase and self.state is not None:
            self._told = self.state.plan.step if self.state.plan else None
        news = self.journal.news()
        if news:
            self._problem(news)
            self._perform(Say(wording.RECORD_MOVED))
        if isinstance(event, _ANSWERS) and getattr(event, "outcome", "") not in TURNED_DOWN:
            self._answered_s = self._steady()
        if self._committed is not None:
            self._committed(event)
        self.state, effects = step(self.state, event)
        keep_snapshot(self.journal, self.number, self.state)
        if not silent:
            self._do(job, effects)
        return True

    def _do(self, job: str, effects: Sequence[Effect]) -> None:
        for effect in effects:
            self._perform(effect)
            if isinstance(effect, MachineChosen):
                self._machine_chosen(effect)
            if isinstance(effect, Closed) and effect.finished:
                self._finish(job)
            if isinstance(effect, Learned):
                self._learned(effect.profile)
            if isinstance(effect, NewJob):
                self._declined.add(job)
                self._take_up()

    def _machine_chosen(self, chosen: MachineChosen) -> None:
        """Begin the job of this machine, or take it up again."""
        machines, self._machines = self._machines, None
        if machines is None:
            raise RuntimeError("a machine was chosen, but nobody was asked")
        if chosen.made is None:
            self.profile = machines.load(chosen.name)
        else:
            self.profile = chosen.made
            try:
                machines.keep(chosen.made)
            except RecordError as error:
                self._problem(str(error))
                self._perform(Say(wording.NOT_REMEMBERED))
        before = self.state
        self._open()
        if before is None or self.state is None:
            return
        for device in before.lost:
            lost = DeviceLost(self._clock(), device, "lost before the job began")
            self._commit_and_step(self.state.job, lost, silent=True)
        if before.too_loud:
            self._commit_and_step(self.state.job, RoomNoise(self._clock(), True), silent=True)

    def _learned(self, profile: Profile) -> None:
        self.profile = profile
        if self._remember is None:
            return
        try:
            self._remember(profile)
        except RecordError as error:
            self._problem(str(error))
            self._perform(Say(wording.NOT_REMEMBERED))

    def _finish(self, job: str) -> None:
        # Drawing and PDF are only needed here: a job need not wait for them to begin.
        from assistant.records.report.files import write_report

        target = self.journal.path.with_name(f"{job}.html")
        try:
            self.journal.close_job(job, self._clock())
            write_report(self.journal, job, target)
        except (RecordError, OSError) as error:
            self._problem(str(error))
            self._perform(Say(wording.REPORT_FAILED))
            return
        self.report = target
        self._perform(Say(wording.REPORT_WRITTEN))


def last_words(error: RecordError) -> str:
    """What is said when the program ends because record or machine cannot be used."""
    return wording.RECORD_IN_USE if error.code == "locked" else wording.CANNOT_GO_ON


def last_lines(loop: Loop) -> tuple[str, ...]:
    """What to print when the program ends: where the report is, or that the job can go on."""
    kept = loop.journal.path
    moved = (f"the record was deleted or replaced: all is kept in {kept}",) * loop.journal.moved
    if loop.report is not None:
        return (*moved, f"report: {loop.report}", "one page for the machine: sweepsay job sheet")
    state = loop.state
    if state is None or not state.job or state.phase == "closed":
        return moved
    return (*moved, f"job {state.job} is kept: the same command goes on with it")
