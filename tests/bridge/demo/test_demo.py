"""The demo as a newcomer runs it: to its end, with its summary. Needs the broker of the demo extra."""

from __future__ import annotations

import contextlib
import re
import signal
import subprocess
import sys
from functools import partial
from pathlib import Path
from urllib.request import urlopen

import pytest

from bridge.cli import main
from bridge.commands.demo import TAKES

INTERRUPTED = 130  # 128 and the number of the signal, as shells have it
TOP = Path(__file__).resolve().parents[3]
GUIDES = (TOP / "README.md", TOP / "bridge/config/SETUP.md")


def test_the_demo_plays_the_whole_round_and_sums_it_up() -> None:
    done = subprocess.run(
        [sys.executable, "-m", "bridge", "demo", "--speed", "12000"],
        capture_output=True,
        text=True,
        timeout=400,
        check=False,
        env={"COLUMNS": "200", "PATH": "/usr/bin:/bin"},
    )
    assert done.returncode == 0, done.stdout + done.stderr
    told = done.stdout
    for phase in ("waking", "reviving", "bulk", "absorbing", "holding", "resting"):
        assert phase in told, told
    assert "held 16.00 h" in told
    assert re.search(r"\d+ Ah returned", told)
    assert re.search(r"tripped by over-temperature: .* hot reading published to relay told: \d+\.\d ms", told)
    assert " 0 unstored" in told
    assert "°F" in told and "degC" not in told, "in the scale of its owner, as its page says"
    assert "110 °F is 43.3 °C" in told, "and what that is to everybody else"
    assert told.count("Look in: smell") == 1, told
    assert done.stderr == ""


def test_the_demo_serves_the_page_and_says_where() -> None:
    # A run in the background hands down that Ctrl-C is ignored, and the demo would play to its end.
    with subprocess.Popen(
        [sys.executable, "-m", "bridge", "demo", "--speed", "5000"],
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        preexec_fn=partial(signal.signal, signal.SIGINT, signal.default_int_handler),  # noqa: PLW1509 - it sets one signal and takes no lock
    ) as demo:
        assert demo.stdout is not None
        address = next(
            line.rpartition(" ")[2].strip() for line in demo.stdout if line.startswith("Watch it in a browser: ")
        )
        with urlopen(address, timeout=30.0) as answer:
            page = answer.read()
        demo.send_signal(signal.SIGINT)
        said = demo.stdout.read()
    assert demo.returncode == INTERRUPTED, said
    assert b'<body class="watch">' in page, "one bank: straight in"


def test_a_broker_that_is_no_address_is_a_usage_error() -> None:
    done = subprocess.run(
        [sys.executable, "-m", "bridge", "demo", "--broker", "nowhere"],
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    assert done.returncode == 2
    assert "HOST:PORT" in done.stderr


def test_how_long_the_demo_takes_is_said_with_one_number_wherever_it_is_said(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    with contextlib.suppress(SystemExit):
        main(["demo", "--help"])
    main([])
    said = [*capsys.readouterr().out.split("revival demo  "), TAKES]
    said += [
        line
        for guide in GUIDES
        for line in guide.read_text().splitlines()
        if re.search(r"\b(?:whole round|by itself) .*\bin about \w", line)
    ]
    told = [" ".join(text.split()) for text in said if "minute" in text]
    assert len(told) == 5 and all("about two minutes" in text for text in told), told
    assert not any(re.search(r"\b75 s\b|three minutes", text) for text in told)
