"""The person at machines of other kinds: what their hands do in the further phases."""

from typing import cast

from assistant.simulation.caller import Operator, OperatorStuck
from assistant.simulation.cues import Question
from tests.simulation.head_bench import HeadBench


class MachineOperator(Operator):
    """Plays a job at a head (or a free table): snug, move while the dial is watched, tighten."""

    @property
    def head(self) -> HeadBench:
        """The bench, which must be one whose axes move."""
        return cast("HeadBench", self.bench)

    def _act(self, question: Question, said: str) -> str:
        step, watch = self._step, question.station
        match question.phase:
            case "locating pin":
                return "done"
            case "snug up" if watch is not None:
                return self._read(watch)
            case "snug up":
                if step is None or step.station is None:
                    raise OperatorStuck("told to snug without being told which axis")
                self.head.loosen(step.station)
                self._upset = True
                return "done"
            case "move":
                if step is None or step.dial_target is None or watch is None:
                    raise OperatorStuck("told to move without being told where to")
                left = float(step.dial_target - self.bench.read(watch))
                if abs(left) > 0.5 * float(self.scale.step):
                    self.head.move(watch, left * self._chance.uniform(0.5, 1.15))
                return self._read(watch)
            case "clamp":
                if watch is None:
                    raise OperatorStuck("told to tighten without a station to read")
                self.bench.lock_all()
                return self._read(watch)
            case _:
                return super()._act(question, said)
