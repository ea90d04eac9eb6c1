"""Errors a person sees, each with the exit code the command ends with."""

from __future__ import annotations


class BridgeError(Exception):
    """Something the bridge can explain in one sentence."""

    exit_code = 70


class UsageError(BridgeError):
    """The command line asks for something that cannot be."""

    exit_code = 2


class RequestError(BridgeError, ValueError):
    """What somebody asked for cannot be understood; the text names key, value and the fix."""

    exit_code = 2


class CannotReachError(BridgeError):
    """A broker, database or running bridge does not answer, or refuses us."""

    exit_code = 4


class UnsafeStateError(BridgeError):
    """What was asked would leave, or has found, an unsafe state."""

    exit_code = 5


class JournalError(BridgeError):
    """The journal cannot be used as it is (newer than this program, or not readable)."""

    exit_code = 70


class NoJournalError(JournalError):
    """There is no journal, or nothing that could be one: nothing was recorded yet, or the path is another."""

    exit_code = 4


class ConfigError(BridgeError):
    """The cabin file is wrong; the text names file, key, value and the fix."""

    exit_code = 78
