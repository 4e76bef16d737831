"""Calling code that is not ours: nothing that it raises gets out, and it cannot run for ever.

Overtime is ended by raising `OverrunError` inside the thread that runs the plugin (``PyThreadState_SetAsyncExc``).
Such an exception arrives some bytecodes after it was sent, so the danger is one that is sent while the plugin runs and
arrives when the core is running again. What rules that out:

1. The plugin's thread stores ``over = True`` as the first thing after the plugin returned or raised. The watchdog
   announces itself (``firing = True``) *before* it looks at ``over``. Either it sees ``over`` and sends nothing, or the
   plugin's thread sees ``firing`` and waits until it is done. No lock is involved that an exception could leave shut.
2. A thread has room for one such exception. So once ``over`` is stored and nobody is firing, at most one is on its way,
   and the thread itself puts another in its place and catches it (`_settle`). Only to take it back would not do:
   CPython 3.11 would go on looking for one at every turn, and hang at the next function that is traced.
3. CPython looks for such exceptions only after calls, at function entry and at backward jumps. Between the end of the
   plugin and ``over = True`` there is none of these.

What it cannot do: end a loop in C code (the exception waits until Python code runs again; only ending the process
helps), or for certain a plugin that catches everything for ever: that one is sent an exception again and again. In
CPython 3.11 a thread that a plugin is just starting may receive the exception in place of its starter, which is then
sent the next one.
"""

from __future__ import annotations

from _thread import allocate_lock, get_ident, start_new_thread
from os import getpid
from time import monotonic, sleep
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Callable

#: The watchdog looks at least this often (s) while there is work, and ends itself after a quiet look.
ROUND = 1.0
#: Pauses (s) before an interruption that was swallowed is sent again, and up to which number of them: first there is
#: time to clean up, then a handler that catches everything is sent so many that one falls outside it, then seldom more.
PAUSES = ((20, 0.02), (5000, 0.002))
LONG_PAUSE = 0.25
_TEXT = 300


class OverrunError(BaseException):
    """Raised in a plugin's thread when its time is up. No ``Exception``, so that careless handlers let it through."""


class Watch:
    """One chain of calls in one thread, one plugin call at a time. Use as a context manager."""

    __slots__ = ("_dog", "deadline", "fired", "firing", "over", "sent", "thread")

    def __init__(self, dog: Watchdog) -> None:
        self._dog = dog
        self.thread = get_ident()
        self.deadline = 0.0
        self.over = True
        self.firing = False
        self.fired = False
        self.sent = 0

    def __enter__(self) -> Watch:
        """Begin to be watched."""
        self._dog.add(self)
        return self

    def __exit__(self, *_: object) -> None:
        """End being watched."""
        self._dog.remove(self)

    def call(self, function: Callable[..., Any], *args: Any) -> tuple[Any, BaseException | None]:
        """Call ``function`` and return (its value, None) or (None, what it raised).

        Overtime is returned as `OverrunError`, whatever the function made of it. Only ``KeyboardInterrupt`` passes.
        """
        self.deadline = monotonic() + self._dog.budget
        self.fired = False
        self.over = False
        error: BaseException | None = None
        try:
            value = function(*args)
            self.over = True
            if not (self.firing or self.fired):
                return value, None
            _settle(self)
        except BaseException as caught:
            self.over = True
            error = caught
            try:
                _settle(self)
            except BaseException as late:
                # Nothing is sent any more and the one on its way has come: this one cannot be interrupted.
                _settle(self)
                if not isinstance(late, OverrunError):
                    raise
        if isinstance(error, KeyboardInterrupt):
            raise error
        if self.fired:
            return None, OverrunError()
        if isinstance(error, OverrunError):
            # Meant for a call further out, of which this one is a part.
            raise error
        return None, error


class Watchdog:
    """Ends overtime of all threads that use one host. Its thread runs only while there is something to watch."""

    __slots__ = ("_lock", "_pid", "_running", "_used", "_watches", "budget")

    def __init__(self, budget: float) -> None:
        self.budget = budget
        self._renew()

    def watch(self) -> Watch:
        """Return a watch for the calling thread."""
        return Watch(self)

    def _renew(self) -> None:
        self._pid = getpid()
        self._lock = allocate_lock()
        self._watches: set[Watch] = set()
        self._running = False
        self._used = False

    def add(self, watch: Watch) -> None:
        """Watch this one too."""
        if self._pid != getpid():
            # A forked child has the parent's memory but not its threads.
            self._renew()
        with self._lock:
            self._watches.add(watch)
            self._used = True
            if not self._running:
                start_new_thread(self._patrol, ())
                self._running = True

    def remove(self, watch: Watch) -> None:
        """Watch it no longer."""
        with self._lock:
            self._watches.discard(watch)

    def _patrol(self) -> None:
        # No call begins earlier than the last look and each may take the budget, so sleeping that long misses none.
        longest = min(ROUND, self.budget)
        delay = longest
        while True:
            sleep(delay)
            with self._lock:
                watches = tuple(self._watches)
                if not watches and not self._used:
                    self._running = False
                    return
                self._used = False
            delay = longest
            now = monotonic()
            for watch in watches:
                if not watch.over:
                    left = watch.deadline - now
                    delay = min(delay, left if left > 0.0 else _fire(watch))


def _fire(watch: Watch) -> float:
    """Send an interruption if the call is still running; return after how long (s) to look again."""
    _send(0)  # to nobody: loads what it needs while no one waits for us
    watch.firing = True
    try:
        if not watch.over and monotonic() >= watch.deadline:
            watch.sent = watch.sent + 1 if watch.fired else 1
            watch.fired = True
            _send(watch.thread)
    finally:
        watch.firing = False
    return next((pause for most, pause in PAUSES if watch.sent <= most), LONG_PAUSE)


def _settle(watch: Watch) -> None:
    """Wait until the watchdog has let go, and let an interruption that is still on its way arrive here."""
    while watch.firing:
        sleep(0.0005)
    if watch.fired:
        try:
            _send(watch.thread)
            while True:
                sleep(0)
        except OverrunError:
            return


def _send(thread: int) -> None:
    """Raise `OverrunError` in ``thread``, in place of one that has not arrived."""
    import ctypes

    ctypes.pythonapi.PyThreadState_SetAsyncExc(ctypes.c_ulong(thread), ctypes.py_object(OverrunError))


def describe(error: BaseException, watch: Watch, budget: float) -> tuple[str, str]:
    """Return what went wrong in one sentence, and where in the plugin's code.

    The text of an exception is the plugin's code too, so it is asked for under the same watch.
    """
    if isinstance(error, OverrunError):
        return f"ran longer than {budget:g} s and was stopped", ""
    name = type(error).__name__
    text, failed = watch.call(_text, error)
    return f"raised {name}: {text}" if text and failed is None else f"raised {name}", _place(error)


def _text(error: BaseException) -> str:
    import re

    # Addresses differ from run to run and mean nothing to the reader.
    text = re.sub(r" at 0x[0-9a-fA-F]+", "", " ".join(str(error).split()))
    return text if len(text) <= _TEXT else text[: _TEXT - 4] + " ..."


def _place(error: BaseException) -> str:
    """Return file name, line and function where the error was raised."""
    trace = error.__traceback__
    if trace is None or trace.tb_next is None:
        return ""
    while trace.tb_next is not None:
        trace = trace.tb_next
    code = trace.tb_frame.f_code
    file = code.co_filename.replace("\\", "/").rpartition("/")[2]
    return f"{file}, line {trace.tb_lineno}, in {code.co_name}"
