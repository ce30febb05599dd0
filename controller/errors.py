"""Every error that can reach a person, sorted by who must act.

Each carries the exit code of sysexits(3) that the command ends with and a message of one to three lines that says
where, which value, and what would be right. Each is also the standard error it resembles, so that a library user
can catch what he already knows.
"""

from typing import ClassVar


class HangroomError(Exception):
    """Be the base of all errors that a person is told about."""

    exit_code: ClassVar[int] = 70


class UsageError(HangroomError, ValueError):
    """Say that the command was typed in a way that cannot be understood."""

    exit_code = 64


class DataError(HangroomError, ValueError):
    """Say that a record or a typed value cannot be right."""

    exit_code = 65


class NoInputError(HangroomError, FileNotFoundError):
    """Say that a file or folder which was named is not there."""

    exit_code = 66


class UnavailableError(HangroomError, RuntimeError):
    """Say that a device, or the daemon itself, is not to be had now."""

    exit_code = 69


class StorageError(HangroomError, OSError):
    """Say that the disk failed."""

    exit_code = 74


class TryAgainError(HangroomError, TimeoutError):
    """Say that the same thing may work a little later."""

    exit_code = 75


class AccessError(HangroomError, PermissionError):
    """Say that this person may not do this, and which group may."""

    exit_code = 77


class SettingsError(HangroomError, ValueError):
    """Say everything that is wrong with a chamber file or a profile, all at once."""

    exit_code = 78
