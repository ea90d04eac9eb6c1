"""Apache Spark, begun with what it needs or refused in words: packages, Java, the Python that its workers take."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
import threading
import warnings
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, Any

from bridge.errors import CannotReachError, UsageError

if TYPE_CHECKING:
    from pyspark.sql import SparkSession

#: Modules of the extra, and the package each comes in. Where one of the last two lacks, workers die without a word.
NEEDED = {
    "pyarrow": "pyarrow",
    "pandas": "pandas",
    "pyspark": "pyspark",
    "google.protobuf": "protobuf",
    "google.rpc": "googleapis-common-protos",
}
#: Spark 4 runs on it (its documentation, "Downloading": Java 17 and 21).
OLDEST_JAVA = 17
#: How a place for the work is written.
ENGINE = re.compile(r"local(\[(\d{1,3}|\*)\])?|local-cluster\[\d+,\s*\d+,\s*\d+\]|spark://[A-Za-z0-9.,:_-]+")
#: What Spark logs.
QUIET = Path(__file__).with_name("log4j2.properties")
#: Lines that Java, Spark and its workers print past every setting, and that tell nobody anything.
NOISE = re.compile(
    rb"WARNING: Using incubator modules|Setting default log level|To adjust logging level|\s*$"
    rb"|(Starting )?Streaming TransformWithStateInPandas Python worker"
)
#: `java -version` answers within this [s].
JAVA_ANSWERS = 60.0


def extra() -> None:
    """Look whether the extra is installed.

    Raises
    ------
    UsageError
        It is not, or only in part.
    """
    lacking = []
    for module, package in NEEDED.items():
        try:
            import_module(module)
        except ImportError:
            lacking.append(package)
    if lacking:
        raise UsageError(
            f'{", ".join(lacking)} missing: install the extra "fleet" (pip install "revival-bridge[fleet]")'
        )


def java(environment: Mapping[str, str]) -> str:
    """Return the Java that Spark will start.

    Raises
    ------
    UsageError
        There is none, or one that is too old.
    """
    fix = f"install Java {OLDEST_JAVA} (Debian: apt install openjdk-17-jre-headless)"
    home = environment.get("JAVA_HOME", "")
    program = str(Path(home) / "bin" / "java") if home else shutil.which("java", path=environment.get("PATH"))
    if program is None or not Path(program).exists():
        where = f"JAVA_HOME={home} holds none" if home else "there is none on the path"
        raise UsageError(f"Spark needs Java and {where}: {fix}")
    try:
        told = subprocess.run([program, "-version"], capture_output=True, text=True, timeout=JAVA_ANSWERS, check=True)
    except (OSError, subprocess.SubprocessError) as error:
        raise UsageError(f"Spark needs Java and {program} does not start ({error}): {fix}") from None
    found = re.search(r'version "(?:1\.)?(\d+)', told.stderr + told.stdout)
    if found is None or int(found[1]) < OLDEST_JAVA:
        version = found[1] if found else "of an unknown version"
        raise UsageError(f"Spark needs Java {OLDEST_JAVA} or newer and {program} is {version}: {fix}")
    return program


def ready(engine: str) -> None:
    """Look whether Spark could come up, before anything else is done.

    Raises
    ------
    UsageError
        The engine is none, the extra or Java is missing.
    """
    if ENGINE.fullmatch(engine) is None:
        raise UsageError(f"--engine {engine!r}: write local[*], local[2] or spark://host:7077")
    extra()
    java(os.environ)


@contextmanager
def started(engine: str, configuration: Mapping[str, str] | None = None) -> Iterator[SparkSession]:
    """Begin a session and end it.

    Parameters
    ----------
    engine : str
        ``local[*]``, ``local[2]``, ``local-cluster[2,1,1024]`` or ``spark://host:7077``.
    configuration : mapping, optional
        Of Spark, beside what is always set.

    Raises
    ------
    UsageError
        The engine is none, the extra or Java is missing.
    CannotReachError
        Spark does not come up.
    """
    ready(engine)
    # Workers of this machine take the Python of this environment; those of a cluster what their own owner has set.
    os.environ.setdefault("PYSPARK_PYTHON", sys.executable if engine.startswith("local") else "python3")
    os.environ.setdefault("PYSPARK_DRIVER_PYTHON", sys.executable)
    spark = _session(engine, configuration or {})
    try:
        yield spark
    finally:
        spark.stop()


def _session(engine: str, configuration: Mapping[str, str]) -> SparkSession:
    from pyspark.sql import SparkSession  # noqa: PLC0415  (only after `extra` has found it)

    # Tables pass as Arrow's, never as pandas'.
    warnings.filterwarnings("ignore", "PySpark does not yet fully support pandas", FutureWarning)
    builder: Any = SparkSession.builder.master(engine).appName("revival fleet")
    settings = {
        "spark.ui.enabled": "false",
        "spark.ui.showConsoleProgress": "false",
        "spark.sql.session.timeZone": "UTC",
        "spark.sql.adaptive.enabled": "false",
        # Nothing large is ever shuffled: Spark's 200 pieces would be empty ones.
        "spark.sql.shuffle.partitions": "4",
        "spark.driver.extraJavaOptions": f"-Dlog4j2.configurationFile=file:{QUIET}",
    }
    if engine.startswith("local"):
        # Everything talks on this machine alone, and nothing of the network can hand it work.
        os.environ.setdefault("SPARK_LOCAL_IP", "127.0.0.1")
        settings |= {"spark.driver.bindAddress": "127.0.0.1", "spark.driver.host": "127.0.0.1"}
    for key, value in (settings | dict(configuration)).items():
        builder = builder.config(key, value)
    try:
        with quietly():
            session: SparkSession = builder.getOrCreate()
    except Exception as error:
        first = (str(error).strip() or type(error).__name__).splitlines()[0]
        raise CannotReachError(f"Spark does not come up on {engine}: {first}") from None
    return session


@contextmanager
def quietly() -> Iterator[None]:
    """Give whatever is begun meanwhile a standard error of its own, of which everything but `NOISE` is passed on."""
    taken, given = os.pipe()
    own = os.dup(2)
    threading.Thread(target=_pass_on, args=(taken, os.dup(own)), name="spark says", daemon=True).start()
    os.dup2(given, 2)
    os.close(given)
    try:
        yield
    finally:
        os.dup2(own, 2)
        os.close(own)


def _pass_on(taken: int, own: int) -> None:
    """Pass lines on until all who write them have ended."""
    with os.fdopen(taken, "rb") as lines, os.fdopen(own, "wb", buffering=0) as out:
        for line in lines:
            if not NOISE.match(line):
                out.write(line)
