"""Running notebooks: two at a time, each in a kernel of its own."""

from __future__ import annotations

import asyncio
import os
import re
from collections.abc import Callable, Coroutine, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor, wait
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from nbclient import NotebookClient
from nbclient.exceptions import CellExecutionError, CellTimeoutError, DeadKernelError
from nbformat import NotebookNode

from steelyard.notebook.kernel import ThisKernel
from steelyard.notebook.opening import LIBRARY_VARIABLE
from steelyard.notebook.template import MARK, plain_metadata

AT_ONCE = 2
SECONDS_PER_CELL = 600
SECONDS_TO_STOP = 20
_COLOURS = re.compile(r"\x1b\[[0-9;]*m")


@dataclass(frozen=True, slots=True)
class Job:
    """One notebook to run.

    Attributes
    ----------
    name : str
        Path below the workbook, without suffix, with forward slashes.
    book : NotebookNode
        Run in place.
    """

    name: str
    book: NotebookNode


@dataclass(frozen=True, slots=True)
class Run:
    """A notebook that was run.

    Attributes
    ----------
    name : str
    book : NotebookNode
        With its outputs, up to the failing cell if there is one.
    failure : str
        Which cell failed and why; empty where none did.
    """

    name: str
    book: NotebookNode
    failure: str


def run_notebooks(
    jobs: Sequence[Job],
    *,
    library: Path,
    folder: Path,
    started: Callable[[int, int, str], None] | None = None,
    variables: Mapping[str, str] | None = None,
) -> list[Run]:
    """Run notebooks against a library; a failing one does not stop the others.

    Parameters
    ----------
    jobs : sequence of Job
    library : Path
        Folder of the library the cells see.
    folder : Path
        Working folder of the kernels.
    started : callable, optional
        Called with (number of this notebook from 1, how many, its name).
    variables : mapping, optional
        Further environment variables of the kernels.

    Returns
    -------
    list of Run
        In the order of `jobs`.
    """
    environment = {**os.environ, **(variables or {}), LIBRARY_VARIABLE: str(library.resolve())}
    environment.setdefault("PYDEVD_DISABLE_FILE_VALIDATION", "1")
    environment["PYTHONIOENCODING"] = "utf-8"

    async def all_of_them() -> list[Run]:
        room, begun = asyncio.Semaphore(AT_ONCE), 0

        async def one(job: Job) -> Run:
            nonlocal begun
            async with room:
                begun += 1
                if started is not None:
                    started(begun, len(jobs), job.name)
                return await _run(job, environment, folder)

        return list(await asyncio.gather(*map(one, jobs)))

    return _apart(all_of_them)


def _apart(work: Callable[[], Coroutine[Any, Any, list[Run]]]) -> list[Run]:
    """Run asynchronous work in a thread of its own, so that Ctrl-C stops it and its kernels.

    In the main thread the notebook client takes Ctrl-C for itself.
    """
    with ThreadPoolExecutor(1) as threads, asyncio.Runner() as runner:
        done = threads.submit(runner.run, work())
        try:
            while not done.done():
                wait([done], timeout=0.2)
        except KeyboardInterrupt:
            runner.get_loop().call_soon_threadsafe(_cancel_all, runner.get_loop())
            wait([done], timeout=SECONDS_TO_STOP)
            raise
        return done.result()


def _cancel_all(loop: asyncio.AbstractEventLoop) -> None:
    for task in asyncio.all_tasks(loop):
        task.cancel()


async def _run(job: Job, environment: Mapping[str, str], folder: Path) -> Run:
    client = NotebookClient(
        job.book,
        kernel_manager_class=ThisKernel,
        timeout=SECONDS_PER_CELL,
        record_timing=False,
        resources={"metadata": {"path": str(folder)}},
    )
    failure = ""
    try:
        await client.async_execute(env=dict(environment))
    except CellExecutionError as error:
        failure = _which(job.book, f"{error.ename}: {_COLOURS.sub('', error.evalue)}")
    except (CellTimeoutError, DeadKernelError) as error:
        failure = _which(job.book, str(error))
    finally:
        if client.km is not None and await client.km.is_alive():
            await client.km.shutdown_kernel(now=True)
    mark = job.book.metadata.get(MARK)
    job.book.metadata.clear()
    job.book.metadata.update(plain_metadata())
    if mark:
        job.book.metadata[MARK] = mark
    return Run(job.name, job.book, failure)


def _which(book: NotebookNode, why: str) -> str:
    code = [cell for cell in book.cells if cell.cell_type == "code"]
    failed = [
        number
        for number, cell in enumerate(code, 1)
        if any(output.output_type == "error" for output in cell.outputs)
    ]
    begun = [number for number, cell in enumerate(code, 1) if cell.execution_count is not None]
    number = failed[0] if failed else max(begun, default=1)
    lines = code[number - 1].source.strip().splitlines() or [""]
    return f"code cell {number} ({lines[-1]}): {_once(why)}"


def _once(why: str) -> str:
    """An error's name stands in front once, also where its message brings it along."""
    name, _, rest = why.partition(": ")
    return rest if rest.startswith(f"{name}: ") else why
