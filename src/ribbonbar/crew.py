"""Worker processes, each handling one photo at a time, so that a picture which kills its worker is known by name."""

import multiprocessing
import os
import signal
import time
from collections import deque
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from itertools import islice
from multiprocessing.connection import Connection, wait
from pathlib import Path
from typing import Any, Protocol

from ribbonbar.errors import RibbonbarError

_SINGLE_THREADED = dict.fromkeys(("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "OPENCV_FOR_THREADS_NUM"), "1")


class Job(Protocol):
    """What is done with one photo. Pickled once for every worker process."""

    def warm(self) -> None:
        """Load what all photos need; called once in each worker before its first photo."""

    def __call__(self, photo: Path) -> tuple[str, Any]:
        """The report's JSON text, and anything else (picklable) that the caller wants back, a thumbnail for example.

        A RibbonbarError is this photo's error, for a person to read.
        """


@dataclass(frozen=True)
class Answer:
    """What became of one photo: the job's two values, or the ``problem``; ``again``: a second try may fare better."""

    text: str = ""
    extra: Any = None
    problem: str = ""
    again: bool = False


def answers(photos: Iterator[Path], job: Job, workers: int, time_limit: float) -> Iterator[tuple[Path, Answer]]:
    """Each photo with its answer, as they are finished. ``photos`` is read only as far as workers are free.

    ``time_limit`` is in seconds a photo; whoever needs longer is stopped. Close the iterator to end the workers.
    Raises what the job's ``warm`` raises, and RibbonbarError when a worker cannot start.
    """
    crew: list[_Worker] = []
    pending: deque[Path] = deque()
    try:
        while True:
            pending.extend(islice(photos, workers - len(pending)))
            for worker in crew:
                if worker.ready and worker.photo is None and pending:
                    worker.take(pending.popleft(), time_limit)
            starting = sum(not worker.ready for worker in crew)
            for _ in range(min(workers - len(crew), len(pending) - starting)):
                crew.append(_Worker(job, time_limit))
            busy = [worker for worker in crew if worker.photo or (pending and not worker.ready)]
            if not busy:
                return
            timeout = max(0.0, min(worker.deadline for worker in busy) - time.monotonic())
            spoke = wait([worker.pipe for worker in busy], timeout)
            for worker in busy:
                if worker.pipe in spoke or worker.deadline <= time.monotonic():
                    photo, answer = worker.photo, worker.answer(time_limit)
                    if worker.stopped:
                        crew.remove(worker)
                    if photo:
                        yield photo, answer
    finally:
        for worker in crew:
            worker.stop()


def cores() -> int:
    """How many cores this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


class _Worker:
    """One worker process as the parent sees it: starting, then ready with or without a photo, in the end stopped."""

    def __init__(self, job: Job, time_limit: float) -> None:
        context = multiprocessing.get_context("spawn")  # a fork would copy the libraries' threads half alive
        self.pipe, far_end = context.Pipe()
        self.process = context.Process(target=_work, args=(far_end, job), daemon=True)
        with _deaf_to_interrupts(), _environment(_SINGLE_THREADED):
            self.process.start()
        far_end.close()
        self.ready = self.stopped = False
        self.photo: Path | None = None
        self.deadline = time.monotonic() + time_limit

    def take(self, photo: Path, time_limit: float) -> None:
        self.photo, self.deadline = photo, time.monotonic() + time_limit
        with suppress(OSError):  # a worker that has just died is noticed when its answer is asked for
            self.pipe.send(photo)

    def answer(self, time_limit: float) -> Answer:
        """Hear the worker; one that died, or is over its time, is stopped and answered for."""
        try:
            if self.pipe.poll():
                answer = self.pipe.recv()
            else:
                self.stop()
                answer = Answer(problem=f"given up after {time_limit:g} s; try a smaller picture", again=True)
        except (EOFError, OSError):
            self.stop()
            answer = Answer(problem="the process reading it was killed, perhaps for want of memory", again=True)
        if isinstance(answer, RibbonbarError):
            raise answer
        if self.stopped and not self.ready:
            raise RibbonbarError("a worker process could not start; try again with one worker")
        if self.stopped:
            answer = Answer(problem=f"{self.photo}: {answer.problem}", again=True)
        self.ready, self.photo, self.deadline = True, None, float("inf")
        return answer

    def stop(self) -> None:
        self.stopped = True
        self.process.kill()  # it holds nothing that could be half written
        self.process.join(1.0)
        self.pipe.close()


def _work(pipe: Connection, job: Job) -> None:
    """A worker's whole life: say that it is ready, then answer one photo after the other until the pipe closes."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C reaches the whole group; only the parent acts on it
    with suppress(EOFError, OSError):  # the parent is gone, and so is the reason to go on
        try:
            job.warm()
        except RibbonbarError as error:
            pipe.send(error)
            return
        pipe.send(Answer())
        while True:
            pipe.send(_attempt(job, pipe.recv()))


def _attempt(job: Job, photo: Path) -> Answer:
    try:
        return Answer(*job(photo))
    except RibbonbarError as error:
        return Answer(problem=str(error))
    except Exception as error:  # a fault of ours in one photo must not cost the others
        fault = f"{type(error).__name__}: {error}"
        return Answer(problem=f"{photo}: unexpected {fault}; please report it with the photo", again=True)


@contextmanager
def _deaf_to_interrupts() -> Iterator[None]:
    """Hold Ctrl-C back while a worker starts: the worker inherits the deafness, the parent hears it afterwards."""
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


@contextmanager
def _environment(values: dict[str, str]) -> Iterator[None]:
    """One thread a worker: the cores are shared out by photos. It must stand before the libraries are loaded."""
    before = {name: os.environ.get(name) for name in values}
    os.environ.update(values)
    try:
        yield
    finally:
        for name, value in before.items():
            if value is None:
                del os.environ[name]
            else:
                os.environ[name] = value
