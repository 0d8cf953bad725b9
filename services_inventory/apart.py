"""Files from outside are read in a process of their own, with an end to its memory and time.

A damaged or crafted file can make a library ask for all memory, never come to an end, or abort.
Then that process ends and whoever asked gets a sentence; the web server and the worker go on.
It guards against files, not against whoever owns this machine: the process has the rights of the
one that asked.

The process is this module, started anew. It knows no Django, so that it starts at once; what it
runs must not either.
"""

import copyreg
import gc
import logging
import marshal
import os
import pickle
import resource
import select
import signal
import subprocess
import sys
import traceback
from collections.abc import Callable, Iterator
from contextlib import suppress
from pathlib import Path
from struct import Struct
from types import MappingProxyType
from zipfile import ZipInfo

ROOT = Path(__file__).resolve().parent.parent
OURS = tuple(f"{path.parent.name}." for path in ROOT.glob("*/apps.py"))
# Of processor time, to open a file or from one answer to the next; by the clock it may take
# longer, as a machine may be busy.
SECONDS, SECONDS_A_MEGABYTE, BY_THE_CLOCK = 6, 1, 15
GIB = 1024**3
MOST_MEMORY, SHARE_OF_MEMORY = 6 * GIB, 0.75
LONGEST_ANSWER = 256 * 1024**2
PIPE_BYTES = 1024**2  # a photo goes through at once
HEAD = Struct(">cQ")
# One thread each: what their stacks and pools reserve would count as memory of the file.
ALONE = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "ARROW_IO_THREADS", "MALLOC_ARENA_MAX")
# Memory of one photo stays for the next; asking for it anew takes a tenth of a photo's time.
KEPT = {"MALLOC_TRIM_THRESHOLD_": str(64 * 1024**2), "MALLOC_MMAP_THRESHOLD_": str(32 * 1024**2)}
SECRETS = ("SECRET_KEY", "DATABASE_URL")
# What no file does: killed, ended, or (0) nobody knows how, as somebody else waited for it.
BY_OTHERS = (0, signal.SIGKILL, signal.SIGTERM)
MARSHALED, PICKLED, RAISED, BROKE, END, STOP = b"m", b"p", b"r", b"b", b"e", b"s"

log = logging.getLogger(__name__)


def memory_bytes() -> int:
    """Return how much memory the reading of one file may take."""
    whole = os.sysconf("SC_PHYS_PAGES") * os.sysconf("SC_PAGE_SIZE")
    return max(GIB, min(MOST_MEMORY, int(whole * SHARE_OF_MEMORY)))


def apart(refusal: type[Exception], function: Callable, *arguments):
    """Return what a function returns for these arguments, run in a process of its own.

    Parameters
    ----------
    refusal : what is raised with a sentence where the process breaks over the file
    function : of a module that loads no Django; what it raises of ours is raised here
    arguments : a path among them, or a file in a zip (`ZipInfo`), lends the time that a file of
        its size needs
    """
    with Apart(refusal) as process:
        return process.call(function, *arguments)


class Apart:
    """A process that runs functions, and can keep what one returned for later questions.

    It starts with the first question, and anew with the next one after it broke.
    """

    def __init__(self, refusal: type[Exception]):
        self._refusal = refusal
        self._running: Iterator | None = None
        self._process: subprocess.Popen | None = None
        self._ended_by_others = False

    def _started(self) -> subprocess.Popen:
        kept = {name: value for name, value in os.environ.items() if name not in SECRETS}
        return subprocess.Popen(
            [sys.executable, "-c", f"from {__name__} import main; main()"],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            pipesize=PIPE_BYTES,
            cwd=ROOT,
            env=kept | dict.fromkeys(ALONE, "1") | KEPT,
            start_new_session=True,  # whoever stops a command stops it here, not in the middle
        )

    def __enter__(self):
        return self

    def __exit__(self, *_):
        self.close()

    def __del__(self):
        self.close()

    def close(self) -> None:
        """End the process."""
        if self._process is None:
            return
        if self._process.returncode is None:
            self._process.kill()
            self._process.wait()
        self._process.stdout.close()
        with suppress(BrokenPipeError):  # nobody reads any more what was still to be sent
            self._process.stdin.close()
        self._process = None

    def call(self, function: Callable, *arguments):
        """Return what the function returns."""
        (answer,) = self._whole((function, arguments, False))
        return answer

    def keep(self, function: Callable, *arguments) -> None:
        """Have the function's result kept there, to be asked by `each`."""
        self._whole((function, arguments, True))

    def each(self, name: str, *arguments) -> Iterator:
        """Yield what a method of the kept thing yields; it is stopped where one stops reading."""
        if self._running is not None:
            self._running.close()
        self._running = self._answers((name, arguments, False))
        return self._running

    def _whole(self, question: tuple) -> list:
        """Return all answers; ask anew, once, where somebody else ended the process.

        A machine short of memory ends this process first, and the file may be as good as any.
        """
        self._ended_by_others = False
        try:
            return list(self._answers(question))
        except self._refusal:
            if not self._ended_by_others:
                raise
        return list(self._answers(question))

    def _answers(self, question: tuple) -> Iterator:
        self._send(pickle.dumps(question))
        process, ended = self._process, False
        try:
            while (message := self._receive())[0] != END:
                yield self._taken(*message)
            ended = True
        except Exception:
            ended = True
            raise
        finally:
            # Whoever asked has enough. Where all of it is garbage at once, Python may have closed
            # the pipes before it comes here: then the process has ended, and no file did that.
            if not ended and self._process is process and not _closed(process):
                self._send(STOP)
                while self._receive()[0] not in (END, RAISED, BROKE):
                    pass

    def _send(self, content: bytes) -> None:
        self._process = self._process or self._started()
        try:
            self._process.stdin.write(HEAD.pack(PICKLED, len(content)))
            self._process.stdin.write(content)
            self._process.stdin.flush()
        except (BrokenPipeError, ValueError):
            self._broken()

    def _receive(self) -> tuple[bytes, bytes]:
        head = self._process.stdout.read(HEAD.size)
        if len(head) < HEAD.size:
            self._broken()
        kind, length = HEAD.unpack(head)
        content = self._process.stdout.read(length)
        if len(content) < length:
            self._broken()
        return kind, content

    def _taken(self, kind: bytes, content: bytes):
        if kind == MARSHALED:
            return marshal.loads(content)
        if kind == RAISED:
            raise pickle.loads(content)
        if kind == BROKE:
            log.warning("A file from outside broke its reader:\n%s", content.decode())
            raise self._refusal(DAMAGED)
        return pickle.loads(content)

    def _broken(self) -> None:
        """Say what ended the process."""
        how = -self._process.wait()
        self._ended_by_others = how in BY_OTHERS
        self.close()
        if how in (signal.SIGPROF, signal.SIGALRM):
            raise self._refusal(ENDLESS)
        log.warning("A file from outside ended its reader by signal or code %s", how)
        raise self._refusal(TOO_MUCH.format(memory_bytes() / GIB))


