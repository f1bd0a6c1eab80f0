"""Runs independent tasks side by side: on the cores of this machine, or on the workers of a Dask scheduler."""

from __future__ import annotations

import time
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from typing import Any, Protocol, TypeVar

from layout import processes
from layout.errors import LayoutError

Task = TypeVar("Task")
Result = TypeVar("Result")

TRIES = 3
"""Times that a task is begun whose worker is stopped from outside before it is given up."""
ENDING = 0.2
"""How long the process that others are forked from is waited for while it is being stopped [s]: it answers no more once
its files are closed, and is begun again only when the system has done with it, most often within a millisecond."""
TASKS_A_WORKER = 64
"""Tasks after which a process is started afresh, so that none grows for ever."""
AHEAD = 2
"""Tasks handed out for each worker: one it works at and one that waits."""


class Lost(LayoutError):
    """A task's worker was stopped from outside every time it was begun."""


class Engine(Protocol):
    """Runs tasks side by side."""

    def each(
        self, work: Callable[[Task], Result], count: int, task: Callable[[int], Task],
    ) -> Iterator[tuple[int, Result | Lost]]:
        """Yield (number, result) of every task as it is ready.

        Parameters
        ----------
        work
            What is done; a function at the top of a module.
        count
            How many tasks there are.
        task
            Makes a task by its number, when it is handed out and not before.
        """

    def close(self) -> None:
        """End whatever processes the engine began."""


class Alone:
    """One task after the other, in this process."""

    def each(
        self, work: Callable[[Task], Result], count: int, task: Callable[[int], Task],
    ) -> Iterator[tuple[int, Result | Lost]]:
        """Yield (number, result) of every task in order."""
        for number in range(count):
            yield number, work(task(number))

    def close(self) -> None:
        """Do nothing: no process was begun."""


class Cores:
    """The cores of this machine.

    Parameters
    ----------
    workers
        Processes at once; left out, one a core.

    Notes
    -----
    No process inherits a solver's threads (``processes``). A process that is stopped from outside takes the pool down
    with it; then whatever was being done is begun again, one task at a time, so that a task that cannot be done is told
    from those beside it.
    """

    def __init__(self, workers: int | None = None) -> None:
        self.workers = workers or processes.cores()
        self._pool: ProcessPoolExecutor | None = None

    @staticmethod
    def _start(at_once: int) -> ProcessPoolExecutor:
        return ProcessPoolExecutor(
            at_once, mp_context=processes.context(), initializer=processes.begin, max_tasks_per_child=TASKS_A_WORKER,
        )

    def close(self) -> None:
        """End the processes, which otherwise wait for the next tasks."""
        if self._pool is not None:
            self._pool.shutdown(wait=True, cancel_futures=True)
            self._pool = None

    def each(
        self, work: Callable[[Task], Result], count: int, task: Callable[[int], Task],
    ) -> Iterator[tuple[int, Result | Lost]]:
        """Yield (number, result) of every task as it is ready."""
        queue = _Queue(count)
        while queue.left():
            if queue.suspects:
                with self._start(1) as alone:
                    yield from self._run(alone, 1, work, task, queue)
            else:
                if self._pool is None:
                    self._pool = self._start(self.workers)
                yield from self._run(self._pool, self.workers, work, task, queue)
                if queue.suspects:
                    self.close()
            for number in queue.given_up():
                yield number, Lost(f"its worker was stopped from outside {TRIES} times: too little memory?")

    @staticmethod
    def _run(
        pool: ProcessPoolExecutor, at_once: int, work: Callable[[Task], Result], task: Callable[[int], Task],
        queue: _Queue,
    ) -> Iterator[tuple[int, Result | Lost]]:
        """Yield results until the queue is empty, the pool breaks, or the suspects are done."""
        only_suspects = bool(queue.suspects)
        running: dict[Future[Result], int] = {}
        while True:
            ahead = at_once * AHEAD if not only_suspects else 1
            while len(running) < ahead:
                number = queue.next(only_suspects)
                if number is None:
                    break
                try:
                    running[pool.submit(work, task(number))] = number
                except (BrokenProcessPool, ConnectionError, EOFError) as stopped:
                    if not isinstance(stopped, BrokenProcessPool):
                        time.sleep(ENDING)
                    queue.broken([number, *running.values()])
                    return
            if not running:
                return
            done, _ = wait(running, return_when=FIRST_COMPLETED)
            finished = [(running.pop(future), future) for future in done]
            broken = [number for number, future in finished if isinstance(future.exception(), BrokenProcessPool)]
            for number, future in finished:
                if number not in broken:
                    yield number, future.result()
            if broken:
                queue.broken([*broken, *running.values()])
                return


