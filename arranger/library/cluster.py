"""Hand jobs to a running scheduler of dask.distributed, whose workers may be on other machines.

The only home of that library, which is an extra. What it can mean that a job does not come back is sorted out here: a
worker that died while it had the job, which blames nobody yet; or that there is no scheduler or worker any more.
"""

from __future__ import annotations

import logging
import time
import warnings
from collections.abc import Callable, Iterator
from concurrent.futures import BrokenExecutor, Executor, Future
from contextlib import contextmanager
from functools import partial
from typing import Any
from urllib.parse import urlsplit

import dask
from distributed import Client, KilledWorker
from distributed.security import Security

from arranger.intake import Wishes
from arranger.library.carried import Making, carried_fonts, do, make_carried, packed, versions_here
from arranger.library.make import in_words
from arranger.library.workers import SONGS_A_JOB, Crew, NoWorkersError

PATIENCE = 60.0  # seconds without a worker
ANSWER = 10.0  # seconds in which a scheduler answers, or there is none
JOBS_A_THREAD = 4  # in hand at once: one in work, and what hides the way to and fro
ASK = 0.5  # seconds between questions how many threads there are
CLIENT: Any = Client  # much of it has no types
SECURITY: Any = Security
SCHEMES = ("tcp", "tls")
CERTIFICATES = "name them in dask's settings: distributed.comm.tls, `ca-file`, `client.cert` and `client.key`"
EXAMPLE = "tcp://192.168.1.20:8786"
CONFIG = {"distributed.admin.large-graph-warning-threshold": "1 GiB"}  # jobs with fonts are large, and meant so


def problem_with(address: str) -> str:
    """Return what is wrong with the address of a scheduler; empty where it can be one.

    >>> problem_with("tcp://desk.local:8786"), problem_with("tls://[::1]:8786")
    ('', '')
    >>> problem_with("http://desk.local:8786"), problem_with("tcp://desk.local")
    ('it begins with neither tcp:// nor tls://', 'it has no port')
    """
    try:
        parts = urlsplit(address)
    except ValueError:
        return "it is no address"
    try:
        port = parts.port
    except ValueError:
        return "its port is no number from 1 to 65535"
    if parts.scheme not in SCHEMES:
        return "it begins with neither tcp:// nor tls://"
    if not parts.hostname:
        return "it has no host"
    if not port:
        return "it has no port"
    return "there is more after the port" if parts.path or parts.query or parts.fragment or "@" in parts.netloc else ""


@contextmanager
def far(address: str, make: Making, wishes: Wishes, kinds: tuple[str, ...]) -> Iterator[Crew]:
    """Work by the workers of a scheduler.

    Raises:
        NoWorkersError: no scheduler answers there.
    """
    wishes, fonts = carried_fonts(wishes)
    cluster = ClusterExecutor(address, bool(fonts))
    try:
        work = partial(make_carried, make, wishes, kinds, fonts)
        yield Crew(cluster, lambda: cluster, cluster.in_hand, SONGS_A_JOB, work)
    finally:
        cluster.close()


def _need_certificates(address: str) -> None:
    """Refuse `tls://` without certificates: dask's client fails without them, and once more when Python forgets it."""
    if urlsplit(address).scheme != "tls":
        return
    try:
        context = SECURITY().get_connection_args("client").get("ssl_context")
    except (OSError, ValueError) as fault:  # a file that is missing or is none of certificates
        raise NoWorkersError(
            f"the certificates that dask's settings name cannot be read: {fault}", CERTIFICATES
        ) from None
    if context is None:
        raise NoWorkersError(f"{address} wants certificates, and dask's settings name none", CERTIFICATES)