def _closed(process: subprocess.Popen) -> bool:
    return process.stdin.closed or process.stdout.closed


DAMAGED = (
    "The file is damaged inside, or not made as files of its kind are, and can't be read. "
    "Open it in the program that it comes from, and export it again."
)
ENDLESS = (
    "Reading the file came to no end in the time that a file of its size may take. It is damaged "
    "inside, or made so. Export it again, or save it as CSV."
)
TOO_MUCH = (
    "Reading the file took more than the {:.1f} GiB of memory that one file may take, or broke "
    "off the program that reads it. It is damaged inside, or far larger than it looks. Export it "
    "again, save it as CSV, or divide it."
)


# In the process of its own


def main() -> None:
    """Answer questions from standard input until it ends."""
    gc.disable()
    copyreg.pickle(MappingProxyType, lambda seen: (_read_only, (dict(seen),)))
    questions, answers = sys.stdin.buffer, os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)  # what a library prints is no answer
    _limit_memory()
    kept, seconds = None, SECONDS
    while head := questions.read(HEAD.size):
        question = questions.read(HEAD.unpack(head)[1])
        if question == STOP:  # it came after the last answer
            continue
        try:
            function, arguments, keeps = pickle.loads(question)
            seconds = max(seconds, _seconds_for(len(question), arguments))
            _limit_time(seconds)
            if isinstance(function, str):
                for result in getattr(kept, function)(*arguments):
                    _write(answers, *_packed(result))
                    if select.select([questions], [], [], 0)[0]:
                        questions.read(HEAD.size + len(STOP))
                        break
                    _limit_time(seconds)
            elif keeps:
                kept = function(*arguments)
            else:
                _write(answers, *_packed(function(*arguments)))
            _write(answers, END)
        except MemoryError:
            os.abort()
        except BaseException as error:
            _write(answers, *_raised(error))


def _read_only(values: dict) -> MappingProxyType:
    return MappingProxyType(values)


def _packed(result) -> tuple[bytes, bytes]:
    try:
        content = MARSHALED, marshal.dumps(result)
    except ValueError:  # it holds more than texts and numbers
        content = PICKLED, pickle.dumps(result)
    if len(content[1]) > LONGEST_ANSWER:
        raise MemoryError
    return content


def _raised(error: BaseException) -> tuple[bytes, bytes]:
    if f"{type(error).__module__}".startswith(OURS):
        return RAISED, pickle.dumps(error)
    return BROKE, "".join(traceback.format_exception(error)).encode(errors="replace")


def _write(answers, kind: bytes, content: bytes = b"") -> None:
    """Send an answer; waiting for whoever reads it takes none of the time."""
    _limit_time(0)
    answers.write(HEAD.pack(kind, len(content)))
    answers.write(content)
    answers.flush()


def _limit_memory() -> None:
    resource.setrlimit(resource.RLIMIT_AS, (memory_bytes(),) * 2)
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    try:  # if memory runs out all the same, this process is the one to end
        Path("/proc/self/oom_score_adj").write_text("1000")
    except OSError:
        pass


def _seconds_for(size: int, arguments: tuple) -> int:
    """Return the time for a question of so many bytes, and for the files whose paths are in it."""
    files = sum(one.stat().st_size for one in arguments if isinstance(one, Path) and one.exists())
    zipped = sum(one.file_size for one in arguments if isinstance(one, ZipInfo))
    return SECONDS + SECONDS_A_MEGABYTE * (size + files + zipped) // 1024**2


def _limit_time(seconds: int) -> None:
    """End this process after so many seconds of work; 0 takes the limit off."""
    signal.setitimer(signal.ITIMER_PROF, seconds)
    signal.setitimer(signal.ITIMER_REAL, seconds * BY_THE_CLOCK)