class _Queue:
    """Numbers of tasks still to be done, and those that were at work when a worker was stopped."""

    def __init__(self, count: int) -> None:
        self._waiting = deque(range(count))
        self.suspects: deque[int] = deque()
        self._tries: dict[int, int] = {}

    def left(self) -> bool:
        return bool(self._waiting or self.suspects)

    def next(self, only_suspects: bool) -> int | None:
        """Return the next number; None when there is none."""
        if self.suspects:
            return self.suspects.popleft()
        return self._waiting.popleft() if self._waiting and not only_suspects else None

    def broken(self, numbers: Sequence[int]) -> None:
        """Put the numbers that were being done back in."""
        for number in sorted(numbers):
            self._tries[number] = self._tries.get(number, 0) + 1
            self.suspects.append(number)

    def given_up(self) -> list[int]:
        """Take out and return the numbers that were tried often enough."""
        given = [number for number in self.suspects if self._tries[number] >= TRIES]
        self.suspects = deque(number for number in self.suspects if self._tries[number] < TRIES)
        return given


class Cluster:
    """The workers of a Dask scheduler, which hands a stopped worker's tasks to the others.

    Parameters
    ----------
    address
        Of the scheduler, such as ``tcp://10.0.0.5:8786``. lapwright of this very version must be installed where
        its workers run.

    Raises
    ------
    LayoutError
        When Dask is not installed or the scheduler does not answer.
    """

    ANSWERS_WITHIN = 15
    """How long a scheduler may take to answer [s]."""

    def __init__(self, address: str) -> None:
        try:
            import distributed
        except ImportError:
            raise LayoutError("a scheduler needs Dask: install lapwright[cluster]") from None
        try:
            self._dask: Any = distributed
            self._client: Any = self._dask.Client(address, timeout=self.ANSWERS_WITHIN, set_as_default=False)
        except (OSError, ValueError, TimeoutError) as error:
            raise LayoutError(f"{address}: the scheduler does not answer: {error}") from None

    def each(
        self, work: Callable[[Task], Result], count: int, task: Callable[[int], Task],
    ) -> Iterator[tuple[int, Result | Lost]]:
        """Yield (number, result) of every task as it is ready."""
        threads = sum(self._client.nthreads().values()) or 1
        numbers = iter(range(count))
        running: dict[str, int] = {}
        ready: Any = self._dask.as_completed(loop=self._client.loop)

        def hand_out() -> bool:
            number = next(numbers, None)
            if number is None:
                return False
            future = self._client.submit(work, task(number), pure=False, retries=TRIES)
            running[future.key] = number
            ready.add(future)
            return True

        for _ in range(threads * AHEAD):
            hand_out()
        while running:
            future = next(ready)
            number = running.pop(future.key)
            try:
                result: Any = future.result()
            except self._dask.KilledWorker:
                result = Lost("its worker was stopped from outside time after time: too little memory?")
            future.release()
            hand_out()
            yield number, result

    def workers(self) -> list[str]:
        """Return the addresses of the workers there are now."""
        return list(self._client.scheduler_info(n_workers=-1)["workers"])

    def close(self) -> None:
        """Leave the scheduler."""
        self._client.close()