class ClusterExecutor(Executor):
    """An executor whose workers are those of a scheduler. It stays whole when one of them dies."""

    def __init__(self, address: str, own_fonts: bool = False, patience: float | None = None) -> None:
        """Find the scheduler.

        Args:
            address: of the scheduler, as dask writes it.
            own_fonts: the player has fonts of his own.
            patience: seconds to wait while there is no worker; 60 unless said.

        Raises:
            NoWorkersError: no scheduler answers there.
        """
        self.address, self.own_fonts = address, own_fonts
        self.patience = PATIENCE if patience is None else patience
        _need_certificates(address)
        self.quiet_before = logging.root.manager.disable
        logging.disable(logging.CRITICAL)  # what dask has to say of its own is told in our words, once
        try:
            with warnings.catch_warnings(), dask.config.set(CONFIG):
                warnings.simplefilter("ignore")  # other versions of dask's own parts: ours are compared job by job
                self.client = CLIENT(address, timeout=ANSWER, set_as_default=False)
        except Exception as fault:  # of the network, of certificates; dask has many
            logging.disable(self.quiet_before)
            why = str(fault).splitlines()[0] if str(fault) else type(fault).__name__
            message = f"no scheduler answers at {address}: {why}"
            raise NoWorkersError(message, f"`dask scheduler` starts one; its address is as {EXAMPLE}") from None
        self.executor: Executor = self.client.get_executor(pure=False)
        self.threads = 1
        self.asked = self.seen = time.monotonic()

    def submit(self, function: Callable[..., Any], /, *args: Any, **_: Any) -> Future[Any]:
        """Send a job on its way; its future ends in a `BrokenExecutor` where a worker died that had it."""
        (job,) = args
        outer: Future[Any] = Future()  # never said to be running: who stops does not wait for other machines
        try:
            with dask.config.set(CONFIG):
                inner = self.executor.submit(do, versions_here(self.own_fonts), self.own_fonts, packed(function, job))
        except Exception as fault:
            raise self._lost(in_words(fault)) from None
        inner.add_done_callback(lambda ended: self._pass_on(ended, outer))
        return outer

    def _pass_on(self, inner: Future[Any], outer: Future[Any]) -> None:
        if not outer.set_running_or_notify_cancel():
            return
        if inner.cancelled():
            outer.set_exception(self._lost("the connection was lost"))
            return
        fault = inner.exception()
        if fault is None:
            outer.set_result(inner.result())
        elif isinstance(fault, KilledWorker):
            outer.set_exception(BrokenExecutor("a worker died that had this job"))
        elif isinstance(fault, ImportError | AttributeError | RuntimeError):  # of what the worker has to load first
            why = "" if isinstance(fault, RuntimeError) else f": {in_words(fault)}".splitlines()[0]
            message = f"the scheduler at {self.address} or a worker of it cannot load the program{why}"
            outer.set_exception(NoWorkersError(message, "install keys-arranger with the extra `cluster` on them all"))
        else:
            outer.set_exception(fault)

    def in_hand(self) -> int:
        """Return how many jobs may be on their way.

        Raises:
            NoWorkersError: the scheduler is lost, or there has been no worker for long.
        """
        now = time.monotonic()
        if now - self.asked >= ASK or self.threads == 0 or self.client.status != "running":
            self.asked = now
            try:
                if self.client.status != "running":
                    raise OSError("the connection was lost")
                self.threads = self.client.scheduler_info(n_workers=0)["total_threads"]
            except Exception as fault:
                raise self._lost(in_words(fault)) from None
            if self.threads:
                self.seen = now
            elif now - self.seen > self.patience:
                message = f"there has been no worker at {self.address} for {self.patience:.0f} s"
                raise NoWorkersError(message, "`dask worker` and the address start one")
        return max(1, JOBS_A_THREAD * self.threads)

    def _lost(self, why: str) -> NoWorkersError:
        return NoWorkersError(f"the scheduler at {self.address} is lost: {why}", "start it again, with its workers")

    def close(self) -> None:
        """Let the scheduler go; what is still on its way there is forgotten."""
        try:
            self.client.close(timeout=ANSWER / 2)
        except Exception:  # it is gone already
            pass
        finally:
            logging.disable(self.quiet_before)
