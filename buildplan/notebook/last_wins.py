"""Work that follows a control: waits until the keys rest, works on the last value only, counts."""

import asyncio
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import Any, Generic, Protocol, TypeVar

Value = TypeVar("Value")
Result = TypeVar("Result")

WAIT_S = 0.06
"""Rest after the last key before work begins; a held key repeats about every 0.03 s."""


class Handle(Protocol):
    """What a clock gives for a call to come."""

    def cancel(self) -> None:
        """Forget the call."""


class Clock(Protocol):
    """Where time and work come from: the kernel's loop, or a test's own."""

    def now_s(self) -> float:
        """Seconds from any fixed moment."""

    def later(self, wait_s: float, call: Callable[[], None]) -> Handle:
        """Call after a while, in the thread of the widgets."""

    def work(self, call: Callable[[], Any], done: Callable[[Any, Exception | None], None]) -> None:
        """Call in another thread, then ``done(result, error)`` in the thread of the widgets."""


class _Done:
    """The handle of a call that is over."""

    def cancel(self) -> None:
        """Nothing is left to cancel."""


class AtOnce:
    """A clock without a loop: plain Python, where a key press waits for its answer."""

    def now_s(self) -> float:
        """Seconds from any fixed moment."""
        return time.perf_counter()

    def later(self, wait_s: float, call: Callable[[], None]) -> Handle:
        """Call now."""
        call()
        return _Done()

    def work(self, call: Callable[[], Any], done: Callable[[Any, Exception | None], None]) -> None:
        """Call now and here."""
        try:
            result = call()
        except Exception as error:  # noqa: BLE001 - handed on, shown beside the control
            done(None, error)
        else:
            done(result, None)


class LoopClock:
    """The kernel's own loop, and one thread for the work."""

    def __init__(self, loop: asyncio.AbstractEventLoop) -> None:
        self._loop = loop
        self._thread = ThreadPoolExecutor(max_workers=1, thread_name_prefix="buildplan")

    def now_s(self) -> float:
        """Seconds from any fixed moment."""
        return time.perf_counter()

    def later(self, wait_s: float, call: Callable[[], None]) -> Handle:
        """Call after a while, in the loop's thread."""
        return self._loop.call_later(wait_s, call)

    def work(self, call: Callable[[], Any], done: Callable[[Any, Exception | None], None]) -> None:
        """Call in the one thread of this clock."""

        def run() -> None:
            try:
                result, error = call(), None
            except Exception as caught:  # noqa: BLE001 - handed on, shown beside the control
                result, error = None, caught
            if not self._loop.is_closed():
                self._loop.call_soon_threadsafe(done, result, error)

        self._thread.submit(run)


def kernel_clock() -> Clock:
    """The clock of the running kernel, or one without a loop in plain Python."""
    try:
        return LoopClock(asyncio.get_running_loop())
    except RuntimeError:
        return AtOnce()


@dataclass(frozen=True, slots=True, kw_only=True)
class Counts:
    """What a control has cost so far.

    Attributes:
        pressed: Changes that came in.
        computed: Times that work was begun for them.
        settle_s: From the last change to its answer, the last time.
    """

    pressed: int
    computed: int
    settle_s: float


class LastWins(Generic[Value, Result]):
    """Calls ``work`` with the last value pressed, once the keys rest; never two at a time.

    Args:
        work: From a value to a result, in another thread.
        show: Called with value, result and counts; only for the last value pressed.
        fail: Called with value and error instead of ``show``.
        clock: Where time and work come from.
        keep: Called with the value as soon as the keys rest, even while older work goes on; where
            it raises, nothing is worked on.
        freeze: From the value to what ``work`` is given, in the thread of the widgets, so that
            work sees nothing change; the value itself where None.
        wait_s: Rest after the last press before work begins.
    """

    def __init__(
        self,
        work: Callable[[Any], Result],
        show: Callable[[Value, Result, Counts], None],
        fail: Callable[[Value, Exception], None],
        *,
        clock: Clock,
        keep: Callable[[Value], object] | None = None,
        freeze: Callable[[Value], Any] | None = None,
        wait_s: float = WAIT_S,
    ) -> None:
        self._work, self._show, self._fail, self._keep = work, show, fail, keep
        self._freeze, self._clock, self._wait_s = freeze, clock, wait_s
        self._handle: Handle | None = None
        self._busy = False
        self._pressed = self._computed = 0
        self._begun_for = self._refused = self._stopped = -1
        self._latest: Value | None = None
        self._last_s = 0.0

    @property
    def busy(self) -> bool:
        """Whether an answer is still to come."""
        last = self._pressed - 1
        if self._stopped >= last:
            return False
        return self._busy or max(self._begun_for, self._refused) < last

    def stop(self) -> None:
        """Want no answer to what was pressed so far; work that goes on ends unseen."""
        self._stopped = self._pressed - 1

    def again(self) -> None:
        """Work on the last value once more, after a stop."""
        self._stopped = -1
        self._last_s = self._clock.now_s()
        if not self._busy and self._pressed:
            self._begin()

    def press(self, value: Value) -> None:
        """Take a new value; the one before is forgotten unless its work has begun."""
        self._latest = value
        self._pressed += 1
        self._last_s = self._clock.now_s()
        if self._handle is not None:
            self._handle.cancel()
        self._handle = self._clock.later(self._wait_s, self._rested)

    def _rested(self) -> None:
        self._handle = None
        value: Any = self._latest
        try:
            if self._keep is not None:
                self._keep(value)
        except Exception as error:  # noqa: BLE001 - shown beside the control
            self._refused = self._pressed - 1
            self._fail(value, error)
            return
        if not self._busy and self._stopped < self._pressed - 1:
            self._begin()

    def _begin(self) -> None:
        value: Any = self._latest
        number = self._pressed - 1
        self._busy = True
        self._begun_for = number
        self._computed += 1
        given = self._freeze(value) if self._freeze is not None else value
        self._clock.work(
            lambda: self._work(given), lambda result, error: self._end(number, result, error)
        )

    def _end(self, number: int, result: Any, error: Exception | None) -> None:
        self._busy = False
        if self._stopped >= self._pressed - 1:
            return
        if number < self._pressed - 1:  # overtaken: the newer value is worked on, not shown twice
            if self._handle is None and self._refused < self._pressed - 1:
                self._begin()
            return
        value: Any = self._latest
        if error is not None:
            self._fail(value, error)
            return
        counts = Counts(
            pressed=self._pressed,
            computed=self._computed,
            settle_s=self._clock.now_s() - self._last_s,
        )
        self._show(value, result, counts)
